package pdf

import (
	"math"
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"underlamp/draw/typeface"
	"underlamp/formats/taggedpdf"
)

// mostShapes is how many shapes a picture may have; what is over is left out.
const mostShapes = 400_000

// A look is what shapes inherit.
type look struct {
	fill, stroke                      string
	width                             float64
	dash                              []float64
	cap, join                         int
	fillOpacity, lineOpacity, opacity float64
	evenOdd                           bool
	size                              float64
	bold, italic                      bool
	anchor                            string
	colour                            string // of currentColor
}

// firstLook is that of the element svg itself.
func firstLook(n *html.Node) look {
	return look{fill: "#000000", stroke: "none", width: 1, fillOpacity: 1, lineOpacity: 1, opacity: 1, size: 16, anchor: "start", colour: "#1b2430"}.of(n)
}

// of is the look of an element within.
func (l look) of(n *html.Node) look {
	for _, a := range n.Attr {
		v := strings.TrimSpace(a.Val)
		switch a.Key {
		case "fill":
			l.fill = v
		case "stroke":
			l.stroke = v
		case "color":
			l.colour = v
		case "stroke-width":
			l.width = max(0, length(v, l.width))
		case "stroke-dasharray":
			l.dash = nil
			if v != "none" {
				sum := 0.0
				for _, x := range floats(v) {
					l.dash = append(l.dash, max(0, x))
					sum += max(0, x)
				}
				if sum == 0 || len(l.dash) > 20 {
					l.dash = nil
				}
			}
		case "stroke-linecap":
			l.cap = map[string]int{"round": 1, "square": 2}[v]
		case "stroke-linejoin":
			l.join = map[string]int{"round": 1, "bevel": 2}[v]
		case "fill-opacity":
			l.fillOpacity = share(v, l.fillOpacity)
		case "stroke-opacity":
			l.lineOpacity = share(v, l.lineOpacity)
		case "opacity":
			l.opacity *= share(v, 1)
		case "fill-rule":
			l.evenOdd = v == "evenodd"
		case "font-size":
			l.size = length(v, l.size)
		case "font-weight":
			w, err := strconv.Atoi(v)
			l.bold = v == "bold" || err == nil && w >= 600
		case "font-style":
			l.italic = v == "italic" || v == "oblique"
		case "text-anchor":
			l.anchor = v
		}
	}
	return l
}

func share(s string, other float64) float64 {
	if p, ok := strings.CutSuffix(s, "%"); ok {
		return min(1, max(0, length(p, 100*other)/100))
	}
	return min(1, max(0, length(s, other)))
}

var named = map[string]string{"black": "#000000", "white": "#ffffff", "red": "#ff0000", "green": "#008000", "blue": "#0000ff", "gray": "#808080", "grey": "#808080", "silver": "#c0c0c0", "orange": "#ffa500", "yellow": "#ffff00"}

// colourOf reads a colour; not ok for none, and for what is no colour.
func colourOf(s string, l look) (c taggedpdf.RGB, ok bool) {
	if s == "currentColor" {
		s = l.colour
	}
	if h, known := named[s]; known {
		s = h
	}
	c.A = 255
	if strings.HasPrefix(s, "rgb(") && strings.HasSuffix(s, ")") {
		v := floats(s[4 : len(s)-1])
		if len(v) != 3 {
			return c, false
		}
		b := func(v float64) uint8 { return uint8(min(255, max(0, v))) }
		return taggedpdf.RGB{R: b(v[0]), G: b(v[1]), B: b(v[2]), A: 255}, true
	}
	if len(s) == 4 && s[0] == '#' {
		s = "#" + s[1:2] + s[1:2] + s[2:3] + s[2:3] + s[3:4] + s[3:4]
	}
	if len(s) != 7 || s[0] != '#' {
		return c, false
	}
	v, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return c, false
	}
	return taggedpdf.RGB{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}, true
}

