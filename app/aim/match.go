package aim

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/lightaim"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A Side is one of the two that shall be matched: plants of a bench.
type Side struct {
	Model  *light.Model
	Plants []string // names; nil is all plants of the bench
}

// A MatchAsk is how two sides shall be matched. The two may be of one bench; then
// both name their plants.
type MatchAsk struct {
	A, B Side

	DLI     bool           // match DLI instead of PPFD; the hours stay as they are
	Level   float64        // µmol/m²/s, or mol/m²/d if DLI; 0: the lower of the two as they are
	Highest bool           // the highest level that both can have, instead of Level
	Heights bool           // search the heights too
	Canopy  quantity.Metre // height at which the light is matched

	Step      quantity.Fraction // of the dimmers; 0 means 5 %, Stepless none
	Stepless  bool
	Tolerance quantity.Fraction // by which the levels may differ for the steps' sake; 0 means 2 %
	TwoMeters bool              // the two benches were read by different meters
}

// A SideAnswer is one side at one setting.
type SideAnswer struct {
	Bench  *underlamp.Bench
	Plants []string
	Height quantity.Metre
	Hours  quantity.Hours
	Dim    []quantity.Fraction // of each lamp of the bench
	Level  working.Figure      // mean PPFD or DLI
	Uneven float64             // standard deviation over the plants / mean
	Power  quantity.Watt       // of the bench
}

// A MatchResult is how two sides are brought to one level.
type MatchResult struct {
	Ask    MatchAsk
	Found  bool
	Before [2]SideAnswer
	After  [2]SideAnswer // equal to Before if not found

	Ratio  working.Figure    // B over A after, with its band
	RatioS float64           // relative standard deviation of the ratio
	Apart  quantity.Fraction // chance that the true levels differ by more than 5 %

	DayBefore, DayAfter quantity.KilowattHour // electricity of a day, both benches (one, if both sides are of it)
	Limits              []string
	Notes               []string
}

const (
	matchTolerance = 0.02
	matchApart     = 0.05
	matchHeights   = 0.02 // m, step of the heights
)

// side is a Side made ready.
type side struct {
	m      *light.Model
	b      *underlamp.Bench
	plants []int
	names  []string
	hours  quantity.Hours
}

func (s Side) ready(which string) (side, error) {
	b := s.Model.Bench()
	out := side{m: s.Model, b: b}
	for _, l := range b.Lamps {
		out.hours = max(out.hours, l.Hours.Value)
	}
	switch {
	case len(b.Lamps) == 0:
		return side{}, refuse("bench %q has no lamps", b.Name)
	case len(b.Plants) == 0:
		return side{}, refuse("bench %q has no plants", b.Name)
	}
	for _, l := range b.Lamps {
		if l.Hours.Value != out.hours {
			return side{}, refuse("the lamps of bench %q burn for different hours; match needs one light day a bench", b.Name)
		}
	}
	if s.Plants == nil {
		for i, p := range b.Plants {
			out.plants, out.names = append(out.plants, i), append(out.names, p.Name)
		}
		return out, nil
	}
	for _, name := range s.Plants {
		at := slices.IndexFunc(b.Plants, func(p underlamp.Plant) bool { return p.Name == name })
		if at < 0 {
			return side{}, refuse("the %s group names plant %q, which bench %q does not have", which, name, b.Name)
		}
		if slices.Contains(out.plants, at) {
			return side{}, refuse("the %s group names plant %q twice", which, name)
		}
		out.plants, out.names = append(out.plants, at), append(out.names, name)
	}
	if len(out.plants) == 0 {
		return side{}, refuse("the %s group has no plants", which)
	}
	return out, nil
}

// match is a search for a match.
type match struct {
	ask  MatchAsk
	s    [2]side
	one  bool // both sides are of one bench
	resp map[[2]float64][]float64
}

