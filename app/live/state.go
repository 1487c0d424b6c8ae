package live

import (
	"math"
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/packed"
)

// A sensor is one of a bench with what is held of its readings.
type sensor struct {
	store.Sensor
	m      measurand.Measurand
	to     quantity.Conversion
	fault  *Check // it cannot be read: its unit is none of its quantity
	series *series

	planned float64 // light of the plan at its place; of a light sensor
	placed  bool
	drift   *Check    // found when it was last looked for
	looked  time.Time // for drift
}

// value is what a reading means, in the unit of the kind.
func (s *sensor) value(at int64, read float64) float64 { return s.to.Base(s.True(at, read)) }

// threshold is the PPFD from which lamps are on.
func (s *sensor) threshold() float64 { return max(onShare*s.planned, leastPPFD) }

// What the weights of a sensor hold.
const (
	weighLit   = 0 // lamps are on: of light, lamp and power
	weighShare = 1 // light of a lamp as a share of that at the dimming of the bench; of light itself, never below 0
	weighDraw  = 2 // W that the lamps draw
	weighWarm  = 0 // °C over the base: of temperatures
)

// weigh is what a value counts for, by the time of its slot. It depends on the bench as it was
// then alone, so that the sums of a day do not depend on when they were made.
func (s *sensor) weigh(st *state, base float64) func(at int64, v float64) weights {
	now := s.weighBy(st.plan, base)
	if now == nil || len(st.eras) == 0 {
		return func(_ int64, v float64) weights {
			if now == nil {
				return weights{}
			}
			return now(v)
		}
	}
	var then []func(float64) weights
	for _, e := range st.eras {
		then = append(then, s.weighBy(e.plan, base))
	}
	return func(at int64, v float64) weights {
		for i, e := range st.eras {
			if at < e.until {
				return then[i](v)
			}
		}
		return now(v)
	}
}

// weighBy is what a value counts for under one plan.
func (s *sensor) weighBy(p *plan, base float64) func(float64) weights {
	switch s.m.Quantity {
	case measurand.PPFD:
		planned, _ := p.at(&s.Sensor)
		on := max(onShare*planned, leastPPFD)
		return func(v float64) weights {
			w := weights{weighShare: max(v, 0)}
			if v > on {
				w[weighLit], w[weighDraw] = 1, p.draw
			}
			return w
		}
	case measurand.Lamp:
		full := float64(p.bench.LightAt(p.bench.Setting().Dimming))
		return func(v float64) weights {
			if v <= 0 {
				return weights{}
			}
			d := quantity.Fraction(min(v, 1))
			w := weights{weighLit: 1, weighDraw: float64(p.bench.DrawAt(d))}
			if full > 0 {
				w[weighShare] = float64(p.bench.LightAt(d)) / full
			}
			return w
		}
	case measurand.AirTemperature:
		return func(v float64) weights { return weights{weighWarm: max(v-base, 0)} }
	}
	return nil
}

// on says whether a value of a light or lamp sensor means that lamps burn.
func (s *sensor) on(v float64) bool {
	if s.m.Quantity == measurand.Lamp {
		return v > 0
	}
	return v > s.threshold()
}

// usable says that the values of the sensor may count at an instant: its unit is known,
// and the newest is no older than a gap.
func (s *sensor) usable(now time.Time) bool {
	if s.fault != nil || s.series.newest.At == 0 {
		return false
	}
	v := s.series.newest.Value
	if v < s.m.Low || v > s.m.High {
		return false
	}
	return now.Sub(store.Time(s.series.newest.At)) <= s.stale()
}

// stale is the age from which a value says nothing of now.
func (s *sensor) stale() time.Duration {
	return max(s.series.standing().Gap, 15*time.Minute)
}

// A state is all that is held of a bench.
type state struct {
	key     string
	bench   *underlamp.Bench
	plan    *plan
	eras    []era // as it was lately, in order
	zone    *time.Location
	limits  limits
	sensors []*sensor
	faults  []string // of the watch file, in a sentence each
}

