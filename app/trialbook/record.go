package trialbook

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"underlamp"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
)

// Said is one thing seen of one plant, as a person says it.
type Said struct {
	Key      string // names the saying, so that it is entered once; empty: it gets a number
	Unit     string
	Plant    string
	What     underlamp.Response
	Value    string // such as "141", "141 g", "4,9 oz", "yes"
	Measure  string // unit of a bare number; empty: that of the response
	Missing  string // why there is no value
	Time     string // YYYY-MM-DD, or with the time of day
	By, With string
	Note     string
	Corrects string // id of the line that this one stands for; what is left empty is taken from it
	Strike   bool   // the line under Corrects shall not count
}

// A FieldError is what is wrong with one field of what a person said.
type FieldError struct {
	Index  int    // of the saying; 0 in a form about one thing
	Field  string // such as "value", "time", "corrects"
	Reason string // a sentence without its end
}

// Error is the fault with its field.
func (e *FieldError) Error() string { return e.Field + ": " + e.Reason }

// FieldErrors are all faults of what a person said.
type FieldErrors []*FieldError

// Error joins the faults.
func (e FieldErrors) Error() string {
	var s []string
	for _, x := range e {
		s = append(s, x.Error())
	}
	return strings.Join(s, "; ")
}

func (e *FieldErrors) add(index int, field, reason string, a ...any) {
	*e = append(*e, &FieldError{index, field, fmt.Sprintf(reason, a...)})
}

// Kept is what became of a saying.
type Kept struct {
	Entry  underlamp.TrialEntry
	Again  bool     // it had been entered before; nothing was written
	Doubts []string // what can hardly be meant; it is kept all the same
}

// Bounds of what a person says, in characters.
const (
	mostName = 80
	mostNote = 1000
)

// validKey are keys of sayings.
var validKey = regexp.MustCompile(`^[a-z0-9]{6,24}$`)

// Record enters what was said, all of it or nothing. now is the time of the place, for no
// day can be seen before it comes. Faults are [FieldErrors].
func Record(place Place, p *Page, said []Said, now time.Time) ([]Kept, error) {
	var out []Kept
	err := p.extend(place, func(all []underlamp.TrialEntry) ([]underlamp.TrialEntry, error) {
		out = nil
		var faults FieldErrors
		var added []underlamp.TrialEntry
		for i, s := range said {
			e, again := p.enter(slices.Concat(all, added), s, i, now, &faults)
			if !again {
				added = append(added, e)
			}
			out = append(out, Kept{Entry: e, Again: again})
		}
		if len(faults) > 0 {
			return nil, faults
		}
		return added, nil
	})
	if err != nil {
		return nil, err
	}
	doubts := trialtable.Doubts(p.Standing())
	for i, k := range out {
		out[i].Doubts = p.doubtsOf(k.Entry, doubts)
	}
	return out, nil
}

// Look says what can hardly be meant of what would be entered, without entering it.
func Look(p *Page, s Said, now time.Time) (underlamp.TrialEntry, []string, error) {
	var faults FieldErrors
	e, again := p.enter(p.All, s, 0, now, &faults)
	if len(faults) > 0 {
		return e, nil, faults
	}
	q := *p
	if !again {
		q.All = slices.Concat(p.All, []underlamp.TrialEntry{e})
	}
	return e, q.doubtsOf(e, trialtable.Doubts(q.Standing())), nil
}

// DoubtsOf says what can hardly be meant of an entry of the table.
func (p *Page) DoubtsOf(e underlamp.TrialEntry) []string {
	return p.doubtsOf(e, trialtable.Doubts(p.Standing()))
}

