package trial_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/demo"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/science/stat/power"
)

func ask() trial.Ask {
	a := trial.Ask{Response: underlamp.ResponseMass, Difference: 12, Cycles: 4, Plants: 8, Lamp: 7.5, Cycle: 7.5, Plant: 15, Seed: 4711}
	for _, n := range []string{"10 mol", "13 mol", "16 mol", "19 mol", "22 mol"} {
		a.Treatments = append(a.Treatments, underlamp.Treatment{Name: n})
	}
	a.Lamps = []string{"lamp 1", "lamp 2", "lamp 3", "lamp 4", "lamp 5"}
	return a
}

// The seed that stands in the demo's trial gives its layout again.
func TestSeedGivesTheLayout(t *testing.T) {
	plan, problems, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	all, _, err := trial.Propose(ask())
	if err != nil {
		t.Fatal(err)
	}
	given := func(x *underlamp.Trial) map[string]string {
		m := map[string]string{}
		for _, u := range x.Places {
			m[u.Name] = u.Treatment
		}
		return m
	}
	if d := cmp.Diff(given(plan), given(all[0].Trial)); d != "" {
		t.Error(d)
	}
}

// Every layout is what it says: blocks hold each treatment once, squares each once in
// row and column; degrees of freedom by CochranCox1957: (k−1)(b−1), (k−1)(k−2), k(r−1).
func TestLayouts(t *testing.T) {
	a := ask()
	a.Treatments, a.Lamps = a.Treatments[:4], a.Lamps[:4]
	all, _, err := trial.Propose(a)
	if err != nil {
		t.Fatal(err)
	}
	df := map[underlamp.TrialLayout]int{underlamp.BlocksLayout: 9, underlamp.LatinLayout: 6, underlamp.RotationLayout: 6, underlamp.CompleteLayout: 12}
	if len(all) != 4 {
		t.Fatalf("%d proposals", len(all))
	}
	for _, p := range all {
		if p.DF != df[p.Layout] || len(p.Trial.Places) != 16 {
			t.Errorf("%s: %d degrees of freedom, %d units", p.Name, p.DF, len(p.Trial.Places))
		}
		row, column := map[string]int{}, map[string]int{}
		for _, u := range p.Trial.Places {
			row[u.Block+u.Treatment]++
			column[u.Place+u.Treatment]++
		}
		if p.Layout != underlamp.CompleteLayout && len(row) != 16 || (p.Layout == underlamp.LatinLayout || p.Layout == underlamp.RotationLayout) && len(column) != 16 {
			t.Errorf("%s: %v %v", p.Name, row, column)
		}
		var b bytes.Buffer
		if err := trialfile.Write(&b, p.Trial); err != nil {
			t.Fatal(err)
		}
		if got, problems, err := trialfile.Read(&b); err != nil || got == nil {
			t.Errorf("%s cannot be read back: %v %v", p.Name, problems, err)
		}
	}
}

// More plants do not replace lamps, and a trial without repeats is refused with what to do.
func TestRefusals(t *testing.T) {
	a := ask()
	a.Cycles = 1
	if all, not, err := trial.Propose(a); err != nil || len(all) > 0 || !strings.Contains(strings.Join(not, ""), "more cycles") {
		t.Errorf("%v %q %v", all, not, err)
	}
	a = ask()
	a.Difference = 0
	if _, _, err := trial.Propose(a); err == nil {
		t.Error("no difference was refused")
	}
	a = ask()
	few, _, _ := trial.Propose(a)
	a.Plants = 800
	many, _, err := trial.Propose(a)
	if err != nil || many[0].Figures[0].Value > few[0].Figures[1].Value+1e-9 {
		t.Errorf("800 plants: %v, ceiling %v, %v", many[0].Figures[0].Value, few[0].Figures[1].Value, err)
	}
}

// Lamps that keep their treatment throughout are named, in the plan and in the findings.
func TestTied(t *testing.T) {
	a := ask()
	a.Treatments, a.Lamps, a.Cycles, a.Parts = a.Treatments[:2], a.Lamps[:2], 3, []string{"a", "b"}
	warned, clear := 0, 0
	for a.Seed = range 40 {
		all, _, err := trial.Propose(a)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(strings.Join(all[0].Cannot, " "), "same treatment in every cycle") {
			warned++
		} else {
			clear++
		}
	}
	if warned == 0 || clear == 0 { // by chance one draw in four
		t.Errorf("%d warned of, %d clear", warned, clear)
	}
}

// A trial of its own tells the scatter: the truth of the demo's numbers is 5 g between
// lamps, 13 g between plants, 7 g between cycles (as they were drawn).
func TestScatter(t *testing.T) {
	plan, _, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil {
		t.Fatal(err)
	}
	all, err := trialtable.Read(demo.File("light-levels.trial.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lamp, plant, cycle, err := trial.Scatter(plan, trialtable.Standing(all))
	if err != nil || math.Abs(plant-13) > 2.5 || lamp <= 0 || lamp > 12 || cycle < 0 || cycle > 20 {
		t.Errorf("%v %v %v %v", lamp, plant, cycle, err)
	}
	if d := power.DesignEffect(8, lamp*lamp/(lamp*lamp+plant*plant)); d <= 1 {
		t.Errorf("design effect %v", d)
	}
}

func BenchmarkFind(b *testing.B) {
	plan, _, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil {
		b.Fatal(err)
	}
	all, err := trialtable.Read(demo.File("light-levels.trial.csv"))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := trial.Find(plan, trialtable.Standing(all)); err != nil {
			b.Fatal(err)
		}
	}
}
