package outlook

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// A Wider is the answer to "how should everything that I can turn be set?".
type Wider struct {
	Goal  Goal
	Limit float64 // of the chance of burn

	Now, Best Weighed
	Found     bool // some plan keeps the limit of burn and sells most heads; else Best is the nearest

	Frontier []Weighed  // best plans under ever laxer limits of burn, by rising chance; from 256 draws
	Bounds   []Marginal // what a bound that the best plan touches is worth
	Changes  []Change   // single changes of the bench as it is, cheapest to turn first
	Ramps    []Ramp     // light that changes over the cycle, against the best constant plan; best first
	Searched int        // plans compared
	Turned   []string   // names of what was turned
}

// A Weighed is a plan with what it brings.
type Weighed struct {
	Plan   Plan
	Value  float64 // by the goal
	Chance float64 // of burn
	Fresh  float64 // g
	Sold   float64 // share of heads
	KWh    float64
	Heads  float64

	Forecast *Forecast // with all draws; nil for a point of the frontier
}

// A Marginal is the worth of one bound.
type Marginal struct {
	Name string // "the limit of burn: 11 % instead of 10 %"
	Gain Band   // of the value, with the 90 % band of the comparison on common draws
}

// Told says that the gain is more than the noise of the draws.
func (m Marginal) Told() bool { return m.Gain.Low > 0 || m.Gain.High < 0 }

// A Change is one thing turned on the bench as it is.
type Change struct {
	Name     string // "air speed"
	From, To string
	Expense  int // 0: a turn of the hand; 1: moved air; 2: changed air
	After    Weighed
	Gain     Band // of the value
	Points   Band // of the chance of burn, percentage points
	Serves   bool // keeps the limit of burn and sells most heads
}

// Helps says that the change raises the value or brings the chance under the
// limit, beyond the noise of the draws.
func (c Change) Helps() bool { return c.Gain.Low > 0 || c.Serves && c.Points.High < 0 }

// A Ramp is a plan whose light changes over the cycle.
type Ramp struct {
	Name   string     // "full light to day 24, then 70 %"
	Days   []RampStep // when to turn the dimmers, from day 1
	After  Weighed
	Gain   Band // of the value over the best constant plan
	Points Band // of the chance of burn over it
}

// Pays says that the ramp beats the constant plan beyond the noise of the draws.
func (r Ramp) Pays() bool { return r.Gain.Low > 0 }

// A RampStep is a dimming from a day on.
type RampStep struct {
	Day     int
	Dimming quantity.Fraction
}

// frontierLimits are the limits of burn that the frontier is made of.
var frontierLimits = []float64{0.01, 0.02, 0.03, 0.05, 0.075, 0.10, 0.15, 0.20, 0.30, 0.40, 0.55, 0.75, 1}

// Rounds of the search after a winner that does not keep its limit with all
// draws, and draws of the comparisons.
const (
	mostRounds   = 5
	startPoints  = 8
	compareDraws = 256
)

// WiderOptions say how far a search goes.
type WiderOptions struct {
	Goal     Goal
	Frontier bool
	Ramps    bool
	Progress func(what string, share float64) // what is searched, and the share of the whole that is done; may be nil
}

