package moistair

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// A State is moist air. Temperature, vapour pressure and pressure fix everything
// else that is asked of it.
type State struct {
	Dry      quantity.Celsius    // of a dry thermometer
	Vapour   quantity.Kilopascal // e_a, partial pressure of the water vapour
	Pressure quantity.Kilopascal // P, of the whole air
}

// At is air of a temperature and relative humidity. It does not check them; see
// [StateOf].
func At(t quantity.Celsius, rh quantity.Fraction, pressure quantity.Kilopascal) State {
	return State{Dry: t, Vapour: VapourPressure(t, rh), Pressure: pressure}
}

// A Measure is one of the ways in which the moisture of air is told.
type Measure int

// The measures, with the unit that [StateOf] takes and [State.Of] gives.
const (
	RelativeHumidity Measure = iota // share of saturation over liquid water, 0 to 1
	Deficiency                      // vapour pressure deficit of the air, kPa
	DewPointC                       // °C
	WetBulbC                        // thermodynamic wet bulb, °C
	VapourDensity                   // absolute humidity, g of vapour per m³ of moist air
	MixingRatio                     // kg of vapour per kg of dry air
	EnthalpyKJ                      // kJ per kg of dry air, 0 for dry air at 0 °C
	PartialPressure                 // e_a, kPa
)

// Measures lists the measures in the order that people are shown them.
func Measures() []Measure {
	return []Measure{RelativeHumidity, Deficiency, DewPointC, WetBulbC, VapourDensity, MixingRatio, EnthalpyKJ, PartialPressure}
}

// String names the measure.
func (m Measure) String() string {
	return [...]string{"relative humidity", "vapour pressure deficit", "dew point", "wet-bulb temperature", "absolute humidity", "mixing ratio", "enthalpy", "vapour pressure"}[m]
}

// An Impossible says that air of a temperature cannot have a measure of the value given:
// it lies outside dry and saturated air.
type Impossible struct {
	Measure   Measure
	Value     float64          // as given
	Dry, Full float64          // what dry and what saturated air would have
	Air       quantity.Celsius // temperature
}

// Error says the span that air of that temperature can have.
func (e *Impossible) Error() string {
	return fmt.Sprintf("air at %.4g °C cannot have %s %s of %.4g: dry air has %.4g, saturated air %.4g", float64(e.Air), e.Measure.article(), e.Measure, e.Value, e.Dry, e.Full)
}

// Span of temperatures that StateOf takes, °C. Below −40 °C the curve over liquid water
// says nothing, above 60 °C nothing here was checked.
const (
	coldest, hottest = -40, 60
	leastPressure    = 30  // kPa, above 9 000 m
	mostPressure     = 120 // kPa, 1 400 m below the sea
)

// rounding is how far above saturation a value may lie before it is refused: what two
// printed digits can bring.
const rounding = 1e-4

// StateOf finds the air of a temperature and pressure that has a measure of a value. It is
// the inverse of [State.Of] for every measure: values beyond saturated air, or below dry air,
// give an [*Impossible]; a value that no number is, and a temperature or pressure outside −40 to
// 60 °C and 30 to 120 kPa, another error.
//
// The wet bulb is the thermodynamic one, which a well ventilated psychrometer is close to:
//
//	W = ((2501 − 2.326 t*) W_s(t*) − 1.006 (t − t*)) / (2501 + 1.86 t − 4.186 t*)
//
// Source: ASHRAE2017, equation 33. [FromWetBulb] is the instrument of Allen1998.
func StateOf(t quantity.Celsius, pressure quantity.Kilopascal, m Measure, value float64) (State, error) {
	s := State{Dry: t, Pressure: pressure}
	if !(t >= coldest && t <= hottest) {
		return s, fmt.Errorf("an air temperature of %.4g °C is outside %d to %d °C, for which moist air is computed here", float64(t), coldest, hottest)
	}
	if !(pressure >= leastPressure && pressure <= mostPressure) {
		return s, fmt.Errorf("a pressure of %.4g kPa is outside %d to %d kPa, for which moist air is computed here", float64(pressure), leastPressure, mostPressure)
	}
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return s, fmt.Errorf("the %s is no number", m)
	}
	full := SaturationPressure(t)
	if full >= pressure {
		return s, fmt.Errorf("water boils at %.4g °C and %.4g kPa", float64(t), float64(pressure))
	}
	dry, wet := State{Dry: t, Pressure: pressure}, State{Dry: t, Vapour: full, Pressure: pressure}
	switch m {
	case RelativeHumidity:
		s.Vapour = quantity.Kilopascal(value) * full
	case Deficiency:
		s.Vapour = full - quantity.Kilopascal(value)
	case DewPointC:
		// At −237.3 °C the curve has its pole: dry air has no dew point.
		if value <= -237 {
			return s, &Impossible{m, value, math.Inf(-1), float64(t), t}
		}
		s.Vapour = SaturationPressure(quantity.Celsius(value))
	case WetBulbC:
		least := dry.WetBulb()
		if value < float64(least) {
			return s, &Impossible{m, value, float64(least), float64(t), t}
		}
		s.Vapour = vapourOf(ratioOfWetBulb(t, quantity.Celsius(value), pressure), pressure)
	case VapourDensity:
		s.Vapour = quantity.Kilopascal(value * gasConstantVapour * t.Kelvin() / 1e6)
	case MixingRatio:
		s.Vapour = vapourOf(value, pressure)
	case EnthalpyKJ:
		s.Vapour = vapourOf((value-1.006*float64(t))/(2501+1.86*float64(t)), pressure)
	case PartialPressure:
		s.Vapour = quantity.Kilopascal(value)
	default:
		panic("moistair: StateOf: no such measure")
	}
	slack := rounding * full
	if !(s.Vapour >= -slack && s.Vapour <= full+slack) {
		return s, &Impossible{m, value, dry.Of(m), wet.Of(m), t}
	}
	s.Vapour = min(max(s.Vapour, 0), full)
	return s, nil
}

