package outlook

import (
	"context"
	"errors"
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/calcium"
	"underlamp/science/energycost"
	"underlamp/science/headcost"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// A Plan is a setting together with everything else of a bench that may be
// turned.
type Plan struct {
	underlamp.Setting
	Fan     underlamp.FanAim
	Speed   quantity.MetrePerSecond // of the air among the plants
	Night   quantity.Fraction       // humidity by night
	CO2     quantity.PPM
	Density float64 // plants m⁻² at their last places
	Days    int     // from transplanting to harvest
}

// A Goal is what a plan should make the most of.
type Goal int

// The goals.
const (
	PerKWh  Goal = iota // saleable g per kWh of the lamps
	PerDay              // saleable g of the bench per day
	PerArea             // saleable g per m² and day
	Margin              // money per m² and day; needs prices
)

// Goals lists the goals in the order a person is shown them.
func Goals() []Goal { return []Goal{PerKWh, PerDay, PerArea, Margin} }

// Key is the word for the goal on the command line and in addresses.
func (g Goal) Key() string { return [...]string{"electricity", "day", "area", "money"}[g] }

// Name says the goal in words.
func (g Goal) Name() string {
	return [...]string{"saleable mass per kWh", "saleable mass per day", "saleable mass per m² and day", "margin per m² and day"}[g]
}

// Unit is that of the value, with the currency of the bench for money.
func (g Goal) Unit(b *underlamp.Bench) string {
	if g == Margin {
		return b.Price.Value.Currency + "/m²/d"
	}
	return [...]string{"g/kWh", "g/d", "g/m²/d"}[g]
}

// GoalOf finds the goal of a key.
func GoalOf(key string) (Goal, bool) {
	for _, g := range Goals() {
		if g.Key() == key {
			return g, true
		}
	}
	return PerKWh, false
}

// PlanNow is the bench as it is.
func (o *Outlook) PlanNow() Plan {
	b := o.b
	return Plan{
		Setting: b.Setting(), Fan: b.Air.Fan.Value, Speed: b.Air.Speed.Value, Night: b.Air.Night.Humidity.Value, CO2: b.Air.CO2.Value,
		Density: 1 / start(b).GroundM2, Days: b.Crop.Days.Value,
	}
}

// applied is the bench turned as a plan says, but for the density, which
// [Outlook.begin] and [Outlook.heads] carry: where each plant of another stand
// would be is not known.
func (o *Outlook) applied(p Plan) *underlamp.Bench {
	b := *o.b.With(p.Setting)
	b.Air.Fan, b.Air.Speed = turnTo(b.Air.Fan, p.Fan), turnTo(b.Air.Speed, p.Speed)
	b.Air.Night.Humidity = turnTo(b.Air.Night.Humidity, p.Night)
	b.Air.CO2 = turnTo(b.Air.CO2, p.CO2)
	b.Crop.Days = turnTo(b.Crop.Days, p.Days)
	return &b
}

func turnTo[T comparable](now underlamp.Given[T], v T) underlamp.Given[T] {
	if now.Value == v {
		return now
	}
	return underlamp.Said(v)
}

// heads is how many plants stand on the bench at a density: those of the
// description, in proportion.
func (o *Outlook) heads(p Plan) float64 {
	return float64(len(o.b.Plants)) * p.Density * start(o.b).GroundM2
}

func (o *Outlook) begin(p Plan) headcycle.Start {
	s := start(o.b)
	s.GroundM2 = 1 / p.Density
	for i := range s.Before { // plants are moved apart, never together
		s.Before[i].GroundM2 = min(s.Before[i].GroundM2, s.GroundM2)
	}
	return s
}

// A result is a plan with what the draws of a search say of it.
type result struct {
	plan     Plan
	value    float64 // by the goal
	chance   float64
	sold     float64 // share of heads
	fresh    float64 // g
	saleable float64 // g of the bench
	kWh      float64
	draws    []float64 // value by draw
	burnt    []float64 // share of the plants with burn, by draw
}

// A searcher evaluates plans on common draws.
type searcher struct {
	o       *Outlook
	goal    Goal
	ens     ensemble
	terms   headcost.Terms
	area    float64 // m²
	nodes   []float64
	lit     []hung // light at the nodes of height
	seen    map[Plan]result
	runs    int
	harvest []int // days that may be chosen, ascending
	scratch [][]headcycle.Day
}

// Sizes of the search, and the step of dimming that it goes by: finer than a hand
// turns, because along the limit of burn a coarse step hides the way.
const (
	fineDim     = 0.01
	planDraws   = 96
	planClasses = 3
)

func newSearcher(ctx context.Context, o *Outlook, goal Goal, draws int, ramp bool) (*searcher, error) {
	s := &searcher{
		o: o, goal: goal, ens: o.ens.small(draws), terms: termsOf(o.b), area: float64(o.b.Space.Width) * float64(o.b.Space.Depth),
		seen: map[Plan]result{}, harvest: []int{o.b.Crop.Days.Value},
	}
	lim := o.b.Limits
	if h := lim.Harvest; h != nil && !ramp {
		s.harvest = nil
		for d := h.Low; d <= h.High; d++ {
			s.harvest = append(s.harvest, d)
		}
	}
	s.nodes = steps(float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value), heightNodes)
	for _, h := range s.nodes {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at, err := o.hang(quantity.Metre(h), planClasses)
		if err != nil {
			return nil, err
		}
		s.lit = append(s.lit, at)
	}
	s.scratch = make([][]headcycle.Day, len(s.ens.traits))
	return s, nil
}

