package taggedpdf

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"

	"underlamp/draw/typeface"
)

// An object of the file; those without a stream are packed many together.
type object struct {
	dict   string
	stream []byte
	raw    bool // the stream is not to be compressed
}

// A writer numbers objects and writes them.
type writer struct {
	objects []object // number 1 first
}

func (w *writer) reserve() int {
	w.objects = append(w.objects, object{})
	return len(w.objects)
}

func (w *writer) put(num int, dict string) { w.objects[num-1].dict = dict }

func (w *writer) add(dict string) int {
	n := w.reserve()
	w.put(n, dict)
	return n
}

func (w *writer) stream(dict string, data []byte) int {
	n := w.reserve()
	w.objects[n-1] = object{dict: dict, stream: data}
	return n
}

// text is a text string (ISO 32000-1, 7.9.2.2).
func text(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7e {
			plain = false
		}
	}
	if plain {
		return "(" + strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`).Replace(s) + ")"
	}
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	b.WriteString(">")
	return b.String()
}

func number(v float64) string {
	s := fmt.Sprintf("%.2f", v)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func (p *Page) box(b [4]float64) string { // y up
	return "[" + number(b[0]) + " " + number(p.Height-b[3]) + " " + number(b[2]) + " " + number(p.Height-b[1]) + "]"
}

// Write writes the file. A document can be written once.
func (d *Document) Write(out io.Writer) error {
	if len(d.pages) == 0 {
		panic("taggedpdf: Document.Write: there is no page")
	}
	w := &writer{}
	catalog, tree, pages := w.reserve(), w.reserve(), w.reserve()

	// Links that lead nowhere are no links.
	for _, p := range d.pages {
		keep := p.links[:0]
		for _, l := range p.links {
			if _, ok := d.anchors[l.to]; l.uri != "" || ok {
				l.num = w.reserve()
				keep = append(keep, l)
			}
		}
		p.links = keep
		p.num = w.reserve()
	}

	resources, err := d.resources(w)
	if err != nil {
		return err
	}

	// Pages, and the numbers of the parent tree: pages first, links after them.
	var kids, parents []string
	treeNext := len(d.pages)
	d.number(w, d.root)
	for i, p := range d.pages {
		p.tree = i
		p.Under.end()
		p.Over.end()
		var c bytes.Buffer
		c.WriteString("q\n1 0 0 -1 0 " + number(p.Height) + " cm\nq\n")
		c.Write(p.Under.b.Bytes())
		c.WriteString("Q\nq\n")
		c.Write(p.Over.b.Bytes())
		c.WriteString("Q\nQ\n")
		content := w.stream("", c.Bytes())
		var marks, annots []string
		for _, e := range p.marks {
			marks = append(marks, fmt.Sprintf("%d 0 R", e.num))
		}
		parents = append(parents, fmt.Sprintf("%d [%s]", i, strings.Join(marks, " ")))
		for _, l := range p.links {
			annots = append(annots, fmt.Sprintf("%d 0 R", l.num))
		}
		dict := fmt.Sprintf("<</Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /Resources %d 0 R /Contents %d 0 R /StructParents %d /Tabs /S", pages, number(p.Width), number(p.Height), resources, content, i)
		if len(annots) > 0 {
			dict += " /Annots [" + strings.Join(annots, " ") + "]"
		}
		w.put(p.num, dict+">>")
		kids = append(kids, fmt.Sprintf("%d 0 R", p.num))
	}
	for _, p := range d.pages {
		for _, l := range p.links {
			l.tree = treeNext
			treeNext++
			parents = append(parents, fmt.Sprintf("%d %d 0 R", l.tree, l.of.num))
			dict := "<</Type /Annot /Subtype /Link /Rect " + p.box(l.box) + " /Border [0 0 0] /F 4 /Contents " + text(l.says) + fmt.Sprintf(" /StructParent %d", l.tree)
			if l.uri != "" {
				dict += " /A <</S /URI /URI " + text(asciiURI(l.uri)) + ">>"
			} else {
				dict += " /Dest " + d.anchors[l.to].dest()
			}
			w.put(l.num, dict+">>")
		}
	}
	w.put(pages, fmt.Sprintf("<</Type /Pages /Kids [%s] /Count %d>>", strings.Join(kids, " "), len(kids)))

	d.elements(w, d.root, tree)
	parentTree := w.add("<</Nums [" + strings.Join(parents, "\n") + "]>>")
	w.put(tree, fmt.Sprintf("<</Type /StructTreeRoot /K %d 0 R /ParentTree %d 0 R /ParentTreeNextKey %d>>", d.root.num, parentTree, treeNext))

	dict := fmt.Sprintf("<</Type /Catalog /Pages %d 0 R /StructTreeRoot %d 0 R /MarkInfo <</Marked true>> /Lang %s /ViewerPreferences <</DisplayDocTitle true>>", pages, tree, text(d.info.Language))
	if outlines := d.outlines(w); outlines != 0 {
		dict += fmt.Sprintf(" /Outlines %d 0 R /PageMode /UseOutlines", outlines)
	}
	meta := w.stream("/Type /Metadata /Subtype /XML", d.xmp())
	w.objects[meta-1].raw = true
	w.put(catalog, dict+fmt.Sprintf(" /Metadata %d 0 R>>", meta))

	info := "<</Title " + text(d.info.Title) + " /Producer " + text(d.info.Producer)
	if d.info.Subject != "" {
		info += " /Subject " + text(d.info.Subject)
	}
	if !d.info.Created.IsZero() {
		info += " /CreationDate " + text("D:"+d.info.Created.UTC().Format("20060102150405")+"Z")
	}
	return w.finish(out, catalog, w.add(info+">>"))
}

func (p place) dest() string {
	return fmt.Sprintf("[%d 0 R /XYZ 0 %s null]", p.page.num, number(min(p.page.Height, p.page.Height-p.y+8)))
}

// asciiURI leaves only what an address may have.
func asciiURI(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if c := s[i]; c <= 0x20 || c >= 0x7f {
			fmt.Fprintf(&b, "%%%02X", c)
		} else {
			b.WriteByte(c)
		}
	}
	return b.String()
}

// resources writes fonts, states, pictures and tiles; all pages share them.
func (d *Document) resources(w *writer) (int, error) {
	num := w.reserve()
	var b strings.Builder
	b.WriteString("<</Font <<")
	for _, f := range d.order {
		n, err := f.write(w)
		if err != nil {
			return 0, err
		}
		fmt.Fprintf(&b, "/%s %d 0 R ", f.name, n)
	}
	b.WriteString(">> /ExtGState <<")
	byNumber := make([][2]int, len(d.states))
	for k, n := range d.states {
		byNumber[n-1] = k
	}
	for i, k := range byNumber {
		fmt.Fprintf(&b, "/G%d <</ca %s /CA %s>> ", i+1, number(float64(k[0])/100), number(float64(k[1])/100))
	}
	b.WriteString(">> /XObject <<")
	for _, im := range d.images {
		if im.mask != nil {
			im.mnum = w.stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent 8", im.Width, im.Height), im.mask)
		}
		dict := fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace %s /BitsPerComponent 8", im.Width, im.Height, im.space)
		if im.mnum != 0 {
			dict += fmt.Sprintf(" /SMask %d 0 R", im.mnum)
		}
		if im.filter != "" {
			dict += " /Filter /" + im.filter
		}
		im.num = w.stream(dict, im.data)
		w.objects[im.num-1].raw = im.filter != ""
		fmt.Fprintf(&b, "/%s %d 0 R ", im.name, im.num)
	}
	b.WriteString(">> /Pattern <<")
	for i, t := range d.tiles {
		m := ""
		for _, v := range t.at {
			m += fmt.Sprintf("%.5f ", v)
		}
		t.num = w.stream(fmt.Sprintf("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 %s %s] /XStep %s /YStep %s /Matrix [%s] /Resources %d 0 R", number(t.w), number(t.h), number(t.w), number(t.h), m, num), t.c.b.Bytes())
		fmt.Fprintf(&b, "/P%d %d 0 R ", i+1, t.num)
	}
	b.WriteString(">>>>")
	w.put(num, b.String())
	return num, nil
}

// write writes a font with its part of glyphs (ISO 32000-1, 9.7 and 9.9).
func (f *fontUse) write(w *writer) (int, error) {
	data, err := f.face.Subset(f.glyphs)
	if err != nil {
		return 0, err
	}
	file := w.stream(fmt.Sprintf("/Length1 %d", len(data)), data)
	h := sha256.Sum256(data)
	tag := make([]byte, 6)
	for i := range tag {
		tag[i] = 'A' + h[i]%26
	}
	name := string(tag) + "+" + f.face.Name
	flags, angle, stem, weight := 4, 0, 80, 400
	if f.face.Italic {
		flags, angle = flags|64, -12
	}
	if f.face.Bold {
		stem, weight = 140, 700
	}
	box := f.face.Box()
	desc := w.add(fmt.Sprintf("<</Type /FontDescriptor /FontName /%s /Flags %d /FontBBox [%d %d %d %d] /ItalicAngle %d /Ascent %d /Descent %d /CapHeight %d /StemV %d /FontWeight %d /FontFile2 %d 0 R>>",
		name, flags, box[0], box[1], box[2], box[3], angle, typeface.Ascent, -typeface.Descent, typeface.CapHeight, stem, weight, file))
	var widths strings.Builder
	for _, g := range f.glyphs {
		fmt.Fprintf(&widths, "%d ", f.face.Advance(g))
	}
	cid := w.add(fmt.Sprintf("<</Type /Font /Subtype /CIDFontType2 /BaseFont /%s /CIDSystemInfo <</Registry (Adobe) /Ordering (Identity) /Supplement 0>> /FontDescriptor %d 0 R /DW 1000 /W [0 [%s]] /CIDToGIDMap /Identity>>", name, desc, widths.String()))
	var m strings.Builder
	m.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	for at := 1; at < len(f.runes); at += 100 {
		part := f.runes[at:min(at+100, len(f.runes))]
		fmt.Fprintf(&m, "%d beginbfchar\n", len(part))
		for i, r := range part {
			fmt.Fprintf(&m, "<%04X> <", at+i)
			for _, u := range utf16.Encode([]rune{r}) {
				fmt.Fprintf(&m, "%04X", u)
			}
			m.WriteString(">\n")
		}
		m.WriteString("endbfchar\n")
	}
	m.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	uni := w.stream("", []byte(m.String()))
	return w.add(fmt.Sprintf("<</Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H /DescendantFonts [%d 0 R] /ToUnicode %d 0 R>>", name, cid, uni)), nil
}

// number gives every element an object.
func (d *Document) number(w *writer, e *Element) {
	e.num = w.reserve()
	for _, k := range e.kids {
		if k.element != nil {
			d.number(w, k.element)
		}
	}
}

// elements writes the tree (ISO 32000-1, 14.7.2).
func (d *Document) elements(w *writer, e *Element, parent int) {
	var pg *Page
	for _, k := range e.kids {
		if k.content != nil && len(k.content.refs) > 0 {
			pg = k.content.refs[0].page
			break
		}
	}
	if pg == nil {
		pg = e.page
	}
	var kids []string
	for _, k := range e.kids {
		switch {
		case k.element != nil:
			d.elements(w, k.element, e.num)
			kids = append(kids, fmt.Sprintf("%d 0 R", k.element.num))
		case k.content != nil:
			for _, r := range k.content.refs {
				if r.page == pg {
					kids = append(kids, fmt.Sprint(r.id))
				} else {
					kids = append(kids, fmt.Sprintf("<</Type /MCR /Pg %d 0 R /MCID %d>>", r.page.num, r.id))
				}
			}
		case k.link != nil && k.link.num != 0:
			kids = append(kids, fmt.Sprintf("<</Type /OBJR /Pg %d 0 R /Obj %d 0 R>>", k.link.page.num, k.link.num))
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<</Type /StructElem /S /%s /P %d 0 R", e.Kind, parent)
	if pg != nil {
		fmt.Fprintf(&b, " /Pg %d 0 R", pg.num)
	}
	if e.Alt != "" {
		b.WriteString(" /Alt " + text(e.Alt))
	}
	if e.Language != "" {
		b.WriteString(" /Lang " + text(e.Language))
	}
	var attrs []string
	table := ""
	if e.Scope != "" {
		table += " /Scope /" + e.Scope
	}
	if e.ColSpan > 1 {
		table += fmt.Sprintf(" /ColSpan %d", e.ColSpan)
	}
	if e.RowSpan > 1 {
		table += fmt.Sprintf(" /RowSpan %d", e.RowSpan)
	}
	if table != "" {
		attrs = append(attrs, "<</O /Table"+table+">>")
	}
	if e.Numbered != "" {
		attrs = append(attrs, "<</O /List /ListNumbering /"+e.Numbered+">>")
	}
	if e.page != nil {
		attrs = append(attrs, "<</O /Layout /Placement /Block /BBox "+e.page.box(e.Box)+">>")
	}
	if len(attrs) > 0 {
		b.WriteString(" /A [" + strings.Join(attrs, " ") + "]")
	}
	if len(kids) > 0 {
		b.WriteString(" /K [" + strings.Join(kids, " ") + "]")
	}
	b.WriteString(">>")
	w.put(e.num, b.String())
}

// outlines writes the bookmarks; 0 if there are none (ISO 32000-1, 12.3.3).
func (d *Document) outlines(w *writer) int {
	if len(d.marks) == 0 {
		return 0
	}
	type node struct {
		num, parent int // parent is an index; -1 the root
		level       int
		kids        []int
	}
	root := w.reserve()
	nodes := make([]node, len(d.marks))
	var top, open []int
	for i, m := range d.marks {
		for len(open) > 0 && nodes[open[len(open)-1]].level >= m.level {
			open = open[:len(open)-1]
		}
		nodes[i] = node{num: w.reserve(), parent: -1, level: m.level}
		if len(open) > 0 {
			p := open[len(open)-1]
			nodes[i].parent = p
			nodes[p].kids = append(nodes[p].kids, i)
		} else {
			top = append(top, i)
		}
		open = append(open, i)
	}
	var put func(list []int, parent int)
	put = func(list []int, parent int) {
		for k, i := range list {
			n := nodes[i]
			dict := fmt.Sprintf("<</Title %s /Parent %d 0 R /Dest %s", text(d.marks[i].title), parent, d.marks[i].at.dest())
			if k > 0 {
				dict += fmt.Sprintf(" /Prev %d 0 R", nodes[list[k-1]].num)
			}
			if k+1 < len(list) {
				dict += fmt.Sprintf(" /Next %d 0 R", nodes[list[k+1]].num)
			}
			if len(n.kids) > 0 {
				sign := "-" // folded
				if parent == root {
					sign = ""
				}
				dict += fmt.Sprintf(" /First %d 0 R /Last %d 0 R /Count %s%d", nodes[n.kids[0]].num, nodes[n.kids[len(n.kids)-1]].num, sign, len(n.kids))
				put(n.kids, n.num)
			}
			w.put(n.num, dict+">>")
		}
	}
	put(top, root)
	w.put(root, fmt.Sprintf("<</Type /Outlines /First %d 0 R /Last %d 0 R /Count %d>>", nodes[top[0]].num, nodes[top[len(top)-1]].num, len(top)))
	return root
}

// xmp is the metadata of the file (ISO 32000-1, 14.3.2).
func (d *Document) xmp() []byte {
	esc := func(s string) string {
		var b bytes.Buffer
		xml.EscapeText(&b, []byte(s)) // a buffer takes everything
		return b.String()
	}
	var b strings.Builder
	b.WriteString("<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n")
	b.WriteString("<dc:format>application/pdf</dc:format>\n<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">" + esc(d.info.Title) + "</rdf:li></rdf:Alt></dc:title>\n")
	b.WriteString("<dc:language><rdf:Bag><rdf:li>" + esc(d.info.Language) + "</rdf:li></rdf:Bag></dc:language>\n")
	if d.info.Subject != "" {
		b.WriteString("<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">" + esc(d.info.Subject) + "</rdf:li></rdf:Alt></dc:description>\n")
	}
	b.WriteString("<pdf:Producer>" + esc(d.info.Producer) + "</pdf:Producer>\n")
	if !d.info.Created.IsZero() {
		b.WriteString("<xmp:CreateDate>" + d.info.Created.UTC().Format("2006-01-02T15:04:05Z") + "</xmp:CreateDate>\n")
	}
	b.WriteString("</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>")
	return []byte(b.String())
}

// packed is how many objects stand in one object stream.
const packed = 200

// finish writes header, objects, cross-reference stream and trailer (ISO 32000-1,
// 7.5.7 and 7.5.8).
func (w *writer) finish(out io.Writer, catalog, info int) error {
	f := &counted{w: out}
	digest := sha256.New()
	f.also = digest
	f.print("%%PDF-1.7\n%%\xe2\xe3\xcf\xd3\n")
	type where struct {
		kind   int // 1 at an offset, 2 in an object stream
		at, in int
	}
	last := len(w.objects)
	at := make([]where, last+1)
	var small []int
	var groups []int // numbers of the object streams
	flush := func() {
		if len(small) == 0 {
			return
		}
		num := len(w.objects) + len(groups) + 1
		var index, body bytes.Buffer
		for i, n := range small {
			fmt.Fprintf(&index, "%d %d ", n, body.Len())
			body.WriteString(w.objects[n-1].dict)
			body.WriteByte('\n')
			at[n] = where{2, num, i}
		}
		groups = append(groups, num)
		at = append(at, where{1, f.n, 0})
		data := pressed(append(index.Bytes(), body.Bytes()...))
		f.print("%d 0 obj\n<</Type /ObjStm /N %d /First %d /Filter /FlateDecode /Length %d>>\nstream\n", num, len(small), index.Len(), len(data))
		f.Write(data)
		f.print("\nendstream\nendobj\n")
		small = small[:0]
	}
	for i := range w.objects {
		o := &w.objects[i]
		if o.stream == nil {
			continue
		}
		at[i+1] = where{1, f.n, 0}
		data, filter := o.stream, ""
		if !o.raw {
			data, filter = pressed(data), " /Filter /FlateDecode"
		}
		f.print("%d 0 obj\n<<%s%s /Length %d>>\nstream\n", i+1, o.dict, filter, len(data))
		f.Write(data)
		f.print("\nendstream\nendobj\n")
		o.stream = []byte{} // done
	}
	for i := range w.objects {
		if w.objects[i].stream != nil {
			continue
		}
		if w.objects[i].dict == "" {
			w.objects[i].dict = "null"
		}
		if small = append(small, i+1); len(small) == packed {
			flush()
		}
	}
	flush()
	xref := len(at)
	at = append(at, where{1, f.n, 0})
	var table bytes.Buffer
	table.Write([]byte{0, 0, 0, 0, 0, 0xff, 0xff})
	for _, x := range at[1:] {
		table.Write([]byte{byte(x.kind), byte(x.at >> 24), byte(x.at >> 16), byte(x.at >> 8), byte(x.at), byte(x.in >> 8), byte(x.in)})
	}
	data := pressed(table.Bytes())
	id := fmt.Sprintf("%X", digest.Sum(nil)[:16])
	start := f.n
	f.print("%d 0 obj\n<</Type /XRef /Size %d /W [1 4 2] /Root %d 0 R /Info %d 0 R /ID [<%s> <%s>] /Filter /FlateDecode /Length %d>>\nstream\n", xref, xref+1, catalog, info, id, id, len(data))
	f.Write(data)
	f.print("\nendstream\nendobj\nstartxref\n%d\n%%%%EOF\n", start)
	return f.err
}

// pressed compresses data.
func pressed(data []byte) []byte {
	var b bytes.Buffer
	z, _ := zlib.NewWriterLevel(&b, 6) // the level is one that there is
	z.Write(data)                      // a buffer takes everything
	z.Close()
	return b.Bytes()
}

// counted counts what is written, and stops at the first error.
type counted struct {
	w    io.Writer
	also io.Writer
	n    int
	err  error
}

func (c *counted) Write(p []byte) (int, error) {
	if c.err != nil {
		return 0, c.err
	}
	n, err := c.w.Write(p)
	c.n += n
	c.err = err
	c.also.Write(p)
	return n, err
}

func (c *counted) print(format string, args ...any) { fmt.Fprintf(c, format, args...) }
