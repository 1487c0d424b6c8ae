package trial

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat"
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
	Factors        []underlamp.TrialFactor // with them Treatments are made, all combinations
	Checks         []string                // treatments to stand in every cycle while the others stand once
	Parts          []string                // cultivars to be grown within every lamp; nil: one
	Response       underlamp.Response
	Onset          bool    // of burn, the day on which it is first seen is asked about
	Difference     float64 // smallest worth knowing, in the unit of the response; of burn and grades a share of plants with burn, of onset days
	Lamps          []string
	Cycles         int
	Plants         int // that count under one lamp

	// Standard deviations in the unit of the response: between lamps of one level in
	// one cycle, between plants of one lamp, between cycles. Of mass and height.
	Lamp, Plant, Cycle float64
	Origin             underlamp.Origin // of the three, or of Burn
	Note               string
	Burn               BurnScatter // for burn, grades and onset
	Seed               uint64
}

// BurnScatter is what a plan for burn must expect.
type BurnScatter struct {
	Base   float64   // share of plants with burn where there is least; of onset the median day there is latest
	Rho    float64   // correlation of two plants of a lamp, for yes or no
	Logit  float64   // standard deviation between lamps on the logit, for grades
	Log    float64   // standard deviation between lamps of ln day, for onset
	Cycle  float64   // standard deviation between cycles, on the logit, for onset of ln day
	Shape  float64   // of the Weibull law of the day
	Rounds []float64 // days of looking
	Trials int       // simulated trials; 0: 2000
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
	Why     string   // it stands where it stands
	Cannot  []string // what it cannot separate
	Trial   *underlamp.Trial

	weak bool // treatments are not repeated
}

// Propose is [ProposeContext] without an end and without progress.
func Propose(a Ask) (out []Proposal, not []string, err error) {
	return ProposeContext(context.Background(), a, nil)
}

// ProposeContext lists the layouts that fit, the most useful first, and why others do not.
// Progress is told where powers are simulated; it may be nil.
func ProposeContext(ctx context.Context, a Ask, progress func(what string, done, of int)) (out []Proposal, not []string, err error) {
	if len(a.Factors) > 0 {
		if a.Treatments, err = Combine(a.Factors); err != nil {
			return nil, nil, err
		}
	}
	if err := a.check(); err != nil {
		return nil, nil, err
	}
	k, l := len(a.Treatments), len(a.Lamps)
	units := l * a.Cycles
	var plans []Proposal
	add := func(p Proposal, reason string) {
		if reason != "" {
			not = append(not, reason)
		}
		if p.Trial != nil {
			plans = append(plans, p)
		}
	}
	if units/k >= 2 {
		add(a.blocks())
		add(a.square())
		add(a.rotation())
		if len(a.Parts) < 2 {
			add(a.incomplete())
			plans = append(plans, a.complete())
		}
	} else {
		not = append(not, fmt.Sprintf("%s in %s make %s for %s: no layout repeats every treatment. Run more cycles or compare fewer treatments; with one unit each, lamp and treatment cannot be told apart.", count(l, "lamp", "lamps"), count(a.Cycles, "cycle", "cycles"), count(units, "unit", "units"), count(k, "treatment", "treatments")))
	}
	if len(a.Parts) < 2 {
		if len(a.Factors) > 0 {
			add(a.halves())
			add(a.once())
			add(a.fraction())
		} else if len(a.Checks) > 0 || units/k < 2 && k > 3 {
			add(a.augmented())
		}
	}
	for i, p := range plans {
		if err := a.judge(ctx, &p, i, len(plans), progress); err != nil {
			if stat.Refused(err) != nil {
				not = append(not, upper(p.Name)+": "+err.Error()+".")
				continue
			}
			return nil, nil, err
		}
		if p.DF < 3 {
			p.Cannot = append(p.Cannot, "Fewer than three degrees of freedom are left for the error: findings will give limits and no test. Run more cycles.")
		}
		if s := tied(p.Trial); s != "" {
			p.Cannot = append(p.Cannot, s+" This draw came out so by chance; change the lamps round by hand in half of the cycles (layout: systematic), or draw with another seed before anything is planted.")
		}
		out = append(out, p)
	}
	// Cycles are taken out where it costs little and how they scatter is not known.
	score := func(p Proposal) float64 {
		if a.Origin != underlamp.Fitted && p.takesCyclesOut() {
			return p.Power + worthKnowing
		}
		return p.Power
	}
	slices.SortStableFunc(out, func(x, y Proposal) int {
		switch {
		case x.weak != y.weak: // what repeats its treatments answers more
			if y.weak {
				return -1
			}
			return 1
		case score(x) > score(y):
			return -1
		case score(x) < score(y):
			return 1
		}
		return 0
	})
	for i := range out {
		out[i].Why = why(out, i)
	}
	return out, not, nil
}

