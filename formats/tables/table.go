package tables

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A Kind is what cells of a column are.
type Kind string

// The kinds, by the names of Table Schema.
const (
	Text   Kind = "string"
	Number Kind = "number"
	Whole  Kind = "integer"
	Yes    Kind = "boolean"
	Date   Kind = "date"
	Time   Kind = "datetime"
)

// A Column is one column of a table.
type Column struct {
	Name     string // lower case, digits and _
	Title    string // as people call it; empty: the name
	Kind     Kind
	Unit     string // of the values: "g", "mol m⁻² d⁻¹"; empty for none
	About    string // one sentence
	Required bool   // never missing
	Unique   bool
	Min, Max *float64 // of numbers
	Enum     []string // of texts: all that can stand here
}

// A Reference says that cells of this table stand in another one too.
type Reference struct {
	Columns []string
	Table   string // empty: this one
	Their   []string
}

// A Table is named rows of typed cells.
type Table struct {
	Name    string // lower case, digits, - and _
	Title   string
	About   string // what a row is, in a sentence or two
	Columns []Column
	Key     []string // columns that tell rows apart; nil: none do
	Refs    []Reference

	// Rows hands over each row, in order. It can be asked again, and gives the same. The
	// row may be used again after the call.
	Rows func(each func(row []any) error) error
}

// A Day is a day of the calendar.
type Day struct {
	Year  int
	Month time.Month
	Day   int
}

// DayOf reads YYYY-MM-DD, with or without what follows; false if there is none.
func DayOf(s string) (Day, bool) {
	if len(s) > len(time.DateOnly) {
		s = s[:len(time.DateOnly)]
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Day{}, false
	}
	y, m, d := t.Date()
	return Day{y, m, d}, true
}

// String is YYYY-MM-DD.
func (d Day) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// Midnight is its beginning in UTC.
func (d Day) Midnight() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// Of is a table of rows that are held in memory.
func Of(rows [][]any) func(each func(row []any) error) error {
	return func(each func(row []any) error) error {
		for _, r := range rows {
			if err := each(r); err != nil {
				return err
			}
		}
		return nil
	}
}

// TextOf is a text as a cell: missing if it is empty. Ends of lines become LF, which is what
// readers of CSV make of them, and bytes that are no UTF-8 U+FFFD.
func TextOf[S ~string](s S) any {
	if s == "" {
		return nil
	}
	return strings.ReplaceAll(strings.ToValidUTF8(string(s), "\uFFFD"), "\r\n", "\n")
}

// NumberOf is a number as a cell: missing if it is not finite.
func NumberOf[F ~float64](x F) any {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return nil
	}
	return float64(x)
}

// Above0 is a number as a cell: missing if it is not above 0, which stands for "not said"
// in the plans of trials.
func Above0[F ~float64](x F) any {
	if !(x > 0) {
		return nil
	}
	return NumberOf(x)
}

// WholeOf is a count as a cell.
func WholeOf(n int) any { return int64(n) }

// DateOf is a day as a cell: missing if the text does not begin with YYYY-MM-DD.
func DateOf(s string) any {
	if d, ok := DayOf(s); ok {
		return d
	}
	return nil
}

// At is the index of a column; -1 if there is none.
func (t *Table) At(name string) int {
	return slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == name })
}

var (
	tableName  = regexp.MustCompile(`^[a-z][a-z0-9_-]{0,60}$`)
	columnName = regexp.MustCompile(`^[a-z][a-z0-9_]{0,60}$`)
)

// Check says what is wrong with the description of a table, apart from its rows.
func (t *Table) Check() error {
	if !tableName.MatchString(t.Name) {
		return fmt.Errorf("tables: %q is no name of a table", t.Name)
	}
	seen := map[string]bool{}
	for _, c := range t.Columns {
		switch {
		case !columnName.MatchString(c.Name):
			return fmt.Errorf("tables: %s: %q is no name of a column", t.Name, c.Name)
		case seen[c.Name]:
			return fmt.Errorf("tables: %s: there are two columns %q", t.Name, c.Name)
		case c.About == "":
			return fmt.Errorf("tables: %s: the column %q is not described", t.Name, c.Name)
		case !slices.Contains([]Kind{Text, Number, Whole, Yes, Date, Time}, c.Kind):
			return fmt.Errorf("tables: %s: the column %q is of the unknown kind %q", t.Name, c.Name, c.Kind)
		}
		seen[c.Name] = true
	}
	for _, k := range t.Key {
		if !seen[k] {
			return fmt.Errorf("tables: %s: the key names %q, which is no column", t.Name, k)
		}
	}
	for _, r := range t.Refs {
		for _, c := range r.Columns {
			if !seen[c] {
				return fmt.Errorf("tables: %s: a reference names %q, which is no column", t.Name, c)
			}
		}
	}
	return nil
}

