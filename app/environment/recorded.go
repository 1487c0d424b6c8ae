package environment

import (
	"context"
	"errors"
	"math"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/store"
)

// A Source is what of a store is read here; a [store.Store] is one.
type Source interface {
	store.Sensors
	Buckets(ctx context.Context, sensor, from, to, width int64) ([]store.Bucket, error)
}

// A Stat sums up hours.
type Stat struct {
	Hours     int
	Mean, SD  float64 // of the hourly means
	Low, High float64 // the lowest and the highest of them
}

func statOf(v []float64) Stat {
	s := Stat{Hours: len(v), Low: math.Inf(1), High: math.Inf(-1)}
	for _, x := range v {
		s.Mean += x / float64(len(v))
		s.Low, s.High = min(s.Low, x), max(s.High, x)
	}
	if len(v) > 1 {
		for _, x := range v {
			s.SD += (x - s.Mean) * (x - s.Mean) / float64(len(v)-1)
		}
		s.SD = math.Sqrt(s.SD)
	}
	return s
}

// A Series is what a sensor of a bench read over a crop, in the unit of the kind of its quantity.
type Series struct {
	Sensor   string // its key
	Quantity measurand.Quantity
	Make     string // the note of the register
	Checked  string // day of the newest calibration in time for the crop, YYYY-MM-DD; empty: none
	Checker  string // who calibrated it
	X, Y     *float64
	Height   *float64 // above the planting surface, m
	Every    time.Duration

	All, Day, Night Stat   // over all hours, those with and those without light
	Wrong           string // why its readings cannot be used; then there are no hours
}

// A Log is what sensors of a bench read over a crop.
type Log struct {
	From, To time.Time
	Series   []Series
	VPDDay   Stat // kPa, of hours in which air and humidity were read
	VPDNight Stat
	DayBy    string // what told hours with light from those without; empty: nothing
	Split    int    // hours in which the lamps went on or off, which count for neither
}

// Of is the series of a quantity with most hours; nil if there is none.
func (l *Log) Of(q measurand.Quantity) *Series {
	if l == nil {
		return nil
	}
	var best *Series
	for i := range l.Series {
		if s := &l.Series[i]; s.Quantity == q && s.Wrong == "" && s.All.Hours > 0 && (best == nil || s.All.Hours > best.All.Hours) {
			best = s
		}
	}
	return best
}

// Above these a lamp is on: light as in package logged, µmol m⁻² s⁻¹, and share of full power.
const (
	litPPFD = 5
	litLamp = 0.01
)

// Recorded reads what sensors of a bench read from a time to another. Hours are told apart by a
// sensor of light, else one of the lamps, else by the clock of lights, which may be nil. It is nil
// where no sensor stands on the bench.
func Recorded(ctx context.Context, src Source, key string, b *underlamp.Bench, from, to time.Time, lights *underlamp.Window, zone *time.Location) (*Log, error) {
	all, err := src.Sensors(ctx)
	if err != nil {
		return nil, err
	}
	l := &Log{From: from, To: to}
	begin, end := store.At(from), store.At(to)
	begin -= begin % store.Hour
	var hours []map[int64]hour // of each series
	for _, x := range all {
		if x.Bench != key {
			continue
		}
		s := seriesOf(&x, end, zone)
		means, err := hoursOf(ctx, src, &x, &s, b, begin, end)
		if err != nil {
			return nil, err
		}
		l.Series, hours = append(l.Series, s), append(hours, means)
	}
	if len(l.Series) == 0 {
		return nil, nil
	}
	lit := l.teller(hours, lights, zone)
	split := map[int64]bool{}
	each := func(take func(at int64, on bool)) {
		for at := begin; lit != nil && at < end; at += store.Hour {
			on, sure := lit(at)
			if !sure {
				split[at] = true
				continue
			}
			take(at, on)
		}
	}
	for i := range l.Series {
		var whole []float64
		for at := begin; at < end; at += store.Hour {
			if h, ok := hours[i][at]; ok {
				whole = append(whole, h.mean)
			}
		}
		var half [2][]float64 // lamps on, lamps off
		each(func(at int64, on bool) {
			if h, ok := hours[i][at]; ok {
				half[which(on)] = append(half[which(on)], h.mean)
			}
		})
		s := &l.Series[i]
		s.All, s.Day, s.Night = statOf(whole), statOf(half[0]), statOf(half[1])
	}
	air, wet := l.index(measurand.AirTemperature), l.index(measurand.Humidity)
	if air >= 0 && wet >= 0 {
		var half [2][]float64
		each(func(at int64, on bool) {
			t, ok := hours[air][at]
			rh, also := hours[wet][at]
			if ok && also {
				half[which(on)] = append(half[which(on)], float64(moistair.VPD(quantity.Celsius(t.mean), quantity.Fraction(min(rh.mean, 1)))))
			}
		})
		l.VPDDay, l.VPDNight = statOf(half[0]), statOf(half[1])
	}
	for at := range split { // hours without any reading are not counted
		read := false
		for i := range hours {
			_, ok := hours[i][at]
			read = read || ok
		}
		if read {
			l.Split++
		}
	}
	return l, nil
}