// Of is a measure of the air in its unit.
func (s State) Of(m Measure) float64 {
	switch m {
	case RelativeHumidity:
		return float64(s.Humidity())
	case Deficiency:
		return float64(SaturationPressure(s.Dry) - s.Vapour)
	case DewPointC:
		return float64(DewPoint(s.Vapour))
	case WetBulbC:
		return float64(s.WetBulb())
	case VapourDensity:
		return AbsoluteHumidity(s.Vapour, s.Dry)
	case MixingRatio:
		return s.Ratio()
	case EnthalpyKJ:
		return s.Enthalpy()
	case PartialPressure:
		return float64(s.Vapour)
	}
	panic("moistair: State.Of: no such measure")
}

// Humidity is the relative humidity.
func (s State) Humidity() quantity.Fraction {
	return quantity.Fraction(s.Vapour / SaturationPressure(s.Dry))
}

// Ratio is the mass of vapour per mass of dry air, kg/kg, see [HumidityRatio].
func (s State) Ratio() float64 { return HumidityRatio(s.Vapour, s.Pressure) }

// Enthalpy is that of the air in kJ per kg of dry air, see [Enthalpy].
func (s State) Enthalpy() float64 { return Enthalpy(s.Dry, s.Ratio()) }

// Volume is the space that the air takes for each kg of the dry air in it, in m³/kg.
//
//	v = 0.287042 T (1 + 1.607858 W) / P   T in K, P in kPa
//
// Source: ASHRAE2017, equation 26.
func (s State) Volume() float64 {
	return 0.287042 * s.Dry.Kelvin() * (1 + 1.607858*s.Ratio()) / float64(s.Pressure)
}

// Density is the mass of moist air in kg/m³: (1 + W)/v. Source: ASHRAE2017, equation 11.
func (s State) Density() float64 { return (1 + s.Ratio()) / s.Volume() }

// WetBulb is the temperature to which air cools by evaporating water into itself until it
// is saturated, found by bisection on the equation of [StateOf]. It lies between the dew
// point and the temperature of the air. Below 0 °C it is that over liquid water.
func (s State) WetBulb() quantity.Celsius {
	w := s.Ratio()
	low, high := float64(s.Dry)-60, float64(s.Dry) // dry air of 60 °C cools by 40
	for range 60 {
		mid := (low + high) / 2
		if ratioOfWetBulb(s.Dry, quantity.Celsius(mid), s.Pressure) < w {
			low = mid
		} else {
			high = mid
		}
	}
	return quantity.Celsius((low + high) / 2)
}

// ratioOfWetBulb is W of air of a dry and a wet bulb.
func ratioOfWetBulb(dry, wet quantity.Celsius, p quantity.Kilopascal) float64 {
	full := HumidityRatio(SaturationPressure(wet), p)
	t, w := float64(dry), float64(wet)
	return ((2501-2.326*w)*full - 1.006*(t-w)) / (2501 + 1.86*t - 4.186*w)
}

// vapourOf is the vapour pressure of a mixing ratio: the inverse of [HumidityRatio].
func vapourOf(ratio float64, p quantity.Kilopascal) quantity.Kilopascal {
	return quantity.Kilopascal(ratio / (0.621945 + ratio) * float64(p))
}

// article goes before the name of a measure.
func (m Measure) article() string {
	if m == VapourDensity || m == EnthalpyKJ {
		return "an"
	}
	return "a"
}
