package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/quantity"
)

// A TrialPlan is the layout of one block of a trial on the bench, from above and to
// scale: which treatment each lamp and its plants have, which plants are guards, and the
// light of each plant. The front is at the bottom.
type TrialPlan struct {
	Frame Frame

	Width, Depth quantity.Metre // of the bench, above 0
	Walls        [4]Wall        // left, right, front, back
	Lamps        []Lamp
	Shelves      []Shelf

	Block      string   // "cycle 01"; empty if there is one
	Treatments []string // of the whole trial, so that every block is drawn alike
	Levels     bool     // treatments are levels, from little to much: shades instead of colours
	Light      string   // what the numbers are: "PPFD"
	Unit       string   // of them
	Units      []TrialPlanUnit
	Note       string // written beneath; what letters in labels stand for
}

// A TrialPlanUnit is one unit with its plants.
type TrialPlanUnit struct {
	Name      string // its code
	Treatment int    // an index into Treatments
	Lamp      string
	Mean      float64 // of the plants that count
	Aim       float64 // 0: none
	Dimming   string  // what its lamp is set to, as printed
	Plants    []TrialPlanPlant
}

// A TrialPlanPlant is one plant of a unit.
type TrialPlanPlant struct {
	Label string // short, for the circle: "P3"
	Code  string // for the table: "C1-L2-P3"
	X, Y  quantity.Metre
	Crown quantity.Metre // radius
	Value float64
	Guard string // why it does not count; empty if it counts
}

// guardLine is the rim of a plant that does not count.
const guardLine look = `class="d-paper d-ink-line" fill="#ffffff" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="4 3"`

// colour is that of a treatment.
func (p TrialPlan) colour(i int) rgb {
	n := len(p.Treatments)
	if i < 0 || i >= n {
		return rgb{0xff, 0xff, 0xff}
	}
	if p.Levels {
		return ScaleLight.at((float64(i) + 0.5) / float64(n))
	}
	var c rgb
	if _, err := fmt.Sscanf(seriesHex[i%len(seriesHex)], "#%02x%02x%02x", &c[0], &c[1], &c[2]); err != nil {
		panic("draw: TrialPlan: " + err.Error())
	}
	return c
}

func (p TrialPlan) treatment(i int) string {
	if i < 0 || i >= len(p.Treatments) {
		return missing
	}
	return p.Treatments[i]
}

// Draw makes the picture. It panics if width or depth are not above 0.
func (p TrialPlan) Draw() Picture {
	p.Frame.check("TrialPlan")
	if !(p.Width > 0 && p.Depth > 0) || !finite(float64(p.Width)) || !finite(float64(p.Depth)) {
		panic("draw: TrialPlan: width and depth must be above 0")
	}
	bench := Plan{Frame: p.Frame, Width: p.Width, Depth: p.Depth, Walls: p.Walls, Lamps: p.Lamps, Shelves: p.Shelves}
	c := newCanvas(p.Frame)
	rule := newRuler(p.Frame.Units)
	narrow := p.Frame.narrow()
	left, right, top, bottom := 62.0, 30.0, 30.0, 54.0
	if narrow {
		left, right = 50, 24
	}
	scale := math.Min((c.w-left-right)/float64(p.Width), 1.25*(c.w-left-right)/float64(p.Depth))
	lane := p.lane(scale, c.w)
	above := float64(captionLine * lane.rows)
	top += above
	w, d := scale*float64(p.Width), scale*float64(p.Depth)
	left += (c.w - left - right - w) / 2
	area := box{left, top, left + w, top + d}
	m := mapper{linear(0, float64(p.Width), area.x0, area.x1), linear(0, float64(p.Depth), area.y1, area.y0)}
	room := &placer{within: area.grown(-1)}
	for _, s := range p.Shelves {
		if x := float64(s.X1 + s.X2 + s.Y1 + s.Y2); finite(x) {
			c.rect(box{m.x(float64(s.X1)), m.y(float64(s.Y2)), m.x(float64(s.X2)), m.y(float64(s.Y1))}, 0, shelfLine)
		}
	}
	for _, u := range p.Units {
		for _, pl := range u.Plants {
			p.circle(c, m, scale, u, pl)
		}
	}
	p.lamps(c, m, scale, area)
	shown, short := lane.bare, p.short(m, scale)
	for _, u := range p.Units {
		for _, pl := range u.Plants {
			shown = p.label(c, m, scale, u, pl, short, room) || shown
		}
	}
	var below []string // captions that found no room
	for i, u := range p.Units {
		if lane.rows > 0 {
			for k, s := range lane.captions[i] {
				l := inkText
				if k == 0 {
					l = boldText
				}
				c.small(m.x(lane.at[i]), area.y0-8-captionLine*float64(len(lane.captions[i])-1-k), middle, s, l)
			}
		} else if s, ok := p.caption(c, m, scale, u, room); !ok {
			below = append(below, s)
		}
	}
	below = append(below, bench.edges(c, rule, m, area, above)...)

	y := area.y1 + bottom
	edge := 20.0
	if narrow {
		edge = 12
	}
	if bar := rule.bar * rule.metre * scale; bar > 20 && bar < w {
		bench.scaleBar(c, area.x0, y-6, bar, rule)
		y += 32
	}
	if p.Note != "" {
		below = append(below, p.Note)
	}
	for _, s := range below {
		y = c.wrapped(edge, y+14, c.w-2*edge, s, smallSize, inkText) - 10
	}
	if len(below) > 0 {
		y += 8
	}
	y = c.key(edge, y, c.w-2*edge, p.key(shown, short))
	title := p.Frame.Title
	if title == "" {
		title = "The layout on the bench"
		if p.Block != "" {
			title += ", " + p.Block
		}
	}
	desc := or(p.Frame.Desc, p.describe(rule))
	return Picture{SVG: c.svg(y+10, title, desc), Table: p.table(title, rule), Title: title, Desc: desc}
}

