package onset

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// A Law is the distribution of (ln t − xβ)/σ.
type Law int

const (
	Weibull Law = iota
	LogNormal
	LogLogistic
)

// survival returns S, its density f = −S′, and f′.
func (l Law) survival(z float64) (s, f, df float64) {
	switch l {
	case Weibull:
		e := math.Exp(z)
		s = math.Exp(-e)
		f = e * s
		if math.IsInf(e, 1) {
			return 0, 0, 0
		}
		return s, f, f * (1 - e)
	case LogNormal:
		s = dist.NormalLower(-z)
		f = math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		return s, f, -z * f
	}
	if z > 0 {
		e := math.Exp(-z)
		s = e / (1 + e)
	} else {
		s = 1 / (1 + math.Exp(z))
	}
	f = s * (1 - s)
	return s, f, f * (2*s - 1)
}

// quantile returns z with S(z) = 1 − p.
func (l Law) quantile(p float64) float64 {
	switch l {
	case Weibull:
		return math.Log(-math.Log1p(-p))
	case LogNormal:
		return dist.NormalQuantile(p)
	}
	return math.Log(p) - math.Log1p(-p)
}

// A Regression is a fitted law with ln t = xβ + σ·error.
type Regression struct {
	Law    Law
	Names  []string
	Coef   []float64
	Scale  float64     // σ
	Cov    [][]float64 // of the coefficients and ln σ
	DF     float64     // +Inf; of the clusters for a clustered fit
	LogLik float64

	obs []Observation
	x   [][]float64
}

// each adds slope and curvature of one observation in the coefficients and ln σ; it returns its
// log likelihood.
func (l Law) each(o Observation, x, q, u []float64, h *mat.SymDense) (float64, bool) {
	p := len(x)
	var mu float64
	for j, v := range x {
		mu += v * q[j]
	}
	sigma := math.Exp(q[p])
	zof := func(t float64) float64 { return (math.Log(t) - mu) / sigma }
	// Value and derivatives in the two z.
	var ll, g1, g2, h11, h12, h22, z1, z2 float64
	if o.Last == o.First {
		z1 = zof(o.Last)
		_, f, df := l.survival(z1)
		if !(f > 0) {
			return 0, false
		}
		ll = math.Log(f) - q[p] - math.Log(o.Last)
		g1 = df / f
		e := 1e-5
		_, fu, du := l.survival(z1 + e)
		_, fd, dd := l.survival(z1 - e)
		if fu > 0 && fd > 0 {
			h11 = (du/fu - dd/fd) / (2 * e)
		}
	} else {
		sl, fl, dl := 1.0, 0.0, 0.0
		if o.Last > 0 {
			z1 = zof(o.Last)
			sl, fl, dl = l.survival(z1)
		}
		sr, fr, dr := 0.0, 0.0, 0.0
		if !math.IsInf(o.First, 1) {
			z2 = zof(o.First)
			sr, fr, dr = l.survival(z2)
		}
		d := sl - sr
		if l == Weibull && o.Last > 0 && !math.IsInf(o.First, 1) {
			d = -sl * math.Expm1(math.Exp(z1)-math.Exp(z2))
		}
		if !(d > 0) {
			return 0, false
		}
		ll = math.Log(d)
		g1, g2 = -fl/d, fr/d
		h11, h22, h12 = -dl/d-g1*g1, dr/d-g2*g2, -g1*g2
	}
	if u == nil {
		return ll, true
	}
	// z = (ln t − xβ)/σ: ∂z/∂β = −x/σ, ∂z/∂τ = −z, ∂²z/∂β∂τ = x/σ, ∂²z/∂τ² = z.
	g := g1 + g2
	hh := h11 + 2*h12 + h22
	hz := h11*z1 + h12*(z1+z2) + h22*z2
	gz := g1*z1 + g2*z2
	for a := range p {
		u[a] -= g * x[a] / sigma
		if h != nil {
			for b := a; b < p; b++ {
				h.SetSym(a, b, h.At(a, b)+hh*x[a]*x[b]/(sigma*sigma))
			}
			h.SetSym(a, p, h.At(a, p)+(hz+g)*x[a]/sigma)
		}
	}
	u[p] -= gz
	if o.Last == o.First {
		u[p]--
	}
	if h != nil {
		h.SetSym(p, p, h.At(p, p)+h11*z1*z1+2*h12*z1*z2+h22*z2*z2+gz)
	}
	return ll, true
}

