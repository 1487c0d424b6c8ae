package learn

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/app/trial"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

// harvestName is what a block of a trial is called.
func harvestName(h trial.Harvest) string {
	if h.Block == "" {
		return h.Trial
	}
	return h.Trial + ", " + h.Block
}

// Distinct leaves out harvests of trials that are there already: as one of the cycles, or as
// a block of another trial. Two are one crop if their days of transplanting and harvest are
// the same, or if half of the masses at harvest are (to a tenth of a gram). It says each in
// a note, and also where two crops overlap in time without being one.
func Distinct(cycles []*underlamp.Cycle, harvests []trial.Harvest) (kept []trial.Harvest, notes []string) {
	type crop struct {
		name, from, to string
		masses         []float64
	}
	var known []crop
	for _, c := range cycles {
		x := crop{name: "the cycle " + Name(c), from: c.Transplanted, to: c.Harvested}
		last := map[string]float64{}
		for _, o := range c.Observations {
			if o.Mass != nil && o.Plant != "" {
				last[o.Plant] = float64(*o.Mass)
			}
		}
		for _, m := range last {
			x.masses = append(x.masses, m)
		}
		known = append(known, x)
	}
	for _, h := range harvests {
		x := crop{name: harvestName(h), from: h.Transplanted, to: h.Harvested}
		for _, u := range h.Units {
			x.masses = append(x.masses, u.Masses()...)
		}
		twice := false
		for _, k := range known {
			switch {
			case x.to != "" && x.from == k.from && x.to == k.to:
				notes = append(notes, fmt.Sprintf("%s and %s are one crop, by their days of transplanting and harvest: it is counted once, as %s.", x.name, k.name, k.name))
				twice = true
			case sameMasses(x.masses, k.masses):
				notes = append(notes, fmt.Sprintf("%s and %s are one crop, by their masses at harvest: it is counted once, as %s. Their days differ; correct one of them.", x.name, k.name, k.name))
				twice = true
			case x.to != "" && k.to != "" && x.from < k.to && k.from < x.to:
				notes = append(notes, fmt.Sprintf("%s and %s overlap in time. They are counted as two crops; if heads are noted in both, leave one out.", x.name, k.name))
			}
			if twice {
				break
			}
		}
		if !twice {
			known = append(known, x)
			kept = append(kept, h)
		}
	}
	return kept, notes
}

// sameMasses tells whether at least half of the masses of the smaller list, and at least
// three, stand in the other one too.
func sameMasses(a, b []float64) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	round := func(x float64) int { return int(math.Round(10 * x)) }
	left := map[int]int{}
	for _, x := range b {
		left[round(x)]++
	}
	n := 0
	for _, x := range a {
		if left[round(x)] > 0 {
			left[round(x)]--
			n++
		}
	}
	return n >= 3 && 2*n >= len(a)
}

// unitStages are the stages of a bench with the light of one unit in the place of every
// plant: the mean plant of the bench, brought to what the unit got at the planting surface.
func unitStages(stages []stage, dli quantity.DLI) []stage {
	out := slices.Clone(stages)
	for i := range out {
		mean := meanProfile(out[i].light)
		f := float64(quantity.ConstantPPFD(dli, out[i].env.Hours)) / mean.At(0)
		p := headcycle.Profile{Spacing: mean.Spacing}
		for _, v := range mean.Levels {
			p.Levels = append(p.Levels, v*f)
		}
		for _, v := range mean.Closed {
			p.Closed = append(p.Closed, v*f)
		}
		all := make([]headcycle.Profile, len(out[i].light))
		for k := range all {
			all[k] = p
		}
		out[i].light = all
	}
	return out
}

