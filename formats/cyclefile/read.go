package cyclefile

import (
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads.
const Version = 1

const (
	maxDays         = 200
	maxChanges      = 200
	maxObservations = 5000
	maxInstruments  = 50
)

// Ranges of what is read. They catch slips of the pen.
var (
	massSpan        = handwritten.Span{Min: 0.01, Max: 5000}
	plantHeightSpan = handwritten.Span{Min: 0.001, Max: 2}
	startSpan       = handwritten.Span{Min: 0.01, Max: 50}
	massErrorSpan   = handwritten.Span{Min: 0.001, Max: 100}
	lengthErrorSpan = handwritten.Span{Min: 0.0001, Max: 0.1}
	lampHeightSpan  = handwritten.Span{Min: 0.001, Max: 10}
	dimmingSpan     = handwritten.Span{Min: 0, Max: 1}
	hoursSpan       = handwritten.Span{Min: 0.5, Max: 24}
	speedSpan       = handwritten.Span{Min: 0.01, Max: 5}
	co2Span         = handwritten.Span{Min: 150, Max: 5000} // the exposure limit of OSHATableZ1
	temperatureSpan = handwritten.Span{Min: -5, Max: 50}
	humiditySpan    = handwritten.Span{Min: 0.01, Max: 1}
	calciumSpan     = handwritten.Span{Min: 1, Max: 1000}
	rivalSpan       = handwritten.Span{Min: 0, Max: 2000}
	ecSpan          = handwritten.Span{Min: 0.1, Max: 10}
	rootSpan        = handwritten.Span{Min: 1, Max: 40}
)

const (
	mostLeaves = 300
	mostHeads  = 2000 // plants of a bench
)

// reader is a handwritten.Reader that knows the bench.
type reader struct {
	*handwritten.Reader
	bench       *underlamp.Bench // nil: plants and heights are not held against it
	start, end  time.Time
	instruments map[string]instrument
}

type instrument struct {
	mass   quantity.Gram
	length quantity.Metre
}

// Read reads the record of a cycle. The cycle is nil exactly when the problems hold
// an error. Plants and lamp heights are held against the bench if there is one. The
// error is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge].
func Read(in io.Reader, bench *underlamp.Bench) (*underlamp.Cycle, handwritten.Problems, error) {
	r := &reader{Reader: &handwritten.Reader{Grammar: grammar}, bench: bench}
	return handwritten.Read(r.Reader, in, r.cycle)
}

func (r *reader) cycle(v handwritten.Value) *underlamp.Cycle {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	c := &underlamp.Cycle{}
	r.Version(f.Get("underlamp cycle"), Version)
	usual := quantity.Metric
	if r.bench != nil {
		usual = r.bench.Units
	}
	c.Units = r.System(f.Get("units"), usual)
	c.Bench = r.benchName(f.Get("bench"))
	c.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	c.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
	c.Cultivar, _ = r.Words(f.Get("cultivar"), handwritten.MaxName)
	r.days(f, c)
	if g, ok := r.given(f.Get("start mass"), quantity.Mass, startSpan); ok {
		c.StartMass = as[quantity.Gram](g)
	}
	r.readInstruments(f.Get("instruments"))
	r.changes(f.Get("changes"), c)
	r.observations(f.Get("observations"), c)
	return c
}

// benchName reads the name of the bench file, which lies beside the cycle file.
func (r *reader) benchName(v handwritten.Value) string {
	const want = "the name of a bench file beside this file, such as mybench.yaml"
	if !v.Written() {
		r.Missing(v, want, "the bench file")
		return ""
	}
	name, ok := r.Words(v, 200)
	if !ok {
		return ""
	}
	if !fs.ValidPath(name) || name == "." || path.IsAbs(name) || strings.ContainsAny(name, "\\:") {
		r.Errorf(v, want, "%q is no name of a file beside this one", handwritten.Shortened(name))
		return ""
	}
	return name
}

// days reads the days of transplanting and harvest.
func (r *reader) days(f handwritten.Fields, c *underlamp.Cycle) {
	t, h := f.Get("transplanted"), f.Get("harvested")
	if !t.Written() {
		r.Missing(t, "transplanted: 2026-10-01", "the day of transplanting")
	}
	c.Transplanted, c.Harvested = r.Date(t), r.Date(h)
	r.start = day(c.Transplanted)
	r.end = day(c.Harvested)
	if r.start.IsZero() || r.end.IsZero() {
		return
	}
	c.Days = between(r.start, r.end)
	switch {
	case c.Days < 1:
		r.Errorf(h, "a day after "+c.Transplanted, "the harvest does not come after transplanting")
	case c.Days > maxDays:
		r.Errorf(h, fmt.Sprintf("at most %d days", maxDays), "the cycle lasts %d days", c.Days)
	}
}

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return time.Time{}
	}
	return t
}

