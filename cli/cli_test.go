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
)

// run carries out one command line and returns code, output and errors.
func run(t *testing.T, in string, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = Run(context.Background(), World{In: strings.NewReader(in), Out: &o, Err: &e, memory: shared}, args)
	if strings.HasPrefix(o.String(), "{\n  \"schema\": ") {
		conforms(t, o.Bytes())
	}
	return code, o.String(), e.String()
}

// refuses fails the test unless a command line ends with code 2, prints no result
// and says a word of why.
func refuses(t *testing.T, says string, args ...string) {
	t.Helper()
	code, out, errs := run(t, "", args...)
	if code != 2 || out != "" || errs == "" || !strings.Contains(errs, says) {
		t.Errorf("%v: code %d, %q, errors %q, want %q", args, code, out, errs, says)
	}
}

// inJSON carries out a command line and reads what it prints.
func inJSON(t *testing.T, into any, args ...string) {
	t.Helper()
	code, out, errs := run(t, "", args...)
	if code != 0 {
		t.Fatalf("%v: code %d: %s", args, code, errs)
	}
	if err := json.Unmarshal([]byte(out), into); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
}

// demoFolder is the demo as a folder, demoFile a file of it.
func demoFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	return dir
}

func demoFile(t *testing.T, name string) string {
	t.Helper()
	return filepath.Join(demoFolder(t), filepath.FromSlash(name))
}

// Wrong input: exit code 2, all mistakes at once with their place, nothing
// written.
func TestWrongInput(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.yaml")
	text := strings.NewReplacer("height: 34 cm", "height: 90 cm", "hours: 16 h", "hours: 26 h", "space:", "spase:").Replace(string(demo.File("tier-1-top.yaml")))
	if err := os.WriteFile(bad, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, verb := range []string{"check", "light", "outlook", "best", "report"} {
		code, out, errs := run(t, "", verb, bad)
		if code != 2 || out != "" {
			t.Errorf("%s: code %d, output %q", verb, code, out)
		}
		for _, want := range []string{"bad.yaml:8:1", "space", "26 h"} {
			if !strings.Contains(errs, want) {
				t.Errorf("%s: the errors do not say %q:\n%s", verb, want, errs)
			}
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("something was written: %v", entries)
	}
	for _, args := range [][]string{{"light"}, {"light", "no-such-file.yaml"}, {"lihgt", "x"}, {"light", "--no-such-option", "x"}, {"demo", "x"}} {
		if code, _, errs := run(t, "", args...); code != 2 || errs == "" {
			t.Errorf("%v: code %d, %q", args, code, errs)
		}
	}
}

func TestLightAsJSON(t *testing.T) {
	var v struct {
		Plants   []struct{ Name string }
		Readings []struct {
			Name   string
			FarOff bool `json:"far_off"`
		}
		Map struct {
			X, Y []float64 `json:"-"`
		}
	}
	inJSON(t, &v, "light", "--json", demoFile(t, "tier-3-bottom.yaml"))
	if len(v.Plants) != 12 || len(v.Readings) != 5 || !v.Readings[4].FarOff {
		t.Errorf("%d plants, readings %+v", len(v.Plants), v.Readings)
	}
}

func TestOutlookWithWorking(t *testing.T) {
	code, out, errs := run(t, "", "outlook", "--working", demoFile(t, "tier-2-middle.yaml"))
	if code != 0 {
		t.Fatalf("code %d: %s", code, errs)
	}
	for _, want := range []string{"fresh mass of a head", "chance of inner tipburn", "formula", "Van Henten", "default"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing", want)
		}
	}
}

// A file from "new" is in order, with answers and without.
func TestNewThenCheck(t *testing.T) {
	for name, in := range map[string]string{
		"assumed":  "",
		"answered": "100 x 50 x 40 cm\n2, 40 W, 30 cm\n12 romaine\ndown\n0.25 EUR/kWh\n",
		"mended":   "a lot\n48 x 24 x 18 in\n\n12 oakleaf\nsideways\nacross\n$0.16/kWh\n",
	} {
		file := filepath.Join(t.TempDir(), "b.yaml")
		args := []string{"new", "-o", file}
		if in == "" {
			args = append(args, "--no-questions")
		}
		if code, _, errs := run(t, in, args...); code != 0 {
			t.Fatalf("%s: code %d: %s", name, code, errs)
		}
		if code, out, errs := run(t, "", "check", file); code != 0 || !strings.Contains(out, "is in order") {
			t.Errorf("%s: code %d: %s %s", name, code, out, errs)
		}
		if code, out, _ := run(t, "", "check", file); code != 0 || !strings.Contains(out, "dimming of the lamps") || !strings.Contains(out, "hours of the lamps") || strings.Contains(out, "head type") != (name == "assumed") {
			t.Errorf("%s: the defaults are not listed as they are:\n%s", name, out)
		}
		if code, out, _ := run(t, "", "light", file); code != 0 || !strings.Contains(out, "dimming 100 % (default), 16 h (default)") {
			t.Errorf("%s: a default is not shown as one:\n%s", name, out)
		}
		if code, _, _ := run(t, "", "new", "--no-questions", "-o", file); code != 2 {
			t.Errorf("%s: a file that is there was written over", name)
		}
	}
}

func TestReportStandsByItself(t *testing.T) {
	file := demoFile(t, "tier-2-middle.yaml")
	out := filepath.Join(t.TempDir(), "r.html")
	if code, _, errs := run(t, "", "report", file, "-o", out); code != 0 {
		t.Fatalf("code %d: %s", code, errs)
	}
	html, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(html), "http://www.w3.org/2000/svg", "")
	for _, bad := range []string{"<script", " style=", "http://", "https://", "src=", "<link"} {
		if strings.Contains(text, bad) {
			t.Errorf("the report holds %q", bad)
		}
	}
	for _, want := range []string{"<svg", "Settings compared", "Calcium of the youngest leaves", "The numbers as a table", "Formula", "Mains and water", "Graamans"} {
		if !strings.Contains(text, want) {
			t.Errorf("the report lacks %q", want)
		}
	}
}
