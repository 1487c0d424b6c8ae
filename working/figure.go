package working

import (
	"math"

	"underlamp"
	"underlamp/science/quantity"
)

// A Figure is one number that a person acts on.
type Figure struct {
	Name   string  `json:"name"`           // "mean PPFD at the plants"
	Value  float64 `json:"value"`          // in Unit
	Unit   string  `json:"unit,omitempty"` // as printed; empty for a count
	Band   *Band   `json:"band,omitempty"` // nil if the figure has no uncertainty of its own
	Digits int     `json:"-"`              // significant digits to print; 0 means 3
	Word   string  `json:"word,omitempty"` // what is printed instead of the value, for a grade: "raised"

	Working Working `json:"working"`
}

// A Band is an interval around a figure.
type Band struct {
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Level float64 `json:"level"`          // the probability meant to lie inside, 0.9 for 90 %
	Over  string  `json:"over,omitempty"` // what the interval spans, if not a probability: "plants, from dark to bright"
}

// A Working tells how a figure was reached.
type Working struct {
	Formula string   `json:"formula"`           // in symbols, one line
	Inputs  []Input  `json:"inputs"`            // in the order of the formula
	Steps   []string `json:"steps,omitempty"`   // what was done, if a formula does not say it
	Sources []string `json:"sources,omitempty"` // keys of the bibliography
	Notes   []string `json:"notes,omitempty"`   // doubts: what the band leaves out, what was assumed
}

// An Input is one value that went into a figure.
type Input struct {
	Name   string `json:"name"`
	Value  string `json:"value"` // with unit, as printed
	Origin string `json:"origin"`
	Note   string `json:"note,omitempty"`
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
	return withUnit(quantity.Number(f.Value, f.digits()), f.Unit)
}

// BandText prints the band with its unit, "180 to 240 g (90 %)", or nothing if
// there is no band.
func (f Figure) BandText() string {
	if f.Band == nil {
		return ""
	}
	d := f.digits()
	over := f.Band.Over
	if over == "" {
		over = quantity.Number(100*f.Band.Level, 2) + " % band"
	}
	low, high := quantity.Number(f.Band.Low, d), quantity.Number(f.Band.High, d)
	if f.Unit == percent {
		low, high = quantity.Fixed(f.Band.Low, 0), quantity.Fixed(f.Band.High, 0)
	}
	return withUnit(low+" to "+high, f.Unit) + " (" + over + ")"
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
