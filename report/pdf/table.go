package pdf

import (
	"slices"
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"underlamp/formats/taggedpdf"
)

// A column is text in a row.
type column struct {
	x, w          float64
	lines         []line
	right, centre bool
}

// rowItem sets columns side by side. under draws what lies under them.
func rowItem(cols []column, above, below float64, under func(p *taggedpdf.Page, y, h float64)) *item {
	high := 0.0
	for _, c := range cols {
		high = max(high, height(c.lines))
	}
	return rowOf(cols, above, high, below, under)
}

func rowOf(cols []column, above, high, below float64, under func(p *taggedpdf.Page, y, h float64)) *item {
	it := &item{height: above + high + below}
	it.draw = func(p *taggedpdf.Page, y float64) {
		if under != nil {
			under(p, y, it.height)
		}
		for _, c := range cols {
			at := y + above
			for _, l := range c.lines {
				x := sideMargin + c.x
				switch {
				case c.right:
					x += c.w - l.w
				case c.centre:
					x += (c.w - l.w) / 2
				}
				l.draw(p, x, at)
				at += l.height
			}
		}
	}
	it.split = func(room float64) (first, rest *item) {
		room -= above + below
		head, tail := make([]column, len(cols)), make([]column, len(cols))
		some, more, top, bottom := false, false, 0.0, 0.0
		for i, c := range cols {
			h, n := 0.0, 0
			for n < len(c.lines) && h+c.lines[n].height <= room {
				h += c.lines[n].height
				n++
			}
			head[i], tail[i] = c, c
			head[i].lines, tail[i].lines = c.lines[:n], c.lines[n:]
			some, more = some || n > 0, more || n < len(c.lines)
			top, bottom = max(top, h), max(bottom, height(tail[i].lines))
		}
		if !some || !more {
			return nil, nil
		}
		first, rest = rowOf(head, above, top, below, under), rowOf(tail, above, bottom, below, under)
		first.above, first.anchors, first.head, first.ground = it.above, it.anchors, it.head, it.ground
		rest.head, rest.ground, rest.keep = it.head, it.ground, it.keep
		return first, rest
	}
	return it
}

// A cell of a table.
type cell struct {
	element      *taggedpdf.Element
	runs         []run
	col, span    int
	right        bool
	least, whole float64 // widths of its longest word and of its text in one line
	boxed        bool
}

// A row of a table.
type row struct {
	cells []cell
	ids   []string
}

// detached is a row whose text belongs to no element: it stands again.
func (r row) detached() row {
	out := row{cells: slices.Clone(r.cells)}
	for i := range out.cells {
		c := &out.cells[i]
		c.runs = slices.Clone(c.runs)
		for k := range c.runs {
			c.runs[k].content, c.runs[k].link = nil, nil
		}
	}
	return out
}

// Bounds of tables.
const (
	mostColumns = 400
	cellGap     = 9.0 // between columns
)

