package reference

import (
	"embed"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

//go:embed data/*.csv
var files embed.FS

// A Table is one table with its source.
type Table struct {
	Name   string
	Source string // the lines that begin with #, joined
	Header []string
	Rows   [][]string
}

// Load returns the table of a name, which is that of its file without ending.
func Load(name string) (Table, error) {
	text, err := files.ReadFile("data/" + name + ".csv")
	if err != nil {
		return Table{}, fmt.Errorf("reference table %q: %w", name, err)
	}
	t := Table{Name: name}
	var body []string
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "#"); ok {
			t.Source = strings.TrimSpace(t.Source + " " + strings.TrimSpace(rest))
			continue
		}
		body = append(body, line)
	}
	rows, err := csv.NewReader(strings.NewReader(strings.Join(body, ""))).ReadAll()
	if err != nil {
		return Table{}, fmt.Errorf("reference table %q: %w", name, err)
	}
	if len(rows) < 2 {
		return Table{}, fmt.Errorf("reference table %q has no rows", name)
	}
	t.Header, t.Rows = rows[0], rows[1:]
	return t, nil
}

// MustLoad is [Load] for tables that are part of the program; it panics if the
// table is not.
func MustLoad(name string) Table {
	t, err := Load(name)
	if err != nil {
		panic("reference: MustLoad: " + err.Error())
	}
	return t
}

// Text is one cell; a column that the table does not have panics.
func (t Table) Text(row int, column string) string {
	i := slices.Index(t.Header, column)
	if i < 0 {
		panic(fmt.Sprintf("reference: table %s has no column %q", t.Name, column))
	}
	return t.Rows[row][i]
}

// Float is one cell as a number; NaN if it is blank or no number.
func (t Table) Float(row int, column string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(t.Text(row, column)), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}
