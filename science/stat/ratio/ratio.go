// Package ratio gives limits for the quotient of two estimates, and for what is one:
// the vertex of a parabola, the dose at which a line reaches a value.
//
// # Method
//
// The limits are those of Fieller1954: all x at which numerator − x · denominator does
// not differ from 0. They are exact for normal estimates. The set is an interval,
// or, if the denominator itself may be 0, two rays or the whole line; only the first is an
// interval. Limits by the delta method are not in it: they are too narrow where it
// matters.
package ratio

import (
	"math"

	"underlamp/science/stat"
)

// A Kind is the shape of a set of limits.
type Kind int

const (
	Bounded Kind = iota
	TwoRays      // all below Lower and all above Upper
	WholeLine
)

// Limits is a quotient with its limits.
type Limits struct {
	Value        float64
	Kind         Kind
	Lower, Upper float64 // 0 for the whole line
	Level        float64
	G            float64 // t² var(denominator)/denominator²; the set is an interval below 1
}

// Interval returns the limits as an interval, or a refusal where they are none.
func (l Limits) Interval() (stat.Interval, error) {
	if l.Kind != Bounded {
		return stat.Interval{}, stat.Refuse("an interval", "the slope or curvature that it divides by may be 0 in these data")
	}
	return stat.Interval{Lower: l.Lower, Upper: l.Upper, Level: l.Level}, nil
}

// Fieller returns limits for num/den with variances vn, vd and covariance c, at
// critical value t of the level.
func Fieller(num, den, vn, c, vd, t, level float64) (Limits, error) {
	if den == 0 {
		return Limits{}, stat.Refuse("a quotient", "its denominator is estimated as 0")
	}
	l := Limits{Value: num / den, Level: level, G: t * t * vd / (den * den)}
	qa := den*den - t*t*vd
	qb := -2 * (num*den - t*t*c)
	qc := num*num - t*t*vn
	disc := qb*qb - 4*qa*qc
	if disc < 0 || qa == 0 {
		l.Kind = WholeLine
		return l, nil
	}
	root := math.Sqrt(disc)
	// The larger root in size first, for the digits.
	q := -(qb + math.Copysign(root, qb)) / 2
	a, b := q/qa, l.Value
	if q != 0 {
		b = qc / q
	}
	l.Lower, l.Upper = math.Min(a, b), math.Max(a, b)
	if qa < 0 {
		l.Kind = TwoRays
	}
	return l, nil
}

// Vertex returns limits for the place of the vertex of a parabola, −b₁/(2 b₂), from
// the linear and quadratic coefficients with their variances and covariance.
func Vertex(b1, b2, v1, c, v2, t, level float64) (Limits, error) {
	return Fieller(-b1/2, b2, v1/4, -c/2, v2, t, level)
}

// Reach returns limits for the x at which a + b x is y.
func Reach(a, b, va, c, vb, y, t, level float64) (Limits, error) {
	return Fieller(y-a, b, va, -c, vb, t, level)
}
