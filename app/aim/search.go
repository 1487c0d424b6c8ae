package aim

import (
	"context"
	"errors"
	"math"
	"runtime"
	"slices"
	"sync"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/energycost"
	"underlamp/science/lightaim"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A Proposal is one setting with what it brings.
type Proposal struct {
	Height quantity.Metre      // mean of the lamps
	Dim    []quantity.Fraction // of each lamp; 0 is off
	Hours  quantity.Hours      // of light a day, the longest of all lamps
	Layout Layout

	Target quantity.PPFD   // at these hours, margin included
	PPFD   []quantity.PPFD // of each plant
	Lowest quantity.PPFD
	Mean   quantity.PPFD
	Top    quantity.PPFD
	DLI    quantity.DLI      // mean
	Uneven float64           // root mean square of PPFD/wanted − 1
	Within int               // plants that have what was asked
	Under  quantity.Fraction // chance that the darkest plant that must have it (or the mean) is under what was asked, margin left out

	Power quantity.Watt         // of all lamps while they burn
	Day   quantity.KilowattHour // electricity of a day
	Money float64               // of a day, in the currency of the tariff or the bench
	Light []energycost.Stretch  // when the lamps burn; nil without a tariff

	Exact bool // no better dimming exists at this height and these hours (to 1 in 10 000)
}

// A Result is the answer to an Ask.
type Result struct {
	Ask      Ask
	Bench    *underlamp.Bench
	Currency string
	LevelSD  float64 // relative standard deviation of the light level

	Before Proposal // as the bench is set
	Found  bool
	After  Proposal // the proposal; if none was found, the nearest

	BeforeFigures []working.Figure
	AfterFigures  []working.Figure
	Curve         []Proposal // electricity against evenness, from the cheapest; free dimmers
	RunnerUps     []Proposal
	Limits        []string // what stands in the way of better, in sentences
	Notes         []string // what was assumed
	Searched      int      // settings looked at
}

// spot is one layout at one height.
type spot struct {
	layout *Layout
	height float64
	resp   []float64
}

// state is a search under way.
type state struct {
	m   *light.Model
	b   *underlamp.Bench
	a   Ask
	sd  float64
	tar energycost.Tariff
	// places by hours, and why there is none
	places map[float64]energycost.Placing
	why    map[float64]error
}

func newState(m *light.Model, a Ask) (*state, error) {
	b := m.Bench()
	if err := a.check(b); err != nil {
		return nil, err
	}
	s := &state{m: m, b: b, a: a, sd: m.LevelSD(), places: map[float64]energycost.Placing{}, why: map[float64]error{}}
	s.tar = energycost.Flat(b.Price.Value)
	if s.a.Tariff == nil {
		s.a.Tariff = b.Money.Tariff
	}
	if a := s.a; a.Tariff != nil {
		s.tar = *a.Tariff
		if s.tar.Currency == "" {
			s.tar.Currency = b.Price.Value.Currency
		}
	}
	return s, nil
}

// place is when so many hours of light cost least.
func (s *state) place(hours float64) (energycost.Placing, error) {
	if p, ok := s.places[hours]; ok {
		return p, s.why[hours]
	}
	p, err := energycost.LightDay{Tariff: s.tar, Hours: quantity.Hours(hours), Dark: s.a.Dark, From: s.a.From, To: s.a.To, Broken: s.a.Broken}.Place()
	s.places[hours], s.why[hours] = p, err
	return p, err
}

// problem is what lightaim is asked at a spot and hours.
func (s *state) problem(sp *spot, hours float64, steps bool) *lightaim.Problem {
	a, n := &s.a, len(s.b.Plants)
	lim := s.b.Limits
	p := &lightaim.Problem{Points: n, Responses: sp.resp, MaxNodes: outerNodes}
	for k := range sp.layout.lamps {
		lamp := lampOf(s.b, sp.layout, k) // what is solved for is the share of its full light
		l := lightaim.Lamp{Lower: float64(lamp.Light(lim.MinDim.Value)), Upper: float64(lamp.Light(lim.MaxDim.Value)), MayBeOff: a.MayBeOff, Power: sp.layout.power[k]}
		if steps {
			l.Step = float64(a.Step)
		}
		p.Lamps = append(p.Lamps, l)
		if a.OneDimmer {
			p.Group = append(p.Group, 0)
		}
	}
	target := a.target(hours, s.sd)
	p.Target = repeat(target, n)
	if a.AtMost > 0 {
		p.Max = repeat(float64(a.AtMost), n)
	}
	switch {
	case a.Goal == MostWithin:
		tol := float64(a.Tolerance)
		p.Min = repeat(target*(1-tol), n)
		top := target * (1 + tol)
		if a.AtMost > 0 {
			top = min(top, float64(a.AtMost))
		}
		p.Max = repeat(top, n)
	case a.Goal == MostEven || a.Mean:
		p.MinMean = target
	default:
		p.Min, p.Share = repeat(target, n), float64(a.Share)
	}
	return p
}

func repeat(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// solve answers a problem for the goal.
func solve(g Goal, p *lightaim.Problem) (*lightaim.Answer, error) {
	switch g {
	case MostEven:
		return p.MostEven()
	case MostWithin:
		return p.MostWithin()
	}
	return p.LeastPower()
}

// trial is one setting of the search.
type trial struct {
	sp    *spot
	hours float64
	score float64 // of free dimmers: no stepped ones can be better
	a     *lightaim.Answer
	err   error
}

// score orders settings: the least is best. Where hours and heights leave the
// goal the same, electricity decides.
func (s *state) score(a *lightaim.Answer, hours float64) float64 {
	p, err := s.place(hours)
	if err != nil {
		return math.Inf(1)
	}
	cost := a.Watt / 1000 * hours
	if s.a.Tariff != nil {
		cost *= p.PerHour
	}
	switch s.a.Goal {
	case MostEven:
		return a.Uneven + 1e-6*cost
	case MostWithin:
		return -float64(a.Within) + 1e-2*a.Uneven + 1e-7*cost
	}
	return cost
}

// Reach finds the setting of a bench that does what is asked. progress, which may
// be nil, is told how many heights are done.
//
// An [*AskError] says what is wrong with the question. A question that is right
// but cannot be met gives a Result with Found false: Limits says why, After is the
// nearest setting.
func Reach(ctx context.Context, m *light.Model, a Ask, progress func(done, of int)) (*Result, error) {
	s, err := newState(m, a)
	if err != nil {
		return nil, err
	}
	spots, err := s.spots(ctx, progress)
	if err != nil {
		return nil, err
	}
	days := hours(m, &s.a)
	r := &Result{Ask: s.a, Bench: s.b, Currency: s.tar.Currency, LevelSD: s.sd}
	if r.Before, err = s.before(); err != nil {
		return nil, err
	}
	var all []trial
	var unplaced error
	for i := range spots {
		for _, h := range days {
			if _, err := s.place(h); err != nil {
				unplaced = err
				continue
			}
			all = append(all, trial{sp: &spots[i], hours: h})
		}
	}
	parallel(len(all), func(i int) {
		t := &all[i]
		if ctx.Err() != nil {
			return
		}
		if t.a, t.err = solve(s.a.Goal, s.problem(t.sp, t.hours, false)); t.err == nil {
			t.score = s.score(t.a, t.hours)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for _, t := range all {
		if _, ok := errors.AsType[*lightaim.InfeasibleError](t.err); t.err != nil && !ok {
			return nil, t.err
		}
	}
	r.Searched = len(all)
	if len(all) == 0 {
		return nil, refuse("%v", unplaced)
	}
	done := s.stepped(all)
	if len(done) == 0 {
		s.missed(r, all)
	} else {
		r.Found = true
		r.After = s.proposal(&done[0])
		r.RunnerUps = s.apart(all, &done[0])
		s.limits(r, &done[0])
	}
	r.Curve = s.curve(spots, float64(r.After.Hours))
	s.notes(r)
	r.BeforeFigures, r.AfterFigures = s.figures(&r.Before), s.figures(&r.After)
	return r, nil
}

// parallel runs f(i) for i in 0..n-1 on all processors. Results go by index, so the
// order of running does not show.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				f(i)
			}
		})
	}
	wg.Wait()
}

