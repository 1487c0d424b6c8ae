package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/linear"
	"underlamp/working"
)

const adjustedMean = "mean of the unit means, adjusted for blocks; ± t·√(variance)"

// byBlock reports layouts whose analysis takes blocks out.
func byBlock(l underlamp.TrialLayout) bool {
	switch l {
	case underlamp.BlocksLayout, underlamp.SystematicLayout, underlamp.LatinLayout, underlamp.IncompleteLayout, underlamp.AugmentedLayout, underlamp.RotationLayout:
		return true
	}
	return false
}

// structured analyses what is no plain list of treatments in complete blocks: factors,
// incomplete blocks, checks with entries, rotations. It reports false where the plain
// analysis is the right one.
func (f *Findings) structured(p *Part, v []float64) bool {
	switch f.Trial.Layout {
	case underlamp.IncompleteLayout, underlamp.AugmentedLayout:
		if len(f.Trial.Factors) > 0 {
			break
		}
		f.adjusted(p, v)
		return true
	case underlamp.RotationLayout:
		if len(f.Trial.Factors) > 0 {
			break
		}
		f.rotation(p, v)
		return true
	}
	if len(f.Trial.Factors) > 0 {
		for _, t := range f.Trial.Treatments {
			if len(t.Levels) != len(f.Trial.Factors) {
				p.Says = append(p.Says, fmt.Sprintf("The treatment %s does not say its level of every factor, so factors cannot be compared; write levels at every treatment. Means are shown without a test.", t.Name))
				f.bare(p, v)
				return true
			}
		}
		f.factorial(p, v)
		return true
	}
	return false
}

// blockDesign is the layout as blocks of treatments.
func (f *Findings) blockDesign() layout.BlockDesign {
	d := layout.BlockDesign{Treatments: len(f.treat.Levels), Blocks: make([][]int, len(f.block.Levels))}
	for i, b := range f.block.Of {
		d.Blocks[b] = append(d.Blocks[b], f.treat.Of[i])
	}
	return d
}

// adjusted compares treatments that not every block holds, within blocks.
func (f *Findings) adjusted(p *Part, v []float64) {
	e, err := f.blockDesign().Efficiency()
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Means are shown without a test; cycles that differ are in them.")
		f.bare(p, v)
		return
	}
	a, err := anova.Blocks(v, f.treat, f.block)
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Means are shown without a test; cycles that differ are in them.")
		f.bare(p, v)
		return
	}
	what, source := "incomplete blocks, unit means, treatments adjusted for blocks", "CochranCox1957"
	if f.Trial.Layout == underlamp.AugmentedLayout {
		what, source = "augmented blocks, unit means, treatments adjusted for blocks", "Federer1956"
		p.Says = append(p.Says, "Treatments that stand once are compared by way of the checks, whose repeats alone tell the error; their limits are wide, and widest for two that never shared a cycle. Take the best of them into a trial with repeats.")
	} else {
		p.Says = append(p.Says, fmt.Sprintf("Cycles did not hold every treatment, so means are adjusted for the cycles they stood in. The layout compares as well as %s of the same units in complete blocks would.", working.Percent(e.Average)))
	}
	inputs := f.take(p, a, what, adjustedMean, source)
	if inputs == nil {
		return
	}
	f.compare(p, inputs)
	f.randomised(p, v)
	if f.Trial.Layout == underlamp.AugmentedLayout {
		f.means = nil // the best of many that stood once is no choice for another cycle to confirm
	}
}

// rotation analyses places that went through sequences of treatments.
func (f *Findings) rotation(p *Part, v []float64) {
	a, err := anova.Latin(v, f.treat, f.block, f.place)
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Differences are shown without a test.")
		f.bare(p, v)
		return
	}
	inputs := f.take(p, a, "places and cycles taken out, unit means", adjustedMean, "Williams1949")
	if inputs == nil {
		return
	}
	f.compare(p, inputs)
	f.bySequences(p, v)
}

// bySequences tests by the orders in which the sequences could have been given out.
func (f *Findings) bySequences(p *Part, v []float64) {
	r, err := layout.Sequences(f.treat, f.place, f.block).Test(v, f.Trial.Seed+1)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
	} else {
		p.Figures = append(p.Figures, randomisationFigure(r, "share of the orders in which the sequences could have been given to the places and that differ as much"))
		p.Says = append(p.Says, f.leaning(r)...)
	}
}

