package trialtable

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"underlamp"
	"underlamp/formats/sheet"
	"underlamp/science/quantity"
)

// Header is the first line of the table.
var Header = []string{"id", "time", "unit", "plant", "what", "value", "missing", "by", "with", "note", "corrects", "struck"}

const maxLines = 100_000

// A LineError says what is wrong in which line of a table.
type LineError struct {
	Line   int
	Column string
	Reason string
}

// Error is the fault with its place.
func (e *LineError) Error() string {
	if e.Column == "" {
		return fmt.Sprintf("line %d: %s", e.Line, e.Reason)
	}
	return fmt.Sprintf("line %d, column %q: %s", e.Line, e.Column, e.Reason)
}

// Read reads the table of observations. It returns every fault that it finds, joined;
// the entries are nil then.
func Read(raw []byte) ([]underlamp.TrialEntry, error) {
	rows, lines, err := sheet.TextRows(raw)
	if err != nil && !errors.Is(err, sheet.ErrNoRows) {
		return nil, err
	}
	if len(rows) > maxLines {
		return nil, fmt.Errorf("the table has more than %d lines", maxLines)
	}
	if len(rows) == 0 || !slices.Equal(rows[0], Header) {
		return nil, &LineError{1, "", "the table does not begin with " + strings.Join(Header, ",") + "; underlamp trial import reads other tables"}
	}
	var out []underlamp.TrialEntry
	var faults []error
	seen, gone := map[string]int{}, map[string]string{}
	for i, row := range rows[1:] {
		line := lines[i+1]
		bad := func(column, reason string, a ...any) {
			faults = append(faults, &LineError{line, column, fmt.Sprintf(reason, a...)})
		}
		if len(row) != len(Header) {
			bad("", "there are %d columns, want %d", len(row), len(Header))
			continue
		}
		e := underlamp.TrialEntry{ID: row[0], Time: row[1], TrialUnit: row[2], Plant: row[3], What: underlamp.Response(row[4]), Missing: row[6], By: row[7], With: row[8], Note: row[9], Corrects: row[10], Struck: row[11] == "yes", Line: line}
		switch {
		case e.ID == "":
			bad("id", "every line needs an id")
		case seen[e.ID] > 0:
			bad("id", "%q is the id of line %d too", e.ID, seen[e.ID])
		}
		if _, err := day(e.Time); err != nil && e.Time != "" {
			bad("time", "%q is no day such as 2026-10-01", e.Time)
		}
		if e.TrialUnit == "" || e.Plant == "" {
			bad("unit", "unit and plant must be written")
		}
		if !slices.Contains(underlamp.Responses(), e.What) {
			bad("what", "%q is none of %s", e.What, responses())
		}
		if e.Corrects != "" {
			if seen[e.Corrects] == 0 {
				bad("corrects", "no line above has the id %q", e.Corrects)
			} else if by := gone[e.Corrects]; by != "" {
				bad("corrects", "%q is corrected by %q already; correct that one", e.Corrects, by)
			}
			gone[e.Corrects] = e.ID
		} else if e.Struck {
			bad("struck", "a line that strikes another names it under corrects")
		}
		if e.Missing == "" && !e.Struck {
			v, err := Value(e.What, row[5])
			if err != nil {
				bad("value", "%v", err)
			}
			e.Value = v
		} else if row[5] != "" {
			bad("value", "there is a value beside a reason why it is missing")
		}
		seen[e.ID] = line
		out = append(out, e)
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults[:min(len(faults), 50)]...)
	}
	return out, nil
}

// Standing returns the entries that count: those that no later one corrects or strikes.
func Standing(all []underlamp.TrialEntry) []underlamp.TrialEntry {
	gone := map[string]bool{}
	for _, e := range all {
		if e.Corrects != "" {
			gone[e.Corrects] = true
		}
	}
	var out []underlamp.TrialEntry
	for _, e := range all {
		if !gone[e.ID] && !e.Struck {
			out = append(out, e)
		}
	}
	return out
}

// Append writes entries as lines to be set at the end of the table; with header for a
// new one.
func Append(w io.Writer, entries []underlamp.TrialEntry, header bool) error {
	c := csv.NewWriter(w)
	if header {
		c.Write(Header)
	}
	write(c, entries)
	c.Flush()
	return c.Error()
}

