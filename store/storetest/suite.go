package storetest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp/store"
	"underlamp/store/packed"
)

// Run holds a store to its promises. open gives an empty one for each call.
func Run(t *testing.T, open func(t *testing.T) store.Store) {
	t.Run("readings against a map", func(t *testing.T) { readings(t, open(t)) })
	t.Run("readings from many at once", func(t *testing.T) { together(t, open(t)) })
	t.Run("readings that cannot be", func(t *testing.T) { refused(t, open(t)) })
	t.Run("sensors", func(t *testing.T) { sensors(t, open(t)) })
	t.Run("benches", func(t *testing.T) { benches(t, open(t)) })
	t.Run("observations", func(t *testing.T) { observations(t, open(t)) })
	t.Run("documents", func(t *testing.T) { documents(t, open(t)) })
	t.Run("photos", func(t *testing.T) { photos(t, open(t)) })
	t.Run("devices", func(t *testing.T) { devices(t, open(t)) })
	t.Run("people", func(t *testing.T) { people(t, open(t)) })
	t.Run("tokens", func(t *testing.T) { tokens(t, open(t)) })
	t.Run("answers", func(t *testing.T) { answers(t, open(t)) })
	t.Run("vitals", func(t *testing.T) { vitals(t, open(t)) })
	t.Run("messages", func(t *testing.T) { messages(t, open(t)) })
	t.Run("deliveries", func(t *testing.T) { deliveries(t, open(t)) })
	t.Run("a stopped call", func(t *testing.T) { stopped(t, open(t)) })
}

// Together holds a store that was brought up to date to what it held when readings and
// sums lay in one table, block: insert enters a row of it into the earlier version, data nil
// where the readings were forgotten.
func Together(t *testing.T, insert func(sensor, hour int64, b store.Bucket, data []byte), open func() store.Store) {
	ctx := context.Background()
	want := map[int64][]packed.Sample{}
	for sensor := int64(1); sensor <= 2; sensor++ {
		for h := range int64(2000) { // 83 days
			var samples []packed.Sample
			var b store.Bucket
			for i := range int64(3) {
				samples = append(samples, packed.Sample{At: h*store.Hour + i*store.Minute, Value: float64(h*sensor + i)})
				b.Add(float64(h*sensor + i))
			}
			data := packed.Encode(nil, h*store.Hour, samples)
			if h%2 == 0 { // the layout of that time
				data = data[:len(data)-4]
				data[0] = 1
			}
			if sensor == 1 && h < 900 {
				data = nil
			} else {
				want[sensor] = append(want[sensor], samples...)
			}
			insert(sensor, h*store.Hour, b, data)
		}
	}
	s := open()
	for sensor := int64(1); sensor <= 2; sensor++ {
		got, err := s.Samples(ctx, sensor, 0, 3000*store.Hour)
		sums, err2 := s.Buckets(ctx, sensor, 0, 3000*store.Hour, store.Hour)
		if err != nil || err2 != nil || !slices.Equal(got, want[sensor]) || len(sums) != 2000 || sums[7].Max != float64(7*sensor+2) {
			t.Errorf("sensor %d: %d readings, want %d; %d sums; %v %v", sensor, len(got), len(want[sensor]), len(sums), err, err2)
		}
	}
	// A late reading of a forgotten hour goes its way; one of another hour is kept.
	if err := s.Append(ctx, []store.Reading{{Sensor: 1, At: 5, Value: 1}, {Sensor: 1, At: 950*store.Hour + 5, Value: 1}}); err != nil {
		t.Fatal(err)
	}
	if n, err := s.Fold(ctx); err != nil || n != 2 {
		t.Errorf("%d folded, %v", n, err)
	}
	if got, err := s.Samples(ctx, 1, 0, 3000*store.Hour); err != nil || len(got) != len(want[1])+1 {
		t.Errorf("%d readings after late ones, want %d, %v", len(got), len(want[1])+1, err)
	}
	sound(t, s)
}