// classes is the light at a height and share of the full light, between nodes of
// height in the logarithm: light falls about as a power of the distance.
func (s *searcher) classes(height, share float64) []class {
	i, f := place(s.nodes, height, false)
	j := min(i+1, len(s.nodes)-1)
	a, z := s.lit[i].classes, s.lit[j].classes
	mix := func(u, v []float64) []float64 {
		out := make([]float64, len(u))
		for k := range u {
			switch {
			case u[k] > 0 && v[k] > 0:
				out[k] = share * math.Exp(math.Log(u[k])*(1-f)+math.Log(v[k])*f)
			default:
				out[k] = share * (u[k]*(1-f) + v[k]*f)
			}
		}
		return out
	}
	out := make([]class, len(a))
	for c := range a {
		out[c] = class{share: a[c].share, profile: headcycle.Profile{Spacing: levelSpacing, Levels: mix(a[c].profile.Levels, z[c].profile.Levels)}}
		if a[c].profile.Closed != nil && z[c].profile.Closed != nil {
			out[c].profile.Closed = mix(a[c].profile.Closed, z[c].profile.Closed)
		}
	}
	return out
}

// try evaluates a plan; of the days of harvest that may be chosen it takes the
// best under the limit, whatever day the plan names.
func (s *searcher) try(p Plan, limit float64) result {
	if len(s.harvest) > 1 {
		p.Days = -int(math.Round(limit * 1e4)) // the day follows from the rest and the limit
	}
	if r, ok := s.seen[p]; ok {
		return r
	}
	s.runs++
	var best result
	for k, r := range s.days(p, nil) {
		if k == 0 || better(r, best, limit) {
			best = r
		}
	}
	s.seen[p] = best
	return best
}