// doubtsOf are those about an entry, with what else stands of the same plant and day.
func (p *Page) doubtsOf(e underlamp.TrialEntry, doubts []string) []string {
	var out []string
	for _, d := range doubts {
		if strings.HasPrefix(d, e.ID+" ") {
			out = append(out, d)
		}
	}
	for _, o := range p.Standing() {
		if o.ID != e.ID && !e.Struck && o.TrialUnit == e.TrialUnit && o.Plant == e.Plant && o.What == e.What && day(o.Time) == day(e.Time) {
			out = append(out, fmt.Sprintf("%s (unit %s, plant %s): there is another %s of that day, %s (%s); both are kept, and the later line counts. Strike out the one that is wrong.",
				e.ID, e.TrialUnit, e.Plant, e.What, SaidOf(o), o.ID))
		}
	}
	return out
}

func day(s string) string { return s[:min(len(s), len(time.DateOnly))] }

// SaidIn is an entry in words, as [SaidOf], with lengths in the units of who reads.
func SaidIn(units quantity.System, e underlamp.TrialEntry) string {
	if kept, ok := quantity.Length.Conversion(e.What.Unit()); ok && units == quantity.US && !e.Struck && e.Missing == "" {
		return quantity.Length.Format(kept.Base(e.Value), units, 4)
	}
	return SaidOf(e)
}

// SaidOf is an entry in words: "141 g", "yes", "missing: dead".
func SaidOf(e underlamp.TrialEntry) string {
	switch {
	case e.Struck:
		return "struck out"
	case e.Missing != "":
		return "missing: " + e.Missing
	case e.What == underlamp.ResponseBurn && e.Value > 0:
		return "yes"
	case e.What == underlamp.ResponseBurn:
		return "no"
	case e.What.Unit() == "":
		return quantity.Number(e.Value, 4)
	}
	return quantity.Number(e.Value, 4) + " " + e.What.Unit()
}

// enter is a saying as an entry; again says that it stands among all already.
func (p *Page) enter(all []underlamp.TrialEntry, s Said, index int, now time.Time, faults *FieldErrors) (e underlamp.TrialEntry, again bool) {
	bad := func(field, reason string, a ...any) { faults.add(index, field, reason, a...) }
	for _, x := range []struct {
		field string
		text  *string
		most  int
	}{{"unit", &s.Unit, mostName}, {"plant", &s.Plant, mostName}, {"missing", &s.Missing, mostNote}, {"by", &s.By, mostName}, {"with", &s.With, mostName}, {"note", &s.Note, mostNote}, {"value", &s.Value, mostName}, {"time", &s.Time, mostName}} {
		*x.text = clean(*x.text)
		if n := utf8.RuneCountInString(*x.text); n > x.most {
			bad(x.field, "there are %d characters; at most %d are kept", n, x.most)
		}
	}
	e = underlamp.TrialEntry{TrialUnit: s.Unit, Plant: s.Plant, What: s.What, Time: s.Time, Missing: s.Missing, By: s.By, With: s.With, Note: s.Note, Corrects: s.Corrects, Struck: s.Strike}
	if s.Corrects != "" {
		i := slices.IndexFunc(all, func(o underlamp.TrialEntry) bool { return o.ID == s.Corrects })
		if i < 0 {
			bad("corrects", "the table has no line %q", s.Corrects)
			return e, false
		}
		old := all[i]
		for _, x := range []struct{ to, from *string }{{&e.TrialUnit, &old.TrialUnit}, {&e.Plant, &old.Plant}, {(*string)(&e.What), (*string)(&old.What)}, {&e.Time, &old.Time}} {
			if *x.to == "" {
				*x.to = *x.from
			}
		}
		if !p.name(&e, s, all, bad) {
			return e, false
		}
		if by := slices.IndexFunc(all, func(o underlamp.TrialEntry) bool { return o.Corrects == s.Corrects && o.ID != e.ID }); by >= 0 {
			bad("corrects", "%s was changed by %s already: %s; look at that one, and correct it if it is wrong", s.Corrects, all[by].ID, SaidOf(all[by]))
			return e, false
		}
	} else if s.Strike {
		bad("corrects", "say which line shall be struck out")
		return e, false
	} else if !p.name(&e, s, all, bad) {
		return e, false
	}
	if err := KnownUnit(p.Trial, e.TrialUnit); err != nil {
		bad("unit", "%v", err)
	}
	if e.Plant == "" {
		bad("plant", "say which plant of the unit it is")
	}
	p.when(e.Time, now, bad)
	switch {
	case s.Strike:
		if s.Value != "" || s.Missing != "" {
			bad("value", "a line is either struck out or corrected")
		}
		e.Missing = ""
	case s.Missing != "" && s.Value != "":
		bad("missing", "there is a value beside the reason why it is missing; empty one of the two")
	case s.Missing == "" && s.Value == "":
		bad("value", "write what was seen, or why nothing could be")
	case s.Missing == "":
		text := withMeasure(s.Value, s.Measure)
		v, err := trialtable.Value(e.What, text)
		if err != nil {
			bad("value", "%v", err)
			break
		}
		e.Value = v
		if was := otherUnit(e.What, text); was != "" && !strings.Contains(e.Note, was) {
			e.Note = strings.TrimSuffix(was+"; "+e.Note, "; ")
		}
	}
	if i := slices.IndexFunc(all, func(o underlamp.TrialEntry) bool { return o.ID == e.ID }); i >= 0 {
		o := all[i]
		o.Line = 0
		if o == e {
			return o, true
		}
		bad("key", "this was kept already, as %s of unit %s, plant %s; to change it, correct %s", SaidOf(o), o.TrialUnit, o.Plant, o.ID)
	}
	return e, false
}

