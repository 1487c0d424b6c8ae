// Package forecastscore says how good a forecast was once it is known what came:
// of a number told by draws or by an interval, and of a chance.
//
// # Conventions
//
//   - All scores are losses: 0 is perfect, less is better. All are proper: who
//     forecasts what they believe cannot do better by saying something else.
//   - Scores of numbers are in the unit of the number.
//
// # Sources
//
//   - GneitingRaftery2007: T. Gneiting, A. E. Raftery (2007), Strictly proper
//     scoring rules, prediction, and estimation, J. Amer. Stat. Assoc.
//     102:359-378: equations 21 (CRPS) and 43 (interval score).
//   - Brier1950: G. W. Brier (1950), Verification of forecasts expressed in terms of
//     probability, Monthly Weather Review 78:1-3. Here the half of it, for the one
//     event that either comes or does not.
package forecastscore

import (
	"math"
	"slices"
)

// CRPS is the continuous ranked probability score of a forecast told by draws:
// E|X − x| − ½ E|X − X′| over independent draws X, X′ (GneitingRaftery2007,
// equation 21). For one draw it is the absolute error. It is NaN for no draw, or if
// a number is NaN.
func CRPS(draws []float64, came float64) float64 {
	n := float64(len(draws))
	if n == 0 || math.IsNaN(came) {
		return math.NaN()
	}
	sorted := slices.Clone(draws)
	slices.Sort(sorted) // NaN first
	if math.IsNaN(sorted[0]) {
		return math.NaN()
	}
	off, spread := 0.0, 0.0
	for i, x := range sorted {
		off += math.Abs(x-came) / n
		// Σᵢⱼ |xᵢ − xⱼ| = 2 Σᵢ (2i + 1 − n) xᵢ over ascending x, i from 0.
		spread += (2*float64(i) + 1 - n) * x * 2 / (n * n)
	}
	return off - spread/2
}

// Interval is the interval score of a central interval that should hold the
// probability level, between 0 and 1: its width, and 2/(1 − level) times the
// distance by which it was missed (GneitingRaftery2007, equation 43).
func Interval(low, high, level, came float64) float64 {
	s := high - low
	penalty := 2 / (1 - level)
	switch {
	case came < low:
		s += penalty * (low - came)
	case came > high:
		s += penalty * (came - high)
	}
	return s
}

// Brier is the squared difference of a chance, 0 to 1, and what came (Brier1950,
// halved).
func Brier(chance float64, came bool) float64 {
	if came {
		return (1 - chance) * (1 - chance)
	}
	return chance * chance
}
