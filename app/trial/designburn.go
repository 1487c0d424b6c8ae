package trial

import (
	"context"
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/power"
	"underlamp/working"
)

// counted reports responses whose plans are simulated.
func (a Ask) counted() bool {
	return a.Response == underlamp.ResponseBurn || a.Response == underlamp.ResponseSeverity
}

func (a Ask) checkBurn() error {
	b := a.Burn
	if a.Onset {
		switch {
		case !(b.Base > a.Difference):
			return fmt.Errorf("the difference of %s is not less than the day on which half are expected to have burnt, day %s", working.Signed(a.Difference, 0)+" d", quantity.Number(b.Base, 3))
		case len(b.Rounds) < 2:
			return fmt.Errorf("say the days of looking: two rounds at least")
		case !(b.Shape > 0) || !(b.Log >= 0) || !(b.Cycle >= 0):
			return fmt.Errorf("the scatter of the day of the first burn is not known")
		}
		return nil
	}
	switch {
	case !(b.Base >= 0 && b.Base < 1):
		return fmt.Errorf("the share of plants expected to burn where there is least lies from 0 to below 100 %%")
	case !(b.Cycle >= 0):
		return fmt.Errorf("the scatter of burn between cycles is not known")
	case b.Base+a.Difference > 1:
		return fmt.Errorf("%s more than %s is more than all plants", working.Percent(a.Difference), working.Percent(b.Base))
	case a.Response == underlamp.ResponseBurn && !(b.Rho >= 0 && b.Rho < 1):
		return fmt.Errorf("the correlation of plants of one lamp lies from 0 to below 1")
	case a.Response == underlamp.ResponseSeverity && !(b.Base > 0 && b.Base+a.Difference < 1 && b.Logit >= 0):
		return fmt.Errorf("for grades the share of plants with burn must lie between 0 and 100 %%, with and without the difference")
	}
	return nil
}

// unitName is the unit of differences as they are shown.
func (a Ask) unitName() string {
	switch {
	case a.Onset:
		return "d"
	case a.counted():
		return "% of plants"
	}
	return a.Response.Unit()
}

func (a Ask) shown(x float64) float64 {
	if a.counted() && !a.Onset {
		return 100 * x
	}
	return x
}

const simulatedTrials = 2000

// gradeCuts are the classes of the grades 0 to 5 on the logit, above the first: assumed, as
// in the simulated trials of docs/made-trials.md.
var gradeCuts = []float64{0, 0.9, 1.8, 2.8, 4}

func (a Ask) burnInputs(p *Proposal) []working.Input {
	b := a.Burn
	in := []working.Input{working.Plain("smallest difference worth knowing", fmt.Sprintf("%s %s", quantity.Number(a.shown(a.Difference), 3), a.unitName()), underlamp.Stated.String())}
	origin := a.Origin.String()
	switch {
	case a.Onset:
		in = append(in, working.Plain("half have burnt by, where it is latest", fmt.Sprintf("day %s", quantity.Number(b.Base, 3)), underlamp.Stated.String()),
			working.Input{Name: "between lamps, of ln day", Value: fmt.Sprintf("%.2g", b.Log), Origin: origin, Note: a.Note},
			working.Input{Name: "shape of the Weibull law", Value: fmt.Sprintf("%.2g", b.Shape), Origin: origin, Note: a.Note},
			working.Plain("days of looking", listed(b.Rounds), underlamp.Stated.String()))
	case a.Response == underlamp.ResponseSeverity:
		in = append(in, working.Plain("plants with burn, where there is least", working.Percent(b.Base), underlamp.Stated.String()),
			working.Input{Name: "between lamps, on the logit", Value: fmt.Sprintf("%.2g", b.Logit), Origin: origin, Note: a.Note})
	default:
		in = append(in, working.Plain("plants with burn, where there is least", working.Percent(b.Base), underlamp.Stated.String()),
			working.Input{Name: "correlation of plants of a lamp", Value: fmt.Sprintf("%.2g", b.Rho), Origin: origin, Note: a.Note})
	}
	on := "on the logit"
	if a.Onset {
		on = "of ln day"
	}
	in = append(in, working.Input{Name: "between cycles, " + on, Value: fmt.Sprintf("%.2g", b.Cycle), Origin: underlamp.Default.String(), Note: "assumed, no source"})
	return append(in, working.Plain("repeats", fmt.Sprint(p.Repeats), underlamp.Computed.String()), working.Plain("plants a lamp", fmt.Sprint(a.Plants), underlamp.Stated.String()))
}

