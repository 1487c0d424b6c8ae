package pdf

import (
	"strings"

	"golang.org/x/net/html"

	"underlamp/draw/typeface"
	"underlamp/formats/taggedpdf"
)

// A run is text of one style that belongs to one place of the tree.
type run struct {
	text    string
	style   style
	content *taggedpdf.Content
	link    *target
	atom    *atom   // something drawn in the line instead of text
	end     bool    // the line ends here
	gap     float64 // room under the line that ends
}

// A target is where a link leads.
type target struct {
	to, says string
	element  *taggedpdf.Element
}

// An atom is a small drawing within a line.
type atom struct {
	w, h float64 // it stands on the base line, but for low
	low  float64 // how far it goes below
	draw func(p *taggedpdf.Page, x, y float64)
}

// A piece is a part of a run within a line.
type piece struct {
	run  *run
	text string
	w    float64
}

// A line is one of a paragraph.
type line struct {
	pieces  []piece
	w       float64
	height  float64
	base    float64 // of the base line, from the top
	wrapped bool    // goes on in the next line with a blank between
}

func width(s style, text string) float64 {
	return float64(typeface.Width(s.face, text)) * s.size / typeface.UnitsPerEm
}

// runs gathers what a line of text holds from the children of n. Blocks within it
// end the line. e is the element that the text belongs to.
func (b *builder) runs(n *html.Node, s style, e *taggedpdf.Element, link *target, out []run) []run {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		out = b.inline(c, s, e, link, out)
	}
	return out
}

// inline gathers a node.
func (b *builder) inline(c *html.Node, s style, e *taggedpdf.Element, link *target, out []run) []run {
	switch {
	case c.Type == html.TextNode:
		if c.Data == "" {
			return out
		}
		if n := len(out); n > 0 && out[n-1].content != nil && out[n-1].style == s && out[n-1].link == link && out[n-1].atom == nil && !out[n-1].end && b.last == e {
			out[n-1].text += c.Data
			return out
		}
		b.last = e
		return append(out, run{text: c.Data, style: s, link: link, content: e.Content()})
	case c.Type != html.ElementNode || hidden(c):
		return out
	}
	if id := attr(c, "id"); id != "" && c.Namespace == "" {
		b.anchors = append(b.anchors, id)
	}
	b.last = nil
	switch {
	case c.Namespace == "svg" || c.Data == "svg":
		if fig := b.picture(c, e, s.size*1.2, b.width); fig != nil {
			return append(out, run{atom: fig, style: s})
		}
		return out
	case c.Data == "br":
		return append(out, run{end: true, style: s})
	case c.Data == "img":
		if fig := b.image(c, e, b.width, 0); fig != nil {
			return append(out, run{atom: fig, style: s})
		}
		return append(out, run{text: attr(c, "alt"), style: styledAs(s, true), content: e.Content()})
	case c.Data == "span" && class(c, "box"):
		return append(out, run{atom: checkBox(s), style: s})
	case c.Data == "a" && attr(c, "href") != "":
		l := &target{to: attr(c, "href"), says: plain(c), element: e.Add("Link")}
		if !leads(l.to) {
			return b.runs(c, s, e, link, out)
		}
		s.colour = accent
		out = b.runs(c, styled(c, s), l.element, l, out)
		b.last = nil
		return out
	}
	inner := e
	switch c.Data {
	case "ul", "ol":
		inner = e.Add("L")
		inner.Numbered = "Disc"
	case "li":
		li := e.Add("LI")
		if n := len(out); n > 0 && !out[n-1].end {
			out = append(out, run{end: true, style: s})
		}
		out = append(out, run{text: "•\u00a0", style: s, content: li.Add("Lbl").Content()})
		inner = li.Add("LBody")
	}
	if l := attr(c, "lang"); l != "" {
		inner = e.Add("Span")
		inner.Language = l
	}
	broken := blocks[c.Data] || class(c, "band") || class(c, "asks")
	if broken && c.Data != "li" && len(out) > 0 && !out[len(out)-1].end {
		out = append(out, run{end: true, style: s})
	}
	before := len(out)
	out = b.runs(c, styled(c, s), inner, link, out)
	if broken && len(out) > before && !out[len(out)-1].end && c.NextSibling != nil {
		after := run{end: true, style: s}
		if c.Data == "p" {
			after.gap = 0.3 * s.size
		}
		out = append(out, after)
	}
	b.last = nil
	return out
}

