package round

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/trialtable"
)

// Header is the first line of the table of a bench's entries: the columns of the tables of
// trials, where unit is the bench, and then what phones and photos add.
var Header = append(slices.Clone(trialtable.Header), "typed", "recorded", "photo", "clock", "counts")

// WriteCSV writes every entry, those that do not count too, as a table. Times carry the
// zone of the record.
func (r *Record) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.Write(Header)
	for _, e := range r.All {
		value, struck, clock, counts := "", "", "", "no"
		if e.Struck {
			struck = "yes"
		} else if e.Missing == "" && (measured(e.What) || e.What == Cut) {
			value = strconv.FormatFloat(e.Value, 'g', -1, 64)
		}
		if e.Clock != nil {
			clock = e.Clock.State
		}
		if r.Counts(&e) {
			counts = "yes"
		}
		c.Write([]string{e.ID, e.At.In(r.zone).Format(time.RFC3339), e.Bench, e.Plant, string(e.What), value, e.Missing, e.By, e.With, e.Note, e.Corrects, struck,
			e.Typed, e.Recorded.In(r.zone).Format(time.RFC3339), e.Photo, clock, counts})
	}
	c.Flush()
	return c.Error()
}

// Limits of an export that is read.
const (
	MaxExport     = 64 << 20 // bytes
	MaxExported   = 200_000  // entries
	exportVersion = 1
)

// kept is an entry in an export, whole.
type kept struct {
	ID       string    `json:"id"`
	At       time.Time `json:"at"`
	Recorded time.Time `json:"recorded"`
	Corrects string    `json:"corrects,omitempty"`
	Struck   bool      `json:"struck,omitempty"`
	Seen
}

type export struct {
	Version int    `json:"underlamp rounds export"`
	Bench   string `json:"bench"`
	Entries []kept `json:"entries"`
}

// WriteJSON writes every entry whole, so that [ReadJSON] gives them back.
func (r *Record) WriteJSON(w io.Writer, bench string) error {
	x := export{Version: exportVersion, Bench: bench, Entries: []kept{}}
	for _, e := range r.All {
		x.Entries = append(x.Entries, kept{e.ID, e.At, e.Recorded, e.Corrects, e.Struck, e.Seen})
	}
	out := json.NewEncoder(w)
	out.SetIndent("", " ")
	return out.Encode(x)
}

// ReadJSON reads an export. It names every entry that cannot be, up to fifty; the entries
// are nil then. The value is made anew of what was typed, and must be the one written.
func ReadJSON(raw []byte) (bench string, out []Entry, err error) {
	if len(raw) > MaxExport {
		return "", nil, fmt.Errorf("the file is larger than %d MB", MaxExport>>20)
	}
	var x export
	if err := strictly(raw, &x); err != nil {
		return "", nil, err
	}
	switch {
	case x.Version != exportVersion:
		return "", nil, fmt.Errorf(`there is no "underlamp rounds export": %d at the beginning; underlamp rounds export --json writes such a file`, exportVersion)
	case x.Bench == "":
		return "", nil, errors.New("the bench is missing")
	case len(x.Entries) > MaxExported:
		return "", nil, fmt.Errorf("there are more than %d entries", MaxExported)
	}
	var faults []error
	ids := map[string]bool{}
	for i, k := range x.Entries {
		e := Entry{ID: k.ID, Bench: x.Bench, At: k.At.UTC().Truncate(time.Microsecond), Recorded: k.Recorded.UTC().Truncate(time.Microsecond), Corrects: k.Corrects, Struck: k.Struck, Seen: k.Seen}
		err := e.Check()
		if err == nil && ids[e.ID] {
			err = fmt.Errorf("the id %q stands twice", e.ID)
		}
		if err != nil {
			faults = append(faults, fmt.Errorf("entry %d: %w", i+1, err))
		}
		ids[e.ID] = true
		out = append(out, e)
	}
	if len(faults) > 0 {
		return "", nil, errors.Join(faults[:min(len(faults), 50)]...)
	}
	return x.Bench, out, nil
}

// Check holds an entry of an export or a package to what entries may be: its value is made
// anew of what was typed, and must be the one written.
func (e *Entry) Check() error {
	if err := e.valid(); err != nil || e.Struck {
		return err
	}
	again := e.Seen
	if err := again.assess(nil); err != nil {
		return err
	}
	if again.Value != e.Value || again.Unit != e.Unit {
		return fmt.Errorf("%q is %s, not %s", e.Typed, again.Text(), e.Text())
	}
	return nil
}

// New makes an entry that a person writes at the server: a value as typed, or none with a
// reason. It is refused as [Packet.Enter] refuses it.
func New(id, bench string, at, recorded time.Time, s Seen, corrects string, b *underlamp.Bench) (Entry, error) {
	e := Entry{ID: id, Bench: bench, At: at.UTC().Truncate(time.Microsecond), Recorded: recorded.UTC().Truncate(time.Microsecond), Corrects: corrects, Seen: s}
	e.Typed = strings.TrimSpace(e.Typed)
	if err := e.valid(); err != nil {
		return e, err
	}
	return e, e.assess(b)
}

// Strike makes the entry that takes another out.
func Strike(id string, e Entry, recorded time.Time, by, why string) (Entry, error) {
	s := Entry{ID: id, Bench: e.Bench, At: e.At, Recorded: recorded.UTC().Truncate(time.Microsecond), Corrects: e.ID, Struck: true, Seen: Seen{Plant: e.Plant, What: e.What, By: by, Note: why}}
	return s, s.valid()
}
