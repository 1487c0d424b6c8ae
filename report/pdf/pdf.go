package pdf

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"golang.org/x/net/html"
	"golang.org/x/text/unicode/norm"
)

// A Paper is a size of sheets.
type Paper struct {
	Name          string
	Width, Height float64 // points
}

// Papers that reports are set on. A4 is of ISO 216, Letter of ANSI/ASME Y14.1.
var (
	A4     = Paper{"A4", 210 * mm, 297 * mm}
	Letter = Paper{"Letter", 612, 792}
)

// PaperOf is the paper of a name, A4 or Letter, however it is written.
func PaperOf(name string) (Paper, error) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(name, p.Name) {
			return p, nil
		}
	}
	return Paper{}, fmt.Errorf("%q is no paper that is known: write A4 or Letter", name)
}

// Options say what the HTML does not.
type Options struct {
	Paper   Paper     // zero: A4
	Title   string    // for window and footer; empty: that of the HTML
	Written string    // the day as it is printed at the foot of pages; empty: that of the HTML (meta date), if it has one
	Version string    // of the program; empty: that of the HTML (meta generator), if it has one
	Created time.Time // for the metadata; zero leaves it out
}

// A Result says what was made.
type Result struct {
	Pages   int
	Missing []rune   // characters that no font has: a box stands for each
	Lost    []string // sentences: what could not be set, and why
}

// Says are sentences on what a reader of the file will miss; none if all is there.
func (r Result) Says() []string {
	var out []string
	if len(r.Missing) > 0 {
		var names []string
		for _, c := range r.Missing[:min(len(r.Missing), 12)] {
			names = append(names, fmt.Sprintf("%c (U+%04X)", c, c))
		}
		if n := len(r.Missing) - len(names); n > 0 {
			names = append(names, fmt.Sprintf("%d more", n))
		}
		out = append(out, "The fonts of the PDF have no letter for "+strings.Join(names, ", ")+": a box stands there. The HTML file shows them.")
	}
	return append(out, r.Lost...)
}

// Bounds of what is read.
const (
	MostBytes = 64 << 20
	mostDepth = 200
	mostNodes = 2_000_000
	mostPages = 5000
)

// Write sets a report and writes the PDF. An error says what is wrong with the
// HTML, or that w took it not; then what was written is no PDF.
func Write(w io.Writer, page []byte, o Options) (Result, error) {
	if o.Paper == (Paper{}) {
		o.Paper = A4
	}
	if o.Paper.Width < 200 || o.Paper.Height < 200 || o.Paper.Width > 14400 || o.Paper.Height > 14400 {
		return Result{}, fmt.Errorf("a paper of %.0f × %.0f points cannot be set on: A4 and Letter can", o.Paper.Width, o.Paper.Height)
	}
	if len(page) > MostBytes {
		return Result{}, fmt.Errorf("the report has %d MB, more than the %d MB that are set as PDF", len(page)>>20, MostBytes>>20)
	}
	if !bytes.ContainsRune(page, '<') {
		return Result{}, errors.New("the report is no HTML: there is no element in it")
	}
	root, err := html.Parse(bytes.NewReader(norm.NFC.Bytes(bytes.ToValidUTF8(page, []byte("\uFFFD")))))
	if err != nil {
		return Result{}, fmt.Errorf("the report cannot be read as HTML: %w", err)
	}
	if n, depth := size(root, 0); n > mostNodes || depth > mostDepth {
		return Result{}, fmt.Errorf("the report has %d elements, %d within one another: at most %d and %d are set as PDF", n, depth, mostNodes, mostDepth)
	}
	if o.Title == "" {
		o.Title = titleOf(root)
	}
	if o.Written == "" {
		o.Written = metaOf(root, "date")
	}
	if o.Version == "" {
		o.Version = strings.TrimSpace(strings.TrimPrefix(metaOf(root, "generator"), "underlamp"))
	}
	b := newBuilder(o, languageOf(root))
	if body := find(root, "body"); body != nil {
		b.block(body, place{x: 0, w: b.width, style: bodyStyle, in: b.doc.Root()})
	}
	if len(b.items) == 0 {
		return Result{}, errors.New("the report is empty: there is no text in it")
	}
	f := &flow{b: b}
	if err := f.run(b.items); err != nil {
		return Result{}, err
	}
	f.feet()
	if err := b.doc.Write(w); err != nil {
		return Result{}, fmt.Errorf("the PDF cannot be written: %w", err)
	}
	res := Result{Pages: b.doc.Pages(), Missing: b.doc.Missing(), Lost: b.lost}
	slices.Sort(res.Missing)
	return res, nil
}

// size counts nodes and how deep they lie, no further than the bounds.
func size(n *html.Node, depth int) (nodes, deepest int) {
	nodes, deepest = 1, depth
	if depth > mostDepth {
		return nodes, deepest
	}
	for c := n.FirstChild; c != nil && nodes <= mostNodes; c = c.NextSibling {
		k, d := size(c, depth+1)
		nodes, deepest = nodes+k, max(deepest, d)
	}
	return nodes, deepest
}

// titleOf is the title of a page, or else its first heading.
func titleOf(root *html.Node) string {
	for _, name := range []string{"title", "h1"} {
		if n := find(root, name); n != nil {
			if t := strings.TrimSpace(plain(n)); t != "" {
				return t
			}
		}
	}
	return "Report"
}

// metaOf is what an element meta of a name says.
func metaOf(n *html.Node, name string) string {
	if n.Type == html.ElementNode && n.Data == "meta" && attr(n, "name") == name {
		return strings.TrimSpace(attr(n, "content"))
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && c.Data == "body" {
			continue
		}
		if v := metaOf(c, name); v != "" {
			return v
		}
	}
	return ""
}

func languageOf(root *html.Node) string {
	if n := find(root, "html"); n != nil {
		if l := attr(n, "lang"); l != "" {
			return l
		}
	}
	return "en"
}

// find is the first element of a name; of SVG none.
func find(n *html.Node, name string) *html.Node {
	if n.Type == html.ElementNode && n.Data == name && n.Namespace == "" {
		return n
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if m := find(c, name); m != nil {
			return m
		}
	}
	return nil
}

// plain is the text of an element, blanks run together.
func plain(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return strings.Join(strings.FieldsFunc(b.String(), blank), " ")
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// class says that an element is of a class.
func class(n *html.Node, name string) bool {
	for c := range strings.FieldsSeq(attr(n, "class")) {
		if c == name {
			return true
		}
	}
	return false
}

// blank is what HTML takes for a blank; one that does not break is none.
func blank(r rune) bool { return r == ' ' || r == '\n' || r == '\t' || r == '\r' || r == '\f' }
