package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/quantity"
)

// A Plan is the bench from above, to scale: light as bands of colour, contours,
// walls, lamps, plants with their light, readings with their difference from the
// model. The front is at the bottom.
type Plan struct {
	Frame Frame

	Width, Depth quantity.Metre // of the bench, above 0
	Walls        [4]Wall        // left, right, front, back

	Light    Grid   // X and Y in m; it should reach from edge to edge
	Quantity string // what the grid holds: "PPFD", "DLI"
	Unit     string // of the grid, contours, plants and readings
	Scale    Scale
	Span     [2]float64 // values that the colours reach over too, so that two plans can be compared; equal: those of the grid alone
	Contours []Contour

	Lamps    []Lamp
	Shelves  []Shelf
	Plants   []Plant
	Readings []Reading
}

// A Wall is one side of the bench.
type Wall struct {
	Open  bool
	Label string // "white paint, 80 %", "open"
}

// A Contour is a level to draw a line at.
type Contour struct {
	Level float64
	Name  string // "target"; empty for a plain line with only its number
	Kind  ContourKind
}

// A ContourKind says what a contour means, and so how it is dashed.
type ContourKind int

// The kinds of contours.
const (
	ContourPlain   ContourKind = iota // thin
	ContourTarget                     // heavy, solid
	ContourCeiling                    // heavy, dashed
)

// A Lamp is drawn as the outline of its luminous opening.
type Lamp struct {
	Name         string
	X, Y         quantity.Metre // middle of the opening
	Height       quantity.Metre // above the planting surface; for [Side]
	Width, Depth quantity.Metre // of the opening; the diameter is Width if Round
	Round        bool
	Turn         quantity.Degree // anticlockwise as seen from above, of an opening that is not round; for [Plan]
	Beam         quantity.Degree // full angle at half of the intensity; for [Side]; 0 if not known
}

// A Shelf is a flat board inside the space, drawn with a dash and two dots.
type Shelf struct {
	Name           string
	X1, X2, Y1, Y2 quantity.Metre
	Height         quantity.Metre // above the planting surface
}

const shelfLine look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.6" stroke-dasharray="9 3 2 3 2 3"`

// A Plant is drawn as a circle as large as its crown.
type Plant struct {
	Name  string
	X, Y  quantity.Metre
	Crown quantity.Metre // radius
	Value float64        // in the unit of the plan
}

// A Reading is drawn as a pin with its difference from the model.
type Reading struct {
	Name         string
	X, Y         quantity.Metre
	Value, Model float64 // in the unit of the plan
	Far          bool    // farther from the model than the meter explains
}

// contourLook is the line for a contour on a ground.
func contourLook(k ContourKind, ground rgb) look {
	l := `fill="none" stroke="` + inkOn(ground).hex() + `" stroke-linejoin="round"`
	switch k {
	case ContourTarget:
		return look(l + ` stroke-width="2"`)
	case ContourCeiling:
		return look(l + ` stroke-width="2" stroke-dasharray="7 4"`)
	}
	return look(l + ` stroke-width="0.8" stroke-opacity="0.75"`)
}