// A painter draws an SVG on a canvas.
type painter struct {
	c      *taggedpdf.Canvas
	ids    map[string]*html.Node
	left   int // shapes that may still be drawn
	inTile bool
}

func (r *painter) children(n *html.Node, l look) {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode {
			r.element(c, l)
		}
	}
}

func (r *painter) element(n *html.Node, l look) {
	if r.left--; r.left < 0 {
		return
	}
	l = l.of(n)
	saved := false
	save := func() {
		if !saved {
			r.c.Save()
			saved = true
		}
	}
	if id := reference(attr(n, "clip-path")); id != "" && r.ids[id] != nil {
		save()
		any := false
		for c := r.ids[id].FirstChild; c != nil; c = c.NextSibling {
			if c.Type == html.ElementNode {
				any = r.shape(c) || any
			}
		}
		if !any {
			r.c.Rect(0, 0, 0, 0)
		}
		r.c.Paint(taggedpdf.Clips)
	}
	if t := attr(n, "transform"); t != "" {
		save()
		r.c.Transform(transform(t))
	}
	switch n.Data {
	case "g", "a", "svg", "switch":
		r.children(n, l)
	case "text":
		r.text(n, l)
	case "path", "rect", "circle", "ellipse", "line", "polyline", "polygon":
		r.paint(n, l)
	}
	if saved {
		r.c.Restore()
	}
}

// reference is the id in url(#id).
func reference(s string) string {
	if rest, ok := strings.CutPrefix(s, "url(#"); ok {
		return strings.TrimSuffix(rest, ")")
	}
	return ""
}

// transform reads a list of transformations.
func transform(s string) taggedpdf.Matrix {
	m := taggedpdf.Identity
	for range 50 {
		name, rest, ok := strings.Cut(strings.TrimLeft(s, " ,\n\t"), "(")
		if !ok {
			break
		}
		args, rest, ok := strings.Cut(rest, ")")
		if !ok {
			break
		}
		s = rest
		v := floats(args)
		get := func(i int, other float64) float64 {
			if i < len(v) {
				return v[i]
			}
			return other
		}
		var t taggedpdf.Matrix
		switch strings.TrimSpace(name) {
		case "translate":
			t = taggedpdf.Matrix{1, 0, 0, 1, get(0, 0), get(1, 0)}
		case "scale":
			t = taggedpdf.Matrix{get(0, 1), 0, 0, get(1, get(0, 1)), 0, 0}
		case "rotate":
			sin, cos := math.Sincos(get(0, 0) * math.Pi / 180)
			x, y := get(1, 0), get(2, 0)
			t = taggedpdf.Matrix{cos, sin, -sin, cos, x - cos*x + sin*y, y - sin*x - cos*y}
		case "matrix":
			if len(v) != 6 {
				continue
			}
			t = taggedpdf.Matrix(v)
		default:
			continue
		}
		m = t.Then(m)
	}
	return m
}

// paint draws a shape.
func (r *painter) paint(n *html.Node, l look) {
	var how taggedpdf.How
	if id := reference(l.fill); id != "" && r.ids[id] != nil && r.ids[id].Data == "pattern" && !r.inTile {
		p := r.ids[id]
		w, h := length(attr(p, "width"), 0), length(attr(p, "height"), 0)
		if w > 0.1 && h > 0.1 {
			at := taggedpdf.Matrix{1, 0, 0, 1, length(attr(p, "x"), 0), length(attr(p, "y"), 0)}.Then(transform(attr(p, "patternTransform")))
			opacity := l.opacity * l.fillOpacity
			r.c.FillTile(w, h, at, func(c *taggedpdf.Canvas) {
				in := &painter{c: c, ids: r.ids, left: 1000, inTile: true}
				first := firstLook(p)
				first.opacity = opacity
				in.children(p, first)
			})
			l.fillOpacity = 1
			how |= taggedpdf.Fills
		}
	} else if c, ok := colourOf(l.fill, l); ok && n.Data != "line" {
		r.c.Fill(c)
		how |= taggedpdf.Fills
	}
	if c, ok := colourOf(l.stroke, l); ok && l.width > 0 {
		r.c.Stroke(c)
		r.c.Line(l.width, l.dash, l.cap, l.join)
		how |= taggedpdf.Strokes
	}
	if how == 0 {
		return
	}
	r.c.Opacity(l.opacity*l.fillOpacity, l.opacity*l.lineOpacity)
	if l.evenOdd {
		how |= taggedpdf.EvenOdd
	}
	if r.shape(n) {
		r.c.Paint(how)
	}
}

