package draw

import (
	"math"

	"underlamp/science/quantity"
)

// A crown is a plant of the plan in px.
type crown struct {
	point
	r     float64
	fill  rgb
	value string
	label box // where the value stands; empty if it has no room inside
}

func (k crown) holds(p point) bool { return math.Hypot(p.x-k.x, p.y-k.y) <= k.r }

func (p Plan) crowns(m mapper, scale float64, t tint) []crown {
	var out []crown
	for _, pl := range p.Plants {
		if !finite(float64(pl.X)) || !finite(float64(pl.Y)) {
			continue
		}
		k := crown{point: point{m.x(float64(pl.X)), m.y(float64(pl.Y))}, r: scale * float64(pl.Crown), fill: rgb{0xff, 0xff, 0xff}, value: "?"}
		if !(k.r >= 3) {
			k.r = 3
		}
		if fill, ok := t.of(pl.Value); ok {
			k.fill = fill
		}
		if finite(pl.Value) {
			k.value = quantity.Number(pl.Value, 3)
		}
		out = append(out, k)
	}
	return out
}

func drawCrowns(c *canvas, crowns []crown) {
	for _, k := range crowns {
		c.circle(k.x, k.y, k.r, look(`fill="`+k.fill.hex()+`" stroke="`+inkOn(k.fill).hex()+`" stroke-width="1.2"`))
	}
}

// pinHalf is half of the room of a pin, in px.
const pinHalf = 6

// A readingPin is where a reading was taken and where its pin is drawn: the same
// place, unless the pin would hide the value of a plant.
type readingPin struct {
	Reading
	at, shown point
}

func (r readingPin) box() box {
	return box{r.shown.x - pinHalf, r.shown.y - pinHalf, r.shown.x + pinHalf, r.shown.y + pinHalf}
}

func (p Plan) pins(m mapper) []readingPin {
	var out []readingPin
	for _, r := range p.Readings {
		if finite(float64(r.X)) && finite(float64(r.Y)) {
			at := point{m.x(float64(r.X)), m.y(float64(r.Y))}
			out = append(out, readingPin{r, at, at})
		}
	}
	return out
}

// values writes the light of the plants into their crowns: in the middle; under
// or over a pin that stands there; beneath a crown that is too small.
func (p Plan) values(c *canvas, crowns []crown, pins []readingPin, outlines []box, room *placer) {
	struck := func(b box) bool {
		for _, o := range outlines {
			if o.x0 < b.x1 && o.x1 > b.x0 && (o.y0 > b.y0 && o.y0 < b.y1 || o.y1 > b.y0 && o.y1 < b.y1) {
				return true
			}
		}
		return false
	}

	hidden := func(b box) bool {
		for _, r := range pins {
			if b.overlaps(r.box()) {
				return true
			}
		}
		return false
	}
	for i := range crowns {
		k := &crowns[i]
		w := textWidth(k.value, smallSize)
		if w > 2*k.r+4 || k.r < 9 {
			continue
		}
		const aside = pinHalf + 9 // from pin to value, middle to middle
		y, found := k.y+4.2, math.Inf(1)
		for _, dy := range [...]float64{0, 9, -9, 12, -12, aside, -aside, aside + 5, -aside - 5} {
			b := textBox(k.x, k.y+4.2+dy, middle, k.value, smallSize)
			edge := math.Abs(dy) + (b.y1-b.y0)/2
			if hidden(b) || dy != 0 && (edge >= k.r || w > 2*math.Sqrt(k.r*k.r-edge*edge)) {
				continue
			}
			// The edge of a lamp beside a number would read as a minus.
			cost := math.Abs(dy)
			if struck(b.grown(1)) {
				cost += 100
			}
			if cost < found {
				y, found = k.y+4.2+dy, cost
			}
		}
		k.label = textBox(k.x, y, middle, k.value, smallSize)
		room.take(k.label.grown(1))
		c.haloed(k.x, y, middle, k.value, k.fill, false) // the halo breaks the outline of a lamp above
	}
	for _, k := range crowns {
		if k.label != (box{}) {
			continue
		}
		room.take(box{k.x - k.r, k.y - k.r, k.x + k.r, k.y + k.r})
		y := k.y + k.r + 12
		if b := textBox(k.x, y, middle, k.value, smallSize).grown(1); !hidden(b) && room.try(b) {
			c.haloed(k.x, y, middle, k.value, k.fill, false)
		}
	}
}