// days evaluates a plan at every day of harvest that may be chosen. shares is the
// light of each day over that of the plan, nil for 1.
func (s *searcher) days(p Plan, shares []float64) []result {
	o, b := s.o, s.o.b
	last := s.harvest[len(s.harvest)-1]
	p.Days = last
	env := environment(o.applied(p), p.Hours)
	env.HeartShare = calcium.HeartShare(string(p.Fan))
	classes := s.classes(float64(p.Height), max(o.shareAt(p.Dimming), 1e-3))
	begin, heads := o.begin(p), o.heads(p)
	saleable := float64(b.Crop.Saleable.Value)
	n, m := len(s.ens.traits), len(s.harvest)
	type sum struct{ fresh, chance, sold, mass, income float64 }
	sums := make([]sum, n*m)
	parallel(n, func(i int) {
		tr := &s.ens.traits[i]
		pre := headcycle.Prepare(tr, env)
		if len(s.scratch[i]) < last {
			s.scratch[i] = make([]headcycle.Day, last)
		}
		course := s.scratch[i][:last]
		buf := make([]float64, 0, 2*levelCount)
		for _, c := range classes {
			out := headcycle.Run(tr, &pre, scaled(buf, c.profile, s.ens.light[i]), begin, last, shares, course)
			for k, d := range s.harvest {
				at := &sums[i*m+k]
				fresh := course[d-1].Fresh
				at.fresh += c.share * fresh
				if out.BurnDay <= float64(d) {
					at.chance += c.share
					continue
				}
				lit := 0.0
				for _, day := range course[d/2 : d] {
					lit += day.PPFD / float64(d-d/2)
				}
				// As in a table of settings, steps are softened so that few draws do not jump.
				good := c.share * soft(fresh/saleable-1, 0.05) * soft(lit/tr.Compact-1, 0.05)
				at.sold += good
				at.mass += good * fresh
				at.income += good * s.terms.Price(fresh)
			}
		}
	})
	meanShare := 1.0
	if shares != nil {
		meanShare = 0
		for _, v := range shares {
			meanShare += s.drawn(p.Dimming, v) / float64(len(shares))
		}
	}
	out := make([]result, m)
	for k, d := range s.harvest {
		r := &out[k]
		r.plan = p
		r.plan.Days = d
		r.kWh = float64(quantity.EnergyOf(b.DrawAt(p.Dimming), p.Hours)) * float64(d) * meanShare
		r.draws, r.burnt = make([]float64, n), make([]float64, n)
		costs := 0.0
		if s.goal == Margin {
			costs = s.power(p.Hours)*r.kWh + heads*s.terms.PerHead + s.terms.PerCycle + s.area*float64(d)*s.terms.PerM2Day
		}
		for i := range n {
			x := sums[i*m+k]
			r.fresh += x.fresh / float64(n)
			r.chance += x.chance / float64(n)
			r.burnt[i] = x.chance
			r.sold += x.sold / float64(n)
			r.saleable += x.mass * heads / float64(n)
			switch s.goal {
			case PerKWh:
				r.draws[i] = x.mass * heads / r.kWh
			case PerDay:
				r.draws[i] = x.mass * heads / float64(d)
			case PerArea:
				r.draws[i] = x.mass * heads / float64(d) / s.area
			case Margin:
				r.draws[i] = (x.income*heads - costs) / float64(d) / s.area
			}
			r.value += r.draws[i] / float64(n)
		}
	}
	return out
}

// drawn is the power at a share of the light of a dimming, over the power at it.
func (s *searcher) drawn(dim quantity.Fraction, share float64) float64 {
	b := s.o.b
	now := float64(b.DrawAt(dim))
	if now <= 0 {
		return share
	}
	return float64(b.DrawAt(b.DimmingFor(quantity.Fraction(share)*b.LightAt(dim)))) / now
}

// power is the price of a kWh when so many hours are put where they cost least.
func (s *searcher) power(hours quantity.Hours) float64 {
	t := s.o.b.Money.Tariff
	if t == nil {
		return s.o.b.Price.Value.PerKWh
	}
	p, err := energycost.LightDay{Tariff: *t, Hours: hours}.Place()
	if err != nil {
		return s.o.b.Price.Value.PerKWh
	}
	return p.PerHour
}

