package lightaim

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Quadratic is a convex quadratic program,
//
//	minimise ½ Σ (Σ J·x − To)² + ½ Ridge Σ (x − Near)²
//	with Low ≤ x ≤ High and every Row held.
//
// J holds one slice for each square. The ridge, which must be above 0, settles
// what the squares leave open: of answers equally good, the one nearest to Near.
type Quadratic struct {
	J         [][]float64
	To        []float64
	Low, High []float64
	Rows      []Row
	Ridge     float64
	Near      []float64
}

// A QuadraticResult is the answer to a Quadratic.
type QuadraticResult struct {
	Status  Status // Optimal, Infeasible or Stuck
	X       []float64
	Squares float64 // Σ (Σ J·x − To)², without the ridge

	// Prices: the gradient of the objective = Σ Price·Coef + Reduced, signed as in
	// LinearResult.
	Price   []float64
	Reduced []float64
	Steps   int
}

// half is one side of a condition: sign·(coefficients·x) ≥ sign·bound.
type half struct {
	row   int // of Rows, or −1 for a bound on x
	x     int
	sign  float64
	bound float64
}

// Solve solves the program by the dual active set method: it begins at the least
// squares without conditions and takes in the most violated condition, one at a
// time, giving up those whose price would turn its sign. Each step raises the
// value, so it ends; it needs no feasible start.
//
// Lengths that differ panic, and so does a ridge that is not above 0.
//
// Source: GoldfarbIdnani1983.
func (q *Quadratic) Solve() QuadraticResult {
	n := len(q.Low)
	if len(q.High) != n || len(q.Near) != n || len(q.To) != len(q.J) || !(q.Ridge > 0) {
		panic("lightaim: Quadratic.Solve: lengths differ or the ridge is not above 0")
	}
	a := newActive(q)
	a.x = a.solveH(a.rhs)
	limit := 100 + 20*(n+len(a.halves))
	status := Stuck
	if a.never {
		status = Infeasible
	}
	for !a.never && a.steps < limit {
		p := a.mostViolated()
		if p < 0 {
			status = Optimal
			a.polish()
			break
		}
		if !a.take(p, limit) {
			status = Infeasible
			break
		}
	}
	return a.result(status)
}

// active is the state of the active set method. H = L Lᵀ.
type active struct {
	q      *Quadratic
	n      int
	chol   []float64 // L, n·n
	h      []float64 // H
	rhs    []float64 // H x = rhs without conditions
	halves []half
	norm   []float64 // of the coefficients of each half
	x      []float64
	set    []int       // halves that are held as equations
	price  []float64   // of each of them, at least 0
	basis  [][]float64 // orthonormal, of L⁻¹ n over the set
	tri    [][]float64 // the upper triangle that belongs to it, by column
	steps  int
	never  bool // a row without coefficients asks for what is not 0
}

func newActive(q *Quadratic) *active {
	n := len(q.Low)
	a := &active{q: q, n: n, h: make([]float64, n*n), chol: make([]float64, n*n), rhs: make([]float64, n)}
	for r, j := range q.J {
		if len(j) != n {
			panic("lightaim: Quadratic.Solve: a square has not one coefficient for each unknown")
		}
		for i, v := range j {
			a.rhs[i] += v * q.To[r]
			for k, u := range j {
				a.h[i*n+k] += v * u
			}
		}
	}
	for i := range n {
		a.h[i*n+i] += q.Ridge
		a.rhs[i] += q.Ridge * q.Near[i]
	}
	for i := range n {
		for k := 0; k <= i; k++ {
			s := a.h[i*n+k]
			for c := range k {
				s -= a.chol[i*n+c] * a.chol[k*n+c]
			}
			if i == k {
				// The ridge keeps the pivot above 0; rounding may not.
				a.chol[i*n+i] = math.Sqrt(max(s, q.Ridge))
			} else {
				a.chol[i*n+k] = s / a.chol[k*n+k]
			}
		}
	}
	add := func(h half, norm float64) {
		if !math.IsInf(h.bound, 0) && norm > 0 {
			a.halves = append(a.halves, h)
			a.norm = append(a.norm, norm)
		}
	}
	for i := range n {
		add(half{-1, i, 1, q.Low[i]}, 1)
		add(half{-1, i, -1, q.High[i]}, 1)
	}
	for i, r := range q.Rows {
		if len(r.Coef) != n {
			panic("lightaim: Quadratic.Solve: a row has not one coefficient for each unknown")
		}
		norm := largest(r.Coef)
		if norm == 0 && (r.Low > 0 || r.High < 0) {
			a.never = true
		}
		add(half{i, -1, 1, r.Low}, norm)
		add(half{i, -1, -1, r.High}, norm)
	}
	return a
}

