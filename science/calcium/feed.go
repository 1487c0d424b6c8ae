package calcium

import "math"

// A Feed is what the roots stand in. An ion that is not known is given by its
// value in [UsualFeed].
type Feed struct {
	CalciumMgL   float64
	AmmoniumMgL  float64 // nitrogen in the form of ammonium, NH4-N
	PotassiumMgL float64
	MagnesiumMgL float64
	EC           float64 // mS cm⁻¹ at 25 °C
	RootC        float64 // temperature of the solution, °C
}

// UsualFeed is a common lettuce feed: a recipe of 150 mg of nitrogen per litre, 9 %
// of it ammonium (common practice, no source), at 20 °C.
func UsualFeed() Feed {
	return Feed{CalciumMgL: 100, AmmoniumMgL: 13, PotassiumMgL: 210, MagnesiumMgL: 24, EC: 1.4, RootC: 20}
}

// Molar masses in g mol⁻¹.
const (
	molarCa = 40.078
	molarN  = 14.007
	molarK  = 39.098
	molarMg = 24.305
)

const (
	// Uptake of calcium by barley roots follows one Michaelis-Menten law from 0.001 to
	// 10 meq/L with K_m 0.077 meq/L (RootCalcium1973, abstract): 0.0385 mmol/L. Lettuce
	// is assumed to be alike.
	halfUptake = 0.0385

	// Inhibition constants of the rivals in mmol/L; none for lettuce was found. With 15
	// mmol/L of nitrogen calcium fell sharply only when more than half of it was ammonium
	// (AmmoniumLettuce, abstract): 7.5 mmol/L are taken to cost a twentieth of the uptake,
	// which puts the constant of ammonium at 4. That magnesium hinders as much and
	// potassium a fifth of it is assumed, no source; half as much potassium again made no
	// consistent difference to burn (BresWeston1992).
	rivalAmmonium  = 4.0
	rivalMagnesium = 4.0
	rivalPotassium = 20.0

	// Ionic strength of nutrient solutions in mol/L for each mS/cm: 0.0104 to 0.0140 over
	// eight recipes at 0.25 to 2 times their strength (PHREEQC, see the tests), 0.013 for
	// soil solutions (GriffinJurinak1973, from memory).
	strengthPerEC = 0.012
)

// IonicStrength estimates the ionic strength of a nutrient solution in mol L⁻¹ from
// its EC in mS cm⁻¹ at 25 °C, good to about 15 %.
func IonicStrength(ec float64) float64 { return strengthPerEC * max(ec, 0) }

// ActivityCoefficient is that of an ion of charge z and size å in nm, at 25 °C.
//
//	log₁₀ γ = −0.509 z² √I / (1 + 3.29 å √I)
//
// The extended law of Debye and Hückel with the sizes of Kielland1937 (calcium 0.6
// nm); good to a few per cent up to 0.1 mol/L. Ion pairs are left out: up to a tenth
// of the calcium of a feed is paired with sulfate.
func ActivityCoefficient(z int, sizeNm, strength float64) float64 {
	root := math.Sqrt(max(strength, 0))
	return math.Pow(10, -0.509*float64(z*z)*root/(1+3.29*sizeNm*root))
}

// CalciumActivity is the activity of calcium in mmol L⁻¹.
func (f Feed) CalciumActivity() float64 {
	return f.CalciumMgL / molarCa * ActivityCoefficient(2, 0.6, IonicStrength(f.EC))
}

// Uptake is the share of its most at which roots take up calcium from the feed, 0
// to 1.
//
//	u = a/(a + K_m (1 + h (NH4/4 + Mg/4 + K/20)))   (mmol/L; a the activity of calcium)
//
// h is the strength of the rivals: 1 as assumed, 0 without competition.
func (f Feed) Uptake(rivals float64) float64 {
	a := f.CalciumActivity()
	if a <= 0 {
		return 0
	}
	against := f.AmmoniumMgL/molarN/rivalAmmonium + f.MagnesiumMgL/molarMg/rivalMagnesium + f.PotassiumMgL/molarK/rivalPotassium
	return a / (a + halfUptake*(1+rivals*against))
}
