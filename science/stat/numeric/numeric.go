package numeric

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// Root returns x in [a, b] with f(x) = 0 as nearly as float64 tells, by the method
// of Brent (Brent1973: bisection, secant and inverse quadratic steps). f must have
// different signs at a and b, or be 0 at one of them.
func Root(f func(float64) float64, a, b float64) float64 {
	fa, fb := f(a), f(b)
	if fa == 0 {
		return a
	}
	if fb == 0 {
		return b
	}
	if (fa > 0) == (fb > 0) {
		panic("numeric: no change of sign in the bracket")
	}
	c, fc := a, fa
	d := b - a
	e := d
	for range 300 {
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		tol := 4 * 0x1p-53 * math.Abs(b)
		m := (c - b) / 2
		if math.Abs(m) <= tol || fb == 0 {
			return b
		}
		if math.Abs(e) < tol || math.Abs(fa) <= math.Abs(fb) {
			d, e = m, m
		} else {
			s := fb / fa
			p, q := 2*m*s, 1-s // secant
			if a != c {        // inverse quadratic
				u, r := fa/fc, fb/fc
				p = s * (2*m*u*(u-r) - (b-a)*(r-1))
				q = (u - 1) * (r - 1) * (s - 1)
			}
			if p > 0 {
				q = -q
			}
			p = math.Abs(p)
			if 2*p < math.Min(3*m*q-math.Abs(tol*q), math.Abs(e*q)) {
				e, d = d, p/q
			} else {
				d, e = m, m
			}
		}
		a, fa = b, fb
		if math.Abs(d) > tol {
			b += d
		} else {
			b += math.Copysign(tol, m)
		}
		fb = f(b)
		if (fb > 0) == (fc > 0) {
			c, fc = a, fa
			d = b - a
			e = d
		}
	}
	return b
}

// Edge returns where f, below 0 inside and above 0 outside, crosses 0. An f that is found again
// by a search may not repeat itself to the last digit near its edge: then the end that it is
// nearest to is the answer.
func Edge(f func(float64) float64, inside, outside float64) float64 {
	if f(inside) >= 0 {
		return inside
	}
	if !(f(outside) > 0) {
		return outside
	}
	g := func(x float64) float64 {
		v := f(x)
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return 1e300
		}
		return v
	}
	// The ends by their known signs.
	return Root(func(x float64) float64 {
		switch x {
		case inside:
			return math.Min(g(x), -1e-300)
		case outside:
			return math.Max(g(x), 1e-300)
		}
		return g(x)
	}, inside, outside)
}

// Least returns the place of a minimum of f between a and b by golden sections.
// The place is good to about the square root of the precision, 1e-8 of its size,
// as for any method that compares values.
func Least(f func(float64) float64, a, b float64) float64 {
	const g = 0.6180339887498949
	x1, x2 := b-g*(b-a), a+g*(b-a)
	f1, f2 := f(x1), f(x2)
	for range 200 {
		if math.Abs(b-a) <= 1e-10*(math.Abs(a)+math.Abs(b))+1e-300 {
			break
		}
		if f1 <= f2 {
			b, x2, f2 = x2, x1, f1
			x1 = b - g*(b-a)
			f1 = f(x1)
		} else {
			a, x1, f1 = x1, x2, f2
			x2 = a + g*(b-a)
			f2 = f(x2)
		}
	}
	if f1 <= f2 {
		return x1
	}
	return x2
}

// A Rule is a set of nodes with weights.
type Rule struct{ X, W []float64 }

var (
	rulesMu sync.Mutex
	rules   = map[int]Rule{}
)

// Legendre returns the rule of Gauss and Legendre with n nodes on [0, 1]. The
// caller must not change it.
func Legendre(n int) Rule {
	rulesMu.Lock()
	defer rulesMu.Unlock()
	r, ok := rules[n]
	if !ok {
		r = Rule{make([]float64, n), make([]float64, n)}
		quad.Legendre{}.FixedLocations(r.X, r.W, 0, 1)
		rules[n] = r
	}
	return r
}

// On returns the rule with n nodes on each of the pieces between the knots, which
// must rise. Empty pieces are passed over.
func On(n int, knots ...float64) Rule {
	base := Legendre(n)
	var out Rule
	for i := 1; i < len(knots); i++ {
		h := knots[i] - knots[i-1]
		if !(h > 0) {
			continue
		}
		for j, x := range base.X {
			out.X = append(out.X, knots[i-1]+h*x)
			out.W = append(out.W, h*base.W[j])
		}
	}
	return out
}