// readings draws the pins with their difference from the model, and then lets
// nothing more into the crowns.
func (p Plan) readings(c *canvas, crowns []crown, pins []readingPin, area box, ground func(point) (rgb, bool), room *placer) {
	for i := range pins {
		pins[i].move(crowns, pins[:i], area)
	}
	for _, r := range pins {
		if r.shown != r.at {
			end := r.lead(crowns)
			c.line(end.x, end.y, r.shown.x, r.shown.y, `fill="none" stroke="#0d1117" stroke-width="1"`)
			if end == r.at {
				c.circle(end.x, end.y, 1.6, `fill="#0d1117"`)
			}
		}
	}
	for _, r := range pins {
		room.take(r.box())
		pin(c, r.shown.x, r.shown.y, r.Far)
	}
	for _, r := range pins {
		x, y := r.shown.x, r.shown.y
		text := r.difference()
		if text == missing {
			text = quantity.Number(r.Value, 3)
		}
		type place struct {
			x, y   float64
			anchor string
		}
		over, under := place{x, y - 10, middle}, place{x, y + 18, middle}
		places := []place{{x + 9, y + 4.2, start}, {x - 9, y + 4.2, end}, over, under,
			{x + 6, y - 9, start}, {x - 6, y - 9, end}, {x + 6, y + 17, start}, {x - 6, y + 17, end}}
		on := func(p point) (rgb, bool) {
			for _, k := range crowns {
				if k.holds(p) {
					return k.fill, true
				}
			}
			return ground(p)
		}
		for _, k := range crowns {
			if k.holds(r.shown) {
				places = append([]place{over, under}, places...) // within the crown, over against its value
				break
			}
		}
		for _, at := range places {
			b := textBox(at.x, at.y, at.anchor, text, smallSize)
			if room.try(b.grown(1)) {
				col, ok := on(point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2})
				if !ok {
					col = rgb{0xff, 0xff, 0xff}
				}
				c.haloed(at.x, at.y, at.anchor, text, col, r.Far)
				break
			}
		}
	}
	for _, k := range crowns {
		if k.label != (box{}) {
			room.take(box{k.x - 0.9*k.r, k.y - 0.9*k.r, k.x + 0.9*k.r, k.y + 0.9*k.r})
		}
	}
}

// lead is where the line from a moved pin to its place ends: there, or where it
// would run into the value of a plant.
func (r readingPin) lead(crowns []crown) point {
	const steps = 32
	last := r.shown
	for i := range steps + 1 {
		f := float64(i) / steps
		p := point{r.shown.x + f*(r.at.x-r.shown.x), r.shown.y + f*(r.at.y-r.shown.y)}
		if i == steps {
			p = r.at
		}
		for _, k := range crowns {
			if b := k.label.grown(1); k.label != (box{}) && p.x > b.x0 && p.x < b.x1 && p.y > b.y0 && p.y < b.y1 {
				return last
			}
		}
		last = p
	}
	return last
}

// move draws a pin beside its place, with a line to it, if it would hide the
// value of a plant or an earlier pin. It stays where it is if there is no room around.
func (r *readingPin) move(crowns []crown, before []readingPin, area box) {
	clear := func() bool {
		if !r.box().within(area) {
			return false
		}
		for _, k := range crowns {
			if k.label != (box{}) && r.box().overlaps(k.label) {
				return false
			}
		}
		for _, o := range before {
			if r.box().overlaps(o.box()) {
				return false
			}
		}
		return true
	}
	if !r.box().within(area) || clear() {
		return
	}
	for _, far := range [...]float64{16, 22, 28} {
		for i := range 8 {
			a := math.Pi * (0.25 + 0.25*float64(i))
			r.shown = point{r.at.x + far*math.Cos(a), r.at.y - far*math.Sin(a)}
			if clear() {
				return
			}
		}
	}
	r.shown = r.at
}

// pin marks a reading: a disc with a dot, or a square on its corner if it is
// far from the model.
func pin(c *canvas, x, y float64, far bool) {
	const l look = `fill="#ffffff" stroke="#0d1117" stroke-width="1.4"`
	if far {
		c.path([][]point{{{x, y - 7}, {x + 7, y}, {x, y + 7}, {x - 7, y}}}, true, l)
	} else {
		c.circle(x, y, 4.5, l)
	}
	c.circle(x, y, 1.6, `fill="#0d1117"`)
}

// difference is the reading against the model, as printed.
func (r Reading) difference() string {
	d := (r.Value/r.Model - 1) * 100
	if !finite(d) {
		return missing
	}
	return signed(d, 0) + " %"
}
