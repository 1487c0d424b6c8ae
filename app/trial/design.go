package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/power"
	"underlamp/working"
)

// Goal is the chance of finding the smallest difference worth knowing that a plan is
// held against.
const Goal = 0.8

// An Ask is a question with what there is to answer it.
type Ask struct {
	Name, Question string
	Treatments     []underlamp.Treatment
	Parts          []string // cultivars to be grown within every lamp; nil: one
	Response       underlamp.Response
	Difference     float64 // smallest worth knowing, in the unit of the response
	Lamps          []string
	Cycles         int
	Plants         int // that count under one lamp

	// Standard deviations in the unit of the response: between lamps of one level in
	// one cycle, between plants of one lamp, between cycles.
	Lamp, Plant, Cycle float64
	Origin             underlamp.Origin // of the three
	Note               string
	Seed               uint64
}

// A Proposal is a layout with what it could show.
type Proposal struct {
	Layout  underlamp.TrialLayout
	Name    string
	Unit    string // the experimental unit
	Repeats int    // units at each level
	DF      int    // of the error that treatments are tested against
	Figures []working.Figure
	Power   float64
	Cannot  []string // what it cannot separate
	Trial   *underlamp.Trial
}

// Propose lists the layouts that fit, the most powerful first, and why others do not.
func Propose(a Ask) (out []Proposal, not []string, err error) {
	k, l := len(a.Treatments), len(a.Lamps)
	switch {
	case k < 2:
		return nil, nil, fmt.Errorf("a trial compares at least two treatments")
	case l < 1 || a.Cycles < 1 || a.Plants < 1:
		return nil, nil, fmt.Errorf("a trial needs lamps, cycles and plants")
	case l*a.Cycles > 2000:
		return nil, nil, fmt.Errorf("%d lamps in %d cycles are more than 2000 units", l, a.Cycles)
	case !(a.Difference > 0):
		return nil, nil, fmt.Errorf("say the smallest difference worth knowing: without it no number of repeats is enough or too much")
	case !(a.Lamp > 0 && a.Plant > 0 && a.Cycle >= 0):
		return nil, nil, fmt.Errorf("the standard deviations between lamps and between plants must be above 0")
	}
	units := l * a.Cycles
	if units/k < 2 {
		not = append(not, fmt.Sprintf("%d lamps in %d cycles are %d units for %d treatments: no layout repeats every treatment. Run more cycles or compare fewer treatments; with one unit each, lamp and treatment cannot be told apart.", l, a.Cycles, units, k))
		return nil, not, nil
	}
	between := math.Hypot(a.Lamp, a.Cycle)
	if a.Cycles > 1 && l%k == 0 {
		p, err := a.blocks(l / k)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, p)
	} else {
		not = append(not, fmt.Sprintf("Randomised blocks: every cycle must hold every treatment equally often, and there must be two cycles; %d lamps do not share among %d treatments in %d.", l, k, a.Cycles))
	}
	if l == k && a.Cycles == k && k >= 3 {
		p, err := a.square(false)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, p)
		if k%2 == 0 {
			if p, err = a.square(true); err != nil {
				return nil, nil, err
			}
			out = append(out, p)
		}
	} else {
		not = append(not, fmt.Sprintf("Latin square and rotation: as many lamps and cycles as treatments, at least three; there are %d, %d and %d.", l, a.Cycles, k))
	}
	p, err := a.proposal(underlamp.CompleteLayout, "completely randomised", units/k, k*(units/k-1), between, false)
	if err != nil {
		return nil, nil, err
	}
	p.Cannot = append(p.Cannot, "Differences between cycles stay in the error; the test is blunter for it.")
	counts := make([]int, k)
	for i := range counts {
		counts[i] = units / k
	}
	for i, t := range layout.Complete(counts, a.Seed) {
		p.Trial.Places = append(p.Trial.Places, a.unit(i/l, i%l, t)...)
	}
	if len(a.Parts) < 2 {
		out = append(out, p)
	}
	for i := range out {
		if s := tied(out[i].Trial); s != "" {
			out[i].Cannot = append(out[i].Cannot, s+" This draw came out so by chance; change the lamps round by hand in half of the cycles (layout: systematic), or draw with another seed before anything is planted.")
		}
	}
	slices.SortStableFunc(out, func(x, y Proposal) int {
		switch {
		case x.Power > y.Power:
			return -1
		case x.Power < y.Power:
			return 1
		}
		return 0
	})
	return out, not, nil
}

func (a Ask) blocks(each int) (Proposal, error) {
	k := len(a.Treatments)
	kind, name := underlamp.BlocksLayout, "randomised blocks, a cycle each"
	df := a.Cycles*k*each - a.Cycles - k + 1
	if len(a.Parts) > 1 {
		kind, name = underlamp.SplitLayout, "split plot: lamps get treatments, cultivars stand within"
	}
	p, err := a.proposal(kind, name, a.Cycles*each, df, a.Lamp, true)
	if err != nil {
		return p, err
	}
	if each > 1 {
		p.Cannot = append(p.Cannot, "The power shown is for one degree of freedom fewer a repeat than there is; it errs low.")
	}
	for c, row := range layout.Blocks(k, each, a.Cycles, a.Seed) {
		for l, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, t)...)
		}
	}
	p.Cannot = append(p.Cannot, "A lamp that is odd by itself is told from its treatment only as far as chance moves treatments about over the cycles.")
	return p, nil
}

