package pdf

import (
	"fmt"
	"strings"

	"golang.org/x/net/html"

	"underlamp/draw/typeface"
	"underlamp/formats/taggedpdf"
)

// A builder turns elements into items.
type builder struct {
	o       Options
	doc     *taggedpdf.Document
	width   float64 // of what is set
	items   []*item
	gap     float64  // room above the next item
	fresh   bool     // the next item begins a page
	anchors []string // names of the place of the next item
	last    *taggedpdf.Element
	lost    []string
}

// A place is where blocks go, and how they look there.
type place struct {
	x, w   float64 // from the left margin
	style  style
	in     *taggedpdf.Element
	ground *ground
	direct bool // text goes into in itself, not into a P of it
	tight  bool // little room between blocks
	asides bool // terms stand beside what is said of them
	short  bool // one page for all: no tables behind pictures
}

func newBuilder(o Options, language string) *builder {
	producer := "underlamp"
	if o.Version != "" {
		producer += " " + o.Version
	}
	return &builder{o: o, width: o.Paper.Width - 2*sideMargin, doc: taggedpdf.New(taggedpdf.Info{Title: o.Title, Language: language, Producer: producer, Created: o.Created})}
}

// emit puts an item behind the others.
func (b *builder) emit(it *item, at place) *item {
	it.above, b.gap = b.gap, 0
	it.fresh, b.fresh = b.fresh && len(b.items) > 0, false
	it.anchors, b.anchors = b.anchors, nil
	it.ground = at.ground
	b.items = append(b.items, it)
	return it
}

// space sees that at least so much room stands above the next item.
func (b *builder) space(v float64) { b.gap = max(b.gap, v) }

// lose notes what could not be set.
func (b *builder) lose(format string, args ...any) {
	if len(b.lost) < 20 {
		b.lost = append(b.lost, fmt.Sprintf(format, args...))
	}
}

// between is the room between two blocks.
func (at place) between() float64 {
	if at.tight {
		return 2.5
	}
	return 0.65 * at.style.size
}

// children sets what an element holds: blocks one under the other, and text between
// them as paragraphs.
func (b *builder) children(n *html.Node, at place) {
	var rs []run
	var p *taggedpdf.Element
	flush := func() {
		if !empty(rs) {
			b.space(at.between())
			b.paragraph(rs, at, false)
			b.space(at.between())
		}
		rs, p, b.last = nil, nil, nil
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && hidden(c) {
			continue
		}
		if c.Type == html.ElementNode && isBlock(c) {
			flush()
			b.block(c, at)
			continue
		}
		if c.Type == html.TextNode && len(rs) == 0 && strings.TrimFunc(c.Data, blank) == "" {
			continue
		}
		if c.Type != html.TextNode && c.Type != html.ElementNode {
			continue
		}
		if p == nil {
			if p = at.in; !at.direct {
				p = at.in.Add("P")
			}
			b.last = nil
		}
		rs = b.inline(c, at.style, p, nil, rs)
	}
	flush()
}