// worthKnowing is how much power is given for a layout that does not rest on an assumed
// scatter between cycles; a convention of this program.
const worthKnowing = 0.03

func (p Proposal) takesCyclesOut() bool {
	return byBlock(p.Layout) || p.Layout == underlamp.SplitLayout
}

// upper begins a sentence.
func upper(s string) string {
	r := []rune(s)
	if len(r) > 0 {
		r[0] = []rune(strings.ToUpper(string(r[0])))[0]
	}
	return string(r)
}

// why says in a sentence what puts a proposal where it stands.
func why(all []Proposal, i int) string {
	p := all[i]
	chance := working.Percent(p.Power)
	switch {
	case len(all) == 1:
		return fmt.Sprintf("The only layout that fits; it finds the difference with a chance of %s.", chance)
	case p.weak && !all[0].weak:
		return fmt.Sprintf("After those that repeat every treatment: this one asks about more with the same units, and must assume more; chance %s.", chance)
	case i == 0 && p.takesCyclesOut() && all[1].Power > p.Power && p.weak == all[1].weak:
		return fmt.Sprintf("First because it takes the cycles out of the error, and how they scatter is only assumed; it finds the difference with a chance of %s.", chance)
	case i == 0 && p.Power-all[1].Power < 0.005 && p.weak == all[1].weak:
		return fmt.Sprintf("First among equals: it finds the difference as often as the next, with a chance of %s.", chance)
	case i == 0:
		return fmt.Sprintf("First because it finds the difference most often, with a chance of %s.", chance)
	}
	return fmt.Sprintf("It finds the difference with a chance of %s; the first does with %s.", chance, working.Percent(all[0].Power))
}

func (a Ask) check() error {
	k, l := len(a.Treatments), len(a.Lamps)
	switch {
	case k < 2:
		return fmt.Errorf("a trial compares at least two treatments")
	case k > 100:
		return fmt.Errorf("%d treatments are more than 100; vary fewer things at a time", k)
	case l < 1 || a.Cycles < 1 || a.Plants < 1:
		return fmt.Errorf("a trial needs lamps, cycles and plants")
	case l*a.Cycles > 2000:
		return fmt.Errorf("%d lamps in %d cycles are more than 2000 units", l, a.Cycles)
	case !(a.Difference > 0):
		return fmt.Errorf("say the smallest difference worth knowing: without it no number of repeats is enough or too much")
	case len(a.Parts) > 1 && len(a.Factors) > 0:
		return fmt.Errorf("cultivars within every lamp are not planned together with factors; make the cultivar a factor")
	}
	if !a.counted() {
		if !(a.Lamp > 0 && a.Plant > 0 && a.Cycle >= 0) {
			return fmt.Errorf("the standard deviations between lamps and between plants must be above 0")
		}
	} else if err := a.checkBurn(); err != nil {
		return err
	}
	for _, c := range a.Checks {
		if !slices.ContainsFunc(a.Treatments, func(t underlamp.Treatment) bool { return t.Name == c }) {
			return fmt.Errorf("no treatment is called %q", c)
		}
	}
	return nil
}

// Combine makes the treatments of factors: all combinations, with the DLI where light
// follows from the levels.
func Combine(factors []underlamp.TrialFactor) ([]underlamp.Treatment, error) {
	var n []int
	for _, f := range factors {
		if len(f.Levels) < 2 {
			return nil, fmt.Errorf("the factor %s has one level; give two or more, or leave it out", f.Name)
		}
		n = append(n, len(f.Levels))
	}
	runs, err := layout.Factorial(n)
	if err != nil {
		return nil, fmt.Errorf("the factors have more than 1000 combinations; vary fewer things at a time")
	}
	var out []underlamp.Treatment
	for _, r := range runs {
		out = append(out, combination(factors, r))
	}
	return out, nil
}

