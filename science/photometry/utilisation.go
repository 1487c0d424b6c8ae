package photometry

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// Reflectances of the three cavities of a room, from 0 to below 1.
type Reflectances struct{ Ceiling, Walls, Floor float64 }

// Constants of the zonal multipliers exp(−A RCRᴮ) of the nine zones of 10° from
// nadir to the horizontal. Source: LM57.
var (
	zonalA = [9]float64{0, 0.041, 0.070, 0.100, 0.136, 0.190, 0.315, 0.640, 2.10}
	zonalB = [9]float64{0, 0.98, 1.05, 1.12, 1.16, 1.25, 1.25, 1.25, 0.80}
)

// CeilingToFloor approximates the form factor from the ceiling to the floor of
// a room of cavity ratio rcr = 5 h (a + b)/(a b).
//
//	f = 0.026 + 0.503 exp(−0.270 RCR) + 0.470 exp(−0.119 RCR)
//
// Source: LM57. It is within 0.003 of square rooms for RCR 1 to 10.
func CeilingToFloor(rcr float64) float64 {
	return 0.026 + 0.503*math.Exp(-0.270*rcr) + 0.470*math.Exp(-0.119*rcr)
}

// DirectRatio returns the share of the downward light that reaches the floor of
// a room of cavity ratio rcr without touching a wall, from many lamps spread
// evenly under the ceiling. Source: LM57.
func (w *Web) DirectRatio(rcr float64) float64 {
	sum := 0.0
	for k := range zonalA {
		zone := w.ZonalFlux(quantity.Degree(10*k), quantity.Degree(10*k+10))
		sum += math.Exp(-zonalA[k]*math.Pow(rcr, zonalB[k])) * zone
	}
	return sum / w.Down()
}

// Utilisation returns the coefficient of utilisation: the share of the lamp's
// own light (not of the lumens of bare tubes in it) that reaches the working
// plane of a room of cavity ratio rcr, after any number of reflections.
//
//	D  = direct ratio; f = ceiling to floor; d, u = downward, upward share
//	C₁ = (1−w)(1−f²) RCR / (2.5 w (1−f²) + RCR f (1−w))
//	C₂ = (1−c)(1+f)/(1+c f);  C₃ = (1−p)(1+f)/(1+p f);  C₀ = C₁+C₂+C₃
//	CU = 2.5 w C₁ C₃ (1−D) d / (RCR (1−w)(1−p) C₀)
//	   + c C₂ C₃ u / ((1−c)(1−p) C₀)
//	   + (1 − p C₃ (C₁+C₂)/((1−p) C₀)) D d/(1−p)
//
// and (d + c u)/(1 − c p) at RCR 0. An rcr below 0 or a reflectance outside 0 to
// 0.999 gives an error. Source: LM57.
func (w *Web) Utilisation(rcr float64, r Reflectances) (float64, error) {
	if !(rcr >= 0) || math.IsInf(rcr, 0) {
		return 0, fmt.Errorf("photometry: room cavity ratio %g, want 0 or more", rcr)
	}
	for _, v := range [...]float64{r.Ceiling, r.Walls, r.Floor} {
		if !(v >= 0 && v <= 0.999) {
			return 0, fmt.Errorf("photometry: reflectance %g, want 0 to 0.999", v)
		}
	}
	d, u := w.Down()/w.Flux(), w.Up()/w.Flux()
	c, wl, p := r.Ceiling, r.Walls, r.Floor
	if rcr == 0 {
		return (d + c*u) / (1 - c*p), nil
	}
	direct := 0.0
	if d > 0 {
		direct = w.DirectRatio(rcr)
	}
	f := CeilingToFloor(rcr)
	c1 := (1 - wl) * (1 - f*f) * rcr / (2.5*wl*(1-f*f) + rcr*f*(1-wl))
	c2 := (1 - c) * (1 + f) / (1 + c*f)
	c3 := (1 - p) * (1 + f) / (1 + p*f)
	c0 := c1 + c2 + c3
	return 2.5*wl*c1*c3*(1-direct)*d/(rcr*(1-wl)*(1-p)*c0) +
		c*c2*c3*u/((1-c)*(1-p)*c0) +
		(1-p*c3*(c1+c2)/((1-p)*c0))*direct*d/(1-p), nil
}

// Spacing is how far apart lamps may hang, as a multiple of their height above
// the working plane, so that the middle between them gets as much as the place
// under one. NaN where the web has no light on its axis.
type Spacing struct {
	C0, C90  float64 // two lamps, along the planes C0-C180 and C90-C270
	Diagonal float64 // four lamps in a square, seen along their diagonals
}

// Spacing finds the angle θ at which the light of neighbours adds up to that
// under one lamp: I(θ) cos³θ = I(0)/2 for two lamps, which gives 2 tan θ; I(θ)
// cos³θ = I(0)/4 on the diagonal (the mean of C45, C135, C225 and C315), which
// gives √2 tan θ, since the middle of a square is s/√2 from its corners. Each
// lamp counts as a point.
//
// Source: spacing criterion, LS-6; own geometry for the diagonal.
func (w *Web) Spacing() Spacing {
	mean := func(cs ...quantity.Degree) func(quantity.Degree) float64 {
		return func(g quantity.Degree) float64 {
			sum := 0.0
			for _, c := range cs {
				sum += w.At(c, g)
			}
			return sum / float64(len(cs))
		}
	}
	return Spacing{
		C0:       2 * w.tangent(mean(0, 180), 2),
		C90:      2 * w.tangent(mean(90, 270), 2),
		Diagonal: math.Sqrt2 * w.tangent(mean(45, 135, 225, 315), 4),
	}
}

// tangent is tan θ where I(θ) cos³θ falls to I(0)/lamps for the first time.
func (w *Web) tangent(at func(quantity.Degree) float64, lamps float64) float64 {
	axis := at(0)
	if axis <= 0 {
		return math.NaN()
	}
	short := func(deg float64) bool {
		cos := cosDeg(deg)
		return at(quantity.Degree(deg))*cos*cos*cos < axis/lamps
	}
	const step = 0.25 // °
	for deg := step; deg <= 90; deg += step {
		if !short(deg) {
			continue
		}
		lo, hi := deg-step, deg
		for range 50 {
			if mid := (lo + hi) / 2; short(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return math.Tan(lo * math.Pi / 180)
	}
	return math.NaN()
}
