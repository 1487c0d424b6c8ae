package linear

import (
	"math"

	"underlamp/science/stat"
)

// Means are the means of the levels of a factor with their joint covariance.
type Means struct {
	Factor string
	Levels []string
	N      []int // units behind each
	Value  []float64
	Cov    [][]float64 // covariance of the means, error variance included
	DF     float64     // of the error variance
}

// Means returns the adjusted means of a factor of the model, or a refusal.
func (f *Fit) Means(factor stat.Factor) (Means, error) {
	m := Means{Factor: factor.Name, Levels: factor.Levels, N: factor.Counts(), DF: float64(f.DF)}
	s2, err := f.Variance()
	if err != nil {
		return m, err
	}
	var ls [][]float64
	for k := range factor.Levels {
		l := f.Vector(map[string]int{factor.Name: k})
		v, err := f.Value(l)
		if err != nil {
			return m, err
		}
		ls = append(ls, l)
		m.Value = append(m.Value, v)
	}
	for _, a := range ls {
		var row []float64
		for _, b := range ls {
			row = append(row, s2*f.Covariance(a, b))
		}
		m.Cov = append(m.Cov, row)
	}
	return m, nil
}

// Each returns the means with t limits.
func (m Means) Each(level float64) ([]stat.Estimate, error) {
	var out []stat.Estimate
	for k, name := range m.Levels {
		e, err := TEstimate(name, m.Value[k], math.Sqrt(m.Cov[k][k]), m.DF, level)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, nil
}

// Contrast returns Σ c·mean with t limits.
func (m Means) Contrast(name string, c []float64, level float64) (stat.Estimate, error) {
	var v, s2 float64
	for i, x := range c {
		v += x * m.Value[i]
		for j, y := range c {
			s2 += x * y * m.Cov[i][j]
		}
	}
	return TEstimate(name, v, math.Sqrt(math.Max(0, s2)), m.DF, level)
}

// Orthogonal returns the orthogonal polynomials of degree 1 to degree over the
// levels x, each of unit length: the coefficients of a trend with the true
// spacing. The sign is such that the last level has a coefficient above 0. The
// levels must differ.
func Orthogonal(x []float64, degree int) [][]float64 {
	n := len(x)
	var mean float64
	for _, v := range x {
		mean += v / float64(n)
	}
	one := make([]float64, n)
	for i := range one {
		one[i] = 1 / math.Sqrt(float64(n))
	}
	q := [][]float64{one}
	for d := 1; d <= degree && d < n; d++ {
		c := make([]float64, n)
		for i, v := range x {
			c[i] = (v - mean) * q[d-1][i]
		}
		for range 2 {
			for _, p := range q {
				axpy(c, -dot(p, c), p)
			}
		}
		s := norm(c)
		if c[n-1] < 0 {
			s = -s
		}
		for i := range c {
			c[i] /= s
		}
		q = append(q, c)
	}
	return q[1:]
}