// spots are all layouts at all heights with their responses. Where layouts are
// searched, heights go in coarser steps.
func (s *state) spots(ctx context.Context, progress func(done, of int)) ([]spot, error) {
	list := layouts(s.m, &s.a)
	if len(list) == 0 {
		return nil, refuse("no number of lamps from %d to %d fits the bench in even rows", s.a.LampsFrom, s.a.LampsTo)
	}
	step := heightStep
	if s.a.LampsTo > 0 {
		step = layoutStep
	}
	var out []spot
	for i := range list {
		hs, err := heights(s.m, &s.a, &list[i], step)
		if err != nil {
			return nil, err
		}
		for _, h := range hs {
			out = append(out, spot{layout: &list[i], height: h})
		}
	}
	for i := range out {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		resp, err := s.m.ResponsesOf(out[i].layout.at(out[i].height), s.a.Canopy)
		if err != nil {
			return nil, refuse("%v", err)
		}
		out[i].resp = resp
		if progress != nil {
			progress(i+1, len(out))
		}
	}
	return out, nil
}

// stepped solves the best trials with the steps of the dimmers, from the best
// free answer on, until no other can win; the result is sorted.
func (s *state) stepped(all []trial) []trial {
	ok := slices.DeleteFunc(slices.Clone(all), func(t trial) bool { return t.err != nil })
	slices.SortStableFunc(ok, func(x, y trial) int {
		if d := x.score - y.score; math.Abs(d) > 1e-9*(1+math.Abs(x.score)) {
			return int(math.Copysign(1, d))
		}
		return s.nearer(x) - s.nearer(y)
	})
	if s.a.Step == 0 && !s.a.MayBeOff {
		return ok
	}
	const atLeast, atMost = 12, 80 // settings with steps: enough for runners-up, and no more than patience
	var out []trial
	best := math.Inf(1)
	for i, t := range ok {
		if i >= atMost || i >= atLeast && t.score > best {
			break
		}
		a, err := solve(s.a.Goal, s.problem(t.sp, t.hours, true))
		if err != nil {
			continue
		}
		t.a, t.score = a, s.score(a, t.hours)
		best = min(best, t.score)
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(x, y trial) int {
		if d := x.score - y.score; math.Abs(d) > 1e-9*(1+math.Abs(x.score)) {
			return int(math.Copysign(1, d))
		}
		return s.nearer(x) - s.nearer(y)
	})
	return out
}

