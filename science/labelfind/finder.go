package labelfind

import (
	"cmp"
	"math"
	"slices"
)

// An eye is one of the three squares within squares of a QR code: dark and light runs of
// 1 : 1 : 3 : 1 : 1 in every direction (ISO18004).
type eye struct {
	x, y   float64 // centre, pixels of the photo
	module float64 // pixels of the photo
	seen   int     // rows that met it
}

// eyes looks for them in a copy that is shrunk by k.
func (g *grey) eyes(k int) (out []eye, dark []uint8) {
	dark = g.dark()
	type hit struct{ x, y, module float64 }
	var hits []hit
	for y := range g.h {
		row := dark[y*g.w : (y+1)*g.w]
		var runs [5]int // the last five, the last one dark
		start, value, n := 0, row[0], 0
		for x := 1; x <= g.w; x++ {
			if x < g.w && row[x] == value {
				continue
			}
			copy(runs[:], runs[1:])
			runs[4] = x - start
			n++
			if value == 1 && n >= 5 {
				if m, ok := proportions(runs); ok {
					cx := float64(x) - float64(runs[4]+runs[3]) - float64(runs[2])/2
					if cy, mv, ok := g.crossed(dark, cx, y, m); ok {
						hits = append(hits, hit{cx, cy, (m + mv) / 2})
					}
				}
			}
			if x < g.w {
				start, value = x, row[x]
			}
		}
	}
	for _, h := range hits {
		x, y, m := h.x*float64(k), h.y*float64(k), h.module*float64(k)
		found := false
		for i := range out {
			e := &out[i]
			if math.Abs(e.x-x) < 1.5*e.module && math.Abs(e.y-y) < 1.5*e.module && m < 2*e.module && m > e.module/2 {
				n := float64(e.seen)
				e.x, e.y, e.module, e.seen = (e.x*n+x)/(n+1), (e.y*n+y)/(n+1), (e.module*n+m)/(n+1), e.seen+1
				found = true
				break
			}
		}
		if !found {
			out = append(out, eye{x, y, m, 1})
		}
	}
	// Texture gives many that one row met; the squares of a label are met by about three
	// modules' worth of rows.
	out = slices.DeleteFunc(out, func(e eye) bool { return e.seen < 2 || float64(e.seen) < 0.8*e.module/float64(k) })
	slices.SortFunc(out, func(a, b eye) int { return cmp.Compare(b.seen, a.seen) })
	return out[:min(len(out), 150)], dark
}

// proportions says whether five runs are as 1 : 1 : 3 : 1 : 1 within half a module, and how
// large a module is then.
func proportions(r [5]int) (module float64, ok bool) {
	total := 0
	for _, v := range r {
		total += v
	}
	if total < 7 {
		return 0, false
	}
	m := float64(total) / 7
	slack := 0.6 * m
	if m < 2.5 { // whole pixels
		slack = max(slack, 1)
	}
	for i, v := range r {
		want, s := m, slack
		if i == 2 {
			want, s = 3*m, 2.2*slack
		}
		if math.Abs(float64(v)-want) > s {
			return 0, false
		}
	}
	return m, true
}

// crossed looks up and down from a place for the same runs.
func (g *grey) crossed(dark []uint8, cx float64, y int, m float64) (cy, module float64, ok bool) {
	x := min(g.w-1, max(0, int(cx)))
	if dark[y*g.w+x] != 1 {
		return 0, 0, false
	}
	limit := int(4*m) + 3
	run := func(from, step int, value uint8) (n int) {
		for i := from; i >= 0 && i < g.h && n <= limit && dark[i*g.w+x] == value; i += step {
			n++
		}
		return n
	}
	up := run(y, -1, 1)
	down := run(y+1, 1, 1)
	var r [5]int
	r[2] = up + down
	r[1] = run(y-up, -1, 0)
	r[0] = run(y-up-r[1], -1, 1)
	r[3] = run(y+1+down, 1, 0)
	r[4] = run(y+1+down+r[3], 1, 1)
	v, ok := proportions(r)
	if !ok || v > 1.9*m || v < m/1.9 {
		return 0, 0, false
	}
	return float64(y-up+1) + float64(r[2])/2, v, true
}

// A corner is three eyes that could belong to one QR code of version 1: their centres are
// 14 modules apart.
type corner struct {
	topLeft, topRight, bottomLeft eye
	doubt                         float64 // 0: square and even
}

// corners are the triples of eyes that could be, likeliest first. A camera that leans by 35°
// and stands near makes legs differ by up to a third and angles by 25°.
func corners(eyes []eye) []corner {
	var out []corner
	for i, a := range eyes {
		type arm struct {
			eye
			dx, dy, modules float64
		}
		var arms []arm
		for j, b := range eyes {
			if i == j || b.module > 1.7*a.module || b.module < a.module/1.7 {
				continue
			}
			dx, dy := b.x-a.x, b.y-a.y
			n := math.Hypot(dx, dy) / ((a.module + b.module) / 2)
			if n > 8 && n < 22 {
				arms = append(arms, arm{b, dx, dy, n})
			}
		}
		for _, b := range arms {
			for _, c := range arms {
				lb, lc := math.Hypot(b.dx, b.dy), math.Hypot(c.dx, c.dy)
				sin, cos := (b.dx*c.dy-b.dy*c.dx)/(lb*lc), (b.dx*c.dx+b.dy*c.dy)/(lb*lc)
				if sin < 0.85 || math.Abs(cos) > 0.5 || lb/lc > 1.6 || lc/lb > 1.6 {
					continue // the wrong way round, or no square
				}
				d := math.Abs(cos) + math.Abs(math.Log(lb/lc)) + math.Abs(math.Log(b.module/c.module)) + math.Abs(math.Log(b.module/a.module)) + math.Abs(math.Log((b.modules+c.modules)/28))
				out = append(out, corner{a, b.eye, c.eye, d})
			}
		}
	}
	slices.SortFunc(out, func(a, b corner) int { return cmp.Compare(a.doubt, b.doubt) })
	return out[:min(len(out), 400)]
}
