package report_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"underlamp/app/trial"
	"underlamp/demo"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/report"
)

func colours(t *testing.T) *trial.Findings {
	t.Helper()
	tr, problems, err := trialfile.Read(bytes.NewReader(demo.File("lamp-colours.trial.yaml")))
	if err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	all, err := trialtable.Read(demo.File("lamp-colours.trial.csv"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := trial.Find(tr, trialtable.Standing(all))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Every look at every plant is drawn and stands in the table beside the picture, with a
// curve for each treatment.
func TestGrowthPictureHasEveryLook(t *testing.T) {
	f := colours(t)
	g := f.Growth[0]
	looks := 0
	for _, p := range g.Plants {
		looks += len(p.Days)
	}
	page := string(report.GrowthPicture(g, "g"))
	// The picture is made for wide and for narrow screens.
	white := 0
	for _, p := range g.Plants {
		if p.Treatment == "white" {
			white += len(p.Days)
		}
	}
	if n := len(regexp.MustCompile(`class="d-f[01] d-paper-line"`).FindAllString(page, -1)); n < 2*looks || n > 2*looks+8 {
		t.Errorf("%d marks for %d looks in two sizes of picture", n, looks)
	}
	if n := strings.Count(page, "<circle"); n < 2*white || n > 2*white+4 {
		t.Errorf("%d discs for %d looks at plants under white", n, white)
	}
	for _, want := range []string{"plants, red and blue", "Relative growth rate", "120 g", "<table"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	section := string(report.FindingsSection(f))
	for _, want := range []string{"Growth: fresh mass", "its limits by its plants (delta)", "C3-L2", "days to 120 g, red and blue − white"} {
		if !strings.Contains(strings.ToLower(section), strings.ToLower(want)) {
			t.Errorf("the findings have no %q", want)
		}
	}
	if strings.Contains(section, "NaN") || strings.Contains(section, "Inf") {
		t.Error("NaN on the page")
	}
}
