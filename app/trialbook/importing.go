package trialbook

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/sheet"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
)

// A Draft is what the import of a table would do.
type Draft struct {
	trialtable.Preview
	Number int      // of the import, by which it can be undone
	Doubts []string // what can hardly be meant of the new values
	Known  int      // of New, how many columns were told anew: 0 nothing to remember
	Taken  int      // of New, how many stand for values that were there and differ
}

// Saying is what a person says of a table.
type Saying struct {
	Columns map[string]string // what headings are, beyond what the plan remembers
	Take    bool              // where the table and the trial differ, the table counts; else what is there stays
}

// Prepare says what the import of a table would do; nothing is written. With Known of the
// draft above 0 its columns hold what is new. Values that an import brought which was undone
// count as new.
func Prepare(p *Page, t *sheet.Table, say Saying, now time.Time) (*Draft, error) {
	all := maps.Clone(p.Trial.Columns)
	if all == nil {
		all = map[string]string{}
	}
	d := &Draft{Number: nextImport(p.All)}
	for h, is := range say.Columns {
		if all[h] != is {
			d.Known++
		}
		all[h] = is
	}
	preview, err := trialtable.Import(t, all, knownOf(p.All))
	if err != nil {
		return nil, err
	}
	d.Preview = *preview
	if say.Take {
		for _, x := range d.Conflicts {
			e := x.Says
			e.Corrects = x.Has.ID
			d.New = append(d.New, e)
			d.Taken++
		}
	}
	today := now.AddDate(0, 0, 1).Format(time.DateOnly)
	ids := map[string]bool{}
	for i, e := range d.New {
		if err := KnownUnit(p.Trial, e.TrialUnit); err != nil {
			return nil, fmt.Errorf("line %d: %w", e.Line, err)
		}
		d.New[i].ID = fmt.Sprintf("i%d-%d", d.Number, i+1)
		ids[d.New[i].ID] = true
		if day(e.Time) > today {
			d.Doubts = append(d.Doubts, fmt.Sprintf("%s (unit %s, plant %s): %s has not come yet.", d.New[i].ID, e.TrialUnit, e.Plant, day(e.Time)))
		}
	}
	if n := undated(d.New); n > 0 {
		d.Doubts = append(d.Doubts, fmt.Sprintf("%d of the %d new values have no day: say which column it is, or they cannot be put in order with later ones.", n, len(d.New)))
	}
	for _, s := range trialtable.Doubts(trialtable.Standing(slices.Concat(p.All, d.New))) {
		if id, _, _ := strings.Cut(s, " "); ids[id] {
			d.Doubts = append(d.Doubts, s)
		}
	}
	return d, nil
}

func undated(entries []underlamp.TrialEntry) int {
	n := 0
	for _, e := range entries {
		if e.Time == "" {
			n++
		}
	}
	return n
}

// Import keeps what [Prepare] showed, all or nothing, and remembers in the plan what the
// columns are. What the table has come to hold meanwhile is not entered twice. It returns
// what it did.
func Import(place Place, p *Page, t *sheet.Table, say Saying, now time.Time) (*Draft, error) {
	d, err := Prepare(p, t, say, now) // the mistakes, before anything is written
	if err != nil {
		return nil, err
	}
	if d.Known > 0 { // first: a mapping without its values does no harm
		if err := remember(place, p, say.Columns); err != nil {
			return nil, err
		}
	}
	err = p.extend(place, func([]underlamp.TrialEntry) ([]underlamp.TrialEntry, error) {
		known := d.Known
		if d, err = Prepare(p, t, say, now); err != nil {
			return nil, err
		}
		d.Known = known
		return d.New, nil
	})
	return d, err
}

// ofImport are ids of what an import brought, and of what undid it.
var ofImport = regexp.MustCompile(`^([iu])(\d{1,9})-\d+$`)

func importOf(id string) (kind string, number int) {
	m := ofImport.FindStringSubmatch(id)
	if m == nil {
		return "", 0
	}
	n, err := strconv.Atoi(m[2])
	if err != nil {
		return "", 0
	}
	return m[1], n
}

func nextImport(all []underlamp.TrialEntry) int {
	next := 1
	for _, e := range all {
		if kind, n := importOf(e.ID); kind != "" && n >= next {
			next = n + 1
		}
	}
	return next
}