// sound fails if the store finds fault with itself.
func sound(t testing.TB, s store.Store) {
	t.Helper()
	faults, err := s.Verify(context.Background())
	if err != nil || len(faults) > 0 {
		t.Fatalf("verify: %v, %v", faults, err)
	}
}

// readings does what a rapid generator comes up with, to the store and to a map, and
// compares all that can be asked.
func readings(t *testing.T, s store.Store) {
	ctx := context.Background()
	round := 0
	rapid.Check(t, func(t *rapid.T) {
		round++
		var ids []int64
		for i := range 2 { // sensors of this round alone
			id, err := s.PutSensor(ctx, store.Sensor{Key: fmt.Sprintf("round %d sensor %d", round, i), Quantity: "temperature", Unit: "°C"})
			if err != nil {
				t.Fatal(err)
			}
			ids = append(ids, id)
		}
		type key struct{ sensor, at int64 }
		model := map[key]float64{}
		forgotten := map[int64]int64{}
		const begin = 1_767_225_600 * store.Second // 2026-01-01
		for range rapid.IntRange(1, 8).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"append", "append", "append", "fold", "forget"}).Draw(t, "step") {
			case "append":
				var batch []store.Reading
				for range rapid.IntRange(0, 30).Draw(t, "n") {
					r := store.Reading{
						Sensor: rapid.SampledFrom(ids).Draw(t, "sensor"),
						At:     begin + rapid.Int64Range(0, 30).Draw(t, "half hours")*store.Hour/2 + rapid.Int64Range(-3, 3).Draw(t, "off")*store.Second,
						Value:  math.Round(rapid.Float64Range(-50, 50).Draw(t, "value")*10) / 10,
					}
					if r.At < forgotten[r.Sensor] {
						continue // what comes late for a forgotten hour is another promise
					}
					batch = append(batch, r)
					model[key{r.Sensor, r.At}] = r.Value
				}
				if err := s.Append(ctx, batch); err != nil {
					t.Fatal(err)
				}
			case "fold":
				if _, err := s.Fold(ctx); err != nil {
					t.Fatal(err)
				}
			case "forget":
				sensor := rapid.SampledFrom(ids).Draw(t, "sensor")
				before := begin + rapid.Int64Range(0, 5).Draw(t, "hours")*store.Hour
				if err := s.Forget(ctx, sensor, before); err != nil {
					t.Fatal(err)
				}
				forgotten[sensor] = max(forgotten[sensor], before)
			}
		}
		for _, id := range ids {
			var all []packed.Sample
			for k, v := range model {
				if k.sensor == id {
					all = append(all, packed.Sample{At: k.at, Value: v})
				}
			}
			slices.SortFunc(all, func(a, b packed.Sample) int { return cmp.Compare(a.At, b.At) })
			from := begin + rapid.Int64Range(-2, 10).Draw(t, "from")*store.Hour + rapid.Int64Range(0, 2).Draw(t, "minutes")*20*store.Minute
			to := from + rapid.Int64Range(0, 20).Draw(t, "long")*45*store.Minute
			raw := max(from, forgotten[id]) // readings before are gone, sums by whole hours stay
			want := between(all, raw, to)
			got, err := s.Samples(ctx, id, from, to)
			if err != nil || !slices.Equal(got, want) {
				t.Fatalf("sensor %d from %d to %d: %d samples, want %d (%v)\n%v\n%v", id, from, to, len(got), len(want), err, got, want)
			}
			for _, width := range []int64{store.Second, 7 * store.Minute, store.Hour, 3 * store.Hour, store.Day} {
				from, to := from, to
				seen := between(all, raw, to)
				if width%store.Hour == 0 { // the sums of forgotten hours stay, if they are asked for whole
					from, to = hours(from), hours(to)
					seen = between(all, from, to)
				}
				sums(t, s, id, from, to, width, seen)
			}
		}
	})
	sound(t, s)
}

func hours(at int64) int64 { return at - ((at%store.Hour)+store.Hour)%store.Hour }

