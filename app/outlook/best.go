package outlook

import (
	"context"
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A Best is the answer to "how should this bench be set?".
type Best struct {
	Found     bool     // false if no setting keeps the chance of burn under the limit and most heads saleable
	Now       Forecast // the setting of the bench
	Best      Forecast // the setting with the most saleable mass per kWh under the limit
	BestPPFD  float64  // mean at the planting surface
	NowPPFD   float64
	RunnerUps []Candidate
	Searched  int       // settings compared
	Limits    []string  // what holds the best setting where it is, in plain sentences
	WhatIfs   []WhatIf  // changes of the bench as it is set now
	Fan       *FanBest  // the best setting with a fan blowing down, if there is none yet
	Nearest   Candidate // if none is found: the setting that comes nearest
}

// FanBest is the best setting after one change of the air.
type FanBest struct {
	Name      string
	Candidate Candidate
	Without   Candidate // the best without it, from the same search
}

// Steps of the search. A grower turns a dimmer by 5 %, a timer by half an hour
// and a chain by 1 cm; the table is read in between.
const (
	searchDraws   = 48
	searchClasses = 4
	heightNodes   = 5
	dimNodes      = 6
	hourNodes     = 6
	dimStep       = 0.05
	hourStep      = 0.5
	heightStep    = 0.01
	runnerUps     = 4
	verifyAtMost  = 8
	apartHeight   = 0.04
	apartHours    = 1.5
	apartDim      = 0.1
	kWhTolerance  = 1e-9
	noticeablePts = 0.005
)

// Best searches heights, dimming and hours within the limits of the bench. The
// search reads tables of few draws; the winner and the present setting are then
// forecast with all draws, and a winner that does not hold its limit there gives
// way to the next.
func (o *Outlook) Best(ctx context.Context, progress func(done, of int)) (*Best, error) {
	if progress == nil {
		progress = func(int, int) {}
	}
	now, err := o.Forecast(nil)
	if err != nil {
		return nil, err
	}
	best := &Best{Now: *now}
	all, err := o.search(ctx, o.b, progress)
	if err != nil {
		return nil, err
	}
	best.Searched = len(all)
	limit := float64(o.b.Limits.Burn.Value)
	rank(all)
	// The tables are read between their nodes; the last steps are computed.
	near, runs, err := o.refine(ctx, all, limit)
	if err != nil {
		return nil, err
	}
	best.Searched += runs
	all = append([]Candidate{near}, all...)
	best.Nearest = nearest(all, limit)

	var chosen *Candidate
	tried := 0
	for i := range all {
		c := &all[i]
		if !c.fits(limit) {
			continue
		}
		if tried++; tried > verifyAtMost {
			break
		}
		f, err := o.Forecast(&c.Setting)
		if err != nil {
			return nil, err
		}
		if f.Chance > limit {
			// The table was kind to it: everything as close to the limit will fare alike.
			limit -= max(f.Chance-limit, 0.002)
			continue
		}
		if f.Sold < leastSold {
			continue
		}
		best.Found, best.Best, best.BestPPFD, chosen = true, *f, c.PPFD, c
		break
	}
	if chosen != nil {
		best.RunnerUps = apart(all, *chosen, float64(o.b.Limits.Burn.Value))
	}
	h, err := o.hang(o.b.Setting().Height, 1)
	if err != nil {
		return nil, err
	}
	best.NowPPFD = h.full * o.shareAt(o.b.Setting().Dimming)
	best.Limits = o.whatLimits(best, all)
	if best.WhatIfs, err = o.WhatIfs(ctx); err != nil {
		return nil, err
	}
	if o.b.Air.Fan.Value != underlamp.Down {
		if best.Fan, err = o.withFan(ctx, all); err != nil {
			return nil, err
		}
	}
	return best, nil
}

// refine climbs from the best few candidates of the tables, by the lamps alone.
func (o *Outlook) refine(ctx context.Context, ranked []Candidate, limit float64) (Candidate, int, error) {
	s, err := newSearcher(o, PerKWh, planDraws, true)
	if err != nil {
		return Candidate{}, 0, err
	}
	s.harvest = []int{o.b.Crop.Days.Value}
	ks := o.knobs()[:3]
	starts := []Candidate{firstUnder(ranked, limit), nearest(ranked, limit)}
	var best result
	for i, c := range starts {
		p := o.PlanNow()
		if c.Setting.Hours > 0 {
			p.Setting = c.Setting
		}
		r := s.climb(ctx, p, limit, ks, 0.12)
		if i == 0 || better(r, best, limit) {
			best = r
		}
	}
	fine, err := newSearcher(o, PerKWh, compareDraws, true)
	if err != nil {
		return Candidate{}, 0, err
	}
	fine.harvest = s.harvest
	best = fine.climb(ctx, best.plan, limit, ks, 0.12)
	if err := ctx.Err(); err != nil {
		return Candidate{}, 0, err
	}
	return Candidate{Setting: best.plan.Setting, PPFD: meanClass(s.classes(float64(best.plan.Height), max(o.shareAt(best.plan.Dimming), 1e-3))).Levels[0],
		PerKWh: best.value, Chance: best.chance, Fresh: best.fresh, Sold: best.sold}, s.runs + fine.runs, nil
}

// rank sorts candidates by saleable mass per kWh, then by the lower chance.
func rank(c []Candidate) {
	slices.SortStableFunc(c, func(a, b Candidate) int {
		switch d := b.PerKWh - a.PerKWh; {
		case d > kWhTolerance:
			return 1
		case d < -kWhTolerance:
			return -1
		case a.Chance < b.Chance:
			return -1
		case a.Chance > b.Chance:
			return 1
		}
		return 0
	})
}

// leastSold is the share of heads that must be saleable for a setting to be
// proposed. A setting that wins per kWh by losing most of its heads is no crop.
const leastSold = 0.5

// fits says that a setting keeps the limit of burn and sells most of its heads.
func (c Candidate) fits(limit float64) bool { return c.Chance <= limit && c.Sold >= leastSold }

// nearest is the candidate under the limit that sells the most heads; if none is
// under it, the one with the lowest chance.
func nearest(c []Candidate, limit float64) Candidate {
	var under, low Candidate
	low.Chance = math.Inf(1)
	for _, x := range c {
		if x.Chance <= limit && x.Sold > under.Sold {
			under = x
		}
		if x.Chance < low.Chance {
			low = x
		}
	}
	if under.Sold > 0 {
		return under
	}
	return low
}

// apart are the best candidates under the limit that differ from the chosen and
// from one another by more than a nudge.
func apart(ranked []Candidate, chosen Candidate, limit float64) []Candidate {
	far := func(a, b Candidate) bool {
		return math.Abs(float64(a.Setting.Height-b.Setting.Height)) >= apartHeight ||
			math.Abs(float64(a.Setting.Hours-b.Setting.Hours)) >= apartHours ||
			math.Abs(float64(a.Setting.Dimming-b.Setting.Dimming)) >= apartDim
	}
	out := []Candidate{}
	for _, c := range ranked {
		if len(out) == runnerUps {
			break
		}
		if !c.fits(limit) || !far(c, chosen) {
			continue
		}
		if !slices.ContainsFunc(out, func(o Candidate) bool { return !far(o, c) }) {
			out = append(out, c)
		}
	}
	return out
}

// search lists every setting of the grid with what the tables say of it. b may
// be the bench with another air.
func (o *Outlook) search(ctx context.Context, b *underlamp.Bench, progress func(done, of int)) ([]Candidate, error) {
	lim := b.Limits
	heights := steps(float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value), heightNodes)
	hours := steps(float64(lim.MinHours.Value), float64(lim.MaxHours.Value), hourNodes)
	dims := Grid(float64(lim.MinDim.Value), float64(lim.MaxDim.Value), dimStep)
	shares := make([]float64, len(dims)) // of the full light
	for i, dim := range dims {
		shares[i] = max(o.shareAt(quantity.Fraction(dim)), 1e-3)
	}
	times := Grid(float64(lim.MinHours.Value), float64(lim.MaxHours.Value), hourStep)
	ens := o.ens.small(searchDraws)
	plants := float64(len(b.Plants))

	type node struct {
		full float64
		t    *table
	}
	nodes := make([]node, len(heights))
	for i, height := range heights {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		h, err := o.hang(quantity.Metre(height), searchClasses)
		if err != nil {
			return nil, err
		}
		nodes[i] = node{h.full, newTable(b, h.classes, logSteps(shares[0], shares[len(shares)-1], dimNodes), hours, ens)}
		progress(i+1, len(heights))
	}
	var out []Candidate
	for _, height := range Grid(heights[0], heights[len(heights)-1], heightStep) {
		i, f := place(heights, height, false)
		j := min(i+1, len(nodes)-1)
		a, z := nodes[i], nodes[j]
		// Between two heights the light at the mean plant falls about as a power: the logarithm is linear.
		full := math.Exp(math.Log(a.full)*(1-f) + math.Log(z.full)*f)
		for k, dim := range dims {
			for _, t := range times {
				ra, rz := a.t.at(shares[k], t), z.t.at(shares[k], t)
				mix := func(u, v float64) float64 { return u*(1-f) + v*f }
				out = append(out, Candidate{
					Setting: underlamp.Setting{Height: quantity.Metre(height), Dimming: quantity.Fraction(dim), Hours: quantity.Hours(t)},
					PPFD:    full * shares[k],
					PerKWh:  mix(ra.saleable, rz.saleable) * plants / o.kWh(dim, t),
					Chance:  mix(ra.chance, rz.chance),
					Fresh:   mix(ra.fresh, rz.fresh),
					Sold:    mix(ra.sold, rz.sold),
				})
			}
		}
	}
	return out, nil
}

