package photometry

import (
	"math"
	"sort"

	"underlamp/science/quantity"
)

// Flux returns all the light of the lamp in lm.
//
//	Φ = Σ 2π (cos γₖ − cos γₖ₊₁) (Īₖ + Īₖ₊₁)/2
//
// with Ī the mean over the circle of C. Source: LM57, zonal lumens.
func (w *Web) Flux() float64 { return w.below[len(w.below)-1] }

// Down returns the light below the horizontal through the lamp, γ from 0 to
// 90°, in lm.
func (w *Web) Down() float64 { return w.ZonalFlux(0, 90) }

// Up returns the light above the horizontal, in lm.
func (w *Web) Up() float64 { return w.ZonalFlux(90, 180) }

// ZonalFlux returns the light between two cones about the beam axis, in lm.
// Angles beyond the web add nothing; from above to gives the negative.
func (w *Web) ZonalFlux(from, to quantity.Degree) float64 {
	return w.fluxTo(float64(to)) - w.fluxTo(float64(from))
}

// fluxTo is the flux within the cone of an angle.
func (w *Web) fluxTo(deg float64) float64 {
	n := len(w.gammas)
	if !(deg > w.gammas[0]) {
		return 0
	}
	if deg >= w.gammas[n-1] {
		return w.below[n-1]
	}
	k := sort.SearchFloat64s(w.gammas, deg) - 1
	cos := cosDeg(deg)
	u := (w.cosG[k] - cos) / (w.cosG[k] - w.cosG[k+1])
	edge := w.mean[k] + u*(w.mean[k+1]-w.mean[k])
	return w.below[k] + math.Pi*(w.cosG[k]-cos)*(w.mean[k]+edge)
}

// meanAt is the mean intensity over the circle at an angle, in cd.
func (w *Web) meanAt(deg float64) float64 {
	n := len(w.gammas)
	if deg < w.gammas[0] || deg > w.gammas[n-1] {
		return 0
	}
	k := min(max(sort.SearchFloat64s(w.gammas, deg)-1, 0), n-2)
	u := (w.cosG[k] - cosDeg(deg)) / (w.cosG[k] - w.cosG[k+1])
	return w.mean[k] + u*(w.mean[k+1]-w.mean[k])
}
