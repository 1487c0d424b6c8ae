package workbook

import (
	"archive/zip"
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"underlamp/formats/tables"
)

const (
	mostRows    = 1_048_576
	mostColumns = 16_384
	mostText    = 32_767
)

// A Book is what to write.
type Book struct {
	Title    string
	Created  time.Time
	About    [][2]string // what it is: word and text; nil: no such sheet
	Tables   []*tables.Table
	Headings bool // headings are the titles of columns, not their names
	Fields   bool // with a sheet that describes the columns
}

// Styles of cells, in the order of the style sheet.
const (
	plain = iota
	heading
	dateStyle
	timeStyle
	wrapped
)

const (
	head = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	main = `http://schemas.openxmlformats.org/spreadsheetml/2006/main`
	rels = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	pack = `http://schemas.openxmlformats.org/package/2006/relationships`

	styles = head + `<styleSheet xmlns="` + main + `"><numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd"/><numFmt numFmtId="165" formatCode="yyyy\-mm\-dd\ hh:mm:ss"/></numFmts>` +
		`<fonts count="2"><font><sz val="11"/><name val="Calibri"/><family val="2"/></font><font><b/><sz val="11"/><name val="Calibri"/><family val="2"/></font></fonts>` +
		`<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills>` +
		`<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>` +
		`<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>` +
		`<cellXfs count="5"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>` +
		`<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/><xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>` +
		`<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" applyAlignment="1"><alignment vertical="top" wrapText="1"/></xf></cellXfs>` +
		`<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles><dxfs count="0"/><tableStyles count="0"/></styleSheet>`
)

// sheet is a sheet to write.
type sheet struct {
	name   string
	widths []int
	wrap   bool // long texts are broken
	rows   func(each func(row []any) error) error
	top    []any // the heading
}

// Write writes a workbook. The same content gives the same bytes.
func Write(w io.Writer, b Book) error {
	var all []sheet
	taken := map[string]bool{}
	named := func(name string) string {
		name = sheetName(name)
		for i := 2; taken[strings.ToLower(name)]; i++ {
			name = sheetName(name[:min(len(name), 27)] + fmt.Sprint(" ", i))
		}
		taken[strings.ToLower(name)] = true
		return name
	}
	if b.About != nil {
		rows := [][]any{}
		for _, x := range b.About {
			rows = append(rows, []any{tables.TextOf(x[0]), tables.TextOf(x[1])})
		}
		all = append(all, sheet{name: named("about"), widths: []int{22, 100}, wrap: true, rows: tables.Of(rows), top: []any{"what", b.Title}})
	}
	for _, t := range b.Tables {
		if err := t.Check(); err != nil {
			return err
		}
		if len(t.Columns) > mostColumns {
			return fmt.Errorf("the table %s has more columns than a sheet can hold", t.Name)
		}
		name := t.Name
		if b.Headings && t.Title != "" {
			name = t.Title
		}
		s := sheet{name: named(name), rows: t.Each}
		for _, c := range t.Columns {
			name := c.Name
			if b.Headings && c.Title != "" {
				name = c.Title
			}
			s.top = append(s.top, name)
			s.widths = append(s.widths, max(10, min(40, utf8.RuneCountInString(name)+3)))
		}
		all = append(all, s)
	}
	if b.Fields {
		all = append(all, sheet{name: named("fields"), widths: []int{20, 22, 12, 14, 90}, wrap: true, top: []any{"table", "column", "type", "unit", "what it is"}, rows: tables.Of(fieldRows(b.Tables))})
	}
	return write(w, b, all)
}

func fieldRows(all []*tables.Table) (rows [][]any) {
	for _, t := range all {
		rows = append(rows, []any{t.Name, nil, nil, nil, tables.TextOf(t.About)})
		for _, c := range t.Columns {
			rows = append(rows, []any{t.Name, c.Name, string(c.Kind), tables.TextOf(c.Unit), tables.TextOf(c.About)})
		}
	}
	return rows
}

// sheetName is what can be the name of a sheet.
func sheetName(s string) string {
	s = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\`, r) {
			return '-'
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 31 {
		s = string(r[:31])
	}
	return strings.Trim(s, "' ")
}

func write(w io.Writer, b Book, all []sheet) error {
	z := zip.NewWriter(w)
	put := func(name string, fill func(w *bufio.Writer) error) error {
		part, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: b.Created.UTC().Truncate(2 * time.Second)})
		if err != nil {
			return err
		}
		out := bufio.NewWriterSize(part, 1<<16)
		if err := fill(out); err != nil {
			return err
		}
		return out.Flush()
	}
	text := func(s string) func(w *bufio.Writer) error {
		return func(w *bufio.Writer) error { _, err := w.WriteString(s); return err }
	}
	types := head + `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>` +
		`<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/><Override PartName="/docProps/core.xml" ContentType="application/vnd.openxmlformats-package.core-properties+xml"/>`
	book := head + `<workbook xmlns="` + main + `" xmlns:r="` + rels + `"><sheets>`
	links := head + `<Relationships xmlns="` + pack + `">`
	for i, s := range all {
		types += fmt.Sprintf(`<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, i+1)
		book += fmt.Sprintf(`<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, escaped(s.name), i+1, i+1)
		links += fmt.Sprintf(`<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, i+1, rels, i+1)
	}
	types += `</Types>`
	book += `</sheets></workbook>`
	links += fmt.Sprintf(`<Relationship Id="rId%d" Type="%s/styles" Target="styles.xml"/></Relationships>`, len(all)+1, rels)
	core := head + `<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"><dc:title>` + escaped(b.Title) + `</dc:title>` +
		`<dcterms:created xsi:type="dcterms:W3CDTF">` + b.Created.UTC().Format(time.RFC3339) + `</dcterms:created></cp:coreProperties>`
	for _, x := range []struct{ name, text string }{
		{"[Content_Types].xml", types},
		{"_rels/.rels", head + `<Relationships xmlns="` + pack + `"><Relationship Id="rId1" Type="` + rels + `/officeDocument" Target="xl/workbook.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/package/2006/relationships/metadata/core-properties" Target="docProps/core.xml"/></Relationships>`},
		{"docProps/core.xml", core}, {"xl/workbook.xml", book}, {"xl/_rels/workbook.xml.rels", links}, {"xl/styles.xml", styles},
	} {
		if err := put(x.name, text(x.text)); err != nil {
			return err
		}
	}
	for i, s := range all {
		if err := put(fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1), s.write); err != nil {
			return err
		}
	}
	return z.Close()
}

