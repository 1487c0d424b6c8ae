package draw

import (
	"math"
	"strconv"
	"strings"
)

// A look is a run of ready attributes: a class for [CSS] and the same in
// presentation attributes for a picture that stands alone on white.
type look string

// Looks that do not depend on data. The colours equal the light theme of CSS;
// TestLooksMatchCSS holds them together.
const (
	inkText   look = `class="d-ink" fill="#1b2430"`
	boldText  look = `class="d-ink" fill="#1b2430" font-weight="600"`
	softText  look = `class="d-soft" fill="#535e6b"`
	inkLine   look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2"`
	wallLine  look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="3" stroke-linecap="square"`
	openLine  look = `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="6 5"`
	softLine  look = `class="d-soft-line" fill="none" stroke="#535e6b" stroke-width="1"`
	softDash  look = `class="d-soft-line" fill="none" stroke="#535e6b" stroke-width="1" stroke-dasharray="3 4"`
	ruleLine  look = `class="d-rule" fill="none" stroke="#dde1e6" stroke-width="1"`
	inkFill   look = `class="d-ink" fill="#1b2430"`
	paperFill look = `class="d-paper" fill="#ffffff"`
)

// fontSize of all text but small text, in px at the picture's own width.
const (
	fontSize  = 13.0
	smallSize = 12.0
)

// A canvas collects the body of one SVG.
type canvas struct {
	b    strings.Builder
	id   string
	w    float64
	buf  [32]byte
	tail string // definitions, such as patterns and clip paths
}

func newCanvas(f Frame) *canvas {
	c := &canvas{id: f.ID, w: f.width()}
	c.b.Grow(1 << 14)
	return c
}

// svg closes the drawing at height h and returns the element.
func (c *canvas) svg(h float64, title, desc string) string {
	var b strings.Builder
	b.Grow(c.b.Len() + 1024)
	w, hh := px(c.w), px(math.Ceil(h))
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" class="d-pic" role="img" viewBox="0 0 ` + w + " " + hh +
		`" width="100%" font-family="system-ui, sans-serif" font-size="` + px(fontSize) +
		`" aria-labelledby="` + c.id + `-title ` + c.id + `-desc">`)
	b.WriteString(`<title id="` + c.id + `-title">` + escape(title) + `</title>`)
	b.WriteString(`<desc id="` + c.id + `-desc">` + escape(desc) + `</desc>`)
	if c.tail != "" {
		b.WriteString("<defs>" + c.tail + "</defs>")
	}
	b.WriteString(c.b.String())
	b.WriteString("</svg>")
	return b.String()
}

// px prints a coordinate rounded to 0.1 px. Coordinates are finite by the time
// they come here; what is not, or is far off any screen, is held at its edge so
// that the SVG stays valid.
func px(v float64) string {
	var buf [32]byte
	return string(appendPx(buf[:0], v))
}

func appendPx(dst []byte, v float64) []byte {
	if math.IsNaN(v) {
		v = 0
	}
	v = math.Round(math.Min(math.Max(v, -1e5), 1e5)*10) / 10
	if v == 0 {
		v = 0 // no minus zero
	}
	return strconv.AppendFloat(dst, v, 'f', -1, 64)
}

func (c *canvas) num(v float64)    { c.b.Write(appendPx(c.buf[:0], v)) }
func (c *canvas) raw(s string)     { c.b.WriteString(s) }
func (c *canvas) attrs(looks look) { c.b.WriteByte(' '); c.b.WriteString(string(looks)) }

func (c *canvas) attr(name string, v float64) {
	c.b.WriteByte(' ')
	c.b.WriteString(name)
	c.b.WriteString(`="`)
	c.num(v)
	c.b.WriteByte('"')
}

func (c *canvas) line(x1, y1, x2, y2 float64, l look) {
	c.raw("<path d=\"M")
	c.pair(x1, y1)
	c.raw("L")
	c.pair(x2, y2)
	c.raw(`"`)
	c.attrs(l)
	c.raw("/>")
}