func combination(factors []underlamp.TrialFactor, run []int) underlamp.Treatment {
	var t underlamp.Treatment
	var names []string
	var ppfd, hours float64
	for i, f := range factors {
		l := f.Levels[run[i]]
		t.Levels = append(t.Levels, l)
		names = append(names, strings.TrimSpace(l+" "+f.Unit))
		var x float64
		if _, err := fmt.Sscanf(l, "%g", &x); err != nil {
			continue
		}
		switch strings.ToLower(f.Name) {
		case "dli":
			t.DLI = quantity.DLI(x)
		case "ppfd":
			ppfd = x
		case "hours":
			hours = x
		}
	}
	if ppfd > 0 && hours > 0 {
		t.DLI = quantity.DLI(ppfd * hours * 3600 / 1e6)
	}
	t.Name = strings.Join(names, ", ")
	return t
}

// start is a proposal without units.
func (a Ask) start(kind underlamp.TrialLayout, name string, treatments []underlamp.Treatment, repeats int) Proposal {
	p := Proposal{Layout: kind, Name: name, Unit: "a lamp in a cycle, with all its plants", Repeats: repeats}
	p.Trial = &underlamp.Trial{Name: a.Name, Question: a.Question, Response: a.Response, Difference: a.Difference, Layout: kind, Seed: a.Seed, Treatments: treatments, Factors: a.Factors, Columns: map[string]string{}}
	if a.Response == underlamp.ResponseSeverity || a.Onset {
		p.Trial.Difference = 0 // said in a share of plants or in days, not in the unit of the response
	}
	if a.Onset {
		p.Trial.Note = fmt.Sprintf("Planned for the day of the first burn: look at every plant on the days %s, and write down clear (last day without burn) and first (first day with it).", listed(a.Burn.Rounds))
	}
	p.Cannot = []string{"Whatever comes with a treatment (a brighter lamp warms its leaves) is part of the treatment."}
	return p
}

func listed(x []float64) string {
	var l []string
	for _, v := range x {
		l = append(l, quantity.Number(v, 3))
	}
	return strings.Join(l, ", ")
}

func (a Ask) blocks() (Proposal, string) {
	k, l := len(a.Treatments), len(a.Lamps)
	if a.Cycles < 2 || l%k != 0 {
		return Proposal{}, fmt.Sprintf("Randomised blocks: every cycle must hold every treatment equally often, and there must be two cycles; %d lamps do not share among %d treatments in %s.", l, k, count(a.Cycles, "cycle", "cycles"))
	}
	kind, name := underlamp.BlocksLayout, "randomised blocks, a cycle each"
	if len(a.Factors) > 0 {
		name = "complete factorial in randomised blocks, a cycle each"
	}
	if len(a.Parts) > 1 {
		kind, name = underlamp.SplitLayout, "split plot: lamps get treatments, cultivars stand within"
	}
	p := a.start(kind, name, a.Treatments, a.Cycles*l/k)
	for c, row := range layout.Blocks(k, l/k, a.Cycles, a.Seed) {
		for l, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, a.Treatments[t])...)
		}
	}
	p.Cannot = append(p.Cannot, "A lamp that is odd by itself is told from its treatment only as far as chance moves treatments about over the cycles.")
	return p, ""
}

func (a Ask) square() (Proposal, string) {
	k, l := len(a.Treatments), len(a.Lamps)
	if l != k || a.Cycles != k || k < 3 || len(a.Parts) > 1 {
		return Proposal{}, fmt.Sprintf("Latin square: as many lamps and cycles as treatments, at least three; there are %d, %d and %d.", l, a.Cycles, k)
	}
	rows, err := layout.Latin(k, a.Seed)
	if err != nil {
		return Proposal{}, sentence(err)
	}
	p := a.start(underlamp.LatinLayout, "Latin square: every treatment once under every lamp and in every cycle", a.Treatments, k)
	a.sequences(&p, rows)
	p.Cannot = append(p.Cannot, "Treatments that act otherwise under one lamp or in one cycle look like error.")
	return p, ""
}