func (s *sheet) write(w *bufio.Writer) error {
	w.WriteString(head + `<worksheet xmlns="` + main + `"><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><cols>`)
	for i, n := range s.widths {
		fmt.Fprintf(w, `<col min="%d" max="%d" width="%d" customWidth="1"/>`, i+1, i+1, n)
	}
	w.WriteString(`</cols><sheetData>`)
	n := 0
	line := func(row []any, top bool) error {
		if n++; n > mostRows {
			return fmt.Errorf("the table %s has more rows than a sheet can hold (%d); take the package, CSV or Parquet", s.name, mostRows)
		}
		fmt.Fprintf(w, `<row r="%d">`, n)
		for i, cell := range row {
			if err := s.cell(w, i, n, cell, top); err != nil {
				return err
			}
		}
		_, err := w.WriteString(`</row>`)
		return err
	}
	if err := line(s.top, true); err != nil {
		return err
	}
	if err := s.rows(func(row []any) error { return line(row, false) }); err != nil {
		return err
	}
	_, err := w.WriteString(`</sheetData></worksheet>`)
	return err
}

// whole is the greatest whole number that a sheet holds: it has numbers of 53 bits.
const whole = 1 << 53

// firstDay is the first day that all programs count alike.
var firstDay = time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)

func (s *sheet) cell(w *bufio.Writer, column, row int, cell any, top bool) error {
	if cell == nil {
		return nil
	}
	style := plain
	if s.wrap {
		style = wrapped
	}
	if top {
		style = heading
	}
	at := columnName(column) + fmt.Sprint(row)
	number := func(v string, style int) {
		fmt.Fprintf(w, `<c r="%s"`, at)
		if style != plain {
			fmt.Fprintf(w, ` s="%d"`, style)
		}
		fmt.Fprintf(w, `><v>%s</v></c>`, v)
	}
	switch x := cell.(type) {
	case float64:
		number(tables.Print(x), style)
		return nil
	case int64:
		if x > -whole && x < whole {
			number(tables.Print(x), style)
			return nil
		}
	case bool:
		v := 0
		if x {
			v = 1
		}
		fmt.Fprintf(w, `<c r="%s" t="b"><v>%d</v></c>`, at, v)
		return nil
	case tables.Day:
		if !x.Midnight().Before(firstDay) {
			number(tables.Print(serial(x.Midnight())), dateStyle)
			return nil
		}
	case time.Time:
		if !x.Before(firstDay) {
			number(tables.Print(serial(x.UTC().Truncate(time.Millisecond))), timeStyle)
			return nil
		}
	}
	text := tables.Print(cell)
	if utf8.RuneCountInString(text) > mostText {
		return fmt.Errorf("the table %s, row %d: a text is longer than a sheet can hold (%d characters); take the package, CSV or Parquet", s.name, row, mostText)
	}
	fmt.Fprintf(w, `<c r="%s"`, at)
	if style != plain {
		fmt.Fprintf(w, ` s="%d"`, style)
	}
	fmt.Fprintf(w, ` t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, escaped(text))
	return nil
}

// serial counts days as sheets do.
func serial(t time.Time) float64 {
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	ms := t.Sub(epoch).Milliseconds()
	return math.Floor(float64(ms)/86_400_000) + float64(ms%86_400_000)/86_400_000
}

func columnName(i int) string {
	var s string
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}

// escaped is a text as XML, where characters that XML cannot hold are written as sheets
// write them: _x000B_.
func escaped(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&quot;")
		case r == '\r':
			b.WriteString("_x000D_")
		case r < ' ' && r != '\t' && r != '\n', r == 0xFFFE, r == 0xFFFF:
			fmt.Fprintf(&b, "_x%04X_", r)
		case r == '_' && looksEscaped(s[i:]):
			b.WriteString("_x005F_")
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// looksEscaped says that a text begins as an escape does.
func looksEscaped(s string) bool {
	if len(s) < 7 || s[1] != 'x' || s[6] != '_' {
		return false
	}
	for _, c := range s[2:6] {
		if !strings.ContainsRune("0123456789abcdefABCDEF", c) {
			return false
		}
	}
	return true
}
