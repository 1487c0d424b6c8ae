package sheet

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"
)

// xlsx reads a workbook of ECMA-376 Part 1.
func (p *pack) xlsx() (*Book, error) {
	var top struct {
		R []relation `xml:"Relationship"`
	}
	main := "xl/workbook.xml"
	if err := p.whole("_rels/.rels", &top); err == nil {
		for _, r := range top.R {
			if strings.HasSuffix(r.Type, "/officeDocument") {
				main = strings.TrimPrefix(path.Clean("/"+r.Target), "/")
			}
		}
	} else if !errors.Is(err, errNoPart) {
		return nil, err
	}
	if p.files[main] == nil {
		return nil, &Error{Reason: "this is a document of an office program, and no workbook", Do: "give the table itself: CSV, XLSX or ODS"}
	}
	var book struct {
		Pr struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []struct {
			Name  string `xml:"name,attr"`
			State string `xml:"state,attr"`
			ID    string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
			IDs   string `xml:"http://purl.oclc.org/ooxml/officeDocument/relationships id,attr"` // of the strict kind
		} `xml:"sheets>sheet"`
	}
	if err := p.whole(main, &book); err != nil {
		return nil, err
	}
	var rels struct {
		R []relation `xml:"Relationship"`
	}
	dir := path.Dir(main)
	if err := p.whole(path.Join(dir, "_rels", path.Base(main)+".rels"), &rels); err != nil && !errors.Is(err, errNoPart) {
		return nil, err
	}
	target := func(t string) string {
		if strings.HasPrefix(t, "/") {
			return strings.TrimPrefix(path.Clean(t), "/")
		}
		return strings.TrimPrefix(path.Join("/", dir, t), "/")
	}
	x := &xlsxReader{pack: p, from1904: yes(book.Pr.Date1904)}
	for _, r := range rels.R {
		var err error
		switch {
		case strings.HasSuffix(r.Type, "/sharedStrings"):
			err = x.readShared(target(r.Target))
		case strings.HasSuffix(r.Type, "/styles"):
			err = x.readStyles(target(r.Target))
		}
		if err != nil && !errors.Is(err, errNoPart) {
			return nil, err
		}
	}
	if x.shared == nil { // some programs do not name the part
		if err := x.readShared(target("sharedStrings.xml")); err != nil && !errors.Is(err, errNoPart) {
			return nil, err
		}
	}
	out := &Book{Format: "XLSX"}
	if x.from1904 {
		out.Notes = append(out.Notes, "Days of this workbook are counted from 1904.")
	}
	if len(book.Sheets) > maxSheets {
		return nil, &Error{Reason: fmt.Sprintf("the workbook has more than %d sheets", maxSheets), Do: "keep those that are needed"}
	}
	for _, sh := range book.Sheets {
		for _, r := range rels.R {
			if r.ID != sh.ID && r.ID != sh.IDs || strings.HasSuffix(r.Type, "/chartsheet") || strings.HasSuffix(r.Type, "/dialogsheet") {
				continue
			}
			s := &Sheet{Name: sh.Name, Hidden: sh.State == "hidden" || sh.State == "veryHidden", HiddenColumns: map[int]bool{}}
			if err := x.readSheet(target(r.Target), s); err != nil {
				return nil, err
			}
			out.Sheets = append(out.Sheets, s)
			break
		}
	}
	if len(out.Sheets) == 0 {
		return nil, &Error{Reason: "the workbook has no sheet that can be read"}
	}
	return out, nil
}

type relation struct {
	ID     string `xml:"Id,attr"`
	Type   string `xml:"Type,attr"`
	Target string `xml:"Target,attr"`
}

// What a format makes of a number.
type look uint8

const (
	lookNumber look = iota
	lookDay
	lookClock // hours and minutes without a day
	lookPercent
)

type xlsxReader struct {
	*pack
	from1904 bool
	shared   []string
	looks    []look // by the index of a style
	cells    int
}

// readShared reads the texts that cells share; furigana (rPh) is no part of them.
func (x *xlsxReader) readShared(name string) error {
	in, err := x.open(name)
	if err != nil {
		return err
	}
	defer in.Close()
	d := decoder(in)
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "si" {
			if len(x.shared) >= MaxCells {
				return tooMany("the texts of the workbook")
			}
			s, err := textWithin(d)
			if err != nil {
				return err
			}
			x.shared = append(x.shared, s)
		}
	}
}

