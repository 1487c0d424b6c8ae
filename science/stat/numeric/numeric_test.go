package numeric_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"underlamp/science/stat/numeric"
)

// Roots of functions whose roots are known, also where the bracket is lopsided.
func TestRoot(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		root := rapid.Float64Range(-5, 5).Draw(r, "root")
		lo := root - rapid.Float64Range(1e-6, 100).Draw(r, "below")
		hi := root + rapid.Float64Range(1e-6, 100).Draw(r, "above")
		for _, f := range []func(float64) float64{
			func(x float64) float64 { return x - root },
			func(x float64) float64 { return math.Atan(50 * (x - root)) },
			func(x float64) float64 { return math.Cbrt(x - root) },
			func(x float64) float64 { return math.Expm1(root - x) },
		} {
			n := 0
			got := numeric.Root(func(x float64) float64 { n++; return f(x) }, lo, hi)
			if math.Abs(got-root) > 1e-13*(1+math.Abs(root)) {
				r.Fatalf("got %v, want %v", got, root)
			}
			if n > 400 {
				r.Fatalf("%d evaluations", n)
			}
		}
	})
}

func TestRootNeedsABracket(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic without a change of sign")
		}
	}()
	numeric.Root(func(x float64) float64 { return 1 + x*x }, -1, 1)
}

func TestLeast(t *testing.T) {
	for _, at := range []float64{-3, 0.2, 7} {
		if got := numeric.Least(func(x float64) float64 { return (x - at) * (x - at) }, -10, 20); math.Abs(got-at) > 1e-7*(1+math.Abs(at)) {
			t.Errorf("got %v, want %v", got, at)
		}
	}
}

// n nodes integrate polynomials of degree 2n − 1 exactly.
func TestLegendre(t *testing.T) {
	for _, n := range []int{1, 2, 5, 20} {
		r := numeric.On(n, -1, 0.3, 0.3, 2)
		for k := range 2 * n {
			var s float64
			for i, x := range r.X {
				s += r.W[i] * math.Pow(x, float64(k))
			}
			want := (math.Pow(2, float64(k+1)) - math.Pow(-1, float64(k+1))) / float64(k+1)
			if math.Abs(s-want) > 1e-12*(1+math.Abs(want)) {
				t.Errorf("%d nodes, degree %d: %v, want %v", n, k, s, want)
			}
		}
	}
}

// A maximum is found; a function that rises without end towards a bound is said to
// be at it, and one without bound not to settle.
func TestClimb(t *testing.T) {
	curve := func(f, d, dd func(float64) float64) numeric.Curve {
		return func(q []float64) (float64, []float64, *mat.SymDense, bool) {
			return f(q[0]), []float64{d(q[0])}, mat.NewSymDense(1, []float64{dd(q[0])}), true
		}
	}
	q, _, _, ok := numeric.Climb(curve(func(x float64) float64 { return -math.Cosh(x - 2) },
		func(x float64) float64 { return -math.Sinh(x - 2) }, func(x float64) float64 { return -math.Cosh(x - 2) }), []float64{9})
	if !ok || math.Abs(q[0]-2) > 1e-12 {
		t.Errorf("%v %v", q, ok)
	}
	_, v, _, ok := numeric.Climb(curve(func(x float64) float64 { return -math.Exp(-x) },
		func(x float64) float64 { return math.Exp(-x) }, func(x float64) float64 { return -math.Exp(-x) }), []float64{0})
	if !ok || v < -1e-9 {
		t.Errorf("toward a bound: %v %v", v, ok)
	}
	if _, _, _, ok := numeric.Climb(curve(func(x float64) float64 { return x },
		func(float64) float64 { return 1 }, func(float64) float64 { return 0 }), []float64{0}); ok {
		t.Error("a slope without end settles")
	}
}
