package logged

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/working"
)

// An Ask is the table of a logger with what a person says of it.
type Ask struct {
	Bench   *underlamp.Bench
	Zone    *time.Location // of the days
	Times   []time.Time
	Columns []Column
	As      map[string]Role // what columns read, by name, where it cannot be told or is told wrongly
	On, Off time.Duration   // hours of light by the clock, from midnight, where no sensor reads light; equal if not said
}

// A Part is the climate of one part of the day; a value is NaN where nothing was
// read.
type Part struct {
	Hours       float64
	Temperature quantity.Celsius
	Humidity    quantity.Fraction
	VPD         quantity.Kilopascal
	CO2         quantity.PPM
}

// A Day is a day of the logger.
type Day struct {
	Date       string  // YYYY-MM-DD, in the zone
	Covered    float64 // share of the day with readings
	Whole      bool    // enough for the means
	DLI        float64 // mol m⁻² d⁻¹; NaN without a light sensor
	LightHours float64 // h; NaN without light or hours
	Light      Part    // while the lamps are on
	Dark       Part
	All        Part
}

// A Line is a value for the bench file.
type Line struct {
	Key      string // "air.day.temperature"
	Measured string // in the words of the bench file
	Stated   string // what the file says now, with its origin
	Text     string // "temperature: {value: 22.4 °C, from: measured}"
}

// An Answer is what the logger read.
type Answer struct {
	Bench   *underlamp.Bench
	Uses    []Use
	Ignored []string // columns that could not be told
	Step    time.Duration
	Gaps    int // times without readings, of more than three steps
	Doubled int // rows of one instant: the later counts
	Days    []Day
	Figures []working.Figure
	Lines   []Line
	Block   string // the lines as a part of the bench file; empty if there are none
	Notes   []string
}

// Limits of what is taken together.
const (
	covered   = 0.9
	gapless   = 0.98 // for what adds up over the day
	gapSteps  = 3
	onShare   = 0.1 // of the upper level of PPFD
	leastPPFD = 5   // µmol m⁻² s⁻¹: less is no lamp
)

// row is one instant of the logger, in base units; NaN where nothing was read.
type row struct {
	at                 time.Time
	temp, rh, ppfd, co *float64
	weight             float64 // h that it stands for
	on                 bool
}

// Read answers an ask. An error says what is missing or cannot be.
func Read(a Ask) (*Answer, error) {
	out := &Answer{Bench: a.Bench}
	by := map[Role][]float64{}
	for name := range a.As {
		if !slices.ContainsFunc(a.Columns, func(c Column) bool { return c.Name == name }) {
			return nil, &ColumnError{name, "is not in the table; it has " + listNames(a.Columns)}
		}
	}
	for _, c := range a.Columns {
		role, why := roleOf(c, a.As)
		if role == "" || role == Nothing {
			out.Ignored = append(out.Ignored, c.Name)
			continue
		}
		if by[role] != nil {
			if why != "as said" {
				out.Ignored = append(out.Ignored, c.Name)
				out.Notes = append(out.Notes, fmt.Sprintf("%q could be %s too; the first such column was taken. Name another one to take it instead.", c.Name, role))
				continue
			}
			return nil, &ColumnError{c.Name, fmt.Sprintf("is the second that reads %s; name the other one as %s", role, Nothing)}
		}
		values, unit, err := convert(c, role)
		if err != nil {
			return nil, err
		}
		by[role] = values
		out.Uses = append(out.Uses, Use{c.Name, role, unit, why})
	}
	if len(out.Uses) == 0 {
		return nil, errors.New("no column could be told: name what they read, such as Sensor1=temperature")
	}
	rows := out.rows(a, by)
	if len(rows) < 3 {
		return nil, errors.New("there are fewer than three times; a logger table has a row every few minutes")
	}
	out.weigh(rows)
	lit := out.lamps(a, rows, by[Light] != nil)
	out.days(a, rows, by[Light] != nil, lit)
	out.sumUp(a, by, lit)
	return out, nil
}

func listNames(cs []Column) string {
	var n []string
	for _, c := range cs {
		n = append(n, fmt.Sprintf("%q", c.Name))
	}
	return strings.Join(n, ", ")
}

// rows are the instants in order, each once.
func (out *Answer) rows(a Ask, by map[Role][]float64) []row {
	order := make([]int, len(a.Times))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return a.Times[i].Compare(a.Times[j]) })
	pick := func(r Role, i int) *float64 {
		if v := by[r]; v != nil && !math.IsNaN(v[i]) {
			return &v[i]
		}
		return nil
	}
	var rows []row
	for _, i := range order {
		r := row{at: a.Times[i], temp: pick(Temperature, i), rh: pick(Humidity, i), ppfd: pick(Light, i), co: pick(CO2, i)}
		if n := len(rows); n > 0 && rows[n-1].at.Equal(r.at) {
			rows[n-1] = r
			out.Doubled++
			continue
		}
		rows = append(rows, r)
	}
	return rows
}

