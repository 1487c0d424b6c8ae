package notes

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/sheet"
)

// Limits of an import.
const (
	MostRows = 100_000 // of a table
	mostTold = 200     // faults and notes that are listed
)

// Said is what a person says of a sheet; what is empty is found out.
type Said struct {
	Kind    Kind              `json:"kind,omitempty" doc:"what a row of the sheet is; empty: found out"`
	Sheet   string            `json:"sheet,omitempty" doc:"of a workbook; empty: the first that fits"`
	Heading int               `json:"heading,omitempty" doc:"row of the heading; 0: found out, -1: there is none"` // row of the heading; -1: there is none
	Columns map[string]string `json:"columns,omitempty" doc:"what columns are, by their headings"`                 // heading → meaning

	Day       string          `json:"day,omitempty" doc:"of rows without one, YYYY-MM-DD"` // of rows without one, 2026-10-01
	By        string          `json:"by,omitempty" doc:"who saw it, of rows that do not say"`
	Height    string          `json:"height,omitempty" doc:"of the sensor with its unit, of readings without one"` // of the sensor, of readings without one
	Seedlings int             `json:"seedling days,omitempty" doc:"days from sowing to transplanting, of crops without that day"`
	DayFirst  *bool           `json:"day first,omitempty" doc:"3/4 is 3 April; null: found out"`
	Comma     *bool           `json:"decimal comma,omitempty" doc:"numbers have a decimal comma; null: found out"`
	Year      int             `json:"year,omitempty" doc:"of days without one; 0: none"`
	Skip      bool            `json:"leave out what cannot be read,omitempty" doc:"what cannot be read is left out"`
	Choices   map[string]bool `json:"-"` // place of a cell in conflict → the sheet counts
	Take      bool            `json:"take,omitempty" doc:"the sheet counts in all other conflicts"`
}

func (s *Said) conventions() sheet.Conventions {
	return sheet.Conventions{Comma: s.Comma, DayFirst: s.DayFirst, Year: s.Year}
}

// takes says that the sheet counts where it is in conflict at a place.
func (s *Said) takes(place string) bool {
	if v, ok := s.Choices[place]; ok {
		return v
	}
	return s.Take
}

// An Item is one thing that an import would bring.
type Item struct {
	Place string `doc:"of the cell or the row in the sheet"` // of the cell, or of the row
	About string `doc:"plant, crop or reading"`
	What  string `doc:"is said of it"`
	Text  string `doc:"the value with its unit"`
	Day   string `doc:"YYYY-MM-DD"`
	Note  string `doc:"that comes with it"`
	Over  string `doc:"what it stands in place of; empty: nothing was there"`
}

// A Conflict is something that is there and that the sheet says otherwise.
type Conflict struct {
	Place string `doc:"of the cell in the sheet"`
	About string `doc:"plant, crop or reading"`
	What  string `doc:"is said of it"`
	Day   string `doc:"YYYY-MM-DD"`
	Has   string `doc:"what is there, with its unit"`
	Says  string `doc:"what the sheet says, with its unit"`
	Take  bool   `doc:"the sheet counts"`
}

// A Fault is a cell that cannot be read.
type Fault struct {
	Place   string `doc:"of the cell in the sheet"`
	Heading string `doc:"of its column"`
	Says    string `doc:"what stands in the cell"`
	Want    string `doc:"what is expected there"`
}