// Draw makes the picture. It panics if width or depth are not above 0 or the
// grid is not well formed.
func (p Plan) Draw() Picture {
	p.Frame.check("Plan")
	p.Light.check("Plan")
	if !(p.Width > 0 && p.Depth > 0) || !finite(float64(p.Width)) || !finite(float64(p.Depth)) {
		panic("draw: Plan: width and depth must be above 0")
	}
	c := newCanvas(p.Frame)
	rule := newRuler(p.Frame.Units)
	narrow := p.Frame.narrow()

	// Margins hold ticks, and outside of them what the walls are.
	left, right, top, bottom := 62.0, 30.0, 30.0, 54.0
	if narrow {
		left, right = 50, 24
	}
	scale := math.Min((c.w-left-right)/float64(p.Width), 1.25*(c.w-left-right)/float64(p.Depth))
	w, d := scale*float64(p.Width), scale*float64(p.Depth)
	left += (c.w - left - right - w) / 2
	area := box{left, top, left + w, top + d}
	m := mapper{linear(0, float64(p.Width), area.x0, area.x1), linear(0, float64(p.Depth), area.y1, area.y0)}

	values := p.Light.Values
	if p.Span[0] < p.Span[1] {
		values = append(slices.Clone(values), p.Span[0], p.Span[1])
	}
	t := newTint(p.Scale, values, 10)
	ground := func(at point) (rgb, bool) {
		x := (at.x - area.x0) / scale
		y := (area.y1 - at.y) / scale
		return t.of(p.Light.at(x, y))
	}
	tr := newTracer(p.Light)
	c.bandFill(tr, m, t)
	if len(t.colours) == 0 {
		c.text((area.x0+area.x1)/2, (area.y0+area.y1)/2, middle, "no light computed", softText)
	}
	room := &placer{within: area.grown(-1)}
	levels := p.contours(c, tr, m, t)
	crowns := p.crowns(m, scale, t)
	drawCrowns(c, crowns)
	for _, s := range p.Shelves {
		if x := float64(s.X1 + s.X2 + s.Y1 + s.Y2); finite(x) {
			c.rect(box{m.x(float64(s.X1)), m.y(float64(s.Y2)), m.x(float64(s.X2)), m.y(float64(s.Y1))}, 0, shelfLine)
		}
	}
	outlines := p.lamps(c, m, scale, area)
	pins := p.pins(m)
	p.values(c, crowns, pins, outlines, room)
	p.readings(c, crowns, pins, area, ground, room)
	for i, lines := range levels {
		k := p.Contours[i]
		label := quantity.Number(k.Level, 3)
		if k.Name != "" && !narrow {
			label = k.Name + " " + label
		}
		c.labelLines(lines, label, 2, room, ground, k.Kind != ContourPlain)
	}
	p.lampNames(c, m, scale, ground, room)
	below := p.edges(c, rule, m, area, 0)

	// Beneath: scale bar, colours, key.
	y := area.y1 + bottom
	edge := 20.0
	if narrow {
		edge = 12
	}
	bar := rule.bar * rule.metre * scale
	if bar > 20 && bar < w {
		p.scaleBar(c, area.x0, y, bar, rule)
	} else {
		bar = 0
	}
	legendX, legendW := area.x0+bar+44, area.x1-area.x0-bar-44
	if bar == 0 || legendW < 230 {
		legendX, legendW = edge, c.w-2*edge
		if bar > 0 {
			y += 40
		}
	}
	y = c.colours(legendX, y-4, math.Min(legendW, 460), t, join(p.Quantity, p.Unit)) + 10
	for _, s := range below {
		y = c.wrapped(edge, y+14, c.w-2*edge, s, smallSize, softText) - 8
	}
	y = c.key(edge, y, c.w-2*edge, p.key(t))

	title := or(p.Frame.Title, "The bench from above: "+or(p.Quantity, "light"))
	desc := or(p.Frame.Desc, p.describe())
	return Picture{SVG: c.svg(y+10, title, desc), Table: p.table(title, rule), Title: title, Desc: desc}
}

// contours draws the lines and returns them, in pixels, level by level.
func (p Plan) contours(c *canvas, tr *tracer, m mapper, t tint) [][][]point {
	out := make([][][]point, len(p.Contours))
	for i, k := range p.Contours {
		col, ok := t.of(k.Level)
		if !ok {
			continue
		}
		out[i] = m.project(tr.lines(k.Level))
		c.path(out[i], false, contourLook(k.Kind, col))
	}
	return out
}

// lamps draws outlines, white beneath dark so that they show on any ground, and
// returns them.
func (p Plan) lamps(c *canvas, m mapper, scale float64, area box) (outlines []box) {
	if len(p.Lamps) == 0 {
		return nil
	}
	c.raw("<g" + c.clip("lamps", area.grown(14)) + ">")
	for _, l := range p.Lamps {
		if !finite(float64(l.X)) || !finite(float64(l.Y)) || !finite(float64(l.Width)) {
			continue
		}
		x, y := m.x(float64(l.X)), m.y(float64(l.Y))
		outlines = append(outlines, l.outline(x, y, scale))
		for _, style := range [2]look{lampUnder, lampOver} {
			if l.Round {
				c.circle(x, y, scale*float64(l.Width)/2, style)
			} else {
				c.path([][]point{l.corners(x, y, scale)}, true, style)
			}
		}
	}
	c.raw("</g>")
	return outlines
}

const (
	lampUnder look = `fill="none" stroke="#ffffff" stroke-opacity="0.75" stroke-width="2.6"`
	lampOver  look = `fill="none" stroke="#0d1117" stroke-width="1.2" stroke-dasharray="5 3"`
)

