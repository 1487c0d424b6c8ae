package packed_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"underlamp/store/packed"
)

// What is packed comes back bit by bit, whatever the values and steps.
func TestComesBackExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.Int64Range(-1e15, 4e15).Draw(t, "start")
		n := rapid.IntRange(0, 200).Draw(t, "n")
		kind := rapid.SampledFrom([]string{"decimal", "any", "bits", "steady"}).Draw(t, "kind")
		at := start + rapid.Int64Range(-1e9, 1e9).Draw(t, "first")
		var in []packed.Sample
		for range n {
			v := 0.0
			switch kind {
			case "decimal":
				v = math.Round(rapid.Float64Range(-1e4, 1e4).Draw(t, "v")*100) / 100
			case "any":
				v = rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64).Draw(t, "v")
			case "bits":
				if v = math.Float64frombits(rapid.Uint64().Draw(t, "v")); math.IsNaN(v) {
					v = math.Inf(-1)
				}
			}
			in = append(in, packed.Sample{At: at, Value: v})
			step := int64(10_000_000)
			if kind != "steady" {
				step = rapid.Int64Range(1, 1e10).Draw(t, "step")
			}
			at += step
		}
		data := packed.Encode([]byte("kept"), start, in)
		out, err := packed.Decode([]packed.Sample{{At: 7}}, start, data[4:])
		if err != nil || string(data[:4]) != "kept" || len(out) != n+1 || out[0].At != 7 {
			t.Fatalf("%d samples, %v", len(out), err)
		}
		for i, s := range out[1:] {
			if s.At != in[i].At || math.Float64bits(s.Value) != math.Float64bits(in[i].Value) {
				t.Fatalf("sample %d: %v, was %v", i, s, in[i])
			}
		}
	})
}

// A block in which any byte is changed, or that stands at another start, is refused; one
// of the layout before is read.
func TestDamageIsNoticed(t *testing.T) {
	in := hour()
	data := packed.Encode(nil, 0, in)
	for i := range data {
		for bit := range 8 {
			bad := slices.Clone(data)
			if bad[i] ^= 1 << bit; bad[0] == 1 {
				continue // taken for the layout before, with four bytes too many
			}
			if _, err := packed.Decode(nil, 0, bad); err == nil {
				t.Fatalf("bit %d of byte %d is changed, and the block is taken", bit, i)
			}
		}
	}
	if _, err := packed.Decode(nil, 3_600_000_000, data); err == nil {
		t.Error("a block at another start is taken")
	}
	old := slices.Clone(data[:len(data)-4])
	old[0] = 1
	if out, err := packed.Decode(nil, 0, old); err != nil || !slices.Equal(out, in) {
		t.Errorf("layout 1: %d samples, %v", len(out), err)
	}
	old = slices.Clone(data)
	old[0] = 1
	if _, err := packed.Decode(nil, 0, old); err == nil {
		t.Error("a block of layout 1 with four bytes too many is taken")
	}
}

// A quiet thermometer, a lively light sensor and one that reports raw numbers: bytes
// for each reading, the goal of the package.
func TestSmall(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name  string
		value func(i int) float64
		step  func() int64
		most  float64 // bytes a reading
	}{
		{"air to 0.1 °C every 10 s", func(i int) float64 { return math.Round(10*(21+math.Sin(float64(i)/60)+0.1*r.NormFloat64())) / 10 }, func() int64 { return 10e6 }, 1.05},
		{"PPFD to 1 every second, in uneven milliseconds", func(int) float64 { return math.Round(240 + 3*r.NormFloat64()) }, func() int64 { return 1e6 + int64(r.IntN(20))*1000 }, 5.1},
		{"raw numbers of 53 bits", func(int) float64 { return 20 + r.Float64() }, func() int64 { return 1e6 }, 8},
	} {
		var in []packed.Sample
		at := int64(0)
		for i := range 3600 {
			in = append(in, packed.Sample{At: at, Value: c.value(i)})
			at += c.step()
		}
		if per := float64(len(packed.Encode(nil, 0, in))) / 3600; per > c.most {
			t.Errorf("%s: %.2f bytes a reading, want at most %.2f", c.name, per, c.most)
		} else {
			t.Logf("%s: %.2f bytes a reading", c.name, per)
		}
	}
}

// Merging is what a map by instant would hold, in order.
func TestMerge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		run := func(name string) []packed.Sample {
			byAt := map[int64]float64{}
			for _, at := range rapid.SliceOf(rapid.Int64Range(0, 50)).Draw(t, name) {
				byAt[at] = rapid.Float64().Draw(t, "v")
			}
			return sorted(byAt)
		}
		a, b := run("a"), run("b")
		want := map[int64]float64{}
		for _, s := range append(slices.Clone(a), b...) {
			want[s.At] = s.Value
		}
		if got := packed.Merge(nil, a, b); !slices.Equal(got, sorted(want)) {
			t.Fatalf("%v and %v give %v", a, b, got)
		}
	})
}

func sorted(byAt map[int64]float64) []packed.Sample {
	out := []packed.Sample{}
	for at, v := range byAt {
		out = append(out, packed.Sample{At: at, Value: v})
	}
	slices.SortFunc(out, func(a, b packed.Sample) int { return int(a.At - b.At) })
	return out
}

// A damaged block gives an error or samples in order, never a panic nor memory out of
// proportion.
func FuzzDecode(f *testing.F) {
	f.Add([]byte{1, 0})
	f.Add([]byte{1, 2, 0, 2, 1, 0, 4, 2})
	f.Add(packed.Encode(nil, 0, []packed.Sample{{At: 5, Value: 1.5}, {At: 15, Value: 1.25}, {At: 25, Value: math.Pi}}))
	f.Fuzz(func(t *testing.T, data []byte) {
		out, err := packed.Decode(nil, 0, data)
		if err != nil {
			if len(out) > 0 {
				t.Error("samples beside an error")
			}
			return
		}
		if !slices.IsSortedFunc(out, func(a, b packed.Sample) int { return int(a.At - b.At) }) {
			t.Error("out of order")
		}
		again, err := packed.Decode(nil, 0, packed.Encode(nil, 0, out))
		if err != nil || len(again) != len(out) {
			t.Errorf("packed again: %d samples for %d, %v", len(again), len(out), err)
		}
	})
}

func BenchmarkEncode(b *testing.B) {
	in := hour()
	buf := packed.Encode(nil, 0, in)
	b.ReportAllocs()
	for b.Loop() {
		buf = packed.Encode(buf[:0], 0, in)
	}
}

func BenchmarkDecode(b *testing.B) {
	data := packed.Encode(nil, 0, hour())
	out, _ := packed.Decode(nil, 0, data)
	b.ReportAllocs()
	for b.Loop() {
		out, _ = packed.Decode(out[:0], 0, data)
	}
}

func hour() (out []packed.Sample) {
	for i := range 360 {
		out = append(out, packed.Sample{At: int64(i) * 10e6, Value: math.Round(210+10*math.Sin(float64(i)/20)) / 10})
	}
	return out
}