// addHarvests adds blocks of trials to an account, each as one cycle: what a season does is
// shared by all its units. A unit is one mean with the error of its lamp, whatever the
// number of its plants, and its burn is one count of plants that share that lamp.
func (r *room) addHarvests(a *account, harvests []trial.Harvest) error {
	for _, h := range harvests {
		c := &underlamp.Cycle{Name: harvestName(h), Bench: "", Transplanted: h.Transplanted, Harvested: h.Harvested, Days: h.Days, StartMass: h.StartMass}
		stages, err := r.stages(c, 0)
		if err != nil {
			return fmt.Errorf("%s: %w", c.Name, err)
		}
		start, sd := r.start(c)
		hc := headlearn.Cycle{Name: c.Name, Days: h.Days, Start: start, StartSD: sd, Series: h.Trial}
		for _, s := range stages {
			hc.Stages = append(hc.Stages, headlearn.Stage{FromDay: s.from, Environment: s.env})
		}
		var w, none [][]seen
		var counts []seen
		first, err := time.Parse(time.DateOnly, h.Transplanted)
		if err != nil {
			return fmt.Errorf("%s: %q is no day", c.Name, h.Transplanted)
		}
		for _, u := range h.Units {
			var lit []headcycle.Profile
			for _, s := range unitStages(stages, u.DLI) {
				lit = append(lit, s.light[0])
			}
			o := underlamp.Observation{Name: u.Unit, Date: first.AddDate(0, 0, u.Day).Format(time.DateOnly), Day: u.Day, Plant: u.Unit}
			if mean := u.Mean(); !math.IsNaN(mean) {
				g := quantity.Gram(mean)
				o.Mass = &g
				hc.Plants = append(hc.Plants, headlearn.Plant{Name: u.Unit, Light: lit, Of: len(u.Masses()), SharedSD: h.UnitSD.Value, Weighings: []headlearn.Weighing{{Day: u.Day, FreshGrams: mean}}})
				w, none = append(w, []seen{{c, o}}), append(none, nil)
			}
			if burnt, of := u.Burn(); of > 0 {
				o.Count = &underlamp.BurnCount{Burnt: burnt, Of: of}
				hc.Counts = append(hc.Counts, headlearn.Count{Day: u.Day, Burnt: burnt, Of: of, Light: lit, Weight: 1 / (1 + float64(of-1)*min(max(h.BurnSame.Value, 0), 1))})
				counts = append(counts, seen{c, o})
			}
			c.Observations = append(c.Observations, o)
		}
		a.evidence.Cycles = append(a.evidence.Cycles, hc)
		a.cycles, a.days, a.stages = append(a.cycles, c), append(a.days, h.Days), append(a.stages, stages)
		a.weighings, a.heights, a.burns, a.counts = append(a.weighings, w), append(a.heights, none), append(a.burns, none), append(a.counts, counts)
	}
	if len(harvests) > 0 {
		a.notes = append(a.notes, fmt.Sprintf("Of trials the light is that of each unit; air, feed, hours of light and spacing are taken as this bench has them now. A unit is one repeat: its plants share an error of %s %% of their mass (%s).",
			quantity.Fixed(100*harvests[0].UnitSD.Value, 1), harvests[0].UnitSD.Note))
	}
	return nil
}

// A HeldOut is a trial whose blocks were forecast one by one from what the others taught.
type HeldOut struct {
	Record       // a Trial of it is a unit
	Blocks []int // units in each block
}

