package round

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
)

// A Fault is what is wrong with what a person asks for, as a sentence without its end.
type Fault struct {
	Text    string
	Overrun bool // somebody else was faster: look again
}

// Error is the sentence.
func (f *Fault) Error() string { return f.Text }

func fault(err error) error {
	if err == nil {
		return nil
	}
	return &Fault{Text: err.Error()}
}

// What is done with an entry.
const (
	DoCorrect = "correct" // another value or note stands for it
	DoStrike  = "strike"  // it does not count
	DoBack    = "back"    // what stood before it counts again
)

// A Change is what a person writes at the server: a new entry, or one that corrects another.
type Change struct {
	ID   string // of the entry that is made, given by who asks, so that asking twice enters once
	By   string // who says so; must be given
	Note string

	Of string // id of the entry that is corrected; empty: a new one
	Do string // with Of: one of the Do constants; empty: DoCorrect

	Value string // as typed; of a note its text
	Plant string // of a new one
	What  underlamp.Response
	Day   string // of a new one, YYYY-MM-DD in the zone of the record; empty: now
}

// Change makes the entry that a person asks for; nothing is kept. A [*Fault] says what is
// wrong with it.
func (r *Record) Change(c Change, bench string, b *underlamp.Bench, now time.Time) (Entry, error) {
	by, note := strings.TrimSpace(c.By), strings.TrimSpace(c.Note)
	if by == "" {
		return Entry{}, &Fault{Text: "write who says so"}
	}
	if c.Of == "" {
		at := now
		if d := c.Day; d != "" && d != now.In(r.zone).Format(time.DateOnly) {
			t, err := time.ParseInLocation(time.DateOnly, d, r.zone)
			if err != nil {
				return Entry{}, &Fault{Text: fmt.Sprintf("%q is no day such as 2026-10-01", d)}
			}
			at = t.Add(12 * time.Hour) // the hour is not known
		}
		x, err := New(c.ID, bench, at, now, Seen{Plant: c.Plant, What: c.What, Typed: c.Value, By: by, Note: note}, "", b)
		return x, fault(err)
	}
	old, ok := r.Find(c.Of)
	if !ok {
		return Entry{}, &Fault{Text: "the entry that is to be corrected is not there"}
	}
	if len(r.After(c.Of)) > 0 {
		if was, ok := r.Find(c.ID); !ok || was.Corrects != c.Of { // not this change, asked for twice
			return Entry{}, &Fault{"somebody has corrected this entry in the meantime: look again, and correct what counts now", true}
		}
	}
	switch c.Do {
	case DoStrike:
		x, err := Strike(c.ID, old, now, by, note)
		return x, fault(err)
	case DoBack:
		was, ok := r.Find(old.Corrects)
		if !ok {
			return Entry{}, &Fault{Text: "there is nothing before this entry to go back to"}
		}
		if was.Struck {
			return Entry{}, &Fault{Text: "what stood before was taken out; take this one out too, or correct it"}
		}
		seen := was.Seen
		seen.Clock, seen.By, seen.Beside = nil, by, nil
		if note != "" && was.What != Note {
			seen.Note = note
		}
		x, err := New(c.ID, bench, now, now, seen, c.Of, b)
		return x, fault(err)
	}
	seen := old.Seen
	seen.Clock, seen.By, seen.Note, seen.Typed, seen.Missing = nil, by, note, c.Value, ""
	if old.What == Note {
		seen.Note, seen.Typed = c.Value, ""
	}
	x, err := New(c.ID, bench, now, now, seen, c.Of, b)
	return x, fault(err)
}

// KeepAll as what is kept of a conflict says that all of it is right side by side.
const KeepAll = "all"

// A Decide ends a conflict.
type Decide struct {
	ID   string   // begins the ids of the entries that are made, given by who asks
	By   string   // who decides; must be given
	Of   []string // ids of the entries that disagree, all of them
	Keep string   // id of the one that counts, or [KeepAll]
}

// Decide makes the entries that end a conflict; nothing is kept. There are none if it is
// ended already. A [*Fault] says what is wrong with the decision.
func (r *Record) Decide(d Decide, bench string, b *underlamp.Bench, now time.Time) ([]Entry, error) {
	by := strings.TrimSpace(d.By)
	if by == "" {
		return nil, &Fault{Text: "write who decides"}
	}
	for _, c := range r.Conflicts() {
		if !slices.ContainsFunc(c.Entries, func(o Entry) bool { return slices.Contains(d.Of, o.ID) }) {
			continue
		}
		var ids []string
		for _, o := range c.Entries {
			ids = append(ids, o.ID)
		}
		if !slices.Equal(slices.Sorted(slices.Values(ids)), slices.Sorted(slices.Values(d.Of))) {
			return nil, &Fault{"more was seen of this plant in the meantime: look again", true}
		}
		if d.Keep != KeepAll && !slices.Contains(ids, d.Keep) {
			return nil, &Fault{Text: "choose which one counts"}
		}
		return r.decide(d, c, ids, by, bench, b, now)
	}
	return nil, nil
}

func (r *Record) decide(d Decide, c Conflict, ids []string, by, bench string, b *underlamp.Bench, now time.Time) ([]Entry, error) {
	var out []Entry
	add := func(x Entry, err error) error {
		out = append(out, x)
		return fault(err)
	}
	for i, o := range c.Entries {
		var err error
		switch {
		case d.Keep == KeepAll && i > 0: // each is put beside all before it
			seen := o.Seen
			seen.Clock, seen.Beside = nil, ids[:i]
			seen.Note = strings.TrimSpace(seen.Note + " Right beside the other, says " + by + ".")
			err = add(New(fmt.Sprintf("%s-%d", d.ID, i-1), bench, now, now, seen, o.ID, b))
		case d.Keep != KeepAll && o.ID != d.Keep:
			err = add(Strike(fmt.Sprintf("%s-%d", d.ID, i), o, now, by, "the other counts"))
		}
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// IsFault is what is wrong with what a person asked for; false if an error is none of that.
func IsFault(err error) (*Fault, bool) {
	var f *Fault
	ok := errors.As(err, &f)
	return f, ok
}
