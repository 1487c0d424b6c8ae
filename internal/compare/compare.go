package compare

import (
	"math"
	"testing"
)

// Within fails the test if got is farther from want than the tolerance, all in
// one unit; what names the figure.
func Within(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g ± %.2g", what, got, want, tolerance)
	}
}
