package trial_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/formats/trialfile"
)

func results(t *testing.T, name string) map[string]any {
	t.Helper()
	text, err := os.ReadFile("../../science/stat/testdata/results/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct{ Results map[string]any }
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	return c.Results
}

func numbers(v any) []float64 {
	var out []float64
	for _, x := range v.([]any) {
		f, _ := x.(float64)
		out = append(out, f)
	}
	return out
}

// Yates's peas, a 2³ factorial in blocks of four with N×P×K confounded: sums of squares,
// F and error of R 4.2.2.
func TestFactorialAgainstR(t *testing.T) {
	tr, entries := ofTable(t, "npk.csv", underlamp.IncompleteLayout, underlamp.ResponseMass, map[string]string{"block": "block", "N": "lamp", "P": "lamp", "K": "lamp", "yield": "mass"})
	for _, n := range []string{"N", "P", "K"} {
		tr.Factors = append(tr.Factors, underlamp.TrialFactor{Name: n, Levels: []string{"0", "1"}})
	}
	tr.Treatments = nil
	for i, u := range tr.Places { // block/N/P/K
		l := strings.Split(u.Name, "/")[1:]
		tr.Places[i].Treatment = strings.Join(l, "")
		if !slices.ContainsFunc(tr.Treatments, func(x underlamp.Treatment) bool { return x.Name == tr.Places[i].Treatment }) {
			tr.Treatments = append(tr.Treatments, underlamp.Treatment{Name: tr.Places[i].Treatment, Levels: l})
		}
	}
	f, err := trial.Find(tr, entries)
	if err != nil {
		t.Fatal(err)
	}
	a := results(t, "factorial-npk")["anova"].(map[string]any)
	names := map[string]string{"N:P": "N × P", "N:K": "N × K", "P:K": "P × K", "Residuals": "error"}
	for i, r := range a["row"].([]any) {
		name := r.(string)
		if n, ok := names[name]; ok {
			name = n
		}
		l := line(t, f, name)
		near(t, name, l.SS, numbers(a["Sum Sq"])[i], 1e-9)
		if name == "block" || name == "error" {
			if l.DF != int(numbers(a["Df"])[i]) {
				t.Errorf("%s: %d degrees of freedom", name, l.DF)
			}
			continue
		}
		near(t, name+" F", l.F, numbers(a["F value"])[i], 1e-9)
		near(t, name+" p", l.P, numbers(a["Pr(>F)"])[i], 1e-8)
	}
	// The effect of N in R: 5.6167, its standard error from the error of 12.
	g := figure(t, f, "N 1 − N 0")
	near(t, "effect of N", g.Value, 5.61666666666667, 1e-9)
	if g.Band == nil || g.Band.Low > 5.6 || g.Band.Low < 0 {
		t.Errorf("%+v", g.Band)
	}
}

// The catalyst example of incomplete blocks and Petersen's augmented blocks: what they
// print, by R 4.2.2 to its digits, come out of findings.
func TestIncompleteFindings(t *testing.T) {
	for _, c := range []struct {
		file, result      string
		layout            underlamp.TrialLayout
		is                map[string]string
		means, first, key string
	}{
		{"catalyst_bib.csv", "incomplete-catalyst", underlamp.IncompleteLayout, map[string]string{"catalyst": "treatment", "batch": "block", "time": "mass"}, "", "", ""},
		{"augmented_petersen.csv", "augmented-petersen", underlamp.AugmentedLayout, map[string]string{"treatment": "treatment", "block": "block", "yield": "mass"}, "adjusted_means", "", ""},
	} {
		tr, entries := ofTable(t, c.file, c.layout, underlamp.ResponseMass, c.is)
		f, err := trial.Find(tr, entries)
		if err != nil {
			t.Fatal(err)
		}
		r := results(t, c.result)
		near(t, c.file+" treatments", line(t, f, "treatment").SS, r["ss_treatments"].(float64), 1e-9)
		near(t, c.file+" F", line(t, f, "treatment").F, r["F"].(float64), 1e-9)
		near(t, c.file+" p", line(t, f, "treatment").P, r["p"].(float64), 1e-7)
		near(t, c.file+" error", line(t, f, "error").SS, r["ss_error"].(float64), 1e-9)
		if c.means != "" {
			for i, l := range r["levels"].([]any) {
				near(t, "mean of "+l.(string), figure(t, f, l.(string)).Value, numbers(r[c.means])[i], 1e-9)
			}
			if len(f.Parts) > 1 && strings.Contains(fmt.Sprint(f.Parts), "another cycle changes") {
				t.Error("a treatment that stood once is held for a choice")
			}
		}
	}
	tr, entries := ofTable(t, "catalyst_bib.csv", underlamp.IncompleteLayout, underlamp.ResponseMass, map[string]string{"catalyst": "treatment", "batch": "block", "time": "mass"})
	f, _ := trial.Find(tr, entries)
	near(t, "p by all 1296 orders", figure(t, f, "p by randomisation").Value, 36./1296, 1e-12)
}

// A Williams square over runs: F, means and the carry-over term of R 4.2.2.
func TestRotationFindings(t *testing.T) {
	tr, entries := ofTable(t, "lamp_rotation.csv", underlamp.RotationLayout, underlamp.ResponseMass, map[string]string{"run": "block", "position": "place", "spectrum": "treatment", "fresh_mass_g": "mass"})
	f, err := trial.Find(tr, entries)
	if err != nil {
		t.Fatal(err)
	}
	r := results(t, "lamp-rotation")
	a := r["latin_on_means"].(map[string]any)
	near(t, "F", line(t, f, "treatment").F, numbers(a["F value"])[2], 1e-8)
	near(t, "p", line(t, f, "treatment").P, numbers(a["Pr(>F)"])[2], 1e-7)
	for i, m := range numbers(r["emm"].(map[string]any)["emmean"]) {
		near(t, "mean", figure(t, f, []string{"A", "B", "C", "D"}[i]).Value, m, 1e-8)
	}
	near(t, "smallest p", figure(t, f, "p by randomisation").Value*24, math.Round(figure(t, f, "p by randomisation").Value*24), 1e-9)
	c := r["carryover_adjusted"].(map[string]any)
	i := slices.Index(c["row"].([]any), any("prev"))
	want := fmt.Sprintf("cycle before: F = %.3g with %g and 3", numbers(c["F value"])[i], numbers(c["Df"])[i])
	if !strings.Contains(fmt.Sprint(f.Parts[0].Says), want) {
		t.Errorf("nothing says %q in %v", want, f.Parts[0].Says)
	}
}

func factorsOf(n int) []underlamp.TrialFactor {
	var out []underlamp.TrialFactor
	for i := range n {
		out = append(out, underlamp.TrialFactor{Name: fmt.Sprintf("factor %d", i+1), Levels: []string{"low", "high"}})
	}
	return out
}

// Whatever is proposed can be written, read back and analysed: with values that have a true
// difference, findings keep the degrees of freedom that the plan promised, and no figure is
// no number. The plan of one layout is never analysed as another.
func TestEveryProposalIsAnalysed(t *testing.T) {
	kinds := map[underlamp.TrialLayout]int{}
	names := map[string]bool{}
	plain := func(n int) []underlamp.Treatment {
		var out []underlamp.Treatment
		for i := range n {
			out = append(out, underlamp.Treatment{Name: fmt.Sprintf("t%d", i+1), Control: i == 0})
		}
		return out
	}
	for _, c := range []trial.Ask{
		{Treatments: plain(3), Lamps: make([]string, 6), Cycles: 3}, {Treatments: plain(4), Lamps: make([]string, 4), Cycles: 4}, {Treatments: plain(5), Lamps: make([]string, 3), Cycles: 5},
		{Treatments: plain(7), Lamps: make([]string, 3), Cycles: 7}, {Treatments: plain(12), Lamps: make([]string, 6), Cycles: 3}, {Treatments: plain(6), Lamps: make([]string, 4), Cycles: 4},
		{Treatments: plain(2), Lamps: make([]string, 2), Cycles: 4, Parts: []string{"green", "red"}}, {Treatments: plain(8), Lamps: make([]string, 4), Cycles: 3, Checks: []string{"t1", "t2"}},
		{Factors: factorsOf(2), Lamps: make([]string, 4), Cycles: 3}, {Factors: factorsOf(3), Lamps: make([]string, 4), Cycles: 2}, {Factors: factorsOf(3), Lamps: make([]string, 4), Cycles: 4},
		{Factors: factorsOf(4), Lamps: make([]string, 8), Cycles: 2}, {Factors: factorsOf(5), Lamps: make([]string, 8), Cycles: 2}, {Factors: factorsOf(3), Lamps: make([]string, 8), Cycles: 1},
		{Factors: append(factorsOf(1), underlamp.TrialFactor{Name: "light", Unit: "mol/m²/d", Levels: []string{"12", "15", "18"}}), Lamps: make([]string, 6), Cycles: 3},
		{Factors: append(factorsOf(1), underlamp.TrialFactor{Name: "DLI", Unit: "mol/m²/d", Levels: []string{"12", "15", "18"}}), Lamps: make([]string, 4), Cycles: 6},
	} {
		c.Response, c.Difference, c.Plants, c.Seed = underlamp.ResponseMass, 30, 4, 11
		c.Lamp, c.Plant, c.Cycle = 5, 10, 5
		for i := range c.Lamps {
			c.Lamps[i] = fmt.Sprintf("lamp %d", i+1)
		}
		all, _, err := trial.Propose(c)
		if err != nil {
			t.Fatal(err)
		}
		if len(all) == 0 {
			t.Errorf("nothing for %d treatments, %d lamps, %d cycles", len(c.Treatments), len(c.Lamps), c.Cycles)
		}
		for _, p := range all {
			kinds[p.Layout]++
			names[strings.Fields(p.Name)[0]] = true
			if p.Why == "" || p.Power < 0 || p.Power > 1 || len(p.Cannot) < 1 || len(p.Figures) < 2 {
				t.Errorf("%s: %+v", p.Name, p)
			}
			var b bytes.Buffer
			if err := trialfile.Write(&b, p.Trial); err != nil {
				t.Fatal(err)
			}
			plan, problems, err := trialfile.Read(&b)
			if err != nil || plan == nil {
				t.Fatalf("%s cannot be read back: %v %v", p.Name, problems, err)
			}
			r := rand.New(rand.NewPCG(1, 2))
			var entries []underlamp.TrialEntry
			for _, u := range plan.Places {
				level := 0.0
				for i, x := range plan.Treatments {
					if x.Name == u.Treatment {
						level = float64(i)
					}
				}
				unit := 150 + 5*level + 5*r.NormFloat64()
				for k := range u.Plants {
					entries = append(entries, underlamp.TrialEntry{ID: fmt.Sprintf("%s-%d", u.Name, k), TrialUnit: u.Name, Plant: fmt.Sprint(k), What: underlamp.ResponseMass, Value: unit + 10*r.NormFloat64()})
				}
			}
			f, err := trial.Find(plan, entries)
			if err != nil {
				t.Fatalf("%s: %v", p.Name, err)
			}
			df := -1
			for _, l := range f.Lines {
				if strings.HasPrefix(l.Name, "error") || strings.Contains(l.Name, "whole") && strings.Contains(l.Name, "error") {
					df = l.DF
					break
				}
			}
			if p.Layout != underlamp.SplitLayout && df != p.DF {
				t.Errorf("%s, %d treatments: the plan promises %d degrees of freedom, findings have %d\n%v", p.Name, len(plan.Treatments), p.DF, df, f.Lines)
			}
			for _, g := range f.Figures() {
				if math.IsNaN(g.Value) || math.IsInf(g.Value, 0) || g.Band != nil && (math.IsNaN(g.Band.Low) || math.IsNaN(g.Band.High)) {
					t.Errorf("%s: %s is %v", p.Name, g.Name, g.Value)
				}
			}
			for _, l := range f.Lines {
				if math.IsNaN(l.F) || math.IsNaN(l.MS) || math.IsNaN(l.P) {
					t.Errorf("%s: %+v", p.Name, l)
				}
			}
		}
	}
	for _, l := range underlamp.TrialLayouts() {
		if kinds[l] == 0 && l != underlamp.SystematicLayout {
			t.Errorf("no %s was proposed", l)
		}
	}
	for _, n := range []string{"fraction", "complete", "augmented:", "balanced", "incomplete", "rotation:"} {
		if !names[n] {
			t.Errorf("no proposal begins with %q: %v", n, names)
		}
	}
}

// Plans for burn, grades and onset follow from their seed, end with their context, and more
// plants never do what more lamps do.
func TestPlansForBurn(t *testing.T) {
	a := ask()
	a.Treatments, a.Lamps = a.Treatments[:2], a.Lamps[:4]
	a.Response, a.Difference = underlamp.ResponseBurn, 0.3
	a.Burn = trial.BurnScatter{Base: 0.1, Rho: 0.1, Logit: 0.7, Log: 0.15, Shape: 3, Cycle: 0.5, Rounds: []float64{6, 9, 12, 15, 18, 21, 24, 27, 30}, Trials: 400}
	for _, what := range []string{"burn", "severity", "onset"} {
		switch what {
		case "severity":
			a.Response = underlamp.ResponseSeverity
		case "onset":
			a.Response, a.Onset, a.Difference, a.Burn.Base = underlamp.ResponseBurn, true, 6, 26
		}
		first, _, err := trial.Propose(a)
		if err != nil || len(first) < 2 {
			t.Fatal(what, first, err)
		}
		again, _, _ := trial.Propose(a)
		for i, p := range first {
			if again[i].Power != p.Power || p.Power <= 0.05 || p.Figures[0].Band == nil {
				t.Errorf("%s: %v, again %v", what, p.Power, again[i].Power)
			}
		}
		if first[0].Layout != underlamp.BlocksLayout {
			t.Errorf("%s: %s stands first", what, first[0].Layout)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := trial.ProposeContext(ctx, a, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("after the end: %v", err)
	}
	a.Difference = 40
	if _, _, err := trial.Propose(a); err == nil || !strings.Contains(err.Error(), "day 26") {
		t.Errorf("more days than there are: %v", err)
	}
}

// Levels of the parabola, of Mitscherlich and of the logit stand where the closed forms of
// package optimal put them; what cannot be placed is refused with what to do.
func TestLevels(t *testing.T) {
	e, err := trial.ParseExpected("parabola 10 12 -0.3")
	if err != nil {
		t.Fatal(err)
	}
	p, err := trial.Levels(e, 8, 24, 4)
	if err != nil || len(p.Levels) != 4 || p.Levels[0] != 8 || p.Levels[3] != 24 || !slices.Contains(p.Levels, 16) {
		t.Fatal(p, err)
	}
	e, err = trial.ParseExpected("logit -7 0.35")
	if err != nil {
		t.Fatal(err)
	}
	e.Limit = 0.2
	p, err = trial.Levels(e, 8, 30, 3)
	if err != nil || math.Abs(p.Levels[0]-15.6) > 0.01 && math.Abs(p.Levels[1]-15.6) > 0.01 || !strings.Contains(strings.Join(p.Says, " "), "16 mol") {
		t.Fatal(p, err)
	}
	for text, want := range map[string]string{"": "no curve is called", "bell 3": "no curve", "Mitscherlich 3 4": "takes 3 numbers", "logit -3 -0.2": "rise with the light"} {
		if _, err := trial.ParseExpected(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, c := range []struct {
		low, high float64
		n         int
	}{{24, 8, 4}, {8, 24, 2}, {8, 24, 50}, {0, 20, 3}, {15, 15.2, 8}} {
		if p, err := trial.Levels(e, c.low, c.high, c.n); err == nil {
			t.Errorf("%v: %v", c, p)
		}
	}
}

func BenchmarkProposeBurn(b *testing.B) {
	a := ask()
	a.Response, a.Difference = underlamp.ResponseBurn, 0.3
	a.Burn = trial.BurnScatter{Base: 0.1, Rho: 0.1, Cycle: 0.5}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := trial.Propose(a); err != nil {
			b.Fatal(err)
		}
	}
}
