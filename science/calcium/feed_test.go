package calcium_test

import (
	"math"
	"testing"

	"underlamp/science/calcium"
)

// Kielland1937, individual activity coefficients of the calcium ion at 25 °C, values
// from memory (they stand in many textbooks of chemical analysis); printed to two or
// three digits.
func TestActivityAgainstKielland(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ strength, want, tolerance float64 }{
		{0.001, 0.870, 0.002}, {0.005, 0.749, 0.003}, {0.01, 0.675, 0.003}, {0.05, 0.485, 0.005}, {0.1, 0.405, 0.005},
	} {
		if got := calcium.ActivityCoefficient(2, 0.6, c.strength); math.Abs(got-c.want) > c.tolerance {
			t.Errorf("at %g mol/L: %.4f, want %g", c.strength, got, c.want)
		}
	}
	// No ions, no charge: ideal.
	if calcium.ActivityCoefficient(2, 0.6, 0) != 1 || calcium.ActivityCoefficient(0, 0.6, 0.1) != 1 {
		t.Error("an ideal solution has another coefficient than 1")
	}
}

// Ionic strength and EC of eight recipes as PHREEQC 3.8.9 (phreeqc.dat) computes them,
// 25 °C, pH 5.8; run outside this project.
func TestIonicStrengthAgainstPHREEQC(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		recipe       string
		strength, ec float64
	}{
		{"Hoagland and Arnon 1", 0.0290, 2.165}, {"Hoagland and Arnon 2", 0.0270, 2.084}, {"the same, half", 0.0135, 1.095},
		{"a lettuce feed of 2.6 mS/cm", 0.02987, 2.627}, {"Steiner", 0.0300, 2.138}, {"a weak lettuce feed", 0.0095, 0.917},
		{"150 mg/L of nitrogen", 0.01703, 1.479}, {"half-strength lettuce feed", 0.0159, 1.360},
	} {
		if got := calcium.IonicStrength(c.ec); math.Abs(got/c.strength-1) > 0.17 {
			t.Errorf("%s: %.4f mol/L from EC, PHREEQC %.4f", c.recipe, got, c.strength)
		}
	}
}

// RootCalcium1973: without rivals uptake is half of its most at 0.077 meq/L, which is
// 0.0385 mmol/L of calcium, 1.543 mg/L; in so thin a solution the activity is 0.96 of
// the concentration and more (0.2 mS/cm would give 0.81).
func TestUptake(t *testing.T) {
	t.Parallel()
	if got := (calcium.Feed{CalciumMgL: 1.543}).Uptake(0); math.Abs(got-0.5) > 0.001 {
		t.Errorf("uptake %.4f at the half-saturation concentration, want 0.5", got)
	}
	// By hand: 100 mg/L are 2.495 mmol/L; at 1.4 mS/cm the strength is 0.0168, its root
	// 0.1296, log γ = −2.036·0.1296/(1+1.974·0.1296) = −0.2101, γ 0.6164, activity 1.538.
	// Rivals 13/14.007/4 + 24/24.305/4 + 210/39.098/20 = 0.232 + 0.247 + 0.269 = 0.748.
	usual := calcium.UsualFeed()
	if got := usual.CalciumActivity(); math.Abs(got-1.538) > 0.002 {
		t.Errorf("activity %.4f mmol/L, want 1.538", got)
	}
	if got, want := usual.Uptake(1), 1.538/(1.538+0.0385*1.748); math.Abs(got-want) > 0.001 {
		t.Errorf("uptake %.4f, want %.4f", got, want)
	}
	if (calcium.Feed{AmmoniumMgL: 20}).Uptake(1) != 0 {
		t.Error("calcium is taken up from a feed without any")
	}
	// BresWeston1992: 150 or 225 mg/L of potassium made no consistent difference to burn.
	more := usual
	usual.PotassiumMgL, more.PotassiumMgL = 150, 225
	if r := more.Uptake(1) / usual.Uptake(1); r < 0.95 || r >= 1 {
		t.Errorf("half as much potassium again leaves %.3f of the uptake", r)
	}
	// AmmoniumShare: at 15 mmol/L of nitrogen calcium falls sharply when more than half of it is
	// ammonium, and not below: 0, 7.5 and 15 mmol/L.
	share := func(mmol float64) float64 {
		f := calcium.UsualFeed()
		f.AmmoniumMgL = mmol * 14.007
		return f.Uptake(1)
	}
	if none, half, all := share(0), share(7.5), share(15); half/none < 0.93 || all >= half {
		t.Errorf("uptake without, with half and with all nitrogen as ammonium: %.3f, %.3f, %.3f", none, half, all)
	}
}
