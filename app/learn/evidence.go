package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

// How well the mass at transplanting is known, as the standard deviation of its
// logarithm; assumed, no source.
const (
	weighedStart = 0.05
	statedStart  = 0.15
	assumedStart = 0.30
)

// A room is the bench with its light, which cycles are looked at in.
type room struct {
	m     *light.Model
	b     *underlamp.Bench
	index map[string]int // of plants
	lits  map[quantity.Metre]*light.Lit
}

func newRoom(m *light.Model) *room {
	r := &room{m: m, b: m.Bench(), index: map[string]int{}, lits: map[quantity.Metre]*light.Lit{}}
	for i, p := range r.b.Plants {
		r.index[p.Name] = i
	}
	return r
}

// A stage is what held on the bench from a day on.
type stage struct {
	from  int
	bench *underlamp.Bench
	env   headcycle.Environment
	light []headcycle.Profile // by plant of the bench
}

// stages cuts a cycle at the changes up to a day, which are all that was known then.
func (r *room) stages(c *underlamp.Cycle, until int) ([]stage, error) {
	days := []int{0}
	for _, ch := range c.Changes {
		if ch.Day <= until && !slices.Contains(days, ch.Day) {
			days = append(days, ch.Day)
		}
	}
	slices.Sort(days)
	now := r.b
	var out []stage
	for _, d := range days {
		for _, ch := range c.Changes {
			if ch.Day == d {
				now = now.After(ch)
			}
		}
		s := now.Setting()
		lit, ok := r.lits[s.Height]
		if !ok {
			var err error
			if lit, err = r.m.At(s.Height); err != nil {
				return nil, err
			}
			r.lits[s.Height] = lit
		}
		dim, day := light.DayWeights(now)
		st := stage{from: d, bench: now, env: outlook.Environment(now, day)}
		for _, p := range lit.ClosingProfilesAt(dim, outlook.LevelSpacing, outlook.Levels) {
			st.light = append(st.light, outlook.Profile(p))
		}
		out = append(out, st)
	}
	return out, nil
}

// stand is one plant of the bench through stages.
func (r *room) stand(stages []stage, plant int, start headcycle.Start, days int) outlook.Stand {
	s := outlook.Stand{Start: start, Days: days}
	for _, g := range stages {
		s.Stages = append(s.Stages, outlook.StandStage{FromDay: g.from, Environment: g.env, Light: g.light[plant]})
	}
	return s
}

// meanStand is the mean plant of the bench through stages.
func (r *room) meanStand(stages []stage, start headcycle.Start, days int) outlook.Stand {
	s := outlook.Stand{Start: start, Days: days}
	for _, g := range stages {
		s.Stages = append(s.Stages, outlook.StandStage{FromDay: g.from, Environment: g.env, Light: meanProfile(g.light)})
	}
	return s
}

// lightClasses is the number of classes of equal light that the plants of a bench are
// taken together in, where all of them are asked for.
const lightClasses = 5

// classStands are the plants of the bench in classes of about equal light, each as the
// mean of its class, all of equal weight but for rounding.
func (r *room) classStands(stages []stage, start headcycle.Start, days int) []outlook.Stand {
	n := len(r.b.Plants)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	last := stages[len(stages)-1].light
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(last[a].At(0), last[b].At(0)) })
	var out []outlook.Stand
	k := min(lightClasses, n)
	for c := range k {
		members := order[c*n/k : (c+1)*n/k]
		s := outlook.Stand{Start: start, Days: days}
		for _, g := range stages {
			var of []headcycle.Profile
			for _, i := range members {
				of = append(of, g.light[i])
			}
			s.Stages = append(s.Stages, outlook.StandStage{FromDay: g.from, Environment: g.env, Light: meanProfile(of)})
		}
		out = append(out, s)
	}
	return out
}

// evenLight is the coefficient of variation of the light over the plants, up to which
// a count of burn is taken as one of plants in the mean light.
const evenLight = 0.10