// Grid are the multiples of step from lo to hi, with both ends: the settings that a
// search tries.
func Grid(lo, hi, step float64) []float64 {
	out := []float64{lo}
	for k := math.Ceil(lo/step + 1e-9); k*step < hi-1e-9; k++ {
		out = append(out, math.Round(k*step*1e6)/1e6)
	}
	if hi > lo {
		out = append(out, hi)
	}
	return out
}

// withFan searches again with air blown down onto the hearts.
func (o *Outlook) withFan(ctx context.Context, without []Candidate) (*FanBest, error) {
	b := *o.b
	b.Air.Fan = underlamp.Said(underlamp.Down)
	b.Air.Speed = underlamp.Said(max(o.b.Air.Speed.Value, fanSpeed))
	all, err := o.search(ctx, &b, func(int, int) {})
	if err != nil {
		return nil, err
	}
	rank(all)
	limit := float64(b.Limits.Burn.Value)
	fan := &FanBest{Name: fmt.Sprintf("a fan that blows %s down onto the hearts", quantity.AirSpeed.Format(float64(b.Air.Speed.Value), b.Units, 2))}
	fan.Candidate = firstUnder(all, limit)
	fan.Without = firstUnder(without, limit)
	return fan, nil
}

func firstUnder(ranked []Candidate, limit float64) Candidate {
	for _, c := range ranked {
		if c.fits(limit) {
			return c
		}
	}
	return Candidate{}
}

