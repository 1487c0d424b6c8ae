package report_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/report"
)

var update = flag.Bool("update", false, "write the golden reports")

// The words, figures and order of a whole report. The pictures have golden files
// of their own in package draw; here stands only that there is one, and of a
// long table its first rows. A change of the science changes these files: read
// the difference, then keep it with -update.
func TestGoldenReports(t *testing.T) {
	for name, change := range map[string]*strings.Replacer{
		"tier-2-middle": strings.NewReplacer(),
		// Defaults, US units, a reading far off, and no setting that serves.
		"tier-3-bottom": strings.NewReplacer("units: metric", "units: us", ", dimming: 100 %, hours: 14 h", ""),
	} {
		source := change.Replace(string(demo.File(name + ".yaml")))
		bench, problems, err := benchfile.ReadWith(strings.NewReader(source), benchfolder.Files(demo.Folder()))
		if err != nil || problems.HasErrors() {
			t.Fatalf("%s: %v %v", name, err, problems)
		}
		m, err := light.NewModel(bench)
		if err != nil {
			t.Fatal(err)
		}
		d, err := report.Compute(context.Background(), m, 200, nil)
		if err != nil {
			t.Fatal(err)
		}
		d.Head = head(name+".yaml", source)
		pages := map[string][]byte{name: d.HTML()}
		if name == "tier-2-middle" {
			pages[name+"-short"] = d.Short()
		}
		golden(t, pages)
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return fmt.Sprintf("line %d is\n\t%s\nand was\n\t%s", i+1, g[i], w[i])
		}
	}
	return fmt.Sprintf("%d lines, and were %d", len(g), len(w))
}

// longTable is how many rows of a table an outline keeps.
const longTable = 5

// outline is what a page says, one block a line: headings, sentences, rows of
// tables with | between cells, and [picture] with its title for each picture.
func outline(r io.Reader) (string, error) {
	dec := xml.NewDecoder(r)
	dec.Strict, dec.AutoClose, dec.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out, line strings.Builder
	rows, skip := 0, 0
	flush := func(lead string) {
		if text := strings.Join(strings.Fields(line.String()), " "); text != "" {
			out.WriteString(lead + text + "\n")
		}
		line.Reset()
	}
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			flush("")
			return out.String(), nil
		}
		if err != nil {
			return "", err
		}
		switch x := token.(type) {
		case xml.StartElement:
			switch name := x.Name.Local; {
			case skip > 0 || name == "style":
				skip++
			case name == "svg":
				flush("")
				skip++
			case name == "figure":
				flush("")
				line.WriteString("[picture]")
			case name == "table":
				flush("")
				rows = 0
			case name == "section":
				flush("")
				line.WriteString("\n")
			}
		case xml.EndElement:
			switch name := x.Name.Local; {
			case skip > 0:
				skip--
			case name == "h1", name == "h2", name == "h3":
				flush(strings.Repeat("#", int(name[1]-'0')) + " ")
			case name == "th", name == "td":
				line.WriteString(" | ")
			case name == "dt":
				line.WriteString(": ")
			case name == "tr":
				if rows++; rows > longTable+1 {
					line.Reset()
				} else {
					flush("| ")
				}
			case name == "table":
				if rows > longTable+1 {
					fmt.Fprintf(&out, "| … %d rows in all\n", rows-1)
				}
			case name == "li":
				flush("- ")
			case name == "p", name == "dd", name == "summary", name == "caption", name == "figcaption", name == "header", name == "title", name == "nav":
				flush("")
			}
		case xml.CharData:
			if skip == 0 {
				line.Write(x)
			}
		}
	}
}

// The words, figures and order of what cycles taught, and of a back-test.
func TestGoldenLesson(t *testing.T) {
	if testing.Short() {
		t.Skip("learning takes some ten seconds")
	}
	bench, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	m, err := light.NewModel(bench)
	if err != nil {
		t.Fatal(err)
	}
	c, problemsOfCycle, err := cyclefile.Read(bytes.NewReader(demo.File("tier-2-middle.summer.cycle.yaml")), bench)
	if err != nil || c == nil {
		t.Fatal(err, problemsOfCycle)
	}
	cycles := []*underlamp.Cycle{c}
	l, err := learn.Teach(context.Background(), m, cycles, learn.Options{NoBest: true, Draws: 200})
	if err != nil {
		t.Fatal(err)
	}
	r, err := learn.Backtest(context.Background(), m, cycles, learn.BacktestOptions{Every: 14, Draws: 150})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, map[string][]byte{"lesson": report.LearnPage(l, "2026-10-04"), "backtest": report.BacktestPage(bench, r, "2026-10-04")})
}

// head is what the golden reports say of themselves.
func head(name, source string) report.Head {
	return report.Head{Written: "2026-10-04", Version: "0.0.0-test", Inputs: []report.Input{report.Hashed(name, []byte(source))}, Command: "underlamp report " + name}
}
