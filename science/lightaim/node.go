package lightaim

import "math"

// A node is an interval of dimming for each column.
type node struct {
	lo, hi []float64
	bound  float64
}

func (m *model) root() node {
	n := node{bound: math.Inf(-1)}
	for k := range m.cols {
		n.lo = append(n.lo, m.cols[k].low())
		n.hi = append(n.hi, m.cols[k].upper)
	}
	return n
}

// points are the dimmings within an interval at which the power curve of a column
// may bend, and the power there.
func (c *column) points(lo, hi float64) (x, y []float64) {
	add := func(v float64) {
		if n := len(x); n > 0 && v <= x[n-1]+1e-12 {
			return
		}
		x, y = append(x, v), append(y, c.watt(v))
	}
	if c.levels != nil {
		for _, v := range c.levels {
			if v >= lo-1e-12 && v <= hi+1e-12 {
				add(v)
			}
		}
		return x, y
	}
	if c.off && lo == 0 {
		add(0)
		lo = c.lower
		if hi < lo {
			return x, y
		}
	}
	add(lo)
	for _, v := range c.curve.Dim {
		if v > lo && v < hi {
			add(v)
		}
	}
	add(hi)
	return x, y
}

// segment is one unknown of a relaxed program: a stretch of the dimming of a
// column along which the hull of its power is straight.
type segment struct {
	col    int
	length float64
	slope  float64 // W for the whole dimming
}

// relaxed is a node with its power curves replaced by their lower hulls.
type relaxed struct {
	segs  []segment
	start []float64 // dimming of each column with all segments at 0
	watt0 float64
}

func (m *model) relax(n node) relaxed {
	var r relaxed
	for k := range m.cols {
		x, y := lowerHull(m.cols[k].points(n.lo[k], n.hi[k]))
		r.start = append(r.start, x[0])
		r.watt0 += y[0]
		for i := 1; i < len(x); i++ {
			r.segs = append(r.segs, segment{k, x[i] - x[i-1], (y[i] - y[i-1]) / (x[i] - x[i-1])})
		}
	}
	return r
}

// row turns a row over columns into one over segments.
func (r *relaxed) row(c Row) Row {
	out := Row{Coef: make([]float64, len(r.segs)), Low: c.Low, High: c.High}
	base := dot(c.Coef, r.start)
	out.Low -= base
	out.High -= base
	for j, s := range r.segs {
		out.Coef[j] = c.Coef[s.col]
	}
	return out
}

// dims are the dimmings of the columns for segments z.
func (r *relaxed) dims(z []float64) []float64 {
	x := clone(r.start)
	for j, s := range r.segs {
		x[s.col] += z[j]
	}
	return x
}

// power is the row of all power, W.
func (r *relaxed) power() (coef []float64, base float64) {
	coef = make([]float64, len(r.segs))
	for j, s := range r.segs {
		coef[j] = s.slope
	}
	return coef, r.watt0
}

// pointRows are the limits of points, but for those that are out.
func (m *model) pointRows(out []bool) []Row {
	var rows []Row
	for i := range m.p.Points {
		lo, hi := m.min(i), m.max(i)
		if out != nil && out[i] || math.IsInf(lo, -1) && math.IsInf(hi, 1) {
			continue
		}
		r := Row{Coef: make([]float64, len(m.cols)), Low: lo, High: hi}
		for k := range m.cols {
			r.Coef[k] = m.cols[k].resp[i]
		}
		rows = append(rows, r)
	}
	return rows
}

// program is the linear program of a node over its segments: rows are over
// columns; cost is 0.
func (m *model) program(r *relaxed, rows []Row) *Linear {
	n := len(r.segs)
	l := &Linear{Cost: make([]float64, n), Low: make([]float64, n), High: make([]float64, n)}
	for j, s := range r.segs {
		l.High[j] = s.length
	}
	for _, row := range rows {
		l.Rows = append(l.Rows, r.row(row))
	}
	if m.cap > 0 {
		coef, base := r.power()
		l.Rows = append(l.Rows, Row{Coef: coef, Low: math.Inf(-1), High: m.cap - base})
	}
	return l
}

