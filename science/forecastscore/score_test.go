package forecastscore_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/forecastscore"
)

// normalCRPS is the closed form for a normal forecast (GneitingRaftery2007, section
// 4.2): σ (z (2Φ(z) − 1) + 2φ(z) − 1/√π).
func normalCRPS(mean, sd, x float64) float64 {
	z := (x - mean) / sd
	cdf := 0.5 * math.Erfc(-z/math.Sqrt2)
	pdf := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	return sd * (z*(2*cdf-1) + 2*pdf - 1/math.Sqrt(math.Pi))
}

func quantiles(mean, sd float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = mean + sd*math.Sqrt2*math.Erfinv(2*(float64(i)+0.5)/float64(n)-1)
	}
	return out
}

// Quantiles of a normal distribution score as its closed form says; with 20 000 of
// them the sum stands for the integral to some 1e-4 of the standard deviation.
func TestCRPSOfANormalForecast(t *testing.T) {
	for _, c := range [][3]float64{{0, 1, 0}, {0, 1, 1}, {0, 1, -2.5}, {180, 25, 214}, {180, 25, 90}} {
		got, want := forecastscore.CRPS(quantiles(c[0], c[1], 20_000), c[2]), normalCRPS(c[0], c[1], c[2])
		if math.Abs(got-want) > 2e-4*c[1] {
			t.Errorf("normal %v: %g, want %g", c, got, want)
		}
	}
	if got := normalCRPS(0, 1, 0); math.Abs(got-0.23369498) > 1e-8 { // (√2 − 1)/√π
		t.Errorf("the closed form itself: %.9f", got)
	}
}

// By hand: of draws 1 and 3, what comes being 2, E|X − x| = 1 and E|X − X′| = 1.
func TestSmall(t *testing.T) {
	if got := forecastscore.CRPS([]float64{3, 1}, 2); math.Abs(got-0.5) > 1e-15 {
		t.Errorf("two draws: %g, want 0.5", got)
	}
	if got := forecastscore.CRPS([]float64{7}, 5); got != 2 {
		t.Errorf("one draw: %g, want the absolute error", got)
	}
	if !math.IsNaN(forecastscore.CRPS(nil, 1)) || !math.IsNaN(forecastscore.CRPS([]float64{1, math.NaN()}, 1)) {
		t.Error("nothing scores something")
	}
	for _, c := range []struct{ came, want float64 }{{5, 10}, {0, 10}, {10, 10}, {-1, 30}, {12, 50}} { // 2/(1 − 0.9) = 20 a unit missed
		if got := forecastscore.Interval(0, 10, 0.9, c.came); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("0 to 10, came %g: %g, want %g", c.came, got, c.want)
		}
	}
	if a, b := forecastscore.Brier(0.7, true), forecastscore.Brier(0.7, false); math.Abs(a-0.09) > 1e-15 || math.Abs(b-0.49) > 1e-15 {
		t.Errorf("Brier %g, %g", a, b)
	}
}

// The quick sum is the double sum of the definition, in whatever order the draws
// come.
func TestCRPSByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-100, 100), 1, 30).Draw(t, "draws")
		came := rapid.Float64Range(-150, 150).Draw(t, "came")
		n := float64(len(x))
		want := 0.0
		for _, a := range x {
			want += math.Abs(a-came) / n
			for _, b := range x {
				want -= math.Abs(a-b) / (2 * n * n)
			}
		}
		if got := forecastscore.CRPS(x, came); math.Abs(got-want) > 1e-9 || got < -1e-9 {
			t.Fatalf("%g, want %g", got, want)
		}
	})
}

// Heads were forecast at 150 to 220 g and weighed 231 g.
func Example() {
	fmt.Printf("%.0f\n", forecastscore.Interval(150, 220, 0.9, 231))
	// Output: 290
}
