package trial

import (
	"fmt"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/linear"
	"underlamp/working"
)

// carry checks a layout in which places go through the treatments cycle by cycle for what
// the treatment of the cycle before left behind (Williams1949): a term for it is tested,
// and the treatments are not corrected by it. Cycles stand in the order of the plan.
func (f *Findings) carry() {
	if f.Trial.Layout != underlamp.LatinLayout && f.Trial.Layout != underlamp.RotationLayout || f.analysis == nil || len(f.block.Levels) < 2 {
		return
	}
	p := Part{Title: "Did the cycle before leave something behind?", Tells: Certainty}
	defer func() { f.Parts = append(f.Parts, p) }()
	cycle := map[string]int{} // in the order of the plan, seen or not
	had := map[[2]string]string{}
	for _, u := range f.Trial.Places {
		if _, ok := cycle[u.Block]; !ok {
			cycle[u.Block] = len(cycle)
		}
		had[[2]string{u.Block, u.Place}] = u.Treatment
	}
	names := make([]string, len(cycle))
	for n, i := range cycle {
		names[i] = n
	}
	k := len(f.treat.Levels)
	at := map[string]int{}
	for i, l := range f.treat.Levels {
		at[l] = i
	}
	columns := make([][]float64, k-1)
	for j := range columns {
		columns[j] = make([]float64, len(f.Units))
	}
	for i, u := range f.Units {
		c := cycle[u.Block]
		if c == 0 {
			continue
		}
		before, ok := at[had[[2]string{names[c-1], u.Place}]]
		switch {
		case !ok:
		case before == k-1:
			for j := range columns {
				columns[j][i] = -1
			}
		default:
			columns[before][i] = 1
		}
	}
	test, df, err := carryOver(f.values(), []stat.Factor{f.block, f.place, f.treat}, columns)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	p.Figures = append(p.Figures, working.Figure{Name: "F of carry-over", Value: test.Statistic, Working: working.Working{
		Formula: "F = (RSS without − RSS with the treatment of the cycle before)/df, over the error with it; cycles, places and treatments in both",
		Inputs:  []working.Input{working.Plain("p", pText(test.P), underlamp.Computed.String()), working.Plain("degrees of freedom", fmt.Sprintf("%.0f and %.0f", test.DF1, test.DF2), underlamp.Computed.String())},
		Sources: []string{"Williams1949"}, Notes: []string{"a check and no gate: it finds only a strong carry-over"}}})
	s := fmt.Sprintf("What the treatment of the cycle before left behind in a place: F = %.3g with %.0f and %.0f degrees of freedom, p %s.", test.Statistic, test.DF1, test.DF2, pText(test.P))
	switch {
	case df < 3:
		s += " Too few degrees of freedom are left to lean on it."
	case test.P < 1-level:
		s += " The differences between treatments may hold some of it; clean the places and rest them between cycles, and ask again."
		p.Heads = 1
	default:
		s += " None was shown; that it is none is not shown either."
	}
	p.Says = append(p.Says, s)
}

// carryOver tests columns beside factors.
func carryOver(v []float64, factors []stat.Factor, columns [][]float64) (stat.Test, int, error) {
	var terms []linear.Term
	for _, f := range factors {
		terms = append(terms, linear.Term{linear.By(f)})
	}
	small, err := linear.FitModel(v, terms...)
	if err != nil {
		return stat.Test{}, 0, err
	}
	for _, c := range columns {
		terms = append(terms, linear.Term{linear.Of("before", c)})
	}
	large, err := linear.FitModel(v, terms...)
	if err != nil {
		return stat.Test{}, 0, err
	}
	if large.DF < 1 || large.DF == small.DF {
		return stat.Test{}, 0, stat.Refuse("a test of carry-over", "no degrees of freedom are left for the error once it is fitted; another square would give them")
	}
	t, err := linear.LackOfFit(small, large)
	return t, large.DF, err
}