func styledAs(s style, italic bool) style {
	s.face.Italic = italic
	return s
}

// leads says that a link is one that paper may have.
func leads(to string) bool {
	for _, p := range []string{"#", "https://", "http://", "mailto:", "doi:"} {
		if strings.HasPrefix(to, p) && len(to) > len(p) {
			return true
		}
	}
	return false
}

// empty says that nothing would be seen of runs.
func empty(runs []run) bool {
	for _, r := range runs {
		if r.atom != nil || strings.TrimFunc(r.text, blank) != "" {
			return false
		}
	}
	return true
}

// A word is what stands between blanks.
type word struct {
	pieces []piece
	w      float64
	space  *piece  // before it
	end    bool    // the line ends before it
	gap    float64 // room under the line before
}

// words cuts runs at blanks.
func words(runs []run) []word {
	var out []word
	var now word
	var space *piece
	begun := false
	finish := func() {
		if begun {
			out = append(out, now)
		}
		now, begun = word{}, false
	}
	put := func(p piece) {
		if !begun {
			now.space, space, begun = space, nil, true
		}
		now.pieces = append(now.pieces, p)
		now.w += p.w
	}
	ends, gap := false, 0.0
	for i := range runs {
		r := &runs[i]
		switch {
		case r.end:
			finish()
			if ends { // an empty line
				out = append(out, word{end: true})
			}
			ends, space, gap = true, nil, max(gap, r.gap)
			continue
		case r.atom != nil:
			put(piece{run: r, w: r.atom.w})
		default:
			text := r.text
			for text != "" {
				if r.style.pre {
					cut := strings.IndexByte(text, '\n')
					if cut < 0 {
						cut = len(text)
					}
					if part := strings.ReplaceAll(text[:cut], "\t", "    "); part != "" {
						put(piece{run: r, text: part, w: width(r.style, part)})
					}
					if cut == len(text) {
						break
					}
					finish()
					ends, space = true, nil
					text = text[cut+1:]
				} else if i := strings.IndexFunc(text, blank); i == 0 {
					finish()
					if space == nil && (len(out) > 0 && !ends) {
						space = &piece{run: r, text: " ", w: width(r.style, " ")}
					}
					text = strings.TrimLeftFunc(text, blank)
					continue
				} else {
					if i < 0 {
						i = len(text)
					}
					put(piece{run: r, text: text[:i], w: width(r.style, text[:i])})
					text = text[i:]
				}
				if begun && ends {
					now.end, now.space, now.gap, ends, gap = len(out) > 0, nil, gap, false, 0
				}
			}
		}
		if begun && ends {
			now.end, now.space, now.gap, ends, gap = len(out) > 0, nil, gap, false, 0
		}
	}
	finish()
	return out
}

