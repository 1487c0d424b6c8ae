package live_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/internal/pgtest"
	"underlamp/store"
	"underlamp/store/packed"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
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

// A bench that is read anew from its file, as at every look, is not computed anew: the demo
// has lamps with photometric files, in which some figures are not known.
func TestReadAgain(t *testing.T) {
	read := func(name string) *underlamp.Bench {
		b, problems, err := benchfile.ReadWith(bytes.NewReader(demo.File(name)), benchfolder.Files(demo.Folder()))
		if err != nil || problems.HasErrors() {
			t.Fatal(err, problems)
		}
		return b
	}
	for _, name := range demo.Names() {
		if !live.SameBench(read(name), read(name)) {
			t.Errorf("%s differs from itself", name)
		}
		other := read(name)
		other.Lamps[0].Dimming.Value /= 2
		if live.SameBench(read(name), other) {
			t.Errorf("%s dimmed is the same", name)
		}
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

// Four servers on one PostgreSQL, each told of a part of the readings: they open one message
// for each rule, see one another's readings, and close it once.
func TestManyServers(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	ctx := context.Background()
	now := june.Add(12 * time.Hour)
	b := shelf(t, "")
	var servers []*live.Engine
	var stores []store.Store
	for range 4 {
		s, err := postgres.Open(ctx, address)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		stores = append(stores, s)
		servers = append(servers, live.New(s, func(context.Context) ([]live.Bench, error) { return []live.Bench{{Key: "shelf", Bench: b}}, nil }, live.Options{Now: func() time.Time { return now }, Zone: time.UTC, Shared: true}))
	}
	air, err := stores[0].PutSensor(ctx, store.Sensor{Key: "air", Bench: "shelf", Quantity: "temperature", Unit: "Cel", Every: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	send := func(from, to time.Duration, v float64) {
		t.Helper()
		for at := from; at < to; at += time.Minute {
			i := int(at/time.Minute) % 4
			rs := []store.Reading{{Sensor: air, At: store.At(june.Add(at)), Value: v + float64(i)/10}}
			if err := stores[i].Append(ctx, rs); err != nil {
				t.Fatal(err)
			}
			servers[i].Taken(rs)
		}
		var wg sync.WaitGroup
		for _, e := range servers {
			wg.Go(func() {
				if err := e.Tick(ctx); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
	}
	send(11*time.Hour, 12*time.Hour, 30)
	boards := map[string]bool{}
	for _, e := range servers {
		x, err := e.Board(ctx, "shelf")
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		boards[string(text)] = true
		if len(x.Messages) != 1 || x.Messages[0].Rule != "air temperature high" {
			t.Errorf("%+v", x.Messages)
		}
	}
	if len(boards) != 1 {
		t.Errorf("four servers show %d boards", len(boards))
	}
	now = now.Add(10 * time.Minute)
	send(12*time.Hour, 12*time.Hour+10*time.Minute, 25)
	all, err := stores[0].Messages(ctx, "shelf", 0, store.At(now)+1)
	if err != nil || len(all) != 1 || all[0].Closed != store.At(now) {
		t.Errorf("%+v, %v", all, err)
	}
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

// frail is a store that can be taken away.
type frail struct {
	*sqlite.DB
	gone bool
	half bool // only the readings
}

var errGone = errors.New("the database is gone")

func (f *frail) Samples(ctx context.Context, sensor, from, to int64) ([]packed.Sample, error) {
	if f.gone || f.half {
		return nil, errGone
	}
	return f.DB.Samples(ctx, sensor, from, to)
}

func (f *frail) Sensors(ctx context.Context) ([]store.Sensor, error) {
	if f.gone {
		return nil, errGone
	}
	return f.DB.Sensors(ctx)
}

// While the store is gone the engine says so; when it is back, what came late in between is
// on the board.
func TestStoreGoneAndBack(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	keep := &frail{DB: w.keep}
	w.engine = live.New(keep, func(context.Context) ([]live.Bench, error) { return []live.Bench{{Key: "shelf", Bench: w.bench}}, nil }, live.Options{Now: func() time.Time { return w.now }, Zone: time.UTC})
	w.sensor(store.Sensor{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s", Every: time.Minute})
	w.now = june.Add(10 * time.Hour)
	w.read(june.Add(6*time.Hour), w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": func(t time.Time) float64 {
		if t.Sub(june) < 7*time.Hour {
			return math.NaN() // comes late
		}
		return 100
	}})
	near(t, "hours before", w.value(w.board(), live.KeyHours), 3, 0.02)
	keep.gone = true
	w.read(june.Add(6*time.Hour), june.Add(7*time.Hour), time.Minute, map[string]func(time.Time) float64{"ppfd": always(100)})
	if err := w.engine.Tick(context.Background()); !errors.Is(err, errGone) {
		t.Errorf("%v", err)
	}
	if _, err := w.engine.Board(context.Background(), "shelf"); !errors.Is(err, errGone) {
		t.Errorf("%v", err)
	}
	keep.gone = false
	near(t, "hours after", w.value(w.board(), live.KeyHours), 4, 0.02)
	// Gone between the register and the readings: what was told is not forgotten.
	late := []store.Reading{{Sensor: w.ids["ppfd"], At: store.At(june.Add(5 * time.Hour)), Value: 100}}
	if err := w.keep.Append(context.Background(), late); err != nil {
		t.Fatal(err)
	}
	w.engine.Taken(late)
	keep.half = true
	if err := w.engine.Tick(context.Background()); !errors.Is(err, errGone) {
		t.Errorf("%v", err)
	}
	keep.half = false
	b := w.board()
	if p := b.Sensors[0].Spark[0]; !p.At.Equal(june.Add(5 * time.Hour)) {
		t.Errorf("the first quarter known is %v", p.At)
	}
}
