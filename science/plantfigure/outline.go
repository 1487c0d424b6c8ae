package plantfigure

import (
	"cmp"
	"math"
	"slices"
)

// contours are the lines on which a map of shares passes one half, by marching squares:
// between the centres of neighbouring cells the share is taken as straight. Beyond the
// map it is 0, so that every line is closed. Rings run with the higher side to the
// right as seen on a screen: outlines clockwise, holes the other way. Points are in
// cells of the map, whose first covers [0, 1] × [0, 1]. In a square whose diagonal corners are
// alike, the mean of the four decides.
func contours(share []float32, w, h int) []Ring {
	at := func(x, y int) float64 {
		if x < 0 || y < 0 || x >= w || y >= h {
			return 0
		}
		return float64(share[y*w+x])
	}
	// An edge between two centres has a number: 2·(y+1)·(w+2)+2·(x+1) from (x, y) to the
	// right, one more downward. next leads from the edge where a line enters a square to that
	// where it leaves.
	stride := w + 2
	edge := func(x, y, down int) int { return 2*((y+1)*stride+x+1) + down }
	next := map[int]int{}
	var order []int
	for y := -1; y < h; y++ {
		a, c := at(-1, y) >= 0.5, at(-1, y+1) >= 0.5
		for x := -1; x < w; x++ {
			b, d := at(x+1, y) >= 0.5, at(x+1, y+1) >= 0.5
			if a != b || a != c || a != d {
				top, bottom, left, right := edge(x, y, 0), edge(x, y+1, 0), edge(x, y, 1), edge(x+1, y, 1)
				add := func(from, to int) { next[from] = to; order = append(order, from) }
				k := 0
				for i, in := range []bool{a, b, c, d} {
					if in {
						k |= 1 << i
					}
				}
				middle := at(x, y)+at(x+1, y)+at(x, y+1)+at(x+1, y+1) >= 2
				switch k {
				case 1: // a alone: the line keeps it on the right
					add(top, left)
				case 2:
					add(right, top)
				case 3:
					add(right, left)
				case 4:
					add(left, bottom)
				case 5:
					add(top, bottom)
				case 6: // b and c
					if middle {
						add(left, top)
						add(right, bottom)
					} else {
						add(right, top)
						add(left, bottom)
					}
				case 7: // all but d
					add(right, bottom)
				case 8:
					add(bottom, right)
				case 9: // a and d
					if middle {
						add(top, right)
						add(bottom, left)
					} else {
						add(top, left)
						add(bottom, right)
					}
				case 10:
					add(bottom, top)
				case 11: // all but c
					add(bottom, left)
				case 12:
					add(left, right)
				case 13: // all but b
					add(top, right)
				case 14: // all but a
					add(left, top)
				}
			}
			a, c = b, d
		}
	}
	place := func(e int) Point {
		down := e & 1
		x, y := e/2%stride-1, e/2/stride-1
		v := at(x, y)
		if down == 1 {
			return Point{float64(x) + 0.5, float64(y) + 0.5 + (0.5-v)/(at(x, y+1)-v)}
		}
		return Point{float64(x) + 0.5 + (0.5-v)/(at(x+1, y)-v), float64(y) + 0.5}
	}
	var rings []Ring
	for _, from := range order {
		if _, ok := next[from]; !ok {
			continue
		}
		var ring Ring
		for e := from; ; {
			to, ok := next[e]
			if !ok {
				break
			}
			delete(next, e)
			ring = append(ring, place(e))
			e = to
		}
		rings = append(rings, ring)
	}
	return rings
}

// area is that of a ring, above 0 if it runs clockwise on a screen (shoelace formula).
func (r Ring) area() float64 {
	s := 0.0
	for i, a := range r {
		b := r[(i+1)%len(r)]
		s += a.X*b.Y - b.X*a.Y
	}
	return s / 2
}

// length is that of a ring.
func (r Ring) length() float64 {
	s := 0.0
	for i, a := range r {
		b := r[(i+1)%len(r)]
		s += math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	return s
}

// scaled is a ring with its points multiplied.
func (r Ring) scaled(k float64) Ring {
	out := make(Ring, len(r))
	for i, p := range r {
		out[i] = Point{p.X * k, p.Y * k}
	}
	return out
}

// hull is the convex hull of points, clockwise on a screen, without points on its
// sides (monotone chain).
//
// Source: Andrew1979.
func hull(points []Point) Ring {
	p := slices.Clone(points)
	slices.SortFunc(p, func(a, b Point) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	half := func(out Ring) Ring {
		start := len(out)
		for _, q := range p {
			for len(out) >= start+2 {
				a, b := out[len(out)-2], out[len(out)-1]
				if (b.X-a.X)*(q.Y-a.Y)-(b.Y-a.Y)*(q.X-a.X) > 0 {
					break
				}
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		return out[:len(out)-1]
	}
	out := half(make(Ring, 0, 32))
	slices.Reverse(p)
	return half(out)
}

// feret is the greatest and the least distance of two parallel lines that hold a convex
// ring between them. The greatest is the farthest pair of corners, the least lies on a side.
func feret(r Ring) (most, least float64) {
	if len(r) < 2 {
		return 0, 0
	}
	least = math.Inf(1)
	for i, a := range r {
		b := r[(i+1)%len(r)]
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		width := 0.0
		for _, q := range r {
			most = max(most, math.Hypot(q.X-a.X, q.Y-a.Y))
			if d > 0 {
				width = max(width, math.Abs((b.X-a.X)*(q.Y-a.Y)-(b.Y-a.Y)*(q.X-a.X))/d)
			}
		}
		if d > 0 {
			least = min(least, width)
		}
	}
	return most, least
}

// simplified leaves out points that lie within a tolerance of the line that stays
// (DouglasPeucker1973), for an overlay that is light to draw.
func (r Ring) simplified(tolerance float64) Ring {
	if len(r) < 8 {
		return r
	}
	keep := make([]bool, len(r))
	half := len(r) / 2
	keep[0], keep[half] = true, true
	var cut func(i, j int)
	cut = func(i, j int) {
		a, b := r[i], r[j%len(r)]
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		worst, at := tolerance, -1
		for k := i + 1; k < j; k++ {
			q := r[k]
			var e float64
			if d > 0 {
				e = math.Abs((b.X-a.X)*(q.Y-a.Y)-(b.Y-a.Y)*(q.X-a.X)) / d
			} else {
				e = math.Hypot(q.X-a.X, q.Y-a.Y)
			}
			if e > worst {
				worst, at = e, k
			}
		}
		if at >= 0 {
			keep[at] = true
			cut(i, at)
			cut(at, j)
		}
	}
	cut(0, half)
	cut(half, len(r))
	out := make(Ring, 0, len(r)/4)
	for i, p := range r {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}
