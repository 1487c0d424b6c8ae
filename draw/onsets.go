package draw

import (
	"fmt"
	"math"
	"slices"

	"underlamp/science/quantity"
)

// Onsets show when something began that is only looked for at rounds: a panel for each
// group, in which every plant is a bar from its last look without to its first with, the
// share that has begun steps up, and a box stands where within two looks it rose: no line is
// drawn there, because nobody knows it.
type Onsets struct {
	Frame  Frame
	Name   string  // "Share of plants with burn"
	XName  string  // "day after transplanting"
	Until  float64 // the last look
	Groups []OnsetGroup
}

// An OnsetGroup is one panel.
type OnsetGroup struct {
	Name              string
	Left, Right, Mass []float64   // where the share rises, and by how much; Right is +Inf for what was not seen to begin
	Plants            []OnsetMark // one for each plant
	Model             []Dot       // a law of the share, X rising; may be empty
}

// An OnsetMark is one plant.
type OnsetMark struct {
	Name        string
	Last, First float64 // First is +Inf if it was never seen
}

// Draw makes the picture. It panics if a group has not as many masses as intervals.
func (o Onsets) Draw() Picture {
	o.Frame.check("Onsets")
	for _, g := range o.Groups {
		if len(g.Left) != len(g.Right) || len(g.Left) != len(g.Mass) {
			panic("draw: Onsets: group " + g.Name + " has not as many masses as intervals")
		}
	}
	c := newCanvas(o.Frame)
	left, right, height := 52.0, 20.0, 132.0
	if o.Frame.narrow() {
		left, right, height = 46, 14, 120
	}
	until := o.Until
	if !finite(until) || until <= 0 {
		until = 1
	}
	x0, x1 := left, c.w-right
	fx := linear(0, until*1.04, x0, x1)
	clampX := func(v float64) float64 { return fx(math.Min(math.Max(v, 0), until*1.04)) }
	y := 12.0
	c.text(14, y+fontSize, start, cut(or(o.Name, "Share that has begun"), (c.w-28)/boldWider, fontSize), boldText)
	y += 26
	var model look = seriesLine(1)
	items := []keyItem{
		{func(c *canvas, x, y float64) { c.line(x+2, y, x+sampleWidth-2, y, plantBar) }, "a plant: last look without, first with"},
		{lineSample(seriesLine(0)), "share that has begun"},
		{func(c *canvas, x, y float64) { c.rect(box{x + 3, y - 7, x + sampleWidth - 3, y + 7}, 0, seriesBand(0)) }, "rose within these days, when is not known"},
	}
	if slices.ContainsFunc(o.Groups, func(g OnsetGroup) bool { return len(g.Model) > 0 }) {
		items = append(items, keyItem{lineSample(model), "law of Weibull"})
	}
	y = c.key(14, y, c.w-28, items) + 8
	for _, g := range o.Groups {
		c.text(x0, y+fontSize, start, cut(fmt.Sprintf("%s, %d plants", g.Name, len(g.Plants)), x1-x0, fontSize), boldText)
		y += 22
		area := box{x0, y, x1, y + height}
		fy := linear(0, 1, area.y1, area.y0)
		for _, v := range []float64{0, 0.5, 1} {
			style := ruleLine
			if v == 0 {
				style = softLine
			}
			c.line(area.x0, fy(v), area.x1, fy(v), style)
			c.small(area.x0-8, fy(v)+4, end, quantity.Fixed(100*v, 0)+" %", softText)
		}
		// Plants from the earliest up; those never seen stand above.
		marks := slices.Clone(g.Plants)
		slices.SortStableFunc(marks, func(a, b OnsetMark) int {
			switch {
			case a.First < b.First:
				return -1
			case a.First > b.First:
				return 1
			case a.Last < b.Last:
				return -1
			case a.Last > b.Last:
				return 1
			}
			return 0
		})
		var bars, open [][]point
		for i, m := range marks {
			if !finite(m.Last) || math.IsNaN(m.First) {
				continue
			}
			at := fy((float64(i) + 0.5) / float64(len(marks)))
			if math.IsInf(m.First, 0) {
				from := clampX(m.Last)
				open = append(open, []point{{from, at - 2}, {from, at + 2}}, []point{{from, at}, {area.x1, at}})
				continue
			}
			a, b := clampX(m.Last), clampX(m.First)
			if b-a < 2 {
				b = a + 2
			}
			bars = append(bars, []point{{a, at}, {b, at}})
		}
		c.path(open, false, plantOpen)
		c.path(bars, false, plantBar)
		share, from := 0.0, area.x0
		var line [][]point
		for k := range g.Left {
			if !finite(g.Mass[k]) || math.IsNaN(g.Left[k]) || math.IsNaN(g.Right[k]) {
				continue
			}
			a := clampX(g.Left[k])
			line = append(line, []point{{from, fy(share)}, {a, fy(share)}})
			if math.IsInf(g.Right[k], 1) {
				from = area.x1
				if a < area.x1-1 { // beyond the last look nothing is known
					c.rect(box{a, area.y0, area.x1, fy(share)}, 0, seriesBand(0))
				}
				break
			}
			b := math.Max(clampX(g.Right[k]), a+1)
			next := math.Min(1, share+math.Max(0, g.Mass[k]))
			c.rect(box{a, fy(next), b, fy(share)}, 0, seriesBand(0))
			share, from = next, b
		}
		if from < area.x1 {
			line = append(line, []point{{from, fy(share)}, {area.x1, fy(share)}})
		}
		var law []point
		for _, d := range g.Model {
			if finite(d.X) && finite(d.Y) {
				law = append(law, point{clampX(d.X), fy(math.Min(math.Max(d.Y, 0), 1))})
			}
		}
		c.path([][]point{simplify(law, 0.1)}, false, model)
		c.path(line, false, seriesLine(0))
		y = area.y1 + 14
	}
	if len(o.Groups) == 0 {
		c.text(c.w/2, y+20, middle, "no values", softText)
		y += 36
	}
	at, decimals := ticks(0, until, int(math.Max(2, (x1-x0)/44)))
	for _, v := range at {
		c.line(fx(v), y-10, fx(v), y-5, softLine)
		c.small(fx(v), y+8, middle, quantity.Fixed(v, decimals), softText)
	}
	c.small((x0+x1)/2, y+27, middle, cut(o.XName, c.w-20, smallSize), softText)
	title := or(o.Frame.Title, or(o.Name, "Share that has begun"))
	desc := or(o.Frame.Desc, o.describe())
	return Picture{SVG: c.svg(y+36, title, desc), Table: o.table(title), Title: title, Desc: desc}
}