// rotation gives lamps sequences in which each treatment follows each other equally often.
func (a Ask) rotation() (Proposal, string) {
	k, l := len(a.Treatments), len(a.Lamps)
	each := k
	if k%2 == 1 {
		each = 2 * k
	}
	if a.Cycles != k || l%each != 0 || k < 3 || len(a.Parts) > 1 {
		return Proposal{}, fmt.Sprintf("Rotation balanced for carry-over: %d treatments, at least three, take as many cycles and %s or a multiple of that; there are %s and %s.", k, count(each, "lamp", "lamps"), count(a.Cycles, "cycle", "cycles"), count(l, "lamp", "lamps"))
	}
	p := a.start(underlamp.RotationLayout, "rotation: lamps go through the treatments, and each follows each other equally often", a.Treatments, l)
	var rows [][]int
	for i := range l / each {
		q, err := layout.Williams(k, a.Seed+uint64(i))
		if err != nil {
			return Proposal{}, sentence(err)
		}
		rows = append(rows, q...)
	}
	a.sequences(&p, rows)
	p.Cannot = append(p.Cannot, "What a treatment leaves at its lamp for the next cycle (algae, a warm shelf) falls on all treatments alike; findings ask whether it shows.", "Treatments that act otherwise under one lamp or in one cycle look like error.")
	if k == 4 && l == 4 {
		p.Cannot = append(p.Cannot, "By randomisation alone p cannot fall below 0.17; F is the test.")
	}
	return p, ""
}

// sequences places rows of treatments: lamps over cycles.
func (a Ask) sequences(p *Proposal, rows [][]int) {
	for l, row := range rows {
		for c, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, a.Treatments[t])...)
		}
	}
	slices.SortStableFunc(p.Trial.Places, func(x, y underlamp.TrialUnit) int { return strings.Compare(x.Block, y.Block) })
}

// incomplete spreads treatments over cycles that cannot hold them all.
func (a Ask) incomplete() (Proposal, string) {
	k, l := len(a.Treatments), len(a.Lamps)
	if l >= k {
		return Proposal{}, ""
	}
	d, e, err := layout.Incomplete(k, l, a.Cycles, a.Seed)
	if err != nil {
		return Proposal{}, sentence(err)
	}
	name := "incomplete blocks: every cycle holds some of the treatments"
	how := fmt.Sprintf("Pairs of treatments meet in %d to %d cycles; the layout compares as well as %s of the same units in complete blocks would (at best %s with this many).", e.FewestMeet, e.MostMeet, working.Percent(e.Average), working.Percent(e.Bound))
	switch {
	case e.Balanced:
		name = "balanced incomplete blocks: every pair of treatments meets in equally many cycles"
		how = fmt.Sprintf("Every pair of treatments meets in %s; the layout compares as well as %s of the same units in complete blocks would.", count(e.FewestMeet, "cycle", "cycles"), working.Percent(e.Average))
	case d.Replicate != nil:
		name = fmt.Sprintf("incomplete blocks in complete replicates: every %d cycles hold each treatment once", k/l)
	}
	n := d.Counts()
	p := a.start(underlamp.IncompleteLayout, name, a.Treatments, slices.Min(n))
	for c, row := range d.Blocks {
		for l, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, a.Treatments[t])...)
		}
	}
	p.Cannot = append(p.Cannot, how, "Treatments that share few cycles are compared by way of others; findings adjust for the cycles.")
	if slices.Max(n) > slices.Min(n) {
		p.Cannot = append(p.Cannot, fmt.Sprintf("The units do not share evenly: some treatments stand %s, others %d.", count(slices.Min(n), "time", "times"), slices.Max(n)))
	}
	return p, ""
}

func (a Ask) complete() Proposal {
	k, l := len(a.Treatments), len(a.Lamps)
	units := l * a.Cycles
	p := a.start(underlamp.CompleteLayout, "completely randomised", a.Treatments, units/k)
	counts := make([]int, k)
	for i := range counts {
		counts[i] = units / k
	}
	for i, t := range layout.Complete(counts, a.Seed) {
		p.Trial.Places = append(p.Trial.Places, a.unit(i/l, i%l, a.Treatments[t])...)
	}
	p.Cannot = append(p.Cannot, "Differences between cycles stay in the error; the test is blunter for it.")
	if n := units % k; n > 0 {
		p.Cannot = append(p.Cannot, fmt.Sprintf("%s unused: the units do not share among the treatments.", count(n, "unit stays", "units stay")))
	}
	return p
}

