// Package pdftest holds PDF files of reports to the HTML that they were made of, by
// tools from outside: qpdf reads the file and its structure tree, poppler
// (pdftotext, pdfinfo, pdffonts, pdfimages) its text, fonts and pictures. Only tests
// import it. Where the tools are missing a test is skipped; where the environment
// says CI it fails.
//
// Rules of the tree are those of ISO 32000-1 (2008), 14.7 and 14.8, and of ISO
// 14289-1 (2014), clause 7, as far as they are named at each check.
package pdftest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/net/html"
	"golang.org/x/text/unicode/norm"
)

// Tool is the path of a program; without it the test is skipped, or fails in CI.
func Tool(t testing.TB, name, of string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s of the package %s is not installed, and nothing may be skipped here", name, of)
		}
		t.Skipf("%s of the package %s is not installed", name, of)
	}
	return path
}

func run(t testing.TB, tool, of string, args ...string) string {
	t.Helper()
	out, err := exec.Command(Tool(t, tool, of), args...).CombinedOutput()
	if err != nil {
		t.Errorf("%s %s: %v\n%.1000s", tool, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// Keep writes a PDF to a file of the test and returns its name.
func Keep(t testing.TB, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "it.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// Check holds a PDF to the HTML it was made of.
func Check(t testing.TB, page, pdf []byte) {
	t.Helper()
	file := Keep(t, pdf)
	w := read(t, page)

	// The file is well formed (qpdf ends with 3 where it warns).
	if out := run(t, "qpdf", "qpdf", "--check", file); strings.Contains(out, "WARNING") {
		t.Errorf("qpdf warns: %s", out)
	}
	info := run(t, "pdfinfo", "poppler-utils", file)
	for key, want := range map[string]string{"Title": w.title, "Tagged": "yes", "Encrypted": "no", "JavaScript": "no"} {
		if got := field(info, key); got != want {
			t.Errorf("pdfinfo says %s: %q, want %q", key, got, want)
		}
	}
	// Every font is embedded, of it only what is used, with its map to Unicode.
	for i, line := range strings.Split(strings.TrimSpace(run(t, "pdffonts", "poppler-utils", file)), "\n") {
		f := strings.Fields(line)
		if i < 2 || len(f) < 8 {
			continue
		}
		if got := strings.Join(f[len(f)-5:len(f)-2], " "); got != "yes yes yes" {
			t.Errorf("a font is not embedded, subset and mapped: %s", line)
		}
	}
	// Drawings are vectors: the pictures of pixels are those of the HTML.
	pictures := 0
	for _, line := range strings.Split(run(t, "pdfimages", "poppler-utils", "-list", file), "\n") {
		if f := strings.Fields(line); len(f) > 3 && f[2] == "image" {
			pictures++
		}
	}
	if pictures != w.images {
		t.Errorf("%d pictures of pixels, and the HTML has %d", pictures, w.images)
	}

	// All text in the order of the page, as it is copied or searched: footers and heads
	// that stand again come in between.
	raw := dense(run(t, "pdftotext", "poppler-utils", "-raw", file, "-"))
	inOrder(t, "pdftotext", raw, w)
	tree(t, file, w)
}

// CheckReading holds the text, in the order of reading that the tree gives, to the
// HTML. poppler takes some seconds for a long report.
func CheckReading(t testing.TB, page, pdf []byte) {
	t.Helper()
	w := read(t, page)
	// pdfinfo prints the kinds of elements between the texts.
	got := strings.ReplaceAll(dense(run(t, "pdfinfo", "poppler-utils", "-struct-text", Keep(t, pdf))), `""`, "")
	inOrder(t, "the tree", got, w)
}

// oneLine is how long a text may be to stand in one line at least: a longer one may go over
// the end of a page, and what stands there comes in between. Then it is looked for by words.
const oneLine = 60

// inOrder finds the texts of the HTML one behind the other.
func inOrder(t testing.TB, who, got string, w *want) {
	t.Helper()
	at := 0
	for k, c := range w.chunks {
		parts := []string{c}
		if len(c) > oneLine && !strings.Contains(got[at:], c) {
			parts = w.words[k]
		}
		for _, part := range parts {
			i := strings.Index(got[at:], part)
			if i < 0 {
				t.Errorf("%s does not find %.200q behind %q", who, part, got[max(0, at-80):at])
				return
			}
			at += i + len(part)
		}
	}
}

func field(info, key string) string {
	for line := range strings.SplitSeq(info, "\n") {
		if v, ok := strings.CutPrefix(line, key+":"); ok {
			return strings.TrimSpace(v)
		}
	}
	return ""
}

// dense is a text without blanks, which tools set as they like, but for none.
func dense(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '\u00ad' {
			return -1
		}
		return r
	}, norm.NFC.String(s))
}

// A want is what the HTML has that paper shows.
type want struct {
	title    string
	short    bool
	chunks   []string   // texts of paragraphs, cells, headings and of drawings, in order, without blanks
	words    [][]string // of each of them
	headings []string   // h1 to h4
	count    map[string]int
	images   int
	figures  int
	alts     []string
}

var skipped = map[string]bool{"head": true, "script": true, "style": true, "template": true, "nav": true, "title": true, "desc": true, "defs": true, "button": true, "input": true, "form": true}

func read(t testing.TB, page []byte) *want {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	w := &want{count: map[string]int{}}
	var b strings.Builder
	flush := func() {
		if s := dense(b.String()); s != "" {
			w.chunks = append(w.chunks, s)
			w.words = append(w.words, strings.Fields(norm.NFC.String(b.String())))
		}
		b.Reset()
	}
	var walk func(n *html.Node, drawn, twin bool)
	walk = func(n *html.Node, drawn, twin bool) {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			if c.Type == html.TextNode {
				if !drawn || n.Data == "text" || n.Data == "tspan" {
					b.WriteString(c.Data)
				}
				continue
			}
			if c.Type != html.ElementNode {
				continue
			}
			if c.Data == "title" && c.Namespace == "" {
				w.title = strings.Join(strings.Fields(text(c)), " ")
			}
			class := " " + attr(c, "class") + " "
			if c.Data == "head" {
				walk(c, drawn, twin)
				b.Reset()
				continue
			}
			if skipped[c.Data] || strings.Contains(class, " d-narrow ") {
				continue
			}
			if c.Data == "summary" && twin {
				continue
			}
			if w.short && c.Data == "details" && strings.Contains(class, " d-twin ") {
				continue // the short form has one page, and leaves the tables behind pictures out
			}
			w.short = w.short || c.Data == "main" && strings.Contains(class, " short ")
			inline := false
			switch c.Data {
			case "a", "b", "strong", "em", "i", "code", "span", "sub", "sup", "small", "cite", "abbr", "tspan", "br", "var", "q":
				inline = true
			}
			if !inline {
				flush()
			}
			switch c.Data {
			case "svg":
				w.figures++
				w.alts = append(w.alts, dense(text(find(c, "title"))))
			case "img":
				w.figures++
				w.images++
				w.alts = append(w.alts, dense(attr(c, "alt")))
			case "h1", "h2", "h3", "h4":
				w.headings = append(w.headings, strings.Join(strings.Fields(text(c)), " "))
				w.count["H"+c.Data[1:]]++
			case "td", "th", "tr", "caption":
				w.count[strings.ToUpper(c.Data[:1+len(c.Data)-1])]++
			case "table":
				w.count["Table"]++
			case "a":
				if strings.HasPrefix(attr(c, "href"), "http") {
					w.count["Link"]++
				}
			}
			walk(c, drawn || c.Namespace == "svg", twin || c.Data == "details" && strings.Contains(class, " d-twin ") && find(c, "caption") != nil)
			if !inline {
				flush()
			}
		}
	}
	walk(root, false, false)
	flush()
	return w
}

func text(n *html.Node) string {
	if n == nil {
		return ""
	}
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
	return b.String()
}

func find(n *html.Node, name string) *html.Node {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && c.Data == name {
			return c
		}
		if m := find(c, name); m != nil {
			return m
		}
	}
	return nil
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// A file is what qpdf reads of a PDF: objects by number.
type file struct {
	t       testing.TB
	objects map[string]any
	counts  map[string]int
	links   int
	pages   map[string]int            // number of the parent tree by reference of a page
	marks   map[int][]any             // parents of marked content by number of the page
	annots  map[int]string            // parents of annotations
	spoken  map[string]map[int]string // element by page and number of marked content
	alts    []string
}

func (f *file) dict(v any) map[string]any {
	if ref, ok := v.(string); ok && strings.HasSuffix(ref, " R") {
		o, _ := f.objects["obj:"+ref].(map[string]any)
		if s, ok := o["stream"].(map[string]any); ok {
			d, _ := s["dict"].(map[string]any)
			return d
		}
		d, _ := o["value"].(map[string]any)
		return d
	}
	d, _ := v.(map[string]any)
	return d
}

func list(v any) []any {
	if l, ok := v.([]any); ok {
		return l
	}
	if v == nil {
		return nil
	}
	return []any{v}
}

func str(v any) string {
	s, _ := v.(string)
	return strings.TrimPrefix(s, "u:")
}

// inside says in what an element may stand (ISO 32000-1, tables 336 and 337).
var inside = map[string]string{"TR": "THead TBody TFoot Table", "TH": "TR", "TD": "TR", "THead": "Table", "TBody": "Table", "TFoot": "Table", "LI": "L", "Lbl": "LI", "LBody": "LI"}

// tree reads the structure tree and holds it to itself, to the pages, and to the HTML.
func tree(t testing.TB, name string, w *want) {
	t.Helper()
	var all struct {
		Qpdf     []json.RawMessage `json:"qpdf"`
		Outlines []outline         `json:"outlines"`
	}
	out, err := exec.Command(Tool(t, "qpdf", "qpdf"), "--json=2", "--json-key=qpdf", "--json-key=outlines", "--json-stream-data=none", name).Output()
	if err == nil {
		err = json.Unmarshal(out, &all)
	}
	if err != nil || len(all.Qpdf) != 2 {
		t.Errorf("qpdf does not tell the objects: %v", err)
		return
	}
	f := &file{t: t, counts: map[string]int{}, pages: map[string]int{}, marks: map[int][]any{}, annots: map[int]string{}, spoken: map[string]map[int]string{}}
	if err := json.Unmarshal(all.Qpdf[1], &f.objects); err != nil {
		t.Error(err)
		return
	}
	trailer, _ := f.objects["trailer"].(map[string]any)
	catalog := f.dict(f.dict(trailer["value"])["/Root"])
	if f.dict(catalog["/MarkInfo"])["/Marked"] != true || str(catalog["/Lang"]) == "" || f.dict(catalog["/ViewerPreferences"])["/DisplayDocTitle"] != true || catalog["/Metadata"] == nil {
		t.Errorf("the catalogue lacks marks, language, title or metadata (ISO 14289-1, 7.1 and 7.2): %v", catalog)
	}
	for _, ref := range list(f.dict(catalog["/Pages"])["/Kids"]) {
		p := f.dict(ref)
		n, ok := p["/StructParents"].(float64)
		if !ok || p["/Tabs"] != "/S" {
			t.Errorf("a page has no number in the parent tree, or no order of tabs (ISO 14289-1, 7.18.3)")
		}
		f.pages[ref.(string)] = int(n)
		f.spoken[ref.(string)] = map[int]string{}
	}
	root := f.dict(catalog["/StructTreeRoot"])
	nums := list(f.dict(root["/ParentTree"])["/Nums"])
	for i := 0; i+1 < len(nums); i += 2 {
		k := int(nums[i].(float64))
		if l, ok := nums[i+1].([]any); ok {
			f.marks[k] = l
		} else {
			f.annots[k], _ = nums[i+1].(string)
		}
	}
	for _, ref := range list(root["/K"]) {
		f.element(ref, catalog["/StructTreeRoot"].(string), "")
	}
	// Each marked content has one parent, and the parent tree says the same one.
	for page, n := range f.pages {
		if len(f.marks[n]) != len(f.spoken[page]) {
			t.Errorf("page %d: the parent tree has %d pieces, the elements have %d (ISO 32000-1, 14.7.4.4)", n, len(f.marks[n]), len(f.spoken[page]))
			continue
		}
		for k, ref := range f.marks[n] {
			if f.spoken[page][k] != ref {
				t.Errorf("page %d: piece %d belongs to %v by the parent tree, and to %s by its element", n, k, ref, f.spoken[page][k])
			}
		}
	}
	for _, kind := range []string{"H1", "H2", "H3", "H4", "Table", "TR", "TH", "TD"} {
		if f.counts[kind] != w.count[kind] {
			t.Errorf("the tree has %d of %s, the HTML %d", f.counts[kind], kind, w.count[kind])
		}
	}
	if f.counts["Figure"] != w.figures {
		t.Errorf("the tree has %d figures, the HTML %d", f.counts["Figure"], w.figures)
	}
	for i, alt := range w.alts {
		if i < len(f.alts) && !strings.HasPrefix(dense(f.alts[i]), strings.TrimRight(alt, ".")) {
			t.Errorf("figure %d says %.80q, and its picture %.80q", i+1, f.alts[i], alt)
		}
	}
	if f.links < w.count["Link"] {
		t.Errorf("%d links work, the HTML has %d to the outside", f.links, w.count["Link"])
	}
	var titles []string
	var walk func([]outline)
	walk = func(l []outline) {
		for _, o := range l {
			titles = append(titles, o.Title)
			walk(o.Kids)
		}
	}
	walk(all.Outlines)
	if got, want := dense(strings.Join(titles, "|")), dense(strings.Join(w.headings, "|")); got != want {
		t.Errorf("the bookmarks are\n%s\nand the headings\n%s", got, want)
	}
}

type outline struct {
	Title string    `json:"title"`
	Kids  []outline `json:"kids"`
}

// element looks at an element and those within it.
func (f *file) element(v any, parent, parentKind string) {
	ref, _ := v.(string)
	e := f.dict(v)
	kind := strings.TrimPrefix(str(e["/S"]), "/")
	f.counts[kind]++
	if e["/P"] != parent {
		f.t.Errorf("an element %s says that it stands in %v, and stands in %s", kind, e["/P"], parent)
	}
	if in, ok := inside[kind]; ok && !strings.Contains(" "+in+" ", " "+parentKind+" ") {
		f.t.Errorf("%s stands in %s, and may stand in %s", kind, parentKind, in)
	}
	switch kind {
	case "Figure":
		alt := str(e["/Alt"])
		f.alts = append(f.alts, alt)
		if alt == "" || f.attribute(e, "/BBox") == nil {
			f.t.Errorf("a figure has no text instead of it, or no place (ISO 14289-1, 7.3)")
		}
	case "TH":
		if f.attribute(e, "/Scope") == nil {
			f.t.Error("a head of a table does not say what it heads (ISO 14289-1, 7.5)")
		}
	}
	pg, _ := e["/Pg"].(string)
	put := func(page string, id any) {
		n, ok := id.(float64)
		if f.spoken[page] == nil || !ok {
			f.t.Errorf("%s has content on no page", kind)
			return
		}
		if f.spoken[page][int(n)] != "" {
			f.t.Errorf("piece %d of a page belongs to two elements", int(n))
		}
		f.spoken[page][int(n)] = ref
	}
	for _, k := range list(e["/K"]) {
		if n, ok := k.(float64); ok {
			put(pg, n)
			continue
		}
		d := f.dict(k)
		switch d["/Type"] {
		case "/MCR":
			page, _ := d["/Pg"].(string)
			put(page, d["/MCID"])
		case "/OBJR":
			a := f.dict(d["/Obj"])
			n, ok := a["/StructParent"].(float64)
			if !ok || f.annots[int(n)] != ref || kind != "Link" || str(a["/Contents"]) == "" {
				f.t.Errorf("a link is not tied to its element, or says not where it leads (ISO 14289-1, 7.18): %v", a)
			}
			f.links++
		default:
			f.element(k, ref, kind)
		}
	}
}

func (f *file) attribute(e map[string]any, name string) any {
	for _, a := range list(e["/A"]) {
		if v := f.dict(a)[name]; v != nil {
			return v
		}
	}
	return nil
}

// Info is what pdfinfo says of a PDF under a key.
func Info(t testing.TB, pdf []byte, key string) string {
	t.Helper()
	return field(run(t, "pdfinfo", "poppler-utils", Keep(t, pdf)), key)
}

// Pages is how many pages a PDF has.
func Pages(t testing.TB, pdf []byte) int {
	t.Helper()
	n, err := strconv.Atoi(Info(t, pdf, "Pages"))
	if err != nil {
		t.Fatal(fmt.Errorf("pdfinfo does not count the pages: %w", err))
	}
	return n
}
