package underlamp

import (
	"math"
	"strconv"
	"time"

	"underlamp/science/quantity"
)

// An Acting is what the program may do to the lamps of a bench by itself.
type Acting struct {
	Bench string         // whose plan is followed
	Zone  *time.Location // of the clock times
	Live  bool           // lamps are turned; else it is only said what would be done
	Lamps []Actuator
}

// An Actuator is a lamp that listens, and how far it may be turned.
type Actuator struct {
	Lamp     string // as the bench calls it
	Topic    string
	Payload  Payload
	On       time.Duration // when its light begins, from midnight by the clock on the wall
	Low      quantity.Fraction
	High     quantity.Fraction // dimming while it is lit, at least and at most
	MaxHours quantity.Hours    // of light on a day of the calendar
	Change   quantity.Fraction // of dimming in a minute, at most; 0: no limit
	Safe     quantity.Fraction // dimming when the program dies or ends; 0 is off
	Wait     time.Duration     // before that, when it dies: it may come back
}

// A Payload is how a dimming is written for a lamp.
type Payload int

// The payloads.
const (
	Percent Payload = iota // "0" to "100"
	Unit                   // "0" to "1"
	Byte                   // "0" to "255"
	Switch                 // "ON", "OFF"
)

// String is the payload as a file has it.
func (p Payload) String() string {
	return [...]string{"0 to 100", "0 to 1", "0 to 255", "on/off"}[p]
}

// Text is what is sent for a dimming from 0 to 1. What is lit is never written as off.
func (p Payload) Text(dimming quantity.Fraction) string {
	d := math.Min(math.Max(float64(dimming), 0), 1)
	whole := func(full float64) string {
		n := math.Round(d * full)
		if d > 0 {
			n = max(n, 1)
		}
		return strconv.Itoa(int(n))
	}
	switch p {
	case Unit:
		n := math.Round(d * 1000)
		if d > 0 {
			n = max(n, 1)
		}
		return strconv.FormatFloat(n/1000, 'f', -1, 64)
	case Byte:
		return whole(255)
	case Switch:
		if d > 0 {
			return "ON"
		}
		return "OFF"
	}
	return whole(100)
}

// An Override is what a person wants of a lamp, whatever the plan says.
type Override struct {
	Lamp    string
	Dimming quantity.Fraction // 0 is off
	Until   time.Time         // zero: until it is taken back
}
