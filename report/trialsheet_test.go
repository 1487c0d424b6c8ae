package report_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/report"
)

// splitTrial is a split plot of two cultivars under the two panels of the demo.
func splitTrial() *underlamp.Trial {
	p := &underlamp.Trial{Name: "Two levels <of light>", Question: "Does 15 mol pay?", Response: underlamp.ResponseMass, Difference: 15, Layout: underlamp.SplitLayout, Seed: 7, Columns: map[string]string{},
		Treatments: []underlamp.Treatment{{Name: "15 mol", DLI: 15}, {Name: "12 mol", DLI: 12, Control: true}}}
	for c, order := range [][2]int{{0, 1}, {1, 0}, {0, 1}} {
		for l, name := range []string{"left panel", "right panel"} {
			for k, part := range []string{"Tarn Copper", "Quill"} {
				whole := fmt.Sprintf("C%d-L%d", c+1, l+1)
				p.Places = append(p.Places, underlamp.TrialUnit{Name: whole + string(rune('a'+k)), Whole: whole, Part: part, Treatment: p.Treatments[order[l]].Name, Block: fmt.Sprintf("cycle %d", c+1), Lamp: name, Plants: 4})
			}
		}
	}
	return p
}

func middle(t testing.TB) *light.Model {
	t.Helper()
	b, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	if err != nil || b == nil {
		t.Fatal(problems, err)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The sheet is well-formed, says every code of the trial once as a label, and is the file
// that a person has looked at.
func TestTrialSheet(t *testing.T) {
	p := splitTrial()
	l, err := trial.CheckLight(middle(t), p, trial.LightOptions{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := trial.NewSheet(p, l, trial.SheetOptions{Start: "2026-10-01", Days: 32})
	if err != nil {
		t.Fatal(err)
	}
	page := report.TrialSheet(s)
	got, err := outline(bytes.NewReader(page))
	if err != nil {
		t.Fatalf("not well-formed: %v", err)
	}
	for _, b := range s.Blocks {
		for _, u := range b.Units {
			for _, x := range u.Plants {
				if n := strings.Count(string(page), "<li>"+x.Code+"</li>"); n != 1 {
					t.Errorf("%s stands on %d labels", x.Code, n)
				}
			}
		}
	}
	if strings.Contains(string(page), "<of light>") {
		t.Error("the name is not escaped")
	}
	file := filepath.Join("testdata", "trialsheet.golden")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run go test ./report -run TrialSheet -update and read the difference", file)
	}
}
