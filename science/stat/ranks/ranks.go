package ranks

import (
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// Of returns the ranks of values, from 1; ties share their mean.
func Of(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	r := make([]float64, len(values))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			r[order[k]] = float64(i+j+1) / 2
		}
		i = j
	}
	return r
}

// ties returns how many values share each value that occurs.
func ties(values []float64) []float64 {
	s := slices.Clone(values)
	slices.Sort(s)
	var out []float64
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		out = append(out, float64(j-i))
		i = j
	}
	return out
}

func twoLevels(f stat.Factor) error {
	if len(f.Levels) < 2 {
		return stat.Refuse("a comparison of "+f.Name, "there is only one level")
	}
	return nil
}

// KruskalWallis tests groups (KruskalWallis1952).
func KruskalWallis(values []float64, group stat.Factor) (stat.Test, error) {
	if err := stat.Check(values, group); err != nil {
		return stat.Test{}, err
	}
	if err := twoLevels(group); err != nil {
		return stat.Test{}, err
	}
	n := float64(len(values))
	r := Of(values)
	var h float64
	for _, g := range group.Split(r) {
		var sum float64
		for _, x := range g {
			sum += x
		}
		if len(g) > 0 {
			h += sum * sum / float64(len(g))
		}
	}
	h = 12*h/(n*(n+1)) - 3*(n+1)
	var t3 float64
	for _, t := range ties(values) {
		t3 += t*t*t - t
	}
	c := 1 - t3/(n*n*n-n)
	if !(c > 0) {
		return stat.Test{}, stat.Refuse("a test between the levels of "+group.Name, "all units have the same value")
	}
	h /= c
	df := float64(len(group.Levels) - 1)
	return stat.Test{Statistic: h, DF1: df, P: dist.ChiSquareUpper(h, df)}, nil
}

// Friedman tests treatments in complete blocks.
func Friedman(values []float64, treatment, block stat.Factor) (stat.Test, error) {
	if err := stat.Check(values, treatment, block); err != nil {
		return stat.Test{}, err
	}
	if err := twoLevels(treatment); err != nil {
		return stat.Test{}, err
	}
	k, b := len(treatment.Levels), len(block.Levels)
	cell := make([][]float64, b)
	filled := 0
	for j := range cell {
		cell[j] = make([]float64, k)
		for i := range cell[j] {
			cell[j][i] = math.Inf(1)
		}
	}
	for i, v := range values {
		c := &cell[block.Of[i]][treatment.Of[i]]
		if math.IsInf(*c, 1) {
			filled++
		}
		*c = v
	}
	if filled != k*b || len(values) != k*b {
		return stat.Test{}, stat.Refuse("the test of Friedman", "not every block holds every level of %s once", treatment.Name)
	}
	sum := make([]float64, k)
	var t3 float64
	for _, row := range cell {
		for i, r := range Of(row) {
			sum[i] += r
		}
		for _, t := range ties(row) {
			t3 += t*t*t - t
		}
	}
	kk, bb := float64(k), float64(b)
	var s float64
	for _, r := range sum {
		d := r - bb*(kk+1)/2
		s += d * d
	}
	den := bb*kk*(kk+1) - t3/(kk-1)
	if !(den > 0) {
		return stat.Test{}, stat.Refuse("the test of Friedman", "the values within each block are all the same")
	}
	q := 12 * s / den
	return stat.Test{Statistic: q, DF1: kk - 1, P: dist.ChiSquareUpper(q, kk-1)}, nil
}

// Jonckheere tests a trend of values over the levels in their order, up or down;
// the statistic is the normal deviate, above 0 if values rise.
func Jonckheere(values []float64, levels stat.Factor) (stat.Test, error) {
	if err := stat.Check(values, levels); err != nil {
		return stat.Test{}, err
	}
	if err := twoLevels(levels); err != nil {
		return stat.Test{}, err
	}
	groups := levels.Split(values)
	N := float64(len(values))
	var j float64
	for a := range groups {
		for b := a + 1; b < len(groups); b++ {
			for _, x := range groups[a] {
				for _, y := range groups[b] {
					switch {
					case x < y:
						j++
					case x == y:
						j += 0.5
					}
				}
			}
		}
	}
	sums := func(ns []float64) (s2, a, b, c float64) {
		for _, n := range ns {
			s2 += n * n
			a += n * (n - 1) * (2*n + 5)
			b += n * (n - 1) * (n - 2)
			c += n * (n - 1)
		}
		return
	}
	ns := make([]float64, len(groups))
	for i := range groups {
		ns[i] = float64(len(groups[i]))
	}
	s2, an, bn, cn := sums(ns)
	_, at, bt, ct := sums(ties(values))
	mean := (N*N - s2) / 4
	v := (N*(N-1)*(2*N+5)-an-at)/72 + cn*ct/(8*N*(N-1))
	if N > 2 {
		v += bn * bt / (36 * N * (N - 1) * (N - 2))
	}
	if !(v > 0) {
		return stat.Test{}, stat.Refuse("a trend over "+levels.Name, "all units have the same value")
	}
	z := (j - mean) / math.Sqrt(v)
	return stat.Test{Statistic: z, DF2: math.Inf(1), P: dist.NormalTwoSided(z)}, nil
}

