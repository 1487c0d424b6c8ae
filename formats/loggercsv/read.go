package loggercsv

import (
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/formats/plaintext"
	"underlamp/formats/sheet"
)

// Limits of a file.
const (
	MaxBytes   = 256 << 20
	maxRows    = 5_000_000
	maxColumns = 500
)

// Options decide what a text may leave open.
type Options struct {
	Zone     *time.Location // of clocks without an offset; nil means it must not be needed
	DayFirst *bool          // 03/04 is the 3rd of April; nil: find out
}

// A Log is a table of a data logger.
type Log struct {
	Times   []time.Time // in UTC, in the order of the file
	Columns []Column
	Above   []string // what stood above the heading
	Heading []string // its cells as written, each empty if there is no heading
	Notes   []string // what was assumed
}

// A Column is one series.
type Column struct {
	Name   string
	Unit   string    // as written, without its brackets; empty if the heading has none
	Values []float64 // one a row; NaN where none was written
	Words  int       // cells that hold something that is no number, each missing
	Line   int       // of the first of these, from 1; 0 if there is none
}

// An Error says what is wrong with a file, and what to do.
type Error struct {
	Line   int // from 1; 0 for the whole file
	Reason string
	Do     string
}

// Error is the fault with its line and what to do.
func (e *Error) Error() string {
	text := e.Reason
	if e.Line > 0 {
		text = fmt.Sprintf("line %d: %s", e.Line, text)
	}
	if e.Do != "" {
		text += "; " + e.Do
	}
	return text
}

// Read reads a table. What is wrong with it gives an [*Error]; a failure of r is
// returned as it is.
func Read(r io.Reader, opt Options) (*Log, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > MaxBytes {
		return nil, &Error{Reason: fmt.Sprintf("the file is larger than %d MiB", MaxBytes>>20), Do: "cut it into several"}
	}
	lines, notes, err := plaintext.Lines(raw)
	if bad, ok := errors.AsType[*plaintext.NotTextError](err); ok {
		return nil, &Error{Line: bad.Line, Reason: "the file is not text", Do: "export the table as CSV"}
	} else if err != nil {
		return nil, &Error{Reason: err.Error(), Do: "give a heading and rows of time and values"}
	}
	t, err := split(lines)
	if err != nil {
		return nil, err
	}
	l := &Log{Above: t.above, Heading: t.heading, Notes: append(notes, t.notes...)}
	if err := l.times(t, opt); err != nil {
		return nil, err
	}
	l.values(t)
	if len(l.Columns) == 0 {
		return nil, &Error{Reason: "the table has times and no values"}
	}
	return l, nil
}

// A table is the text in cells.
type table struct {
	above   []string
	heading []string
	rows    [][]string
	lines   []int // of each row
	comma   bool  // numbers have a decimal comma
	notes   []string
}

// separators in the order in which they are preferred where several would do.
var separators = []rune{'\t', ';', ',', '|'}

// split finds what parts the cells, and where the rows begin: the separator for which
// the most lines hold a time first and equally many cells.
func split(lines []string) (*table, error) {
	type guess struct {
		sep   rune
		cells int
		rows  int
	}
	var best guess
	for _, sep := range separators {
		count := map[int]int{}
		for _, l := range lines[:min(len(lines), 2000)] {
			c := sheet.SplitLine(l, sep)
			if len(c) >= 2 && len(c) <= maxColumns && looksLikeTime(c) {
				count[len(c)]++
			}
		}
		for n, rows := range count {
			if rows > best.rows || rows == best.rows && sep == best.sep && n > best.cells {
				best = guess{sep, n, rows}
			}
		}
	}
	if best.rows == 0 {
		return nil, &Error{Reason: "no line begins with a time", Do: "give rows such as 2026-11-25 13:40,21.4,62"}
	}
	t := &table{}
	first := -1
	for i, l := range lines {
		if strings.TrimSpace(l) == "" {
			continue
		}
		c := sheet.SplitLine(l, best.sep)
		if first < 0 {
			if len(c) < best.cells || !looksLikeTime(c) {
				t.above = append(t.above, l)
				continue
			}
			first = i
		}
		if len(c) > best.cells && blank(c[best.cells:]) {
			c = c[:best.cells]
		}
		if len(c) != best.cells {
			if !looksLikeTime(c) && len(t.rows) > 0 && rest(lines[i:], best.sep) {
				t.notes = append(t.notes, fmt.Sprintf("What stands below line %d is no part of the table.", i))
				break
			}
			return nil, &Error{Line: i + 1, Reason: fmt.Sprintf("the row has %d cells, the others have %d", len(c), best.cells), Do: "mend or remove the line"}
		}
		if len(t.rows) == maxRows {
			return nil, &Error{Line: i + 1, Reason: fmt.Sprintf("there are more than %d rows", maxRows), Do: "cut the file into several"}
		}
		t.rows = append(t.rows, c)
		t.lines = append(t.lines, i+1)
	}
	// The heading is the last line above with as many cells, or one less than that.
	if n := len(t.above); n > 0 {
		h := sheet.SplitLine(t.above[n-1], best.sep)
		if len(h) > best.cells && blank(h[best.cells:]) {
			h = h[:best.cells]
		}
		if len(h) == best.cells {
			t.heading, t.above = h, t.above[:n-1]
		}
	}
	if t.heading == nil {
		t.heading = make([]string, best.cells)
		t.notes = append(t.notes, "There is no heading: columns are called by their number.")
	}
	t.comma = best.sep != ',' && decimalComma(t.rows)
	if t.comma {
		t.notes = append(t.notes, "Numbers are read with a decimal comma.")
	}
	return t, nil
}

