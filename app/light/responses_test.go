package light_test

import (
	"math"
	"testing"

	"underlamp/science/lightfield"
)

// Responses times dimmings are the light that the answer gives.
func TestResponsesAddUp(t *testing.T) {
	m := model(t, demoBench(t, "tier-2-middle.yaml"))
	a := answer(t, m, nil)
	lit, err := m.At(m.Bench().Setting().Height)
	if err != nil {
		t.Fatal(err)
	}
	sum := lightfield.Combine(nil, lit.Responses(0), []float64{0.7, 0.7})
	other, err := m.ResponsesOf(m.LampsAt(m.Bench().Setting().Height), 0)
	if err != nil {
		t.Fatal(err)
	}
	again := lightfield.Combine(nil, other, []float64{0.7, 0.7})
	for i, p := range a.Plants {
		// Many points of one height are interpolated, to 0.5 % as lightfield says.
		if math.Abs(sum[i]/float64(p.PPFD)-1) > 0.005 || math.Abs(again[i]/float64(p.PPFD)-1) > 0.005 {
			t.Errorf("plant %s: %.2f and %.2f, the answer has %.2f", p.Name, sum[i], again[i], float64(p.PPFD))
		}
	}
}

// A meter that errs the same everywhere is no doubt between two benches.
func TestSameMeterNarrows(t *testing.T) {
	m := model(t, demoBench(t, "tier-2-middle.yaml"))
	same, err := m.PlantSDSameMeter()
	if err != nil {
		t.Fatal(err)
	}
	with, err := m.PlantSD()
	if err != nil {
		t.Fatal(err)
	}
	for i, sd := range with {
		if same[i] >= sd || same[i] < 0.005 {
			t.Errorf("plant %d: %.3f with the error of the meter, %.3f without", i, sd, same[i])
		}
	}
}
