package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Limits of a file.
const (
	MaxBytes   = 128 << 20
	MaxCells   = 12_000_000
	maxColumns = 500
	maxSheets  = 100
	maxText    = 32_767 // characters of a cell, as spreadsheets have it
)

// Options bound what is read; the zero value is the usual one.
type Options struct {
	MaxUnpacked int64 // bytes of all parts of a workbook that are read; 0 means 512 MiB
}

// A Kind is what a cell holds.
type Kind uint8

// The kinds of cells.
const (
	Empty  Kind = iota
	Text        // also all cells of CSV
	Number      // Value
	Day         // Value: days since 1970-01-01, with the clock as fraction
	Clock       // Value: fraction of a day, of no day
	YesNo       // Value: 1 is yes
	Fault       // Text: #N/A and its like
)

// A Cell is one cell.
type Cell struct {
	Kind    Kind
	Formula bool // the stored result of one
	Percent bool // a number that is shown times 100
	Merged  bool // it stands in another row, and is merged down to here
	Value   float64
	Text    string
}

// Blank says that there is nothing in the cell to read.
func (c Cell) Blank() bool { return c.Kind == Empty || c.Kind == Text && c.Text == "" }

// Time is the day and clock of a cell of kind [Day], to the second.
func (c Cell) Time() time.Time {
	whole := math.Floor(c.Value)
	secs := math.Round((c.Value - whole) * 86400)
	return time.Unix(int64(whole)*86400+int64(secs), 0).UTC()
}

// String is the cell as text: numbers with a point and without needless digits, days as
// 2026-10-01 or 2026-10-01 14:30, yes and no.
func (c Cell) String() string {
	switch c.Kind {
	case Number:
		v, unit := c.Value, ""
		if c.Percent {
			v, unit = 100*v, " %"
		}
		return plainNumber(v) + unit
	case Day:
		t := c.Time()
		switch {
		case t.Hour() == 0 && t.Minute() == 0 && t.Second() == 0:
			return t.Format(time.DateOnly)
		case t.Second() == 0:
			return t.Format("2006-01-02 15:04")
		}
		return t.Format(time.DateTime)
	case Clock:
		return time.Unix(int64(math.Round(c.Value*86400)), 0).UTC().Format("15:04:05")
	case YesNo:
		if c.Value != 0 {
			return "yes"
		}
		return "no"
	}
	return c.Text
}

// plainNumber prints the 15 digits that spreadsheets keep, so that 0.1+0.2 is 0.3.
func plainNumber(v float64) string {
	s := strconv.FormatFloat(v, 'g', 15, 64)
	if r, err := strconv.ParseFloat(s, 64); err == nil {
		if a := math.Abs(r); r == 0 || a >= 1e-6 && a < 1e15 {
			return strconv.FormatFloat(r, 'f', -1, 64)
		}
		return strconv.FormatFloat(r, 'g', -1, 64)
	}
	return s
}

// A Row is one row; those with nothing in them are left out.
type Row struct {
	N      int // from 1: of the sheet, or the line of the file
	Hidden bool
	Cells  []Cell
}

// At is a cell of the row; beyond its end an empty one.
func (r Row) At(column int) Cell {
	if column < 0 || column >= len(r.Cells) {
		return Cell{}
	}
	return r.Cells[column]
}

// Blank says that no cell holds anything.
func (r Row) Blank() bool {
	for _, c := range r.Cells {
		if !c.Blank() {
			return false
		}
	}
	return true
}

// A Sheet is one table of a file.
type Sheet struct {
	Name   string // empty of text
	Hidden bool
	Lines  bool // of text: places are lines and columns, not A1
	Rows   []Row

	HiddenColumns map[int]bool
	Notes         []string // what was assumed, and what is odd
}

// A Book is a file.
type Book struct {
	Format string // "XLSX", "ODS" or "text"
	Sheets []*Sheet
	Notes  []string
}

// ErrNoRows is returned for a file in which no cell holds anything.
var ErrNoRows = errors.New("the file has no cell with anything in it")

