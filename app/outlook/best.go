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

// Steps of the search: a grower turns a timer by half an hour and a chain by 1 cm.
const (
	heightNodes   = 5
	dimStep       = 0.05 // of the tables of the settings map
	hourStep      = 0.5
	heightStep    = 0.01
	runnerUps     = 4
	apartHeight   = 0.04
	apartHours    = 1.5
	apartDim      = 0.1
	kWhTolerance  = 1e-9
	noticeablePts = 0.005
)

// Best searches heights, dimming and hours within the limits of the bench, the way
// of [Outlook.Wider]; progress may be nil.
func (o *Outlook) Best(ctx context.Context, progress func(done, of int)) (*Best, error) {
	if progress == nil {
		progress = func(int, int) {}
	}
	now, err := o.Forecast(nil)
	if err != nil {
		return nil, err
	}
	best := &Best{Now: *now}
	limit := float64(o.b.Limits.Burn.Value)
	s, err := newSearcher(ctx, o, PerKWh, planDraws, true)
	if err != nil {
		return nil, err
	}
	ks := o.knobs()[:lampKnobs]
	// How long the parts take beside each other was measured on the demo.
	const whole, seeking, near, others, changes = 100, 55, 65, 75, 85
	got, err := o.seek(ctx, s, ks, limit, func(done, of int) { progress(seeking*done/of, whole) })
	if err != nil {
		return nil, err
	}
	s.climb(ctx, got.result.plan, 1, ks, 0.12) // what burn keeps away
	progress(near, whole)
	all := s.candidates()
	rank(all)
	best.Found = got.found
	chosen := got.weighed
	if best.Found {
		if best.RunnerUps, err = o.runnersUp(ctx, all, &chosen, limit); err != nil {
			return nil, err
		}
	}
	progress(others, whole)
	best.Nearest = chosen.candidate()
	best.Best, best.BestPPFD = *chosen.Forecast, best.Nearest.PPFD
	h, err := o.hang(o.b.Setting().Height, 1)
	if err != nil {
		return nil, err
	}
	best.NowPPFD = h.full * o.shareAt(o.b.Setting().Dimming)
	best.Limits = o.whatLimits(best, all)
	if best.WhatIfs, err = o.WhatIfs(ctx); err != nil {
		return nil, err
	}
	progress(changes, whole)
	if o.b.Air.Fan.Value != underlamp.Down {
		if best.Fan, err = o.withFan(ctx, s, chosen.Plan, limit); err != nil {
			return nil, err
		}
	}
	best.Searched = got.runs + s.runs
	progress(whole, whole)
	return best, ctx.Err()
}

// runnersUp are the next best settings that differ from the chosen by more than a
// nudge, each with all draws as the chosen is. One that then does better changes
// places with it: the draws of the search were unkind to it.
func (o *Outlook) runnersUp(ctx context.Context, ranked []Candidate, chosen *Weighed, limit float64) ([]Candidate, error) {
	out := []Candidate{}
	for _, c := range apart(ranked, chosen.candidate(), limit) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		p := chosen.Plan
		p.Setting = c.Setting
		w, err := o.weigh(p, PerKWh)
		if err != nil {
			return nil, err
		}
		if !w.candidate().fits(limit) {
			continue
		}
		if w.Value > chosen.Value {
			w, *chosen = *chosen, w
		}
		out = append(out, w.candidate())
	}
	rank(out)
	return out, nil
}

// candidate is a weighed plan as a line of the comparison.
func (w Weighed) candidate() Candidate {
	return Candidate{Setting: w.Plan.Setting, PPFD: w.Forecast.AtSurface, PerKWh: w.Value, Chance: w.Chance, Fresh: w.Fresh, Sold: w.Sold}
}

// candidates are all plans that a search of the lamps has seen.
func (s *searcher) candidates() []Candidate {
	out := make([]Candidate, 0, len(s.seen))
	for _, r := range s.seen {
		out = append(out, s.candidate(r))
	}
	slices.SortFunc(out, func(a, b Candidate) int { // a map has no order
		for _, d := range []float64{float64(a.Setting.Height - b.Setting.Height), float64(a.Setting.Dimming - b.Setting.Dimming), float64(a.Setting.Hours - b.Setting.Hours)} {
			if d < 0 {
				return -1
			}
			if d > 0 {
				return 1
			}
		}
		return 0
	})
	return out
}

func (s *searcher) candidate(r result) Candidate {
	light := meanClass(s.classes(float64(r.plan.Height), max(s.o.shareAt(r.plan.Dimming), 1e-3)))
	return Candidate{Setting: r.plan.Setting, PPFD: light.Levels[0], PerKWh: r.value, Chance: r.chance, Fresh: r.fresh, Sold: r.sold}
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

// withFan searches again with air blown down onto the hearts. Both sides are from
// the draws of the search.
func (o *Outlook) withFan(ctx context.Context, s *searcher, without Plan, limit float64) (*FanBest, error) {
	b := *o.b
	b.Air.Fan = underlamp.Said(underlamp.Down)
	b.Air.Speed = underlamp.Said(max(o.b.Air.Speed.Value, fanSpeed))
	fan := &FanBest{Name: fmt.Sprintf("a fan that blows %s down onto the hearts", quantity.AirSpeed.Format(float64(b.Air.Speed.Value), b.Units, 2))}
	blown := *o
	blown.b = &b
	t := *s
	t.o, t.seen, t.runs = &blown, map[Plan]result{}, 0
	from := without
	from.Fan, from.Speed = b.Air.Fan.Value, b.Air.Speed.Value
	ks := blown.knobs()[:lampKnobs]
	if with := t.climb(ctx, from, limit, ks, 0.25); violation(with, limit) == 0 {
		fan.Candidate = t.candidate(with)
	}
	if r := s.climb(ctx, without, limit, ks, 0.02); violation(r, limit) == 0 {
		fan.Without = s.candidate(r)
	}
	s.runs += t.runs
	return fan, ctx.Err()
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
func mostPerKWh(ranked []Candidate) Candidate {
	for _, c := range ranked {
		if c.fits(1) {
			return c
		}
	}
	return Candidate{}
}
