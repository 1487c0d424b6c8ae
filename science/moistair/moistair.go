package moistair

import (
	"math"

	"underlamp/science/quantity"
)

// SaturationPressure returns the vapour pressure of air that is saturated over
// liquid water.
//
//	e_s(T) = 0.6108 exp(17.27 T / (T + 237.3))   [kPa], T in °C
//
// Within 0.1 % of the best formulas from 15 to 35 °C. Source: Allen1998,
// equation 11.
func SaturationPressure(t quantity.Celsius) quantity.Kilopascal {
	return quantity.Kilopascal(0.6108 * math.Exp(17.27*float64(t)/(float64(t)+237.3)))
}

// SaturationSlope returns the slope of the saturation curve.
//
//	Δ = 4098 e_s(T) / (T + 237.3)²   [kPa/°C]
//
// Source: Allen1998, equation 13.
func SaturationSlope(t quantity.Celsius) float64 {
	d := float64(t) + 237.3
	return 4098 * float64(SaturationPressure(t)) / (d * d)
}

// VapourPressure returns the vapour pressure of air of a temperature and
// relative humidity: e_a = h e_s(T).
func VapourPressure(t quantity.Celsius, rh quantity.Fraction) quantity.Kilopascal {
	return quantity.Kilopascal(float64(rh) * float64(SaturationPressure(t)))
}

// DewPoint returns the temperature at which air of a vapour pressure would be
// saturated: the inverse of [SaturationPressure]. At a pressure of 0 it is −Inf.
//
//	x = ln(e_a/0.6108),  T_d = 237.3 x / (17.27 − x)
func DewPoint(e quantity.Kilopascal) quantity.Celsius {
	if e <= 0 {
		return quantity.Celsius(math.Inf(-1))
	}
	x := math.Log(float64(e) / 0.6108)
	return quantity.Celsius(237.3 * x / (17.27 - x))
}

// VPD returns the vapour pressure deficit of air: e_s(T) (1 − h).
func VPD(t quantity.Celsius, rh quantity.Fraction) quantity.Kilopascal {
	return SaturationPressure(t) - VapourPressure(t, rh)
}

// LeafVPD returns the leaf-to-air vapour pressure deficit,
//
//	D = e_s(T_leaf) − h e_s(T_air)   [kPa]
//
// which drives transpiration. It is negative when the leaf is below the dew
// point: dew forms, and the sign is kept because a dew warning needs it.
func LeafVPD(leaf, air quantity.Celsius, rh quantity.Fraction) quantity.Kilopascal {
	return SaturationPressure(leaf) - VapourPressure(air, rh)
}

// gasConstantVapour is R/M of water vapour in J kg⁻¹ K⁻¹.
const gasConstantVapour = 461.5

// AbsoluteHumidity returns the mass of water vapour in a volume of air, in g
// m⁻³, from its vapour pressure: the ideal gas law.
func AbsoluteHumidity(e quantity.Kilopascal, t quantity.Celsius) float64 {
	const gramsPerKilogramTimesPascalsPerKilopascal = 1e6
	return gramsPerKilogramTimesPascalsPerKilopascal * float64(e) / (gasConstantVapour * t.Kelvin())
}

// Deficit returns the water vapour that air could still take up, in g m⁻³.
func Deficit(t quantity.Celsius, rh quantity.Fraction) float64 {
	return AbsoluteHumidity(VPD(t, rh), t)
}

// HumidityRatio returns the mass of water vapour per mass of dry air, kg/kg.
//
//	W = 0.621945 e / (P − e)
//
// Source: ASHRAE2017, equation 20.
func HumidityRatio(e, pressure quantity.Kilopascal) float64 {
	return 0.621945 * float64(e) / float64(pressure-e)
}

// Enthalpy returns the enthalpy of moist air in kJ per kg of dry air.
//
//	h = 1.006 T + W (2501 + 1.86 T)
//
// Source: ASHRAE2017, equation 30.
func Enthalpy(t quantity.Celsius, humidityRatio float64) float64 {
	return 1.006*float64(t) + humidityRatio*(2501+1.86*float64(t))
}

// Pressure returns the pressure of air at an altitude in m.
//
//	P = 101.3 ((293 − 0.0065 z)/293)^5.26   [kPa]
//
// Source: Allen1998, equation 7.
func Pressure(altitude quantity.Metre) quantity.Kilopascal {
	return quantity.Kilopascal(101.3 * math.Pow((293-0.0065*float64(altitude))/293, 5.26))
}

// PsychrometricConstant returns γ = 0.665·10⁻³ P in kPa/°C. Source: Allen1998,
// equation 8.
func PsychrometricConstant(p quantity.Kilopascal) float64 { return 0.665e-3 * float64(p) }

// FromWetBulb returns the vapour pressure of air from a wet and dry bulb in a
// ventilated psychrometer.
//
//	e_a = e_s(T_wet) − 0.000662 P (T_dry − T_wet)
//
// Source: Allen1998, equation 15.
func FromWetBulb(dry, wet quantity.Celsius, p quantity.Kilopascal) quantity.Kilopascal {
	return SaturationPressure(wet) - quantity.Kilopascal(0.000662*float64(p)*float64(dry-wet))
}

// LatentHeat returns the heat that evaporates a gram of water, in J/g.
//
//	λ = 2501 − 2.361 T
//
// Source: Harrison1963.
func LatentHeat(t quantity.Celsius) float64 { return 2501 - 2.361*float64(t) }
