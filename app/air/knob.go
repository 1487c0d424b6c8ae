package air

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/quantity"
)

// A Knob is something of the air or the room that a person may turn to see what would be.
type Knob struct {
	Name      string // in addresses and on the command line: "night-humidity"
	Label     string
	Kind      quantity.Kind
	Low, High float64 // in the unit of the kind
	Step      float64 // of a slider, in the unit that people are shown in metric
	Reach     float64 // where a slider ends; 0: at High

	get func(*underlamp.Bench) float64
	set func(*underlamp.Bench, float64)
	is  func(*underlamp.Bench) bool // a default
}

// knob makes a Knob of a value of a bench.
func knob[T ~float64](name, label string, k quantity.Kind, low, high, step float64, at func(*underlamp.Bench) *underlamp.Given[T]) Knob {
	return Knob{
		Name: name, Label: label, Kind: k, Low: low, High: high, Step: step,
		get: func(b *underlamp.Bench) float64 { return float64(at(b).Value) },
		set: func(b *underlamp.Bench, v float64) { *at(b) = underlamp.Said(T(v)) },
		is:  func(b *underlamp.Bench) bool { return at(b).IsDefault() },
	}
}

// Knobs lists them in the order that a person is shown them.
func Knobs() []Knob {
	type bench = underlamp.Bench
	reach := func(k Knob, to float64) Knob { k.Reach = to; return k }
	return []Knob{
		knob("day-temperature", "Temperature by day", quantity.Temperature, 5, 40, 0.5, func(b *bench) *underlamp.Given[quantity.Celsius] { return &b.Air.Day.Temperature }),
		knob("day-humidity", "Humidity by day", quantity.Share, 0.2, 0.99, 1, func(b *bench) *underlamp.Given[quantity.Fraction] { return &b.Air.Day.Humidity }),
		knob("night-temperature", "Temperature by night", quantity.Temperature, 2, 35, 0.5, func(b *bench) *underlamp.Given[quantity.Celsius] { return &b.Air.Night.Temperature }),
		knob("night-humidity", "Humidity by night", quantity.Share, 0.2, 0.99, 1, func(b *bench) *underlamp.Given[quantity.Fraction] { return &b.Air.Night.Humidity }),
		reach(knob("speed", "Air speed at plants", quantity.AirSpeed, 0.01, 2, 0.05, func(b *bench) *underlamp.Given[quantity.MetrePerSecond] { return &b.Air.Speed }), 1.5),
		knob("outside-temperature", "Temperature outside", quantity.Temperature, -30, 45, 1, func(b *bench) *underlamp.Given[quantity.Celsius] { return &b.Room.Outside.Temperature }),
		knob("outside-humidity", "Humidity outside", quantity.Share, 0.1, 1, 1, func(b *bench) *underlamp.Given[quantity.Fraction] { return &b.Room.Outside.Humidity }),
		reach(knob("volume", "Volume of the room", quantity.RoomVolume, 0.02, 5000, 0.5, func(b *bench) *underlamp.Given[quantity.CubicMetre] { return &b.Room.Volume }), 60),
		reach(knob("leak", "Leaks, changes of air", quantity.AirChange, 0, 60, 0.1, func(b *bench) *underlamp.Given[quantity.PerHour] { return &b.Room.Leak }), 10),
		reach(knob("co2", "CO2 by day", quantity.GasShare, 150, 5000, 10, func(b *bench) *underlamp.Given[quantity.PPM] { return &b.Air.CO2 }), 1600),
		reach(knob("altitude", "Altitude", quantity.Altitude, -430, 5000, 50, func(b *bench) *underlamp.Given[quantity.Metre] { return &b.Air.Altitude }), 3000),
	}
}

// SlideTo is where the slider of a bench ends, in the unit of the kind: what is usual, and more
// where the bench has more.
func (k Knob) SlideTo(b *underlamp.Bench) float64 {
	if k.Reach == 0 {
		return k.High
	}
	return min(max(k.Reach, 2*k.Of(b)), k.High)
}

// Of is the value that a bench has, in the unit of the kind.
func (k Knob) Of(b *underlamp.Bench) float64 { return k.get(b) }

// IsDefault says that nobody gave the value.
func (k Knob) IsDefault(b *underlamp.Bench) bool { return k.is(b) }

// Turn returns a copy of the bench with the knob at a value; the error says its span.
func (k Knob) Turn(b *underlamp.Bench, v float64) (*underlamp.Bench, error) {
	if !(v >= k.Low-1e-9 && v <= k.High+1e-9) {
		return nil, fmt.Errorf("%s must be from %s to %s", k.Label, k.Kind.Format(k.Low, b.Units, 3), k.Kind.Format(k.High, b.Units, 3))
	}
	if math.Abs(v-k.get(b)) < 1e-9 {
		return b, nil
	}
	c := *b
	k.set(&c, v)
	return &c, nil
}

// Shown is a value in the unit that a control shows, with that unit.
func (k Knob) Shown(v float64, u quantity.System) (float64, string) { return shown(k.Kind, v, u) }

// Kept is the inverse of [Knob.Shown].
func (k Knob) Kept(v float64, u quantity.System) float64 {
	if k.Kind.Unit() == "" {
		return v / 100
	}
	unit, per := k.Kind.Shown(u)
	if c, ok := k.Kind.Conversion(unit); ok {
		return c.Base(v)
	}
	return v / per
}

// Aimed is a bench with its fan blowing elsewhere. A speed that nobody gave becomes the usual one
// of that.
func Aimed(b *underlamp.Bench, aim underlamp.FanAim) *underlamp.Bench {
	c := *b
	c.Air.Fan = underlamp.Said(aim)
	if c.Air.Speed.IsDefault() {
		c.Air.Speed = underlamp.UsualSpeed(aim)
	}
	return &c
}