// Each hands over each row after a look at its cells. A cell that is not of the kind of its
// column is a programmer's mistake and an error with row (from 1) and column.
func (t *Table) Each(each func(row []any) error) error {
	if t.Rows == nil {
		return nil
	}
	n := 0
	return t.Rows(func(row []any) error {
		n++
		if len(row) != len(t.Columns) {
			return fmt.Errorf("tables: %s, row %d: %d cells for %d columns", t.Name, n, len(row), len(t.Columns))
		}
		for i, c := range t.Columns {
			if err := c.fits(row[i]); err != nil {
				return fmt.Errorf("tables: %s, row %d, column %s: %w", t.Name, n, c.Name, err)
			}
		}
		return each(row)
	})
}

// Count is how many rows there are.
func (t *Table) Count() (n int, err error) {
	err = t.Each(func([]any) error { n++; return nil })
	return n, err
}

func (c *Column) fits(cell any) error {
	ok := true
	switch x := cell.(type) {
	case nil:
		if c.Required {
			return errors.New("the value is missing")
		}
		return nil
	case string:
		ok = c.Kind == Text
		if x == "" {
			return errors.New("an empty text is missing: use nil")
		}
		if ok && len(c.Enum) > 0 && !slices.Contains(c.Enum, x) {
			return fmt.Errorf("%q is none of %q", x, c.Enum)
		}
	case float64:
		ok = c.Kind == Number
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return errors.New("the number is not finite")
		}
		return errorIf(ok, c.within(x), cell, c)
	case int64:
		ok = c.Kind == Whole
		return errorIf(ok, c.within(float64(x)), cell, c)
	case bool:
		ok = c.Kind == Yes
	case Day:
		ok = c.Kind == Date
	case time.Time:
		ok = c.Kind == Time
	default:
		ok = false
	}
	return errorIf(ok, nil, cell, c)
}

func errorIf(ok bool, other error, cell any, c *Column) error {
	if !ok {
		return fmt.Errorf("a %T is no %s", cell, c.Kind)
	}
	return other
}

func (c *Column) within(x float64) error {
	if c.Min != nil && x < *c.Min || c.Max != nil && x > *c.Max {
		return fmt.Errorf("%g is outside the limits of the column", x)
	}
	return nil
}

// instant is the layout of instants.
const instant = "2006-01-02T15:04:05.999Z07:00"

// Print is a cell as text: empty if it is missing.
func Print(cell any) string {
	switch x := cell.(type) {
	case string:
		return x
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case int64:
		return strconv.FormatInt(x, 10)
	case bool:
		return strconv.FormatBool(x)
	case Day:
		return x.String()
	case time.Time:
		return x.UTC().Truncate(time.Millisecond).Format(instant)
	}
	return ""
}

// Parse reads a cell as [Print] writes it, and holds it against its column. The error says
// what is wrong with the text, without its place.
func (c *Column) Parse(text string) (any, error) {
	if text == "" {
		if c.Required {
			return nil, errors.New("the value is missing")
		}
		return nil, nil
	}
	var cell any
	switch c.Kind {
	case Text:
		cell = text
	case Number:
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("%q is no number such as 12.5", short(text))
		}
		cell = x
	case Whole:
		x, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("%q is no whole number", short(text))
		}
		cell = x
	case Yes:
		switch text {
		case "true", "True", "TRUE", "1":
			cell = true
		case "false", "False", "FALSE", "0":
			cell = false
		default:
			return nil, fmt.Errorf("%q is neither true nor false", short(text))
		}
	case Date:
		d, ok := DayOf(text)
		if !ok || len(text) != len(time.DateOnly) {
			return nil, fmt.Errorf("%q is no day such as 2026-10-01", short(text))
		}
		cell = d
	case Time:
		t, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return nil, fmt.Errorf("%q is no time such as 2026-10-01T08:00:00Z", short(text))
		}
		cell = t.UTC()
	default:
		return nil, fmt.Errorf("columns of the type %q are not read here", short(string(c.Kind)))
	}
	if err := c.fits(cell); err != nil {
		return nil, err
	}
	return cell, nil
}

func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
