package sensitivity_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/sensitivity"
)

// shares runs a function of d inputs over n draws of uniforms on lo to hi.
func shares(n, d int, lo, hi float64, f func([]float64) float64) []sensitivity.Share {
	rng := rand.New(rand.NewPCG(7, 11))
	x := make([][]float64, d)
	y := make([]float64, n)
	row := make([]float64, d)
	for i := range n {
		for j := range d {
			row[j] = lo + (hi-lo)*rng.Float64()
			x[j] = append(x[j], row[j])
		}
		y[i] = f(row)
	}
	out := make([]sensitivity.Share, d)
	for j := range d {
		out[j] = sensitivity.Of(x[j], y)
	}
	return out
}

// IshigamiHomma1990: f = sin x1 + a sin² x2 + b x3⁴ sin x1 over −π to π has
//
//	V = a²/8 + b π⁴/5 + b² π⁸/18 + 1/2
//	S1 = (1 + b π⁴/5)²/(2V),  S2 = a²/(8V),  S3 = 0.
//
// With a = 7, b = 0.1: 0.3139, 0.4424, 0.
func TestIshigami(t *testing.T) {
	t.Parallel()
	const a, b = 7, 0.1
	p4 := math.Pow(math.Pi, 4)
	v := a*a/8.0 + b*p4/5 + b*b*p4*p4/18 + 0.5
	want := []float64{(1 + b*p4/5) * (1 + b*p4/5) / (2 * v), a * a / (8 * v), 0}
	got := shares(20000, 3, -math.Pi, math.Pi, func(x []float64) float64 {
		return math.Sin(x[0]) + a*math.Pow(math.Sin(x[1]), 2) + b*math.Pow(x[2], 4)*math.Sin(x[0])
	})
	for j, g := range got {
		// Three standard errors, and 1 % for the width of a class.
		if math.Abs(g.Value-want[j]) > 3*g.SE+0.01 {
			t.Errorf("input %d: share %.4f ± %.4f, want %.4f", j+1, g.Value, g.SE, want[j])
		}
	}
}

// The g-function of Sobol: f = Π (|4x−2| + a)/(1 + a) over 0 to 1 has the partial
// variances V_j = 1/(3 (1+a_j)²) and V = Π (1 + V_j) − 1 (Sobol2001).
func TestProductOfSobol(t *testing.T) {
	t.Parallel()
	a := []float64{0, 1, 4.5, 9, 99, 99}
	total := 1.0
	want := make([]float64, len(a))
	for j := range a {
		want[j] = 1 / (3 * (1 + a[j]) * (1 + a[j]))
		total *= 1 + want[j]
	}
	got := shares(20000, len(a), 0, 1, func(x []float64) float64 {
		f := 1.0
		for j := range a {
			f *= (math.Abs(4*x[j]-2) + a[j]) / (1 + a[j])
		}
		return f
	})
	for j, g := range got {
		if w := want[j] / (total - 1); math.Abs(g.Value-w) > 3*g.SE+0.01 {
			t.Errorf("input %d: share %.4f ± %.4f, want %.4f", j+1, g.Value, g.SE, w)
		}
	}
}

// A sum of independent inputs: shares are their variances over the whole
// (analytic), even with the few draws of a forecast, and an input that does
// nothing has a share within chance of 0.
func TestSumWithFewDraws(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 5))
	const n = 1000
	weights := []float64{2, 1, 0.5, 0}
	x := make([][]float64, len(weights))
	y := make([]float64, n)
	for i := range n {
		for j, w := range weights {
			z := rng.NormFloat64()
			x[j] = append(x[j], z)
			y[i] += w * z
		}
	}
	for j, w := range weights {
		g, want := sensitivity.Of(x[j], y), w*w/5.25
		if math.Abs(g.Value-want) > 3*g.SE+0.01 {
			t.Errorf("input %d: share %.3f ± %.3f, want %.3f", j, g.Value, g.SE, want)
		}
	}
}

// Shares lie in 0 to 1, do not change with the unit of either side, and the
// standard error covers the truth about as often as it should.
func TestSharesProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(sensitivity.FewestDraws, 600).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		rng := rand.New(rand.NewPCG(seed, 1))
		x, y := make([]float64, n), make([]float64, n)
		slope := rapid.Float64Range(-3, 3).Draw(t, "slope")
		for i := range n {
			x[i] = math.Round(3*rng.NormFloat64()) / 3 // ties
			y[i] = slope*x[i] + rng.NormFloat64()
		}
		g := sensitivity.Of(x, y)
		if !(g.Value >= 0 && g.Value <= 1) || !(g.SE >= 0) {
			t.Fatalf("share %g ± %g", g.Value, g.SE)
		}
		for i := range n {
			x[i], y[i] = 2.54*x[i]+32, 100*y[i]
		}
		if h := sensitivity.Of(x, y); math.Abs(h.Value-g.Value) > 1e-9 {
			t.Fatalf("share %g became %g in other units", g.Value, h.Value)
		}
	})
}

func TestShareNotKnown(t *testing.T) {
	t.Parallel()
	many := make([]float64, 2*sensitivity.FewestDraws)
	ramp := make([]float64, len(many))
	for i := range ramp {
		ramp[i] = float64(i)
	}
	if s := sensitivity.Of(ramp, many); !math.IsNaN(s.Value) {
		t.Errorf("an answer that does not vary has the share %g", s.Value)
	}
	if s := sensitivity.Of(many, ramp); s.Value != 0 {
		t.Errorf("an input that does not vary has the share %g", s.Value)
	}
	if s := sensitivity.Of(ramp[:10], ramp[:10]); !math.IsNaN(s.Value) {
		t.Errorf("ten draws give the share %g", s.Value)
	}
	odd := append([]float64(nil), ramp...)
	odd[3], odd[4] = math.NaN(), math.Inf(1)
	if s := sensitivity.Of(ramp, odd); !(s.Value > 0.95) {
		t.Errorf("with two answers missing the share is %g", s.Value)
	}
}

func BenchmarkOf(b *testing.B) {
	b.ReportAllocs()
	rng := rand.New(rand.NewPCG(1, 2))
	x, y := make([]float64, 2000), make([]float64, 2000)
	for i := range x {
		x[i], y[i] = rng.Float64(), rng.Float64()
	}
	for b.Loop() {
		sensitivity.Of(x, y)
	}
}

// How much of the area of a leaf rests on its length, how much on its width?
func ExampleOf() {
	rng := rand.New(rand.NewPCG(1, 2))
	var length, area []float64
	for range 4000 {
		l, w := 10+2*rng.NormFloat64(), 6+0.6*rng.NormFloat64()
		length, area = append(length, l), append(area, 0.7*l*w)
	}
	fmt.Printf("length carries %.1f of the variance\n", sensitivity.Of(length, area).Value)
	// Output: length carries 0.8 of the variance
}
