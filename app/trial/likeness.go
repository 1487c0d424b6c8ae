package trial

import (
	"fmt"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/pairwise"
	"underlamp/working"
)

// likeness asks of which pairs it is shown that they are alike within the difference
// worth knowing: two one-sided tests on unit means (Schuirmann1987), adjusted for the
// number of pairs (Holm1979). Not to have shown a difference shows no likeness.
func (f *Findings) likeness() {
	d := f.Trial.Difference
	if f.means == nil || d <= 0 || f.Trial.Response == underlamp.ResponseSeverity {
		return
	}
	p := Part{Title: "Alike within the difference worth knowing?"}
	defer func() { f.Parts = append(f.Parts, p) }()
	if f.means.DF < 3 {
		p.Says = append(p.Says, "Too few repeats to show that treatments are alike: fewer than three degrees of freedom are left for the error.")
		return
	}
	type pair struct {
		minus, name string
		e           stat.Estimate
		eq          anova.Equivalence
	}
	var pairs []pair
	var ps []float64
	k := f.control()
	for i := range f.means.Levels {
		for j := i + 1; j < len(f.means.Levels); j++ {
			from, to := i, j
			if k >= 0 && i != k && j != k {
				continue
			}
			if j == k {
				from, to = j, i
			}
			c := make([]float64, len(f.means.Levels))
			c[to], c[from] = 1, -1
			e, err := f.means.Contrast("difference", c, 1-2*(1-level))
			if err != nil {
				continue
			}
			q, err := anova.Equivalent(e, d, 1-level)
			if err != nil {
				continue
			}
			pairs = append(pairs, pair{f.treat.Levels[to] + " − " + f.treat.Levels[from], f.treat.Levels[to] + " and " + f.treat.Levels[from], e, q})
			ps = append(ps, q.P)
		}
	}
	if len(pairs) == 0 {
		return
	}
	adjusted := pairwise.Holm(ps)
	margin := fmt.Sprintf("%.4g %s", d, f.unit())
	var alike []string
	for i, x := range pairs {
		word := "not shown alike"
		if adjusted[i] <= 1-level {
			word = "alike within " + margin
			alike = append(alike, x.name)
		}
		p.Figures = append(p.Figures, working.Figure{Name: x.minus + ", two one-sided tests", Value: x.e.Value, Unit: f.unit(), Digits: 4,
			Band: &working.Band{Low: x.eq.Interval.Lower, High: x.eq.Interval.Upper, Level: x.eq.Interval.Level},
			Working: working.Working{Formula: "two one-sided t tests: alike at 5 % if the 90 % limits of the difference lie within ± the difference worth knowing",
				Inputs: []working.Input{working.Plain("answer", word, underlamp.Computed.String()), working.Plain("difference worth knowing", margin, underlamp.Stated.String()),
					working.Plain("p, the larger of both", pText(x.eq.P), underlamp.Computed.String()), working.Plain("p after Holm, of "+count(len(pairs), "pair", "pairs"), pText(adjusted[i]), underlamp.Computed.String()),
					working.Plain("degrees of freedom", fmt.Sprintf("%.3g", x.e.DF), underlamp.Computed.String())}, Sources: []string{"Schuirmann1987", "Holm1979"}}})
	}
	for _, name := range alike {
		p.Says = append(p.Says, fmt.Sprintf("%s are shown alike within %s.", name, margin))
	}
	p.Heads = len(alike)
	switch {
	case len(alike) == len(pairs):
	case len(alike) == 0:
		p.Says = append(p.Says, fmt.Sprintf("No pair is shown alike within %s. A pair that is not shown different either is open: these data do not tell.", margin))
	default:
		p.Says = append(p.Says, fmt.Sprintf("The other pairs are not shown alike within %s; where they are not shown different either, these data do not tell.", margin))
	}
	p.Says = append(p.Says, fmt.Sprintf("Of likeness %s made; p values are adjusted for it (Holm).", count(len(pairs), "test was", "tests were")))
}
