package trouble_test

import (
	"context"
	"encoding/json"
	"log/slog"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/app/outlook"
	"underlamp/app/trouble"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/evidencefile"
	"underlamp/safefolder"
	"underlamp/science/diagnosis"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func bench(t testing.TB, change func(text string) string) *underlamp.Bench {
	t.Helper()
	text := string(demo.File("tier-2-middle.yaml"))
	if change != nil {
		text = change(text)
	}
	b, problems, err := benchfile.ReadWith(strings.NewReader(text), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	return b
}

func model(t testing.TB) *diagnosis.Model {
	t.Helper()
	m, err := diagnosis.New(evidencefile.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

var noon = time.Date(2026, 11, 1, 12, 0, 0, 0, time.UTC)

func find(all []trouble.Record, key string) *trouble.Record {
	for i := range all {
		if all[i].Finding == key {
			return &all[i]
		}
	}
	return nil
}

// A default is shown and counts for nothing: with it or without it, whatever it is, the
// chances are the same.
func TestADefaultIsNoEvidence(t *testing.T) {
	m := model(t)
	b := bench(t, nil)
	if !b.Feed.Ammonium.IsDefault() {
		t.Fatal("the demo gives ammonium now; take another default")
	}
	chance := func(v float64) float64 {
		c := *b
		c.Feed.Ammonium = underlamp.Assumed(quantity.MilligramPerLitre(v), "")
		x, err := trouble.Examine(m, &trouble.Bench{Bench: &c, Now: noon}, trouble.Asked{Symptoms: []string{"slow"}})
		if err != nil {
			t.Fatal(err)
		}
		r := find(x.Records, "ammonium-n")
		if r == nil || !r.Default() {
			t.Fatalf("%+v", r)
		}
		for _, y := range x.Causes {
			if y.Key == "ammonium" {
				return y.Chance
			}
		}
		return math.NaN()
	}
	if a, b := chance(1), chance(200); a != b {
		t.Errorf("a default moved the chance from %v to %v", a, b)
	}
}

// What sensors read takes the place of the bench file, by day and night as the lamps say.
func TestSensorsComeFirst(t *testing.T) {
	ctx := context.Background()
	s := opened(t)
	now := noon
	send := func(key, quantity, unit string, value func(hour int) float64) {
		id, err := s.PutSensor(ctx, store.Sensor{Key: key, Bench: "shelf", Quantity: quantity, Unit: unit})
		if err != nil {
			t.Fatal(err)
		}
		var all []store.Reading
		for h := 0; h < 72; h++ {
			at := now.Add(time.Duration(h-72) * time.Hour)
			all = append(all, store.Reading{Sensor: id, At: store.At(at.Add(time.Minute)), Value: value(at.Hour())})
		}
		if err := s.Append(ctx, all); err != nil {
			t.Fatal(err)
		}
	}
	day := func(hour int) bool { return hour >= 6 && hour < 22 }
	pick := func(a, b float64) func(int) float64 {
		return func(h int) float64 {
			if day(h) {
				return a
			}
			return b
		}
	}
	send("lamp", "lamp", "%", pick(100, 0))
	send("air", "air temperature", "°C", pick(24, 18))
	send("rh", "humidity", "%", pick(85, 97))
	send("ec", "EC", "mS/cm", pick(2.6, 2.6))
	sensed, err := trouble.Sense(ctx, s, "shelf", now)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, x := range sensed {
		got[x.Finding] = x.Value
	}
	// FAO-56, table 2.3: 2.98 kPa at 24 °C, 2.06 kPa at 18 °C (Allen1998).
	for key, want := range map[string]float64{"vpd-day": 2.98 * 0.15, "vpd-night": 2.06 * 0.03, "night-humidity": 97, "air-temperature": 24, "ec": 2.6} {
		if math.Abs(got[key]-want) > 0.005*max(1, want) {
			t.Errorf("%s is %v, want %v", key, got[key], want)
		}
	}
	b := bench(t, nil)
	x, err := trouble.Examine(model(t), &trouble.Bench{Bench: b, Now: now, Sensed: sensed}, trouble.Asked{Symptoms: []string{"outer-margin-burn"}})
	if err != nil {
		t.Fatal(err)
	}
	if r := find(x.Records, "ec"); r.Trust != diagnosis.TrustSensor || r.Text != "2.6 mS/cm" || !strings.Contains(r.From, "sensors") {
		t.Errorf("%+v", r)
	}
	if x.Causes[0].Key != "margin-burn" {
		t.Errorf("first is %s", x.Causes[0].Key)
	}
	a := trouble.Applied(b, sensed)
	if math.Abs(float64(a.Air.Day.Humidity.Value)-0.85) > 0.002 || math.Abs(float64(a.Air.Night.Humidity.Value)-0.97) > 1e-9 || b.Air.Night.Humidity.Value == 0.97 {
		t.Errorf("applied %+v", a.Air)
	}
}

// At most four questions are asked, none twice; passing over leaves the odds unchanged.
func TestQuestions(t *testing.T) {
	m := model(t)
	b := &trouble.Bench{Bench: bench(t, nil), Now: noon}
	asked := trouble.Asked{Symptoms: []string{"wilt"}}
	var first []float64
	for n := 0; ; n++ {
		x, err := trouble.Examine(m, b, asked)
		if err != nil {
			t.Fatal(err)
		}
		var chances []float64
		for _, c := range x.Causes {
			chances = append(chances, c.Chance)
		}
		if first == nil {
			first = chances
		}
		for i := range first {
			if math.Abs(first[i]-chances[i]) > 1e-12 {
				t.Fatalf("a question passed over moved %v to %v", first[i], chances[i])
			}
		}
		if x.Next == nil {
			if n != trouble.MostQuestions {
				t.Errorf("%d questions were asked", n)
			}
			break
		}
		asked.Answers = append(asked.Answers, trouble.Answer{Finding: x.Next.Finding.Key})
	}
	for _, wrong := range []trouble.Asked{{Symptoms: []string{"nonsense"}}, {Symptoms: []string{"wilt"}, Answers: []trouble.Answer{{"roots", "green"}}}, {Symptoms: []string{"wilt"}, Answers: []trouble.Answer{{"dli", "dim"}}}, {Symptoms: []string{"wilt"}, Answers: []trouble.Answer{{"roots", ""}, {"roots", "dry"}}}} {
		if _, err := trouble.Examine(m, b, wrong); err == nil {
			t.Errorf("%+v gave no error", wrong)
		}
	}
}

// The first change against inner burn is the first in the table's order that the outlook
// thinks helps; its figures are those of the outlook.
func TestFirstChangeIsForecast(t *testing.T) {
	b := &trouble.Bench{Bench: bench(t, func(s string) string { return strings.Replace(s, "dimming: 70 %", "dimming: 100 %", 1) }), Now: noon}
	b.Crop.Tendency = underlamp.Said(underlamp.Prone)
	b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.NoFan), underlamp.UsualSpeed(underlamp.NoFan)
	var err error
	if b.Light, err = light.NewModel(b.Bench); err != nil {
		t.Fatal(err)
	}
	if b.Outlook, err = outlook.New(b.Light, 60); err != nil {
		t.Fatal(err)
	}
	x, err := trouble.Examine(model(t), b, trouble.Asked{Symptoms: []string{"inner-leaf-burn"}})
	if err != nil {
		t.Fatal(err)
	}
	if err := x.Advise(b); err != nil {
		t.Fatal(err)
	}
	if x.Causes[0].Key != "inner-burn" || x.First == nil || x.First.Effect == nil || x.First.Effect.Key != "fan-down" || x.First.Effect.Judgment != "helps" {
		t.Fatalf("first cause %s, change %+v", x.Causes[0].Key, x.First)
	}
	w, ok, err := b.Outlook.Try("fan-down")
	if err != nil || !ok || w != *x.First.Effect {
		t.Errorf("%+v, %v, %v", w, ok, err)
	}
	if !x.Again.Equal(noon.AddDate(0, 0, 7)) || !strings.Contains(x.First.Says(), "chance of burn") {
		t.Errorf("again %v: %s", x.Again, x.First.Says())
	}
}

func opened(t testing.TB) store.Store {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// Cases are kept, concluded and counted, in a store and in a file beside the bench.
func TestCases(t *testing.T) {
	ctx := context.Background()
	folder, err := safefolder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	m := model(t)
	b := &trouble.Bench{Bench: bench(t, nil), Now: noon}
	for name, keep := range map[string]trouble.Keep{"store": opened(t), "beside": &trouble.Beside{Folder: folder, File: "shelf.trouble.json"}} {
		x, err := trouble.Examine(m, b, trouble.Asked{Symptoms: []string{"pale-old", "slow"}})
		if err != nil {
			t.Fatal(err)
		}
		if err := x.Advise(b); err != nil {
			t.Fatal(err)
		}
		var ids []string
		for range 4 {
			c := trouble.NewCase("shelf", x, "Ida", "")
			if err := trouble.Save(ctx, keep, c, noon); err != nil {
				t.Fatal(name, err)
			}
			ids = append(ids, c.ID)
		}
		other := trouble.NewCase("shelf-2", x, "", "")
		if err := trouble.Save(ctx, keep, other, noon); err != nil {
			t.Fatal(err)
		}
		end := func(id, cause, helped string) error {
			return trouble.Conclude(ctx, keep, m.Table(), "shelf", id, trouble.Outcome{At: noon, Cause: cause, Help: helped}, noon)
		}
		for i, cause := range []string{x.Causes[0].Key, x.Causes[1].Key, "virus"} {
			if err := end(ids[i], cause, "yes"); err != nil {
				t.Fatal(name, err)
			}
		}
		if end(ids[3], "magic", "") == nil || end(ids[3], "", "perhaps") == nil || end("none", "", "") == nil {
			t.Error(name, "a wrong outcome was recorded")
		}
		all, faults, err := trouble.Cases(ctx, keep, "shelf")
		if err != nil || len(faults) > 0 || len(all) != 4 {
			t.Fatal(name, err, faults, len(all))
		}
		if got := trouble.Count(all); got != (trouble.Tally{Open: 1, Right: 1, Second: 1, Later: 1, Helped: 3, Tried: 3}) {
			t.Errorf("%s: %+v", name, got)
		}
		if err := end(ids[2], x.Causes[0].Key, ""); err != nil { // put right: the last counts
			t.Fatal(err)
		}
		all, _, _ = trouble.Cases(ctx, keep, "shelf")
		if got := trouble.Count(all); got.Right != 2 || got.Later != 0 {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// No text is taken for a case of another version, and none ends the program.
func FuzzReadCase(f *testing.F) {
	f.Add(`{"underlamp trouble":1,"id":"a","bench":"b","symptoms":["wilt"],"outcomes":[{"cause":"iron"}]}`)
	f.Add(`{"underlamp trouble":2}`)
	f.Fuzz(func(t *testing.T, text string) {
		c, err := trouble.ReadCase([]byte(text))
		if err != nil {
			return
		}
		if c.Version != 1 {
			t.Fatal("another version was read")
		}
		trouble.Count([]*trouble.Case{c}).Says()
		if _, err := json.Marshal(c); err != nil {
			t.Fatal(err)
		}
	})
}

// The watch opens one message and one case when the forecast passes the limit, and closes
// the message when the limit is far off again.
func TestWatchOpensACase(t *testing.T) {
	ctx := context.Background()
	s := opened(t)
	b := bench(t, nil)
	now := time.Date(2026, 10, 30, 12, 0, 0, 0, time.UTC)
	b.Crop.Transplanted = "2026-10-12"
	b.Crop.Tendency = underlamp.Said(underlamp.Prone)
	b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.NoFan), underlamp.UsualSpeed(underlamp.NoFan)
	b.Limits.Burn.Value = 0.01
	w := &trouble.Watches{Keep: s, Model: model(t), Draws: 40, Zone: time.UTC, Log: slog.New(slog.DiscardHandler), Benches: func(context.Context) ([]live.Bench, error) {
		return []live.Bench{{Key: "shelf", Bench: b}}, nil
	}}
	for range 2 { // the second look adds nothing
		if err := w.Look(ctx, now); err != nil {
			t.Fatal(err)
		}
	}
	open, err := s.OpenMessages(ctx, "shelf")
	if err != nil || len(open) != 1 || open[0].Rule != live.RuleBurn || !strings.Contains(open[0].Text, "limit is 1 %") {
		t.Fatal(err, open)
	}
	all, _, err := trouble.Cases(ctx, s, "shelf")
	if err != nil || len(all) != 1 || all[0].Rule != live.RuleBurn || all[0].Change == "" || trouble.Count(all) != (trouble.Tally{}) {
		t.Fatal(err, all)
	}
	// The engine leaves it alone.
	engine := live.New(s, w.Benches, live.Options{Zone: time.UTC, Now: func() time.Time { return now }})
	if err := engine.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	if open, _ = s.OpenMessages(ctx, "shelf"); len(open) != 1 {
		t.Fatal("the engine closed the message of another")
	}
	b.Limits.Burn.Value = 1
	if err := w.Look(ctx, now); err != nil {
		t.Fatal(err)
	}
	if open, _ = s.OpenMessages(ctx, "shelf"); len(open) != 0 {
		t.Error("the message stays open")
	}
}

// Every symptom of the table can be named by its key, and by a word that is its own.
func TestSymptomByWord(t *testing.T) {
	table := evidencefile.Builtin()
	for _, f := range trouble.Symptoms(table) {
		if got, err := trouble.Symptom(table, f.Key); err != nil || got != f.Key {
			t.Errorf("%s: %s, %v", f.Key, got, err)
		}
	}
	if got, err := trouble.Symptom(table, "corky"); err != nil || got != "blisters" {
		t.Errorf("%s, %v", got, err)
	}
	if _, err := trouble.Symptom(table, "leaves"); err == nil {
		t.Error("a word of many symptoms named one")
	}
}

// Weighings are set beside the band of the outlook for their day.
func TestGrowthBesideTheOutlook(t *testing.T) {
	b := &trouble.Bench{Bench: bench(t, nil), Now: noon, Forecast: &outlook.Forecast{}}
	for range 20 {
		b.Forecast.Course = append(b.Forecast.Course, outlook.DayBand{Fresh: outlook.Band{Low: 80, Mid: 100, High: 125}})
	}
	for state, grams := range map[string][]float64{"less than the band of the outlook": {60, 70}, "within the band": {70, 100}, "more than the band": {140, 130}} {
		b.Weighed = nil
		for _, g := range grams {
			b.Weighed = append(b.Weighed, trouble.Weighing{Day: 10, Gram: g})
		}
		if r := find(b.Records(evidencefile.Builtin()), "growth"); r == nil || r.State != state {
			t.Errorf("%v: %+v, want %s", grams, r, state)
		}
	}
	b.Weighed = []trouble.Weighing{{Day: 40, Gram: 10}} // after the outlook ends
	if r := find(b.Records(evidencefile.Builtin()), "growth"); r != nil {
		t.Errorf("%+v", r)
	}
}
