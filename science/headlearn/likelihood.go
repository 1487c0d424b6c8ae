package headlearn

import (
	"math"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// A point is a set of traits with the factor on the spread of plants.
type point struct {
	logs   []float64 // of every axis; 0 for those that are not learnt
	spread float64   // ln of the factor on the spread of plants
}

// A worker evaluates points; it keeps scratch space.
type worker struct {
	m        *model
	prepared []headcycle.Prepared
	stages   []headcycle.Stage
	grown    [][]headcycle.Grown // [node][day]
	days     [][][hearts]float64 // [node][mark][heart]: day on which the extent is reached
	above    []float64           // gap to each mark on the day before
	chances  []float64
	conds    []calcium.Conditions
	terms    []quadratic
	matrix   []float64
	columns  []float64
	one      headcycle.Traits // of the heart that is led
}

func (m *model) worker() *worker { return &worker{m: m} }

// logLikelihood of all cycles.
func (w *worker) logLikelihood(p point) float64 {
	tr := w.m.at(p.logs)
	sum := 0.0
	for i := range w.m.cycles {
		c := &w.m.cycles[i]
		if c.last == 0 {
			continue
		}
		if !c.again {
			w.run(c, &tr)
		}
		for ch := range channels {
			if len(c.series[ch]) > 0 {
				sum += w.effect(c, ch, p, nil)
			}
		}
		if c.burnLast > 0 && len(c.sways) > 0 {
			sum += w.burn(c, nil)
		}
	}
	return sum
}

// run computes a cycle at its nodes.
func (w *worker) run(c *compiled, tr *headcycle.Traits) {
	w.prepared = grow(w.prepared, len(c.Stages))
	w.stages = grow(w.stages, len(c.Stages))
	w.grown = grow(w.grown, len(c.nodes))
	for i, s := range c.Stages {
		w.prepared[i] = headcycle.Prepare(tr, s.Environment)
	}
	for k, n := range c.nodes {
		for i, s := range c.Stages {
			w.stages[i] = headcycle.Stage{FromDay: s.FromDay, Prepared: &w.prepared[i], Light: n.light[i]}
		}
		w.grown[k] = grow(w.grown[k], c.last)
		headcycle.Grow(tr, w.stages, c.Start, w.grown[k])
	}
	if c.burnLast > 0 {
		w.lead(c, tr)
	}
}

// grow is a slice of a length, kept if there is room.
func grow[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// never is the day of burn that was not reached while hearts were followed.
func (c *compiled) never() float64 { return float64(c.burnLast + 2*beyond) }

// lead takes hearts of different tendency through the growth of each node.
func (w *worker) lead(c *compiled, tr *headcycle.Traits) {
	w.days = grow(w.days, len(c.nodes))
	w.above = grow(w.above, len(c.marks))
	w.conds = grow(w.conds, len(c.Stages))
	follow := min(c.burnLast+beyond, c.last)
	for k := range c.nodes {
		w.days[k] = grow(w.days[k], len(c.marks))
		course := w.grown[k]
		for h := range hearts {
			one := &w.one
			*one = *tr
			u := heartStep * float64(h-hearts/2)
			for i, t := range w.m.traits {
				if c.toward[i] != 0 {
					t.Multiply(one, math.Exp(u*c.toward[i]))
				}
			}
			for i := range c.Stages {
				w.conds[i] = w.prepared[i].Heart(&one.Heart)
			}
			for j := range c.marks {
				w.days[k][j][h] = c.never()
				w.above[j] = math.Inf(-1)
			}
			heart := calcium.NewHeart()
			stage, left := 0, len(c.marks)
			for d := 0; d < follow && left > 0; d++ {
				for stage+1 < len(c.Stages) && c.Stages[stage+1].FromDay <= d {
					stage++
				}
				heart.Day(&one.Heart, &w.conds[stage], course[d].Fresh, course[d].Laid, course[d].AreaFactor)
				for j, m := range c.marks {
					if w.days[k][j][h] < c.never() {
						continue
					}
					over := heart.Burnt - max(m.Leaves, m.Share*heart.Leaves)
					if over >= 0 {
						at := 0.0
						if before := w.above[j]; before < 0 && !math.IsInf(before, -1) {
							at = over / (over - before)
						}
						w.days[k][j][h] = float64(d+1) - at
						left--
					}
					w.above[j] = over
				}
			}
		}
	}
}

// between are the weights of the nodes for a light x: the polynomial through all of
// them.
func (c *compiled) between(x float64) (out [maxNodes]float64) {
	for i := range c.nodes {
		out[i] = 1
		for j := range c.nodes {
			if i != j {
				out[i] *= (x - c.nodes[j].x) / (c.nodes[i].x - c.nodes[j].x)
			}
		}
	}
	return out
}

// expected is the logarithm that the model gives for a datum.
func (w *worker) expected(c *compiled, ch, day int, at [maxNodes]float64) float64 {
	v := 0.0
	for k := range c.nodes {
		g := &w.grown[k][max(day, -day)-1]
		v += at[k] * logOf(g, ch, day)
	}
	return v
}

// plantFactor is the factor on the spread of a channel between plants.
func plantFactor(ch int, p point) float64 {
	if ch == fresh {
		return spreadFactor(p.spread)
	}
	return 1
}

// A quadratic is a plant's squared distance as a function of the effect e of the cycle,
// a − 2 b·e + e·C e, with its part of the normalising constant.
type quadratic struct {
	a               float64
	b               [rank]float64
	c               [rank][rank]float64
	constant, power float64
}

// plant makes the quadratic of a plant's values r, with the covariance of its loads
// and of each value by itself.
func (w *worker) plant(c *compiled, ch int, s *series, factor float64) quadratic {
	at := c.between(s.x)
	n := len(s.day)
	w.matrix = grow(w.matrix, n*n)
	w.columns = grow(w.columns, n*(rank+1))
	column := func(i int) []float64 { return w.columns[i*(rank+1) : (i+1)*(rank+1)] }
	for i, day := range s.day {
		li := c.plants[ch][day]
		for j := range i + 1 {
			w.matrix[i*n+j] = factor*factor*dot(li, c.plants[ch][s.day[j]])/s.of + s.same
		}
		w.matrix[i*n+i] += s.noise[i] * s.noise[i] / s.of
		load := c.cycles[ch][day]
		copy(column(i), load[:])
		column(i)[rank] = s.value[i] - w.expected(c, ch, day, at)
	}
	// Cholesky, and forward substitution of the loads of the cycle and of r along with it:
	// then all products by the inverse are plain ones.
	q := quadratic{power: (freedom + float64(n)) / 2}
	for i := range n {
		for j := range i + 1 {
			v := w.matrix[i*n+j]
			for k := range j {
				v -= w.matrix[i*n+k] * w.matrix[j*n+k]
			}
			if i == j {
				w.matrix[i*n+i] = math.Sqrt(v)
			} else {
				w.matrix[i*n+j] = v / w.matrix[j*n+j]
			}
		}
		x := column(i)
		for j := range i {
			for k, v := range column(j) {
				x[k] -= w.matrix[i*n+j] * v
			}
		}
		for k := range x {
			x[k] /= w.matrix[i*n+i]
		}
		q.constant -= math.Log(w.matrix[i*n+i])
		q.a += x[rank] * x[rank]
		for k := range rank {
			q.b[k] += x[k] * x[rank]
			for l := range rank {
				q.c[k][l] += x[k] * x[l]
			}
		}
	}
	return q
}

// at is the squared distance at e, and half of its slope.
func (q *quadratic) at(e [rank]float64) (distance float64, half [rank]float64) {
	distance = q.a
	for k := range rank {
		for l := range rank {
			half[k] += q.c[k][l] * e[l]
		}
		distance += e[k]*half[k] - 2*q.b[k]*e[k]
		half[k] -= q.b[k]
	}
	return max(distance, 0), half
}

// effect integrates the likelihood of a channel over the effect of the cycle, which is
// normal in a few ways by day (rank), by Laplace's method about its mode. A plant's
// values are together Student distributed about the model and that effect; the mode is
// found by reweighting (LangeLittleTaylor1989). If told is not nil it is called with
// the mode and the factor of its precision.
func (w *worker) effect(c *compiled, ch int, p point, told func(e [rank]float64, precision triangle)) float64 {
	terms := w.terms[:0]
	factor := plantFactor(ch, p)
	for i := range c.series[ch] {
		terms = append(terms, w.plant(c, ch, &c.series[ch][i], factor))
	}
	w.terms = terms
	var e [rank]float64
	for range 60 {
		h := identity()
		var to [rank]float64
		for i := range terms {
			q := &terms[i]
			d, _ := q.at(e)
			weight := 2 * q.power / (freedom + d)
			for k := range rank {
				to[k] += weight * q.b[k]
				for l := range rank {
					h[k][l] += weight * q.c[k][l]
				}
			}
		}
		f, _ := factorise(h)
		next := f.solve(to)
		far := 0.0
		for k := range e {
			far = max(far, math.Abs(next[k]-e[k]))
		}
		e = next
		if far < 1e-7 {
			break
		}
	}
	// The curvature there. Far-off plants bend it the other way; should they win, that of
	// the reweighting stands in.
	h, safe := identity(), identity()
	out := -dot(e, e) / 2
	for i := range terms {
		q := &terms[i]
		d, half := q.at(e)
		weight := 2 * q.power / (freedom + d)
		out += q.constant - q.power*math.Log1p(d/freedom)
		for k := range rank {
			for l := range rank {
				safe[k][l] += weight * q.c[k][l]
				h[k][l] += weight*q.c[k][l] - 2*weight/(freedom+d)*half[k]*half[l]
			}
		}
	}
	f, ok := factorise(h)
	if !ok {
		f, _ = factorise(safe)
	}
	if told != nil {
		told(e, f)
	}
	for k := range rank {
		out -= math.Log(f[k][k])
	}
	return out
}

// A triangle is the lower Cholesky factor of a small positive definite matrix.
type triangle [rank][rank]float64

func identity() (h [rank][rank]float64) {
	for k := range h {
		h[k][k] = 1
	}
	return h
}

// factorise returns the factor; ok is false if the matrix is not positive definite.
func factorise(h [rank][rank]float64) (f triangle, ok bool) {
	for i := range rank {
		for j := range i + 1 {
			v := h[i][j]
			for k := range j {
				v -= f[i][k] * f[j][k]
			}
			if i != j {
				f[i][j] = v / f[j][j]
				continue
			}
			if v <= 0 {
				return f, false
			}
			f[i][i] = math.Sqrt(v)
		}
	}
	return f, true
}

// lower solves f x = b.
func (f *triangle) lower(b [rank]float64) [rank]float64 {
	for i := range rank {
		for j := range i {
			b[i] -= f[i][j] * b[j]
		}
		b[i] /= f[i][i]
	}
	return b
}

// solve solves f fᵀ x = b.
func (f *triangle) solve(b [rank]float64) [rank]float64 {
	b = f.lower(b)
	for i := rank - 1; i >= 0; i-- {
		for j := i + 1; j < rank; j++ {
			b[i] -= f[j][i] * b[j]
		}
		b[i] /= f[i][i]
	}
	return b
}

// variance is that of a combination of the effects.
func (f *triangle) variance(load [rank]float64) float64 {
	x := f.lower(load)
	return dot(x, x)
}

// dayOf is the day on which plants of light x reach a mark, by tendency.
func (w *worker) dayOf(c *compiled, x float64, mark int, out *[tendencies]float64) {
	// One over the day is linear in the logarithm of light between two nodes: in dim light
	// the day goes off to where it is never reached.
	i, f := 0, 0.0
	if n := len(c.nodes); n > 1 {
		at := (x - c.nodes[0].x) / (c.nodes[n-1].x - c.nodes[0].x) * float64(n-1)
		i = min(max(int(at), 0), n-2)
		f = min(max(at-float64(i), 0), 1)
	}
	var days [hearts]float64
	for h := range days {
		days[h] = w.days[i][mark][h]
		if f > 0 {
			days[h] = 1 / ((1-f)/days[h] + f/w.days[i+1][mark][h])
		}
	}
	for q := range out {
		at := tendency(q)/heartStep + float64(hearts/2)
		h := min(max(int(at), 0), hearts-2)
		out[q] = min(days[h]+(at-float64(h))*(days[h+1]-days[h]), c.never())
	}
}

// chance is the chance, by tendency, that looks from..to of a plant went as they did.
// Burn is seen some days, normal about 0, after or before the model has it; that
// delay is one for a plant.
func (w *worker) chance(c *compiled, x float64, looks []look, out *[tendencies]float64) {
	var early, late [tendencies]float64 // bounds on the delay
	for q := range early {
		early[q], late[q] = math.Inf(-1), math.Inf(1)
	}
	var days [tendencies]float64
	for _, l := range looks {
		if l.reached >= 0 {
			w.dayOf(c, x, l.reached, &days)
			for q := range days {
				late[q] = min(late[q], l.day-days[q])
			}
		}
		if l.over >= 0 {
			w.dayOf(c, x, l.over, &days)
			for q := range days {
				early[q] = max(early[q], l.day-days[q])
			}
		}
	}
	for q := range out {
		out[q] = max(phi(late[q]/burnDays)-phi(early[q]/burnDays), 0)
	}
}

// phi is the standard normal distribution function.
func phi(z float64) float64 {
	switch {
	case z > 8:
		return 1
	case z < -8:
		return 0
	}
	return math.Erfc(-z/math.Sqrt2) / 2
}

// burn integrates the likelihood of what was seen of burn over the tendency of the
// cycle. If told is not nil it is called with the weight of each tendency.
func (w *worker) burn(c *compiled, told func(weights []float64)) float64 {
	w.chances = grow(w.chances, len(c.sways))
	logs := w.chances
	copy(logs, c.prior)
	var seen [tendencies]float64
	for i := range c.burns {
		b := &c.burns[i]
		w.chance(c, b.x, b.looks, &seen)
		for k, weights := range c.weights {
			p := 0.0
			for q, v := range weights {
				p += v * seen[q]
			}
			logs[k] += math.Log((1-slip)*p + slip/4)
		}
	}
	for _, n := range c.counts {
		w.chance(c, n.x, []look{{day: n.day, reached: n.mark, over: -1}}, &seen)
		for k, weights := range c.weights {
			p := 0.0
			for q, v := range weights {
				p += v * seen[q]
			}
			p = (1-slip)*p + slip/4
			logs[k] += n.weight * (n.burnt*math.Log(p) + (n.of-n.burnt)*math.Log1p(-p))
		}
	}
	most := math.Inf(-1)
	for _, l := range logs {
		most = max(most, l)
	}
	sum := 0.0
	for k, l := range logs {
		logs[k] = math.Exp(l - most)
		sum += logs[k]
	}
	if told != nil {
		for k := range logs {
			logs[k] /= sum
		}
		told(logs)
	}
	return most + math.Log(sum)
}