// leastNamed is the radius from which a plant has its label, in px.
const leastNamed = 7

// captionLine is from one line of a caption to the next, in px.
const captionLine = 15

// A lane is the room for captions over the back of the bench, where lamps hang in one row.
type lane struct {
	rows     int        // of the longest caption; 0: there is no such room
	captions [][]string // by unit, its lines
	at       []float64  // by unit, the middle of its lamp from the left, m
	bare     bool       // the light stands without its unit
}

// lane finds the captions that fit over the lamps of a bench drawn at scale in a picture so
// wide: what and how much in two lines, or one thing a line.
func (p TrialPlan) lane(scale, width float64) lane {
	l := lane{at: make([]float64, len(p.Units))}
	for i, u := range p.Units {
		k := slices.IndexFunc(p.Lamps, func(x Lamp) bool { return x.Name == u.Lamp && u.Lamp != "" })
		if k < 0 || !finite(float64(p.Lamps[k].X)) {
			return lane{}
		}
		l.at[i] = float64(p.Lamps[k].X)
	}
	for _, whole := range [...]bool{true, false} {
		l.captions, l.rows, l.bare = nil, 0, false
		fits := len(p.Units) > 0
		for i, u := range p.Units {
			slot := 2*scale*math.Min(l.at[i], float64(p.Width)-l.at[i]) + 60 // into the margins beside the bench
			for j := range p.Units {
				if j != i {
					slot = math.Min(slot, scale*math.Abs(l.at[j]-l.at[i]))
				}
			}
			slot = math.Min(slot, width) - 8
			first, light := u.Name+": "+p.treatment(u.Treatment), ""
			if finite(u.Mean) {
				light = amount(quantity.Number(u.Mean, 3), p.Unit)
			}
			lines := []string{first}
			if !whole {
				lines = append([]string{u.Name}, wrap(p.treatment(u.Treatment), slot, smallSize)...)
				if light != "" {
					light, l.bare = quantity.Number(u.Mean, 3), true
				}
			}
			if light != "" {
				lines = append(lines, light)
			}
			for k, s := range lines {
				wide := textWidth(s, smallSize)
				if k == 0 {
					wide *= boldWider
				}
				fits = fits && wide <= slot && !strings.HasSuffix(s, "…")
			}
			l.captions = append(l.captions, lines)
			l.rows = max(l.rows, len(lines))
		}
		if fits && l.rows <= 5 {
			return l
		}
	}
	return lane{}
}

