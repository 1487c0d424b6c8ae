package sheet

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ods reads a workbook of OpenDocument 1.3 (OASIS, part 3: table:table, office:value-type).
func (p *pack) ods() (*Book, error) {
	in, err := p.open("content.xml")
	if err != nil {
		return nil, err
	}
	defer in.Close()
	d := decoder(in)
	out := &Book{Format: "ODS"}
	o := &odsReader{d: d}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "text":
			if strings.HasSuffix(e.Name.Space, ":office:1.0") {
				return nil, &Error{Reason: "this is a document of an office program, and no workbook", Do: "give the table itself: CSV, XLSX or ODS"}
			}
		case "table":
			if len(out.Sheets) == maxSheets {
				return nil, &Error{Reason: fmt.Sprintf("the workbook has more than %d sheets", maxSheets), Do: "keep those that are needed"}
			}
			s, err := o.table(attr(e, "name"))
			if err != nil {
				return nil, err
			}
			out.Sheets = append(out.Sheets, s)
		}
	}
	if len(out.Sheets) == 0 {
		return nil, &Error{Reason: "the workbook has no sheet that can be read"}
	}
	return out, nil
}

type odsReader struct {
	d     *xml.Decoder
	cells int
}

// table reads one table to its end.
func (o *odsReader) table(name string) (*Sheet, error) {
	s := &Sheet{Name: name, HiddenColumns: map[int]bool{}}
	var hidden, formulas, lost []int
	var merges []string
	n, column, depth := 0, 0, 1
	for depth > 0 {
		tok, err := o.d.Token()
		if err != nil {
			return nil, err
		}
		switch e := tok.(type) {
		case xml.EndElement:
			depth--
		case xml.StartElement:
			switch e.Name.Local {
			case "table-column":
				times := repeated(e, "number-columns-repeated")
				if v := attr(e, "visibility"); v == "collapse" || v == "filter" {
					for c := column; c < min(column+times, maxColumns); c++ {
						s.HiddenColumns[c] = true
					}
				}
				column += times
				depth++
			case "table-row":
				times := repeated(e, "number-rows-repeated")
				row, err := o.row(s, n+1, &merges)
				if err != nil {
					return nil, err
				}
				v := attr(e, "visibility")
				row.Hidden = v == "collapse" || v == "filter"
				if !row.Blank() {
					for i := range times {
						if o.cells += len(row.Cells); o.cells > MaxCells {
							return nil, tooMany(fmt.Sprintf("sheet %s, row %d", name, n+1))
						}
						r := row
						r.N = n + 1 + i
						s.Rows = append(s.Rows, r)
						if r.Hidden {
							hidden = append(hidden, r.N)
						}
					}
				}
				for _, c := range row.Cells {
					if c.Formula && c.Blank() {
						lost = append(lost, n+1)
					} else if c.Formula {
						formulas = append(formulas, n+1)
					}
				}
				if n += times; n > 1<<24 {
					return nil, errors.New("the sheet has too many rows")
				}
			case "shapes", "forms", "named-expressions", "table-source", "tracked-changes":
				if err := o.d.Skip(); err != nil {
					return nil, err
				}
			default:
				depth++
			}
		}
	}
	if n := s.merge(merges); n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("Merged cells: %d; those that are merged downwards stand for each of their rows.", n))
	}
	s.noted(hidden, formulas, lost, nil)
	return s, nil
}

func repeated(e xml.StartElement, name string) int {
	n, err := strconv.Atoi(attr(e, name))
	if err != nil || n < 1 {
		return 1
	}
	return min(n, 1<<24)
}

