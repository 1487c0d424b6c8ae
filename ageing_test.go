package underlamp_test

import (
	"math"
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// A lamp that keeps 90 % after 36 000 h at 16 h a day has 70 % after
// 36 000 · ln 0.7 / ln 0.9 = 121 870 h: the exponential of TM-21 by hand.
func TestLeftAt(t *testing.T) {
	l := underlamp.Lamp{NewOn: "2024-01-01", Left: underlamp.Said[quantity.Fraction](0.9), Hours: underlamp.Said[quantity.Hours](16)}
	l.FadeBy(0.9, 36000)
	for _, c := range []struct {
		day  string
		want float64
	}{
		{"2023-06-01", 1}, {"2024-01-01", 1},
		{"2030-02-29", 0.9},                           // no day of the calendar: what was said
		{"2024-12-31", math.Pow(0.9, 365*16/36000.0)}, // 2024 has 366 days
		{"2030-03-01", math.Pow(0.9, 2251*16/36000.0)},
		{"", 0.9},
	} {
		if got := float64(l.LeftAt(c.day)); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("on %q %.6f is left, want %.6f", c.day, got, c.want)
		}
	}
	l = underlamp.Lamp{NewOn: "2025-03-01", Left: underlamp.Said[quantity.Fraction](0.93), LeftOn: "2026-03-01"}
	l.FadeTo(0.93, l.LeftOn)
	if a, b := float64(l.LeftAt("2026-03-01")), float64(l.LeftAt("2027-03-01")); math.Abs(a-0.93) > 1e-12 || math.Abs(b-0.93*0.93) > 1e-12 {
		t.Errorf("after one year %.4f, after two %.4f", a, b)
	}
	plain := underlamp.Lamp{Left: underlamp.Said[quantity.Fraction](0.8)}
	if got := plain.LeftAt("2030-01-01"); got != 0.8 {
		t.Errorf("without a first day: %g", float64(got))
	}
}
