package power

import (
	"math"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
)

// A Plan says which unit has which level of the treatment, and what its analysis takes
// out besides: blocks, or rows and columns. The layout may be incomplete or uneven.
type Plan struct {
	Treatment stat.Factor
	Nuisance  []stat.Factor
}

// Grid is the plan of units units at each level; with blocks, the units are complete
// blocks.
func Grid(levels, units int, blocks bool) Plan {
	t, b := grid(levels, units)
	p := Plan{Treatment: t}
	if blocks {
		p.Nuisance = []stat.Factor{b}
	}
	return p
}

// frame is a plan with the bases that its F test needs.
type frame struct {
	mean, treat [][]float64 // orthonormal: what is taken out, and what the treatment adds
	df          int         // of error
	fit         *linear.Fit
}

func (p Plan) frame() (*frame, error) {
	what := "power"
	n := len(p.Treatment.Of)
	if len(p.Treatment.Levels) < 2 {
		return nil, stat.Refuse(what, "there is only one level")
	}
	zero := make([]float64, n)
	if err := stat.Check(zero, append([]stat.Factor{p.Treatment}, p.Nuisance...)...); err != nil {
		return nil, err
	}
	var terms []linear.Term
	for _, f := range p.Nuisance {
		terms = append(terms, linear.Term{linear.By(f)})
	}
	terms = append(terms, linear.Term{linear.By(p.Treatment)})
	fit, err := linear.FitModel(zero, terms...)
	if err != nil {
		return nil, err
	}
	f := &frame{fit: fit, df: fit.DF}
	if f.df < 1 {
		return nil, stat.Refuse(what, "no degrees of freedom are left for the error; whatever comes out, level and unit cannot be told apart")
	}
	width := fit.Width(len(terms) - 1)
	columns := fit.Columns()
	var basis [][]float64
	for j, c := range columns {
		v := append([]float64(nil), c...)
		size := norm(v)
		for range 2 {
			for _, q := range basis {
				d := dot(q, v)
				for i := range v {
					v[i] -= d * q[i]
				}
			}
		}
		left := norm(v)
		if size == 0 || left < 1e-9*size {
			continue
		}
		for i := range v {
			v[i] /= left
		}
		basis = append(basis, v)
		if j < len(columns)-width {
			f.mean = append(f.mean, v)
		} else {
			f.treat = append(f.treat, v)
		}
	}
	if len(f.treat) < len(p.Treatment.Levels)-1 {
		return nil, stat.Refuse(what, "some levels cannot be told from the blocks they stand in")
	}
	return f, nil
}

func dot(a, b []float64) float64 {
	var s float64
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }

// p is the p value of the F test between levels.
func (f *frame) p(y []float64) (float64, error) {
	rest := dot(y, y)
	for _, q := range f.mean {
		d := dot(q, y)
		rest -= d * d
	}
	var ss float64
	for _, q := range f.treat {
		d := dot(q, y)
		ss += d * d
	}
	rest -= ss
	if rest <= 1e-12*dot(y, y) {
		return 0, stat.Refuse("a test", "the units do not differ at all within groups")
	}
	d1, d2 := float64(len(f.treat)), float64(f.df)
	return dist.FUpper(ss/d1/(rest/d2), d1, d2), nil
}

// F returns the power of the F test between levels whose means are given, with variance
// sdUnit² + sdSub²/subs of the mean of a unit. Ceiling is the power with subsamples
// without end.
func (p Plan) F(means []float64, sdUnit, sdSub float64, subs int, alpha float64) (Power, error) {
	if len(means) != len(p.Treatment.Levels) {
		return Power{}, stat.Refuse("power", "there are %d means for %d levels", len(means), len(p.Treatment.Levels))
	}
	if err := scatter(sdUnit, sdSub, subs, alpha); err != nil {
		return Power{}, err
	}
	f, err := p.frame()
	if err != nil {
		return Power{}, err
	}
	y := make([]float64, len(p.Treatment.Of))
	for i, l := range p.Treatment.Of {
		y[i] = means[l]
	}
	var ss float64
	for _, q := range f.treat {
		d := dot(q, y)
		ss += d * d
	}
	return chance(ss, sdUnit*sdUnit+sdSub*sdSub/float64(subs), sdUnit, len(f.treat), f.df, alpha), nil
}

