package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/mixed"
	"underlamp/science/stat/pairwise"
	"underlamp/science/stat/ranks"
	"underlamp/working"
)

const (
	level     = 0.95 // of limits
	doseLevel = 0.90 // of limits of thresholds and optima
)

// Titles of the parts that the summary picks from.
const (
	titleTreatments = "Treatments compared, by units"
	titleLight      = "Over the light that the units got"
	titleBurn       = "Burn and the safe light"
)

// A Unit is what a unit gave.
type Unit struct {
	underlamp.TrialUnit
	N    int     // plants with a value
	Mean float64 // of the primary response: a share for burn, a mean midrank for severity
	Dose float64 // DLI: what it got, else what was aimed at; 0 if neither is known
	Raw  []float64
}

// A Line is a row of the table of variance.
type Line struct {
	Name   string
	DF     int
	SS, MS float64
	F, P   float64
	Tested bool
	Why    string // why there is no test
}

// A Part is one question with its answer.
type Part struct {
	Title   string
	Says    []string
	Figures []working.Figure
}

// Findings are what a trial tells.
type Findings struct {
	Trial   *underlamp.Trial
	Units   []Unit
	Lines   []Line
	Summary []string // plain words, the most important first
	Parts   []Part
	Notes   []string

	treat, block, place stat.Factor
	hasBlock            bool
	means               *linear.Means
	analysis            *anova.Analysis
}

// Figures lists every figure.
func (f *Findings) Figures() []working.Figure {
	var out []working.Figure
	for _, p := range f.Parts {
		out = append(out, p.Figures...)
	}
	return out
}

// Find reads a trial. entries are those that stand. The error says what is missing for
// any answer at all; what a single question lacks is said in its part.
func Find(t *underlamp.Trial, entries []underlamp.TrialEntry) (*Findings, error) {
	f := &Findings{Trial: t}
	if err := f.gather(entries); err != nil {
		return nil, err
	}
	f.primary()
	f.dose()
	f.burn(entries)
	f.onset(entries)
	f.again()
	f.summarise()
	if s := tied(t); s != "" {
		f.Summary = append(f.Summary, s)
	}
	if f.analysis != nil {
		f.checks(f.analysis)
	}
	return f, nil
}

// gather brings the plants of the primary response to units.
func (f *Findings) gather(entries []underlamp.TrialEntry) error {
	t := f.Trial
	at := map[string]int{}
	var units []Unit
	for i, u := range t.Places {
		at[u.Name] = i
		units = append(units, Unit{TrialUnit: u, Dose: doseOf(t, u)})
	}
	type plant struct{ unit, plant string }
	values := map[plant]underlamp.TrialEntry{} // the last look of each plant counts
	var order []plant
	missing := 0
	for _, e := range entries {
		if _, ok := at[e.TrialUnit]; !ok {
			return fmt.Errorf("line %d of the table: the trial has no unit %q", e.Line, e.TrialUnit)
		}
		if e.What != t.Response {
			continue
		}
		if e.Missing != "" {
			missing++
			continue
		}
		k := plant{e.TrialUnit, e.Plant}
		old, seen := values[k]
		if !seen {
			order = append(order, k)
		}
		if !seen || e.Time >= old.Time {
			values[k] = e
		}
	}
	if len(order) == 0 {
		return fmt.Errorf("the table holds no %s yet; enter it with underlamp trial record or import", t.Response)
	}
	v := make([]float64, len(order))
	for i, k := range order {
		v[i] = values[k].Value
	}
	if t.Response == underlamp.ResponseSeverity {
		v = ranks.Of(v)
		f.Notes = append(f.Notes, "Grades are compared by their midranks over all plants, averaged in each unit.")
	}
	for i, k := range order {
		u := &units[at[k.unit]]
		u.Raw = append(u.Raw, v[i])
	}
	var empty []string
	for _, u := range units {
		if u.N = len(u.Raw); u.N == 0 {
			empty = append(empty, u.Name)
			continue
		}
		for _, x := range u.Raw {
			u.Mean += x / float64(u.N)
		}
		f.Units = append(f.Units, u)
	}
	if len(empty) > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("Nothing was seen of %s of %s; they are left out.", count(len(empty), "unit", "units"), fmt.Sprint(len(t.Places))))
	}
	if missing > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s missing, with their reason in the table. If plants were lost because of the treatment itself, the means of the others mislead.", count(missing, "value is", "values are")))
	}
	f.treat = f.factor("treatment", func(u Unit) string { return u.Treatment })
	f.block = f.factor("block", func(u Unit) string { return u.Block })
	f.place = f.factor("place", func(u Unit) string { return u.Place })
	f.hasBlock = byBlock(t.Layout) && len(f.block.Levels) > 1
	return nil
}

