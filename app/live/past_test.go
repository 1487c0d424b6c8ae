package live_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// At noon the lamps were raised and one was dimmed. What the sensor read before counts with
// the map of before: the light of the day is the sum of what both maps give, and of every
// plant too.
func TestEachPartOfADayByWhatHeldThen(t *testing.T) {
	ctx := context.Background()
	now, err := benchfolder.Bench(demo.Folder(), demo.SensorBench)
	if err != nil {
		t.Fatal(err)
	}
	now.Readings = nil
	was := *now
	was.Lamps = append([]underlamp.Lamp{}, now.Lamps...)
	was.Lamps[0].Height, was.Lamps[1].Height = 0.22, 0.26
	was.Lamps[1].Dimming = underlamp.Said(quantity.Fraction(0.35))

	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	x, y, z := 0.45, 0.30, 0.05
	id, err := s.PutSensor(ctx, store.Sensor{Key: "ppfd", Bench: demo.SensorBench, Quantity: "PPFD", Unit: "µmol/m²/s", X: &x, Y: &y, Height: &z, Every: 5 * time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	day := time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC)
	noon, at := day.Add(12*time.Hour), day.Add(18*time.Hour)
	type lit struct {
		place  float64
		mean   float64
		plants []light.PlantLight
	}
	of := func(b *underlamp.Bench) lit {
		m, err := light.NewModel(b)
		if err != nil {
			t.Fatal(err)
		}
		l, err := m.At(b.Setting().Height)
		if err != nil {
			t.Fatal(err)
		}
		var dim []quantity.Fraction
		for _, l := range b.Lamps {
			dim = append(dim, l.Dimming.Value)
		}
		a := l.AnswerDimmed(dim, 16, 5)
		return lit{float64(l.PPFDAt(dim, quantity.Metre(x), quantity.Metre(y), quantity.Metre(z))), a.Mean.Value, a.Plants}
	}
	before, after := of(&was), of(now)
	var rs []store.Reading
	for q := day; !q.After(at); q = q.Add(5 * time.Minute) {
		v := 0.0
		switch {
		case q.Before(day.Add(6 * time.Hour)):
		case q.Before(noon):
			v = before.place
		default:
			v = after.place
		}
		rs = append(rs, store.Reading{Sensor: id, At: store.At(q), Value: v})
	}
	if err := s.Append(ctx, rs); err != nil {
		t.Fatal(err)
	}
	board := func(past []live.Past) *live.Board {
		e := live.New(s, func(context.Context) ([]live.Bench, error) {
			return []live.Bench{{Key: demo.SensorBench, Bench: now, Before: past}}, nil
		}, live.Options{Zone: time.UTC, Now: func() time.Time { return at }})
		b, err := e.Board(ctx, demo.SensorBench)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	dli := func(b *live.Board) live.Row {
		for _, r := range b.Today.Rows {
			if r.Key == live.KeyDLI {
				return r
			}
		}
		t.Fatal("no DLI")
		return live.Row{}
	}
	b := board([]live.Past{{Until: noon, Bench: &was}})
	hours := func(h float64) float64 { return h * 3600 * 1e-6 }
	want := before.mean*hours(6) + after.mean*hours(6)
	if got := dli(b).SoFar; math.Abs(got/want-1) > 0.01 {
		t.Errorf("DLI so far %.2f, want %.2f", got, want)
	}
	for i, p := range b.Plants {
		want := float64(before.plants[i].PPFD)*hours(6) + float64(after.plants[i].PPFD)*hours(6)
		if math.Abs(p.DLI/want-1) > 0.01 {
			t.Errorf("plant %s %.2f so far, want %.2f", p.Name, p.DLI, want)
		}
	}
	// By today's map alone it would be another light; else this test could not fail.
	if got := dli(board(nil)).SoFar; math.Abs(got/want-1) < 0.03 {
		t.Errorf("without the past it is %.2f too", got)
	}
	// The plan of the day lies between those of both.
	lo, hi := before.mean*hours(16), after.mean*hours(16)
	if got := *dli(b).Plan; got <= min(lo, hi) || got >= max(lo, hi) {
		t.Errorf("planned %.2f, outside %.2f and %.2f", got, lo, hi)
	}
}
