package live_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/store"
)

// Readings that come in any order, late by up to a day, doubled and corrected, some of
// them through another server, leave a board that is that of an engine over the same store
// that has just begun.
func TestAnyOrderThroughTheStore(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for seed := range uint64(6) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			rnd := rand.New(rand.NewPCG(seed, 5))
			w := newWorld(t, shelf(t, ""), zone)
			w.sensor(store.Sensor{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s", Every: 5 * time.Minute})
			w.sensor(store.Sensor{Key: "air", Quantity: "temperature", Unit: "Cel"})
			w.sensor(store.Sensor{Key: "rh", Quantity: "humidity", Unit: "/"})
			w.sensor(store.Sensor{Key: "meter", Quantity: "energy", Unit: "Wh"})
			begin := time.Date(2026, 10, 24, 10, 0, 0, 0, zone)
			type arrival struct {
				r         store.Reading
				came      time.Time
				elsewhere bool
			}
			var come []arrival
			lit := clock(zone, 6, 22, 200, 0)
			for at := begin; at.Before(begin.Add(40 * time.Hour)); at = at.Add(5 * time.Minute) {
				for key, v := range map[string]float64{"ppfd": lit(at), "air": math.Round(10*(21+rnd.Float64())) / 10, "rh": 0.7, "meter": 100 * at.Sub(begin).Hours()} {
					a := arrival{store.Reading{Sensor: w.ids[key], At: store.At(at), Value: v}, at, rnd.IntN(5) == 0}
					switch rnd.IntN(12) {
					case 0:
						a.came = at.Add(time.Duration(rnd.IntN(24*60)) * time.Minute)
					case 1:
						again := a
						again.r.Value++
						again.came = at.Add(time.Duration(rnd.IntN(300)) * time.Minute)
						come = append(come, again)
					}
					come = append(come, a)
				}
			}
			for now := begin; now.Before(begin.Add(40 * time.Hour)); now = now.Add(time.Duration(1+rnd.IntN(90)) * time.Minute) {
				w.now = now
				left := come[:0:0]
				var here, there []store.Reading
				for _, a := range come {
					switch {
					case a.came.After(now):
						left = append(left, a)
					case a.elsewhere && now.Sub(a.came) < 20*time.Minute: // another server keeps it, this one is not told
						there = append(there, a.r)
					default:
						here = append(here, a.r)
					}
				}
				come = left
				if err := w.keep.Append(context.Background(), there); err != nil {
					t.Fatal(err)
				}
				w.put(here...)
				w.board()
				if rnd.IntN(4) == 0 {
					if _, err := w.keep.Fold(context.Background()); err != nil {
						t.Fatal(err)
					}
				}
			}
			w.now = w.now.Add(11 * time.Minute) // what came late through another server is found by the next sweep
			got, err := json.Marshal(w.board())
			if err != nil {
				t.Fatal(err)
			}
			w.engine = w.another()
			want, err := json.Marshal(w.board())
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != string(want) {
				t.Errorf("held\n%s\nanew\n%s", got, want)
			}
		})
	}
}

// A sensor that is described anew, calibrated or moved to another bench counts so at once.
func TestRegisterChanges(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.sensor(store.Sensor{Key: "air", Quantity: "", Unit: "Cel"})
	w.now = june.Add(time.Hour)
	w.read(june, w.now, time.Minute, map[string]func(time.Time) float64{"air": always(20)})
	if b := w.board(); len(b.Sensors[0].Checks) != 1 || b.Sensors[0].Checks[0].Kind != live.CheckUnit {
		t.Errorf("%+v", b.Sensors)
	}
	w.sensor(store.Sensor{Key: "air", Quantity: "air temperature", Unit: "Cel"})
	if b := w.board(); b.Sensors[0].Text != "20 °C" {
		t.Errorf("%+v", b.Sensors[0])
	}
	w.sensor(store.Sensor{Key: "air", Quantity: "air temperature", Unit: "Cel", Calibrations: []store.Calibration{{From: store.At(june.Add(30 * time.Minute)), Gain: 1, Offset: 2}}})
	b := w.board()
	if b.Sensors[0].Text != "18 °C" || b.Sensors[0].Spark[0].Mean != 20 {
		t.Errorf("%+v", b.Sensors[0])
	}
	id, err := w.keep.PutSensor(context.Background(), store.Sensor{Key: "air", Bench: "another", Quantity: "air temperature", Unit: "Cel"})
	if err != nil || id != w.ids["air"] {
		t.Fatal(id, err)
	}
	if b := w.board(); len(b.Sensors) != 0 {
		t.Errorf("%+v", b.Sensors)
	}
}