// isBlock says that an element begins a line of its own.
func isBlock(n *html.Node) bool {
	if n.Data == "svg" || n.Data == "img" {
		return true
	}
	if blocks[n.Data] {
		return true
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling { // a link or a span about a block
		if c.Type == html.ElementNode && c.Namespace == "" && isBlock(c) {
			return true
		}
	}
	return false
}

// block sets an element.
func (b *builder) block(n *html.Node, at place) {
	if hidden(n) {
		return
	}
	if id := attr(n, "id"); id != "" {
		b.anchors = append(b.anchors, id)
	}
	at.style = styled(n, at.style)
	if class(n, "sheet-page") || class(n, "new-page") {
		b.fresh = true
	}
	start := len(b.items)
	if class(n, "note") && at.ground == nil {
		b.note(n, at)
		return
	}
	switch n.Data {
	case "h1", "h2", "h3", "h4", "h5", "h6":
		b.heading(n, at)
	case "p", "pre", "address", "figcaption", "summary", "legend", "dt":
		e := at.in
		if !at.direct {
			e = at.in.Add("P")
		}
		b.last = nil
		if rs := b.runs(n, at.style, e, nil, nil); !empty(rs) {
			b.space(at.between())
			b.paragraph(rs, at, n.Data == "figcaption" || n.Data == "summary" || n.Data == "dt")
			b.space(at.between())
			if class(n, "kicker") {
				b.gap = 0
			}
		}
	case "ul", "ol", "menu":
		if class(n, "labels") {
			b.labels(n, at)
		} else {
			b.list(n, at)
		}
	case "dl":
		b.terms(n, at)
	case "table":
		b.table(n, at)
	case "figure":
		b.space(8)
		at.in, at.direct = at.in.Add("Div"), false
		b.children(n, at)
		b.keepFigure(start)
		b.space(10)
	case "svg":
		b.figure(n, at)
	case "img":
		b.photo(n, at)
	case "details":
		b.details(n, at)
	case "hr":
		b.space(6)
		b.emit(&item{height: 0.6, draw: func(p *taggedpdf.Page, y float64) {
			p.Under.Fill(rule)
			p.Under.Rect(sideMargin+at.x, y, at.w, 0.6)
			p.Under.Paint(taggedpdf.Fills)
		}}, at)
		b.space(6)
	case "main":
		at.short = at.short || class(n, "short")
		b.children(n, at)
	case "section":
		at.in, at.direct = at.in.Add("Sect"), false
		b.children(n, at)
	case "article":
		at.in, at.direct = at.in.Add("Art"), false
		b.children(n, at)
	case "blockquote":
		at.in, at.direct = at.in.Add("BlockQuote"), false
		at.x, at.w = at.x+14, at.w-28
		b.children(n, at)
	case "tr", "td", "th", "tbody", "thead", "tfoot", "caption": // outside of a table
		b.children(n, at)
	default:
		b.children(n, at)
	}
	if class(n, "keep") {
		for i := start; i < len(b.items)-1; i++ {
			b.items[i].keep = true
		}
	}
}

// keepFigure keeps what stands over a figure beside it: items before the first
// picture of those from start.
func (b *builder) keepFigure(start int) {
	for i := start; i+1 < len(b.items); i++ {
		if b.items[i].height > 60 {
			return
		}
		b.items[i].keep = true
	}
}

// heading sets a heading, with its bookmark.
func (b *builder) heading(n *html.Node, at place) {
	s := headStyles[n.Data]
	e := at.in.Add("H" + n.Data[1:])
	b.last = nil
	rs := b.runs(n, s, e, nil, nil)
	if empty(rs) {
		return
	}
	b.space(headAbove[n.Data])
	ls := lines(rs, at.w)
	for i, l := range ls {
		it := &item{height: l.height * 0.92, keep: true}
		second := n.Data == "h2" && i == 0
		it.draw = func(p *taggedpdf.Page, y float64) {
			if second && y > topMargin+1 {
				p.Under.Fill(rule)
				p.Under.Rect(sideMargin+at.x, y-8, at.w, 0.6)
				p.Under.Paint(taggedpdf.Fills)
			}
			l.draw(p, sideMargin+at.x, y)
		}
		if i == 0 && n.Data <= "h4" {
			it.level, it.title = int(n.Data[1]-'0'), plain(n)
		}
		b.emit(it, at)
	}
	b.space(map[string]float64{"h1": 8, "h2": 6}[n.Data] + 2)
}

// paragraph sets runs in lines; the first two and the last two stand together.
func (b *builder) paragraph(rs []run, at place, keep bool) {
	ls := lines(rs, at.w)
	for i, l := range ls {
		it := &item{height: l.height, draw: func(p *taggedpdf.Page, y float64) { l.draw(p, sideMargin+at.x, y) }}
		it.keep = len(ls) > 1 && (i == 0 || i == len(ls)-2) || keep
		b.emit(it, at)
	}
}

// note sets a paragraph, or blocks, on a coloured field.
func (b *builder) note(n *html.Node, at place) {
	b.space(7)
	at.ground = &ground{x: at.x, w: at.w, colour: warnField, edge: warn}
	pad := func(keep bool) { b.emit(&item{height: 5, keep: keep}, at) }
	pad(true)
	start := len(b.items)
	inner := at
	inner.x, inner.w = at.x+11, at.w-20
	if n.Data == "p" {
		b.last = nil
		e := at.in.Add("P")
		b.paragraph(b.runs(n, at.style, e, nil, nil), inner, false)
	} else {
		b.children(n, inner)
	}
	b.gap = 0
	if len(b.items) > start {
		b.items[len(b.items)-1].keep = true
		b.items[start].above = 0
	}
	pad(false)
	b.space(9)
}

// list sets a list; each of its items begins with a sign of its own.
func (b *builder) list(n *html.Node, at place) {
	l := at.in.Add("L")
	l.Numbered = "Disc"
	if n.Data == "ol" {
		l.Numbered = "Decimal"
	}
	b.space(at.between())
	number := 0
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode || c.Data != "li" || hidden(c) {
			continue
		}
		number++
		if id := attr(c, "id"); id != "" {
			b.anchors = append(b.anchors, id)
		}
		li := l.Add("LI")
		sign, indent := "•", 11.0
		if n.Data == "ol" {
			sign, indent = fmt.Sprintf("%d.", number), 18
		}
		mark := li.Add("Lbl").Content()
		inner := at
		inner.style = styled(c, at.style)
		inner.x, inner.w, inner.in, inner.direct, inner.tight = at.x+indent, at.w-indent, li.Add("LBody"), true, true
		start := len(b.items)
		b.children(c, inner)
		if len(b.items) == start { // nothing in it
			b.emit(&item{height: at.style.size * leading}, at)
		}
		first := b.items[start]
		draw, s := first.draw, at.style
		first.draw = func(p *taggedpdf.Page, y float64) {
			p.Over.Mark(mark)
			p.Over.Fill(s.colour)
			p.Over.Text(sideMargin+at.x+1, y+(leading*s.size-s.size)/2+0.8*s.size, s.size, typeface.Style{}, sign+" ")
			if draw != nil {
				draw(p, y)
			}
		}
		if class(n, "cautions") {
			b.space(4)
		} else {
			b.space(2)
		}
	}
	b.space(at.between())
}