// HoldOut says of each block of trials what the outlook would have said of its units,
// learning from the other blocks and from cycles, beside the usual outlook. Both know the
// light of the units. It needs two blocks at least.
func HoldOut(ctx context.Context, m *light.Model, cycles []*underlamp.Cycle, harvests []trial.Harvest, opt BacktestOptions) (*HeldOut, error) {
	if len(harvests) < 2 {
		return nil, fmt.Errorf("one block cannot be held against others: a trial of two blocks with days and harvests is needed")
	}
	opt = opt.filled()
	if err := outlook.Supported(m.Bench()); err != nil {
		return nil, err
	}
	plain := *m.Bench()
	plain.Crop.Profile = nil
	r := newRoom(m)
	prior, usual := outlook.Prior(&plain), outlook.Usual(&plain).Traits(opt.Draws, outlook.Seed)
	out := &HeldOut{}
	for i, h := range harvests {
		a, err := r.account(whole(cycles))
		if err != nil {
			return nil, err
		}
		if err := r.addHarvests(a, slices.Concat(harvests[:i], harvests[i+1:])); err != nil {
			return nil, err
		}
		post, err := headlearn.Learn(ctx, a.evidence, prior, headlearn.Options{Seed: opt.Seed, Draws: opt.Posterior, Progress: func(s float64) {
			opt.Progress("each block from the others", (float64(i)+s)/float64(len(harvests)))
		}})
		if err != nil {
			return nil, err
		}
		learned, err := headlearn.FromSummary(post.Summary(), prior)
		if err != nil {
			return nil, fmt.Errorf("what was learned cannot be kept: %w", err)
		}
		traits := learned.Traits(opt.Draws, outlook.Seed)
		c := &underlamp.Cycle{Name: harvestName(h), Transplanted: h.Transplanted, StartMass: h.StartMass}
		stages, err := r.stages(c, 0)
		if err != nil {
			return nil, err
		}
		began, _ := r.start(c)
		for _, u := range h.Units {
			t := Trial{Cycle: u.Unit, Days: u.Day, Mass: math.NaN(), Burnt: math.NaN()}
			for _, p := range u.Plants {
				head := Head{Plant: r.b.Plants[0].Name, Day: u.Day, Mass: p.Mass, Burnt: p.Burnt}
				if p.Looked {
					head.BurnDay = u.Day
				}
				t.Heads = append(t.Heads, head)
			}
			if masses := u.Masses(); len(masses) > 0 {
				t.Mass = average(masses)
			}
			if b, of := u.Burn(); of > 0 {
				t.Burnt = float64(b) / float64(of)
			}
			lit := unitStages(stages, u.DLI)
			t.Issues = []Issue{{Date: h.Transplanted, Data: a.data(), Good: post.Sampling.Good, Said: r.say(traits, nil, lit, began, &t), Usual: r.say(usual, nil, lit, began, &t)}}
			out.Trials = append(out.Trials, t)
		}
		out.Blocks = append(out.Blocks, len(h.Units))
		if !post.Sampling.Good {
			out.Notes = append(out.Notes, fmt.Sprintf("The learning without %s is rough: few draws agree with what had been seen.", harvestName(h)))
		}
	}
	out.Said = score(out.Trials, func(i Issue) Said { return i.Said })
	out.Usual = score(out.Trials, func(i Issue) Said { return i.Usual })
	return out, nil
}

// Sentence says whether the trial bettered the outlook of units that it had not seen.
func (h *HeldOut) Sentence() string {
	a, u := h.Said, h.Usual
	s := fmt.Sprintf("Each of %d blocks was forecast from the others, %d units in all:", len(h.Blocks), len(h.Trials))
	if !math.IsNaN(a.AbsError) {
		word := "better"
		if a.CRPS >= u.CRPS {
			word = "no better"
		}
		s += fmt.Sprintf(" for mass the learned outlook is %s than the usual one (mean of a unit off by %s, usually %s; CRPS %s g, usually %s g; %s of the heads inside their 90 %% band, usually %s).",
			word, percent(a.AbsError), percent(u.AbsError), quantity.Fixed(a.CRPS, 1), quantity.Fixed(u.CRPS, 1), percent(a.Within), percent(u.Within))
	}
	if !math.IsNaN(a.Brier) {
		word := "better"
		if a.Brier >= u.Brier {
			word = "no better"
		}
		s += fmt.Sprintf(" For burn it is %s (Brier score %s, usually %s).", word, quantity.Fixed(a.Brier, 3), quantity.Fixed(u.Brier, 3))
	}
	return s
}

// Part is what a lesson from a trial would change in the outlook of a bench, as a part of
// the findings of that trial.
func (l *Lesson) Part() trial.Part {
	of := l.Bench.Name
	if l.Bench.Crop.Cultivar != "" {
		of = l.Bench.Crop.Cultivar + " on " + of
	}
	p := trial.Part{Title: "What it would change in the outlook"}
	for i, c := range l.Comparison() {
		s := fmt.Sprintf("%s: %s instead of %s.", c.Name, c.After, c.Before)
		if i == 0 {
			s = fmt.Sprintf("This would change the outlook of %s, as that bench is set: %s", of, s)
		}
		p.Says = append(p.Says, s)
	}
	if ok, why := l.Good(); !ok {
		p.Says = append(p.Says, "It is not settled: "+why+".")
	}
	p.Says = append(p.Says, l.Notes...)
	learned := map[string]bool{}
	for _, x := range l.Posterior.Parameters {
		learned[Plain(x).Name] = x.Learned
	}
	for _, f := range l.Figures() {
		if learned[f.Name] {
			p.Figures = append(p.Figures, f)
		}
	}
	return p
}