// name gives an entry its id; false if its key is none.
func (p *Page) name(e *underlamp.TrialEntry, s Said, all []underlamp.TrialEntry, bad func(field, reason string, a ...any)) bool {
	switch {
	case !slices.Contains(underlamp.Responses(), e.What):
		var can []string
		for _, r := range underlamp.Responses() {
			can = append(can, string(r))
		}
		bad("what", "%q is nothing that is looked at in trials; that is %s", string(e.What), strings.Join(can, ", "))
		return false
	case s.Key == "":
		e.ID = trialtable.NextID(all)
	case !validKey.MatchString(s.Key):
		bad("key", "%q is no key of 6 to 24 small letters and digits", s.Key)
		return false
	default:
		e.ID = s.Key + "-" + string(e.What)
	}
	return true
}

// when refuses days that are none, or have not come.
func (p *Page) when(text string, now time.Time, bad func(field, reason string, a ...any)) {
	if text == "" {
		return
	}
	t, ok := trialtable.Day(text)
	switch {
	case !ok:
		bad("time", "%q is no day such as 2026-10-01", text)
	case day(text) > now.AddDate(0, 0, 1).Format(time.DateOnly): // a day of grace for zones
		bad("time", "%s has not come yet; today is %s", day(text), now.Format(time.DateOnly))
	case t.Year() < 1990:
		bad("time", "%s is too long ago for this trial", day(text))
	}
}

// clean is text in one line, without what cannot be seen.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\r' || r == '\t':
			return ' '
		case unicode.IsControl(r) || r == utf8.RuneError || r == '\ufeff':
			return -1
		}
		return r
	}, s))
}

// withMeasure gives a bare number the unit chosen for it.
func withMeasure(value, measure string) string {
	if _, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64); err == nil && measure != "" {
		return value + " " + measure
	}
	return value
}

// otherUnit says how a value was read if not in the unit of the response, so that both are
// kept.
func otherUnit(what underlamp.Response, text string) string {
	if what.Unit() == "" {
		return ""
	}
	number := strings.TrimRightFunc(text, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsSpace(r) || r == '.' })
	unit := strings.TrimSpace(text[len(number):])
	if unit == "" || unit == what.Unit() {
		return ""
	}
	return "read as " + text
}