func randomisationFigure(r layout.Result, formula string) working.Figure {
	return pFigure("p by randomisation", r.P, working.Working{Formula: formula,
		Inputs: []working.Input{working.Plain("layouts", fmt.Sprintf("%.6g", r.Layouts), underlamp.Computed.String()),
			working.Plain("smallest p that this layout can give", fmt.Sprintf("%.2g", r.SmallestP), underlamp.Computed.String())},
		Sources: []string{"Fisher1935", "PhipsonSmyth2010"}})
}

// factorsOf gives the factor of each factor of the trial over the units.
func (f *Findings) factorsOf() []stat.Factor {
	levels := map[string][]string{}
	for _, t := range f.Trial.Treatments {
		levels[t.Name] = t.Levels
	}
	var out []stat.Factor
	for k, x := range f.Trial.Factors {
		s := stat.Factor{Name: x.Name}
		of := map[string]int{}
		for _, l := range x.Levels { // in the order of the plan, those that were seen
			for _, u := range f.Units {
				if t := levels[u.Treatment]; len(t) > k && t[k] == l {
					of[l] = len(s.Levels)
					s.Levels = append(s.Levels, l)
					break
				}
			}
		}
		for _, u := range f.Units {
			s.Of = append(s.Of, of[levels[u.Treatment][k]])
		}
		out = append(out, s)
	}
	return out
}

// An effect is a term of a factorial with what it cannot be told from.
type effect struct {
	of    []int // factors
	name  string
	alias []string
}

// factorial compares treatments by their factors: each factor over the others, and whether
// one acts otherwise at the levels of another.
func (f *Findings) factorial(p *Part, v []float64) {
	factors := f.factorsOf()
	if levels, _, _, known := levelsOf(f.Units); known && levels > 2 && len(factors) > 1 {
		f.Notes = append(f.Notes, "Curves over the light, of the response and of burn, take the units of all factors together: what other factors do is in their scatter.")
	}
	for _, x := range factors {
		if len(x.Levels) < 2 {
			p.Says = append(p.Says, fmt.Sprintf("Only one level of %s has been seen; its effect cannot be asked about yet. Means are shown without a test.", x.Name))
			f.bare(p, v)
			return
		}
	}
	var nuisance []linear.Term
	if f.hasBlock {
		nuisance = append(nuisance, linear.Term{linear.By(f.block)})
	}
	if f.Trial.Layout == underlamp.LatinLayout || f.Trial.Layout == underlamp.RotationLayout {
		nuisance = append(nuisance, linear.Term{linear.By(f.place)})
	}
	m, err := modelOf(factors, nuisance, f.treat)
	if err != nil {
		p.Says = append(p.Says, sentence(err)+" Means are shown without a test.")
		f.bare(p, v)
		return
	}
	for _, l := range m.lost {
		p.Says = append(p.Says, l+" cannot be told from the cycles or from other effects in this layout, and is not shown.")
	}
	if s := m.assumes(); s != "" {
		p.Says = append(p.Says, s)
	}
	df := func(terms ...linear.Term) (int, *linear.Fit, error) {
		fit, err := linear.FitModel(v, append(slices.Clone(nuisance), terms...)...)
		if err != nil {
			return 0, nil, err
		}
		return fit.DF, fit, nil
	}
	effects, terms := m.effects, m.terms
	_, pure, err := df(m.error...)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		f.bare(p, v)
		return
	}
	s2, err := pure.Variance()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		f.bare(p, v)
		return
	}
	a := &anova.Analysis{Error: anova.Line{Name: "error", DF: pure.DF, SS: pure.RSS, MS: s2}, Fit: pure}
	if pure.DF < 3 {
		a.Weak = "fewer than three degrees of freedom are left for the error"
	}
	inputs := []working.Input{
		working.Plain("units", fmt.Sprint(len(f.Units)), underlamp.Computed.String()),
		working.Plain("degrees of freedom of error", fmt.Sprint(pure.DF), underlamp.Computed.String()),
		working.Plain("error from", m.from(), underlamp.Computed.String()),
	}
	if len(nuisance) > 0 {
		if _, with, err := df(terms...); err == nil {
			for i := range nuisance {
				if row, test, err := with.Drop(i); err == nil {
					a.Lines = append(a.Lines, anova.Line{Name: row.Name, DF: row.DF, SS: row.SS, MS: row.SS / float64(row.DF), Test: test})
				}
			}
		}
	}
	for i, e := range effects {
		// Against all terms that do not hold it.
		var rest []linear.Term
		for j, o := range effects {
			if j != i && !holds(o.of, e.of) {
				rest = append(rest, terms[j])
			}
		}
		n0, without, err0 := df(rest...)
		n1, with, err1 := df(append(rest, terms[i])...)
		if err0 != nil || err1 != nil {
			continue
		}
		row := linear.Row{Name: e.name, DF: n0 - n1, SS: math.Max(0, without.RSS-with.RSS)}
		test, err := linear.FTest(row, s2, pure.DF)
		l := anova.Line{Name: e.name, DF: row.DF, SS: row.SS, Test: test, Refused: stat.Refused(err)}
		if row.DF > 0 {
			l.MS = row.SS / float64(row.DF)
		}
		a.Lines = append(a.Lines, l)
		if len(e.alias) > 0 {
			p.Says = append(p.Says, fmt.Sprintf("%s cannot be told from %s in this fraction: read it as their sum.", e.name, strings.Join(e.alias, ", ")))
		}
		switch {
		case l.Refused != nil:
			p.Says = append(p.Says, sentence(l.Refused))
		case a.Weak == "":
			who := e.name
			if len(e.of) > 1 {
				who = "Whether " + factors[e.of[0]].Name + " acts alike at all levels of " + factors[e.of[1]].Name
			}
			p.Says = append(p.Says, fmt.Sprintf("%s: F = %.3g with %d and %d degrees of freedom, p %s.", who, test.Statistic, row.DF, pure.DF, pText(test.P)))
		}
	}
	if a.Weak != "" {
		p.Says = append(p.Says, "Do not lean on a test here: "+a.Weak+".")
	}
	f.analysis = a
	for _, l := range a.Lines {
		f.Lines = append(f.Lines, lineOf(l))
	}
	f.Lines = append(f.Lines, lineOf(a.Error))
	f.levelMeans(p, factors, terms, df, s2, pure.DF, inputs)
	if f.Trial.Layout == underlamp.RotationLayout {
		f.bySequences(p, v)
	} else {
		f.randomised(p, v)
	}
}

