package book

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"image"
	_ "image/png" // pictures of the pages
	"io/fs"
	"path"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// A Book is a folder of pages.
type Book struct {
	files fs.FS
	root  string // address that pages are served below, "/help"
	parts []Part
	order []string          // addresses in the order of the contents
	title map[string]string // by address

	mu    sync.Mutex
	pages map[string]*Page
	index func() *index
}

// A Part is a heading of the contents with its pages.
type Part struct {
	Title string
	Pages []Entry
}

// An Entry is a page in the contents.
type Entry struct {
	At    string // address, without the root
	Title string // as the contents have it
	Says  string // what the contents say of it, plain text
}

// A Head is a heading of a page.
type Head struct {
	Level int
	ID    string
	Text  string
}

// A Page is one page, ready to be shown.
type Page struct {
	At     string // address, without the root
	Title  string // its first heading
	Part   string // of the contents; empty if the contents do not have it
	Heads  []Head // of the second and third level
	Body   []byte // HTML, without the first heading
	Before *Entry
	After  *Entry
}

const contents = "README.md"

// Open reads the contents of a book whose pages are served below a root such as "/help".
func Open(files fs.FS, root string) (*Book, error) {
	b := &Book{files: files, root: root, title: map[string]string{}, pages: map[string]*Page{}}
	b.index = sync.OnceValue(b.makeIndex)
	source, err := fs.ReadFile(files, contents)
	if err != nil {
		return nil, fmt.Errorf("book: the contents: %w", err)
	}
	doc := markdown().Parser().Parse(text.NewReader(source))
	err = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			if n.Level == 2 {
				b.parts = append(b.parts, Part{Title: plain(n, source)})
			}
		case *ast.ListItem:
			e, ok := entry(n, source)
			if !ok || len(b.parts) == 0 {
				return ast.WalkContinue, nil
			}
			if _, err := fs.Stat(files, e.At+".md"); err != nil {
				return ast.WalkStop, fmt.Errorf("book: the contents name %s.md: %w", e.At, err)
			}
			last := &b.parts[len(b.parts)-1]
			last.Pages = append(last.Pages, e)
			b.order = append(b.order, e.At)
			b.title[e.At] = e.Title
		}
		return ast.WalkContinue, nil
	})
	return b, err
}

// entry is the page that an item of the contents names.
func entry(item ast.Node, source []byte) (Entry, bool) {
	var e Entry
	_ = ast.Walk(item, func(n ast.Node, entering bool) (ast.WalkStatus, error) { // the walker returns no error
		if l, ok := n.(*ast.Link); ok && entering && e.At == "" {
			if at, ok := strings.CutSuffix(string(l.Destination), ".md"); ok {
				e.At, e.Title = path.Clean(at), plain(l, source)
			}
		}
		return ast.WalkContinue, nil
	})
	if e.At == "" {
		return e, false
	}
	e.Says = strings.TrimLeft(strings.TrimPrefix(plain(item, source), e.Title), " :–")
	return e, true
}

// Contents are the parts with their pages.
func (b *Book) Contents() []Part { return b.parts }

// Pages are the addresses of the pages in the order of the contents.
func (b *Book) Pages() []string { return b.order }

// Page gives the page at an address; an error of package fs where there is none.
func (b *Book) Page(at string) (*Page, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if p := b.pages[at]; p != nil {
		return p, nil
	}
	name := at + ".md"
	if at == "" {
		name = contents
	}
	if at == strings.TrimSuffix(contents, ".md") || !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	source, err := fs.ReadFile(b.files, name)
	if err != nil {
		return nil, err
	}
	p, err := b.render(at, source)
	if err != nil {
		return nil, fmt.Errorf("book: %s: %w", name, err)
	}
	b.pages[at] = p
	return p, nil
}

func markdown() goldmark.Markdown {
	return goldmark.New(
		goldmark.WithExtensions(extension.Table),
		goldmark.WithParserOptions(parser.WithAutoHeadingID()),
		goldmark.WithRendererOptions(renderer.WithNodeRenderers(util.Prioritized(blocks{}, 1))),
	)
}

func (b *Book) render(at string, source []byte) (*Page, error) {
	p := &Page{At: at}
	md := markdown()
	doc := md.Parser().Parse(text.NewReader(source), parser.WithContext(parser.NewContext(parser.WithIDs(&anchors{seen: map[string]int{}}))))
	var first ast.Node
	var outside []*ast.Link
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) { // the walker returns no error
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			switch {
			case n.Level == 1 && first == nil:
				first, p.Title = n, plain(n, source)
			case n.Level == 2 || n.Level == 3:
				id, _ := n.AttributeString("id")
				word, _ := id.([]byte)
				p.Heads = append(p.Heads, Head{n.Level, string(word), plain(n, source)})
			}
		case *ast.Link:
			to, ok := b.to(at, string(n.Destination))
			if !ok {
				outside = append(outside, n)
				return ast.WalkContinue, nil
			}
			n.Destination = []byte(to)
		case *ast.Image:
			to, ok := b.to(at, string(n.Destination))
			n.Destination = []byte(to)
			n.SetAttributeString("loading", []byte("lazy"))
			if ok { // its room is kept before it is there
				if w, h, ok := b.size(strings.TrimPrefix(to, b.root+"/")); ok {
					n.SetAttributeString("width", []byte(strconv.Itoa(w)))
					n.SetAttributeString("height", []byte(strconv.Itoa(h)))
				}
			}
		}
		return ast.WalkContinue, nil
	})
	for _, l := range outside { // what lies outside is named and not linked
		parent := l.Parent()
		for c := l.FirstChild(); c != nil; {
			next := c.NextSibling()
			parent.InsertBefore(parent, l, c)
			c = next
		}
		parent.RemoveChild(parent, l)
	}
	if first != nil {
		first.Parent().RemoveChild(first.Parent(), first)
	}
	var out bytes.Buffer
	if err := md.Renderer().Render(&out, source, doc); err != nil {
		return nil, err
	}
	body := bytes.ReplaceAll(out.Bytes(), []byte("<table>"), []byte(`<div class="d-scroll" tabindex="0" role="group" aria-label="Table"><table class="d-table">`))
	p.Body = bytes.ReplaceAll(body, []byte("</table>"), []byte("</table></div>"))
	p.Title = cmp.Or(p.Title, at)
	for i, o := range b.order {
		if o != at {
			continue
		}
		if i > 0 {
			p.Before = &Entry{At: b.order[i-1], Title: b.title[b.order[i-1]]}
		}
		if i+1 < len(b.order) {
			p.After = &Entry{At: b.order[i+1], Title: b.title[b.order[i+1]]}
		}
	}
	for _, part := range b.parts {
		for _, e := range part.Pages {
			if e.At == at {
				p.Part = part.Title
			}
		}
	}
	return p, nil
}

