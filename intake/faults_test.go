package intake_test

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp/intake"
	"underlamp/store"
)

// However often packs come, in whatever order and however many at once, every reading is
// there once.
func TestDoubledAndShuffled(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	round := 0
	rapid.Check(t, func(t *rapid.T) {
		round++
		o := options()
		o.FoldAfter = rapid.SampledFrom([]int{1, 30, 100_000}).Draw(t, "fold after")
		in := intake.New(s, o)
		type key struct {
			sensor string
			at     int64
		}
		want := map[key]float64{}
		var packs [][]intake.Reading
		for range rapid.IntRange(1, 12).Draw(t, "packs") {
			var pack []intake.Reading
			for range rapid.IntRange(1, 20).Draw(t, "readings") {
				at := now.Add(-time.Duration(rapid.IntRange(0, 10_000).Draw(t, "seconds")) * time.Second)
				k := key{fmt.Sprintf("%d/%d", round, rapid.IntRange(0, 2).Draw(t, "sensor")), store.At(at)}
				if _, ok := want[k]; !ok {
					want[k] = float64(len(want))
				}
				pack = append(pack, intake.Reading{Sensor: k.sensor, At: at, Value: want[k]})
			}
			packs = append(packs, pack)
		}
		// Each once at least, and some again.
		send := slices.Concat(packs, rapid.SliceOf(rapid.SampledFrom(packs)).Draw(t, "again"))
		send = rapid.Permutation(send).Draw(t, "order")
		var wg sync.WaitGroup
		var failed atomic.Int64
		for _, part := range slices.Collect(slices.Chunk(send, 1+len(send)/3)) {
			wg.Go(func() {
				for _, pack := range part {
					if err := in.Take(ctx, pack); err != nil {
						failed.Add(1)
					}
				}
			})
		}
		wg.Wait()
		in.Close()
		if failed.Load() > 0 {
			t.Fatalf("%d packs were not taken", failed.Load())
		}
		n := 0
		for i := range 3 {
			x, err := s.Sensor(ctx, fmt.Sprintf("%d/%d", round, i))
			if err != nil {
				continue // no reading was of it
			}
			got, err := s.Samples(ctx, x.ID, 0, store.At(now)+1)
			if err != nil {
				t.Fatal(err)
			}
			sums, err := s.Buckets(ctx, x.ID, 0, store.At(now)+1, store.Hour)
			if err != nil {
				t.Fatal(err)
			}
			counted := int64(0)
			for _, b := range sums {
				counted += b.N
			}
			for _, r := range got {
				if v, ok := want[key{x.Key, r.At}]; !ok || v != r.Value {
					t.Fatalf("%+v is there, want %g (%t)", r, v, ok)
				}
			}
			if counted != int64(len(got)) {
				t.Fatalf("%d readings, and the sums by hour count %d", len(got), counted)
			}
			n += len(got)
		}
		if n != len(want) {
			t.Fatalf("%d readings, want %d", n, len(want))
		}
	})
}

// The clock of the server is set back an hour, and later forward again: nothing that
// devices with a right clock send is refused, lost or doubled.
func TestClockSetBack(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	var back atomic.Int64 // what the clock is behind
	truth := now
	in := intake.New(s, intake.Options{Now: func() time.Time { return truth.Add(-time.Duration(back.Load())) }, FoldAfter: 50})
	for i := range 300 {
		switch i {
		case 100:
			back.Store(int64(time.Hour))
		case 200:
			back.Store(0)
		}
		truth = truth.Add(time.Minute)
		if err := in.Take(ctx, []intake.Reading{{Sensor: "a", At: truth, Value: float64(i)}}); err != nil {
			t.Fatalf("reading %d: %v", i, err)
		}
	}
	in.Close()
	x, err := s.Sensor(ctx, "a")
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Samples(ctx, x.ID, 0, store.At(truth)+1)
	if err != nil || len(got) != 300 {
		t.Fatalf("%d readings of 300, %v", len(got), err)
	}
	for i, r := range got {
		if r.Value != float64(i) {
			t.Fatalf("reading %d is %+v", i, r)
		}
	}
}