// Lamps on by the file are what the plan says; a bench that is described anew is planned
// anew, and its messages stay.
func TestBenchChanges(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.sensor(store.Sensor{Key: "lamp", Quantity: "lamp", Unit: "%", Every: time.Minute})
	w.now = june.Add(10 * time.Hour)
	w.read(june.Add(6*time.Hour), w.now, time.Minute, map[string]func(time.Time) float64{"lamp": always(100)})
	full := w.value(w.board(), live.KeyPPFD)
	near(t, "electricity of 80 W for 4 h", w.value(w.board(), live.KeyEnergy), 0.32, 0.001)
	w.bench = shelf(t, "")
	w.bench.Lamps[0].Dimming = underlamp.Said(w.bench.Lamps[0].Dimming.Value / 2)
	b := w.board()
	near(t, "the lamp still says full", w.value(b, live.KeyPPFD), full, 1e-6*full)
	r, _ := b.Figure(live.KeyRatio)
	near(t, "which is twice the file", r.Value, 200, 1e-9)
	near(t, "and the watts are those of the lamp", w.value(b, live.KeyEnergy), 0.32, 0.001)
}

// What it costs to begin with a year of data: the readings of 30 hours are read, and the
// light of the bench is computed once.
func BenchmarkStart(b *testing.B) {
	w := newWorld(b, shelf(b, ""), time.UTC)
	values := map[string]func(time.Time) float64{}
	for _, s := range []store.Sensor{{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s"}, {Key: "air", Quantity: "temperature", Unit: "Cel"}, {Key: "rh", Quantity: "humidity", Unit: "%RH"}, {Key: "leaf", Quantity: "leaf temperature", Unit: "Cel"}, {Key: "co2", Quantity: "CO2", Unit: "ppm"}, {Key: "meter", Quantity: "power", Unit: "W"}} {
		s.Every = time.Minute
		w.sensor(s)
		values[s.Key] = func(t time.Time) float64 { return math.Round(10*(20+5*math.Sin(float64(t.Unix())/9000))) / 10 }
	}
	days := 365
	if testing.Short() {
		days = 20
	}
	w.now = june
	for d := days; d > 0; d-- {
		w.read(june.AddDate(0, 0, -d), june.AddDate(0, 0, 1-d), time.Minute, values)
		if d%20 == 0 {
			if _, err := w.keep.Fold(context.Background()); err != nil {
				b.Fatal(err)
			}
		}
	}
	for {
		n, err := w.keep.Fold(context.Background())
		if err != nil {
			b.Fatal(err)
		}
		if n == 0 {
			break
		}
	}
	b.Run("new engine, board", func(b *testing.B) {
		for b.Loop() {
			w.engine = w.another()
			w.board()
		}
	})
	b.Run("board again", func(b *testing.B) {
		for b.Loop() {
			w.board()
		}
	})
	b.Run("tick", func(b *testing.B) {
		for b.Loop() {
			w.tick()
		}
	})
	b.Run("a minute of readings, board", func(b *testing.B) {
		for b.Loop() {
			var rs []store.Reading
			w.now = w.now.Add(time.Minute)
			for key, f := range values {
				rs = append(rs, store.Reading{Sensor: w.ids[key], At: store.At(w.now), Value: f(w.now)})
			}
			w.engine.Taken(rs)
			w.board()
		}
	})
}
