package pdf

import (
	"encoding/base64"
	"math"
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"underlamp/formats/taggedpdf"
)

// pixel is the size of a px of a picture in points, where it has room: text of 13 px
// comes out in 8.5 points.
const pixel = 0.655

// smallest is how small a figure may be set so that it still goes on a page, in parts
// of its size.
const smallest = 0.8

// mostHigh is how high a figure may be, in heights of what a page holds: a heading
// and a caption stand above it.
const mostHigh = 0.82

func (b *builder) body() float64 { return b.o.Paper.Height - topMargin - bottomMargin }

// A drawing is an SVG that was read.
type drawing struct {
	node           *html.Node
	x0, y0, w, h   float64
	title, details string
	ids            map[string]*html.Node
}

// drawingOf reads the outside of an SVG; nil if it has no size.
func drawingOf(n *html.Node) *drawing {
	d := &drawing{node: n, ids: map[string]*html.Node{}}
	box := floats(attr(n, "viewBox"))
	if len(box) == 4 {
		d.x0, d.y0, d.w, d.h = box[0], box[1], box[2], box[3]
	} else {
		d.w, d.h = length(attr(n, "width"), 0), length(attr(n, "height"), 0)
	}
	if !(d.w > 0 && d.h > 0 && d.w < 1e5 && d.h < 1e5) {
		return nil
	}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			if c.Type != html.ElementNode {
				continue
			}
			if id := attr(c, "id"); id != "" {
				d.ids[id] = c
			}
			switch c.Data {
			case "title":
				if d.title == "" {
					d.title = plain(c)
				}
			case "desc":
				if d.details == "" {
					d.details = plain(c)
				}
			}
			walk(c)
		}
	}
	walk(n)
	if d.title == "" {
		d.title = attr(n, "aria-label")
	}
	return d
}

// says is what the picture shows, in words.
func (d *drawing) says() string {
	switch {
	case d.title != "" && d.details != "":
		return strings.TrimRight(d.title, ". ") + ". " + d.details
	case d.title != "":
		return d.title
	case d.details != "":
		return d.details
	}
	return "A picture without a description."
}

// paint draws it with its upper left corner at (x, y), k points a px.
func (d *drawing) paint(p *taggedpdf.Page, c *taggedpdf.Content, x, y, k float64) {
	p.Over.Mark(c)
	p.Over.Save()
	p.Over.Transform(taggedpdf.Matrix{k, 0, 0, k, x - k*d.x0, y - k*d.y0})
	p.Over.Rect(d.x0, d.y0, d.w, d.h)
	p.Over.Paint(taggedpdf.Clips)
	r := &painter{c: p.Over, ids: d.ids, left: mostShapes}
	r.children(d.node, firstLook(d.node))
	p.Over.Restore()
}

// figure sets an SVG as a figure of its own.
func (b *builder) figure(n *html.Node, at place) {
	d := drawingOf(n)
	if d == nil || attr(n, "aria-hidden") == "true" && d.w < 2 {
		return
	}
	high := mostHigh * b.body()
	if at.short {
		high = min(high, 118*mm) // as report.css has it
	}
	k := min(pixel, at.w/d.w, high/d.h)
	e := at.in.Add("Figure")
	e.Alt = d.says()
	c := e.Content()
	b.space(6)
	it := &item{height: k * d.h, least: smallest * k * d.h}
	it.draw = func(p *taggedpdf.Page, y float64) {
		x, k := sideMargin+at.x, it.height/d.h
		d.paint(p, c, x, y, k)
		e.Place(p, x, y, x+k*d.w, y+k*d.h)
	}
	b.emit(it, at)
	b.space(6)
}

// picture is an SVG within a line, about as high as its text.
func (b *builder) picture(n *html.Node, in *taggedpdf.Element, high, most float64) *atom {
	d := drawingOf(n)
	if d == nil {
		return nil
	}
	k := min(pixel, most/d.w, 0.5*b.body()/d.h)
	if d.h <= 40 && k*d.h > 2*high {
		k = 2 * high / d.h
	}
	e := in.Add("Figure")
	e.Alt = d.says()
	c := e.Content()
	return &atom{w: k * d.w, h: k * d.h, low: min(0.2*high, k*d.h), draw: func(p *taggedpdf.Page, x, y float64) {
		d.paint(p, c, x, y, k)
		e.Place(p, x, y, x+k*d.w, y+k*d.h)
	}}
}

