package spectrum

import "math"

// YieldPhotons returns the yield photon flux: photons weighed by the mean
// relative quantum yield of leaves of 22 crops.
//
//	YPF = ∫ n(λ) q(λ) dλ, 350 to 725 nm
//
// q is the mean of plants from growth chambers, by straight lines between rows
// 25 nm apart; beyond 725 nm nothing was measured and nothing counts. The unit
// is that of [Spectrum.Photons].
//
// Source: McCree1972, table III, second-hand.
func (s Spectrum) YieldPhotons() float64 {
	return s.integral(0, math.Inf(1), Photons, chamber())
}

// PPE returns the phytochrome photoequilibrium: the share of phytochrome that
// light of this colour holds in its active form Pfr.
//
//	PPE = ∫ n σ_r dλ / (∫ n σ_r dλ + ∫ n σ_fr dλ), 300 to 770 nm
//
// It is from about 0.02 in far-red to 0.87 in red; NaN if there is no photon
// within the table, or if the data end below 700 nm. Values of another table of cross-sections must not be
// compared with it.
//
// Source: Mancinelli1994, second-hand.
func (s Spectrum) PPE() float64 {
	r := s.integral(0, math.Inf(1), Photons, toPfr())
	fr := s.integral(0, math.Inf(1), Photons, toPr())
	if _, to := s.Measured(); r+fr == 0 || to < Red.To {
		return math.NaN()
	}
	return r / (r + fr)
}
