package taggedpdf

import (
	"fmt"
	"image/color"
	"strings"
	"time"

	"underlamp/draw/typeface"
)

// An Info says what a file is.
type Info struct {
	Title    string
	Subject  string    // one sentence on it; may be empty
	Language string    // as in BCP 47: "en"
	Producer string    // the program that wrote it
	Created  time.Time // zero leaves it out
}

// A Document is a file that is being made.
type Document struct {
	info    Info
	root    *Element
	pages   []*Page
	fonts   map[*typeface.Face]*fontUse
	order   []*fontUse     // as they were first used
	states  map[[2]int]int // opacities of fill and stroke in hundredths → number
	images  []*Image
	tiles   []*tile
	marks   []bookmark
	anchors map[string]place
	missing map[rune]bool
}

type place struct {
	page *Page
	y    float64
}

type bookmark struct {
	level int
	title string
	at    place
}

// New begins a document.
func New(info Info) *Document {
	d := &Document{info: info, fonts: map[*typeface.Face]*fontUse{}, states: map[[2]int]int{}, anchors: map[string]place{}, missing: map[rune]bool{}}
	d.root = &Element{Kind: "Document"}
	return d
}

// Root is the element that all others stand in.
func (d *Document) Root() *Element { return d.root }

// Pages is how many pages there are.
func (d *Document) Pages() int { return len(d.pages) }

// Missing are the characters that no font had, in no order.
func (d *Document) Missing() []rune {
	var out []rune
	for r := range d.missing {
		out = append(out, r)
	}
	return out
}

// Bookmark adds a line to the list of bookmarks, at a height of a page. Level 1 is
// the outermost; a level that skips one is taken for the next.
func (d *Document) Bookmark(level int, title string, p *Page, y float64) {
	d.marks = append(d.marks, bookmark{max(1, level), title, place{p, y}})
}

// Anchor names a place that links lead to. The first place of a name counts.
func (d *Document) Anchor(name string, p *Page, y float64) {
	if _, ok := d.anchors[name]; !ok {
		d.anchors[name] = place{p, y}
	}
}

// An Element is a node of the structure tree.
type Element struct {
	Kind     string // a standard type of ISO 32000-1, 14.8.4: P, H1, Table, TH, Figure …
	Alt      string // says what a figure shows
	Language string // where it is not that of the document
	Scope    string // of a TH: "Column", "Row" or "Both"
	ColSpan  int    // of TH and TD; 0 and 1 are the same
	RowSpan  int
	Numbered string     // of an L: the value of ListNumbering, such as "Disc"; may be empty
	Box      [4]float64 // of a Figure: x0, y0, x1, y1 on its page

	page   *Page // of Box
	parent *Element
	kids   []kid
	num    int // of its object
}

type kid struct {
	element *Element
	content *Content
	link    *link
}

// Add puts an element behind what e holds.
func (e *Element) Add(kind string) *Element {
	c := &Element{Kind: kind, parent: e}
	e.kids = append(e.kids, kid{element: c})
	return c
}

// Place says where a figure stands.
func (e *Element) Place(p *Page, x0, y0, x1, y1 float64) {
	e.page, e.Box = p, [4]float64{x0, y0, x1, y1}
}

// A Content is a place in the text of an element that drawings may be put into.
type Content struct {
	of   *Element
	refs []ref
}

type ref struct {
	page *Page
	id   int
}

// Content puts a place for drawings behind what e holds.
func (e *Element) Content() *Content {
	c := &Content{of: e}
	e.kids = append(e.kids, kid{content: c})
	return c
}

// A Page is a sheet. What is drawn on Under lies under what is drawn on Over.
type Page struct {
	Width, Height float64
	Under, Over   *Canvas

	doc   *Document
	marks []*Element // by number of marked content
	links []*link
	num   int
	tree  int // its number in the parent tree
}

// Page adds one.
func (d *Document) Page(width, height float64) *Page {
	p := &Page{Width: width, Height: height, doc: d}
	p.Under, p.Over = newCanvas(d, p), newCanvas(d, p)
	d.pages = append(d.pages, p)
	return p
}

type link struct {
	box  [4]float64
	uri  string // empty: to
	to   string
	says string
	of   *Element
	page *Page
	num  int
	tree int
}

// Link makes a box of a page lead to an address, or to an anchor of the document if
// it begins with "#". The text in the box belongs to e, an element of kind Link.
// says is what it leads to, for those who do not see it.
func (p *Page) Link(e *Element, x0, y0, x1, y1 float64, target, says string) {
	l := &link{box: [4]float64{x0, y0, x1, y1}, says: says, of: e, page: p}
	if name, ok := strings.CutPrefix(target, "#"); ok {
		l.to = name
	} else {
		l.uri = target
	}
	p.links = append(p.links, l)
	e.kids = append(e.kids, kid{link: l})
}

// A fontUse is the part of a face that the document uses. Each character has a
// glyph of its own, so that text reads back as it was: a blank and one that does
// not break look alike and stay two.
type fontUse struct {
	face   *typeface.Face
	name   string
	glyphs []uint16
	runes  []rune
	of     map[rune]uint16
}

func (d *Document) use(face *typeface.Face, glyph uint16, r rune) (*fontUse, uint16) {
	f := d.fonts[face]
	if f == nil {
		f = &fontUse{face: face, name: fmt.Sprintf("F%d", len(d.order)+1), glyphs: []uint16{0}, runes: []rune{0}, of: map[rune]uint16{}}
		d.fonts[face] = f
		d.order = append(d.order, f)
	}
	g, ok := f.of[r]
	if !ok {
		g = uint16(len(f.glyphs))
		f.of[r] = g
		f.glyphs, f.runes = append(f.glyphs, glyph), append(f.runes, r)
	}
	return f, g
}

// state is the name of a graphics state with the opacities given.
func (d *Document) state(fill, stroke float64) string {
	k := [2]int{hundredths(fill), hundredths(stroke)}
	n, ok := d.states[k]
	if !ok {
		n = len(d.states) + 1
		d.states[k] = n
	}
	return fmt.Sprintf("G%d", n)
}

func hundredths(v float64) int { return int(min(1, max(0, v))*100 + 0.5) }

// RGB is a colour.
type RGB = color.RGBA

// PageList are the pages in their order.
func (d *Document) PageList() []*Page { return d.pages }
