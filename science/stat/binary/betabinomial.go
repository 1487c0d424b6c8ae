package binary

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// A BetaBinomial is a logistic curve for the mean with correlation Rho of two
// subsamples of one unit.
type BetaBinomial struct {
	Names    []string
	Coef     []float64
	SE       []float64
	Rho      float64
	Boundary bool // Rho is 0: the counts scatter no more than binomial ones
	LogLik   float64

	d Data
}

// beta returns log likelihood, slope and curvature in the coefficients and γ.
func (d Data) beta(q []float64, slopes bool) (ll float64, u []float64, h *mat.SymDense) {
	p := len(q) - 1
	g := q[p]
	if slopes {
		u, h = make([]float64, p+1), mat.NewSymDense(p+1, nil)
	}
	for i, x := range d.X {
		e := d.eta(i, q[:p])
		pr, qr := expit(e), expit(-e)
		y, n := d.Yes[i], d.N[i]
		ll += logChoose(n, y)
		var l1, l2, lpg, lg, lgg float64
		for j := range n {
			k := float64(j)
			if j < y {
				v := 1 / (pr + k*g)
				ll -= math.Log(v)
				l1 += v
				l2 -= v * v
				lpg -= k * v * v
				lg += k * v
				lgg -= k * k * v * v
			}
			if j < n-y {
				v := 1 / (qr + k*g)
				ll -= math.Log(v)
				l1 -= v
				l2 -= v * v
				lpg += k * v * v
				lg += k * v
				lgg -= k * k * v * v
			}
			v := 1 / (1 + k*g)
			ll += math.Log(v)
			lg -= k * v
			lgg += k * k * v * v
		}
		if !slopes {
			continue
		}
		d1 := pr * qr
		s, c, cross := l1*d1, l2*d1*d1+l1*d1*(qr-pr), lpg*d1
		for a := range p {
			u[a] += s * x[a]
			for b := a; b < p; b++ {
				h.SetSym(a, b, h.At(a, b)+c*x[a]*x[b])
			}
			h.SetSym(a, p, h.At(a, p)+cross*x[a])
		}
		u[p] += lg
		h.SetSym(p, p, h.At(p, p)+lgg)
	}
	return ll, u, h
}

// climbBeta runs Newton steps made to rise, with γ held at or above 0.
func (d Data) climbBeta(q []float64) ([]float64, float64) {
	q = append([]float64(nil), q...)
	p := len(q) - 1
	ll, u, h := d.beta(q, true)
	for range 200 {
		atEnd := q[p] == 0 && u[p] <= 0
		free := p + 1
		if atEnd {
			free = p
		}
		if free == 0 {
			break
		}
		step, gain := numeric.Rise(u, h, free)
		moved := false
		scale := 1.0
		for range 50 {
			next := append([]float64(nil), q...)
			for a := range free {
				next[a] += scale * step[a]
			}
			if next[p] < 0 {
				next[p] = 0
			}
			if l2, _, _ := d.beta(next, false); l2 > ll {
				q = next
				ll, u, h = d.beta(q, true)
				moved = true
				break
			}
			scale /= 2
		}
		if !moved || gain < 1e-18 {
			break
		}
	}
	return q, ll
}

// FitBetaBinomial fits by maximum likelihood, from several starts of the
// correlation. It refuses separated data.
func FitBetaBinomial(d Data) (*BetaBinomial, error) {
	f, err := Logistic(d)
	if err != nil {
		return nil, err
	}
	many := false
	for _, n := range d.N {
		many = many || n > 1
	}
	if !many {
		return nil, stat.Refuse("the correlation within units", "each unit has one subsample")
	}
	q, ll := d.bestBeta(f.Coef)
	p := len(f.Coef)
	out := &BetaBinomial{Names: d.Names, Coef: q[:p], Rho: q[p] / (1 + q[p]), LogLik: ll, Boundary: q[p] == 0, d: d}
	_, _, h := d.beta(q, true)
	n := p + 1
	if out.Boundary {
		n = p
	}
	info := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			info.SetSym(i, j, -h.At(i, j))
		}
	}
	cov, ok := inverse(info)
	if !ok {
		return nil, stat.Refuse("the error of the curve", "the likelihood is flat at its maximum")
	}
	for j := range p {
		out.SE = append(out.SE, math.Sqrt(cov[j][j]))
	}
	return out, nil
}

func (d Data) bestBeta(start []float64) ([]float64, float64) {
	var best []float64
	top := math.Inf(-1)
	for _, g := range []float64{0, 0.02, 0.15, 0.6} {
		q, ll := d.climbBeta(append(append([]float64(nil), start...), g))
		if ll > top+1e-10 {
			best, top = q, ll
		}
	}
	return best, top
}

// Dose returns the dose at which the chance is p, with profile likelihood limits: F with 1 and
// df degrees of freedom is the critical value (units less two). A limit farther than five times
// the range of the doses is infinite.
func (f *BetaBinomial) Dose(p, level, df float64) (float64, stat.Interval, error) {
	none := stat.Interval{}
	if len(f.Coef) != 2 {
		return 0, none, stat.Refuse("a dose", "the model is not one of an intercept and a slope")
	}
	if f.Coef[1] == 0 {
		return 0, none, stat.Refuse("a dose", "the chance does not change with the dose")
	}
	if !(df >= 1) {
		return 0, none, stat.Refuse("the limits of a dose", "no degrees of freedom are left")
	}
	value := (logit(p) - f.Coef[0]) / f.Coef[1]
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range f.d.X {
		lo, hi = math.Min(lo, x[1]), math.Max(hi, x[1])
	}
	crit := dist.FQuantile(level, 1, df)
	drop := func(at float64) float64 {
		d := Data{Yes: f.d.Yes, N: f.d.N, Names: []string{"slope"}, Offset: make([]float64, len(f.d.N))}
		for i, x := range f.d.X {
			d.X = append(d.X, []float64{x[1] - at})
			d.Offset[i] = logit(p)
		}
		_, ll := d.bestBeta([]float64{f.Coef[1]})
		return 2*(f.LogLik-ll) - crit
	}
	limit := func(sign float64) float64 {
		in := value
		for k := 1; k <= 200; k++ {
			out := value + sign*float64(k)*(hi-lo)/40
			if drop(out) > 0 {
				return numeric.Edge(drop, in, out)
			}
			in = out
		}
		return math.Inf(int(sign))
	}
	return value, stat.Interval{Lower: limit(-1), Upper: limit(1), Level: level}, nil
}
