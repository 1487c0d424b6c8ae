package trial_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/trial"
)

// The jobs of a plan with days stand on those days; every plant of the plan has one code.
func TestSheetOfTheDemo(t *testing.T) {
	plan, _ := demoTrial(t, "light-levels")
	s, err := trial.NewSheet(plan, nil, trial.SheetOptions{})
	if err != nil || !s.Dated || len(s.Blocks) != 4 {
		t.Fatal(err, s)
	}
	for _, j := range s.Jobs {
		c := plan.Cycle(j.Block)
		from, _ := time.Parse(time.DateOnly, c.Transplanted)
		if want := from.AddDate(0, 0, j.Of).Format(time.DateOnly); j.Date != want {
			t.Errorf("%s of %s on %s, want %s", j.Title, j.Block, j.Date, want)
		}
		if j.Title == "Cut and weigh" && j.Date != c.Harvested {
			t.Errorf("%s is cut on %s, the plan says %s", j.Block, j.Date, c.Harvested)
		}
	}
	if !slices.IsSortedFunc(s.Jobs, func(a, b trial.Job) int { return strings.Compare(a.Date, b.Date) }) {
		t.Error("jobs are not in the order of their days")
	}
	codes := map[string]bool{}
	for _, b := range s.Blocks {
		for _, u := range b.Units {
			for _, p := range u.Plants {
				codes[p.Code] = true
			}
		}
	}
	if len(codes) != 160 || !codes["C4-L5-P8"] {
		t.Errorf("%d codes", len(codes))
	}
	other := *plan
	other.Seed++
	again, _ := trial.NewSheet(&other, nil, trial.SheetOptions{})
	differ := false
	for i := range s.Blocks {
		for k := range s.Blocks[i].Units {
			differ = differ || s.Blocks[i].Units[k].Name != again.Blocks[i].Units[k].Name
		}
	}
	if !differ {
		t.Error("the order of looking does not hang on the seed")
	}
	for _, bad := range []trial.SheetOptions{{Days: -1}, {Days: 500}, {Gap: -2}, {Start: "soon"}} {
		if _, err := trial.NewSheet(plan, nil, bad); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
}

// Whatever the plan, jobs follow each other, blocks without days begin after the one
// before, and IDs are unique.
func TestSheetDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &underlamp.Trial{Name: "x", Seed: rapid.Uint64().Draw(t, "seed")}
		n := rapid.IntRange(1, 4).Draw(t, "blocks")
		for b := range n {
			for u := range rapid.IntRange(1, 3).Draw(t, "units") {
				p.Places = append(p.Places, underlamp.TrialUnit{Name: fmt.Sprintf("C%d-L%d", b, u), Block: fmt.Sprint(b), Plants: rapid.IntRange(0, 5).Draw(t, "plants")})
			}
		}
		opt := trial.SheetOptions{Days: rapid.IntRange(1, 60).Draw(t, "days"), Gap: rapid.IntRange(1, 9).Draw(t, "gap")}
		if rapid.Bool().Draw(t, "dated") {
			opt.Start = "2026-10-20"
		}
		s, err := trial.NewSheet(p, nil, opt)
		if err != nil {
			t.Fatal(err)
		}
		ids := map[string]bool{}
		last := map[string]int{}
		for _, j := range s.Jobs {
			if ids[j.ID(p)] {
				t.Fatalf("id of %+v twice", j)
			}
			ids[j.ID(p)] = true
			if j.Of < 0 || j.Of > opt.Days || j.Day < last[j.Block] || (j.Date != "") != (opt.Start != "") {
				t.Fatalf("%+v", j)
			}
			last[j.Block] = j.Day
		}
		for b := 1; b < len(s.Blocks); b++ {
			if opt.Start != "" && s.Blocks[b].Start <= s.Blocks[b-1].End {
				t.Fatalf("%+v", s.Blocks)
			}
		}
	})
}

// The next job is the first that is not past, and none after the last.
func TestNextJob(t *testing.T) {
	plan, _ := demoTrial(t, "light-levels")
	for day, want := range map[string]string{"2026-01-01": "2026-03-31", "2026-04-13": "2026-04-14", "2026-04-14": "2026-04-14", "2026-07-28": "2026-07-28"} {
		if j, ok := trial.NextJob(plan, day); !ok || j.Date != want {
			t.Errorf("from %s on: %+v %t", day, j, ok)
		}
	}
	if j, ok := trial.NextJob(plan, "2026-07-29"); ok {
		t.Errorf("after the last job: %+v", j)
	}
	plan.Cycles = nil
	if _, ok := trial.NextJob(plan, "2026-01-01"); ok {
		t.Error("a job without days")
	}
}
