package sheet

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Conventions are what text may leave open. Nil and 0 mean: find out.
type Conventions struct {
	Comma    *bool // numbers have a decimal comma
	DayFirst *bool // 03/04 is the 3rd of April
	Year     int   // of days that are written without one
}

// A Column is a column of a table.
type Column struct {
	Index   int    // in the sheet, from 0
	Heading string // as written; "column 3" if it has none
	Name    string // the heading without its unit
	Unit    string // as written, without brackets; empty if none is
	Hidden  bool

	Filled  int      // cells with something in them
	Numbers int      // of them, numbers, with or without a unit behind
	Days    int      // of them, days
	Sample  []string // the first different ones, at most four
	Words   []string // different texts that are neither number nor day, at most twelve

	dayFirst *bool // of this column; nil: it does not matter or cannot be told
	mixed    bool  // both orders of day and month are needed
}

// A Table is the part of a sheet below its heading.
type Table struct { // not for use by several at once
	Sheet   *Sheet
	Heading int // row number of the heading; 0 if there is none
	Columns []Column
	Rows    []Row
	Notes   []string

	comma bool
	ambig map[int]bool // columns in which 1,250 may be 1250 or 1.25
	conv  Conventions
	days  map[string]*dayText // as they are written; nil: no day
}

// units are what stands in brackets or behind a heading and is a unit; in lower case.
var units = []string{"g", "gr", "gram", "grams", "gramm", "grammes", "gramos", "gm", "kg", "mg", "oz", "ounces", "lb", "lbs", "pounds", "cm", "mm", "m", "in", "inch", "inches", "zoll", `"`, "ft", "%", "pct", "percent", "prozent", "cm²", "cm2", "cm^2",
	"°c", "°f", "c", "f", "d", "days", "tage", "h", "hours", "kwh", "wh", "w", "umol/m2/s", "µmol/m²/s", "μmol/m²/s", "umol", "µmol", "μmol", "µmol m-2 s-1", "μmol m-2 s-1", "umol m-2 s-1", "µmol·m⁻²·s⁻¹", "mol/m2/d", "mol/m²/d", "mol", "0-3", "0-5", "0–3", "0–5", "1-5", "yes/no", "y/n", "ja/nein", "j/n", "#", "n", "no.", "pcs", "stück", "st.", "stk"}

var (
	inBrackets = regexp.MustCompile(`^(.*?)\s*[\[({]\s*([^\[\](){}]*?)\s*[\])}]\s*(.*)$`)
	behindSep  = regexp.MustCompile(`^(.+?)\s*(?:,|/|\bin\b|:|;|-|–)\s*(\S.*)$`)
	lastWord   = regexp.MustCompile(`^(.+?)[\s_]+(\S+)$`)
)

func isUnit(s string) bool {
	return slices.Contains(units, strings.ToLower(strings.TrimSuffix(strings.TrimSpace(s), ".")))
}

// nameAndUnit parts "Weight (g)", "Gewicht in g", "mass_g" and "height, cm".
func nameAndUnit(heading string) (name, unit string) {
	h := strings.Join(strings.Fields(heading), " ")
	if isUnit(h) && len(h) > 1 || strings.EqualFold(h, "g") {
		return h, h
	}
	if m := inBrackets.FindStringSubmatch(h); m != nil && m[1] != "" && (isUnit(m[2]) || len(m[2]) <= 24 && m[3] == "") {
		return strings.TrimSpace(m[1] + " " + m[3]), m[2]
	}
	if m := behindSep.FindStringSubmatch(h); m != nil && isUnit(m[2]) {
		return m[1], m[2]
	}
	if m := lastWord.FindStringSubmatch(h); m != nil && isUnit(m[2]) && !slices.Contains([]string{"no.", "n", "d", "m", "c", "f"}, strings.ToLower(m[2])) {
		return m[1], m[2]
	}
	return h, ""
}