// sums holds the buckets against adding up the samples one by one.
func sums(t *rapid.T, s store.Store, id, from, to, width int64, seen []packed.Sample) {
	got, err := s.Buckets(context.Background(), id, from, to, width)
	if err != nil {
		t.Fatal(err)
	}
	want := map[int64]*store.Bucket{}
	for _, x := range seen {
		begin := x.At - ((x.At%width)+width)%width
		if want[begin] == nil {
			want[begin] = &store.Bucket{From: begin}
		}
		want[begin].Add(x.Value)
	}
	if len(got) != len(want) {
		t.Fatalf("%d stretches of %d s, want %d: %v", len(got), width/store.Second, len(want), got)
	}
	last := int64(math.MinInt64)
	for _, b := range got {
		w := want[b.From]
		if w == nil || b.From <= last || b.N != w.N || b.Min != w.Min || b.Max != w.Max || b.First != w.First || b.Last != w.Last || math.Abs(b.Sum-w.Sum) > 1e-9*(1+math.Abs(w.Sum)) {
			t.Fatalf("stretch of %d s: %+v, want %+v", width/store.Second, b, w)
		}
		last = b.From
	}
}

func between(all []packed.Sample, from, to int64) []packed.Sample {
	var out []packed.Sample
	for _, s := range all {
		if s.At >= from && s.At < to {
			out = append(out, s)
		}
	}
	return out
}

