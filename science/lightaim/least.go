package lightaim

import (
	"math"
)

// LeastPower finds the dimmings that keep every limit with the least power.
// Without steps, lamps that may be off and bent power curves it is one linear
// program. An [*InfeasibleError] says what cannot be reached and what is nearest;
// a [*ProblemError] what is wrong with the problem.
//
// With a Share below 1 it must also choose the points that may miss: it gives up
// the one that saves the most, again and again, and then tries to exchange them;
// the bound is that of the relaxed choice.
func (p *Problem) LeastPower() (*Answer, error) {
	m, err := prepare(p)
	if err != nil {
		return nil, err
	}
	if m.need() < p.Points {
		return m.leastShare()
	}
	return m.finish(m.branch(nil, nil), "least power")
}

// HighestMean finds the dimmings within all limits that give the points over the
// greatest mean PPFD; nil is all points. Errors are as for LeastPower.
func (p *Problem) HighestMean(over []int) (*Answer, error) {
	m, err := prepare(p)
	if err != nil {
		return nil, err
	}
	goal := make([]float64, len(m.cols))
	for k, c := range m.cols {
		if over == nil {
			for _, v := range c.resp {
				goal[k] += v / float64(p.Points)
			}
		}
		for _, i := range over {
			if i < 0 || i >= p.Points {
				return nil, wrong("point %d of %d is named", i, p.Points)
			}
			goal[k] += c.resp[i] / float64(len(over))
		}
	}
	return m.finish(m.branch(nil, goal), "highest mean")
}

// found is the end of a branch and bound.
type found struct {
	x     []float64 // nil if none was found
	aim   float64   // W, or minus the goal
	bound float64   // no x can be below it
	loose bool      // the relaxed program can be held
}

// finish turns what was found into an answer or an error.
func (m *model) finish(f found, method string) (*Answer, error) {
	if f.x == nil {
		return nil, m.infeasible(f.loose)
	}
	a := m.answer(f.x)
	a.Aim, a.Bound, a.Method = f.aim, f.bound, method
	if method == "highest mean" {
		a.Aim, a.Bound = -f.aim, -f.bound
	}
	a.Proven = f.aim <= f.bound+1e-4*math.Abs(f.bound)+1e-9
	return a, nil
}

const defaultNodes = 400

// branch is the branch and bound: out are points without limits; goal, over
// columns, is made greatest, or power least if it is nil. Of the open nodes the
// one with the best bound is next (LandDoig1960).
func (m *model) branch(out []bool, goal []float64) found {
	rows := append(clone(m.side), m.pointRows(out)...)
	value := func(x []float64) float64 {
		if goal != nil {
			return -dot(goal, x)
		}
		return m.watt(x)
	}
	held := func(x []float64) bool { return m.heldRows(rows, x) }
	best := found{aim: math.Inf(1), bound: math.Inf(1)}
	offer := func(x []float64) {
		if v := value(x); v < best.aim-1e-12*math.Abs(v) && held(x) {
			best.x, best.aim = clone(x), v
		}
	}
	nodes := m.p.MaxNodes
	if nodes == 0 {
		nodes = defaultNodes
	}
	open := []node{m.root()}
	closed := math.Inf(1) // the least bound of what was cut off as good enough
	for used := 0; len(open) > 0; used++ {
		at := 0
		for i := range open {
			if open[i].bound < open[at].bound {
				at = i
			}
		}
		n := open[at]
		if n.bound >= best.aim-1e-6*math.Abs(best.aim)-1e-12 {
			closed = min(closed, n.bound)
			break // so are all others
		}
		if used >= nodes {
			closed = min(closed, n.bound)
			break
		}
		open = append(open[:at], open[at+1:]...)
		r := m.relax(n)
		l := m.program(&r, rows)
		base := 0.0
		for j, s := range r.segs {
			if l.Cost[j] = s.slope; goal != nil {
				l.Cost[j] = -goal[s.col]
			}
		}
		if base = r.watt0; goal != nil {
			base = -dot(goal, r.start)
		}
		m.sets++
		res := l.Solve()
		if res.Status != Optimal {
			continue
		}
		best.loose = true
		n.bound = max(n.bound, res.Value+base)
		x := r.dims(res.X)
		children := m.split(n, x)
		if children == nil {
			// Where the snapped dimming is held, the node is done: no better x is in it.
			offer(x)
			closed = min(closed, n.bound)
			continue
		}
		for _, y := range m.rounded(x, rows, value) {
			offer(y)
		}
		open = append(open, children...)
		for i := len(open) - len(children); i < len(open); i++ {
			open[i].bound = n.bound
		}
	}
	best.bound = min(closed, best.aim)
	if best.x == nil {
		best.bound = closed
	}
	return best
}

