package diagnosis

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// two is a table with two causes and findings whose numbers can be worked out by hand.
func two() *Table {
	return &Table{
		Causes: []Cause{{Key: "a", Name: "a", Often: Usual}, {Key: "b", Name: "b", Often: Often}},
		Findings: []Finding{
			{Key: "sign", Name: "sign", Kind: Symptom, States: []State{
				{Key: "seen", Name: "seen", Share: 0.1, Rows: []Row{{Cause: "a", Strength: VeryStrong}}},
				{Key: "not-seen", Name: "not seen", Share: 0.9},
			}},
			{Key: "coin", Name: "coin", Kind: Answer, Ask: "Which?", States: []State{
				{Key: "one", Name: "one", Share: 0.5, Rows: []Row{{Cause: "a", Strength: Strong}}},
				{Key: "two", Name: "two", Share: 0.5, Rows: []Row{{Cause: "b", Strength: Strong}}},
			}},
			{Key: "read", Name: "read", Kind: Record, Bounds: []float64{1, 3}, States: []State{
				{Key: "low", Name: "low", Share: 0.2, Rows: []Row{{Cause: "b", Strength: Fair}}},
				{Key: "usual", Name: "usual", Share: 0.5},
				{Key: "high", Name: "high", Share: 0.3, Rows: []Row{{Cause: "a", Strength: -Slight}}},
			}},
		},
	}
}

func model(t testing.TB) *Model {
	t.Helper()
	m, err := New(two())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within {
		t.Errorf("%s is %.6f, want %.6f", what, got, want)
	}
}

// By hand. Priors 1 : 2 : 1. Very strong is a factor of 20: P(seen | a) = 0.1·20/(0.1·20 + 0.9)
// = 2/2.9, of others 0.1. Trusted by nine tenths the ratio is 0.1 + 0.9·(20/2.9).
func TestPosteriorByHand(t *testing.T) {
	m := model(t)
	got := m.Chances([]Found{m.t.Is("sign", "seen", 0.9)})
	ratio := 0.1 + 0.9*20/2.9
	near(t, "a", got["a"], ratio/(ratio+2+1), 1e-12)
	near(t, "b", got["b"], 2/(ratio+2+1), 1e-12)
	near(t, "else", got[Else], 1/(ratio+2+1), 1e-12)

	// Between two states: P(low | b) = 0.2√10/(0.2√10 + 0.8); 0.25 low and 0.75 usual.
	w := math.Sqrt(10)
	z := 0.2*w + 0.8
	b := 0.25*w/z + 0.75/z
	a := 0.25/(0.7+0.3/math.Sqrt2) + 0.75/(0.7+0.3/math.Sqrt2)
	got = m.Chances([]Found{{"read", []float64{0.25, 0.75, 0}, 1}})
	near(t, "b of two states", got["b"], 2*b/(a+2*b+1), 1e-12)
}

// What is not known leaves the odds as they were: left out, or not trusted at all.
func TestUnknownChangesNothing(t *testing.T) {
	m := model(t)
	for _, found := range [][]Found{nil, {m.t.Is("sign", "seen", 0)}, {m.t.Is("coin", "one", 0), m.t.Is("read", "high", 0)}} {
		got := m.Chances(found)
		near(t, "a", got["a"], 0.25, 1e-12)
		near(t, "b", got["b"], 0.5, 1e-12)
		near(t, "else", got[Else], 0.25, 1e-12)
	}
}

// Two causes alike and a finding that tells them apart with error e carry 1 − H(e) bits: the
// capacity of a binary symmetric channel (Shannon 1948, from memory).
func TestInformationOfAChannel(t *testing.T) {
	table := two()
	table.Causes[1].Often = Usual
	m, err := New(table)
	if err != nil {
		t.Fatal(err)
	}
	w := math.Sqrt(50)
	p := 0.1*0.5 + 0.9*w/(1+w)
	h := -p*math.Log2(p) - (1-p)*math.Log2(1-p)
	q := m.Between(nil, "a", "b", map[string]bool{"sign": true})
	if q == nil || q.Finding.Key != "coin" {
		t.Fatalf("asked %+v", q)
	}
	near(t, "information", q.Bits, 1-h, 1e-12)
	if q := m.Next(nil, map[string]bool{"coin": true}); q != nil {
		t.Errorf("asked %s again", q.Finding.Key)
	}
	if q := m.Next([]Found{table.Is("coin", "one", TrustSeen)}, nil); q != nil {
		t.Errorf("asked %s, which is known", q.Finding.Key)
	}
}

