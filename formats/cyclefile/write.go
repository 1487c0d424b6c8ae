package cyclefile

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/science/quantity"
)

// Write writes a cycle so that [Read] gives it back: in metric units, with every
// observation by its name, those withdrawn as struck out. The origin of a change is
// kept, and its note. Instruments are written from the errors that observations
// carry.
func Write(out io.Writer, c *underlamp.Cycle) error {
	w := &writer{}
	w.line("underlamp cycle: %d", Version)
	w.line("bench: %s", quoted(c.Bench))
	w.text("name", c.Name)
	w.text("note", c.Note)
	if c.Units == quantity.US {
		w.line("units: us")
	} else {
		w.line("units: metric")
	}
	w.text("cultivar", c.Cultivar)
	w.line("transplanted: %s", c.Transplanted)
	if c.Harvested != "" {
		w.line("harvested: %s", c.Harvested)
	}
	if c.StartMass != nil {
		w.line("start mass: %s", said(*c.StartMass, "g", 1))
	}
	all := append(append([]underlamp.Observation{}, c.Observations...), c.Withdrawn...)
	w.instruments(all)
	if len(c.Changes) > 0 {
		w.line("changes:")
	}
	for _, ch := range c.Changes {
		w.change(ch)
	}
	if len(all) > 0 {
		w.line("observations:")
	}
	for i, o := range all {
		w.observation(o, i >= len(c.Observations))
	}
	_, err := io.WriteString(out, w.b.String())
	return err
}

type writer struct{ b strings.Builder }

func (w *writer) line(format string, args ...any) { fmt.Fprintf(&w.b, format+"\n", args...) }

func (w *writer) text(key, value string) {
	if value != "" {
		w.line("%s: %s", key, quoted(value))
	}
}

// quoted is a text that YAML reads as such.
func quoted(s string) string { return strconv.Quote(s) }

func plainNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// said writes an amount, with its origin if it was not merely stated.
func said[T ~float64](g underlamp.Given[T], unit string, scale float64) string {
	text := plainNumber(float64(g.Value)*scale) + " " + unit
	if (g.Origin == underlamp.Stated || g.Origin == underlamp.Default) && g.Note == "" {
		return text
	}
	s := "{value: " + text
	if g.Origin == underlamp.Label || g.Origin == underlamp.Measured {
		s += ", from: " + g.Origin.String()
	}
	if g.Note != "" {
		s += ", note: " + quoted(g.Note)
	}
	return s + "}"
}

func (w *writer) instruments(all []underlamp.Observation) {
	seen := map[string]bool{}
	for _, o := range all {
		if o.With == "" || seen[o.With] || o.MassError == 0 && o.HeightError == 0 {
			continue
		}
		if len(seen) == 0 {
			w.line("instruments:")
		}
		seen[o.With] = true
		s := "  - {name: " + quoted(o.With)
		if o.MassError > 0 {
			s += ", mass error: " + plainNumber(float64(o.MassError)) + " g"
		}
		if o.HeightError > 0 {
			s += ", length error: " + plainNumber(float64(o.HeightError)) + " m"
		}
		w.line("%s}", s)
	}
}

func (w *writer) change(c underlamp.Change) {
	parts := []string{"date: " + c.Date}
	add := func(key, value string) { parts = append(parts, key+": "+value) }
	if c.Height != nil {
		add("lamp height", said(*c.Height, "m", 1))
	}
	if c.Dimming != nil {
		add("dimming", said(*c.Dimming, "%", 100))
	}
	if c.Hours != nil {
		add("hours", said(*c.Hours, "h", 1))
	}
	if c.Fan != nil {
		add("fan", string(c.Fan.Value))
	}
	if c.Speed != nil {
		add("speed", said(*c.Speed, "m/s", 1))
	}
	if c.CO2 != nil {
		add("co2", said(*c.CO2, "ppm", 1))
	}
	climate := func(key string, t *underlamp.Given[quantity.Celsius], h *underlamp.Given[quantity.Fraction]) {
		var in []string
		if t != nil {
			in = append(in, "temperature: "+said(*t, "°C", 1))
		}
		if h != nil {
			in = append(in, "humidity: "+said(*h, "%", 100))
		}
		if len(in) > 0 {
			add(key, "{"+strings.Join(in, ", ")+"}")
		}
	}
	climate("day", c.DayTemperature, c.DayHumidity)
	climate("night", c.NightTemperature, c.NightHumidity)
	var feed []string
	for _, ion := range []struct {
		key string
		g   *underlamp.Given[quantity.MilligramPerLitre]
	}{{"calcium", c.Calcium}, {"ammonium", c.Ammonium}, {"potassium", c.Potassium}, {"magnesium", c.Magnesium}} {
		if ion.g != nil {
			feed = append(feed, ion.key+": "+said(*ion.g, "mg/L", 1))
		}
	}
	if c.EC != nil {
		feed = append(feed, "ec: "+said(*c.EC, "mS/cm", 1))
	}
	if c.RootTemp != nil {
		feed = append(feed, "root temperature: "+said(*c.RootTemp, "°C", 1))
	}
	if len(feed) > 0 {
		add("feed", "{"+strings.Join(feed, ", ")+"}")
	}
	if c.Note != "" {
		add("note", quoted(c.Note))
	}
	w.line("  - {%s}", strings.Join(parts, ", "))
}

func (w *writer) observation(o underlamp.Observation, struck bool) {
	var parts []string
	add := func(key, value string) { parts = append(parts, key+": "+value) }
	add("name", quoted(o.Name))
	add("date", o.Date)
	if o.Plant != "" {
		add("plant", quoted(o.Plant))
	}
	if o.Mass != nil {
		add("mass", plainNumber(float64(*o.Mass))+" g")
	}
	if o.Heads > 0 {
		add("heads", strconv.Itoa(o.Heads))
	}
	if o.Height != nil {
		add("height", plainNumber(float64(*o.Height))+" m")
	}
	if o.Leaves != nil {
		add("leaves", strconv.Itoa(*o.Leaves))
	}
	if b := o.Burn; b != nil {
		switch {
		case b.Scored:
			add("burn", fmt.Sprintf("severity %d", b.Severity))
		case b.Some:
			add("burn", "seen")
		case b.Leaves == 0:
			add("burn", "none")
		case b.Leaves == 1:
			add("burn", "1 leaf")
		default:
			add("burn", fmt.Sprintf("%d leaves", b.Leaves))
		}
	}
	if o.Count != nil {
		add("burnt", fmt.Sprintf("%d of %d", o.Count.Burnt, o.Count.Of))
	}
	if o.Cut {
		add("cut", "yes")
	}
	if o.By != "" {
		add("by", quoted(o.By))
	}
	if o.With != "" {
		add("with", quoted(o.With))
	}
	note := o.Note
	if struck {
		kept, why, ok := strings.Cut(note, struckMark)
		if !ok {
			kept, why = note, "corrected"
		}
		note = strings.TrimSpace(kept)
		add("struck", quoted(why))
	}
	if note != "" {
		add("note", quoted(note))
	}
	w.line("  - {%s}", strings.Join(parts, ", "))
}
