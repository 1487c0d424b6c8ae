package dist

import (
	"math"
	"slices"

	"underlamp/science/stat/numeric"
)

// upperNormal is the chance that a standard normal exceeds z.
func upperNormal(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// lowerNormal is the chance that a standard normal stays below z.
func lowerNormal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// OverScale returns the mean of g(s) over s, the root of a chi-square with df
// degrees of freedom divided by df: an estimated standard deviation in units of the
// true one. turns are places where g moves fast.
func OverScale(df float64, g func(s float64) float64, turns ...float64) float64 {
	if math.IsInf(df, 1) {
		return g(1)
	}
	if !(df > 0) {
		panic("dist: degrees of freedom must be above 0")
	}
	// ln density up to a constant, and where it is 1e-20 of its greatest.
	f := func(s float64) float64 { return (df-1)*math.Log(s) - df*s*s/2 }
	mode := math.Sqrt(math.Max(df-1, 0) / df)
	top := -df * 1e-16
	if mode > 0 {
		top = f(mode)
	}
	const depth = 46
	hi := mode + 1/math.Sqrt(df)
	for f(hi) > top-depth {
		hi += 1 / math.Sqrt(df)
	}
	lo := 0.0
	if df > 1 {
		step := math.Exp(-math.Min(0.1, 1/math.Sqrt(df)))
		for lo = mode; lo > 1e-17 && f(lo) > top-depth; lo *= step {
		}
	}
	knots := []float64{lo, hi}
	for i := 1; i < 4; i++ {
		knots = append(knots, lo+(hi-lo)*float64(i)/4)
	}
	if lo < hi/32 {
		// A power of s near 0 is no polynomial: pieces that shrink toward 0 until
		// what lies below has no weight.
		for x := hi / 32; x > math.Max(lo, math.Pow(1e-17, 1/df)); x /= 8 {
			knots = append(knots, x)
		}
	}
	for _, t := range turns {
		if t > lo && t < hi {
			knots = append(knots, t)
		}
	}
	slices.Sort(knots)
	rule := numeric.On(20, knots...)
	var sum, norm float64
	for i, s := range rule.X {
		w := rule.W[i] * math.Exp(f(s)-top)
		norm += w
		sum += w * g(s)
	}
	return sum / norm
}

// zRule integrates over a standard normal z.
var zRule = func() numeric.Rule {
	r := numeric.On(22, -8.5, -5.1, -1.7, 1.7, 5.1, 8.5)
	for i, z := range r.X {
		r.W[i] *= density(z)
	}
	return r
}()

var zLower = func() []float64 {
	out := make([]float64, len(zRule.X))
	for i, z := range zRule.X {
		out[i] = lowerNormal(z)
	}
	return out
}()

// power is xⁿ for a small n.
func power(x float64, n int) float64 {
	p := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			p *= x
		}
		x *= x
	}
	return p
}

// Range is the studentised range: of the means of K groups, each with the same
// standard error, divided by that standard error estimated with DF degrees of
// freedom.
type Range struct {
	K  int
	DF float64
}

// Upper returns the chance that the range exceeds q.
func (r Range) Upper(q float64) float64 {
	if r.K < 2 {
		panic("dist: a range needs two groups")
	}
	if q <= 0 {
		return 1
	}
	w := func(s float64) float64 {
		u := q * s
		var sum float64
		for i, z := range zRule.X {
			// Φ(z) − Φ(z−u)
			sum += zRule.W[i] * power(zLower[i]-lowerNormal(z-u), r.K-1)
		}
		return math.Max(0, 1-float64(r.K)*sum)
	}
	return OverScale(r.DF, w, 2/q, 5/q, 9/q, 14/q)
}

// Quantile returns the q that the range exceeds with chance 1 − p, 0 < p < 1.
func (r Range) Quantile(p float64) float64 {
	// Between one pair and all pairs as if they knew nothing of each other.
	pairs := float64(r.K*(r.K-1)) / 2
	return upperQuantileIn(r.Upper, 1-p, math.Sqrt2*TQuantile((1+p)/2, r.DF), math.Sqrt2*TQuantile(1-(1-p)/2/pairs, r.DF))
}