// levelMeans shows the mean of each level over the other factors, and how far the levels
// of a factor differ.
func (f *Findings) levelMeans(p *Part, factors []stat.Factor, terms []linear.Term, df func(...linear.Term) (int, *linear.Fit, error), s2 float64, errorDF int, inputs []working.Input) {
	_, model, err := df(terms...)
	if err != nil {
		return
	}
	for k, x := range factors {
		m := linear.Means{Factor: x.Name, Levels: x.Levels, N: x.Counts(), DF: float64(errorDF)}
		var ls [][]float64
		for l := range x.Levels {
			vec := model.Vector(map[string]int{x.Name: l})
			value, err := model.Value(vec)
			if err != nil {
				p.Says = append(p.Says, fmt.Sprintf("The means of %s over the other factors cannot be had: some combinations were not seen.", x.Name))
				ls = nil
				break
			}
			ls, m.Value = append(ls, vec), append(m.Value, value)
		}
		if ls == nil {
			continue
		}
		for _, a := range ls {
			var row []float64
			for _, b := range ls {
				row = append(row, s2*model.Covariance(a, b))
			}
			m.Cov = append(m.Cov, row)
		}
		each, err := m.Each(level)
		if err != nil {
			p.Says = append(p.Says, sentence(err))
			continue
		}
		unit := f.Trial.Factors[k].Unit
		named := func(l int) string { return strings.TrimSpace(x.Name + " " + strings.TrimSpace(x.Levels[l]+" "+unit)) }
		for l, e := range each {
			p.Figures = append(p.Figures, f.figure(named(l), e, "mean over the levels of the other factors", inputs, "Yates1937"))
		}
		was := f.means
		f.means = &m
		f.compareFactor(p, x.Name, inputs)
		f.means = was
	}
}

// compareFactor gives the differences between the levels of one factor.
func (f *Findings) compareFactor(p *Part, name string, inputs []working.Input) {
	treat, t := f.treat, f.Trial
	// The comparison of treatments, with levels for treatments and no control.
	bare := *t
	bare.Treatments = nil
	f.Trial, f.treat = &bare, stat.Factor{Name: name, Levels: make([]string, len(f.means.Levels))}
	for i, l := range f.means.Levels {
		f.treat.Levels[i] = name + " " + l
	}
	f.compare(p, inputs)
	f.Trial, f.treat = t, treat
}