// An era is a plan that held until an instant.
type era struct {
	until int64
	plan  *plan
}

// A piece is a part of a stretch of time with the plan that held in it. Pieces begin at whole
// slots.
type piece struct {
	from, to int64
	plan     *plan
}

// pieces parts a stretch of time by the plans that held in it.
func (s *state) pieces(from, to int64) []piece {
	var out []piece
	for _, e := range s.eras {
		until := slotOf(e.until + slotWidth - 1) // a slot belongs to the plan at its begin
		if until <= from {
			continue
		}
		if until >= to {
			break
		}
		out = append(out, piece{from, until, e.plan})
		from = until
	}
	last := s.plan
	for _, e := range s.eras {
		if from < e.until {
			last = e.plan
			break
		}
	}
	return append(out, piece{from, to, last})
}

// newState prepares a bench, without sensors.
func newState(key string, p *plan, eras []era, w *underlamp.Watch, zone *time.Location) *state {
	s := &state{key: key, bench: p.bench, plan: p, eras: eras, zone: zone, limits: newLimits(p, w)}
	if w != nil && w.Zone != "" {
		if z, err := time.LoadLocation(w.Zone); err == nil {
			s.zone = z
		}
	}
	return s
}

func newSensor(x store.Sensor, st *state, base quantity.Celsius) *sensor {
	out, p := &sensor{Sensor: x}, st.plan
	var known bool
	if out.m, known = measurand.Named(x.Quantity); !known {
		out.fault = &Check{Kind: CheckUnit, Text: "Nobody said what it reads.", Mend: "Say it: underlamp sensor set " + x.Key + " --reads, with one of " + measurand.Names() + "."}
	} else if to, err := out.m.Conversion(x.Unit, p.perLux); err != nil {
		out.fault = &Check{Kind: CheckUnit, Text: "Its unit cannot be read: " + err.Error() + ".", Mend: "Correct it: underlamp sensor set " + x.Key + " --sends."}
		if bad, ok := err.(*measurand.UnitError); ok && bad.Lux {
			out.fault.Text = "It reads lux, and " + p.lux + ": " + err.Error() + "."
		}
	} else {
		out.to = to
	}
	if out.m.Quantity == measurand.PPFD {
		out.planned, out.placed = p.at(&x)
	}
	out.series = newSeries(x.Every, out.weigh(st, float64(base)))
	return out
}

// take puts a reading into its series; false if its slot must be read from the store.
func (s *sensor) take(at int64, read float64) bool {
	v := s.value(at, read)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return true
	}
	return s.series.add(packed.Sample{At: at, Value: v})
}

// fill takes readings of the store, in order.
func (s *sensor) fill(in []packed.Sample) { s.series.fill(s.trueValues(in)) }

func (s *sensor) trueValues(in []packed.Sample) []packed.Sample {
	out := make([]packed.Sample, len(in))
	for i, r := range in {
		out[i] = packed.Sample{At: r.At, Value: s.value(r.At, r.Value)}
	}
	return out
}

// of are the sensors of a quantity that can be read at all.
func (s *state) of(q measurand.Quantity) []*sensor {
	var out []*sensor
	for _, x := range s.sensors {
		if x.m.Quantity == q && x.fault == nil {
			out = append(out, x)
		}
	}
	return out
}

// now is the mean of the newest values of a quantity, and the sensors that gave it.
func (s *state) now(q measurand.Quantity, at time.Time) (mean float64, from []*sensor) {
	for _, x := range s.of(q) {
		if x.usable(at) {
			from = append(from, x)
		}
	}
	if len(from) == 0 {
		return math.NaN(), nil
	}
	for _, x := range from {
		mean += x.series.newest.Value / float64(len(from))
	}
	return mean, from
}
