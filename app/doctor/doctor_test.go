package doctor_test

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/app/doctor"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

// What is put wrong into a store is named, with what to do, and nothing else is.
func TestStore(t *testing.T) {
	ctx := context.Background()
	type made struct {
		s  *sqlite.DB
		id int64 // of a sensor that is well
	}
	hourly := func(m made, sensor int64, from, hours int64, skip int64) error {
		var rs []store.Reading
		for h := range hours {
			if h != skip {
				rs = append(rs, store.Reading{Sensor: sensor, At: from + h*store.Hour, Value: 20})
			}
		}
		return m.s.Append(ctx, rs)
	}
	well := store.Sensor{Key: "rack/air", Bench: "rack", Unit: "Cel", Every: time.Hour}
	with := func(m made, x store.Sensor) int64 {
		id, err := m.s.PutSensor(ctx, x)
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	for name, c := range map[string]struct {
		put   func(m made) error
		level doctor.Level
		says  []string
	}{
		"nothing wrong": {func(made) error { return nil }, doctor.Good, nil},
		"clock of a sensor ahead": {func(m made) error {
			return hourly(m, m.id, store.At(now)+5*store.Hour, 1, -1)
		}, doctor.Wrong, []string{"not come", "rack/air (5 h ahead)"}},
		"silent": {func(m made) error {
			x := well
			x.Key, x.Every = "rack/co2", time.Minute
			return hourly(m, with(m, x), store.At(now)-3*store.Hour, 1, -1)
		}, doctor.Look, []string{"silent", "rack/co2 (for 3 h)"}},
		"silent for very long": {func(m made) error {
			x := well
			x.Key = "put away"
			return hourly(m, with(m, x), store.At(now)-90*store.Day, 1, -1)
		}, doctor.Good, nil},
		"gap": {func(m made) error {
			x := well
			x.Key = "rack/ppfd"
			return hourly(m, with(m, x), store.At(now)-20*store.Hour, 20, 7)
		}, doctor.Look, []string{"without a reading", "rack/ppfd (1 hours)"}},
		"never sent": {func(m made) error { x := well; x.Key = "new"; with(m, x); return nil }, doctor.Look, []string{"never sent", "new"}},
		"no unit, no bench": {func(m made) error {
			return hourly(m, with(m, store.Sensor{Key: "x"}), store.At(now)-store.Hour, 1, -1)
		}, doctor.Look, []string{"no unit", "no bench"}},
		"bench nobody described": {func(m made) error {
			x := well
			x.Key, x.Bench = "y", "cellar"
			return hourly(m, with(m, x), store.At(now)-store.Hour, 1, -1)
		}, doctor.Look, []string{"y (bench cellar)"}},
		"clock set back": {func(m made) error {
			return m.s.AddDevice(ctx, store.Device{Name: "d", Made: store.At(now) + store.Hour}, [32]byte{})
		}, doctor.Wrong, []string{"60 min from now", "set back"}},
		"bench entered ahead": {func(m made) error {
			_, err := m.s.PutBench(ctx, store.Version{Bench: "rack", Recorded: store.At(now) + 3*store.Day, Text: []byte("x")})
			return err
		}, doctor.Wrong, []string{"3 days from now"}},
		"rule that cannot be read": {func(m made) error {
			return m.s.PutDocument(ctx, store.Document{Kind: "keep", Name: "all", Text: []byte("{")})
		}, doctor.Wrong, []string{"underlamp store keep"}},
		"work given up": {func(m made) error {
			return m.s.PutDocument(ctx, store.Document{Kind: "job", Name: "message a", Text: []byte(`{"given_up":true}`)})
		}, doctor.Look, []string{"1 jobs were given up"}},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			m := made{s: s}
			m.id = with(m, well)
			if err := hourly(m, m.id, store.At(now)-10*store.Hour, 10, -1); err != nil {
				t.Fatal(err)
			}
			if err := c.put(m); err != nil {
				t.Fatal(err)
			}
			found, err := doctor.Store(ctx, s, []string{"rack"}, now)
			if err != nil {
				t.Fatal(err)
			}
			text := ""
			for _, f := range found {
				if f.Level > doctor.Good {
					text += f.Where + ": " + f.What + "; " + f.Do + "\n"
					if f.Do == "" {
						t.Errorf("%+v does not say what to do", f)
					}
				}
			}
			if doctor.Worst(found) != c.level {
				t.Errorf("level %d, want %d:\n%s", doctor.Worst(found), c.level, text)
			}
			for _, want := range c.says {
				if !strings.Contains(text, want) {
					t.Errorf("it does not say %q:\n%s", want, text)
				}
			}
			if n := strings.Count(text, "\n"); n > max(1, len(c.says)) {
				t.Errorf("%d findings for one fault:\n%s", n, text)
			}
		})
	}
}

func TestDisk(t *testing.T) {
	well := doctor.File{Path: "s.db", Regular: true, Writable: true, FolderOK: true, Mode: 0o644, Room: 1 << 40}
	for says, c := range map[string]struct {
		change func(f *doctor.File)
		level  doctor.Level
	}{
		"well":           {func(*doctor.File) {}, doctor.Good},
		"no such file":   {func(f *doctor.File) { f.Err = fs.ErrNotExist }, doctor.Wrong},
		"looked at":      {func(f *doctor.File) { f.Err = errors.New("denied") }, doctor.Wrong},
		"is no file":     {func(f *doctor.File) { f.Regular = false }, doctor.Wrong},
		"not write":      {func(f *doctor.File) { f.Writable = false }, doctor.Wrong},
		"in its folder":  {func(f *doctor.File) { f.FolderOK = false }, doctor.Wrong},
		"everybody":      {func(f *doctor.File) { f.Mode = 0o666 }, doctor.Look},
		"(NFS)":          {func(f *doctor.File) { f.NetworkKind = "NFS" }, doctor.Wrong},
		"FUSE":           {func(f *doctor.File) { f.NetworkKind = "FUSE" }, doctor.Look},
		"50 MB are free": {func(f *doctor.File) { f.Room = 50 << 20 }, doctor.Wrong},
		"500 MB are":     {func(f *doctor.File) { f.Room = 500 << 20 }, doctor.Look},
		"2048 MB":        {func(f *doctor.File) { f.Log = 2 << 30 }, doctor.Look},
		"are well":       {func(f *doctor.File) { f.Room = -1 }, doctor.Good},
	} {
		f := well
		c.change(&f)
		found := doctor.Disk(f)
		if len(found) != 1 || found[0].Level != c.level || !strings.Contains(found[0].What, says) || (found[0].Do == "") != (c.level == doctor.Good) {
			t.Errorf("%q: %+v", says, found)
		}
	}
}