// Wider searches everything that the limits of the bench let turn. It evaluates
// plans on common draws: a climb from several starts, then the winner with all
// draws, and where that does not keep the limit, again under a tighter one.
func (o *Outlook) Wider(ctx context.Context, opt WiderOptions) (*Wider, error) {
	if opt.Goal == Margin && len(o.b.Money.Sale) == 0 {
		return nil, errNoPrice
	}
	say := stages(opt)
	s, err := newSearcher(ctx, o, opt.Goal, planDraws, false)
	if err != nil {
		return nil, err
	}
	limit := float64(o.b.Limits.Burn.Value)
	w := &Wider{Goal: opt.Goal, Limit: limit}
	ks := o.knobs()
	for _, k := range ks {
		if k.hi-k.lo > 1e-9 {
			w.Turned = append(w.Turned, k.name)
		}
	}
	if len(s.harvest) > 1 {
		w.Turned = append(w.Turned, "day of harvest")
	}
	now := o.PlanNow()
	if w.Now, err = o.weigh(now, opt.Goal); err != nil {
		return nil, err
	}

	got, err := o.seek(ctx, s, ks, limit, func(done, of int) { say("plans", done, of) })
	if err != nil {
		return nil, err
	}
	w.Best, w.Found = got.weighed, got.found
	best, tight, fine := got.result, got.tight, got.fine
	s.runs += got.runs

	say("bounds", 0, 1)
	if w.Bounds, err = o.marginals(ctx, fine, best, tight, ks); err != nil {
		return nil, err
	}
	say("single changes", 0, 1)
	if w.Changes, err = o.singles(ctx, opt.Goal, now, limit, ks); err != nil {
		return nil, err
	}
	say("single changes", 1, 1)
	if opt.Frontier {
		if w.Frontier, err = o.frontier(ctx, s, ks, say); err != nil {
			return nil, err
		}
	}
	if opt.Ramps {
		if w.Ramps, err = o.ramps(ctx, opt.Goal, best, tight, say); err != nil {
			return nil, err
		}
	}
	w.Searched = s.runs
	return w, ctx.Err()
}

// stages tells the share of the whole search from that of a part of it. How long the parts
// take beside each other was measured on the demo.
func stages(opt WiderOptions) func(what string, done, of int) {
	if opt.Progress == nil {
		return func(string, int, int) {}
	}
	type stage struct {
		what string
		time float64
	}
	all := []stage{{"plans", 20}, {"bounds", 6}, {"single changes", 5}}
	if opt.Frontier {
		all = append(all, stage{"trade-off", 7})
	}
	if opt.Ramps {
		all = append(all, stage{"ramps", 20})
	}
	whole := 0.0
	for _, x := range all {
		whole += x.time
	}
	return func(what string, done, of int) {
		before := 0.0
		for _, x := range all {
			if x.what == what {
				opt.Progress(what, (before+x.time*float64(done)/float64(max(of, 1)))/whole)
				return
			}
			before += x.time
		}
	}
}

// A sought is what a search found.
type sought struct {
	result  result // on the draws of fine
	weighed Weighed
	found   bool
	tight   float64 // limit on the draws of fine under which the limit holds with all draws
	fine    *searcher
	runs    int // of fine
}

// seek climbs from several starts, goes on from the best with more draws, and
// weighs the winner with all draws; where that does not keep the limit it seeks
// again under a tighter one.
func (o *Outlook) seek(ctx context.Context, s *searcher, ks []knob, limit float64, progress func(done, of int)) (sought, error) {
	starts := o.starts(ctx, s, o.PlanNow(), ks, limit)
	if err := ctx.Err(); err != nil {
		return sought{}, err
	}
	var best result
	for i, p := range starts {
		if err := ctx.Err(); err != nil {
			return sought{}, err
		}
		progress(i, len(starts)+1)
		if r := s.climb(ctx, p, limit, ks, 0.25); i == 0 || better(r, best, limit) {
			best = r
		}
	}
	fine := *s // the last steps go by more draws, which flatter the winner less
	fine.ens, fine.seen, fine.runs = o.ens.small(compareDraws), map[Plan]result{}, 0
	fine.scratch = make([][]headcycle.Day, len(fine.ens.traits))
	best = fine.climb(ctx, best.plan, limit, ks, 0.12)
	got := sought{tight: limit, fine: &fine}
	for round := 0; ; round++ {
		if err := ctx.Err(); err != nil {
			return sought{}, err
		}
		var err error
		if got.weighed, err = o.weigh(best.plan, s.goal); err != nil {
			return sought{}, err
		}
		got.found = got.weighed.Chance <= limit && got.weighed.Sold >= leastSold
		if got.found || round == mostRounds || violation(best, got.tight) > 0 {
			break
		}
		// The draws of the search were kind to it: what it may risk on them shrinks.
		got.tight = max(got.tight-max(got.weighed.Chance-limit, 0.002), 0)
		best = fine.climb(ctx, best.plan, got.tight, ks, 0.05)
	}
	got.result, got.runs = best, fine.runs
	progress(len(starts)+1, len(starts)+1)
	return got, nil
}

