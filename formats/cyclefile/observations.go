package cyclefile

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// shrinks is how much less a later weighing of one plant may be before it is
// asked about: a wilted head loses about a tenth.
const shrinks = 0.2

// A record is an observation with what the file says of others.
type record struct {
	underlamp.Observation
	fields   handwritten.Fields
	corrects string
	struck   bool
}

// observations reads what was seen.
func (r *reader) observations(v handwritten.Value, c *underlamp.Cycle) {
	items, _ := r.List(v, "a list of observations, each with date, plant and what was seen", maxObservations, "observations")
	before := len(r.Problems)
	var all []record
	byName := map[string]int{}
	for i, item := range items {
		f, ok := r.Mapping(item, "observations[]")
		if !ok {
			continue
		}
		if !item.Written() {
			r.Errorf(item, "date, plant and what was seen", "nothing is written for this observation")
			continue
		}
		o := r.observation(f)
		if o.Name == "" {
			o.Name = fmt.Sprintf("O%d", i+1)
		}
		if k, twice := byName[o.Name]; twice {
			r.Errorf(f.Get("name"), "a name of its own for every observation", "the observation in line %d is called %q too", all[k].Line, o.Name)
		}
		byName[o.Name] = len(all)
		all = append(all, o)
	}
	gone := r.corrected(all, byName)
	if r.Problems[before:].HasErrors() {
		return
	}
	for i, o := range all {
		if by := gone[i]; by != "" && !o.struck {
			o.Note, o.struck = struckOut(o.Note, "corrected by "+by), true
		}
		if o.struck {
			c.Withdrawn = append(c.Withdrawn, o.Observation)
			continue
		}
		c.Observations = append(c.Observations, o.Observation)
	}
	byDay := func(a, b underlamp.Observation) int { return a.Day - b.Day }
	slices.SortStableFunc(c.Observations, byDay)
	slices.SortStableFunc(c.Withdrawn, byDay)
	r.consistent(c.Observations, all)
}

// corrected tells which observations another corrects, and its name.
func (r *reader) corrected(all []record, byName map[string]int) map[int]string {
	gone := map[int]string{}
	var names []string
	for _, o := range all {
		names = append(names, o.Name)
	}
	for i, o := range all {
		if o.corrects == "" {
			continue
		}
		at := o.fields.Get("corrects")
		k, ok := byName[o.corrects]
		switch {
		case !ok:
			r.Add(at.At, handwritten.Problem{Path: at.Path, Message: fmt.Sprintf("no observation is called %q", handwritten.Shortened(o.corrects)),
				Want: "the name of an observation of this file; one without a name is called O1, O2, … in the order of the file", Suggest: handwritten.Nearest(o.corrects, names)})
		case k >= i:
			r.Errorf(at, "an observation that stands above this one", "an observation corrects one that stands before it")
		case gone[k] != "":
			r.Errorf(at, "the latest correction", "%q is corrected by another observation already", o.corrects)
		case all[k].Plant != o.Plant:
			r.Warnf(at, "", "the correction is of another plant than the observation in line %d", all[k].Line)
			gone[k] = o.Name
		default:
			gone[k] = o.Name
		}
	}
	return gone
}

