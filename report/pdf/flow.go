package pdf

import (
	"fmt"
	"sort"
	"strings"

	"underlamp/formats/taggedpdf"
)

// An item is what stands on one page: a line, a row, a figure.
type item struct {
	above, height float64
	least         float64 // how high it must be at least: a picture may be set a little smaller; 0: as high as it is
	keep          bool    // the next item stands on the same page
	fresh         bool    // a page begins with it
	draw          func(p *taggedpdf.Page, y float64)
	split         func(room float64) (first, rest *item) // of what may be higher than a page
	head          *repeated                              // of a row: stands again where a page begins with it
	ground        *ground
	anchors       []string
	level         int // of a bookmark, 0 for none
	title         string
}

// repeated is the head of a table.
type repeated struct {
	height float64
	draw   func(p *taggedpdf.Page, y float64)
}

// A ground is a coloured field behind items.
type ground struct {
	x, w         float64
	colour, edge taggedpdf.RGB
}

// A flow puts items on pages.
type flow struct {
	b      *builder
	page   *taggedpdf.Page
	y      float64
	top    bool
	behind *ground // of the last item
	err    error
}

func (f *flow) newPage() {
	if f.b.doc.Pages() >= mostPages {
		f.err = fmt.Errorf("the report would have more than %d pages: print it in parts", mostPages)
	}
	f.page = f.b.doc.Page(f.b.o.Paper.Width, f.b.o.Paper.Height)
	f.y, f.top, f.behind = topMargin, true, nil
}

func (f *flow) room() float64 { return f.b.o.Paper.Height - bottomMargin - f.y }

// need is the height of items that stand together.
func (f *flow) need(items []*item) float64 {
	h := 0.0
	for i, it := range items {
		if i > 0 || !f.top {
			h += it.above
		}
		h += it.height
	}
	if f.top && items[0].head != nil {
		h += items[0].head.height
	}
	return h
}

func (f *flow) run(items []*item) error {
	f.newPage()
	body := f.room()
	for i := 0; i < len(items) && f.err == nil; {
		it := items[i]
		if it.fresh && !f.top {
			f.newPage()
		}
		last := i
		for items[last].keep && last+1 < len(items) && !items[last+1].fresh {
			last++
		}
		group := items[i : last+1]
		if f.need(group) <= f.room() {
			for _, it := range group {
				f.put(it)
			}
			i = last + 1
			continue
		}
		if short := f.need(group) - f.room(); !f.top && squeeze(group, short) {
			continue
		}
		if !f.top && (f.need(group) <= body || f.need(group[:1]) > f.room()) {
			high := it.height > body && it.split != nil && f.room() > body/3
			if !high {
				f.newPage()
				continue
			}
		}
		// What stands together is higher than a page: item by item.
		if f.need(group[:1]) > f.room() && it.split != nil {
			room := f.room() - (f.need(group[:1]) - it.height)
			first, rest := it.split(room)
			if first != nil && rest != nil {
				f.put(first)
				f.newPage()
				items[i] = rest
				continue
			}
		}
		f.put(it)
		i++
	}
	return f.err
}

// squeeze makes pictures smaller by short in all, if that is not too much.
func squeeze(group []*item, short float64) bool {
	slack := 0.0
	for _, it := range group {
		if it.least > 0 {
			slack += it.height - it.least
		}
	}
	if short += 0.01; slack < short {
		return false
	}
	for _, it := range group {
		if it.least > 0 {
			by := short * (it.height - it.least) / slack
			it.height -= by
		}
	}
	return true
}

// put draws an item where the flow stands.
func (f *flow) put(it *item) {
	if f.top && it.head != nil {
		f.page.Over.Mark(nil)
		it.head.draw(f.page, f.y)
		f.y += it.head.height
	} else if !f.top {
		f.y += it.above
	}
	if g := it.ground; g != nil {
		y := f.y
		if f.behind == g {
			y -= it.above // no gap between the items of one field
		}
		u := f.page.Under
		u.Fill(g.colour)
		u.Rect(sideMargin+g.x, y, g.w, f.y+it.height-y+0.05)
		u.Paint(taggedpdf.Fills)
		u.Fill(g.edge)
		u.Rect(sideMargin+g.x, y, 2.5, f.y+it.height-y+0.05)
		u.Paint(taggedpdf.Fills)
	}
	f.behind = it.ground
	for _, a := range it.anchors {
		f.b.doc.Anchor(a, f.page, f.y)
	}
	if it.level > 0 {
		f.b.doc.Bookmark(it.level, it.title, f.page, f.y)
	}
	if it.draw != nil {
		it.draw(f.page, f.y)
	}
	f.y += it.height
	f.top = false
}

// feet writes title, day, version and number under every page.
func (f *flow) feet() {
	o := f.b.o
	s := style{size: 7.5, colour: soft}
	pages := f.b.doc.PageList()
	for i, p := range pages {
		base := p.Height - footAt
		p.Over.Artifact("Footer")
		p.Over.Fill(rule)
		p.Over.Rect(sideMargin, base-11, p.Width-2*sideMargin, 0.5)
		p.Over.Paint(taggedpdf.Fills)
		p.Over.Fill(soft)
		var parts []string
		if o.Written != "" {
			parts = append(parts, o.Written)
		}
		if o.Version != "" {
			parts = append(parts, "underlamp "+o.Version)
		}
		parts = append(parts, fmt.Sprintf("page %d of %d", i+1, len(pages)))
		right := strings.Join(parts, " · ")
		w := width(s, right)
		p.Over.Text(p.Width-sideMargin-w, base, s.size, s.face, right)
		p.Over.Text(sideMargin, base, s.size, s.face, shortened(s, o.Title, p.Width-2*sideMargin-w-14))
	}
}

// shortened is a text cut to a width, with an ellipsis.
func shortened(s style, text string, most float64) string {
	r := []rune(text)
	const longest = 1000 // characters that are measured at all
	if len(r) <= longest && width(s, text) <= most {
		return text
	}
	r = r[:min(len(r), longest)]
	begin := func(n int) string { return strings.TrimRight(string(r[:n]), " ") + "…" }
	n := sort.Search(len(r), func(n int) bool { return width(s, begin(n)) > most })
	return begin(max(n-1, 0))
}