// dataOf is the content of a data URI of a picture.
func dataOf(uri string) []byte {
	head, body, ok := strings.Cut(uri, ",")
	if !ok || !strings.HasPrefix(head, "data:image/") || !strings.HasSuffix(head, ";base64") {
		return nil
	}
	data, err := base64.StdEncoding.DecodeString(strings.Join(strings.Fields(body), ""))
	if err != nil {
		return nil
	}
	return data
}

// image is a picture of pixels, scaled to what there is room for; nil if it cannot
// be set. high bounds its height; 0: as a figure.
func (b *builder) image(n *html.Node, in *taggedpdf.Element, most, high float64) *atom {
	alt := attr(n, "alt")
	data := dataOf(attr(n, "src"))
	if data == nil {
		b.lose("A picture (%s) is not part of the report itself, and is left out.", or(alt, "without a description"))
		return nil
	}
	im, err := b.doc.Image(data)
	if err != nil {
		b.lose("A picture (%s) is left out: %v.", or(alt, "without a description"), err)
		return nil
	}
	w := length(attr(n, "width"), float64(im.Width))
	w = min(w, float64(im.Width)*2) * 0.75
	h := w * float64(im.Height) / float64(im.Width)
	if high == 0 {
		high = mostHigh * b.body()
	}
	if k := min(1, most/w, high/h); k < 1 {
		w, h = k*w, k*h
	}
	e := in.Add("Figure")
	e.Alt = or(alt, "A picture without a description.")
	c := e.Content()
	return &atom{w: w, h: h, draw: func(p *taggedpdf.Page, x, y float64) {
		p.Over.Mark(c)
		p.Over.Picture(im, x, y, w, h)
		e.Place(p, x, y, x+w, y+h)
	}}
}

// photo sets a picture of pixels as a figure of its own.
func (b *builder) photo(n *html.Node, at place) {
	a := b.image(n, at.in, at.w, 0)
	if a == nil {
		if alt := attr(n, "alt"); alt != "" {
			s := at.style
			s.face.Italic = true
			b.paragraph([]run{{text: "[" + alt + "]", style: s, content: at.in.Add("P").Content()}}, at, false)
		}
		return
	}
	b.space(4)
	b.emit(&item{height: a.h, draw: func(p *taggedpdf.Page, y float64) { a.draw(p, sideMargin+at.x, y) }}, at)
	b.space(6)
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// floats reads numbers parted by blanks or commas, as SVG writes them; what is none
// ends them.
func floats(s string) []float64 {
	var out []float64
	for s != "" && len(out) < 1<<20 {
		s = strings.TrimLeft(s, " ,\n\t\r")
		n := numberLength(s)
		if n == 0 {
			break
		}
		v, err := strconv.ParseFloat(s[:n], 64)
		if err != nil || math.IsInf(v, 0) {
			break
		}
		out = append(out, v)
		s = s[n:]
	}
	return out
}

// numberLength is how many bytes of s are a number.
func numberLength(s string) int {
	i, digits, point := 0, 0, false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for i < len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.' && !point:
			point = true
		case (c == 'e' || c == 'E') && digits > 0:
			j := i + 1
			if j < len(s) && (s[j] == '+' || s[j] == '-') {
				j++
			}
			k := j
			for k < len(s) && s[k] >= '0' && s[k] <= '9' {
				k++
			}
			if k > j {
				return k
			}
			return i
		default:
			if digits == 0 {
				return 0
			}
			return i
		}
		i++
	}
	if digits == 0 {
		return 0
	}
	return i
}

// length reads a length in px; other if it is none.
func length(s string, other float64) float64 {
	s = strings.TrimSuffix(strings.TrimSpace(s), "px")
	if v, err := strconv.ParseFloat(s, 64); err == nil && !math.IsNaN(v) && !math.IsInf(v, 0) {
		return v
	}
	return other
}
