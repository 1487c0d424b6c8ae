package quantity

import "math"

// Metre is a length in m.
type Metre float64

// Celsius is a temperature in °C, never a difference of temperatures.
type Celsius float64

// Kilopascal is a pressure in kPa.
type Kilopascal float64

// PPFD is the photosynthetic photon flux density, 400 to 700 nm, on a flat
// surface, in µmol m⁻² s⁻¹.
type PPFD float64

// PPF is the photosynthetic photon flux of a lamp, 400 to 700 nm, in µmol s⁻¹.
type PPF float64

// DLI is the daily light integral, PPFD summed over a day, in mol m⁻² d⁻¹.
type DLI float64

// Hours is a time in h.
type Hours float64

// Watt is an electric power in W.
type Watt float64

// Efficacy is photons per electric energy, in µmol J⁻¹.
type Efficacy float64

// Fraction is a share from 0 to 1: a reflectance, a dimming, a humidity, a
// chance.
type Fraction float64

// Degree is a plane angle in °.
type Degree float64

// Gram is a mass in g.
type Gram float64

// MetrePerSecond is an air speed in m s⁻¹.
type MetrePerSecond float64

// PPM is a share of air by volume, in µmol mol⁻¹.
type PPM float64

// MilligramPerLitre is a concentration in water in mg L⁻¹.
type MilligramPerLitre float64

// MillisiemensPerCm is an electrical conductivity of a solution in mS cm⁻¹.
type MillisiemensPerCm float64

// CubicMetre is a space in m³.
type CubicMetre float64

// PerHour is how often in an hour, h⁻¹.
type PerHour float64

// WattPerKelvin is heat that passes for each K of difference, in W K⁻¹.
type WattPerKelvin float64

// LitrePerDay is water a day in L d⁻¹.
type LitrePerDay float64

// LitrePerKWh is water for electric energy in L kWh⁻¹.
type LitrePerKWh float64

// KilowattHour is an electric energy in kWh.
type KilowattHour float64

const secondsPerHour = 3600

// DailyLight returns the daily light integral of constant light.
//
//	DLI = E · 3600 s/h · h · 10⁻⁶ mol/µmol   [mol m⁻² d⁻¹]
//
// E is the PPFD in µmol m⁻² s⁻¹ and h the hours of light a day. The factor
// 0.0036 is exact.
func DailyLight(e PPFD, h Hours) DLI {
	return DLI(float64(e) * float64(h) * secondsPerHour * 1e-6)
}

// ConstantPPFD is the inverse of [DailyLight]: the constant PPFD that gives
// light d in h hours. With no hours it is +Inf for any light at all and NaN for
// none.
func ConstantPPFD(d DLI, h Hours) PPFD {
	return PPFD(float64(d) / (float64(h) * secondsPerHour * 1e-6))
}

// EnergyOf returns the electric energy that a power draws in the hours given.
//
//	W = P · h / 1000   [kWh]
func EnergyOf(p Watt, h Hours) KilowattHour {
	return KilowattHour(float64(p) * float64(h) / 1000)
}

// Radians returns the angle in rad.
func (d Degree) Radians() float64 { return float64(d) * math.Pi / 180 }

// Kelvin returns the absolute temperature in K (0 °C = 273.15 K, exact).
func (c Celsius) Kelvin() float64 { return float64(c) + 273.15 }

// Percent returns the share in %.
func (f Fraction) Percent() float64 { return float64(f) * 100 }
