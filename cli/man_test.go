package cli

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// man writes a page of every command, with every section, and the completions. Pages hold
// what troff would take for itself in no other way than masked; where man is there (Debian:
// man-db and groff-base), it reads them without a warning.
func TestManual(t *testing.T) {
	dir := t.TempDir()
	if code, _, errs := run(t, "", "man", "-o", dir); code != 0 {
		t.Fatal(errs)
	}
	pages := 0
	for _, c := range tree(t) {
		if c.IsAdditionalHelpTopicCommand() || c.Name() == "help" {
			continue
		}
		pages++
		text, err := os.ReadFile(filepath.Join(dir, "man1", manName(c)+".1"))
		if err != nil {
			t.Error(err)
			continue
		}
		for _, section := range []string{"NAME", "SYNOPSIS", "DESCRIPTION", `"EXIT STATUS"`, "ENVIRONMENT", `"SEE ALSO"`} {
			if !bytes.Contains(text, []byte(".SH "+section)) && !bytes.Contains(text, []byte(`.SH "`+section)) {
				t.Errorf("%s has no section %s", manName(c), section)
			}
		}
		for line := range strings.Lines(string(text)) {
			if word, _, _ := strings.Cut(strings.TrimSpace(line), " "); strings.HasPrefix(word, ".") && !strings.Contains(` .\" .TH .SH .TP .B .BR .PP .RS .RE .nf .fi `, " "+word+" ") || strings.HasPrefix(line, "'") {
				t.Errorf("%s: %q is a macro of nobody", manName(c), line)
			}
		}
	}
	if entries, _ := os.ReadDir(filepath.Join(dir, "man1")); len(entries) != pages {
		t.Errorf("%d pages for %d commands", len(entries), pages)
	}
	for _, name := range []string{"underlamp.bash", "_underlamp", "underlamp.fish", "underlamp.ps1"} {
		if text, err := os.ReadFile(filepath.Join(dir, "completions", name)); err != nil || !bytes.Contains(text, []byte("__complete")) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := exec.LookPath("man"); err != nil {
		t.Log("man is not here: pages were not rendered")
		return
	}
	for _, page := range []string{"underlamp.1", "underlamp-light.1", "underlamp-trial-design.1"} {
		cmd := exec.Command("man", "--warnings", "-E", "UTF-8", "-l", filepath.Join(dir, "man1", page))
		cmd.Env = append(os.Environ(), "MANWIDTH=80", "MANPAGER=cat", "LC_ALL=C.UTF-8")
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		if err := cmd.Run(); err != nil || errs.Len() > 0 || !strings.Contains(out.String(), "EXIT STATUS") {
			t.Errorf("%s: %v\n%s", page, err, errs.String())
		}
	}
}

// complete asks for what completes a line, as the scripts of shells do.
func complete(t *testing.T, args ...string) []string {
	t.Helper()
	var out, errs bytes.Buffer
	w := World{In: strings.NewReader(""), Out: &out, Err: &errs, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
	if code := Run(context.Background(), w, append([]string{"__complete"}, args...)); code != 0 {
		t.Fatalf("%v: code %d: %s", args, code, errs.String())
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	return lines[:len(lines)-1] // the last is the directive
}

func TestCompletion(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(t.Context(), "r.db")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.PutSensor(t.Context(), store.Sensor{Key: "rack/ppfd", Quantity: "PPFD", Unit: "umol/m2/s"}); err != nil {
		t.Fatal(err)
	}
	text, err := fs.ReadFile(demo.Folder(), "tier-1-top.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.PutBenches(t.Context(), []store.Version{{Bench: "tier-1-top", From: 1, Recorded: 1, Text: text}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		line  string
		has   []string
		lacks []string
	}{
		{"lig ", nil, []string{"light"}},
		{"lig", []string{"light\tLight at every plant"}, nil},
		{"help fee", []string{"feed\t"}, nil},
		{"light rack/", []string{"rack/tier-1-top.yaml\tCellar rack, top tier", "rack/tier-2-middle.yaml"}, []string{".trial", "cycle", "feed"}},
		{"trial findings rack/", []string{"rack/light-levels.trial.yaml"}, []string{"tier"}},
		{"learn rack/tier-2-middle.yaml rack/", []string{"rack/tier-2-middle.summer.cycle.yaml"}, []string{"tier-1-top.yaml"}},
		{"feed mix rack/", []string{"rack/rack.feed.yaml"}, []string{"tier"}},
		{"light --", []string{"--target\tPPFD wanted", "--json", "--color"}, nil},
		{"aim --p", nil, []string{"--picture"}},
		{"plan --goal ", []string{"electricity\t", "money"}, nil},
		{"--color ", []string{"auto", "never"}, nil},
		{"air --units ", []string{"metric", "us"}, nil},
		{"crops ro", []string{"romaine"}, nil},
		{"feed new --recipe ", []string{"Hoagland & Arnon solution 2"}, nil},
		{"lamp --per-lumen wh", []string{"white-led"}, nil},
		{"sensor show --store r.db ", []string{"rack/ppfd\tPPFD"}, nil},
		{"sensor set --reads a", []string{"air temperature"}, nil},
		{"benches history --store r.db ", []string{"tier-1-top"}, nil},
		{"watch --store r.db ", []string{"tier-1-top"}, nil},
		{"sensor show --store gone.db ", nil, []string{"rack/ppfd"}},
		{"trouble --symptom inner", []string{"inner-leaf-burn"}, nil},
		{"schema trial-", []string{"trial-findings\t"}, nil},
		{"logged rack/tier-2-middle.yaml ", []string{"csv"}, nil},
		{"trial record --what ", []string{"mass", "first"}, nil},
	} {
		args := strings.Split(c.line, " ")
		got := "\n" + strings.Join(complete(t, args...), "\n")
		for _, want := range c.has {
			if !strings.Contains(got, "\n"+want) {
				t.Errorf("%q: %s is missing:%s", c.line, want, got)
			}
		}
		for _, not := range c.lacks {
			if strings.Contains(got, not) {
				t.Errorf("%q: %s is there:%s", c.line, not, got)
			}
		}
	}
}
