package ordinal

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// A Random is a proportional-odds model in which every unit has a shift of its own on the
// logit, normal with standard deviation SD. Its coefficients are those of the median unit and
// larger than those of the average subsample.
type Random struct {
	Names     []string
	Threshold []float64
	Coef      []float64
	SE        []float64 // of the coefficients
	SD        float64
	Boundary  bool // SD is estimated as 0: the units differ no more than their subsamples
	LogLik    float64
	Nodes     int
}

// FitRandom fits with the unit of each row, by adaptive quadrature of Gauss and Hermite with
// nodes nodes; one is the approximation of Laplace, ten are enough for units of few
// subsamples. It refuses what FitModel refuses, and units of one row each.
func FitRandom(d Data, unit []int, nodes int) (*Random, error) {
	if len(unit) != len(d.Class) {
		return nil, stat.Refuse("a model of grades by unit", "%d rows have %d units", len(d.Class), len(unit))
	}
	if nodes < 1 || nodes > 60 {
		return nil, stat.Refuse("a model of grades by unit", "%d nodes were asked for; 1 to 60 can be", nodes)
	}
	d.Free = nil
	fixed, err := FitModel(d)
	if err != nil {
		return nil, err
	}
	rows := map[int][]int{}
	var order []int
	for i, u := range unit {
		if rows[u] == nil {
			order = append(order, u)
		}
		rows[u] = append(rows[u], i)
	}
	if len(order) < 3 || len(order) == len(unit) && d.Weight == nil {
		return nil, stat.Refuse("the spread of units", "there are fewer than three units, or each has one row")
	}
	m := len(fixed.Threshold)
	p := m + len(d.Names)
	hermite := gauss(nodes)
	modes := make([]float64, len(order))
	loglik := func(q []float64) float64 {
		for c := 1; c < m; c++ {
			if !(q[c] > q[c-1]) {
				return math.Inf(-1)
			}
		}
		eta := make([]float64, len(d.Class))
		for i, x := range d.X {
			for j, v := range x {
				eta[i] += v * q[m+j]
			}
		}
		sd := q[p]
		// h(u) and its slopes for the unit g.
		at := func(g int, u float64) (h, s, c float64) {
			h, s, c = -u*u/2, -u, -1
			for _, i := range rows[order[g]] {
				w := d.weight(i)
				e := eta[i] + sd*u
				k := d.Class[i]
				pu, fu, du := 1.0, 0.0, 0.0
				pd, fd, dd := 0.0, 0.0, 0.0
				if k < m {
					pu, fu, du = logistic(q[k] - e)
				}
				if k > 0 {
					pd, fd, dd = logistic(q[k-1] - e)
				}
				pr := math.Max(pu-pd, 1e-300)
				g1 := -(fu - fd) / pr * sd
				h += w * math.Log(pr)
				s += w * g1
				c += w * ((du-dd)/pr*sd*sd - g1*g1)
			}
			return h, s, c
		}
		var total float64
		for g := range order {
			u := modes[g]
			for range 60 {
				_, s, c := at(g, u)
				step := -s / math.Min(c, -0.5)
				if math.Abs(step) > 2 {
					step = math.Copysign(2, step)
				}
				u += step
				if math.Abs(step) < 1e-11 {
					break
				}
			}
			modes[g] = u
			top, _, c := at(g, u)
			tau := 1 / math.Sqrt(-math.Min(c, -1e-6))
			var sum float64
			for k, z := range hermite.X {
				h := top
				if z != 0 {
					h, _, _ = at(g, u+tau*z)
				}
				sum += hermite.W[k] * math.Exp(h-top+z*z/2)
			}
			total += top + math.Log(tau*sum)
		}
		return total
	}
	start := append(append(append([]float64(nil), fixed.Threshold...), fixed.Coef...), 0.5)
	// Searched with steps in units of the error of the fixed model.
	size := make([]float64, p+1)
	for a := range p {
		size[a] = math.Sqrt(fixed.Cov[a][a])
	}
	size[p] = 0.5
	q := make([]float64, p+1)
	shape := func(s []float64) []float64 {
		for a := range q {
			q[a] = start[a] + s[a]*size[a]
		}
		return q
	}
	slope := func(g, s []float64) {
		const e = 1e-4
		t := append([]float64(nil), s...)
		for a := range t {
			t[a] = s[a] + e
			up := loglik(shape(t))
			t[a] = s[a] - e
			g[a] = -(up - loglik(shape(t))) / (2 * e)
			t[a] = s[a]
		}
	}
	problem := optimize.Problem{Func: func(s []float64) float64 {
		if v := -loglik(shape(s)); !math.IsNaN(v) {
			return v
		}
		return math.Inf(1)
	}, Grad: slope}
	res, err := optimize.Minimize(problem, make([]float64, p+1), &optimize.Settings{GradientThreshold: 1e-6, MajorIterations: 300, Converger: &optimize.FunctionConverge{Absolute: 1e-12, Iterations: 20}}, &optimize.BFGS{})
	if res == nil {
		return nil, stat.Refuse("a model of grades by unit", "its search ended at once: %v", err)
	}
	s := res.X
	out := &Random{Names: d.Names, Nodes: nodes}
	// Curvature, and the last steps of Newton's.
	var h *mat.SymDense
	for range 3 {
		h = curvature(s, slope)
		g := make([]float64, p+1)
		slope(g, s)
		for a := range g {
			g[a] = -g[a]
		}
		step, _ := numeric.Rise(g, h, p+1)
		next := append([]float64(nil), s...)
		for a := range next {
			next[a] += step[a]
		}
		if loglik(shape(next)) < loglik(shape(s))-1e-9 {
			break
		}
		s = next
	}
	out.LogLik = loglik(shape(s))
	if math.IsInf(out.LogLik, 0) || math.IsNaN(out.LogLik) {
		return nil, stat.Refuse("a model of grades by unit", "the search for its top does not settle")
	}
	best := append([]float64(nil), shape(s)...)
	out.SD = math.Abs(best[p])
	if out.LogLik <= fixed.LogLik+1e-7 || out.SD < 1e-3 {
		// The top is flat at 0; the fixed model is it.
		out.Boundary, out.SD, out.LogLik = true, 0, fixed.LogLik
		out.Threshold, out.Coef = fixed.Threshold, fixed.Coef
		for _, e := range fixed.Estimates(0.95) {
			out.SE = append(out.SE, e.SE)
		}
		return out, nil
	}
	out.Threshold, out.Coef = best[:m], best[m:p]
	cov, ok := numeric.Inverse(h)
	if !ok {
		return nil, stat.Refuse("the errors of a model of grades by unit", "its likelihood is flat at the top")
	}
	for j := range d.Names {
		out.SE = append(out.SE, math.Sqrt(cov[m+j][m+j])*size[m+j])
	}
	return out, nil
}