func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func doseOf(t *underlamp.Trial, u underlamp.TrialUnit) float64 {
	if u.DLI > 0 {
		return float64(u.DLI)
	}
	for _, x := range t.Treatments {
		if x.Name == u.Treatment {
			return float64(x.DLI)
		}
	}
	return 0
}

// factor sorts units; treatments stand in the order of the plan.
func (f *Findings) factor(name string, of func(Unit) string) stat.Factor {
	labels := make([]string, len(f.Units))
	for i, u := range f.Units {
		labels[i] = of(u)
	}
	x := stat.NewFactor(name, labels)
	if name != "treatment" {
		return x
	}
	var levels []string
	for _, t := range f.Trial.Treatments {
		if slices.Contains(labels, t.Name) {
			levels = append(levels, t.Name)
		}
	}
	for i, l := range labels {
		x.Of[i] = slices.Index(levels, l)
	}
	x.Levels = levels
	return x
}

func (f *Findings) values() []float64 {
	v := make([]float64, len(f.Units))
	for i, u := range f.Units {
		v[i] = u.Mean
	}
	return v
}

// unit is the unit of the means.
func (f *Findings) unit() string {
	if f.Trial.Response == underlamp.ResponseBurn {
		return "share"
	}
	if f.Trial.Response == underlamp.ResponseSeverity {
		return "midrank"
	}
	return f.Trial.Response.Unit()
}

// primary compares the treatments, units first.
func (f *Findings) primary() {
	p := Part{Title: titleTreatments}
	defer func() { f.Parts = append(f.Parts, p) }()
	v := f.values()
	if len(f.treat.Levels) < 2 {
		p.Says = append(p.Says, "Only one treatment has been seen; there is nothing to compare.")
		return
	}
	counts := f.treat.Counts()
	if f.Trial.Layout == underlamp.SplitLayout {
		f.split(&p)
		return
	}
	if f.structured(&p, v) {
		return
	}
	if slices.Max(counts) == 1 {
		p.Says = append(p.Says, "Each treatment was given to one unit. Lamp and treatment cannot be told apart: whatever else differs between the lamps is in these differences too. They are shown without a test; repeat the treatments in further cycles with the lamps changed round.")
		f.bare(&p, v)
		return
	}
	var a *anova.Analysis
	var err error
	what := "one-way analysis of variance of the unit means"
	switch {
	case f.Trial.Layout == underlamp.LatinLayout:
		a, err = anova.Latin(v, f.treat, f.block, f.place)
		what = "Latin square, unit means"
	case f.hasBlock:
		a, err = anova.Blocks(v, f.treat, f.block)
		what = "randomised blocks, unit means"
	default:
		a, err = anova.OneWay(v, f.treat)
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Differences are shown without a test.")
		f.bare(&p, v)
		return
	}
	f.analysis, f.means = a, &a.Means
	for _, l := range a.Lines {
		f.Lines = append(f.Lines, lineOf(l))
	}
	f.Lines = append(f.Lines, lineOf(a.Error))
	tr := a.Treatment()
	inputs := []working.Input{
		working.Plain("units", fmt.Sprint(len(f.Units)), underlamp.Computed.String()),
		working.Plain("degrees of freedom", fmt.Sprintf("%d between treatments, %d of error", tr.DF, a.Error.DF), underlamp.Computed.String()),
	}
	if tr.Refused != nil {
		p.Says = append(p.Says, sentence(tr.Refused))
	} else if a.Weak == "" {
		p.Figures = append(p.Figures, working.Figure{Name: "F between treatments", Value: tr.Test.Statistic,
			Working: working.Working{Formula: "F = MS(treatments)/MS(error), " + what, Inputs: append(inputs, working.Plain("p", pText(tr.Test.P), underlamp.Computed.String())), Sources: []string{"Searle1992"}}})
		p.Says = append(p.Says, fmt.Sprintf("F = %.3g with %d and %d degrees of freedom, p %s.", tr.Test.Statistic, tr.DF, a.Error.DF, pText(tr.Test.P)))
	} else {
		p.Says = append(p.Says, "Do not lean on a test here: "+a.Weak+".")
	}
	if each, err := a.Means.Each(level); err == nil {
		for i, e := range each {
			p.Figures = append(p.Figures, f.figure(f.treat.Levels[i], e, "mean of the unit means, ± t·√(MS(error)/units)", inputs, "Searle1992"))
		}
	} else {
		p.Says = append(p.Says, sentence(err))
		f.bare(&p, v)
		return
	}
	f.compare(&p, inputs)
	f.randomised(&p, v)
	f.mixedLook(&p)
}

