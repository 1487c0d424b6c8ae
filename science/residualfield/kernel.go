package residualfield

import "math"

// DepthLength is λ, the standard length of the field in ln(distance under the
// lamps). Half of what is known is lost (correlation² = ½) where the distance
// changes by a factor exp(λ √ln 2) = 1.8. No source: lamps that differ and dull
// walls would allow about 0.9 by computation of their light (the tests of this
// package hold it against that), shade of cables and shelves moves faster.
const DepthLength = 0.7

// A Place is where and under what light a value holds.
type Place struct {
	X, Y  float64   // in plan, m
	Depth float64   // ln(distance under the lamps / 1 m)
	Mix   []float64 // share of each lamp in the light given, as a unit vector; see [Unit]
}

// A Kernel is the covariance of the field.
type Kernel struct {
	SD     float64 // σ, of ln light
	Length float64 // ℓ in plan, m; above 0
}

// Cov is the covariance of the field at two places.
//
//	σ² exp(−r²/2ℓ²) exp(−(Δ ln d)²/2λ²) (m·m′)
//
// A product of covariance functions is one (RasmussenWilliams2006, section
// 4.2.4). Mixes of different length panic.
func (k Kernel) Cov(a, b Place) float64 {
	return k.SD * k.SD * k.plan(a.X-b.X, a.Y-b.Y) * carried(a, b)
}

func (k Kernel) plan(dx, dy float64) float64 {
	return math.Exp(-(dx*dx + dy*dy) / (2 * k.Length * k.Length))
}

// carried is the part of the correlation that does not depend on the kernel.
func carried(a, b Place) float64 {
	if len(a.Mix) != len(b.Mix) {
		panic("residualfield: Kernel.Cov: mixes of different length")
	}
	dot := 0.0
	for i, v := range a.Mix {
		dot += v * b.Mix[i]
	}
	d := (a.Depth - b.Depth) / DepthLength
	return dot * math.Exp(-d*d/2)
}

// Unit returns the vector scaled to length 1; a vector of zeros stays as it is.
func Unit(v []float64) []float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	out := make([]float64, len(v))
	if sum > 0 {
		for i, x := range v {
			out[i] = x / math.Sqrt(sum)
		}
	}
	return out
}
