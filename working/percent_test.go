package working_test

import (
	"fmt"
	"math"
	"testing"

	"underlamp/working"
)

// What a rounded share may claim: never nought or all where there is a rest.
func TestPercent(t *testing.T) {
	for share, want := range map[float64]string{
		0: "0 %", 0.004: "under 1 %", 0.0051: "1 %", 0.1: "10 %", 0.994: "99 %", 0.9951: "over 99 %", 1: "100 %",
	} {
		if got := working.Percent(share); got != want {
			t.Errorf("Percent(%v) is %q, want %q", share, got, want)
		}
	}
	for change, want := range map[float64]string{-0.123: "−12 %", 0.001: "0 %", -0.001: "0 %", 0: "0 %", 0.03: "+3 %"} {
		if got := working.SignedPercent(change); got != want {
			t.Errorf("SignedPercent(%v) is %q, want %q", change, got, want)
		}
	}
}

// A figure in per cent claims no more digits than a share does.
func TestFigureInPercent(t *testing.T) {
	f := working.Figure{Value: 0.33, Unit: "%", Digits: 2, Band: &working.Band{Low: 0.2, High: 91.4, Level: 0.9}}
	if got := f.Text() + "; " + f.BandText(); got != "under 1 %; 0 to 91 % (90 % band)" {
		t.Errorf("printed %q", got)
	}
}

// Four heads in a thousand burn: that is not none.
func ExamplePercent() {
	fmt.Println(working.Percent(0.004), working.Percent(0.78))
	// Output: under 1 % 78 %
}

// Money has two decimals, and cents that are few are not rounded away.
func TestMoneyIsPrintedAsMoney(t *testing.T) {
	for v, want := range map[float64]string{22.6: "22.60 EUR", 0.645: "0.65 EUR", 0.0042: "0.0042 EUR", 0: "0.00 EUR", -3: "−3.00 EUR", math.Inf(1): "∞ EUR"} {
		if got := (working.Figure{Value: v, Unit: "EUR", Money: true}).Text(); got != want {
			t.Errorf("%v prints as %q, want %q", v, got, want)
		}
	}
}
