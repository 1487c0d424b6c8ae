package round

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/quantity"
)

const mostNote = 400 // bytes of a note in a cycle, so that hundreds fit into its file

// Cycle makes the record of a crop of the entries that count, from transplanting to a
// last day (zero: to the last entry). What was seen of one plant on one day becomes one
// observation, called by the id of its first entry; of several weighings of one day that
// people let stand side by side the mean counts once. Notes says what was left out and why.
//
// What the plan of learning knows no place for, width and photos, stays in the rounds. It
// is an error if the bench does not say when the crop was transplanted, if nothing was
// seen of it, or while conflicts are open: a cycle must not choose for a person.
func (r *Record) Cycle(b *underlamp.Bench, file string, until time.Time) (*underlamp.Cycle, []string, error) {
	start, err := time.Parse(time.DateOnly, b.Crop.Transplanted)
	if err != nil {
		return nil, nil, fmt.Errorf("the bench file does not say when the crop was transplanted; write transplanted: 2026-10-01 under crop")
	}
	open := 0
	for _, x := range r.Conflicts() {
		if !x.Day.Before(start) && (until.IsZero() || !x.Day.After(until)) {
			open++
		}
	}
	if open > 0 {
		return nil, nil, fmt.Errorf("conflicts to be decided: %d; the page of what was seen lists them", open)
	}
	c := &underlamp.Cycle{Bench: file, Units: b.Units, Transplanted: b.Crop.Transplanted, Cultivar: b.Crop.Cultivar, Name: "From the rounds",
		Note: "Made of the observations in the store; corrections are made there."}
	plants := map[string]bool{}
	for _, p := range b.Plants {
		plants[p.Name] = true
	}
	type key struct{ plant, date string }
	groups := map[key][]Entry{}
	var order []key
	left := map[string]int{}
	for _, e := range r.Standing() {
		day := r.Day(&e)
		switch {
		case day.Before(start) || !until.IsZero() && day.After(until):
			left["of another time than the crop"]++
			continue
		case day.Sub(start) > oldest*24*time.Hour:
			left[fmt.Sprintf("more than %d days after transplanting", oldest)]++
			continue
		case !plants[e.Plant]:
			left["of plants that the bench does not have"]++
			continue
		case e.Missing != "":
			left["missing, with a reason"]++
			continue
		case e.What == Note || e.What == Photo || e.What == underlamp.ResponseWidth || e.What == underlamp.ResponseArea || e.What == underlamp.ResponseFirst || e.What == underlamp.ResponseClear:
			left["notes, photos, widths, areas and days of burn, which learning does not read"]++
			continue
		}
		k := key{e.Plant, day.Format(time.DateOnly)}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], e)
	}
	if len(order) == 0 {
		return nil, nil, fmt.Errorf("nothing that learning reads was seen of this crop (transplanted %s)", b.Crop.Transplanted)
	}
	gone := map[string]string{} // plant → day on which it was cut
	for _, k := range order {
		day, _ := time.Parse(time.DateOnly, k.date)
		o := together(groups[k], k.plant, k.date, int(day.Sub(start).Hours()/24))
		switch {
		case gone[k.plant] != "" && gone[k.plant] < k.date:
			left["seen after the plant was cut"] += len(groups[k])
		case o.Mass == nil && o.Height == nil && o.Leaves == nil && o.Burn == nil:
			left["days on which a plant was cut and nothing else was seen of it"]++
		default:
			c.Observations = append(c.Observations, o)
		}
		if o.Cut {
			gone[k.plant] = k.date
		}
	}
	slices.SortStableFunc(c.Observations, func(a, b underlamp.Observation) int { return a.Day - b.Day })
	var notes []string
	for why, n := range left {
		notes = append(notes, fmt.Sprintf("left out: %d %s", n, why))
	}
	slices.Sort(notes)
	return c, notes, nil
}

// together makes one observation of what was seen of a plant on a day.
func together(seen []Entry, plant, date string, day int) underlamp.Observation {
	o := underlamp.Observation{Name: seen[0].ID, Plant: plant, Date: date, Day: day}
	mean := func(what underlamp.Response) (float64, bool) {
		sum, n := 0.0, 0
		for _, e := range seen {
			if e.What == what {
				sum, n = sum+e.Value, n+1
			}
		}
		return sum / float64(max(n, 1)), n > 0
	}
	if m, ok := mean(underlamp.ResponseMass); ok && m > 0 {
		g := quantity.Gram(m)
		o.Mass = &g
	}
	if h, ok := mean(underlamp.ResponseHeight); ok && h > 0 {
		m := quantity.Metre(h / 100)
		o.Height = &m
	}
	if n, ok := mean(underlamp.ResponseLeaves); ok && n >= 1 {
		whole := int(n + 0.5)
		o.Leaves = &whole
	}
	for _, e := range seen {
		switch e.What {
		case underlamp.ResponseSeverity: // the worse of two looks; it tells more than yes or no
			if o.Burn == nil || !o.Burn.Scored || int(e.Value) > o.Burn.Severity {
				o.Burn = &underlamp.Burn{Severity: int(e.Value), Scored: true}
			}
		case underlamp.ResponseBurn:
			if o.Burn == nil || !o.Burn.Scored && e.Value > 0 {
				o.Burn = &underlamp.Burn{Some: e.Value > 0}
			}
		case Cut:
			o.Cut = true
		}
		if o.By == "" {
			o.By = e.By
		}
		if o.With == "" && (e.What == underlamp.ResponseMass || e.What == underlamp.ResponseHeight) {
			o.With = e.With
		}
		if o.Note == "" && e.Note != "" {
			o.Note = strings.ToValidUTF8(e.Note[:min(len(e.Note), mostNote)], "")
		}
	}
	return o
}

// Without takes out of a cycle what other cycles of the same crop tell already: an
// observation of the same name, or of one plant and day the masses, heights, leaves and
// burns that they have. It returns how many were taken out in whole or in part, so that
// nothing is learned from twice.
func Without(c *underlamp.Cycle, others ...*underlamp.Cycle) int {
	type key struct{ plant, date string }
	names := map[string]bool{}
	known := map[key][]underlamp.Observation{}
	for _, o := range others {
		if o.Transplanted != c.Transplanted {
			continue
		}
		for _, x := range append(slices.Clone(o.Observations), o.Withdrawn...) {
			names[x.Name] = true
		}
		for _, x := range o.Observations {
			known[key{x.Plant, x.Date}] = append(known[key{x.Plant, x.Date}], x)
		}
	}
	n := 0
	var kept []underlamp.Observation
	for _, o := range c.Observations {
		if names[o.Name] {
			n++
			continue
		}
		touched := false
		for _, x := range known[key{o.Plant, o.Date}] {
			if x.Mass != nil && o.Mass != nil {
				o.Mass, touched = nil, true
			}
			if x.Height != nil && o.Height != nil {
				o.Height, touched = nil, true
			}
			if x.Leaves != nil && o.Leaves != nil {
				o.Leaves, touched = nil, true
			}
			if x.Burn != nil && o.Burn != nil {
				o.Burn, touched = nil, true
			}
		}
		if touched {
			n++
		}
		if o.Mass != nil || o.Height != nil || o.Leaves != nil || o.Burn != nil {
			kept = append(kept, o)
		} else if !touched {
			n++
		}
	}
	c.Observations = kept
	return n
}
