package learn

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
)

// demoHarvests is the trial of the demo and the light of the bench that it is learned for.
func demoHarvests(t testing.TB) (*light.Model, []trial.Harvest) {
	t.Helper()
	plan, problems, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil || plan == nil {
		t.Fatal(problems, err)
	}
	all, err := trialtable.Read(demo.File("light-levels.trial.csv"))
	if err != nil {
		t.Fatal(err)
	}
	hs, _, err := trial.Harvests(plan, trialtable.Standing(all), "Tarn Copper")
	if err != nil {
		t.Fatal(err)
	}
	b, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(problems, err)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return m, hs
}

// Blocks come into the evidence as cycles and units as means of their plants, each in its
// own light; no plant becomes a repeat.
func TestHarvestsAsEvidence(t *testing.T) {
	m, hs := demoHarvests(t)
	r := newRoom(m)
	a, err := r.account(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.addHarvests(a, hs); err != nil {
		t.Fatal(err)
	}
	if len(a.evidence.Cycles) != 4 {
		t.Fatalf("%d cycles", len(a.evidence.Cycles))
	}
	for i, c := range a.evidence.Cycles {
		if len(c.Plants) != 5 || len(c.Counts) != 5 || c.Days != 28 {
			t.Errorf("%s: %d means, %d counts, %d days", c.Name, len(c.Plants), len(c.Counts), c.Days)
		}
		for k, p := range c.Plants {
			u := hs[i].Units[k]
			if p.Of != len(u.Masses()) || !(p.SharedSD > 0.01) || len(p.Burns) > 0 {
				t.Errorf("%s: mean of %d with %g", p.Name, p.Of, p.SharedSD)
			}
			if got := 0.0036 * float64(c.Stages[0].Environment.Hours) * p.Light[0].At(0); math.Abs(got/float64(u.DLI)-1) > 1e-9 {
				t.Errorf("%s stands in %g mol, it got %g", p.Name, got, float64(u.DLI))
			}
			sum := 0.0
			for _, x := range u.Masses() {
				sum += math.Log(x)
			}
			if got := p.Weighings[0].FreshGrams; math.Abs(math.Log(got)-sum/float64(p.Of)) > 1e-12 {
				t.Errorf("%s weighs %g", p.Name, got)
			}
		}
		for _, n := range c.Counts {
			if !(n.Weight > 0 && n.Weight <= 1) || n.Light == nil {
				t.Errorf("count %+v", n)
			}
		}
	}
	for i, l := range a.learnedCycles() { // what a profile says that it was learned from
		n := 0
		for _, u := range hs[i].Units {
			n += len(u.Masses())
		}
		if l.Weighings != n || l.Plants != n || l.Counts != 5 || l.Harvested == "" {
			t.Errorf("%+v, want %d", l, n)
		}
	}
}

// One crop is counted once, whether it is told by its days or by its masses.
func TestDistinct(t *testing.T) {
	m, hs := demoHarvests(t)
	c, problems, err := cyclefile.Read(bytes.NewReader(demo.File("tier-2-middle.summer.cycle.yaml")), m.Bench())
	if err != nil || c == nil {
		t.Fatal(problems, err)
	}
	if kept, notes := Distinct([]*underlamp.Cycle{c}, hs); len(kept) != 4 || !strings.Contains(strings.Join(notes, " "), "overlap in time") {
		t.Errorf("%d kept, %q", len(kept), notes) // 20 July lies within cycle 04
	}
	if kept, notes := Distinct(nil, append(append([]trial.Harvest{}, hs...), hs[2])); len(kept) != 4 || !strings.Contains(strings.Join(notes, " "), "one crop, by their days") {
		t.Errorf("%d kept, %q", len(kept), notes)
	}
	c.Transplanted, c.Harvested = hs[1].Transplanted, hs[1].Harvested
	if kept, notes := Distinct([]*underlamp.Cycle{c}, hs); len(kept) != 3 || !strings.Contains(strings.Join(notes, " "), "counted once, as the cycle Summer") {
		t.Errorf("%d kept, %q", len(kept), notes)
	}
	late := hs[0]
	late.Transplanted, late.Harvested = "2027-03-01", "2027-04-01"
	if kept, notes := Distinct(nil, append(append([]trial.Harvest{}, hs...), late)); len(kept) != 4 || !strings.Contains(strings.Join(notes, " "), "by their masses") {
		t.Errorf("%d kept, %q", len(kept), notes)
	}
}

// Each unit of a block that was held out is forecast and scored; what comes out for the
// demo is printed, not judged: its masses are of no model of ours.
func TestHoldOut(t *testing.T) {
	if testing.Short() {
		t.Skip("learns twice")
	}
	m, hs := demoHarvests(t)
	hs = hs[:2]
	// That each is scored hangs on no precision, so few draws are kept.
	h, err := HoldOut(t.Context(), m, nil, hs, BacktestOptions{Posterior: 100, Draws: 100, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Trials) != 10 || len(h.Blocks) != 2 || !strings.Contains(h.Sentence(), "2 blocks") {
		t.Fatalf("%d units, %q", len(h.Trials), h.Sentence())
	}
	for _, u := range h.Trials {
		if math.IsNaN(u.Issues[0].Said.Mass.Mid) || u.Issues[0].Said.Of == 0 {
			t.Errorf("%s: %+v", u.Cycle, u.Issues[0].Said)
		}
	}
	t.Log(h.Sentence())
	if _, err := HoldOut(t.Context(), m, nil, hs[:1], BacktestOptions{}); err == nil {
		t.Error("one block was held out")
	}
}
