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
	"underlamp/working"
)

const oneUnitEach = "Each treatment was given to one unit. Lamp and treatment cannot be told apart: whatever else differs between the lamps is in these differences too. They are shown without a test; repeat the treatments in further cycles with the lamps changed round."

// analyse is the analysis of the unit means that the layout asks for; what names it.
func (f *Findings) analyse() (a *anova.Analysis, what string, err error) {
	v := f.values()
	switch {
	case f.Trial.Layout == underlamp.RotationLayout && f.hasBlock && len(f.place.Levels) > 1:
		a, err = anova.Latin(v, f.treat, f.block, f.place)
		what = "places and cycles taken out, unit means"
	case f.Trial.Layout == underlamp.LatinLayout && f.hasBlock && len(f.place.Levels) > 1:
		a, err = anova.Latin(v, f.treat, f.block, f.place)
		what = "Latin square, unit means"
	case f.hasBlock:
		a, err = anova.Blocks(v, f.treat, f.block)
		what = "randomised blocks, unit means"
	default:
		a, err = anova.OneWay(v, f.treat)
		what = "one-way analysis of variance of the unit means"
	}
	return a, what, err
}

// analyseSplit is that of a split plot.
func (f *Findings) analyseSplit() (*anova.SplitPlotAnalysis, error) {
	var block *stat.Factor
	if len(f.block.Levels) > 1 {
		block = &f.block
	}
	return anova.SplitPlot(f.values(), f.treat, f.parts(), f.wholes(), block)
}

func (f *Findings) wholes() stat.Factor {
	return f.factor("whole", func(u Unit) string { return u.Whole })
}
func (f *Findings) parts() stat.Factor {
	return f.factor("part", func(u Unit) string { return u.Part })
}

// primary compares the treatments, units first.
func (f *Findings) primary() {
	p := Part{Title: titleTreatments}
	defer func() {
		p.Heads = len(p.Says)
		f.Parts = append(f.Parts, p)
	}()
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
		p.Says = append(p.Says, oneUnitEach)
		f.bare(&p, v)
		return
	}
	a, what, err := f.analyse()
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Differences are shown without a test.")
		f.bare(&p, v)
		return
	}
	inputs := f.take(&p, a, what, "mean of the unit means, ± t·√(MS(error)/units)", "Searle1992")
	if inputs == nil {
		return
	}
	f.compare(&p, inputs)
	f.randomised(&p, v)
	f.ranked(&p, v)
	f.mixedLook(&p)
}

// take shows the table of variance and the means; what names the analysis, mean the formula
// of a mean. It returns the inputs of the comparisons, or nil if there are none to be had.
func (f *Findings) take(p *Part, a *anova.Analysis, what, mean, source string) []working.Input {
	if a.Error.MS <= flat(f.values()) {
		p.Says = append(p.Says, "The units of a treatment do not scatter at all, which lamps and plants never do; look whether the values were copied or rounded away. Means are shown without limits.")
		f.bare(p, f.values())
		return nil
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
	switch {
	case tr.Refused != nil:
		p.Says = append(p.Says, sentence(tr.Refused))
	case a.Weak == "":
		p.Figures = append(p.Figures, working.Figure{Name: "F between treatments", Value: tr.Test.Statistic,
			Working: working.Working{Formula: "F = MS(treatments)/MS(error), " + what, Inputs: append(slices.Clone(inputs), working.Plain("p", pText(tr.Test.P), underlamp.Computed.String())), Sources: []string{source}}})
		p.Says = append(p.Says, fmt.Sprintf("F = %.3g with %d and %d degrees of freedom, p %s.", tr.Test.Statistic, tr.DF, a.Error.DF, pText(tr.Test.P)))
	default:
		p.Says = append(p.Says, "Do not lean on a test here: "+a.Weak+".")
	}
	each, err := a.Means.Each(level)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		f.means = nil
		f.bare(p, f.values())
		return nil
	}
	for i, e := range each {
		p.Figures = append(p.Figures, f.figure(f.treat.Levels[i], e, mean, inputs, source))
	}
	return inputs
}

// flat is the mean square below which scatter is rounding.
func flat(v []float64) float64 {
	var size float64
	for _, x := range v {
		size = max(size, math.Abs(x))
	}
	return 1e-20 * size * size
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
	case (lo > 0 || hi < 0) && d > 0 && lo > -d && hi < d:
		return s + "; not 0, and less than is worth knowing."
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
	f.shuffled(p, "p by randomisation", s, v)
}

// shuffled shows one randomisation test.
func (f *Findings) shuffled(p *Part, name string, s layout.Scheme, v []float64) {
	r, err := s.Test(v, f.Trial.Seed+1)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	how := "all were gone through"
	if !r.Exact {
		how = fmt.Sprintf("%d were drawn", layout.Draws)
	}
	p.Figures = append(p.Figures, pFigure(name, r.P, working.Working{
		Formula: "share of the layouts that could have been drawn and differ as much",
		Inputs: []working.Input{working.Plain("layouts", fmt.Sprintf("%.6g, %s", r.Layouts, how), underlamp.Computed.String()),
			working.Plain("smallest p that this layout can give", fmt.Sprintf("%.2g", r.SmallestP), underlamp.Computed.String())},
		Sources: []string{"Fisher1935", "PhipsonSmyth2010"}}))
	p.Says = append(p.Says, f.leaning(r)...)
}

