package tablefile

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"underlamp/formats/handwritten"
)

// Version is the version of the format that this package reads and writes.
const Version = 1

const maxColumns = 500 // as formats/loggercsv has it

// A Table says what the columns of a kind of table are.
type Table struct {
	Place    string         // where such tables lie: the folder, or the name of the file without its number
	Zone     *time.Location // of its clock; nil: as the program was told for all
	DayFirst *bool          // 03/04 is the 3rd of April; nil: find out
	Columns  []Column
}

// A Column is a column of the table.
type Column struct {
	Name   string // as the heading has it, without its unit
	Unit   string // as the heading has it; empty if it has none
	Sensor string // the key of the sensor; empty: the column is left out
}

var grammar = handwritten.Grammar{
	Package: "tablefile",
	File:    "the description of a logger's table",
	Begin:   "a description of a table that begins with underlamp table: 1",
	One:     "one table in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp table", "place", "zone", "day first", "columns"}},
		{Name: "columns[]", Keys: []string{"column", "unit", "sensor"}},
	},
	Also: map[string]string{"name": "column", "key": "sensor", "time zone": "zone"},
}

// Keys lists every key of the format.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	return all
}

// Read reads a description. It is nil exactly when the problems hold an error. The error
// is for what is no matter of the text: a failing reader, or [handwritten.ErrTooLarge].
func Read(in io.Reader) (*Table, handwritten.Problems, error) {
	r := &handwritten.Reader{Grammar: grammar}
	return handwritten.Read(r, in, func(top handwritten.Value) *Table { return table(r, top) })
}

func table(r *handwritten.Reader, top handwritten.Value) *Table {
	f, ok := r.Mapping(top, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp table"), Version)
	t := &Table{}
	if t.Place, _ = r.Words(f.Get("place"), handwritten.MaxName); t.Place == "" {
		r.Missing(f.Get("place"), "place: rack-2", "where such tables lie")
	}
	t.Zone = r.Zone(f.Get("zone"))
	if v := f.Get("day first"); v.Written() {
		first := r.Yes(v)
		t.DayFirst = &first
	}
	items, _ := r.List(f.Get("columns"), "a list of columns", maxColumns, "columns")
	if len(items) == 0 && !r.Problems.HasErrors() {
		r.Missing(f.Get("columns"), "columns: [{column: Temperature, sensor: rack-2/air}]", "the list of columns")
	}
	seen := map[string]int{}
	for _, item := range items {
		c, ok := r.Mapping(item, "columns[]")
		if !ok {
			continue
		}
		var x Column
		if x.Name, _ = r.Words(c.Get("column"), handwritten.MaxNote); x.Name == "" {
			r.Missing(c.Get("column"), "column: Temperature", "the name of the column")
		}
		x.Unit, _ = r.Words(c.Get("unit"), handwritten.MaxName)
		v := c.Get("sensor")
		if !v.Written() {
			r.Missing(v, "sensor: rack-2/air, or sensor: none", "the sensor of the column")
			continue
		}
		if x.Sensor, _ = r.Words(v, 200); x.Sensor == "none" {
			x.Sensor = ""
		} else if !validKey(x.Sensor) {
			r.Errorf(v, "letters, digits and -:._/ without blanks: rack-2/air", "%q cannot be the name of a sensor", handwritten.Shortened(x.Sensor))
		} else if line, twice := seen[x.Sensor]; twice {
			r.Errorf(v, "each sensor once", "the sensor %q is in line %d already", x.Sensor, line)
		} else {
			seen[x.Sensor] = v.At.Line
		}
		t.Columns = append(t.Columns, x)
	}
	return t
}

// validKey holds the name of a sensor to the characters that SenML has (Jennings2018,
// section 4.5.1).
func validKey(s string) bool {
	for i, c := range []byte(s) {
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9'
		if !letter && (i == 0 || !strings.ContainsRune("-:./_", rune(c))) {
			return false
		}
	}
	return s != ""
}

// Write writes a description so that [Read] gives it back.
func Write(out io.Writer, t *Table) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# Which column of a logger's table is which sensor. See docs/formats/intake.md.\nunderlamp table: %d\nplace: %s\n", Version, strconv.Quote(t.Place))
	if t.Zone != nil {
		fmt.Fprintf(&b, "zone: %s\n", strconv.Quote(t.Zone.String()))
	}
	if t.DayFirst != nil {
		fmt.Fprintf(&b, "day first: %s\n", map[bool]string{true: "yes", false: "no"}[*t.DayFirst])
	}
	b.WriteString("columns:   # sensor: none leaves a column out\n")
	for _, c := range t.Columns {
		unit := ""
		if c.Unit != "" {
			unit = ", unit: " + strconv.Quote(c.Unit)
		}
		sensor := "none"
		if c.Sensor != "" {
			sensor = strconv.Quote(c.Sensor)
		}
		fmt.Fprintf(&b, "  - {column: %s%s, sensor: %s}\n", strconv.Quote(c.Name), unit, sensor)
	}
	_, err := io.WriteString(out, b.String())
	return err
}