// details sets what is folded away on screens.
func (b *builder) details(n *html.Node, at place) {
	start := len(b.items)
	working := class(n, "working")
	if working {
		b.space(7)
		at.asides = true
	}
	twin := class(n, "d-twin")
	if twin && at.short {
		return
	}
	if twin {
		at.style.size = smallSize
		b.space(4)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode || hidden(c) {
			if c.Type == html.TextNode && strings.TrimFunc(c.Data, blank) != "" {
				text := &html.Node{Type: html.TextNode, Data: c.Data}
				b.children(&html.Node{FirstChild: text, LastChild: text}, at)
			}
			continue
		}
		if c.Data != "summary" {
			b.block(c, at)
			continue
		}
		if twin && find(n, "caption") != nil {
			continue // the caption of the table says it
		}
		e := at.in.Add("P")
		b.last = nil
		head := at
		if working {
			head.style.size = smallSize + 1
		}
		b.paragraph(b.runs(c, styled(c, head.style), e, nil, nil), head, true)
		b.space(2)
	}
	if working && len(b.items) > start {
		it := b.items[start]
		draw := it.draw
		it.draw = func(p *taggedpdf.Page, y float64) {
			p.Under.Fill(rule)
			p.Under.Rect(sideMargin+at.x, y-3, at.w, 0.4)
			p.Under.Paint(taggedpdf.Fills)
			if draw != nil {
				draw(p, y)
			}
		}
	}
	b.space(at.between())
}

// A pair is a term and what is said of it.
type pair struct {
	id        string
	term, say []*html.Node
}

// pairs reads a definition list.
func pairs(n *html.Node) []pair {
	var out []pair
	open := false
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			switch {
			case c.Type != html.ElementNode || hidden(c):
			case c.Data == "dt":
				if !open || len(out) == 0 || len(out[len(out)-1].say) > 0 {
					out = append(out, pair{})
					open = true
				}
				out[len(out)-1].term = append(out[len(out)-1].term, c)
			case c.Data == "dd":
				if len(out) == 0 {
					out = append(out, pair{})
				}
				out[len(out)-1].say = append(out[len(out)-1].say, c)
			case c.Data == "div":
				open = false
				before := len(out)
				walk(c)
				if id := attr(c, "id"); id != "" && len(out) > before {
					out[before].id = id
				}
				open = false
			}
		}
	}
	walk(n)
	return out
}

