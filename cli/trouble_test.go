package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/formats/evidencefile"
)

// On a terminal at most four questions are asked; answers are numbers, and the case is kept
// beside the bench file and concluded there.
func TestTrouble(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "shelf.yaml")
	if err := os.WriteFile(name, demo.File("tier-2-middle.yaml"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	run := func(typed string, terminal bool, args ...string) (string, string, int) {
		var out, errs bytes.Buffer
		code := Run(context.Background(), World{In: strings.NewReader(typed), Out: &out, Err: &errs, Terminal: terminal}, append([]string{"trouble"}, args...))
		return out.String(), errs.String(), code
	}
	out, errs, code := run("7x\n1\n0\n0\n0\n", true, name, "-s", "inner-leaf-burn", "--keep", "--by", "Ida")
	for _, want := range []string{"1 of at most 4.", "4 of at most 4.", "Type a number from 0 to", "too little calcium reaches the heart leaves", "Change first:", "Look again:", "What no record of a bench shows", "Kept as case"} {
		if code != 0 || !strings.Contains(out, want) {
			t.Fatalf("code %d, no %q in:\n%s%s", code, want, out, errs)
		}
	}
	if strings.Contains(out, "5 of at most 4") {
		t.Error("a fifth question was asked")
	}
	_, id, _ := strings.Cut(out, "Kept as case ")
	id = strings.TrimRight(id, ".\n")
	if out, errs, code = run("", false, name, "--outcome", id, "--cause", "inner-burn", "--helped", "yes"); code != 0 {
		t.Fatal(out, errs)
	}
	if out, _, _ = run("", false, name, "--cases"); !strings.Contains(out, "helped: yes") || !strings.Contains(out, "Cases here with a known cause: 1.") {
		t.Error(out)
	}
	out, _, code = run("", true, name, "-s", "wilt", "-a", "water=fails", "--json")
	conforms(t, []byte(out))
	var got troubleAnswer
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 || got.Causes[0].Key != "dry-roots" || len(got.Causes[0].For) == 0 {
		t.Errorf("%v, code %d: %.300s", err, code, out)
	}
	if out, _, _ = run("", false, "--evidence-table"); out != string(evidencefile.Text()) {
		t.Error("the table is not that of the program")
	}
	for what, args := range map[string][]string{
		"say what you see":    {name},
		"there is no symptom": {name, "-s", "hiccups"},
		"is no answer":        {name, "-s", "wilt", "-a", "water"},
		"there is no case":    {name, "--outcome", "none", "--cause", "iron"},
		"takes one bench":     {},
	} {
		if _, errs, code := run("", false, args...); code != exitWrong || !strings.Contains(errs, what) {
			t.Errorf("%v: code %d, %s", args, code, errs)
		}
	}
	// A file of the folder amends the table, and its mistakes are told with their place.
	own := filepath.Join(dir, evidencefile.Name)
	if err := os.WriteFile(own, []byte("underlamp evidence: 1\ncauses:\n  - {key: iron, met: always}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, errs, code = run("", false, name, "-s", "wilt"); code != exitWrong || !strings.Contains(errs, "evidence.yaml:3:22") {
		t.Errorf("code %d: %s", code, errs)
	}
}