// curvature is the second derivative of the value whose negative slope is given.
func curvature(s []float64, slope func(g, s []float64)) *mat.SymDense {
	n := len(s)
	const e = 1e-3
	full := mat.NewDense(n, n, nil)
	up, down := make([]float64, n), make([]float64, n)
	t := append([]float64(nil), s...)
	for a := range n {
		t[a] = s[a] + e
		slope(up, t)
		t[a] = s[a] - e
		slope(down, t)
		t[a] = s[a]
		for b := range n {
			full.Set(a, b, -(up[b]-down[b])/(2*e))
		}
	}
	h := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			h.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	return h
}

// gauss is the rule of Gauss and Hermite for a standard normal.
func gauss(n int) numeric.Rule {
	r := numeric.Rule{X: make([]float64, n), W: make([]float64, n)}
	if n == 1 {
		r.W[0] = 1
		return r
	}
	quad.Hermite{}.FixedLocations(r.X, r.W, math.Inf(-1), math.Inf(1))
	for i := range r.X {
		r.X[i] *= math.Sqrt2
		r.W[i] /= math.Sqrt(math.Pi)
	}
	return r
}

// Estimates returns the coefficients with normal limits.
func (f *Random) Estimates(level float64) []stat.Estimate {
	z := dist.NormalQuantile((1 + level) / 2)
	var out []stat.Estimate
	for j, b := range f.Coef {
		out = append(out, stat.Estimate{Name: f.Names[j], Value: b, SE: f.SE[j], DF: math.Inf(1), T: b / f.SE[j], P: dist.NormalTwoSided(b / f.SE[j]),
			Interval: stat.Interval{Lower: b - z*f.SE[j], Upper: b + z*f.SE[j], Level: level}})
	}
	return out
}