// uneven says that the plants of a bench stand in different light in some stage.
func uneven(stages []stage) bool {
	for _, g := range stages {
		var e []float64
		for _, p := range g.light {
			e = append(e, p.At(0))
		}
		if len(e) > 1 && math.Sqrt(variance(e)) > evenLight*average(e) {
			return true
		}
	}
	return false
}

func meanProfile(all []headcycle.Profile) headcycle.Profile {
	mean := headcycle.Profile{Spacing: all[0].Spacing, Levels: make([]float64, len(all[0].Levels))}
	if all[0].Closed != nil {
		mean.Closed = make([]float64, len(all[0].Closed))
	}
	for _, p := range all {
		for i, v := range p.Levels {
			mean.Levels[i] += v / float64(len(all))
		}
		for i, v := range p.Closed {
			mean.Closed[i] += v / float64(len(all))
		}
	}
	return mean
}

// start is how the plants of a cycle began, and how well that is known.
func (r *room) start(c *underlamp.Cycle) (headcycle.Start, float64) {
	s := outlook.Start(r.b)
	mass := r.b.Crop.StartMass
	if c.StartMass != nil {
		mass = *c.StartMass
	}
	sum, n := 0.0, 0.0
	for _, o := range c.Observations {
		if o.Day == 0 && o.Mass != nil {
			sum, n = sum+float64(*o.Mass), n+1
		}
	}
	if c.StartMass == nil && n > 0 {
		mass = underlamp.Given[quantity.Gram]{Value: quantity.Gram(sum / n), Origin: underlamp.Measured}
	}
	s.FreshGrams = float64(mass.Value)
	switch mass.Origin {
	case underlamp.Measured:
		return s, weighedStart
	case underlamp.Default:
		return s, assumedStart
	}
	return s, statedStart
}

// A seen is one observation as evidence: which it was.
type seen struct {
	cycle *underlamp.Cycle
	o     underlamp.Observation
}

// An account is the evidence of cycles with the way back to what was written.
type account struct {
	evidence headlearn.Evidence
	cycles   []*underlamp.Cycle
	days     []int // known up to
	stages   [][]stage

	weighings, heights, burns [][][]seen // by cycle, plant of the evidence, index
	counts                    [][]seen
	notes                     []string
}

// known says up to which day of a cycle its observations are known.
type known struct {
	cycle *underlamp.Cycle
	until int
}

// whole is all that the cycles tell.
func whole(cycles []*underlamp.Cycle) []known {
	var out []known
	for _, c := range cycles {
		out = append(out, known{c, c.LastDay()})
	}
	return out
}

