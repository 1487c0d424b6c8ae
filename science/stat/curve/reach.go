package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// Reach returns the dose at which the form reaches a share, above 0 and below 1, of its most:
// the height of the vertex, of the plateau, or of what it levels off to. Limits are by profile
// of the sum of squares with F, the form being written in that dose instead of another
// parameter; one that the data do not give is infinite. It refuses a form without a most.
func (r *Response) Reach(share, level float64) (float64, stat.Interval, error) {
	what := "the dose for a share of the most"
	if !(share > 0 && share < 1) {
		return 0, stat.Interval{}, stat.Refuse(what, "a share of %g cannot be asked for", share)
	}
	left := 1 - share
	b := r.Coef
	var f Function
	var start []float64
	var names []string
	switch r.Form {
	case Parabola:
		if !(b[2] < 0) {
			return 0, stat.Interval{}, stat.Refuse(what, "the parabola has no top")
		}
		v := -b[1] / (2 * b[2])
		top := b[0] + v*b[1]/2
		if !(top > 0) {
			return 0, stat.Interval{}, stat.Refuse(what, "the top of the curve is not above 0")
		}
		names, start = []string{"most", "at", "dose"}, []float64{top, v, v - math.Sqrt(left*top/-b[2])}
		f = func(x float64, q []float64) float64 {
			d := (x - q[1]) / (q[1] - q[2])
			return q[0] * (1 - left*d*d)
		}
	case Mitscherlich:
		names, start = []string{"most", "k", "dose"}, []float64{b[0], b[1], b[2] - math.Log(left)/b[1]}
		f = func(x float64, q []float64) float64 { return q[0] * (1 - left*math.Exp(-q[1]*(x-q[2]))) }
	case Hyperbola:
		names, start = []string{"most", "dose"}, []float64{b[0], b[1] * share / left}
		f = func(x float64, q []float64) float64 { return q[0] * x / (q[1]*left/share + x) }
	case ShiftedHyperbola:
		h := share*(b[0]-b[2]) + b[2]
		names, start = []string{"M", "R", "dose"}, []float64{b[0], b[2], h * b[0] / (b[1] * left * (b[0] - b[2]))}
		f = func(x float64, q []float64) float64 {
			h := share*(q[0]-q[1]) + q[1]
			a := h * q[0] / (q[2] * left * (q[0] - q[1]))
			return q[0]*a*x/(q[0]+a*x) - q[1]
		}
	case NonRectangular:
		u := func(m, theta, rest float64) float64 {
			h := (share*(m-rest) + rest) / m
			return h * (1 - theta*h) / (1 - h)
		}
		names, start = []string{"M", "theta", "R", "dose"}, []float64{b[0], b[2], b[3], u(b[0], b[2], b[3]) * b[0] / b[1]}
		f = func(x float64, q []float64) float64 {
			return q[0]*bend(u(q[0], q[1], q[2])*x/q[3], q[1]) - q[2]
		}
	default:
		if !(b[0] > 0) {
			return 0, stat.Interval{}, stat.Refuse(what, "the plateau is not above 0")
		}
		at := b[2] - math.Pow(left*b[0]/math.Abs(b[1]), 1/r.Form.power())
		return at, r.reachPlateau(at, left, level), nil
	}
	for _, v := range start {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, stat.Interval{}, stat.Refuse(what, "the fitted curve does not reach it")
		}
	}
	var fit *Fit
	var err error
	if r.whole != nil {
		from := append(slices.Clone(start), r.whole.Coef[len(b):]...)
		fit, err = leastInBlocks(f, names, r.x, r.y, *r.block, from, nil, nil)
	} else {
		fit, err = least(f, names, r.x, r.y, start, nil, nil, r.N-len(b)-r.DF)
	}
	k := len(start) - 1
	if err != nil || fit.RSS > r.RSS*(1+1e-6) {
		return start[k], stat.Interval{Lower: math.Inf(-1), Upper: math.Inf(1), Level: level}, nil
	}
	return start[k], fit.Profile(k, level), nil
}

// reachPlateau profiles the dose of a plateau form: with dose and join fixed the height is
// linear, and the join is searched anew for each dose, for its sum of squares has kinks.
func (r *Response) reachPlateau(at, left, level float64) stat.Interval {
	power := r.Form.power()
	lo, hi := slices.Min(r.x), slices.Max(r.x)
	width := hi - lo
	n := len(r.x)
	// Shifts of blocks are taken out of both sides.
	out := func(v []float64) []float64 { return v }
	if r.block != nil {
		k := len(r.block.Levels) - 1
		c := mat.NewDense(n, k, nil)
		for i, b := range r.block.Of {
			if b < k {
				c.Set(i, b, 1)
				continue
			}
			for j := range k {
				c.Set(i, j, -1)
			}
		}
		var qr mat.QR
		qr.Factorize(c)
		var q mat.Dense
		qr.QTo(&q)
		out = func(v []float64) []float64 {
			w := slices.Clone(v)
			for j := range k {
				var d float64
				for i := range n {
					d += q.At(i, j) * v[i]
				}
				for i := range n {
					w[i] -= d * q.At(i, j)
				}
			}
			return w
		}
	}
	y := out(r.y)
	sum := func(dose, join float64) float64 {
		h := make([]float64, n)
		for i, x := range r.x {
			h[i] = 1 - left*math.Pow(math.Max(join-x, 0)/(join-dose), power)
		}
		h = out(h)
		var hh, hy float64
		for i := range h {
			hh, hy = hh+h[i]*h[i], hy+h[i]*y[i]
		}
		if hh == 0 {
			return math.Inf(1)
		}
		var s float64
		for i := range h {
			d := y[i] - hy/hh*h[i]
			s += d * d
		}
		return s
	}
	const steps = 200
	profile := func(dose float64) float64 {
		from, to := math.Max(dose, lo)+1e-6*width, math.Max(hi, dose)+width
		best, k := math.Inf(1), 0
		point := func(i int) float64 { return from + (to-from)*float64(i)/steps }
		for i := range steps + 1 {
			if s := sum(dose, point(i)); s < best {
				best, k = s, i
			}
		}
		join := numeric.Least(func(j float64) float64 { return sum(dose, j) }, point(max(0, k-1)), point(min(steps, k+1)))
		return math.Min(best, sum(dose, join))
	}
	crit := r.RSS * (1 + dist.FQuantile(level, 1, float64(r.DF))/float64(r.DF))
	over := func(dose float64) float64 { return profile(dose) - crit }
	limit := func(sign float64) float64 {
		in := at
		for i := 1; i <= 150; i++ {
			v := at + sign*width*float64(i)/50
			if over(v) > 0 {
				return numeric.Edge(over, in, v)
			}
			in = v
		}
		return math.Inf(int(sign))
	}
	return stat.Interval{Lower: limit(-1), Upper: limit(1), Level: level}
}

// Value is the form at a dose with coefficients in its order.
func (f Form) Value(x float64, coef []float64) float64 { return f.value(x, coef) }
