package binary

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
	"underlamp/science/stat/ratio"
)

// A Fit is a fitted logistic regression.
type Fit struct {
	Names    []string
	Coef     []float64
	Cov      [][]float64 // inverse information: as if subsamples were units
	DF       float64     // +Inf for Cov of a plain fit; of the clusters for a clustered one
	LogLik   float64     // penalised for Firth
	Deviance float64
	Pearson  float64 // Σ (y − n p)²/(n p q)

	d        Data
	clusters int
}

// score returns the score of the logistic likelihood, Firth's if asked, and the
// information.
func (d Data) score(b []float64, penalty bool) (u []float64, info *mat.SymDense, loglik float64, ok bool) {
	p := len(b)
	info = mat.NewSymDense(p, nil)
	u = make([]float64, p)
	pr := make([]float64, len(d.X))
	for i, x := range d.X {
		e := d.eta(i, b)
		pr[i] = expit(e)
		y, n := float64(d.Yes[i]), float64(d.N[i])
		loglik -= y*softplus(-e) + (n-y)*softplus(e)
		w := n * pr[i] * (1 - pr[i])
		for j := range p {
			u[j] += x[j] * (y - n*pr[i])
			for k := j; k < p; k++ {
				info.SetSym(j, k, info.At(j, k)+w*x[j]*x[k])
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return nil, nil, 0, false
	}
	if penalty {
		loglik += chol.LogDet() / 2
		var inv mat.SymDense
		if err := chol.InverseTo(&inv); err != nil {
			return nil, nil, 0, false
		}
		for i, x := range d.X {
			v := mat.NewVecDense(p, x)
			h := float64(d.N[i]) * pr[i] * (1 - pr[i]) * mat.Inner(v, &inv, v)
			for j := range p {
				u[j] += x[j] * h * (0.5 - pr[i])
			}
		}
	}
	return u, info, loglik, !math.IsNaN(loglik)
}

// climb runs Newton steps with halving over the free coefficients, from b.
func (d Data) climb(b []float64, free []int, penalty bool) ([]float64, float64, error) {
	b = append([]float64(nil), b...)
	u, info, ll, ok := d.score(b, penalty)
	if !ok {
		return nil, 0, stat.Refuse("a fit", "its columns depend on each other")
	}
	for range 300 {
		a := mat.NewSymDense(len(free), nil)
		g := mat.NewVecDense(len(free), nil)
		for i, j := range free {
			g.SetVec(i, u[j])
			for k := i; k < len(free); k++ {
				a.SetSym(i, k, info.At(j, free[k]))
			}
		}
		if len(free) == 0 {
			break
		}
		var chol mat.Cholesky
		var step mat.VecDense
		if !chol.Factorize(a) {
			return nil, 0, stat.Refuse("a fit", "its columns depend on each other")
		}
		if err := chol.SolveVecTo(&step, g); err != nil && chol.Cond() > 1e14 {
			return nil, 0, stat.Refuse("a fit", "its columns nearly depend on each other")
		}
		gain := mat.Dot(&step, g)
		// No step may move a logit by more than five.
		scale := 1.0
		for i := range d.X {
			var e float64
			for k, j := range free {
				e += d.X[i][j] * step.AtVec(k)
			}
			if m := math.Abs(e); m*scale > 5 {
				scale = 5 / m
			}
		}
		moved := false
		for range 40 {
			next := append([]float64(nil), b...)
			for k, j := range free {
				next[j] += scale * step.AtVec(k)
			}
			if u2, i2, l2, ok := d.score(next, penalty); ok && l2 >= ll-1e-12*(1+math.Abs(ll)) {
				b, u, info, ll = next, u2, i2, l2
				moved = true
				break
			}
			scale /= 2
		}
		if !moved || gain < 1e-20 {
			break
		}
	}
	return b, ll, nil
}

func all(p int) []int {
	out := make([]int, p)
	for i := range out {
		out[i] = i
	}
	return out
}

func inverse(info *mat.SymDense) ([][]float64, bool) {
	var chol mat.Cholesky
	var inv mat.SymDense
	if !chol.Factorize(info) || chol.InverseTo(&inv) != nil {
		return nil, false
	}
	p := inv.SymmetricDim()
	out := make([][]float64, p)
	for i := range out {
		out[i] = make([]float64, p)
		for j := range out[i] {
			out[i][j] = inv.At(i, j)
		}
	}
	return out, true
}

// Logistic fits by maximum likelihood. It refuses data that are separated, for
// which there is no maximum: use [Firth] for the curve, and [Gap] for what is known.
func Logistic(d Data) (*Fit, error) {
	s, err := d.Separated()
	if err != nil {
		return nil, err
	}
	yes, no := 0, 0
	for i := range d.N {
		yes += d.Yes[i]
		no += d.N[i] - d.Yes[i]
	}
	what := "a logistic curve by maximum likelihood"
	switch {
	case yes == 0:
		return nil, stat.Refuse(what, "the answer was no everywhere")
	case no == 0:
		return nil, stat.Refuse(what, "the answer was yes everywhere")
	case s == Complete:
		return nil, stat.Refuse(what, "the columns part yes from no completely, so the curve may be as steep as one likes")
	case s == Quasi:
		return nil, stat.Refuse(what, "the columns part yes from no but for ties, so a coefficient may be as large as one likes")
	}
	return d.fit(false)
}

func (d Data) fit(penalty bool) (*Fit, error) {
	p := len(d.Names)
	b, ll, err := d.climb(make([]float64, p), all(p), penalty)
	if err != nil {
		return nil, err
	}
	_, info, _, ok := d.score(b, penalty)
	if !ok {
		return nil, stat.Refuse("a fit", "its columns depend on each other")
	}
	cov, ok := inverse(info)
	if !ok {
		return nil, stat.Refuse("a fit", "its columns depend on each other")
	}
	f := &Fit{Names: d.Names, Coef: b, Cov: cov, DF: math.Inf(1), LogLik: ll, d: d}
	for i := range d.X {
		y, n, pr := float64(d.Yes[i]), float64(d.N[i]), expit(d.eta(i, b))
		f.Deviance += 2 * (xlogy(y, y/(n*pr)) + xlogy(n-y, (n-y)/(n*(1-pr))))
		f.Pearson += (y - n*pr) * (y - n*pr) / (n * pr * (1 - pr))
	}
	return f, nil
}

func xlogy(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return x * math.Log(y)
}

// Chance returns the fitted chance at a row of columns.
func (f *Fit) Chance(x []float64) float64 {
	var e float64
	for j, v := range x {
		e += v * f.Coef[j]
	}
	return expit(e)
}

// Estimates returns the coefficients with Wald limits; t if the fit is clustered.
// They are not for Firth's fit, whose limits are by profile.
func (f *Fit) Estimates(level float64) []stat.Estimate {
	out := make([]stat.Estimate, len(f.Coef))
	t := dist.TQuantile((1+level)/2, f.DF)
	for j, b := range f.Coef {
		se := math.Sqrt(f.Cov[j][j])
		out[j] = stat.Estimate{Name: f.Names[j], Value: b, SE: se, DF: f.DF, T: b / se, P: dist.TTwoSided(b/se, f.DF),
			Interval: stat.Interval{Lower: b - t*se, Upper: b + t*se, Level: level}}
	}
	return out
}

// Clustered returns the fit with the covariance of the sandwich over clusters, one
// number per unit. Lost is 1 if every cluster holds all doses (a run) and 2 if a
// cluster holds one (a lamp): the covariance has the factor G/(G − lost), and t has
// G − lost degrees of freedom.
func (f *Fit) Clustered(cluster []int, lost int) (*Fit, error) {
	if len(cluster) != len(f.d.X) {
		return nil, fmt.Errorf("%d clusters for %d units", len(cluster), len(f.d.X))
	}
	p := len(f.Coef)
	sums := map[int][]float64{}
	var order []int // sums in a fixed order
	for i, x := range f.d.X {
		u := sums[cluster[i]]
		if u == nil {
			u = make([]float64, p)
			sums[cluster[i]] = u
			order = append(order, cluster[i])
		}
		r := float64(f.d.Yes[i]) - float64(f.d.N[i])*expit(f.d.eta(i, f.Coef))
		for j := range u {
			u[j] += x[j] * r
		}
	}
	g := len(order)
	if g-lost < 1 {
		return nil, stat.Refuse("the error of the curve", "%d clusters are too few", g)
	}
	out := *f
	out.DF, out.clusters = float64(g-lost), g
	inOrder := make([][]float64, g)
	for i, c := range order {
		inOrder[i] = sums[c]
	}
	out.Cov = numeric.Sandwich(f.Cov, inOrder, float64(g)/float64(g-lost))
	return &out, nil
}

// Dose returns the dose at which the chance is p, with limits of Fieller1954, of a
// fit by [OnDose]. A dose for a chance at which the curve does not rise is refused.
func (f *Fit) Dose(p, level float64) (ratio.Limits, error) {
	if len(f.Coef) != 2 {
		return ratio.Limits{}, fmt.Errorf("a dose needs the model of an intercept and a slope, not of %d columns", len(f.Coef))
	}
	if !(p > 0 && p < 1) {
		return ratio.Limits{}, stat.Refuse("a dose", "the chance asked for is not between 0 and 1")
	}
	t := dist.TQuantile((1+level)/2, f.DF)
	return ratio.Reach(f.Coef[0], f.Coef[1], f.Cov[0][0], f.Cov[0][1], f.Cov[1][1], logit(p), t, level)
}

// Band returns the upper limit of the chance at a dose, one-sided at the level. Where it crosses
// a chance lies the lower limit of the dose for it, two-sided at 2·level − 1.
func (f *Fit) Band(dose, level float64) float64 {
	t := dist.TQuantile(level, f.DF)
	v := f.Cov[0][0] + 2*dose*f.Cov[0][1] + dose*dose*f.Cov[1][1]
	return expit(f.Coef[0] + f.Coef[1]*dose + t*math.Sqrt(v))
}

// A Penalised is a fit of Firth1993 with profile limits.
type Penalised struct {
	Fit
	Limits []stat.Interval
	LR     []float64 // penalised likelihood ratio of each coefficient against 0
	P      []float64
}

// Firth fits by penalised likelihood; it exists for separated data too.
func Firth(d Data, level float64) (*Penalised, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	f, err := d.fit(true)
	if err != nil {
		return nil, err
	}
	out := &Penalised{Fit: *f}
	p := len(f.Coef)
	crit := dist.ChiSquareQuantile(level, 1)
	for j := range p {
		var others []int
		for k := range p {
			if k != j {
				others = append(others, k)
			}
		}
		start := append([]float64(nil), f.Coef...)
		drop := func(v float64) float64 {
			// From the fit and from the last answer: far out one of them may not settle.
			best := math.Inf(-1)
			for _, from := range [][]float64{f.Coef, start} {
				from = append([]float64(nil), from...)
				from[j] = v
				if b, ll, err := d.climb(from, others, true); err == nil && ll > best {
					best = ll
					copy(start, b)
				}
			}
			return 2 * (f.LogLik - best)
		}
		se := math.Sqrt(f.Cov[j][j])
		limit := func(sign float64) float64 {
			copy(start, f.Coef)
			in := f.Coef[j]
			for k := 1; k < 400; k++ {
				out := f.Coef[j] + sign*float64(k)*se
				if drop(out) > crit {
					return numeric.Edge(func(v float64) float64 { return drop(v) - crit }, in, out)
				}
				in = out
			}
			return math.Inf(int(sign))
		}
		out.Limits = append(out.Limits, stat.Interval{Lower: limit(-1), Upper: limit(1), Level: level})
		copy(start, f.Coef)
		lr := math.Max(0, drop(0))
		out.LR = append(out.LR, lr)
		out.P = append(out.P, dist.ChiSquareUpper(lr, 1))
	}
	return out, nil
}

// A Clean is what is known of a threshold without any model.
type Clean struct {
	LastClean  float64 // the highest dose up to which all answers were no
	FirstYes   float64 // the lowest dose with a yes
	NoneClean  bool    // a yes was seen at the lowest dose: LastClean is 0
	NeverYes   bool    // no yes was seen: FirstYes is 0
	IsSeparate bool    // above FirstYes there is no unit without a yes
}

// Gap returns the last dose without a yes below the first with one.
func Gap(yes, n []int, dose []float64) Clean {
	c := Clean{NoneClean: true, NeverYes: true, IsSeparate: true}
	for i, x := range dose {
		if yes[i] > 0 && (c.NeverYes || x < c.FirstYes) {
			c.FirstYes, c.NeverYes = x, false
		}
	}
	for i, x := range dose {
		if c.NeverYes || x < c.FirstYes {
			if c.NoneClean || x > c.LastClean {
				c.LastClean, c.NoneClean = x, false
			}
		} else if yes[i] < n[i] && x > c.FirstYes {
			c.IsSeparate = false
		}
	}
	return c
}