// shape adds the outline of a shape to the path, and says whether there is one.
func (r *painter) shape(n *html.Node) bool {
	v := func(name string) float64 { return length(attr(n, name), 0) }
	switch n.Data {
	case "rect":
		x, y, w, h := v("x"), v("y"), v("width"), v("height")
		if w <= 0 || h <= 0 {
			return false
		}
		rx := min(max(v("rx"), v("ry")), w/2, h/2)
		if rx <= 0 {
			r.c.Rect(x, y, w, h)
			return true
		}
		k := rx * (1 - kappa)
		r.c.MoveTo(x+rx, y)
		r.c.LineTo(x+w-rx, y)
		r.c.CurveTo(x+w-k, y, x+w, y+k, x+w, y+rx)
		r.c.LineTo(x+w, y+h-rx)
		r.c.CurveTo(x+w, y+h-k, x+w-k, y+h, x+w-rx, y+h)
		r.c.LineTo(x+rx, y+h)
		r.c.CurveTo(x+k, y+h, x, y+h-k, x, y+h-rx)
		r.c.LineTo(x, y+rx)
		r.c.CurveTo(x, y+k, x+k, y, x+rx, y)
		r.c.Close()
		return true
	case "circle", "ellipse":
		x, y, rx, ry := v("cx"), v("cy"), v("rx"), v("ry")
		if n.Data == "circle" {
			rx, ry = v("r"), v("r")
		}
		if rx <= 0 || ry <= 0 {
			return false
		}
		kx, ky := kappa*rx, kappa*ry
		r.c.MoveTo(x+rx, y)
		r.c.CurveTo(x+rx, y+ky, x+kx, y+ry, x, y+ry)
		r.c.CurveTo(x-kx, y+ry, x-rx, y+ky, x-rx, y)
		r.c.CurveTo(x-rx, y-ky, x-kx, y-ry, x, y-ry)
		r.c.CurveTo(x+kx, y-ry, x+rx, y-ky, x+rx, y)
		r.c.Close()
		return true
	case "line":
		r.c.MoveTo(v("x1"), v("y1"))
		r.c.LineTo(v("x2"), v("y2"))
		return true
	case "polyline", "polygon":
		p := floats(attr(n, "points"))
		if len(p) < 4 {
			return false
		}
		r.c.MoveTo(p[0], p[1])
		for i := 2; i+1 < len(p); i += 2 {
			r.c.LineTo(p[i], p[i+1])
		}
		if n.Data == "polygon" {
			r.c.Close()
		}
		return true
	case "path":
		return path(r.c, attr(n, "d"))
	}
	return false
}

// kappa makes a quarter of a circle of a cubic curve, to 0.03 % of the radius:
// 4/3·(√2 − 1).
const kappa = 0.5522847498

