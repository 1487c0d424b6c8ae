package sensitivity

import (
	"math"
	"slices"
)

// A Share is the part of the variance of an answer that one input carries.
type Share struct {
	Value float64 // first-order index, 0 to 1; NaN if the answer does not vary or draws are too few
	SE    float64 // its standard error from the number of draws
}

// Fewest draws in a class of the input, and most classes.
const (
	perClass    = 40
	mostClasses = 32
)

// FewestDraws is the number of draws below which a share is not known.
const FewestDraws = 4 * perClass

// Of estimates the share of input x in the variance of the answer y; both hold
// one value a draw. Draws with an answer that is not finite are left out. An
// input that does not vary has the share 0.
//
//	η² = Σ n_k (ȳ_k − ȳ)² / Σ (y − ȳ)²    over K classes of x of equal number
//	S  = 1 − (1 − η²)(n − 1)/(n − K)       (Kelley1935), not below 0
//	se = (1 − S)/n · √(2 (K − 1) + 4 n S/(1 − S))
//
// The standard error is that of a sum of squares of normal means with equal
// spread within classes, a noncentral χ² of K−1 degrees of freedom; for other
// answers it is a guide.
//
// Of panics if x and y differ in length.
func Of(x, y []float64) Share {
	if len(x) != len(y) {
		panic("sensitivity: Of: input and answer must have one value a draw")
	}
	order := make([]int, 0, len(y))
	mean := 0.0
	for i, v := range y {
		if !math.IsNaN(v) && !math.IsInf(v, 0) && !math.IsNaN(x[i]) {
			order = append(order, i)
			mean += v
		}
	}
	n := len(order)
	if n < FewestDraws {
		return Share{math.NaN(), math.NaN()}
	}
	mean /= float64(n)
	total := 0.0
	for _, i := range order {
		total += (y[i] - mean) * (y[i] - mean)
	}
	if total <= 1e-24*mean*mean*float64(n) {
		return Share{math.NaN(), math.NaN()}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	if x[order[0]] == x[order[n-1]] {
		return Share{}
	}
	between, k := 0.0, 0
	for want, from := min(n/perClass, mostClasses), 0; from < n; k++ {
		to := from + max((n-from)/max(want-k, 1), 1)
		// Equal inputs stay together, else the order of the draws would decide.
		for to < n && x[order[to]] == x[order[to-1]] {
			to++
		}
		sum := 0.0
		for _, i := range order[from:to] {
			sum += y[i] - mean
		}
		between += sum * sum / float64(to-from)
		from = to
	}
	nf, kf := float64(n), float64(k)
	if k < 2 || k >= n {
		return Share{math.NaN(), math.NaN()}
	}
	s := min(max(1-(1-between/total)*(nf-1)/(nf-kf), 0), 1)
	return Share{Value: s, SE: (1 - s) / nf * math.Sqrt(2*(kf-1)+4*nf*s/max(1-s, 1e-9))}
}
