package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/internal/pdftest"
	"underlamp/science/quantity"
)

// Where a command writes a page it writes a PDF if the name says so, on the paper that is
// asked for, whole or not at all.
func TestPagesAsPDF(t *testing.T) {
	dir := demoFolder(t)
	plan := filepath.Join(dir, "light-levels.trial.yaml")
	for _, c := range []struct {
		args  []string
		file  string
		paper string
	}{
		{[]string{"trial", "sheet", plan}, "sheet.pdf", "595.28 x 841.89 pts (A4)"},
		{[]string{"trial", "findings", plan, "--paper", "letter"}, "findings.PDF", "612 x 792 pts (letter)"},
	} {
		file := filepath.Join(t.TempDir(), c.file)
		code, out, errs := run(t, "", append(c.args, "-o", file)...)
		if code != exitDone || errs != "" || !strings.Contains(out, file) {
			t.Errorf("%v ends with %d: %s %s", c.args, code, out, errs)
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got := pdftest.Info(t, data, "Page size"); got != c.paper {
			t.Errorf("%s is set on %s", c.file, got)
		}
	}
	refuses(t, "no paper that is known", "trial", "sheet", plan, "-o", filepath.Join(t.TempDir(), "x.pdf"), "--paper", "a5")
	refuses(t, "--paper is for a PDF", "trial", "sheet", plan, "-o", filepath.Join(t.TempDir(), "x.html"), "--paper", "a4")
	bench := filepath.Join(dir, "tier-3-bottom.yaml")
	refuses(t, "--paper is for a PDF", "report", bench, "--paper", "a4")
	refuses(t, "--pdf writes a PDF", "report", bench, "--pdf", "-o", "x.html")
}

// Letters that the fonts lack are named, and a folder that takes no file is left without one.
func TestPageThatLacks(t *testing.T) {
	var out, errs bytes.Buffer
	w := World{Out: &out, Err: &errs}
	page := []byte("<!doctype html><title>光</title><h1>光</h1><p>grows</p>")
	file := filepath.Join(t.TempDir(), "it.pdf")
	if _, err := writePage(w, file, page, paperFlag{}, quantity.US); err != nil || !strings.Contains(errs.String(), "光 (U+5149)") {
		t.Errorf("%v, and says %q", err, errs.String())
	}
	data, err := os.ReadFile(file)
	if err != nil || !strings.HasPrefix(pdftest.Info(t, data, "Page size"), "612 x 792") {
		t.Error(err)
	}
	none := filepath.Join(t.TempDir(), "none", "it.pdf")
	if _, err := writePage(w, none, page, paperFlag{}, quantity.Metric); err == nil || !strings.Contains(err.Error(), "cannot be written") {
		t.Errorf("it says %v", err)
	}
	if _, err := writePage(w, file, []byte("words"), paperFlag{}, quantity.Metric); err == nil {
		t.Error("a page that is none is written")
	}
	if again, err := os.ReadFile(file); err != nil || !bytes.Equal(again, data) {
		t.Errorf("the file before is gone: %v", err)
	}
}
