package curve

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// A Function is a curve with parameters.
type Function func(x float64, p []float64) float64

// A Fit is a fitted curve.
type Fit struct {
	Names []string
	Coef  []float64
	Cov   [][]float64
	RSS   float64
	N, DF int
	AICc  float64 // +Inf if there are too few values for it

	f            Function
	x, y         []float64
	lower, upper []float64
	whole        *Fit // the same with the shifts of blocks as further parameters; nil without
	block        *stat.Factor
}

// Least fits f to y over x from a start, parameters held between lower and upper
// where those are given. It refuses where the search does not settle, or the
// parameters cannot be told apart.
func Least(f Function, names []string, x, y, start, lower, upper []float64) (*Fit, error) {
	return least(f, names, x, y, start, lower, upper, 0)
}

// least counts lost degrees of freedom, those of blocks taken out before, as parameters.
func least(f Function, names []string, x, y, start, lower, upper []float64, lost int) (*Fit, error) {
	if len(x) != len(y) {
		return nil, stat.Refuse("a curve", "there are %d doses and %d values", len(x), len(y))
	}
	if err := stat.Check(append(append([]float64(nil), x...), y...)); err != nil {
		return nil, err
	}
	n, p := len(x), len(start)
	if n <= p+lost {
		return nil, stat.Refuse("a curve", "%d values are too few for %d parameters", n, p+lost)
	}
	free := make([]int, p)
	for i := range free {
		free[i] = i
	}
	fit := &Fit{Names: names, N: n, DF: n - p - lost, f: f, x: x, y: y, lower: lower, upper: upper}
	b, rss, ok := fit.search(start, free)
	if !ok {
		return nil, stat.Refuse("a curve", "the search for its parameters does not settle from this start")
	}
	fit.Coef, fit.RSS = b, rss
	fit.AICc = aicc(n, p+lost, rss)
	// Covariance by the triangle of the slopes, columns to one size.
	j := fit.slopes(b, free)
	size := make([]float64, p)
	for k := range p {
		for i := range n {
			size[k] += j.At(i, k) * j.At(i, k)
		}
		size[k] = math.Sqrt(size[k])
		if !(size[k] > 0) || math.IsInf(size[k], 0) {
			return nil, stat.Refuse("the parameter "+name(names, k), "the curve does not change with it at these doses")
		}
		for i := range n {
			j.Set(i, k, j.At(i, k)/size[k])
		}
	}
	var qr mat.QR
	qr.Factorize(j)
	if qr.Cond() > 1e11 {
		return nil, stat.Refuse("the parameters of a curve", "some of them can be exchanged for each other at these doses")
	}
	var r mat.Dense
	qr.RTo(&r)
	inv := mat.NewTriDense(p, mat.Upper, nil)
	for i := range p {
		for k := i; k < p; k++ {
			inv.SetTri(i, k, r.At(i, k))
		}
	}
	if err := inv.InverseTri(inv); err != nil && qr.Cond() > 1e13 {
		return nil, stat.Refuse("the parameters of a curve", "some of them can be exchanged for each other at these doses")
	}
	s2 := rss / float64(fit.DF)
	fit.Cov = make([][]float64, p)
	for a := range p {
		fit.Cov[a] = make([]float64, p)
		for c := range p {
			var s float64
			for k := max(a, c); k < p; k++ {
				s += inv.At(a, k) * inv.At(c, k)
			}
			fit.Cov[a][c] = s2 * s / (size[a] * size[c])
		}
	}
	return fit, nil
}

func name(names []string, k int) string {
	if k < len(names) {
		return names[k]
	}
	return "a parameter"
}

// aicc is Akaike's criterion corrected for few values, for p parameters and the
// error variance.
func aicc(n, p int, rss float64) float64 {
	k := float64(p + 1)
	m := float64(n)
	if m-k-1 <= 0 {
		return math.Inf(1)
	}
	return m*math.Log(rss/m) + m*(1+math.Log(2*math.Pi)) + 2*k + 2*k*(k+1)/(m-k-1)
}