// weigh forecasts a plan with all draws.
func (o *Outlook) weigh(p Plan, g Goal) (Weighed, error) {
	f, err := o.ForecastPlan(p)
	if err != nil {
		return Weighed{}, err
	}
	x := Weighed{Plan: p, Chance: f.Chance, Fresh: f.Fresh.Mid, Sold: f.Sold, KWh: float64(f.Energy.KWh), Heads: f.Heads, Forecast: f}
	switch g {
	case PerKWh:
		x.Value = f.PerKWh.Mid
	case PerDay:
		x.Value = f.PerDay()
	case PerArea:
		x.Value = f.PerAreaDay()
	case Margin:
		x.Value = f.Account.PerAreaDay(f.Account.Margin.Mid)
	}
	return x, nil
}

// starts are where the climbs begin: the bench as it is, and the best few of an
// even cover of all knobs and of the same cover with the air as it is.
func (o *Outlook) starts(ctx context.Context, s *searcher, now Plan, ks []knob, limit float64) []Plan {
	bases := []int{2, 3, 5, 7, 11, 13, 17}
	var all []result
	for i := 1; i <= startPoints; i++ {
		for lamps := range 2 {
			if ctx.Err() != nil {
				return nil
			}
			p := now
			for k, kn := range ks {
				if lamps == 1 && kn.rank > 0 {
					continue
				}
				kn.set(&p, onGrid(kn.lo+halton(i, bases[k])*(kn.hi-kn.lo), kn.lo, kn.hi, kn.step))
			}
			all = append(all, s.try(p, limit))
		}
	}
	slices.SortStableFunc(all, func(a, b result) int {
		switch {
		case better(a, b, limit):
			return -1
		case better(b, a, limit):
			return 1
		}
		return 0
	})
	inside := now
	for _, k := range ks {
		if v := k.get(&inside); v < k.lo || v > k.hi {
			k.set(&inside, onGrid(v, k.lo, k.hi, k.step))
		}
	}
	out := []Plan{inside}
	for _, r := range all[:min(3, len(all))] {
		out = append(out, r.plan)
	}
	return out
}

func weighed(s *searcher, r result) Weighed {
	return Weighed{Plan: r.plan, Value: r.value, Chance: r.chance, Fresh: r.fresh, Sold: r.sold, KWh: r.kWh, Heads: s.o.heads(r.plan)}
}

// frontier finds the best plan under each of a row of limits. Every limit starts
// from the best plan seen that keeps it.
func (o *Outlook) frontier(ctx context.Context, s *searcher, ks []knob, say func(string, int, int)) ([]Weighed, error) {
	cmp, err := newSearcher(ctx, o, s.goal, compareDraws, false)
	if err != nil {
		return nil, err
	}
	var out []Weighed
	for i, l := range frontierLimits {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		say("trade-off", i, len(frontierLimits))
		var best result
		first := true
		for _, r := range s.seen {
			if first || better(r, best, l) || !better(best, r, l) && lessPlan(r.plan, best.plan) {
				best, first = r, false
			}
		}
		r := s.climb(ctx, best.plan, l, ks, 0.06)
		if violation(r, l) > 0 {
			continue
		}
		out = append(out, weighed(cmp, cmp.at(r.plan)))
	}
	say("trade-off", len(frontierLimits), len(frontierLimits))
	slices.SortStableFunc(out, func(a, b Weighed) int {
		switch {
		case a.Chance < b.Chance:
			return -1
		case a.Chance > b.Chance:
			return 1
		}
		return 0
	})
	// Only what a higher chance pays for is a trade-off.
	rising := out[:0]
	for _, x := range out {
		if n := len(rising); n == 0 || x.Value > rising[n-1].Value*(1+1e-6) {
			rising = append(rising, x)
		}
	}
	return rising, nil
}