// corners are those of an opening that is not round, turned, in px.
func (l Lamp) corners(x, y, scale float64) []point {
	w, d := scale*float64(l.Width)/2, scale*float64(l.Depth)/2
	sin, cos := math.Sincos(float64(l.Turn) * math.Pi / 180)
	var out []point
	for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		u, v := k[0]*w, k[1]*d
		out = append(out, point{x + u*cos - v*sin, y - u*sin - v*cos}) // y runs down
	}
	return out
}

// outline is the box around the lamp's opening in px.
func (l Lamp) outline(x, y, scale float64) box {
	if l.Round {
		r := scale * float64(l.Width) / 2
		return box{x - r, y - r, x + r, y + r}
	}
	o := box{x, y, x, y}
	for _, p := range l.corners(x, y, scale) {
		o.x0, o.x1 = math.Min(o.x0, p.x), math.Max(o.x1, p.x)
		o.y0, o.y1 = math.Min(o.y0, p.y), math.Max(o.y1, p.y)
	}
	return o
}

func (p Plan) lampNames(c *canvas, m mapper, scale float64, ground func(point) (rgb, bool), room *placer) {
	for _, l := range p.Lamps {
		x, y := m.x(float64(l.X)), m.y(float64(l.Y))
		if !finite(x+y) || l.Name == "" {
			continue
		}
		o := l.outline(x, y, scale)
		for _, at := range [...]struct {
			x, y   float64
			anchor string
		}{{o.x0 + 6, o.y0 + 15, start}, {o.x1 - 6, o.y0 + 15, end}, {o.x0 + 6, o.y1 - 7, start}, {o.x1 - 6, o.y1 - 7, end},
			{x, o.y0 - 6, middle}, {x, o.y1 + 14, middle}, {x, y + 4, middle}} {
			b := textBox(at.x, at.y, at.anchor, l.Name, smallSize)
			col, ok := ground(point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2})
			if ok && room.try(b.grown(2)) {
				c.haloed(at.x, at.y, at.anchor, l.Name, col, false)
				break
			}
		}
	}
}

// edges draws the walls, what they are, and the rulers; above is the room over the back that is
// taken. It returns what found no room beside its wall, to be written beneath.
func (p Plan) edges(c *canvas, rule ruler, m mapper, area box, above float64) (below []string) {
	sides := [4][4]float64{
		{area.x0, area.y1, area.x0, area.y0}, {area.x1, area.y1, area.x1, area.y0},
		{area.x0, area.y1, area.x1, area.y1}, {area.x0, area.y0, area.x1, area.y0},
	}
	for i, s := range sides {
		l := wallLine
		if p.Walls[i].Open {
			l = openLine
		}
		c.line(s[0], s[1], s[2], s[3], l)
	}
	at, labels := rule.ticks(float64(p.Width), int(math.Max(3, area.w()/46)))
	for i, v := range at {
		x := m.x(v)
		c.line(x, area.y1+4, x, area.y1+8, softLine)
		s := labels[i]
		if i == len(at)-1 {
			s += " " + rule.unit
		}
		c.small(x, area.y1+21, middle, s, softText)
	}
	at, labels = rule.ticks(float64(p.Depth), int(math.Max(3, area.h()/34)))
	for i, v := range at {
		y := m.y(v)
		c.line(area.x0-8, y, area.x0-4, y, softLine)
		if i > 0 { // 0 stands at the corner already
			c.small(area.x0-11, y+4, end, labels[i], softText)
		}
	}
	mx, my := (area.x0+area.x1)/2, (area.y0+area.y1)/2
	write := func(x, y, deg, span float64, side string, w Wall) {
		s := side
		if w.Label != "" {
			s += ": " + w.Label
		} else if w.Open {
			s += ": open"
		}
		if s != side && textWidth(s, smallSize) > span {
			below = append(below, s)
			s = side
		}
		c.sized(x, y, middle, cut(s, span, smallSize), smallSize, deg, softText)
	}
	write(mx, area.y0-10-above, 0, area.w(), "back", p.Walls[3])
	write(mx, area.y1+38, 0, area.w(), "front", p.Walls[2])
	write(area.x0-38, my, -90, area.h(), "left", p.Walls[0])
	write(area.x1+16, my, 90, area.h(), "right", p.Walls[1])
	if len(below) > 0 {
		below = []string{strings.Join(below, "; ")}
	}
	return below
}

