package growth

import (
	"math"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

func checkSizes(what string, sizes []float64) error {
	if err := stat.Check(sizes); err != nil {
		return err
	}
	zero := 0
	for _, w := range sizes {
		if w <= 0 {
			zero++
		}
	}
	if zero > 0 {
		return stat.Refuse(what, "%d of %d sizes are not above 0, and a logarithm of them does not exist", zero, len(sizes))
	}
	return nil
}

// Between is the relative growth rate between two harvests of different individuals,
// per unit of time: the difference of the means of the logarithms, not the logarithm of
// the means, with t limits from the scatter at both (HoffmannPoorter2002). The degrees of
// freedom are n1 + n2 − 2. It refuses sizes that are not above 0, times that do not rise,
// and harvests with too few individuals for a scatter.
func Between(t1 float64, first []float64, t2 float64, second []float64, level float64) (stat.Estimate, error) {
	what := "a relative growth rate"
	for _, s := range [][]float64{first, second, {t1*t1 + 1, t2*t2 + 1}} {
		if err := checkSizes(what, s); err != nil {
			return stat.Estimate{}, err
		}
	}
	n1, n2 := len(first), len(second)
	switch {
	case !(t2 > t1):
		return stat.Estimate{}, stat.Refuse(what, "there is no time between the two harvests")
	case n1 < 1 || n2 < 1:
		return stat.Estimate{}, stat.Refuse(what, "a harvest has no individuals")
	case n1 < 2 || n2 < 2:
		return stat.Estimate{}, stat.Refuse("the scatter of a relative growth rate", "a harvest has one individual")
	}
	m1, v1 := logs(first)
	m2, v2 := logs(second)
	d := t2 - t1
	e := stat.Estimate{Name: "relative growth rate", Value: (m2 - m1) / d, DF: float64(n1 + n2 - 2)}
	e.SE = math.Sqrt(v1/float64(n1)+v2/float64(n2)) / d
	return limited(e, level), nil
}

// logs are mean and variance of the logarithms.
func logs(sizes []float64) (mean, variance float64) {
	n := float64(len(sizes))
	for _, w := range sizes {
		mean += math.Log(w) / n
	}
	for _, w := range sizes {
		d := math.Log(w) - mean
		variance += d * d / (n - 1)
	}
	return mean, variance
}

// Slope is the relative growth rate of one individual, or of a group harvested piece by
// piece: the slope of the logarithm of the size over time, by least squares. With two
// values its standard error is 0 and its interval without limits. It refuses sizes that
// are not above 0 and fewer than two different times.
func Slope(t, sizes []float64, level float64) (stat.Estimate, error) {
	what := "a relative growth rate"
	if len(t) != len(sizes) {
		return stat.Estimate{}, stat.Refuse(what, "there are %d times and %d sizes", len(t), len(sizes))
	}
	if err := stat.Check(t); err != nil {
		return stat.Estimate{}, err
	}
	if err := checkSizes(what, sizes); err != nil {
		return stat.Estimate{}, err
	}
	n := float64(len(t))
	var mt, my, sxx, sxy float64
	// About the first values, so that sizes which do not differ give 0 and no rounding.
	x, y := make([]float64, len(t)), make([]float64, len(t))
	for i := range t {
		x[i], y[i] = t[i]-t[0], math.Log(sizes[i])-math.Log(sizes[0])
		mt, my = mt+x[i]/n, my+y[i]/n
	}
	for i := range t {
		sxx += (x[i] - mt) * (x[i] - mt)
		sxy += (x[i] - mt) * (y[i] - my)
	}
	if len(t) < 2 || !(sxx > 0) {
		return stat.Estimate{}, stat.Refuse(what, "there is only one time")
	}
	e := stat.Estimate{Name: "relative growth rate", Value: sxy / sxx, DF: n - 2}
	if n < 3 {
		e.Interval = stat.Interval{Lower: math.Inf(-1), Upper: math.Inf(1), Level: level}
		return e, nil
	}
	var rss float64
	for i := range t {
		r := y[i] - my - e.Value*(x[i]-mt)
		rss += r * r
	}
	e.SE = math.Sqrt(rss / (n - 2) / sxx)
	return limited(e, level), nil
}

// limited adds t limits and the test of 0.
func limited(e stat.Estimate, level float64) stat.Estimate {
	q := dist.TQuantile((1+level)/2, e.DF)
	e.Interval = stat.Interval{Lower: e.Value - q*e.SE, Upper: e.Value + q*e.SE, Level: level}
	if e.SE > 0 {
		e.T = e.Value / e.SE
		e.P = dist.TTwoSided(e.T, e.DF)
	}
	return e
}
