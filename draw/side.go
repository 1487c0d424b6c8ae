package draw

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/quantity"
)

// A Side is the bench seen from the front, to scale: walls, lamps with their
// beams, the canopy now and at harvest; beside it, on the same height axis, how
// light changes with height.
type Side struct {
	Frame Frame

	Width, Height quantity.Metre // of the space, above 0
	Left, Right   Wall
	Above         Wall
	Shelves       []Shelf
	Lamps         []Lamp // X and Height place them; Y is not used
	Canopies      []Canopy

	Heights  []float64 // m above the planting surface, ascending
	Light    []float64 // one value for each height
	Quantity string    // "PPFD below the lamp"
	Unit     string
}

// A Canopy is how high the plants stand at some time.
type Canopy struct {
	Name   string // "now", "at harvest"
	Height quantity.Metre
}

// Draw makes the picture. It panics if width or height are not above 0 or
// heights and light differ in number.
func (s Side) Draw() Picture {
	s.Frame.check("Side")
	if !(s.Width > 0 && s.Height > 0) || !finite(float64(s.Width)) || !finite(float64(s.Height)) {
		panic("draw: Side: width and height must be above 0")
	}
	if len(s.Heights) != len(s.Light) {
		panic("draw: Side: Heights and Light differ in number")
	}
	c := newCanvas(s.Frame)
	rule := newRuler(s.Frame.Units)
	narrow := s.Frame.narrow()
	left, right, top, gap, curve := 62.0, 40.0, 40.0, 56.0, 170.0
	if narrow {
		left, right, gap, curve = 50, 16, 34, 84
	}
	avail := c.w - left - right
	if len(s.Heights) > 0 {
		avail -= gap + curve
	}
	scale := math.Min(avail/float64(s.Width), 420/float64(s.Height))
	w, h := scale*float64(s.Width), scale*float64(s.Height)
	left += (avail - w) / 2
	area := box{left, top, left + w, top + h}
	m := mapper{linear(0, float64(s.Width), area.x0, area.x1), linear(0, float64(s.Height), area.y1, area.y0)}

	s.beams(c, m, scale, area)
	for _, b := range s.Shelves {
		if y := m.y(float64(b.Height)); finite(y+float64(b.X1+b.X2)) && y >= area.y0 && y <= area.y1 {
			c.line(m.x(float64(b.X1)), y, m.x(float64(b.X2)), y, wallLine)
		}
	}
	for i, k := range s.Canopies {
		if y := m.y(float64(k.Height)); finite(y) && y <= area.y1 {
			c.rect(box{area.x0, math.Max(y, area.y0), area.x1, area.y1}, 0, `class="d-f2" fill="#4d6a1c" fill-opacity="0.13"`)
			c.line(area.x0, y, area.x1, y, canopyLine(i))
		}
	}
	room := &placer{within: area.grown(-2)}
	s.lamps(c, m, scale, area, room)
	s.canopyNames(c, m, rule, area, room)
	s.walls(c, rule, m, area)
	bottom := area.y1 + 58
	if len(s.Heights) > 0 {
		// The light axis is at the right of the space and shares its heights.
		bottom = math.Max(bottom, s.fall(c, m, box{area.x1 + gap, area.y0, c.w - right, area.y1})-10)
	}
	title := or(s.Frame.Title, "The bench from the side")
	desc := or(s.Frame.Desc, s.describe(rule))
	return Picture{SVG: c.svg(bottom, title, desc), Table: s.table(title, rule), Title: title, Desc: desc}
}

// canopyLine tells canopies apart by dash.
func canopyLine(i int) look {
	dash := [...]string{"", "7 4", "2 3"}[i%3]
	l := `class="d-s2" fill="none" stroke="#4d6a1c" stroke-width="1.8"`
	if dash != "" {
		l += ` stroke-dasharray="` + dash + `"`
	}
	return look(l)
}

// beams fills the cone of half intensity from each lamp down to the planting
// surface.
func (s Side) beams(c *canvas, m mapper, scale float64, area box) {
	clip := c.clip("space", area)
	c.raw("<g" + clip + ">")
	for _, l := range s.Lamps {
		half := l.Beam.Radians() / 2
		x, y := m.x(float64(l.X)), m.y(float64(l.Height))
		if !(half > 0) || !finite(x+y+float64(l.Width)) {
			continue
		}
		r := scale * float64(l.Width) / 2
		// A beam of 180° or more lights everything below the lamp.
		out := 1e4
		if half < math.Pi/2 {
			out = math.Min(out, math.Tan(half)*(area.y1-y))
		}
		ring := []point{{x - r, y}, {x + r, y}, {x + r + out, area.y1}, {x - r - out, area.y1}}
		c.path([][]point{ring}, true, `class="d-f1" fill="#a4480c" fill-opacity="0.07"`)
		c.path([][]point{{ring[0], ring[3]}, {ring[1], ring[2]}}, false, `class="d-s1" fill="none" stroke="#a4480c" stroke-width="0.8" stroke-opacity="0.6" stroke-dasharray="2 4"`)
	}
	c.raw("</g>")
}

