package live_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp/store"
)

// A chart says of each piece what the readings in it say, as they are meant: with
// calibration and unit.
func TestChart(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.now = time.Date(2026, 11, 20, 12, 0, 0, 0, time.UTC)
	begin := w.now.Add(-40 * time.Hour)
	w.sensor(store.Sensor{Key: "air", Quantity: "air temperature", Unit: "degF", Every: time.Minute, Calibrations: []store.Calibration{{Gain: -1, Offset: 10}}})
	var rs []store.Reading
	rapid.Check(t, func(rt *rapid.T) {
		r := store.Reading{Sensor: w.ids["air"], At: store.At(begin) + rapid.Int64Range(0, 40*3600).Draw(rt, "s")*store.Second, Value: float64(rapid.IntRange(-100, 100).Draw(rt, "value"))}
		rs = append(rs, r)
	})
	w.put(rs...)
	at := map[int64]float64{} // of two at one instant the later counts
	for _, r := range rs {
		at[r.At] = (-(r.Value - 10) - 32) / 1.8
	}
	for _, pieces := range []int{1, 3, 40, 500, 2000} {
		from, to := begin.Add(90*time.Minute), w.now.Add(-7*time.Hour)
		c, err := w.engine.Chart(context.Background(), "shelf", "air", from, to, pieces)
		if err != nil {
			t.Fatal(err)
		}
		if c.Unit != "°C" || len(c.At) > 2*pieces+2 {
			t.Errorf("%d pieces of %d s in %s", len(c.At), c.Width, c.Unit)
		}
		first := store.At(from) / store.Second / c.Width * c.Width
		seen := int64(0)
		for i, begin := range c.At {
			if c.Mean[i] == nil {
				continue
			}
			if begin < first || (begin-first)%c.Width != 0 {
				t.Fatalf("a piece begins at %d", begin)
			}
			n, sum, low, high := 0, 0.0, math.Inf(1), math.Inf(-1)
			for us, v := range at {
				if s := us / store.Second; s >= begin && s < begin+c.Width && us < store.At(to) {
					n, sum, low, high = n+1, sum+v, min(low, v), max(high, v)
				}
			}
			seen += int64(n)
			if math.Abs(*c.Mean[i]-sum/float64(n)) > 1e-9 || math.Abs(*c.Min[i]-low) > 1e-9 || math.Abs(*c.Max[i]-high) > 1e-9 {
				t.Fatalf("piece at %d: %g %g %g, want %g %g %g", begin, *c.Mean[i], *c.Min[i], *c.Max[i], sum/float64(n), low, high)
			}
		}
		if seen != c.Readings {
			t.Errorf("%d readings in pieces of %d s, %d counted", seen, c.Width, c.Readings)
		}
	}
	for name, ask := range map[string]func() error{
		"backwards": func() error {
			_, err := w.engine.Chart(context.Background(), "shelf", "air", w.now, begin, 10)
			return err
		},
		"no pieces": func() error {
			_, err := w.engine.Chart(context.Background(), "shelf", "air", begin, w.now, 0)
			return err
		},
		"a thousand years": func() error {
			_, err := w.engine.Chart(context.Background(), "shelf", "air", begin.AddDate(-200, 0, 0), w.now, 10)
			return err
		},
	} {
		if ask() == nil {
			t.Errorf("%s: answered", name)
		}
	}
	if _, err := w.engine.Chart(context.Background(), "shelf", "water", begin, w.now, 10); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a sensor that is not there: %v", err)
	}
	if _, err := w.engine.Chart(context.Background(), "attic", "air", begin, w.now, 10); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a bench that is not there: %v", err)
	}
}