func (f *Fit) sum(b []float64) float64 {
	var s float64
	for i, x := range f.x {
		d := f.y[i] - f.f(x, b)
		s += d * d
	}
	if math.IsNaN(s) {
		return math.Inf(1)
	}
	return s
}

func (f *Fit) clamp(b []float64) {
	for k := range b {
		if f.lower != nil {
			b[k] = math.Max(b[k], f.lower[k])
		}
		if f.upper != nil {
			b[k] = math.Min(b[k], f.upper[k])
		}
	}
}

// slopes returns derivatives by central differences of the free parameters.
func (f *Fit) slopes(b []float64, free []int) *mat.Dense {
	j := mat.NewDense(len(f.x), len(free), nil)
	at := append([]float64(nil), b...)
	for k, v := range free {
		h := 6e-6 * math.Max(math.Abs(b[v]), 1e-7)
		up, down := b[v]+h, b[v]-h
		if f.upper != nil {
			up = math.Min(up, f.upper[v])
		}
		if f.lower != nil {
			down = math.Max(down, f.lower[v])
		}
		for i, x := range f.x {
			at[v] = up
			a := f.f(x, at)
			at[v] = down
			j.Set(i, k, (a-f.f(x, at))/(up-down))
		}
		at[v] = b[v]
	}
	return j
}

// search minimises the sum of squares over the free parameters.
func (f *Fit) search(start []float64, free []int) ([]float64, float64, bool) {
	b := append([]float64(nil), start...)
	f.clamp(b)
	s := f.sum(b)
	if math.IsInf(s, 0) {
		return b, s, false
	}
	if len(free) == 0 {
		return b, s, true
	}
	n, p := len(f.x), len(free)
	lambda := 1e-3
	scale := make([]float64, p)
	still := 0
	for range 2000 {
		j := f.slopes(b, free)
		for k := range p {
			var c float64
			for i := range n {
				c += j.At(i, k) * j.At(i, k)
			}
			scale[k] = math.Max(scale[k], math.Sqrt(c))
			if scale[k] == 0 {
				scale[k] = 1
			}
		}
		r := make([]float64, n)
		for i, x := range f.x {
			r[i] = f.y[i] - f.f(x, b)
		}
		improved := false
		for range 40 {
			a := mat.NewDense(n+p, p, nil)
			for i := range n {
				for k := range p {
					a.Set(i, k, j.At(i, k)/scale[k])
				}
			}
			for k := range p {
				a.Set(n+k, k, math.Sqrt(lambda))
			}
			var qr mat.QR
			qr.Factorize(a)
			var d mat.VecDense
			err := qr.SolveVecTo(&d, false, mat.NewVecDense(n+p, append(append([]float64(nil), r...), make([]float64, p)...)))
			next := append([]float64(nil), b...)
			bad := false
			for k, v := range free {
				next[v] += d.AtVec(k) / scale[k]
				bad = bad || math.IsNaN(next[v])
			}
			if err != nil && bad {
				lambda = math.Max(lambda*10, 1e-10)
				continue
			}
			f.clamp(next)
			if s2 := f.sum(next); s2 <= s {
				var move float64
				for _, v := range free {
					move = math.Max(move, math.Abs(next[v]-b[v])/(math.Abs(b[v])+1e-12))
				}
				gain := s - s2
				b, s = next, s2
				lambda = math.Max(lambda/10, 1e-16)
				improved = true
				if move < 1e-11 || s == 0 || gain <= 1e-15*s && move < 1e-7 {
					still++
				} else {
					still = 0
				}
				break
			}
			lambda *= 10
			if lambda > 1e16 {
				break
			}
		}
		if still >= 2 || !improved {
			// No step lowers it, and none is long any more: a minimum, unless the slope
			// says otherwise.
			return b, s, f.flat(b, s, free)
		}
	}
	return b, s, false
}

