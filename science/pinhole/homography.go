package pinhole

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Point of a plane, mm, or of a photo, pixels.
type Point struct{ X, Y float64 }

// A Homography takes points of one plane to another: (x, y, 1) times the matrix, divided by
// its third.
type Homography [3][3]float64

// Apply takes a point over. Points on the horizon come out infinite.
func (h *Homography) Apply(p Point) Point {
	w := h[2][0]*p.X + h[2][1]*p.Y + h[2][2]
	return Point{(h[0][0]*p.X + h[0][1]*p.Y + h[0][2]) / w, (h[1][0]*p.X + h[1][1]*p.Y + h[1][2]) / w}
}

// Times is h·o: o is applied first.
func (h Homography) Times(o Homography) (out Homography) {
	for i := range out {
		for j := range out[i] {
			out[i][j] = h[i][0]*o[0][j] + h[i][1]*o[1][j] + h[i][2]*o[2][j]
		}
	}
	return out
}

// Inverse takes points back. Its entries are not finite if there is none.
func (h Homography) Inverse() (out Homography) {
	d := h[0][0]*(h[1][1]*h[2][2]-h[1][2]*h[2][1]) - h[0][1]*(h[1][0]*h[2][2]-h[1][2]*h[2][0]) + h[0][2]*(h[1][0]*h[2][1]-h[1][1]*h[2][0])
	for i := range out {
		for j := range out[i] {
			a, b, c, e := (j+1)%3, (j+2)%3, (i+1)%3, (i+2)%3
			out[i][j] = (h[a][c]*h[b][e] - h[a][e]*h[b][c]) / d
		}
	}
	return out
}

// Jacobian is how a small step of one mm along x or y moves the point: columns ∂/∂x, ∂/∂y.
func (h *Homography) Jacobian(p Point) (j [2][2]float64) {
	w := h[2][0]*p.X + h[2][1]*p.Y + h[2][2]
	q := h.Apply(p)
	for k := range 2 {
		j[0][k] = (h[0][k] - q.X*h[2][k]) / w
		j[1][k] = (h[1][k] - q.Y*h[2][k]) / w
	}
	return j
}

// ErrPoints says that points do not make a plane: fewer than four, or three of four on one
// line.
var ErrPoints = errors.New("the points do not fix a plane: four are needed, no three of them on one line")

// Estimate is the homography that takes each of from to its to: the normalised direct
// linear transform (HartleyZisserman2004, algorithm 4.2), exact for four points, of least
// algebraic error for more. Scaled to a last entry of 1 where that is not near 0. It panics
// if the lengths differ.
func Estimate(from, to []Point) (Homography, error) {
	if len(from) != len(to) {
		panic(fmt.Sprintf("pinhole: Estimate: %d points to %d", len(from), len(to)))
	}
	if len(from) < 4 {
		return Homography{}, ErrPoints
	}
	a, na := normalised(from)
	b, nb := normalised(to)
	rows := mat.NewDense(max(9, 2*len(from)), 9, nil) // rows of 0 so that all nine vectors come out
	for i := range a {
		x, y, u, v := a[i].X, a[i].Y, b[i].X, b[i].Y
		rows.SetRow(2*i, []float64{0, 0, 0, -x, -y, -1, v * x, v * y, v})
		rows.SetRow(2*i+1, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y, -u})
	}
	var svd mat.SVD
	if !svd.Factorize(rows, mat.SVDThinV) {
		return Homography{}, ErrPoints
	}
	s := svd.Values(nil)
	if !(s[7] > 1e-9*s[0]) { // a second vector that fits as well
		return Homography{}, ErrPoints
	}
	var vs mat.Dense
	svd.VTo(&vs)
	var h Homography
	for i := range 9 {
		h[i/3][i%3] = vs.At(i, 8)
	}
	h = nb.Inverse().Times(h).Times(na)
	if k := h[2][2]; math.Abs(k) > 1e-12 {
		for i := range h {
			for j := range h[i] {
				h[i][j] /= k
			}
		}
	}
	return h, nil
}