// to is the address of what a link of a page leads to; false where it lies outside of the book.
func (b *Book) to(at, link string) (string, bool) {
	if strings.HasPrefix(link, "#") || strings.Contains(link, "://") || strings.HasPrefix(link, "mailto:") {
		return link, true
	}
	file, anchor, has := strings.Cut(link, "#")
	file = path.Join(path.Dir(at), file)
	if at == "" {
		file, _, _ = strings.Cut(path.Clean(link), "#")
	}
	if file == ".." || strings.HasPrefix(file, "../") {
		return "", false
	}
	if file == contents {
		file = ""
	}
	out := b.root + "/" + strings.TrimSuffix(file, ".md")
	if has {
		out += "#" + anchor
	}
	return out, true
}

// size is that of a picture; false if it is none.
func (b *Book) size(name string) (w, h int, ok bool) {
	f, err := b.files.Open(name)
	if err != nil {
		return 0, 0, false
	}
	defer f.Close()
	c, _, err := image.DecodeConfig(f)
	return c.Width, c.Height, err == nil
}

// plain is the text of a node without its marks.
func plain(n ast.Node, source []byte) string {
	var out strings.Builder
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) { // the walker returns no error
		switch n := n.(type) {
		case *ast.Text:
			if entering {
				out.Write(n.Segment.Value(source))
				if n.SoftLineBreak() || n.HardLineBreak() {
					out.WriteByte(' ')
				}
			}
		case *ast.String:
			if entering {
				out.Write(n.Value)
			}
		case *ast.AutoLink:
			if entering {
				out.Write(n.Label(source))
			}
		default:
			if entering && n.Type() == ast.TypeBlock {
				if s := out.String(); s != "" && !strings.HasSuffix(s, " ") {
					out.WriteByte(' ')
				}
				if n.IsRaw() {
					for i := range n.Lines().Len() {
						line := n.Lines().At(i)
						out.Write(line.Value(source))
					}
				}
			}
		}
		return ast.WalkContinue, nil
	})
	return strings.TrimSpace(string(util.UnescapePunctuations(util.ResolveEntityNames(util.ResolveNumericReferences([]byte(out.String()))))))
}

// anchors are the names of headings.
type anchors struct{ seen map[string]int }

// Generate makes the anchor of a heading of its text.
func (a *anchors) Generate(value []byte, _ ast.NodeKind) []byte {
	id := Anchor(string(value))
	n := a.seen[id]
	a.seen[id]++
	if n > 0 {
		id += "-" + strconv.Itoa(n)
	}
	return []byte(id)
}

// Put notes an anchor that was given.
func (a *anchors) Put(value []byte) { a.seen[string(value)]++ }

// Anchor is the anchor of a heading by its text in Markdown.
func Anchor(heading string) string {
	var out strings.Builder
	for _, c := range strings.ToLower(strings.TrimSpace(heading)) {
		switch {
		case unicode.IsLetter(c) || unicode.IsDigit(c) || unicode.IsMark(c) || c == '-' || c == '_':
			out.WriteRune(c)
		case c == ' ':
			out.WriteByte('-')
		}
	}
	return out.String()
}

// blocks renders fenced code: a block that can be reached by the keyboard and copied; of a
// console the signs of the prompt and what was printed are not copied with the commands.
type blocks struct{}

// RegisterFuncs says which nodes are rendered here.
func (blocks) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(ast.KindFencedCodeBlock, code)
	r.Register(ast.KindCodeBlock, code)
}

func code(w util.BufWriter, source []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkSkipChildren, nil
	}
	kind := ""
	if f, ok := n.(*ast.FencedCodeBlock); ok {
		kind = string(f.Language(source))
	}
	fmt.Fprintf(w, `<pre tabindex="0" translate="no" class="code %s"><code>`, html.EscapeString(kind)) // the buffer keeps its error
	for i := range n.Lines().Len() {
		s := n.Lines().At(i)
		line := string(s.Value(source))
		command, typed := strings.CutPrefix(line, "$ ")
		switch {
		case kind != "console":
			w.WriteString(html.EscapeString(line))
		case typed:
			w.WriteString(`<span class="prompt">$ </span><b>` + html.EscapeString(strings.TrimSuffix(command, "\n")) + "</b>\n")
		default:
			w.WriteString(`<span class="out">` + html.EscapeString(line) + `</span>`)
		}
	}
	w.WriteString("</code></pre>\n")
	return ast.WalkSkipChildren, nil
}
