package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/draw"
	"underlamp/science/quantity"
)

// FindingsSection is what a trial tells: plain words first, then every plant, then the
// figures, each with its working, and the picture of each part.
func FindingsSection(f *trial.Findings) template.HTML {
	type part struct {
		Title                            string
		Says                             []string
		Pictures, Growth, Tests, Figures template.HTML
	}
	v := struct {
		Question                 string
		Summary, Notes           []string
		Picture, Units, Variance template.HTML
		Parts                    []part
	}{Question: f.Trial.Question, Summary: f.Summary, Notes: f.Notes, Picture: FindingsPicture(f), Units: unitsTable(f), Variance: varianceTable(f)}
	for _, p := range f.Parts {
		x := part{Title: p.Title, Says: p.Rest(), Pictures: partPictures(f, p), Tests: testsTable(p)}
		for i, g := range f.Growth {
			if g.Title == p.Title {
				x.Pictures, x.Growth = GrowthPicture(g, fmt.Sprint("growth", i+1)), growthUnits(g)
			}
		}
		if len(p.Figures) > 0 {
			x.Figures = FiguresSection(p.Figures)
		}
		v.Parts = append(v.Parts, x)
	}
	return render("findings.tmpl", v)
}

// FindingsPage is the findings as one HTML file.
func FindingsPage(f *trial.Findings, written string) []byte {
	return []byte(render("sectionpage.tmpl", sectionPage{f.Trial.Name, "Findings of the trial", written, template.CSS(CSS()), FindingsSection(f), Cautions()}))
}

func responseName(r underlamp.Response) string {
	switch r {
	case underlamp.ResponseMass:
		return "Fresh mass"
	case underlamp.ResponseBurn:
		return "Burn, 0 or 1"
	case underlamp.ResponseSeverity:
		return "Severity of burn, 0 to 5"
	case underlamp.ResponseClear, underlamp.ResponseFirst:
		return "Day of first burn"
	}
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

func unitsTable(f *trial.Findings) template.HTML {
	t := draw.Table{Caption: "The units, which are the repeats", Head: []string{"unit", "treatment", "block", "mol/m²/d", "plants", "mean"}}
	for _, u := range f.Units {
		dose, mean := "", "none"
		if u.Dose > 0 {
			dose = quantity.Number(u.Dose, 3)
		}
		if u.N > 0 && !math.IsNaN(u.Mean) {
			mean = quantity.Number(u.Mean, 4)
		}
		t.Rows = append(t.Rows, []string{u.Name, u.Treatment, u.Block, dose, fmt.Sprint(u.N), mean})
	}
	return template.HTML(t.HTML())
}

func varianceTable(f *trial.Findings) template.HTML {
	if len(f.Lines) == 0 {
		return ""
	}
	t := draw.Table{Caption: "Table of variance, of unit means", Head: []string{"line", "df", "sum of squares", "mean square", "F", "p"}}
	for _, l := range f.Lines {
		test, p := "", ""
		if l.Tested {
			test, p = quantity.Number(l.F, 3), pCell(l.P)
		} else if l.Why != "" {
			test = l.Why
		}
		t.Rows = append(t.Rows, []string{l.Name, fmt.Sprint(l.DF), quantity.Number(l.SS, 4), quantity.Number(l.MS, 4), test, p})
	}
	return template.HTML(t.HTML())
}

func pCell(p float64) string {
	if p < 0.001 {
		return "< 0.001"
	}
	return quantity.Number(p, 2)
}

// testsTable are the tests beside that of the primary response.
func testsTable(p trial.Part) template.HTML {
	if len(p.Tests) == 0 {
		return ""
	}
	t := draw.Table{Caption: "Tests of the treatments in what else was seen, on unit means", Head: []string{"what", "F", "df", "p", "p after Holm"}}
	for _, x := range p.Tests {
		if x.Why != "" {
			t.Rows = append(t.Rows, []string{x.What, x.Why, "", "", ""})
			continue
		}
		t.Rows = append(t.Rows, []string{x.What, quantity.Number(x.F, 3), fmt.Sprintf("%.0f and %.0f", x.DF1, x.DF2), pCell(x.P), pCell(x.Adjusted)})
	}
	return template.HTML(t.HTML())
}

// byLight tells whether all units have a light, and how many levels of it.
func byLight(f *trial.Findings) bool {
	return !slices.ContainsFunc(f.Units, func(u trial.Unit) bool { return !(u.Dose > 0) })
}