// holds reports whether the effect big contains small and more.
func holds(big, small []int) bool {
	if len(big) <= len(small) {
		return false
	}
	for _, k := range small {
		if !slices.Contains(big, k) {
			return false
		}
	}
	return true
}

// A factorModel says which effects of factors a layout can tell, and where its error
// comes from.
type factorModel struct {
	effects []effect
	terms   []linear.Term // of the effects
	error   []linear.Term // what is taken out besides blocks for the error
	kind    errorKind
	df      int      // of error
	lost    []string // pairs that nothing is left of
}

type errorKind int

const (
	fromRepeats errorKind = iota
	fromHigher            // interactions of three and more factors
	fromPairs             // and of pairs too
)

func (m factorModel) from() string {
	return []string{"repeats of the same combination", "differences that single factors and their pairs do not explain", "differences that single factors do not explain"}[m.kind]
}

// assumes says what the error rests on; empty for repeats.
func (m factorModel) assumes() string {
	return []string{"", "Combinations are not repeated often enough, so the error is taken from interactions of three and more factors; if those are real, limits are too wide.",
		"There are too few units to tell interactions from error: each factor is judged as if it acted alike at all levels of the others. That is an assumption, not a finding."}[m.kind]
}

// modelOf finds what the layout of units can tell: single factors, then pairs as far as
// they add something. It refuses factors that cannot be told apart, and layouts without
// error.
func modelOf(factors []stat.Factor, nuisance []linear.Term, treat stat.Factor) (factorModel, error) {
	var m factorModel
	zero := make([]float64, len(treat.Of))
	df := func(terms ...linear.Term) (int, error) {
		fit, err := linear.FitModel(zero, append(slices.Clone(nuisance), terms...)...)
		if err != nil {
			return 0, err
		}
		return fit.DF, nil
	}
	left, err := df()
	if err != nil {
		return m, err
	}
	add := func(of ...int) error {
		var t linear.Term
		var names []string
		for _, k := range of {
			t, names = append(t, linear.By(factors[k])), append(names, factors[k].Name)
		}
		e := effect{of: of, name: strings.Join(names, " × ")}
		n, err := df(append(slices.Clone(m.terms), t)...)
		if err != nil {
			return err
		}
		if n < left {
			m.effects, m.terms, left = append(m.effects, e), append(m.terms, t), n
			return nil
		}
		if len(of) == 1 {
			return stat.Refuse("the effect of "+e.name, "it cannot be told from the cycles or from other factors in this layout")
		}
		for i := range m.effects {
			if same(factors, m.effects[i].of, of) {
				m.effects[i].alias = append(m.effects[i].alias, e.name)
				return nil
			}
		}
		m.lost = append(m.lost, e.name)
		return nil
	}
	for k := range factors {
		if err := add(k); err != nil {
			return m, err
		}
	}
	mains := len(m.effects)
	singles := left
	for j := range factors {
		for i := range j {
			if err := add(i, j); err != nil {
				return m, err
			}
		}
	}
	repeats, err := df(linear.Term{linear.By(treat)})
	if err != nil {
		return m, err
	}
	// At least three, where they can be had.
	switch {
	case repeats >= 3:
		m.error, m.df = []linear.Term{{linear.By(treat)}}, repeats
	case left >= 3:
		m.error, m.df, m.kind = m.terms, left, fromHigher
	default:
		m.effects, m.terms = m.effects[:mains], m.terms[:mains]
		m.error, m.df, m.kind, m.lost = m.terms, singles, fromPairs, nil
	}
	if m.df < 1 {
		return m, stat.Refuse("the effects of factors", "no degrees of freedom are left for the error")
	}
	return m, nil
}

// same reports whether two effects of two-level factors have columns that are equal or
// opposite over the units, so that they cannot be told apart.
func same(factors []stat.Factor, a, b []int) bool {
	sign := 0
	for i := range factors[0].Of {
		x := 1
		for _, k := range append(slices.Clone(a), b...) {
			if len(factors[k].Levels) != 2 {
				return false
			}
			x *= 2*factors[k].Of[i] - 1
		}
		if sign == 0 {
			sign = x
		}
		if x != sign {
			return false
		}
	}
	return true
}
