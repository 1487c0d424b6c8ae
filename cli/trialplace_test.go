package cli

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// A trial in a store is recorded, corrected and read as one in a folder is.
func TestTrialInAStore(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	run := func(want int, args ...string) string {
		t.Helper()
		var out, err bytes.Buffer
		w := World{Out: &out, Err: &err, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if code := Run(context.Background(), w, args); code != want {
			t.Fatalf("%v ends with %d, want %d: %s%s", args, code, want, &out, &err)
		}
		return out.String() + err.String()
	}
	const name = "lamp-colours.trial.yaml"
	run(0, "benches", "import", "rack", "--store", "s.db")
	if err := os.RemoveAll("rack"); err != nil {
		t.Fatal(err)
	}
	if out := run(0, "trial", "record", name, "--store", "s.db", "--unit", "C1-L1", "--plant", "P1", "--what", "leaves", "--value", "14", "--date", "2026-06-01", "--by", "AB"); !strings.Contains(out, "kept") {
		t.Error(out)
	}
	if out := run(0, "trial", "undo", name, "--store", "s.db"); !strings.Contains(out, "No table was imported yet.") {
		t.Error(out)
	}
	if out := run(0, "trial", "sheet", name, "--store", "s.db", "--text"); !strings.Contains(out, "White or red and blue") {
		t.Error(out)
	}
	for _, wrong := range [][]string{{"none.yaml"}, {"../" + name}, {name, "--outlook", "rack/tier-2-middle.yaml"}} {
		run(2, append([]string{"trial", "findings", "--store", "s.db"}, wrong...)...)
	}
	run(2, "trial", "findings", name) // not in this folder
}
