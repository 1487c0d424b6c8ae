package cli

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"underlamp/intake/fileintake"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func TestTables(t *testing.T) {
	t.Chdir(t.TempDir())
	s, err := sqlite.Open(context.Background(), "r.db")
	if err != nil {
		t.Fatal(err)
	}
	const text = "underlamp table: 1\nplace: a\ncolumns:\n  - {column: T, unit: °C, sensor: a/T}\n  - {column: B, sensor: none}\n"
	if err := s.PutDocument(context.Background(), store.Document{Kind: fileintake.KindTable, Name: "a 1234", Text: []byte(text)}); err != nil {
		t.Fatal(err)
	}
	s.Close()
	run := func(code int, want string, args ...string) {
		t.Helper()
		var out, errs bytes.Buffer
		w := World{Out: &out, Err: &errs, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if got := Run(context.Background(), w, append(append([]string{"tables"}, args...), "--store", "r.db")); got != code || !strings.Contains(out.String()+errs.String(), want) {
			t.Errorf("%v: %d, %s%s, want %d, %q", args, got, out.String(), errs.String(), code, want)
		}
	}
	run(0, "T (°C)", "list")
	run(0, "none: left out", "list")
	run(0, text, "show", "a 1234")
	run(2, "knows no table", "show", "b")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile("t.yaml", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write(strings.Replace(text, "a/T", "a T", 1))
	run(2, "t.yaml:4:35", "put", "a 1234", "t.yaml")
	write(strings.Replace(text, "a/T", "tent/air", 1))
	run(0, "2 columns of a 1234", "put", "a 1234", "t.yaml")
	run(0, "tent/air", "list")
	run(2, "knows no table", "put", "b", "t.yaml")
	run(0, "is forgotten", "drop", "a 1234")
	run(0, "No table was met", "list")
	run(2, "no command of underlamp tables", "turn")
}