// between counts days of the calendar; both are midnights in UTC, so that summer
// time does not matter.
func between(a, b time.Time) int { return int(b.Sub(a).Hours() / 24) }

// when reads the day of a change or an observation, which must lie within the
// cycle. It is false if nothing can be made of it.
func (r *reader) when(v handwritten.Value, what string, first int) (string, int, bool) {
	if !v.Written() {
		r.Missing(v, "a day such as 2026-10-01 (year-month-day)", "the day of the "+what)
		return "", 0, false
	}
	text := r.Date(v)
	t := day(text)
	if t.IsZero() || r.start.IsZero() {
		return "", 0, false
	}
	n := between(r.start, t)
	switch {
	case n < first:
		r.Errorf(v, "a day from "+r.start.AddDate(0, 0, first).Format(time.DateOnly)+" on", "the %s is of a day before the crop stood on the bench", what)
		return "", 0, false
	case !r.end.IsZero() && t.After(r.end):
		r.Errorf(v, "a day up to "+r.end.Format(time.DateOnly), "the %s is of a day after harvest", what)
		return "", 0, false
	case n > maxDays:
		r.Errorf(v, fmt.Sprintf("at most %d days after transplanting", maxDays), "the %s is of day %d", what, n)
		return "", 0, false
	}
	return text, n, true
}

// given reads an amount with its origin, if it is written.
func (r *reader) given(v handwritten.Value, k quantity.Kind, s handwritten.Span) (underlamp.Given[float64], bool) {
	if !v.Written() {
		return underlamp.Given[float64]{}, false
	}
	inner, origin, note, ok := r.Said(v)
	if !ok {
		return underlamp.Given[float64]{}, false
	}
	x, ok := r.Amount(inner, k, s)
	return underlamp.Given[float64]{Value: x, Origin: origin, Note: note}, ok
}

// as gives a value the type of its unit.
func as[T ~float64](g underlamp.Given[float64]) *underlamp.Given[T] {
	return &underlamp.Given[T]{Value: T(g.Value), Origin: g.Origin, Note: g.Note}
}

// readInstruments reads what instruments there are and how far they err.
func (r *reader) readInstruments(v handwritten.Value) {
	r.instruments = map[string]instrument{}
	items, _ := r.List(v, "a list of instruments, each with name and mass error or length error", maxInstruments, "instruments")
	for _, item := range items {
		f, ok := r.Mapping(item, "instruments[]")
		if !ok {
			continue
		}
		name, ok := r.Words(f.Get("name"), handwritten.MaxName)
		if !ok {
			if !f.Get("name").Written() {
				r.Missing(f.Get("name"), "the name that observations call it by", "the name of the instrument")
			}
			continue
		}
		if _, twice := r.instruments[name]; twice {
			r.Errorf(f.Get("name"), "a name of its own for every instrument", "another instrument is called %q too", name)
			continue
		}
		var in instrument
		if x, ok := r.Amount(f.Get("mass error"), quantity.Mass, massErrorSpan); ok {
			in.mass = quantity.Gram(x)
		}
		if x, ok := r.Amount(f.Get("length error"), quantity.Length, lengthErrorSpan); ok {
			in.length = quantity.Metre(x)
		}
		if !f.Get("mass error").Written() && !f.Get("length error").Written() {
			r.Errorf(f.Value, "mass error: 1 g, or length error: 0.5 cm", "nothing is said of how far %q errs", handwritten.Shortened(name))
		}
		r.instruments[name] = in
	}
}

// changes reads what was set anew.
func (r *reader) changes(v handwritten.Value, c *underlamp.Cycle) {
	items, _ := r.List(v, "a list of changes, each with date and what was set", maxChanges, "changes")
	for _, item := range items {
		f, ok := r.Mapping(item, "changes[]")
		if !ok {
			continue
		}
		if !item.Written() {
			r.Errorf(item, "date, and what was set", "nothing is written for this change")
			continue
		}
		ch := underlamp.Change{Line: f.At.Line}
		ch.Date, ch.Day, ok = r.when(f.Get("date"), "change", 0)
		ch.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
		any := r.settings(f, &ch)
		if !any {
			r.Errorf(item, "lamp height, dimming, hours, fan, speed, co2, day, night or feed", "the change says nothing that was set")
		}
		if ok {
			c.Changes = append(c.Changes, ch)
		}
	}
	slices.SortStableFunc(c.Changes, func(a, b underlamp.Change) int { return a.Day - b.Day })
}

