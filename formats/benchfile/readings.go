package benchfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

const (
	maxReadings = 2000

	// near and apart: two readings within near must not differ by more than
	// apart. A quantum meter is sure to about 5 %, two readings to about 7 %, and
	// 1 cm to a few per cent, so 15 % is about twice what they explain.
	near  = 0.01 // m
	apart = 0.15
)

// luxWant tells what to do with the reading of a lux meter. 68 is the middle of the range of
// white LEDs, 61 to 75 (photometry.Classes).
const luxWant = "ppfd: lux divided by what a µmol/m²/s of this light is in lux, about 68 under white LEDs: 14 000 lux are ppfd: 206 µmol/m²/s"

// ppfdSpan ends at about twice full sunlight.
var ppfdSpan = handwritten.Span{Min: 0, Max: 5000}

// readings reads the meter readings.
func (r *reader) readings(v handwritten.Value, b *underlamp.Bench) {
	items, ok := r.List(v, "a list of readings, each with at, height and ppfd", maxReadings, "readings")
	if !ok {
		return
	}
	names := map[string]int{}
	for i, item := range items {
		if !item.Written() {
			r.Errorf(item, "at, height and ppfd", "nothing is written for this reading")
			continue
		}
		from := len(r.Problems)
		f, ok := r.Mapping(item, "readings[]")
		if !ok {
			continue
		}
		before := len(r.Problems)
		m := r.reading(f, b)
		for j, p := range r.Problems[from:] { // of a lux meter: what to do with its figure
			if strings.Contains(p.Message, `"lux"`) || strings.Contains(p.Message, "lx measures") {
				r.Problems[from+j].Want = luxWant
			}
		}
		if m.Name == "" {
			m.Name = fmt.Sprintf("R%d", i+1)
		}
		if line, twice := names[m.Name]; twice {
			r.Errorf(f.Get("name"), "a name of its own for every reading", "the reading in line %d is called %q too", line, m.Name)
		}
		names[m.Name] = m.Line
		if r.Problems[before:].HasErrors() {
			continue // a reading that is wrong contradicts nothing
		}
		r.contradiction(m, f, b.Readings)
		b.Readings = append(b.Readings, m)
	}
}

func (r *reader) reading(f handwritten.Fields, b *underlamp.Bench) underlamp.Reading {
	m := underlamp.Reading{Line: f.At.Line, When: r.Date(f.Get("date"))}
	m.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	m.X, m.Y, _ = r.place(f.Get("at"), b.Space, "meter")
	e, _ := r.Need(f.Get("ppfd"), quantity.PhotonFluxDensity, ppfdSpan, "the value of the reading")
	m.PPFD = quantity.PPFD(e)

	on := r.lampsOn(f.Get("lamps"), b, &m)
	most := float64(b.Space.Height)
	if most == 0 {
		most = heightSpan.Max
	}
	h, ok := r.Need(f.Get("height"), quantity.Length, handwritten.Span{Min: 0, Max: most}, "the height of the sensor above the planting surface")
	m.Height = quantity.Metre(h)
	if ok && len(on) > 0 {
		var over []string
		for _, l := range on {
			if m.Height >= l.Height {
				over = append(over, l.Name)
			}
		}
		switch {
		case len(over) == len(on):
			r.Errorf(f.Get("height"), "a height below the lamps that were on", "the sensor stands at or above the lamps that were on")
		case len(over) > 0:
			r.Warnf(f.Get("height"), "", "the sensor stands at or above lamp %s, which gives it no light", listed(over))
		}
	}
	m.Dimming = r.readingDimming(f, on)
	return m
}

