package trialbook_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/round"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/formats/trialtable"
	"underlamp/safefolder"
)

const benchPlan = `underlamp trial: 1
name: Two panels
bench: tier-2-middle.yaml
table: t.csv
response: mass
layout: blocks
seed: 1
treatments:
  - {name: low}
  - {name: high}
cycles:
  - {block: one, transplanted: 2026-09-01, harvested: 2026-10-05}
  - {block: two, transplanted: 2026-10-12}
units:
  - {name: A1, treatment: low, block: one, lamp: left panel, plants: 9}
  - {name: A2, treatment: high, block: one, lamp: right panel, plants: 9}
  - {name: B1, treatment: high, block: two, lamp: left panel, plants: 9}
  - {name: B2, treatment: low, block: two, lamp: right panel, plants: 9}
`

// walk is a trial on a bench whose plants are seen on rounds.
type walk struct {
	t     *testing.T
	place trialbook.Place
	bench *underlamp.Bench
	plots []trialbook.Plot
	seen  []round.Entry
}

var walkDay = time.Date(2026, 11, 10, 8, 30, 0, 0, time.UTC)

func newWalk(t *testing.T, plan string) *walk {
	t.Helper()
	b, err := benchfolder.Bench(demo.Folder(), "tier-2-middle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	w := &walk{t: t, place: safefolder.New(t.TempDir()), bench: b}
	if err := w.place.Change("t.yaml", func([]byte) ([]byte, error) { return []byte(plan), nil }); err != nil {
		t.Fatal(err)
	}
	if w.plots, err = trialbook.Plots(m, w.page().Trial); err != nil {
		t.Fatal(err)
	}
	return w
}

func (w *walk) page() *trialbook.Page {
	p := open(w.t, w.place)
	p.Stand(w.plots)
	return p
}

func (w *walk) walked() trialbook.Walked {
	return trialbook.Walked{Record: round.NewRecord(w.seen, time.UTC), Bench: w.bench, Plots: w.plots}
}

func (w *walk) see(id, plant string, what underlamp.Response, typed, corrects string, at time.Time) {
	w.t.Helper()
	e, err := round.New(id, "tier-2-middle", at, at, round.Seen{Plant: plant, What: what, Typed: typed, By: "Ines", With: "kitchen scale"}, corrects, w.bench)
	if err != nil {
		w.t.Fatal(err)
	}
	w.seen = append(w.seen, e)
}

func (w *walk) take(decided map[string]trialbook.Decision) *trialbook.Taking {
	w.t.Helper()
	p := w.page()
	shown, err := trialbook.Take(p, w.walked(), nil, "", walkDay)
	if err != nil {
		w.t.Fatal(err)
	}
	done, err := trialbook.TakeOver(w.place, p, w.walked(), shown.Fingerprint(), decided, "Ida", walkDay)
	if err != nil {
		w.t.Fatal(err)
	}
	return done
}

// standing are the values of the table that count, in words.
func (w *walk) standing() []string {
	var out []string
	for _, e := range w.page().Standing() {
		out = append(out, fmt.Sprintf("%s %s %s %s %s", e.Time[:10], e.TrialUnit, e.Plant, e.What, trialbook.SaidOf(e)))
	}
	slices.Sort(out)
	return out
}

// at is the plant of the bench at a place of the trial that counts.
func (w *walk) at(unit string, n int) trialbook.Plot {
	for _, p := range w.plots {
		if p.Unit == unit && p.Guard == "" {
			if n == 0 {
				return p
			}
			n--
		}
	}
	w.t.Fatalf("unit %s has no plant", unit)
	return trialbook.Plot{}
}

func is(t *testing.T, what string, got []string, want ...string) {
	t.Helper()
	if want = slices.Sorted(slices.Values(want)); !slices.Equal(got, want) {
		t.Errorf("%s:\n%s\nwant\n%s", what, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// What is seen on rounds is entered into the trial once, at the plant and the block that it
// belongs to; corrections and strikes of the rounds follow.
func TestRoundsAreTakenOver(t *testing.T) {
	w := newWalk(t, benchPlan)
	a, b := w.at("B1", 0), w.at("B2", 1)
	early := time.Date(2026, 10, 4, 18, 0, 0, 0, time.UTC)
	w.see("seen-0001", a.Name, underlamp.ResponseMass, "4.97 oz", "", walkDay.AddDate(0, 0, -1))
	w.see("seen-0002", b.Name, underlamp.ResponseHeight, "9 cm", "", walkDay)
	w.see("seen-0003", a.Name, underlamp.ResponseMass, "90 g", "", early) // in the block before: another unit
	w.see("seen-0004", a.Name, underlamp.ResponseMass, "90 g", "", time.Date(2026, 10, 8, 9, 0, 0, 0, time.UTC))
	w.see("seen-0005", a.Name, round.Cut, "", "", walkDay)
	p := w.page()
	shown, err := trialbook.Take(p, w.walked(), nil, "", walkDay)
	if err != nil {
		t.Fatal(err)
	}
	if len(shown.Moves) != 3 || len(shown.Clashes) != 0 || shown.Known != 0 {
		t.Errorf("%+v", shown)
	}
	is(t, "left out", shown.Left, "1 entry of notes, photos and cuts, for which a trial has no line", "1 entry of days on which no block of the trial grows")
	if len(w.page().All) != 0 {
		t.Error("looking wrote")
	}
	w.take(nil)
	before := ""
	for _, x := range w.plots {
		if x.Block == "one" && x.Name == a.Name {
			before = x.Unit + " " + x.Plant
		}
	}
	first := []string{"2026-11-09 B1 " + a.Plant + " mass 140.9 g", "2026-11-10 B2 " + b.Plant + " height 9 cm", "2026-10-04 " + before + " mass 90 g"}
	is(t, "taken", w.standing(), first...)
	if again := w.take(nil); len(again.Moves) != 0 || again.Known != 3 {
		t.Errorf("again: %+v", again)
	}
	e := w.page().Standing()[1]
	if e.By != "Ines" || e.With != "kitchen scale" || !strings.Contains(e.Note, "from the rounds") {
		t.Errorf("%+v", e)
	}
	if from := trialbook.Sources(w.page().Standing()); from != "Where the 3 values are from: 3 from the rounds of the bench." {
		t.Error(from)
	}

	w.see("seen-0006", a.Name, underlamp.ResponseMass, "150 g", "seen-0001", walkDay.Add(time.Hour))
	strike, err := round.Strike("seen-0007", w.seen[1], walkDay.Add(time.Hour), "Ines", "wrong plant")
	if err != nil {
		t.Fatal(err)
	}
	w.seen = append(w.seen, strike)
	if done := w.take(nil); len(done.Moves) != 2 || done.Moves[0].Was != "140.9 g" {
		t.Errorf("%+v", done)
	}
	is(t, "corrected", w.standing(), "2026-11-09 B1 "+a.Plant+" mass 150 g", first[2])
	if again := w.take(nil); len(again.Moves) != 0 {
		t.Errorf("again: %+v", again)
	}
	text, err := trialtable.Read(readAll(t, w.place, "t.csv"))
	if err != nil || len(text) != 5 {
		t.Errorf("%d lines, %v", len(text), err)
	}
}

// Where rounds and table say different things, both are kept and a person decides; who was
// not asked is not answered for.
func TestRoundsAgainstTheTable(t *testing.T) {
	for decision, want := range map[trialbook.Decision]string{"": "120 g", trialbook.ByTable: "120 g", trialbook.ByRounds: "131 g"} {
		w := newWalk(t, benchPlan)
		a, b := w.at("B1", 0), w.at("B1", 1)
		for i, x := range []trialbook.Plot{a, b} {
			if _, err := trialbook.Record(w.place, w.page(), []trialbook.Said{{Key: fmt.Sprintf("byhand%d", i), Unit: x.Unit, Plant: x.Plant, What: underlamp.ResponseMass, Value: "120 g", Time: "2026-11-10", By: "AB"}}, walkDay); err != nil {
				t.Fatal(err)
			}
		}
		w.see("seen-0001", a.Name, underlamp.ResponseMass, "131 g", "", walkDay)
		w.see("seen-0002", b.Name, underlamp.ResponseMass, "120 g", "", walkDay) // the same as by hand
		shown, err := trialbook.Take(w.page(), w.walked(), nil, "", walkDay)
		if err != nil {
			t.Fatal(err)
		}
		if len(shown.Moves) != 0 || len(shown.Clashes) != 1 || shown.Known != 1 || shown.Clashes[0].Table.By != "AB" || shown.Clashes[0].Rounds.By != "Ines" {
			t.Fatalf("%+v", shown)
		}
		w.take(map[string]trialbook.Decision{shown.Clashes[0].Key(): decision})
		is(t, string(decision), w.standing(), "2026-11-10 B1 "+a.Plant+" mass "+want, "2026-11-10 B1 "+b.Plant+" mass 120 g")
		again, err := trialbook.Take(w.page(), w.walked(), nil, "", walkDay)
		if err != nil {
			t.Fatal(err)
		}
		if asked := len(again.Clashes) == 1; asked != (decision == "") || len(again.Moves) != 0 {
			t.Errorf("%q: asked again: %+v", decision, again)
		}
		values := 0
		for _, e := range w.page().All {
			if e.Plant == a.Plant && !e.Struck && (e.Value == 120 || e.Value == 131) {
				values++
			}
		}
		if decision != "" && values != 2 {
			t.Errorf("%q: %d of the two values are in the table", decision, values)
		}
	}
}

// Rounds that disagree among themselves are not taken; what changed since it was shown is
// not taken unseen; a grade answers whether there is burn; a plan without days says so.
func TestRoundsThatMustWait(t *testing.T) {
	w := newWalk(t, strings.Replace(benchPlan, "response: mass", "response: burn", 1))
	a := w.at("B1", 0)
	w.see("seen-0001", a.Name, underlamp.ResponseMass, "131 g", "", walkDay)
	w.see("seen-0002", a.Name, underlamp.ResponseMass, "113 g", "", walkDay.Add(time.Minute))
	w.see("seen-0003", a.Name, underlamp.ResponseSeverity, "2", "", walkDay)
	shown, err := trialbook.Take(w.page(), w.walked(), nil, "", walkDay)
	if err != nil {
		t.Fatal(err)
	}
	is(t, "left out", shown.Left, "2 entries on which the rounds disagree among themselves; decide that first on the page of what was seen")
	w.see("seen-0004", w.at("B1", 1).Name, underlamp.ResponseMass, "99 g", "", walkDay)
	if _, err := trialbook.TakeOver(w.place, w.page(), w.walked(), shown.Fingerprint(), nil, "Ida", walkDay); !errors.Is(err, trialbook.ErrMoved) {
		t.Errorf("what was not shown: %v", err)
	}
	w.take(nil)
	is(t, "taken", w.standing(), "2026-11-10 B1 "+a.Plant+" severity 2", "2026-11-10 B1 "+a.Plant+" burn yes", "2026-11-10 B1 "+w.at("B1", 1).Plant+" mass 99 g")

	from, to := strings.Index(benchPlan, "cycles:"), strings.Index(benchPlan, "units:")
	w = newWalk(t, benchPlan[:from]+benchPlan[to:])
	if _, err := trialbook.Take(w.page(), w.walked(), nil, "", walkDay); err == nil || !strings.Contains(err.Error(), "cycles:") {
		t.Errorf("a plan without days: %v", err)
	}
}

// Guards are grown and not waited for, unless somebody recorded one.
func TestGuardsAreNotDue(t *testing.T) {
	w := newWalk(t, benchPlan)
	p := w.page()
	p.Stand([]trialbook.Plot{{Unit: "A1", Plant: "P1", Guard: "at the edge"}, {Unit: "A1", Plant: "P2", Guard: "at the edge"}, {Unit: "A1", Plant: "P3"}})
	units, _ := p.Progress()
	if u := units[0]; u.Due() != 7 || u.Guards != 2 || u.Plants[0].Guard != "at the edge" || u.Plants[2].Guard != "" || u.Done() {
		t.Errorf("%+v", u)
	}
	var said []trialbook.Said
	for i := 2; i <= 9; i++ {
		said = append(said, trialbook.Said{Key: fmt.Sprintf("key%03d", i), Unit: "A1", Plant: fmt.Sprintf("P%d", i), What: underlamp.ResponseMass, Value: "100", Time: "2026-10-05", By: "AB"})
	}
	if _, err := trialbook.Record(w.place, p, said, walkDay); err != nil {
		t.Fatal(err)
	}
	units, _ = p.Progress()
	if u := units[0]; u.Due() != 8 || u.Seen != 8 || !u.Done() {
		t.Errorf("%+v", u)
	}
}

func readAll(t *testing.T, place trialbook.Place, name string) []byte {
	t.Helper()
	var text []byte
	if err := place.Change(name, func(was []byte) ([]byte, error) { text = was; return nil, nil }); err != nil {
		t.Fatal(err)
	}
	return text
}
