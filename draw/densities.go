package draw

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// Densities are small pictures side by side, one for each quantity: how it was
// thought to lie before something was learned, and how it lies after. The axes are
// logarithmic, because the quantities are factors.
type Densities struct {
	Frame  Frame
	Name   string // "What your cycles taught"
	Panels []Density
}

// A Density is one quantity.
type Density struct {
	Name  string
	Unit  string
	X     []float64 // ascending, above 0
	Prior []float64 // density over ln X at each X, any scale; NaN is a gap
	After []float64

	PriorLow, PriorMid, PriorHigh float64 // the interval before
	AfterLow, AfterMid, AfterHigh float64 // the interval after
	Level                         float64 // of both, 0.9 for 90 %
	Note                          string  // "narrowed by 60 %"
}

// Draw makes the picture. It panics if X does not ascend from above 0 or if a
// density has not as many values as X.
func (d Densities) Draw() Picture {
	d.Frame.check("Densities")
	for _, p := range d.Panels {
		if len(p.Prior) != len(p.X) || len(p.After) != len(p.X) {
			panic("draw: Densities: " + p.Name + " has not as many values as X")
		}
		for i, x := range p.X {
			if !finite(x) || !(x > 0) || i > 0 && x <= p.X[i-1] {
				panic("draw: Densities: X must ascend from above 0")
			}
		}
	}
	c := newCanvas(d.Frame)
	columns := 3
	if d.Frame.narrow() {
		columns = 1
	} else if c.w > 1000 {
		columns = 4
	}
	const gap, edge = 26.0, 14.0
	each := (c.w - 2*edge - gap*float64(columns-1)) / float64(columns)
	height := 74.0

	y := c.key(edge, 8, c.w-2*edge, []keyItem{
		{lineSample(seriesLine(1)), "before"},
		{func(c *canvas, x, y float64) {
			c.rect(box{x, y - 6, x + sampleWidth, y + 6}, 0, seriesBand(0))
			c.line(x, y-6, x+sampleWidth, y-6, seriesLine(0))
		}, "after learning"},
		{func(c *canvas, x, y float64) {
			interval(c, x, x+sampleWidth/2, x+sampleWidth, y, seriesLine(0), seriesFill(0))
		}, "interval and median"},
	}) + 8

	for row := 0; row*columns < len(d.Panels); row++ {
		panels := d.Panels[row*columns : min(len(d.Panels), (row+1)*columns)]
		names := 0
		for _, p := range panels {
			names = max(names, len(wrap(join(p.Name, p.Unit), each/boldWider, smallSize)))
		}
		top := y + 16*float64(names) + 6
		for i, p := range panels {
			x := edge + float64(i)*(each+gap)
			at := y + smallSize
			for _, line := range wrap(join(p.Name, p.Unit), each/boldWider, smallSize) {
				c.small(x, at, start, line, boldText)
				at += 16
			}
			p.draw(c, box{x, top, x + each, top + height})
		}
		y = top + height + 72
	}
	if len(d.Panels) == 0 {
		c.text(c.w/2, y+20, middle, "nothing was learned", softText)
		y += 40
	}
	title := or(d.Frame.Title, or(d.Name, "Before and after"))
	desc := or(d.Frame.Desc, d.describe())
	return Picture{SVG: c.svg(y, title, desc), Table: d.table(title), Title: title, Desc: desc}
}