// bare shows means and differences without a test.
func (f *Findings) bare(p *Part, v []float64) {
	groups := f.treat.Split(v)
	for i, g := range groups {
		m := 0.0
		for _, x := range g {
			m += x / float64(len(g))
		}
		p.Figures = append(p.Figures, working.Figure{Name: f.treat.Levels[i], Value: m, Unit: f.unit(), Digits: 4,
			Working: working.Working{Formula: "mean of the unit means", Inputs: []working.Input{working.Plain("units", fmt.Sprint(len(g)), underlamp.Computed.String())},
				Notes: []string{"no limits: there are no repeats to make them of"}, Sources: []string{"Hurlbert1984"}}})
	}
}

func (f *Findings) figure(name string, e stat.Estimate, formula string, inputs []working.Input, sources ...string) working.Figure {
	w := working.Figure{Name: name, Value: e.Value, Unit: f.unit(), Digits: 4, Working: working.Working{Formula: formula, Sources: sources}}
	w.Working.Inputs = append(slices.Clone(inputs), working.Plain("standard error", fmt.Sprintf("%.4g", e.SE), underlamp.Computed.String()))
	if e.Interval.Bounded() {
		w.Band = &working.Band{Low: e.Interval.Lower, High: e.Interval.Upper, Level: e.Interval.Level}
	}
	return w
}

// control is the level of the control, or −1.
func (f *Findings) control() int {
	for _, t := range f.Trial.Treatments {
		if t.Control {
			return slices.Index(f.treat.Levels, t.Name)
		}
	}
	return -1
}