func (r *reader) observation(f handwritten.Fields) record {
	o := record{fields: f}
	o.Line = f.At.Line
	o.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	o.Date, o.Day, _ = r.when(f.Get("date"), "observation", 0)
	o.Plant = r.plant(f.Get("plant"))
	seen := 0
	if v := f.Get("mass"); v.Written() {
		seen++
		if x, ok := r.Amount(v, quantity.Mass, massSpan); ok {
			m := quantity.Gram(x)
			o.Mass = &m
		}
	}
	if v := f.Get("height"); v.Written() {
		seen++
		if x, ok := r.Amount(v, quantity.Length, plantHeightSpan); ok {
			h := quantity.Metre(x)
			o.Height = &h
		}
	}
	if v := f.Get("leaves"); v.Written() {
		seen++
		if n, ok := r.Whole(v, 1, mostLeaves); ok {
			o.Leaves = &n
		}
	}
	if v := f.Get("burn"); v.Written() {
		seen++
		o.Burn = r.burn(v)
	}
	if o.Burn != nil && o.Leaves != nil && o.Burn.Leaves > *o.Leaves {
		r.Errorf(f.Get("burn"), "at most the leaves of the plant", "%d burnt leaves of %d", o.Burn.Leaves, *o.Leaves)
	}
	if v := f.Get("heads"); v.Written() {
		most := mostHeads
		if r.bench != nil {
			most = len(r.bench.Plants)
		}
		n, ok := r.Whole(v, 1, most)
		switch {
		case !ok:
		case f.Get("plant").Written():
			r.Errorf(v, "no plant: the mean of several heads is of none of them", "a number of heads beside one plant")
		case o.Mass == nil && f.Get("mass").Written(): // told already
		case o.Mass == nil || o.Height != nil || o.Leaves != nil || o.Burn != nil:
			r.Errorf(v, "heads: 18, mass: 152 g, and nothing else", "the mean of several heads is one of their masses alone")
		default:
			o.Heads = n
		}
	}
	count := f.Get("burnt")
	if count.Written() {
		o.Count = r.count(count)
		switch {
		case f.Get("plant").Written():
			r.Errorf(count, "burn: 3 leaves for one plant, or no plant", "a count over the bench is not of one plant")
		case seen > 0:
			r.Errorf(count, "an observation of its own", "a count over the bench stands beside what was seen of one plant")
		}
	} else {
		switch {
		case seen == 0:
			r.Errorf(f.Value, "mass, height, leaves or burn of one plant, heads: 18 with their mean mass, or burnt: 3 of 18", "the observation says nothing that was seen")
		case !f.Get("plant").Written() && !f.Get("heads").Written():
			r.Missing(f.Get("plant"), "the name of the plant, such as P3", "the plant")
		}
	}
	o.Cut = r.Yes(f.Get("cut"))
	o.By, _ = r.Words(f.Get("by"), handwritten.MaxName)
	o.With, _ = r.Words(f.Get("with"), handwritten.MaxName)
	o.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
	if in, ok := r.instruments[o.With]; ok {
		o.MassError, o.HeightError = in.mass, in.length
	}
	o.corrects, _ = r.Words(f.Get("corrects"), handwritten.MaxName)
	if why, ok := r.Words(f.Get("struck"), handwritten.MaxNote); ok {
		o.struck = true
		o.Note = struckOut(o.Note, why)
	}
	return o
}

// struckOut is the note of an observation that does not count.
func struckOut(note, why string) string { return strings.TrimSpace(note + " " + struckMark + why) }

const struckMark = "Struck out: "

// plant reads the name of a plant of the bench.
func (r *reader) plant(v handwritten.Value) string {
	name, ok := r.Words(v, handwritten.MaxName)
	if !ok || r.bench == nil {
		return name
	}
	var names []string
	for _, p := range r.bench.Plants {
		if p.Name == name {
			return name
		}
		names = append(names, p.Name)
	}
	want := "one of the plants of the bench: " + strings.Join(names[:min(len(names), 6)], ", ")
	if len(names) > 6 {
		want += fmt.Sprintf(" … %s", names[len(names)-1])
	}
	r.Add(v.At, handwritten.Problem{Path: v.Path, Message: fmt.Sprintf("the bench has no plant %q", handwritten.Shortened(name)), Want: want, Suggest: handwritten.Nearest(handwritten.Normal(name), names)})
	return name
}

const wantBurn = "none, seen, 3 leaves, or severity 2 (0 to 5)"

var (
	leavesText   = regexp.MustCompile(`^(\d{1,3}) (?:burnt )?lea(?:f|ves)$`)
	severityText = regexp.MustCompile(`^severity (\d)$`)
	countText    = regexp.MustCompile(`^(none|\d{1,4}) of (\d{1,4})$`)
)

