package taggedpdf

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"underlamp/draw/typeface"
)

// A Matrix maps (x, y) to (a·x + c·y + e, b·x + d·y + f), its six numbers in this
// order (ISO 32000-1, 8.3.3).
type Matrix [6]float64

// Identity leaves points where they are.
var Identity = Matrix{1, 0, 0, 1, 0, 0}

// Then is m followed by n.
func (m Matrix) Then(n Matrix) Matrix {
	return Matrix{
		m[0]*n[0] + m[1]*n[2], m[0]*n[1] + m[1]*n[3],
		m[2]*n[0] + m[3]*n[2], m[2]*n[1] + m[3]*n[3],
		m[4]*n[0] + m[5]*n[2] + n[4], m[4]*n[1] + m[5]*n[3] + n[5],
	}
}

// Apply maps a point.
func (m Matrix) Apply(x, y float64) (float64, float64) {
	return m[0]*x + m[2]*y + m[4], m[1]*x + m[3]*y + m[5]
}

// paint is what a canvas has set.
type paint struct {
	fill, stroke           RGB
	fillTile               int // number of a tile, 0 for none
	width                  float64
	dash                   string
	cap, join              int
	fillOpacity, lineAlpha float64
	at                     Matrix // from what is drawn to the page, y down
}

// A Canvas takes drawings, of a page or of a tile.
type Canvas struct {
	doc   *Document
	page  *Page // nil in a tile
	b     bytes.Buffer
	now   paint
	saved []paint
	in    *Content // what is marked now
	open  bool     // a sequence of marked content is open
}

func newCanvas(d *Document, p *Page) *Canvas {
	c := &Canvas{doc: d, page: p}
	c.now = paint{fill: RGB{A: 255}, stroke: RGB{A: 255}, width: 1, fillOpacity: 1, lineAlpha: 1, at: Identity}
	return c
}

// Empty says that nothing was drawn.
func (c *Canvas) Empty() bool { return c.b.Len() == 0 }

// num appends a number with a blank behind it, rounded to places.
func (c *Canvas) num(v float64, places int) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	v = min(max(v, -1e6), 1e6)
	var buf [32]byte
	s := strconv.AppendFloat(buf[:0], v, 'f', places, 64)
	if places > 0 {
		s = bytes.TrimRight(s, "0")
		s = bytes.TrimSuffix(s, []byte("."))
	}
	if string(s) == "-0" || len(s) == 0 {
		s = []byte("0")
	}
	c.b.Write(s)
	c.b.WriteByte(' ')
}

func (c *Canvas) nums(v ...float64) {
	for _, x := range v {
		c.num(x, 2)
	}
}

func (c *Canvas) op(s string) {
	c.b.WriteString(s)
	c.b.WriteByte('\n')
}

// Mark says what the drawings that follow belong to; nil makes them artifacts.
// It must not be called between Save and Restore with another content.
func (c *Canvas) Mark(m *Content) {
	if c.open && c.in == m {
		return
	}
	if c.page == nil {
		panic("taggedpdf: Canvas.Mark: a tile cannot be marked")
	}
	if len(c.saved) > 0 {
		panic("taggedpdf: Canvas.Mark: between Save and Restore")
	}
	c.end()
	if m == nil {
		c.op("/Artifact BMC")
	} else {
		id := len(c.page.marks)
		c.page.marks = append(c.page.marks, m.of)
		m.refs = append(m.refs, ref{c.page, id})
		c.b.WriteString("/" + m.of.Kind + " <</MCID ")
		c.num(float64(id), 0)
		c.op(">> BDC")
	}
	c.in, c.open = m, true
}

// Artifact marks what follows as an artifact of pages, such as "Footer" or
// "Header" (ISO 32000-1, 14.8.2.2).
func (c *Canvas) Artifact(subtype string) {
	c.end()
	c.op("/Artifact <</Type /Pagination /Subtype /" + subtype + ">> BDC")
	c.in, c.open = nil, true
}

