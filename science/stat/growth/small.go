package growth

import "math"

// cholesky returns the lower triangle R with R Rᵀ = a over the first n coordinates.
func cholesky(a mat, n int) (r mat, ok bool) {
	for i := range n {
		for j := range i + 1 {
			s := a[i][j]
			for k := range j {
				s -= r[i][k] * r[j][k]
			}
			if i == j {
				if !(s > 0) || math.IsInf(s, 0) {
					return r, false
				}
				r[i][i] = math.Sqrt(s)
			} else {
				r[i][j] = s / r[j][j]
			}
		}
	}
	return r, true
}

// solve is (R Rᵀ)⁻¹ b.
func (r *mat) solve(b vec, n int) (x vec) {
	for i := range n {
		s := b[i]
		for k := range i {
			s -= r[i][k] * x[k]
		}
		x[i] = s / r[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		s := x[i]
		for k := i + 1; k < n; k++ {
			s -= r[k][i] * x[k]
		}
		x[i] = s / r[i][i]
	}
	return x
}

// inverse is (R Rᵀ)⁻¹.
func (r *mat) inverse(n int) (x mat) {
	for j := range n {
		var e vec
		e[j] = 1
		c := r.solve(e, n)
		for i := range n {
			x[i][j] = c[i]
		}
	}
	return x
}

func (r *mat) logDet(n int) (s float64) {
	for i := range n {
		s += 2 * math.Log(r[i][i])
	}
	return s
}

func mul(a, b *mat, n int) (c mat) {
	for i := range n {
		for j := range n {
			for k := range n {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

// mulT is a bᵀ.
func mulT(a, b *mat, n int) (c mat) {
	for i := range n {
		for j := range n {
			for k := range n {
				c[i][j] += a[i][k] * b[j][k]
			}
		}
	}
	return c
}

// tMul is aᵀ b.
func tMul(a, b *mat, n int) (c mat) {
	for i := range n {
		for j := range n {
			for k := range n {
				c[i][j] += a[k][i] * b[k][j]
			}
		}
	}
	return c
}

func (a *mat) times(x vec, n int) (y vec) {
	for i := range n {
		for k := range n {
			y[i] += a[i][k] * x[k]
		}
	}
	return y
}

// tTimes is aᵀ x.
func (a *mat) tTimes(x vec, n int) (y vec) {
	for i := range n {
		for k := range n {
			y[i] += a[k][i] * x[k]
		}
	}
	return y
}