// HeadingRows proposes rows that may be the heading, the likeliest first: row numbers of the
// first forty rows. It ends with 0, which means that there is none.
func (s *Sheet) HeadingRows() []int {
	type candidate struct{ n, score int }
	var all []candidate
	rows := s.Rows[:min(len(s.Rows), 40)]
	widest := 0
	for _, r := range rows {
		widest = max(widest, filled(r))
	}
	for i, r := range rows {
		seen := map[string]bool{}
		texts, others := 0, 0
		for _, c := range r.Cells {
			if c.Blank() || c.Merged {
				continue
			}
			t := strings.ToLower(c.String())
			if _, _, number := numberIn(t); c.Kind == Text && !number && !looksLikeDay(t) && !isUnit(t) && !seen[t] && len(t) < 80 {
				texts++
			} else {
				others++
			}
			seen[t] = true
		}
		below := 0 // columns that are text here and something else in the next rows
		for j, c := range r.Cells {
			if c.Kind != Text {
				continue
			}
			for _, next := range rows[i+1 : min(i+4, len(rows))] {
				d := next.At(j)
				if _, _, number := numberIn(d.String()); !d.Blank() && (d.Kind != Text || number || looksLikeDay(d.Text)) {
					below++
					break
				}
			}
		}
		score := 2*texts - 4*others + 2*below - i
		if 2*texts < widest { // a title stands alone
			score -= 10
		}
		if i == len(rows)-1 && i > 0 {
			score -= 20 // nothing below
		}
		if texts >= 1 && score > 0 {
			all = append(all, candidate{r.N, score})
		}
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return b.score - a.score })
	var out []int
	for _, c := range all[:min(len(all), 5)] {
		out = append(out, c.n)
	}
	return append(out, 0)
}

func filled(r Row) int {
	n := 0
	for _, c := range r.Cells {
		if !c.Blank() {
			n++
		}
	}
	return n
}

// Table reads the part of a sheet below a row, its heading; 0 for one without. A row right
// below that has nothing but units is part of the heading.
func (s *Sheet) Table(heading int, conv Conventions) (*Table, error) {
	t := &Table{Sheet: s, Heading: heading, conv: conv, ambig: map[int]bool{}, days: map[string]*dayText{}}
	rest := s.Rows
	var head Row
	if heading != 0 {
		i := slices.IndexFunc(s.Rows, func(r Row) bool { return r.N == heading })
		if i < 0 {
			return nil, &Error{Place: s.Place(heading, -1), Reason: "the heading cannot stand here: the row is empty or not there"}
		}
		head, rest = s.Rows[i], s.Rows[i+1:]
	}
	width := len(head.Cells)
	for _, r := range rest {
		for j := len(r.Cells) - 1; j >= width; j-- {
			if !r.Cells[j].Blank() {
				width = j + 1
			}
		}
	}
	var under Row
	if len(rest) > 0 && heading != 0 && onlyUnits(rest[0]) {
		under, rest = rest[0], rest[1:]
		t.Notes = append(t.Notes, fmt.Sprintf("The units stand in %s.", s.Place(under.N, -1)))
	}
	for j := range width {
		c := Column{Index: j, Hidden: s.HiddenColumns[j]}
		c.Heading = strings.Join(strings.Fields(head.At(j).String()), " ")
		c.Name, c.Unit = nameAndUnit(c.Heading)
		if u := strings.Trim(under.At(j).String(), "[](){} "); u != "" {
			c.Unit = u
		}
		if c.Heading == "" {
			c.Heading = "column " + Letters(j)
			if s.Lines {
				c.Heading = fmt.Sprintf("column %d", j+1)
			}
		}
		t.Columns = append(t.Columns, c)
	}
	for i := range t.Columns { // of two alike each needs a name of its own
		for k := range i {
			if strings.EqualFold(t.Columns[i].Heading, t.Columns[k].Heading) {
				t.Columns[i].Heading += fmt.Sprintf(" (%s)", columnName(s, i))
				break
			}
		}
	}
	t.Rows = rest
	t.decimal()
	for j := range t.Columns {
		t.look(j)
	}
	t.Columns = slices.DeleteFunc(t.Columns, func(c Column) bool { return c.Filled == 0 && strings.HasPrefix(c.Heading, "column ") })
	return t, nil
}

