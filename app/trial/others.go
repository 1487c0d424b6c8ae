package trial

import (
	"fmt"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/pairwise"
	"underlamp/science/stat/ranks"
)

// An Exploratory is a test beside that of the primary response.
type Exploratory struct {
	What     string
	F        float64
	DF1, DF2 float64
	P        float64
	Adjusted float64 // for all of them (Holm1979)
	Why      string  // why there is no test; empty if there is one
}

// others tests the responses that were not chosen before the run, each on unit means by
// the layout, and adjusts for their number.
func (f *Findings) others() {
	if len(f.treat.Levels) < 2 {
		return
	}
	var tests []Exploratory
	add := func(what string, raw map[string][]float64) {
		if len(raw) == 0 {
			return
		}
		x := Exploratory{What: what}
		t, err := f.onUnits(raw)
		if err != nil {
			x.Why = sentence(err)
		} else {
			x.F, x.DF1, x.DF2, x.P = t.Statistic, t.DF1, t.DF2, t.P
		}
		tests = append(tests, x)
	}
	for _, r := range []underlamp.Response{underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseLeaves, underlamp.ResponseBurn, underlamp.ResponseSeverity} {
		if r == f.Trial.Response {
			continue
		}
		values, order, _, _ := valuesOf(f.entries, r)
		v := make([]float64, len(order))
		for i, k := range order {
			v[i] = values[k]
		}
		what := string(r)
		switch r {
		case underlamp.ResponseBurn:
			what = "burn, shares of units"
		case underlamp.ResponseSeverity:
			v, what = ranks.Of(v), "severity of burn, midranks"
		}
		raw := map[string][]float64{}
		for i, k := range order {
			raw[k.unit] = append(raw[k.unit], v[i])
		}
		add(what, raw)
	}
	if raw, _, err := f.onsetScores(); err == nil {
		add("day of the first burn, log-rank scores", raw)
	}
	if len(tests) == 0 {
		return
	}
	var ps []float64
	for _, x := range tests {
		if x.Why == "" {
			ps = append(ps, x.P)
		}
	}
	adjusted, k := pairwise.Holm(ps), 0
	var shown []string
	for i := range tests {
		if tests[i].Why != "" {
			continue
		}
		tests[i].Adjusted = adjusted[k]
		k++
		if tests[i].Adjusted <= 1-level {
			shown = append(shown, fmt.Sprintf("%s (p %s)", tests[i].What, pText(tests[i].Adjusted)))
		}
	}
	p := Part{Title: "What else was seen", Tests: tests, Tells: Certainty}
	first := "the test of the treatments"
	if f.analysis == nil && f.splitPlot == nil {
		first = "no test of the treatments"
	}
	p.Says = append(p.Says, fmt.Sprintf("Beside %s, which was chosen before the run (%s), %s made; p values are adjusted for it (Holm). Take what they show for a question to the next trial.", first, f.Trial.Response, count(k, "further test was", "further tests were")))
	for _, s := range shown {
		p.Says = append(p.Says, "Treatments differ in "+s+".")
	}
	if len(shown) > 0 {
		p.Heads = len(p.Says)
	}
	f.Parts = append(f.Parts, p)
}

// onUnits tests the treatments by values of plants, averaged by unit, as the layout asks.
func (f *Findings) onUnits(raw map[string][]float64) (stat.Test, error) {
	what := "a test between the treatments"
	g := &Findings{Trial: f.Trial}
	g.fill(raw)
	if len(g.treat.Levels) < 2 {
		return stat.Test{}, stat.Refuse(what, "only one of them was seen")
	}
	if g.Trial.Layout == underlamp.SplitLayout {
		a, err := g.analyseSplit()
		switch {
		case err != nil:
			return stat.Test{}, err
		case a.Whole.Refused != nil:
			return stat.Test{}, a.Whole.Refused
		case a.Weak != "":
			return stat.Test{}, stat.Refuse(what, "%s", a.Weak)
		case a.WholeError.MS <= flat(g.values()):
			return stat.Test{}, stat.Refuse(what, "the units do not scatter at all")
		}
		return a.Whole.Test, nil
	}
	a, _, err := g.analyse()
	switch {
	case err != nil:
		return stat.Test{}, err
	case a.Treatment().Refused != nil:
		return stat.Test{}, a.Treatment().Refused
	case a.Weak != "":
		return stat.Test{}, stat.Refuse(what, "%s", a.Weak)
	case a.Error.MS <= flat(g.values()):
		return stat.Test{}, stat.Refuse(what, "the units do not scatter at all")
	}
	return a.Treatment().Test, nil
}
