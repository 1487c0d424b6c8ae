package stat

import (
	"encoding/json"
	"math"
)

// An Interval holds a figure with confidence Level. A limit that the data do not
// give is infinite: Lower is then -Inf, or Upper +Inf.
type Interval struct {
	Lower, Upper float64
	Level        float64 // a share, 0.95
}

// Bounded reports whether both limits are known.
func (i Interval) Bounded() bool { return !math.IsInf(i.Lower, 0) && !math.IsInf(i.Upper, 0) }

// Holds reports whether x lies within the limits.
func (i Interval) Holds(x float64) bool { return i.Lower <= x && x <= i.Upper }

// MarshalJSON writes an unknown limit as null, for JSON has no infinity.
func (i Interval) MarshalJSON() ([]byte, error) {
	limit := func(x float64) *float64 {
		if math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	return json.Marshal(struct {
		Lower, Upper *float64
		Level        float64
	}{limit(i.Lower), limit(i.Upper), i.Level})
}

// A Test is one hypothesis tested: the statistic, its degrees of freedom, and the
// chance of as great a statistic were there no effect.
type Test struct {
	Statistic float64
	DF1, DF2  float64 // of F; DF1 alone for chi-square, DF2 alone for t; +Inf for the normal
	P         float64
}

// An Estimate is a figure with its standard error and limits.
type Estimate struct {
	Name     string
	Value    float64
	SE       float64
	DF       float64 // of the standard error; +Inf if it is taken as known
	T        float64 // Value/SE
	P        float64 // that the true value is 0, adjusted where the procedure adjusts
	Interval Interval
}