// forward solves L v = b in place.
func (a *active) forward(b []float64) []float64 {
	n := a.n
	for i := range n {
		s := b[i]
		for k := range i {
			s -= a.chol[i*n+k] * b[k]
		}
		b[i] = s / a.chol[i*n+i]
	}
	return b
}

// backward solves Lᵀ v = b in place.
func (a *active) backward(b []float64) []float64 {
	n := a.n
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= a.chol[k*n+i] * b[k]
		}
		b[i] = s / a.chol[i*n+i]
	}
	return b
}

func (a *active) solveH(b []float64) []float64 { return a.backward(a.forward(clone(b))) }

// coef is the gradient of a half, sign included.
func (a *active) coef(p int) []float64 {
	h := a.halves[p]
	out := make([]float64, a.n)
	if h.row < 0 {
		out[h.x] = h.sign
		return out
	}
	for i, c := range a.q.Rows[h.row].Coef {
		out[i] = h.sign * c
	}
	return out
}

// slack is how far a half holds, relative to its largest coefficient; negative if
// it is violated.
func (a *active) slack(p int) float64 {
	h := a.halves[p]
	v := 0.0
	if h.row < 0 {
		v = a.x[h.x]
	} else {
		for i, c := range a.q.Rows[h.row].Coef {
			v += c * a.x[i]
		}
	}
	return h.sign * (v - h.bound) / a.norm[p]
}

func (a *active) mostViolated() int {
	worst, at := -feasible, -1
	for p := range a.halves {
		if a.has(p) {
			continue
		}
		if s := a.slack(p); s < worst {
			worst, at = s, p
		}
	}
	return at
}

func (a *active) has(p int) bool {
	for _, v := range a.set {
		if v == p {
			return true
		}
	}
	return false
}

// take brings half p into the set. It reports false if no x can hold p together
// with the set.
func (a *active) take(p, limit int) bool {
	coef := a.coef(p)
	v := a.forward(clone(coef))
	size := dot(v, v)
	priceP := 0.0
	for ; a.steps < limit; a.steps++ {
		r, w := a.project(v)
		// GoldfarbIdnani1983, step 2: the longest step that keeps every price at least 0,
		t1, drop := math.Inf(1), -1
		for k, rk := range r {
			if rk > 1e-12 {
				if t := a.price[k] / rk; t < t1 {
					t1, drop = t, k
				}
			}
		}
		// and the step at which p holds.
		t2 := math.Inf(1)
		if ww := dot(w, w); ww > 1e-20*size {
			t2 = max(-a.slack(p)*a.norm[p]/ww, 0)
		}
		t := min(t1, t2)
		if math.IsInf(t, 1) {
			return false
		}
		for k := range a.price {
			a.price[k] = max(a.price[k]-t*r[k], 0)
		}
		priceP += t
		if !math.IsInf(t2, 1) {
			z := a.backward(clone(w))
			for i := range a.x {
				a.x[i] += t * z[i]
			}
		}
		if t2 <= t1 {
			a.set = append(a.set, p)
			a.price = append(a.price, priceP)
			a.extend(v)
			a.steps++
			return true
		}
		a.give(drop)
	}
	return true
}

