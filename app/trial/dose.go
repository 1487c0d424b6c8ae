package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/onset"
	"underlamp/science/stat/optimum"
	"underlamp/science/stat/ratio"
	"underlamp/working"
)

const dliUnit = "mol/m²/d"

// levelsOf counts different doses; all must be known.
func levelsOf(units []Unit) (levels int, low, high float64, known bool) {
	seen := map[float64]bool{}
	low, high = math.Inf(1), 0
	for _, u := range units {
		if u.Dose <= 0 {
			return 0, 0, 0, false
		}
		seen[u.Dose] = true
		low, high = min(low, u.Dose), max(high, u.Dose)
	}
	return len(seen), low, high, len(units) > 0
}

// parabola is the response over the DLI on the unit means, of the average block.
type parabola struct {
	curve optimum.Curve
	rss   float64
}

func (f *Findings) parabola() (*parabola, error) {
	n := len(f.Units)
	x, x2 := make([]float64, n), make([]float64, n)
	var m1, m2 float64
	for i, u := range f.Units {
		x[i], x2[i] = u.Dose, u.Dose*u.Dose
		m1, m2 = m1+x[i]/float64(n), m2+x2[i]/float64(n)
	}
	var terms []linear.Term
	if f.hasBlock {
		terms = append(terms, linear.Term{linear.By(f.block)})
	}
	k := len(terms)
	terms = append(terms, linear.Term{linear.Of("dli", x)}, linear.Term{linear.Of("dli²", x2)})
	fit, err := linear.FitModel(f.values(), terms...)
	if err != nil {
		return nil, err
	}
	s2, err := fit.Variance()
	if err != nil {
		return nil, err
	}
	if s2 <= 0 {
		return nil, stat.Refuse("a curve with limits", "the units do not scatter at all")
	}
	b1, b2 := fit.Column(k, 0), fit.Column(k+1, 0)
	mean := fit.Vector(nil)
	b0 := slices.Clone(mean)
	for i := range b0 {
		b0[i] -= m1*b1[i] + m2*b2[i]
	}
	ls := [][]float64{b0, b1, b2}
	out := &parabola{curve: optimum.Curve{DF: float64(fit.DF)}, rss: fit.RSS}
	for _, l := range ls {
		v, err := fit.Value(l)
		if err != nil {
			return nil, err
		}
		out.curve.Coef = append(out.curve.Coef, v)
		row := make([]float64, 3)
		for j, m := range ls {
			row[j] = s2 * fit.Covariance(l, m)
		}
		out.curve.Cov = append(out.curve.Cov, row)
	}
	return out, nil
}

// dose answers how the response goes with the light.
func (f *Findings) dose() {
	levels, low, high, known := levelsOf(f.Units)
	if !known || f.Trial.Layout == underlamp.SplitLayout || f.Trial.Response == underlamp.ResponseSeverity || f.Trial.Response == underlamp.ResponseBurn {
		return
	}
	if levels < 3 {
		return
	}
	p := Part{Title: titleLight}
	defer func() { f.Parts = append(f.Parts, p) }()
	f.trend(&p)
	x, y := make([]float64, len(f.Units)), f.values()
	for i, u := range f.Units {
		x[i] = u.Dose
	}
	var fits []curve.Candidate
	err := error(stat.Refuse("curves", "no form could be fitted"))
	if f.hasBlock {
		fits, err = curve.CompareInBlocks(x, y, f.block, level, curve.Forms...)
	}
	some := slices.ContainsFunc(fits, func(c curve.Candidate) bool { return c.Counts })
	if !f.hasBlock || err != nil || !some {
		fits, err = curve.Compare(x, y, level, curve.Forms...)
		if err == nil && f.hasBlock {
			p.Says = append(p.Says, "The cycles did not hold the same light, so the forms are compared without their shifts; cycles that differ blur them.")
		}
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err))
	}
	var unclear []string
	for _, c := range fits {
		if !c.Counts {
			unclear = append(unclear, c.Form.String())
		}
		if !c.Counts || !c.Near {
			continue
		}
		w := working.Figure{Name: "form: " + c.Form.String(), Value: c.Delta, Unit: "AICc above the best", Working: working.Working{Formula: "AICc = n ln(RSS/n) + penalty, on unit means", Sources: []string{"HurvichTsai1989"}}}
		for _, e := range c.Response.Estimates(level) {
			w.Working.Inputs = append(w.Working.Inputs, working.Plain(e.Name, fmt.Sprintf("%.4g", e.Value), underlamp.Fitted.String()))
		}
		p.Figures = append(p.Figures, w)
		if c.Response.Join != nil {
			up := "no upper limit from these data"
			if !math.IsInf(c.Response.Join.Upper, 0) {
				up = fmt.Sprintf("%.3g", c.Response.Join.Upper)
			}
			p.Says = append(p.Says, fmt.Sprintf("By the form %q the rise ends between %.3g and %s %s.", c.Form, c.Response.Join.Lower, up, dliUnit))
		}
	}
	if len(unclear) > 0 {
		p.Says = append(p.Says, "Not identified from these units, and so not shown: "+strings.Join(unclear, "; ")+".")
	}
	if q, err := f.parabola(); err == nil {
		c := q.curve
		t := dist.TQuantile(1-(1-doseLevel)/2, c.DF)
		v, err := ratio.Vertex(c.Coef[1], c.Coef[2], c.Cov[1][1], c.Cov[1][2], c.Cov[2][2], t, doseLevel)
		switch {
		case err != nil || c.Coef[2] >= 0 || v.Kind != ratio.Bounded:
			p.Says = append(p.Says, fmt.Sprintf("There is no best light inside these data: between %.3g and %.3g %s no top of the curve can be placed.", low, high, dliUnit))
		default:
			w := working.Figure{Name: "light for the most " + string(f.Trial.Response), Value: v.Value, Unit: dliUnit, Digits: 4, Band: &working.Band{Low: v.Lower, High: v.Upper, Level: doseLevel},
				Working: working.Working{Formula: "−b₁/(2 b₂) of the parabola, limits of Fieller with t", Inputs: []working.Input{working.Plain("b₁", fmt.Sprintf("%.4g", c.Coef[1]), underlamp.Fitted.String()), working.Plain("b₂", fmt.Sprintf("%.4g", c.Coef[2]), underlamp.Fitted.String()), working.Plain("degrees of freedom", fmt.Sprint(c.DF), underlamp.Computed.String())}, Sources: []string{"Fieller1954"}}}
			if v.Value > high || v.Value < low {
				p.Says = append(p.Says, "The top of the parabola lies outside the light that was tried; try more before you lean on it.")
			}
			p.Figures = append(p.Figures, w)
		}
	}
}