const (
	plantBar  look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="2.2" stroke-opacity="0.55"`
	plantOpen look = `class="d-soft-line" fill="none" stroke="#535e6b" stroke-width="0.8" stroke-dasharray="2 3"`
)

func (o Onsets) describe() string {
	var d string
	for _, g := range o.Groups {
		began := 0
		for _, m := range g.Plants {
			if !math.IsInf(m.First, 0) {
				began++
			}
		}
		d += fmt.Sprintf("%s: begun in %d of %d plants. ", g.Name, began, len(g.Plants))
	}
	return d + "The table gives the numbers."
}

func (o Onsets) table(title string) Table {
	t := Table{Caption: title, Head: []string{"group", "after", "by", "plants seen to begin", "share begun by then"}}
	for _, g := range o.Groups {
		share := 0.0
		for k := range g.Left {
			by, seen := "not seen", 0
			for _, m := range g.Plants {
				if m.First > g.Left[k] && m.First <= g.Right[k] {
					seen++
				}
			}
			if !math.IsInf(g.Right[k], 0) {
				by = quantity.Number(g.Right[k], 4)
				share = math.Min(1, share+g.Mass[k])
				t.Rows = append(t.Rows, []string{g.Name, quantity.Number(g.Left[k], 4), by, fmt.Sprint(seen), quantity.Fixed(100*share, 0) + " %"})
				continue
			}
			t.Rows = append(t.Rows, []string{g.Name, quantity.Number(g.Left[k], 4), by, fmt.Sprint(seen), "not known"})
		}
	}
	return t
}