// project splits v into its part in the space of the set, Σ r·columns, and the
// rest w.
func (a *active) project(v []float64) (r, w []float64) {
	w = clone(v)
	k := len(a.basis)
	c := make([]float64, k)
	for range 2 { // twice is enough against rounding
		for i, b := range a.basis {
			d := dot(b, w)
			c[i] += d
			for j := range w {
				w[j] -= d * b[j]
			}
		}
	}
	r = c
	for i := k - 1; i >= 0; i-- {
		for j := i + 1; j < k; j++ {
			r[i] -= a.tri[j][i] * r[j]
		}
		r[i] /= a.tri[i][i]
	}
	return r, w
}

// extend adds L⁻¹ n to the orthonormal basis of the set.
func (a *active) extend(v []float64) {
	w := clone(v)
	k := len(a.basis)
	col := make([]float64, k+1)
	for range 2 {
		for i, b := range a.basis {
			d := dot(b, w)
			col[i] += d
			for j := range w {
				w[j] -= d * b[j]
			}
		}
	}
	col[k] = math.Sqrt(dot(w, w))
	for j := range w {
		w[j] /= col[k]
	}
	a.basis = append(a.basis, w)
	a.tri = append(a.tri, col)
}

// give drops the k-th member of the set and builds the basis of the rest.
func (a *active) give(k int) {
	a.set = append(a.set[:k], a.set[k+1:]...)
	a.price = append(a.price[:k], a.price[k+1:]...)
	a.basis, a.tri = a.basis[:k], a.tri[:k]
	for _, p := range a.set[k:] {
		a.extend(a.forward(a.coef(p)))
	}
}

// polish solves the equations of the set once more at a stroke,
//
//	[H −N; Nᵀ 0] [x; price] = [rhs; bound],
//
// which takes away the rounding of the steps. It keeps the old answer if a price
// turned its sign or a condition is lost.
func (a *active) polish() {
	n, k := a.n, len(a.set)
	m := mat.NewDense(n+k, n+k, nil)
	b := mat.NewVecDense(n+k, nil)
	for i := range n {
		for j := range n {
			m.Set(i, j, a.h[i*n+j])
		}
		b.SetVec(i, a.rhs[i])
	}
	for c, p := range a.set {
		// Each row scaled to 1, its price by the same.
		for i, v := range a.coef(p) {
			m.Set(i, n+c, -v/a.norm[p])
			m.Set(n+c, i, v/a.norm[p])
		}
		b.SetVec(n+c, a.halves[p].sign*a.halves[p].bound/a.norm[p])
	}
	var lu mat.LU
	lu.Factorize(m)
	var x mat.VecDense
	if lu.SolveVecTo(&x, false, b) != nil {
		return
	}
	var rest, fix mat.VecDense
	rest.MulVec(m, &x)
	rest.SubVec(b, &rest)
	if lu.SolveVecTo(&fix, false, &rest) != nil {
		return
	}
	x.AddVec(&x, &fix)
	old := clone(a.x)
	for i := range n {
		a.x[i] = x.AtVec(i)
	}
	price := make([]float64, k)
	good := a.mostViolated() < 0
	for c, p := range a.set {
		price[c] = x.AtVec(n+c) / a.norm[p]
		good = good && price[c] > -1e-9*(1+largest(a.price))
		price[c] = max(price[c], 0)
	}
	if !good {
		copy(a.x, old)
		return
	}
	a.price = price
}

func (a *active) result(status Status) QuadraticResult {
	q := a.q
	r := QuadraticResult{Status: status, X: clone(a.x), Price: make([]float64, len(q.Rows)), Reduced: make([]float64, a.n), Steps: a.steps}
	for i := range r.X {
		r.X[i] = min(max(r.X[i], q.Low[i]), q.High[i])
	}
	for i, j := range q.J {
		d := dot(j, r.X) - q.To[i]
		r.Squares += d * d
	}
	for k, p := range a.set {
		if h := a.halves[p]; h.row < 0 {
			r.Reduced[h.x] += h.sign * a.price[k]
		} else {
			r.Price[h.row] += h.sign * a.price[k]
		}
	}
	return r
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}