// better says that a is to be preferred to b under a limit of burn: one that keeps
// the limit and sells most heads before one that does not, then the higher value,
// then the lower chance.
func better(a, b result, limit float64) bool {
	va, vb := violation(a, limit), violation(b, limit)
	switch {
	case va != vb:
		return va < vb
	case a.value != b.value:
		return a.value > b.value
	}
	return a.chance < b.chance
}

// violation is how far a result is from keeping the limit and selling most heads.
func violation(r result, limit float64) float64 {
	return max(r.chance-limit, 0) + max(leastSold-r.sold, 0)
}

// A knob is one thing that the search may turn.
type knob struct {
	name   string
	lo, hi float64
	step   float64 // the finest that a grower turns
	get    func(*Plan) float64
	set    func(*Plan, float64)
	kind   quantity.Kind
	rank   int // of the expense of turning it: 0 nothing but a hand, 1 some air moved, 2 air changed
}

// lampKnobs is how many of the knobs turn the lamps.
const lampKnobs = 3

// knobs are those of a bench, lamps first. The harvest is no knob of the pattern
// search: every day of it is known from one run.
func (o *Outlook) knobs() []knob {
	lim := o.b.Limits
	ks := []knob{
		{"dimming", float64(lim.MinDim.Value), float64(lim.MaxDim.Value), fineDim,
			func(p *Plan) float64 { return float64(p.Dimming) }, func(p *Plan, v float64) { p.Dimming = quantity.Fraction(v) }, quantity.Share, 0},
		{"hours of light", float64(lim.MinHours.Value), float64(lim.MaxHours.Value), hourStep,
			func(p *Plan) float64 { return float64(p.Hours) }, func(p *Plan, v float64) { p.Hours = quantity.Hours(v) }, quantity.Duration, 0},
		{"lamp height", float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value), heightStep,
			func(p *Plan) float64 { return float64(p.Height) }, func(p *Plan, v float64) { p.Height = quantity.Metre(v) }, quantity.Length, 0},
	}
	if d := lim.Density; d != nil {
		ks = append(ks, knob{"plants per area", d.Low, d.High, 1,
			func(p *Plan) float64 { return p.Density }, func(p *Plan, v float64) { p.Density = v }, quantity.PlantDensity, 0})
	}
	if f := lim.Fan; f != nil {
		ks = append(ks, knob{"air speed", float64(f.Low), float64(f.High), 0.05,
			func(p *Plan) float64 { return float64(p.Speed) },
			func(p *Plan, v float64) {
				p.Speed = quantity.MetrePerSecond(v)
				if o.b.Air.Fan.Value != underlamp.Across {
					p.Fan = underlamp.Down
				}
			}, quantity.AirSpeed, 1})
	}
	if h := lim.NightHumidity; h != nil {
		ks = append(ks, knob{"humidity by night", float64(h.Low), float64(h.High), 0.02,
			func(p *Plan) float64 { return float64(p.Night) }, func(p *Plan, v float64) { p.Night = quantity.Fraction(v) }, quantity.Share, 2})
	}
	if c := lim.CO2; c != nil {
		ks = append(ks, knob{"CO2", float64(c.Low), float64(c.High), 50,
			func(p *Plan) float64 { return float64(p.CO2) }, func(p *Plan, v float64) { p.CO2 = quantity.PPM(v) }, quantity.GasShare, 2})
	}
	return ks
}

// onGrid moves a value to the nearest multiple of a step within lo and hi.
func onGrid(v, lo, hi, step float64) float64 {
	return math.Round(1e6*min(max(math.Round(v/step)*step, lo), hi)) / 1e6
}