// The range of a strength holds nine tenths of its draws, and the band of a posterior its middle.
func TestBands(t *testing.T) {
	m := model(t)
	in := 0
	for k := 1; k <= draws; k++ {
		p := m.chance[k][0][0][0] // P(seen | a)
		if w := p / (1 - p) * 9; w >= 10 && w <= 40 {
			in++
		}
	}
	if share := float64(in) / draws; share < 0.86 || share > 0.94 {
		t.Errorf("%.3f of the draws lie within the range, want 0.9", share)
	}
	for _, r := range m.Rank([]Found{m.t.Is("sign", "seen", 0.9)}) {
		if !(r.Low <= r.Chance && r.Chance <= r.High && r.High-r.Low > 0.05) {
			t.Errorf("%s: %.3f (%.3f to %.3f)", r.Key, r.Chance, r.Low, r.High)
		}
	}
}

func TestReasons(t *testing.T) {
	m := model(t)
	top := m.Rank([]Found{m.t.Is("sign", "seen", 0.9), m.t.Is("coin", "two", 0.9)})
	i := slices.IndexFunc(top, func(r Ranked) bool { return r.Key == "a" })
	a := top[i]
	if len(a.For) != 1 || a.For[0].Finding.Key != "sign" || a.For[0].Row == nil || len(a.Against) != 1 || a.Against[0].Row != nil {
		t.Errorf("for %+v, against %+v", a.For, a.Against)
	}
}

func TestOfBlursBounds(t *testing.T) {
	f := two().Finding("read")
	if w := f.Of(2, 0); !slices.Equal(w, []float64{0, 1, 0}) {
		t.Errorf("%v", w)
	}
	w := f.Of(1, 0.5)
	near(t, "on the bound", w[0], 0.5, 1e-12)
	near(t, "sum", w[0]+w[1]+w[2], 1, 1e-12)
}

// Whatever is found, chances add up to one, do not hang on the order, and a finding for a
// cause never lowers it.
func TestLaws(t *testing.T) {
	m := model(t)
	rapid.Check(t, func(r *rapid.T) {
		var found []Found
		for _, f := range m.t.Findings {
			if rapid.Bool().Draw(r, f.Key) {
				s := rapid.SampledFrom(f.States).Draw(r, "state")
				found = append(found, m.t.Is(f.Key, s.Key, rapid.Float64Range(0, 1).Draw(r, "trust")))
			}
		}
		a := m.Chances(found)
		slices.Reverse(found)
		b := m.Chances(found)
		sum := 0.0
		for k, v := range a {
			sum += v
			if math.Abs(v-b[k]) > 1e-12 || v < 0 {
				r.Fatalf("%s: %v, %v", k, v, b[k])
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			r.Fatalf("sum %v", sum)
		}
		for _, f := range found {
			if f.Finding == "sign" {
				return
			}
		}
		if more := m.Chances(append(found, m.t.Is("sign", "seen", 0.5))); more["a"] < a["a"] {
			r.Fatalf("what speaks for a lowered it: %v to %v", a["a"], more["a"])
		}
	})
}

func TestCheck(t *testing.T) {
	for name, spoil := range map[string]func(*Table){
		"no cause":     func(t *Table) { t.Causes = nil },
		"twice":        func(t *Table) { t.Causes[1].Key = "a" },
		"else":         func(t *Table) { t.Causes[0].Key = Else },
		"one state":    func(t *Table) { t.Findings[0].States = t.Findings[0].States[:1] },
		"sum":          func(t *Table) { t.Findings[0].States[0].Share = 0.2 },
		"cause":        func(t *Table) { t.Findings[0].States[0].Rows[0].Cause = "c" },
		"bounds":       func(t *Table) { t.Findings[2].Bounds = []float64{3, 1} },
		"bounds short": func(t *Table) { t.Findings[2].Bounds = []float64{3} },
		"share":        func(t *Table) { t.Findings[0].States[0].Share = math.NaN() },
	} {
		x := two()
		spoil(x)
		if _, err := New(x); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func BenchmarkRank(b *testing.B) {
	m := model(b)
	found := []Found{m.t.Is("sign", "seen", 0.9)}
	b.ReportAllocs()
	for b.Loop() {
		m.Rank(found)
	}
}
