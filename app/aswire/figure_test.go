package aswire_test

import (
	"encoding/json"
	"math"
	"testing"

	"underlamp/app/aswire"
	"underlamp/wire"
	"underlamp/working"
)

// A figure looks alike whether the command line prints it as it is or the API sends it.
func TestFiguresLookAlike(t *testing.T) {
	f := working.Figure{Name: "mass", Value: 212.5, Unit: "g", Band: &working.Band{Low: 190, High: 240, Level: 0.9, Over: "plants"}, Word: "raised", Digits: 3, Money: true,
		Working: working.Working{Formula: "a · b", Inputs: []working.Input{{Name: "a", Value: "2 m", Origin: "said", Note: "n"}}, Steps: []string{"s"}, Sources: []string{"key"}, Notes: []string{"x"}}}
	a, err := json.Marshal(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(aswire.Figure(f))
	if err != nil {
		t.Fatal(err)
	}
	if string(a) != string(b) {
		t.Errorf("%s\n%s", a, b)
	}
	bad := f
	bad.Value = math.NaN()
	f.Band = &working.Band{Low: math.Inf(-1), High: 1}
	if got := aswire.Figures([]working.Figure{bad, f}); len(got) != 1 || got[0].Band != nil {
		t.Errorf("%+v", got)
	}
	if text, err := json.Marshal(wire.Numbers([]float64{1, math.NaN()})); err != nil || string(text) != "[1,null]" {
		t.Errorf("%s %v", text, err)
	}
}
