package environment

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A State is how surely something is told.
type State string

// The states, from the surest.
const (
	Measured State = "measured"
	Fitted   State = "computed, held to readings"
	Computed State = "computed, not measured"
	Told     State = "as the grower tells"
	SetOnly  State = "set, not measured"
	Assumed  State = "assumed by the program"
	Missing  State = "missing"
)

// A Page is where something is filled in, as the pages of a bench call it.
type Page string

// The pages.
const (
	EditPage Page = "edit"
	LivePage Page = "live"
	FeedPage Page = "feed"
	AirPage  Page = "air"
)

// A Gap is something that the guidelines ask for and that is not told.
type Gap struct {
	Key  Key
	Item string // name of the item
	What string // what lacks
	How  string // what closes it: instrument, command or line of the bench file
	At   Page   // where; empty: nowhere but in the file

	// Field is what of the bench file tells it, if that has a field on the page Edit: the path of
	// a value, "method.seedlings", or the name of a list to add to, "method.instruments".
	Field string
}

// A Row is an item with what is known of it.
type Row struct {
	Item
	State      State
	Value      string // with unit; empty where nothing is known
	Spread     string // over the crop or the plants
	Instrument string // kind and make, when it was calibrated
	Where      string // it was read
	Often      string
	Gaps       []Gap
}

// Weak says that a value stands there which nobody read.
func (r Row) Weak() bool { return r.State == SetOnly || r.State == Assumed }

// A Table is the environment of a crop as it is to be reported.
type Table struct {
	Rows  []Row
	Notes []string
}

// Gaps are all that lacks, in the order of the items.
func (t *Table) Gaps() []Gap {
	var out []Gap
	for _, r := range t.Rows {
		out = append(out, r.Gaps...)
	}
	return out
}

// Told counts the items of which something is told, whatever lacks of it, and those that were
// measured or held to readings.
func (t *Table) Told() (told, measured int) {
	for _, r := range t.Rows {
		switch r.State {
		case Missing:
			continue
		case Measured, Fitted:
			measured++
		}
		told++
	}
	return told, measured
}

// Sentence says how much is told.
func (t *Table) Sentence() string {
	told, measured := t.Told()
	return fmt.Sprintf("Of %d things that the guidelines ask for, %d are told at least in part, %d of them by measurement; %s.", len(t.Rows), told, measured, lacking(len(t.Gaps())))
}

func lacking(n int) string {
	switch n {
	case 0:
		return "nothing lacks"
	case 1:
		return "1 particular lacks, listed below with what would supply it"
	}
	return fmt.Sprintf("%d particulars lack, listed below with what would supply each", n)
}

// Known is what is known of the surroundings of a crop. All but Bench may be nil.
type Known struct {
	Bench *underlamp.Bench
	Light *light.Answer
	Log   *Log                // of sensors
	Feed  *underlamp.FeedPlan // whose log tells EC and pH

	From, To string // days of the crop, YYYY-MM-DD, that the log of the feed is read for; empty: all
}

// Of puts what is known beside what the guidelines ask.
func Of(k Known) *Table {
	w := &writer{Known: k, u: k.Bench.Units}
	t := &Table{}
	for _, it := range items {
		r := Row{Item: it, State: Missing}
		w.fill(&r)
		w.lacks(&r)
		t.Rows = append(t.Rows, r)
	}
	if l := k.Log; l != nil {
		switch {
		case l.DayBy == "":
			t.Notes = append(t.Notes, "No sensor of light or lamps stands on the bench and nobody said by the clock when the lamps burn, so hours with and without light are not told apart.")
		default:
			s := "Hours with light are told from those without by " + l.DayBy + "."
			if l.Split > 0 {
				s += fmt.Sprintf(" %s in which the lamps went on or off count for neither.", counted(l.Split, "hour"))
			}
			t.Notes = append(t.Notes, s)
		}
		for _, s := range l.Series {
			if s.Wrong != "" {
				t.Notes = append(t.Notes, fmt.Sprintf("The sensor %s is left out: %s.", s.Sensor, s.Wrong))
			}
		}
	}
	return t
}