// account turns what is known of cycles into evidence.
func (r *room) account(cycles []known) (*account, error) {
	a := &account{}
	leaves := false
	for _, k := range cycles {
		stages, err := r.stages(k.cycle, k.until)
		if err != nil {
			return nil, fmt.Errorf("cycle %s: %w", Name(k.cycle), err)
		}
		start, sd := r.start(k.cycle)
		hc := headlearn.Cycle{Name: Name(k.cycle), Start: start, StartSD: sd}
		for _, s := range stages {
			hc.Stages = append(hc.Stages, headlearn.Stage{FromDay: s.from, Environment: s.env})
		}
		var names []string
		for _, o := range k.cycle.Observations {
			if o.Plant != "" && o.Day > 0 && o.Day <= k.until && (o.Mass != nil || o.Height != nil || o.Burn != nil) && !slices.Contains(names, o.Plant) {
				names = append(names, o.Plant)
			}
		}
		slices.SortFunc(names, func(x, y string) int { return r.index[x] - r.index[y] })
		w, h, bn := make([][]seen, len(names)), make([][]seen, len(names)), make([][]seen, len(names))
		for i, name := range names {
			at, ok := r.index[name]
			if !ok {
				return nil, fmt.Errorf("cycle %s: the bench has no plant %s", Name(k.cycle), name)
			}
			p := headlearn.Plant{Name: name}
			for _, s := range stages {
				p.Light = append(p.Light, s.light[at])
			}
			for _, o := range k.cycle.Observations {
				leaves = leaves || o.Leaves != nil
				if o.Plant != name || o.Day == 0 || o.Day > k.until {
					continue
				}
				hc.Days = max(hc.Days, o.Day)
				if o.Mass != nil {
					p.Weighings = append(p.Weighings, headlearn.Weighing{Day: o.Day, FreshGrams: float64(*o.Mass), ErrorGrams: float64(o.MassError)})
					w[i] = append(w[i], seen{k.cycle, o})
				}
				if o.Height != nil {
					p.Heights = append(p.Heights, headlearn.Height{Day: o.Day, Metres: float64(*o.Height), ErrorMetres: float64(o.HeightError)})
					h[i] = append(h[i], seen{k.cycle, o})
				}
				if o.Burn != nil {
					p.Burns = append(p.Burns, burnOf(o))
					bn[i] = append(bn[i], seen{k.cycle, o})
				}
			}
			hc.Plants = append(hc.Plants, p)
		}
		if o, ok := lastMean(k); ok {
			p := headlearn.Plant{Name: fmt.Sprintf("mean of %d heads", o.Heads), Of: o.Heads, Weighings: []headlearn.Weighing{{Day: o.Day, FreshGrams: float64(*o.Mass), ErrorGrams: float64(o.MassError)}}}
			for _, s := range stages {
				p.Light = append(p.Light, meanLight(s.light))
			}
			if uneven(stages) {
				a.notes = append(a.notes, fmt.Sprintf("The mean mass of %d heads of %s in %s is taken for that of a head in the mean light of the bench, whose plants stand in different light.", o.Heads, o.Date, Name(k.cycle)))
			}
			hc.Days = max(hc.Days, o.Day)
			hc.Plants = append(hc.Plants, p)
			w, h, bn = append(w, []seen{{k.cycle, o}}), append(h, nil), append(bn, nil)
		}
		var counts []seen
		if o, n, ok := lastCount(k); ok && uneven(stages) {
			a.notes = append(a.notes, fmt.Sprintf("The count of burn of %s in %s (%d of %d heads that were not looked at one by one) is not learned from: the plants of this bench stand in such different light that it matters which of them burnt. Note burn by plant.", o.Date, Name(k.cycle), n.Burnt, n.Of))
		} else if ok {
			hd := headlearn.Count{Day: o.Day, Burnt: n.Burnt, Of: n.Of}
			hc.Days = max(hc.Days, o.Day)
			hc.Counts = append(hc.Counts, hd)
			counts = append(counts, seen{k.cycle, o})
		}
		if hc.Days == 0 {
			continue // nothing is known of it yet
		}
		a.evidence.Cycles = append(a.evidence.Cycles, hc)
		a.cycles, a.days, a.stages = append(a.cycles, k.cycle), append(a.days, k.until), append(a.stages, stages)
		a.weighings, a.heights, a.burns, a.counts = append(a.weighings, w), append(a.heights, h), append(a.burns, bn), append(a.counts, counts)
	}
	if leaves {
		a.notes = append(a.notes, "Leaf numbers are kept in the file, but nothing is computed with them.")
	}
	return a, nil
}

// Name is what a cycle is called.
func Name(c *underlamp.Cycle) string {
	if c.Name != "" {
		return c.Name
	}
	return "of " + c.Transplanted
}

// countedLeaves is how far a number of burnt leaves that was counted may lie from the
// number of the model, as a factor either way: what counts as a burnt leaf, and which
// leaves were looked at, differ from hand to hand. Assumed, no source.
const countedLeaves = 1.5

func burnOf(o underlamp.Observation) headlearn.Burn {
	switch n := float64(o.Burn.Leaves); {
	case o.Burn.Some:
		return headlearn.Seen(o.Day)
	case o.Burn.Scored:
		return headlearn.Severity(o.Day, o.Burn.Severity)
	case n == 0:
		return headlearn.Sound(o.Day)
	default:
		return headlearn.Burn{Day: o.Day, Low: headlearn.Extent{Leaves: max(1, n/countedLeaves)}, High: headlearn.Extent{Leaves: n*countedLeaves + 0.5}}
	}
}

