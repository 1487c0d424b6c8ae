package notes_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/dataset"
	"underlamp/app/kept"
	"underlamp/app/notes"
	"underlamp/app/round"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func take(t testing.TB, o *notes.Office, text string, said notes.Said) (*notes.Draft, *notes.Record) {
	t.Helper()
	d, r, err := o.Take(context.Background(), "n.csv", []byte(text), file, said, "Ida")
	if err != nil {
		t.Fatal(err)
	}
	return d, r
}

func counting(t testing.TB, o *notes.Office) []string {
	t.Helper()
	obs, err := o.Seen.Observations(context.Background(), "shelf", 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	all, faults := round.ReadAll(obs)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var out []string
	for _, e := range round.NewRecord(all, time.UTC).Standing() {
		out = append(out, fmt.Sprintf("%s %s %s", e.Plant, e.What, e.Text()))
	}
	slices.Sort(out)
	return out
}

// Of two values a person chooses; taken back, what was there counts again; what somebody has
// corrected since stays, and is told; the same file brings only what is not there.
func TestConflicts(t *testing.T) {
	o := office(t)
	_, first := take(t, o, "plant;day;mass\nP1;2026-10-12;100\nP2;2026-10-12;110\n", notes.Said{})
	other := "plant;day;mass\nP1;2026-10-12;105\nP2;2026-10-12;111\nP3;2026-10-12;120\n"
	d, _ := take(t, o, other, notes.Said{})
	if len(d.Conflicts) != 2 || len(d.New) != 1 || d.Conflicts[0].Has != "100 g" || d.Conflicts[0].Says != "105 g" || d.Conflicts[0].Place != "line 2, column 3" {
		t.Fatalf("%+v", d.Conflicts)
	}
	d, second := take(t, o, other, notes.Said{Choices: map[string]bool{"line 2, column 3": true}})
	if len(d.New) != 1 || d.New[0].Over != "100 g" || d.Same != 1 {
		t.Fatalf("%+v", d)
	}
	if got, want := counting(t, o), []string{"P1 mass 105 g", "P2 mass 110 g", "P3 mass 120 g"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if r, err := o.Undo(context.Background(), second.ID, "Ida"); err != nil || len(r.Undone.Told) > 0 {
		t.Fatalf("%v %+v", err, r)
	}
	if got, want := counting(t, o), []string{"P1 mass 100 g", "P2 mass 110 g", "P3 mass 120 g"}; !slices.Equal(got, want) {
		t.Errorf("taken back: %q, want %q", got, want)
	}
	// Somebody corrects an imported value; the import is taken back; the correction stays.
	obs, err := o.Seen.Observations(context.Background(), "shelf", 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	all, _ := round.ReadAll(obs)
	for _, e := range all {
		if e.ID == first.ID+"-2" {
			fix := round.Entry{ID: "person-0001", Bench: "shelf", At: e.At, Recorded: now, Corrects: e.ID, Seen: round.Seen{Plant: "P2", What: "mass", Typed: "112", Value: 112, Unit: "g", By: "Jon"}}
			x, err := fix.Observation()
			if err != nil {
				t.Fatal(err)
			}
			if err := o.Seen.Observe(context.Background(), []store.Observation{x}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if d, _, err := o.Take(context.Background(), "n.csv", []byte("plant;day;mass\nP2;2026-10-12;110\n"), file, notes.Said{}, ""); err != nil || len(d.New) > 0 || len(d.Conflicts) > 0 {
		t.Errorf("what was corrected comes again: %+v %v", d, err)
	}
	r, err := o.Undo(context.Background(), first.ID, "Ida")
	if err != nil || len(r.Undone.Told) != 2 || !strings.Contains(strings.Join(r.Undone.Told, " "), "P2, mass of 2026-10-12: Jon has corrected it since") {
		t.Fatalf("%v %+v", err, r)
	}
	if got, want := counting(t, o), []string{"P1 mass 100 g", "P2 mass 112 g", "P3 mass 120 g"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// Cycles are files that the reader of cycles reads; one that was changed since stays.
func TestCropFiles(t *testing.T) {
	o := office(t)
	_, r := take(t, o, "planted;harvest;heads;total mass (g);burnt\n2026-02-14;2026-03-20;6;900;1\n2026-05-16;2026-06-18;5;800;0\n", notes.Said{})
	name := "shelf.2026-02-14.cycle.yaml"
	raw, err := fs.ReadFile(o.Place, name)
	if err != nil {
		t.Fatal(err)
	}
	c, problems, err := cyclefile.Read(bytes.NewReader(raw), nil)
	if err != nil || c == nil || len(problems) > 0 {
		t.Fatalf("%v %v\n%s", err, problems, raw)
	}
	// 900 g of 6 heads are 150 g each.
	if m := c.Observations[0]; c.Days != 34 || m.Heads != 6 || float64(*m.Mass) != 150 || m.Plant != "" || c.Observations[1].Count.Burnt != 1 || c.Observations[1].Count.Of != 6 {
		t.Errorf("%+v\n%s", c, raw)
	}
	if err := o.Place.Change(name, func(was []byte) ([]byte, error) { return append(was, "# mine\n"...), nil }); err != nil {
		t.Fatal(err)
	}
	back, err := o.Undo(context.Background(), r.ID, "")
	if err != nil || len(back.Undone.Told) != 1 || !strings.Contains(back.Undone.Told[0], name) {
		t.Fatalf("%v %+v", err, back)
	}
	if _, err := fs.Stat(o.Place, "shelf.2026-05-16.cycle.yaml"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the other file is there: %v", err)
	}
}

// failing is a folder in which one file cannot be written.
type failing struct {
	notes.Place
	name string
}

func (f failing) Change(name string, edit func([]byte) ([]byte, error)) error {
	if name == f.name {
		return errors.New("the disk is full")
	}
	return f.Place.Change(name, edit)
}

// When the second of three files cannot be written, nothing is.
func TestAllOrNothing(t *testing.T) {
	o := office(t)
	o.Place = failing{o.Place, "shelf.2026-05-16.cycle.yaml"}
	_, _, err := o.Take(context.Background(), "n.csv", []byte("planted;harvest;heads;total mass (g)\n2026-02-14;2026-03-20;6;900\n2026-05-16;2026-06-18;5;800\n2026-07-01;2026-08-10;5;800\n"), file, notes.Said{}, "")
	if err == nil || !errors.Is(err, notes.ErrNotReady) || !strings.Contains(err.Error(), "disk is full") {
		t.Fatal(err)
	}
	left, err := fs.Glob(o.Place, "*.cycle.yaml")
	if err != nil || len(left) > 0 {
		t.Errorf("%v %v", left, err)
	}
	if r, err := o.Records(); err != nil || len(r) > 0 {
		t.Errorf("%v %v", r, err)
	}
}

// Whatever values are written into a sheet are read again, with their days.
func TestWrittenAndRead(t *testing.T) {
	o := office(t)
	rapid.Check(t, func(t *rapid.T) {
		comma := rapid.Bool().Draw(t, "comma")
		layout := rapid.SampledFrom([]string{time.DateOnly, "2.1.2006", "2 Jan 2006", "January 2, 2006"}).Draw(t, "layout")
		text := "plant;day;mass (g);leaves;burn\n"
		var want []string
		for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
			day := time.Date(2026, 9, 2, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 80).Draw(t, "day"))
			mass, leaves, burnt := rapid.IntRange(1, 400_0).Draw(t, "mass"), rapid.IntRange(1, 60).Draw(t, "leaves"), rapid.Bool().Draw(t, "burn")
			g := fmt.Sprintf("%d.%d", mass/10, mass%10)
			word := map[bool]string{true: "yes", false: "no"}[burnt]
			cell := g
			if comma {
				cell = strings.Replace(g, ".", ",", 1)
			}
			text += fmt.Sprintf("P%d;%s;%s;%d;%s\n", i+1, day.Format(layout), cell, leaves, word)
			on := day.Format(time.DateOnly)
			want = append(want, fmt.Sprintf("P%d mass %s g %s", i+1, strings.TrimSuffix(g, ".0"), on), fmt.Sprintf("P%d leaves %d %s", i+1, leaves, on), fmt.Sprintf("P%d burn %s %s", i+1, map[bool]string{true: "seen", false: "none"}[burnt], on))
		}
		d, err := o.Look(context.Background(), "n.csv", []byte(text), file, notes.Said{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, i := range d.New {
			got = append(got, fmt.Sprintf("%s %s %s %s", i.About, i.What, i.Text, i.Day))
		}
		if !slices.Equal(got, want) {
			t.Fatalf("%s\n%q\n%q\n%v", text, got, want, d.Faults)
		}
	})
}

// A package goes into an empty folder and into a store, gives the same trial, and out again.
func TestPackage(t *testing.T) {
	p, err := trialbook.Open(demo.Folder(), "light-levels.trial.yaml")
	if err != nil {
		t.Fatal(err)
	}
	pack, err := dataset.OfTrial(context.Background(), dataset.Ask{Folder: demo.Folder(), Created: now, Program: dataset.Program{Name: "underlamp", Version: "test"}}, p)
	if err != nil {
		t.Fatal(err)
	}
	var raw bytes.Buffer
	if err := dataset.Write(&raw, pack, dataset.FormatPackage, ""); err != nil {
		t.Fatal(err)
	}
	if !notes.IsPackage(raw.Bytes()) || notes.IsPackage([]byte("plant,mass\n")) {
		t.Fatal("a package is not known")
	}
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	clock := func() time.Time { return now }
	f := safefolder.New(t.TempDir())
	for name, o := range map[string]*notes.Office{"folder": {Place: f, Now: clock, Add: kept.NewDesk(nil, f, clock).AddFiles, Drop: kept.NewDesk(nil, f, clock).RemoveFiles},
		"store": {Place: kept.NewPlace(ctx, s, clock), Now: clock, Add: kept.NewDesk(s, nil, clock).AddFiles, Drop: kept.NewDesk(s, nil, clock).RemoveFiles}} {
		d, r, err := o.TakePackage(ctx, "p.zip", raw.Bytes(), "Ida")
		if err != nil || r == nil || len(d.New) == 0 {
			t.Fatalf("%s: %+v %v", name, d, err)
		}
		q, err := trialbook.Open(o.Place, d.Begin)
		if err != nil || len(q.All) != len(p.All) || len(q.Trial.Places) != len(p.Trial.Places) {
			t.Fatalf("%s: %v", name, err)
		}
		for i, e := range q.All {
			if e.Line, p.All[i].Line = 0, 0; e != p.All[i] {
				t.Errorf("%s: %+v, want %+v", name, e, p.All[i])
			}
		}
		if d, none, err := o.TakePackage(ctx, "p.zip", raw.Bytes(), ""); err != nil || none != nil || len(d.New) > 0 {
			t.Errorf("%s: the same again: %+v %v", name, d, err)
		}
		if u, err := o.Undo(ctx, r.ID, ""); err != nil || len(u.Undone.Told) > 0 {
			t.Errorf("%s: %v %+v", name, err, u)
		}
		if _, err := fs.Stat(o.Place, d.Begin); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: it is there still: %v", name, err)
		}
	}
	// One cell that is no number: told with file, line and column.
	z, err := zip.NewReader(bytes.NewReader(raw.Bytes()), int64(raw.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var bad bytes.Buffer
	out := zip.NewWriter(&bad)
	for _, part := range z.File {
		text, err := fs.ReadFile(z, part.Name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(part.Name, "data/observations.csv") {
			lines := strings.SplitN(string(text), "\n", 3)
			text = []byte(lines[0] + "\n" + strings.Replace(lines[1], ",mass,", ",mass,heavy", 1) + "\n" + lines[2])
		}
		w, err := out.Create(part.Name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write(text)
	}
	out.Close()
	if _, err := (&notes.Office{Place: f, Now: clock}).LookPackage(ctx, "p.zip", bad.Bytes()); err == nil || !strings.Contains(err.Error(), "observations.csv, line 2") && !strings.Contains(err.Error(), "line 2") {
		t.Errorf("a package that is not as it says: %v", err)
	}
}

// What was seen of a bench leaves with its package and comes back, corrections and all: into a
// folder with a store, and into a store alone; once, however often it is taken in; and out again.
func TestRoundsOfPackage(t *testing.T) {
	ctx := context.Background()
	clock := func() time.Time { return now }
	const begin, id = "tier-2-middle.yaml", "tier-2-middle"
	_, seen, err := round.ReadJSON(demo.File(demo.RoundsFile))
	if err != nil {
		t.Fatal(err)
	}
	b := &underlamp.Bench{}
	one := func(id string, s round.Seen, corrects string) round.Entry {
		at := now.Add(-48 * time.Hour)
		e, err := round.New(id, "tier-2-middle", at, at.Add(time.Minute), s, corrects, b)
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	seen = append(seen,
		one("first-00", round.Seen{Plant: "P1", What: underlamp.ResponseMass, Typed: "4.97 oz", By: "Ida Berg", Note: "wet, \"as it was\"", Clock: &round.Clock{Phone: "ph", State: round.ClockChanged}}, ""),
		one("second-0", round.Seen{Plant: "P1", What: underlamp.ResponseMass, Typed: "149 g", By: "Ida Berg", Beside: []string{"third-00"}}, "first-00"),
		one("third-00", round.Seen{Plant: "P1", What: underlamp.ResponseMass, Typed: "151 g", By: "Ole Dahl"}, ""),
		one("fourth-0", round.Seen{Plant: "P2", What: round.Photo, Photo: "abcdefgh"}, ""),
		one("fifth-00", round.Seen{Plant: "P2", What: round.Cut}, ""),
		one("sixth-00", round.Seen{Plant: "P3", What: underlamp.ResponseLeaves, Missing: "eaten"}, ""))
	struck, err := round.Strike("seventh0", seen[len(seen)-1], now, "Ida Berg", "it was P4")
	if err != nil {
		t.Fatal(err)
	}
	seen = append(seen, struck)
	folder := demo.Folder()
	text, err := fs.ReadFile(folder, begin)
	if err != nil {
		t.Fatal(err)
	}
	bench, _, err := benchfile.ReadWith(bytes.NewReader(text), benchfolder.Files(folder))
	if err != nil {
		t.Fatal(err)
	}
	pack := func(who dataset.Names) []byte {
		made, err := dataset.OfBench(ctx, dataset.Ask{Folder: folder, Names: who, Created: now, Program: dataset.Program{Name: "underlamp", Version: "test"}}, begin, bench, round.NewRecord(seen, time.UTC))
		if err != nil {
			t.Fatal(err)
		}
		var raw bytes.Buffer
		if err := dataset.Write(&raw, made, dataset.FormatPackage, ""); err != nil {
			t.Fatal(err)
		}
		return raw.Bytes()
	}
	standing := func(all []round.Entry, names bool) (out []string) {
		for _, e := range round.NewRecord(all, time.UTC).Standing() {
			by, state := e.By, ""
			if !names {
				by = ""
			}
			if e.Clock != nil {
				state = e.Clock.State
			}
			if e.What != round.Photo {
				out = append(out, fmt.Sprintf("%s %s %v %q %q %q %q %q %d %d %s", e.Plant, e.What, e.Value, e.Typed, e.Missing, by, e.With, e.Note, e.At.UnixMicro(), e.Recorded.UnixMicro(), state))
			}
		}
		slices.Sort(out)
		return out
	}
	conflicts := func(all []round.Entry) int { return len(round.NewRecord(all, time.UTC).Conflicts()) }
	for _, inFolder := range []bool{true, false} {
		for _, who := range dataset.AllWhose() {
			raw := pack(who)
			s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			o := &notes.Office{Place: kept.NewPlace(ctx, s, clock), Seen: s, Zone: time.UTC, Now: clock, Add: kept.NewDesk(s, nil, clock).AddFiles, Drop: kept.NewDesk(s, nil, clock).RemoveFiles}
			if inFolder {
				f := safefolder.New(t.TempDir())
				o.Place, o.Add, o.Drop = f, kept.NewDesk(s, f, clock).AddFiles, kept.NewDesk(s, f, clock).RemoveFiles
			}
			kept := func() []round.Entry {
				rec, faults, err := round.Load(ctx, s, id, time.UTC)
				if err != nil || len(faults) > 0 {
					t.Fatal(err, faults)
				}
				return rec.All
			}
			d, r, err := o.TakePackage(ctx, "p.zip", raw, "Ida")
			if err != nil || r == nil || r.Entries != len(seen)-1 || d.SameEntries != 0 {
				t.Fatalf("%+v %+v %v", d, r, err)
			}
			if got, want := standing(kept(), who == dataset.AllNames), standing(seen, who == dataset.AllNames); !slices.Equal(got, want) {
				t.Errorf("%s\ncame back:\n%s\nwas:\n%s", who, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			if conflicts(kept()) != conflicts(seen) {
				t.Errorf("%d conflicts, were %d", conflicts(kept()), conflicts(seen))
			}
			// With names or without, what is there is not taken in again.
			for _, again := range dataset.AllWhose() {
				switch d, none, err := o.TakePackage(ctx, "p.zip", pack(again), ""); {
				case err == nil && none == nil && d.Entries == 0 && d.SameEntries == len(seen)-1:
				case errors.Is(err, notes.ErrNotReady) && again != who && len(d.Conflicts) > 0 && d.Entries == 0: // cycles with other names
				default:
					t.Errorf("%s after %s: %+v %+v %v", again, who, d, none, err)
				}
			}
			// What somebody corrects since stays when the rest is taken back.
			all := kept()
			i := slices.IndexFunc(all, func(e round.Entry) bool { return e.Typed == "151 g" })
			if err := round.Put(ctx, s, []round.Entry{one("eighth00", round.Seen{Plant: "P1", What: underlamp.ResponseMass, Typed: "152 g", By: "Ole"}, all[i].ID)}); err != nil {
				t.Fatal(err)
			}
			u, err := o.Undo(ctx, r.ID, "Ida")
			if err != nil || len(u.Undone.Told) != 1 || !strings.Contains(u.Undone.Told[0], "Ole has corrected it since") {
				t.Fatalf("%v %+v", err, u)
			}
			if got := standing(kept(), true); len(got) != 1 || !strings.Contains(got[0], "152 g") {
				t.Errorf("taken back, and there stays: %q", got)
			}
			if _, err := fs.Stat(o.Place, begin); !errors.Is(err, fs.ErrNotExist) {
				t.Errorf("the bench is there still: %v", err)
			}
			if _, again, err := o.TakePackage(ctx, "p.zip", raw, "Ida"); err != nil || again == nil || again.Entries != len(seen)-2 {
				t.Fatalf("once more: %+v %v", again, err)
			}
			if got, want := len(standing(kept(), true)), len(standing(seen, true)); got != want {
				t.Errorf("once more: %d stand, want %d", got, want)
			}
		}
	}
	// Without a store the files come in, and it is told what stays out.
	f := safefolder.New(t.TempDir())
	o := &notes.Office{Place: f, Now: clock, Add: kept.NewDesk(nil, f, clock).AddFiles, Drop: kept.NewDesk(nil, f, clock).RemoveFiles}
	if d, r, err := o.TakePackage(ctx, "p.zip", pack(dataset.AllNames), ""); err != nil || r == nil || r.Entries != 0 || !slices.ContainsFunc(d.Notes, func(s string) bool { return strings.Contains(s, "kept in a store") }) {
		t.Errorf("%+v %+v %v", d, r, err)
	}
}

func FuzzLook(f *testing.F) {
	f.Add([]byte("Pflanze;Datum;Gewicht (g)\nP1;12.10.2026;141,5\n"))
	f.Add([]byte("planted,harvest,heads,total mass (g),burnt\n2026-02-14,2026-03-20,6,900,few\n"))
	f.Add([]byte("x,y,PPFD\n15 cm,15,160\n"))
	f.Add(read(f, "diary.xlsx"))
	o := office(f)
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, k := range append(notes.Kinds(), "") {
			d, err := o.Look(context.Background(), "n", raw, file, notes.Said{Kind: k, Height: "5 cm", Seedlings: 14, Day: "2026-10-01", Skip: true})
			if err != nil {
				continue
			}
			for _, i := range d.New {
				if i.Place == "" || i.About == "" {
					t.Errorf("%+v", i)
				}
			}
		}
	})
}
