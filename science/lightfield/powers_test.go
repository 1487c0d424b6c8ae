package lightfield

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Against math.Pow, to the bound that the chord of x^f over steps of 1/512 has:
// f(1−f)/8 · (1/512)² ≤ 1.2·10⁻⁷; what lies outside the table is as exact as Pow.
func TestPowers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		exponent := rapid.Float64Range(1.5, 251.5).Draw(t, "exponent")
		x := math.Exp(rapid.Float64Range(-60, 60).Draw(t, "ln x"))
		got, want := newPowers(exponent).of(x), math.Pow(x, exponent)
		if math.Abs(got-want) > 1.3e-7*want {
			t.Fatalf("%v^%v: %v, want %v", x, exponent, got, want)
		}
	})
}