// text sets a line of text, and the pieces within it that have places of their own.
func (r *painter) text(n *html.Node, l look) {
	x, y := length(attr(n, "x"), 0), length(attr(n, "y"), 0)+length(attr(n, "dy"), 0)
	type part struct {
		text string
		l    look
		w    float64
	}
	var parts []part
	set := func() {
		total := 0.0
		for i := range parts {
			p := &parts[i]
			p.w = float64(typeface.Width(p.l.style(), p.text)) * p.l.size / typeface.UnitsPerEm
			total += p.w
		}
		at := x
		switch l.anchor {
		case "middle":
			at -= total / 2
		case "end":
			at -= total
		}
		base := y
		switch attr(n, "dominant-baseline") {
		case "middle", "central":
			base += 0.35 * l.size
		case "hanging", "text-before-edge":
			base += 0.75 * l.size
		}
		for _, p := range parts {
			if c, ok := colourOf(p.l.stroke, p.l); ok && p.l.width > 0 {
				r.c.Stroke(c)
				r.c.Line(p.l.width, nil, 1, p.l.join)
				r.c.Opacity(p.l.opacity*p.l.fillOpacity, p.l.opacity*p.l.lineOpacity)
				r.c.Outline(at, base, p.l.size, p.l.style(), p.text)
				r.c.Paint(taggedpdf.Strokes)
			}
			if c, ok := colourOf(p.l.fill, p.l); ok {
				r.c.Fill(c)
				r.c.Opacity(p.l.opacity*p.l.fillOpacity, p.l.opacity*p.l.lineOpacity)
				r.c.Text(at, base, p.l.size, p.l.style(), p.text)
			}
			at += p.w
		}
		x = at
		parts = nil
	}
	var walk func(*html.Node, look)
	walk = func(n *html.Node, l look) {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			switch {
			case c.Type == html.TextNode:
				if t := strings.Join(strings.FieldsFunc(" "+c.Data+" ", blank), " "); t != "" {
					if blank(rune(c.Data[0])) && len(parts) > 0 {
						t = " " + t
					}
					if c.NextSibling != nil && blank(rune(c.Data[len(c.Data)-1])) {
						t += " "
					}
					parts = append(parts, part{text: t, l: l})
				}
			case c.Type == html.ElementNode && c.Data == "tspan":
				if attr(c, "x") != "" || attr(c, "y") != "" || attr(c, "dy") != "" {
					set()
					x, y = length(attr(c, "x"), x), length(attr(c, "y"), y)+length(attr(c, "dy"), 0)
				}
				walk(c, l.of(c))
			}
		}
	}
	walk(n, l)
	set()
}

func (l look) style() typeface.Style { return typeface.Style{Bold: l.bold, Italic: l.italic} }

// path adds the data of an element path to the path of a canvas (SVG 1.1, 8.3), as
// far as it can be read, and says whether anything was added.
func path(c *taggedpdf.Canvas, d string) bool {
	var x, y, sx, sy, cx, cy float64 // point, begin of the contour, last control point
	any := false
	last := byte(0)
	for d != "" {
		d = strings.TrimLeft(d, " ,\n\t\r")
		if d == "" {
			break
		}
		op := d[0]
		if op|32 < 'a' || op|32 > 'z' {
			if last == 0 || last|32 == 'z' {
				return any
			}
			op = last
			if op == 'M' {
				op = 'L'
			} else if op == 'm' {
				op = 'l'
			}
		} else {
			d = d[1:]
		}
		count, ok := map[byte]int{'m': 2, 'l': 2, 'h': 1, 'v': 1, 'c': 6, 's': 4, 'q': 4, 't': 2, 'a': 7, 'z': 0}[op|32]
		if !ok || !any && op|32 != 'm' {
			return any
		}
		var v [7]float64
		for i := range count {
			d = strings.TrimLeft(d, " ,\n\t\r")
			n := numberLength(d)
			if op|32 == 'a' && (i == 3 || i == 4) && d != "" { // flags may stand without blanks
				n = 1
			}
			f, err := strconv.ParseFloat(d[:n], 64)
			if err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
				return any
			}
			v[i], d = f, d[n:]
		}
		relative := op >= 'a'
		dx, dy := 0.0, 0.0
		if relative {
			dx, dy = x, y
		}
		px, py := x, y
		switch op | 32 {
		case 'm':
			x, y = v[0]+dx, v[1]+dy
			sx, sy = x, y
			c.MoveTo(x, y)
			any = true
		case 'l':
			x, y = v[0]+dx, v[1]+dy
			c.LineTo(x, y)
		case 'h':
			x = v[0] + dx
			c.LineTo(x, y)
		case 'v':
			y = v[0] + dy
			c.LineTo(x, y)
		case 'c':
			x, y = v[4]+dx, v[5]+dy
			cx, cy = v[2]+dx, v[3]+dy
			c.CurveTo(v[0]+dx, v[1]+dy, cx, cy, x, y)
		case 's':
			ax, ay := px, py
			if last|32 == 'c' || last|32 == 's' {
				ax, ay = 2*px-cx, 2*py-cy
			}
			x, y = v[2]+dx, v[3]+dy
			cx, cy = v[0]+dx, v[1]+dy
			c.CurveTo(ax, ay, cx, cy, x, y)
		case 'q', 't':
			if op|32 == 'q' {
				cx, cy = v[0]+dx, v[1]+dy
				x, y = v[2]+dx, v[3]+dy
			} else {
				if last|32 == 'q' || last|32 == 't' {
					cx, cy = 2*px-cx, 2*py-cy
				} else {
					cx, cy = px, py
				}
				x, y = v[0]+dx, v[1]+dy
			}
			c.CurveTo(px+(cx-px)*2/3, py+(cy-py)*2/3, x+(cx-x)*2/3, y+(cy-y)*2/3, x, y)
		case 'a':
			x, y = v[5]+dx, v[6]+dy
			arc(c, px, py, v[0], v[1], v[2], v[3] != 0, v[4] != 0, x, y)
		case 'z':
			c.Close()
			x, y = sx, sy
		}
		last = op
	}
	return any
}

