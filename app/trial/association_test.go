package trial

import (
	"math"
	"testing"
)

// R 4.2.2: cor(x, y), and √(sum of squares between / all) of aov(y ~ factor(x)).
func TestAssociationAgainstR(t *testing.T) {
	x := []float64{12, 12, 15, 15, 18, 18, 12, 15}
	y := []float64{0.3, 0.9, 0.9, 0.3, 0.3, 0.6, 0.6, 0.9}
	g := []string{"a", "a", "b", "b", "c", "c", "a", "b"}
	if r, ok := correlation(x, y); !ok || math.Abs(r+0.184900065408) > 1e-9 {
		t.Errorf("r %.12f", r)
	}
	if eta, k, ok := correlationRatio(g, y); !ok || k != 3 || math.Abs(eta-0.372677996250) > 1e-9 {
		t.Errorf("η %.12f", eta)
	}
	if _, ok := correlation(x, []float64{1, 1, 1, 1, 1, 1, 1, 1}); ok {
		t.Error("a correlation with what does not vary")
	}
}
