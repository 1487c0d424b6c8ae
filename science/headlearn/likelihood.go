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
		w.run(c, &tr)
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
func (c *compiled) between(x float64) (out [4]float64) {
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
func (w *worker) expected(c *compiled, ch, day int, at [4]float64) float64 {
	v := 0.0
	for k := range c.nodes {
		g := &w.grown[k][max(day, -day)-1]
		switch {
		case ch == fresh && day > 0:
			v += at[k] * math.Log(g.Fresh)
		case ch == fresh:
			v += at[k] * math.Log(g.Dry)
		case ch == dry:
			v += at[k] * math.Log(g.Dry/g.Fresh)
		default:
			v += at[k] * math.Log(g.Height)
		}
	}
	return v
}

// sdOfPlants is the spread of a channel between plants.
func (c *compiled) sdOfPlants(ch int, p point) float64 {
	if ch == fresh {
		return c.spread[ch] * spreadFactor(p.spread)
	}
	return c.spread[ch]
}

// A quadratic is a plant's squared distance as a function of the effect of the cycle,
// a − 2 b e + c e², with its part of the normalising constant.
type quadratic struct{ a, b, c, constant, power float64 }

// effect integrates the likelihood of a channel over the effect of the cycle, which
// is normal. A plant's values are together Student distributed about the model times
// that effect: their covariance is that of the plant plus that of each value. If told
// is not nil it is called with the mean and the standard deviation of the effect.
func (w *worker) effect(c *compiled, ch int, p point, told func(mean, sd float64)) float64 {
	sd := c.sdOfPlants(ch, p)
	tau := max(c.effect[ch], 1e-4)
	terms := w.terms[:0]
	precision := 1 / (tau * tau)
	for i := range c.series[ch] {
		s := &c.series[ch][i]
		at := c.between(s.x)
		plant := sd * sd / s.of
		// With D the errors and 1 the vector of ones, (D + v 11ᵀ)⁻¹ by Sherman and Morrison.
		var q quadratic
		var rdr, rd1, d1, logs float64
		for j, day := range s.day {
			r := s.value[j] - w.expected(c, ch, day, at)
			v := s.noise[j] * s.noise[j] / s.of
			rdr += r * r / v
			rd1 += r / v
			d1 += 1 / v
			logs += math.Log(v)
		}
		f := plant / (1 + plant*d1)
		q.a, q.b, q.c = rdr-f*rd1*rd1, rd1-f*rd1*d1, d1-f*d1*d1
		q.constant = -(logs + math.Log(1+plant*d1)) / 2
		q.power = (freedom + float64(len(s.day))) / 2
		terms = append(terms, q)
		precision += q.c
	}
	w.terms = terms
	n := min(max(int(math.Ceil(9*tau*math.Sqrt(precision)/1.2)), 25), 241)
	w.chances = grow(w.chances, n)
	step := 9 * tau / float64(n-1)
	most := math.Inf(-1)
	for k := range n {
		e := -4.5*tau + step*float64(k)
		l := -e * e / (2 * tau * tau)
		for _, q := range terms {
			l += q.constant - q.power*math.Log1p(max(q.a-2*q.b*e+q.c*e*e, 0)/freedom)
		}
		w.chances[k] = l
		most = max(most, l)
	}
	var sum, mean, square float64
	for k := range n {
		e := -4.5*tau + step*float64(k)
		v := math.Exp(w.chances[k] - most)
		sum += v
		mean += v * e
		square += v * e * e
	}
	if told != nil {
		mean /= sum
		told(mean, math.Sqrt(max(square/sum-mean*mean, 0)))
	}
	return most + math.Log(sum*step/(tau*math.Sqrt(2*math.Pi)))
}

// dayOf is the day on which plants of light x reach a mark, by tendency.
func (w *worker) dayOf(c *compiled, x float64, mark int, out *[tendencies]float64) {
	// Linear in the logarithm of light between two nodes: a day that is never reached
	// would bend a polynomial.
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
			days[h] += f * (w.days[i+1][mark][h] - days[h])
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
			logs[k] += n.burnt*math.Log(p) + (n.of-n.burnt)*math.Log1p(-p)
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