// Match brings two sides to one mean PPFD or DLI by dimming, and by the heights if
// asked, with the least electricity for a level or at the highest level that both
// can have. Lamps of one kind on one bench are dimmed alike, so the light within a
// bench stays as even as it is; but if both groups stand under lamps of one kind,
// each lamp is dimmed by itself.
//
// An [*AskError] says what is wrong with the question.
func Match(ctx context.Context, ask MatchAsk) (*MatchResult, error) {
	x := &match{ask: ask, resp: map[[2]float64][]float64{}}
	if err := x.prepare(); err != nil {
		return nil, err
	}
	r := &MatchResult{Ask: x.ask}
	now := [2]float64{float64(x.s[0].b.Setting().Height), float64(x.s[1].b.Setting().Height)}
	dims := x.dimsNow()
	var err error
	if r.Before, r.DayBefore, err = x.sides(now, dims); err != nil {
		return nil, err
	}
	open := x.ask.Level == 0 && !x.ask.Highest
	if open {
		x.ask.Level = min(r.Before[0].Level.Value, r.Before[1].Level.Value)
	}
	at, best, miss, err := x.search(ctx, now)
	if err == nil && best == nil && open {
		// What dims the brighter one may take light from the other.
		x.ask.Level, x.ask.Highest = 0, true
		if at, best, miss, err = x.search(ctx, now); best != nil {
			r.Notes = append(r.Notes, "The lower of the two levels cannot be kept by both: this is the highest common one.")
		}
	}
	if err != nil {
		return nil, err
	}
	r.Ask = x.ask
	r.After, r.DayAfter = r.Before, r.DayBefore
	if best != nil {
		r.Found = true
		if r.After, r.DayAfter, err = x.sides(at, best); err != nil {
			return nil, err
		}
	}
	if err := x.doubt(r); err != nil {
		return nil, err
	}
	x.say(r, miss)
	return r, nil
}

// search tries all pairs of heights; dims is nil if none does, and then miss tells
// why the first did not.
func (x *match) search(ctx context.Context, now [2]float64) (at [2]float64, dims []float64, miss *lightaim.InfeasibleError, err error) {
	best := math.Inf(1)
	for _, h := range x.heights(now) {
		if err := ctx.Err(); err != nil {
			return at, nil, nil, err
		}
		a, score, err := x.solve(h)
		if err != nil {
			e, ok := errors.AsType[*lightaim.InfeasibleError](err)
			if !ok {
				return at, nil, nil, err
			}
			if miss == nil {
				miss = e
			}
			continue
		}
		// Of equals, the heights nearest to the present ones.
		score += 1e-9 * (math.Abs(h[0]-now[0]) + math.Abs(h[1]-now[1]))
		if score < best {
			best, dims, at = score, a.Dim, h
		}
	}
	return at, dims, miss, nil
}

func (x *match) prepare() error {
	a := &x.ask
	var err error
	if x.s[0], err = a.A.ready("first"); err != nil {
		return err
	}
	if x.s[1], err = a.B.ready("second"); err != nil {
		return err
	}
	x.one = a.A.Model == a.B.Model
	if x.one {
		for _, i := range x.s[0].plants {
			if slices.Contains(x.s[1].plants, i) {
				return refuse("plant %q is in both groups", x.s[0].b.Plants[i].Name)
			}
		}
		if len(a.A.Plants) == 0 || len(a.B.Plants) == 0 {
			return refuse("of one bench, both groups must name their plants")
		}
	}
	switch {
	case !(a.Level >= 0) || a.Level > 5000:
		return refuse("a level of %g is out of range", a.Level)
	case a.Level > 0 && a.Highest:
		return refuse("either a level or the highest one can be asked for")
	case !(a.Step >= 0 && a.Step <= 0.5):
		return refuse("a step of the dimmers must lie between 0 and 50 %%")
	case !(a.Tolerance >= 0 && a.Tolerance <= 0.5):
		return refuse("a tolerance must lie between 0 and 50 %%")
	case !(a.Canopy >= 0) || a.Canopy > min(x.s[0].b.Space.Height, x.s[1].b.Space.Height):
		return refuse("the canopy does not fit into the space")
	}
	if a.Step == 0 && !a.Stepless {
		a.Step = dimStep
	}
	if a.Stepless {
		a.Step = 0
	}
	if a.Tolerance == 0 {
		a.Tolerance = matchTolerance
	}
	return nil
}

