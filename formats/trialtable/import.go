package trialtable

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/sheet"
)

// Meanings are what a column of an imported table can be, beside a response.
var Meanings = []string{"unit", "plant", "time", "by", "with", "note", "nothing"}

// A Preview is what an import would do.
type Preview struct {
	Columns    map[string]string // heading → meaning, as used
	Ignored    []string          // headings that nothing was said of
	New        []underlamp.TrialEntry
	Conflicts  []Conflict
	Duplicates int // values that the table holds already
	Missing    int // empty cells
	Notes      []string
}

// A Conflict is a value that is there already and another one.
type Conflict struct {
	Place string               // of the cell
	Has   underlamp.TrialEntry // in the table
	Says  underlamp.TrialEntry // what the import says, without an id
}

// Open finds the table in a file of another make: that of the first sheet below the likeliest
// heading, or those that are named.
func Open(raw []byte, name string, heading int, conv sheet.Conventions) (*sheet.Table, error) {
	b, err := sheet.Read(raw, sheet.Options{})
	if err != nil {
		return nil, err
	}
	s, err := b.Sheet(name)
	if err != nil {
		return nil, err
	}
	if heading == 0 {
		heading = s.HeadingRows()[0]
	}
	t, err := s.Table(heading, conv)
	if err != nil {
		return nil, err
	}
	if len(t.Rows) == 0 {
		return nil, fmt.Errorf("the table has no line below its heading")
	}
	t.Notes = slices.Concat(b.Notes, s.Notes, t.Notes)
	return t, nil
}

// Import reads a table of another make, one plant a row and one response a column. columns
// says what headings are; usual ones are known. known are the entries of the table so far; a
// value of the same unit, plant, response and time counts as there already if it is the same,
// and is in conflict if it is not. What cannot be read gives an error that names every cell,
// up to fifty.
func Import(t *sheet.Table, columns map[string]string, known []underlamp.TrialEntry) (*Preview, error) {
	p := &Preview{Columns: map[string]string{}, Notes: t.Notes}
	if len(t.Rows) > maxLines {
		return nil, fmt.Errorf("the table has more than %d lines", maxLines)
	}
	meaning := make([]string, len(t.Columns))
	taken := map[string]string{}
	for j, c := range t.Columns {
		h := c.Heading
		m := columns[h]
		if m == "" {
			m = Guess(c.Name)
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
			return nil, fmt.Errorf("no column is the %s; the headings are %s: say which with --column HEADING=%s", must, strings.Join(Headings(t), ", "), must)
		}
	}
	have := map[string]underlamp.TrialEntry{}
	key := func(e underlamp.TrialEntry) string {
		return strings.Join([]string{e.TrialUnit, e.Plant, string(e.What), e.Time}, "\x00")
	}
	gone := map[string]bool{}
	for _, e := range known {
		gone[e.Corrects] = true
	}
	same := map[string]bool{} // with the value: also those that were corrected since
	for _, e := range known {
		if !e.Struck && e.Missing == "" {
			same[key(e)+"\x00"+strconv.FormatFloat(e.Value, 'g', -1, 64)] = true
		}
		if !gone[e.ID] && !e.Struck {
			have[key(e)] = e
		}
	}
	next := nextID(known)
	var faults []error
	for _, row := range t.Rows {
		bad := func(c *sheet.Column, text string, err error) {
			faults = append(faults, fmt.Errorf("%s, column %q: %w", t.Place(row, c.Index), c.Heading, err))
		}
		base := underlamp.TrialEntry{Line: row.N} // of the imported table
		for j, m := range meaning {
			c := &t.Columns[j]
			x := row.At(c.Index)
			if x.Blank() || x.Kind == sheet.Fault {
				continue
			}
			switch text := x.String(); m {
			case "unit":
				base.TrialUnit = text
			case "plant":
				base.Plant = text
			case "by":
				base.By = text
			case "with":
				base.With = text
			case "note":
				base.Note = text
			case "time":
				d, clock, err := t.Date(x, c.Index)
				if err != nil {
					bad(c, text, fmt.Errorf("%q: %w", text, err))
					continue
				}
				base.Time = d.Format(time.DateOnly)
				if clock {
					base.Time = d.Format("2006-01-02 15:04")
				}
			}
		}
		if base.TrialUnit == "" && base.Plant == "" {
			continue
		}
		if base.TrialUnit == "" || base.Plant == "" {
			faults = append(faults, fmt.Errorf("%s: unit or plant is empty", t.Place(row, -1)))
			continue
		}
		for j, m := range meaning {
			what := underlamp.Response(m)
			c := &t.Columns[j]
			if !slices.Contains(underlamp.Responses(), what) {
				continue
			}
			e := base
			e.What = what
			said, err := FromCell(what, t, row.At(c.Index), c)
			switch {
			case errors.Is(err, ErrMissing):
				p.Missing++
				continue
			case err != nil:
				bad(c, "", err)
				continue
			}
			e.Value = said.Value
			if _, isDay := Day(said.Typed); isDay {
				bad(c, "", fmt.Errorf("%q is a day of the calendar; a table of a trial counts days after transplanting", said.Typed))
				continue
			}
			if said.Was != "" {
				e.Note = strings.TrimSpace(e.Note + " (" + said.Was + ")")
			}
			has, there := have[key(e)]
			switch {
			case same[key(e)+"\x00"+strconv.FormatFloat(e.Value, 'g', -1, 64)]:
				p.Duplicates++
				continue
			case there && has.Line > 0 && has.ID == "":
				bad(c, "", fmt.Errorf("row %d has another %s of plant %s of the same day (%s); leave one out", has.Line, what, e.Plant, strconv.FormatFloat(has.Value, 'g', 6, 64)))
				continue
			case there:
				p.Conflicts = append(p.Conflicts, Conflict{t.Place(row, c.Index), has, e})
				continue
			}
			have[key(e)] = e // without an id: of this table
			e.ID = fmt.Sprintf("e%d", next)
			next++
			same[key(e)+"\x00"+strconv.FormatFloat(e.Value, 'g', -1, 64)] = true
			p.New = append(p.New, e)
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults[:min(len(faults), 50)]...)
	}
	return p, nil
}

// Headings are those of a table, as written.
func Headings(t *sheet.Table) []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Heading)
	}
	return out
}

// NextID is an id that no entry has.
func NextID(known []underlamp.TrialEntry) string { return fmt.Sprintf("e%d", nextID(known)) }

func nextID(known []underlamp.TrialEntry) int {
	next := 1
	for _, e := range known {
		if n, err := strconv.Atoi(strings.TrimPrefix(e.ID, "e")); err == nil && n >= next && n < 1<<30 { // of machines with 32 bits too
			next = n + 1
		}
	}
	return next
}
