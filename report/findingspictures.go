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
		name = "treatment"
	}
	plants, units := draw.Points{Name: "plants", Spread: true, Faint: true}, draw.Points{Name: "units (the repeats)", Spread: true}
	var xs []float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, u := range f.Units {
		x := at(u)
		low, high = min(low, x), max(high, x)
		xs = append(xs, x)
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
	slices.Sort(xs)
	xs = slices.Compact(xs)
	var classes []string
	if light {
		edge := max((high-low)/20, 0.5)
		xs = append(append([]float64{low - edge}, xs...), high+edge)
	} else {
		xs = nil
		for i, x := range t.Treatments {
			xs, classes = append(xs, float64(i+1)), append(classes, x.Name)
		}
	}
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
		return draw.Lines{Frame: fr, X: xs, XName: name, Classes: classes, Panels: []draw.Panel{panel}, Markers: markers}.Draw()
	}))
}

// partPictures are those of a part.
func partPictures(f *trial.Findings, p trial.Part) template.HTML {
	var out template.HTML
	if p.Curves != nil {
		out += curvesPicture(f, p.Curves)
	}
	if p.Burn != nil {
		out += burnPicture(p.Burn)
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
	table := draw.Table{Caption: "What the analysis leaves of each " + r.Of, Head: []string{r.Of, "fitted mean", "residual", "over its standard error", "a normal law would have", "Cook's distance"}}
	for _, x := range r.Points {
		name := x.Unit
		if x.Far {
			name += " (far off)"
		}
		table.Rows = append(table.Rows, []string{name, quantity.Number(x.Fitted, 4), quantity.Number(x.Residual, 3), quantity.Number(x.Student, 3), quantity.Number(x.Normal, 3), quantity.Number(x.Cook, 2)})
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "residuals"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "What the analysis leaves of each " + r.Of
		p := draw.Lines{Frame: fr, X: []float64{lo - edge, hi + edge}, XName: "fitted mean (" + r.Means + ")", Panels: []draw.Panel{{Name: "Residual of the mean", Series: []draw.Series{zero}, Points: []draw.Points{against}}}}.Draw()
		p.Table = table
		return p
	}) + draw.Fit(draw.Frame{ID: "normal"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Normal plot of each " + r.Of
		p := draw.Lines{Frame: fr, X: []float64{-wide, wide}, XName: "where a normal law would have it", Panels: []draw.Panel{{Name: "Residual over its standard error", Series: []draw.Series{line}, Points: []draw.Points{normal}}}}.Draw()
		p.Table = table
		return p
	}))
}

// curvesPicture shows the forms that come near, over plants and units.
func curvesPicture(f *trial.Findings, c *trial.Curves) template.HTML {
	plants, units := draw.Points{Name: "plants", Spread: true, Faint: true}, draw.Points{Name: "units (the repeats)", Spread: true}
	for _, u := range f.Units {
		for _, v := range u.Raw {
			plants.At = append(plants.At, draw.Dot{X: u.Dose, Y: v})
		}
		units.At = append(units.At, draw.Dot{X: u.Dose, Y: u.Mean})
	}
	panel := draw.Panel{Name: responseName(f.Trial.Response), Unit: f.Trial.Response.Unit(), Points: []draw.Points{plants, units}}
	for i, x := range c.Forms[:min(len(c.Forms), 4)] {
		s := draw.Series{Name: x.Name, Y: x.Y, Low: x.Low, High: x.High}
		if i == 0 {
			s.Name += " (nearest)"
		}
		panel.Series = append(panel.Series, s)
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "curves"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Forms of the response over the light"
		return draw.Lines{Frame: fr, X: c.X, XName: "light that the unit got, mol/m²/d", Panels: []draw.Panel{panel}}.Draw()
	}))
}

// burnPicture shows the share of burnt plants of each unit, and the curve of the chance.
func burnPicture(b *trial.BurnCurve) template.HTML {
	shares := draw.Points{Name: "units (the repeats)", Spread: true}
	low, high := math.Inf(1), math.Inf(-1)
	t := draw.Table{Caption: "Plants with burn by unit", Head: []string{"unit", "mol/m²/d", "burnt", "plants", "share"}}
	for _, u := range b.Units {
		share := float64(u.Burnt) / float64(u.N)
		shares.At = append(shares.At, draw.Dot{X: u.Dose, Y: 100 * share})
		low, high = min(low, u.Dose), max(high, u.Dose)
		t.Rows = append(t.Rows, []string{u.Unit, quantity.Number(u.Dose, 3), fmt.Sprint(u.Burnt), fmt.Sprint(u.N), quantity.Fixed(100*share, 0) + " %"})
	}
	panel := draw.Panel{Name: "Plants with burn", Unit: "%", Zero: true, Points: []draw.Points{shares}, Limits: []draw.Limit{{Value: 100 * b.Limit, Label: "limit that is borne"}}}
	x := b.X
	if len(x) > 0 {
		hundred := func(v []float64) (out []float64) {
			for _, y := range v {
				out = append(out, 100*y)
			}
			return out
		}
		panel.Series = []draw.Series{{Name: "chance of burn", Y: hundred(b.Y), Low: hundred(b.Low), High: hundred(b.High)}}
	} else if x = []float64{low, high}; !(low < high) {
		x = []float64{low - 0.5, high + 0.5}
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "burn"}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Plants with burn by unit, and the chance of it"
		p := draw.Lines{Frame: fr, X: x, XName: "light that the unit got, mol/m²/d", Panels: []draw.Panel{panel}}.Draw()
		p.Table = t
		return p
	}))
}
