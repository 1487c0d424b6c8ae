package aswire

import (
	"math"

	"underlamp/wire"
	"underlamp/working"
)

// Figures with their working. One whose value is not known is left out: a day of first burn where
// none burn is absent, not a number.
func Figures(all []working.Figure) []wire.Figure {
	out := []wire.Figure{}
	for _, f := range all {
		if !math.IsNaN(f.Value) && !math.IsInf(f.Value, 0) {
			out = append(out, Figure(f))
		}
	}
	return out
}

// Figure is one whose value is known; a bound of its band that is not leaves the band out.
func Figure(f working.Figure) wire.Figure {
	w := f.Working
	out := wire.Figure{Name: f.Name, Value: f.Value, Unit: f.Unit, Word: f.Word, Working: wire.Working{Formula: w.Formula, Inputs: []wire.Input{}, Steps: w.Steps, Sources: w.Sources, Notes: w.Notes}}
	for _, i := range w.Inputs {
		out.Working.Inputs = append(out.Working.Inputs, wire.Input(i))
	}
	if b := f.Band; b != nil && finite(b.Low) && finite(b.High) {
		out.Band = &wire.Interval{Low: b.Low, High: b.High, Level: b.Level, Over: b.Over}
	}
	return out
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// list is a list that is there, also if it holds nothing.
func list[T any](all []T) []T { return append([]T{}, all...) }
