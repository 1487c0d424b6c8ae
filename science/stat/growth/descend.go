package growth

import "math"

// descend finds a minimum by the quasi-Newton method of Broyden, Fletcher, Goldfarb and
// Shanno with steps that are halved until they lower the value. h is the inverse
// curvature, kept for a later search nearby. f is even in its arguments about 0 where a
// deviation is 0, so that no bound is needed.
func descend(f func([]float64) (float64, []float64, bool), x []float64, h *[][]float64) ([]float64, bool) {
	n := len(x)
	x = append([]float64(nil), x...)
	v, g, ok := f(x)
	if !ok {
		return x, false
	}
	fresh := func() {
		*h = make([][]float64, n)
		for i := range *h {
			(*h)[i] = make([]float64, n)
			(*h)[i][i] = 1 / math.Max(1, norm(g))
		}
	}
	if *h == nil {
		fresh()
	}
	anew := false
	for range 500 {
		d := make([]float64, n)
		var slope float64
		for i := range d {
			for j := range d {
				d[i] -= (*h)[i][j] * g[j]
			}
			slope += d[i] * g[i]
		}
		if !(slope < 0) || math.IsInf(slope, 0) {
			if norm(g) == 0 || anew {
				return x, norm(g) < 1e-3
			}
			fresh()
			anew = true
			continue
		}
		// Never further than the size of things: a relative deviation is of order 1.
		step := 1.0
		if l := norm(d); l > 2*(1+norm(x)) {
			step = 2 * (1 + norm(x)) / l
		}
		moved := false
		for range 50 {
			next := make([]float64, n)
			for i := range next {
				next[i] = x[i] + step*d[i]
			}
			nv, ng, ok := f(next)
			if ok && nv <= v+1e-4*step*slope {
				s, y := make([]float64, n), make([]float64, n)
				var sy, far float64
				for i := range s {
					s[i], y[i] = next[i]-x[i], ng[i]-g[i]
					sy += s[i] * y[i]
					far = math.Max(far, math.Abs(s[i])/(1e-2+math.Abs(next[i])))
				}
				if sy > 1e-12*norm(s)*norm(y) {
					update(*h, s, y, sy)
				}
				gain := v - nv
				x, v, g = next, nv, ng
				moved, anew = true, false
				if norm(g) < 1e-7 || far < 1e-10 || gain < 1e-13*math.Abs(v) && norm(g) < 1e-5 {
					return x, true
				}
				break
			}
			step /= 2
		}
		if !moved {
			if anew || norm(g) < 1e-5 {
				return x, norm(g) < 1e-2
			}
			fresh()
			anew = true
		}
	}
	return x, false
}

func norm(x []float64) (s float64) {
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s)
}

func update(h [][]float64, s, y []float64, sy float64) {
	n := len(s)
	hy := make([]float64, n)
	var yhy float64
	for i := range n {
		for j := range n {
			hy[i] += h[i][j] * y[j]
		}
		yhy += y[i] * hy[i]
	}
	for i := range n {
		for j := range n {
			h[i][j] += (1+yhy/sy)*s[i]*s[j]/sy - (hy[i]*s[j]+s[i]*hy[j])/sy
		}
	}
}