func columnName(s *Sheet, j int) string {
	if s.Lines {
		return fmt.Sprintf("column %d", j+1)
	}
	return "column " + Letters(j)
}

// onlyUnits says that a row holds units and nothing else, and one at least.
func onlyUnits(r Row) bool {
	n := 0
	for _, c := range r.Cells {
		if c.Blank() {
			continue
		}
		if c.Kind != Text || !isUnit(strings.Trim(c.Text, "[](){} ")) {
			return false
		}
		n++
	}
	return n > 0
}

var (
	thousands = regexp.MustCompile(`^[+\-−]?\d{1,3}(?:[.,'’  ]\d{3})+$`)
	oneComma  = regexp.MustCompile(`^[+\-−]?\d*,\d+$`)
	onePoint  = regexp.MustCompile(`^[+\-−]?\d*\.\d+$`)
	three     = regexp.MustCompile(`^[+\-−]?[1-9]\d{0,2}[.,]\d{3}$`)
)

// numberIn parts a text into a number as written and what follows it.
func numberIn(s string) (number, rest string, ok bool) {
	s = strings.TrimSpace(s)
	if s == "" || len(s) > 200 {
		return "", "", false
	}
	if c := s[0]; (c < '0' || c > '9') && c != '+' && c != '-' && c != '.' && c != ',' && !strings.HasPrefix(s, "−") {
		return "", "", false
	}
	end := plainEnd(s)
	if end == 0 {
		return "", "", false
	}
	number, rest = strings.TrimRight(s[:end], "., '’\u00a0\u202f"), strings.TrimSpace(s[end:])
	if number == "" || strings.ContainsAny(rest, "0123456789") && !strings.HasPrefix(rest, "cm") && !strings.HasPrefix(rest, "umol") && !strings.HasPrefix(rest, "µmol") {
		return "", "", false
	}
	return number, rest, true
}

// plainEnd is where the number ends that a text begins with; 0 if it begins with none.
func plainEnd(s string) int {
	i := 0
	for _, sign := range []string{"+", "-", "−"} {
		if strings.HasPrefix(s, sign) {
			i = len(sign)
			break
		}
	}
	digits, from := 0, i
	for i < len(s) {
		c := s[i]
		if c >= '0' && c <= '9' {
			digits++
			i++
			continue
		}
		n := 0
		for _, mark := range []string{".", ",", "'", " ", "’", "\u00a0", "\u202f"} {
			if strings.HasPrefix(s[i:], mark) {
				n = len(mark)
				break
			}
		}
		if n == 0 || i == from && c != '.' && c != ',' {
			break
		}
		i += n
	}
	if digits == 0 {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		k := i + 1
		if k < len(s) && (s[k] == '+' || s[k] == '-') {
			k++
		}
		if k < len(s) && s[k] >= '0' && s[k] <= '9' {
			for i = k; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
			}
		}
	}
	return i
}

