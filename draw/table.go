package draw

import "strings"

// A Table is the twin of a picture: the same numbers for a screen reader, for
// copying, for those who like to read numbers. The first cell of a row names it.
type Table struct {
	Caption string
	Head    []string
	Rows    [][]string
}

// HTML returns the table as one table element with all text escaped, a caption,
// and headers that say what they head. Cells that begin with a number and are no list are of
// class d-num. A row that has not as many cells as the head panics.
func (t Table) HTML() string {
	var b strings.Builder
	b.WriteString(`<table class="d-table"><caption>`)
	b.WriteString(escape(t.Caption))
	b.WriteString("</caption>")
	if len(t.Head) > 0 {
		b.WriteString("<thead><tr>")
		for i, h := range t.Head {
			b.WriteString(`<th scope="col"`)
			if t.numeric(i) {
				b.WriteString(` class="d-num"`)
			}
			b.WriteString(">" + escape(h) + "</th>")
		}
		b.WriteString("</tr></thead>")
	}
	b.WriteString("<tbody>")
	for _, row := range t.Rows {
		if len(row) != len(t.Head) {
			panic("draw: Table: a row has not as many cells as the head")
		}
		b.WriteString("<tr>")
		for i, cell := range row {
			switch {
			case i == 0 && strings.Contains(cell, "-") && !strings.Contains(cell, " "): // a code, which does not break
				b.WriteString(`<th scope="row" class="d-code">` + escape(cell) + "</th>")
			case i == 0:
				b.WriteString(`<th scope="row">` + escape(cell) + "</th>")
			case startsNumber(cell):
				b.WriteString(`<td class="d-num">` + escape(cell) + "</td>")
			default:
				b.WriteString("<td>" + escape(cell) + "</td>")
			}
		}
		b.WriteString("</tr>")
	}
	b.WriteString("</tbody></table>")
	return b.String()
}

// numeric tells whether the first filled cell of column i, but for the first
// column, begins with a number: its heading then stands over the numbers.
func (t Table) numeric(i int) bool {
	if i == 0 {
		return false
	}
	for _, row := range t.Rows {
		if i < len(row) && row[i] != "" && row[i] != missing {
			return startsNumber(row[i])
		}
	}
	return false
}

// missing is what a cell says when its number is not known.
const missing = "not known"

func startsNumber(s string) bool {
	if strings.Contains(s, "; ") { // a list, which reads from the left
		return false
	}
	for _, before := range [...]string{"under ", "over ", "about ", "< ", "> "} {
		s = strings.TrimPrefix(s, before)
	}
	s = strings.TrimLeft(s, "+−-")
	return s != "" && s[0] >= '0' && s[0] <= '9'
}

// escape makes text safe within an element or an attribute in double quotes, in
// HTML and in XML alike. Characters that XML forbids become U+FFFD.
func escape(s string) string {
	clean := true
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < 0x20 || c >= 0x7f || c == '<' || c == '>' || c == '&' || c == '"' || c == '\'' {
			clean = false
			break
		}
	}
	if clean {
		return s
	}
	var b strings.Builder
	b.Grow(len(s) + 16)
	for _, r := range s { // an invalid byte reads as U+FFFD
		switch {
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '&':
			b.WriteString("&amp;")
		case r == '"':
			b.WriteString("&#34;")
		case r == '\'':
			b.WriteString("&#39;")
		case r == '\n' || r == '\t' || r == '\r':
			b.WriteByte(' ')
		case r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0xfffe || r == 0xffff:
			b.WriteRune('\ufffd')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