// textWithin is the text of the elements t up to the end of the element that was opened.
func textWithin(d *xml.Decoder) (string, error) {
	var b strings.Builder
	depth, in, skip := 1, false, 0
	for depth > 0 {
		tok, err := d.Token()
		if err != nil {
			return "", err
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if depth++; e.Name.Local == "rPh" && skip == 0 {
				skip = depth
			}
			in = e.Name.Local == "t" && skip == 0
		case xml.EndElement:
			if depth == skip {
				skip = 0
			}
			depth--
			in = false
		case xml.CharData:
			if in {
				b.Write(e)
			}
		}
	}
	return unescaped(b.String()), nil
}

// unescaped reads _x000D_ and its like (ECMA-376 Part 1, §22.9.2.19, ST_Xstring).
func unescaped(s string) string {
	for at := 0; ; {
		i := strings.Index(s[at:], "_x")
		if i < 0 {
			return s
		}
		i += at
		if i+7 > len(s) || s[i+6] != '_' {
			at = i + 2
			continue
		}
		n, err := strconv.ParseUint(s[i+2:i+6], 16, 16)
		if err != nil || n >= 0xd800 && n < 0xe000 {
			at = i + 2
			continue
		}
		r := string(rune(n))
		if n == '\r' {
			r = ""
		}
		s = s[:i] + r + s[i+7:]
		at = i + len(r)
	}
}

func (x *xlsxReader) readStyles(name string) error {
	var st struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Cells []struct {
			ID int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := x.whole(name, &st); err != nil {
		return err
	}
	own := map[int]look{}
	for _, f := range st.Formats {
		own[f.ID] = lookOf(f.Code)
	}
	for _, c := range st.Cells {
		l, ok := own[c.ID]
		if !ok {
			l = builtin(c.ID)
		}
		x.looks = append(x.looks, l)
	}
	return nil
}

// builtin is what the formats mean that a workbook need not write down (ECMA-376 Part 1,
// §18.8.30, numFmt; 27 to 36 and 50 to 58 are days in the languages of East Asia).
func builtin(id int) look {
	switch {
	case id == 9 || id == 10:
		return lookPercent
	case id >= 14 && id <= 17, id == 22, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 58:
		return lookDay
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47:
		return lookClock
	}
	return lookNumber
}

// lookOf reads a format such as yyyy-mm-dd, [h]:mm or 0.0%: of its first section the letters
// that stand outside of quotes, brackets and escapes.
func lookOf(code string) look {
	day, clock, months, percent := false, false, 0, false
	rs := []rune(strings.ToLower(code))
scan:
	for i := 0; i < len(rs); i++ {
		switch c := rs[i]; c {
		case ';':
			break scan
		case '"':
			for i++; i < len(rs) && rs[i] != '"'; i++ {
			}
		case '\\', '_', '*':
			i++
		case '[':
			from := i + 1
			for i++; i < len(rs) && rs[i] != ']'; i++ {
			}
			if s := string(rs[from:min(i, len(rs))]); s != "" && strings.Trim(s, "hms") == "" {
				clock = true
			}
		case 'g':
			if strings.HasPrefix(string(rs[i:]), "general") {
				i += len("general") - 1
			}
		case 'y', 'd', 'e':
			if c == 'e' && i+1 < len(rs) && (rs[i+1] == '+' || rs[i+1] == '-') {
				continue // 0.00E+00
			}
			day = true
		case 'h', 's':
			clock = true
		case 'm':
			months++
		case '%':
			percent = true
		}
	}
	switch {
	case day, months > 0 && !clock:
		return lookDay
	case clock:
		return lookClock
	case percent:
		return lookPercent
	}
	return lookNumber
}

var (
	epoch1900 = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).Unix() / 86400
	epoch1904 = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC).Unix() / 86400
)

// lastSerial is 9999-12-31 from 1900.
const lastSerial = 2_958_465

// SerialDay is the day, counted from 1970-01-01, of a serial number of a workbook (ECMA-376
// Part 1, §18.17.4). Serial 60 of 1900 is 1900-02-29, which never was: it is no day, nor is
// what lies before the first day or behind the year 9999.
func SerialDay(serial float64, from1904 bool) (float64, bool) {
	if from1904 {
		return serial + float64(epoch1904), serial >= 0 && serial <= lastSerial-1462
	}
	switch {
	case !(serial >= 1) || serial >= lastSerial+1, serial >= 60 && serial < 61:
		return 0, false
	case serial < 60:
		serial++ // the program that began it took 1900 for a leap year
	}
	return serial + float64(epoch1900), true
}