// Superiority estimates the chance that a value of b exceeds one of a, ties by
// half (BrunnerMunzel2000), with t limits; P tests that it is a half.
func Superiority(name string, a, b []float64, level float64) (stat.Estimate, error) {
	if err := stat.Check(slices.Concat(a, b)); err != nil {
		return stat.Estimate{}, err
	}
	m, n := float64(len(a)), float64(len(b))
	if m < 2 || n < 2 {
		return stat.Estimate{}, stat.Refuse("the chance that one group exceeds the other", "a group has fewer than two units")
	}
	all := Of(slices.Concat(a, b))
	ra, rb := all[:len(a)], all[len(a):]
	ia, ib := Of(a), Of(b)
	mean := func(r []float64) float64 {
		var s float64
		for _, x := range r {
			s += x / float64(len(r))
		}
		return s
	}
	ma, mb := mean(ra), mean(rb)
	spread := func(r, own []float64, m float64) float64 {
		k := float64(len(r))
		var s float64
		for i := range r {
			d := r[i] - own[i] - m + (k+1)/2
			s += d * d / (k - 1)
		}
		return s
	}
	va, vb := spread(ra, ia, ma), spread(rb, ib, mb)
	if va+vb == 0 {
		return stat.Estimate{}, stat.Refuse("the limits of the chance that one group exceeds the other", "the groups do not overlap at all, or all values are the same")
	}
	p := (mb - (n+1)/2) / m
	se := math.Sqrt(va/(m*n*n) + vb/(n*m*m))
	df := (m*va + n*vb) * (m*va + n*vb) / (m*va*m*va/(m-1) + n*vb*n*vb/(n-1))
	t := (p - 0.5) / se
	half := dist.TQuantile((1+level)/2, df) * se
	return stat.Estimate{Name: name, Value: p, SE: se, DF: df, T: t, P: dist.TTwoSided(t, df),
		Interval: stat.Interval{Lower: math.Max(0, p-half), Upper: math.Min(1, p+half), Level: level}}, nil
}

// SuperiorityInUnits is [Superiority] for subsamples within units: a[i] and b[i] hold those
// of a unit. The chance is that of two subsamples; its error comes from the units' sums
// (Obuchowski1997), so that subsamples add no degrees of freedom. Units of one subsample
// each give Superiority.
func SuperiorityInUnits(name string, a, b [][]float64, level float64) (stat.Estimate, error) {
	what := "the chance that one group exceeds the other"
	if len(a) < 2 || len(b) < 2 {
		return stat.Estimate{}, stat.Refuse(what, "a group has fewer than two units")
	}
	for _, u := range slices.Concat(a, b) {
		if len(u) == 0 {
			return stat.Estimate{}, stat.Refuse(what, "a unit is empty")
		}
	}
	x, y := slices.Concat(a...), slices.Concat(b...)
	if err := stat.Check(slices.Concat(x, y)); err != nil {
		return stat.Estimate{}, err
	}
	m, n := float64(len(x)), float64(len(y))
	slices.Sort(x)
	slices.Sort(y)
	// below is the number of sorted values under v, those equal by half.
	below := func(s []float64, v float64) float64 {
		lo, _ := slices.BinarySearch(s, v)
		hi := lo
		for hi < len(s) && s[hi] == v {
			hi++
		}
		return float64(lo) + float64(hi-lo)/2
	}
	var p float64
	for _, v := range y {
		p += below(x, v) / (m * n)
	}
	spread := func(units [][]float64, place func(v float64) float64) float64 {
		k := float64(len(units))
		var s float64
		for _, u := range units {
			var d float64
			for _, v := range u {
				d += place(v) - p
			}
			s += d * d
		}
		return k / (k - 1) * s
	}
	va := spread(a, func(v float64) float64 { return 1 - below(y, v)/n }) / (m * m)
	vb := spread(b, func(v float64) float64 { return below(x, v) / m }) / (n * n)
	if !(va+vb > 0) {
		return stat.Estimate{}, stat.Refuse("an interval of "+what, "the units show no scatter: the groups do not overlap at all, or all values are the same")
	}
	se := math.Sqrt(va + vb)
	df := (va + vb) * (va + vb) / (va*va/(float64(len(a))-1) + vb*vb/(float64(len(b))-1))
	t := (p - 0.5) / se
	half := dist.TQuantile((1+level)/2, df) * se
	return stat.Estimate{Name: name, Value: p, SE: se, DF: df, T: t, P: dist.TTwoSided(t, df),
		Interval: stat.Interval{Lower: math.Max(0, p-half), Upper: math.Min(1, p+half), Level: level}}, nil
}