func (s Side) lamps(c *canvas, m mapper, scale float64, area box, room *placer) {
	for _, l := range s.Lamps {
		x, y := m.x(float64(l.X)), m.y(float64(l.Height))
		if !finite(x + y + float64(l.Width)) {
			continue
		}
		r := math.Max(4, scale*float64(l.Width)/2)
		body := box{x - r, y - 7, x + r, y}
		c.rect(body, 1.5, inkFill)
		c.line(x-r, y+1.5, x+r, y+1.5, `class="d-s1" fill="none" stroke="#a4480c" stroke-width="2"`)
		room.take(body)
	}
	for _, l := range s.Lamps {
		x, y := m.x(float64(l.X)), m.y(float64(l.Height))
		if !finite(x+y) || l.Name == "" {
			continue
		}
		for _, at := range [...]float64{y - 13, y + 19, y + 34} {
			b := textBox(x, at, middle, l.Name, smallSize)
			// A name must not run through the sides of the space.
			b.x0, b.x1 = math.Max(b.x0, area.x0), math.Min(b.x1, area.x1)
			if room.try(b.grown(1)) {
				c.small(x, at, middle, l.Name, inkText)
				break
			}
		}
	}
}

func (s Side) canopyNames(c *canvas, m mapper, rule ruler, area box, room *placer) {
	for _, k := range s.Canopies {
		y := m.y(float64(k.Height))
		if !finite(y) {
			continue
		}
		text := "canopy " + k.Name + ", " + rule.print(float64(k.Height))
		if s.Frame.narrow() {
			text = k.Name + ", " + rule.print(float64(k.Height))
		}
		for _, at := range [...]struct {
			x, y   float64
			anchor string
		}{{area.x0 + 8, y - 6, start}, {area.x1 - 8, y - 6, end}, {area.x0 + 8, y + 14, start}, {area.x1 - 8, y + 14, end}} {
			if room.try(textBox(at.x, at.y, at.anchor, text, smallSize)) {
				c.onPaper(at.x, at.y, at.anchor, text, inkText)
				break
			}
		}
	}
}

func (s Side) walls(c *canvas, rule ruler, m mapper, area box) {
	edge := func(x1, y1, x2, y2 float64, open bool) {
		l := wallLine
		if open {
			l = openLine
		}
		c.line(x1, y1, x2, y2, l)
	}
	edge(area.x0, area.y1, area.x0, area.y0, s.Left.Open)
	edge(area.x1, area.y1, area.x1, area.y0, s.Right.Open)
	edge(area.x0, area.y0, area.x1, area.y0, s.Above.Open)
	edge(area.x0, area.y1, area.x1, area.y1, false)
	at, labels := rule.ticks(float64(s.Width), int(math.Max(3, area.w()/46)))
	for i, v := range at {
		c.line(m.x(v), area.y1+4, m.x(v), area.y1+8, softLine)
		text := labels[i]
		if i == len(at)-1 {
			text += " " + rule.unit
		}
		c.small(m.x(v), area.y1+21, middle, text, softText)
	}
	at, labels = rule.ticks(float64(s.Height), int(math.Max(3, area.h()/30)))
	for i, v := range at {
		c.line(area.x0-8, m.y(v), area.x0-4, m.y(v), softLine)
		if i > 0 {
			c.small(area.x0-11, m.y(v)+4, end, labels[i], softText)
		}
	}
	side := func(x, deg float64, w Wall) {
		if w.Open && w.Label == "" {
			w.Label = "open"
		}
		if w.Label != "" {
			// Rather the surface alone than half of a word.
			room, label := area.h()+20, w.Label
			if surface, _, ok := strings.Cut(label, ","); ok && textWidth(label, smallSize) > room {
				label = surface
			}
			c.sized(x, (area.y0+area.y1)/2, middle, cut(label, room, smallSize), smallSize, deg, softText)
		}
	}
	side(area.x0-40, -90, s.Left)
	side(area.x1+16, 90, s.Right)
	if s.Above.Open && s.Above.Label == "" {
		s.Above.Label = "open"
	}
	if s.Above.Label != "" {
		c.small((area.x0+area.x1)/2, area.y0-10, middle, cut("above: "+s.Above.Label, area.w(), smallSize), softText)
	}
}

