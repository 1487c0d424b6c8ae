package posterior

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// A cloud is a Student distribution of several coordinates around the states of an
// archive. A jump to a draw of it forgets where the chain was; near-normal posteriors
// take about half of such jumps, crooked ones few.
type cloud struct {
	mean []float64
	chol mat.TriDense // lower factor of the scale
}

// Constants of the cloud.
const (
	cloudFreedom = 5.0 // degrees of freedom: tails heavier than those of the posterior
	cloudShare   = 0.3 // share of the steps of the kept part
)

// newCloud fits a cloud; nil if the states lie in fewer dimensions.
func newCloud(states [][]float64) *cloud {
	n, d := len(states), len(states[0])
	if n < 5*d {
		return nil
	}
	c := &cloud{mean: make([]float64, d)}
	for _, x := range states {
		for i, v := range x {
			c.mean[i] += v / float64(n)
		}
	}
	cov := mat.NewSymDense(d, nil)
	for _, x := range states {
		for i := range d {
			for j := range i + 1 {
				cov.SetSym(i, j, cov.At(i, j)+(x[i]-c.mean[i])*(x[j]-c.mean[j])/float64(n-1))
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return nil
	}
	chol.LTo(&c.chol)
	return c
}

// draw writes a draw into y.
func (c *cloud) draw(y []float64, rng *rand.Rand) {
	d := len(c.mean)
	z := make([]float64, d)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	chi := 0.0
	for range int(cloudFreedom) {
		g := rng.NormFloat64()
		chi += g * g
	}
	f := math.Sqrt(cloudFreedom / chi)
	for i := range y {
		y[i] = c.mean[i]
		for j := range i + 1 {
			y[i] += f * c.chol.At(i, j) * z[j]
		}
	}
}

// logDensity is that of the cloud, up to a constant.
func (c *cloud) logDensity(x []float64) float64 {
	d := len(c.mean)
	z := make([]float64, d)
	q := 0.0
	for i := range z {
		z[i] = x[i] - c.mean[i]
		for j := range i {
			z[i] -= c.chol.At(i, j) * z[j]
		}
		z[i] /= c.chol.At(i, i)
		q += z[i] * z[i]
	}
	return -(cloudFreedom + float64(d)) / 2 * math.Log1p(q/cloudFreedom)
}