func scatter(sdUnit, sdSub float64, subs int, alpha float64) error {
	switch {
	case subs < 1:
		return stat.Refuse("power", "there are no subsamples")
	case sdUnit < 0 || sdSub < 0 || !(sdUnit+sdSub > 0) || math.IsInf(sdUnit+sdSub, 0):
		return stat.Refuse("power", "the scatter between units and within them is not known")
	case !(alpha > 0 && alpha < 1):
		return stat.Refuse("power", "the level of the test is not between 0 and 1")
	}
	return nil
}

// chance is the power of F at a sum of squares of the true means.
func chance(ss, variance, sdUnit float64, df1, df2 int, alpha float64) Power {
	p := Power{DF1: df1, DF2: df2, Noncentrality: ss / variance, Ceiling: 1}
	d1, d2 := float64(df1), float64(df2)
	crit := dist.FQuantile(1-alpha, d1, d2)
	p.Chance = dist.NoncentralF{D1: d1, D2: d2, Lambda: p.Noncentrality}.Upper(crit)
	if sdUnit > 0 {
		p.Ceiling = dist.NoncentralF{D1: d1, D2: d2, Lambda: ss / (sdUnit * sdUnit)}.Upper(crit)
	} else if ss == 0 {
		p.Ceiling = alpha
	}
	return p
}

// Contrast returns the power of the two-sided t test of Σ c·mean when its true value is
// value, and the standard error of that sum. The sum of c is 0.
func (p Plan) Contrast(c []float64, value, sdUnit, sdSub float64, subs int, alpha float64) (power, se float64, df int, err error) {
	if err := scatter(sdUnit, sdSub, subs, alpha); err != nil {
		return 0, 0, 0, err
	}
	f, err := p.frame()
	if err != nil {
		return 0, 0, 0, err
	}
	v, err := p.variance(f, c)
	if err != nil {
		return 0, 0, 0, err
	}
	se = math.Sqrt(v * (sdUnit*sdUnit + sdSub*sdSub/float64(subs)))
	return twoSided(float64(f.df), alpha, value/se), se, f.df, nil
}

// variance of Σ c·mean in units of the variance of a unit.
func (p Plan) variance(f *frame, c []float64) (float64, error) {
	if len(c) != len(p.Treatment.Levels) {
		return 0, stat.Refuse("power", "there are %d coefficients for %d levels", len(c), len(p.Treatment.Levels))
	}
	var l []float64
	for k, x := range c {
		v := f.fit.Vector(map[string]int{p.Treatment.Name: k})
		if l == nil {
			l = make([]float64, len(v))
		}
		for i := range v {
			l[i] += x * v[i]
		}
	}
	return f.fit.Covariance(l, l), nil
}

// Detectable returns the difference that a two-sided t test finds with the chance, for the
// pair of levels that the plan compares best and for that which it compares worst.
func (p Plan) Detectable(goal, sdUnit, sdSub float64, subs int, alpha float64) (best, worst float64, err error) {
	if err := scatter(sdUnit, sdSub, subs, alpha); err != nil {
		return 0, 0, err
	}
	if !(goal > alpha && goal < 1) {
		return 0, 0, stat.Refuse("the smallest difference", "the chance asked for is not between the level of the test and 1")
	}
	f, err := p.frame()
	if err != nil {
		return 0, 0, err
	}
	k := len(p.Treatment.Levels)
	best = math.Inf(1)
	for i := range k {
		for j := range i {
			c := make([]float64, k)
			c[i], c[j] = 1, -1
			v, err := p.variance(f, c)
			if err != nil {
				return 0, 0, err
			}
			best, worst = math.Min(best, v), math.Max(worst, v)
		}
	}
	s := shift(float64(f.df), alpha, goal) * math.Sqrt(sdUnit*sdUnit+sdSub*sdSub/float64(subs))
	return s * math.Sqrt(best), s * math.Sqrt(worst), nil
}

// ErrorDF returns the degrees of freedom of the error.
func (p Plan) ErrorDF() (int, error) {
	f, err := p.frame()
	if err != nil {
		return 0, err
	}
	return f.df, nil
}