// nearer counts how far a setting is from the present one, for ties: in
// millimetres and quarters of an hour.
func (s *state) nearer(t trial) int {
	now := s.b.Setting()
	return int(math.Abs(t.height()-float64(now.Height))*1000 + math.Abs(t.hours-float64(now.Hours))*4)
}

func (t *trial) height() float64 { return t.sp.height }

// proposal describes a trial.
func (s *state) proposal(t *trial) Proposal {
	p := Proposal{Height: quantity.Metre(t.sp.height), Hours: quantity.Hours(t.hours), Layout: *t.sp.layout, Exact: t.a.Proven}
	for k, d := range t.a.Dim {
		p.Dim = append(p.Dim, lampOf(s.b, t.sp.layout, k).DimmingFor(quantity.Fraction(d)))
	}
	s.describe(&p, t.a.PPFD)
	p.Power = quantity.Watt(t.a.Watt)
	p.Day = quantity.EnergyOf(p.Power, p.Hours)
	place, err := s.place(t.hours)
	if err == nil {
		p.Money = place.Money(p.Power)
		if s.a.Tariff != nil {
			p.Light = place.Light
		}
	}
	return p
}

// describe fills in what follows from the light of the plants.
func (s *state) describe(p *Proposal, ppfd []float64) {
	asked := s.a
	asked.Sure = 0.5
	want := asked.target(float64(p.Hours), s.sd)
	p.Target = quantity.PPFD(s.a.target(float64(p.Hours), s.sd))
	p.Lowest, p.Top, p.Mean = quantity.PPFD(math.Inf(1)), 0, 0
	sum := 0.0
	for _, v := range ppfd {
		e := quantity.PPFD(v)
		p.PPFD = append(p.PPFD, e)
		p.Lowest, p.Top = min(p.Lowest, e), max(p.Top, e)
		p.Mean += e / quantity.PPFD(len(ppfd))
		sum += (v/want - 1) * (v/want - 1)
		lo, hi := want*(1-1e-6), math.Inf(1)
		if s.a.Goal == MostWithin || s.a.Goal == MostEven || s.a.Mean {
			lo, hi = want*(1-float64(s.a.Tolerance))*(1-1e-6), want*(1+float64(s.a.Tolerance))*(1+1e-6)
		}
		if v >= lo && v <= hi {
			p.Within++
		}
	}
	p.Uneven = math.Sqrt(sum / float64(len(ppfd)))
	p.DLI = quantity.DailyLight(p.Mean, p.Hours)
	judged := float64(p.Lowest)
	if s.a.Goal == MostEven || s.a.Mean {
		judged = float64(p.Mean)
	} else if need := s.need(); need < len(ppfd) {
		sorted := slices.Clone(ppfd)
		slices.Sort(sorted)
		judged = sorted[len(sorted)-need]
	}
	if s.a.Goal == MostWithin {
		want *= 1 - float64(s.a.Tolerance)
	}
	p.Under = quantity.Fraction(chanceUnder(judged, want, s.sd))
}

