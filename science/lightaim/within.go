package lightaim

import "math"

// MostWithin finds dimmings that keep as many points within Min and Max as can
// be, and among those the most even if there is a Target. It is a search without
// promise: from several starts it takes in point after point while a linear
// program can hold them all, then gives up one to gain two. Bound is the number
// that the relaxed program cannot pass; Proven says that it was reached.
//
// Dim steps are then rounded, which may lose points. Errors are as for
// LeastPower, where only conditions other than Min and Max can be infeasible.
func (p *Problem) MostWithin() (*Answer, error) {
	m, err := prepare(p)
	if err != nil {
		return nil, err
	}
	r := m.relax(m.root())
	l := m.counting(&r)
	n := len(r.segs)
	for i := range p.Points {
		l.Cost[n+i] = 1
	}
	m.sets++
	res := l.Solve()
	if res.Status != Optimal {
		return nil, m.infeasible(false)
	}
	bound := math.Floor(float64(p.Points) - res.Value + 1e-6)
	starts := [][]float64{r.dims(res.X[:n])}
	if p.Target != nil {
		if x, ok := m.even(m.side, nil); ok {
			starts = append(starts, x)
		}
	}
	if a, _ := m.nearest(); a != nil {
		starts = append(starts, m.columns(a))
	}
	var best []bool
	var bestX []float64
	most := -1
	for _, x := range starts {
		for range 2 {
			x = m.sweep(x)
			in := m.insideOf(x)
			x, in = m.grow(&r, x, in)
			if c := count(in); c > most {
				most, best, bestX = c, in, x
			}
		}
		if float64(most) >= bound {
			break
		}
	}
	if p.Target != nil {
		if x, ok := m.even(m.keeping(best), nil); ok {
			bestX = x
		}
	}
	bestX = m.settle(bestX)
	a := m.answer(bestX)
	a.Aim, a.Bound, a.Method = float64(a.Within), bound, "most points within limits, searched"
	a.Proven = a.Aim >= a.Bound
	return a, nil
}

// columns are the dimmings of an answer by column.
func (m *model) columns(a *Answer) []float64 {
	x := make([]float64, len(m.cols))
	for k, c := range m.cols {
		x[k] = a.Dim[c.lamps[0]]
	}
	return x
}

func (m *model) insideOf(x []float64) []bool {
	in := make([]bool, m.p.Points)
	for i, v := range m.light(x) {
		in[i] = m.within(i, v)
	}
	return in
}

func count(in []bool) int {
	n := 0
	for _, b := range in {
		if b {
			n++
		}
	}
	return n
}

// keeping are the rows of the points in and all other conditions.
func (m *model) keeping(in []bool) []Row {
	out := make([]bool, len(in))
	for i, b := range in {
		out[i] = !b
	}
	return append(clone(m.side), m.pointRows(out)...)
}

// sweep turns one lamp after another to where most points are within limits, the
// others standing still, while that gains points.
func (m *model) sweep(x []float64) []float64 {
	x = clone(x)
	have := count(m.insideOf(x))
	for range 10 {
		gained := false
		for k := range m.cols {
			c := &m.cols[k]
			rest := m.light(x)
			var cuts []float64
			for i := range rest {
				rest[i] -= c.resp[i] * x[k]
				if c.resp[i] > 0 {
					for _, lim := range [2]float64{m.min(i), m.max(i)} {
						if v := (lim - rest[i]) / c.resp[i]; v > c.lower && v < c.upper {
							cuts = append(cuts, v)
						}
					}
				}
			}
			old, best := x[k], x[k]
			for _, v := range append(cuts, c.lower, c.upper) {
				x[k] = v
				if n := count(m.insideOf(x)); n > have && (len(m.side) == 0 && m.p.MaxWatt == 0 || m.heldRows(m.side, x)) {
					have, best, gained = n, v, true
				}
			}
			x[k] = old
			x[k] = best
		}
		if !gained {
			break
		}
	}
	return x
}

// grow takes in points while a linear program can hold them all, then tries to
// give up one for two.
func (m *model) grow(r *relaxed, x []float64, in []bool) ([]float64, []bool) {
	hold := func(in []bool) ([]float64, bool) {
		l := m.program(r, m.keeping(in))
		m.sets++
		res := l.Solve()
		if res.Status != Optimal {
			return nil, false
		}
		return r.dims(res.X), true
	}
	add := func(x []float64, in []bool) ([]float64, []bool) {
		for i := range in {
			if in[i] || m.sets >= searchPrograms {
				continue
			}
			try := clone(in)
			try[i] = true
			if y, ok := hold(try); ok {
				x, in = y, try
				// What came along by itself is in as well.
				for j, b := range m.insideOf(y) {
					in[j] = in[j] || b
				}
			}
		}
		return x, in
	}
	x, in = add(x, in)
	for again := true; again && m.sets < searchPrograms; {
		again = false
		for i := range in {
			if !in[i] || m.sets >= searchPrograms {
				continue
			}
			try := clone(in)
			try[i] = false
			y, grown := add(x, try)
			if count(grown) > count(in) {
				x, in, again = y, grown, true
			}
		}
	}
	if y, ok := hold(in); ok {
		return y, in
	}
	return x, in
}

// settle makes x settable: each lamp in turn goes to the neighbouring step that
// keeps the most points, then the most even.
func (m *model) settle(x []float64) []float64 {
	all := true
	for k := range m.cols {
		x[k] = m.cols[k].snap(x[k])
		all = all && m.cols[k].can(x[k])
	}
	if all {
		return x
	}
	worth := func(x []float64) (int, float64) {
		if m.p.Target != nil {
			return count(m.insideOf(x)), m.uneven(x)
		}
		return count(m.insideOf(x)), m.watt(x)
	}
	for k := range m.cols {
		x[k] = m.cols[k].nearest(x[k])
	}
	have, even := worth(x)
	for again := true; again; {
		again = false
		for k := range m.cols {
			old := x[k]
			for _, up := range [2]int{1, -1} {
				v, ok := m.cols[k].step(old, up)
				if !ok || m.cols[k].levels == nil {
					continue
				}
				x[k] = v
				if h, e := worth(x); (h > have || h == have && e < even-1e-12) && m.heldRows(m.side, x) {
					have, even, old, again = h, e, v, true
				}
			}
			x[k] = old
		}
	}
	return x
}
