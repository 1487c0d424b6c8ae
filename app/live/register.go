package live

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
)

// A Change is what a person says of a sensor; nil is left as it is.
type Change struct {
	Reads, Unit, Note *string
	Bench             *Bench // nil: as it is
	NoBench           bool   // it belongs to no bench any more
	X, Y, Height      *quantity.Metre
	Every             *time.Duration
}

// Described is a sensor after a change. An error says what cannot be.
func Described(s store.Sensor, c Change) (store.Sensor, error) {
	if c.Reads != nil {
		m, ok := measurand.Named(*c.Reads)
		if !ok {
			return s, fmt.Errorf("%q is nothing that is read here; a sensor reads %s", *c.Reads, measurand.Names())
		}
		s.Quantity = string(m.Quantity)
	}
	if c.Unit != nil {
		s.Unit = strings.TrimSpace(*c.Unit)
	}
	if m, ok := measurand.Named(s.Quantity); ok && (c.Reads != nil || c.Unit != nil) {
		if s.Unit == "" {
			return s, fmt.Errorf("nobody said in which unit it sends; %s is read in %s", m.Quantity, strings.Join(m.Units(), ", "))
		}
		// Lux are told apart when the lamps are known.
		if _, err := m.Conversion(s.Unit, 1); err != nil {
			return s, err
		}
	}
	switch {
	case c.NoBench:
		s.Bench = ""
	case c.Bench != nil:
		s.Bench = c.Bench.Key
	}
	for _, p := range []struct {
		now  **float64
		new  *quantity.Metre
		what string
		most func(*underlamp.Bench) quantity.Metre
	}{{&s.X, c.X, "from the left", func(b *underlamp.Bench) quantity.Metre { return b.Space.Width }}, {&s.Y, c.Y, "from the front", func(b *underlamp.Bench) quantity.Metre { return b.Space.Depth }}, {&s.Height, c.Height, "above the planting surface", func(b *underlamp.Bench) quantity.Metre { return b.Space.Height }}} {
		if p.new == nil {
			continue
		}
		v := float64(*p.new)
		if v < 0 {
			return s, fmt.Errorf("it cannot stand %s %s", quantity.Length.Format(v, quantity.Metric, 3), p.what)
		}
		if c.Bench != nil && v > float64(p.most(c.Bench.Bench)) {
			return s, fmt.Errorf("it cannot stand %s %s: the bench ends at %s", quantity.Length.Format(v, c.Bench.Units, 3), p.what, quantity.Length.Format(float64(p.most(c.Bench.Bench)), c.Bench.Units, 3))
		}
		*p.now = &v
	}
	if c.Every != nil {
		if *c.Every < 0 || *c.Every > 24*time.Hour {
			return s, errors.New("a sensor sends once a day or more often")
		}
		s.Every = *c.Every
	}
	if c.Note != nil {
		s.Note = *c.Note
	}
	return s, nil
}

// A Pair is what a sensor read where something surer told the true value, both in the
// unit of the sensor.
type Pair struct{ Read, True float64 }

// A Calibrated is a calibration from pairs, with how well it meets them.
type Calibrated struct {
	Calibration store.Calibration
	Worst       float64 // largest difference that it leaves, in the unit of the sensor
	How         string
}

// FromPairs finds the calibration that meets pairs. One pair of light, conductivity or
// power gives the gain, for those read 0 in nothing; one of another quantity the offset.
// More give the line of least squares. An error says which pairs will not do.
func FromPairs(q measurand.Quantity, pairs []Pair) (Calibrated, error) {
	var out Calibrated
	for _, p := range pairs {
		if math.IsNaN(p.Read+p.True) || math.IsInf(p.Read+p.True, 0) {
			return out, errors.New("a pair is two numbers, such as 200 212")
		}
	}
	c := &out.Calibration
	zeroed := q == measurand.PPFD || q == measurand.EC || q == measurand.Power || q == measurand.AirSpeed
	switch n := len(pairs); {
	case n == 0:
		return out, errors.New("there is no pair")
	case n == 1 && zeroed:
		if pairs[0].Read == 0 {
			return out, errors.New("a reading of 0 tells no gain; take one in light")
		}
		c.Gain, out.How = pairs[0].True/pairs[0].Read, "gain from one pair, for it reads 0 in nothing"
	case n == 1:
		c.Gain, c.Offset, out.How = 1, pairs[0].Read-pairs[0].True, "offset from one pair"
	default:
		var mr, mt, rr, rt float64
		for _, p := range pairs {
			mr, mt = mr+p.Read/float64(n), mt+p.True/float64(n)
		}
		for _, p := range pairs {
			rr += (p.Read - mr) * (p.Read - mr)
			rt += (p.Read - mr) * (p.True - mt)
		}
		if rr <= 1e-12*mr*mr || rr == 0 {
			return out, errors.New("the pairs were read at one value; take them at two that differ, or give one alone")
		}
		c.Gain = rt / rr
		c.Offset, out.How = mr-mt/c.Gain, fmt.Sprintf("line of least squares through %d pairs", n)
	}
	if err := sensible(*c); err != nil {
		return out, err
	}
	for _, p := range pairs {
		out.Worst = max(out.Worst, math.Abs(c.Gain*(p.Read-c.Offset)-p.True))
	}
	return out, nil
}

// sensible refuses what is no calibration but another sensor or a slip.
func sensible(c store.Calibration) error {
	if !(c.Gain > 0.2 && c.Gain < 5) || math.IsInf(c.Offset, 0) || math.IsNaN(c.Offset) {
		return fmt.Errorf("a gain of %s is no calibration: look at the pairs and at the unit (underlamp sensor show)", quantity.Number(c.Gain, 3))
	}
	return nil
}

// WithCalibration is a sensor with one calibration more; one of the same instant is
// replaced. A lux sensor under unknown lamps takes its factor as a gain, so that gains far
// from 1 are refused only where factor is false.
func WithCalibration(s store.Sensor, c store.Calibration, factor bool) (store.Sensor, error) {
	if !factor {
		if err := sensible(c); err != nil {
			return s, err
		}
	} else if !(c.Gain > 0) {
		return s, errors.New("a factor is more than 0")
	}
	s.Calibrations = slices.Clone(s.Calibrations)
	s.Calibrations = slices.DeleteFunc(s.Calibrations, func(x store.Calibration) bool { return x.From == c.From })
	s.Calibrations = append(s.Calibrations, c)
	slices.SortFunc(s.Calibrations, func(a, b store.Calibration) int { return compare(a.From, b.From) })
	return s, nil
}