// compare gives every difference with limits that hold together.
func (f *Findings) compare(p *Part, inputs []working.Input) {
	var c pairwise.Comparisons
	var err error
	formula, source := "difference of means with limits for all pairs together (Tukey and Kramer)", "Kramer1956"
	if k := f.control(); k >= 0 {
		c, err = pairwise.Against(*f.means, k, level)
		formula, source = "difference from the control with limits for all together (Dunnett)", "Dunnett1955"
	} else {
		c, err = pairwise.All(*f.means, level)
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	for i, e := range c.Pairs {
		name := f.treat.Levels[c.Second[i]] + " − " + f.treat.Levels[c.First[i]]
		in := slices.Clone(inputs)
		if f.analysis == nil || f.analysis.Weak == "" {
			in = append(in, working.Plain("p, adjusted", pText(e.P), underlamp.Computed.String()))
		}
		p.Figures = append(p.Figures, f.figure(name, e, formula, in, source))
		p.Says = append(p.Says, f.saysOf(name, e))
	}
	if c.Note != "" {
		p.Says = append(p.Says, c.Note+".")
	}
}

// saysOf says a difference, no stronger than its limits allow.
func (f *Findings) saysOf(name string, e stat.Estimate) string {
	u := f.unit()
	s := fmt.Sprintf("%s: %s %s, %s to %s", name, working.Signed(e.Value, f.decimals()), u, working.Signed(e.Interval.Lower, f.decimals()), working.Signed(e.Interval.Upper, f.decimals()))
	d := f.Trial.Difference
	lo, hi := e.Interval.Lower, e.Interval.Upper
	switch {
	case d > 0 && (lo > d || hi < -d):
		return s + "; more than the smallest difference worth knowing."
	case lo > 0 || hi < 0:
		if d > 0 {
			return s + "; not 0, but it may be less than is worth knowing."
		}
		return s + "; not 0."
	case d > 0 && lo > -d && hi < d:
		return s + "; whatever it is, it is less than is worth knowing."
	}
	return s + "; these data leave open which is more."
}

func (f *Findings) decimals() int {
	switch f.Trial.Response {
	case underlamp.ResponseBurn:
		return 2
	default:
		return 1
	}
}

// randomised tests by the layouts that could have been drawn.
func (f *Findings) randomised(p *Part, v []float64) {
	s := layout.Free(f.treat)
	switch {
	case f.Trial.Layout == underlamp.SystematicLayout:
		s = layout.Systematic(f.treat)
	case f.Trial.Layout == underlamp.LatinLayout:
		s = layout.Square(f.treat, f.block, f.place)
	case f.hasBlock:
		s = layout.Within(f.treat, f.block)
	}
	r, err := s.Test(v, f.Trial.Seed+1)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	p.Figures = append(p.Figures, working.Figure{Name: "p by randomisation", Value: r.P, Digits: 2, Working: working.Working{
		Formula: "share of the layouts that could have been drawn and differ as much",
		Inputs: []working.Input{working.Plain("layouts", fmt.Sprintf("%.6g", r.Layouts), underlamp.Computed.String()),
			working.Plain("smallest p that this layout can give", fmt.Sprintf("%.2g", r.SmallestP), underlamp.Computed.String())},
		Sources: []string{"Fisher1935", "PhipsonSmyth2010"}}})
	if r.SmallestP > 0.05 {
		p.Says = append(p.Says, fmt.Sprintf("By randomisation alone this layout cannot give p below %.2g, whatever comes out.", r.SmallestP))
	}
}

// mixedLook weighs units by their plants where they are uneven.
func (f *Findings) mixedLook(p *Part) {
	lo, hi := math.MaxInt, 0
	var v []float64
	var unit, treat, block []string
	for _, u := range f.Units {
		lo, hi = min(lo, u.N), max(hi, u.N)
		for _, x := range u.Raw {
			v, unit, treat, block = append(v, x), append(unit, u.Name), append(treat, u.Treatment), append(block, u.Block)
		}
	}
	if hi <= 2*lo || f.Trial.Response == underlamp.ResponseBurn {
		return
	}
	tf := stat.NewFactor("treatment", treat)
	fixed := []linear.Term{}
	if f.hasBlock {
		fixed = append(fixed, linear.Term{linear.By(stat.NewFactor("block", block))})
	}
	fixed = append(fixed, linear.Term{linear.By(tf)})
	m, err := mixed.FitModel(v, fixed, stat.NewFactor("unit", unit))
	if err == nil {
		var test stat.Test
		if test, err = m.Term(len(fixed)-1, &tf); err == nil {
			p.Says = append(p.Says, fmt.Sprintf("The units hold %d to %d plants. Weighed by a mixed model (restricted likelihood, Kenward and Roger): F = %.3g with %.3g and %.3g degrees of freedom, p %s.", lo, hi, test.Statistic, test.DF1, test.DF2, pText(test.P)))
			return
		}
	}
	p.Says = append(p.Says, fmt.Sprintf("The units hold %d to %d plants; a mixed model that weighs them cannot be used: %s The analysis of the unit means stands.", lo, hi, sentence(err)))
}

// split analyses a split plot.
func (f *Findings) split(p *Part) {
	whole := f.factor("whole", func(u Unit) string { return u.Whole })
	part := f.factor("part", func(u Unit) string { return u.Part })
	var block *stat.Factor
	if len(f.block.Levels) > 1 {
		block = &f.block
	}
	a, err := anova.SplitPlot(f.values(), f.treat, part, whole, block)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		f.bare(p, f.values())
		return
	}
	if a.Block != nil {
		f.Lines = append(f.Lines, lineOf(*a.Block))
	}
	for _, l := range []anova.Line{a.Whole, a.WholeError, a.Part, a.Cross, a.PartError} {
		f.Lines = append(f.Lines, lineOf(l))
	}
	f.means = &a.WholeMeans
	in := []working.Input{working.Plain("degrees of freedom of the lamps' error", fmt.Sprint(a.WholeError.DF), underlamp.Computed.String())}
	if a.Weak != "" {
		p.Says = append(p.Says, "Do not lean on a test of the treatments: "+a.Weak+".")
	} else if a.Whole.Refused == nil {
		p.Says = append(p.Says, fmt.Sprintf("Treatments against the lamps' own error: F = %.3g with %d and %d degrees of freedom, p %s.", a.Whole.Test.Statistic, a.Whole.DF, a.WholeError.DF, pText(a.Whole.Test.P)))
	}
	for _, l := range []anova.Line{a.Part, a.Cross} {
		if l.Refused == nil {
			what := "What grows within the lamps"
			if l.Name == a.Cross.Name {
				what = "Whether it answers to the treatments alike"
			}
			p.Says = append(p.Says, fmt.Sprintf("%s: F = %.3g with %d and %d degrees of freedom, p %s.", what, l.Test.Statistic, l.DF, a.PartError.DF, pText(l.Test.P)))
		}
	}
	if each, err := a.WholeMeans.Each(level); err == nil {
		for i, e := range each {
			p.Figures = append(p.Figures, f.figure(f.treat.Levels[i], e, "mean over parts of the unit means, error of the whole units", in, "Yates1937"))
		}
		f.compare(p, in)
	} else {
		p.Says = append(p.Says, sentence(err))
	}
	if parts, err := a.PartMeans.Each(level); err == nil {
		for i, e := range parts {
			p.Figures = append(p.Figures, f.figure(part.Levels[i], e, "mean over treatments, error within the whole units", nil, "Yates1937"))
		}
	}
}

