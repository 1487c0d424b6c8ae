package lightaim

import "math"

// simplex is the state: variables 0 to n−1 are x, n to n+m−1 the rows.
type simplex struct {
	l     *Linear
	n, m  int
	scale []float64 // of each row

	lo, hi []float64 // of all n+m variables
	cost   []float64 // of x, scaled so that the largest is 1
	per    float64   // that scale
	value  []float64 // of all variables
	out    []int     // the n variables that stand at a value of their own (columns)
	in     []int     // the m variables that follow (rows of t)
	t      []float64 // in[i] = Σ t[i·n+j] out[j]
	grad   []float64
	pivots int
}

func newSimplex(l *Linear) *simplex {
	n, m := len(l.Cost), len(l.Rows)
	s := &simplex{
		l: l, n: n, m: m, scale: make([]float64, m), lo: make([]float64, n+m), hi: make([]float64, n+m),
		cost: make([]float64, n), per: 1, value: make([]float64, n+m), out: make([]int, n), in: make([]int, m),
		t: make([]float64, n*m), grad: make([]float64, n),
	}
	copy(s.lo, l.Low)
	copy(s.hi, l.High)
	if c := largest(l.Cost); c > 0 {
		s.per = c
	}
	for j, c := range l.Cost {
		s.cost[j] = c / s.per
	}
	for i, r := range l.Rows {
		if len(r.Coef) != n {
			panic("lightaim: Linear.Solve: a row has not one coefficient for each unknown")
		}
		s.scale[i] = 1
		if c := largest(r.Coef); c > 0 {
			s.scale[i] = 1 / c
		}
		s.lo[n+i], s.hi[n+i] = r.Low*s.scale[i], r.High*s.scale[i]
	}
	for j := range n {
		s.out[j] = j
		switch {
		case !math.IsInf(s.lo[j], 0) && (math.Abs(s.lo[j]) <= math.Abs(s.hi[j]) || math.IsInf(s.hi[j], 0)):
			s.value[j] = s.lo[j]
		case !math.IsInf(s.hi[j], 0):
			s.value[j] = s.hi[j]
		}
	}
	for i := range m {
		s.in[i] = n + i
	}
	s.fill()
	return s
}

// fill writes the rows into the dictionary and the values that follow.
func (s *simplex) fill() {
	for i, r := range s.l.Rows {
		for j, c := range r.Coef {
			s.t[i*s.n+j] = c * s.scale[i]
		}
	}
	s.follow()
}

// follow computes the values of the variables that follow from the others.
func (s *simplex) follow() {
	for i, v := range s.in {
		sum := 0.0
		for j, c := range s.t[i*s.n : (i+1)*s.n] {
			sum += c * s.value[s.out[j]]
		}
		s.value[v] = sum
	}
}

// slope writes the gradient of the objective over the columns: in phase 1 of the
// sum of violations, which it returns.
func (s *simplex) slope(violation bool) float64 {
	sum := 0.0
	for j, v := range s.out {
		s.grad[j] = 0
		if !violation && v < s.n {
			s.grad[j] = s.cost[v]
		}
	}
	for i, v := range s.in {
		c := 0.0
		switch x := s.value[v]; {
		case violation && x < s.lo[v]-feasible:
			c = -1
			sum += s.lo[v] - x
		case violation && x > s.hi[v]+feasible:
			c = 1
			sum += x - s.hi[v]
		case !violation && v < s.n:
			c = s.cost[v]
		}
		if c == 0 {
			continue
		}
		for j, a := range s.t[i*s.n : (i+1)*s.n] {
			s.grad[j] += c * a
		}
	}
	if !violation {
		for v := range s.n {
			sum += s.cost[v] * s.value[v]
		}
	}
	return sum
}