// lessPlan orders plans, so that equal results do not depend on the order of a map.
func lessPlan(a, b Plan) bool {
	for _, d := range []float64{float64(a.Height - b.Height), float64(a.Dimming - b.Dimming), float64(a.Hours - b.Hours), float64(a.Speed - b.Speed), float64(a.Night - b.Night), float64(a.CO2 - b.CO2), a.Density - b.Density, float64(a.Days - b.Days)} {
		if d != 0 {
			return d < 0
		}
	}
	return a.Fan < b.Fan
}

// marginals are what one step beyond each bound that the best plan touches would
// bring, the rest set anew.
func (o *Outlook) marginals(ctx context.Context, s *searcher, best result, tight float64, ks []knob) ([]Marginal, error) {
	base := best
	var out []Marginal
	add := func(name string, r result) {
		out = append(out, Marginal{name, paired(base.draws, r.draws)})
	}
	u := o.b.Units
	limit := float64(o.b.Limits.Burn.Value)
	if best.chance > tight-0.03 {
		add("a limit of burn of "+quantity.Share.Format(limit+0.01, u, 3)+" instead of "+quantity.Share.Format(limit, u, 3), s.climb(ctx, best.plan, tight+0.01, ks, 0.05))
	}
	for i, k := range ks {
		if k.hi-k.lo < 1e-9 || ctx.Err() != nil {
			continue
		}
		v := k.get(&best.plan)
		wide := slices.Clone(ks)
		step := max(k.step, math.Round(0.05*(k.hi-k.lo)/k.step)*k.step)
		var to float64
		switch {
		case v <= k.lo+1e-9 && k.lo-step > 0:
			to = k.lo - step
			wide[i].lo = to
		case v >= k.hi-1e-9 && !(k.kind.Name() == quantity.Share.Name() && k.hi+step > 1):
			to = k.hi + step
			wide[i].hi = to
		default:
			continue
		}
		with, err := s, error(nil)
		if k.name == "lamp height" {
			if with, err = s.hungAt(to); err != nil {
				continue // nothing hangs there
			}
		}
		r := with.climb(ctx, best.plan, tight, wide, 0.05)
		add(k.name+" to "+o.describeKnob(k, to), r)
	}
	if n := len(s.harvest); n > 1 && ctx.Err() == nil {
		days := slices.Clone(s.harvest)
		switch d := best.plan.Days; {
		case d == days[0] && d > 7:
			days = append([]int{d - 1}, days...)
		case d == days[n-1]:
			days = append(days, d+1)
		}
		if len(days) > n {
			to := days[0]
			if to == s.harvest[0] {
				to = days[n]
			}
			later := *s
			later.harvest, later.seen, later.scratch = days, map[Plan]result{}, make([][]headcycle.Day, len(s.ens.traits))
			r := later.climb(ctx, best.plan, tight, ks, 0.02)
			s.runs += later.runs - s.runs
			add("harvest to day "+fmt.Sprint(to), r)
		}
	}
	return out, ctx.Err()
}

// hungAt is the search with the light at one height beyond its nodes.
func (s *searcher) hungAt(height float64) (*searcher, error) {
	low, high := s.o.b.Setting().Height, s.o.b.Setting().Height
	for _, l := range s.o.b.Lamps {
		low, high = min(low, l.Height), max(high, l.Height)
	}
	now := float64(s.o.b.Setting().Height)
	if height+float64(high)-now > float64(s.o.b.Space.Height)-0.01 || height+float64(low)-now < 0.05 {
		return nil, errOutside
	}
	at, err := s.o.hang(quantity.Metre(height), planClasses)
	if err != nil {
		return nil, err
	}
	t := *s
	t.seen = map[Plan]result{}
	t.nodes, t.lit = slices.Clone(s.nodes), slices.Clone(s.lit)
	if height < t.nodes[0] {
		t.nodes, t.lit = append([]float64{height}, t.nodes...), append([]hung{at}, t.lit...)
	} else {
		t.nodes, t.lit = append(t.nodes, height), append(t.lit, at)
	}
	return &t, nil
}

