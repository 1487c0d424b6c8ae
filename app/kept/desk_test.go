package kept_test

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
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"underlamp/app/kept"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/sqlite"
)

const tier = "tier-2-middle"

// clock is a clock that a test turns.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func (c *clock) now() time.Time  { c.mu.Lock(); defer c.mu.Unlock(); return c.t }
func (c *clock) set(t time.Time) { c.mu.Lock(); defer c.mu.Unlock(); c.t = t }

func day(d, hour int) time.Time { return time.Date(2026, 11, d, hour, 0, 0, 0, time.UTC) }

func root(t testing.TB) (*safefolder.Folder, string) {
	t.Helper()
	dir := t.TempDir()
	r, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return r, dir
}

func set(t testing.TB, text []byte, path, value string) []byte {
	t.Helper()
	out, err := benchfile.Apply(text, benchfile.Change{Do: benchfile.Set, Path: path, Text: value})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// heightAt is the height of the left panel as the store has it for an instant.
func heightAt(t testing.TB, s *sqlite.DB, at time.Time) string {
	t.Helper()
	v, err := s.Bench(ctx, tier, store.At(at))
	if err != nil {
		return err.Error()
	}
	b, problems, err := benchfile.Read(bytes.NewReader(v.Text))
	if err != nil || b == nil {
		t.Fatal(problems, err)
	}
	return fmt.Sprintf("%.0f/%.0f", 100*float64(b.Lamps[0].Height), 100*float64(b.Lamps[0].Dimming.Value))
}

// What is saved counts from when the person says, in the folder and in the store; and a slip
// that is put right leaves both.
func TestDesk(t *testing.T) {
	for _, withFolder := range []bool{true, false} {
		t.Run(fmt.Sprintf("folder %t", withFolder), func(t *testing.T) {
			s := open(t)
			c := &clock{t: day(1, 8)}
			var r *safefolder.Folder
			dir := ""
			if withFolder {
				r, dir = root(t)
			}
			d := kept.NewDesk(s, r, c.now)
			first := demo.File(tier + ".yaml")
			if err := d.Create(ctx, tier, first, "Ida", ""); err != nil {
				t.Fatal(err)
			}
			if err := d.Create(ctx, tier, first, "Ida", ""); !errors.Is(err, safefolder.ErrThere) {
				t.Errorf("the same name again: %v", err)
			}
			c.set(day(10, 8))
			lower := set(t, first, `lamps["left panel"].height`, "30 cm")
			if err := d.Save(ctx, kept.Save{Bench: tier, Text: lower, Base: first, By: "Ida", Why: "pale"}); err != nil {
				t.Fatal(err)
			}
			if got, err := d.Read(ctx, tier); err != nil || !bytes.Equal(got, lower) {
				t.Errorf("%v\n%s", err, got)
			}
			if withFolder {
				got, err := os.ReadFile(filepath.Join(dir, tier+".yaml"))
				if err != nil || !bytes.Equal(got, lower) {
					t.Errorf("the file: %v\n%s", err, got)
				}
				// What the folder has is known: taking it up enters nothing.
				if changes, _, err := kept.Import(ctx, s, r.FS, kept.Options{Now: c.now()}); err != nil || len(changes) != 0 {
					t.Errorf("%v, %v", changes, err)
				}
			}
			// Somebody else was faster.
			var changed *safefolder.ChangedError
			if err := d.Save(ctx, kept.Save{Bench: tier, Text: set(t, first, "air.fan", "none"), Base: first}); !errors.As(err, &changed) || !bytes.Equal(changed.Text, lower) {
				t.Errorf("over a newer text: %v", err)
			}
			c.set(day(14, 8))
			dimmed := set(t, lower, `lamps["left panel"].dimming`, "60 %")
			if err := d.Save(ctx, kept.Save{Bench: tier, Text: dimmed, Base: lower, By: "Max"}); err != nil {
				t.Fatal(err)
			}
			for at, want := range map[time.Time]string{day(2, 0): "32/70", day(9, 0): "32/70", day(11, 0): "30/70", day(15, 0): "30/60"} {
				if got := heightAt(t, s, at); got != want {
					t.Errorf("on %s: %s, want %s", at, got, want)
				}
			}
			// It was already 30 cm on the 6th.
			if err := d.Correct(ctx, tier, day(10, 8), day(6, 12), "Ida", "forgot to note it"); err != nil {
				t.Fatal(err)
			}
			for at, want := range map[time.Time]string{day(6, 11): "32/70", day(6, 12): "30/70", day(11, 0): "30/70", day(15, 0): "30/60"} {
				if got := heightAt(t, s, at); got != want {
					t.Errorf("corrected, on %s: %s, want %s", at, got, want)
				}
			}
			steps, _, err := d.History(ctx, tier)
			if err != nil || !slices.ContainsFunc(steps, func(x kept.Step) bool {
				return x.From == store.At(day(6, 12)) && x.Why == "forgot to note it" && slices.Equal(x.Changes, []string{"lamp left panel, height: 32 cm to 30 cm"})
			}) {
				t.Errorf("%+v, %v", steps, err)
			}
			// The dimming came later, on the 20th at last; said on the 22nd.
			c.set(day(22, 8))
			if err := d.Correct(ctx, tier, day(14, 8), day(20, 8), "Max", "a slip"); err != nil {
				t.Fatal(err)
			}
			for at, want := range map[time.Time]string{day(15, 0): "30/70", day(19, 0): "30/70", day(21, 0): "30/60"} {
				if got := heightAt(t, s, at); got != want {
					t.Errorf("put later, on %s: %s, want %s", at, got, want)
				}
			}
			steps, corrected, err := d.History(ctx, tier)
			if err != nil || len(corrected) != 1 || corrected[0].From != store.At(day(14, 8)) || corrected[0].By.Why != "a slip" {
				t.Errorf("corrected %+v of %d, %v", corrected, len(steps), err)
			}
			// A change that was already so before others goes through all of them.
			text, err := d.Read(ctx, tier)
			if err != nil {
				t.Fatal(err)
			}
			if err := d.Save(ctx, kept.Save{Bench: tier, Text: set(t, text, `lamps["left panel"].height`, "28 cm"), Base: text, From: day(8, 0), By: "Ida"}); err != nil {
				t.Fatal(err)
			}
			for at, want := range map[time.Time]string{day(7, 0): "30/70", day(8, 0): "28/70", day(19, 0): "28/70", day(21, 0): "28/60", day(25, 0): "28/60"} {
				if got := heightAt(t, s, at); got != want {
					t.Errorf("carried, on %s: %s, want %s", at, got, want)
				}
			}
			if err := d.Save(ctx, kept.Save{Bench: tier, Text: text, Base: set(t, text, `lamps["left panel"].height`, "28 cm"), From: day(30, 0)}); err == nil {
				t.Error("a change of days to come was entered")
			}
		})
	}
}

// Nothing is known of what a change that is put earlier would have done to a bench without
// the lamp; that is said, and nothing is entered.
func TestCorrectRefuses(t *testing.T) {
	s := open(t)
	c := &clock{t: day(1, 8)}
	d := kept.NewDesk(s, nil, c.now)
	first := demo.File(tier + ".yaml")
	one, err := benchfile.Apply(first, benchfile.Change{Do: benchfile.Remove, Path: "lamps[0]"})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Create(ctx, tier, one, "", ""); err != nil {
		t.Fatal(err)
	}
	text := one
	for i, next := range [][]byte{first, set(t, first, "lamps[0].height", "30 cm")} {
		c.set(day(5+i, 8))
		if err := d.Save(ctx, kept.Save{Bench: tier, Text: next, Base: text}); err != nil {
			t.Fatal(err)
		}
		text = next
	}
	before, err := s.History(ctx, tier)
	if err != nil {
		t.Fatal(err)
	}
	var carry *kept.CarryError
	if err := d.Correct(ctx, tier, day(6, 8), day(3, 8), "", ""); !errors.As(err, &carry) {
		t.Errorf("a lamp was lowered before it hung: %v", err)
	}
	if err := d.Correct(ctx, tier, day(6, 9), day(3, 8), "", ""); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a change that is none: %v", err)
	}
	if err := d.Correct(ctx, tier, day(6, 8), day(30, 8), "", ""); err == nil {
		t.Error("a time that has not come")
	}
	if after, err := s.History(ctx, tier); err != nil || len(after) != len(before) {
		t.Errorf("%d versions of %d, %v", len(after), len(before), err)
	}
}

