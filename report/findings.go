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
	v := struct {
		Question                 string
		Summary, Notes           []string
		Picture, Units, Variance template.HTML
		Parts                    []findingView
	}{Question: f.Trial.Question, Summary: f.Summary, Notes: f.Notes, Picture: FindingsPicture(f), Units: unitsTable(f), Variance: varianceTable(f)}
	for _, p := range f.Parts {
		v.Parts = append(v.Parts, findingPart(f, p, p.Rest(), true))
	}
	return render("findings.tmpl", v)
}

// A findingView is a part of findings for its template.
type findingView struct {
	Title                            string
	Says                             []string
	Pictures, Growth, Tests, Figures template.HTML
}

// findingPart is a part with some of its sentences; its figures with their workings or without.
func findingPart(f *trial.Findings, p trial.Part, says []string, workings bool) findingView {
	x := findingView{Title: p.Title, Says: says, Pictures: partPictures(f, p), Tests: testsTable(p)}
	for i, g := range f.Growth {
		if g.Title == p.Title {
			x.Pictures, x.Growth = GrowthPicture(g, fmt.Sprint("growth", i+1)), growthUnits(g)
		}
	}
	switch {
	case len(p.Figures) == 0:
	case workings:
		x.Figures = FiguresSection(p.Figures)
	default:
		x.Figures = render("headline.tmpl", p.Figures)
	}
	return x
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
	lit := slices.ContainsFunc(f.Units, func(u trial.Unit) bool { return u.Dose > 0 })
	t := draw.Table{Caption: "The units, which are the repeats", Head: []string{"unit", "treatment", "block"}}
	if lit {
		t.Head = append(t.Head, "mol/m²/d")
	}
	mean := "mean"
	if unit := f.Trial.Response.Unit(); unit != "" && f.Trial.Response != underlamp.ResponseSeverity {
		mean += ", " + unit
	}
	t.Head = append(t.Head, "plants", mean)
	var means []float64
	for _, u := range f.Units {
		means = append(means, u.Mean)
	}
	places := evenPlaces(means, 4)
	for _, u := range f.Units {
		row := []string{u.Name, u.Treatment, u.Block}
		if lit {
			dose := ""
			if u.Dose > 0 {
				dose = quantity.Fixed(u.Dose, 1)
			}
			row = append(row, dose)
		}
		mean := "none"
		if u.N > 0 && !math.IsNaN(u.Mean) {
			mean = quantity.Fixed(u.Mean, places)
		}
		t.Rows = append(t.Rows, append(row, fmt.Sprint(u.N), mean))
	}
	return template.HTML(t.HTML())
}

// evenPlaces are the decimals with which a column of values stands even: so many digits of the
// largest.
func evenPlaces(values []float64, digits int) int {
	most := 0.0
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			most = max(most, math.Abs(v))
		}
	}
	if most == 0 {
		return 0
	}
	return min(max(digits-1-int(math.Floor(math.Log10(most))), 0), 4)
}

func varianceTable(f *trial.Findings) template.HTML {
	if len(f.Lines) == 0 {
		return ""
	}
	t := draw.Table{Caption: "Table of variance, of unit means", Head: []string{"line", "df", "sum of squares", "mean square", "F", "p"}}
	var squares []float64
	for _, l := range f.Lines {
		squares = append(squares, l.SS, l.MS)
	}
	places := evenPlaces(squares, 5)
	for _, l := range f.Lines {
		test, p := "", ""
		if l.Tested {
			test, p = quantity.Number(l.F, 3), pCell(l.P)
		} else if l.Why != "" {
			test = l.Why
		}
		t.Rows = append(t.Rows, []string{l.Name, fmt.Sprint(l.DF), quantity.Fixed(l.SS, places), quantity.Fixed(l.MS, places), test, p})
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
