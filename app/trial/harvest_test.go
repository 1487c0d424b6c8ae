package trial_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/demo"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
)

func demoTrial(t testing.TB) (*underlamp.Trial, []underlamp.TrialEntry) {
	t.Helper()
	plan, problems, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil || plan == nil {
		t.Fatal(problems, err)
	}
	all, err := trialtable.Read(demo.File("light-levels.trial.csv"))
	if err != nil {
		t.Fatal(err)
	}
	return plan, trialtable.Standing(all)
}

// Every mass and every look of the table is found again in the harvests, once.
func TestHarvestsHoldTheTable(t *testing.T) {
	plan, entries := demoTrial(t)
	hs, notes, err := trial.Harvests(plan, entries, "Tarn Copper")
	if err != nil || len(hs) != 4 {
		t.Fatal(len(hs), notes, err)
	}
	masses, looks, burnt := 0, 0, 0
	sum := 0.0
	for _, h := range hs {
		if h.Days != 28 || len(h.Units) != 5 {
			t.Errorf("%s: %d days, %d units", h.Block, h.Days, len(h.Units))
		}
		for _, u := range h.Units {
			for _, m := range u.Masses() {
				masses++
				sum += m
			}
			b, of := u.Burn()
			looks, burnt = looks+of, burnt+b
			if u.Aimed || u.DLI < 9 || u.DLI > 23 {
				t.Errorf("%s got %v", u.Unit, u.DLI)
			}
		}
	}
	wantM, wantL, wantB, wantSum := 0, 0, 0, 0.0
	for _, e := range entries {
		switch {
		case e.Missing != "":
		case e.What == underlamp.ResponseMass:
			wantM++
			wantSum += e.Value
		case e.What == underlamp.ResponseBurn:
			wantL++
			if e.Value > 0 {
				wantB++
			}
		}
	}
	if masses != wantM || looks != wantL || burnt != wantB || math.Abs(sum-wantSum) > 1e-6 {
		t.Errorf("%d masses of %g g, %d looks, %d burnt; the table has %d of %g g, %d, %d", masses, sum, looks, burnt, wantM, wantSum, wantL, wantB)
	}
	if u := hs[0].UnitSD; u.Origin != underlamp.Fitted || u.Value < 0.01 || u.Value > 0.1 {
		t.Errorf("spread of units %+v", u)
	}
}

// What cannot teach is left out and said.
func TestHarvestsLeaveOut(t *testing.T) {
	plan, entries := demoTrial(t)
	plan.Cycles = plan.Cycles[1:]
	hs, notes, err := trial.Harvests(plan, entries, "")
	if err != nil || len(hs) != 3 || !strings.Contains(strings.Join(notes, " "), "cycle 01 has no day of transplanting") {
		t.Errorf("%d %v %v", len(hs), notes, err)
	}
	plan.Treatments[0].DLI = 0
	for i := range plan.Places {
		plan.Places[i].Part = "Other"
		if plan.Places[i].Block == "cycle 02" {
			plan.Places[i].Part = "tarn copper"
		}
	}
	hs, notes, err = trial.Harvests(plan, entries, "Tarn Copper")
	if err != nil || len(hs) != 1 || len(hs[0].Units) != 4 || !strings.Contains(strings.Join(notes, " "), "no level of light") || !strings.Contains(strings.Join(notes, " "), "Units of Other are left out") {
		t.Errorf("%d %v %v", len(hs), notes, err)
	}
	plan.Cycles = nil
	if _, _, err = trial.Harvests(plan, entries, ""); err == nil {
		t.Error("no days, yet something to learn")
	}
}
