package benchfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
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

// ppfdSpan ends at about twice full sunlight.
var ppfdSpan = span{0, 5000}

// readings reads the meter readings.
func (r *reader) readings(v value, b *underlamp.Bench) {
	items, ok := r.items(v, "a list of readings, each with at, height and ppfd")
	if !ok {
		return
	}
	if len(items) > maxReadings {
		r.errorf(items[maxReadings], fmt.Sprintf("at most %d readings", maxReadings), "there are %d readings", len(items))
		items = items[:maxReadings]
	}
	names := map[string]int{}
	for i, item := range items {
		if !item.written() {
			r.errorf(item, "at, height and ppfd", "nothing is written for this reading")
			continue
		}
		f, ok := r.mapping(item, "readings[]")
		if !ok {
			continue
		}
		before := len(r.problems)
		m := r.reading(f, b)
		if m.Name == "" {
			m.Name = fmt.Sprintf("R%d", i+1)
		}
		if line, twice := names[m.Name]; twice {
			r.errorf(f.get("name"), "a name of its own for every reading", "the reading in line %d is called %q too", line, m.Name)
		}
		names[m.Name] = m.Line
		if r.problems[before:].HasErrors() {
			continue // a reading that is wrong contradicts nothing
		}
		r.contradiction(m, f, b.Readings)
		b.Readings = append(b.Readings, m)
	}
}

func (r *reader) reading(f fields, b *underlamp.Bench) underlamp.Reading {
	m := underlamp.Reading{Line: f.at.line, When: r.date(f.get("date"))}
	m.Name, _ = r.words(f.get("name"), maxName)
	m.X, m.Y, _ = r.place(f.get("at"), b.Space, "meter")
	e, _ := r.need(f.get("ppfd"), quantity.PhotonFluxDensity, ppfdSpan, "the value of the reading")
	m.PPFD = quantity.PPFD(e)

	on := r.lampsOn(f.get("lamps"), b, &m)
	most := float64(b.Space.Height)
	if most == 0 {
		most = heightSpan.max
	}
	h, ok := r.need(f.get("height"), quantity.Length, span{0, most}, "the height of the sensor above the planting surface")
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
			r.errorf(f.get("height"), "a height below the lamps that were on", "the sensor stands at or above the lamps that were on")
		case len(over) > 0:
			r.warnf(f.get("height"), "", "the sensor stands at or above lamp %s, which gives it no light", listed(over))
		}
	}
	m.Dimming = r.readingDimming(f, on)
	return m
}

// lampsOn reads which lamps were on and returns them; all if nothing is said.
func (r *reader) lampsOn(v value, b *underlamp.Bench, m *underlamp.Reading) []underlamp.Lamp {
	if !v.written() {
		return b.Lamps
	}
	var known []string
	for _, l := range b.Lamps {
		known = append(known, l.Name)
	}
	want := "all, or a list of lamps: [" + strings.Join(known[:min(len(known), 8)], ", ") + "]"
	if describe(v.node) != "a list" {
		if text, ok := r.scalar(v, want); ok && normal(text) != "all" {
			r.errorf(v, want, "%q is no list of lamps", shortened(text))
		}
		return b.Lamps
	}
	items, _ := r.items(v, want)
	if len(items) == 0 {
		r.errorf(v, want, "no lamp was on")
		return nil
	}
	var on []underlamp.Lamp
	for _, item := range items {
		name, ok := r.words(item, maxName)
		if !ok {
			if !item.written() {
				r.errorf(item, want, "a lamp without a name")
			}
			continue
		}
		i := slices.Index(known, name)
		switch {
		case i < 0:
			r.add(item.at, Problem{Path: item.path, Message: fmt.Sprintf("no lamp is called %q", name), Want: want, Suggest: nearest(normal(name), known)})
		case slices.Contains(m.Lamps, name):
			r.errorf(item, "each lamp once", "lamp %q is named twice", name)
		default:
			m.Lamps = append(m.Lamps, name)
			on = append(on, b.Lamps[i])
		}
	}
	return on
}

// readingDimming reads the dimming during the reading; without one it is that
// of the lamps.
func (r *reader) readingDimming(f fields, on []underlamp.Lamp) underlamp.Given[quantity.Fraction] {
	var sum, weights, low, high float64
	low = math.Inf(1)
	for _, l := range on {
		d, w := float64(l.Dimming.Value), float64(l.Flux.Value)
		sum, weights = sum+w*d, weights+w
		low, high = math.Min(low, d), math.Max(high, d)
	}
	usual := underlamp.Assumed[quantity.Fraction](1, "full power, as nothing else is known")
	if weights > 0 {
		usual = underlamp.Assumed(quantity.Fraction(dimmingSpan.clamp(sum/weights)), "as the lamps are set in the file")
	}
	v := f.get("dimming")
	if !v.written() && len(on) > 0 && high-low > slack {
		r.warnf(f.value, "dimming: 100 %, or as it was", "the lamps of this reading are dimmed differently; each is taken as it is set in the file")
	}
	return given(r, v, quantity.Share, span{0.001, 1}, usual)
}

// contradiction compares a reading with those before it.
func (r *reader) contradiction(m underlamp.Reading, f fields, before []underlamp.Reading) {
	for _, o := range before {
		d := math.Hypot(math.Hypot(float64(m.X-o.X), float64(m.Y-o.Y)), float64(m.Height-o.Height))
		if d > near+slack || !sameLamps(m.Lamps, o.Lamps) || math.Abs(float64(m.Dimming.Value-o.Dimming.Value)) > slack {
			continue
		}
		mean := float64(m.PPFD+o.PPFD) / 2
		if diff := math.Abs(float64(m.PPFD - o.PPFD)); diff > apart*mean {
			r.warnf(f.get("ppfd"), "one of the two, or the lamps and the dimming in which they differ",
				"lines %d and %d read the same place under the same lamps, but differ by %s", o.Line, m.Line, r.show(quantity.Share, math.Round(100*diff/mean)/100))
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