// trend tests linear and quadratic trend over the treatments' doses.
func (f *Findings) trend(p *Part) {
	if f.means == nil || f.analysis == nil {
		return
	}
	dose := map[string]float64{}
	for _, t := range f.Trial.Treatments {
		dose[t.Name] = float64(t.DLI)
	}
	var x []float64
	for _, l := range f.means.Levels {
		if dose[l] <= 0 || slices.Contains(x, dose[l]) {
			return
		}
		x = append(x, dose[l])
	}
	degree := min(2, len(x)-1)
	for d, c := range linear.Orthogonal(x, degree) {
		name := []string{"straight trend over the light", "bend of the trend"}[d]
		e, err := f.means.Contrast(name, c, level)
		if err != nil {
			continue
		}
		p.Figures = append(p.Figures, f.figure(name, e, "Σ c·mean, c the orthogonal polynomial with the true spacing, of unit length", []working.Input{working.Plain("p", pText(e.P), underlamp.Computed.String())}, "Searle1992"))
	}
}

// burn finds the safe light, and with mass the sweet spot.
func (f *Findings) burn(entries []underlamp.TrialEntry) {
	yes, n := map[string]int{}, map[string]int{}
	state := map[[2]string]bool{}
	any := false
	for _, e := range entries {
		if e.What == underlamp.ResponseBurn && e.Missing == "" {
			k := [2]string{e.TrialUnit, e.Plant}
			state[k] = state[k] || e.Value > 0 // burn does not heal
			any = true
		}
	}
	if !any {
		return
	}
	for k, b := range state {
		n[k[0]]++
		if b {
			yes[k[0]]++
		}
	}
	p := Part{Title: titleBurn}
	defer func() { f.Parts = append(f.Parts, p) }()
	var ys, ns, run []int
	var x []float64
	blocks := map[string]int{}
	for _, u := range f.Trial.Places {
		if n[u.Name] == 0 {
			continue
		}
		d := doseOf(f.Trial, u)
		if d <= 0 {
			p.Says = append(p.Says, "The light of unit "+u.Name+" is not known, so burn cannot be set against it; write dli at the units or treatments.")
			return
		}
		if _, ok := blocks[u.Block]; !ok {
			blocks[u.Block] = len(blocks)
		}
		ys, ns, x, run = append(ys, yes[u.Name]), append(ns, n[u.Name]), append(x, d), append(run, blocks[u.Block])
	}
	if len(blocks) < 2 {
		run = nil
	}
	p0 := float64(f.Trial.BurnLimit)
	origin := underlamp.Stated
	if p0 == 0 {
		p0, origin = 0.2, underlamp.Default
	}
	t, err := binary.FindThreshold(ys, ns, x, run, p0, doseLevel)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	lowest, highest := slices.Min(x), slices.Max(x)
	switch t.State {
	case binary.NeverSeen:
		p.Says = append(p.Says, fmt.Sprintf("No burn was seen up to %.3g %s, the highest light tried; the upper limit of the safe light is not known.", highest, dliUnit))
	case binary.Everywhere:
		p.Says = append(p.Says, fmt.Sprintf("Every plant burnt, down to %.3g %s; the safe light is lower, how low these data do not say.", lowest, dliUnit))
	case binary.Parted, binary.TooFew:
		s := fmt.Sprintf("All that is known is a gap: no burn up to %.3g, first burn at %.3g %s.", t.Gap.LastClean, t.Gap.FirstYes, dliUnit)
		if t.Gap.NoneClean {
			s = fmt.Sprintf("Burn was seen at the lowest light tried, %.3g %s.", t.Gap.FirstYes, dliUnit)
		}
		why := " Light parts burnt from clean plants, so a curve has no steepness and no limits."
		if t.State == binary.TooFew {
			why = " There are too few units for limits that hold."
		}
		p.Says = append(p.Says, s+why)
		if fit, err := binary.Firth(binary.OnDose(ys, ns, x), doseLevel); err == nil && t.State == binary.Parted && fit.Coef[1] > 0 {
			p.Says = append(p.Says, fmt.Sprintf("For a look only: Firth's penalised curve reaches %s at %.3g %s.", working.Percent(p0), (math.Log(p0/(1-p0))-fit.Coef[0])/fit.Coef[1], dliUnit))
		}
	case binary.Falls:
		p.Says = append(p.Says, "Burn does not rise with the light in these data; there is no safe light to give.")
	case binary.Unbounded:
		p.Says = append(p.Says, fmt.Sprintf("Whether burn rises with the light is not settled, so the safe light has no limits. No burn up to %.3g %s is what was seen.", t.Gap.LastClean, dliUnit))
	case binary.Limited:
		w := working.Figure{Name: "safe light: burn in at most " + working.Percent(p0), Value: t.Limits.Value, Unit: dliUnit, Digits: 4,
			Working: working.Working{Formula: "(logit p₀ − a)/b, limits of Fieller, covariance clustered by " + t.Clusters,
				Inputs: []working.Input{{Name: "p₀", Value: working.Percent(p0), Origin: origin.String()}, working.Plain("a", fmt.Sprintf("%.4g", t.Fit.Coef[0]), underlamp.Fitted.String()),
					working.Plain("b", fmt.Sprintf("%.4g", t.Fit.Coef[1]), underlamp.Fitted.String()), working.Plain("degrees of freedom", fmt.Sprint(t.Fit.DF), underlamp.Computed.String())}, Sources: []string{"Fieller1954"}}}
		w.Band = &working.Band{Low: t.Limits.Lower, High: t.Limits.Upper, Level: doseLevel}
		p.Figures = append(p.Figures, w)
		if t.Below {
			p.Says = append(p.Says, "The lower limit lies below the lowest light tried: take no light that was tried as safe.")
		} else {
			p.Says = append(p.Says, fmt.Sprintf("Stay at or below %.3g %s, the lower limit: there the upper band of the chance of burn crosses %s.", t.Limits.Lower, dliUnit, working.Percent(p0)))
		}
		if t.Above {
			p.Says = append(p.Says, "The upper limit lies above the highest light tried: no upper limit from these data.")
		}
		if t.Second != nil && t.Second.Bounded() && max(math.Abs(t.Second.Lower-t.Limits.Lower), math.Abs(t.Second.Upper-t.Limits.Upper)) > 0.1*(highest-lowest) {
			p.Says = append(p.Says, fmt.Sprintf("A second look (beta-binomial profile) gives %.3g to %.3g %s.", t.Second.Lower, t.Second.Upper, dliUnit))
		}
	}
	if f.Trial.Response == underlamp.ResponseMass && t.Fit != nil && (t.State == binary.Limited || t.State == binary.Unbounded) {
		f.sweet(&p, t, lowest, highest)
	}
}