// A Draft is what an import would do.
type Draft struct {
	File     string   `doc:"as it is called"`
	Hash     string   `doc:"SHA-256 of the file, in hexadecimal"` // SHA-256 of it
	Said     Said     `doc:"what a person says of the sheet"`
	Kind     Kind     `doc:"what a row of the sheet is"`
	KindWhy  string   `doc:"how that was found"`
	Into     string   `doc:"name of the bench, as the store has it"`
	Sheet    string   `doc:"that is read, of a workbook"`
	Sheets   []string `doc:"all sheets of the workbook"`
	Heading  int      `doc:"row of the heading; 0: none"`
	Headings []int    `doc:"rows that may be the heading"` // rows that may be it
	Columns  []Column `doc:"each with what it is taken for"`
	From     string   `doc:"the import whose mapping was taken; empty: none"`

	Rows      int        `doc:"below the heading"`
	New       []Item     `doc:"what would be kept"`
	Same      int        `doc:"how much is there already and is alike"`
	Conflicts []Conflict `doc:"what is there and the sheet says otherwise"`
	Faults    []Fault    `doc:"cells that cannot be read"`
	Empty     int        `doc:"cells of measures with nothing in them"`
	Left      []string   `doc:"rows that are left out, and why"` // rows that were left out, and why
	Asked     []string   `doc:"what must be said before anything can be taken"`
	Notes     []string   `doc:"what was assumed"`
	Doubts    []string   `doc:"what can hardly be meant"`

	told    int // faults beyond those listed
	entries []round.Entry
	cycles  []newCycle
	added   []string // readings, as YAML
	names   []string // of readings
	base    []byte   // the bench file
	text    []byte   // the bench file with the readings
}

// Ready says that there is something to keep and nothing in the way.
func (d *Draft) Ready() bool {
	return len(d.New) > 0 && len(d.Asked) == 0 && (d.Said.Skip || len(d.Faults) == 0)
}

// FaultCount is how many cells cannot be read, also those that are not listed.
func (d *Draft) FaultCount() int { return len(d.Faults) + d.told }

func (d *Draft) fault(f Fault) {
	if len(d.Faults) == mostTold {
		d.told++
		return
	}
	d.Faults = append(d.Faults, f)
}

func (d *Draft) left(s string) {
	if len(d.Left) < mostTold {
		d.Left = append(d.Left, s)
	}
}

// open finds the table of a file and what its columns are.
func open(file string, raw []byte, bench *underlamp.Bench, said Said, past []Record) (*Draft, *sheet.Table, error) {
	sum := sha256.Sum256(raw)
	d := &Draft{File: file, Hash: hex.EncodeToString(sum[:]), Said: said}
	book, err := sheet.Read(raw, sheet.Options{MaxUnpacked: 256 << 20})
	if err != nil {
		return nil, nil, err
	}
	for _, s := range book.Sheets {
		if len(s.Rows) > 0 {
			d.Sheets = append(d.Sheets, s.Name)
		}
	}
	s, err := book.Sheet(said.Sheet)
	if err != nil {
		return nil, nil, err
	}
	d.Sheet = s.Name
	d.Headings = s.HeadingRows()
	heading := said.Heading
	switch {
	case heading == 0:
		heading = likeliest(s, d.Headings)
	case heading < 0:
		heading = 0
	}
	d.Heading = heading
	t, err := s.Table(heading, said.conventions())
	if err != nil {
		return nil, nil, err
	}
	switch {
	case len(t.Rows) == 0:
		return nil, nil, &sheet.Error{Reason: "the table has no row below its heading"}
	case len(t.Rows) > MostRows:
		return nil, nil, &sheet.Error{Reason: fmt.Sprintf("the table has more than %d rows", MostRows), Do: "cut it into several"}
	}
	d.Rows = len(t.Rows)
	d.Notes = slices.Concat(book.Notes, s.Notes, t.Notes)
	if len(d.Sheets) > 1 {
		d.Notes = append(d.Notes, fmt.Sprintf("The file has several sheets: %s. This is %s; take the others in one by one.", strings.Join(d.Sheets, ", "), s.Name))
	}
	if d.Kind, d.KindWhy = said.Kind, "as you say"; d.Kind == "" {
		d.Kind, d.KindWhy = kindOf(t)
	}
	before := map[string]string{}
	for _, r := range slices.Backward(past) { // the last one with these headings
		if r.Undone == nil && r.Said.Kind == d.Kind && alike(t, r.Said.Columns) {
			before, d.From = r.Said.Columns, fmt.Sprintf("the import of %s on %s", r.File, r.At.Format(time.DateOnly))
			break
		}
	}
	d.Columns = propose(d.Kind, t, said.Columns, before, d.From)
	known := map[string]bool{}
	for _, m := range Meanings(d.Kind) {
		known[m.Key] = true
	}
	for h, is := range said.Columns {
		if !slices.ContainsFunc(d.Columns, func(c Column) bool { return c.Heading == h }) {
			return nil, nil, fmt.Errorf("the sheet has no column %q; it has %s", h, headings(d.Columns))
		}
		if !known[is] {
			var all []string
			for _, m := range Meanings(d.Kind) {
				all = append(all, m.Key)
			}
			return nil, nil, fmt.Errorf("the column %q cannot be %q: it is one of %s", h, is, strings.Join(all, ", "))
		}
	}
	for i, c := range d.Columns {
		for _, o := range d.Columns[:i] {
			if c.Is == o.Is && c.Is != Nothing && c.Is != Note && c.Day.Equal(o.Day) {
				return nil, nil, fmt.Errorf("the columns %q and %q are both %s; say of one that it is nothing", o.Heading, c.Heading, c.Is)
			}
		}
	}
	return d, t, nil
}