// simulate finds the power of a layout for burn by drawing trials.
func (a Ask) simulate(ctx context.Context, p *Proposal, plan power.Plan, i, of int, progress func(string, int, int)) error {
	k := len(p.Trial.Treatments)
	b := a.Burn
	trials := b.Trials
	if trials == 0 {
		trials = simulatedTrials
	}
	const steps = 500 // trials for each step of the search
	all := trials + 8*steps
	done := 0
	groups := power.Groups{Of: p.cycles(), SD: b.Cycle}
	run := func(difference float64, trials int, subs int) (power.Simulated, error) {
		r := power.Runs{Trials: trials, Seed: a.Seed, Alpha: 0.05}
		if progress != nil {
			from := i*all + done
			r.Progress = func(n int) { progress("simulating "+string(p.Layout), from+n, of*all) }
		}
		defer func() { done += trials }()
		// The first and the last treatment differ, the rest lie between.
		share := func(t int) float64 {
			switch t {
			case 0:
				return 0
			case k - 1:
				return 1
			}
			return 0.5
		}
		x := make([]float64, k)
		switch {
		case a.Onset:
			for t := range x {
				x[t] = (b.Base - difference*share(t)) / math.Pow(math.Ln2, 1/b.Shape)
			}
			return power.Timed{Plan: plan, Scale: x, Shape: b.Shape, SDUnit: b.Log, Rounds: b.Rounds, Subs: subs, Groups: groups}.Simulate(ctx, r)
		case a.Response == underlamp.ResponseSeverity:
			for t := range x {
				q := b.Base + difference*share(t)
				x[t] = math.Log(q / (1 - q))
			}
			return power.Graded{Plan: plan, Shift: x, Cuts: gradeCuts, SDUnit: b.Logit, Subs: subs, Groups: groups}.Simulate(ctx, r)
		}
		for t := range x {
			x[t] = math.Min(1, b.Base+difference*share(t))
		}
		return power.Counted{Plan: plan, Chances: x, Subs: subs, Rho: b.Rho, Groups: groups}.Simulate(ctx, r)
	}
	s, err := run(a.Difference, trials, a.Plants)
	if err != nil {
		return err
	}
	p.Power = s.Chance
	formula := map[bool]string{true: "beta-binomial counts, shares of units", false: "proportional odds, mean midranks of units"}[a.Response == underlamp.ResponseBurn]
	sources := []string{"Williams1982"}
	if a.Response == underlamp.ResponseSeverity {
		sources = []string{"McCullagh1980"}
	}
	if a.Onset {
		formula, sources = "Weibull days seen at the rounds, mean log-rank scores of units", []string{"Sun1996"}
	}
	inputs := append(a.burnInputs(p), working.Plain("trials drawn", fmt.Sprintf("%d, seed %d", s.Trials, a.Seed), underlamp.Computed.String()))
	w := working.Figure{Name: "chance of finding it", Value: 100 * s.Chance, Unit: "%", Digits: 2, Band: &working.Band{Low: 100 * math.Max(0, s.Chance-2*s.SE), High: 100 * math.Min(1, s.Chance+2*s.SE), Level: 0.95},
		Working: working.Working{Formula: formula + fmt.Sprintf(", F with %d degrees of freedom of error; share of the drawn trials with p ≤ 0.05", p.DF), Inputs: inputs, Sources: sources,
			Notes: []string{fmt.Sprintf("the band is that of the drawing alone, ± 2 × %.2g %%", 100*s.SE)}}}
	if s.Refused > 0 {
		w.Working.Notes = append(w.Working.Notes, fmt.Sprintf("%s of the trials had nothing to test, such as no burn at all; they count as not found", working.Percent(float64(s.Refused)/float64(s.Trials))))
	}
	p.Figures = append(p.Figures, w)
	// What more plants buy: ten times as many.
	ten, err := run(a.Difference, steps, 10*a.Plants)
	if err != nil {
		return err
	}
	p.Figures = append(p.Figures, working.Figure{Name: "the same with ten times as many plants", Value: 100 * ten.Chance, Unit: "%", Digits: 2, Working: working.Working{Formula: formula, Inputs: inputs, Notes: []string{"more plants cannot replace lamps"}}})
	high := 1 - b.Base
	if a.Response == underlamp.ResponseSeverity {
		high = (1 - b.Base) * 0.999
	}
	if a.Onset {
		high = b.Base * 0.95
	}
	least, err := power.Least(Goal, 0, high, func(x float64) (power.Simulated, error) { return run(x, steps, a.Plants) })
	switch {
	case stat.Refused(err) != nil:
		p.Cannot = append(p.Cannot, "No difference at all is found with a chance of 80 %, not even the largest that there can be. More cycles help most.")
	case err != nil:
		return err
	default:
		p.Figures = append(p.Figures, working.Figure{Name: "difference found with a chance of 80 %", Value: a.shown(least), Unit: a.unitName(), Digits: 2, Working: working.Working{Formula: formula + ", halved seven times towards a chance of 80 %", Inputs: inputs,
			Notes: []string{fmt.Sprintf("%d trials a step, so it is known to about a tenth", steps)}}})
	}
	if a.Response == underlamp.ResponseBurn && !a.Onset && p.Layout != underlamp.AugmentedLayout {
		p.Cannot = append(p.Cannot, "Shares of burn near 0 or 100 % scatter less than the test takes for granted; findings fit the safe light by its own method.")
	}
	return nil
}

