package lightaim

import (
	"fmt"
	"math"
)

// A Reach is a point that cannot have what was asked of it.
type Reach struct {
	Point int
	Want  float64 // PPFD
	Can   float64 // what every lamp at its highest (or lowest) dimming gives
}

// An InfeasibleError says why no dimmings keep the limits.
type InfeasibleError struct {
	Dark   []Reach // points too dark with every lamp as bright as allowed
	Bright []Reach // points too bright with every lamp as dim as allowed

	// Best are the dimmings that miss all limits by the same least share Short. It
	// is nil if power or equal means cannot be kept at all. Steps of the dimmers
	// are left aside in it.
	Best  *Answer
	Short float64

	// Steps says that limits could be kept but for the steps of the dimmers.
	Steps bool
}

// Error says it in one sentence.
func (e *InfeasibleError) Error() string {
	switch {
	case len(e.Dark) > 0:
		return fmt.Sprintf("lightaim: %d points stay too dark with all lamps as bright as allowed", len(e.Dark))
	case len(e.Bright) > 0:
		return fmt.Sprintf("lightaim: %d points are too bright with all lamps as dim as allowed", len(e.Bright))
	case e.Steps:
		return "lightaim: no steps of the dimmers keep the limits"
	}
	return fmt.Sprintf("lightaim: each point can be lit as asked, but not all together; the least that all must miss by is %.1f %%", 100*e.Short)
}

// infeasible finds out what stands in the way.
func (m *model) infeasible(steps bool) error {
	e := &InfeasibleError{Steps: steps}
	lo, hi := make([]float64, len(m.cols)), make([]float64, len(m.cols))
	for k := range m.cols {
		lo[k], hi[k] = m.cols[k].low(), m.cols[k].upper
	}
	dim, bright := m.light(lo), m.light(hi)
	for i := range m.p.Points {
		if want := m.min(i); bright[i] < want-slackOf(want) {
			e.Dark = append(e.Dark, Reach{i, want, bright[i]})
		}
		if want := m.max(i); dim[i] > want+slackOf(want) {
			e.Bright = append(e.Bright, Reach{i, want, dim[i]})
		}
	}
	e.Best, e.Short = m.nearest()
	return e
}

// nearest solves: least s with every limit of light missed by at most the share
// s, equal means and power kept.
//
//	a·x ≥ Low (1 − s),  a·x ≤ High (1 + s)
func (m *model) nearest() (*Answer, float64) {
	r := m.relax(m.root())
	rows := m.pointRows(nil)
	soft := len(rows)
	rows = append(rows, m.side...)
	l := m.program(&r, rows)
	n := len(l.Cost)
	l.Cost = append(make([]float64, n), 1)
	l.Low, l.High = append(l.Low, 0), append(l.High, math.Inf(1))
	var out []Row
	for i, row := range l.Rows {
		// Conditions with an end at 0 (equal means) and the power stay hard.
		if i >= soft && (i >= len(rows) || rows[i].Low <= 0 && rows[i].High >= 0 && (rows[i].Low == 0 || rows[i].High == 0)) {
			row.Coef = append(row.Coef, 0)
			out = append(out, row)
			continue
		}
		if v := rows[i].Low; !math.IsInf(v, -1) {
			out = append(out, Row{Coef: append(clone(row.Coef), v), Low: row.Low, High: math.Inf(1)})
		}
		if v := rows[i].High; !math.IsInf(v, 1) {
			out = append(out, Row{Coef: append(clone(row.Coef), -v), Low: math.Inf(-1), High: row.High})
		}
	}
	l.Rows = out
	res := l.Solve()
	m.sets++
	if res.Status != Optimal {
		return nil, math.NaN()
	}
	// Of all that miss by no more, those with the least power.
	l.High[n] = res.Value*(1+1e-6) + 1e-9
	l.Cost[n] = 0
	for j, s := range r.segs {
		l.Cost[j] = s.slope
	}
	m.sets++
	if lean := l.Solve(); lean.Status == Optimal {
		lean.Value = res.Value
		res = lean
	}
	a := m.answer(r.dims(res.X[:n]))
	a.Aim, a.Bound, a.Proven, a.Method = res.Value, res.Value, true, "nearest to the limits"
	return a, res.Value
}