// heldRows says that x keeps rows and power.
func (m *model) heldRows(rows []Row, x []float64) bool { return m.missed(rows, x) <= 1 }

// missed is the worst miss of rows and power, as a multiple of what may be missed.
func (m *model) missed(rows []Row, x []float64) float64 {
	worst := 0.0
	for _, r := range rows {
		v := dot(r.Coef, x)
		slack := 1e-6 * (1 + largest(r.Coef))
		if !math.IsInf(r.Low, -1) {
			worst = max(worst, (r.Low-v)/(slack+1e-6*math.Abs(r.Low)))
		}
		if !math.IsInf(r.High, 1) {
			worst = max(worst, (v-r.High)/(slack+1e-6*math.Abs(r.High)))
		}
	}
	if m.p.MaxWatt > 0 {
		worst = max(worst, (m.watt(x)-m.p.MaxWatt)/slackOf(m.p.MaxWatt))
	}
	return worst
}

// rounded makes settable dimmings of x: rounded up and then lowered where that is
// free, and rounded to the nearest and mended.
func (m *model) rounded(x []float64, rows []Row, value func([]float64) float64) [][]float64 {
	up, mid := clone(x), clone(x)
	for k := range m.cols {
		c := &m.cols[k]
		mid[k] = c.nearest(x[k])
		if !c.can(x[k]) {
			up[k], _ = c.step(x[k], 1)
		} else {
			up[k] = c.nearest(x[k])
		}
	}
	for range 4 * len(x) {
		if m.heldRows(rows, mid) {
			break
		}
		if !m.mend(mid, rows) {
			break
		}
	}
	out := [][]float64{}
	for _, y := range [][]float64{up, mid} {
		if m.heldRows(rows, y) {
			m.trim(y, rows, value)
			out = append(out, y)
		}
	}
	return out
}

// mend takes the one step of one lamp that lessens the worst miss the most.
func (m *model) mend(x []float64, rows []Row) bool {
	best, at, to := m.missed(rows, x), -1, 0.0
	for k := range m.cols {
		old := x[k]
		for _, up := range [2]int{1, -1} {
			v, ok := m.cols[k].step(old, up)
			if !ok {
				continue
			}
			x[k] = v
			if miss := m.missed(rows, x); miss < best {
				best, at, to = miss, k, v
			}
		}
		x[k] = old
	}
	if at < 0 {
		return false
	}
	x[at] = to
	return true
}

// trim takes steps that better the value while all stays held.
func (m *model) trim(x []float64, rows []Row, value func([]float64) float64) {
	for {
		best, at, to := value(x), -1, 0.0
		for k := range m.cols {
			old := x[k]
			for _, up := range [2]int{-1, 1} {
				v, ok := m.cols[k].step(old, up)
				if !ok {
					continue
				}
				x[k] = v
				if w := value(x); w < best-1e-9*math.Abs(best) && m.heldRows(rows, x) {
					best, at, to = w, k, v
				}
			}
			x[k] = old
		}
		if at < 0 {
			return
		}
		x[at] = to
	}
}