func (p Plan) scaleBar(c *canvas, x, y, bar float64, rule ruler) {
	c.path([][]point{{{x, y + 6}, {x, y + 12}, {x + bar, y + 12}, {x + bar, y + 6}}}, false, inkLine)
	c.small(x+bar/2, y+27, middle, quantity.Number(rule.bar, 3)+" "+rule.unit, softText)
}

func (p Plan) key(t tint) []keyItem {
	var items []keyItem
	for _, k := range p.Contours {
		if k.Name == "" {
			continue
		}
		if _, ok := t.of(k.Level); !ok {
			continue
		}
		l := inkLine
		switch k.Kind {
		case ContourTarget:
			l = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="2"`
		case ContourCeiling:
			l = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="2" stroke-dasharray="7 4"`
		}
		items = append(items, keyItem{lineSample(l), k.Name + ", " + amount(quantity.Number(k.Level, 3), p.Unit)})
	}
	if len(p.Lamps) > 0 {
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			c.rect(box{x + 1, y - 6, x + 25, y + 6}, 2, `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="5 3"`)
		}, "lamp above"})
	}
	if len(p.Shelves) > 0 {
		items = append(items, keyItem{func(c *canvas, x, y float64) { c.rect(box{x + 1, y - 6, x + 25, y + 6}, 0, shelfLine) }, "shelf above"})
	}
	if len(p.Plants) > 0 {
		items = append(items, keyItem{func(c *canvas, x, y float64) { c.circle(x+13, y, 8, inkLine) }, "plant, crown to scale"})
	}
	near, far := false, false
	for _, r := range p.Readings {
		near, far = near || !r.Far, far || r.Far
	}
	if near {
		items = append(items, keyItem{func(c *canvas, x, y float64) { pin(c, x+13, y, false) }, "reading against model"})
	}
	if far {
		items = append(items, keyItem{func(c *canvas, x, y float64) { pin(c, x+13, y, true) }, "reading far off"})
	}
	items = append(items, keyItem{lineSample(wallLine), "wall"})
	for _, w := range p.Walls {
		if w.Open {
			items = append(items, keyItem{lineSample(openLine), "open side"})
			break
		}
	}
	return items
}

func (p Plan) describe() string {
	lo, hi, ok := p.Light.extremes()
	rule := newRuler(p.Frame.Units)
	s := fmt.Sprintf("Bench of %s by %s. ", rule.print(float64(p.Width)), rule.print(float64(p.Depth)))
	if ok {
		s += fmt.Sprintf("%s from %s to %s. ", or(p.Quantity, "Light"), quantity.Number(p.Light.Values[lo], 3),
			amount(quantity.Number(p.Light.Values[hi], 3), p.Unit))
	}
	return s + fmt.Sprintf("Lamps: %d. Plants: %d. Readings: %d. The table gives the numbers.", len(p.Lamps), len(p.Plants), len(p.Readings))
}

func (p Plan) table(title string, rule ruler) Table {
	value := join(or(p.Quantity, "Light"), p.Unit)
	t := Table{Caption: title, Head: []string{"What", "From the left", "From the front", value, "Reading against model"}}
	add := func(what string, x, y, v float64, diff string) {
		t.Rows = append(t.Rows, []string{what, rule.print(x), rule.print(y), quantity.Number(v, 3), diff})
	}
	if lo, hi, ok := p.Light.extremes(); ok {
		a, b := p.Light.place(lo), p.Light.place(hi)
		add("Least light", a.x, a.y, p.Light.Values[lo], "")
		add("Most light", b.x, b.y, p.Light.Values[hi], "")
	}
	for _, l := range p.Lamps {
		add(or("Lamp "+l.Name, "Lamp"), float64(l.X), float64(l.Y), p.Light.at(float64(l.X), float64(l.Y)), "")
	}
	for _, pl := range p.Plants {
		add("Plant "+pl.Name, float64(pl.X), float64(pl.Y), pl.Value, "")
	}
	for _, r := range p.Readings {
		diff := r.difference()
		if r.Far {
			diff += ", far off"
		}
		add("Reading "+r.Name, float64(r.X), float64(r.Y), r.Value, diff)
	}
	return t
}
