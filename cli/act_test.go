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

// From the template of a bench to the store, and what a person wants.
func TestAct(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	run := func(code int, want string, args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		w := World{Out: &out, Err: &errs, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if got := Run(context.Background(), w, args); got != code || !strings.Contains(out.String()+errs.String(), want) {
			t.Errorf("%v: %d, %s%s, want %d, %q", args, got, out.String(), errs.String(), code, want)
		}
		return out.String()
	}
	text := run(0, "acting: no", "act", "new", "rack/tier-1-top.yaml", "--zone", "Europe/Berlin")
	run(2, "no time zone", "act", "new", "rack/tier-1-top.yaml")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile("act.yaml", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write(text)
	run(0, "dimmer/front-bar/set", "act", "check", "act.yaml", "rack/tier-1-top.yaml")
	run(2, "the store cannot be opened", "act", "put", "act.yaml", "--store", "r.db")
	if _, err := os.Stat("r.db"); err == nil {
		t.Error("a store was made by a slip")
	}
	run(0, "version 1", "benches", "import", "rack", "--store", "r.db")
	run(0, "No lamps are turned", "act", "list", "--store", "r.db")
	run(2, "no description", "act", "set", "tier-1-top", "front bar", "off", "--store", "r.db")
	run(0, "logs what it would do with 3 lamps", "act", "put", "act.yaml", "--store", "r.db")
	write(strings.Replace(text, "acting: no ", "acting: yes ", 1))
	run(0, "turns 3 lamps", "act", "put", "act.yaml", "--store", "r.db")
	for _, c := range [][3]string{{"hours: 20 h", "hours: 4 h", "more than its limit of 4 h"}, {`lamp: "front bar"`, `lamp: "side bar"`, "not on the bench"}} {
		write(strings.Replace(text, c[0], c[1], 1))
		run(2, c[2], "act", "put", "act.yaml", "--store", "r.db")
		run(2, c[2], "act", "check", "act.yaml", "rack/tier-1-top.yaml")
	}
	write(strings.Replace(text, "limits:", "limit:", 1))
	run(2, "act.yaml:12:5", "act", "put", "act.yaml", "--store", "r.db")
	if got := run(0, "", "act", "show", "tier-1-top", "--store", "r.db"); got != strings.Replace(text, "acting: no ", "acting: yes ", 1) {
		t.Errorf("another text: %s", got)
	}
	run(0, "front bar: 50 % until 20", "act", "set", "tier-1-top.yaml", "front bar", "50 %", "--lasting", "30 min", "--store", "r.db")
	run(0, "back bar: off until underlamp act clear", "act", "set", "tier-1-top", "back bar", "off", "--store", "r.db")
	run(2, "these are: front bar", "act", "set", "tier-1-top", "side bar", "off", "--store", "r.db")
	run(2, "is no dimming", "act", "set", "tier-1-top", "front bar", "120 %", "--store", "r.db")
	run(2, "is no time", "act", "set", "tier-1-top", "front bar", "10 %", "--lasting", "soon", "--store", "r.db")
	if got := run(0, "turned", "act", "list", "--store", "r.db"); !strings.Contains(got, "50") || !strings.Contains(got, "taken back") {
		t.Error(got)
	}
	run(0, "1 lamp follows", "act", "clear", "tier-1-top", "back bar", "--store", "r.db")
	run(0, "1 lamp follows", "act", "clear", "tier-1-top", "--store", "r.db")
	run(0, "nothing to take back", "act", "clear", "tier-1-top", "--store", "r.db")
	run(0, "are not turned any more", "act", "drop", "tier-1-top", "--store", "r.db")
	run(2, "no description", "act", "drop", "tier-1-top", "--store", "r.db")
	run(2, "no command of underlamp act", "act", "turn")
}