// table sets a table: a head that stands again on each page, and rows.
func (b *builder) table(n *html.Node, at place) {
	t := at.in.Add("Table")
	size := min(tableSize, at.style.size)
	write := class(n, "write")
	s := at.style
	s.size, s.colour = size, ink
	b.space(6)

	var head, rows []row
	spans := map[int]int{} // columns that a cell from above still takes: rows left
	count := 0
	read := func(tr *html.Node, part *taggedpdf.Element, inHead bool) row {
		e := part.Add("TR")
		var r row
		if id := attr(tr, "id"); id != "" {
			r.ids = append(r.ids, id)
		}
		col := 0
		taken := func() {
			for spans[col] > 0 {
				col++
			}
		}
		for c := tr.FirstChild; c != nil; c = c.NextSibling {
			if c.Type != html.ElementNode || c.Data != "td" && c.Data != "th" || hidden(c) {
				continue
			}
			taken()
			if col >= mostColumns {
				b.lose("A table has more than %d columns: those after it are left out.", mostColumns)
				break
			}
			x := cell{col: col, span: spanOf(c, "colspan", mostColumns-col), right: class(c, "d-num"), boxed: write && c.Data == "td"}
			down := spanOf(c, "rowspan", 1000)
			kind := "TD"
			cs := styled(c, s)
			cs.face.Bold = s.face.Bold
			if c.Data == "th" {
				kind = "TH"
				cs.face.Bold = inHead || attr(c, "scope") != "row"
			}
			x.element = e.Add(kind)
			if kind == "TH" {
				x.element.Scope = map[string]string{"col": "Column", "colgroup": "Column", "row": "Row", "rowgroup": "Row"}[attr(c, "scope")]
				if x.element.Scope == "" {
					x.element.Scope = "Column"
					if !inHead {
						x.element.Scope = "Row"
					}
				}
			}
			x.element.ColSpan, x.element.RowSpan = x.span, down
			b.last = nil
			x.runs = b.runs(c, cs, x.element, nil, nil)
			r.ids, b.anchors = append(r.ids, b.anchors...), nil
			for k := range x.span {
				if down > 1 {
					spans[col+k] = down
				}
			}
			col += x.span
			count = max(count, col)
			r.cells = append(r.cells, x)
		}
		for k := range spans {
			if spans[k] > 0 {
				spans[k]--
			}
		}
		return r
	}
	anchors := b.anchors
	b.anchors = nil
	var part *taggedpdf.Element
	var walk func(n *html.Node, kind string)
	walk = func(n *html.Node, kind string) {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			if c.Type != html.ElementNode || hidden(c) {
				continue
			}
			switch c.Data {
			case "thead", "tbody", "tfoot":
				part = t.Add(map[string]string{"thead": "THead", "tbody": "TBody", "tfoot": "TFoot"}[c.Data])
				clear(spans)
				walk(c, c.Data)
			case "tr":
				if part == nil {
					part = t.Add("TBody")
				}
				r := read(c, part, kind == "thead")
				if len(r.cells) == 0 {
					continue
				}
				if kind == "thead" {
					head = append(head, r)
				} else {
					rows = append(rows, r)
				}
			case "caption":
				e := t.Add("Caption")
				b.last = nil
				if rs := b.runs(c, styled(c, s), e, nil, nil); !empty(rs) {
					b.anchors, anchors = append(anchors, b.anchors...), nil
					b.paragraph(rs, at, true)
					b.space(1)
				}
			}
		}
	}
	walk(n, "")
	b.anchors = append(anchors, b.anchors...)
	if len(rows) == 0 && len(head) == 0 {
		return
	}

	var all []*cell
	for _, list := range [][]row{head, rows} {
		for i := range list {
			for k := range list[i].cells {
				all = append(all, &list[i].cells[k])
			}
		}
	}
	gap := cellGap
	if count > 14 {
		gap = 5
	}
	widths, scale := fit(all, count, at.w, gap, size)
	if scale < 1 {
		for _, c := range all {
			for i := range c.runs {
				c.runs[i].style.size *= scale
				c.runs[i].style.rise *= scale
			}
		}
	}
	if write { // the room to write in is shared
		total := float64(count-1) * gap
		for _, w := range widths {
			total += w
		}
		wide := 0
		for _, c := range all {
			if c.boxed && c.span == 1 && empty(c.runs) {
				wide = max(wide, count-1)
			}
		}
		if wide > 0 && total < at.w {
			for i := 1; i < count; i++ {
				widths[i] += (at.w - total) / float64(wide)
			}
		}
	}
	left := make([]float64, count+1)
	for i, w := range widths {
		left[i+1] = left[i] + w + gap
	}
	whole := left[count] - gap
	cellPad := 2.6 // above and below
	if size < tableSize {
		cellPad = 1.7
	}
	least := 0.0
	if write {
		least = 8.2*mm - 2*cellPad
	}
	build := func(r row, inHead, last bool) *item {
		var cols []column
		high := 0.0
		if !inHead {
			high = least
		}
		var boxes [][2]float64
		for _, c := range r.cells {
			w := left[c.col+c.span] - gap - left[c.col]
			col := column{x: at.x + left[c.col], w: w, lines: lines(c.runs, w), right: c.right}
			high = max(high, height(col.lines))
			cols = append(cols, col)
			if c.boxed {
				boxes = append(boxes, [2]float64{sideMargin + col.x - gap/2, w + gap})
			}
		}
		return rowOf(cols, cellPad, high, cellPad, func(p *taggedpdf.Page, y, h float64) {
			if len(boxes) > 0 {
				p.Under.Stroke(soft)
				p.Under.Line(0.5, nil, 0, 0)
				for _, x := range boxes {
					p.Under.Rect(x[0], y, x[1], h)
				}
				p.Under.Paint(taggedpdf.Strokes)
				return
			}
			p.Under.Fill(rule)
			thick := 0.4
			if inHead && last {
				p.Under.Fill(soft)
				thick = 0.7
			}
			p.Under.Rect(sideMargin+at.x, y+h-thick, whole, thick)
			p.Under.Paint(taggedpdf.Fills)
		})
	}
	var again *repeated
	for i, r := range head {
		b.anchors = append(b.anchors, r.ids...)
		it := build(r, true, i == len(head)-1)
		it.keep = true
		b.emit(it, at)
	}
	if len(head) > 0 {
		var parts []*item
		again = &repeated{}
		for i, r := range head {
			it := build(r.detached(), true, i == len(head)-1)
			parts = append(parts, it)
			again.height += it.height
		}
		if again.height > 250 {
			again = nil // a head that takes the page is not repeated
		} else {
			again.draw = func(p *taggedpdf.Page, y float64) {
				for _, it := range parts {
					it.draw(p, y)
					y += it.height
				}
			}
		}
	}
	for i, r := range rows {
		b.anchors = append(b.anchors, r.ids...)
		it := build(r, false, false)
		it.head = again
		it.keep = i == 0 && len(rows) > 1 || i == len(rows)-2 // no row alone on a page
		if len(r.cells) == 1 && r.cells[0].span == count && count > 1 && i < len(rows)-1 {
			it.keep = true // it names the rows under it
		}
		b.emit(it, at)
	}
	b.space(8)
}