func (c *Canvas) end() {
	if c.open {
		c.op("EMC")
		c.open, c.in = false, nil
	}
}

// marked sees that whatever is drawn is marked.
func (c *Canvas) marked() {
	if c.page != nil && !c.open {
		c.Mark(nil)
	}
}

// Save keeps transformation, clip and colours until Restore.
func (c *Canvas) Save() {
	c.marked()
	c.saved = append(c.saved, c.now)
	c.op("q")
}

// Restore goes back to what was when Save was called.
func (c *Canvas) Restore() {
	c.now = c.saved[len(c.saved)-1]
	c.saved = c.saved[:len(c.saved)-1]
	c.op("Q")
}

// Transform maps what is drawn from here on, within what was set.
func (c *Canvas) Transform(m Matrix) {
	if m == Identity {
		return
	}
	c.now.at = m.Then(c.now.at)
	for i, v := range m {
		if i < 4 {
			c.num(v, 5)
		} else {
			c.num(v, 3)
		}
	}
	c.op("cm")
}

// Fill sets the colour of areas and letters.
func (c *Canvas) Fill(v RGB) {
	c.marked()
	v.A = 255
	if c.now.fill == v && c.now.fillTile == 0 {
		return
	}
	c.now.fill, c.now.fillTile = v, 0
	c.colour(v, "g", "rg")
}

// Stroke sets the colour of lines.
func (c *Canvas) Stroke(v RGB) {
	c.marked()
	v.A = 255
	if c.now.stroke == v {
		return
	}
	c.now.stroke = v
	c.colour(v, "G", "RG")
}

func (c *Canvas) colour(v RGB, grey, rgb string) {
	c.num(float64(v.R)/255, 3)
	if v.R == v.G && v.G == v.B {
		c.op(grey)
		return
	}
	c.num(float64(v.G)/255, 3)
	c.num(float64(v.B)/255, 3)
	c.op(rgb)
}

// Line sets how lines are: width, dashes (none: solid), caps and joins as PDF
// counts them (0 butt or miter, 1 round, 2 square or bevel).
func (c *Canvas) Line(width float64, dash []float64, cap, join int) {
	c.marked()
	if width != c.now.width {
		c.now.width = width
		c.num(width, 3)
		c.op("w")
	}
	text := ""
	for _, v := range dash {
		text += strconv.FormatFloat(v, 'f', -1, 64) + " "
	}
	if text != c.now.dash {
		c.now.dash = text
		c.op("[" + text + "] 0 d")
	}
	if cap != c.now.cap {
		c.now.cap = cap
		c.num(float64(cap), 0)
		c.op("J")
	}
	if join != c.now.join {
		c.now.join = join
		c.num(float64(join), 0)
		c.op("j")
	}
}

// Opacity sets how much areas and lines cover, 0 to 1.
func (c *Canvas) Opacity(fill, stroke float64) {
	c.marked()
	if hundredths(fill) == hundredths(c.now.fillOpacity) && hundredths(stroke) == hundredths(c.now.lineAlpha) {
		return
	}
	c.now.fillOpacity, c.now.lineAlpha = fill, stroke
	c.op("/" + c.doc.state(fill, stroke) + " gs")
}

// MoveTo begins a contour.
func (c *Canvas) MoveTo(x, y float64) { c.marked(); c.nums(x, y); c.op("m") }

// LineTo draws a straight line.
func (c *Canvas) LineTo(x, y float64) { c.nums(x, y); c.op("l") }

// CurveTo draws a cubic Bézier curve.
func (c *Canvas) CurveTo(x1, y1, x2, y2, x, y float64) { c.nums(x1, y1, x2, y2, x, y); c.op("c") }

// Close closes a contour.
func (c *Canvas) Close() { c.op("h") }

// Rect adds a rectangle to the path.
func (c *Canvas) Rect(x, y, w, h float64) { c.marked(); c.nums(x, y, w, h); c.op("re") }

// How a path is painted.
type How int