// meanLight is the mean light of the plants of a bench, by height.
func meanLight(all []headcycle.Profile) headcycle.Profile {
	first := all[0]
	mean := headcycle.Profile{Spacing: first.Spacing, Levels: make([]float64, len(first.Levels))}
	closed := !slices.ContainsFunc(all, func(p headcycle.Profile) bool { return p.Closed == nil })
	if closed {
		mean.Closed = make([]float64, len(first.Closed))
	}
	for _, p := range all {
		for i := range mean.Levels {
			mean.Levels[i] += p.At(float64(i)*first.Spacing) / float64(len(all))
		}
		for i := range mean.Closed {
			mean.Closed[i] += headcycle.Profile{Spacing: p.Spacing, Levels: p.Closed}.At(float64(i)*first.Spacing) / float64(len(all))
		}
	}
	return mean
}

// lastMean is the last mean mass of several heads, if no head of that day was weighed by
// itself: it would be learned from twice.
func lastMean(k known) (last underlamp.Observation, ok bool) {
	for _, o := range k.cycle.Observations {
		if o.Heads > 0 && o.Mass != nil && o.Day > 0 && o.Day <= k.until {
			last, ok = o, true
		}
	}
	for _, o := range k.cycle.Observations {
		if ok && o.Plant != "" && o.Mass != nil && o.Day == last.Day {
			return underlamp.Observation{}, false
		}
	}
	return last, ok
}

// lastCount is the last count over the bench, without the heads that were looked at
// one by one: those of which it is known whether they had burn on that day.
func lastCount(k known) (underlamp.Observation, underlamp.BurnCount, bool) {
	var last *underlamp.Observation
	for i, o := range k.cycle.Observations {
		if o.Count != nil && o.Day > 0 && o.Day <= k.until {
			last = &k.cycle.Observations[i]
		}
	}
	if last == nil {
		return underlamp.Observation{}, underlamp.BurnCount{}, false
	}
	n := *last.Count
	burnt, sound := map[string]bool{}, map[string]bool{}
	for _, o := range k.cycle.Observations {
		if o.Burn == nil || o.Day > k.until {
			continue
		}
		if o.Burn.Seen() && o.Day <= last.Day {
			burnt[o.Plant] = true
		}
		if !o.Burn.Seen() && o.Day >= last.Day {
			sound[o.Plant] = true
		}
	}
	n.Burnt = max(0, n.Burnt-len(burnt))
	n.Of = max(0, n.Of-len(burnt)-len(sound))
	n.Burnt = min(n.Burnt, n.Of)
	return *last, n, n.Of > 0
}

// describe lists numbers of things: "18 weighings, 6 heights and 12 looks for burn".
func describe(c underlamp.LearnedCycle) string {
	var parts []string
	add := func(n int, one, many string) {
		switch {
		case n == 1:
			parts = append(parts, "1 "+one)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d %s", n, many))
		}
	}
	add(c.Weighings, "weighing", "weighings")
	add(c.Heights, "height", "heights")
	add(c.Burns, "look for burn", "looks for burn")
	add(c.Counts, "count of burn", "counts of burn")
	if len(parts) == 0 {
		return "nothing"
	}
	if len(parts) == 1 {
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// learnedCycles counts what each cycle brought.
func (a *account) learnedCycles() []underlamp.LearnedCycle {
	var out []underlamp.LearnedCycle
	for i, c := range a.cycles {
		l := underlamp.LearnedCycle{Name: Name(c), Bench: c.Bench, Transplanted: c.Transplanted, Counts: len(a.counts[i])}
		if c.Harvested != "" && a.days[i] >= c.Days {
			l.Harvested = c.Harvested
		}
		for p := range a.evidence.Cycles[i].Plants {
			of := max(a.evidence.Cycles[i].Plants[p].Of, 1) // a mean of a trial's unit is of several
			l.Plants += of
			l.Weighings += of * len(a.weighings[i][p])
			l.Heights += len(a.heights[i][p])
			l.Burns += len(a.burns[i][p])
		}
		out = append(out, l)
	}
	return out
}
