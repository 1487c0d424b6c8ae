package working

import (
	"math"

	"underlamp"
	"underlamp/science/quantity"
)

// A Figure is one number that a person acts on.
type Figure struct {
	Name   string  `json:"name" doc:"of the figure, in words"` // "mean PPFD at the plants"
	Value  float64 `json:"value" doc:"in the unit beside it"`  // in Unit
	Unit   string  `json:"unit,omitempty" doc:"as printed; empty for a count"`
	Band   *Band   `json:"band,omitempty" doc:"uncertainty; null if the figure has none of its own"` // nil if the figure has no uncertainty of its own
	Digits int     `json:"-"`                                                                        // significant digits to print; 0 means 3
	Even   bool    `json:"-"`                                                                        // value and band are printed to one decimal place: two digits of half the band, three where it begins with 1
	Money  bool    `json:"-"`                                                                        // an amount of money: two decimals, as people write it
	Word   string  `json:"word,omitempty" doc:"what is printed instead of the value, for a grade"`   // what is printed instead of the value, for a grade: "raised"

	Working Working `json:"working" doc:"how it was reached"`
}

// A Band is an interval around a figure.
type Band struct {
	Low   float64 `json:"low" doc:"low end, in the unit of the figure"`
	High  float64 `json:"high" doc:"high end, in the unit of the figure"`
	Level float64 `json:"level" doc:"probability meant to lie inside, 0.9 for 90 %"`          // the probability meant to lie inside, 0.9 for 90 %
	Over  string  `json:"over,omitempty" doc:"what the interval spans, if not a probability"` // what the interval spans, if not a probability: "plants, from dark to bright"
}

// A Working tells how a figure was reached.
type Working struct {
	Formula string   `json:"formula" doc:"in symbols"` // in symbols, one line
	Inputs  []Input  `json:"inputs" doc:"in the order of the formula"`
	Steps   []string `json:"steps,omitempty" doc:"what was done, if a formula does not say it"`
	Sources []string `json:"sources,omitempty" doc:"keys of the bibliography"`
	Notes   []string `json:"notes,omitempty" doc:"what the band leaves out, what was assumed"` // doubts: what the band leaves out, what was assumed
}

// An Input is one value that went into a figure.
type Input struct {
	Name   string `json:"name" doc:"of the value, in words"`
	Value  string `json:"value" doc:"with its unit, as printed"` // with unit, as printed
	Origin string `json:"origin" doc:"measured, said in the file, default, computed"`
	Note   string `json:"note,omitempty" doc:"what to know of it"`
}

// Text prints the value with its unit: "212 µmol/m²/s", "12 %".
func (f Figure) Text() string {
	if f.Word != "" {
		return f.Word
	}
	if math.IsNaN(f.Value) {
		return "not known"
	}
	if f.Unit == percent {
		return Percent(f.Value / 100)
	}
	return withUnit(f.number(f.Value), f.Unit)
}

// BandText prints the band with its unit, "180 to 240 g (90 %)", or nothing if
// there is no band.
func (f Figure) BandText() string {
	if f.Band == nil {
		return ""
	}
	over := f.Band.Over
	if over == "" {
		over = quantity.Number(100*f.Band.Level, 2) + " % band"
	}
	low, high := f.number(f.Band.Low), f.number(f.Band.High)
	if f.Unit == percent {
		low, high = quantity.Fixed(f.Band.Low, 0), quantity.Fixed(f.Band.High, 0)
	}
	return withUnit(low+" to "+high, f.Unit) + " (" + over + ")"
}

// Place prints a value, such as an end of the band, as the figure prints its own, with the unit.
func (f Figure) Place(v float64) string { return withUnit(f.number(v), f.Unit) }

// number prints a value of the figure. Money below ten cents keeps two digits, so that it is not
// rounded away.
func (f Figure) number(v float64) string {
	if !f.Money || math.IsInf(v, 0) {
		if n, ok := f.decimals(); ok {
			return quantity.Fixed(v, n)
		}
		return quantity.Number(v, f.digits())
	}
	if v != 0 && math.Abs(v) < 0.1 {
		return quantity.Number(v, 2)
	}
	return quantity.Fixed(v, 2)
}

// decimals is the place to which value and band are printed, where they share one.
func (f Figure) decimals() (n int, ok bool) {
	if !f.Even || f.Band == nil {
		return 0, false
	}
	half := (f.Band.High - f.Band.Low) / 2
	if !(half > 0) || math.IsInf(half, 0) {
		return 0, false
	}
	n = 1 - int(math.Floor(math.Log10(half/2)))
	if f.Value != 0 {
		n = min(n, f.digits()-1-int(math.Floor(math.Log10(math.Abs(f.Value)))))
	}
	if n > 4 || half >= 1e4 {
		return 0, false // as [quantity.Number] prints what is very small, or groups what is large
	}
	return max(n, 0), true
}

// percent is the unit whose figures print as [Percent] does.
const percent = "%"

func (f Figure) digits() int {
	if f.Digits == 0 {
		return 3
	}
	return f.Digits
}

func withUnit(number, unit string) string {
	if unit == "" || unit == "°" {
		return number + unit
	}
	return number + " " + unit
}

// Of makes an input from a given value, printed by the kind of amount.
func Of[T ~float64](name string, g underlamp.Given[T], k quantity.Kind, sys quantity.System) Input {
	return Input{Name: name, Value: k.Format(float64(g.Value), sys, 3), Origin: g.Origin.String(), Note: g.Note}
}

// Plain makes an input whose origin is known in words only.
func Plain(name, value, origin string) Input { return Input{Name: name, Value: value, Origin: origin} }

// Normal returns the band that holds the probability level of a normal
// distribution around mean with standard deviation sd. The quantile is that of
// the levels 0.68, 0.9 and 0.95; other levels panic, since no page asks for
// them.
func Normal(mean, sd, level float64) *Band {
	z, ok := map[float64]float64{0.68: 0.994458, 0.9: 1.644854, 0.95: 1.959964}[level]
	if !ok {
		panic("working: Normal: level must be 0.68, 0.9 or 0.95")
	}
	return &Band{Low: mean - z*sd, High: mean + z*sd, Level: level}
}