type writer struct {
	Known
	u quantity.System
}

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// fill says what is known of an item.
func (w *writer) fill(r *Row) {
	b, m := w.Bench, &w.Bench.Method
	told := func(text string) {
		if text != "" {
			r.State, r.Value = Told, text
		}
	}
	switch r.Key {
	case PPFD, DLI, Evenness, OverTime:
		w.light(r)
	case Photoperiod:
		s := b.Setting()
		r.Value, r.State = quantity.Duration.Format(float64(s.Hours), w.u, 3), ofOrigin(b.Origins(s).Hours)
		if l := w.Log; l != nil && r.State == SetOnly && strings.HasPrefix(l.DayBy, "the l") {
			if day, night := w.lit(); day > 0 {
				// An hour in which the lamps went on or off counts for half.
				all := float64(day + night + l.Split)
				r.Spread = fmt.Sprintf("over %s by %s; set to %s", counted(day+night+l.Split, "hour"), l.DayBy, r.Value)
				r.Value, r.State = quantity.Duration.Format(24*(float64(day)+float64(l.Split)/2)/all, w.u, 3), Measured
			}
		}
	case Lamps:
		r.State, r.Value = Told, w.lamps()
	case Spectrum:
		var names []string
		for _, l := range b.Lamps {
			if l.Colour != nil && !slices.Contains(names, l.Colour.Name) {
				names = append(names, l.Colour.Name)
			}
		}
		if len(names) > 0 {
			r.State, r.Value = Told, "as in "+strings.Join(names, ", ")+" (figures under Lamps)"
		}
	case AirDay:
		w.climate(r, measurand.AirTemperature, true, quantity.Temperature, float64(b.Air.Day.Temperature.Value), b.Air.Day.Temperature.Origin)
	case AirNight:
		w.climate(r, measurand.AirTemperature, false, quantity.Temperature, float64(b.Air.Night.Temperature.Value), b.Air.Night.Temperature.Origin)
	case HumidityDay:
		w.climate(r, measurand.Humidity, true, quantity.Share, float64(b.Air.Day.Humidity.Value), b.Air.Day.Humidity.Origin)
	case HumidityNight:
		w.climate(r, measurand.Humidity, false, quantity.Share, float64(b.Air.Night.Humidity.Value), b.Air.Night.Humidity.Origin)
	case VPDDay:
		w.vpd(r, b.Air.Day, true)
	case VPDNight:
		w.vpd(r, b.Air.Night, false)
	case Leaf:
		w.sensed(r, measurand.LeafTemperature)
	case Root:
		r.Value, r.State = quantity.Temperature.Format(float64(b.Feed.RootTemp.Value), w.u, 3), ofOrigin(b.Feed.RootTemp.Origin)
		w.sensed(r, measurand.SolutionTemperature)
	case CO2:
		r.Value, r.State = quantity.GasShare.Format(float64(b.Air.CO2.Value), w.u, 3), ofOrigin(b.Air.CO2.Origin)
		w.sensed(r, measurand.CO2)
	case AirSpeed:
		r.Value, r.State = quantity.AirSpeed.Format(float64(b.Air.Speed.Value), w.u, 2), ofOrigin(b.Air.Speed.Origin)
		w.sensed(r, measurand.AirSpeed)
	case AirFlow:
		told(m.AirFlow)
		if r.State == Missing && !b.Air.Fan.IsDefault() {
			r.State, r.Value = Told, map[underlamp.FanAim]string{underlamp.NoFan: "no fan", underlamp.Across: "a fan across the plants", underlamp.Down: "a fan down onto the plants"}[b.Air.Fan.Value]
		}
	case Watering:
		told(m.Watering)
	case Substrate:
		told(m.Substrate)
	case Container:
		told(m.Container)
	case Composition:
		w.composition(r)
	case EC:
		r.Value, r.State = quantity.Conductivity.Format(float64(b.Feed.EC.Value), w.u, 2), ofOrigin(b.Feed.EC.Origin)
		w.looked(r, quantity.Conductivity, func(e *underlamp.FeedEntry) float64 { return e.EC })
		w.sensed(r, measurand.EC)
	case PH:
		told(m.PH)
		w.looked(r, quantity.Acidity, func(e *underlamp.FeedEntry) float64 { return e.PH })
		w.sensed(r, measurand.PH)
	case Oxygen:
		told(m.Oxygen)
	case Space:
		l := func(v quantity.Metre) string { return quantity.Length.Format(float64(v), w.u, 3) }
		s := b.Space
		r.State, r.Value = Told, fmt.Sprintf("%s × %s, %s high, with %s", l(s.Width), l(s.Depth), l(s.Height), counted(len(b.Plants), "plant"))
	case Room:
		told(m.Room)
	case Seedlings:
		told(m.Seedlings)
	}
}