// An Error says what is wrong with a file, where, and what to do.
type Error struct {
	Place  string // "line 7", "sheet Harvest, B7"; empty: the whole file
	Reason string
	Do     string
}

// Error is the fault with its place and what to do.
func (e *Error) Error() string {
	s := e.Reason
	if e.Place != "" {
		s = e.Place + ": " + s
	}
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}

// Read reads a file of any of the kinds. What is wrong with it gives an [*Error] or
// [ErrNoRows].
func Read(raw []byte, opt Options) (*Book, error) {
	if len(raw) > MaxBytes {
		return nil, &Error{Reason: fmt.Sprintf("the file is larger than %d MiB", MaxBytes>>20), Do: "cut it into several"}
	}
	if opt.MaxUnpacked == 0 {
		opt.MaxUnpacked = 512 << 20
	}
	var b *Book
	var err error
	switch {
	case bytes.HasPrefix(raw, []byte("PK\x03\x04")):
		b, err = readPacked(raw, opt)
	case bytes.HasPrefix(raw, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return nil, &Error{Reason: "this is a workbook of the older kind (XLS), or one with a password", Do: "save it as XLSX, ODS or CSV without a password"}
	default:
		b, err = readText(raw)
	}
	if err != nil {
		return nil, err
	}
	for _, s := range b.Sheets {
		if len(s.Rows) > 0 {
			return b, nil
		}
	}
	return nil, ErrNoRows
}

// Sheet finds a sheet by its name, whatever the case; with an empty name the first that
// holds something and is not hidden.
func (b *Book) Sheet(name string) (*Sheet, error) {
	var names []string
	for _, s := range b.Sheets {
		names = append(names, s.Name)
		if name == "" && len(s.Rows) > 0 && !s.Hidden || name != "" && strings.EqualFold(s.Name, name) {
			return s, nil
		}
	}
	if name == "" {
		for _, s := range b.Sheets {
			if len(s.Rows) > 0 {
				return s, nil
			}
		}
		return nil, ErrNoRows
	}
	return nil, &Error{Reason: fmt.Sprintf("the file has no sheet %q", name), Do: "it has " + strings.Join(names, ", ")}
}

// Place names a cell as people find it: B7, or line 7, column 2 of text.
func (s *Sheet) Place(row, column int) string {
	if s.Lines {
		if column < 0 {
			return fmt.Sprintf("line %d", row)
		}
		return fmt.Sprintf("line %d, column %d", row, column+1)
	}
	if column < 0 {
		return fmt.Sprintf("row %d", row)
	}
	return Letters(column) + strconv.Itoa(row)
}

// Letters is the name of a column, from 0: A, B, …, Z, AA.
func Letters(column int) string {
	s := ""
	for column++; column > 0; column = (column - 1) / 26 {
		s = string(rune('A'+(column-1)%26)) + s
	}
	return s
}

// columnOf reads the letters of a name such as B7; -1 if there are none or too many.
func columnOf(ref string) int {
	n := 0
	for _, c := range ref {
		if c < 'A' || c > 'Z' {
			break
		}
		if n = 26*n + int(c-'A') + 1; n > 1<<20 {
			return -1
		}
	}
	return n - 1
}

// tooMany says that a file is larger than what is read.
func tooMany(place string) error {
	return &Error{Place: place, Reason: fmt.Sprintf("the file has more than %d cells", MaxCells), Do: "cut it into several"}
}

func tooWide(place string) error {
	return &Error{Place: place, Reason: fmt.Sprintf("there are more than %d columns", maxColumns), Do: "keep those that are needed"}
}

// texts counts rows of something and says it.
func rowsSaid(rows []int, one, many string) string {
	if len(rows) == 1 {
		return fmt.Sprintf(one, rows[0])
	}
	var list []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		if j > i {
			list = append(list, fmt.Sprintf("%d to %d", rows[i], rows[j]))
		} else {
			list = append(list, strconv.Itoa(rows[i]))
		}
		if i = j + 1; len(list) == 6 && i < len(rows) {
			list = append(list, fmt.Sprintf("and %d more", len(rows)-i))
			break
		}
	}
	return fmt.Sprintf(many, strings.Join(list, ", "))
}
