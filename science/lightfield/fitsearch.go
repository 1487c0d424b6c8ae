package lightfield

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// freedom is ν of the t distribution of readings: heavy tails, finite variance
// (LangeLittleTaylor1989 use 4 in their examples).
const freedom = 4

// An estimate is one outcome of the search.
type estimate struct {
	theta []float64
	cost  float64
	sd    []float64 // of each reading
	cov   *mat.SymDense
	near  vicinity
}

// A vicinity is what the readings look like close to an estimate.
type vicinity struct {
	res, sd []float64
	jac     *mat.Dense
}

// search fits from several starts and keeps the best: the label, and for up to
// nine readings the flux that this reading alone asks for.
func (p problem) search(lay layout, t *table) estimate {
	n := lay.count()
	zero := make([]float64, n)
	var implied []float64
	at := t.weights(lay, zero)
	for i, r := range p.readings {
		implied = append(implied, math.Log(float64(r.PPFD)/t.light(lay, zero, at, 7*i, r.Dimming, nil)))
	}
	slices.Sort(implied)
	starts := [][]float64{zero}
	const most = 9
	picked := min(len(implied), most)
	for i := range picked {
		v := implied[0]
		if picked > 1 {
			v = implied[i*(len(implied)-1)/(picked-1)]
		}
		th := make([]float64, n)
		for g := range lay.groups {
			th[g] = v
		}
		starts = append(starts, th)
	}
	best := estimate{cost: math.Inf(1)}
	for _, start := range starts {
		// The spreads depend a little on the beam: settle them in a second round.
		e := p.descend(lay, t, start, p.spreads(lay, t, start))
		sd := p.spreads(lay, t, e.theta)
		e = p.descend(lay, t, e.theta, sd)
		e.sd = sd
		if e.cost < best.cost-1e-9 {
			best = e
		}
	}
	best.cov, best.near = p.covariance(lay, t, best)
	return best
}

// residuals returns ln(reading/model) of each reading, and the derivatives of ln
// model if jac is not nil.
func (p problem) residuals(lay layout, t *table, th []float64, jac *mat.Dense) []float64 {
	out := make([]float64, len(p.readings))
	var row []float64
	at := t.weights(lay, th)
	for i, r := range p.readings {
		if jac != nil {
			row = jac.RawRowView(i)
		}
		e := t.light(lay, th, at, 7*i, r.Dimming, row)
		e = max(e, 1e-12)
		out[i] = math.Log(float64(r.PPFD)/e) - th[lay.meter()]
		for j := range row {
			row[j] /= e
		}
		if row != nil {
			row[lay.meter()] = 1
		}
	}
	return out
}

// cost is minus the logarithm of the posterior density, up to a constant.
func (p problem) cost(lay layout, res, sd, th []float64) float64 {
	sum := 0.0
	for i, r := range res {
		z := r / sd[i]
		sum += (freedom + 1) / 2.0 * math.Log1p(z*z/freedom)
	}
	for j, v := range th {
		sum += v * v / (2 * lay.sd[j] * lay.sd[j])
	}
	return sum
}

// descend is Levenberg-Marquardt with the weights (ν+1)/(ν+z²) of the t
// distribution renewed in every step.
func (p problem) descend(lay layout, t *table, start, sd []float64) estimate {
	n := lay.count()
	th := append([]float64(nil), start...)
	jac := mat.NewDense(max(len(p.readings), 1), n, nil)
	lambda := 1e-3
	res := p.residuals(lay, t, th, jac)
	cost := p.cost(lay, res, sd, th)
	for range 100 {
		h, g := information(lay, jac, res, sd, th, false)
		moved := false
		for range 12 {
			damped := mat.NewSymDense(n, nil)
			damped.CopySym(h)
			for j := range n {
				damped.SetSym(j, j, h.At(j, j)*(1+lambda))
			}
			var chol mat.Cholesky
			var step mat.VecDense
			if chol.Factorize(damped) && chol.SolveVecTo(&step, g) == nil {
				next := make([]float64, n)
				for j := range next {
					next[j] = th[j] + step.AtVec(j)
					if b := lay.bound(j); b > 0 {
						next[j] = clamp(next[j], -b, b)
					}
				}
				r := p.residuals(lay, t, next, nil)
				if c := p.cost(lay, r, sd, next); c < cost {
					moved = cost-c > 1e-10
					th, cost = next, c
					lambda = max(lambda/5, 1e-9)
					break
				}
			}
			lambda *= 4
		}
		if !moved {
			break
		}
		res = p.residuals(lay, t, th, jac)
	}
	return estimate{theta: th, cost: cost}
}

// information is JᵀWJ plus that of the prior, and the downhill direction. With
// expected set, weights are scaled to the mean information of the t distribution,
// (ν+1)/(ν+3) for a reading without doubt, instead of its curvature at 0.
func information(lay layout, jac *mat.Dense, res, sd, th []float64, expected bool) (*mat.SymDense, *mat.VecDense) {
	n := lay.count()
	h, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, r := range res {
		z := r / sd[i]
		w := (freedom + 1) / (freedom + z*z)
		if expected {
			w *= freedom / (freedom + 3.0)
		}
		w /= sd[i] * sd[i]
		row := jac.RawRowView(i)
		for j, a := range row {
			g.SetVec(j, g.AtVec(j)+w*a*r)
			for k := j; k < n; k++ {
				h.SetSym(j, k, h.At(j, k)+w*a*row[k])
			}
		}
	}
	for j, v := range th {
		w := 1 / (lay.sd[j] * lay.sd[j])
		g.SetVec(j, g.AtVec(j)-w*v)
		h.SetSym(j, j, h.At(j, j)+w)
	}
	return h, g
}

func (p problem) covariance(lay layout, t *table, e estimate) (*mat.SymDense, vicinity) {
	jac := mat.NewDense(max(len(p.readings), 1), lay.count(), nil)
	res := p.residuals(lay, t, e.theta, jac)
	h, _ := information(lay, jac, res, e.sd, e.theta, true)
	cov := mat.NewSymDense(lay.count(), nil)
	var chol mat.Cholesky
	if !chol.Factorize(h) || chol.InverseTo(cov) != nil {
		// The prior keeps h positive definite; only overflow leads here.
		for j, sd := range lay.sd {
			cov.SetSym(j, j, sd*sd)
		}
	}
	return cov, vicinity{res, e.sd, jac}
}
