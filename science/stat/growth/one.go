package growth

import (
	"fmt"
	"math"

	"underlamp/science/stat"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/dist"
)

// A Fit is the curve of one individual, or of values that are independent of each other.
type Fit struct {
	Model
	*curve.Fit // parameters as [Model.Parameters], on the scale of the scatter

	t, y []float64
}

// span is the range of the times.
func span(t []float64) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, x := range t {
		first, last = math.Min(first, x), math.Max(last, x)
	}
	return first, last
}

// bounds keep the search where a curve can still be told from its limits: far before
// its steepest point a curve is an exponential, whatever its asymptote.
func (m Model) bounds(t []float64) (lower, upper []float64) {
	inf := math.Inf(1)
	first, last := span(t)
	w := last - first
	size := -inf
	if m.Scatter == Constant {
		size = 0
	}
	if m.Form == Exponential {
		return []float64{size, -inf}, []float64{inf, inf}
	}
	return []float64{size, first - 5*w, w / 500}, []float64{inf, last + 3*w, 10 * w}
}

// start is the best of a grid, the size fitted at each place of it.
func (m Model) start(t, y []float64) (vec, bool) {
	first, last := span(t)
	w := last - first
	best, at, found := math.Inf(1), vec{}, false
	try := func(p vec) {
		p[0] = 1
		if m.Scatter == Proportional {
			p[0] = 0
		}
		g := make([]float64, len(t))
		var num, den float64
		for i := range t {
			v, _, ok := m.eval(t[i], p)
			if !ok {
				return
			}
			g[i] = v
			if m.Scatter == Proportional {
				num, den = num+y[i]-v, den+1
			} else {
				num, den = num+y[i]*v, den+v*v
			}
		}
		if !(den > 0) {
			return
		}
		p[0] = num / den
		if m.Scatter == Constant && !(p[0] > 0) {
			return
		}
		var rss float64
		for i := range t {
			v := g[i] + p[0]
			if m.Scatter == Constant {
				v = g[i] * p[0]
			}
			rss += (y[i] - v) * (y[i] - v)
		}
		if rss < best {
			best, at, found = rss, p, true
		}
	}
	if m.Form == Exponential {
		for i := -20; i <= 60; i++ {
			try(vec{0, float64(i) / 4 / w})
		}
		return at, found
	}
	for i := -4; i <= 12; i++ {
		for j := range 12 {
			try(vec{0, first + w*float64(i)/8, w * 0.03 * math.Pow(1.5, float64(j))})
		}
	}
	return at, found
}

// One fits a form to the values of one individual. It refuses sizes that are not above
// 0 if the scatter is proportional, fewer than one value more than parameters, and
// searches that do not settle.
func One(m Model, t, sizes []float64) (*Fit, error) {
	what := "a curve of growth (" + m.Form.String() + ")"
	y, err := m.take(what, t, sizes)
	if err != nil {
		return nil, err
	}
	if len(t) <= m.count() {
		return nil, stat.Refuse(what, "%d values are too few for %d parameters", len(t), m.count())
	}
	start, ok := m.start(t, y)
	if !ok {
		return nil, stat.Refuse(what, "no such curve comes near the values")
	}
	lower, upper := m.bounds(t)
	k := m.count()
	fit, err := curve.Least(m.function(), m.Parameters(), t, y, start[:k], lower, upper)
	if err != nil {
		if r := stat.Refused(err); r != nil {
			return nil, stat.Refuse(what, "%s", r.Because)
		}
		return nil, err
	}
	return &Fit{Model: m, Fit: fit, t: t, y: y}, nil
}

// take checks values and brings them to the scale of the scatter.
func (m Model) take(what string, t, sizes []float64) ([]float64, error) {
	if len(t) != len(sizes) {
		return nil, stat.Refuse(what, "there are %d times and %d sizes", len(t), len(sizes))
	}
	if err := stat.Check(t); err != nil {
		return nil, err
	}
	check := stat.Check
	if m.Scatter == Proportional {
		check = func(v []float64, _ ...stat.Factor) error { return checkSizes(what, v) }
	}
	if err := check(sizes); err != nil {
		return nil, err
	}
	if first, last := span(t); !(last > first) {
		return nil, stat.Refuse(what, "there is only one time")
	}
	y := make([]float64, len(sizes))
	for i, w := range sizes {
		y[i] = m.response(w)
	}
	return y, nil
}

func (m Model) function() curve.Function {
	return func(t float64, p []float64) float64 {
		var v vec
		copy(v[:], p)
		y, _, ok := m.eval(t, v)
		if !ok {
			return math.NaN()
		}
		return y
	}
}

func (f *Fit) point() (p vec, c mat) {
	copy(p[:], f.Coef)
	for i := range f.Cov {
		copy(c[i][:], f.Cov[i])
	}
	return p, c
}

// Size is the size at a time, with limits by delta on the scale of the scatter.
func (f *Fit) Size(t, level float64) stat.Estimate {
	e := f.At(t, level)
	return f.back(e)
}

// back brings an estimate to the scale of sizes; its standard error by delta.
func (m Model) back(e stat.Estimate) stat.Estimate {
	if m.Scatter == Proportional {
		e.Value, e.Interval.Lower, e.Interval.Upper = math.Exp(e.Value), math.Exp(e.Interval.Lower), math.Exp(e.Interval.Upper)
		e.SE *= e.Value
	}
	return e
}