// row reads one row to its end.
func (o *odsReader) row(s *Sheet, n int, merges *[]string) (Row, error) {
	row := Row{N: n}
	at := 0 // also of empty cells, which are often repeated to the last column there is
	for {
		tok, err := o.d.Token()
		if err != nil {
			return row, err
		}
		if _, ends := tok.(xml.EndElement); ends {
			return row, nil
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		c, err := o.cell(e)
		if err != nil {
			return row, err
		}
		times := repeated(e, "number-columns-repeated")
		if down := repeated(e, "number-rows-spanned"); down > 1 || repeated(e, "number-columns-spanned") > 1 {
			if *merges = append(*merges, fmt.Sprintf("%s%d:%s%d", Letters(min(at, maxColumns)), n, Letters(min(at, maxColumns)), n+down-1)); len(*merges) > 100_000 {
				return row, errors.New("more than 100 000 merged cells")
			}
		}
		if c.Kind == Empty && !c.Formula {
			at = min(at+times, 1<<20)
			continue
		}
		if at+times > maxColumns {
			return row, tooWide(fmt.Sprintf("sheet %s, row %d", s.Name, n))
		}
		for len(row.Cells) < at {
			row.Cells = append(row.Cells, Cell{})
		}
		for range times {
			row.Cells = append(row.Cells, c)
		}
		at += times
	}
}

// cell reads one cell to its end.
func (o *odsReader) cell(e xml.StartElement) (Cell, error) {
	c := Cell{Formula: attr(e, "formula") != ""}
	var b strings.Builder
	depth, lines, within := 1, 0, 0
	for depth > 0 {
		tok, err := o.d.Token()
		if err != nil {
			return c, err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "annotation", "shape", "frame": // a comment is no part of the cell
				if err := o.d.Skip(); err != nil {
					return c, err
				}
				continue
			case "p":
				if lines++; lines > 1 {
					b.WriteByte('\n')
				}
				within++
			case "s":
				b.WriteString(strings.Repeat(" ", min(repeated(t, "c"), 100)))
			case "tab", "line-break":
				b.WriteByte(' ')
			}
			depth++
		case xml.EndElement:
			if t.Name.Local == "p" && depth > 1 {
				within--
			}
			depth--
		case xml.CharData:
			if within > 0 {
				b.Write(t)
			}
			if b.Len() > 8*maxText {
				return c, errors.New("a cell is too long")
			}
		}
	}
	text := strings.TrimSpace(b.String())
	kind := ""
	for _, a := range e.Attr { // the office: one; programs write one of their own beside it
		if a.Name.Local == "value-type" && strings.HasSuffix(a.Name.Space, ":office:1.0") {
			kind = a.Value
		}
	}
	switch kind {
	case "float", "currency", "percentage":
		v, err := strconv.ParseFloat(attr(e, "value"), 64)
		if err != nil {
			return c, fmt.Errorf("a number is %q", attr(e, "value"))
		}
		if strings.HasPrefix(text, "#") { // a fault keeps the type of its formula
			c.Kind, c.Text = Fault, text
			return c, nil
		}
		c.Kind, c.Value, c.Percent = Number, v, kind == "percentage" || strings.HasSuffix(text, "%")
	case "date":
		v, _, ok := isoTime(attr(e, "date-value"))
		if !ok {
			c.Kind, c.Text = Text, text
			break
		}
		c.Kind, c.Value = Day, v
	case "time":
		v, ok := odsTime(attr(e, "time-value"))
		if !ok {
			c.Kind, c.Text = Text, text
			break
		}
		c.Kind, c.Value = Clock, v
	case "boolean":
		if c.Kind = YesNo; attr(e, "boolean-value") == "true" {
			c.Value = 1
		}
	default:
		switch {
		case strings.HasPrefix(text, "#") && c.Formula:
			c.Kind, c.Text = Fault, text
		case text != "":
			c.Kind, c.Text = Text, text
		}
	}
	return c, nil
}

// odsTime reads PT14H30M00S.
func odsTime(s string) (float64, bool) {
	rest, ok := strings.CutPrefix(s, "PT")
	if !ok {
		return 0, false
	}
	total, from := 0.0, 0
	for i, c := range rest {
		if c >= '0' && c <= '9' || c == '.' || c == ',' {
			continue
		}
		v, err := strconv.ParseFloat(strings.Replace(rest[from:i], ",", ".", 1), 64)
		if err != nil {
			return 0, false
		}
		switch c {
		case 'H':
			total += 3600 * v
		case 'M':
			total += 60 * v
		case 'S':
			total += v
		default:
			return 0, false
		}
		from = i + 1
	}
	return total / 86400, total >= 0
}
