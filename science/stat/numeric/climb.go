package numeric

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Rise solves −H step = u over the first n coordinates, with as much added to the
// diagonal as makes the step go up; gain is step·u. Where u or h is not finite there is no step.
func Rise(u []float64, h mat.Symmetric, n int) (step []float64, gain float64) {
	for ridge := 0.0; ; ridge = math.Max(1e-6, 10*ridge) {
		a := mat.NewSymDense(n, nil)
		for i := range n {
			for j := i; j < n; j++ {
				a.SetSym(i, j, -h.At(i, j))
			}
			a.SetSym(i, i, a.At(i, i)+ridge*(1+math.Abs(h.At(i, i))))
		}
		if ridge > 1e12 {
			return make([]float64, n), 0
		}
		var chol mat.Cholesky
		if !chol.Factorize(a) {
			continue
		}
		v := mat.NewVecDense(n, append([]float64(nil), u[:n]...))
		var x mat.VecDense
		if err := chol.SolveVecTo(&x, v); err != nil {
			continue
		}
		return x.RawVector().Data, mat.Dot(&x, v)
	}
}

// A Curve returns a function with slope and curvature; ok is false where it is not
// defined.
type Curve func(q []float64) (value float64, u []float64, h *mat.SymDense, ok bool)

// Climb finds a maximum by Newton steps that are made to rise. settled is false if it
// runs on without end, as a likelihood without a maximum does.
func Climb(f Curve, start []float64) (q []float64, value float64, h *mat.SymDense, settled bool) {
	q = append([]float64(nil), start...)
	value, u, h, ok := f(q)
	if !ok {
		return q, value, h, false
	}
	for range 200 {
		step, gain := Rise(u, h, len(q))
		if gain < 1e-12 {
			// The value tells no more; one whole step squares what is left of the error.
			next := append([]float64(nil), q...)
			for i := range next {
				next[i] += step[i]
			}
			if v, _, h2, ok := f(next); ok && v > value-1e-9 {
				q, value, h = next, v, h2
			}
			return q, value, h, true
		}
		scale, moved := 1.0, false
		for range 60 {
			next := append([]float64(nil), q...)
			for i := range next {
				next[i] += scale * step[i]
			}
			if v, u2, h2, ok := f(next); ok && v >= value {
				q, value, u, h = next, v, u2, h2
				moved = true
				break
			}
			scale /= 2
		}
		if !moved {
			return q, value, h, gain < 1e-9
		}
	}
	return q, value, h, false
}

// Inverse returns the inverse of −h, or false if −h is not positive definite.
func Inverse(h *mat.SymDense) ([][]float64, bool) {
	n := h.SymmetricDim()
	neg := mat.NewSymDense(n, nil)
	neg.ScaleSym(-1, h)
	var chol mat.Cholesky
	var inv mat.SymDense
	if !chol.Factorize(neg) || chol.InverseTo(&inv) != nil {
		return nil, false
	}
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			out[i][j] = inv.At(i, j)
		}
	}
	return out, true
}

// Sandwich is the covariance of estimates whose scores come in clusters:
// factor · C (Σ u uᵀ) C, with C the covariance as if all scores were independent, and
// u the sum of the scores of a cluster.
func Sandwich(cov, sums [][]float64, factor float64) [][]float64 {
	out := make([][]float64, len(cov))
	for a := range out {
		out[a] = make([]float64, len(cov))
	}
	v := make([]float64, len(cov))
	for _, u := range sums {
		for a := range v {
			v[a] = 0
			for b := range u {
				v[a] += cov[a][b] * u[b]
			}
		}
		for a := range v {
			for b := range v {
				out[a][b] += factor * v[a] * v[b]
			}
		}
	}
	return out
}