const settable = 1e-8 // a dimming this near to one that can be set is it

// split names the column whose dimming or power the relaxation gets most wrong,
// and the intervals to look at instead; nil if the dimmings can be set and their
// power is right. It snaps x to what can be set.
func (m *model) split(n node, x []float64) []node {
	worst, at := 0.0, -1
	for k := range m.cols {
		c := &m.cols[k]
		x[k] = c.snap(x[k])
		miss := 0.0
		if !c.can(x[k]) {
			miss = 1e-6 + math.Abs(x[k]-c.nearest(x[k]))
		}
		px, py := c.points(n.lo[k], n.hi[k])
		gap := c.watt(x[k]) - hullAt(px, py, x[k])
		if c.can(x[k]) && gap > 1e-7*(1+c.watt(c.upper)) {
			miss = gap / (1e-9 + c.watt(c.upper))
		}
		if miss > worst {
			worst, at = miss, k
		}
	}
	if at < 0 {
		return nil
	}
	px, _ := m.cols[at].points(n.lo[at], n.hi[at])
	v := x[at]
	cut := func(lo, hi float64) node {
		c := node{lo: clone(n.lo), hi: clone(n.hi), bound: n.bound}
		c.lo[at], c.hi[at] = lo, hi
		return c
	}
	c := &m.cols[at]
	if c.levels != nil {
		var out []node
		below, above := math.Inf(-1), math.Inf(1)
		for _, p := range px {
			if p < v-settable {
				below = p
			} else if p > v+settable && math.IsInf(above, 1) {
				above = p
			} else if math.Abs(p-v) <= settable {
				out = append(out, cut(p, p))
			}
		}
		if below >= n.lo[at]-settable {
			out = append(out, cut(n.lo[at], below))
		}
		if above <= n.hi[at]+settable {
			out = append(out, cut(above, n.hi[at]))
		}
		return out
	}
	if c.off && n.lo[at] == 0 {
		return []node{cut(0, 0), cut(c.lower, n.hi[at])}
	}
	// A bend within the interval: the one nearest to where the hull is wrong.
	best := math.NaN()
	if len(px) < 3 {
		return nil
	}
	for _, p := range px[1 : len(px)-1] {
		if math.IsNaN(best) || math.Abs(p-v) < math.Abs(best-v) {
			best = p
		}
	}
	if math.IsNaN(best) {
		return nil
	}
	return []node{cut(n.lo[at], best), cut(best, n.hi[at])}
}

// hullAt is the lower hull of points at v.
func hullAt(x, y []float64, v float64) float64 {
	hx, hy := lowerHull(x, y)
	return Curve{Dim: hx, Watt: hy}.At(v)
}

// nearest is the dimming that can be set nearest to x.
func (c *column) nearest(x float64) float64 {
	if c.levels == nil {
		if c.off && x < c.lower/2 {
			return 0
		}
		return min(max(x, c.lower), c.upper)
	}
	best := c.levels[0]
	for _, l := range c.levels {
		if math.Abs(l-x) < math.Abs(best-x) {
			best = l
		}
	}
	return best
}

func (c *column) snap(x float64) float64 {
	if n := c.nearest(x); math.Abs(n-x) <= settable {
		return n
	}
	return x
}

// can says that a dimming can be set.
func (c *column) can(x float64) bool { return math.Abs(c.nearest(x)-x) <= settable }

// step is the next dimming that can be set above (up 1) or below (−1) x, and
// whether there is one. A free column has none but its ends.
func (c *column) step(x float64, up int) (float64, bool) {
	list := c.levels
	if list == nil {
		list = []float64{c.lower, c.upper}
		if c.off {
			list = []float64{0, c.lower, c.upper}
		}
	}
	if up > 0 {
		for _, l := range list {
			if l > x+settable {
				return l, true
			}
		}
		return x, false
	}
	for i := len(list) - 1; i >= 0; i-- {
		if list[i] < x-settable {
			return list[i], true
		}
	}
	return x, false
}
