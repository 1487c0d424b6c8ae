package live_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/formats/benchfile"
	"underlamp/store"
	"underlamp/store/sqlite"
)

const shelfText = `underlamp: 1
name: a shelf
space: {width: 1 m, depth: 60 cm, height: 50 cm}
lamps: [{at: [50 cm, 30 cm], height: 35 cm, flux: 200 µmol/s, watts: 80 W, dimming: 100 %, hours: 16 h}]
plants: {grid: {columns: 3, rows: 2, margin: 15 cm}}
air: {day: {temperature: 22 °C, humidity: 65 %}, night: {temperature: 18 °C, humidity: 75 %}, co2: 800 ppm}
feed: {ec: 1.5 mS/cm, root temperature: 20 °C}
`

func shelf(t testing.TB, more string) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.Read(strings.NewReader(shelfText + more))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	return b
}

func openStore(t testing.TB) *sqlite.DB {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// A world is an engine over a store with a clock that a test turns.
type world struct {
	t      testing.TB
	keep   *sqlite.DB
	now    time.Time
	zone   *time.Location
	bench  *underlamp.Bench
	watch  *underlamp.Watch
	ids    map[string]int64
	engine *live.Engine
}

func newWorld(t testing.TB, b *underlamp.Bench, zone *time.Location) *world {
	w := &world{t: t, keep: openStore(t), zone: zone, bench: b, ids: map[string]int64{}}
	w.engine = w.another()
	return w
}

// another is a further engine over the same store, as another server has.
func (w *world) another() *live.Engine {
	return live.New(w.keep, func(context.Context) ([]*underlamp.Bench, error) { return []*underlamp.Bench{w.bench}, nil }, live.Options{
		Now: func() time.Time { return w.now }, Zone: w.zone, Shared: true,
		ReadWatch: func(_ *underlamp.Bench, text []byte) (*underlamp.Watch, error) {
			if string(text) == "broken" {
				return nil, errors.New("line 1, column 1: broken")
			}
			return w.watch, nil
		},
	})
}

func (w *world) sensor(s store.Sensor) {
	w.t.Helper()
	s.Bench = w.bench.Name
	id, err := w.keep.PutSensor(context.Background(), s)
	if err != nil {
		w.t.Fatal(err)
	}
	w.ids[s.Key] = id
}

func (w *world) watching(x underlamp.Watch) {
	w.t.Helper()
	w.watch = &x
	if err := w.keep.PutDocument(context.Background(), store.Document{Kind: live.KindWatch, Name: w.bench.Name, Recorded: store.At(time.Now()), Text: []byte(time.Now().String())}); err != nil {
		w.t.Fatal(err)
	}
}

// put keeps readings and tells the engine.
func (w *world) put(rs ...store.Reading) {
	w.t.Helper()
	if err := w.keep.Append(context.Background(), rs); err != nil {
		w.t.Fatal(err)
	}
	w.engine.Taken(rs)
}

// read lets sensors read from an instant to before another, every step; a value of NaN
// is not sent.
func (w *world) read(from, to time.Time, step time.Duration, value map[string]func(time.Time) float64) {
	w.t.Helper()
	var rs []store.Reading
	for at := from; at.Before(to); at = at.Add(step) {
		for key, f := range value {
			if v := f(at); !math.IsNaN(v) {
				rs = append(rs, store.Reading{Sensor: w.ids[key], At: store.At(at), Value: v})
			}
		}
	}
	w.put(rs...)
}

func (w *world) board() *live.Board {
	w.t.Helper()
	b, err := w.engine.Board(context.Background(), w.bench.Name)
	if err != nil {
		w.t.Fatal(err)
	}
	return b
}

func (w *world) tick() {
	w.t.Helper()
	if err := w.engine.Tick(context.Background()); err != nil {
		w.t.Fatal(err)
	}
}

func (w *world) value(b *live.Board, key string) float64 {
	w.t.Helper()
	f, ok := b.Figure(key)
	if !ok {
		w.t.Fatalf("%s is not known: %+v", key, b.Figures)
	}
	return f.Value
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

func always(v float64) func(time.Time) float64 { return func(time.Time) float64 { return v } }

// clock gives one value from an hour of the day to another, and a second else.
func clock(zone *time.Location, from, to int, in, out float64) func(time.Time) float64 {
	return func(t time.Time) float64 {
		if h := t.In(zone).Hour(); h >= from && h < to {
			return in
		}
		return out
	}
}

var june = time.Date(2026, 6, 10, 0, 0, 0, 0, time.UTC)

// A day by hand: light from 06:00 at half of the map's, air at 24.5 °C and 54 % (deficit
// 3.075 · 0.46 kPa by Allen1998, chapter 3, example 3), leaf 1.5 °C below the air.
func TestBoard(t *testing.T) {
	w := newWorld(t, shelf(t, "limits: {target: 200 µmol/m²/s, ceiling: 320 µmol/m²/s}\n"), time.UTC)
	w.sensor(store.Sensor{Key: "rack/ppfd", Quantity: "PPFD", Unit: "umol/m2/s", Every: time.Minute})
	w.sensor(store.Sensor{Key: "rack/air", Quantity: "air temperature", Unit: "Cel", Calibrations: []store.Calibration{{From: 1, Gain: 1, Offset: 0.5}}})
	w.sensor(store.Sensor{Key: "rack/rh", Quantity: "humidity", Unit: "%RH"})
	w.sensor(store.Sensor{Key: "rack/leaf", Quantity: "leaf temperature", Unit: "°F"})
	w.sensor(store.Sensor{Key: "rack/odd", Quantity: "wetness", Unit: "m"})
	w.now = june.Add(6 * time.Hour)
	b := w.board()
	if len(b.Sensors) != 5 || b.Sensors[0].Last != nil || len(b.Figures) != 0 {
		t.Fatalf("%+v", b)
	}
	w.read(june.Add(-6*time.Hour), june.Add(12*time.Hour), time.Minute, map[string]func(time.Time) float64{
		"rack/ppfd": clock(time.UTC, 6, 22, 150, 0), "rack/air": always(25), "rack/rh": always(54), "rack/leaf": always(73.4),
	})
	w.now = june.Add(12 * time.Hour)
	b = w.board()
	// 150 µmol/m²/s for 6 h are 3.24 mol/m², on the mean plant, for the sensor has no place;
	// by the end of 16 h 8.64. The last minute reaches half of its way to noon.
	near(t, "DLI", w.value(b, live.KeyDLI), 3.24, 0.006)
	near(t, "DLI by the end", w.value(b, live.KeyDLIEnd), 8.64, 0.006)
	near(t, "hours", w.value(b, live.KeyHours), 6, 0.01)
	near(t, "PPFD", w.value(b, live.KeyPPFD), 150, 1e-9)
	near(t, "VPD", w.value(b, live.KeyVPD), 3.075*0.46, 0.0005*0.46)
	near(t, "leaf", w.value(b, live.KeyLeaf), -1.5, 1e-9)
	// Degree hours over 4 °C: 12 h · 20.5.
	near(t, "degree hours", w.value(b, live.KeyDegreeHours), 246, 0.2)
	// 80 W for 6 h.
	near(t, "electricity", w.value(b, live.KeyEnergy), 0.48, 0.001)
	if b.Lit == nil || !*b.Lit || b.Today.Date != "2026-06-10" || len(b.Today.Rows) != 4 || *b.Today.Cover < 0.99 {
		t.Errorf("%+v", b.Today)
	}
	if len(b.Plants) != 6 || len(b.Limits) != len(underlamp.WatchKeys()) {
		t.Errorf("%d plants, %d limits", len(b.Plants), len(b.Limits))
	}
	if c := b.Sensors[2]; c.Key != "rack/odd" || len(c.Checks) != 1 || c.Checks[0].Kind != live.CheckUnit {
		t.Errorf("%+v", c)
	}
	if p := b.Sensors[3]; len(p.Spark) < 70 || p.Text != "150 µmol/m²/s" || p.Age != "60 s" && p.Age != "1 min" {
		t.Errorf("%s %s, %d points", p.Text, p.Age, len(p.Spark))
	}
	if _, err := json.Marshal(b); err != nil {
		t.Error(err)
	}
	// A new engine over the same store comes to the same board, to the last bit.
	first, _ := json.Marshal(b)
	w.engine = w.another()
	second, _ := json.Marshal(w.board())
	if string(first) != string(second) {
		t.Errorf("another server sees\n%s\nand not\n%s", second, first)
	}
}
