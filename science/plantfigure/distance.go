package plantfigure

import "math"

// far is the squared distance where there is nothing to be distant from.
const far = math.MaxInt32

// squaredDistance is, for every cell, the square of the distance of its centre to that
// of the nearest cell with in == want, in cells. It is exact, in two passes.
//
// Source: Meijster2000.
func squaredDistance(in []bool, w, h int, want bool) []int32 {
	out := make([]int32, w*h)
	inf := int32(w + h)
	// Along columns: the distance up or down to the nearest, a strip of columns at a time.
	bands(w, func(from, to int) {
		for x := from; x < to; x++ {
			out[x] = inf
		}
		for y := range h {
			for i := y*w + from; i < y*w+to; i++ {
				switch {
				case in[i] == want:
					out[i] = 0
				case y == 0:
				default:
					out[i] = min(out[i-w]+1, inf)
				}
			}
		}
		for i := (h-2)*w + from; i >= 0; i -= w {
			for k := i; k < i+to-from; k++ {
				out[k] = min(out[k], out[k+w]+1)
			}
		}
	})
	// Along rows: the lower envelope of parabolas.
	bands(h, func(from, to int) {
		g := make([]int32, w)
		s, t := make([]int, w), make([]int, w)
		for y := from; y < to; y++ {
			envelope(out[y*w:(y+1)*w], g, s, t, inf)
		}
	})
	return out
}

// envelope turns distances along columns, inf where there is none, into squared distances
// along one row. g, s and t are room to work in.
func envelope(row, g []int32, s, t []int, inf int32) {
	copy(g, row)
	q := -1
	for x := range g {
		if g[x] >= inf {
			continue
		}
		gx := int(g[x]) * int(g[x])
		for q >= 0 {
			gs := int(g[s[q]])
			d := t[q] - s[q]
			e := t[q] - x
			if d*d+gs*gs <= e*e+gx {
				break
			}
			q--
		}
		if q < 0 {
			q, s[0], t[0] = 0, x, 0
			continue
		}
		gs := int(g[s[q]])
		from := 1 + floorDiv(x*x-s[q]*s[q]+gx-gs*gs, 2*(x-s[q]))
		if from < len(g) {
			q++
			s[q], t[q] = x, from
		}
	}
	if q < 0 {
		for x := range row {
			row[x] = far
		}
		return
	}
	for x := len(row) - 1; x >= 0; x-- {
		d, gs := x-s[q], int(g[s[q]])
		row[x] = int32(d*d + gs*gs)
		if x == t[q] {
			q--
		}
	}
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}
