package leafenergy

import (
	"math"

	"underlamp/science/quantity"
)

// Stomata and dry air.
const (
	slopeG1   = 5.79 // g₁, kPa^½: C3 crops in DeKauwe2015 (from memory); C3 herbs there 5.25
	ownAirVPD = 0.67 // kPa, of 21 °C and 73 %: the air in which StomatalResistance was checked
	leastVPD  = 0.05 // kPa; below it the optimal form opens without limit
)

// DryAirOpening is how far stomata open in air of a vapour pressure deficit,
// relative to the air of [StomatalResistance].
//
//	f(D) = (1 + g₁/√D) / (1 + g₁/√0.67),  D at least 0.05 kPa
//
// Optimal stomata (Medlyn2011) at one rate of photosynthesis: they close as the
// air dries, so a leaf loses water about with the square root of the deficit. No
// value of g₁ for lettuce was found; that of C3 crops is taken.
func DryAirOpening(vpd quantity.Kilopascal) float64 {
	open := func(d float64) float64 { return 1 + slopeG1/math.Sqrt(d) }
	return open(max(float64(vpd), leastVPD)) / open(ownAirVPD)
}