// checks says in words what the residuals show.
func (f *Findings) checks(a *anova.Analysis) {
	if a.Fit == nil || a.Fit.DF < 2 {
		return
	}
	p := Part{Title: "Do the units fit the analysis?"}
	r, cook := a.Fit.Studentised()
	far := 0
	for i := range r {
		if math.IsNaN(r[i]) || math.IsInf(r[i], 0) {
			continue
		}
		if math.Abs(r[i]) > 3 || cook[i] > 1 {
			far++
			p.Says = append(p.Says, fmt.Sprintf("Unit %s lies far from what its treatment and block say (residual %s of its own standard error). Look whether something happened to it; it is kept.", f.Units[i].Name, working.Signed(r[i], 1)))
		}
	}
	if far == 0 {
		p.Says = append(p.Says, "No unit lies further than three standard errors from what its treatment and block say.")
	}
	if t, err := anova.BrownForsythe(f.values(), f.treat); err == nil && t.P < 0.05 {
		p.Says = append(p.Says, fmt.Sprintf("Treatments scatter unequally (Brown and Forsythe, p %s).", pText(t.P)))
		if w, err := anova.Welch(f.values(), f.treat); err == nil && !f.hasBlock {
			p.Says = append(p.Says, fmt.Sprintf("With a variance for each (Welch): F = %.3g, p %s.", w.Statistic, pText(w.P)))
		}
	}
	f.Parts = append(f.Parts, p)
}

func lineOf(l anova.Line) Line {
	out := Line{Name: l.Name, DF: l.DF, SS: l.SS, MS: l.MS}
	if l.Refused != nil {
		out.Why = l.Refused.Because
	} else if l.Test.DF1 > 0 {
		out.F, out.P, out.Tested = l.Test.Statistic, l.Test.P, true
	}
	return out
}

func pText(p float64) string {
	switch {
	case p < 0.001:
		return "< 0.001"
	case p < 0.1:
		return fmt.Sprintf("= %.3f", p)
	}
	return fmt.Sprintf("= %.2f", p)
}

// sentence makes a sentence of an error.
func sentence(err error) string {
	s := []rune(err.Error())
	if len(s) == 0 {
		return ""
	}
	if s[0] >= 'a' && s[0] <= 'z' {
		s[0] -= 'a' - 'A'
	}
	if s[len(s)-1] != '.' {
		s = append(s, '.')
	}
	return string(s)
}
