package cli

import (
	"bytes"
	"context"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// shared is what tests of one process have computed already.
var shared = &memory{}

// What --help shows works as it stands, in the order in which it stands, and
// every verb has an example.
func TestExamplesOfHelpWork(t *testing.T) {
	t.Chdir(t.TempDir())
	if testing.Short() {
		if err := errors.Join(os.CopyFS("underlamp-demo", demo.Folder()), os.CopyFS("underlamp-demo/photos", demo.Photos())); err != nil {
			t.Fatal(err)
		}
	}
	served, done := 0, map[string]bool{}
	w := World{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}, Serve: func(_ context.Context, o ServeOptions, ready func(Serving)) error {
		if _, err := os.Stat(o.Folder); err != nil {
			return err
		}
		served++
		ready(Serving{Pages: "http://" + o.Listen + "/"})
		return nil
	}, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }, memory: shared, demoSpan: 14 * 24 * time.Hour}
	var verbs []*cobra.Command
	for _, verb := range newRoot(w).Commands() {
		verbs = append(verbs, verb)
		for _, sub := range verb.Commands() {
			if verb.Name() == "trial" || verb.Name() == "feed" {
				verbs = append(verbs, sub)
			}
		}
	}
	for _, verb := range verbs {
		t.Run(verb.CommandPath(), func(t *testing.T) {
			lines := strings.Split(verb.Example, "\n")
			ran := 0
			for i, line := range lines {
				text, ok := strings.CutPrefix(line, "  underlamp ")
				if !ok {
					continue
				}
				ran++
				if strings.HasPrefix(text, "validate") || done[text] {
					continue // package validation tests it; the demo is made once
				}
				done[text] = true
				if word := strings.Fields(text)[0]; testing.Short() && slices.Contains([]string{"demo", "best", "report", "learn", "backtest"}, word) {
					continue // a search each
				}
				args, file, redirected := strings.Cut(text, " > ")
				var answers []string
				for _, a := range lines[i+1:] {
					if !strings.HasPrefix(a, "      ") {
						break
					}
					answers = append(answers, strings.TrimSpace(a))
				}
				var out, errs bytes.Buffer
				w := w
				w.In, w.Out, w.Err = strings.NewReader(strings.Join(answers, "\n")+"\n"), &out, &errs
				if code := Run(context.Background(), w, words(args)); code != 0 {
					t.Fatalf("%s: code %d, %s", text, code, errs.String())
				}
				if word := strings.Fields(text)[0]; strings.Contains(text, "--json") && word != "photos" && word != "rounds" {
					conforms(t, out.Bytes())
				}
				if redirected {
					if err := os.WriteFile(file, out.Bytes(), 0o644); err != nil {
						t.Fatal(err)
					}
				}
			}
			if ran == 0 && !verb.IsAdditionalHelpTopicCommand() {
				t.Errorf("%s has no example", verb.Name())
			}
		})
	}
	if served != 4 && !testing.Short() {
		t.Errorf("%d examples served pages, want those of serve and demo", served)
	}
}

// words splits a line as a shell does, as far as the examples need it: blanks
// part, double quotes hold together.
func words(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
			continue
		}
		out = append(out, strings.Fields(part)...)
	}
	return out
}

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

// Exit codes say what happened: 1 where the result did not arrive or was
// stopped, 2 where the question was wrong.
func TestEveryCommandIsListedOnce(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range newRoot(World{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}}).Commands() {
		if seen[c.Name()] {
			t.Errorf("%s is listed twice", c.Name())
		}
		if seen[c.Name()] = true; c.GroupID == "" && c.Name() != "help" && !c.IsAdditionalHelpTopicCommand() {
			t.Errorf("%s belongs to no part of the job", c.Name())
		}
	}
}

func TestExitCodes(t *testing.T) {
	file := demoFile(t, "tier-3-bottom.yaml")
	stopped, stop := context.WithCancel(context.Background())
	stop()
	for _, c := range []struct {
		args []string
		ctx  context.Context
		full bool
		code int
		says string
	}{
		{args: []string{"light", file}, code: 0},
		{args: []string{"light", file}, full: true, code: 1, says: "no space left"},
		{args: []string{"best", file}, ctx: stopped, code: 130, says: "stopped"},
		{args: []string{"light", t.TempDir()}, code: 2, says: "is a folder"},
		{args: []string{"help", "light"}, code: 0},
		{args: []string{"help", "lihgt"}, code: 2, says: "lihgt"},
		{args: []string{"help"}, code: 0},
	} {
		var out, errs bytes.Buffer
		w := World{In: strings.NewReader(""), Out: &out, Err: &errs}
		if c.full {
			w.Out = full{}
		}
		ctx := c.ctx
		if ctx == nil {
			ctx = context.Background()
		}
		if code := Run(ctx, w, c.args); code != c.code || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%v: code %d, want %d and %q: %s", c.args, code, c.code, c.says, errs.String())
		}
		if c.code == 0 && !slices.Contains(c.args, "light") && !strings.Contains(out.String(), "demo") {
			t.Errorf("%v printed %q", c.args, out.String())
		}
	}
}
