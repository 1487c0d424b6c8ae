package draw

import (
	"math"
	"strings"

	"underlamp/science/quantity"
)

// A Frame is what every picture needs to know of the place where it is shown.
type Frame struct {
	ID    string          // begins every id in the SVG; letters, digits, "-" and "_"; unique in the page
	Width float64         // px that the picture is laid out for; 0 means WideWidth; kept within 300 to 1600
	Units quantity.System // of printed lengths
	Title string          // replaces the title that the picture gives itself
	Desc  string          // replaces the description that the picture makes from its numbers
}

// Widths that [Fit] lays pictures out for, in px.
const (
	WideWidth   = 760
	NarrowWidth = 360
)

// width is the width in px within the bounds that layouts are made for.
func (f Frame) width() float64 {
	if f.Width == 0 || !finite(f.Width) {
		return WideWidth
	}
	return math.Min(math.Max(f.Width, 300), 1600)
}

// narrow tells whether a layout for phones is due.
func (f Frame) narrow() bool { return f.width() < 520 }

// check panics if the id cannot begin an id of XML.
func (f Frame) check(who string) {
	ok := f.ID != ""
	for i, r := range f.ID {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '_'
		if !letter && (i == 0 || !(r >= '0' && r <= '9' || r == '-')) {
			ok = false
		}
	}
	if !ok {
		panic("draw: " + who + ": Frame.ID must begin with a letter and hold letters, digits, - and _")
	}
}

// A Picture is a drawing and the same numbers as a table.
type Picture struct {
	SVG   string // one svg element, safe to place in HTML
	Table Table
	Title string // plain text, not escaped
	Desc  string // plain text, not escaped
}

// Figure returns the picture as an HTML figure, with its table folded away
// beneath it.
func (p Picture) Figure() string { return figure(p.Table, p.SVG) }

// File returns the picture as an SVG file that stands alone: on white, whatever
// shows it.
func (p Picture) File() string {
	open := strings.Index(p.SVG, "<title") // after the start tag
	if open < 0 {
		return p.SVG
	}
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + p.SVG[:open] + `<rect width="100%" height="100%" fill="#ffffff"/>` + p.SVG[open:] + "\n"
}

// Fit calls draw twice, for a wide and for a narrow screen, and returns one HTML
// figure that holds both and the table. [CSS] shows the one that fits and hides
// the other from eyes and screen readers alike. The ids of the narrow one begin
// with f.ID + "-n".
//
//	html := draw.Fit(draw.Frame{ID: "plan"}, func(f draw.Frame) draw.Picture {
//		plan.Frame = f
//		return plan.Draw()
//	})
func Fit(f Frame, draw func(Frame) Picture) string {
	f.Width = WideWidth
	wide := draw(f)
	f.ID, f.Width = f.ID+"-n", NarrowWidth
	narrow := draw(f)
	return figure(wide.Table, `<div class="d-wide">`+wide.SVG+`</div><div class="d-narrow">`+narrow.SVG+`</div>`)
}

func figure(t Table, inner string) string {
	var b strings.Builder
	b.WriteString(`<figure class="d-figure">`)
	b.WriteString(inner)
	b.WriteString(`<details class="d-twin"><summary>The numbers as a table</summary><div class="d-scroll" role="group" tabindex="0" aria-label="` + escape(t.Caption) + `">`)
	b.WriteString(t.HTML())
	b.WriteString(`</div></details></figure>`)
	return b.String()
}

// finite tells whether v is a number that can be drawn.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// or returns the first text that is not empty.
func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// join puts a name and its unit together: "PPFD, µmol/m²/s".
func join(name, unit string) string {
	if name == "" || unit == "" {
		return name + unit
	}
	return name + ", " + unit
}

// amount puts a printed number and its unit together.
func amount(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}

// signed prints v with the digits given and always a sign, except for zero.
func signed(v float64, decimals int) string {
	s := quantity.Fixed(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// percent prints a share from 0 to 1.
func percent(v float64) string {
	if !finite(v) {
		return "not known"
	}
	return quantity.Number(v*100, 2) + " %"
}
