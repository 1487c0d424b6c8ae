package round

import (
	"fmt"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
)

// A Doubt is a question about an entry.
type Doubt struct {
	ID   string
	Text string
}

// oldest is how many days after transplanting leafy greens are still looked at; common
// practice, no source.
const oldest = 200

// Doubts asks about entries that count and can hardly be meant: those of trials (a mass
// that fell by half, a head beyond what leafy greens weigh, ounces for grams, burn that
// healed), plants larger than their bench, looks before transplanting or in the future,
// and clocks that were changed. Now is the time of the server.
func (r *Record) Doubts(b *underlamp.Bench, now time.Time) []Doubt {
	var out []Doubt
	standing := r.Standing()
	var rows []underlamp.TrialEntry
	plants := map[string]bool{}
	for _, p := range b.Plants {
		plants[p.Name] = true
	}
	last := map[string]Entry{}
	cut := map[string]Entry{}
	for _, e := range standing {
		add := func(format string, a ...any) { out = append(out, Doubt{e.ID, fmt.Sprintf(format, a...)}) }
		if !plants[e.Plant] {
			add("The bench has no plant %q.", e.Plant)
		}
		if day, ok := DayOf(b, r.When(&e).In(r.zone)); ok {
			switch {
			case day < 0:
				add("It is of %d days before the crop was transplanted (%s).", -day, b.Crop.Transplanted)
			case day > oldest:
				add("It is of day %d after transplanting; is the bench file still of the crop before?", day)
			}
		}
		if r.When(&e).After(now.Add(5 * time.Minute)) {
			add("Its time has not come yet.")
		}
		if c := r.Root(&e).Clock; c != nil && c.State == ClockChanged {
			add("The clock of the phone was changed between typing and sending; the time may be wrong.")
		}
		if c, gone := cut[e.Plant]; gone && r.Day(&e).After(r.Day(&c)) {
			add("The plant was cut on %s.", r.Day(&c).Format(time.DateOnly))
		}
		if e.What == Cut {
			cut[e.Plant] = e
		}
		if !measured(e.What) || e.Missing != "" {
			continue
		}
		rows = append(rows, underlamp.TrialEntry{ID: e.ID, Time: r.Day(&e).Format(time.DateOnly), TrialUnit: e.Bench, Plant: e.Plant, What: e.What, Value: e.Value})
		k := e.Plant + "\x00" + string(e.What)
		p, before := last[k]
		last[k] = e
		switch e.What {
		case underlamp.ResponseHeight:
			if h := 100 * float64(b.Space.Height); e.Value > h {
				add("%s is higher than the bench (%s).", e.Text(), quantity.Length.Format(float64(b.Space.Height), b.Units, 3))
			}
		case underlamp.ResponseWidth:
			if w := max(b.Space.Width, b.Space.Depth); e.Value > 100*float64(w) {
				add("%s is wider than the bench (%s).", e.Text(), quantity.Length.Format(float64(w), b.Units, 3))
			}
		case underlamp.ResponseMass:
			if m := b.Crop.StartMass.Value; m > 0 && e.Value < float64(m)/2 {
				add("%s is less than half of what a plant weighed at transplanting (%s).", e.Text(), quantity.Mass.Format(float64(m), b.Units, 3))
			}
		case underlamp.ResponseSeverity:
			if before && p.Value > 0 && e.Value == 0 {
				add("No burn after %s on %s; burn does not heal.", p.Text(), r.Day(&p).Format(time.DateOnly))
			}
		}
		switch e.What {
		case underlamp.ResponseHeight, underlamp.ResponseWidth, underlamp.ResponseLeaves:
			if before && e.Value < p.Value/2 {
				add("%s after %s on %s; it fell by more than half.", e.Text(), p.Text(), r.Day(&p).Format(time.DateOnly))
			}
		}
	}
	for _, text := range trialtable.Doubts(rows) {
		id, _, ok := strings.Cut(text, " ")
		if _, rest, cut := strings.Cut(text, "): "); ok && cut {
			out = append(out, Doubt{id, upper(r.named(rest))})
		}
	}
	return out
}

// named says the day instead of the id of an entry: people do not see ids.
func (r *Record) named(text string) string {
	for _, word := range strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == ';' }) {
		if e, ok := r.Find(word); ok {
			text = strings.Replace(text, "in "+word, "on "+r.Day(&e).Format(time.DateOnly), 1)
		}
	}
	return text
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