// likeliest is the heading with the most words that are known, of those that may be it.
func likeliest(s *sheet.Sheet, candidates []int) int {
	best, most := candidates[0], -1
	for _, n := range candidates {
		if n == 0 {
			continue
		}
		t, err := s.Table(n, sheet.Conventions{})
		if err != nil {
			continue
		}
		known := 0
		for i := range t.Columns {
			name, _ := headingDay(t, t.Columns[i].Name)
			for _, k := range Kinds() {
				if is, why := guess(k, t, &t.Columns[i], name); is != Nothing && strings.Contains(why, "in the heading") {
					known++
					break
				}
			}
		}
		if known > most {
			best, most = n, known
		}
	}
	return best
}

// alike says that the columns of a table are all known from another one.
func alike(t *sheet.Table, columns map[string]string) bool {
	n := 0
	for _, c := range t.Columns {
		if columns[c.Heading] != "" {
			n++
		} else if c.Filled > 0 {
			return false
		}
	}
	return n > 0
}

func headings(all []Column) string {
	var out []string
	for _, c := range all {
		out = append(out, c.Heading)
	}
	return strings.Join(out, ", ")
}

// mapping is what every column was taken for, to be remembered.
func (d *Draft) mapping() map[string]string {
	out := map[string]string{}
	for _, c := range d.Columns {
		out[c.Heading] = c.Is
	}
	return out
}

func (d *Draft) column(is string) *Column {
	for i := range d.Columns {
		if d.Columns[i].Is == is {
			return &d.Columns[i]
		}
	}
	return nil
}

// totals are words that begin a row which is no plant and no crop.
var totals = []string{"total", "totals", "sum", "mean", "average", "avg", "median", "sd", "stdev", "std", "min", "max", "n", "∑", "ø", "summe", "gesamt", "mittel", "mittelwert", "durchschnitt", "totaal", "gemiddelde", "gemiddeld", "som", "moyenne", "somme", "media", "suma", "promedio"}

// aside says why a row is none of the table: a total, the heading again, a line of text.
func (d *Draft) aside(t *sheet.Table, r sheet.Row) string {
	first, n, same := "", 0, 0
	for _, c := range d.Columns {
		x := r.At(c.Index)
		if x.Blank() {
			continue
		}
		s := x.String()
		if n++; first == "" {
			first = s
		}
		if c.column != nil && strings.EqualFold(strings.Join(strings.Fields(s), " "), c.Heading) {
			same++
		}
	}
	switch {
	case n == 0:
		return "it holds nothing in the columns of the table"
	case same > 0 && 2*same >= n:
		return "it is the heading again"
	case slices.Contains(totals, normal(first)) || strings.HasPrefix(first, "Σ"):
		return fmt.Sprintf("it begins with “%s”", first)
	case n == 1 && len(d.Columns) > 2:
		return fmt.Sprintf("it holds “%s” alone", shortened(first))
	}
	return ""
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// wantDay says how a day may be written, and what to do where it is not clear.
func wantDay(err error) string {
	switch {
	case errors.Is(err, sheet.ErrOrder):
		return err.Error()
	case errors.Is(err, sheet.ErrYear):
		return "a day with its year, or say which year is meant"
	}
	return "a day such as 2026-10-01, 1.10.2026 or 1 Oct 2026"
}