// flat reports whether the residuals are nearly at right angles to every slope.
func (f *Fit) flat(b []float64, s float64, free []int) bool {
	if s == 0 {
		return true
	}
	j := f.slopes(b, free)
	for k, v := range free {
		if f.lower != nil && b[v] <= f.lower[v] || f.upper != nil && b[v] >= f.upper[v] {
			continue
		}
		var c, d float64
		for i, x := range f.x {
			c += j.At(i, k) * (f.y[i] - f.f(x, b))
			d += j.At(i, k) * j.At(i, k)
		}
		if math.Abs(c) > 1e-5*math.Sqrt(d*s) {
			return false
		}
	}
	return true
}

// Estimates returns the parameters with Wald limits.
func (f *Fit) Estimates(level float64) []stat.Estimate {
	t := dist.TQuantile((1+level)/2, float64(f.DF))
	var out []stat.Estimate
	for k, b := range f.Coef {
		se := math.Sqrt(f.Cov[k][k])
		e := stat.Estimate{Name: name(f.Names, k), Value: b, SE: se, DF: float64(f.DF),
			Interval: stat.Interval{Lower: b - t*se, Upper: b + t*se, Level: level}}
		if se > 0 {
			e.T = b / se
			e.P = dist.TTwoSided(e.T, e.DF)
		}
		out = append(out, e)
	}
	return out
}

// Profile returns limits of parameter k by F on the sum of squares with the others
// fitted anew. A limit that is not met within 60 standard errors, or ahead of the end of
// the range of the parameter, is infinite.
func (f *Fit) Profile(k int, level float64) stat.Interval {
	if f.whole != nil {
		return f.whole.Profile(k, level)
	}
	out := stat.Interval{Lower: math.Inf(-1), Upper: math.Inf(1), Level: level}
	if f.RSS == 0 {
		return stat.Interval{Lower: f.Coef[k], Upper: f.Coef[k], Level: level}
	}
	crit := f.RSS * (1 + dist.FQuantile(level, 1, float64(f.DF))/float64(f.DF))
	var others []int
	for i := range f.Coef {
		if i != k {
			others = append(others, i)
		}
	}
	se := math.Sqrt(f.Cov[k][k])
	if !(se > 0) {
		return out
	}
	limit := func(sign float64) float64 {
		at := append([]float64(nil), f.Coef...)
		over := func(v float64) float64 {
			at[k] = v
			b, s, _ := f.search(at, others)
			copy(at, b)
			at[k] = v
			return s - crit
		}
		in := f.Coef[k]
		for i := 1; i <= 240; i++ {
			v := f.Coef[k] + sign*float64(i)*se/4
			if f.lower != nil && v <= f.lower[k] || f.upper != nil && v >= f.upper[k] {
				return math.Inf(int(sign))
			}
			if over(v) > 0 {
				return numeric.Edge(over, in, v)
			}
			in = v
		}
		return math.Inf(int(sign))
	}
	out.Lower, out.Upper = limit(-1), limit(1)
	return out
}

// At returns the curve at a dose with t limits of its mean.
func (f *Fit) At(x, level float64) stat.Estimate {
	one := &Fit{f: f.f, x: []float64{x}, lower: f.lower, upper: f.upper}
	free := make([]int, len(f.Coef))
	for i := range free {
		free[i] = i
	}
	g := one.slopes(f.Coef, free)
	var v float64
	for a := range f.Coef {
		for b := range f.Coef {
			v += g.At(0, a) * g.At(0, b) * f.Cov[a][b]
		}
	}
	se := math.Sqrt(math.Max(0, v))
	y := f.f(x, f.Coef)
	t := dist.TQuantile((1+level)/2, float64(f.DF))
	return stat.Estimate{Name: "curve", Value: y, SE: se, DF: float64(f.DF), Interval: stat.Interval{Lower: y - t*se, Upper: y + t*se, Level: level}}
}