// knownOf are the entries that an import must not bring again: all but those that the
// undoing of an import took away.
func knownOf(all []underlamp.TrialEntry) []underlamp.TrialEntry {
	undone := map[string]bool{}
	for _, e := range all {
		if kind, _ := importOf(e.ID); kind == "u" {
			undone[e.ID], undone[e.Corrects] = true, true
		}
	}
	var out []underlamp.TrialEntry
	for _, e := range all {
		if !undone[e.ID] {
			out = append(out, e)
		}
	}
	return out
}

// An Imported is one import of the past.
type Imported struct {
	Number   int
	Brought  int // values
	Standing int // of them that count as they came
	Changed  int // corrected or struck by hand since
}

// Imports are those of the table, the newest first.
func (p *Page) Imports() []Imported {
	by := map[int]*Imported{}
	of := map[string]int{}
	for _, e := range p.All {
		if kind, n := importOf(e.ID); kind == "i" {
			if by[n] == nil {
				by[n] = &Imported{Number: n}
			}
			by[n].Brought++
			by[n].Standing++
			of[e.ID] = n
		}
		if n := of[e.Corrects]; n != 0 {
			by[n].Standing--
			if kind, _ := importOf(e.ID); kind != "u" {
				by[n].Changed++
			}
		}
	}
	var out []Imported
	for _, n := range slices.Backward(slices.Sorted(maps.Keys(by))) {
		out = append(out, *by[n])
	}
	return out
}

// Undo strikes what an import brought, as far as nobody has changed it since, and returns
// how many values that were. The lines stay in the table.
func Undo(place Place, p *Page, number int, by string, now time.Time) (int, error) {
	n := 0
	err := p.extend(place, func(all []underlamp.TrialEntry) ([]underlamp.TrialEntry, error) {
		gone, there := map[string]bool{}, false
		byID := map[string]underlamp.TrialEntry{}
		for _, e := range all {
			gone[e.Corrects] = true
			byID[e.ID] = e
		}
		var out []underlamp.TrialEntry
		for _, e := range all {
			kind, k := importOf(e.ID)
			if kind != "i" || k != number {
				continue
			}
			if there = true; gone[e.ID] {
				continue
			}
			back := underlamp.TrialEntry{ID: "u" + e.ID[1:], Time: e.Time, TrialUnit: e.TrialUnit, Plant: e.Plant, What: e.What, By: clean(by), Corrects: e.ID, Struck: true,
				Note: fmt.Sprintf("import %d undone on %s", number, now.Format(time.DateOnly))}
			if was, ok := byID[e.Corrects]; ok { // the import stood for another value, which counts again
				back.Struck, back.Value, back.Missing = false, was.Value, was.Missing
				back.Note += "; as in " + was.ID
			}
			out = append(out, back)
		}
		if !there {
			return nil, fmt.Errorf("the table has no import %d", number)
		}
		n = len(out)
		return out, nil
	})
	return n, err
}

// columnsMark begins the part of a plan that holds what columns are.
const columnsMark = "\n# What the columns of imported tables are.\n"

// remember sets what columns are into the plan and leaves the rest of it as a person wrote
// it: the part columns is the last of the file.
func remember(place Place, p *Page, columns map[string]string) error {
	return place.Change(p.File, func(was []byte) ([]byte, error) {
		t, problems, err := trialfile.Read(bytes.NewReader(was))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.File, err)
		}
		if t == nil {
			return nil, &BrokenError{p.File, was, problems}
		}
		maps.Copy(t.Columns, columns)
		var whole bytes.Buffer
		if err := trialfile.Write(&whole, t); err != nil {
			return nil, err
		}
		source := strings.ReplaceAll(string(was), "\r\n", "\n")
		_, part, _ := strings.Cut(whole.String(), columnsMark)
		before, _, had := strings.Cut(source, columnsMark)
		if !had && strings.Contains(source, "\ncolumns:") {
			return nil, fmt.Errorf("%s has a part columns of its own, so the headings cannot be remembered; write them into it", p.File)
		}
		out := strings.TrimRight(before, "\n") + "\n" + columnsMark + part
		if bytes.Contains(was, []byte("\r\n")) {
			out = strings.ReplaceAll(out, "\n", "\r\n")
		}
		text := []byte(out)
		if again, problems, err := trialfile.Read(bytes.NewReader(text)); err != nil || again == nil {
			return nil, errors.Join(fmt.Errorf("the columns cannot be set into %s: %s", p.File, problems.Error()), err)
		}
		p.Trial.Columns = t.Columns
		return text, nil
	})
}