// FitRegression fits a law to observations with columns x, intercept first. It refuses
// where nothing was ever seen, where the intervals are all one, and where the likelihood
// has no maximum.
func FitRegression(law Law, obs []Observation, x [][]float64, names []string) (*Regression, error) {
	what := "a distribution of the time of onset"
	if len(obs) != len(x) {
		return nil, fmt.Errorf("%d observations and %d rows", len(obs), len(x))
	}
	seen, same := 0, true
	var sum, n float64
	for i, o := range obs {
		if err := o.Check(); err != nil {
			return nil, fmt.Errorf("observation %d: %w", i+1, err)
		}
		if len(x[i]) != len(names) {
			return nil, fmt.Errorf("row %d has %d columns and there are %d names", i+1, len(x[i]), len(names))
		}
		if err := stat.Check(x[i]); err != nil {
			return nil, fmt.Errorf("row %d: %w", i+1, err)
		}
		if !math.IsInf(o.First, 1) {
			seen++
			sum += math.Log(o.First)
			n++
		}
		same = same && o == obs[0]
	}
	switch {
	case seen == 0:
		return nil, stat.Refuse(what, "it was never seen")
	case same:
		return nil, stat.Refuse(what, "all onsets lie between the same two rounds")
	}
	p := len(names)
	f := func(q []float64) (float64, []float64, *mat.SymDense, bool) {
		u, h := make([]float64, p+1), mat.NewSymDense(p+1, nil)
		var ll float64
		if math.Abs(q[p]) > 12 {
			return 0, nil, nil, false
		}
		for i, o := range obs {
			v, ok := law.each(o, x[i], q, u, h)
			if !ok {
				return 0, nil, nil, false
			}
			ll += v
		}
		return ll, u, h, !math.IsNaN(ll)
	}
	start := make([]float64, p+1)
	start[0] = sum/n + 0.3
	start[p] = 0
	q, ll, h, ok := numeric.Climb(f, start)
	if !ok || q[p] < -9 {
		return nil, stat.Refuse(what, "its likelihood has no maximum; a group may have no onset at all, or only onsets between the same rounds")
	}
	cov, ok := numeric.Inverse(h)
	if !ok {
		return nil, stat.Refuse(what, "its columns depend on each other")
	}
	for j := range cov {
		if cov[j][j] > 1e8 {
			return nil, stat.Refuse(what, "a group has no onset at all, so its time may be as late as one likes")
		}
	}
	return &Regression{Law: law, Names: names, Coef: q[:p], Scale: math.Exp(q[p]), Cov: cov, DF: math.Inf(1), LogLik: ll, obs: obs, x: x}, nil
}

// Clustered returns the fit with covariance by clusters, factor G/(G − lost) and
// G − lost degrees of freedom: see package binary.
func (r *Regression) Clustered(cluster []int, lost int) (*Regression, error) {
	if len(cluster) != len(r.obs) {
		return nil, fmt.Errorf("%d clusters for %d observations", len(cluster), len(r.obs))
	}
	k := len(r.Coef) + 1
	q := append(append([]float64(nil), r.Coef...), math.Log(r.Scale))
	sums := map[int][]float64{}
	var order []int
	for i, o := range r.obs {
		u := sums[cluster[i]]
		if u == nil {
			u = make([]float64, k)
			sums[cluster[i]] = u
			order = append(order, cluster[i])
		}
		if _, ok := r.Law.each(o, r.x[i], q, u, nil); !ok {
			return nil, stat.Refuse("the error of the onset", "its likelihood is 0")
		}
	}
	g := len(order)
	if g-lost < 1 {
		return nil, stat.Refuse("the error of the onset", "%d clusters are too few", g)
	}
	out := *r
	out.DF = float64(g - lost)
	inOrder := make([][]float64, g)
	for i, c := range order {
		inOrder[i] = sums[c]
	}
	out.Cov = numeric.Sandwich(r.Cov, inOrder, float64(g)/float64(g-lost))
	return &out, nil
}

// Estimates returns the coefficients with limits; exp of one is how many times later the
// onset is for one more of its column.
func (r *Regression) Estimates(level float64) []stat.Estimate {
	t := dist.TQuantile((1+level)/2, r.DF)
	var out []stat.Estimate
	for j, b := range r.Coef {
		se := math.Sqrt(r.Cov[j][j])
		out = append(out, stat.Estimate{Name: r.Names[j], Value: b, SE: se, DF: r.DF, T: b / se, P: dist.TTwoSided(b/se, r.DF),
			Interval: stat.Interval{Lower: b - t*se, Upper: b + t*se, Level: level}})
	}
	return out
}

// Quantile returns the time by which the share p has begun at a row of columns, with limits
// from ln t.
func (r *Regression) Quantile(p float64, x []float64, level float64) (stat.Estimate, error) {
	if !(p > 0 && p < 1) || len(x) != len(r.Coef) {
		return stat.Estimate{}, fmt.Errorf("a share of %g at %d columns cannot be asked for", p, len(x))
	}
	z := r.Law.quantile(p)
	g := append(append([]float64(nil), x...), r.Scale*z)
	lt := r.Scale * z
	for j, v := range x {
		lt += v * r.Coef[j]
	}
	var v float64
	for a := range g {
		for b := range g {
			v += g[a] * g[b] * r.Cov[a][b]
		}
	}
	se := math.Sqrt(math.Max(0, v))
	half := dist.TQuantile((1+level)/2, r.DF) * se
	t := math.Exp(lt)
	return stat.Estimate{Name: "onset", Value: t, SE: t * se, DF: r.DF,
		Interval: stat.Interval{Lower: math.Exp(lt - half), Upper: math.Exp(lt + half), Level: level}}, nil
}