// decimal finds out whether numbers of text have a comma.
func (t *Table) decimal() {
	if t.conv.Comma != nil {
		t.comma = *t.conv.Comma
		return
	}
	commas, points := 0, 0
	open := map[int]bool{} // columns with numbers such as 1,250, and no other sort with a comma
	for _, r := range t.Rows {
		for j, c := range r.Cells {
			if c.Kind != Text || !strings.ContainsAny(c.Text, ".,") {
				continue
			}
			n, _, ok := numberIn(c.Text)
			if !ok || t.day(c.Text) != nil {
				continue
			}
			switch {
			case strings.Contains(n, ",") && strings.Contains(n, "."):
				if strings.LastIndexByte(n, ',') > strings.LastIndexByte(n, '.') {
					commas++
				} else {
					points++
				}
			case three.MatchString(n) && strings.Contains(n, ","):
				open[j] = true
			case oneComma.MatchString(n):
				commas++
			case onePoint.MatchString(n) && !three.MatchString(n):
				points++
			}
		}
	}
	t.comma = commas > 0 && points == 0
	switch {
	case t.comma:
		t.Notes = append(t.Notes, "Numbers are read with a decimal comma.")
	case commas > 0:
		t.Notes = append(t.Notes, "Some numbers have a decimal comma and some a point; either is read.")
	}
	if commas == 0 && points == 0 {
		t.ambig = open
	}
}

// Number reads a number as people type it, with the comma or point of the table, and what
// stands behind it: "1.250,5 g" is 1250.5 and g.
func (t *Table) Number(c Cell, column int) (v float64, rest string, err error) {
	switch c.Kind {
	case Number:
		if c.Percent {
			return 100 * c.Value, "%", nil
		}
		return c.Value, "", nil
	case Text:
	default:
		return 0, "", errors.New("it is no number")
	}
	n, rest, ok := numberIn(c.Text)
	if !ok {
		return 0, "", errors.New("it is no number")
	}
	if three.MatchString(n) && strings.Contains(n, ",") && t.ambig[column] {
		a := strings.Replace(n, ",", "", 1)
		return 0, "", fmt.Errorf("it may be %s or %s; say whether numbers have a decimal comma", a, strings.Replace(n, ",", ".", 1))
	}
	v, err = strconv.ParseFloat(t.point(n), 64)
	if err != nil {
		return 0, "", errors.New("it is no number")
	}
	return v, rest, nil
}

// point is a number with a point and without marks of thousands.
func (t *Table) point(n string) string {
	n = strings.NewReplacer("−", "-", "'", "", "’", "", " ", "", "\u00a0", "", "\u202f", "").Replace(n)
	comma, dot := strings.LastIndexByte(n, ','), strings.LastIndexByte(n, '.')
	switch {
	case comma >= 0 && dot >= 0 && comma > dot:
		return strings.Replace(strings.ReplaceAll(n, ".", ""), ",", ".", 1)
	case comma >= 0 && dot >= 0:
		return strings.ReplaceAll(n, ",", "")
	case comma >= 0 && strings.Count(n, ",") > 1 || comma >= 0 && !t.comma && thousands.MatchString(n) && !strings.HasPrefix(strings.TrimLeft(n, "+-"), "0"):
		return strings.ReplaceAll(n, ",", "")
	case comma >= 0:
		return strings.Replace(n, ",", ".", 1)
	case dot >= 0 && (strings.Count(n, ".") > 1 || t.comma && thousands.MatchString(n)):
		return strings.ReplaceAll(n, ".", "")
	}
	return n
}

// Plain is a cell as text with numbers as programs write them: "12,5 g" is "12.5 g".
func (t *Table) Plain(c Cell, column int) string {
	if c.Kind != Text {
		return c.String()
	}
	v, rest, err := t.Number(c, column)
	if err != nil || t.day(c.Text) != nil {
		return c.Text
	}
	return strings.TrimSpace(plainNumber(v) + " " + rest)
}

// day reads a day of text; the same days come again and again.
func (t *Table) day(s string) *dayText {
	d, known := t.days[s]
	if !known {
		if x, ok := dayIn(s); ok {
			d = &x
		}
		if len(t.days) < 10_000 && len(s) < 40 {
			t.days[s] = d
		}
	}
	return d
}