// upperQuantileIn finds it when it is known to lie between two values.
func upperQuantileIn(upper func(float64) float64, tail, lo, hi float64) float64 {
	lo, hi = lo*(1-1e-9), hi*(1+1e-9)
	for upper(hi) > tail { // the bounds are nearly reached
		hi *= 1.1
	}
	for upper(lo) < tail {
		lo *= 0.9
	}
	target := math.Log(tail)
	return numeric.Root(func(x float64) float64 { return safeLog(upper(x)) - target }, lo, hi)
}

// upperQuantile finds x > 0 with upper(x) = tail, for an upper tail that falls.
func upperQuantile(upper func(float64) float64, tail float64) float64 {
	if !(tail > 0 && tail < 1) {
		panic("dist: a probability must lie between 0 and 1")
	}
	lo, hi := 0.0, 4.0
	for upper(hi) > tail {
		lo, hi = hi, 2*hi
	}
	target := math.Log(tail)
	return numeric.Root(func(x float64) float64 { return safeLog(upper(x)) - target }, lo, hi)
}

// Dunnett is the largest of the t values of several groups against one control.
// Lambda has √(nᵢ/(nᵢ+n₀)) for each group: the correlation of two of them is the
// product (Dunnett1955).
type Dunnett struct {
	Lambda   []float64
	DF       float64
	OneSided bool // the largest t instead of the largest |t|
}

// NewDunnett takes the numbers of units in the control and in the other groups.
func NewDunnett(control int, others []int, df float64) Dunnett {
	d := Dunnett{DF: df}
	for _, n := range others {
		d.Lambda = append(d.Lambda, math.Sqrt(float64(n)/float64(n+control)))
	}
	return d
}

// Upper returns the chance that the largest exceeds c.
func (d Dunnett) Upper(c float64) float64 {
	if !d.OneSided && c <= 0 {
		return 1
	}
	// Groups of one size are alike.
	alike := map[float64]int{}
	var kinds []float64
	for _, l := range d.Lambda {
		if alike[l]++; alike[l] == 1 {
			kinds = append(kinds, l)
		}
	}
	g := func(s float64) float64 {
		var sum float64
		for i, z := range zRule.X {
			p := 1.0
			for _, l := range kinds {
				q := math.Sqrt(1 - l*l)
				in := lowerNormal((c*s + l*z) / q)
				if !d.OneSided {
					in -= lowerNormal((l*z - c*s) / q)
				}
				p *= power(in, alike[l])
			}
			sum += zRule.W[i] * p
		}
		return math.Max(0, 1-sum)
	}
	a := math.Abs(c)
	return OverScale(d.DF, g, 2/a, 5/a, 9/a)
}

// Quantile returns the critical value that the largest exceeds with chance 1 − p, for
// p above a half if one-sided.
func (d Dunnett) Quantile(p float64) float64 {
	m := float64(len(d.Lambda))
	if d.OneSided {
		if p <= 0.5 {
			panic("dist: one-sided critical values are for levels above a half")
		}
		return upperQuantileIn(d.Upper, 1-p, TQuantile(p, d.DF), TQuantile(1-(1-p)/m, d.DF))
	}
	return upperQuantileIn(d.Upper, 1-p, TQuantile((1+p)/2, d.DF), TQuantile(1-(1-p)/2/m, d.DF))
}

// NoncentralT is (Z + Delta)/s with Z standard normal.
type NoncentralT struct{ DF, Delta float64 }

// Lower returns the chance of at most t.
func (n NoncentralT) Lower(t float64) float64 {
	return OverScale(n.DF, func(s float64) float64 { return lowerNormal(t*s - n.Delta) }, n.turns(t)...)
}

// Upper returns the chance of more than t.
func (n NoncentralT) Upper(t float64) float64 {
	return OverScale(n.DF, func(s float64) float64 { return upperNormal(t*s - n.Delta) }, n.turns(t)...)
}

func (n NoncentralT) turns(t float64) []float64 {
	if t == 0 {
		return nil
	}
	return []float64{(n.Delta - 6) / t, (n.Delta - 2) / t, n.Delta / t, (n.Delta + 2) / t, (n.Delta + 6) / t}
}