// weigh gives every row the hours that it stands for.
func (out *Answer) weigh(rows []row) {
	steps := make([]time.Duration, len(rows)-1)
	for i := range steps {
		steps[i] = rows[i+1].at.Sub(rows[i].at)
	}
	sorted := slices.Sorted(slices.Values(steps))
	out.Step = sorted[len(sorted)/2]
	stand := Standing{Step: out.Step, Gap: gapSteps * out.Step}
	for i, s := range steps {
		half, gap := stand.Half(s)
		if gap {
			out.Gaps++
		}
		rows[i].weight += half.Hours()
		rows[i+1].weight += half.Hours()
	}
	// The first and the last stand for half a step outwards too.
	rows[0].weight += out.Step.Hours() / 2
	rows[len(rows)-1].weight += out.Step.Hours() / 2
}

// lamps says of every row whether the lamps were on, if that can be known.
func (out *Answer) lamps(a Ask, rows []row, sensor bool) bool {
	if sensor {
		var all []float64
		for _, r := range rows {
			if r.ppfd != nil {
				all = append(all, *r.ppfd)
			}
		}
		if len(all) > 0 {
			slices.Sort(all)
			limit := max(onShare*all[len(all)*9/10], leastPPFD)
			last := false
			for i := range rows {
				if rows[i].ppfd != nil {
					last = *rows[i].ppfd > limit
				}
				rows[i].on = last
			}
			return true
		}
	}
	if a.On == a.Off {
		return false
	}
	for i := range rows {
		t := rows[i].at.In(a.Zone)
		clock := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second
		if a.On < a.Off {
			rows[i].on = clock >= a.On && clock < a.Off
		} else {
			rows[i].on = clock >= a.On || clock < a.Off
		}
	}
	return true
}

// A mean adds up values with their weights.
type mean struct{ sum, weight float64 }

func (m *mean) add(v, w float64) { m.sum, m.weight = m.sum+v*w, m.weight+w }
func (m *mean) value() float64   { return m.sum / m.weight } // NaN of nothing

type parts struct{ temp, rh, vpd, co mean }

func (p *parts) add(r *row) {
	if r.temp != nil {
		p.temp.add(*r.temp, r.weight)
	}
	if r.rh != nil {
		p.rh.add(*r.rh, r.weight)
	}
	if r.temp != nil && r.rh != nil {
		p.vpd.add(float64(moistair.VPD(quantity.Celsius(*r.temp), quantity.Fraction(*r.rh))), r.weight)
	}
	if r.co != nil {
		p.co.add(*r.co, r.weight)
	}
}

func (p *parts) part(hours float64) Part {
	return Part{Hours: hours, Temperature: quantity.Celsius(p.temp.value()), Humidity: quantity.Fraction(p.rh.value()), VPD: quantity.Kilopascal(p.vpd.value()), CO2: quantity.PPM(p.co.value())}
}

// sum is a value that adds up over the day; NaN where a gap would make it too small.
func (d *Day) sum(v float64) float64 {
	if d.Covered < gapless {
		return math.NaN()
	}
	return v
}

// StepText is the usual time between readings in words.
func (out *Answer) StepText() string {
	switch s := out.Step.Seconds(); {
	case s >= 60:
		return quantity.Number(s/60, 3) + " min"
	default:
		return quantity.Number(s, 3) + " s"
	}
}

// days sums up the rows by day.
func (out *Answer) days(a Ask, rows []row, sensor, lit bool) {
	for from := 0; from < len(rows); {
		date := rows[from].at.In(a.Zone).Format(time.DateOnly)
		var light, dark, all parts
		var hours, on, dli float64
		for ; from < len(rows) && rows[from].at.In(a.Zone).Format(time.DateOnly) == date; from++ {
			r := &rows[from]
			hours += r.weight
			all.add(r)
			if !lit {
			} else if r.on {
				on += r.weight
				light.add(r)
			} else {
				dark.add(r)
			}
			if r.ppfd != nil {
				dli += max(*r.ppfd, 0) * r.weight * 3600e-6
			}
		}
		d := Day{Date: date, Covered: min(hours/dayHours(date, a.Zone), 1), DLI: math.NaN(), LightHours: math.NaN(), All: all.part(hours)}
		d.Whole = d.Covered >= covered
		if sensor {
			d.DLI = dli
		}
		if lit {
			d.LightHours, d.Light, d.Dark = on, light.part(on), dark.part(hours-on)
		}
		out.Days = append(out.Days, d)
	}
}

// dayHours is how long a day lasts: 23 or 25 h where the clocks change.
func dayHours(date string, zone *time.Location) float64 {
	noon, err := time.ParseInLocation(time.DateOnly+" 15", date+" 12", zone)
	if err != nil {
		return 24
	}
	from, to := DayOf(noon, zone)
	return to.Sub(from).Hours()
}

