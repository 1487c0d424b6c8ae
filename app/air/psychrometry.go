package air

import (
	"errors"
	"fmt"
	"math"

	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A Known is what is known of the moisture of some air.
type Known struct {
	Measure moistair.Measure
	Value   float64 // in the unit of the measure, see moistair.Measures
	Text    string  // as a person wrote it
}

// kindOf is how a measure is printed; scale makes its shown unit of that of moistair.
func kindOf(m moistair.Measure) (k quantity.Kind, scale float64) {
	switch m {
	case moistair.RelativeHumidity:
		return quantity.Share, 1
	case moistair.DewPointC, moistair.WetBulbC:
		return quantity.Temperature, 1
	case moistair.VapourDensity:
		return quantity.VapourDensity, 1
	case moistair.MixingRatio:
		return quantity.MixingRatio, 1000
	case moistair.EnthalpyKJ:
		return quantity.Enthalpy, 1
	}
	return quantity.Pressure, 1 // deficit and partial pressure
}

// ParseKnown reads a measure as a person writes it: "65 %", "0.9 kPa", "15.5 °C", "12 g/kg".
func ParseKnown(m moistair.Measure, text string) (Known, error) {
	k, scale := kindOf(m)
	v, err := k.Parse(text)
	if err != nil {
		return Known{}, err
	}
	return Known{m, v / scale, text}, nil
}

var formulas = map[moistair.Measure]string{
	moistair.RelativeHumidity: "h = e_a/e_s(T), e_s = 0.6108 exp(17.27 T/(T + 237.3)) kPa",
	moistair.Deficiency:       "D = e_s(T) − e_a",
	moistair.DewPointC:        "T_d = 237.3 x/(17.27 − x), x = ln(e_a/0.6108)",
	moistair.WetBulbC:         "W = ((2501 − 2.326 t*) W_s(t*) − 1.006 (T − t*))/(2501 + 1.86 T − 4.186 t*), solved for t*",
	moistair.VapourDensity:    "χ = e_a/(461.5 T), T in K",
	moistair.MixingRatio:      "W = 0.621945 e_a/(P − e_a)",
	moistair.EnthalpyKJ:       "h = 1.006 T + W (2501 + 1.86 T)",
	moistair.PartialPressure:  "e_a = h e_s(T)",
}

// Psychrometry is everything of air of a temperature, at an altitude, of which one measure
// is known; with a leaf temperature also what pulls at that leaf (NaN: none).
func Psychrometry(t quantity.Celsius, altitude quantity.Metre, k Known, leaf float64, u quantity.System) ([]working.Figure, error) {
	p := moistair.Pressure(altitude)
	s, err := moistair.StateOf(t, p, k.Measure, k.Value)
	if bad, ok := errors.AsType[*moistair.Impossible](err); ok {
		return nil, impossible(bad, u)
	}
	if err != nil {
		return nil, err
	}
	inputs := []working.Input{
		working.Plain("temperature", quantity.Temperature.Format(float64(t), u, 4), "stated"),
		working.Plain(k.Measure.String(), k.Text, "stated"),
		working.Plain("altitude", quantity.Altitude.Format(float64(altitude), u, 4), map[bool]string{true: "default", false: "stated"}[altitude == 0]),
	}
	source := func(m moistair.Measure) []string {
		if m == moistair.WetBulbC || m == moistair.MixingRatio || m == moistair.EnthalpyKJ {
			return []string{"ASHRAE2017"}
		}
		return []string{"Allen1998"}
	}
	var out []working.Figure
	for _, m := range moistair.Measures() {
		kind, scale := kindOf(m)
		v, unit := shown(kind, s.Of(m)*scale, u)
		f := working.Figure{Name: m.String(), Value: v, Unit: unit, Digits: 4, Working: working.Working{Formula: formulas[m], Inputs: inputs, Sources: source(m)}}
		if m == moistair.DewPointC && math.IsInf(v, -1) {
			f.Word = "none: the air is dry"
		}
		if m == moistair.WetBulbC {
			f.Working.Notes = []string{"The thermodynamic wet bulb, which a well ventilated psychrometer comes near to. Below 0 °C it is that over liquid water."}
		}
		out = append(out, f)
	}
	if !math.IsNaN(leaf) {
		in := append(append([]working.Input{}, inputs...), working.Plain("leaf", quantity.Temperature.Format(leaf, u, 4), "stated"))
		out = append(out, working.Figure{Name: "vapour pressure deficit of the leaf", Value: float64(moistair.SaturationPressure(quantity.Celsius(leaf)) - s.Vapour), Unit: "kPa", Digits: 4,
			Working: working.Working{Formula: "e_s(T_leaf) − e_a", Inputs: in, Sources: []string{"Allen1998"}, Notes: []string{"Below 0 the leaf is under the dew point: dew forms."}}})
	}
	rho, vol := s.Density(), s.Volume()
	return append(out,
		working.Figure{Name: "pressure of the air", Value: float64(p), Unit: "kPa", Digits: 4, Working: working.Working{Formula: "P = 101.3 ((293 − 0.0065 z)/293)^5.26", Inputs: inputs[2:3], Sources: []string{"Allen1998"}}},
		working.Figure{Name: "density of the air", Value: rho, Unit: "kg/m³", Digits: 4, Working: working.Working{Formula: "(1 + W)/v, v = 0.287042 T (1 + 1.607858 W)/P", Inputs: inputs, Steps: []string{fmt.Sprintf("v = %s m³ for each kg of dry air.", quantity.Number(vol, 4))}, Sources: []string{"ASHRAE2017"}}},
	), nil
}

// impossible says in the units of a person what air cannot have.
func impossible(e *moistair.Impossible, u quantity.System) error {
	kind, scale := kindOf(e.Measure)
	text := func(v float64) string { return kind.Format(v*scale, u, 4) }
	low, high := min(e.Dry, e.Full), max(e.Dry, e.Full)
	span := text(low) + " to " + text(high)
	if math.IsInf(low, -1) {
		span = "at most " + text(high)
	}
	hint := ""
	if kind.Name() == quantity.Share.Name() && e.Value*scale >= 5 && e.Value*scale <= 100 { // "65", meant as 65 %
		hint = "; that looks like per cent: write " + quantity.Number(e.Value*scale, 4) + " %"
	}
	return fmt.Errorf("air of %s cannot have the %s %s: between dry and saturated air it is %s%s", quantity.Temperature.Format(float64(e.Air), u, 4), e.Measure, text(e.Value), span, hint)
}

// shown is a value in the unit that a system prints, with that unit.
func shown(k quantity.Kind, v float64, u quantity.System) (float64, string) {
	if k.Unit() == "" {
		return 100 * v, "%"
	}
	unit, per := k.Shown(u)
	if c, ok := k.Conversion(unit); ok {
		return c.Of(v), unit
	}
	return v * per, unit
}