// augmented lets checks stand in every cycle and the other treatments once.
func (a Ask) augmented() (Proposal, string) {
	l := len(a.Lamps)
	checks := a.Checks
	if len(checks) == 0 {
		for _, t := range a.Treatments {
			if t.Control {
				checks = []string{t.Name}
			}
		}
	}
	if len(checks) == 0 {
		return Proposal{}, "Augmented with checks: say which treatment is the control or a check; it stands in every cycle and tells the error, while the others stand once."
	}
	var order []underlamp.Treatment
	for _, c := range checks {
		order = append(order, a.Treatments[slices.IndexFunc(a.Treatments, func(t underlamp.Treatment) bool { return t.Name == c })])
	}
	for _, t := range a.Treatments {
		if !slices.Contains(checks, t.Name) {
			order = append(order, t)
		}
	}
	entries := len(order) - len(checks)
	free := l - (entries+a.Cycles-1)/a.Cycles // for checks, where a cycle is fullest
	each := free / len(checks)
	if entries < 1 {
		return Proposal{}, "Augmented with checks: all treatments are checks; there is nothing to be tried once."
	}
	if each < 1 || each*len(checks) < 2 || a.Cycles < 2 {
		need := (entries + l - max(2, len(checks)) - 1) / max(1, l-max(2, len(checks)))
		s := fmt.Sprintf("Augmented with checks: %s and %s do not fit into %s of %s, with two units of checks in each", count(len(checks), "check", "checks"), count(entries, "entry", "entries"), count(a.Cycles, "cycle", "cycles"), count(l, "lamp", "lamps"))
		if l > max(2, len(checks)) {
			s += fmt.Sprintf("; %d cycles would do", max(2, need))
		} else {
			s += fmt.Sprintf("; at least %d lamps are needed", max(2, len(checks))+1)
		}
		return Proposal{}, s + "."
	}
	d, err := layout.Augmented(len(checks), each, entries, a.Cycles, a.Seed)
	if err != nil {
		return Proposal{}, sentence(err)
	}
	name := "augmented: " + strings.Join(checks, " and ") + " in every cycle"
	if each > 1 {
		name += fmt.Sprintf(", %d times", each)
	}
	p := a.start(underlamp.AugmentedLayout, name+", the others once", order, 1)
	p.weak = true
	idle := 0
	for c, row := range d.Blocks {
		idle += l - len(row)
		for l, t := range row {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, l, order[t])...)
		}
	}
	p.Cannot = append(p.Cannot, "A treatment that stands once cannot be told from the lamp it stood under; only the checks are repeated. Use it to pick a few for a trial with repeats.")
	if idle > 0 {
		p.Cannot = append(p.Cannot, fmt.Sprintf("%s free.", count(idle, "place stays", "places stay")))
	}
	return p, ""
}

// once runs every combination of factors once: each level is repeated over the others.
func (a Ask) once() (Proposal, string) {
	k, units := len(a.Treatments), len(a.Lamps)*a.Cycles
	if units/k != 1 {
		return Proposal{}, ""
	}
	p := a.start(underlamp.CompleteLayout, "complete factorial, every combination once", a.Treatments, 1)
	p.weak = true
	l := len(a.Lamps)
	for i, t := range layout.Complete(ones(k), a.Seed) {
		p.Trial.Places = append(p.Trial.Places, a.unit(i/l, i%l, a.Treatments[t])...)
	}
	if a.Cycles > 1 {
		p.Cannot = append(p.Cannot, "Differences between cycles stay in the error; the test is blunter for it.")
	}
	p.Cannot = append(p.Cannot, "No combination is repeated: the error is taken from interactions, which must be small.")
	return p, ""
}

