package lightfield_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"

	"underlamp/science/lightfield"
)

// Mean and spread against gonum's weighted population figures; the rest by hand.
func TestFigures(t *testing.T) {
	values, weights := []float64{180, 200, 221, 240, 100, math.NaN(), 900}, []float64{1, 2, 1, 3, 1, 5, 0}
	f := lightfield.FiguresOf(values, weights, 200, 220)
	mean, variance := stat.PopMeanVariance(values[:5], weights[:5])
	if f.Points != 5 || relative(f.Mean, mean) > 1e-12 || relative(f.Variation, math.Sqrt(variance)/mean) > 1e-12 {
		t.Errorf("%+v, want mean %v variation %v", f, mean, math.Sqrt(variance)/mean)
	}
	// 180 and 200 are within 20 of 200: 3 of 8; 221 and 240 are above 220: 4 of 8.
	if f.Min != 100 || f.Max != 240 || relative(f.MinToMean, 100/mean) > 1e-12 || f.NearTarget != 0.375 || f.AboveCeiling != 0.5 {
		t.Errorf("%+v", f)
	}
	even := lightfield.FiguresOf([]float64{7, 7}, nil, 0, 0)
	if even.Variation != 0 || even.MinToMean != 1 || !math.IsNaN(even.NearTarget) || !math.IsNaN(even.AboveCeiling) {
		t.Errorf("even light: %+v", even)
	}
	if none := lightfield.FiguresOf(nil, nil, 1, 1); none.Points != 0 || !math.IsNaN(none.Mean) || !math.IsNaN(none.NearTarget) {
		t.Errorf("no light: %+v", none)
	}
}
