package pdf

import (
	"golang.org/x/net/html"

	"underlamp/draw/typeface"
	"underlamp/formats/taggedpdf"
)

// mm is a millimetre in points.
const mm = 72 / 25.4

// Room at the edges of a sheet, and what stands in it. Common practice, no source.
const (
	sideMargin   = 18 * mm
	topMargin    = 16 * mm
	bottomMargin = 20 * mm
	footAt       = 11 * mm // of the base line of the footer, from the lower edge
)

// Colours are those of the light theme of report.css.
var (
	ink       = taggedpdf.RGB{R: 0x1b, G: 0x24, B: 0x30, A: 255}
	soft      = taggedpdf.RGB{R: 0x53, G: 0x5e, B: 0x6b, A: 255}
	rule      = taggedpdf.RGB{R: 0xc9, G: 0xcf, B: 0xd6, A: 255}
	accent    = taggedpdf.RGB{R: 0x2f, G: 0x6b, B: 0x4a, A: 255}
	warn      = taggedpdf.RGB{R: 0x8a, G: 0x3d, B: 0x06, A: 255}
	warnField = taggedpdf.RGB{R: 0xfd, G: 0xf3, B: 0xe7, A: 255}
)

// A style is how text is set.
type style struct {
	face   typeface.Style
	size   float64 // points
	colour taggedpdf.RGB
	rise   float64 // of the base line, points
	pre    bool    // blanks and ends of lines stay
}

const leading = 1.42 // distance of base lines, in sizes

var (
	bodyStyle  = style{size: 9.5, colour: ink}
	tableSize  = 8.2
	smallSize  = 7.6 // of workings and of tables behind pictures
	leastSize  = 4.5 // of tables with very many columns
	headStyles = map[string]style{
		"h1": {face: typeface.Style{Bold: true}, size: 20, colour: ink},
		"h2": {face: typeface.Style{Bold: true}, size: 14, colour: ink},
		"h3": {face: typeface.Style{Bold: true}, size: 11, colour: ink},
		"h4": {face: typeface.Style{Bold: true}, size: 9.5, colour: ink},
		"h5": {face: typeface.Style{Bold: true}, size: 9.5, colour: soft},
		"h6": {face: typeface.Style{Italic: true}, size: 9.5, colour: soft},
	}
	headAbove = map[string]float64{"h1": 6, "h2": 20, "h3": 13, "h4": 10, "h5": 8, "h6": 8}
)

// styled is the style of an element within another.
func styled(n *html.Node, s style) style {
	switch n.Data {
	case "strong", "b", "th":
		s.face.Bold = true
	case "em", "i", "cite", "var", "dfn":
		s.face.Italic = true
	case "sup":
		s.rise, s.size = s.rise+0.35*s.size, 0.72*s.size
	case "sub":
		s.rise, s.size = s.rise-0.15*s.size, 0.72*s.size
	case "small":
		s.size *= 0.85
	case "footer":
		s.colour, s.size = soft, min(s.size, 8)
	case "summary":
		s.face.Bold = true
	case "figcaption", "caption":
		s.colour = soft
	case "pre":
		s.pre = true
	}
	for c := range classes(n) {
		switch c {
		case "kicker", "setting", "doubt", "band", "soft", "group":
			s.colour = soft
		case "asks":
			s.colour, s.size, s.face.Bold = soft, 0.92*s.size, false
		case "state":
			s.colour = warn
		case "lead":
			s.size = 11
		case "value":
			s.face.Bold, s.size = true, 12.5
		case "default":
			s.face.Italic, s.colour = true, warn
		case "formula":
			s.colour = ink
		case "working":
			s.size = smallSize
		}
		if c == "band" {
			s.size = min(s.size, 8)
		}
	}
	return s
}

// hidden are elements that paper does not show.
func hidden(n *html.Node) bool {
	switch n.Data {
	case "head", "script", "style", "template", "nav", "button", "input", "select", "form", "dialog", "noscript", "iframe", "object", "video", "audio", "canvas":
		return true
	}
	for _, a := range n.Attr {
		if a.Key == "hidden" {
			return true
		}
	}
	for c := range classes(n) {
		switch c {
		case "d-narrow", "screen-only", "no-print":
			return true
		}
	}
	return false
}

func classes(n *html.Node) func(func(string) bool) {
	return func(yield func(string) bool) {
		rest := attr(n, "class")
		for rest != "" {
			i := 0
			for i < len(rest) && rest[i] != ' ' && rest[i] != '\n' {
				i++
			}
			if i > 0 && !yield(rest[:i]) {
				return
			}
			if i == len(rest) {
				return
			}
			rest = rest[i+1:]
		}
	}
}

// blocks are elements that begin a line of their own.
var blocks = map[string]bool{
	"address": true, "article": true, "aside": true, "blockquote": true, "body": true, "center": true, "dd": true, "details": true, "div": true, "dl": true, "dt": true,
	"fieldset": true, "figcaption": true, "figure": true, "footer": true, "form": true, "h1": true, "h2": true, "h3": true, "h4": true, "h5": true, "h6": true,
	"header": true, "hr": true, "legend": true, "li": true, "main": true, "nav": true, "ol": true, "p": true, "pre": true, "section": true, "summary": true, "table": true,
	"caption": true, "tbody": true, "thead": true, "tfoot": true, "tr": true, "td": true, "th": true, "ul": true, "menu": true,
}
