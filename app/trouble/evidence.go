package trouble

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/app/round"
	"underlamp/science/diagnosis"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/working"
)

// A Record is what is known of one finding by the records of a bench.
type Record struct {
	Finding string    `json:"finding" doc:"key of the finding"`
	Name    string    `json:"name" doc:"of the finding, in words"`
	Text    string    `json:"text" doc:"what is known, with its unit"` // "0.42 kPa"
	From    string    `json:"from" doc:"where it is known from"`       // "sensors, mean of 3 days", "bench file, stated"
	State   string    `json:"state" doc:"key of the state that it speaks for most"`
	Trust   float64   `json:"trust" doc:"0 to 1; 0 is a default, which is no evidence"` // 0: a default, which is no evidence
	Weights []float64 `json:"weights" doc:"how far it belongs to each state, in the order of the table"`
}

// Default says that nobody gave the value.
func (r *Record) Default() bool { return r.Trust == 0 }

// A Weighing is the fresh mass of a shoot on a day after transplanting.
type Weighing struct {
	Day  int
	Gram float64
}

// Weighings are those of a record of rounds in the last days.
func Weighings(rec *round.Record, b *underlamp.Bench, now time.Time) []Weighing {
	var out []Weighing
	start, err := time.ParseInLocation(time.DateOnly, b.Crop.Transplanted, rec.Zone())
	if err != nil {
		return nil
	}
	for _, e := range rec.Standing() {
		when := rec.When(&e)
		if e.What == underlamp.ResponseMass && e.Missing == "" && e.Value > 0 && now.Sub(when) < recent*24*time.Hour && !when.After(now) {
			out = append(out, Weighing{int(when.Sub(start).Hours() / 24), e.Value})
		}
	}
	return out
}

// recent is how many days back weighings still tell how the crop grows.
const recent = 10

// A Bench is what is asked about, with what its records can be made of.
type Bench struct {
	*underlamp.Bench
	Light    *light.Model
	Outlook  *outlook.Outlook  // nil: the species has none
	Forecast *outlook.Forecast // of the bench as it is, for the weighings; may be nil
	Sensed   []Sensed
	Weighed  []Weighing
	Now      time.Time // with the zone of the bench
}

// Records are what the records of a bench say of the findings of a table.
func (b *Bench) Records(t *diagnosis.Table) []Record {
	g := gather{t: t, b: b}
	a, f := &b.Air, &b.Feed
	g.dli()
	g.climate("vpd-day", a.Day)
	g.climate("vpd-night", a.Night)
	put(&g, "night-humidity", percent(a.Night.Humidity), 100*0.05)
	put(&g, "air-speed", float(a.Speed), 0.3*float64(a.Speed.Value))
	g.fan()
	put(&g, "ec", float(f.EC), 0.05*float64(f.EC.Value))
	if f.Calcium.Value > 0 {
		put(&g, "potassium-calcium", underlamp.Given[float64]{Value: float64(f.Potassium.Value / f.Calcium.Value), Origin: weaker(f.Potassium.Origin, f.Calcium.Origin)}, 0.1*float64(f.Potassium.Value/f.Calcium.Value))
	}
	put(&g, "calcium", float(f.Calcium), 0.1*float64(f.Calcium.Value))
	put(&g, "ammonium-n", float(f.Ammonium), 0.2*float64(f.Ammonium.Value))
	put(&g, "root-temperature", float(f.RootTemp), 0.5)
	put(&g, "air-temperature", float(a.Day.Temperature), 0.5)
	g.hours()
	g.colour()
	g.days()
	g.growth()
	g.tendency()
	for _, x := range b.Sensed {
		g.sensed(x)
	}
	slices.SortStableFunc(g.out, func(x, y Record) int { return cmp.Compare(g.order(x.Finding), g.order(y.Finding)) })
	return g.out
}

func float[T ~float64](v underlamp.Given[T]) underlamp.Given[float64] {
	return underlamp.Given[float64]{Value: float64(v.Value), Origin: v.Origin, Note: v.Note}
}

