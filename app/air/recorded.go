package air

import (
	"context"
	"math"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// A Recorder tells what sensors of a bench have read; a [*live.Engine] does.
type Recorder interface {
	Board(ctx context.Context, bench string) (*live.Board, error)
	Chart(ctx context.Context, bench, sensor string, from, to time.Time, pieces int) (*live.Chart, error)
}

// An Hour is an hour of the air of a bench, as sensors read it.
type Hour struct {
	At     time.Time
	AirC   float64
	RH     float64 // share
	LeafC  float64 // NaN: no sensor
	PPFD   float64 // NaN: no sensor
	Margin float64 // coldest leaf over the dew point, K
	VPD    float64 // kPa
}

// A Record is what the recorded hours say of dew.
type Record struct {
	Hours   []Hour
	Wet     int // hours with a leaf at or under the dew point
	Near    int // less than 1 K over it, those not counted
	Worst   Hour
	Leaves  bool    // a leaf sensor was read; else the leaf is computed
	Light   bool    // a light sensor was read
	VPDDay  float64 // mean over hours with light, kPa; NaN without a light sensor
	VPDDark float64
	From    time.Time
	To      time.Time
}

// RecordedDays is how far back the record is looked at.
const RecordedDays = 14

// litAbove is the PPFD above which lamps are on, µmol m⁻² s⁻¹.
const litAbove = 5

// Recorded reads the hours of the last days of a bench. It is nil if no sensor of air
// temperature and humidity has read any.
func Recorded(ctx context.Context, r Recorder, b *underlamp.Bench, key string, now time.Time) (*Record, error) {
	board, err := r.Board(ctx, key)
	if err != nil {
		return nil, err
	}
	from := now.Truncate(time.Hour).AddDate(0, 0, -RecordedDays)
	read := func(what measurand.Quantity) (map[int64]float64, error) {
		sum, n := map[int64]float64{}, map[int64]float64{}
		for _, s := range board.Sensors {
			if s.Quantity != what {
				continue
			}
			c, err := r.Chart(ctx, key, s.Key, from, now, RecordedDays*24+2)
			if err != nil {
				return nil, err
			}
			for i, at := range c.At {
				if c.Mean[i] != nil {
					h := at - at%3600
					sum[h] += *c.Mean[i]
					n[h]++
				}
			}
		}
		for h := range sum {
			sum[h] /= n[h]
		}
		return sum, nil
	}
	temp, err := read(measurand.AirTemperature)
	if err != nil {
		return nil, err
	}
	rh, err := read(measurand.Humidity)
	if err != nil {
		return nil, err
	}
	leaf, err := read(measurand.LeafTemperature)
	if err != nil {
		return nil, err
	}
	light, err := read(measurand.PPFD)
	if err != nil {
		return nil, err
	}
	var hours []Hour
	for t := from.Unix(); t <= now.Unix(); t += 3600 {
		h := t - t%3600
		c, ok := temp[h]
		x, also := rh[h]
		if !ok || !also || !(x > 0) {
			continue
		}
		hour := Hour{At: time.Unix(h, 0).UTC(), AirC: c, RH: min(x/100, 1), LeafC: math.NaN(), PPFD: math.NaN()}
		if v, ok := leaf[h]; ok {
			hour.LeafC = v
		}
		if v, ok := light[h]; ok {
			hour.PPFD = v
		}
		hours = append(hours, hour)
	}
	return Judge(b, hours), nil
}

// Judge counts what recorded hours say of dew. Hours come in the order of time; with none it
// is nil. A leaf without a sensor is computed, in the light that was read or, without a light
// sensor, in the dark: the colder case.
func Judge(b *underlamp.Bench, hours []Hour) *Record {
	if len(hours) == 0 {
		return nil
	}
	p := moistair.Pressure(b.Air.Altitude.Value)
	out := &Record{Hours: hours, Worst: Hour{Margin: math.Inf(1)}, From: hours[0].At, To: hours[len(hours)-1].At.Add(time.Hour)}
	var day, dark, lit, unlit float64
	for i := range hours {
		h := &hours[i]
		s := moistair.At(quantity.Celsius(h.AirC), quantity.Fraction(h.RH), p)
		h.VPD = s.Of(moistair.Deficiency)
		coldest := h.LeafC
		if math.IsNaN(coldest) {
			ppfd := 0.0
			if h.PPFD > litAbove {
				ppfd = h.PPFD
			}
			coldest = float64(leafOf(s, ppfd, float64(b.Air.Speed.Value), 1, s.Dry))
		} else {
			out.Leaves = true
		}
		coldest = min(coldest, h.AirC)
		h.Margin = coldest - s.Of(moistair.DewPointC)
		switch {
		case h.Margin <= 0:
			out.Wet++
		case h.Margin < nearDew:
			out.Near++
		}
		if h.Margin < out.Worst.Margin {
			out.Worst = *h
		}
		if !math.IsNaN(h.PPFD) {
			out.Light = true
			if h.PPFD > litAbove {
				day += h.VPD
				lit++
			} else {
				dark += h.VPD
				unlit++
			}
		}
	}
	out.VPDDay, out.VPDDark = day/lit, dark/unlit
	return out
}