// benches are the benches whose lamps are turned: one or two.
func (x *match) benches() []int {
	if x.one {
		return []int{0}
	}
	return []int{0, 1}
}

func (x *match) dimsNow() (out []float64) {
	for _, i := range x.benches() {
		for _, l := range x.s[i].b.Lamps {
			out = append(out, float64(l.Light(l.Dimming.Value)))
		}
	}
	return out
}

// heights are the pairs of heights to try.
func (x *match) heights(now [2]float64) [][2]float64 {
	if !x.ask.Heights {
		return [][2]float64{now}
	}
	list := func(i int) []float64 {
		lim := x.s[i].b.Limits
		out := outlook.Grid(float64(lim.MinHeight.Value), float64(lim.MaxHeight.Value), matchHeights)
		if !slices.Contains(out, now[i]) {
			out = append(out, now[i])
		}
		return out
	}
	var out [][2]float64
	for _, a := range list(0) {
		if x.one {
			out = append(out, [2]float64{a, a})
			continue
		}
		for _, b := range list(1) {
			out = append(out, [2]float64{a, b})
		}
	}
	return out
}

// responses are those of the lamps of bench i at a height.
func (x *match) responses(i int, height float64) ([]float64, error) {
	key := [2]float64{float64(i), height}
	if r, ok := x.resp[key]; ok {
		return r, nil
	}
	r, err := x.s[i].m.ResponsesOf(x.s[i].m.LampsAt(quantity.Metre(height)), x.ask.Canopy)
	if err != nil {
		return nil, refuse("%v", err)
	}
	x.resp[key] = r
	return r, nil
}

// problem puts both sides into one: first the plants of A, then those of B.
func (x *match) problem(h [2]float64) (*lightaim.Problem, error) {
	na, nb := len(x.s[0].plants), len(x.s[1].plants)
	p := &lightaim.Problem{Points: na + nb, MaxNodes: outerNodes}
	group := 0
	for _, i := range x.benches() {
		resp, err := x.responses(i, h[i])
		if err != nil {
			return nil, err
		}
		b := x.s[i].b
		kinds := map[string]int{}
		single := x.one && !slices.ContainsFunc(b.Lamps, func(l underlamp.Lamp) bool { return l.Kind != b.Lamps[0].Kind })
		for k, l := range b.Lamps {
			g, ok := kinds[l.Kind]
			ok = ok && !single
			if !ok {
				g = group
				kinds[l.Kind] = g
				group++
			}
			p.Group = append(p.Group, g)
			p.Lamps = append(p.Lamps, lightaim.Lamp{
				Lower: float64(l.Light(b.Limits.MinDim.Value)), Upper: float64(l.Light(b.Limits.MaxDim.Value)), Step: float64(x.ask.Step),
				Power: powerOf(&l),
			})
			row := make([]float64, na+nb)
			for j, side := range x.s {
				if !x.one && j != i {
					continue
				}
				for at, plant := range side.plants {
					row[j*na+at] = resp[k*len(b.Plants)+plant]
				}
			}
			p.Responses = append(p.Responses, row...)
		}
	}
	eq := lightaim.Equal{}
	for i := range na {
		eq.A = append(eq.A, i)
	}
	for i := range nb {
		eq.B = append(eq.B, na+i)
	}
	if x.ask.DLI {
		eq.FactorA, eq.FactorB = float64(x.s[0].hours), float64(x.s[1].hours)
	}
	if x.ask.Step > 0 {
		eq.Tolerance = float64(x.ask.Tolerance)
	}
	p.Equal = []lightaim.Equal{eq}
	if x.ask.Level > 0 {
		// Steps may leave one side a little under the level: half of the tolerance.
		level := func(i int) float64 {
			l := x.ask.Level
			if x.ask.DLI {
				l = float64(quantity.ConstantPPFD(quantity.DLI(l), x.s[i].hours))
			}
			return l * (1 - eq.Tolerance/2)
		}
		p.Means = []lightaim.Mean{{Points: eq.A, Low: level(0)}, {Points: eq.B, Low: level(1)}}
	}
	return p, nil
}