// look counts what a column holds, and finds the order of its days.
func (t *Table) look(j int) {
	c := &t.Columns[j]
	dayFirst, monthFirst := 0, 0
	for _, r := range t.Rows {
		x := r.At(j)
		if x.Blank() {
			continue
		}
		c.Filled++
		if len(c.Sample) < 4 {
			if s := x.String(); !slices.Contains(c.Sample, s) {
				c.Sample = append(c.Sample, s)
			}
		}
		switch x.Kind {
		case Number:
			c.Numbers++
		case Day:
			c.Days++
		case Text:
			if d := t.day(x.Text); d != nil {
				c.Days++
				switch d.order() {
				case 'd':
					dayFirst++
				case 'm':
					monthFirst++
				}
				break
			}
			if _, _, ok := numberIn(x.Text); ok {
				c.Numbers++
				break
			}
			if len(c.Words) < 12 {
				if s := strings.ToLower(x.Text); !slices.Contains(c.Words, s) {
					c.Words = append(c.Words, s)
				}
			}
		}
	}
	switch yes, no := true, false; {
	case t.conv.DayFirst != nil:
		c.dayFirst = t.conv.DayFirst
	case dayFirst > 0 && monthFirst > 0:
		c.mixed = true
	case dayFirst > 0:
		c.dayFirst = &yes
	case monthFirst > 0:
		c.dayFirst = &no
	}
}

// Column finds a column by its place in the sheet; nil if the table has none there.
func (t *Table) Column(index int) *Column {
	for i := range t.Columns {
		if t.Columns[i].Index == index {
			return &t.Columns[i]
		}
	}
	return nil
}

// Place names a cell of the table as people find it.
func (t *Table) Place(r Row, column int) string { return t.Sheet.Place(r.N, column) }

// ErrNoDay is wrapped where a cell does not say a day.
var ErrNoDay = errors.New("it is no day such as 2026-10-01")

// Date reads the day of a cell, and the clock if it has one. Where day and month can be
// meant both ways, and no other cell of the column tells, it fails and says so.
func (t *Table) Date(c Cell, column int) (day time.Time, clock bool, err error) {
	switch c.Kind {
	case Day:
		d := c.Time()
		if y := d.Year(); y < 1970 || y > 2199 {
			return d, false, fmt.Errorf("%w: the year %d cannot be meant", ErrNoDay, y)
		}
		return d, d.Hour()+d.Minute()+d.Second() > 0, nil
	case Number: // of text and of workbooks whose column lost its format
		if c.Value >= 36_526 && c.Value < 73_051 { // 2000 to 2099
			if v, ok := SerialDay(c.Value, false); ok {
				d := Cell{Kind: Day, Value: v}.Time()
				return d, d.Hour()+d.Minute()+d.Second() > 0, nil
			}
		}
		if v := int(c.Value); float64(v) == c.Value && v > 19_700_101 && v < 21_991_231 {
			if d, err := time.Parse("20060102", strconv.Itoa(v)); err == nil {
				return d, false, nil
			}
		}
		return day, false, ErrNoDay
	case Text:
	default:
		return day, false, ErrNoDay
	}
	if n, rest, ok := numberIn(c.Text); ok && rest == "" && !strings.ContainsAny(n, ",.'") { // a serial number as text
		if v, err := strconv.ParseFloat(n, 64); err == nil && (len(n) == 5 || len(n) == 8) {
			return t.Date(Cell{Kind: Number, Value: v}, column)
		}
	}
	d := t.day(c.Text)
	if d == nil {
		return day, false, ErrNoDay
	}
	var dayFirst *bool
	if col := t.Column(column); col != nil {
		if dayFirst = col.dayFirst; col.mixed && d.order() == '?' {
			return day, false, fmt.Errorf("day and month cannot be told apart, and the column has both orders: %w", ErrOrder)
		}
	}
	if t.conv.DayFirst != nil {
		dayFirst = t.conv.DayFirst
	}
	return d.time(dayFirst, t.conv.Year)
}

// ErrOrder is wrapped where it must be said whether the day comes first.
var ErrOrder = errors.New("say whether the day or the month comes first")

// ErrYear is wrapped where it must be said which year is meant.
var ErrYear = errors.New("say of which year it is")
