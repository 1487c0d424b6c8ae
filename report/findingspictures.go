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
	light := byLight(f)
	at := func(u trial.Unit) float64 { return u.Dose }
	name := "light that the unit got, mol/m²/d"
	if !light {
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
	if t.Response == underlamp.ResponseSeverity {
		panel.Name = "Midranks of the grades of burn"
	}
	var markers []draw.Marker
	for _, g := range f.Figures() {
		if light && strings.HasPrefix(g.Name, "safe light") && g.Band != nil && g.Band.Low > low && g.Band.Low < high {
			markers = append(markers, draw.Marker{X: g.Band.Low, Label: "stay below " + quantity.Number(g.Band.Low, 3)})
		}
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "findings"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Every plant and every unit"
		return draw.Lines{Frame: fr, X: []float64{low - edge, high + edge}, XName: name, Panels: []draw.Panel{panel}, Markers: markers}.Draw()
	}))
}

// partPictures are those of a part.
func partPictures(f *trial.Findings, p trial.Part) template.HTML {
	var out template.HTML
	if p.Curves != nil {
		out += curvesPicture(f, p.Curves)
	}
	if p.Grades != nil {
		out += gradesPicture(p.Grades)
	}
	if p.Onset != nil {
		out += onsetPicture(p.Onset)
	}
	if p.Residuals != nil {
		out += residualPictures(p.Residuals)
	}
	return out
}

func gradesPicture(g *trial.Grades) template.HTML {
	row := func(r trial.GradeRow) draw.ShareRow { return draw.ShareRow{Name: r.Name, Counts: r.Counts} }
	s := draw.Shares{Name: "Plants by grade of burn, a cell for each plant", Class: "grade", Classes: g.Classes}
	for _, x := range g.Groups {
		group := draw.ShareGroup{ShareRow: row(x.GradeRow)}
		for _, u := range x.Units {
			group.Rows = append(group.Rows, row(u))
		}
		s.Groups = append(s.Groups, group)
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "grades"}, func(fr draw.Frame) draw.Picture {
		s.Frame = fr
		return s.Draw()
	}))
}

func onsetPicture(o *trial.Onset) template.HTML {
	p := draw.Onsets{Name: "Share of plants with burn, by day", XName: "day", Until: o.Until}
	for _, c := range o.Curves {
		g := draw.OnsetGroup{Name: c.Treatment, Left: c.Left, Right: c.Right, Mass: c.Mass}
		for _, x := range c.Plants {
			g.Plants = append(g.Plants, draw.OnsetMark{Name: x.Unit + " " + x.Plant, Last: x.Last, First: x.First})
		}
		for i, d := range c.ModelDay {
			g.Model = append(g.Model, draw.Dot{X: d, Y: c.Model[i]})
		}
		p.Groups = append(p.Groups, g)
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "onset"}, func(fr draw.Frame) draw.Picture {
		p.Frame = fr
		return p.Draw()
	}))
}

// residualPictures are residuals against fitted means, and their normal plot. Units far off
// are named.
func residualPictures(r *trial.Residuals) template.HTML {
	against, normal := draw.Points{Name: r.Of + "s"}, draw.Points{Name: r.Of + "s"}
	lo, hi, wide := math.Inf(1), math.Inf(-1), 1.0
	for _, x := range r.Points {
		label := ""
		if x.Far {
			label = x.Unit
		}
		against.At = append(against.At, draw.Dot{X: x.Fitted, Y: x.Residual, Odd: x.Far, Label: label})
		normal.At = append(normal.At, draw.Dot{X: x.Normal, Y: x.Student, Odd: x.Far, Label: label})
		lo, hi, wide = min(lo, x.Fitted), max(hi, x.Fitted), max(wide, math.Abs(x.Normal))
	}
	if len(r.Points) == 0 {
		return ""
	}
	edge := max((hi-lo)/20, 1e-9*math.Max(1, math.Abs(hi)))
	wide *= 1.1
	zero := draw.Series{Name: "as fitted", Y: []float64{0, 0}}
	line := draw.Series{Name: "normal", Y: []float64{-wide, wide}}
	return template.HTML(draw.Fit(draw.Frame{ID: "residuals"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "What the analysis leaves of each " + r.Of
		return draw.Lines{Frame: fr, X: []float64{lo - edge, hi + edge}, XName: "fitted mean (" + r.Means + ")", Panels: []draw.Panel{{Name: "Residual of the mean", Series: []draw.Series{zero}, Points: []draw.Points{against}}}}.Draw()
	}) + draw.Fit(draw.Frame{ID: "normal"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Normal plot of each " + r.Of
		return draw.Lines{Frame: fr, X: []float64{-wide, wide}, XName: "where a normal law would have it", Panels: []draw.Panel{{Name: "Residual over its standard error", Series: []draw.Series{line}, Points: []draw.Points{normal}}}}.Draw()
	}))
}

// curvesPicture shows the forms that come near, over units and plants.
func curvesPicture(f *trial.Findings, c *trial.Curves) template.HTML {
	return ""
}
