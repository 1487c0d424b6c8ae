package validation_test

import (
	"math"
	"strings"
	"testing"

	"underlamp/science/validation"
)

// By hand: errors of +10, −30 and +50 %; the calibrated row is not in the mean.
func TestMeanAbsolutePercent(t *testing.T) {
	t.Parallel()
	row := func(name, purpose string, want, got float64) validation.Check {
		return validation.Check{Area: "growth", Name: name, Kind: validation.Value, Purpose: purpose, Expected: want, Got: got}
	}
	list := validation.SourceErrors("growth", []validation.Check{
		row("a", validation.Published, 10, 11), row("b", validation.Published, 10, 7), row("c", validation.Calibrated, 10, 15),
		{Area: "growth", Name: "d", Kind: validation.Order, Expected: math.NaN()}, {Area: "air", Name: "e", Kind: validation.Value, Expected: 1, Got: 5},
	})
	if len(list) != 3 {
		t.Fatalf("%d rows, want 3", len(list))
	}
	mean, n := validation.MeanAbsolutePercent(list, func(e validation.SourceError) bool { return e.Purpose == validation.Published })
	if n != 2 || math.Abs(mean-20) > 1e-9 {
		t.Errorf("mean %g %% of %d rows, want 20 of 2", mean, n)
	}
}

// Every growth case that may judge is in exactly one figure of error, but for
// the bound G09.
func TestEveryGrowthCheckIsInAnError(t *testing.T) {
	t.Parallel()
	metrics := validation.GrowthMetrics(all())
	rows := 0.0
	for _, m := range metrics {
		if math.IsNaN(m.Value) {
			t.Errorf("%s has no value", m.Name)
		}
		t.Logf("%s: %.1f %% (%s)", m.Name, m.Value, m.Note)
	}
	for _, c := range all() {
		if c.Area == "growth" && c.Purpose == validation.Published && strings.HasPrefix(c.Name, "G") && c.Kind == validation.Value && c.Case() != "G09" {
			rows++
		}
	}
	if rows != 15 {
		t.Errorf("%g rows judge growth, the figures of error hold 15", rows)
	}
}
