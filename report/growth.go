package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp/app/trial"
	"underlamp/draw"
	"underlamp/science/quantity"
)

// mostGrown is how many looks are drawn one by one; of more, the mean of each unit on
// each day.
const mostGrown = 3000

// GrowthPicture shows every look at every plant over days, with the curve of each
// treatment, and below it how fast the plants grew for their size.
func GrowthPicture(g *trial.Growth, id string) template.HTML {
	first, last := g.Days[0], g.Days[len(g.Days)-1]
	steps := int(last - first)
	for steps > 45 {
		steps = (steps + 1) / 2
	}
	x := make([]float64, steps+1)
	for i := range x {
		x[i] = first + (last-first)*float64(i)/float64(steps)
	}
	size := draw.Panel{Name: responseName(g.What), Unit: g.What.Unit(), Zero: true}
	rate := draw.Panel{Name: "Relative growth rate", Unit: "%/d", Zero: true}
	looks := 0
	for _, p := range g.Plants {
		looks += len(p.Days)
	}
	// Treatments stand side by side, so that none hides another; and plants of one, within its lane.
	gap := last - first
	for i, d := range g.Days[1:] {
		gap = min(gap, d-g.Days[i])
	}
	gap *= 0.8 / float64(len(g.Treatments)+1)
	for i, t := range g.Treatments {
		side := gap * (float64(i) - float64(len(g.Treatments)-1)/2)
		kind := "plants, "
		if looks > mostGrown {
			kind = "units, "
		}
		points := draw.Points{Name: kind + t, Spread: true, Within: gap / 2, Shift: side, Faint: looks <= mostGrown, Of: t}
		if looks > mostGrown {
			for _, u := range g.Units {
				if u.Treatment == t {
					for _, d := range g.UnitMeans(u.Name) {
						points.At = append(points.At, draw.Dot{X: d[0], Y: d[1]})
					}
				}
			}
		} else {
			for _, p := range g.Plants {
				if p.Treatment == t {
					for k, d := range p.Days {
						points.At = append(points.At, draw.Dot{X: d, Y: p.Sizes[k]})
					}
				}
			}
		}
		size.Points = append(size.Points, points)
		if g.Curves == nil {
			continue
		}
		curve, speed := draw.Series{Name: t}, draw.Series{Name: t}
		for _, d := range x {
			curve.Y, speed.Y = append(curve.Y, g.At(t, d)), append(speed.Y, g.RateAt(t, d))
		}
		size.Series, rate.Series = append(size.Series, curve), append(rate.Series, speed)
	}
	panels := []draw.Panel{size}
	if g.Curves != nil {
		panels = append(panels, rate)
		if g.Target > 0 {
			panels[0].Limits = []draw.Limit{{Value: g.Target, Label: quantity.Number(g.Target, 3) + " " + g.What.Unit()}}
		}
	}
	name := "day after the first look"
	if len(g.Treatments) > 1 {
		name += ", treatments side by side"
	}
	return template.HTML(draw.Fit(draw.Frame{ID: id}, func(fr draw.Frame) draw.Picture {
		fr.Title = "Growth by treatment, with every plant"
		if looks > mostGrown {
			fr.Title = "Growth by treatment, with the mean of every unit"
		}
		return draw.Lines{Frame: fr, X: x, XName: name, Panels: panels}.Draw()
	}))
}

// growthUnits is the table of what each unit tells of growth.
func growthUnits(g *trial.Growth) template.HTML {
	t := draw.Table{Caption: "Growth by unit, the repeats: " + responseName(g.What), Head: []string{"unit", "treatment", "block", "plants", "rate, %/d"}}
	if g.Target > 0 {
		t.Head = append(t.Head, "days to "+quantity.Number(g.Target, 3)+" "+g.What.Unit(), "its limits by its plants (delta)")
	}
	for _, u := range g.Units {
		row := []string{u.Name, u.Treatment, u.Block, fmt.Sprint(u.Plants), quantity.Number(100*u.Rate, 4)}
		if g.Target > 0 {
			when, limits := "not within its looks", ""
			if u.Time != nil {
				when, limits = quantity.Number(u.Time.Value, 4), "too few plants"
				if i := u.Time.Interval; i.Level > 0 && !math.IsNaN(i.Lower) {
					limits = quantity.Number(i.Lower, 4) + " to " + quantity.Number(i.Upper, 4)
				}
			}
			row = append(row, when, limits)
		}
		t.Rows = append(t.Rows, row)
	}
	return template.HTML(t.HTML())
}