// ofOrigin is the state of a value of the bench file.
func ofOrigin(o underlamp.Origin) State {
	switch o {
	case underlamp.Default:
		return Assumed
	case underlamp.Measured:
		return Measured
	case underlamp.Fitted:
		return Fitted
	case underlamp.Computed:
		return Computed
	}
	return SetOnly
}

func (w *writer) light(r *Row) {
	a, b := w.Light, w.Bench
	dated := map[string]bool{}
	for _, x := range b.Readings {
		if x.When != "" {
			dated[x.When] = true
		}
	}
	s := w.Log.Of(measurand.PPFD)
	if r.Key == OverTime {
		switch {
		case s != nil && s.Day.Hours > 1:
			r.State, r.Value = Measured, "at one place "+w.stat(s.Day, quantity.PhotonFluxDensity)
			w.bySensor(r, s)
		case len(dated) > 1:
			var days []string
			for d := range dated {
				days = append(days, d)
			}
			slices.Sort(days)
			r.State, r.Value = Measured, "read on "+strings.Join(days, ", ")
		}
		return
	}
	if a == nil {
		return
	}
	r.State = Computed
	if len(b.Readings) > 0 {
		r.State = Fitted
		r.Often = counted(len(b.Readings), "reading")
		if len(dated) == 1 {
			for d := range dated {
				r.Often += ", on " + d
			}
		}
	}
	low, high := a.Lowest.Value, a.Highest.Value
	switch r.Key {
	case PPFD:
		r.Value = a.Mean.Text()
		r.Spread = fmt.Sprintf("%s to %s over %s", quantity.Fixed(low, 0), quantity.Fixed(high, 0), counted(len(a.Plants), "plant"))
		if band := a.Mean.BandText(); band != "" {
			r.Spread += "; of the mean " + band
		}
		r.Where = "at the planting surface, as the middle of each plant has it"
		if s != nil {
			r.Often += fmt.Sprintf("; besides, %s at one place", s.Sensor)
			r.Often = strings.TrimPrefix(r.Often, "; ")
		}
		w.byMethod(r)
	case DLI:
		r.Value = a.DLI.Text()
		if band := a.DLI.BandText(); band != "" {
			r.Spread = band
		}
	case Evenness:
		r.Value = "standard deviation " + a.Spread.Text() + " of the mean"
		r.Spread = "darkest plant " + a.Evenness.Text() + " of the mean; map under Results"
	}
}

// lit counts the hours of the log with and without light.
func (w *writer) lit() (day, night int) {
	for _, s := range w.Log.Series {
		day, night = max(day, s.Day.Hours), max(night, s.Night.Hours)
	}
	return day, night
}