// sumUp makes the figures and the lines for the bench file.
func (out *Answer) sumUp(a Ask, by map[Role][]float64, lit bool) {
	days := slices.Collect(func(yield func(Day) bool) {
		for _, d := range out.Days {
			if d.Whole && !yield(d) {
				return
			}
		}
	})
	if len(days) == 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("No day has readings for nine tenths of it: there are no means. The logger read every %s.", out.StepText()))
		return
	}
	u := a.Bench.Units
	add := func(name, unit string, formula, source string, pick func(Day) float64) (value float64, ok bool) {
		var v []float64
		for _, d := range days {
			if x := pick(d); !math.IsNaN(x) {
				v = append(v, x)
			}
		}
		if len(v) == 0 {
			return 0, false
		}
		m, sd := meanSD(v)
		scale := 1.0
		if unit == "%" {
			scale = 100
		}
		f := working.Figure{Name: name, Value: scale * m, Unit: unit, Working: working.Working{
			Formula: formula,
			Inputs:  []working.Input{working.Plain("whole days", fmt.Sprint(len(v)), "measured"), working.Plain("a reading every", out.StepText(), "measured")},
			Steps:   []string{"Each reading stands for the time around it; the mean is that of the days."},
		}}
		if source != "" {
			f.Working.Sources = []string{source}
		}
		if len(v) > 1 {
			f.Band = working.Normal(f.Value, scale*sd, 0.9)
			f.Band.Over = "of the days, 90 %"
		}
		out.Figures = append(out.Figures, f)
		return m, true
	}
	add("DLI", quantity.DailyIntegral.Unit(), "DLI = Σ PPFD · Δt", "ASABE2017", func(d Day) float64 { return d.sum(d.DLI) })
	add("hours of light", quantity.Duration.Unit(), "time with PPFD above a tenth of its upper level, or the hours given", "", func(d Day) float64 { return d.sum(d.LightHours) })
	type side struct {
		name, key string
		part      func(Day) Part
		now       underlamp.Climate
	}
	sides := []side{{"while the lamps are on", "day", func(d Day) Part { return d.Light }, a.Bench.Air.Day}, {"while they are off", "night", func(d Day) Part { return d.Dark }, a.Bench.Air.Night}}
	if !lit {
		sides = []side{{"over the whole day", "", func(d Day) Part { return d.All }, underlamp.Climate{}}}
		out.Notes = append(out.Notes, "Without a light sensor and without the hours of light, day and night cannot be told apart.")
	}
	var block []string
	for _, s := range sides {
		var inner []string
		line := func(word string, k quantity.Kind, digits int, v float64, g working.Input) {
			text := k.Format(v, u, digits)
			key := "air." + s.key + "." + word
			stated := g.Value
			if g.Origin != "" {
				stated += " (" + g.Origin + ")"
			}
			out.Lines = append(out.Lines, Line{Key: key, Measured: text, Stated: stated, Text: fmt.Sprintf("%s: {value: %s, from: measured}", word, text)})
			inner = append(inner, fmt.Sprintf("    %s: {value: %s, from: measured}", word, text))
		}
		if v, ok := add("temperature "+s.name, quantity.Temperature.Unit(), "mean of the readings, by their time", "", func(d Day) float64 { return float64(s.part(d).Temperature) }); ok && s.key != "" {
			line("temperature", quantity.Temperature, 3, v, working.Of("", s.now.Temperature, quantity.Temperature, u))
		}
		if v, ok := add("humidity "+s.name, "%", "mean of the readings, by their time", "", func(d Day) float64 { return float64(s.part(d).Humidity) }); ok && s.key != "" {
			line("humidity", quantity.Share, 2, v, working.Of("", s.now.Humidity, quantity.Share, u))
		}
		add("vapour pressure deficit "+s.name, "kPa", "mean of e_s(T)·(1 − RH)", "Allen1998", func(d Day) float64 { return float64(s.part(d).VPD) })
		if len(inner) > 0 {
			block = append(block, "  "+s.key+":")
			block = append(block, inner...)
		}
	}
	if v, ok := add("CO2", quantity.GasShare.Unit(), "mean of the readings, by their time", "", func(d Day) float64 {
		if lit {
			return float64(d.Light.CO2)
		}
		return float64(d.All.CO2)
	}); ok {
		text := quantity.GasShare.Format(v, u, 3)
		now := working.Of("", a.Bench.Air.CO2, quantity.GasShare, u)
		out.Lines = append(out.Lines, Line{Key: "air.co2", Measured: text, Stated: now.Value + " (" + now.Origin + ")", Text: fmt.Sprintf("co2: {value: %s, from: measured}", text)})
		block = append(block, fmt.Sprintf("  co2: {value: %s, from: measured}", text))
	}
	if len(block) > 0 {
		out.Block = "air:\n" + strings.Join(block, "\n") + "\n"
	}
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	ss := 0.0
	for _, x := range v {
		ss += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(ss / float64(max(len(v)-1, 1)))
}
