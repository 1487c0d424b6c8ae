package trial

import (
	"fmt"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/ranks"
	"underlamp/working"
)

// ranked shows the tests on ranks of the unit means: Kruskal and Wallis where units were
// drawn freely, Friedman in complete blocks, Jonckheere where treatments are levels of light.
func (f *Findings) ranked(p *Part, v []float64) {
	if f.Trial.Response == underlamp.ResponseSeverity { // the means are of ranks already
		return
	}
	show := func(name, formula, source string, t stat.Test, err error) {
		if err != nil {
			return // the exact tests above stand; these are a second look
		}
		p.Figures = append(p.Figures, pFigure(name, t.P, working.Working{Formula: formula,
			Inputs:  []working.Input{working.Plain("statistic", fmt.Sprintf("%.4g", t.Statistic), underlamp.Computed.String()), working.Plain("units", fmt.Sprint(len(v)), underlamp.Computed.String())},
			Sources: []string{source}, Notes: []string{"a second look by the large-sample distribution; with few units the randomisation test is the better one"}}))
	}
	if f.hasBlock {
		t, err := ranks.Friedman(v, f.treat, f.block)
		show("p by ranks within blocks (Friedman)", "Friedman's test of the unit means", "Friedman1937", t, err)
		return
	}
	t, err := ranks.KruskalWallis(v, f.treat)
	show("p by ranks (Kruskal and Wallis)", "Kruskal and Wallis's test of the unit means", "KruskalWallis1952", t, err)
	levels, ok := f.byLight()
	if !ok || len(levels.Levels) < 3 {
		return
	}
	t, err = ranks.Jonckheere(v, levels)
	show("p of a trend by ranks (Jonckheere and Terpstra)", "Jonckheere and Terpstra's test of the unit means over the treatments by rising light", "Jonckheere1954", t, err)
}

// byLight is the factor of treatments in the order of what light they shall be.
func (f *Findings) byLight() (stat.Factor, bool) {
	dose := make([]float64, len(f.treat.Levels))
	for i, l := range f.treat.Levels {
		for _, t := range f.Trial.Treatments {
			if t.Name == l {
				dose[i] = float64(t.DLI)
			}
		}
		if dose[i] <= 0 {
			return stat.Factor{}, false
		}
	}
	rank := make([]int, len(dose))
	out := stat.Factor{Name: "light", Levels: make([]string, len(dose)), Of: make([]int, len(f.treat.Of))}
	for i := range dose {
		for j := range dose {
			if dose[j] < dose[i] {
				rank[i]++
			} else if dose[j] == dose[i] && i != j {
				return stat.Factor{}, false
			}
		}
		out.Levels[rank[i]] = f.treat.Levels[i]
	}
	for i, k := range f.treat.Of {
		out.Of[i] = rank[k]
	}
	return out, true
}