func write(c *csv.Writer, entries []underlamp.TrialEntry) {
	for _, e := range entries {
		value, struck := "", ""
		if e.Struck {
			struck = "yes"
		} else if e.Missing == "" {
			value = strconv.FormatFloat(e.Value, 'g', -1, 64)
		}
		c.Write([]string{e.ID, e.Time, e.TrialUnit, e.Plant, string(e.What), value, e.Missing, e.By, e.With, e.Note, e.Corrects, struck})
	}
}

// Extend is a table with entries set at its end, in the manner of the table: its
// separator and its ends of lines. raw is nil or empty for a new one; its bytes stay as
// they are.
func Extend(raw []byte, entries []underlamp.TrialEntry) ([]byte, error) {
	if len(bytes.TrimSpace(raw)) == 0 {
		var b bytes.Buffer
		err := Append(&b, entries, true)
		return b.Bytes(), err
	}
	if !utf8.Valid(raw) {
		return nil, errors.New("the table is not in UTF-8, so nothing can be set at its end; save it as CSV in UTF-8")
	}
	head, _, _ := bytes.Cut(raw, []byte("\n"))
	b := bytes.NewBuffer(slices.Clone(raw))
	crlf := bytes.HasSuffix(head, []byte("\r"))
	if raw[len(raw)-1] != '\n' { // an editor may have left the last line open
		if crlf {
			b.WriteByte('\r')
		}
		b.WriteByte('\n')
	}
	c := csv.NewWriter(b)
	sep, _, _ := sheet.Separator(string(raw))
	c.UseCRLF, c.Comma = crlf, rune(sep)
	write(c, entries)
	c.Flush()
	return b.Bytes(), c.Error()
}

// spans are what a plant can be, in the unit of the response: outside is a slip of the
// pen. Common practice, no source.
var spans = map[underlamp.Response][2]float64{
	underlamp.ResponseMass: {0, 5000}, underlamp.ResponseHeight: {0, 200}, underlamp.ResponseLeaves: {0, 500}, underlamp.ResponseBurn: {0, 1},
	underlamp.ResponseSeverity: {0, underlamp.MaxSeverity}, underlamp.ResponseClear: {0, 400}, underlamp.ResponseFirst: {0, 400},
	underlamp.ResponseWidth: {0, 200}, underlamp.ResponseArea: {0, 20_000},
}

// Value reads what was seen, in the unit of the response; a number without unit is in
// that unit.
func Value(what underlamp.Response, text string) (float64, error) {
	text = strings.TrimSpace(text)
	span, known := spans[what]
	if !known {
		return 0, fmt.Errorf("%q is none of %s", what, responses())
	}
	if what == underlamp.ResponseBurn {
		switch strings.ToLower(text) {
		case "yes", "true", "seen":
			return 1, nil
		case "no", "false", "none":
			return 0, nil
		}
	}
	if what == underlamp.ResponseArea {
		for _, unit := range []string{"cm²", "cm2", "cm^2"} {
			text = strings.TrimSpace(strings.TrimSuffix(text, unit))
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		switch what {
		case underlamp.ResponseMass:
			v, err = quantity.Mass.Parse(text)
		case underlamp.ResponseHeight, underlamp.ResponseWidth:
			v, err = quantity.Length.Parse(text)
			v *= 100
		}
	}
	if err != nil && what == underlamp.ResponseBurn {
		return 0, fmt.Errorf("%q is no burn: write yes or no", text)
	} else if err != nil {
		return 0, fmt.Errorf("%q is no %s", text, what)
	}
	if !(v >= span[0] && v <= span[1]) {
		return 0, fmt.Errorf("%s is outside %s", text, strings.TrimSpace(fmt.Sprintf("%g to %g %s", span[0], span[1], what.Unit())))
	}
	switch what {
	case underlamp.ResponseBurn, underlamp.ResponseSeverity, underlamp.ResponseLeaves:
		if v != math.Trunc(v) {
			return 0, fmt.Errorf("%s is no whole number", text)
		}
	}
	return v, nil
}

func responses() string {
	var s []string
	for _, r := range underlamp.Responses() {
		s = append(s, string(r))
	}
	return strings.Join(s, ", ")
}

func day(s string) (time.Time, error) {
	for _, l := range []string{time.DateOnly, "2006-01-02 15:04", "2006-01-02T15:04", time.RFC3339} {
		if t, err := time.Parse(l, s); err == nil {
			return t, nil
		}
	}
	return time.Time{}, errors.New("no day")
}

// Day reads a day of the table, with or without the time of day.
func Day(s string) (time.Time, bool) {
	t, err := day(s)
	return t, err == nil
}
