package lightaim

import "math"

// most programs that a search for a set of points may solve.
const searchPrograms = 1500

// leastShare chooses the points that may miss their limits and finds the least
// power for the rest.
func (m *model) leastShare() (*Answer, error) {
	p := m.p
	spare := p.Points - m.need()
	r := m.relax(m.root())
	out := make([]bool, p.Points)
	// judge is the power without the points that are out, or the violation.
	judge := func() (miss, watt float64, res LinearResult, of []int) {
		rows := append(clone(m.side), m.pointRows(out)...)
		for range m.side {
			of = append(of, -1)
		}
		for i := range p.Points {
			if !out[i] && !(math.IsInf(m.min(i), -1) && math.IsInf(m.max(i), 1)) {
				of = append(of, i)
			}
		}
		l := m.program(&r, rows)
		for j, s := range r.segs {
			l.Cost[j] = s.slope
		}
		m.sets++
		res = l.Solve()
		if res.Status != Optimal {
			return max(res.Violation, 1e-12), math.Inf(1), res, of
		}
		return 0, res.Value, res, of
	}
	better := func(m1, w1, m2, w2 float64) bool {
		return m1 < m2-1e-12 || m1 <= m2 && w1 < w2-1e-9*math.Abs(w2)
	}
	// binding are the points that hold the answer up.
	binding := func(res LinearResult, of []int) (list []int) {
		for i, pt := range of {
			if pt >= 0 && res.Price[i] != 0 {
				list = append(list, pt)
			}
		}
		return list
	}
	miss, watt, res, of := judge()
	for range spare {
		at := -1
		for _, i := range binding(res, of) {
			out[i] = true
			if mi, wi, _, _ := judge(); at < 0 || better(mi, wi, miss, watt) {
				miss, watt, at = mi, wi, i
			}
			out[i] = false
		}
		if at < 0 {
			break
		}
		out[at] = true
		miss, watt, res, of = judge()
	}
	// Exchange a point that is out for one that is in, while it helps.
	for again := true; again && m.sets < searchPrograms; {
		again = false
		for d := range out {
			if !out[d] || m.sets >= searchPrograms {
				continue
			}
			out[d] = false
			_, _, res2, of2 := judge()
			swapped := false
			for _, i := range binding(res2, of2) {
				if i == d {
					continue
				}
				out[i] = true
				if mi, wi, _, _ := judge(); better(mi, wi, miss, watt) {
					miss, watt, swapped, again = mi, wi, true, true
					break
				}
				out[i] = false
			}
			if !swapped {
				out[d] = true
			}
		}
	}
	f := m.branch(out, nil)
	if f.x == nil {
		return nil, m.infeasible(f.loose)
	}
	a, err := m.finish(f, "least power for a share of the points, searched")
	if err != nil {
		return nil, err
	}
	a.Bound = m.shareBound(spare)
	a.Proven = a.Aim <= a.Bound*(1+1e-4)+1e-9
	a.Nodes = m.sets
	return a, nil
}

// counting adds to the relaxed root an unknown z from 0 to 1 for each point, its
// miss: with z = 0 the limits hold, with z = 1 they say nothing, because no
// dimming gets below what all lamps at their lowest give, nor above the highest.
//
//	a·x + z (Low − low light) ≥ Low,  a·x − z (high light − High) ≤ High
func (m *model) counting(r *relaxed) *Linear {
	l := m.program(r, m.side)
	n, pts := len(l.Cost), m.p.Points
	l.Cost = append(l.Cost, make([]float64, pts)...)
	l.Low = append(l.Low, make([]float64, pts)...)
	for range pts {
		l.High = append(l.High, 1)
	}
	for i := range l.Rows {
		l.Rows[i].Coef = append(l.Rows[i].Coef, make([]float64, pts)...)
	}
	lo, hi := make([]float64, len(m.cols)), make([]float64, len(m.cols))
	for k := range m.cols {
		lo[k], hi[k] = m.cols[k].low(), m.cols[k].upper
	}
	dim, bright := m.light(lo), m.light(hi)
	for i := range pts {
		base := Row{Coef: make([]float64, len(m.cols)), Low: m.min(i), High: m.max(i)}
		for k := range m.cols {
			base.Coef[k] = m.cols[k].resp[i]
		}
		row := r.row(base)
		if !math.IsInf(base.Low, -1) {
			c := append(clone(row.Coef), make([]float64, pts)...)
			c[n+i] = max(base.Low-dim[i], 0)
			l.Rows = append(l.Rows, Row{Coef: c, Low: row.Low, High: math.Inf(1)})
		}
		if !math.IsInf(base.High, 1) {
			c := append(clone(row.Coef), make([]float64, pts)...)
			c[n+i] = -max(bright[i]-base.High, 0)
			l.Rows = append(l.Rows, Row{Coef: c, Low: math.Inf(-1), High: row.High})
		}
	}
	return l
}

// shareBound is the least power if points could be missed in part.
func (m *model) shareBound(spare int) float64 {
	r := m.relax(m.root())
	l := m.counting(&r)
	n := len(r.segs)
	few := Row{Coef: make([]float64, len(l.Cost)), Low: math.Inf(-1), High: float64(spare)}
	for j, s := range r.segs {
		l.Cost[j] = s.slope
	}
	for i := range m.p.Points {
		few.Coef[n+i] = 1
	}
	l.Rows = append(l.Rows, few)
	m.sets++
	res := l.Solve()
	if res.Status != Optimal {
		return math.Inf(-1)
	}
	return res.Value + r.watt0
}