// leaning says which of two looks at the same data to lean on where one calls the differences
// more than chance and the other cannot.
func (f *Findings) leaning(r layout.Result) []string {
	if r.SmallestP <= 0.05 {
		return nil
	}
	s := []string{fmt.Sprintf("By randomisation alone this layout cannot give p below %.2g, whatever comes out.", r.SmallestP)}
	if f.analysis == nil || f.analysis.Weak != "" {
		return s
	}
	tr := f.analysis.Treatment()
	if tr.Refused != nil || tr.Test.P >= 0.05 {
		return s
	}
	how := "Here it is " + fmt.Sprintf("%.2g", r.P) + "."
	if r.P <= r.SmallestP*(1+1e-9) {
		how = "Here it is that least: no other draw would differ more."
	}
	return append(s, how+" F counts besides how large the differences are beside the scatter of the units, and so can be surer. Lean on F and its limits if the units fit the analysis, which is looked at under “"+titleFit+"”; if they do not, take the difference for likely and not for shown. More blocks would settle it.")
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
	part := f.parts()
	a, err := f.analyseSplit()
	if err != nil {
		if stat.Refused(err) == nil || !f.splitMixed(p, err) {
			p.Says = append(p.Says, sentence(err)+" Means are shown without a test.")
			f.bare(p, f.values())
		}
		return
	}
	if min(a.WholeError.MS, a.PartError.MS) <= flat(f.values()) {
		p.Says = append(p.Says, "The units do not scatter at all, which lamps and plants never do; look whether the values were copied or rounded away. Means are shown without limits.")
		f.bare(p, f.values())
		return
	}
	f.splitPlot = a
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
	// What was drawn: treatments among the whole units, parts within each.
	mean, treat, block := f.wholeMeans()
	s := layout.Free(treat)
	if len(block.Levels) > 1 {
		s = layout.Within(treat, block)
	}
	f.shuffled(p, "p by randomisation, treatments among lamps", s, mean)
	f.shuffled(p, "p by randomisation, parts within lamps", layout.Within(part, f.wholes()), f.values())
}

// splitMixed analyses a split plot that is not whole, by a mixed model with a shift of each
// whole unit. It does nothing where that model cannot be used.
func (f *Findings) splitMixed(p *Part, why error) bool {
	part := f.parts()
	var fixed []linear.Term
	if len(f.block.Levels) > 1 {
		fixed = append(fixed, linear.Term{linear.By(f.block)})
	}
	k := len(fixed)
	fixed = append(fixed, linear.Term{linear.By(f.treat)}, linear.Term{linear.By(part)}, linear.Term{linear.By(f.treat), linear.By(part)})
	m, err := mixed.FitModel(f.values(), fixed, f.wholes())
	if err != nil {
		return false
	}
	test, err := m.Term(k, &f.treat)
	if err != nil || !(test.DF2 >= 3) {
		return false
	}
	means, err := m.Means(f.treat)
	if err != nil {
		return false
	}
	each, err := means.Each(level)
	if err != nil {
		return false
	}
	f.means = &means
	p.Says = append(p.Says, sentence(why)+" It is taken here, weighed by restricted likelihood with the adjustment of Kenward and Roger.",
		fmt.Sprintf("Treatments against the lamps' own error: F = %.3g with %.3g and %.3g degrees of freedom, p %s.", test.Statistic, test.DF1, test.DF2, pText(test.P)))
	for i, what := range []string{"What grows within the lamps", "Whether it answers to the treatments alike"} {
		var of *stat.Factor
		if i == 0 {
			of = &part
		}
		if t, err := m.Term(k+1+i, of); err == nil {
			p.Says = append(p.Says, fmt.Sprintf("%s: F = %.3g with %.3g and %.3g degrees of freedom, p %s.", what, t.Statistic, t.DF1, t.DF2, pText(t.P)))
		}
	}
	in := []working.Input{working.Plain("degrees of freedom of the lamps' error", fmt.Sprintf("%.3g", test.DF2), underlamp.Computed.String())}
	for i, e := range each {
		p.Figures = append(p.Figures, f.figure(f.treat.Levels[i], e, "adjusted mean of the mixed model", in, "KenwardRoger1997"))
	}
	f.compare(p, in)
	return true
}

// wholeMeans are the means of the whole units of a split plot.
func (f *Findings) wholeMeans() (mean []float64, treat, block stat.Factor) {
	w := f.wholes()
	counts := w.Counts()
	mean = make([]float64, len(w.Levels))
	t, b := make([]string, len(w.Levels)), make([]string, len(w.Levels))
	for i, u := range f.Units {
		k := w.Of[i]
		mean[k] += u.Mean / float64(counts[k])
		t[k], b[k] = u.Treatment, u.Block
	}
	return mean, stat.NewFactor("treatment", t), stat.NewFactor("block", b)
}