// However changes are entered and put right: how the bench is now never changes by putting
// the past right, and nothing that was entered goes.
func TestCorrectKeepsNow(t *testing.T) {
	first := demo.File(tier + ".yaml")
	rapid.Check(t, func(t *rapid.T) {
		s := &memory{}
		c := &clock{t: day(1, 0)}
		d := kept.NewDesk(s, nil, c.now)
		if err := d.Create(ctx, tier, first, "", ""); err != nil {
			t.Fatal(err)
		}
		text := first
		for i := range rapid.IntRange(1, 8).Draw(t, "times") {
			c.set(day(2+i, 0))
			if rapid.Bool().Draw(t, "save") {
				next, err := benchfile.Apply(text, benchfile.Change{Do: benchfile.Set, Path: rapid.SampledFrom([]string{"lamps[0].height", "lamps[1].height"}).Draw(t, "path"), Text: fmt.Sprint(rapid.IntRange(28, 35).Draw(t, "cm"), " cm")})
				if err != nil {
					t.Fatal(err)
				}
				if err := d.Save(ctx, kept.Save{Bench: tier, Text: next, Base: text, From: day(1+rapid.IntRange(0, i+1).Draw(t, "since"), 0)}); err != nil {
					t.Fatal(err)
				}
				text = next
			} else {
				steps, _, err := d.History(ctx, tier)
				if err != nil {
					t.Fatal(err)
				}
				begin := store.Time(rapid.SampledFrom(steps).Draw(t, "step").From)
				var carry *kept.CarryError
				if err := d.Correct(ctx, tier, begin, day(1+rapid.IntRange(0, i+1).Draw(t, "since"), 0), "", ""); err != nil && !errors.As(err, &carry) && !strings.Contains(err.Error(), "begin can only") {
					t.Fatal(err)
				}
			}
			if got, err := d.Read(ctx, tier); err != nil || !bytes.Equal(got, text) {
				words, _ := benchfile.Words(text, got)
				t.Fatalf("now it differs: %q, %v", words, err)
			}
		}
	})
}