// whatLimits says in sentences what holds the best setting where it is: which
// bounds it touches, and what a laxer limit of burn would bring.
func (o *Outlook) whatLimits(best *Best, ranked []Candidate) []string {
	lim := o.b.Limits
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if !best.Found {
		n := best.Nearest
		say("The limit of burn, %s, and the wish to sell at least half of the heads (%s or more, compact, not burnt) exclude each other here: the nearest setting sells %s of them with a chance of burn of %s.",
			working.Percent(float64(lim.Burn.Value)), quantity.Mass.Format(float64(o.b.Crop.Saleable.Value), o.b.Units, 3), working.Percent(n.Sold), working.Percent(n.Chance))
		return out
	}
	s := best.Best.Setting
	if free := mostPerKWh(ranked); free.Chance > float64(lim.Burn.Value) && free.PerKWh > best.Best.PerKWh.Mid*1.005 {
		say("The chance of burn limits it: without that limit %s for %s would give %s g per kWh, with %s of the heads burnt.",
			quantity.PhotonFluxDensity.Format(free.PPFD, o.b.Units, 3), quantity.Duration.Format(float64(free.Setting.Hours), o.b.Units, 3),
			quantity.Number(free.PerKWh, 3), working.Percent(free.Chance))
	}
	touch := func(at, lo, hi, slack float64, low, high string) {
		if hi-lo < slack {
			return
		}
		if at <= lo+slack/2 {
			out = append(out, low)
		} else if at >= hi-slack/2 {
			out = append(out, high)
		}
	}
	touch(float64(s.Height), float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value), heightStep,
		"The lamps hang as low as the limits allow; lower would waste less light beside the plants.",
		"The lamps hang as high as the limits allow; higher would even out the light.")
	touch(float64(s.Dimming), float64(lim.MinDim.Value), float64(lim.MaxDim.Value), dimStep,
		"The lamps are dimmed as far as the limits allow: less light would use less electricity for each gram.",
		"The lamps run at the full power that the limits allow: more light would pay.")
	touch(float64(s.Hours), float64(lim.MinHours.Value), float64(lim.MaxHours.Value), hourStep,
		"The days are as short as the limits allow.",
		"The days are as long as the limits allow: the same light spread over more hours grows more.")
	if f := best.Best; f.Light > 0.02 || f.Loose > 0.02 {
		say("Less light would save electricity for each gram, but heads would stay too small or loose: at this setting %s are below %s and %s are loose, and %s can be sold.",
			working.Percent(f.Light), quantity.Mass.Format(float64(o.b.Crop.Saleable.Value), o.b.Units, 3), working.Percent(f.Loose), working.Percent(f.Sold))
	}
	if len(out) == 0 {
		say("Nothing but the price of light: more of it would grow less for each kWh, and less of it too light a head.")
	}
	return out
}

// mostPerKWh is the best setting if burn did not matter.
func mostPerKWh(ranked []Candidate) Candidate { return firstUnder(ranked, 1) }
