package nutrients

import (
	"math"
)

// A salt's molar conductivity after McCleskey2011:
//
//	Λ(t, m) = c₁t² + c₂t + c₃ − (d₁t² + d₂t + d₃) √m / (1 + B √m)
//
// in mS/cm for each equivalent in a litre, t in °C, m the molality.
type binary struct{ c1, c2, c3, d1, d2, d3, b float64 }

func (s binary) at(t, m float64) float64 {
	root := math.Sqrt(m)
	return s.c1*t*t + s.c2*t + s.c3 - (s.d1*t*t+s.d2*t+s.d3)*root/(1+s.b*root)
}

// The salts by which the ions are told apart (McCleskey2011, coefficients as the open library
// "chemicals" stores them).
var (
	saltKCl   = binary{0.009385, 2.533, 81.17, 0.0139, 1.886, 44.11, 1.7}
	saltNaCl  = binary{0.008967, 2.196, 67.03, 0.00726, 1.762, 44.55, 1.3}
	saltHCl   = binary{-0.006766, 6.614, 262.4, 0.00009, 1.776, 48.53, 0.01}
	saltNH4Cl = binary{0.006575, 2.684, 78.03, 0.006133, 1.423, 30, 0.7}
	saltCaCl2 = binary{0.01124, 2.224, 72.36, 0.03918, 3.905, 137.7, 3.8}
	saltMgCl2 = binary{0.009534, 2.247, 68.19, 0.02469, 4.374, 129.8, 3.1}
	saltK2SO4 = binary{0.008819, 2.872, 83.72, 0.03799, 9.784, 247.1, 5.3}
	saltKHCO3 = binary{0.007807, 2.04, 63.03, 0.00661, 1.577, 38.58, 0.9}
	saltK2CO3 = binary{0.01145, 2.726, 68.62, 0.02438, 5.18, 81.12, 2.1}
	saltKNO3  = binary{0.009117, 2.309, 80.33, 0.00909, 1.099, 49.12, 0.7}
	saltNaOH  = binary{0.006936, 3.872, 148.3, 0.01018, 0.67421, 56.76, 0.2}
)

const (
	// potassiumShare is what potassium carries of the current in potassium chloride
	// (0.490, remembered). In a solution whose charges balance it cancels.
	potassiumShare = 0.490

	// Limiting conductivities of ions without a salt in McCleskey2011, S cm² per equivalent at 25 °C (the CRC
	// table as the open library "chemicals" stores it): H2PO4⁻ 36, HPO4²⁻ 57, bicarbonate 44.5, sulfate 80.
	dihydrogenToBicarbonate = 36.0 / 44.5
	hydrogenToSulfate       = 57.0 / 80.0
)

// conductivities are those of the ions in mS/cm for each equivalent in a litre, at an ionic
// strength (mol/L) and a temperature. Salts are compared at one ionic strength: a salt of
// one divalent ion has that of three times its molality.
func conductivities(c, strength float64) (out [speciesCount]float64) {
	i := strength
	kcl := saltKCl.at(c, i)
	k := potassiumShare * kcl
	cl := kcl - k
	out[spK], out[spCl] = k, cl
	out[spNa] = saltNaCl.at(c, i) - cl
	out[spH] = saltHCl.at(c, i) - cl
	out[spNH4] = saltNH4Cl.at(c, i) - cl
	out[spCa] = saltCaCl2.at(c, i/3) - cl
	out[spMg] = saltMgCl2.at(c, i/3) - cl
	out[spMetal] = out[spMg]
	out[spNO3] = saltKNO3.at(c, i) - k
	out[spSO4] = saltK2SO4.at(c, i/3) - k
	out[spHCO3] = saltKHCO3.at(c, i) - k
	out[spCO3] = saltK2CO3.at(c, i/3) - k
	out[spOH] = saltNaOH.at(c, i) - out[spNa]
	out[spH2PO4] = out[spHCO3] * dihydrogenToBicarbonate
	out[spHPO4] = out[spSO4] * hydrogenToSulfate
	out[spPO4] = out[spHPO4]
	for _, pair := range []species{spCaH2PO4, spMgH2PO4, spCaHCO3, spMgHCO3} {
		out[pair] = out[spH2PO4]
	}
	out[spHSO4] = out[spHCO3]
	out[spKSO4] = out[spSO4] // and the potassium in it, see conductance
	return out
}

// conductance is the electrical conductivity of a state in mS/cm at its temperature.
//
// Potassium is counted as free: its pairs with sulfate are in the measured conductivities of
// potassium sulfate already. Those of calcium and magnesium with sulfate and HPO4²⁻ carry no
// current.
func (s *state) conductance(c float64) float64 {
	lambda := conductivities(c, s.strength)
	sum := 0.0
	for k, f := range speciesFacts {
		z := math.Abs(f.z)
		switch species(k) {
		case spKSO4:
			sum += s.conc[k] * (lambda[spK] + 2*lambda[spSO4])
		default:
			sum += z * s.conc[k] * max(lambda[k], 0)
		}
	}
	return sum
}
