package live

import (
	"fmt"
	"math"
	"strings"
	"time"

	"underlamp/app/logged"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

// A lightDay is the light of the day of a bench at an instant.
type lightDay struct {
	from, to time.Time // of the day
	by       string    // "rack/ppfd", "the clock": what tells
	origin   string    // "measured" where light was, else "computed"
	inputs   []working.Input

	known   bool
	lit     *bool
	ratio   float64 // light now over the light of the plan; NaN if not known
	soFar   float64 // mol m⁻², mean over the plants
	hours   float64 // of light so far
	covered float64 // share of the day so far that was read
	gaps    int

	rest     float64   // h of light to come
	restFrom time.Time // when it begins; zero if that cannot be told
	restHow  string
	on       float64 // light of the rest over the light of the plan
	onHow    string
}

// end is the DLI by the end of the day, mean over the plants.
func (l *lightDay) end(p *plan) float64 {
	return l.soFar + float64(quantity.DailyLight(quantity.PPFD(l.on*p.mean), quantity.Hours(l.rest)))
}

const joulesPerKWh = 3.6e6

func (s *state) day(now time.Time) *lightDay {
	l := &lightDay{ratio: math.NaN(), on: 1, onHow: "the light of the bench file"}
	l.from, l.to = logged.DayOf(now, s.zone)
	from, to, at := store.At(l.from), store.At(l.to), store.At(now)
	elapsed := now.Sub(l.from).Seconds()
	sum := func(all []*sensor) (out []sums) {
		best := 0.0
		for _, x := range all {
			z := x.series.between(from, to, at)
			out = append(out, z)
			best = max(best, z.covered)
		}
		for i := range out { // one that read half as long as another would make the day too dark
			if out[i].covered < best/2 {
				out[i].n = 0
			}
		}
		return out
	}
	light, lamps := s.of(measurand.PPFD), s.of(measurand.Lamp)
	n := 0.0
	for i, z := range sum(light) {
		x := light[i]
		if z.n == 0 || !(x.planned > 0) {
			continue
		}
		n++
		l.soFar += z.over[weighShare] * 1e-6 / x.planned * s.plan.mean
		l.hours += z.over[weighLit] / 3600
		l.covered += z.covered
		l.gaps += z.gaps
		l.name(x)
		in := working.Plain("light at "+x.Key+" so far", quantity.DailyIntegral.Format(z.over[weighShare]*1e-6, s.bench.Units, 3), "measured")
		if !x.placed {
			in.Note = "nobody said where it stands: taken for the mean plant"
		}
		l.inputs = append(l.inputs, in)
	}
	l.origin = "measured"
	if n == 0 {
		l.origin = "computed"
		for i, z := range sum(lamps) {
			if z.n == 0 {
				continue
			}
			n++
			l.soFar += float64(quantity.DailyLight(quantity.PPFD(s.plan.mean*z.over[weighShare]), 1)) / 3600
			l.hours += z.over[weighLit] / 3600
			l.covered += z.covered
			l.gaps += z.gaps
			l.name(lamps[i])
			l.inputs = append(l.inputs, working.Plain("lamps on at "+lamps[i].Key, quantity.Duration.Format(z.over[weighLit]/3600, s.bench.Units, 3), "measured"))
		}
	}
	switch {
	case n > 0:
		l.known = true
		l.soFar, l.hours, l.covered = l.soFar/n, l.hours/n, l.covered/n/max(elapsed, 1)
	case s.limits.lights != nil:
		l.known, l.by = true, "the clock"
		l.hours = litBetween(*s.limits.lights, l.from, now, s.zone).Hours()
		l.soFar = float64(quantity.DailyLight(quantity.PPFD(s.plan.mean), quantity.Hours(l.hours)))
		in, _ := inWindow(*s.limits.lights, now, s.zone)
		l.lit, l.ratio = &in, 0
		if in {
			l.ratio = 1
		}
		l.inputs = append(l.inputs, working.Plain("lamps on", windowText(*s.limits.lights), "stated"))
	}
	l.measuredNow(s, now)
	s.rest(l, now)
	return l
}

func (l *lightDay) name(x *sensor) {
	if l.by != "" {
		l.by += ", "
	}
	l.by += x.Key
}

// measuredNow sets the ratio and whether lamps burn by what sensors read now. The ratio
// is that of least squares over the light sensors.
func (l *lightDay) measuredNow(s *state, now time.Time) {
	var up, down float64
	_, light := s.now(measurand.PPFD, now)
	for _, x := range light {
		up += max(x.series.newest.Value, 0) * x.planned
		down += x.planned * x.planned
		l.burn(x)
	}
	if down > 0 {
		l.ratio = up / down
		return
	}
	dimming, lamps := s.now(measurand.Lamp, now)
	if len(lamps) == 0 {
		return
	}
	l.ratio = lamps[0].series.weigh(dimming)[weighShare]
	for _, x := range lamps {
		l.burn(x)
	}
}

func (l *lightDay) burn(x *sensor) {
	on := x.on(x.series.newest.Value) || l.lit != nil && *l.lit && l.by != "the clock"
	l.lit = &on
}

// rest says how much light is to come.
func (s *state) rest(l *lightDay, now time.Time) {
	left := l.to.Sub(now).Hours()
	if w := s.limits.lights; w != nil {
		l.rest = litBetween(*w, now, l.to, s.zone).Hours()
		l.restHow = "hours by the clock, " + windowText(*w)
		if in, _ := inWindow(*w, now, s.zone); in {
			l.restFrom = now
		} else if on := nextOn(*w, now, s.zone); on.Before(l.to) {
			l.restFrom = on
		}
	} else {
		l.rest = min(max(s.plan.day-l.hours, 0), left)
		l.restHow = "the hours of the bench file that are left"
		if l.lit != nil && *l.lit {
			l.restFrom = now
		}
	}
	const enough = 0.25 // h of light that tell how bright the rest will be
	switch {
	case l.lit != nil && *l.lit && l.origin == "measured" && s.lately(now) > 0:
		l.on, l.onHow = s.lately(now), "as bright as in the last half hour"
	case l.origin == "measured" && l.hours >= enough && s.plan.mean > 0:
		l.on = float64(quantity.ConstantPPFD(quantity.DLI(l.soFar), quantity.Hours(l.hours))) / s.plan.mean
		l.onHow = "as bright as today so far"
	case l.lit != nil && *l.lit && l.ratio > 0:
		l.on, l.onHow = l.ratio, "dimmed as now"
	}
}

// lately is the light of the last half hour over that of the plan; NaN without.
func (s *state) lately(now time.Time) float64 {
	var up, down float64
	for _, x := range s.of(measurand.PPFD) {
		if v := x.lately(now); v > 0 {
			up, down = up+v*x.planned, down+x.planned*x.planned
		}
	}
	return up / down
}

// derive works out what follows from the readings at an instant.
func (s *state) derive(now time.Time) (figures []Derived, l *lightDay) {
	l = s.day(now)
	u := s.bench.Units
	add := func(key string, f working.Figure) {
		if !math.IsNaN(f.Value) && !math.IsInf(f.Value, 0) {
			figures = append(figures, Derived{key, f})
		}
	}
	plain := working.Plain
	mapInput := plain("mean light of the bench file at the plants", quantity.PhotonFluxDensity.Format(s.plan.mean, u, 3), "computed")
	ratioInputs := s.ratioInputs(now)
	if !math.IsNaN(l.ratio) {
		how := "light of the bench file where the lamps burn, by the clock"
		if len(ratioInputs) > 0 {
			how = "ratio = Σ read · planned / Σ planned², over the light sensors"
			if l.origin != "measured" {
				how = "ratio = light of the lamps at their dimming / at that of the bench file"
			}
		}
		add(KeyRatio, working.Figure{Name: "light over that of the bench file", Value: 100 * l.ratio, Unit: "%", Working: working.Working{Formula: how, Inputs: ratioInputs,
			Notes: []string{"The map of the lamps is taken as right in its form; the sensor sets its level."}}})
		add(KeyPPFD, working.Figure{Name: "mean PPFD at the plants now", Value: l.ratio * s.plan.mean, Unit: quantity.PhotonFluxDensity.Unit(), Working: working.Working{
			Formula: "E = ratio · E of the bench file", Inputs: append([]working.Input{plain("ratio", quantity.Number(l.ratio, 3), "computed from "+l.origin+" light"), mapInput}, ratioInputs...), Sources: []string{"ASABE2017"}}})
	}
	if l.known {
		cover := plain("read of the day so far", working.Percent(min(l.covered, 1)), "computed")
		in := append([]working.Input{mapInput}, l.inputs...)
		if l.by != "the clock" {
			in = append(in, cover)
		}
		add(KeyDLI, working.Figure{Name: "mean DLI at the plants so far", Value: l.soFar, Unit: quantity.DailyIntegral.Unit(), Working: working.Working{
			Formula: "DLI = Σ PPFD · Δt at the sensor · (mean at the plants / at the sensor) of the map", Inputs: in, Sources: []string{"ASABE2017"},
			Steps: []string{"Each reading stands for half of the way to its neighbours; a gap is of more than three steps and a quarter of an hour, and gives no light."}}})
		add(KeyDLIEnd, working.Figure{Name: "mean DLI by the end of the day", Value: l.end(s.plan), Unit: quantity.DailyIntegral.Unit(), Working: working.Working{
			Formula: "DLI so far + E · hours to come", Inputs: []working.Input{plain("so far", quantity.DailyIntegral.Format(l.soFar, u, 3), l.origin),
				plain("light to come", quantity.PhotonFluxDensity.Format(l.on*s.plan.mean, u, 3), l.onHow), plain("hours to come", quantity.Duration.Format(l.rest, u, 3), l.restHow)}, Sources: []string{"ASABE2017"}}})
		add(KeyHours, working.Figure{Name: "hours of light so far", Value: l.hours, Unit: quantity.Duration.Unit(), Working: working.Working{
			Formula: "time with PPFD above a tenth of the light of the bench file at the sensor, and 5 µmol/m²/s; or with lamps on", Inputs: l.inputs}})
	}
	temp, temps := s.now(measurand.AirTemperature, now)
	rh, rhs := s.now(measurand.Humidity, now)
	leaf, leaves := s.now(measurand.LeafTemperature, now)
	rh = min(rh, 1)
	tIn, rhIn, leafIn := inputs(temps, u), inputs(rhs, u), inputs(leaves, u)
	t, f := quantity.Celsius(temp), quantity.Fraction(rh)
	add(KeyVPD, working.Figure{Name: "vapour pressure deficit of the air", Value: float64(moistair.VPD(t, f)), Unit: "kPa", Working: working.Working{Formula: "e_s(T) · (1 − RH)", Inputs: append(tIn, rhIn...), Sources: []string{"Allen1998"}}})
	add(KeyLeafVPD, working.Figure{Name: "vapour pressure deficit of the leaf", Value: float64(moistair.LeafVPD(quantity.Celsius(leaf), t, f)), Unit: "kPa", Working: working.Working{Formula: "e_s(T leaf) − RH · e_s(T air)", Inputs: append(append(leafIn, tIn...), rhIn...), Sources: []string{"Allen1998"}}})
	if dew, coldest, what := s.dew(now); !math.IsNaN(dew) {
		add(KeyDew, working.Figure{Name: "over the dew point", Value: coldest - dew, Unit: "°C", Working: working.Working{Formula: "T of the coldest surface known − dew point", Inputs: append(append([]working.Input{plain("coldest: "+what, quantity.Temperature.Format(coldest, u, 3), "measured"), plain("dew point", quantity.Temperature.Format(dew, u, 3), "computed")}, tIn...), rhIn...), Sources: []string{"Allen1998"},
			Notes: []string{"Walls, lids and pipes may be colder than what is measured."}}})
	}
	add(KeyLeaf, working.Figure{Name: "leaf less air", Value: leaf - temp, Unit: "°C", Working: working.Working{Formula: "T leaf − T air", Inputs: append(leafIn, tIn...)}})
	if warm, from := s.degreeHours(l, now); len(from) > 0 {
		add(KeyDegreeHours, working.Figure{Name: "degree hours so far", Value: warm, Unit: "°C h", Working: working.Working{Formula: "Σ max(T − base, 0) · Δt", Inputs: append([]working.Input{working.Of("base", s.limits.base, quantity.Temperature, u)}, inputs(from, u)...)}})
	}
	if e, w, ok := s.electricity(l, now); ok {
		add(KeyEnergy, working.Figure{Name: "electricity so far today", Value: e, Unit: "kWh", Working: w})
	}
	return figures, l
}

func inputs(from []*sensor, u quantity.System) []working.Input {
	var out []working.Input
	for _, x := range from {
		in := working.Plain(x.Key, x.m.Text(x.series.newest.Value, u), "measured")
		if c := x.calibration(x.series.newest.At); c != nil {
			in.Note = "calibrated on " + store.Time(c.From).Format(time.DateOnly)
		}
		out = append(out, in)
	}
	return out
}

// calibration is the one that holds at an instant; nil if there is none.
func (s *sensor) calibration(at int64) *store.Calibration {
	var out *store.Calibration
	for i := range s.Calibrations {
		if s.Calibrations[i].From <= at {
			out = &s.Calibrations[i]
		}
	}
	return out
}

// ratioInputs are the light sensors, or lamps, that say how bright it is now.
func (s *state) ratioInputs(now time.Time) []working.Input {
	u := s.bench.Units
	_, light := s.now(measurand.PPFD, now)
	if len(light) == 0 {
		_, lamps := s.now(measurand.Lamp, now)
		return inputs(lamps, u)
	}
	out := inputs(light, u)
	for i, x := range light {
		note := "planned there " + quantity.PhotonFluxDensity.Format(x.planned, u, 3)
		if !x.placed {
			note = "nobody said where it stands: taken for the mean plant"
		}
		out[i].Note = strings.TrimPrefix(out[i].Note+"; "+note, "; ")
	}
	return out
}

// dew is the dew point now, and the coldest surface known, with what it is; NaN if it
// cannot be told.
func (s *state) dew(now time.Time) (dew, coldest float64, what string) {
	temp, _ := s.now(measurand.AirTemperature, now)
	rh, _ := s.now(measurand.Humidity, now)
	if !(rh > 0) || math.IsNaN(temp) {
		return math.NaN(), math.NaN(), ""
	}
	coldest, what = temp, "the air"
	for _, x := range s.of(measurand.LeafTemperature) {
		if x.usable(now) && x.series.newest.Value < coldest {
			coldest, what = x.series.newest.Value, "the leaf ("+x.Key+")"
		}
	}
	return float64(moistair.DewPoint(moistair.VapourPressure(quantity.Celsius(temp), quantity.Fraction(min(rh, 1))))), coldest, what
}

// degreeHours are those of the day so far, mean over the air sensors.
func (s *state) degreeHours(l *lightDay, now time.Time) (sum float64, from []*sensor) {
	for _, x := range s.of(measurand.AirTemperature) {
		if z := x.series.between(store.At(l.from), store.At(l.to), store.At(now)); z.n > 0 {
			sum += z.over[weighWarm] / 3600
			from = append(from, x)
		}
	}
	return sum / float64(max(len(from), 1)), from
}

// electricity is that of the day so far in kWh: by a meter, else by power, else by rated
// watts and the time that lamps were on.
func (s *state) electricity(l *lightDay, now time.Time) (kWh float64, w working.Working, ok bool) {
	from, to, at := store.At(l.from), store.At(l.to), store.At(now)
	u := s.bench.Units
	for _, x := range s.of(measurand.Energy) {
		if z := x.series.between(from, to, at); z.n > 0 {
			kWh += z.rise
			w.Inputs = append(w.Inputs, working.Plain("meter "+x.Key, quantity.Energy.Format(z.rise, u, 3), "measured"))
		}
	}
	if len(w.Inputs) > 0 {
		w.Formula = "Σ of what the meters counted since midnight"
		return kWh, w, true
	}
	for _, x := range s.of(measurand.Power) {
		if z := x.series.between(from, to, at); z.n > 0 {
			kWh += z.area / joulesPerKWh
			w.Inputs = append(w.Inputs, working.Plain("power "+x.Key, quantity.Energy.Format(z.area/joulesPerKWh, u, 3), "measured"))
		}
	}
	if len(w.Inputs) > 0 {
		w.Formula = "Σ P · Δt"
		return kWh, w, true
	}
	if !l.known || s.plan.draw == 0 {
		return 0, w, false
	}
	w.Formula = "rated watts at the dimming · hours of light so far"
	w.Inputs = append([]working.Input{working.Plain("lamps at their dimming", quantity.Power.Format(s.plan.draw, u, 3), s.drawOrigin())}, l.inputs...)
	w.Notes = []string{"No meter: rated watts of the lamps alone, without fans, pumps and heating."}
	if lamps := s.of(measurand.Lamp); len(lamps) > 0 {
		n := 0.0
		for _, x := range lamps {
			if z := x.series.between(from, to, at); z.n > 0 {
				kWh += z.over[weighDraw] / joulesPerKWh
				n++
			}
		}
		if n > 0 {
			return kWh / n, w, true
		}
	}
	return float64(quantity.EnergyOf(quantity.Watt(s.plan.draw), quantity.Hours(l.hours))), w, true
}

func (s *state) drawOrigin() string {
	origin := ""
	for _, l := range s.bench.Lamps {
		if o := l.Power.Origin.String(); !strings.Contains(origin, o) {
			origin = strings.TrimPrefix(origin+", "+o, ", ")
		}
	}
	return origin
}

func (s *state) today(l *lightDay, figures []Derived) Today {
	out := Today{Date: l.from.Format(time.DateOnly), From: l.from, To: l.to, Gaps: l.gaps, Rows: []Row{}}
	if l.known && l.by != "the clock" {
		c := min(l.covered, 1)
		out.Cover = &c
	}
	row := func(key, name, unit string, soFar float64, end, plan *float64, near float64) {
		r := Row{Key: key, Name: name, Unit: unit, SoFar: soFar, End: end, Plan: plan}
		if end != nil && plan != nil {
			r.State = "as planned"
			if *end > *plan*(1+near) {
				r.State = "above"
			} else if *end < *plan*(1-near) {
				r.State = "below"
			}
		}
		out.Rows = append(out.Rows, r)
	}
	if l.known {
		end, plan := l.end(s.plan), float64(quantity.DailyLight(quantity.PPFD(s.plan.mean), quantity.Hours(s.plan.day)))
		row(KeyDLI, "mean DLI", quantity.DailyIntegral.Unit(), l.soFar, &end, &plan, 0.1)
		hours, day := l.hours+l.rest, s.plan.day
		row(KeyHours, "hours of light", quantity.Duration.Unit(), l.hours, &hours, &day, 0.05)
	}
	for _, f := range figures {
		switch f.Key {
		case KeyEnergy:
			var end, plan *float64
			if s.plan.energy > 0 {
				plan = &s.plan.energy
			}
			if l.known {
				perHour := s.plan.draw / 1000
				if l.hours >= 1 && f.Value > 0 {
					perHour = f.Value / l.hours
				}
				e := f.Value + perHour*l.rest
				end = &e
			}
			row(KeyEnergy, "electricity", "kWh", f.Value, end, plan, 0.1)
		case KeyDegreeHours:
			row(KeyDegreeHours, "degree hours", "°C h", f.Value, nil, nil, 0)
		}
	}
	return out
}

func (s *state) plants(l *lightDay) []PlantNow {
	out := []PlantNow{}
	if !l.known || s.plan.mean == 0 {
		return out
	}
	end := l.end(s.plan)
	for _, x := range s.plan.answer.Plants {
		share := float64(x.PPFD) / s.plan.mean
		now := 0.0
		if !math.IsNaN(l.ratio) {
			now = l.ratio * float64(x.PPFD)
		}
		out = append(out, PlantNow{x.Name, float64(x.X), float64(x.Y), now, share * l.soFar, share * end})
	}
	return out
}

// view is a sensor as it is shown.
func (s *state) view(x *sensor, now time.Time) SensorView {
	v := SensorView{Key: x.Key, Quantity: x.m.Quantity, Unit: x.m.Kind.Unit(), Note: x.Note, Spark: []Point{}, Checks: []Check{}}
	scale := 1.0
	if x.m.Kind.Unit() == "" {
		v.Unit, scale = "%", 100
	}
	if p := x.m.Kind.Printed(x.Unit); x.fault == nil && (p != x.m.Kind.Unit() || x.m.Quantity == measurand.PPFD && scale != 1) {
		v.Sent = x.Unit
	}
	if x.fault == nil {
		if n := x.series.newest; n.At != 0 {
			value, at := scale*n.Value, store.Time(n.At)
			v.Last, v.At, v.Text, v.Age = &value, &at, x.m.Text(n.Value, s.bench.Units), ageText(now.Sub(at))
		}
		for i := range x.series.slots {
			if z := &x.series.slots[i]; z.at > store.At(now)-store.Day-slotWidth {
				v.Spark = append(v.Spark, Point{store.Time(z.at), scale * z.mean(), scale * z.min, scale * z.max})
			}
		}
	} else {
		v.Unit = x.Unit
	}
	v.Checks = append(v.Checks, s.checks(x, now)...)
	return v
}

// board is all that is known at an instant, but for the messages.
func (s *state) board(now time.Time) *Board {
	figures, l := s.derive(now)
	b := &Board{Bench: s.bench.Name, At: now.UTC(), Zone: s.zone.String(), Lit: l.lit, Figures: figures, Today: s.today(l, figures), Plants: s.plants(l), Limits: s.limits.shown(s.bench.Units), Notes: append([]string{}, s.faults...), Sensors: []SensorView{}, Messages: []store.Message{}}
	if b.Figures == nil {
		b.Figures = []Derived{}
	}
	for _, x := range s.sensors {
		b.Sensors = append(b.Sensors, s.view(x, now))
	}
	if len(s.sensors) == 0 {
		b.Notes = append(b.Notes, fmt.Sprintf("No sensor is registered for this bench: underlamp sensor set KEY --bench %q --reads temperature does it.", s.bench.Name))
	}
	if !l.known {
		b.Notes = append(b.Notes, "Nothing tells the light of today: register a light sensor, or say when the lamps burn (lights: 06:00-22:00 in the watch file).")
	}
	return b
}
