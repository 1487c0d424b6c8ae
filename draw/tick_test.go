package draw

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
)

// Expected by hand from the rule: the smallest of 1, 2, 5 times a power of ten.
func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi   float64
		most     int
		want     []float64
		decimals int
	}{
		{0, 100, 6, []float64{0, 20, 40, 60, 80, 100}, 0},
		{0, 1, 6, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}, 1},
		{0, 0.3, 4, []float64{0, 0.1, 0.2, 0.3}, 1},
		{1, 35, 8, []float64{5, 10, 15, 20, 25, 30, 35}, 0},
		{152, 318, 5, []float64{200, 250, 300}, 0},
		{-7, 7, 4, []float64{-5, 0, 5}, 0},
		{3, 3, 5, []float64{3}, 0},
		{math.NaN(), 1, 5, nil, 0},
		{2, 1, 5, nil, 0},
	} {
		got, decimals := ticks(c.lo, c.hi, c.most)
		if c.lo == c.hi { // one number; its decimals are free
			decimals = 0
		}
		if !slices.Equal(got, c.want) || decimals != c.decimals {
			t.Errorf("ticks(%g, %g, %d) = %v with %d decimals, want %v with %d", c.lo, c.hi, c.most, got, decimals, c.want, c.decimals)
		}
	}
}

func TestBands(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		most   int
		want   []float64
	}{
		{152, 318, 10, []float64{140, 160, 180, 200, 220, 240, 260, 280, 300, 320}},
		{0, 0.31, 4, []float64{0, 0.1, 0.2, 0.3, 0.4}},
		{-18, 7, 6, []float64{-20, -15, -10, -5, 0, 5, 10}},
		{0, 0, 5, []float64{0, 0.1}},
	} {
		got, _ := bands(c.lo, c.hi, c.most)
		if !slices.Equal(got, c.want) {
			t.Errorf("bands(%g, %g, %d) = %v, want %v", c.lo, c.hi, c.most, got, c.want)
		}
	}
}

// Laws: ticks lie within, bands cover; both ascend evenly and are few; and the
// decimals print them exactly.
func TestTickLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mag := math.Pow(10, rapid.Float64Range(-6, 8).Draw(t, "magnitude"))
		lo := rapid.Float64Range(-1, 1).Draw(t, "lo") * mag
		hi := lo + rapid.Float64Range(0.001, 1).Draw(t, "span")*mag
		most := rapid.IntRange(2, 15).Draw(t, "most")
		at, decimals := ticks(lo, hi, most)
		if len(at) > most {
			t.Fatalf("%d ticks, at most %d", len(at), most)
		}
		limits, _ := bands(lo, hi, most)
		if len(limits)-1 > most || len(limits) < 2 {
			t.Fatalf("%d bands, at most %d", len(limits)-1, most)
		}
		slack := 1e-7 * (hi - lo)
		if len(at) > 0 && (at[0] < lo-slack || at[len(at)-1] > hi+slack) {
			t.Fatalf("ticks %v leave %g to %g", at, lo, hi)
		}
		if limits[0] > lo+slack || limits[len(limits)-1] < hi-slack {
			t.Fatalf("bands %v do not cover %g to %g", limits, lo, hi)
		}
		for i := 2; i < len(limits); i++ {
			if d, e := limits[1]-limits[0], limits[i]-limits[i-1]; math.Abs(d-e) > 1e-6*d {
				t.Fatalf("bands %v are uneven", limits)
			}
		}
		for _, v := range at {
			p := math.Pow10(decimals)
			if math.Abs(v*p-math.Round(v*p)) > 1e-6 {
				t.Fatalf("%d decimals do not print %v", decimals, v)
			}
		}
	})
}

// Hostile spans end, and give few numbers.
func TestTicksOfHostileSpans(t *testing.T) {
	all := []float64{0, 1, -1, 5e-324, 1e-300, 1e300, math.MaxFloat64, -math.MaxFloat64, 1 + 1e-15, math.Inf(1), math.NaN()}
	for _, lo := range all {
		for _, hi := range all {
			at, _ := ticks(lo, hi, 6)
			limits, _ := bands(lo, hi, 6)
			if len(at) > 6 || len(limits) > 7 {
				t.Errorf("%g to %g: %d ticks, %d limits", lo, hi, len(at), len(limits))
			}
			for _, v := range append(at, limits...) {
				if math.IsNaN(v) {
					t.Errorf("%g to %g: NaN", lo, hi)
				}
			}
		}
	}
}

// ThompsonTaylor2008: 1 in = 2.54 cm exactly; so a bench of 48 in is 1.2192 m.
func TestRuler(t *testing.T) {
	at, labels := newRuler(quantity.US).ticks(1.2192, 8)
	if want := []string{"0", "6", "12", "18", "24", "30", "36", "42", "48"}; !slices.Equal(labels, want) {
		t.Errorf("labels %v, want %v", labels, want)
	}
	if math.Abs(at[2]-0.3048) > 1e-12 {
		t.Errorf("12 in at %g m, want 0.3048", at[2])
	}
	_, labels = newRuler(quantity.Metric).ticks(0.6, 6)
	if want := []string{"0", "10", "20", "30", "40", "50", "60"}; !slices.Equal(labels, want) {
		t.Errorf("labels %v, want %v", labels, want)
	}
}

// Two labels that want the same place part evenly; a third far off stays.
func TestSpread(t *testing.T) {
	got := spread([]float64{10, 10, 100}, 16, 0, 200)
	if want := []float64{2, 18, 100}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if got := spread([]float64{1, 1}, 16, 0, 200); !slices.Equal(got, []float64{0, 16}) {
		t.Errorf("at the edge got %v, want 0 and 16", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		wanted := rapid.SliceOfN(rapid.Float64Range(0, 200), 0, 8).Draw(t, "wanted")
		slices.Sort(wanted)
		got := spread(wanted, 16, 0, 200)
		for i := range got {
			if got[i] < -1e-9 || got[i] > 200+1e-9 || i > 0 && got[i]-got[i-1] < 16-1e-9 {
				t.Fatalf("%v became %v", wanted, got)
			}
		}
	})
}

func TestWrapFits(t *testing.T) {
	// "80 %" is 2 digits, a blank and a percent sign, and stays together.
	if got := wrap("from 65 to 80 %", textWidth("from 65 to 80", 12)+1, 12); !slices.Equal(got, []string{"from 65 to", "80 %"}) {
		t.Errorf("wrapped as %q", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[a-z ]{0,80}`).Draw(t, "s")
		for _, line := range wrap(s, 90, 12) {
			if textWidth(line, 12) > 90 {
				t.Fatalf("%q is too wide", line)
			}
		}
	})
}