// lines breaks runs into lines of a width.
func lines(runs []run, most float64) []line {
	var out []line
	var now line
	finish := func(wrapped bool) {
		now.wrapped = wrapped
		out = append(out, now.set())
		now = line{}
	}
	add := func(p piece) {
		if n := len(now.pieces); n > 0 && now.pieces[n-1].run == p.run && p.run.atom == nil {
			now.pieces[n-1].text += p.text
			now.pieces[n-1].w += p.w
		} else {
			now.pieces = append(now.pieces, p)
		}
		now.w += p.w
	}
	for _, w := range words(runs) {
		space := 0.0
		if w.space != nil {
			space = w.space.w
		}
		if w.end && len(now.pieces) > 0 {
			finish(false)
			out[len(out)-1].height += w.gap
		} else if len(now.pieces) > 0 && now.w+space+w.w > most+0.01 {
			finish(true)
		} else if w.space != nil && len(now.pieces) > 0 {
			add(*w.space)
		}
		for _, p := range w.pieces {
			for now.w+p.w > most+0.01 {
				head, tail := cut(p, most-now.w, len(now.pieces) == 0)
				if head.text != "" {
					add(head)
				}
				if tail.text == "" {
					p = tail
					break
				}
				finish(false)
				p = tail
			}
			if p.text != "" || p.run.atom != nil {
				add(p)
			}
		}
	}
	if len(now.pieces) > 0 {
		finish(false)
	}
	return out
}

// cut splits a piece that is too long for a line: after a sign where one may break
// if there is one in its second half, else anywhere. With alone at least one
// character goes first.
func cut(p piece, room float64, alone bool) (head, tail piece) {
	if p.run.atom != nil {
		return p, piece{run: p.run}
	}
	w, at, sign := 0.0, 0, 0
	for i, r := range p.text {
		step := width(p.run.style, string(r))
		if w+step > room && !(alone && i == 0) {
			break
		}
		w += step
		at = i + len(string(r))
		if strings.ContainsRune("/-–,;:=+−·×_)&?", r) && w > room/2 {
			sign = at
		}
	}
	if sign > 0 && at < len(p.text) {
		at = sign
	}
	return piece{run: p.run, text: p.text[:at], w: width(p.run.style, p.text[:at])}, piece{run: p.run, text: p.text[at:], w: width(p.run.style, p.text[at:])}
}

// set finds how high a line is.
func (l line) set() line {
	up, down := 0.0, 0.0
	for _, p := range l.pieces {
		if a := p.run.atom; a != nil {
			up, down = max(up, a.h-a.low), max(down, a.low)
			continue
		}
		s := p.run.style
		full := s.size * leading
		if s.rise != 0 {
			full = s.size
		}
		high := (full-s.size)/2 + 0.8*s.size
		up, down = max(up, high+s.rise), max(down, full-high-s.rise)
	}
	if up+down == 0 {
		up, down = bodyStyle.size, bodyStyle.size*0.4
	}
	l.height, l.base = up+down, up
	return l
}

// draw sets a line with its left end at x and its top at y.
func (l line) draw(p *taggedpdf.Page, x, y float64) {
	base := y + l.base
	for i, c := range l.pieces {
		if a := c.run.atom; a != nil {
			a.draw(p, x, base-a.h+a.low)
			x += c.w
			continue
		}
		p.Over.Mark(c.run.content)
		s := c.run.style
		p.Over.Fill(s.colour)
		text := c.text
		if i == len(l.pieces)-1 && l.wrapped {
			text += " " // so that the words of two lines stay two
		}
		p.Over.Text(x, base-s.rise, s.size, s.face, text)
		if t := c.run.link; t != nil {
			p.Under.Fill(accent)
			p.Under.Rect(x, base+1.1, c.w, 0.4)
			p.Under.Paint(taggedpdf.Fills)
			p.Link(t.element, x, base-s.size, x+c.w, base+0.3*s.size, t.to, t.says)
		}
		x += c.w
	}
}

// natural is how wide runs are if lines end only where they must, and how wide their
// longest word.
func natural(runs []run) (whole, longest float64) {
	now := 0.0
	for _, w := range words(runs) {
		if w.end {
			now = 0
		} else if w.space != nil {
			now += w.space.w
		}
		now += w.w
		whole, longest = max(whole, now), max(longest, w.w)
	}
	return whole, longest
}

func height(ls []line) float64 {
	h := 0.0
	for _, l := range ls {
		h += l.height
	}
	return h
}