func (w *writer) lamps() string {
	count, order := map[string]int{}, []string{}
	for _, l := range w.Bench.Lamps {
		if count[l.Kind] == 0 {
			order = append(order, l.Kind)
		}
		count[l.Kind]++
	}
	var parts []string
	for _, kind := range order {
		parts = append(parts, fmt.Sprintf("%d × %s", count[kind], kind))
	}
	return strings.Join(parts, ", ")
}

// stat prints a mean with what stands for its spread.
func (w *writer) stat(s Stat, k quantity.Kind) string {
	return k.Format(s.Mean, w.u, 3) + ", " + w.spread(s, k)
}

func (w *writer) spread(s Stat, k quantity.Kind) string {
	unit, per := k.Shown(w.u)
	f := func(v float64) string { return k.Format(v, w.u, 3) }
	sd := quantity.Number(math.Round(s.SD*per*1000)/1000, 2)
	if unit != "" {
		sd += " " + unit
	}
	return fmt.Sprintf("SD %s; %s to %s; %s", sd, f(s.Low), f(s.High), counted(s.Hours, "hour"))
}

// climate is a value of the air of a part of the day.
func (w *writer) climate(r *Row, q measurand.Quantity, day bool, k quantity.Kind, set float64, from underlamp.Origin) {
	r.Value, r.State = k.Format(set, w.u, 3), ofOrigin(from)
	s := w.Log.Of(q)
	if s == nil {
		w.byMethod(r)
		return
	}
	part := s.Night
	if day {
		part = s.Day
	}
	if part.Hours > 0 {
		w.measured(r, s, part, k)
	} else {
		r.Spread = "all hours together: " + w.stat(s.All, k)
		w.bySensor(r, s)
	}
}

// measured puts the hours of a sensor in the place of what was set, which stays beside it.
func (w *writer) measured(r *Row, s *Series, part Stat, k quantity.Kind) {
	set := r.Value
	was := r.State
	r.Value, r.Spread = k.Format(part.Mean, w.u, 3), w.spread(part, k)
	if set != "" && was == SetOnly {
		r.Spread += "; set to " + set
	}
	r.State = Measured
	w.bySensor(r, s)
}

// sensed puts the hours of a sensor in the place of what is known else.
func (w *writer) sensed(r *Row, q measurand.Quantity) {
	s := w.Log.Of(q)
	if s == nil {
		w.byMethod(r)
		return
	}
	m, _ := measurand.Of(q)
	w.measured(r, s, s.All, m.Kind)
}

func (w *writer) vpd(r *Row, c underlamp.Climate, day bool) {
	const unit = " kPa"
	if w.Log != nil {
		s := w.Log.VPDNight
		if day {
			s = w.Log.VPDDay
		}
		if s.Hours > 0 {
			r.State, r.Value = Measured, quantity.Fixed(s.Mean, 2)+unit
			r.Spread = fmt.Sprintf("SD %s; %s to %s; %s", quantity.Fixed(s.SD, 2), quantity.Fixed(s.Low, 2), quantity.Fixed(s.High, 2), counted(s.Hours, "hour"))
			r.Instrument = "from the sensors of air and humidity"
			return
		}
	}
	r.Value = quantity.Fixed(float64(moistair.VPD(c.Temperature.Value, c.Humidity.Value)), 2) + unit
	r.State = Computed
	if c.Temperature.IsDefault() || c.Humidity.IsDefault() {
		r.State = Assumed
	}
	r.Instrument = "from the two values of the bench"
}

// bySensor says with what it was read.
func (w *writer) bySensor(r *Row, s *Series) {
	r.Instrument = "sensor " + s.Sensor
	if s.Make != "" {
		r.Instrument += " (" + s.Make + ")"
	}
	if s.Checked != "" {
		r.Instrument += ", calibrated " + s.Checked
		if s.Checker != "" {
			r.Instrument += " by " + s.Checker
		}
	}
	r.Where, r.Often = "", ""
	if s.Height != nil {
		r.Where = quantity.Length.Format(*s.Height, w.u, 3) + " above the planting surface"
	}
	if s.X != nil && s.Y != nil {
		at := fmt.Sprintf("%s from the left, %s from the front", quantity.Length.Format(*s.X, w.u, 3), quantity.Length.Format(*s.Y, w.u, 3))
		if r.Where != "" {
			at = r.Where + ", " + at
		}
		r.Where = at
	}
	if s.Every > 0 {
		r.Often = "every " + every(s.Every) + ", means of hours"
	}
}