func (x *xlsxReader) readSheet(name string, s *Sheet) error {
	in, err := x.open(name)
	if err != nil {
		return err
	}
	defer in.Close()
	d := decoder(in)
	var row *Row
	var formulas, lost, odd []int // rows
	var hidden []int
	var merges []string
	last := 0
	for {
		tok, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if e, ok := tok.(xml.EndElement); ok && e.Name.Local == "row" && row != nil {
			if !row.Blank() {
				s.Rows = append(s.Rows, *row)
				if row.Hidden {
					hidden = append(hidden, row.N)
				}
			}
			row = nil
			continue
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "col":
			if yes(attr(e, "hidden")) {
				from, err1 := strconv.Atoi(attr(e, "min"))
				to, err2 := strconv.Atoi(attr(e, "max"))
				for c := from; err1 == nil && err2 == nil && c <= min(to, maxColumns); c++ {
					s.HiddenColumns[c-1] = true
				}
			}
		case "row":
			last++
			if n, err := strconv.Atoi(attr(e, "r")); err == nil && n >= last {
				last = n
			}
			row = &Row{N: last, Hidden: yes(attr(e, "hidden"))}
		case "c":
			if row == nil {
				return errors.New("a cell outside of a row")
			}
			c, at, what, err := x.cell(d, e, len(row.Cells))
			if err != nil {
				return err
			}
			place := fmt.Sprintf("sheet %s, row %d", s.Name, row.N)
			if at < 0 || at >= 16_384 {
				return fmt.Errorf("the cell %q is nowhere", attr(e, "r"))
			}
			if c.Kind == Empty && what == "" {
				continue
			}
			if at >= maxColumns {
				return tooWide(place)
			}
			if x.cells += 1 + max(0, at-len(row.Cells)); x.cells > MaxCells {
				return tooMany(place)
			}
			for len(row.Cells) <= at {
				row.Cells = append(row.Cells, Cell{})
			}
			row.Cells[at] = c
			switch {
			case what == "lost":
				lost = append(lost, row.N)
			case what == "odd":
				odd = append(odd, row.N)
			case c.Formula:
				formulas = append(formulas, row.N)
			}
		case "mergeCell":
			if merges = append(merges, attr(e, "ref")); len(merges) > 100_000 {
				return errors.New("more than 100 000 merged cells")
			}
		}
	}
	if n := s.merge(merges); n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("Merged cells: %d; those that are merged downwards stand for each of their rows.", n))
	}
	s.noted(hidden, formulas, lost, odd)
	return nil
}

// noted tells what is odd about rows.
func (s *Sheet) noted(hidden, formulas, lost, odd []int) {
	say := func(rows []int, one, many string) {
		if rows = slices.Compact(rows); len(rows) > 0 {
			s.Notes = append(s.Notes, rowsSaid(rows, one, many))
		}
	}
	say(hidden, "Row %d is hidden in the sheet, and read.", "Rows %s are hidden in the sheet, and read.")
	var cols []int
	for c := range s.HiddenColumns {
		if slices.ContainsFunc(s.Rows, func(r Row) bool { return !r.At(c).Blank() }) {
			cols = append(cols, c)
		}
	}
	slices.Sort(cols)
	for _, c := range cols {
		s.Notes = append(s.Notes, fmt.Sprintf("Column %s is hidden in the sheet, and read.", Letters(c)))
	}
	say(formulas, "In row %d the stored result of a formula is read.", "The stored results of formulas are read in rows %s.")
	say(lost, "In row %d a formula has no stored result: it counts as missing.", "Formulas without a stored result count as missing in rows %s; save the workbook once with a spreadsheet program.")
	say(odd, "In row %d stands 1900-02-29, a day that never was, or a number that is no day: it counts as missing.", "In rows %s stand days that never were: they count as missing.")
}