// arc draws a part of an ellipse from one point to another (SVG 1.1, appendix F.6).
func arc(c *taggedpdf.Canvas, x1, y1, rx, ry, turn float64, large, sweep bool, x2, y2 float64) {
	rx, ry = math.Abs(rx), math.Abs(ry)
	if rx == 0 || ry == 0 || x1 == x2 && y1 == y2 {
		c.LineTo(x2, y2)
		return
	}
	sin, cos := math.Sincos(turn * math.Pi / 180)
	hx, hy := (x1-x2)/2, (y1-y2)/2
	px, py := cos*hx+sin*hy, -sin*hx+cos*hy
	if s := px*px/(rx*rx) + py*py/(ry*ry); s > 1 {
		rx, ry = rx*math.Sqrt(s), ry*math.Sqrt(s)
	}
	den := rx*rx*py*py + ry*ry*px*px
	k := math.Sqrt(max(0, (rx*rx*ry*ry-den)/den))
	if large == sweep {
		k = -k
	}
	qx, qy := k*rx*py/ry, -k*ry*px/rx
	mx, my := cos*qx-sin*qy+(x1+x2)/2, sin*qx+cos*qy+(y1+y2)/2
	a1 := math.Atan2((py-qy)/ry, (px-qx)/rx)
	a2 := math.Atan2((-py-qy)/ry, (-px-qx)/rx)
	d := a2 - a1
	if sweep && d < 0 {
		d += 2 * math.Pi
	} else if !sweep && d > 0 {
		d -= 2 * math.Pi
	}
	n := int(math.Ceil(math.Abs(d)/(math.Pi/2) - 1e-9))
	n = min(max(n, 1), 4)
	step := d / float64(n)
	t := 4.0 / 3 * math.Tan(step/4)
	at := func(ux, uy float64) (float64, float64) {
		return mx + cos*rx*ux - sin*ry*uy, my + sin*rx*ux + cos*ry*uy
	}
	for i := range n {
		s1, c1 := math.Sincos(a1 + float64(i)*step)
		s2, c2 := math.Sincos(a1 + float64(i+1)*step)
		ax, ay := at(c1-t*s1, s1+t*c1)
		bx, by := at(c2+t*s2, s2-t*c2)
		ex, ey := at(c2, s2)
		if i == n-1 {
			ex, ey = x2, y2
		}
		c.CurveTo(ax, ay, bx, by, ex, ey)
	}
}
