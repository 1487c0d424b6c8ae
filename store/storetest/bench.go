package storetest

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"underlamp/store"
)

// Bench measures a store: how many readings a second it keeps on the disk, packing
// included, and how long the charts of a year take.
func Bench(b *testing.B, open func(b *testing.B) store.Store) {
	for _, c := range []struct{ sensors, each int }{{50, 100}, {1000, 5}, {1000, 1}} {
		b.Run(fmt.Sprintf("intake/%d sensors, %d readings a batch", c.sensors, c.sensors*c.each), func(b *testing.B) { intake(b, open(b), c.sensors, c.each) })
	}
	b.Run("year", func(b *testing.B) { year(b, open(b)) })
}

// intake appends batches of 1 reading a second of every sensor, to one decimal, and
// packs whenever 300 000 are waiting.
func intake(b *testing.B, s store.Store, sensors, each int) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(1, 2))
	ids := sensorsOf(b, s, sensors)
	at, waiting, total := int64(0), 0, 0
	batch := make([]store.Reading, 0, sensors*each)
	for b.Loop() {
		batch = batch[:0]
		for range each {
			at += store.Second
			for _, id := range ids {
				batch = append(batch, store.Reading{Sensor: id, At: at, Value: math.Round(10*(21+r.NormFloat64())) / 10})
			}
		}
		if err := s.Append(ctx, batch); err != nil {
			b.Fatal(err)
		}
		total += len(batch)
		if waiting += len(batch); waiting >= 300_000 {
			fold(b, s)
			waiting = 0
		}
	}
	fold(b, s)
	b.ReportMetric(float64(total)/b.Elapsed().Seconds(), "readings/s")
}

func sensorsOf(b *testing.B, s store.Store, n int) (ids []int64) {
	for i := range n {
		id, err := s.PutSensor(context.Background(), store.Sensor{Key: fmt.Sprintf("sensor %d", i)})
		if err != nil {
			b.Fatal(err)
		}
		ids = append(ids, id)
	}
	return ids
}

func fold(b *testing.B, s store.Store) {
	for {
		n, err := s.Fold(context.Background())
		if err != nil {
			b.Fatal(err)
		}
		if n == 0 {
			return
		}
	}
}

// year charts a sensor of five, each a year of a reading a minute: 2.6 million readings,
// with a tail that is not packed.
func year(b *testing.B, s store.Store) {
	ctx := context.Background()
	const minutes = 365 * 24 * 60
	ids := sensorsOf(b, s, 5)
	r := rand.New(rand.NewPCG(1, 2))
	var batch []store.Reading
	for m := range int64(minutes) {
		for _, id := range ids {
			batch = append(batch, store.Reading{Sensor: id, At: m * store.Minute, Value: math.Round(10*(21+r.NormFloat64())) / 10})
		}
		if len(batch) >= 20_000 || m == minutes-1 {
			if err := s.Append(ctx, batch); err != nil {
				b.Fatal(err)
			}
			batch = batch[:0]
			if m%100_000 < 4000 {
				fold(b, s)
			}
		}
	}
	b.ResetTimer()
	var day, hour, samples time.Duration
	n := 0
	for b.Loop() {
		n++
		for width, spent := range map[int64]*time.Duration{store.Day: &day, store.Hour: &hour} {
			begin := time.Now()
			if got, err := s.Buckets(ctx, ids[2], 0, 400*store.Day, width); err != nil || int64(len(got)) != 365*store.Day/width {
				b.Fatal(len(got), err)
			}
			*spent += time.Since(begin)
		}
		begin := time.Now()
		if got, err := s.Samples(ctx, ids[2], 100*store.Day, 107*store.Day); err != nil || len(got) != 7*24*60 {
			b.Fatal(len(got), err)
		}
		samples += time.Since(begin)
	}
	ms := func(d time.Duration) float64 { return d.Seconds() * 1e3 / float64(n) }
	b.ReportMetric(ms(day), "ms/year-by-day")
	b.ReportMetric(ms(hour), "ms/year-by-hour")
	b.ReportMetric(ms(samples), "ms/week-of-readings")
	b.ReportMetric(0, "ns/op")
}