// lampsOn reads which lamps were on and returns them; all if nothing is said.
func (r *reader) lampsOn(v handwritten.Value, b *underlamp.Bench, m *underlamp.Reading) []underlamp.Lamp {
	if !v.Written() {
		return b.Lamps
	}
	var known []string
	for _, l := range b.Lamps {
		known = append(known, l.Name)
	}
	want := "all, or a list of lamps: [" + strings.Join(known[:min(len(known), 8)], ", ") + "]"
	if !v.IsList() {
		r.Takes(v, handwritten.Form{Is: handwritten.WordForm, Words: []string{"all"}})
		r.Usually(v, "all")
		if text, ok := r.Raw(v, want); ok && handwritten.Normal(text) != "all" {
			r.Errorf(v, want, "%q is no list of lamps", handwritten.Shortened(text))
		}
		return b.Lamps
	}
	items, _ := r.Items(v, want)
	if len(items) == 0 {
		r.Errorf(v, want, "no lamp was on")
		return nil
	}
	var on []underlamp.Lamp
	for _, item := range items {
		name, ok := r.Words(item, handwritten.MaxName)
		if !ok {
			if !item.Written() {
				r.Errorf(item, want, "a lamp without a name")
			}
			continue
		}
		i := slices.Index(known, name)
		switch {
		case i < 0:
			r.Add(item.At, Problem{Path: item.Path, Message: fmt.Sprintf("no lamp is called %q", name), Want: want, Suggest: handwritten.Nearest(handwritten.Normal(name), known)})
		case slices.Contains(m.Lamps, name):
			r.Errorf(item, "each lamp once", "lamp %q is named twice", name)
		default:
			m.Lamps = append(m.Lamps, name)
			on = append(on, b.Lamps[i])
		}
	}
	return on
}

// readingDimming reads the dimming during the reading; without one it is that
// of the lamps.
func (r *reader) readingDimming(f handwritten.Fields, on []underlamp.Lamp) underlamp.Given[quantity.Fraction] {
	var sum, weights, low, high float64
	low = math.Inf(1)
	for _, l := range on {
		d, w := float64(l.Dimming.Value), float64(l.Flux.Value)
		sum, weights = sum+w*d, weights+w
		low, high = math.Min(low, d), math.Max(high, d)
	}
	usual := underlamp.Assumed[quantity.Fraction](1, "full power, as nothing else is known")
	if weights > 0 {
		usual = underlamp.Assumed(quantity.Fraction(dimmingSpan.Clamp(sum/weights)), "as the lamps are set in the file")
	}
	v := f.Get("dimming")
	if !v.Written() && len(on) > 0 && high-low > handwritten.Slack {
		r.Warnf(f.Value, "dimming: 100 %, or as it was", "the lamps of this reading are dimmed differently; each is taken as it is set in the file")
	}
	return handwritten.Given(r.Reader, v, quantity.Share, handwritten.Span{Min: 0.001, Max: 1}, usual)
}

// contradiction compares a reading with those before it.
func (r *reader) contradiction(m underlamp.Reading, f handwritten.Fields, before []underlamp.Reading) {
	for _, o := range before {
		d := math.Hypot(math.Hypot(float64(m.X-o.X), float64(m.Y-o.Y)), float64(m.Height-o.Height))
		if d > near+handwritten.Slack || !sameLamps(m.Lamps, o.Lamps) || math.Abs(float64(m.Dimming.Value-o.Dimming.Value)) > handwritten.Slack {
			continue
		}
		mean := float64(m.PPFD+o.PPFD) / 2
		if diff := math.Abs(float64(m.PPFD - o.PPFD)); diff > apart*mean {
			r.Warnf(f.Get("ppfd"), "one of the two, or the lamps and the dimming in which they differ",
				"lines %d and %d read the same place under the same lamps, but differ by %s", o.Line, m.Line, r.Show(quantity.Share, math.Round(100*diff/mean)/100))
			return
		}
	}
}

func sameLamps(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

// listed joins names for a sentence.
func listed(names []string) string {
	if len(names) > 5 {
		return strings.Join(names[:5], ", ") + fmt.Sprintf(" and %d more", len(names)-5)
	}
	return strings.Join(names, ", ")
}
