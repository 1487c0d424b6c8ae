package posterior

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// RHat is the rank-normalised split R-hat: the greater of that of the ranks and that
// of the ranks of distances from the median. Near 1 the chains agree in place and
// in width; above 1.01 they do not agree well enough. NaN for fewer than 12 draws a
// chain, for draws that are not finite, and if all are equal.
//
// Chains must be of equal length. Source: Vehtari2021, equations 3, 4, 13 and 14.
func RHat(chains [][]float64) float64 {
	if !usable(chains) {
		return math.NaN()
	}
	halves := split(chains)
	return max(plainRHat(normalScores(halves)), plainRHat(normalScores(folded(halves))))
}

// BulkESS is the effective sample size for the middle of the distribution: that of
// the mean of the normal scores of the ranks. At least 100 a chain is advised. NaN as
// in [RHat].
//
// Source: Vehtari2021, section 4.1.
func BulkESS(chains [][]float64) float64 {
	if !usable(chains) {
		return math.NaN()
	}
	return ess(normalScores(split(chains)))
}

// TailESS is the lesser of the effective sample sizes of the 5 and 95 % quantiles. NaN
// as in [RHat].
//
// Source: Vehtari2021, section 4.3.
func TailESS(chains [][]float64) float64 {
	return math.Min(QuantileESS(chains, 0.05), QuantileESS(chains, 0.95))
}

// QuantileESS is the effective sample size of the quantile of probability p: that of
// the indicator of lying at or below it. NaN as in [RHat], and if all draws lie there.
//
// Source: Vehtari2021, section 4.3.
func QuantileESS(chains [][]float64, p float64) float64 {
	if !usable(chains) {
		return math.NaN()
	}
	q := Quantile(sorted(chains), p)
	below := make([][]float64, len(chains))
	for c, chain := range chains {
		below[c] = make([]float64, len(chain))
		for i, v := range chain {
			if v <= q {
				below[c][i] = 1
			}
		}
	}
	if !usable(below) {
		return math.NaN()
	}
	return ess(split(below))
}

// MeanMCSE is the Monte Carlo standard error of the mean of the draws. NaN as in
// [RHat].
//
// Source: Vehtari2021, section 4.
func MeanMCSE(chains [][]float64) float64 {
	if !usable(chains) {
		return math.NaN()
	}
	all := slices.Concat(chains...)
	_, v := moments(all)
	return math.Sqrt(v / ess(split(chains)))
}

// QuantileMCSE is the Monte Carlo standard error of the quantile of probability p: half
// of the distance between the order statistics at one standard deviation either side,
// by the beta distribution of the effective sample. NaN as in [QuantileESS].
//
// Source: Vehtari2021, section 4.4.
func QuantileMCSE(chains [][]float64, p float64) float64 {
	n := QuantileESS(chains, p)
	if math.IsNaN(n) {
		return n
	}
	all := sorted(chains)
	s := float64(len(all))
	oneSD := distuv.UnitNormal.CDF(1)
	lo := mathext.InvRegIncBeta(n*p+1, n*(1-p)+1, 1-oneSD)
	hi := mathext.InvRegIncBeta(n*p+1, n*(1-p)+1, oneSD)
	return (all[int(min(math.Ceil(hi*s), s))-1] - all[int(max(math.Floor(lo*s), 1))-1]) / 2
}

// Quantile is the quantile of probability p of values in rising order, linear between
// them (definition 7 of HyndmanFan1996). NaN for none.
func Quantile(rising []float64, p float64) float64 {
	if len(rising) == 0 {
		return math.NaN()
	}
	at := min(max(p, 0), 1) * float64(len(rising)-1)
	i := min(int(at), len(rising)-1)
	if i == len(rising)-1 {
		return rising[i]
	}
	return rising[i] + (at-float64(i))*(rising[i+1]-rising[i])
}

func sorted(chains [][]float64) []float64 {
	all := slices.Concat(chains...)
	slices.Sort(all)
	return all
}

// leastDraws of a chain: halves of fewer than six leave no lags to sum.
const leastDraws = 12