// Rate is the relative growth rate at a time, by the curve, with limits by delta.
func (f *Fit) Rate(t, level float64) stat.Estimate {
	p, c := f.point()
	r, d := f.rate(t, p)
	return limited(stat.Estimate{Name: "relative growth rate", Value: r, SE: math.Sqrt(math.Max(0, quad(d, c))), DF: float64(f.DF)}, level)
}

// Asymptote is where the curve levels off, with limits by profile. It refuses
// exponentials, curves that have not passed their steepest point, and asymptotes
// without an upper limit.
func (f *Fit) Asymptote(level float64) (stat.Estimate, error) {
	what := "where growth levels off"
	if f.Form == Exponential {
		return stat.Estimate{}, stat.Refuse(what, "the curve is an exponential, which never does")
	}
	_, last := span(f.t)
	if f.Coef[1] >= last {
		return stat.Estimate{}, stat.Refuse(what, "the curve has not passed its steepest point")
	}
	i := f.Profile(0, level)
	if !i.Bounded() {
		return stat.Estimate{}, stat.Refuse(what, "the values leave it open")
	}
	return f.back(stat.Estimate{Name: "asymptote", Value: f.Coef[0], SE: math.Sqrt(f.Cov[0][0]), DF: float64(f.DF), Interval: i}), nil
}

// TimeTo is the time at which the curve reaches a size, with limits by delta. It
// refuses sizes that the curve does not reach. The time may lie outside the times of the
// values; that is for the caller to say.
func (f *Fit) TimeTo(size, level float64) (stat.Estimate, error) {
	p, c := f.point()
	t, d, err := f.when(size, p)
	if err != nil {
		return stat.Estimate{}, err
	}
	return limited(stat.Estimate{Name: timeTo(size), Value: t, SE: math.Sqrt(math.Max(0, quad(d, c))), DF: float64(f.DF)}, level), nil
}

func timeTo(size float64) string { return fmt.Sprintf("time to %.4g", size) }

// ProfileTimeTo is the same with limits by profile of the sum of squares, the curve
// being written with that time as one of its parameters. A limit may be infinite.
func (f *Fit) ProfileTimeTo(size, level float64) (stat.Estimate, error) {
	e, err := f.TimeTo(size, level)
	if err != nil {
		return e, err
	}
	inner := f.function()
	start := append([]float64(nil), f.Coef...)
	start[1] = e.Value
	names := append([]string(nil), f.Names...)
	names[1] = "T"
	inf := math.Inf(1)
	_, upper := f.bounds(f.t)
	lower, _ := f.bounds(f.t)
	lower[1], upper[1] = -inf, inf
	g := func(t float64, p []float64) float64 {
		q := [most]float64{}
		copy(q[:], p)
		if f.Form == Exponential {
			// p holds the size at time 0 and the time T; the rate follows.
			a := p[0]
			if f.Scatter == Constant {
				if a <= 0 {
					return math.NaN()
				}
				a = math.Log(a)
			}
			if p[1] == 0 {
				return math.NaN()
			}
			q[1] = (math.Log(size) - a) / p[1]
			return inner(t, q[:2])
		}
		zero, _, err := f.when(size, vec{p[0], 0, p[2]})
		if err != nil {
			return math.NaN()
		}
		q[1] = p[1] - zero
		return inner(t, q[:])
	}
	if f.Form != Exponential {
		// Reaching the size holds the asymptote above it.
		lower[0] = f.response(size)
	}
	fit, err := curve.Least(g, names, f.t, f.y, start, lower, upper)
	if err != nil {
		return e, err
	}
	e.Value, e.Interval = fit.Coef[1], fit.Profile(1, level)
	return e, nil
}

// A Choice is a form chosen for one individual.
type Choice struct {
	*Fit
	Refused map[Form]*stat.Refusal // what could not be fitted
	Delta   map[Form]float64       // AICc above the best
}

// Choose fits the forms and takes the one with the least AICc. Where the values do not
// show a bend, or are too few for one, that is the exponential.
func Choose(s Scatter, t, sizes []float64) (*Choice, error) {
	c := &Choice{Refused: map[Form]*stat.Refusal{}, Delta: map[Form]float64{}}
	aicc := map[Form]float64{}
	for _, f := range Forms {
		fit, err := One(Model{f, s}, t, sizes)
		if err != nil {
			r := stat.Refused(err)
			if r == nil || f == Exponential {
				return nil, err
			}
			c.Refused[f] = r
			continue
		}
		lower, upper := fit.bounds(t)
		if f != Exponential && (math.IsInf(fit.AICc, 1) || fit.Coef[1] <= lower[1] || fit.Coef[1] >= upper[1] || fit.Coef[2] >= upper[2]) {
			c.Refused[f] = stat.Refuse("a curve that levels off ("+f.String()+")", "the values do not show a bend, or are too few to")
			continue
		}
		aicc[f] = fit.AICc
		if c.Fit == nil || fit.AICc < c.AICc {
			c.Fit = fit
		}
	}
	for f, a := range aicc {
		if !math.IsInf(a, 0) {
			c.Delta[f] = a - c.AICc
		}
	}
	return c, nil
}

// quantile of t for limits with df degrees of freedom.
func quantile(level, df float64) float64 { return dist.TQuantile((1+level)/2, df) }
