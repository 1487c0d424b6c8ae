package round

import (
	"cmp"
	"slices"
	"time"

	"underlamp"
)

// A Record is the entries of a bench with what follows from their corrections.
type Record struct {
	All []Entry // in time

	zone  *time.Location
	byID  map[string]int
	after map[string][]int // id → entries that correct it, in the order of recording
	root  map[string]string
}

// NewRecord sorts entries and follows their corrections. Days are those of the zone.
func NewRecord(all []Entry, zone *time.Location) *Record {
	r := &Record{All: slices.Clone(all), zone: zone, byID: map[string]int{}, after: map[string][]int{}, root: map[string]string{}}
	slices.SortStableFunc(r.All, func(a, b Entry) int {
		return cmp.Or(a.At.Compare(b.At), a.Recorded.Compare(b.Recorded), cmp.Compare(a.ID, b.ID))
	})
	for i, e := range r.All {
		r.byID[e.ID] = i
	}
	for i, e := range r.All {
		if e.Corrects != "" {
			r.after[e.Corrects] = append(r.after[e.Corrects], i)
		}
	}
	for _, next := range r.after {
		slices.SortStableFunc(next, func(a, b int) int { return r.All[a].Recorded.Compare(r.All[b].Recorded) })
	}
	return r
}

// Zone is that of the days.
func (r *Record) Zone() *time.Location { return r.zone }

// Find is the entry of an id.
func (r *Record) Find(id string) (Entry, bool) {
	i, ok := r.byID[id]
	if !ok {
		return Entry{}, false
	}
	return r.All[i], true
}

// After are the entries that correct one, in the order in which they were entered.
func (r *Record) After(id string) []Entry {
	var out []Entry
	for _, i := range r.after[id] {
		out = append(out, r.All[i])
	}
	return out
}

// Counts says that an entry counts: nothing corrects it, and it strikes nothing.
func (r *Record) Counts(e *Entry) bool { return len(r.after[e.ID]) == 0 && !e.Struck }

// Standing are the entries that count, in time. A correction counts with the time of
// what it corrects: see [Record.When].
func (r *Record) Standing() []Entry {
	var out []Entry
	for i := range r.All {
		if r.Counts(&r.All[i]) {
			out = append(out, r.All[i])
		}
	}
	slices.SortStableFunc(out, func(a, b Entry) int { return r.When(&a).Compare(r.When(&b)) })
	return out
}

// Root is the entry that a chain of corrections began with: itself, if an entry corrects
// none. What it corrects may not be known; the chain then begins here.
func (r *Record) Root(e *Entry) *Entry {
	at := e
	for steps := 0; at.Corrects != "" && steps <= len(r.All); steps++ {
		i, ok := r.byID[at.Corrects]
		if !ok {
			break
		}
		at = &r.All[i]
	}
	return at
}

// When is the instant that an entry is about: that of what it corrects in the end. A
// correction puts a value right, and somebody may write it days later.
func (r *Record) When(e *Entry) time.Time { return r.Root(e).At }

// Day is the day that an entry is about, at its midnight in UTC.
func (r *Record) Day(e *Entry) time.Time {
	y, m, d := r.When(e).In(r.zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// A Conflict is two or more entries that count, of one plant, measure and day, and say
// different things. A person decides which stays, or that they are right side by side.
type Conflict struct {
	Plant   string
	What    underlamp.Response
	Day     time.Time
	Entries []Entry // in time
}

// Conflicts lists what is to be decided, in time.
func (r *Record) Conflicts() []Conflict {
	type key struct {
		plant string
		what  underlamp.Response
		day   time.Time
	}
	groups := map[key][]Entry{}
	var order []key
	for _, e := range r.Standing() {
		if !measured(e.What) {
			continue
		}
		k := key{e.Plant, e.What, r.Day(&e)}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], e)
	}
	var out []Conflict
	for _, k := range order {
		if g := groups[k]; r.disagree(g) {
			out = append(out, Conflict{k.plant, k.what, k.day, g})
		}
	}
	return out
}

// disagree says that two of the entries differ and nobody has said that both are right.
func (r *Record) disagree(g []Entry) bool {
	for i := range g {
		for j := range i {
			a, b := &g[i], &g[j]
			if a.Value == b.Value && (a.Missing == "") == (b.Missing == "") {
				continue
			}
			if !r.beside(a, b) && !r.beside(b, a) {
				return true
			}
		}
	}
	return false
}

// beside says that somebody put a beside b, or beside what b corrects.
func (r *Record) beside(a, b *Entry) bool {
	for _, id := range a.Beside {
		e, ok := r.byID[id]
		if id == b.ID || ok && r.Root(&r.All[e]).ID == r.Root(b).ID {
			return true
		}
	}
	return false
}

// Last is the latest value of each measure of a plant that counts; photos and notes too.
func (r *Record) Last(plant string) map[underlamp.Response]Entry {
	out := map[underlamp.Response]Entry{}
	for _, e := range r.Standing() {
		if e.Plant == plant && e.Missing == "" {
			out[e.What] = e
		}
	}
	return out
}

// Burn is when burn was first seen on a plant.
type Burn struct {
	Clear time.Time // day of the last look before it that saw none; zero: none
	First time.Time // day of the first look that saw some; zero: none did
}

// BurnOf tells from the looks at a plant when its burn was first seen: between the last
// clear look before it and the first that saw some. A first day that somebody gave counts
// where it is earlier. The zero days say that nobody looked, or saw any.
func (r *Record) BurnOf(plant string, b *underlamp.Bench) Burn {
	var out Burn
	var clears []time.Time
	start, err := time.Parse(time.DateOnly, b.Crop.Transplanted)
	first := func(t time.Time) {
		if out.First.IsZero() || t.Before(out.First) {
			out.First = t
		}
	}
	for _, e := range r.Standing() {
		if e.Plant != plant || e.Missing != "" {
			continue
		}
		switch e.What {
		case underlamp.ResponseBurn, underlamp.ResponseSeverity:
			if e.Value > 0 {
				first(r.Day(&e))
			} else {
				clears = append(clears, r.Day(&e))
			}
		case underlamp.ResponseFirst:
			if err == nil {
				first(start.AddDate(0, 0, int(e.Value)))
			}
		case underlamp.ResponseClear:
			if err == nil {
				clears = append(clears, start.AddDate(0, 0, int(e.Value)))
			}
		}
	}
	for _, t := range clears {
		if (out.First.IsZero() || t.Before(out.First)) && t.After(out.Clear) {
			out.Clear = t
		}
	}
	return out
}