// usable says that there is something to diagnose.
func usable(chains [][]float64) bool {
	if len(chains) == 0 || len(chains[0]) < leastDraws {
		return false
	}
	different := false
	for _, chain := range chains {
		if len(chain) != len(chains[0]) {
			panic("posterior: chains must be of equal length")
		}
		for _, v := range chain {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return false
			}
			different = different || v != chains[0][0]
		}
	}
	return different
}

// split cuts every chain into halves; the middle draw of an odd number is left out.
func split(chains [][]float64) [][]float64 {
	out := make([][]float64, 0, 2*len(chains))
	for _, c := range chains {
		half := len(c) / 2
		out = append(out, c[:half], c[len(c)-half:])
	}
	return out
}

// folded are the distances from the median of all.
func folded(chains [][]float64) [][]float64 {
	middle := Quantile(sorted(chains), 0.5)
	out := make([][]float64, len(chains))
	for c, chain := range chains {
		out[c] = make([]float64, len(chain))
		for i, v := range chain {
			out[c][i] = math.Abs(v - middle)
		}
	}
	return out
}

// normalScores replaces every value by the normal quantile of its rank among all,
// equal ones sharing their mean rank (Vehtari2021, equation 14).
func normalScores(chains [][]float64) [][]float64 {
	type place struct {
		v    float64
		c, i int
	}
	var all []place
	out := make([][]float64, len(chains))
	for c, chain := range chains {
		out[c] = make([]float64, len(chain))
		for i, v := range chain {
			all = append(all, place{v, c, i})
		}
	}
	slices.SortFunc(all, func(a, b place) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return 0
	})
	for from := 0; from < len(all); {
		to := from + 1
		for to < len(all) && all[to].v == all[from].v {
			to++
		}
		rank := float64(from+to+1) / 2 // mean of from+1 .. to
		z := distuv.UnitNormal.Quantile((rank - 3.0/8) / (float64(len(all)) + 1.0/4))
		for _, p := range all[from:to] {
			out[p.c][p.i] = z
		}
		from = to
	}
	return out
}

// moments are the mean and the variance with n−1.
func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, variance
}

// between parts the variance of chains: the mean of their variances, and the variance
// of their means.
func between(chains [][]float64) (within, ofMeans float64) {
	means := make([]float64, len(chains))
	for c, chain := range chains {
		m, v := moments(chain)
		means[c] = m
		within += v / float64(len(chains))
	}
	_, ofMeans = moments(means)
	return within, ofMeans
}

// plainRHat is the potential scale reduction (Vehtari2021, equations 1 to 4).
func plainRHat(chains [][]float64) float64 {
	n := float64(len(chains[0]))
	within, ofMeans := between(chains)
	return math.Sqrt(((n-1)/n*within + ofMeans) / within)
}

// ess is the effective sample size of the mean over chains (Vehtari2021, equations
// 10 to 12): autocorrelations over all chains, summed in pairs as long as the pairs
// are positive, and falling (Geyer1992).
func ess(chains [][]float64) float64 {
	m, n := len(chains), len(chains[0])
	within, ofMeans := between(chains)
	total := float64(n-1)/float64(n)*within + ofMeans
	if m == 1 {
		total = float64(n-1) / float64(n) * within
	}
	means := make([]float64, m)
	for c := range chains {
		means[c], _ = moments(chains[c])
	}
	rho := func(lag int) float64 {
		sum := 0.0
		for c, x := range chains {
			s := 0.0
			for i := range n - lag {
				s += (x[i] - means[c]) * (x[i+lag] - means[c])
			}
			sum += s / float64(n) / float64(m)
		}
		return 1 - (within-sum)/total
	}
	// Pairs of even and odd lags. The last one that is looked at closes the sum by
	// its even lag alone, if that is positive.
	pairs := []float64{}
	even, odd := 1.0, rho(1)
	last := even
	for lag := 0; ; {
		sum := even + odd
		if sum <= 0 || math.IsNaN(sum) || lag >= n-5 {
			last = max(even, 0)
			break
		}
		pairs = append(pairs, sum)
		lag += 2
		even, odd = rho(lag), rho(lag+1)
	}
	tau := -1 + last
	for i, p := range pairs {
		if i > 0 {
			p = min(p, pairs[i-1])
			pairs[i] = p
		}
		tau += 2 * p
	}
	size := float64(m * n)
	return size / max(tau, 1/math.Log10(size))
}