func percent(v underlamp.Given[quantity.Fraction]) underlamp.Given[float64] {
	return underlamp.Given[float64]{Value: 100 * float64(v.Value), Origin: v.Origin, Note: v.Note}
}

// weaker is the weaker of two origins: what is worked out of a default is one.
func weaker(a, b underlamp.Origin) underlamp.Origin { return min(a, b) }

// trust is how far a value of an origin is trusted.
func trust(o underlamp.Origin) float64 {
	switch o {
	case underlamp.Default:
		return 0
	case underlamp.Label:
		return diagnosis.TrustLabel
	case underlamp.Stated, underlamp.Computed:
		return diagnosis.TrustStated
	}
	return diagnosis.TrustMeasured
}

type gather struct {
	t   *diagnosis.Table
	b   *Bench
	out []Record
}

func (g *gather) order(key string) int {
	return slices.IndexFunc(g.t.Findings, func(f diagnosis.Finding) bool { return f.Key == key })
}

// add enters a record in place of one of the same finding.
func (g *gather) add(r Record) {
	if i := slices.IndexFunc(g.out, func(x Record) bool { return x.Finding == r.Finding }); i >= 0 {
		g.out[i] = r
		return
	}
	g.out = append(g.out, r)
}

// put enters a number; a finding that the table does not have, or without bounds, is left out.
func put(g *gather, key string, v underlamp.Given[float64], sd float64) {
	from := "bench file, " + v.Origin.String()
	if v.IsDefault() {
		from = "default, nobody gave it"
	}
	g.number(key, v.Value, sd, from, trust(v.Origin))
}

func (g *gather) number(key string, v, sd float64, from string, t float64) {
	f := g.t.Finding(key)
	if f == nil || len(f.Bounds) == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	w := f.Of(v, sd)
	text := quantity.Number(v, 3)
	switch f.Unit {
	case "":
	case "%":
		text += " %"
	case "°C":
		text = quantity.Temperature.Format(v, g.b.Units, 3)
	case "m/s":
		text = quantity.AirSpeed.Format(v, g.b.Units, 2)
	default:
		text += " " + f.Unit
	}
	g.add(Record{Finding: key, Name: f.Name, Text: text, From: from, State: f.States[largest(w)].Name, Trust: t, Weights: w})
}

// state enters one of the states of a finding.
func (g *gather) state(key, state, text, from string, t float64) {
	f := g.t.Finding(key)
	if f == nil || f.State(state) < 0 {
		return
	}
	w := make([]float64, len(f.States))
	w[f.State(state)] = 1
	g.add(Record{Finding: key, Name: f.Name, Text: text, From: from, State: f.States[f.State(state)].Name, Trust: t, Weights: w})
}

func largest(w []float64) int {
	best := 0
	for i := range w {
		if w[i] > w[best] {
			best = i
		}
	}
	return best
}

func (g *gather) dli() {
	if g.b.Light == nil || len(g.b.Plants) == 0 {
		return
	}
	a, err := g.b.Light.Answer(nil, 0)
	if err != nil {
		return
	}
	origin := underlamp.Label
	if len(g.b.Readings) > 0 {
		origin = underlamp.Fitted
	}
	for _, l := range g.b.Lamps {
		if len(g.b.Readings) == 0 {
			origin = weaker(origin, l.Flux.Origin)
		}
		origin = weaker(origin, l.Hours.Origin)
	}
	v := a.DLI.Value
	put(g, "dli", underlamp.Given[float64]{Value: v, Origin: origin}, v*g.b.Light.LevelSD())
}

func (g *gather) climate(key string, c underlamp.Climate) {
	v := float64(moistair.VPD(c.Temperature.Value, c.Humidity.Value))
	// Five points of humidity, as cheap hygrometers are off by.
	sd := 0.05 * v / max(1-float64(c.Humidity.Value), 0.05)
	put(g, key, underlamp.Given[float64]{Value: v, Origin: weaker(c.Temperature.Origin, c.Humidity.Origin)}, sd)
}

