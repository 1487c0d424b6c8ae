package sensitivity

import (
	"math"
	"slices"
)

// MaxOrder is the highest cosine that is fitted; few draws allow fewer.
const MaxOrder = 8

// LeastDraws is how many draws a share can be had from.
const LeastDraws = 60

// A Share is the part of the variance of a result that one input makes by itself.
type Share struct {
	First float64 // first-order share: 0 none, 1 all; NaN if the result does not vary
	SE    float64 // its standard error
}

// groups of the jackknife.
const groups = 20

// Shares returns the share of every input in the variance of y. inputs[i] holds the
// draws of input i, in the order of y.
//
// It panics if lengths differ. All shares are NaN for fewer than [LeastDraws] draws, a
// value that is not finite, or a y that does not vary; the share of an input that does not
// vary is 0.
func Shares(inputs [][]float64, y []float64) []Share {
	out := make([]Share, len(inputs))
	n := len(y)
	usable := n >= LeastDraws && finite(y)
	for _, x := range inputs {
		if len(x) != n {
			panic("sensitivity: Shares: every input must have one draw for each result")
		}
		usable = usable && finite(x)
	}
	if usable && slices.Min(y) == slices.Max(y) {
		usable = false
	}
	for i, x := range inputs {
		switch {
		case !usable:
			out[i] = Share{math.NaN(), math.NaN()}
		case slices.Min(x) < slices.Max(x):
			out[i] = share(x, y)
		}
	}
	return out
}

func finite(x []float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

func share(x, y []float64) Share {
	n := len(y)
	rising := make([]int, n)
	for i := range rising {
		rising[i] = i
	}
	slices.SortStableFunc(rising, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	out := Share{First: first(x, y, rising, -1)}
	var left [groups]float64
	mean := 0.0
	for g := range left {
		left[g] = first(x, y, rising, g)
		mean += left[g] / groups
	}
	for _, v := range left {
		out.SE += (v - mean) * (v - mean) * (groups - 1) / groups
	}
	out.SE = math.Sqrt(out.SE)
	return out
}

// first is the share without the draws of one group, ranked anew: the cosines are
// orthonormal over whole ranks only.
func first(x, y []float64, rising []int, without int) float64 {
	in := func(i int) bool { return i%groups != without }
	var n, mean float64
	for i, v := range y {
		if in(i) {
			n++
			mean += v
		}
	}
	mean /= n
	order := min(max(int(n)/30, 2), MaxOrder)
	var variance float64
	var c [MaxOrder]float64
	rank := 0.0 // of those that are in, before the ones looked at
	for from := 0; from < len(rising); {
		// Equal values share their mean rank.
		to, sum, count := from, 0.0, 0.0
		for ; to < len(rising) && x[rising[to]] == x[rising[from]]; to++ {
			if i := rising[to]; in(i) {
				d := y[i] - mean
				variance += d * d / n
				sum += d
				count++
			}
		}
		from = to
		if count == 0 {
			continue
		}
		u := (rank + count/2) / n
		rank += count
		// cos (k+1)θ = 2 cos θ cos kθ − cos (k−1)θ
		one := math.Cos(math.Pi * u)
		before, now := 1.0, one
		for k := range order {
			c[k] += sum * math.Sqrt2 * now / n
			before, now = now, 2*one*now-before
		}
	}
	explained := 0.0
	for _, v := range c[:order] {
		explained += v * v
	}
	// Adjusted as R² is: each of the cosines takes up 1/(n−1) of what is noise.
	return 1 - (1-explained/variance)*(n-1)/(n-1-float64(order))
}