// spanOf reads colspan or rowspan.
func spanOf(n *html.Node, name string, most int) int {
	v, err := strconv.Atoi(strings.TrimSpace(attr(n, name)))
	if err != nil || v < 1 {
		return 1
	}
	return max(1, min(v, most))
}

// fit finds the widths of columns: as wide as their text if there is room; else the
// room is shared so that no word is broken; else type is set smaller, down to
// leastSize; and if that is not enough, columns get their share and words break.
func fit(all []*cell, count int, avail, gap, size float64) (widths []float64, scale float64) {
	least, whole := make([]float64, count), make([]float64, count)
	room := avail - float64(count-1)*gap
	if room < 0.3*avail {
		room = 0.3 * avail
	}
	measure := func(k float64) (sumLeast, sumWhole float64) {
		clear(least)
		clear(whole)
		for _, c := range all {
			if c.span == 1 {
				least[c.col], whole[c.col] = max(least[c.col], c.least*k), max(whole[c.col], c.whole*k)
			}
		}
		for _, c := range all {
			if c.span == 1 {
				continue
			}
			for _, x := range []struct {
				have []float64
				need float64
			}{{least, c.least * k}, {whole, c.whole * k}} {
				sum := float64(c.span-1) * gap
				for i := c.col; i < c.col+c.span; i++ {
					sum += x.have[i]
				}
				if more := x.need - sum; more > 0 {
					for i := c.col; i < c.col+c.span; i++ {
						x.have[i] += more / float64(c.span)
					}
				}
			}
		}
		for i := range least {
			least[i] = max(min(least[i], 0.5*avail), 1)
			whole[i] = max(whole[i], least[i])
			sumLeast, sumWhole = sumLeast+least[i], sumWhole+whole[i]
		}
		return sumLeast, sumWhole
	}
	for _, c := range all {
		c.whole, c.least = natural(c.runs)
		c.whole += 0.1
		c.least += 0.1
	}
	for scale = 1.0; ; scale *= 0.93 {
		if scale*size < leastSize {
			scale = leastSize / size
		}
		sumLeast, sumWhole := measure(scale)
		if sumWhole <= room {
			return whole, scale
		}
		if sumLeast <= room {
			k := (room - sumLeast) / (sumWhole - sumLeast)
			for i := range least {
				least[i] += k * (whole[i] - least[i])
			}
			return least, scale
		}
		if scale*size <= leastSize {
			k := room / sumLeast
			for i := range least {
				least[i] *= k
			}
			return least, scale
		}
	}
}