// burn reads what was seen on one plant.
func (r *reader) burn(v handwritten.Value) *underlamp.Burn {
	r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: wantBurn, Like: `^\s*([nN]o([ _-]leaf)?|[nN]one|[sS]een|[yY]es|[sS]ome|\d{1,3}[ _-]+([bB]urnt[ _-]+)?[lL]ea(f|ves)|[sS]everity[ _-]+[0-5])\s*$`})
	text, ok := r.Raw(v, wantBurn)
	if !ok {
		return nil
	}
	word := handwritten.Normal(text)
	if word == "none" || word == "no" || word == "no leaf" {
		return &underlamp.Burn{}
	}
	if word == "seen" || word == "yes" || word == "some" {
		return &underlamp.Burn{Some: true}
	}
	if m := leavesText.FindStringSubmatch(word); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil && n <= mostLeaves {
			return &underlamp.Burn{Leaves: n}
		}
	}
	if m := severityText.FindStringSubmatch(word); m != nil {
		if n, _ := strconv.Atoi(m[1]); n <= underlamp.MaxSeverity {
			return &underlamp.Burn{Severity: n, Scored: true}
		}
	}
	r.Errorf(v, wantBurn, "%q does not say how much burn was seen", handwritten.Shortened(text))
	return nil
}

// count reads "3 of 18".
func (r *reader) count(v handwritten.Value) *underlamp.BurnCount {
	const want = "heads with burn of heads looked at: 3 of 18"
	r.Takes(v, handwritten.Form{Is: handwritten.FreeForm, Want: want, Like: `^\s*([nN]one|\d{1,4})[ _-]+[oO]f[ _-]+\d{1,4}\s*$`})
	text, ok := r.Raw(v, want)
	if !ok {
		return nil
	}
	m := countText.FindStringSubmatch(handwritten.Normal(text))
	if m == nil {
		r.Errorf(v, want, "%q is no count", handwritten.Shortened(text))
		return nil
	}
	var c underlamp.BurnCount
	if m[1] != "none" {
		c.Burnt, _ = strconv.Atoi(m[1])
	}
	c.Of, _ = strconv.Atoi(m[2])
	switch {
	case c.Of == 0:
		r.Errorf(v, want, "no head was looked at")
		return nil
	case c.Burnt > c.Of:
		r.Errorf(v, want, "more heads burnt than were looked at")
		return nil
	case r.bench != nil && c.Of > len(r.bench.Plants):
		r.Errorf(v, fmt.Sprintf("at most %d heads", len(r.bench.Plants)), "the bench has %d plants, the count is over %d", len(r.bench.Plants), c.Of)
		return nil
	}
	return &c
}

// consistent asks about what one plant cannot do: shrink, heal, or be seen after
// it was cut.
func (r *reader) consistent(observations []underlamp.Observation, all []record) {
	at := func(o underlamp.Observation, key string) handwritten.Value {
		for _, a := range all {
			if a.Line == o.Line && a.Name == o.Name {
				return a.fields.Get(key)
			}
		}
		return handwritten.Value{}
	}
	type past struct{ mass, burn, cut *underlamp.Observation }
	known := map[string]*past{}
	for i := range observations {
		o := &observations[i]
		if o.Plant == "" {
			continue
		}
		p := known[o.Plant]
		if p == nil {
			p = &past{}
			known[o.Plant] = p
		}
		if p.cut != nil && o.Day > p.cut.Day {
			r.Errorf(at(*o, "date"), "a day up to "+p.cut.Date, "plant %s was cut on %s (line %d)", o.Plant, p.cut.Date, p.cut.Line)
		}
		if o.Mass != nil {
			if p.mass != nil && float64(*o.Mass) < (1-shrinks)*float64(*p.mass.Mass) {
				r.Warnf(at(*o, "mass"), "", "plant %s weighed %s on %s (line %d); heads do not shrink", o.Plant, r.Show(quantity.Mass, float64(*p.mass.Mass)), p.mass.Date, p.mass.Line)
			}
			p.mass = o
		}
		if o.Burn != nil {
			if p.burn != nil && p.burn.Burn.Seen() && !o.Burn.Seen() {
				r.Warnf(at(*o, "burn"), "", "plant %s had burn on %s (line %d); burn does not heal", o.Plant, p.burn.Date, p.burn.Line)
			}
			p.burn = o
		}
		if o.Cut {
			p.cut = o
		}
	}
}
