package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/formats/cyclefile"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// What was seen goes out of one store and into another unchanged, and from there to
// learning, without what other cycle files tell.
func TestRounds(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS(".", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	run := func(want int, args ...string) (string, string) {
		t.Helper()
		var out, err bytes.Buffer
		w := World{Out: &out, Err: &err, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if code := Run(context.Background(), w, args); code != want {
			t.Fatalf("%v ends with %d, want %d: %s%s", args, code, want, &out, &err)
		}
		return out.String(), err.String()
	}
	const bench = demo.SensorBench + ".yaml"
	run(2, "rounds", "list", bench, "--store", "a.db") // a slip in the name makes no store
	run(0, "rounds", "import", bench, demo.RoundsFile, "--store", "a.db")
	if out, _ := run(0, "rounds", "import", bench, demo.RoundsFile, "--store", "a.db"); !strings.Contains(out, "new 0") {
		t.Errorf("taken in twice: %s", out)
	}
	first, _ := run(0, "rounds", "export", bench, "--json", "--store", "a.db")
	if err := os.WriteFile("again.json", []byte(first), 0o644); err != nil {
		t.Fatal(err)
	}
	run(0, "rounds", "import", bench, "again.json", "--store", "b.db")
	if second, _ := run(0, "rounds", "export", bench, "--json", "--store", "b.db"); second != first {
		t.Error("another store gives another export")
	}
	if err := os.WriteFile("other.json", []byte(strings.Replace(first, `"note": "digits`, `"note": "some digits`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := run(2, "rounds", "import", bench, "other.json", "--store", "b.db"); !strings.Contains(err, "another content") {
		t.Errorf("another content under known ids: %s", err)
	}
	out, err := run(0, "rounds", "list", bench, "--plant", "P15", "--zone", "UTC", "--store", "a.db")
	if !strings.Contains(out, "corrected: 68 g") || !strings.Contains(err, "to be decided") {
		t.Errorf("%s%s", out, err)
	}
	if _, err := run(2, "rounds", "cycle", bench, "--store", "a.db"); !strings.Contains(err, "conflicts to be decided: 1") {
		t.Errorf("%s", err)
	}
	cycle := func(args ...string) int {
		t.Helper()
		run(0, append([]string{"rounds", "cycle", bench, "--to", "2026-11-10", "--zone", "UTC", "--store", "a.db"}, args...)...)
		raw, err := os.ReadFile(args[1])
		if err != nil {
			t.Fatal(err)
		}
		c, problems, err := cyclefile.Read(bytes.NewReader(raw), nil)
		if err != nil || c == nil {
			t.Fatal(err, problems)
		}
		return len(c.Observations)
	}
	n := cycle("-o", "mine.cycle.yaml")
	if n != 6+6+18 {
		t.Errorf("%d observations: six plants were weighed twice, all looked at once", n)
	}
	if again := cycle("-o", "mine.cycle.yaml"); again != n {
		t.Errorf("written anew it has %d", again)
	}
	if _, err := run(2, "rounds", "cycle", bench, "--to", "2026-11-10", "--zone", "UTC", "--store", "a.db", "-o", filepath.Join(".", "twice.cycle.yaml")); !strings.Contains(err, "all of it already") {
		t.Errorf("twice: %s", err)
	}
}