// together appends from many goroutines while others fold and read: every reading
// is there in the end, once, and no reader ever sees one less than before.
func together(t *testing.T, s store.Store) {
	ctx := context.Background()
	id, err := s.PutSensor(ctx, store.Sensor{Key: "busy"})
	if err != nil {
		t.Fatal(err)
	}
	const writers, batches, size = 6, 25, 40
	var writing, beside sync.WaitGroup
	over := make(chan struct{})
	for w := range writers {
		writing.Go(func() {
			for b := range batches {
				var rs []store.Reading
				for i := range size {
					rs = append(rs, store.Reading{Sensor: id, At: int64((b*size+i)*writers+w) * store.Second, Value: float64(w)})
				}
				if err := s.Append(ctx, rs); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	beside.Go(func() {
		for {
			select {
			case <-over:
				return
			default:
			}
			if _, err := s.Fold(ctx); err != nil {
				t.Error(err)
				return
			}
		}
	})
	beside.Go(func() {
		last := 0
		for {
			got, err := s.Samples(ctx, id, 0, store.Day*100)
			if err != nil || len(got) < last {
				t.Errorf("%d samples after %d, %v", len(got), last, err)
				return
			}
			last = len(got)
			select {
			case <-over:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	})
	writing.Wait()
	close(over)
	beside.Wait()
	got, err := s.Samples(ctx, id, 0, store.Day*100)
	if err != nil || len(got) != writers*batches*size {
		t.Fatalf("%d samples, want %d (%v)", len(got), writers*batches*size, err)
	}
	for i, x := range got {
		if x.At != int64(i)*store.Second || x.Value != float64(i%writers) {
			t.Fatalf("sample %d: %+v", i, x)
		}
	}
	sound(t, s)
}

func refused(t *testing.T, s store.Store) {
	ctx := context.Background()
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	good := store.Reading{Sensor: id, At: 5 * store.Second, Value: 1}
	for name, bad := range map[string]store.Reading{
		"no number":       {Sensor: id, At: 1, Value: math.NaN()},
		"endless":         {Sensor: id, At: 1, Value: math.Inf(1)},
		"no sensor":       {At: 1, Value: 1},
		"before 1970":     {Sensor: id, At: -1, Value: 1},
		"after year 9999": {Sensor: id, At: math.MaxInt64, Value: 1},
	} {
		if err := s.Append(ctx, []store.Reading{good, bad}); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	if got, err := s.Samples(ctx, id, 0, store.Day); err != nil || len(got) != 0 {
		t.Errorf("of refused batches %v is kept (%v)", got, err)
	}
	if _, err := s.Buckets(ctx, id, 0, store.Day, store.Second/2); err == nil {
		t.Error("stretches of half a second were taken")
	}
	// The greatest and smallest numbers that can be come back.
	odd := []float64{math.MaxFloat64, -math.SmallestNonzeroFloat64, math.Copysign(0, -1), 0.1 + 0.2}
	var rs []store.Reading
	for i, v := range odd {
		rs = append(rs, store.Reading{Sensor: id, At: int64(i + 1), Value: v})
	}
	if err := s.Append(ctx, rs); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		got, err := s.Samples(ctx, id, 0, store.Day)
		if err != nil || len(got) != len(odd) {
			t.Fatalf("%v, %v", got, err)
		}
		for i, x := range got {
			if math.Float64bits(x.Value) != math.Float64bits(odd[i]) {
				t.Errorf("%g came back as %g", odd[i], x.Value)
			}
		}
		if _, err := s.Fold(ctx); err != nil {
			t.Fatal(err)
		}
	}
}

func sensors(t *testing.T, s store.Store) {
	ctx := context.Background()
	x := 0.3
	in := store.Sensor{Key: "rack/air", Bench: "rack", Quantity: "temperature", Unit: "°C", X: &x, Every: 10 * time.Second, Note: "beside the fan",
		Calibrations: []store.Calibration{{From: 10, Gain: 1, Offset: 0.4}, {From: 20, Gain: 1.02, Offset: 0.1, By: "ice water"}}}
	id, err := s.PutSensor(ctx, in)
	if err != nil {
		t.Fatal(err)
	}
	in.Note = "moved to the shelf"
	again, err := s.PutSensor(ctx, in)
	if err != nil || again != id {
		t.Errorf("the same sensor is %d and then %d (%v)", id, again, err)
	}
	if _, err := s.PutSensor(ctx, store.Sensor{}); err == nil {
		t.Error("a sensor without a name was taken")
	}
	other, err := s.PutSensor(ctx, store.Sensor{Key: "a'b\"c; drop table sensor; -- ☘"})
	if err != nil || other == id {
		t.Errorf("another sensor: %d, %v", other, err)
	}
	got, err := s.Sensor(ctx, "rack/air")
	if err != nil || got.ID != id || got.Note != in.Note || *got.X != x || len(got.Calibrations) != 2 || got.Every != in.Every {
		t.Errorf("%+v, %v", got, err)
	}
	for at, want := range map[int64]float64{5: 21, 10: 20.6, 19: 20.6, 20: 1.02 * 20.9, 99: 1.02 * 20.9} {
		if v := got.True(at, 21); math.Abs(v-want) > 1e-12 {
			t.Errorf("21 read at %d means %g, want %g", at, v, want)
		}
	}
	if _, err := s.Sensor(ctx, "nobody"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a sensor that is not there: %v", err)
	}
	all, err := s.Sensors(ctx)
	if err != nil || len(all) != 2 {
		t.Errorf("%d sensors, %v", len(all), err)
	}
}

func benches(t *testing.T, s store.Store) {
	ctx := context.Background()
	put := func(from, recorded int64, text string) int {
		t.Helper()
		n, err := s.PutBench(ctx, store.Version{Bench: "top tier", From: from, Recorded: recorded, By: "a", Why: "slipped", Text: []byte(text)})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if n := put(100, 100, "lamps at 30 cm"); n != 1 {
		t.Errorf("the first version is number %d", n)
	}
	if n := put(100, 105, "lamps at 30 cm"); n != 1 {
		t.Errorf("the same again is number %d", n)
	}
	put(300, 300, "lamps at 34 cm")
	put(200, 310, "lamps at 32 cm")         // told late
	put(100, 320, "lamps at 31 cm, a slip") // puts the first right
	for at, want := range map[int64]string{100: "lamps at 31 cm, a slip", 199: "lamps at 31 cm, a slip", 200: "lamps at 32 cm", 299: "lamps at 32 cm", 300: "lamps at 34 cm", 1e15: "lamps at 34 cm"} {
		if v, err := s.Bench(ctx, "top tier", at); err != nil || string(v.Text) != want {
			t.Errorf("at %d: %q (%v), want %q", at, v.Text, err, want)
		}
	}
	if _, err := s.Bench(ctx, "top tier", 99); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("before the first version: %v", err)
	}
	if _, err := s.Bench(ctx, "cellar", 99); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a bench that is not there: %v", err)
	}
	h, err := s.History(ctx, "top tier")
	if err != nil || len(h) != 4 || h[3].Number != 4 || string(h[0].Text) != "lamps at 30 cm" || h[3].By != "a" || h[3].Why != "slipped" {
		t.Errorf("history %+v, %v", h, err)
	}
	// Several at once are entered all or none.
	if n, err := s.PutBenches(ctx, []store.Version{{Bench: "top tier", From: 400, Text: []byte("a")}, {Bench: "other", From: 500, Text: []byte("b")}}); err == nil {
		t.Errorf("versions of two benches were entered at once as number %d", n)
	}
	if n, err := s.PutBenches(ctx, []store.Version{{Bench: "top tier", From: 150, Text: []byte("a")}, {Bench: "top tier", From: 200, Text: []byte("b")}}); err != nil || n != 6 {
		t.Errorf("number %d, %v", n, err)
	}
	for at, want := range map[int64]string{149: "lamps at 31 cm, a slip", 150: "a", 200: "b", 300: "lamps at 34 cm"} {
		if v, err := s.Bench(ctx, "top tier", at); err != nil || string(v.Text) != want {
			t.Errorf("at %d: %q (%v), want %q", at, v.Text, err, want)
		}
	}
	if names, err := s.Benches(ctx); err != nil || !slices.Equal(names, []string{"top tier"}) {
		t.Errorf("benches %v, %v", names, err)
	}
	// Two that enter at once get numbers of their own.
	var wg sync.WaitGroup
	var mu sync.Mutex
	numbers := map[int]bool{}
	for i := range 24 {
		wg.Go(func() {
			n, err := s.PutBench(ctx, store.Version{Bench: "shared", From: int64(i + 1), Text: []byte{byte(i)}})
			if err != nil {
				t.Error(err)
			}
			mu.Lock()
			numbers[n] = true
			mu.Unlock()
		})
	}
	wg.Wait()
	if len(numbers) != 24 {
		t.Errorf("24 at once got the numbers %v", slices.Sorted(maps.Keys(numbers)))
	}
}

func observations(t *testing.T, s store.Store) {
	ctx := context.Background()
	first := store.Observation{ID: "a", Bench: "b", At: 10, Recorded: 11, Doc: []byte(`{"mass_g":12}`)}
	second := store.Observation{ID: "c", Bench: "b", At: 20, Recorded: 21, Doc: []byte(`{"mass_g":13}`)}
	if err := s.Observe(ctx, []store.Observation{first, second}); err != nil {
		t.Fatal(err)
	}
	late := first
	late.Recorded = 99 // sent again from a queue
	if err := s.Observe(ctx, []store.Observation{late}); err != nil {
		t.Errorf("sent again: %v", err)
	}
	other := first
	other.Doc = []byte(`{"mass_g":120}`)
	news := store.Observation{ID: "d", Bench: "b", At: 30, Doc: []byte(`{}`)}
	if err := s.Observe(ctx, []store.Observation{news, other}); !errors.Is(err, store.ErrDiffers) {
		t.Errorf("an id with another content: %v", err)
	}
	right := store.Observation{ID: "e", Bench: "b", At: 10, Recorded: 50, Corrects: "a", Doc: []byte(`{"mass_g":21}`)}
	gone := store.Observation{ID: "f", Bench: "b", At: 20, Recorded: 51, Corrects: "c", Struck: true, Doc: []byte(`{"why":"wrong plant"}`)}
	if err := s.Observe(ctx, []store.Observation{right, gone}); err != nil {
		t.Fatal(err)
	}
	all, err := s.Observations(ctx, "b", 0, 100)
	if err != nil || len(all) != 4 || all[0].ID != "a" || all[0].Recorded != 11 {
		t.Fatalf("%+v, %v", all, err)
	}
	if count := store.Counting(all); len(count) != 1 || count[0].ID != "e" {
		t.Errorf("counting %+v", count)
	}
	if some, err := s.Observations(ctx, "b", 15, 20); err != nil || len(some) != 0 {
		t.Errorf("%v, %v", some, err)
	}
	if err := s.Observe(ctx, []store.Observation{{ID: "x"}}); err == nil {
		t.Error("an observation of no bench was taken")
	}
	sound(t, s)
}

func devices(t *testing.T, s store.Store) {
	ctx := context.Background()
	if err := s.AddDevice(ctx, store.Device{Name: "rack", Made: 5}, [32]byte{1}); err != nil {
		t.Fatal(err)
	}
	if err := s.AddDevice(ctx, store.Device{Name: "rack", Made: 6}, [32]byte{2}); !errors.Is(err, store.ErrDiffers) {
		t.Errorf("the same name again: %v", err)
	}
	if err := s.AddDevice(ctx, store.Device{}, [32]byte{3}); err == nil {
		t.Error("a device without a name was taken")
	}
	if err := s.AddDevice(ctx, store.Device{Name: "cellar", Made: 7}, [32]byte{4}); err != nil {
		t.Fatal(err)
	}
	if d, err := s.DeviceBy(ctx, [32]byte{1}); err != nil || d.Name != "rack" {
		t.Errorf("%+v, %v", d, err)
	}
	if _, err := s.DeviceBy(ctx, [32]byte{2}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a token that nobody has: %v", err)
	}
	if err := s.Revoke(ctx, "rack", 9); err != nil {
		t.Fatal(err)
	}
	if _, err := s.DeviceBy(ctx, [32]byte{1}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a revoked token: %v", err)
	}
	if err := s.Revoke(ctx, "nobody", 9); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("revoking nobody: %v", err)
	}
	if all, err := s.Devices(ctx); err != nil || len(all) != 2 || all[1] != (store.Device{Name: "rack", Made: 5, Revoked: 9}) {
		t.Errorf("%+v, %v", all, err)
	}
}

// vitals: the newest reading of each sensor, folded or not, late or not; what waits; and
// what it takes.
func vitals(t *testing.T, s store.Store) {
	ctx := context.Background()
	var ids []int64
	for _, key := range []string{"a", "b", "silent"} {
		id, err := s.PutSensor(ctx, store.Sensor{Key: key})
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	hold := func(backlog int64, want ...store.Reading) {
		t.Helper()
		got, err := s.Latest(ctx)
		n, berr := s.Backlog(ctx)
		if err != nil || berr != nil || !slices.Equal(got, want) || n != backlog {
			t.Errorf("newest %v, want %v; %d wait, want %d; %v %v", got, want, n, backlog, err, berr)
		}
	}
	step := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	hold(0)
	step(s.Append(ctx, []store.Reading{{Sensor: ids[0], At: 5 * store.Hour, Value: 1}, {Sensor: ids[1], At: 3 * store.Hour, Value: 2}, {Sensor: ids[0], At: 5*store.Hour + 7, Value: 3}}))
	a, b := store.Reading{Sensor: ids[0], At: 5*store.Hour + 7, Value: 3}, store.Reading{Sensor: ids[1], At: 3 * store.Hour, Value: 2}
	hold(3, a, b)
	_, err := s.Fold(ctx)
	step(err)
	hold(0, a, b)
	step(s.Append(ctx, []store.Reading{{Sensor: ids[0], At: 4 * store.Hour, Value: 9}, {Sensor: ids[1], At: 3 * store.Hour, Value: 8}}))
	b.Value = 8 // sent anew for the same instant
	hold(2, a, b)
	step(s.Forget(ctx, ids[0], 6*store.Hour))
	a.At = 5 * store.Hour
	hold(0, a, b)
	step(s.Ping(ctx))
	hold(0, a, b)
	size, err := s.Size(ctx)
	if err != nil || size.Bytes <= 0 || size.Waiting != 0 || len(size.Sensors) != 2 ||
		size.Sensors[0].Readings != 0 || size.Sensors[0].Forgotten != 3 || size.Sensors[0].First != 4*store.Hour || size.Sensors[0].Last != 5*store.Hour ||
		size.Sensors[1].Readings != 1 || size.Sensors[1].Bytes <= 0 || size.Tables[0] != (store.TableSize{Name: "sensor", Rows: 3}) {
		t.Errorf("%+v, %v", size, err)
	}
	sound(t, s)
}

// stopped: a call whose context has ended does nothing.
func stopped(t *testing.T, s store.Store) {
	id, err := s.PutSensor(context.Background(), store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := s.Append(ctx, []store.Reading{{Sensor: id, At: 1, Value: 1}}); err == nil {
		t.Error("a stopped call was done")
	}
	if got, err := s.Samples(context.Background(), id, 0, 10); err != nil || len(got) != 0 {
		t.Errorf("of a stopped call %v is kept (%v)", got, err)
	}
}

func documents(t *testing.T, s store.Store) {
	ctx := context.Background()
	put := func(kind, name, text string, at int64) {
		t.Helper()
		if err := s.PutDocument(ctx, store.Document{Kind: kind, Name: name, Recorded: at, Text: []byte(text)}); err != nil {
			t.Fatal(err)
		}
	}
	put("table", "rack", "old", 1)
	put("table", "rack", "new", 2)
	put("table", "attic", "", 3)
	put("keep", "rack", "another kind", 4)
	if d, err := s.Document(ctx, "table", "rack"); err != nil || string(d.Text) != "new" || d.Recorded != 2 || d.Kind != "table" || d.Name != "rack" {
		t.Errorf("%+v, %v", d, err)
	}
	if all, err := s.Documents(ctx, "table"); err != nil || len(all) != 2 || all[0].Name != "attic" || len(all[0].Text) != 0 {
		t.Errorf("%+v, %v", all, err)
	}
	if err := s.PutDocument(ctx, store.Document{Kind: "table"}); err == nil {
		t.Error("a document without a name was taken")
	}
	if err := s.DropDocument(ctx, "table", "rack"); err != nil {
		t.Error(err)
	}
	if err := s.DropDocument(ctx, "table", "rack"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("dropped twice: %v", err)
	}
	if _, err := s.Document(ctx, "table", "rack"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("after it was dropped: %v", err)
	}
	if _, err := s.Document(ctx, "keep", "rack"); err != nil {
		t.Errorf("of another kind: %v", err)
	}

	swap := func(was []byte, text string, at int64) error {
		return s.SwapDocument(ctx, store.Document{Kind: "swap", Name: "table", Recorded: at, Text: []byte(text)}, was)
	}
	for _, x := range []struct {
		was  []byte
		text string
		fits bool
	}{{[]byte("a"), "b", false}, {nil, "", true}, {nil, "a", false}, {[]byte{}, "a", true}, {[]byte("x"), "b", false}, {[]byte("a"), "b", true}, {[]byte("a"), "c", false}} {
		if err := swap(x.was, x.text, 5); x.fits != (err == nil) || !x.fits && !errors.Is(err, store.ErrDiffers) {
			t.Errorf("%q for %q: %v", x.text, x.was, err)
		}
	}
	if d, err := s.Document(ctx, "swap", "table"); err != nil || string(d.Text) != "b" || d.Recorded != 5 {
		t.Errorf("%+v, %v", d, err)
	}
	// Many who each add a letter lose none.
	const many = 8
	var all sync.WaitGroup
	for range many {
		all.Go(func() {
			for {
				d, err := s.Document(ctx, "swap", "table")
				if err == nil {
					err = swap(d.Text, string(d.Text)+"+", 6)
				}
				if !errors.Is(err, store.ErrDiffers) {
					if err != nil {
						t.Error(err)
					}
					return
				}
			}
		})
	}
	all.Wait()
	if d, err := s.Document(ctx, "swap", "table"); err != nil || string(d.Text) != "b"+strings.Repeat("+", many) {
		t.Errorf("%q, %v", d.Text, err)
	}
}

func photos(t *testing.T, s store.Store) {
	ctx := context.Background()
	data := []byte{0xff, 0xd8, 0, 1, 2}
	p := store.Photo{ID: "a", Bench: "b", At: 10, Recorded: 11, Media: "image/jpeg", Doc: []byte(`{"plant":3}`)}
	if err := s.PutPhoto(ctx, p, data); err != nil {
		t.Fatal(err)
	}
	late := p
	late.Recorded = 99
	if err := s.PutPhoto(ctx, late, data); err != nil {
		t.Errorf("sent again: %v", err)
	}
	if err := s.PutPhoto(ctx, p, []byte{1}); !errors.Is(err, store.ErrDiffers) {
		t.Errorf("other bytes under one id: %v", err)
	}
	if err := s.PutPhoto(ctx, store.Photo{ID: "c", Bench: "b", At: 5}, []byte{7}); err != nil {
		t.Error(err)
	}
	for name, bad := range map[string]struct {
		p    store.Photo
		data []byte
	}{
		"no id":   {store.Photo{Bench: "b"}, data},
		"no data": {store.Photo{ID: "x", Bench: "b"}, nil},
		"large":   {store.Photo{ID: "x", Bench: "b"}, make([]byte, store.MaxPhoto+1)},
	} {
		if err := s.PutPhoto(ctx, bad.p, bad.data); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	got, bytes, err := s.Photo(ctx, "a")
	if err != nil || got.Recorded != 11 || got.Media != "image/jpeg" || string(got.Doc) != `{"plant":3}` || !slices.Equal(bytes, data) {
		t.Errorf("%+v, %v, %v", got, bytes, err)
	}
	if _, _, err := s.Photo(ctx, "z"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("one that is not there: %v", err)
	}
	if all, err := s.Photos(ctx, "b", 0, 10); err != nil || len(all) != 1 || all[0].ID != "c" {
		t.Errorf("%+v, %v", all, err)
	}
	if all, err := s.Photos(ctx, "b", 0, 11); err != nil || len(all) != 2 || all[1].ID != "a" {
		t.Errorf("%+v, %v", all, err)
		m := store.Measure{Photo: "a", Method: "m 1", Recorded: 20, Doc: []byte(`{"area":3}`), Pictures: []store.NamedPicture{{Name: "overlay", Data: []byte{1, 2}}}}
		other := m
		other.Recorded, other.Doc = 30, []byte("{}") // a second server that read it too: the first stays
		for _, x := range []store.Measure{m, other, {Photo: "a", Method: "m 2", Recorded: 40}, {Photo: "c", Method: "m 1", Recorded: 50}} {
			if err := s.PutMeasure(ctx, x); err != nil {
				t.Errorf("%s %s: %v", x.Photo, x.Method, err)
			}
		}
		if all, err := s.Measures(ctx, "b"); err != nil || len(all) != 3 || all[0].Photo != "c" || all[1].Method != "m 1" || all[1].Recorded != 20 || string(all[1].Doc) != `{"area":3}` || all[2].Method != "m 2" {
			t.Errorf("%+v, %v", all, err)
		}
		if data, err := s.MeasurePicture(ctx, "a", "m 1", "overlay"); err != nil || !slices.Equal(data, []byte{1, 2}) {
			t.Errorf("%v, %v", data, err)
		}
		if _, err := s.MeasurePicture(ctx, "a", "m 2", "overlay"); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a picture that is not there: %v", err)
		}
		if err := s.PutMeasure(ctx, store.Measure{Method: "m"}); err == nil {
			t.Error("a measure of no photo")
		}
		v := store.Verdict{ID: "v", Photo: "a", Recorded: 7, By: "Ada", Doc: []byte(`{"burn":true}`)}
		for range 2 {
			if err := s.PutVerdict(ctx, v); err != nil {
				t.Error(err)
			}
		}
		v.By = "Ida"
		if err := s.PutVerdict(ctx, v); !errors.Is(err, store.ErrDiffers) {
			t.Errorf("another verdict under one id: %v", err)
		}
		for bench, want := range map[string]int{"b": 1, "": 1, "x": 0} {
			if all, err := s.Verdicts(ctx, bench); err != nil || len(all) != want {
				t.Errorf("bench %q: %+v, %v", bench, all, err)
			}
		}
	}
}