// normalised moves points to a centre of 0 and a mean distance of √2 from it, and says by
// which similarity.
func normalised(p []Point) ([]Point, Homography) {
	var cx, cy, d float64
	for _, q := range p {
		cx += q.X / float64(len(p))
		cy += q.Y / float64(len(p))
	}
	for _, q := range p {
		d += math.Hypot(q.X-cx, q.Y-cy) / float64(len(p))
	}
	k := math.Sqrt2 / d
	if d == 0 {
		k = 1
	}
	out := make([]Point, len(p))
	for i, q := range p {
		out[i] = Point{k * (q.X - cx), k * (q.Y - cy)}
	}
	return out, Homography{{k, 0, -k * cx}, {0, k, -k * cy}, {0, 0, 1}}
}

// Refine makes the sum of squared distances of the points in the second plane least, from a
// homography near to it, by Levenberg-Marquardt over its eight ratios.
func (h Homography) Refine(from, to []Point) Homography {
	p := make([]float64, 8)
	for i := range p {
		p[i] = h[i/3][i%3] / h[2][2]
	}
	of := func(p []float64) Homography {
		return Homography{{p[0], p[1], p[2]}, {p[3], p[4], p[5]}, {p[6], p[7], 1}}
	}
	levenberg(p, 2*len(from), func(p, r []float64) {
		h := of(p)
		for i := range from {
			q := h.Apply(from[i])
			r[2*i], r[2*i+1] = q.X-to[i].X, q.Y-to[i].Y
		}
	})
	return of(p)
}

// levenberg makes the sum of squares of n residuals least over p, in place, and gives the
// last JᵀJ (row by row) and the sum.
func levenberg(p []float64, n int, residuals func(p, r []float64)) (jtj []float64, sum float64) {
	m := len(p)
	r, r2, j := make([]float64, n), make([]float64, n), make([]float64, n*m)
	square := func(r []float64) (s float64) {
		for _, v := range r {
			s += v * v
		}
		return s
	}
	slopes := func() {
		for k := range m {
			step := 1e-6 * max(math.Abs(p[k]), 1e-3)
			keep := p[k]
			p[k] = keep + step
			residuals(p, r2)
			for i := range r2 {
				j[i*m+k] = r2[i]
			}
			p[k] = keep - step
			residuals(p, r2)
			for i := range r2 {
				j[i*m+k] = (j[i*m+k] - r2[i]) / (2 * step)
			}
			p[k] = keep
		}
	}
	residuals(p, r)
	sum = square(r)
	jtj = make([]float64, m*m)
	damp := 1e-3
	q := make([]float64, m)
	for range 60 {
		slopes()
		g := make([]float64, m)
		clear(jtj)
		for i := range n {
			for a := range m {
				g[a] -= j[i*m+a] * r[i]
				for b := range m {
					jtj[a*m+b] += j[i*m+a] * j[i*m+b]
				}
			}
		}
		better := false
		for range 12 {
			a := mat.NewSymDense(m, append([]float64(nil), jtj...))
			for k := range m {
				a.SetSym(k, k, a.At(k, k)*(1+damp)+1e-300)
			}
			var chol mat.Cholesky
			if chol.Factorize(a) {
				var d mat.VecDense
				if err := chol.SolveVecTo(&d, mat.NewVecDense(m, g)); err == nil || isCondition(err) {
					for k := range m {
						q[k] = p[k] + d.AtVec(k)
					}
					residuals(q, r2)
					if s := square(r2); s < sum {
						done := sum-s < 1e-12*sum+1e-24
						copy(p, q)
						copy(r, r2)
						sum, better, damp = s, !done, damp/5
						break
					}
				}
			}
			damp *= 4
		}
		if !better {
			break
		}
	}
	return jtj, sum
}

// isCondition says that a solution was found though its digits are few.
func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c)
}
