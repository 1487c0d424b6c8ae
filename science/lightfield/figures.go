package lightfield

import "math"

// Figures say how even the light of an area is.
type Figures struct {
	Points         int     // values counted; those that are NaN or without weight are not
	Mean, Min, Max float64 // in the unit of the values
	MinToMean      float64 // the uniformity of lighting practice, U₀ = Min/Mean
	Variation      float64 // standard deviation over the mean
	NearTarget     float64 // share of the area within a tenth of the target; NaN without a target
	AboveCeiling   float64 // share of the area above the ceiling; NaN without a ceiling
}

// FiguresOf sums up values, each standing for an area in proportion to its
// weight; nil weights are all alike. A target or ceiling of 0 is none. Without any
// value all figures are NaN. Weights of another length than the values, or below 0,
// panic.
//
//	mean = Σ w v / Σ w,   variation² = (Σ w v² / Σ w − mean²) / mean²
//
// The spread is that of the area itself, not an estimate from a sample, so it is
// divided by n.
func FiguresOf(values, weights []float64, target, ceiling float64) Figures {
	if weights != nil && len(weights) != len(values) {
		panic("lightfield: FiguresOf: one weight for each value is needed")
	}
	f := Figures{Min: math.Inf(1), Max: math.Inf(-1)}
	var total, sum, near, above float64
	each := func(visit func(v, w float64)) {
		for i, v := range values {
			w := 1.0
			if weights != nil {
				w = weights[i]
			}
			if w < 0 {
				panic("lightfield: FiguresOf: a weight is below 0")
			}
			if w > 0 && !math.IsNaN(v) {
				visit(v, w)
			}
		}
	}
	each(func(v, w float64) {
		f.Points++
		total += w
		sum += w * v
		f.Min, f.Max = min(f.Min, v), max(f.Max, v)
		if math.Abs(v-target) <= 0.1*target {
			near += w
		}
		if v > ceiling {
			above += w
		}
	})
	nan := math.NaN()
	if f.Points == 0 {
		return Figures{0, nan, nan, nan, nan, nan, nan, nan}
	}
	f.Mean = sum / total
	square := 0.0
	each(func(v, w float64) { square += w * (v - f.Mean) * (v - f.Mean) })
	f.MinToMean, f.Variation = f.Min/f.Mean, math.Sqrt(square/total)/f.Mean
	f.NearTarget, f.AboveCeiling = near/total, above/total
	if target == 0 {
		f.NearTarget = nan
	}
	if ceiling == 0 {
		f.AboveCeiling = nan
	}
	return f
}
