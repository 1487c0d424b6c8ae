package trouble

import (
	"context"
	"math"
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/store"
)

// lastDays is how far back sensors tell how a bench stands: symptoms of today come from
// the days before.
const lastDays = 3

// A Sensed is what sensors read of one finding in the last days.
type Sensed struct {
	Finding   string
	Value, SD float64 // SD is that of the mean by the accuracy of usual sensors; common practice, no source
	Days      int
}

// Readings are what [Sense] needs of a store.
type Readings interface {
	store.Sensors
	store.Readings
}

// litPPFD is the light in µmol m⁻² s⁻¹ over which an hour counts as lit.
const litPPFD = 10

// Sense sums up what the sensors of a bench read in the last days. Day and night are told
// by light sensors or by what lamps say of themselves; without either, what differs by day
// and night is not known. Hours of less than half a day of readings in all say nothing.
func Sense(ctx context.Context, keep Readings, bench string, now time.Time) ([]Sensed, error) {
	all, err := keep.Sensors(ctx)
	if err != nil {
		return nil, err
	}
	by := map[measurand.Quantity]map[int64][]float64{} // values by the hour
	from := now.AddDate(0, 0, -lastDays)
	for _, s := range all {
		m, ok := measurand.Named(s.Quantity)
		if s.Bench != bench || !ok {
			continue
		}
		to, err := m.Conversion(s.Unit, 0)
		if err != nil {
			continue // told on the live page
		}
		buckets, err := keep.Buckets(ctx, s.ID, store.At(from), store.At(now), store.Hour)
		if err != nil {
			return nil, err
		}
		for _, b := range buckets {
			v := to.Base(s.True(b.From, b.Mean()))
			if v < m.Low || v > m.High {
				continue
			}
			if by[m.Quantity] == nil {
				by[m.Quantity] = map[int64][]float64{}
			}
			by[m.Quantity][b.From] = append(by[m.Quantity][b.From], v)
		}
	}
	mean := func(v []float64) float64 {
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return sum / float64(len(v))
	}
	lit := map[int64]bool{}
	for q, least := range map[measurand.Quantity]float64{measurand.PPFD: litPPFD, measurand.Lamp: 0.02} {
		for hour, v := range by[q] {
			lit[hour] = lit[hour] || mean(v) > least
		}
	}
	// over sums up hours that a condition holds for; false for too few.
	over := func(q measurand.Quantity, holds func(hour int64) bool) (float64, bool) {
		sum, n := 0.0, 0.0
		for hour, v := range by[q] {
			if holds(hour) {
				sum, n = sum+mean(v), n+1
			}
		}
		return sum / n, n >= 12
	}
	any := func(int64) bool { return true }
	day := func(hour int64) bool { is, known := lit[hour]; return known && is }
	night := func(hour int64) bool { is, known := lit[hour]; return known && !is }
	var out []Sensed
	add := func(key string, v float64, ok bool, sd float64) {
		if ok && !math.IsNaN(v) {
			out = append(out, Sensed{key, v, sd, lastDays})
		}
	}
	vpd := func(holds func(int64) bool) (float64, bool) {
		sum, n := 0.0, 0.0
		for hour, t := range by[measurand.AirTemperature] {
			if h := by[measurand.Humidity][hour]; len(h) > 0 && holds(hour) {
				sum += float64(moistair.VPD(quantity.Celsius(mean(t)), quantity.Fraction(min(mean(h), 1))))
				n++
			}
		}
		return sum / n, n >= 12
	}
	v, ok := vpd(day)
	add("vpd-day", v, ok, 0.08)
	v, ok = vpd(night)
	add("vpd-night", v, ok, 0.08)
	v, ok = over(measurand.Humidity, night)
	add("night-humidity", 100*v, ok, 3)
	v, ok = over(measurand.AirTemperature, day)
	add("air-temperature", v, ok, 0.5)
	v, ok = over(measurand.SolutionTemperature, any)
	add("root-temperature", v, ok, 0.5)
	v, ok = over(measurand.EC, any)
	add("ec", v, ok, 0.05*v)
	v, ok = over(measurand.PH, any)
	add("ph", v, ok, 0.1)
	v, ok = over(measurand.AirSpeed, any)
	add("air-speed", v, ok, 0.1*v)
	return out, nil
}

// Applied is a bench with what sensors read in place of what its file says, as far as an
// outlook can be made of it.
func Applied(b *underlamp.Bench, sensed []Sensed) *underlamp.Bench {
	out := *b
	for _, x := range sensed {
		v := x.Value
		switch x.Finding {
		case "night-humidity":
			out.Air.Night.Humidity = measured(quantity.Fraction(min(v/100, 1)))
		case "air-temperature":
			out.Air.Day.Temperature = measured(quantity.Celsius(v))
		case "root-temperature":
			out.Feed.RootTemp = measured(quantity.Celsius(v))
		case "ec":
			out.Feed.EC = measured(quantity.MillisiemensPerCm(v))
		case "air-speed":
			out.Air.Speed = measured(quantity.MetrePerSecond(v))
		}
	}
	for _, x := range sensed { // by day the deficit is what was read: it gives the humidity
		if x.Finding == "vpd-day" {
			t := out.Air.Day.Temperature.Value
			if full := float64(moistair.VPD(t, 0)); full > 0 {
				out.Air.Day.Humidity = measured(quantity.Fraction(min(max(1-x.Value/full, 0.1), 1)))
			}
		}
	}
	return &out
}

func measured[T any](v T) underlamp.Given[T] {
	return underlamp.Given[T]{Value: v, Origin: underlamp.Measured, Note: "sensors, mean of the last days"}
}