// fall draws light against height, and its value at each canopy. It returns
// where its caption ends.
func (s Side) fall(c *canvas, m mapper, area box) (bottom float64) {
	hi := 0.0
	for _, v := range s.Light {
		if finite(v) {
			hi = math.Max(hi, v)
		}
	}
	limits, decimals := bands(0, hi, 4)
	fx := linear(0, limits[len(limits)-1], area.x0, area.x1)
	n := len(limits) - 1
	for i, v := range limits {
		style := ruleLine
		if i == 0 {
			style = softLine
		}
		c.line(fx(v), area.y0, fx(v), area.y1, style)
		if i == 0 || i == n || area.w()/float64(n) > 34 {
			c.small(fx(v), area.y1+21, middle, quantity.Fixed(v, decimals), softText)
		}
	}
	c.line(area.x0, area.y1, area.x1, area.y1, softLine)
	var curves [][]point
	var run []point
	for i, v := range s.Light {
		z := s.Heights[i]
		if !finite(v) || !finite(z) || z < 0 || z > float64(s.Height) {
			if len(run) > 1 {
				curves = append(curves, run)
			}
			run = nil
			continue
		}
		run = append(run, point{fx(v), m.y(z)})
	}
	if len(run) > 1 {
		curves = append(curves, run)
	}
	c.path(curves, false, seriesLine(1).solid())
	room := placer{within: box{area.x0 - 30, area.y0 - 20, c.w, area.y1 + 10}}
	for i, k := range s.Canopies {
		v := s.at(float64(k.Height))
		if !finite(v) {
			continue
		}
		x, y := fx(v), m.y(float64(k.Height))
		c.line(area.x0, y, x, y, canopyLine(i))
		c.circle(x, y, 3.5, seriesFill(1))
		text := quantity.Number(v, 3)
		for _, at := range [...]struct {
			x, y   float64
			anchor string
		}{{x + 8, y + 4, start}, {x - 6, y - 7, end}, {x + 8, y - 8, start}, {x - 6, y + 15, end}, {x + 8, y + 15, start}} {
			b := textBox(at.x, at.y, at.anchor, text, smallSize)
			if b.x0 > area.x0 && b.x1 < c.w-2 && room.try(b) {
				c.onPaper(at.x, at.y, at.anchor, text, inkText)
				break
			}
		}
	}
	width := math.Min(2*(c.w-4-(area.x0+area.x1)/2), area.w()+60)
	y := area.y1 + 38
	for _, line := range append(wrap(s.Quantity, width, smallSize), cut(s.Unit, width, smallSize)) {
		c.small((area.x0+area.x1)/2, y, middle, line, softText)
		y += 15
	}
	return y
}

// solid takes the dash off a line that stands alone.
func (l look) solid() look {
	const mark = ` stroke-dasharray="`
	for i := 0; i+len(mark) <= len(l); i++ {
		if l[i:i+len(mark)] == mark {
			for j := i + len(mark); j < len(l); j++ {
				if l[j] == '"' {
					return l[:i] + l[j+1:]
				}
			}
		}
	}
	return l
}

// at interpolates the light at a height; NaN outside.
func (s Side) at(z float64) float64 {
	for i := 1; i < len(s.Heights); i++ {
		a, b := s.Heights[i-1], s.Heights[i]
		if z >= a && z <= b && b > a {
			return s.Light[i-1] + (z-a)/(b-a)*(s.Light[i]-s.Light[i-1])
		}
	}
	return math.NaN()
}

func (s Side) describe(rule ruler) string {
	d := fmt.Sprintf("Space %s wide and %s high. ", rule.print(float64(s.Width)), rule.print(float64(s.Height)))
	for _, l := range s.Lamps {
		d += fmt.Sprintf("Lamp %s at %s. ", l.Name, rule.print(float64(l.Height)))
	}
	for _, k := range s.Canopies {
		d += fmt.Sprintf("Canopy %s at %s", k.Name, rule.print(float64(k.Height)))
		if v := s.at(float64(k.Height)); finite(v) {
			d += ": " + amount(quantity.Number(v, 3), s.Unit)
		}
		d += ". "
	}
	return d + "The table gives the numbers."
}

func (s Side) table(title string, rule ruler) Table {
	t := Table{Caption: title, Head: []string{"What", "Height", join(or(s.Quantity, "Light"), s.Unit)}}
	for _, l := range s.Lamps {
		t.Rows = append(t.Rows, []string{"Lamp " + l.Name, rule.print(float64(l.Height)), ""})
	}
	for _, k := range s.Canopies {
		t.Rows = append(t.Rows, []string{"Canopy " + k.Name, rule.print(float64(k.Height)), quantity.Number(s.at(float64(k.Height)), 3)})
	}
	for i, z := range s.Heights {
		t.Rows = append(t.Rows, []string{"Light", rule.print(z), quantity.Number(s.Light[i], 3)})
	}
	return t
}
