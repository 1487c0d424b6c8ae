package validation_test

import (
	"math"
	"testing"

	"underlamp/science/validation"
)

// The example of the documentation of scikit-learn, roc_auc_score: labels 0 0 1 1,
// scores 0.1 0.4 0.35 0.8, area 0.75.
func TestAreaUnderCurve(t *testing.T) {
	t.Parallel()
	if got := validation.AreaUnderCurve([]float64{0.35, 0.8}, []float64{0.1, 0.4}); got != 0.75 {
		t.Errorf("area %g, want 0.75", got)
	}
	if got := validation.AreaUnderCurve([]float64{1, 1}, []float64{1}); got != 0.5 {
		t.Errorf("area %g of equal scores, want 0.5", got)
	}
	if !math.IsNaN(validation.AreaUnderCurve(nil, []float64{1})) {
		t.Error("an area without treatments that burnt")
	}
}

// The example of the documentation of SciPy, stats.spearmanr: 0.8207826816681233 for
// 1 2 3 4 5 against 5 6 7 8 7.
func TestSpearman(t *testing.T) {
	t.Parallel()
	if got := validation.Spearman([]float64{1, 2, 3, 4, 5}, []float64{5, 6, 7, 8, 7}); math.Abs(got-0.8207826816681233) > 1e-12 {
		t.Errorf("correlation %.16f, want 0.8207826816681233", got)
	}
	if !math.IsNaN(validation.Spearman([]float64{1}, []float64{1})) {
		t.Error("a correlation of one pair")
	}
}

// No treatment of the metrics is one that parameters were fitted to, and each level has
// its computed one.
func TestTreatmentsAreChecks(t *testing.T) {
	if testing.Short() {
		t.Skip("runs some fifty crowds")
	}
	t.Parallel()
	seen := map[string]bool{}
	for _, x := range validation.TipburnTreatments() {
		if seen[x.Name] {
			t.Errorf("%s comes twice", x.Name)
		}
		seen[x.Name] = true
		for _, fitted := range []string{"T01", "T02", "T03", "T04", "T05", "T06", "T20"} {
			if x.Name[:3] == fitted {
				t.Errorf("%s was fitted to", x.Name)
			}
		}
		if math.IsNaN(x.Level) != math.IsNaN(x.Got) || math.IsNaN(x.Chance) || x.Chance < 0 || x.Chance > 1 {
			t.Errorf("%+v", x)
		}
	}
}