// run is one phase.
func (s *simplex) run(violation bool, limit int) Status {
	best, since, checked := math.Inf(1), 0, false
	for range limit {
		now := s.slope(violation)
		if violation && now == 0 {
			return Optimal
		}
		if now < best-1e-12*(1+math.Abs(best)) || math.IsInf(best, 1) {
			best, since = now, 0
		} else {
			since++
		}
		j, dir := s.enter(since > stallAfter)
		if j < 0 {
			if !checked && s.pivots > 0 {
				// Believe the answer only from a dictionary without the rounding of pivots.
				checked = true
				if s.rebuild() {
					if !violation && s.missed() {
						if st := s.run(true, limit); st != Optimal {
							return st
						}
					}
					continue
				}
			}
			if violation {
				return Infeasible
			}
			return Optimal
		}
		i, step := s.leave(j, dir, since > stallAfter)
		if math.IsInf(step, 1) {
			if violation {
				return Stuck
			}
			return Unbounded
		}
		s.move(j, dir*step)
		if i >= 0 {
			s.pivot(i, j)
			checked = false
			if s.pivots%rebuildEach == 0 {
				s.rebuild()
			}
		}
	}
	return Stuck
}

// missed says that a row is violated.
func (s *simplex) missed() bool {
	for _, v := range s.in {
		if s.value[v] < s.lo[v]-feasible || s.value[v] > s.hi[v]+feasible {
			return true
		}
	}
	return false
}

// enter picks the column that betters the objective, and the way it moves.
func (s *simplex) enter(bland bool) (col int, dir float64) {
	col = -1
	most := improving
	for j, v := range s.out {
		if s.lo[v] == s.hi[v] {
			continue
		}
		g, d := s.grad[j], 0.0
		switch x := s.value[v]; {
		case g < -improving && x < s.hi[v]:
			d = 1
		case g > improving && x > s.lo[v]:
			d = -1
		default:
			continue
		}
		if bland {
			if col < 0 || v < s.out[col] {
				col, dir = j, d
			}
		} else if math.Abs(g) > most {
			most, col, dir = math.Abs(g), j, d
		}
	}
	return col, dir
}

// leave finds how far column j can move and which row stops it; −1 if the column
// meets its own bound first.
func (s *simplex) leave(j int, dir float64, bland bool) (row int, step float64) {
	v := s.out[j]
	row = -1
	if dir > 0 {
		step = s.hi[v] - s.value[v]
	} else {
		step = s.value[v] - s.lo[v]
	}
	pivot := 0.0
	for i, u := range s.in {
		a := s.t[i*s.n+j] * dir
		if math.Abs(a) < leastPivot {
			continue
		}
		x := s.value[u]
		var stop float64
		if a > 0 {
			// A variable below its low bound may rise to it first, then to its high one.
			if stop = s.hi[u]; x < s.lo[u]-feasible {
				stop = s.lo[u]
			} else if x > s.hi[u]+feasible {
				continue
			}
		} else {
			if stop = s.lo[u]; x > s.hi[u]+feasible {
				stop = s.hi[u]
			} else if x < s.lo[u]-feasible {
				continue
			}
		}
		if math.IsInf(stop, 0) {
			continue
		}
		t := max((stop-x)/a, 0)
		tie := !math.IsInf(step, 1) && math.Abs(t-step) <= 1e-10*(1+step)
		switch {
		case !tie && t > step:
			continue
		case tie && row >= 0 && bland && u > s.in[row]:
			continue
		case tie && row >= 0 && !bland && math.Abs(a) <= pivot:
			continue
		case tie && row < 0 && t >= step:
			continue // its own bound: no pivot needed
		}
		row, step, pivot = i, t, math.Abs(a)
	}
	return row, step
}

// move shifts the value of column j, and all that follows.
func (s *simplex) move(j int, by float64) {
	v := s.out[j]
	s.value[v] = s.snap(v, s.value[v]+by)
	for i, u := range s.in {
		s.value[u] += s.t[i*s.n+j] * by
	}
}

// snap puts a value that differs from a bound by rounding alone onto it.
func (s *simplex) snap(v int, x float64) float64 {
	for _, b := range [2]float64{s.lo[v], s.hi[v]} {
		if !math.IsInf(b, 0) && math.Abs(x-b) <= 1e-10*(1+math.Abs(b)) {
			return b
		}
	}
	return x
}