// halves gives half of the combinations of two-level factors to each cycle, in turn: only
// the interaction of all factors is lost in the cycles (Yates1937).
func (a Ask) halves() (Proposal, string) {
	n := len(a.Factors)
	if !twoLevels(a.Factors) || n < 3 || 1<<(n-1) != len(a.Lamps) || a.Cycles%2 != 0 {
		return Proposal{}, ""
	}
	halves, err := layout.Halves(n)
	if err != nil {
		return Proposal{}, sentence(err)
	}
	p := a.start(underlamp.IncompleteLayout, "complete factorial, half of the combinations in each cycle", a.Treatments, a.Cycles/2)
	p.weak = a.Cycles == 2
	for c := range a.Cycles {
		if c%2 == 0 { // which half comes first is drawn for each pair of cycles
			first := layout.Complete(ones(2), a.Seed+uint64(1000+c))
			halves[0], halves[1] = halves[first[0]], halves[first[1]]
		}
		half := halves[c%2]
		for i, t := range layout.Complete(ones(len(half)), a.Seed+uint64(c)) {
			p.Trial.Places = append(p.Trial.Places, a.unit(c, i, a.Treatments[half[t]])...)
		}
	}
	if p.weak {
		p.Cannot = append(p.Cannot, "No combination is repeated: the error is taken from interactions, which must be small.")
	}
	return p, ""
}