// climb seeks the best plan near another in two passes: first by [merit], which may
// cross a little beyond the limit, since the way along a limit leads now and then
// over it; then from the best plan seen so far, keeping the limit at every step.
// It stops early with the best so far if ctx is done.
func (s *searcher) climb(ctx context.Context, from Plan, limit float64, ks []knob, coarse float64) result {
	start := s.try(from, limit)
	s.pattern(ctx, start, limit, ks, coarse, func(a, b result) bool { return s.merit(a, limit) > s.merit(b, limit) })
	best := start
	for _, r := range s.seen {
		if better(r, best, limit) || !better(best, r, limit) && lessPlan(r.plan, best.plan) {
			best = r
		}
	}
	return s.pattern(ctx, best, limit, ks, min(coarse, 0.06), func(a, b result) bool { return better(a, b, limit) })
}

// merit is the value less a fine: ten points beyond the limits cost it all.
func (s *searcher) merit(r result, limit float64) float64 {
	return r.value - 10*violation(r, limit)*max(math.Abs(r.value), 1e-9)
}

// pattern turns one knob at a time by a stride, or two along a ridge, the best turn
// of all first, and halves the stride where no turn helps, down to the finest steps.
func (s *searcher) pattern(ctx context.Context, best result, limit float64, ks []knob, coarse float64, prefer func(a, b result) bool) result {
	for stride := coarse; ; stride /= 2 {
		for ctx.Err() == nil {
			found := false
			top := best
			consider := func(p Plan) {
				if ctx.Err() != nil {
					return
				}
				if r := s.try(p, limit); prefer(r, top) {
					top, found = r, true
				}
			}
			for _, k := range ks {
				if k.hi-k.lo < 1e-9 {
					continue
				}
				d := max(math.Round(stride*(k.hi-k.lo)/k.step)*k.step, k.step)
				for _, by := range [2]float64{-d, d} {
					p := best.plan
					v := onGrid(k.get(&p)+by, k.lo, k.hi, k.step)
					if math.Abs(v-k.get(&p)) < 1e-9 {
						continue
					}
					k.set(&p, v)
					consider(p)
				}
			}
			for _, p := range s.sameLight(best.plan, ks, stride) {
				consider(p)
			}
			if !found {
				break
			}
			best = top
		}
		if stride < 0.02 || ctx.Err() != nil {
			return best
		}
	}
}

// sameLight are longer and shorter days, and higher and lower lamps, with the
// dimming that keeps the daily light: the ridges along which burn and mass change
// least, which turns of one knob cross.
func (s *searcher) sameLight(p Plan, ks []knob, stride float64) []Plan {
	dim, hours, height := ks[0], ks[1], ks[2]
	var out []Plan
	along := func(k knob, light func(v float64) float64) {
		d := max(math.Round(stride*(k.hi-k.lo)/k.step)*k.step, k.step)
		for _, by := range [2]float64{-d, d} {
			q := p
			v := onGrid(k.get(&p)+by, k.lo, k.hi, k.step)
			k.set(&q, v)
			dim.set(&q, onGrid(dim.get(&p)*light(k.get(&p))/light(v), dim.lo, dim.hi, dim.step))
			if q != p {
				out = append(out, q)
			}
		}
	}
	along(hours, func(h float64) float64 { return h })
	along(height, func(h float64) float64 {
		i, f := place(s.nodes, h, false)
		j := min(i+1, len(s.nodes)-1)
		return math.Exp(math.Log(s.lit[i].full)*(1-f) + math.Log(s.lit[j].full)*f)
	})
	return out
}

// describeKnob prints a value of a knob.
func (o *Outlook) describeKnob(k knob, v float64) string { return k.kind.Format(v, o.b.Units, 3) }

// halton is the i-th point of the Halton sequence in a base: even coverage
// without chance.
func halton(i, base int) float64 {
	f, r := 1.0, 0.0
	for i > 0 {
		f /= float64(base)
		r += f * float64(i%base)
		i /= base
	}
	return r
}

// NeedsPrice says that a search for money failed because the bench file has no prices.
func NeedsPrice(err error) bool { return errors.Is(err, errNoPrice) }

var errNoPrice = fmt.Errorf("the bench file does not say what heads sell for; add sale: [{from: 120 g, price: 0.90 EUR/head}]")
