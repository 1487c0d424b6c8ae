package trialtable

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
)

// Meanings are what a column of an imported table can be, beside a response.
var Meanings = []string{"unit", "plant", "time", "by", "with", "note", "nothing"}

// guesses are headings that need no mapping; all else must be said.
var guesses = map[string]string{
	"unit": "unit", "plant": "plant", "time": "time", "date": "time", "by": "by", "note": "note", "mass": "mass", "fresh mass g": "mass", "mass g": "mass",
	"height": "height", "height cm": "height", "leaves": "leaves", "leaf count": "leaves", "tipburn": "burn", "burn": "burn", "severity": "severity",
	"width": "width", "width cm": "width", "last clear day": "clear", "first seen day": "first",
}

// A Preview is what an import would do.
type Preview struct {
	Columns    map[string]string // heading → meaning, as used
	Ignored    []string          // headings that nothing was said of
	New        []underlamp.TrialEntry
	Duplicates int // values that the table holds already
	Missing    int // empty cells
}

// Import reads a table of another make, CSV or XLSX, one plant a row and one response a
// column. columns says what headings are; usual ones are known. known are the entries
// of the table so far; a value of the same unit, plant, response and time counts as
// there already.
func Import(raw []byte, columns map[string]string, known []underlamp.TrialEntry) (*Preview, error) {
	rows, lines, err := rowsOf(raw)
	if err != nil {
		return nil, err
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("the table has no line below its heading")
	}
	p := &Preview{Columns: map[string]string{}}
	meaning := make([]string, len(rows[0]))
	taken := map[string]string{}
	for j, h := range rows[0] {
		m := columns[h]
		if m == "" {
			m = Guess(h)
		}
		if m == "" {
			p.Ignored = append(p.Ignored, h)
			continue
		}
		if !slices.Contains(Meanings, m) && !slices.Contains(underlamp.Responses(), underlamp.Response(m)) {
			return nil, fmt.Errorf("the column %q cannot be %q: it is one of %s, %s", h, m, strings.Join(Meanings, ", "), responses())
		}
		if m == "nothing" {
			continue
		}
		if other, twice := taken[m]; twice {
			return nil, fmt.Errorf("the columns %q and %q are both %s; say of one that it is nothing", other, h, m)
		}
		taken[m], meaning[j], p.Columns[h] = h, m, m
	}
	for _, must := range []string{"unit", "plant"} {
		if taken[must] == "" {
			return nil, fmt.Errorf("no column is the %s; the headings are %s: say which with --column HEADING=%s", must, strings.Join(rows[0], ", "), must)
		}
	}
	have := map[string]bool{}
	key := func(e underlamp.TrialEntry) string {
		return strings.Join([]string{e.TrialUnit, e.Plant, string(e.What), e.Time}, "\x00")
	}
	for _, e := range known {
		have[key(e)] = true
	}
	next := nextID(known)
	for i, row := range rows[1:] {
		line := lines[i+1]
		base := underlamp.TrialEntry{Line: line} // of the imported table
		for j, m := range meaning {
			if j >= len(row) {
				break
			}
			switch m {
			case "unit":
				base.TrialUnit = row[j]
			case "plant":
				base.Plant = row[j]
			case "by":
				base.By = row[j]
			case "with":
				base.With = row[j]
			case "note":
				base.Note = row[j]
			case "time":
				if base.Time, err = asDay(row[j]); err != nil {
					return nil, &LineError{line, rows[0][j], err.Error()}
				}
			}
		}
		if base.TrialUnit == "" && base.Plant == "" {
			continue
		}
		if base.TrialUnit == "" || base.Plant == "" {
			return nil, &LineError{line, "", "unit or plant is empty"}
		}
		for j, m := range meaning {
			what := underlamp.Response(m)
			if j >= len(row) || !slices.Contains(underlamp.Responses(), what) {
				continue
			}
			if row[j] == "" || strings.EqualFold(row[j], "NA") {
				p.Missing++
				continue
			}
			e := base
			e.What = what
			if e.Value, err = Value(what, row[j]); err != nil {
				return nil, &LineError{line, rows[0][j], err.Error()}
			}
			if have[key(e)] {
				p.Duplicates++
				continue
			}
			have[key(e)] = true
			e.ID = fmt.Sprintf("e%d", next)
			next++
			p.New = append(p.New, e)
		}
	}
	return p, nil
}

// rowsOf reads a table of either kind, told apart by its content.
func rowsOf(raw []byte) (rows [][]string, lines []int, err error) {
	if bytes.HasPrefix(raw, []byte("PK\x03\x04")) {
		return xlsxRows(raw)
	}
	return csvRows(raw)
}

// Guess is what a usual heading means; empty if it must be said.
func Guess(heading string) string {
	return guesses[strings.NewReplacer("_", " ", "(", "", ")", "").Replace(strings.ToLower(heading))]
}

// A Head is the first line of a table, with the first value below each heading.
type Head struct{ Names, Sample []string }

// Headings reads the head of a table of another make, CSV or XLSX.
func Headings(raw []byte) (*Head, error) {
	rows, _, err := rowsOf(raw)
	if err != nil {
		return nil, err
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("the table has no line below its heading")
	}
	h := &Head{Names: rows[0], Sample: make([]string, len(rows[0]))}
	for _, row := range rows[1:] {
		for j := range h.Names {
			if j < len(row) && h.Sample[j] == "" {
				h.Sample[j] = row[j]
			}
		}
	}
	return h, nil
}

// NextID is an id that no entry has.
func NextID(known []underlamp.TrialEntry) string { return fmt.Sprintf("e%d", nextID(known)) }

func nextID(known []underlamp.TrialEntry) int {
	next := 1
	for _, e := range known {
		if n, err := strconv.Atoi(strings.TrimPrefix(e.ID, "e")); err == nil && n >= next && n < 1<<40 {
			next = n + 1
		}
	}
	return next
}

// asDay reads a day, also as the serial number of spreadsheets: days from 1899-12-30.
func asDay(s string) (string, error) {
	if s == "" {
		return "", nil
	}
	if _, err := day(s); err == nil {
		return s, nil
	}
	if n, err := strconv.ParseFloat(s, 64); err == nil && n > 20000 && n < 80000 {
		return time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(n)).Format(time.DateOnly), nil
	}
	return "", fmt.Errorf("%q is no day such as 2026-10-01", s)
}