// sweet is the light with the most saleable mass.
func (f *Findings) sweet(p *Part, t *binary.Threshold, low, high float64) {
	q, err := f.parabola()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	b, err := optimum.Product(q.curve, optimum.Curve{Coef: t.Fit.Coef, Cov: t.Fit.Cov, DF: t.Fit.DF}, low, high, 2000, doseLevel, f.Trial.Seed+2)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	w := working.Figure{Name: "sweet spot: most mass without burn", Value: b.Value, Unit: dliUnit, Digits: 4,
		Working: working.Working{Formula: "the light where mass(x)·(1 − burn(x)) is greatest, 2000 joint draws of both curves",
			Inputs: []working.Input{working.Plain("mass without burn there", fmt.Sprintf("%.4g g a place", b.Gain), underlamp.Computed.String()), working.Plain("light tried", fmt.Sprintf("%.3g to %.3g %s", low, high, dliUnit), underlamp.Stated.String())},
			Notes:  []string{"the curves of mass and burn are drawn as if their errors were independent"}}}
	switch {
	case b.Interval.Bounded():
		w.Band = &working.Band{Low: b.Interval.Lower, High: b.Interval.Upper, Level: doseLevel}
	default:
		p.Says = append(p.Says, fmt.Sprintf("The sweet spot is open towards %s: %s of the draws are best at an end of what was tried.", openEnd(b), working.Percent(max(b.AtLow, b.AtHigh))))
	}
	p.Figures = append(p.Figures, w)
	beside := "that is within the safe light"
	switch {
	case t.State != binary.Limited:
		beside = "no limit of the safe light is known beside it"
	case t.Limits.Lower < b.Value:
		beside = "that is above the safe light: stay at its lower limit"
	}
	p.Says = append(p.Says, fmt.Sprintf("Most saleable mass is at about %.3g %s; %s.", b.Value, dliUnit, beside))
}