// pivot lets row i and column j change places.
func (s *simplex) pivot(i, j int) {
	n := s.n
	ti := s.t[i*n : (i+1)*n]
	p := ti[j]
	// out[j] = (in[i] − Σ other columns)/p
	for c := range ti {
		ti[c] /= -p
	}
	ti[j] = 1 / p
	for r := range s.m {
		if r == i {
			continue
		}
		tr := s.t[r*n : (r+1)*n]
		f := tr[j]
		if f == 0 {
			continue
		}
		for c, v := range ti {
			tr[c] += f * v
		}
		tr[j] = f * ti[j]
	}
	s.in[i], s.out[j] = s.out[j], s.in[i]
	u := s.out[j]
	s.value[u] = s.nearBound(u)
	s.pivots++
}

// nearBound is the bound that a variable which has just left stands at.
func (s *simplex) nearBound(v int) float64 {
	x := s.value[v]
	if math.Abs(x-s.lo[v]) <= math.Abs(x-s.hi[v]) {
		return s.lo[v]
	}
	return s.hi[v]
}

// rebuild makes the dictionary anew from the rows for the same columns, with the
// largest pivots. It reports whether it could.
func (s *simplex) rebuild() bool {
	out := clone(s.out)
	before := append([]float64(nil), s.value...)
	wanted := make([]bool, s.n+s.m) // must be columns
	for _, v := range out {
		wanted[v] = true
	}
	for j := range s.n {
		s.out[j] = j
	}
	for i := range s.m {
		s.in[i] = s.n + i
	}
	for i, r := range s.l.Rows {
		for j, c := range r.Coef {
			s.t[i*s.n+j] = c * s.scale[i]
		}
	}
	pivots := s.pivots
	for {
		row, col, most := -1, -1, 0.0
		for i, u := range s.in {
			if !wanted[u] {
				continue
			}
			for j, v := range s.out {
				if a := math.Abs(s.t[i*s.n+j]); !wanted[v] && a > most {
					row, col, most = i, j, a
				}
			}
		}
		if row < 0 {
			break
		}
		s.pivot(row, col)
	}
	s.pivots = pivots
	ok := true
	for _, v := range s.out {
		ok = ok && wanted[v]
	}
	copy(s.value, before)
	if !ok { // the columns have become dependent by rounding: go on with what is left
		for _, v := range s.out {
			if !wanted[v] {
				s.value[v] = min(max(s.value[v], s.lo[v]), s.hi[v])
			}
		}
	}
	s.follow()
	return ok
}

func (s *simplex) result(status Status) LinearResult {
	r := LinearResult{Status: status, X: clone(s.value[:s.n]), Price: make([]float64, s.m), Reduced: make([]float64, s.n), Pivots: s.pivots}
	for j := range r.X {
		r.X[j] = min(max(r.X[j], s.lo[j]), s.hi[j])
		r.Value += s.l.Cost[j] * r.X[j]
	}
	per := s.per
	if status == Infeasible {
		per = 1
		r.Violation = s.slope(true)
	} else {
		s.slope(false)
	}
	if status == Infeasible {
		// −(what is violated) + Σ gradient·columns = 0 for every x, yet the bounds
		// make it the violation, which is above 0.
		for _, v := range s.in {
			c := 0.0
			switch x := s.value[v]; {
			case x < s.lo[v]-feasible:
				c = 1
			case x > s.hi[v]+feasible:
				c = -1
			}
			if v < s.n {
				r.Reduced[v] = c
			} else {
				r.Price[v-s.n] = c * s.scale[v-s.n]
			}
		}
	}
	for j, v := range s.out {
		if v < s.n {
			r.Reduced[v] = s.grad[j] * per
		} else {
			r.Price[v-s.n] = s.grad[j] * per * s.scale[v-s.n]
		}
	}
	return r
}

func largest(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		m = max(m, math.Abs(x))
	}
	return m
}

func clone[T any](v []T) []T { return append([]T(nil), v...) }