func every(d time.Duration) string {
	switch {
	case d%time.Hour == 0:
		return counted(int(d/time.Hour), "hour")
	case d%time.Minute == 0:
		return quantity.Fixed(d.Minutes(), 0) + " min"
	}
	return quantity.Fixed(d.Seconds(), 0) + " s"
}

// byMethod says with what it was read as the grower tells it.
func (w *writer) byMethod(r *Row) {
	x := w.Bench.Method.Reading(r.Reads)
	if r.Reads == "" || x == nil {
		return
	}
	r.Instrument = x.Make
	if x.Calibrated != "" {
		r.Instrument += ", calibrated " + x.Calibrated
	}
	if x.Place != "" {
		r.Where = x.Place
	}
	if x.Often != "" {
		r.Often = strings.TrimPrefix(r.Often+"; "+x.Often, "; ")
	}
}

func (w *writer) composition(r *Row) {
	f := w.Bench.Feed
	var parts []string
	states := map[State]bool{}
	for _, ion := range []struct {
		name string
		g    underlamp.Given[quantity.MilligramPerLitre]
	}{{"Ca", f.Calcium}, {"NH₄-N", f.Ammonium}, {"K", f.Potassium}, {"Mg", f.Magnesium}} {
		states[ofOrigin(ion.g.Origin)] = true
		if !ion.g.IsDefault() {
			parts = append(parts, ion.name+" "+quantity.Concentration.Format(float64(ion.g.Value), w.u, 3))
		}
	}
	switch {
	case w.Bench.Method.Solution != "":
		r.State, r.Value = Told, w.Bench.Method.Solution
		r.Spread = strings.Join(parts, ", ")
	case w.Feed != nil:
		r.State = Computed
		name := w.Feed.Recipe
		if name == "" {
			name = w.Feed.Name
		}
		r.Value = "mixed as " + name
		if s := float64(w.Feed.Strength); s > 0 && s != 1 {
			r.Value += " at " + working.Percent(s)
		}
		r.Spread = strings.Join(parts, ", ")
	case len(parts) > 0:
		r.Value, r.State = strings.Join(parts, ", "), SetOnly
		if states[Assumed] {
			r.Spread = "the rest is assumed"
		}
	}
}

// looked takes what the log of the feed says of EC or pH.
func (w *writer) looked(r *Row, k quantity.Kind, of func(*underlamp.FeedEntry) float64) {
	if w.Feed == nil {
		return
	}
	var v []float64
	first, last := "", ""
	for i := range w.Feed.Log {
		e := &w.Feed.Log[i]
		if w.From != "" && e.Date < w.From || w.To != "" && e.Date > w.To {
			continue
		}
		if x := of(e); !math.IsNaN(x) {
			v, last = append(v, x), e.Date
			if first == "" {
				first = e.Date
			}
		}
	}
	if len(v) == 0 {
		return
	}
	s := statOf(v)
	f := func(x float64) string {
		if k.Unit() == quantity.Acidity.Unit() {
			return quantity.Fixed(x, 1)
		}
		return k.Format(x, w.u, 2)
	}
	r.State, r.Value, r.Where = Measured, f(s.Mean), "in the tank"
	r.Often = fmt.Sprintf("%s, %s to %s (log of the feed)", counted(len(v), "look"), first, last)
	if len(v) > 1 {
		r.Spread = f(s.Low) + " to " + f(s.High)
	}
}
