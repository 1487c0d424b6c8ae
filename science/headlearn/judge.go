package headlearn

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mathext"
)

// judged is the number of draws that data are held against.
const judged = 200

// Bounds of what is called a misfit.
const (
	falseAlarms = 0.1  // chance that evidence without any fault has a datum that is called a misfit
	rareAtLeast = 0.01 // and none is called so that is no rarer than this
	farCycle    = 2.5  // standard deviations of a cycle from the others
	farTrait    = 2.5  // of a parameter from its prior
)

// A prediction of one datum by one draw.
type prediction struct {
	mean, variance float64 // of the logarithm
	more, less     float64 // chance of burn at least and at most as seen
	shows          float64 // chance of burn by then
}

// perDraw is what one draw says of everything.
type perDraw struct {
	data   []prediction
	mass   []float64 // effect of each cycle on fresh mass, ln
	massSD []float64
	sway   []float64
	swaySD []float64
}

// judge holds every datum against what the posterior expects (posterior predictive
// check, GelmanBDA2013, section 6.3) and writes the warnings.
func (p *Posterior) judge(ctx context.Context) error {
	m := p.evidence
	p.Fit = m.list()
	if len(p.Fit) == 0 {
		return nil
	}
	n := min(judged, len(p.draws))
	results := make([]perDraw, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			w := m.worker()
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				d := p.draws[i*len(p.draws)/n]
				results[i] = w.predict(point{logs: d[:len(m.axes)], spread: d[len(m.axes)]}, len(p.Fit))
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	limit := min(rareAtLeast, falseAlarms/float64(len(p.Fit)))
	for i := range p.Fit {
		p.Fit[i].settle(results, i, limit)
	}
	p.cycles(results)
	p.warn()
	return nil
}

// list names every datum, in the order in which predict speaks of them.
func (m *model) list() []Datum {
	var out []Datum
	for ci := range m.cycles {
		c := &m.cycles[ci]
		for ch := range channels {
			for _, s := range c.series[ch] {
				for j, day := range s.day {
					d := Datum{Cycle: ci, Plant: s.plant, Index: s.index[j], Day: max(day, -day), Observed: math.Exp(s.value[j])}
					switch {
					case ch == height:
						d.Kind = CanopyTop
					case ch == fresh && day > 0:
						d.Kind = FreshMass
					case ch == fresh:
						d.Kind = DryMass
					default:
						d.Kind = DryShare
					}
					out = append(out, d)
				}
			}
		}
		for _, b := range c.burns {
			for _, l := range b.looks {
				seen := c.Plants[b.plant].Burns[l.index]
				d := Datum{Cycle: ci, Plant: b.plant, Index: l.index, Kind: HeartBurn, Day: seen.Day}
				if l.reached >= 0 {
					d.Observed = 1
				}
				out = append(out, d)
			}
		}
		for _, k := range c.counts {
			out = append(out, Datum{Cycle: ci, Plant: -1, Index: k.index, Kind: BurnCount, Day: int(k.day), Observed: k.burnt})
		}
	}
	return out
}

// predict says what one draw expects of every datum, given the effects of the cycles
// that the evidence leaves.
func (w *worker) predict(p point, data int) perDraw {
	out := perDraw{data: make([]prediction, 0, data)}
	tr := w.m.at(p.logs)
	for ci := range w.m.cycles {
		c := &w.m.cycles[ci]
		mass, massSD, sway, swaySD := 0.0, c.effect[fresh], 0.0, c.sway
		if c.last > 0 {
			if !c.again {
				w.run(c, &tr)
			}
			for ch := range channels {
				if len(c.series[ch]) == 0 {
					continue
				}
				var e [rank]float64
				var precision triangle
				w.effect(c, ch, p, func(mode [rank]float64, f triangle) { e, precision = mode, f })
				if ch == fresh {
					load := c.cycles[ch][c.lastOf(ch)]
					mass, massSD = dot(load, e), math.Sqrt(precision.variance(load))
				}
				factor := plantFactor(ch, p)
				for _, s := range c.series[ch] {
					at := c.between(s.x)
					for j, day := range s.day {
						load, plant := c.cycles[ch][day], c.plants[ch][day]
						// Student about the mean: its variance is ν/(ν−2) of the square of its scale.
						v := ((factor*factor*dot(plant, plant)+s.noise[j]*s.noise[j])/s.of + s.same) * freedom / (freedom - 2)
						out.data = append(out.data, prediction{mean: w.expected(c, ch, day, at) + dot(load, e), variance: v + precision.variance(load)})
					}
				}
			}
		}
		if c.burnLast > 0 && len(c.sways) > 0 {
			var weights []float64
			w.burn(c, func(k []float64) { weights = append(weights, k...) })
			square := 0.0
			for k, v := range weights {
				sway += v * c.sways[k]
				square += v * c.sways[k] * c.sways[k]
			}
			swaySD = math.Sqrt(max(square-sway*sway, 0))
			w.predictBurn(c, weights, &out)
		}
		out.mass, out.massSD = append(out.mass, mass), append(out.massSD, massSD)
		out.sway, out.swaySD = append(out.sway, sway), append(out.swaySD, swaySD)
	}
	return out
}

func (w *worker) predictBurn(c *compiled, weights []float64, out *perDraw) {
	var seen [tendencies]float64
	// chance is that of a look over plants and over the tendency of the cycle.
	chance := func(x float64, l look) float64 {
		w.chance(c, x, []look{l}, &seen)
		p := 0.0
		for k, v := range weights {
			for q, u := range c.weights[k] {
				p += v * u * seen[q]
			}
		}
		return p
	}
	const first = 0 // the mark of one leaf, see compileCycle
	for _, b := range c.burns {
		for _, l := range b.looks {
			p := prediction{more: 1, less: 1}
			p.shows = chance(b.x, look{day: l.day, reached: first, over: -1})
			if l.reached >= 0 {
				p.more = chance(b.x, look{day: l.day, reached: l.reached, over: -1})
			}
			if l.over >= 0 {
				p.less = chance(b.x, look{day: l.day, reached: -1, over: l.over})
			}
			out.data = append(out.data, p)
		}
	}
	for _, n := range c.counts {
		w.chance(c, n.x, []look{{day: n.day, reached: n.mark, over: -1}}, &seen)
		var p prediction
		for k, v := range weights {
			one := 0.0
			for q, u := range c.weights[k] {
				one += u * seen[q]
			}
			one = min(max(one, 1e-9), 1-1e-9)
			p.shows += v * one
			// P(X ≤ k) of a binomial is an incomplete beta function.
			if n.burnt < n.of {
				p.less += v * mathext.RegIncBeta(n.of-n.burnt, n.burnt+1, 1-one)
			} else {
				p.less += v
			}
			if n.burnt > 0 {
				p.more += v * mathext.RegIncBeta(n.burnt, n.of-n.burnt+1, one)
			} else {
				p.more += v
			}
			p.mean += v * one * n.of
			p.variance += v * (one*(1-one)*n.of + one*one*n.of*n.of)
		}
		p.variance -= p.mean * p.mean
		out.data = append(out.data, p)
	}
}

// settle sums up what the draws expect of datum i.
func (d *Datum) settle(results []perDraw, i int, limit float64) {
	var mean, square, variance, more, less, shows float64
	n := float64(len(results))
	for _, r := range results {
		q := r.data[i]
		mean += q.mean / n
		square += q.mean * q.mean / n
		variance += q.variance / n
		more += q.more / n
		less += q.less / n
		shows += q.shows / n
	}
	sd := math.Sqrt(max(variance+square-mean*mean, 0))
	const z95 = 1.6448536269514722
	switch d.Kind {
	case HeartBurn:
		d.Expected, d.Low, d.High = shows, math.NaN(), math.NaN()
		d.Tail = min(more, less)
	case BurnCount:
		d.Expected, d.Low, d.High = mean, max(mean-z95*sd, 0), mean+z95*sd
		d.Tail = min(2*min(more, less), 1)
	default:
		d.Expected, d.Low, d.High = math.Exp(mean), math.Exp(mean-z95*sd), math.Exp(mean+z95*sd)
		d.Tail = 2 * phi(-math.Abs(math.Log(d.Observed)-mean)/sd)
	}
	d.Misfit = d.Tail < limit
}

// cycles sums up how the cycles differ.
func (p *Posterior) cycles(results []perDraw) {
	m := p.evidence
	n := float64(len(results))
	for ci := range m.cycles {
		c := &m.cycles[ci]
		f := CycleFit{Name: c.Name}
		var mass, massSq, massVar, sway, swaySq, swayVar float64
		for _, r := range results {
			mass += r.mass[ci] / n
			massSq += r.mass[ci] * r.mass[ci] / n
			massVar += r.massSD[ci] * r.massSD[ci] / n
			sway += r.sway[ci] / n
			swaySq += r.sway[ci] * r.sway[ci] / n
			swayVar += r.swaySD[ci] * r.swaySD[ci] / n
		}
		massSD, swaySD := math.Sqrt(max(massVar+massSq-mass*mass, 0)), math.Sqrt(max(swayVar+swaySq-sway*sway, 0))
		about := logNormal(massSD)
		shift := math.Exp(mass)
		f.MassFactor = Quantity{Mean: shift * about.Mean, SD: shift * about.SD, Q05: shift * about.Q05, Q25: shift * about.Q25, Q50: shift, Q75: shift * about.Q75, Q95: shift * about.Q95}
		const z75, z95 = 0.6744897501960817, 1.6448536269514722
		f.HeartTendency = Quantity{Mean: sway, SD: swaySD, Q05: sway - z95*swaySD, Q25: sway - z75*swaySD, Q50: sway, Q75: sway + z75*swaySD, Q95: sway + z95*swaySD}
		for _, s := range c.series[fresh] {
			f.Weighings += len(s.day)
		}
		for _, b := range c.burns {
			f.Burn += len(b.looks)
		}
		f.Burn += len(c.counts)
		if f.Weighings > 0 && c.effect[fresh] > 0 {
			f.MassZ = mass / c.effect[fresh]
		}
		if f.Burn > 0 && c.sway > 0 {
			f.HeartZ = sway / c.sway
		}
		f.Misfit = math.Abs(f.MassZ) > farCycle || math.Abs(f.HeartZ) > farCycle
		p.Cycles = append(p.Cycles, f)
		if len(c.series[fresh]) > 0 {
			spread := make([]float64, len(p.draws))
			for i, d := range p.draws {
				spread[i] = c.spread[fresh] * spreadFactor(d[len(m.axes)])
			}
			p.PlantSD = quantity(spread) // of the last cycle that was weighed
		}
	}
}

// place names a datum for a person.
func (p *Posterior) place(d Datum) string {
	c := p.evidence.cycles[d.Cycle].Cycle
	if d.Plant < 0 {
		return fmt.Sprintf("%s, day %d, %s", c.Name, d.Day, d.Kind)
	}
	return fmt.Sprintf("%s, plant %s, day %d, %s", c.Name, c.Plants[d.Plant].Name, d.Day, d.Kind)
}

// warn says in sentences what does not fit.
func (p *Posterior) warn() {
	m := p.evidence
	add := func(format string, args ...any) { p.Warnings = append(p.Warnings, fmt.Sprintf(format, args...)) }
	for _, c := range m.cycles {
		for _, b := range c.burns {
			seen := -1
			for _, l := range c.Plants[b.plant].Burns {
				if l.Low != (Extent{}) && (seen < 0 || l.Day < seen) {
					seen = l.Day
				}
			}
			for _, l := range c.Plants[b.plant].Burns {
				if l.Low == (Extent{}) && seen >= 0 && l.Day > seen {
					add("%s, plant %s: burn was seen on day %d, yet none on day %d.", c.Name, c.Plants[b.plant].Name, seen, l.Day)
					break
				}
			}
		}
	}
	for _, d := range p.Fit {
		if d.Misfit {
			add("%s does not fit the rest: %s", p.place(d), d.told())
		}
	}
	for i, c := range p.Cycles {
		if math.Abs(c.MassZ) > farCycle {
			add("The masses of %s are %.2f times what the other cycles and the prior give for its light and air; check its light, start mass and days.", m.cycles[i].Name, c.MassFactor.Q50)
		}
		if math.Abs(c.HeartZ) > farCycle {
			less := "more"
			if c.HeartZ < 0 {
				less = "less"
			}
			add("The plants of %s burnt far %s than the other cycles and the prior give for its light and air; check its humidity and fan.", m.cycles[i].Name, less)
		}
	}
	for k, a := range p.Parameters {
		if z := a.LogMean / a.PriorLogSD; math.Abs(z) > farTrait && k < len(m.axes) {
			add("The %s comes out at %.2f of the usual, %.1f standard deviations from what is held for lettuce: more likely the light, the air or the start mass is given wrongly.", a.Name, a.Posterior.Q50, math.Abs(z))
		}
	}
}

func (d Datum) told() string {
	switch d.Kind {
	case HeartBurn:
		return fmt.Sprintf("a plant there shows burn by that day with a chance of %.0f %%.", 100*d.Expected)
	case BurnCount:
		return fmt.Sprintf("%.0f burnt, %.1f expected.", d.Observed, d.Expected)
	case CanopyTop:
		return fmt.Sprintf("%.3g m, %.3g expected (90 %% between %.3g and %.3g).", d.Observed, d.Expected, d.Low, d.High)
	case DryShare:
		return fmt.Sprintf("%.2f %% dry, %.2f expected (90 %% between %.2f and %.2f).", 100*d.Observed, 100*d.Expected, 100*d.Low, 100*d.High)
	}
	return fmt.Sprintf("%.4g g, %.3g expected (90 %% between %.3g and %.3g).", d.Observed, d.Expected, d.Low, d.High)
}