// draw draws one density above its axis, with both intervals below it.
func (p Density) draw(c *canvas, area box) {
	if len(p.X) < 2 {
		c.line(area.x0, area.y1, area.x1, area.y1, softLine)
		c.small((area.x0+area.x1)/2, area.y1-20, middle, "no values", softText)
		return
	}
	lo, hi := math.Log(p.X[0]), math.Log(p.X[len(p.X)-1])
	lin := linear(lo, hi, area.x0, area.x1)
	fx := func(x float64) float64 { return lin(math.Min(math.Max(math.Log(math.Max(x, 1e-300)), lo), hi)) }
	most := 0.0
	for i := range p.X {
		for _, v := range [2]float64{p.Prior[i], p.After[i]} {
			if finite(v) {
				most = math.Max(most, v)
			}
		}
	}
	if most == 0 {
		most = 1
	}
	fy := linear(0, most, area.y1, area.y0)
	curve := func(values []float64) []point {
		var out []point
		for i, v := range values {
			if finite(v) {
				out = append(out, point{fx(p.X[i]), fy(v)})
			}
		}
		return out
	}
	after, prior := curve(p.After), curve(p.Prior)
	if n := len(after); n > 1 {
		ring := append(append([]point{{after[0].x, area.y1}}, after...), point{after[n-1].x, area.y1})
		c.path([][]point{simplify(ring, 0.1)}, true, seriesBand(0))
		c.path([][]point{simplify(after, 0.1)}, false, seriesLine(0))
	}
	c.path([][]point{simplify(prior, 0.1)}, false, seriesLine(1))
	c.line(area.x0, area.y1, area.x1, area.y1, softLine)
	room := placer{within: box{area.x0 - 14, -1e4, area.x1 + 14, 1e4}}
	for _, v := range logTicks(p.X[0], p.X[len(p.X)-1]) {
		text := quantity.Number(v, 3)
		if room.try(textBox(fx(v), area.y1+15, middle, text, smallSize).grown(5)) {
			c.line(fx(v), area.y1, fx(v), area.y1+4, softLine)
			c.small(fx(v), area.y1+15, middle, text, softText)
		}
	}
	y := area.y1 + 25
	if finite(p.PriorLow) && finite(p.PriorHigh) && finite(p.PriorMid) {
		interval(c, fx(p.PriorLow), fx(p.PriorMid), fx(p.PriorHigh), y, seriesLine(1), seriesFill(1))
	}
	if finite(p.AfterLow) && finite(p.AfterHigh) && finite(p.AfterMid) {
		interval(c, fx(p.AfterLow), fx(p.AfterMid), fx(p.AfterHigh), y+9, seriesLine(0), seriesFill(0))
	}
	c.small(area.x0, y+26, start, cut(p.Note, area.w(), smallSize), softText)
}

// interval draws a line with a dot at its median.
func interval(c *canvas, low, mid, high, y float64, line, fill look) {
	c.line(low, y, high, y, line)
	c.circle(mid, y, 3.2, fill)
}

// logTicks are numbers 1, 2, 3, 5, 7 times powers of ten, and finer ones if there
// are too few between the ends.
func logTicks(lo, hi float64) []float64 {
	pick := func(steps []float64) []float64 {
		var out []float64
		for e := math.Floor(math.Log10(lo)); e <= math.Ceil(math.Log10(hi)); e++ {
			for _, s := range steps {
				if v := s * math.Pow(10, e); v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
					out = append(out, v)
				}
			}
		}
		return out
	}
	for _, steps := range [][]float64{{1}, {1, 2, 5}, {1, 1.5, 2, 3, 5, 7}, {1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 4, 5, 6, 7, 8, 9}} {
		if t := pick(steps); len(t) >= 3 {
			return t
		}
	}
	return pick([]float64{0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.15, 1.2})
}

func (d Densities) describe() string {
	s := ""
	for _, p := range d.Panels {
		s += fmt.Sprintf("%s: before %s to %s, after %s to %s. ", p.Name, quantity.Number(p.PriorLow, 2), amount(quantity.Number(p.PriorHigh, 2), p.Unit), quantity.Number(p.AfterLow, 2), amount(quantity.Number(p.AfterHigh, 2), p.Unit))
	}
	return s + "The table gives the numbers."
}

func (d Densities) table(title string) Table {
	t := Table{Caption: title, Head: []string{"", "before, median", "low", "high", "after, median", "low", "high", "note"}}
	t.Head[0] = "quantity"
	for _, p := range d.Panels {
		n := func(v float64) string { return quantity.Number(v, 3) }
		t.Rows = append(t.Rows, []string{join(p.Name, p.Unit), n(p.PriorMid), n(p.PriorLow), n(p.PriorHigh), n(p.AfterMid), n(p.AfterLow), n(p.AfterHigh), p.Note})
	}
	return t
}
