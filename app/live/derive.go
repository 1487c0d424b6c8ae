package live

import (
	"fmt"
	"math"
	"strings"
	"time"

	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

const joulesPerKWh = 3.6e6

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
		if l.lit == nil || *l.lit { // of lamps that are off it says nothing
			add(KeyRatio, working.Figure{Name: "light over that of the bench file", Value: 100 * l.ratio, Unit: "%", Working: working.Working{Formula: how, Inputs: ratioInputs,
				Notes: []string{"The map of the lamps is taken as right in its form; the sensor sets its level."}}})
		}
		add(KeyPPFD, working.Figure{Name: "mean PPFD at the plants now", Value: l.ratio * s.plan.mean, Unit: quantity.PhotonFluxDensity.Unit(), Working: working.Working{
			Formula: "E = ratio · E of the bench file", Inputs: append([]working.Input{plain("ratio", quantity.Number(l.ratio, 3), "computed from "+l.origin+" light"), mapInput}, ratioInputs...), Sources: []string{"ASABE2017"}}})
	}
	if l.known {
		cover := plain("read of the day so far", working.Percent(min(l.covered, 1)), "computed")
		in := append([]working.Input{mapInput}, l.inputs...)
		if l.by != "the clock" {
			in = append(in, cover)
		}
		var changed []string
		for _, p := range l.parts[1:] {
			changed = append(changed, fmt.Sprintf("The bench was changed at %s. Before, the mean light at the plants was %s: each part of the day is computed with what held in it.",
				store.Time(p.from).In(s.zone).Format("15:04"), quantity.PhotonFluxDensity.Format(l.before(p.piece).mean, u, 3)))
		}
		add(KeyDLI, working.Figure{Name: "mean DLI at the plants so far", Value: l.soFar, Unit: quantity.DailyIntegral.Unit(), Working: working.Working{
			Formula: "DLI = Σ PPFD · Δt at the sensor · (mean at the plants / at the sensor) of the map", Inputs: in, Sources: []string{"ASABE2017"}, Notes: changed,
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
	for _, p := range l.parts {
		kWh += float64(quantity.EnergyOf(quantity.Watt(p.plan.draw), quantity.Hours(p.hours)))
	}
	return kWh, w, true
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