func blank(c []string) bool { return !slices.ContainsFunc(c, func(s string) bool { return s != "" }) }

// rest says that no line has a time first.
func rest(lines []string, sep rune) bool {
	return !slices.ContainsFunc(lines, func(l string) bool { return looksLikeTime(sheet.SplitLine(l, sep)) })
}

var (
	number     = regexp.MustCompile(`^[+\-−]?(\d+([.,]\d*)?|[.,]\d+)([eE][+\-]?\d+)?$`)
	withComma  = regexp.MustCompile(`^[+\-−]?\d+,\d+([eE][+\-]?\d+)?$`)
	withPoint  = regexp.MustCompile(`^[+\-−]?\d*\.\d+([eE][+\-]?\d+)?$`)
	inBrackets = regexp.MustCompile(`^(.+?)\s*[\[(]([^\[\]()]*)[\])]\s*$`)
	afterComma = regexp.MustCompile(`^(.+),\s*([^,]+?)\s*$`)
)

// decimalComma says that numbers have a comma and none has a point.
func decimalComma(rows [][]string) bool {
	comma := false
	for _, r := range rows[:min(len(rows), 5000)] {
		for _, c := range r[1:] {
			if withPoint.MatchString(c) {
				return false
			}
			comma = comma || withComma.MatchString(c)
		}
	}
	return comma
}

// values reads the columns that are not times, and leaves out those without a number.
func (l *Log) values(t *table) {
	for k := t.timeCells(); k < len(t.heading); k++ {
		c := Column{Name: t.heading[k], Values: make([]float64, len(t.rows))}
		m := inBrackets.FindStringSubmatch(c.Name)
		if m == nil {
			m = afterComma.FindStringSubmatch(c.Name)
		}
		if m != nil {
			c.Name, c.Unit = strings.TrimSpace(m[1]), strings.TrimSpace(m[2])
		}
		if c.Name == "" {
			c.Name = fmt.Sprintf("column %d", k+1)
		}
		numbers := 0
		for i, r := range t.rows {
			v, ok := t.number(r[k])
			switch {
			case ok:
				numbers++
			case !sheet.Missing(r[k]) && !strings.EqualFold(r[k], "none"):
				if c.Words++; c.Line == 0 {
					c.Line = t.lines[i]
				}
			}
			c.Values[i] = v
		}
		if numbers == 0 {
			l.Notes = append(l.Notes, fmt.Sprintf("The column %q has no numbers and is left out.", c.Name))
			continue
		}
		if c.Words > 0 {
			l.Notes = append(l.Notes, fmt.Sprintf("%d of %d cells of the column %q are no numbers, the first in line %d; they count as missing.", c.Words, len(t.rows), c.Name, c.Line))
		}
		l.Columns = append(l.Columns, c)
	}
}

func (t *table) number(s string) (float64, bool) {
	if !number.MatchString(s) {
		return math.NaN(), false
	}
	s = strings.Replace(s, "−", "-", 1)
	if strings.Contains(s, ",") {
		if !t.comma {
			return math.NaN(), false
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) {
		return math.NaN(), false
	}
	return v, true
}
