package lightaim

import "math"

// Combinations of dim steps up to which the most even are found by trying all.
const tryAll = 20000

// MostEven finds the dimmings that keep every limit and bring the points as near
// to their Target as can be: the least root mean square of PPFD/Target − 1. Where
// the light leaves the choice open, dimmings are as equal as can be.
//
// With dim steps it tries all combinations where they are few; else it rounds
// and betters step by step, and gives the bound of free dimmers. A Share is not
// looked at: limits hold for all points. Errors are as for LeastPower; a problem
// without Target is one too.
func (p *Problem) MostEven() (*Answer, error) {
	m, err := prepare(p)
	if err != nil {
		return nil, err
	}
	if p.Target == nil {
		return nil, wrong("most even light needs a target")
	}
	rows := append(clone(m.side), m.pointRows(nil)...)
	x, ok := m.even(rows, nil)
	if !ok {
		return nil, m.infeasible(false)
	}
	bound := m.uneven(x)
	// The hull of a bent power curve is too kind: lower the limit by what it hides.
	for range 8 {
		over := m.watt(x) - p.MaxWatt
		if p.MaxWatt == 0 || over <= slackOf(p.MaxWatt) {
			break
		}
		m.cap -= over
		y, ok := m.even(rows, nil)
		if !ok {
			break
		}
		x = y
	}
	method := "most even"
	all := true
	for k := range m.cols {
		x[k] = m.cols[k].snap(x[k])
		all = all && m.cols[k].can(x[k])
	}
	exact := true
	if !all || p.MaxWatt > 0 && !m.heldRows(rows, x) {
		if x, exact = m.evenSteps(x, rows); x == nil {
			return nil, m.infeasible(true)
		}
		if exact {
			method = "most even, all steps tried"
		} else {
			method = "most even, rounded and bettered"
		}
	}
	a := m.answer(x)
	a.Aim, a.Bound, a.Method = a.Uneven, bound, method
	if exact && !all {
		a.Bound = a.Uneven
	}
	a.Proven = exact && !all || a.Aim <= a.Bound*(1+1e-4)+1e-9
	return a, nil
}

// uneven is the root mean square of PPFD/Target − 1.
func (m *model) uneven(x []float64) float64 {
	sum := 0.0
	for i, v := range m.light(x) {
		d := v/m.p.Target[i] - 1
		sum += d * d
	}
	return math.Sqrt(sum / float64(m.p.Points))
}

// even solves the quadratic program of free dimmers; columns that fixed names
// (NaN elsewhere) stay where they are.
func (m *model) even(rows []Row, fixed []float64) ([]float64, bool) {
	n := m.root()
	for k, v := range fixed {
		if !math.IsNaN(v) {
			n.lo[k], n.hi[k] = v, v
		}
	}
	r := m.relax(n)
	if m.cap == 0 {
		// Power does not matter: one segment a column.
		r.segs = r.segs[:0]
		for k := range m.cols {
			r.start[k] = n.lo[k]
			if n.hi[k] > n.lo[k] {
				r.segs = append(r.segs, segment{col: k, length: n.hi[k] - n.lo[k]})
			}
		}
	}
	l := m.program(&r, rows)
	q := Quadratic{Low: l.Low, High: l.High, Rows: l.Rows, Near: make([]float64, len(r.segs))}
	root := math.Sqrt(float64(m.p.Points))
	base := m.light(r.start)
	size := 0.0
	same, of := 0.0, 0.0 // the best common dimming: Σ s/T / Σ (s/T)², s the light of all lamps
	for i, t := range m.p.Target {
		j := make([]float64, len(r.segs))
		for s, seg := range r.segs {
			j[s] = m.cols[seg.col].resp[i] / t / root
			size += j[s] * j[s]
		}
		q.J = append(q.J, j)
		q.To = append(q.To, (1-base[i]/t)/root)
		sum := 0.0
		for k := range m.cols {
			sum += m.cols[k].resp[i] / t
		}
		same += sum
		of += sum * sum
	}
	if len(r.segs) == 0 {
		return r.start, m.heldRows(rows, r.start)
	}
	if of > 0 {
		same /= of
	}
	filled := clone(r.start)
	for s, seg := range r.segs {
		q.Near[s] = min(max(same-filled[seg.col], 0), seg.length)
		filled[seg.col] += q.Near[s]
	}
	q.Ridge = max(1e-7*size/float64(len(r.segs)), 1e-14)
	m.sets++
	res := q.Solve()
	if res.Status != Optimal {
		return nil, false
	}
	return r.dims(res.X), true
}

// evenSteps makes settable dimmings of the most even free ones. exact is true if
// all combinations were tried; x is nil if none was found.
func (m *model) evenSteps(x []float64, rows []Row) (best []float64, exact bool) {
	value := math.Inf(1)
	offer := func(y []float64) bool {
		if v := m.uneven(y); v < value-1e-12 && m.heldRows(rows, y) {
			best, value = clone(y), v
			return true
		}
		return false
	}
	number, free := 1, false
	for k := range m.cols {
		if m.cols[k].levels == nil {
			free = true
		} else if number <= tryAll {
			number *= len(m.cols[k].levels)
		}
	}
	if !free && number <= tryAll {
		y := make([]float64, len(x))
		at := make([]int, len(x))
		for range number {
			for k := range y {
				y[k] = m.cols[k].levels[at[k]]
			}
			offer(y)
			for k := range at {
				if at[k]++; at[k] < len(m.cols[k].levels) {
					break
				}
				at[k] = 0
			}
		}
		return best, true
	}
	for _, y := range m.rounded(x, rows, m.uneven) {
		offer(y)
	}
	if best == nil {
		return nil, false
	}
	// One lamp a step, or two against each other, while it helps.
	for again := true; again; {
		again = false
		for k := range m.cols {
			for _, up := range [2]int{1, -1} {
				y := clone(best)
				v, ok := m.cols[k].step(y[k], up)
				if !ok || m.cols[k].levels == nil {
					continue
				}
				y[k] = v
				again = offer(y) || again
				for j := range m.cols {
					if w, ok := m.cols[j].step(best[j], -up); ok && j != k && m.cols[j].levels != nil {
						z := clone(y)
						z[j] = w
						again = offer(z) || again
					}
				}
			}
		}
	}
	if free {
		// With the steps fixed the free ones may settle anew.
		fixed := make([]float64, len(x))
		for k := range m.cols {
			fixed[k] = math.NaN()
			if m.cols[k].levels != nil || best[k] == 0 {
				fixed[k] = best[k]
			}
		}
		if y, ok := m.even(rows, fixed); ok {
			all := true
			for k := range y {
				all = all && m.cols[k].can(y[k])
			}
			if all {
				offer(y)
			}
		}
	}
	return best, false
}