func (c *canvas) pair(x, y float64) {
	c.num(x)
	c.b.WriteByte(' ')
	c.num(y)
}

// rect draws a box; r rounds its corners.
func (c *canvas) rect(bx box, r float64, l look) {
	c.raw("<rect")
	c.attr("x", bx.x0)
	c.attr("y", bx.y0)
	c.attr("width", math.Max(0, bx.x1-bx.x0))
	c.attr("height", math.Max(0, bx.y1-bx.y0))
	if r > 0 {
		c.attr("rx", r)
	}
	c.attrs(l)
	c.raw("/>")
}

func (c *canvas) circle(x, y, r float64, l look) {
	c.raw("<circle")
	c.attr("cx", x)
	c.attr("cy", y)
	c.attr("r", r)
	c.attrs(l)
	c.raw("/>")
}

// path draws polylines; closed ones make areas.
func (c *canvas) path(lines [][]point, closed bool, l look) {
	any := false
	for _, line := range lines {
		if len(line) < 2 {
			continue
		}
		if !any {
			c.raw(`<path d="`)
			any = true
		}
		c.raw("M")
		for i, p := range line {
			if i > 0 {
				c.raw(" ")
			}
			c.pair(p.x, p.y)
		}
		if closed {
			c.raw("z")
		}
	}
	if any {
		c.raw(`"`)
		c.attrs(l)
		c.raw("/>")
	}
}

// Where a text stands relative to its point.
const (
	start  = "start"
	middle = "middle"
	end    = "end"
)

// text writes s with its baseline at y.
func (c *canvas) text(x, y float64, anchor, s string, l look) {
	c.sized(x, y, anchor, s, fontSize, 0, l)
}

// small writes s in small type.
func (c *canvas) small(x, y float64, anchor, s string, l look) {
	c.sized(x, y, anchor, s, smallSize, 0, l)
}

// sized writes s in the size given, turned by deg about its point.
func (c *canvas) sized(x, y float64, anchor, s string, size, deg float64, l look) {
	if s == "" {
		return
	}
	c.raw("<text")
	c.attr("x", x)
	c.attr("y", y)
	if anchor != start {
		c.raw(` text-anchor="` + anchor + `"`)
	}
	if size != fontSize {
		c.attr("font-size", size)
	}
	if deg != 0 {
		c.raw(` transform="rotate(` + px(deg) + " ")
		c.pair(x, y)
		c.raw(`)"`)
	}
	c.attrs(l)
	c.raw(">")
	c.raw(escape(s))
	c.raw("</text>")
}

// wrapped writes s in lines of at most width px and returns the y below it.
func (c *canvas) wrapped(x, y, width float64, s string, size float64, l look) float64 {
	for _, line := range wrap(s, width, size) {
		c.sized(x, y, start, line, size, 0, l)
		y += math.Round(size * 1.4)
	}
	return y
}

// clip defines a clip path of a box and returns the attribute that uses it.
func (c *canvas) clip(name string, bx box) string {
	c.tail += `<clipPath id="` + c.id + "-" + name + `"><rect x="` + px(bx.x0) + `" y="` + px(bx.y0) +
		`" width="` + px(bx.x1-bx.x0) + `" height="` + px(bx.y1-bx.y0) + `"/></clipPath>`
	return ` clip-path="url(#` + c.id + "-" + name + `)"`
}

// hatch defines slanting lines and returns the look that fills with them. A
// light line beside each dark one keeps it visible on any ground.
func (c *canvas) hatch(name string) look {
	c.tail += `<pattern id="` + c.id + "-" + name + `" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">` +
		`<path d="M1 0V7" stroke="#15191e" stroke-width="1"/><path d="M2.2 0V7" stroke="#ffffff" stroke-width="0.8" stroke-opacity="0.7"/></pattern>`
	return look(`fill="url(#` + c.id + "-" + name + `)" fill-opacity="0.55"`)
}