// settings reads what one change set and tells whether anything is written.
func (r *reader) settings(f handwritten.Fields, ch *underlamp.Change) bool {
	any := false
	get := func(f handwritten.Fields, key string, k quantity.Kind, s handwritten.Span) (underlamp.Given[float64], bool) {
		v := f.Get(key)
		any = any || v.Written()
		return r.given(v, k, s)
	}
	if g, ok := get(f, "lamp height", quantity.Length, lampHeightSpan); ok {
		ch.Height = as[quantity.Metre](g)
		r.underCeiling(f.Get("lamp height"), quantity.Metre(g.Value))
	}
	if g, ok := get(f, "dimming", quantity.Share, dimmingSpan); ok {
		ch.Dimming = as[quantity.Fraction](g)
	}
	if g, ok := get(f, "hours", quantity.Duration, hoursSpan); ok {
		ch.Hours = as[quantity.Hours](g)
	}
	if fan := f.Get("fan"); fan.Written() {
		any = true
		said := underlamp.Said(handwritten.Choice(r.Reader, fan, underlamp.FanAims(), map[string]string{"no": "none", "false": "none", "off": "none"}, underlamp.NoFan))
		ch.Fan = &said
	}
	if g, ok := get(f, "speed", quantity.AirSpeed, speedSpan); ok {
		ch.Speed = as[quantity.MetrePerSecond](g)
	}
	if g, ok := get(f, "co2", quantity.GasShare, co2Span); ok {
		ch.CO2 = as[quantity.PPM](g)
	}
	for _, part := range []struct {
		key         string
		temperature **underlamp.Given[quantity.Celsius]
		humidity    **underlamp.Given[quantity.Fraction]
	}{{"day", &ch.DayTemperature, &ch.DayHumidity}, {"night", &ch.NightTemperature, &ch.NightHumidity}} {
		p, ok := r.Mapping(f.Get(part.key), "changes[]."+part.key)
		if !ok {
			any = true
			continue
		}
		if g, ok := get(p, "temperature", quantity.Temperature, temperatureSpan); ok {
			*part.temperature = as[quantity.Celsius](g)
		}
		if g, ok := get(p, "humidity", quantity.Share, humiditySpan); ok {
			*part.humidity = as[quantity.Fraction](g)
		}
	}
	feed, ok := r.Mapping(f.Get("feed"), "changes[].feed")
	if !ok {
		return true
	}
	if g, ok := get(feed, "calcium", quantity.Concentration, calciumSpan); ok {
		ch.Calcium = as[quantity.MilligramPerLitre](g)
	}
	for _, ion := range []struct {
		key string
		to  **underlamp.Given[quantity.MilligramPerLitre]
	}{{"ammonium", &ch.Ammonium}, {"potassium", &ch.Potassium}, {"magnesium", &ch.Magnesium}} {
		if g, ok := get(feed, ion.key, quantity.Concentration, rivalSpan); ok {
			*ion.to = as[quantity.MilligramPerLitre](g)
		}
	}
	if g, ok := get(feed, "ec", quantity.Conductivity, ecSpan); ok {
		ch.EC = as[quantity.MillisiemensPerCm](g)
	}
	if g, ok := get(feed, "root temperature", quantity.Temperature, rootSpan); ok {
		ch.RootTemp = as[quantity.Celsius](g)
	}
	return any
}

// underCeiling refuses lamps above the ceiling of the bench.
func (r *reader) underCeiling(v handwritten.Value, h quantity.Metre) {
	if r.bench == nil {
		return
	}
	if top := r.bench.Space.Height; h > top {
		r.Errorf(v, "at most "+r.Show(quantity.Length, float64(top)), "%s is above the ceiling of the bench", r.Show(quantity.Length, float64(h)))
	}
}

// BenchOf is the name of the bench file that a cycle file gives, whatever else is
// wrong with it; empty if it gives none.
func BenchOf(in io.Reader) string {
	r := &reader{Reader: &handwritten.Reader{Grammar: grammar}}
	top, ok, err := r.Top(in)
	if err != nil || !ok {
		return ""
	}
	f, ok := r.Mapping(top, "")
	if !ok {
		return ""
	}
	return r.benchName(f.Get("bench"))
}
