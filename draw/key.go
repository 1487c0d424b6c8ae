package draw

import (
	"math"

	"underlamp/science/quantity"
)

// sampleWidth is the room for the sample before a key's text.
const sampleWidth = 26

// A keyItem explains one mark: a sample drawn about the point (x+13, y), and
// what it means.
type keyItem struct {
	sample func(c *canvas, x, y float64)
	text   string
}

// lineSample shows a line of the look given.
func lineSample(l look) func(*canvas, float64, float64) {
	return func(c *canvas, x, y float64) { c.line(x, y, x+sampleWidth, y, l) }
}

// key writes the items one after another, in rows of at most width px, and
// returns the y below them.
func (c *canvas) key(x, y, width float64, items []keyItem) float64 {
	if len(items) == 0 {
		return y
	}
	const rowHeight, gap, space = 22.0, 8.0, 22.0
	at := x
	for i, it := range items {
		text := cut(it.text, width-sampleWidth-gap, smallSize)
		w := sampleWidth + gap + textWidth(text, smallSize)
		if i > 0 && at+w > x+width {
			at, y = x, y+rowHeight
		}
		it.sample(c, at, y+rowHeight/2)
		c.small(at+sampleWidth+gap, y+rowHeight/2+4.2, start, text, softText)
		at += w + space
	}
	return y + rowHeight
}

// colours draws the bands of a tint as a bar with its numbers, headed by name,
// and returns the y below it.
func (c *canvas) colours(x, y, width float64, t tint, name string) float64 {
	c.small(x, y+smallSize, start, cut(name, width, smallSize), inkText)
	if len(t.colours) == 0 {
		c.small(x, y+smallSize+18, start, "no values", softText)
		return y + 36
	}
	y += 20
	n := float64(len(t.colours))
	each := width / n
	for i, col := range t.colours {
		c.rect(box{x + float64(i)*each, y, x + float64(i+1)*each + 0.4, y + 12}, 0, look(`fill="`+col.hex()+`"`))
	}
	room := placer{within: box{-1e4, -1e4, 1e4, 1e4}}
	last := len(t.limits) - 1
	label := func(i int) {
		s := quantity.Fixed(t.limits[i], t.decimals)
		at, anchor := x+float64(i)*each, middle
		switch i {
		case 0:
			anchor = start
		case last:
			anchor = end
		}
		if room.try(textBox(at, y+26, anchor, s, smallSize).grown(2)) {
			if i > 0 && i < last {
				c.line(at, y+12, at, y+15, softLine)
			}
			c.small(at, y+26, anchor, s, softText)
		}
	}
	label(0)
	label(last)
	for i := 1; i < last; i++ {
		label(i)
	}
	return y + 34
}

// haloed writes small text with a rim of the ground's colour, so that lines
// behind it do not disturb.
func (c *canvas) haloed(x, y float64, anchor, s string, ground rgb, bold bool) {
	l := `fill="` + inkOn(ground).hex() + `" stroke="` + ground.hex() + `" stroke-width="3.5" stroke-linejoin="round" paint-order="stroke"`
	if bold {
		l += ` font-weight="600"`
	}
	c.small(x, y, anchor, s, look(l))
}

// onPaper writes small text with a rim of the page's colour.
func (c *canvas) onPaper(x, y float64, anchor, s string, l look) {
	c.small(x, y, anchor, s, `stroke="#ffffff" stroke-width="4" stroke-linejoin="round" paint-order="stroke" `+haloClass(l))
}

// haloClass adds the class of the rim to the first class of a look.
func haloClass(l look) look {
	const open = `class="`
	if len(l) > len(open) && l[:len(open)] == open {
		return open + "d-halo " + l[len(open):]
	}
	return `class="d-halo" ` + l
}

// A mapper turns places of a grid into places of the picture.
type mapper struct {
	x, y func(float64) float64
}

// linear returns the function that takes a to p and b to q. An empty span goes
// to the middle.
func linear(a, b, p, q float64) func(float64) float64 {
	if !(b-a != 0) || !finite(b-a) {
		return func(float64) float64 { return (p + q) / 2 }
	}
	return func(v float64) float64 { return p + (v-a)/(b-a)*(q-p) }
}

// project maps lines into the picture and leaves out points closer than a
// quarter of a pixel to what is drawn anyway.
func (m mapper) project(lines [][]point) [][]point {
	out := make([][]point, 0, len(lines))
	for _, line := range lines {
		p := make([]point, len(line))
		for i, v := range line {
			p[i] = point{m.x(v.x), m.y(v.y)}
		}
		out = append(out, simplify(p, 0.25))
	}
	return out
}

// bandFill paints a grid in the colours of its tint: from the lowest band up,
// each level over the one before, so that no seam shows between neighbours.
func (c *canvas) bandFill(tr *tracer, m mapper, t tint) {
	for i, col := range t.colours {
		level := t.limits[i]
		if i == 0 {
			level = math.Inf(-1)
		}
		c.path(m.project(tr.region(level)), true, look(`fill="`+col.hex()+`"`))
	}
}

// labelLines writes a label on the longest lines, where there is room, at most
// the number given. ground tells the colour below a place.
func (c *canvas) labelLines(lines [][]point, text string, most int, room *placer, ground func(point) (rgb, bool), bold bool) {
	for _, line := range longest(lines) {
		if most == 0 {
			return
		}
		if length(line) < 40 {
			continue
		}
		// From the middle outwards, nearly to the ends.
		for k := range 23 {
			u := 0.5 + 0.04*float64((k+1)/2)*float64(1-2*(k%2))
			p := along(line, u)
			col, ok := ground(p)
			if ok && room.try(textBox(p.x, p.y+4, middle, text, smallSize).grown(2)) {
				c.haloed(p.x, p.y+4, middle, text, col, bold)
				most--
				break
			}
		}
	}
}

func length(line []point) float64 {
	var l float64
	for i := 1; i < len(line); i++ {
		l += math.Hypot(line[i].x-line[i-1].x, line[i].y-line[i-1].y)
	}
	return l
}

// longest orders lines by length, the longest first.
func longest(lines [][]point) [][]point {
	out := append([][]point(nil), lines...)
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && length(out[j]) > length(out[j-1]); j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}

// along is the place at a share of a line's length.
func along(line []point, u float64) point {
	left := u * length(line)
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		d := math.Hypot(b.x-a.x, b.y-a.y)
		if d >= left && d > 0 {
			return point{a.x + left/d*(b.x-a.x), a.y + left/d*(b.y-a.y)}
		}
		left -= d
	}
	return line[len(line)-1]
}