// need is how many plants must have the target.
func (s *state) need() int {
	n := len(s.b.Plants)
	if s.a.Share == 0 || s.a.Goal != LeastElectricity {
		return n
	}
	return int(math.Ceil(float64(s.a.Share)*float64(n) - 1e-9))
}

// before is the bench as it is set, with its own dimming and hours of each lamp.
func (s *state) before() (Proposal, error) {
	l := present(s.m, &s.a)
	now := s.b.Setting()
	resp, err := s.m.ResponsesOf(l.at(float64(now.Height)), s.a.Canopy)
	if err != nil {
		return Proposal{}, refuse("%v", err)
	}
	weights, day := light.DayWeights(s.b)
	p := Proposal{Height: now.Height, Hours: day, Layout: l}
	ppfd := make([]float64, len(s.b.Plants))
	for k, lamp := range s.b.Lamps {
		p.Dim = append(p.Dim, lamp.Dimming.Value)
		for i := range ppfd {
			ppfd[i] += weights[k] * resp[k*len(ppfd)+i]
		}
		w := quantity.Watt(l.power[k].At(float64(lamp.Light(lamp.Dimming.Value))))
		if lamp.Dimming.Value == 0 {
			w = 0
		}
		p.Power += w
		e := quantity.EnergyOf(w, lamp.Hours.Value)
		p.Day += e
		place, err := s.place(float64(lamp.Hours.Value))
		if err != nil { // the present hours need not fit the question: price them at the mean
			place = energycost.Placing{PerHour: meanPrice(s.tar)}
		}
		p.Money += energycost.Money(e, quantity.Price{PerKWh: place.PerHour})
	}
	s.describe(&p, ppfd)
	return p, nil
}

func meanPrice(t energycost.Tariff) float64 {
	sum := 0.0
	for _, p := range t.PerKWh {
		sum += p / energycost.Quarters
	}
	return sum
}
