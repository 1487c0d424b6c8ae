package plantfigure

// otsu is the bin after which a histogram is cut so that the variance between both
// classes is greatest, and the share of all variance that lies between them. A
// histogram of one value has share 0. Of equal best cuts it is the middle one.
//
// Source: Otsu1979.
func otsu(hist []int) (cut int, share float64) {
	n, sum, square := 0.0, 0.0, 0.0
	for i, c := range hist {
		n += float64(c)
		sum += float64(i) * float64(c)
		square += float64(i) * float64(i) * float64(c)
	}
	if n == 0 {
		return 0, 0
	}
	total := square/n - sum/n*sum/n
	best, first, last := 0.0, 0, 0
	n0, sum0 := 0.0, 0.0
	for i, c := range hist[:len(hist)-1] {
		n0 += float64(c)
		sum0 += float64(i) * float64(c)
		if n0 == 0 || n0 == n {
			continue
		}
		d := sum0/n0 - (sum-sum0)/(n-n0)
		between := n0 / n * (1 - n0/n) * d * d
		switch {
		case between > best*(1+1e-12):
			best, first, last = between, i, i
		case between >= best*(1-1e-12):
			last = i
		}
	}
	if total <= 0 {
		return 0, 0
	}
	return (first + last) / 2, best / total
}

// quantile is the bin of a histogram that holds a share of the counts in [from, to).
func quantile(hist []int, from, to int, share float64) int {
	n := 0
	for _, c := range hist[from:to] {
		n += c
	}
	want := share * float64(n)
	seen := 0.0
	for i := from; i < to; i++ {
		seen += float64(hist[i])
		if seen >= want && hist[i] > 0 {
			return i
		}
	}
	return from
}