// short is what labels of plants begin with and is left out where they would not fit their
// circles: "P" where all are P1, P2, …
func (p TrialPlan) short(m mapper, scale float64) string {
	const head = "P"
	long, any := false, false
	for _, u := range p.Units {
		for _, pl := range u.Plants {
			rest, ok := strings.CutPrefix(pl.Label, head)
			if !ok || strings.Trim(rest, "0123456789") != "" || rest == "" {
				return ""
			}
			_, _, r, _ := pl.place(m, scale)
			long = long || textWidth(pl.Label, smallSize)*boldWider > 2*r-3
			any = any || r >= leastNamed && textWidth(rest, smallSize)*boldWider <= 2*r+2
		}
	}
	if long && any {
		return head
	}
	return ""
}

// lamps draws the outlines in the ink of the page: there is no map beneath them.
func (p TrialPlan) lamps(c *canvas, m mapper, scale float64, area box) {
	if len(p.Lamps) == 0 {
		return
	}
	const line look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="5 3"`
	c.raw("<g" + c.clip("lamps", area.grown(14)) + ">")
	for _, l := range p.Lamps {
		x, y := m.x(float64(l.X)), m.y(float64(l.Y))
		if !finite(x+y) || !finite(float64(l.Width)) {
			continue
		}
		if l.Round {
			c.circle(x, y, scale*float64(l.Width)/2, line)
		} else {
			c.path([][]point{l.corners(x, y, scale)}, true, line)
		}
	}
	c.raw("</g>")
}

// place is where a plant is drawn, and its radius in px.
func (pl TrialPlanPlant) place(m mapper, scale float64) (x, y, r float64, ok bool) {
	x, y, r = m.x(float64(pl.X)), m.y(float64(pl.Y)), scale*float64(pl.Crown)
	if !(r >= 3) {
		r = 3
	}
	return x, y, r, finite(x + y)
}

func (p TrialPlan) circle(c *canvas, m mapper, scale float64, u TrialPlanUnit, pl TrialPlanPlant) {
	x, y, r, ok := pl.place(m, scale)
	if !ok {
		return
	}
	if pl.Guard != "" {
		c.circle(x, y, r, guardLine)
		return
	}
	ground := p.colour(u.Treatment)
	c.circle(x, y, r, look(`fill="`+ground.hex()+`" stroke="`+inkOn(ground).hex()+`" stroke-width="1.2"`))
}

// label writes the label of a plant, with its light beneath it where there is room; shown
// tells whether there was.
func (p TrialPlan) label(c *canvas, m mapper, scale float64, u TrialPlanUnit, pl TrialPlanPlant, short string, room *placer) (shown bool) {
	x, y, r, ok := pl.place(m, scale)
	if !ok {
		return false
	}
	ground, value := p.colour(u.Treatment), ""
	if finite(pl.Value) {
		value = quantity.Number(pl.Value, 3)
	}
	write := func(y float64, s string, bold bool) {
		room.take(textBox(x, y, middle, s, smallSize).grown(1))
		if pl.Guard == "" {
			c.haloed(x, y, middle, s, ground, bold)
		} else {
			c.onPaper(x, y, middle, s, inkText)
		}
	}
	wide := func(s string) bool { return textWidth(s, smallSize) <= 2*r }
	label := strings.TrimPrefix(pl.Label, short)
	if bracketed := "(" + label + ")"; pl.Guard != "" && wide(bracketed) {
		label = bracketed // else its dashed rim alone tells a guard
	}
	switch {
	case r >= 17 && value != "" && wide(label) && wide(value):
		write(y-2.5, label, true)
		write(y+11, value, false)
		shown = true
	case r >= leastNamed && textWidth(label, smallSize)*boldWider <= 2*r+2:
		if pl.Guard == "" && short != "" {
			c.small(x, y+4.2, middle, label, look(`fill="`+inkOn(ground).hex()+`" font-weight="600"`))
			room.take(box{x - r, y - r, x + r, y + r})
			return shown
		}
		write(y+4.2, label, true)
	default:
		room.take(box{x - r, y - r, x + r, y + r})
	}
	return shown
}

// caption writes code, treatment and light of a unit by its lamp. Where there is no room
// for it, ok is false and the text stands for the caption.
func (p TrialPlan) caption(c *canvas, m mapper, scale float64, u TrialPlanUnit, room *placer) (text string, ok bool) {
	text = u.Name + ": " + p.treatment(u.Treatment)
	if finite(u.Mean) {
		text += ", " + amount(quantity.Number(u.Mean, 3), p.Unit)
	}
	if u.Lamp != "" {
		text += ", under " + u.Lamp
	}
	var l *Lamp
	for i := range p.Lamps {
		if p.Lamps[i].Name == u.Lamp {
			l = &p.Lamps[i]
		}
	}
	if l == nil {
		return text, false
	}
	x, y := m.x(float64(l.X)), m.y(float64(l.Y))
	if !finite(x+y) || !finite(float64(l.Width)) {
		return text, false
	}
	o := l.outline(x, y, scale)
	whole := u.Name + ": " + p.treatment(u.Treatment)
	texts := []string{whole}
	if finite(u.Mean) {
		texts = append([]string{whole + ", " + quantity.Number(u.Mean, 3)}, texts...)
	}
	for _, s := range texts {
		for _, dy := range []float64{o.y0 - 6, o.y1 + 15, o.y0 + 15, o.y1 - 7, o.y0 - 22, o.y1 + 31, y + 4, y - 26, y + 34, y - 44, y + 52} {
			for _, dx := range []float64{0, -12, 12, -28, 28, -48, 48} {
				if b := textBox(x+dx, dy, middle, s, smallSize); room.try(box{b.x0 - 5, b.y0 - 1, b.x1 + 5, b.y1 + 1}) {
					c.onPaper(x+dx, dy, middle, s, boldText)
					return text, true
				}
			}
		}
	}
	return text, false
}

func (p TrialPlan) key(shown bool, short string) []keyItem {
	var items []keyItem
	guards := false
	for i, t := range p.Treatments {
		col := p.colour(i)
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			c.circle(x+13, y, 8, look(`fill="`+col.hex()+`" stroke="`+inkOn(col).hex()+`" stroke-width="1.2"`))
		}, t})
	}
	for _, u := range p.Units {
		for _, pl := range u.Plants {
			guards = guards || pl.Guard != ""
		}
	}
	if guards {
		items = append(items, keyItem{func(c *canvas, x, y float64) { c.circle(x+13, y, 8, guardLine) }, "guard: grown, not counted"})
	}
	if short != "" {
		items = append(items, keyItem{func(c *canvas, x, y float64) { c.small(x+13, y+4.2, middle, "1", boldText) }, "plant " + short + "1"})
	}
	if shown && p.Light != "" {
		items = append(items, keyItem{func(c *canvas, x, y float64) { c.small(x+13, y+4.2, middle, "250", inkText) }, join(p.Light, p.Unit)})
	}
	if len(p.Lamps) > 0 {
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			c.rect(box{x + 1, y - 6, x + 25, y + 6}, 2, `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="5 3"`)
		}, "lamp above"})
	}
	return items
}

func (p TrialPlan) describe(rule ruler) string {
	var parts []string
	for _, u := range p.Units {
		guards := 0
		for _, pl := range u.Plants {
			if pl.Guard != "" {
				guards++
			}
		}
		s := fmt.Sprintf("%s under %s has %s", u.Name, or(u.Lamp, "no lamp"), p.treatment(u.Treatment))
		if finite(u.Mean) {
			s += ", " + amount(quantity.Number(u.Mean, 3), p.Unit)
		}
		parts = append(parts, s+fmt.Sprintf(", %d plants that count and %d guards", len(u.Plants)-guards, guards))
	}
	return fmt.Sprintf("Bench of %s by %s. %s. The table gives every plant.", rule.print(float64(p.Width)), rule.print(float64(p.Depth)), strings.Join(parts, "; "))
}

func (p TrialPlan) table(title string, rule ruler) Table {
	t := Table{Caption: title, Head: []string{"Plant", "Unit", "Treatment", "Lamp", "Dimming", "From the left", "From the front", join(or(p.Light, "Light"), p.Unit), "Guard"}}
	for _, u := range p.Units {
		for _, pl := range u.Plants {
			t.Rows = append(t.Rows, []string{or(pl.Code, pl.Label), u.Name, p.treatment(u.Treatment), u.Lamp, u.Dimming, rule.print(float64(pl.X)), rule.print(float64(pl.Y)), quantity.Number(pl.Value, 3), pl.Guard})
		}
	}
	return t
}