// terms sets a definition list: headline figures in three columns, facts in two,
// others one under the other.
func (b *builder) terms(n *html.Node, at place) {
	l := at.in.Add("L")
	b.space(at.between())
	runsOf := func(nodes []*html.Node, e *taggedpdf.Element, s style) []run {
		var out []run
		for i, c := range nodes {
			if i > 0 {
				out = append(out, run{end: true, style: s})
			}
			if id := attr(c, "id"); id != "" {
				b.anchors = append(b.anchors, id)
			}
			b.last = nil
			out = b.runs(c, styled(c, s), e, nil, out)
		}
		return out
	}
	quiet := at.style
	quiet.colour = soft
	all := pairs(n)
	switch {
	case class(n, "figures"), class(n, "three"):
		const most = 3
		quiet.size = 8.4
		edge, thick := rule, 0.5
		if class(n, "three") {
			edge, thick = accent, 1.2
		}
		across := at.w / most
		for i := 0; i < len(all); i += most {
			var cols []column
			for k, p := range all[i:min(i+most, len(all))] {
				li := l.Add("LI")
				w := across - 14
				ls := lines(runsOf(p.term, li.Add("Lbl"), quiet), w)
				ls = append(ls, lines(runsOf(p.say, li.Add("LBody"), at.style), w)...)
				cols = append(cols, column{x: at.x + float64(k)*across, w: w, lines: ls})
			}
			b.emit(rowItem(cols, 4, 7, func(p *taggedpdf.Page, y, h float64) {
				p.Under.Fill(edge)
				for _, c := range cols {
					p.Under.Rect(sideMargin+c.x, y, c.w, thick)
				}
				p.Under.Paint(taggedpdf.Fills)
			}), at)
		}
	case class(n, "facts"), class(n, "summary"), at.asides:
		left, pad := min(max(0.25*at.w, 80), 130), 3.0
		lined := !at.asides
		if at.asides {
			left, pad = 50, 0.5
		}
		for _, p := range all {
			li := l.Add("LI")
			if p.id != "" {
				b.anchors = append(b.anchors, p.id)
			}
			cols := []column{
				{x: at.x, w: left - 10, lines: lines(runsOf(p.term, li.Add("Lbl"), quiet), left-10)},
				{x: at.x + left, w: at.w - left, lines: lines(runsOf(p.say, li.Add("LBody"), at.style), at.w-left)},
			}
			b.emit(rowItem(cols, pad, pad, func(p *taggedpdf.Page, y, h float64) {
				if lined {
					p.Under.Fill(rule)
					p.Under.Rect(sideMargin+at.x, y, at.w, 0.4)
					p.Under.Paint(taggedpdf.Fills)
				}
			}), at)
		}
	default:
		for _, p := range all {
			li := l.Add("LI")
			if rs := runsOf(p.term, li.Add("Lbl"), quiet); !empty(rs) {
				b.paragraph(rs, at, true)
			}
			body := li.Add("LBody")
			for _, dd := range p.say {
				inner := at
				inner.in, inner.direct, inner.tight, inner.style = body, true, true, styled(dd, at.style)
				b.gap = 0
				b.children(dd, inner)
			}
			b.gap = 3
		}
	}
	b.space(at.between())
}

// labels sets short texts in boxes to be cut out.
func (b *builder) labels(n *html.Node, at place) {
	const most = 5
	l := at.in.Add("L")
	b.space(at.between())
	var all []*html.Node
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && c.Data == "li" {
			all = append(all, c)
		}
	}
	s := at.style
	s.face.Bold = true
	w := at.w / most
	for i := 0; i < len(all); i += most {
		var cols []column
		for k, c := range all[i:min(i+most, len(all))] {
			b.last = nil
			cols = append(cols, column{x: at.x + float64(k)*w, w: w, centre: true, lines: lines(b.runs(c, s, l.Add("LI").Add("LBody"), nil, nil), w-4)})
		}
		b.emit(rowItem(cols, 7, 7, func(p *taggedpdf.Page, y, h float64) {
			p.Under.Stroke(soft)
			p.Under.Line(0.5, []float64{2, 2}, 0, 0)
			for _, c := range cols {
				p.Under.Rect(sideMargin+c.x, y, c.w, h)
			}
			p.Under.Paint(taggedpdf.Strokes)
		}), at)
	}
	b.space(at.between())
}

// checkBox is an empty box to tick.
func checkBox(s style) *atom {
	side := s.size
	return &atom{w: side, h: side, low: 0.1 * side, draw: func(p *taggedpdf.Page, x, y float64) {
		p.Under.Stroke(ink)
		p.Under.Line(0.7, nil, 0, 0)
		p.Under.Rect(x+0.5, y+0.5, side-1, side-1)
		p.Under.Paint(taggedpdf.Strokes)
	}}
}
