package growth

import (
	"fmt"
	"math"

	"underlamp/science/stat"
)

// A Form is a curve of growth.
type Form int

const (
	Exponential Form = iota // w0 exp(r t)
	Gompertz                // A exp(−exp((m − t)/s))
	Logistic                // A/(1 + exp((m − t)/s))
)

// Forms lists them.
var Forms = []Form{Exponential, Gompertz, Logistic}

// String names the form.
func (f Form) String() string {
	switch f {
	case Exponential:
		return "exponential"
	case Gompertz:
		return "Gompertz"
	}
	return "logistic"
}

// Scatter says how values lie about their curve.
type Scatter int

const (
	Proportional Scatter = iota // with a deviation in proportion to the size: normal in the logarithm
	Constant                    // with one deviation at all sizes
)

// A Model is a form with its scatter.
type Model struct {
	Form    Form
	Scatter Scatter
}

const most = 3 // parameters of a form

// Parameters names the parameters. With proportional scatter the first is the
// logarithm of a size. m is the time of the steepest rise (of the size), s the scale of
// time, r a rate.
func (m Model) Parameters() []string {
	size := "A"
	if m.Form == Exponential {
		size = "w0"
	}
	if m.Scatter == Proportional {
		size = "ln " + size
	}
	if m.Form == Exponential {
		return []string{size, "r"}
	}
	return []string{size, "m", "s"}
}

func (m Model) count() int {
	if m.Form == Exponential {
		return 2
	}
	return 3
}

type vec [most]float64
type mat [most][most]float64

// eval is the curve as values scatter about it, a logarithm or a size, with its slopes by
// the parameters. ok is false where there is no such curve.
func (m Model) eval(t float64, p vec) (y float64, d vec, ok bool) {
	if m.Form == Exponential {
		if m.Scatter == Proportional {
			return p[0] + p[1]*t, vec{1, t}, true
		}
		e := math.Exp(p[1] * t)
		return p[0] * e, vec{e, p[0] * t * e}, !math.IsInf(e, 0)
	}
	if !(p[2] > 0) {
		return 0, d, false
	}
	u := (p[1] - t) / p[2]
	var g, du float64 // ln of the share of A, and its slope by u
	if m.Form == Gompertz {
		e := math.Exp(u)
		g, du = -e, -e
	} else {
		// −ln(1 + eᵘ) and −1/(1 + e⁻ᵘ) without overflow.
		if u > 0 {
			g = -u - math.Log1p(math.Exp(-u))
		} else {
			g = -math.Log1p(math.Exp(u))
		}
		du = -1 / (1 + math.Exp(-u))
	}
	if math.IsInf(g, 0) || math.IsInf(du, 0) {
		return 0, d, false
	}
	if m.Scatter == Proportional {
		return p[0] + g, vec{1, du / p[2], -du * u / p[2]}, true
	}
	if e := math.Exp(g); e > 0 {
		return p[0] * e, vec{e, p[0] * e * du / p[2], -p[0] * e * du * u / p[2]}, true
	}
	return 0, vec{}, true
}

// response is a size on the scale on which values scatter.
func (m Model) response(size float64) float64 {
	if m.Scatter == Proportional {
		return math.Log(size)
	}
	return size
}

// size is the inverse of response.
func (m Model) size(y float64) float64 {
	if m.Scatter == Proportional {
		return math.Exp(y)
	}
	return y
}

// rate is the relative growth rate d ln(size)/dt at t, with its slopes by the parameters.
func (m Model) rate(t float64, p vec) (r float64, d vec) {
	switch m.Form {
	case Exponential:
		return p[1], vec{0, 1}
	case Gompertz:
		u := (p[1] - t) / p[2]
		r = math.Exp(u) / p[2]
		return r, vec{0, r / p[2], -r * (1 + u) / p[2]}
	}
	u := (p[1] - t) / p[2]
	q := 1 / (1 + math.Exp(-u))
	return q / p[2], vec{0, q * (1 - q) / (p[2] * p[2]), -(q + q*(1-q)*u) / (p[2] * p[2])}
}

// when is the time at which the curve reaches a size, with its slopes by the parameters.
func (m Model) when(size float64, p vec) (t float64, d vec, err error) {
	what := fmt.Sprintf("the time to a size of %.4g", size)
	if !(size > 0) || math.IsInf(size, 0) {
		return 0, d, stat.Refuse(what, "a size must be above 0")
	}
	// a is the logarithm of the first parameter's size, da its slope.
	a, da := p[0], 1.0
	if m.Scatter == Constant {
		if !(p[0] > 0) {
			return 0, d, stat.Refuse(what, "the curve is nowhere above 0")
		}
		a, da = math.Log(p[0]), 1/p[0]
	}
	x := math.Log(size)
	if m.Form == Exponential {
		if !(p[1] > 0) {
			return 0, d, stat.Refuse(what, "the curve does not rise")
		}
		t = (x - a) / p[1]
		return t, vec{-da / p[1], -t / p[1]}, nil
	}
	k := a - x // how far, in logarithms, the size lies below the asymptote
	if !(k > 0) {
		return 0, d, stat.Refuse(what, "the curve levels off at %.4g", math.Exp(a))
	}
	var u, du float64 // (m − t)/s there, and its slope by k
	if m.Form == Gompertz {
		u, du = math.Log(k), 1/k
	} else {
		u = k + math.Log(-math.Expm1(-k)) // ln(eᵏ − 1)
		du = -1 / math.Expm1(-k)
	}
	t = p[1] - p[2]*u
	return t, vec{-p[2] * du * da, 1, -u}, nil
}

func dot(a, b vec) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// quad is aᵀ C a.
func quad(a vec, c mat) (s float64) {
	for i := range a {
		for j := range a {
			s += a[i] * c[i][j] * a[j]
		}
	}
	return s
}
