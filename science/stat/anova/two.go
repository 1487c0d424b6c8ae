package anova

import (
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
)

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	n := len(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// Difference compares the means of two groups, a − b. Pooled takes one variance for
// both; without it each has its own and degrees of freedom follow Welch1947.
func Difference(name string, a, b []float64, pooled bool, level float64) (stat.Estimate, error) {
	if err := stat.Check(slices.Concat(a, b)); err != nil {
		return stat.Estimate{}, err
	}
	na, nb := float64(len(a)), float64(len(b))
	if pooled {
		if len(a) < 1 || len(b) < 1 || len(a)+len(b) < 3 {
			return stat.Estimate{}, stat.Refuse("the difference of two means with its error", "each group has one unit, so group and unit cannot be told apart")
		}
		labels := make([]string, 0, len(a)+len(b))
		for range a {
			labels = append(labels, "a")
		}
		for range b {
			labels = append(labels, "b")
		}
		an, err := OneWay(slices.Concat(a, b), stat.NewFactor("group", labels))
		if err != nil {
			return stat.Estimate{}, err
		}
		return an.Means.Contrast(name, []float64{1, -1}, level)
	}
	ma, va, err := meanVariance("the first group", a)
	if err != nil {
		return stat.Estimate{}, err
	}
	mb, vb, err := meanVariance("the second group", b)
	if err != nil {
		return stat.Estimate{}, err
	}
	va, vb = va/na, vb/nb
	df := (va + vb) * (va + vb) / (va*va/(na-1) + vb*vb/(nb-1))
	return linear.TEstimate(name, ma-mb, math.Sqrt(va+vb), df, level)
}

// Paired compares two values of each block, a − b.
func Paired(name string, a, b []float64, level float64) (stat.Estimate, error) {
	if len(a) != len(b) {
		return stat.Estimate{}, stat.Refuse("a paired comparison", "one side has %d units and the other %d", len(a), len(b))
	}
	if err := stat.Check(slices.Concat(a, b)); err != nil {
		return stat.Estimate{}, err
	}
	d := make([]float64, len(a))
	for i := range d {
		d[i] = a[i] - b[i]
	}
	m, v, err := meanVariance("the differences", d)
	if err != nil {
		return stat.Estimate{}, err
	}
	return linear.TEstimate(name, m, math.Sqrt(v/float64(len(d))), float64(len(d)-1), level)
}

// An Equivalence is the answer of two one-sided tests.
type Equivalence struct {
	Margin       float64
	PLower       float64 // that the difference is −Margin or less
	PUpper       float64 // that it is Margin or more
	P            float64 // the larger of both
	Interval     stat.Interval
	IsEquivalent bool // at level alpha: the interval of level 1 − 2 alpha lies within the margin
}

// Equivalent asks whether a difference lies within ±margin, a margin that was
// chosen before (Schuirmann1987).
func Equivalent(e stat.Estimate, margin, alpha float64) (Equivalence, error) {
	if !(margin > 0) {
		return Equivalence{}, stat.Refuse("equivalence", "no difference that would matter was chosen before the trial")
	}
	if !(e.SE > 0) {
		return Equivalence{}, stat.Refuse("equivalence", "the difference has no standard error")
	}
	q := Equivalence{Margin: margin,
		PLower: dist.TUpper((e.Value+margin)/e.SE, e.DF),
		PUpper: dist.TUpper((margin-e.Value)/e.SE, e.DF)}
	q.P = math.Max(q.PLower, q.PUpper)
	half := dist.TQuantile(1-alpha, e.DF) * e.SE
	q.Interval = stat.Interval{Lower: e.Value - half, Upper: e.Value + half, Level: 1 - 2*alpha}
	q.IsEquivalent = q.P <= alpha
	return q, nil
}