// solve answers one pair of heights; the least score is best.
func (x *match) solve(h [2]float64) (*lightaim.Answer, float64, error) {
	p, err := x.problem(h)
	if err != nil {
		return nil, 0, err
	}
	if x.ask.Highest {
		a, err := p.HighestMean(p.Equal[0].A)
		if err != nil {
			return nil, 0, err
		}
		return a, -a.Aim, nil
	}
	a, err := p.LeastPower()
	if err != nil {
		return nil, 0, err
	}
	return a, x.day(a.Dim), nil
}

// day is the electricity of a day.
func (x *match) day(dims []float64) float64 {
	sum, k := 0.0, 0
	for _, i := range x.benches() {
		for _, l := range x.s[i].b.Lamps {
			sum += float64(quantity.EnergyOf(quantity.Watt(powerOf(&l).At(dims[k])), l.Hours.Value))
			k++
		}
	}
	return sum
}

// sides describes both sides at heights and dimmings.
func (x *match) sides(h [2]float64, dims []float64) (out [2]SideAnswer, day quantity.KilowattHour, err error) {
	first := 0 // of the dims of each bench
	for j, s := range x.s {
		i := j
		if x.one {
			i, first = 0, 0
		}
		resp, err := x.responses(i, h[i])
		if err != nil {
			return out, 0, err
		}
		o := SideAnswer{Bench: s.b, Plants: s.names, Height: quantity.Metre(h[i]), Hours: s.hours}
		n := len(s.b.Plants)
		mean, sq := 0.0, 0.0
		for k, l := range s.b.Lamps {
			o.Dim = append(o.Dim, l.DimmingFor(quantity.Fraction(dims[first+k])))
			o.Power += quantity.Watt(powerOf(&l).At(dims[first+k]))
		}
		for _, plant := range s.plants {
			e := 0.0
			for k := range s.b.Lamps {
				e += dims[first+k] * resp[k*n+plant]
			}
			mean += e / float64(len(s.plants))
			sq += e * e / float64(len(s.plants))
		}
		if mean > 0 {
			o.Uneven = math.Sqrt(max(sq-mean*mean, 0)) / mean
		}
		sd := math.NaN() // where the fit cannot be had again the doubt is not known
		if per, err := s.m.PlantSD(); err == nil {
			sd = meanOf(per, s.plants)
		}
		v, unit, name := mean, quantity.PhotonFluxDensity.Unit(), "mean PPFD"
		if x.ask.DLI {
			v, unit, name = float64(quantity.DailyLight(quantity.PPFD(mean), s.hours)), quantity.DailyIntegral.Unit(), "mean DLI"
		}
		o.Level = working.Figure{Name: name, Value: v, Unit: unit, Band: working.Normal(v, v*sd, 0.9), Working: working.Working{
			Formula: "mean over the plants of Σ lamps dimming · response",
			Inputs: []working.Input{
				working.Plain("plants", fmt.Sprint(len(s.plants)), "stated"),
				working.Plain("height of the lamps", quantity.Length.Format(h[i], s.b.Units, 3), "computed"),
				working.Plain("hours of light", quantity.Duration.Format(float64(s.hours), s.b.Units, 4), "stated"),
			},
			Sources: []string{"ASABE2017"},
		}}
		out[j] = o
		first += len(s.b.Lamps)
	}
	return out, quantity.KilowattHour(x.day(dims)), nil
}

func meanOf(v []float64, at []int) float64 {
	sum := 0.0
	for _, i := range at {
		sum += v[i] / float64(len(at))
	}
	return sum
}