// cycles is the cycle of each whole unit.
func (p *Proposal) cycles() []int {
	of := map[string]int{}
	seen := map[string]bool{}
	var out []int
	for _, u := range p.Trial.Places {
		if u.Whole != "" {
			if seen[u.Whole] {
				continue
			}
			seen[u.Whole] = true
		}
		if _, ok := of[u.Block]; !ok {
			of[u.Block] = len(of)
		}
		out = append(out, of[u.Block])
	}
	return out
}

// ScatterOfBurn takes the correlation of burn between plants of one lamp from an earlier
// trial, with the chance of burn its own for each treatment.
func ScatterOfBurn(t *underlamp.Trial, entries []underlamp.TrialEntry) (rho float64, err error) {
	yes, n := map[string]int{}, map[string]int{}
	state := map[[2]string]bool{}
	for _, e := range entries {
		if e.What == underlamp.ResponseBurn && e.Missing == "" {
			k := [2]string{e.TrialUnit, e.Plant}
			state[k] = state[k] || e.Value > 0
		}
	}
	for k, b := range state {
		n[k[0]]++
		if b {
			yes[k[0]]++
		}
	}
	var d binary.Data
	levels := map[string]int{}
	var used []underlamp.TrialUnit
	units, with := map[string]int{}, map[string][2]int{}
	for _, u := range t.Places {
		if n[u.Name] > 1 {
			units[u.Treatment]++
			with[u.Treatment] = [2]int{with[u.Treatment][0] + yes[u.Name], with[u.Treatment][1] + n[u.Name]}
			used = append(used, u)
		}
	}
	// Treatments with no burn or all burn say nothing about its scatter.
	keep := func(x string) bool { return units[x] > 1 && with[x][0] > 0 && with[x][0] < with[x][1] }
	for _, u := range used {
		if _, ok := levels[u.Treatment]; !ok && keep(u.Treatment) {
			levels[u.Treatment] = len(levels)
		}
	}
	free := -len(levels)
	for _, u := range used {
		if !keep(u.Treatment) {
			continue
		}
		x := make([]float64, len(levels))
		x[levels[u.Treatment]] = 1
		d.Yes, d.N, d.X = append(d.Yes, yes[u.Name]), append(d.N, n[u.Name]), append(d.X, x)
		free++
	}
	for i := range len(levels) {
		d.Names = append(d.Names, fmt.Sprint(i))
	}
	if free < 3 {
		return 0, fmt.Errorf("too few units with some burn to take its scatter from: three degrees of freedom at least")
	}
	f, err := binary.FitBetaBinomial(d)
	if err != nil {
		return 0, err
	}
	return math.Max(f.Rho, 0.01), nil // never none: a lamp is not exactly like another
}