func which(on bool) int {
	if on {
		return 0
	}
	return 1
}

// index is the place of the series of a quantity with most hours; −1 if there is none.
func (l *Log) index(q measurand.Quantity) int {
	best := l.Of(q)
	for i := range l.Series {
		if &l.Series[i] == best {
			return i
		}
	}
	return -1
}

// seriesOf is what the register says of a sensor.
func seriesOf(x *store.Sensor, until int64, zone *time.Location) Series {
	s := Series{Sensor: x.Key, Make: x.Note, X: x.X, Y: x.Y, Height: x.Height, Every: x.Every}
	for _, c := range x.Calibrations {
		if c.From <= until {
			s.Checked, s.Checker = store.Time(c.From).In(zone).Format(time.DateOnly), c.By
		}
	}
	m, known := measurand.Named(x.Quantity)
	s.Quantity = m.Quantity
	if !known {
		s.Wrong = "nobody said what it reads"
	}
	return s
}

// An hour is the true value of an hour in the unit of its kind.
type hour struct{ mean, low, high float64 }

// hoursOf are the hours of a sensor. A counter has none: its hours tell nothing of a mean.
func hoursOf(ctx context.Context, src Source, x *store.Sensor, s *Series, b *underlamp.Bench, begin, end int64) (map[int64]hour, error) {
	m, known := measurand.Of(s.Quantity)
	if !known || m.Counter {
		return nil, nil
	}
	perLux, lux := live.PerLux(b)
	to, err := m.Conversion(x.Unit, perLux)
	if err != nil {
		s.Wrong = err.Error()
		var unit *measurand.UnitError
		if errors.As(err, &unit) && unit.Lux {
			s.Wrong = "it reads lux, and " + lux
		}
		return nil, nil
	}
	buckets, err := src.Buckets(ctx, x.ID, begin, end, store.Hour)
	if err != nil {
		return nil, err
	}
	out := make(map[int64]hour, len(buckets))
	for _, u := range buckets {
		// What makes a true value of a read one is a line, so that a mean may go through it.
		v := func(read float64) float64 { return to.Base(x.True(u.From, read)) }
		if h := (hour{v(u.Mean()), v(u.Min), v(u.Max)}); h.mean >= m.Low && h.mean <= m.High {
			out[u.From] = h
		}
	}
	return out, nil
}

// teller tells of an hour whether the lamps burnt, and whether they did so all of it; nil where
// nothing does.
func (l *Log) teller(hours []map[int64]hour, lights *underlamp.Window, zone *time.Location) func(at int64) (on, sure bool) {
	for _, by := range []struct {
		what  measurand.Quantity
		name  string
		above float64
	}{{measurand.PPFD, "the light sensor ", litPPFD}, {measurand.Lamp, "the lamp sensor ", litLamp}} {
		most := -1
		for i := range l.Series {
			if l.Series[i].Quantity == by.what && len(hours[i]) > 0 && (most < 0 || len(hours[i]) > len(hours[most])) {
				most = i
			}
		}
		if most < 0 {
			continue
		}
		l.DayBy = by.name + l.Series[most].Sensor
		return func(at int64) (bool, bool) {
			h, ok := hours[most][at]
			return h.low > by.above, ok && (h.low > by.above || h.high <= by.above)
		}
	}
	if lights == nil {
		return nil
	}
	l.DayBy = "the clock of the bench"
	clock := func(at int64) time.Duration {
		t := store.Time(at).In(zone)
		return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	}
	return func(at int64) (bool, bool) {
		first, last := lights.Holds(clock(at)), lights.Holds(clock(at+store.Hour-store.Minute))
		return first, first == last
	}
}
