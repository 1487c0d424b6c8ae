package environment

import (
	"context"
	"errors"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/store"
)

// Crop is the time of the crop of a bench until now: from transplanting to the planned harvest, or
// now if that is earlier. False if the bench does not say when it was transplanted, or that is to
// come.
func Crop(b *underlamp.Bench, now time.Time, zone *time.Location) (from, to time.Time, ok bool) {
	from, err := time.ParseInLocation(time.DateOnly, b.Crop.Transplanted, zone)
	if err != nil || !from.Before(now) {
		return from, now, false
	}
	to = from.AddDate(0, 0, b.Crop.Days.Value)
	if to.After(now) {
		to = now
	}
	return from, to, true
}

// A Keeper is what of a store is read by [Gather]; a [store.Store] is one.
type Keeper interface {
	Source
	Document(ctx context.Context, kind, name string) (store.Document, error)
}

// Gather is [Recorded] with the clock that the watch file of the bench gives, if it has one; read
// reads such a file and may be nil.
func Gather(ctx context.Context, src Keeper, key string, b *underlamp.Bench, from, to time.Time, read func(*underlamp.Bench, []byte) (*underlamp.Watch, error), zone *time.Location) (*Log, error) {
	var lights *underlamp.Window
	d, err := src.Document(ctx, live.KindWatch, key)
	switch {
	case errors.Is(err, store.ErrNotFound):
	case err != nil:
		return nil, err
	case read != nil:
		if w, err := read(b, d.Text); err == nil { // what is wrong with it is told on the live page
			lights = w.Lights
		}
	}
	return Recorded(ctx, src, key, b, from, to, lights, zone)
}

// leastMetered is the share of the hours that a meter of power must have read, for their sum to
// be that of the crop.
const leastMetered = 0.98

// Metered is the electricity that meters on a bench counted from a time to another, in kWh, and
// what they are called. A counter of energy counts; else a sensor of power that read nearly all
// hours. False where there is neither.
func Metered(ctx context.Context, src Source, key string, from, to time.Time) (kWh float64, by string, ok bool, err error) {
	all, err := src.Sensors(ctx)
	if err != nil {
		return 0, "", false, err
	}
	begin, end := store.At(from), store.At(to)
	begin -= begin % store.Hour
	for _, what := range []measurand.Quantity{measurand.Energy, measurand.Power} {
		m, _ := measurand.Of(what)
		for _, x := range all {
			if q, known := measurand.Named(x.Quantity); x.Bench != key || !known || q.Quantity != what {
				continue
			}
			conv, err := m.Conversion(x.Unit, 0)
			if err != nil {
				continue // told beside the sensor
			}
			buckets, err := src.Buckets(ctx, x.ID, begin, end, store.Hour)
			if err != nil {
				return 0, "", false, err
			}
			if len(buckets) < 2 {
				continue
			}
			value := func(at int64, read float64) float64 { return conv.Base(x.True(at, read)) }
			sum := 0.0
			if what == measurand.Power {
				if float64(len(buckets)) < leastMetered*float64((end-begin)/store.Hour) {
					continue
				}
				for _, u := range buckets {
					sum += value(u.From, u.Mean()) / 1000
				}
				return sum, x.Key, true, nil
			}
			last := value(buckets[0].From, buckets[0].First)
			for _, u := range buckets {
				for _, v := range []float64{value(u.From, u.First), value(u.From, u.Last)} {
					if v >= last {
						sum += v - last
					} else {
						sum += v // it began again at 0
					}
					last = v
				}
			}
			return sum, x.Key, true, nil
		}
	}
	return 0, "", false, nil
}