func ones(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func twoLevels(factors []underlamp.TrialFactor) bool {
	for _, f := range factors {
		if len(f.Levels) != 2 {
			return false
		}
	}
	return len(factors) > 1
}

// fraction takes the part of the combinations of two-level factors that tells most.
func (a Ask) fraction() (Proposal, string) {
	n, l := len(a.Factors), len(a.Lamps)
	units := l * a.Cycles
	if !twoLevels(a.Factors) || n < 3 {
		return Proposal{}, "Fraction of a factorial: all factors must have two levels, and there must be three or more."
	}
	if n > layout.MostFactors {
		return Proposal{}, fmt.Sprintf("Fraction of a factorial: more than %d factors are not planned.", layout.MostFactors)
	}
	// The largest fraction that the cycles repeat in blocks, else the largest that fits.
	best, each := -1, 0
	for p := 1; p < n; p++ {
		runs := 1 << (n - p)
		if runs <= n || runs > layout.MostRuns {
			continue
		}
		if a.Cycles > 1 && l%runs == 0 {
			best, each = p, l/runs
			break
		}
	}
	inBlocks := best > 0
	if !inBlocks {
		for p := 1; p < n; p++ {
			if runs := 1 << (n - p); runs > n && runs <= layout.MostRuns && runs <= units {
				best, each = p, units/runs
				break
			}
		}
	}
	if best < 0 {
		least := 1
		for least <= n {
			least *= 2
		}
		return Proposal{}, fmt.Sprintf("Fraction of a factorial: %d factors take at least %d units; %d lamps in %d cycles are %d.", n, least, l, a.Cycles, units)
	}
	f, err := layout.BestFraction(n, best)
	if err != nil {
		return Proposal{}, sentence(err)
	}
	// Which half of each generator is run is drawn too.
	var signs uint32
	for i, s := range layout.Complete([]int{best, best}, a.Seed) {
		if i < best && s == 1 {
			signs |= 1 << i
		}
	}
	var list []underlamp.Treatment
	for _, r := range f.Runs(signs) {
		list = append(list, combination(a.Factors, r))
	}
	runs := len(list)
	var names []string
	for _, x := range a.Factors {
		names = append(names, x.Name)
	}
	kind, where := underlamp.CompleteLayout, "completely randomised"
	repeats := each * runs / 2
	if inBlocks {
		kind, where, repeats = underlamp.BlocksLayout, "a cycle each", each*a.Cycles*runs/2
	}
	p := a.start(kind, fmt.Sprintf("fraction 2^(%d−%d): %d of the %d combinations, resolution %s, %s", n, best, runs, 1<<n, roman(f.Resolution()), where), list, repeats)
	p.weak = true
	if inBlocks {
		for c, row := range layout.Blocks(runs, each, a.Cycles, a.Seed) {
			for l, t := range row {
				p.Trial.Places = append(p.Trial.Places, a.unit(c, l, list[t])...)
			}
		}
	} else {
		counts := make([]int, runs)
		for i := range counts {
			counts[i] = each
		}
		for i, t := range layout.Complete(counts, a.Seed) {
			p.Trial.Places = append(p.Trial.Places, a.unit(i/l, i%l, list[t])...)
		}
	}
	var letters []string
	for i, x := range names {
		letters = append(letters, layout.Word(1<<i).String()+" "+x)
	}
	p.Cannot = append(p.Cannot, "Defining relation "+f.Relation()+", with "+strings.Join(letters, ", ")+".")
	for _, g := range f.Strings(2) {
		if len(g) < 2 {
			continue
		}
		var l []string
		for _, w := range g {
			l = append(l, w.In(names))
		}
		p.Cannot = append(p.Cannot, "Cannot be told apart: "+strings.Join(l, " and ")+".")
	}
	switch f.Resolution() {
	case 3:
		p.Cannot = append(p.Cannot, "Single factors are mixed up with pairs: use it only to find which of many factors matter at all.")
	case 4:
		p.Cannot = append(p.Cannot, "Single factors are clear of pairs; pairs are mixed up with pairs.")
	default:
		p.Cannot = append(p.Cannot, "Single factors and pairs are clear of each other; interactions of three and more must be small.")
	}
	return p, ""
}

func roman(n int) string {
	r := []string{"", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"}
	if n >= 0 && n < len(r) {
		return r[n]
	}
	return fmt.Sprint(n)
}

// unit is a lamp in a cycle, one entry a part.
func (a Ask) unit(cycle, lamp int, treatment underlamp.Treatment) []underlamp.TrialUnit {
	u := underlamp.TrialUnit{Name: fmt.Sprintf("C%d-L%d", cycle+1, lamp+1), Treatment: treatment.Name, Block: fmt.Sprintf("cycle %02d", cycle+1), Place: a.Lamps[lamp], Lamp: a.Lamps[lamp], Plants: a.Plants}
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

// plan is the layout as its analysis sees it: whole units, and what is taken out.
func (p *Proposal) plan() power.Plan {
	var treat, block, place []string
	seen := map[string]bool{}
	for _, u := range p.Trial.Places {
		if u.Whole != "" {
			if seen[u.Whole] {
				continue
			}
			seen[u.Whole] = true
		}
		treat, block, place = append(treat, u.Treatment), append(block, u.Block), append(place, u.Place)
	}
	t := stat.NewFactor("treatment", treat)
	// Levels in the order of the plan, so that differences are between the right ones.
	order := stat.Factor{Name: t.Name}
	for _, x := range p.Trial.Treatments {
		order.Levels = append(order.Levels, x.Name)
	}
	for _, l := range treat {
		order.Of = append(order.Of, slices.Index(order.Levels, l))
	}
	out := power.Plan{Treatment: order}
	if p.takesCyclesOut() {
		out.Nuisance = append(out.Nuisance, stat.NewFactor("block", block))
	}
	if p.Layout == underlamp.LatinLayout || p.Layout == underlamp.RotationLayout {
		out.Nuisance = append(out.Nuisance, stat.NewFactor("place", place))
	}
	return out
}

// judge works out what a layout could show.
func (a Ask) judge(ctx context.Context, p *Proposal, i, of int, progress func(string, int, int)) error {
	plan := p.plan()
	if len(a.Factors) > 0 {
		return a.judgeFactors(p)
	}
	df, err := plan.ErrorDF()
	if err != nil {
		return err
	}
	p.DF = df
	if a.counted() {
		return a.simulate(ctx, p, plan, i, of, progress)
	}
	sd := a.between(p)
	k := len(p.Trial.Treatments)
	inputs := a.inputs(p, sd)
	if p.Layout == underlamp.AugmentedLayout {
		return a.judgeEntries(p, plan, sd, inputs)
	}
	means := make([]float64, k) // two treatments apart by the difference, the rest between
	means[0], means[k-1] = -a.Difference/2, a.Difference/2
	pw, err := plan.F(means, sd, a.Plant, a.Plants, 0.05)
	if err != nil {
		return err
	}
	p.Power = pw.Chance
	p.Figures = append(p.Figures,
		working.Figure{Name: "chance of finding it", Value: 100 * pw.Chance, Unit: "%", Digits: 2, Working: working.Working{Formula: fmt.Sprintf("noncentral F with %d and %d degrees of freedom, λ = (sum of squares of the true means in this layout)/(σ²lamp + σ²plant/n)", pw.DF1, pw.DF2), Inputs: inputs, Sources: []string{"Searle1992"}}},
		working.Figure{Name: "the same with plants without end", Value: 100 * pw.Ceiling, Unit: "%", Digits: 2, Working: working.Working{Formula: "the same with σ²lamp alone", Inputs: inputs, Notes: []string{"more plants cannot replace lamps"}}})
	if best, worst, err := plan.Detectable(Goal, sd, a.Plant, a.Plants, 0.05); err == nil {
		_, floor, _ := plan.Detectable(Goal, sd, 0, 1, 0.05)
		w := working.Figure{Name: "difference found with a chance of 80 %", Value: worst, Unit: a.Response.Unit(), Working: working.Working{Formula: "noncentral t on the error of the whole trial", Inputs: inputs,
			Notes: []string{fmt.Sprintf("%s %s with plants without end", quantity.Number(floor, 3), a.Response.Unit())}}}
		if worst > best*1.001 {
			w.Working.Notes = append(w.Working.Notes, fmt.Sprintf("for the pair that is compared worst; %s %s for that which is compared best", quantity.Number(best, 3), a.Response.Unit()))
		}
		p.Figures = append(p.Figures, w)
	}
	return nil
}

// between is the scatter between units that the analysis of the layout leaves.
func (a Ask) between(p *Proposal) float64 {
	if p.takesCyclesOut() {
		return a.Lamp
	}
	return math.Hypot(a.Lamp, a.Cycle)
}

func (a Ask) inputs(p *Proposal, sd float64) []working.Input {
	return []working.Input{
		working.Plain("smallest difference worth knowing", fmt.Sprintf("%.4g %s", a.Difference, a.Response.Unit()), underlamp.Stated.String()),
		{Name: "between lamps", Value: fmt.Sprintf("%.3g %s", sd, a.Response.Unit()), Origin: a.Origin.String(), Note: a.Note},
		{Name: "between plants of a lamp", Value: fmt.Sprintf("%.3g %s", a.Plant, a.Response.Unit()), Origin: a.Origin.String(), Note: a.Note},
		working.Plain("repeats", fmt.Sprint(p.Repeats), underlamp.Computed.String()), working.Plain("plants a lamp", fmt.Sprint(a.Plants), underlamp.Stated.String()),
	}
}

// judgeEntries: a treatment that stands once against a check.
func (a Ask) judgeEntries(p *Proposal, plan power.Plan, sd float64, inputs []working.Input) error {
	k := len(p.Trial.Treatments)
	c := make([]float64, k)
	c[0], c[k-1] = -1, 1
	chance, se, df, err := plan.Contrast(c, a.Difference, sd, a.Plant, a.Plants, 0.05)
	if err != nil {
		return err
	}
	ceiling, _, _, err := plan.Contrast(c, a.Difference, sd, 0, 1, 0.05)
	if err != nil {
		return err
	}
	p.Power = chance
	formula := fmt.Sprintf("noncentral t with %d degrees of freedom, for one treatment that stands once against a check", df)
	inputs = append(slices.Clone(inputs), working.Plain("standard error of that difference", fmt.Sprintf("%.3g %s", se, a.Response.Unit()), underlamp.Computed.String()))
	p.Figures = append(p.Figures,
		working.Figure{Name: "chance of finding it", Value: 100 * chance, Unit: "%", Digits: 2, Working: working.Working{Formula: formula, Inputs: inputs, Notes: []string{"of one comparison; many at once find false ones, and findings allow for that"}, Sources: []string{"Federer1956"}}},
		working.Figure{Name: "the same with plants without end", Value: 100 * ceiling, Unit: "%", Digits: 2, Working: working.Working{Formula: "the same with σ²lamp alone", Inputs: inputs}})
	_, worst, err := plan.Detectable(Goal, sd, a.Plant, a.Plants, 0.05)
	if err == nil {
		p.Figures = append(p.Figures, working.Figure{Name: "difference found with a chance of 80 %", Value: worst, Unit: a.Response.Unit(), Working: working.Working{Formula: "noncentral t on the error of the checks", Inputs: inputs,
			Notes: []string{"between two treatments that stand once, in different cycles: the worst comparison"}}})
	}
	return nil
}
