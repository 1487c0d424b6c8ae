package report_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"underlamp/app/environment"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/internal/pdftest"
	"underlamp/report"
	"underlamp/report/pdf"
)

// golden holds what pages say against files; see [TestGoldenReports].
func golden(t *testing.T, pages map[string][]byte) {
	t.Helper()
	for name, page := range pages {
		wellMade(t, name, page)
		printed(t, name, page)
		got, err := outline(bytes.NewReader(page))
		if err != nil {
			t.Fatalf("%s: the page is not well formed: %v", name, err)
		}
		file := filepath.Join("testdata", name+".golden")
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s differs: %s\nrun go test ./report -update and read the difference", file, firstDifference(got, string(want)))
		}
	}
}

// printed holds the PDF of a page to the page, with tools from outside; a short form has one page.
func printed(t *testing.T, name string, page []byte) {
	t.Helper()
	var b bytes.Buffer
	res, err := pdf.Write(&b, page, pdf.Options{})
	if err != nil || len(res.Says()) > 0 {
		t.Errorf("%s as PDF: %v; it lacks %q", name, err, res.Says())
		return
	}
	if strings.HasSuffix(name, "-short") && res.Pages != 1 {
		t.Errorf("%s has %d pages", name, res.Pages)
	}
	pdftest.Check(t, page, b.Bytes())
}

var (
	headingTag = regexp.MustCompile(`<h([1-6])[ >]`)
	anchor     = regexp.MustCompile(`href="([^"]*)"`)
	ident      = regexp.MustCompile(` id="([^"]*)"`)
	headCell   = regexp.MustCompile(`<th[^>]*>`)
)

// wellMade holds a report to what other programs need of it: one heading of the first level, no
// level left out, heads of tables that say of what, links that lead somewhere within, no name
// twice, nothing from elsewhere.
func wellMade(t *testing.T, name string, page []byte) {
	t.Helper()
	text := string(page)
	last, ones := 0, 0
	for _, m := range headingTag.FindAllStringSubmatch(text, -1) {
		level := int(m[1][0] - '0')
		if level > last+1 {
			t.Errorf("%s: a heading of level %d after one of level %d", name, level, last)
		}
		if last = level; level == 1 {
			ones++
		}
	}
	if ones != 1 {
		t.Errorf("%s has %d headings of the first level", name, ones)
	}
	for _, th := range headCell.FindAllString(text, -1) {
		if strings.HasPrefix(th, "<thead") {
			continue
		}
		if !strings.Contains(th, "scope=") {
			t.Errorf("%s: %s does not say what it is the head of", name, th)
			break
		}
	}
	ids := map[string]int{}
	for _, m := range ident.FindAllStringSubmatch(text, -1) {
		if ids[m[1]]++; ids[m[1]] == 2 {
			t.Errorf("%s has the id %q twice", name, m[1])
		}
	}
	for _, m := range anchor.FindAllStringSubmatch(text, -1) {
		if to, within := strings.CutPrefix(m[1], "#"); !within || ids[to] == 0 {
			t.Errorf("%s leads to %q, which is not in it", name, m[1])
		}
	}
	for _, from := range []string{`src="http`, "@import", "<script", "<link", ` style="`, "<iframe"} {
		if strings.Contains(text, from) {
			t.Errorf("%s has %s", name, from)
		}
	}
}

// The reports of a trial, whole and short, with a bench and without.
func TestGoldenTrialReports(t *testing.T) {
	pages := map[string][]byte{}
	for name, short := range map[string]string{"light-levels.trial.yaml": "trial", "lamp-colours.trial.yaml": "trial-colours"} {
		p, err := trialbook.Open(demo.Folder(), name)
		if err != nil {
			t.Fatal(err)
		}
		f, err := p.Findings(context.Background(), demo.Folder(), nil)
		if err != nil {
			t.Fatal(err)
		}
		d := &report.TrialDocument{Head: head(name, string(p.Source)), Findings: f}
		if p.Trial.Bench != "" {
			if d.Bench, err = benchfolder.Bench(demo.Folder(), p.Trial.Bench); err != nil {
				t.Fatal(err)
			}
			m, err := light.NewModel(d.Bench)
			if err != nil {
				t.Fatal(err)
			}
			if d.Light, err = trial.CheckLight(m, p.Trial, trial.LightOptions{}); err != nil {
				t.Fatal(err)
			}
			a, err := m.Answer(nil, 9)
			if err != nil {
				t.Fatal(err)
			}
			d.Around = environment.Of(environment.Known{Bench: d.Bench, Light: a})
		}
		pages[short], pages[short+"-short"] = d.HTML(), d.Short()
	}
	golden(t, pages)
}

// The report of a cycle, whole and short.
func TestGoldenCycleReport(t *testing.T) {
	bench, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	m, err := light.NewModel(bench)
	if err != nil {
		t.Fatal(err)
	}
	const file = "tier-2-middle.autumn.cycle.yaml"
	c, problemsOfCycle, err := cyclefile.Read(bytes.NewReader(demo.File(file)), bench)
	if err != nil || c == nil {
		t.Fatal(err, problemsOfCycle)
	}
	x, err := learn.Compare(context.Background(), m, c, 100)
	if err != nil {
		t.Fatal(err)
	}
	metered := 56.2
	d := &report.CycleDocument{Head: head(file, string(demo.File(file))), Comparison: x, Around: environment.Of(environment.Known{Bench: x.Begun}), Metered: &metered, MeteredBy: "middle/energy"}
	golden(t, map[string][]byte{"cycle": d.HTML(), "cycle-short": d.Short()})
}