// What Paint does with a path. EvenOdd may be added to those that fill.
const (
	Fills   How = 1
	Strokes How = 2
	EvenOdd How = 4
	Clips   How = 8
)

// Paint ends the path.
func (c *Canvas) Paint(how How) {
	star := ""
	if how&EvenOdd != 0 {
		star = "*"
	}
	if how&Clips != 0 {
		c.op("W" + star)
	}
	switch {
	case how&Fills != 0 && how&Strokes != 0:
		c.op("B" + star)
	case how&Fills != 0:
		c.op("f" + star)
	case how&Strokes != 0:
		c.op("S")
	default:
		c.op("n")
	}
}

// Text sets a line of text with its beginning at x on the base line y.
func (c *Canvas) Text(x, y, size float64, style typeface.Style, text string) {
	if text == "" {
		return
	}
	c.marked()
	c.op("BT")
	c.b.WriteString("1 0 0 -1 ")
	c.nums(x, y)
	c.op("Tm")
	var font *fontUse
	for _, r := range text {
		l := typeface.Of(style, r)
		if l.Missing {
			c.doc.missing[r] = true
		}
		f, g := c.doc.use(l.Face, l.Glyph, r)
		if f != font {
			if font != nil {
				c.op("> Tj")
			}
			font = f
			c.b.WriteString("/" + f.name + " ")
			c.num(size, 2)
			c.b.WriteString("Tf <")
		}
		fmt.Fprintf(&c.b, "%04X", g)
	}
	c.op("> Tj")
	c.op("ET")
}

// Outline adds the outlines of a text to the path, as Text would set it: for a rim
// about letters that is no text itself. Letters that cannot be drawn are left out.
func (c *Canvas) Outline(x, y, size float64, style typeface.Style, text string) {
	c.marked()
	k := size / typeface.UnitsPerEm
	for _, r := range text {
		l := typeface.Of(style, r)
		segs, _ := l.Face.Outline(l.Glyph)
		var px, py float64
		for i, s := range segs {
			x1, y1 := x+k*s.At[0][0], y-k*s.At[0][1]
			switch s.Op {
			case 'M':
				if i > 0 {
					c.Close()
				}
				c.MoveTo(x1, y1)
			case 'L':
				c.LineTo(x1, y1)
			case 'Q':
				x2, y2 := x+k*s.At[1][0], y-k*s.At[1][1]
				c.CurveTo(px+(x1-px)*2/3, py+(y1-py)*2/3, x2+(x1-x2)*2/3, y2+(y1-y2)*2/3, x2, y2)
				x1, y1 = x2, y2
			}
			px, py = x1, y1
		}
		if len(segs) > 0 {
			c.Close()
		}
		x += k * float64(l.Advance)
	}
}

// Picture sets an image into a box.
func (c *Canvas) Picture(im *Image, x, y, w, h float64) {
	c.Save()
	c.Transform(Matrix{w, 0, 0, -h, x, y + h})
	c.op("/" + im.name + " Do")
	c.Restore()
}

// A tile is a small drawing that fills areas again and again (ISO 32000-1, 8.7.3).
type tile struct {
	w, h float64
	at   Matrix
	c    *Canvas
	num  int
}

// FillTile fills with a tile of the size given, drawn by draw, whose own place is
// set by the matrix at within what is drawn now.
func (c *Canvas) FillTile(w, h float64, at Matrix, draw func(*Canvas)) {
	c.marked()
	t := &tile{w: w, h: h, c: newCanvas(c.doc, nil)}
	t.at = at.Then(c.now.at)
	if c.page != nil {
		t.at = t.at.Then(Matrix{1, 0, 0, -1, 0, c.page.Height})
	}
	draw(t.c)
	c.doc.tiles = append(c.doc.tiles, t)
	c.now.fillTile = len(c.doc.tiles)
	c.op("/Pattern cs /P" + strconv.Itoa(len(c.doc.tiles)) + " scn")
}
