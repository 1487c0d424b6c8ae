package trialbook_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
	"underlamp/safefolder"
	"underlamp/science/quantity"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 8, 1, 9, 0, 0, 0, time.UTC)

const plan = `underlamp trial: 1
name: Two levels
table: t.csv
response: mass
layout: blocks
seed: 1
treatments:
  - {name: low}
  - {name: high}
units:
  - {name: A1, treatment: low, block: one, plants: 2}
  - {name: A2, treatment: high, block: one, plants: 2}
  - {name: B1, treatment: low, block: two, plants: 2}
  - {name: B2, treatment: high, block: two, plants: 2}
`

// places are a folder and a store, each with the plan.
func places(t *testing.T) map[string]trialbook.Place {
	t.Helper()
	dir := t.TempDir()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	out := map[string]trialbook.Place{"folder": safefolder.New(dir), "store": kept.NewPlace(context.Background(), s, time.Now)}
	for name, p := range out {
		if err := p.Change("t.yaml", func([]byte) ([]byte, error) { return []byte(plan), nil }); err != nil {
			t.Fatal(name, err)
		}
	}
	return out
}

func open(t *testing.T, p trialbook.Place) *trialbook.Page {
	t.Helper()
	page, err := trialbook.Open(p, "t.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func mass(key, unit, plant, value string) trialbook.Said {
	return trialbook.Said{Key: key, Unit: unit, Plant: plant, What: underlamp.ResponseMass, Value: value, Time: "2026-07-30", By: "AB"}
}

// What is said is kept once, however often it comes; a correction keeps the old value.
func TestRecord(t *testing.T) {
	for name, place := range places(t) {
		t.Run(name, func(t *testing.T) {
			p := open(t, place)
			said := mass("key001", "A1", "P1", "5")
			said.Measure = "oz"
			first, err := trialbook.Record(place, p, []trialbook.Said{said}, now)
			if err != nil || first[0].Again || first[0].Entry.ID != "key001-mass" || first[0].Entry.Note != "read as 5 oz" {
				t.Fatalf("%+v, %v", first, err)
			}
			// NIST SP 811 (ThompsonTaylor2008), appendix B.8: 1 oz = 28.349 52 g.
			if got := first[0].Entry.Value; got < 5*28.34952-1e-3 || got > 5*28.34952+1e-3 {
				t.Errorf("5 oz are %v g", got)
			}
			again, err := trialbook.Record(place, p, []trialbook.Said{said}, now)
			if err != nil || !again[0].Again || again[0].Entry.ID != first[0].Entry.ID {
				t.Errorf("sent again: %+v, %v", again, err)
			}
			said.Value = "6"
			var faults trialbook.FieldErrors
			if _, err := trialbook.Record(place, p, []trialbook.Said{said}, now); !errors.As(err, &faults) || faults[0].Field != "key" || !strings.Contains(faults[0].Reason, "141.7 g") {
				t.Errorf("another value under the same key: %v", err)
			}
			fix := trialbook.Said{Key: "key002", Value: "150", Corrects: "key001-mass", By: "CD"}
			if _, err := trialbook.Record(place, p, []trialbook.Said{fix}, now); err != nil {
				t.Fatal(err)
			}
			fix.Key, fix.Value = "key003", "160"
			if _, err := trialbook.Record(place, p, []trialbook.Said{fix}, now); !errors.As(err, &faults) || faults[0].Field != "corrects" {
				t.Errorf("a second correction of the same line: %v", err)
			}
			h := open(t, place).History("A1", "P1")
			if len(h) != 1 || len(h[0]) != 2 || h[0][0].Value != 150 || h[0][1].ID != "key001-mass" || h[0][0].TrialUnit != "A1" || h[0][0].Time != "2026-07-30" {
				t.Errorf("%+v", h)
			}
			if _, err := trialbook.Record(place, p, []trialbook.Said{{Key: "key004", Corrects: "key002-mass", Strike: true}}, now); err != nil {
				t.Fatal(err)
			}
			if s := open(t, place).Standing(); len(s) != 0 {
				t.Errorf("struck, yet %v", s)
			}
		})
	}
}

// All faults are told at once, each with its field, and nothing is kept.
func TestFaults(t *testing.T) {
	place := places(t)["folder"]
	p := open(t, place)
	good := mass("key001", "A1", "P1", "141,5 g")
	for field, change := range map[string]func(*trialbook.Said){
		"unit":     func(s *trialbook.Said) { s.Unit = "Z9" },
		"plant":    func(s *trialbook.Said) { s.Plant = " \u200b"[:1] },
		"value":    func(s *trialbook.Said) { s.Value = "heavy" },
		"what":     func(s *trialbook.Said) { s.What = "colour" },
		"time":     func(s *trialbook.Said) { s.Time = "2026-08-03" },
		"missing":  func(s *trialbook.Said) { s.Missing = "dead" },
		"note":     func(s *trialbook.Said) { s.Note = strings.Repeat("x", 1001) },
		"by":       func(s *trialbook.Said) { s.By = strings.Repeat("x", 81) },
		"key":      func(s *trialbook.Said) { s.Key = "../../etc" },
		"corrects": func(s *trialbook.Said) { s.Corrects = "e99" },
	} {
		bad := good
		change(&bad)
		_, err := trialbook.Record(place, p, []trialbook.Said{good, bad}, now)
		var faults trialbook.FieldErrors
		if !errors.As(err, &faults) || faults[0].Field != field || faults[0].Index != 1 {
			t.Errorf("%s: %v", field, err)
		}
	}
	for _, x := range []string{"2026-02-30", "30.7.2026", "1850-01-01", "2026-07-30 25:00"} {
		bad := good
		bad.Time = x
		if _, err := trialbook.Record(place, p, []trialbook.Said{bad}, now); err == nil {
			t.Errorf("the day %q was kept", x)
		}
	}
	for _, x := range []string{"-5", "NaN", "Inf", "9999999", "1e309", "1,234.5", "5 lumps", "0x1p4 g"} {
		bad := good
		bad.Value = x
		if k, err := trialbook.Record(place, p, []trialbook.Said{bad}, now); err == nil {
			t.Errorf("the mass %q was kept as %v", x, k[0].Entry.Value)
		}
	}
	if _, err := fs.Stat(place, "t.csv"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("there is a table: %v", err)
	}
	odd := good
	odd.Note, odd.By = "a \"quoted\",\nline; <b>bold</b> \x00\x07", "=1+1"
	if _, err := trialbook.Record(place, p, []trialbook.Said{odd}, now); err != nil {
		t.Fatal(err)
	}
	if e := open(t, place).All[0]; e.Note != `a "quoted", line; <b>bold</b>` || e.Value != 141.5 {
		t.Errorf("%+v", e)
	}
}

// Two people who write at once lose nothing, and a table changed by hand is not written
// over.
func TestTogether(t *testing.T) {
	for name, place := range places(t) {
		t.Run(name, func(t *testing.T) {
			var all sync.WaitGroup
			for k := range 4 {
				all.Go(func() {
					p, err := trialbook.Open(place, "t.yaml")
					if err != nil {
						t.Error(err)
						return
					}
					for i := range 8 {
						s := mass("", "A1", fmt.Sprintf("P%d", i), fmt.Sprint(100+k))
						if k%2 == 0 {
							s.Key = fmt.Sprintf("key%d00%d", k, i)
						}
						if _, err := trialbook.Record(place, p, []trialbook.Said{s}, now); err != nil {
							t.Error(err)
						}
					}
				})
			}
			all.Wait()
			if n := len(open(t, place).All); n != 32 {
				t.Errorf("%d lines of 32", n)
			}
		})
	}
}

// Whatever is said, the table can be read afterwards and holds what it held.
func TestTableStaysReadable(t *testing.T) {
	place := places(t)["folder"]
	rapid.Check(t, func(rt *rapid.T) {
		p := open(t, place)
		before := p.All
		text := rapid.String()
		s := trialbook.Said{Unit: rapid.SampledFrom([]string{"A1", "B2", "Z", ""}).Draw(rt, "unit"), Plant: text.Draw(rt, "plant"), What: rapid.SampledFrom(append(underlamp.Responses(), "x")).Draw(rt, "what"),
			Value: rapid.OneOf(text, rapid.SampledFrom([]string{"1", "12 g", "yes", "3,5", ""})).Draw(rt, "value"), Missing: text.Draw(rt, "missing"), Time: rapid.SampledFrom([]string{"", "2026-07-01", "x"}).Draw(rt, "time"), By: text.Draw(rt, "by"), Note: text.Draw(rt, "note")}
		if len(before) > 0 {
			s.Corrects = rapid.SampledFrom([]string{"", "", before[len(before)-1].ID}).Draw(rt, "corrects")
			s.Strike = s.Corrects != "" && rapid.Bool().Draw(rt, "strike")
		}
		_, err := trialbook.Record(place, p, []trialbook.Said{s}, now)
		after := open(t, place).All
		if want := len(before) + map[bool]int{true: 1}[err == nil]; len(after) != want {
			rt.Fatalf("%d lines, want %d (%v)", len(after), want, err)
		}
		for i := range before {
			if before[i] != after[i] {
				rt.Fatalf("line %d changed", i)
			}
		}
	})
}

// An import is kept whole, once; undone, it can be kept again; its mapping is remembered.
func TestImport(t *testing.T) {
	for name, place := range places(t) {
		t.Run(name, func(t *testing.T) {
			p := open(t, place)
			raw := []byte("Lamp;Head;Weight;Day\nA1;P1;120,5;2026-07-30\nA2;P1;4.9 oz;2026-07-30\nA2;P2;;2026-07-30\n")
			columns := map[string]string{"Lamp": "unit", "Head": "plant", "Weight": "mass", "Day": "time"}
			if _, err := trialbook.Prepare(p, table(t, raw), trialbook.Saying{}, now); err == nil {
				t.Error("unknown headings were taken")
			}
			d, err := trialbook.Prepare(p, table(t, raw), trialbook.Saying{Columns: columns}, now)
			if err != nil || len(d.New) != 2 || d.Missing != 1 || d.Number != 1 || d.New[0].Value != 120.5 {
				t.Fatalf("%+v, %v", d, err)
			}
			if len(open(t, place).All) != 0 {
				t.Error("a look has written")
			}
			for range 2 {
				if d, err = trialbook.Import(place, p, table(t, raw), trialbook.Saying{Columns: columns}, now); err != nil {
					t.Fatal(err)
				}
			}
			if len(d.New) != 0 || d.Duplicates != 2 || len(open(t, place).All) != 2 {
				t.Errorf("the same again: %+v", d)
			}
			p = open(t, place)
			if p.Trial.Columns["Weight"] != "mass" {
				t.Errorf("remembered: %v", p.Trial.Columns)
			}
			if _, err := trialbook.Record(place, p, []trialbook.Said{{Key: "key009", Corrects: "i1-2", Value: "139 g"}}, now); err != nil {
				t.Fatal(err)
			}
			if i := p.Imports(); len(i) != 1 || i[0] != (trialbook.Imported{Number: 1, Brought: 2, Standing: 1, Changed: 1}) {
				t.Errorf("%+v", i)
			}
			n, err := trialbook.Undo(place, p, 1, "AB", now)
			if err != nil || n != 1 {
				t.Errorf("undone: %d, %v", n, err)
			}
			if n, err := trialbook.Undo(place, p, 1, "AB", now); err != nil || n != 0 {
				t.Errorf("undone twice: %d, %v", n, err)
			}
			if _, err := trialbook.Undo(place, p, 7, "AB", now); err == nil {
				t.Error("an import that never was is undone")
			}
			if d, err := trialbook.Prepare(open(t, place), table(t, raw), trialbook.Saying{}, now); err != nil || len(d.New) != 1 || d.Number != 2 {
				t.Errorf("after the undoing: %+v, %v", d, err)
			}
			for _, bad := range []string{"unit,plant,mass\nA1,P9,12\nZZ,P1,4\n", "unit,plant,mass\nA1,P9,12\nA1,P8,heavy\n"} {
				before := len(open(t, place).All)
				if _, err := trialbook.Import(place, p, table(t, []byte(bad)), trialbook.Saying{}, now); err == nil || !strings.Contains(err.Error(), "line 3") {
					t.Errorf("%q: %v", bad, err)
				}
				if len(open(t, place).All) != before {
					t.Error("half an import was kept")
				}
			}
			if d, err := trialbook.Prepare(p, table(t, []byte("unit,plant,mass,time\nA1,P7,12,2031-01-01\n")), trialbook.Saying{}, now); err != nil || len(d.Doubts) == 0 || !strings.Contains(d.Doubts[0], "not come yet") {
				t.Errorf("a day to come: %+v, %v", d, err)
			}
		})
	}
}

// A table that a spreadsheet saved in its own dress is gone on with in that dress.
func TestOtherDress(t *testing.T) {
	head := strings.Join(trialtable.Header, ";")
	for _, raw := range []string{head + "\r\ne1;2026-07-01;A1;P1;mass;120,5;;;;;;\r\n", head + "\ne1;2026-07-01;A1;P1;mass;120,5;;;;;;", "\ufeff" + strings.ReplaceAll(head, ";", ",") + "\ne1,2026-07-01,A1,P1,mass,120.5,,,,,,"} {
		place := places(t)["folder"]
		if err := place.Change("t.csv", func([]byte) ([]byte, error) { return []byte(raw), nil }); err != nil {
			t.Fatal(err)
		}
		p := open(t, place)
		if _, err := trialbook.Record(place, p, []trialbook.Said{mass("key001", "A1", "P2", "130.5")}, now); err != nil {
			t.Errorf("%q: %v", raw, err)
		}
		text, err := fs.ReadFile(place, "t.csv")
		if err != nil || !bytes.HasPrefix(text, []byte(raw)) || len(open(t, place).All) != 2 {
			t.Errorf("%q, %v", text, err)
		}
	}
	place := places(t)["folder"]
	broken := "id;what\nnonsense\n"
	if err := place.Change("t.csv", func([]byte) ([]byte, error) { return []byte(broken), nil }); err != nil {
		t.Fatal(err)
	}
	p, err := trialbook.Open(place, "t.yaml")
	var table *trialbook.TableError
	if !errors.As(err, &table) || p == nil {
		t.Fatalf("%v", err)
	}
	if _, err := trialbook.Record(place, p, []trialbook.Said{mass("key001", "A1", "P2", "130.5")}, now); !errors.As(err, &table) {
		t.Errorf("%v", err)
	}
	if text, _ := fs.ReadFile(place, "t.csv"); string(text) != broken {
		t.Errorf("%q", text)
	}
}

// How far a trial is follows from what is missing.
func TestProgress(t *testing.T) {
	place := places(t)["folder"]
	p := open(t, place)
	state := func() trialbook.State { _, s := open(t, place).Progress(); return s }
	if state() != trialbook.Planned {
		t.Error(state())
	}
	for i, unit := range []string{"A1", "A2", "B1", "B2"} {
		for k := range 2 {
			s := mass(fmt.Sprintf("key%d%d0", i, k), unit, fmt.Sprintf("P%d", k+1), "120")
			if i == 3 && k == 1 {
				s.Value, s.Missing = "", "dead"
			}
			if _, err := trialbook.Record(place, p, []trialbook.Said{s}, now); err != nil {
				t.Fatal(err)
			}
			want := trialbook.Running
			if i == 3 && k == 1 {
				want = trialbook.Done
			}
			if state() != want {
				t.Errorf("%s %d: %s", unit, k, state())
			}
		}
	}
	units, _ := open(t, place).Progress()
	if u := units[3]; u.Seen != 1 || u.Absent != 1 || !u.Done() || u.Plants[1].Code != "P2" {
		t.Errorf("%+v", u)
	}
}

// A question is read with all its faults, and its plan is written once.
func TestQuestion(t *testing.T) {
	place := places(t)["folder"]
	none := func(string) (*light.Model, error) { return nil, errors.New("none") }
	good := trialbook.Question{Name: "Fan or not?", Treatments: []string{"fan on", "", "fan off"}, Control: "fan off", Response: "mass", Difference: "12 g", Expect: "150", Lamps: "2", Plants: "6", Cycles: "4", Seed: "7"}
	a, err := good.Ask(place, none)
	if err != nil || len(a.Treatments) != 2 || !a.Treatments[1].Control || !(a.Lamp > 0) || a.Origin != underlamp.Default {
		t.Fatalf("%+v, %v", a, err)
	}
	light := good
	light.Treatments, light.Control, light.Levels, light.Hours = nil, "250 µmol/m²/s", []string{"12", "250 µmol/m²/s"}, "16"
	// 250 µmol/m²/s for 16 h are 250 · 16 · 3600 / 10⁶ = 14.4 mol/m²/d.
	if a, err = light.Ask(place, none); err != nil || a.Treatments[1].DLI < 14.39 || a.Treatments[1].DLI > 14.41 || !a.Treatments[1].Control {
		t.Errorf("%+v, %v", a, err)
	}
	for field, change := range map[string]func(*trialbook.Question){
		"treatments": func(q *trialbook.Question) { q.Treatments, q.Control = []string{"one"}, "" },
		"control":    func(q *trialbook.Question) { q.Control = "nobody" },
		"response":   func(q *trialbook.Question) { q.Response = "taste" },
		"difference": func(q *trialbook.Question) { q.Difference = "" },
		"expect":     func(q *trialbook.Question) { q.Expect = "much" },
		"factors":    func(q *trialbook.Question) { q.Treatments, q.Control, q.Factors = nil, "", []string{"hours=14"} },
		"checks":     func(q *trialbook.Question) { q.Checks = []string{"nobody"} },
		"rounds":     func(q *trialbook.Question) { q.Response, q.Difference, q.Expect, q.Rounds = "onset", "5 d", "", "30" },
		"lamps":      func(q *trialbook.Question) { q.Lamps = "many" },
		"plants":     func(q *trialbook.Question) { q.Plants = "0" },
		"cycles":     func(q *trialbook.Question) { q.Cycles = "-1" },
		"seed":       func(q *trialbook.Question) { q.Seed = "x" },
		"bench":      func(q *trialbook.Question) { q.Bench = "x.yaml" },
		"from":       func(q *trialbook.Question) { q.From = "t.yaml" },
		"levels":     func(q *trialbook.Question) { q.Levels = []string{"dark"} },
		"hours":      func(q *trialbook.Question) { q.Hours = "26" },
		"parts":      func(q *trialbook.Question) { q.Parts = []string{"a", "a"} },
	} {
		q := good
		change(&q)
		var faults trialbook.FieldErrors
		if _, err := q.Ask(place, none); !errors.As(err, &faults) || len(faults) != 1 || faults[0].Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
	for response, difference := range map[string]string{"burn": "20 %", "severity": "0.3", "onset": "5 d", "height": "2 cm"} {
		q := good
		q.Response, q.Difference, q.Expect = response, difference, ""
		if a, err := q.Ask(place, none); err != nil || !(a.Difference > 0) || a.Onset != (response == "onset") {
			t.Errorf("%s: %+v, %v", response, a, err)
		}
	}
	several := good
	several.Treatments, several.Control, several.Factors = nil, "", []string{"hours=14,18 h", "fan=on,off"}
	if a, err := several.Ask(place, none); err != nil || len(a.Treatments) != 4 {
		t.Errorf("%+v, %v", a, err)
	}
	for name, want := range map[string]string{"Fan or not?": "fan-or-not.trial.yaml", "../../etc/passwd": "etc-passwd.trial.yaml", "光": "trial.trial.yaml", strings.Repeat("ab ", 90): strings.Repeat("ab-", 19) + "ab.trial.yaml"} {
		if got := trialbook.FileOf(name); len(got) > 80 || got != want && len(name) < 90 {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
	p := open(t, place)
	one := *p.Trial
	for range 2 {
		if err := trialbook.Write(place, "new.trial.yaml", &one); err != nil {
			t.Fatal(err)
		}
	}
	other := one
	other.Name = "Another"
	if err := trialbook.Write(place, "new.trial.yaml", &other); !errors.Is(err, trialbook.ErrTaken) {
		t.Errorf("%v", err)
	}
	if again, err := trialbook.Open(place, "new.trial.yaml"); err != nil || again.Trial.Table != "new.trial.csv" || again.Trial.Name != "Two levels" {
		t.Errorf("%+v, %v", again, err)
	}
}

// The demo's own trial is read and gone on with.
func TestDemo(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	files, err := trialbook.Files(os.DirFS(dir))
	if err != nil || !slices.Contains(files, "light-levels.trial.yaml") {
		t.Fatal(files, err)
	}
	place := safefolder.New(dir)
	p, err := trialbook.Open(place, "light-levels.trial.yaml")
	if err != nil {
		t.Fatal(err)
	}
	before, err := fs.ReadFile(place, p.Trial.Table)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := trialbook.Record(place, p, []trialbook.Said{{Unit: "C1-L1", Plant: "P1", What: underlamp.ResponseMass, Value: "5.5", Time: "2026-04-28"}}, now)
	if err != nil || len(kept[0].Doubts) == 0 {
		t.Errorf("%+v, %v", kept, err)
	}
	if after, _ := fs.ReadFile(place, p.Trial.Table); !bytes.HasPrefix(after, before) {
		t.Error("what stood there was changed")
	}
}

// Lengths are said in the units of who reads; everything else is alike in both.
func TestSaidIn(t *testing.T) {
	for _, c := range []struct {
		e          underlamp.TrialEntry
		metric, us string
	}{
		{underlamp.TrialEntry{What: underlamp.ResponseHeight, Value: 25.4}, "25.4 cm", "10 in"},
		{underlamp.TrialEntry{What: underlamp.ResponseHeight, Missing: "dead"}, "missing: dead", "missing: dead"},
		{underlamp.TrialEntry{What: underlamp.ResponseHeight, Value: 3, Struck: true}, "struck out", "struck out"},
		{underlamp.TrialEntry{What: underlamp.ResponseMass, Value: 158.5}, "158.5 g", "158.5 g"},
		{underlamp.TrialEntry{What: underlamp.ResponseBurn, Value: 1}, "yes", "yes"},
	} {
		if metric, us := trialbook.SaidIn(quantity.Metric, c.e), trialbook.SaidIn(quantity.US, c.e); metric != c.metric || us != c.us {
			t.Errorf("%+v: %q and %q, want %q and %q", c.e, metric, us, c.metric, c.us)
		}
	}
}

// table reads a table as it comes.
func table(t *testing.T, raw []byte) *sheet.Table {
	t.Helper()
	tab, err := trialtable.Open(raw, "", 0, sheet.Conventions{})
	if err != nil {
		t.Fatal(err)
	}
	return tab
}