// memory keeps versions of one bench as a store does.
type memory struct {
	kept.Store
	all []store.Version
}

func (m *memory) PutBenches(_ context.Context, vs []store.Version) (int, error) {
	for _, v := range vs {
		v.Number = len(m.all) + 1
		m.all = append(m.all, v)
	}
	return len(m.all), nil
}

func (m *memory) History(context.Context, string) ([]store.Version, error) { return m.all, nil }

func (m *memory) Bench(_ context.Context, bench string, at int64) (store.Version, error) {
	steps, _ := kept.Timeline(m.all)
	for _, s := range slices.Backward(steps) {
		if s.From <= at {
			return s.Version, nil
		}
	}
	return store.Version{}, store.ErrNotFound
}

// Names that are no names never reach the folder, and a file is never written over.
func TestDeskNames(t *testing.T) {
	r, dir := root(t)
	d := kept.NewDesk(nil, r, day(1, 0).Local)
	for _, bad := range []string{"", ".", "..", "../x", "a/b", ".hidden", "a b", "x\x00", strings.Repeat("x", 101)} {
		if err := d.Create(ctx, bad, []byte("x"), "", ""); !errors.Is(err, kept.ErrName) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "there.yml"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := d.Create(ctx, "there", []byte("x"), "", ""); !errors.Is(err, safefolder.ErrThere) {
		t.Errorf("over a file: %v", err)
	}
	if err := d.Save(ctx, kept.Save{Bench: "there", Text: []byte("next"), Base: []byte("mine")}); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, "there.yml"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	for wish, want := range map[string]string{"there": "there-2", "Kühle Küche, oben": "kuehle-kueche-oben", "☘": "bench", "../../etc": "etc"} {
		if got, err := d.Free(ctx, wish); err != nil || got != want {
			t.Errorf("%q becomes %q (%v), want %q", wish, got, err, want)
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 {
		t.Errorf("left in the folder: %v, %v", entries, err)
	}
}

// The demo comes with one call and goes with one; what somebody has changed stays.
func TestDemoComesAndGoes(t *testing.T) {
	for _, withFolder := range []bool{true, false} {
		s := open(t)
		var r *safefolder.Folder
		if withFolder {
			r, _ = root(t)
			if err := r.Put("mine.yaml", demo.File(tier+".yaml")); err != nil {
				t.Fatal(err)
			}
		}
		c := &clock{t: day(1, 8)}
		d := kept.NewDesk(s, r, c.now)
		seen := func() fs.FS {
			if withFolder {
				return r.FS
			}
			return kept.Folder(ctx, s, c.now)
		}
		names, err := d.AddFiles(ctx, demo.Folder(), "demo")
		if err != nil || len(names) < 8 {
			t.Fatal(names, err)
		}
		if again, err := d.AddFiles(ctx, demo.Folder(), "demo"); err != nil || len(again) != 0 {
			t.Errorf("again: %v, %v", again, err)
		}
		if err := fstest.TestFS(seen(), names...); err != nil {
			t.Error(err)
		}
		c.set(day(2, 8))
		base := demo.File(tier + ".yaml")
		if err := d.Save(ctx, kept.Save{Bench: tier, Text: set(t, base, "lamps[0].height", "30 cm"), Base: base}); err != nil {
			t.Fatal(err)
		}
		stay, err := d.RemoveFiles(ctx, demo.Folder(), "demo")
		if err != nil || !slices.Equal(stay, []string{tier + ".yaml"}) {
			t.Errorf("stays %v, %v", stay, err)
		}
		if _, err := fs.Stat(seen(), "tier-1-top.yaml"); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("a bench of the demo that nobody changed stays: %v", err)
		}
		if _, err := fs.Stat(seen(), demo.LampFile); err != nil {
			t.Errorf("a file that a changed bench may name is gone: %v", err)
		}
		if withFolder {
			if r.Missing("mine.yaml") {
				t.Error("a bench of one's own is gone")
			}
		}
		// Put back as it was, all of it goes.
		c.set(day(3, 8))
		is, err := d.Read(ctx, tier)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Save(ctx, kept.Save{Bench: tier, Text: base, Base: is}); err != nil {
			t.Fatal(err)
		}
		c.set(day(4, 8))
		if stay, err := d.RemoveFiles(ctx, demo.Folder(), "demo"); err != nil || len(stay) != 0 {
			t.Errorf("stays %v, %v", stay, err)
		}
		if _, err := fs.Stat(seen(), demo.LampFile); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("a file of the demo stays: %v", err)
		}
		if v, err := s.History(ctx, tier); err != nil || len(v) < 3 {
			t.Errorf("of the history %d versions are left, %v", len(v), err)
		}
	}
}