// cell reads one cell up to its end. what is "lost" for a formula without a result, "odd"
// for a number that is no day.
func (x *xlsxReader) cell(d *xml.Decoder, e xml.StartElement, next int) (c Cell, at int, what string, err error) {
	at = next
	if r := attr(e, "r"); r != "" {
		if at = columnOf(r); at < 0 {
			return c, -1, "", nil
		}
	}
	kind, style := attr(e, "t"), attr(e, "s")
	var v, inline string
	depth, skip := 1, 0
	in := ""
	for depth > 0 {
		tok, err := d.RawToken()
		if err != nil {
			return c, at, "", err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			depth++
			switch in = t.Name.Local; in {
			case "f":
				c.Formula = true
			case "rPh":
				if skip == 0 {
					skip = depth
				}
			}
		case xml.EndElement:
			if depth == skip {
				skip = 0
			}
			depth--
			in = ""
		case xml.CharData:
			if skip > 0 {
				continue
			}
			switch in {
			case "v":
				v += string(t)
			case "t":
				inline += string(t)
			}
			if len(v)+len(inline) > 8*maxText {
				return c, at, "", fmt.Errorf("the cell %s is too long", attr(e, "r"))
			}
		}
	}
	text := func(s string) {
		if s = strings.TrimSpace(s); s != "" {
			c.Kind, c.Text = Text, s
		}
	}
	switch kind {
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || n < 0 || n >= len(x.shared) {
			return c, at, "", fmt.Errorf("the text of cell %s is not there", attr(e, "r"))
		}
		text(x.shared[n])
	case "inlineStr":
		text(unescaped(inline))
	case "str":
		text(unescaped(v))
	case "e":
		c.Kind, c.Text = Fault, strings.TrimSpace(v)
	case "b":
		if c.Kind = YesNo; yes(strings.TrimSpace(v)) {
			c.Value = 1
		}
	case "d":
		t, hasDay, ok := isoTime(strings.TrimSpace(v))
		if !ok {
			text(v)
			break
		}
		c.Kind, c.Value = Day, t
		if !hasDay {
			c.Kind = Clock
		}
	default:
		if v = strings.TrimSpace(v); v == "" {
			if c.Formula {
				return Cell{Formula: true}, at, "lost", nil
			}
			break
		}
		f, err := strconv.ParseFloat(v, 64)
		if err != nil {
			return c, at, "", fmt.Errorf("the number of cell %s is %q", attr(e, "r"), v)
		}
		c.Kind, c.Value = Number, f
		l := lookNumber
		if n, err := strconv.Atoi(style); err == nil && n >= 0 && n < len(x.looks) {
			l = x.looks[n]
		}
		switch l {
		case lookPercent:
			c.Percent = true
		case lookClock:
			if f >= 0 && f < 1 {
				c.Kind = Clock
				break
			}
			if f < 20_000 { // a stretch of days and hours; later it is a day that is shown by its clock
				break
			}
			fallthrough
		case lookDay:
			day, ok := SerialDay(f, x.from1904)
			if !ok {
				return Cell{Kind: Fault, Text: v, Formula: c.Formula}, at, "odd", nil
			}
			c.Kind, c.Value = Day, day
		}
	}
	return c, at, "", nil
}

// isoTime reads the days and clocks of ISO 8601 as workbooks write them.
func isoTime(s string) (days float64, hasDay, ok bool) {
	s = strings.TrimSuffix(s, "Z")
	for _, l := range []string{"2006-01-02T15:04:05", time.DateOnly, "2006-01-02T15:04"} {
		if t, err := time.Parse(l, s); err == nil {
			return float64(t.Unix())/86400 + float64(t.Nanosecond())/86400e9, true, true
		}
	}
	if t, err := time.Parse("15:04:05", s); err == nil {
		return float64(t.Hour()*3600+t.Minute()*60+t.Second()) / 86400, false, true
	}
	return 0, false, false
}

// merge lets what is merged downwards stand in each of its rows, and counts the merges.
func (s *Sheet) merge(refs []string) int {
	at := make(map[int]int, len(s.Rows))
	if len(refs) == 0 {
		return 0
	}
	for i, r := range s.Rows {
		at[r.N] = i
	}
	n, filled := 0, 0
	for _, ref := range refs {
		a, b, ok := strings.Cut(ref, ":")
		if !ok {
			continue
		}
		col := columnOf(a)
		from, err1 := strconv.Atoi(strings.TrimLeft(a, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
		to, err2 := strconv.Atoi(strings.TrimLeft(b, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
		if err1 != nil || err2 != nil || col < 0 || col >= maxColumns {
			continue
		}
		n++
		i, ok := at[from]
		if !ok {
			continue
		}
		c := s.Rows[i].At(col)
		c.Merged = true
		for j := i + 1; j < len(s.Rows) && s.Rows[j].N <= to && filled < MaxCells; j++ {
			filled++
			r := &s.Rows[j]
			r.Cells = slices.Clone(r.Cells) // rows that are alike share theirs
			for len(r.Cells) <= col {
				r.Cells = append(r.Cells, Cell{})
			}
			r.Cells[col] = c
		}
	}
	return n
}