// Measures are the units in which a response can be said, its own first.
func Measures(what underlamp.Response) []string {
	switch what {
	case underlamp.ResponseMass:
		return []string{"g", "kg", "oz", "lb"}
	case underlamp.ResponseHeight:
		return []string{"cm", "mm", "in"}
	}
	return nil
}

// A Lineage is an entry that counts, or a struck one, with all that it stands for, the
// newest first.
type Lineage []underlamp.TrialEntry

// History are the entries of a plant with what they correct, in the order of the table.
func (p *Page) History(unit, plant string) []Lineage {
	byID, gone := map[string]underlamp.TrialEntry{}, map[string]bool{}
	for _, e := range p.All {
		byID[e.ID] = e
		if e.Corrects != "" {
			gone[e.Corrects] = true
		}
	}
	var out []Lineage
	for _, e := range p.All {
		if e.TrialUnit != unit || e.Plant != plant || gone[e.ID] {
			continue
		}
		l := Lineage{e}
		for e.Corrects != "" {
			e = byID[e.Corrects]
			l = append(l, e)
		}
		out = append(out, l)
	}
	return out
}

// A UnitProgress is how far the recording of a unit is.
type UnitProgress struct {
	Unit         underlamp.TrialUnit
	Plants       []PlantProgress
	Seen, Absent int // plants with the primary response, and with a reason why it is missing
	Guards       int // plants that are grown and not counted, of which nothing was recorded
}

// Due is how many plants count.
func (u UnitProgress) Due() int { return len(u.Plants) - u.Guards }

// Done says that nothing is missing of the unit.
func (u UnitProgress) Done() bool { return u.Seen+u.Absent >= u.Due() && len(u.Plants) > 0 }

// A PlantProgress is how far a plant is.
type PlantProgress struct {
	Code   string
	Seen   bool // the primary response
	Absent bool
	Any    bool   // anything at all
	Guard  string // why it does not count; empty if it counts, or somebody recorded it
}

// A State is how far a trial is.
type State string

// The states.
const (
	Planned State = "planned" // nothing is recorded
	Running State = "running"
	Done    State = "done" // every plant has the primary response, or a reason
)

// Progress is how far each unit is, and the trial.
func (p *Page) Progress() ([]UnitProgress, State) {
	type key struct{ unit, plant string }
	seen, absent, any := map[key]bool{}, map[key]bool{}, map[key]bool{}
	more := map[string][]string{}
	standing := p.Standing()
	for _, e := range standing {
		k := key{e.TrialUnit, e.Plant}
		if !any[k] {
			more[e.TrialUnit] = append(more[e.TrialUnit], e.Plant)
		}
		any[k] = true
		if e.What == p.Trial.Response {
			seen[k] = seen[k] || e.Missing == ""
			absent[k] = absent[k] || e.Missing != ""
		}
	}
	var out []UnitProgress
	state := Done
	for _, u := range p.Trial.Places {
		x := UnitProgress{Unit: u}
		for _, code := range Codes(u, more[u.Name]) {
			k := key{u.Name, code}
			pp := PlantProgress{Code: code, Seen: seen[k], Absent: absent[k] && !seen[k], Any: any[k]}
			if why := p.guards[plantOf{u.Name, code}]; why != "" && !pp.Seen && !pp.Absent {
				pp.Guard = why
				x.Guards++
			}
			if pp.Seen {
				x.Seen++
			}
			if pp.Absent {
				x.Absent++
			}
			x.Plants = append(x.Plants, pp)
		}
		if !x.Done() {
			state = Running
		}
		out = append(out, x)
	}
	if len(standing) == 0 {
		state = Planned
	}
	return out, state
}

// Codes are the codes of the plants of a unit: P1, P2 … as on the sheet, and those that
// were seen under other names.
func Codes(u underlamp.TrialUnit, seen []string) []string {
	var out []string
	for i := range max(u.Plants, 1) {
		if u.Plants == 0 && len(seen) > 0 {
			break
		}
		out = append(out, fmt.Sprintf("P%d", i+1))
	}
	for _, s := range seen {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}