func openEnd(b optimum.Best) string {
	switch {
	case math.IsInf(b.Interval.Lower, 0) && math.IsInf(b.Interval.Upper, 0):
		return "both ends"
	case math.IsInf(b.Interval.Lower, 0):
		return "less light"
	}
	return "more light"
}

// onset compares the day of the first burn, as the rounds saw it.
func (f *Findings) onset(entries []underlamp.TrialEntry) {
	seen := map[[2]string]onset.Observation{}
	var order [][2]string
	for _, e := range entries {
		if e.Missing != "" || (e.What != underlamp.ResponseClear && e.What != underlamp.ResponseFirst) {
			continue
		}
		k := [2]string{e.TrialUnit, e.Plant}
		o, ok := seen[k]
		if !ok {
			o = onset.Observation{First: math.Inf(1)}
			order = append(order, k)
		}
		if e.What == underlamp.ResponseClear {
			o.Last = e.Value
		} else {
			o.First = e.Value
		}
		seen[k] = o
	}
	if len(order) == 0 {
		return
	}
	p := Part{Title: "The day of the first burn"}
	defer func() { f.Parts = append(f.Parts, p) }()
	var obs []onset.Observation
	began := 0
	for _, k := range order {
		o := seen[k]
		if err := o.Check(); err != nil {
			p.Says = append(p.Says, fmt.Sprintf("Unit %s, plant %s: %v.", k[0], k[1], err))
			return
		}
		if !math.IsInf(o.First, 0) {
			began++
		}
		obs = append(obs, o)
	}
	if began == 0 {
		p.Says = append(p.Says, "No burn was seen at any round; there is no day to compare.")
		return
	}
	all, err := onset.FitNPMLE(obs)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	scores, err := all.Scores(obs, onset.Sun)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	sum, n := map[string]float64{}, map[string]float64{}
	for i, k := range order {
		sum[k[0]] += scores[i]
		n[k[0]]++
	}
	var v []float64
	var treat, block []string
	for _, u := range f.Trial.Places {
		if n[u.Name] > 0 {
			v, treat, block = append(v, sum[u.Name]/n[u.Name]), append(treat, u.Treatment), append(block, u.Block)
		}
	}
	tf := stat.NewFactor("treatment", treat)
	if len(tf.Levels) < 2 || slices.Max(tf.Counts()) < 2 {
		p.Says = append(p.Says, "One unit a treatment: the days are not tested.")
		return
	}
	var a *anova.Analysis
	if f.hasBlock {
		a, err = anova.Blocks(v, tf, stat.NewFactor("block", block))
	} else {
		a, err = anova.OneWay(v, tf)
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	l := a.Treatment()
	if l.Refused != nil || a.Weak != "" {
		p.Says = append(p.Says, "There are too few repeats to test the days of the first burn.")
		return
	}
	p.Figures = append(p.Figures, working.Figure{Name: "F of the day of first burn", Value: l.Test.Statistic, Working: working.Working{
		Formula: "log-rank scores of Sun by plant, averaged by unit, analysed as the primary response",
		Inputs:  []working.Input{working.Plain("plants with burn", fmt.Sprintf("%d of %d", began, len(obs)), underlamp.Measured.String()), working.Plain("p", pText(l.Test.P), underlamp.Computed.String())}, Sources: []string{"Turnbull1976", "Sun1996"}}})
	p.Says = append(p.Says, fmt.Sprintf("The day of the first burn by treatment: F = %.3g with %d and %d degrees of freedom, p %s. Days between two rounds are not guessed.", l.Test.Statistic, l.DF, a.Error.DF, pText(l.Test.P)))
}