var errOutside = errors.New("the lamps would leave the space")

// at evaluates a plan on its own day of harvest.
func (s *searcher) at(p Plan) result {
	keep := s.harvest
	s.harvest = []int{p.Days}
	r := s.days(p, nil)[0]
	s.harvest = keep
	return r
}

// paired is the mean of the differences of draws with the 90 % band of that mean.
func paired(base, other []float64) Band {
	n := float64(len(base))
	var sum, sq float64
	for i := range base {
		d := other[i] - base[i]
		sum += d
		sq += d * d
	}
	mean := sum / n
	se := math.Sqrt(max(sq/n-mean*mean, 0) / n)
	return Band{mean - 1.645*se, mean, mean + 1.645*se}
}

// singles turn one thing at a time on the bench as it is: each to where it does
// best.
func (o *Outlook) singles(ctx context.Context, g Goal, now Plan, limit float64, ks []knob) ([]Change, error) {
	s, err := newSearcher(ctx, o, g, compareDraws, false)
	if err != nil {
		return nil, err
	}
	base := s.at(now)
	var out []Change
	add := func(name, from, to string, expense int, r result) {
		c := Change{Name: name, From: from, To: to, Expense: expense, After: weighed(s, r), Gain: paired(base.draws, r.draws), Serves: violation(r, limit) == 0}
		p := paired(base.burnt, r.burnt)
		c.Points = Band{100 * p.Low, 100 * p.Mid, 100 * p.High}
		out = append(out, c)
	}
	for _, k := range ks {
		if k.hi-k.lo < 1e-9 {
			continue
		}
		best, found := base, false
		const nodes = 9
		for i := range nodes {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			p := now
			v := onGrid(k.lo+(k.hi-k.lo)*float64(i)/(nodes-1), k.lo, k.hi, k.step)
			if math.Abs(v-k.get(&now)) < k.step/2 {
				continue
			}
			k.set(&p, v)
			if r := s.at(p); better(r, best, limit) {
				best, found = r, true
			}
		}
		if found {
			add(k.name, o.describeKnob(k, k.get(&now)), o.describeKnob(k, k.get(&best.plan)), k.rank, best)
		}
	}
	if len(s.harvest) > 1 {
		best, found := base, false
		for _, r := range s.days(now, nil) {
			if r.plan.Days != now.Days && better(r, best, limit) {
				best, found = r, true
			}
		}
		if found {
			add("day of harvest", quantity.Days.Format(float64(now.Days), o.b.Units, 3), quantity.Days.Format(float64(best.plan.Days), o.b.Units, 3), 0, best)
		}
	}
	slices.SortStableFunc(out, func(a, b Change) int {
		if a.Expense != b.Expense {
			return a.Expense - b.Expense
		}
		switch {
		case a.Serves != b.Serves && a.Serves:
			return -1
		case a.Serves != b.Serves:
			return 1
		case a.Gain.Mid > b.Gain.Mid:
			return -1
		case a.Gain.Mid < b.Gain.Mid:
			return 1
		}
		return 0
	})
	return out, nil
}

// CheapestChange is the first change that helps, in the order of what turning it
// costs; ok is false if none does.
func (w *Wider) CheapestChange() (c Change, ok bool) {
	for _, serves := range []bool{true, false} {
		for _, c := range w.Changes {
			if c.Helps() && c.Serves == serves {
				return c, true
			}
		}
	}
	return Change{}, false
}
