package kept_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"underlamp/app/kept"
	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var (
	ctx = context.Background()
	now = time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)
)

func open(t testing.TB) *sqlite.DB {
	t.Helper()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func at(t time.Time) func() time.Time { return func() time.Time { return t } }

// What went in comes out byte by byte, and the store is a folder in the sense of the
// standard library's own test of folders.
func TestWithoutLoss(t *testing.T) {
	s := open(t)
	in := fstest.MapFS{}
	if err := fs.WalkDir(demo.Folder(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(demo.Folder(), name)
		in[name] = &fstest.MapFile{Data: text, ModTime: now.Add(-time.Hour)}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	in["lamps/deep/bar.ies"] = &fstest.MapFile{Data: []byte("IESNA\r\n\x00\xff")}
	in[".hidden.yaml"] = &fstest.MapFile{Data: []byte("x")}
	in["photo.png"] = &fstest.MapFile{Data: []byte("x")}
	in["large.csv"] = &fstest.MapFile{Data: make([]byte, kept.MostBytes+1)}
	changes, skipped, err := kept.Import(ctx, s, in, kept.Options{Now: now, By: "Ida"})
	if err != nil || !slices.Equal(skipped, []string{"large.csv"}) {
		t.Fatalf("skipped %v, %v", skipped, err)
	}
	if again, _, err := kept.Import(ctx, s, in, kept.Options{Now: now}); err != nil || len(again) != 0 {
		t.Errorf("the same again enters %v, %v", again, err)
	}
	// What was seen of plants is kept as entries, not as a file (rounds import).
	for _, name := range []string{".hidden.yaml", "photo.png", "large.csv", demo.RoundsFile} {
		delete(in, name)
	}
	if len(changes) != len(in) {
		t.Errorf("%d of %d files were entered: %v", len(changes), len(in), changes)
	}
	out := map[string]string{}
	if err := kept.Export(ctx, s, now, func(name string, text []byte, _ time.Time) error { out[name] = string(text); return nil }); err != nil {
		t.Fatal(err)
	}
	for name, f := range in {
		if got, ok := out[name]; !ok || got != string(f.Data) {
			t.Errorf("%s came out otherwise (%t)", name, ok)
		}
	}
	if len(out) != len(in) {
		t.Errorf("%d files came out of %d", len(out), len(in))
	}
	if err := fstest.TestFS(kept.Folder(ctx, s, at(now)), slices.Collect(maps.Keys(in))...); err != nil {
		t.Error(err)
	}
}

// Versions hold from when the file was changed; an old copy that is put back holds from
// now on; a date that is said counts; a bench that was removed is gone from then on.
func TestHistory(t *testing.T) {
	s := open(t)
	put := func(text string, changed, now time.Time, since time.Time) {
		t.Helper()
		_, _, err := kept.Import(ctx, s, fstest.MapFS{"top.yaml": {Data: []byte("underlamp: 1\n" + text), ModTime: changed}}, kept.Options{Now: now, Since: since})
		if err != nil {
			t.Fatal(err)
		}
	}
	day := func(n int) time.Time { return now.AddDate(0, 0, n) }
	is := func(n int) string {
		text, err := fs.ReadFile(kept.Folder(ctx, s, at(day(n))), "top.yaml")
		if errors.Is(err, fs.ErrNotExist) {
			return "nothing"
		} else if err != nil {
			t.Fatal(err)
		}
		return strings.TrimSpace(strings.TrimPrefix(string(text), "underlamp: 1\n"))
	}
	want := func(days string) {
		t.Helper()
		var got []string
		for n := range 8 {
			got = append(got, is(n))
		}
		if strings.Join(got, " ") != days {
			t.Errorf("by day %v, want %s", got, days)
		}
	}
	put("a", day(1), day(2), time.Time{})
	want("nothing a a a a a a a")
	put("b", day(3), day(3), time.Time{})
	put("a", day(1), day(5), time.Time{}) // a copy with its old date
	want("nothing a a b b a a a")
	put("c", day(6), day(6), day(4)) // told late
	want("nothing a a b c a a a")
	put("c", day(6), day(6), day(4))
	if h, err := s.History(ctx, "top"); err != nil || len(h) != 4 {
		t.Errorf("%d versions, %v", len(h), err)
	}
	if err := kept.Remove(ctx, s, "top", day(7), "Ida"); err != nil {
		t.Fatal(err)
	}
	want("nothing a a b c a a nothing")
	if err := kept.Remove(ctx, s, "attic", day(7), "Ida"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a bench that is not there: %v", err)
	}
	put("d", day(8), day(7), time.Time{}) // changed after now: a clock is wrong
	want("nothing a a b c a a d")
}

// Whatever a folder holds, what is kept of it comes out as it went in, and a second
// import enters nothing.
func TestAnyFolder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := open(t)
		in := fstest.MapFS{}
		for range rapid.IntRange(0, 6).Draw(rt, "files") {
			name := rapid.SampledFrom([]string{"a", "b", "c-d", "e.f"}).Draw(rt, "name") + rapid.SampledFrom([]string{".yaml", ".yml", ".csv"}).Draw(rt, "ending")
			if rapid.Bool().Draw(rt, "deeper") {
				name = "sub/" + name
			}
			head := rapid.SampledFrom([]string{"underlamp: 1\n", "underlamp cycle: 1\n", "underlamp profile: 1\n", ""}).Draw(rt, "kind")
			in[name] = &fstest.MapFile{Data: append([]byte(head), rapid.SliceOfN(rapid.Byte(), 1, 40).Draw(rt, "text")...), ModTime: now}
		}
		// Two endings of one bench are one bench; the later one in order counts.
		for name := range in {
			if strings.HasSuffix(name, ".yml") {
				delete(in, strings.TrimSuffix(name, ".yml")+".yaml")
			}
		}
		if _, _, err := kept.Import(ctx, s, in, kept.Options{Now: now}); err != nil {
			rt.Fatal(err)
		}
		if again, _, err := kept.Import(ctx, s, in, kept.Options{Now: now}); err != nil || len(again) > 0 {
			rt.Fatalf("again: %v, %v", again, err)
		}
		out := map[string]string{}
		if err := kept.Export(ctx, s, now, func(name string, text []byte, _ time.Time) error { out[name] = string(text); return nil }); err != nil {
			rt.Fatal(err)
		}
		for name, f := range in {
			if kept.IsBench(in, name) {
				name = strings.TrimSuffix(name, filepath.Ext(name)) + ".yaml"
			}
			if out[name] != string(f.Data) {
				rt.Fatalf("%s came out as %q, went in as %q", name, out[name], f.Data)
			}
		}
		if len(out) != len(in) {
			rt.Fatal(fmt.Sprint(len(out), " of ", len(in)))
		}
	})
}

func TestWatch(t *testing.T) {
	s := open(t)
	in := fstest.MapFS{"top.yaml": {Data: []byte("underlamp: 1\n"), ModTime: now}}
	ctx, stop := context.WithCancel(ctx)
	told := make(chan string, 10)
	go kept.Watch(ctx, s, in, time.Millisecond, at(now), func(c []kept.Change, _ []string, err error) { told <- fmt.Sprint(c, err) })
	select {
	case got := <-told:
		if !strings.Contains(got, "top.yaml true 1") {
			t.Error(got)
		}
	case <-time.After(2 * time.Minute):
		t.Error("nothing was told")
	}
	stop()
}