func (g *gather) fan() {
	a := g.b.Air.Fan
	from := "bench file, " + a.Origin.String()
	if a.IsDefault() {
		from = "default, nobody gave it"
	}
	g.state("fan", string(a.Value), string(a.Value), from, trust(a.Origin))
}

func (g *gather) hours() {
	if len(g.b.Lamps) == 0 {
		return
	}
	origin := underlamp.Computed
	for _, l := range g.b.Lamps {
		origin = weaker(origin, l.Hours.Origin)
	}
	put(g, "hours", underlamp.Given[float64]{Value: float64(g.b.Setting().Hours), Origin: origin}, 0.2)
}

// colour takes blue and far-red of all lamps together, by their photons; nothing if one has
// no spectrum.
func (g *gather) colour() {
	var blue, red, far, par float64
	for _, l := range g.b.Lamps {
		if l.Colour == nil {
			return
		}
		s := l.Colour.Spectrum
		w := float64(l.Flux.Value) * float64(l.Light(l.Dimming.Value)) / s.In(spectrum.PAR)
		par += w * s.In(spectrum.PAR)
		blue += w * s.Photons(400, 500)
		red += w * s.Photons(600, 700)
		far += w * s.Photons(700, 800)
	}
	if par == 0 {
		return
	}
	put(g, "blue", underlamp.Given[float64]{Value: 100 * blue / par, Origin: underlamp.Stated}, 1)
	if far > 0 {
		put(g, "far-red", underlamp.Given[float64]{Value: min(red/far, 1000), Origin: underlamp.Stated}, 0.05*red/far)
	}
}

// Day is the day after transplanting; false if that is not known, or not yet.
func (b *Bench) Day() (int, bool) {
	t, err := time.ParseInLocation(time.DateOnly, b.Crop.Transplanted, b.Now.Location())
	if err != nil || b.Now.Before(t) {
		return 0, false
	}
	return int(b.Now.Sub(t).Hours() / 24), true
}

func (g *gather) days() {
	d, ok := g.b.Day()
	if !ok || d > 120 { // a date that nobody put right since
		return
	}
	put(g, "days", underlamp.Given[float64]{Value: float64(d), Origin: underlamp.Stated}, 0.5)
}

// growth sets the weighings of the last days beside the band of the outlook for their day.
func (g *gather) growth() {
	if g.b.Forecast == nil || len(g.b.Weighed) == 0 {
		return
	}
	var sum float64
	n, low, high := 0, 0.0, 0.0
	for _, w := range g.b.Weighed {
		if w.Day < 1 || w.Day > len(g.b.Forecast.Course) {
			continue
		}
		f := g.b.Forecast.Course[w.Day-1].Fresh
		sum += math.Log(w.Gram / f.Mid)
		low += math.Log(f.Low / f.Mid)
		high += math.Log(f.High / f.Mid)
		n++
	}
	if n == 0 {
		return
	}
	k := float64(n)
	ratio, from := math.Exp(sum/k), fmt.Sprintf("%d weighings of the last %d days", n, recent)
	text := fmt.Sprintf("%s of the outlook (its band %s to %s)", working.Percent(ratio), working.Percent(math.Exp(low/k)), working.Percent(math.Exp(high/k)))
	state := "as-forecast"
	switch {
	case sum < low:
		state = "behind"
	case sum > high:
		state = "ahead"
	}
	g.state("growth", state, text, from, diagnosis.TrustMeasured)
}

func (g *gather) tendency() {
	t := g.b.Crop.Tendency
	from := "bench file, " + t.Origin.String()
	if t.IsDefault() {
		from = "default, nobody gave it"
	}
	g.state("tendency", string(t.Value), string(t.Value), from, trust(t.Origin))
}

func (g *gather) sensed(x Sensed) {
	from := fmt.Sprintf("sensors, mean of the last %d days", x.Days)
	g.number(x.Finding, x.Value, x.SD, from, diagnosis.TrustSensor)
}
