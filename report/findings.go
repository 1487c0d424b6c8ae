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

// FindingsPicture shows every plant, and over the plants the mean of each unit, by the
// light that units got, or by treatment where the treatments are no levels of light.
func FindingsPicture(f *trial.Findings) template.HTML {
	t := f.Trial
	byLight := true
	for _, u := range f.Units {
		byLight = byLight && u.Dose > 0
	}
	at := func(u trial.Unit) float64 { return u.Dose }
	name := "light that the unit got, mol/m²/d"
	if !byLight {
		at = func(u trial.Unit) float64 {
			return float64(1 + slices.IndexFunc(t.Treatments, func(x underlamp.Treatment) bool { return x.Name == u.Treatment }))
		}
		var names []string
		for i, x := range t.Treatments {
			names = append(names, fmt.Sprintf("%d: %s", i+1, x.Name))
		}
		name = "treatment: " + strings.Join(names, ", ")
	}
	plants, units := draw.Points{Name: "plants"}, draw.Points{Name: "units (the repeats)"}
	low, high := math.Inf(1), math.Inf(-1)
	for _, u := range f.Units {
		x := at(u)
		low, high = min(low, x), max(high, x)
		for _, v := range u.Raw {
			plants.At = append(plants.At, draw.Dot{X: x, Y: v})
		}
		if u.N > 0 && !math.IsNaN(u.Mean) {
			units.At = append(units.At, draw.Dot{X: x, Y: u.Mean})
		}
	}
	if !(low <= high) || len(units.At) == 0 {
		return ""
	}
	edge := max((high-low)/20, 0.5)
	panel := draw.Panel{Name: responseName(t.Response), Unit: t.Response.Unit(), Points: []draw.Points{plants, units}}
	if t.Response == underlamp.ResponseSeverity { // means are of ranks, plants of grades
		panel.Points = panel.Points[:1]
	}
	var markers []draw.Marker
	for _, g := range f.Figures() {
		if byLight && strings.HasPrefix(g.Name, "safe light") && g.Band != nil && g.Band.Low > low && g.Band.Low < high {
			markers = append(markers, draw.Marker{X: g.Band.Low, Label: "stay below " + quantity.Number(g.Band.Low, 3)})
		}
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "findings"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Every plant and every unit"
		return draw.Lines{Frame: fr, X: []float64{low - edge, high + edge}, XName: name, Panels: []draw.Panel{panel}, Markers: markers}.Draw()
	}))
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

// FindingsSection is what a trial tells: plain words first, then every plant, then the
// figures, each with its working.
func FindingsSection(f *trial.Findings) template.HTML {
	units := draw.Table{Caption: "The units, which are the repeats", Head: []string{"unit", "treatment", "block", "mol/m²/d", "plants", "mean"}}
	for _, u := range f.Units {
		dose, mean := "", "none"
		if u.Dose > 0 {
			dose = quantity.Number(u.Dose, 3)
		}
		if u.N > 0 && !math.IsNaN(u.Mean) {
			mean = quantity.Number(u.Mean, 4)
		}
		units.Rows = append(units.Rows, []string{u.Name, u.Treatment, u.Block, dose, fmt.Sprint(u.N), mean})
	}
	variance := draw.Table{Caption: "Table of variance, of unit means", Head: []string{"line", "df", "sum of squares", "mean square", "F", "p"}}
	for _, l := range f.Lines {
		test, p := "", ""
		if l.Tested {
			test, p = quantity.Number(l.F, 3), quantity.Number(l.P, 2)
			if l.P < 0.001 {
				p = "< 0.001"
			}
		} else if l.Why != "" {
			test = l.Why
		}
		variance.Rows = append(variance.Rows, []string{l.Name, fmt.Sprint(l.DF), quantity.Number(l.SS, 4), quantity.Number(l.MS, 4), test, p})
	}
	type part struct {
		Title                   string
		Says                    []string
		Picture, Table, Figures template.HTML
	}
	v := struct {
		Question                 string
		Summary, Notes           []string
		Picture, Units, Variance template.HTML
		Parts                    []part
	}{Question: f.Trial.Question, Summary: f.Summary, Notes: f.Notes, Picture: FindingsPicture(f), Units: template.HTML(units.HTML())}
	if len(variance.Rows) > 0 {
		v.Variance = template.HTML(variance.HTML())
	}
	for _, p := range f.Parts {
		x := part{Title: p.Title, Says: p.Says}
		for i, g := range f.Growth {
			if g.Title == p.Title {
				x.Picture, x.Table = GrowthPicture(g, fmt.Sprint("growth", i+1)), growthUnits(g)
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
