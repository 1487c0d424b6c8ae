package live

import (
	"fmt"
	"math"
	"time"

	"underlamp/science/quantity"
	"underlamp/store"
)

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
		end, planned := l.end(s.plan), s.ofDay(l, (*plan).dli)
		row(KeyDLI, "mean DLI", quantity.DailyIntegral.Unit(), l.soFar, &end, &planned, 0.1)
		hours, day := l.hours+l.rest, s.ofDay(l, (*plan).hours)
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
	for _, x := range s.plan.plants {
		share := float64(x.PPFD) / s.plan.mean
		now := 0.0
		if !math.IsNaN(l.ratio) {
			now = l.ratio * float64(x.PPFD)
		}
		soFar := l.soFarOf(x.Name)
		out = append(out, PlantNow{x.Name, float64(x.X), float64(x.Y), now, soFar, soFar + share*(end-l.soFar)})
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
	if _, own := x.m.Kind.Conversion(x.Unit); x.fault == nil && (!own || x.m.Kind.Printed(x.Unit) != x.m.Kind.Unit()) {
		v.Sent = x.Unit // lux, °F, Wh
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
	b := &Board{Bench: s.key, Name: s.bench.Name, At: now.UTC(), Zone: s.zone.String(), Lit: l.lit, Figures: figures, Today: s.today(l, figures), Plants: s.plants(l), Limits: s.limits.shown(s.bench.Units), Notes: append([]string{}, s.faults...), Sensors: []SensorView{}, Messages: []store.Message{}}
	if b.Figures == nil {
		b.Figures = []Derived{}
	}
	for _, x := range s.sensors {
		b.Sensors = append(b.Sensors, s.view(x, now))
	}
	if len(s.sensors) == 0 {
		b.Notes = append(b.Notes, fmt.Sprintf("No sensor is registered for this bench: underlamp sensor set KEY --bench %s --reads temperature does it.", s.key))
	}
	if !l.known {
		b.Notes = append(b.Notes, "Nothing tells the light of today: register a light sensor, or say when the lamps burn (lights: 06:00-22:00 in the watch file).")
	}
	return b
}
