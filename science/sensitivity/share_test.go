package sensitivity_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/sensitivity"
)

func uniform(rng *rand.Rand, d, n int) [][]float64 {
	x := make([][]float64, d)
	for i := range x {
		x[i] = make([]float64, n)
		for j := range x[i] {
			x[i][j] = rng.Float64()
		}
	}
	return x
}

func results(x [][]float64, f func(at []float64) float64) []float64 {
	y := make([]float64, len(x[0]))
	at := make([]float64, len(x))
	for j := range y {
		for i := range x {
			at[i] = x[i][j]
		}
		y[j] = f(at)
	}
	return y
}

// ishigami is y = sin x₁ + 7 sin² x₂ + 0.1 x₃⁴ sin x₁, x uniform from −π to π
// (IshigamiHomma1990; the shares follow by integration, as in Saltelli2008).
func ishigami(u []float64) float64 {
	x := [3]float64{}
	for i := range x {
		x[i] = math.Pi * (2*u[i] - 1)
	}
	return math.Sin(x[0]) + 7*math.Pow(math.Sin(x[1]), 2) + 0.1*math.Pow(x[2], 4)*math.Sin(x[0])
}

func ishigamiShares() []float64 {
	const a, b = 7.0, 0.1
	p4 := math.Pow(math.Pi, 4)
	v1, v2 := math.Pow(1+b*p4/5, 2)/2, a*a/8
	v := a*a/8 + b*p4/5 + b*b*p4*p4/18 + 0.5
	return []float64{v1 / v, v2 / v, 0}
}

// g is the g-function of Sobol, Π (|4 u − 2| + a)/(1 + a) (Saltelli2008).
var ga = []float64{0, 1, 4.5, 9, 99}

func g(u []float64) float64 {
	p := 1.0
	for i, v := range u {
		p *= (math.Abs(4*v-2) + ga[i]) / (1 + ga[i])
	}
	return p
}

func gShares() []float64 {
	out, total := make([]float64, len(ga)), 1.0
	for i, a := range ga {
		out[i] = 1 / (3 * (1 + a) * (1 + a))
		total *= 1 + out[i]
	}
	for i := range out {
		out[i] /= total - 1
	}
	return out
}

// The mean over repetitions must be the analytic share, to within 0.01 (cosines above
// the eighth are left out: 0.1 % of the |4u−2| and 0.3 % of the sine) plus three of its
// own standard errors; and the standard error that is told must be that of the
// repetitions within a third.
func TestAnalyticShares(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		f    func([]float64) float64
		want []float64
	}{{"Ishigami", ishigami, ishigamiShares()}, {"g-function", g, gShares()}} {
		const repeats, n = 60, 1000
		sum, square, told := make([]float64, len(c.want)), make([]float64, len(c.want)), make([]float64, len(c.want))
		for r := range repeats {
			x := uniform(rand.New(rand.NewPCG(uint64(r), 9)), len(c.want), n)
			for i, s := range sensitivity.Shares(x, results(x, c.f)) {
				sum[i] += s.First / repeats
				square[i] += s.First * s.First / repeats
				told[i] += s.SE / repeats
			}
		}
		for i, want := range c.want {
			sd := math.Sqrt(square[i] - sum[i]*sum[i])
			t.Logf("%s x%d: %.4f, analytic %.4f; standard error %.4f told, %.4f found", c.name, i+1, sum[i], want, told[i], sd)
			if math.Abs(sum[i]-want) > 0.01+3*sd/math.Sqrt(repeats) {
				t.Errorf("%s x%d: %.4f, analytic %.4f", c.name, i+1, sum[i], want)
			}
			if r := told[i] / sd; r < 0.67 || r > 1.5 {
				t.Errorf("%s x%d: standard error %.4f told, %.4f over repetitions", c.name, i+1, told[i], sd)
			}
		}
	}
}

// Shares do not change when the result or an input is stretched and shifted.
func TestScalesDoNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		a, b := rapid.Float64Range(0.1, 100).Draw(t, "stretch"), rapid.Float64Range(-1000, 1000).Draw(t, "shift")
		x := uniform(rand.New(rand.NewPCG(seed, 1)), 3, 200)
		y := results(x, ishigami)
		before := sensitivity.Shares(x, y)
		for j := range y {
			y[j] = a*y[j] + b
			x[0][j] = math.Exp(x[0][j])
		}
		for i, s := range sensitivity.Shares(x, y) {
			if math.Abs(s.First-before[i].First) > 1e-9 || math.Abs(s.SE-before[i].SE) > 1e-9 {
				t.Fatalf("input %d: %v became %v", i, before[i], s)
			}
		}
	})
}

func TestNothingToShare(t *testing.T) {
	t.Parallel()
	x := uniform(rand.New(rand.NewPCG(1, 1)), 2, 100)
	flat := make([]float64, 100)
	for i, s := range sensitivity.Shares(x, flat) {
		if !math.IsNaN(s.First) {
			t.Errorf("input %d of a result that does not vary: %v", i, s)
		}
	}
	y := results(x, func(u []float64) float64 { return u[0] })
	if got := sensitivity.Shares([][]float64{x[0], flat}, y); got[1] != (sensitivity.Share{}) || got[0].First < 0.99 {
		t.Errorf("an input that does not vary: %v", got)
	}
	y[3] = math.NaN()
	if got := sensitivity.Shares(x, y); !math.IsNaN(got[0].First) {
		t.Errorf("a result that is no number: %v", got)
	}
	if got := sensitivity.Shares([][]float64{{1, 2}}, []float64{1, 2}); !math.IsNaN(got[0].First) {
		t.Errorf("two draws: %v", got)
	}
	defer func() {
		if recover() == nil {
			t.Error("lengths that differ did not panic")
		}
	}()
	sensitivity.Shares([][]float64{{1}}, y)
}

func ExampleShares() {
	// A result that follows its first input and hardly its second.
	x := uniform(rand.New(rand.NewPCG(1, 2)), 2, 2000)
	y := results(x, func(u []float64) float64 { return 3*u[0] + u[1] })
	for _, s := range sensitivity.Shares(x, y) {
		fmt.Printf("%.1f\n", s.First)
	}
	// Output:
	// 0.9
	// 0.1
}

func BenchmarkShares16x1000(b *testing.B) {
	x := uniform(rand.New(rand.NewPCG(1, 1)), 16, 1000)
	y := results(x, ishigami)
	b.ReportAllocs()
	for b.Loop() {
		sensitivity.Shares(x, y)
	}
}
