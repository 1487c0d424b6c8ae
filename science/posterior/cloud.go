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
	mean  []float64
	chol  mat.TriDense // lower factor of the scale
	share float64      // of the steps that jump
}

// Constants of the cloud. How often chains jump within it follows from how often they
// could in the second half of the warm-up.
const (
	cloudTrial   = 0.5 // share of jumps while it is tried
	cloudLeast   = 0.1
	cloudMost    = 0.7
	cloudFactor  = 1.5 // share of jumps for each share of them that is taken
	cloudFreedom = 5.0 // degrees of freedom: tails heavier than those of the posterior
)

// newCloud fits a cloud for a share of the steps; nil if the states lie in fewer dimensions.
func newCloud(states [][]float64, share float64) *cloud {
	n, d := len(states), len(states[0])
	if n < 5*d {
		return nil
	}
	c := &cloud{mean: make([]float64, d), share: share}
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

// jump writes into y a step from x that is reversible for the cloud. A Student
// distribution is a mixture of normals of all widths: the width is drawn given x, the
// place given the width. So a chain that is far out keeps a wide reach.
func (c *cloud) jump(y, x []float64, rng *rand.Rand) {
	d := len(c.mean)
	// The width given x has (ν + q)/χ² with ν + d degrees of freedom.
	chi := 0.0
	for range int(cloudFreedom) + d {
		g := rng.NormFloat64()
		chi += g * g
	}
	f := math.Sqrt((cloudFreedom + c.distance(x)) / chi)
	z := make([]float64, d)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	for i := range y {
		y[i] = c.mean[i]
		for j := range i + 1 {
			y[i] += f * c.chol.At(i, j) * z[j]
		}
	}
}

// distance is the squared distance from the centre in units of the scale.
func (c *cloud) distance(x []float64) float64 {
	z := make([]float64, len(c.mean))
	q := 0.0
	for i := range z {
		z[i] = x[i] - c.mean[i]
		for j := range i {
			z[i] -= c.chol.At(i, j) * z[j]
		}
		z[i] /= c.chol.At(i, i)
		q += z[i] * z[i]
	}
	return q
}

// logDensity is that of the cloud, up to a constant.
func (c *cloud) logDensity(x []float64) float64 {
	return -(cloudFreedom + float64(len(c.mean))) / 2 * math.Log1p(c.distance(x)/cloudFreedom)
}
