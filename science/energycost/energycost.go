package energycost

import "underlamp/science/quantity"

// LampEnergy returns the energy that a power draws over days of the hours given.
func LampEnergy(p quantity.Watt, h quantity.Hours, days float64) quantity.KilowattHour {
	return quantity.EnergyOf(p, h) * quantity.KilowattHour(days)
}

// Money returns what an energy costs, in the currency of the price.
func Money(e quantity.KilowattHour, p quantity.Price) float64 { return float64(e) * p.PerKWh }

// GramsPerKWh returns the mass that a kWh brings; 0 without energy.
func GramsPerKWh(m quantity.Gram, e quantity.KilowattHour) float64 {
	if e <= 0 {
		return 0
	}
	return float64(m) / float64(e)
}

// Flux returns the photon flux of a lamp from its power and efficacy.
func Flux(p quantity.Watt, k quantity.Efficacy) quantity.PPF {
	return quantity.PPF(float64(p) * float64(k))
}

// PhotonEnergyConstant is h c N_A in J m mol⁻¹, from the exact constants of the
// SI: a photon flux of 1 µmol s⁻¹ at wavelength λ nm carries 119.6265656/λ W.
const PhotonEnergyConstant = 6.62607015e-34 * 299792458 * 6.02214076e23

// Limits of what a label can claim, µmol J⁻¹. Above DoubtfulEfficacy no fixture
// of 2020 could reach (Kusuma2020); above ImpossibleEfficacy not even a perfect
// lamp of 660 nm photons (660/119.6265656 = 5.517).
const (
	DoubtfulEfficacy   quantity.Efficacy = 4.1
	ImpossibleEfficacy quantity.Efficacy = 5.5
)
