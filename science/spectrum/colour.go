package spectrum

import (
	"fmt"
	"math"
)

// A Colour is what the standard observer of 1931 sees.
type Colour struct {
	X, Y float64 // chromaticity x, y of 1931
	U, V float64 // chromaticity u, v of 1960
	CCT  float64 // correlated colour temperature in K; NaN if Why says so
	Duv  float64 // distance from the Planckian locus in u, v, above it positive; NaN if there is no colour
	Why  string  // why there is no colour temperature
}

// mostDuv is the distance from the Planckian locus beyond which CIE15 (section
// 9.4) does not allow the notion of a correlated colour temperature.
const mostDuv = 0.05

// Temperatures that are looked for, in K.
const (
	coldest = 1000
	hottest = 1e5
)

// Colour returns the chromaticity, the correlated colour temperature and the
// distance from the Planckian locus. The temperature is that of the black body
// nearest in u, v of 1960, found by a search over 1/T with the same observer.
// There is none, and Why tells the reason, for light that is too far from white
// (|Duv| above 0.05), hotter or colder than 1000 to 100 000 K, or whose data
// miss a part of 400 to 700 nm.
//
// Source: CIE15, sections 7 and 9.4; observer CIE11664.
func (s Spectrum) Colour() Colour {
	var xyz [3]float64
	for i, t := range fine() {
		xyz[i] = s.integral(0, 1e9, Energy, t)
	}
	c := Colour{CCT: math.NaN(), Duv: math.NaN()}
	sum := xyz[0] + xyz[1] + xyz[2]
	if !(sum > 0) {
		c.X, c.Y, c.U, c.V = math.NaN(), math.NaN(), math.NaN(), math.NaN()
		c.Why = "the eye sees nothing of this light"
		return c
	}
	c.X, c.Y = xyz[0]/sum, xyz[1]/sum
	c.U, c.V = uv(xyz)
	distance := func(mired float64) float64 {
		u, v := planckUV(1e6 / mired)
		return math.Hypot(c.U-u, c.V-v)
	}
	// A coarse search over reciprocal temperature, along which the locus is nearly
	// even, then a golden section about the best.
	const steps = 120
	lo, hi := 1e6/hottest, 1e6/coldest
	step := (hi - lo) / steps
	best := 0
	for i := 1; i <= steps; i++ {
		if distance(lo+float64(i)*step) < distance(lo+float64(best)*step) {
			best = i
		}
	}
	a, b := math.Max(lo, lo+float64(best-1)*step), math.Min(hi, lo+float64(best+1)*step)
	const golden = 0.6180339887498949
	for b-a > 1e-7 {
		p, q := b-golden*(b-a), a+golden*(b-a)
		if distance(p) < distance(q) {
			b = q
		} else {
			a = p
		}
	}
	mired := (a + b) / 2
	_, v := planckUV(1e6 / mired)
	c.Duv = math.Copysign(distance(mired), c.V-v)
	switch {
	case s.covers(PAR) < 1:
		c.Why = "the data miss a part of 400 to 700 nm"
	case math.Abs(c.Duv) > mostDuv:
		c.Why = fmt.Sprintf("the colour is not white: it lies %.3f from the black body in u, v, and beyond 0.05 a colour temperature means nothing", math.Abs(c.Duv))
	case mired-lo < 1e-3 || hi-mired < 1e-3:
		c.Why = "no black body of 1000 to 100 000 K is nearest"
	default:
		c.CCT = 1e6 / mired
	}
	return c
}

// uv is the chromaticity of 1960: u = 4X/(X + 15Y + 3Z), v = 6Y/(X + 15Y + 3Z).
func uv(xyz [3]float64) (u, v float64) {
	d := xyz[0] + 15*xyz[1] + 3*xyz[2]
	return 4 * xyz[0] / d, 6 * xyz[1] / d
}

// planckUV is the place of a black body in u, v of 1960.
func planckUV(kelvin float64) (u, v float64) {
	var xyz [3]float64
	o := observer()
	for k, nm := range o[0].nm {
		e := math.Pow(560/nm, 5) / math.Expm1(radiation/(nm*kelvin))
		for i := range xyz {
			xyz[i] += e * o[i].w[k]
		}
	}
	return uv(xyz)
}