func (a Ask) square(williams bool) (Proposal, error) {
	k := len(a.Treatments)
	name := "Latin square: every treatment once under every lamp and in every cycle"
	draw := layout.Latin
	if williams {
		name, draw = "rotation: a Latin square in which each treatment follows each other once", layout.Williams
	}
	rows, err := draw(k, a.Seed)
	if err != nil {
		return Proposal{}, err
	}
	p, err := a.proposal(underlamp.LatinLayout, name, k, (k-1)*(k-2), a.Lamp, true)
	if err != nil {
		return p, err
	}
	p.Cannot = append(p.Cannot, "The power is that of blocks; lamps take "+fmt.Sprint(k-1)+" more degrees of freedom, and pay if they differ.", "Treatments that act otherwise under one lamp or in one cycle look like error.")
	for l, row := range rows { // Williams: row is the sequence of a lamp over cycles
		for c, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, t)...)
		}
	}
	slices.SortStableFunc(p.Trial.Places, func(x, y underlamp.TrialUnit) int {
		if x.Block < y.Block {
			return -1
		}
		if x.Block > y.Block {
			return 1
		}
		return 0
	})
	return p, nil
}

// unit is a lamp in a cycle, one entry a part.
func (a Ask) unit(cycle, lamp, treatment int) []underlamp.TrialUnit {
	u := underlamp.TrialUnit{Name: fmt.Sprintf("C%d-L%d", cycle+1, lamp+1), Treatment: a.Treatments[treatment].Name, Block: fmt.Sprintf("cycle %02d", cycle+1), Place: a.Lamps[lamp], Lamp: a.Lamps[lamp], Plants: a.Plants}
	if len(a.Parts) < 2 {
		return []underlamp.TrialUnit{u}
	}
	var out []underlamp.TrialUnit
	for i, part := range a.Parts {
		v := u
		v.Whole, v.Part, v.Plants = u.Name, part, max(1, a.Plants/len(a.Parts))
		v.Name += string(rune('a' + i))
		out = append(out, v)
	}
	return out
}

func (a Ask) proposal(kind underlamp.TrialLayout, name string, repeats, df int, sd float64, blocks bool) (Proposal, error) {
	k := len(a.Treatments)
	p := Proposal{Layout: kind, Name: name, Unit: "a lamp in a cycle, with all its plants", Repeats: repeats, DF: df}
	p.Trial = &underlamp.Trial{Name: a.Name, Question: a.Question, Response: a.Response, Difference: a.Difference, Layout: kind, Seed: a.Seed, Treatments: a.Treatments, Columns: map[string]string{}}
	p.Cannot = []string{"Whatever comes with a treatment (a brighter lamp warms its leaves) is part of the treatment."}
	means := make([]float64, k) // two treatments apart by the difference, the rest between
	means[0], means[k-1] = -a.Difference/2, a.Difference/2
	d := power.Nested{Means: means, Units: repeats, Subs: a.Plants, SDUnit: sd, SDSub: a.Plant, Blocks: blocks, Alpha: 0.05}
	pw, err := d.F()
	if err != nil {
		return p, err
	}
	p.Power = pw.Chance
	inputs := []working.Input{
		working.Plain("smallest difference worth knowing", fmt.Sprintf("%.4g %s", a.Difference, a.Response.Unit()), underlamp.Stated.String()),
		{Name: "between lamps", Value: fmt.Sprintf("%.3g %s", sd, a.Response.Unit()), Origin: a.Origin.String(), Note: a.Note},
		{Name: "between plants of a lamp", Value: fmt.Sprintf("%.3g %s", a.Plant, a.Response.Unit()), Origin: a.Origin.String(), Note: a.Note},
		working.Plain("repeats", fmt.Sprint(repeats), underlamp.Computed.String()), working.Plain("plants a lamp", fmt.Sprint(a.Plants), underlamp.Stated.String()),
	}
	p.Figures = append(p.Figures,
		working.Figure{Name: "chance of finding it", Value: 100 * pw.Chance, Unit: "%", Digits: 2, Working: working.Working{Formula: "noncentral F with " + fmt.Sprintf("%d and %d", pw.DF1, pw.DF2) + " degrees of freedom, λ = r n Σα²/(σ²plant + n σ²lamp)", Inputs: inputs, Sources: []string{"Searle1992"}}},
		working.Figure{Name: "the same with plants without end", Value: 100 * pw.Ceiling, Unit: "%", Digits: 2, Working: working.Working{Formula: "λ = r Σα²/σ²lamp", Inputs: inputs, Notes: []string{"more plants cannot replace lamps"}}})
	if diff, floor, err := d.Detectable(Goal); err == nil {
		p.Figures = append(p.Figures, working.Figure{Name: "difference found with a chance of 80 %", Value: diff, Unit: a.Response.Unit(), Working: working.Working{Formula: "noncentral t on the error of the whole trial", Inputs: inputs,
			Notes: []string{fmt.Sprintf("%s %s with plants without end", quantity.Number(floor, 3), a.Response.Unit())}}})
	}
	return p, nil
}
