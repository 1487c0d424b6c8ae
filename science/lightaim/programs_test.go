package lightaim_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
	"pgregory.net/rapid"

	"underlamp/science/lightaim"
)

var inf = math.Inf(1)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.10g, want %.10g ± %.2g", what, got, want, tolerance)
	}
}

func atMost(high float64, coef ...float64) lightaim.Row {
	return lightaim.Row{Coef: coef, Low: -inf, High: high}
}

// Worked examples of textbooks. All data and answers are small numbers that can
// be checked by hand.
func TestLinearOfTextbooks(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name  string
		l     lightaim.Linear
		value float64
		x     []float64
		price []float64
	}{
		{
			// HillierLieberman, chapter 3, glass works: 36 at (2, 6); shadow prices 0, 3/2, 1.
			"two products",
			lightaim.Linear{Cost: []float64{-3, -5}, Low: []float64{0, 0}, High: []float64{inf, inf},
				Rows: []lightaim.Row{atMost(4, 1, 0), atMost(12, 0, 2), atMost(18, 3, 2)}},
			-36, []float64{2, 6}, []float64{0, -1.5, -1},
		},
		{
			// Beale1955: the largest gradient cycles here if ties are broken by order.
			"cycling",
			lightaim.Linear{Cost: []float64{-0.75, 20, -0.5, 6}, Low: make([]float64, 4), High: []float64{inf, inf, inf, inf},
				Rows: []lightaim.Row{atMost(0, 0.25, -8, -1, 9), atMost(0, 0.5, -12, -0.5, 3), atMost(1, 0, 0, 1, 0)}},
			-1.25, []float64{1, 0, 1, 0}, nil,
		},
		{
			// KleeMinty1972 in the form of Chvatal1983, page 47: 10 000 at (0, 0, 10 000).
			"every corner of a cube",
			lightaim.Linear{Cost: []float64{-100, -10, -1}, Low: make([]float64, 3), High: []float64{inf, inf, inf},
				Rows: []lightaim.Row{atMost(1, 1, 0, 0), atMost(100, 20, 1, 0), atMost(10000, 200, 20, 1)}},
			-10000, []float64{0, 0, 10000}, nil,
		},
		{
			// By hand: x + y = 1, x ≥ −2, y ≤ 2 and free below; least 2x + y is at x = −1.
			"free and an equation",
			lightaim.Linear{Cost: []float64{2, 1}, Low: []float64{-2, -inf}, High: []float64{inf, 2}, Rows: []lightaim.Row{{Coef: []float64{1, 1}, Low: 1, High: 1}}},
			0, []float64{-1, 2}, nil,
		},
	} {
		r := tt.l.Solve()
		checkLinear(t, &tt.l, r)
		if r.Status != lightaim.Optimal {
			t.Errorf("%s: %v", tt.name, r.Status)
		}
		near(t, tt.name, r.Value, tt.value, 1e-9*(1+math.Abs(tt.value)))
		for i, x := range tt.x {
			near(t, tt.name, r.X[i], x, 1e-9*(1+math.Abs(x)))
		}
		for i, p := range tt.price {
			near(t, tt.name+", price", r.Price[i], p, 1e-9)
		}
	}
}

func TestLinearWithoutAnswer(t *testing.T) {
	t.Parallel()
	l := lightaim.Linear{Cost: []float64{-1, 0}, Low: []float64{0, 0}, High: []float64{inf, inf}, Rows: []lightaim.Row{atMost(1, -1, 1)}}
	if r := l.Solve(); r.Status != lightaim.Unbounded {
		t.Errorf("%v, want unbounded", r.Status)
	}
	// x + y ≥ 3 within the unit square misses by 1.
	l = lightaim.Linear{Cost: []float64{1, 1}, Low: []float64{0, 0}, High: []float64{1, 1}, Rows: []lightaim.Row{{Coef: []float64{1, 1}, Low: 3, High: inf}}}
	r := l.Solve()
	checkLinear(t, &l, r)
	if r.Status != lightaim.Infeasible || math.Abs(r.Violation-1) > 1e-12 {
		t.Errorf("%v, missed by %g, want infeasible by 1", r.Status, r.Violation)
	}
}

// Random programs, many of them degenerate and some without an answer: what is
// called best carries the prices that prove it.
func TestLinearProves(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n, m := rapid.IntRange(1, 7).Draw(t, "n"), rapid.IntRange(0, 20).Draw(t, "m")
		small := rapid.IntRange(-3, 3)
		draw := func(k int) []float64 {
			v := make([]float64, k)
			for i := range v {
				v[i] = float64(small.Draw(t, "v"))
				if rapid.IntRange(0, 3).Draw(t, "exact") == 0 {
					v[i] += float64(rapid.IntRange(-999, 999).Draw(t, "odd")) / 1000
				}
			}
			return v
		}
		l := lightaim.Linear{Cost: draw(n), Low: make([]float64, n), High: make([]float64, n)}
		for j := range n {
			l.High[j] = float64(rapid.IntRange(0, 2).Draw(t, "high"))
			if rapid.IntRange(0, 5).Draw(t, "free") == 0 {
				l.Low[j], l.High[j] = -inf, inf
			}
		}
		for range m {
			lo := float64(small.Draw(t, "lo"))
			hi := lo + float64(rapid.IntRange(0, 3).Draw(t, "width"))
			switch rapid.IntRange(0, 2).Draw(t, "side") {
			case 0:
				lo = -inf
			case 1:
				hi = inf
			}
			l.Rows = append(l.Rows, lightaim.Row{Coef: draw(n), Low: lo, High: hi})
		}
		r := l.Solve()
		if r.Status == lightaim.Stuck {
			t.Fatalf("stuck: %+v", l)
		}
		if r.Status != lightaim.Unbounded {
			checkLinear(t, &l, r)
		}
	})
}

// gonum's simplex as a second opinion, on programs that are not degenerate (where
// it is known to be right): A x = b, x ≥ 0 with positive A, so bounded.
func TestLinearAgainstGonum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		m := rapid.IntRange(1, 5).Draw(t, "m")
		f := rapid.Float64Range(0.1, 2)
		c := make([]float64, n+m)
		a := mat.NewDense(m, n+m, nil)
		b := make([]float64, m)
		l := lightaim.Linear{Cost: make([]float64, n), Low: make([]float64, n), High: make([]float64, n)}
		for j := range n {
			c[j] = -f.Draw(t, "c")
			l.Cost[j], l.High[j] = c[j], inf
		}
		for i := range m {
			b[i] = f.Draw(t, "b")
			r := atMost(b[i], make([]float64, n)...)
			for j := range n {
				r.Coef[j] = f.Draw(t, "a")
				a.Set(i, j, r.Coef[j])
			}
			a.Set(i, n+i, 1)
			l.Rows = append(l.Rows, r)
		}
		want, _, err := lp.Simplex(c, a, b, 1e-10, nil)
		if err != nil {
			return // gonum gives up on some of them
		}
		got := l.Solve()
		checkLinear(t, &l, got)
		if math.Abs(got.Value-want) > 1e-7 {
			t.Fatalf("%g, gonum has %g", got.Value, want)
		}
	})
}

// Published quadratic programs, written as squares.
func TestQuadraticOfTextbooks(t *testing.T) {
	t.Parallel()
	s2 := math.Sqrt2
	free := []float64{0, 0}
	for _, tt := range []struct {
		name string
		q    lightaim.Quadratic
		x    []float64
		f    float64 // squares
	}{
		{
			// NocedalWright2006, example 16.4: (1.4, 1.7).
			"example 16.4",
			lightaim.Quadratic{J: [][]float64{{1, 0}, {0, 1}}, To: []float64{1, 2.5}, Low: free, High: []float64{inf, inf}, Near: free,
				Rows: []lightaim.Row{{Coef: []float64{1, -2}, Low: -2, High: inf}, {Coef: []float64{-1, -2}, Low: -6, High: inf}, {Coef: []float64{-1, 2}, Low: -2, High: inf}}},
			[]float64{1.4, 1.7}, 0.8,
		},
		{
			// HockSchittkowski1981, problem 21 (from memory, checked by hand): (2, 0), 0.04.
			"problem 21",
			lightaim.Quadratic{J: [][]float64{{0.1, 0}, {0, 1}}, To: free, Low: []float64{2, -50}, High: []float64{50, 50}, Near: free,
				Rows: []lightaim.Row{{Coef: []float64{10, -1}, Low: 10, High: inf}}},
			[]float64{2, 0}, 0.04,
		},
		{
			// HockSchittkowski1981, problem 35 (Beale; from memory): (4/3, 7/9, 4/9), 1/9.
			// Its objective as squares: (x + y − 2)² + (x + z − 2)² + (y − 1)² = 9 − 8x − 6y − 4z + 2x² + 2y² + z² + 2xy + 2xz.
			"problem 35",
			lightaim.Quadratic{J: [][]float64{{1, 1, 0}, {1, 0, 1}, {0, 1, 0}}, To: []float64{2, 2, 1}, Low: []float64{0, 0, 0}, High: []float64{inf, inf, inf}, Near: []float64{0, 0, 0},
				Rows: []lightaim.Row{{Coef: []float64{1, 1, 2}, Low: -inf, High: 3}}},
			[]float64{4.0 / 3, 7.0 / 9, 4.0 / 9}, 1.0 / 9,
		},
		{
			// By hand: two lamps of equal light on one plant, 1 in all; the ridge shares it.
			"open choice",
			lightaim.Quadratic{J: [][]float64{{1, 1}}, To: []float64{1}, Low: free, High: []float64{1, 1}, Near: free},
			[]float64{0.5, 0.5}, 0,
		},
		{
			// By hand: the projection of (2, 2) on the line x + y = √2.
			"an equation",
			lightaim.Quadratic{J: [][]float64{{1, 0}, {0, 1}}, To: []float64{2, 2}, Low: []float64{-inf, -inf}, High: []float64{inf, inf}, Near: free,
				Rows: []lightaim.Row{{Coef: []float64{1, 1}, Low: s2, High: s2}}},
			[]float64{s2 / 2, s2 / 2}, 2 * (2 - s2/2) * (2 - s2/2),
		},
	} {
		tt.q.Ridge = 1e-12
		r := tt.q.Solve()
		checkQuadratic(t, &tt.q, r)
		near(t, tt.name, r.Squares, tt.f, 1e-9)
		for i, x := range tt.x {
			near(t, tt.name, r.X[i], x, 1e-8)
		}
	}
	q := lightaim.Quadratic{J: [][]float64{{1}}, To: []float64{0}, Low: []float64{0}, High: []float64{1}, Near: []float64{0}, Ridge: 1e-9, Rows: []lightaim.Row{{Coef: []float64{1}, Low: 2, High: inf}}}
	if r := q.Solve(); r.Status != lightaim.Infeasible {
		t.Errorf("x ≥ 2 within 0 to 1 is %v", r.Status)
	}
}

// Random least squares with bounds and rows: the prices prove the answer, and
// what is called infeasible is so for the simplex too.
func TestQuadraticProves(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n, m, k := rapid.IntRange(1, 6).Draw(t, "n"), rapid.IntRange(1, 10).Draw(t, "m"), rapid.IntRange(0, 8).Draw(t, "rows")
		// Thousandths: an amount of 1e-200 tells of no lamp.
		f := rapid.Map(rapid.IntRange(-2000, 2000), func(k int) float64 { return float64(k) / 1000 })
		vec := func(k int) []float64 {
			v := make([]float64, k)
			for i := range v {
				v[i] = f.Draw(t, "v")
			}
			return v
		}
		q := lightaim.Quadratic{To: vec(m), Low: make([]float64, n), High: make([]float64, n), Near: make([]float64, n), Ridge: 1e-8}
		for j := range n {
			q.High[j] = rapid.Float64Range(0, 1).Draw(t, "high")
		}
		for range m {
			q.J = append(q.J, vec(n))
		}
		for range k {
			lo := f.Draw(t, "lo")
			q.Rows = append(q.Rows, lightaim.Row{Coef: vec(n), Low: lo, High: lo + rapid.Float64Range(0, 3).Draw(t, "width")})
		}
		r := q.Solve()
		l := lightaim.Linear{Cost: make([]float64, n), Low: q.Low, High: q.High, Rows: append([]lightaim.Row(nil), q.Rows...)}
		lr := l.Solve()
		// Both hold rows to 1e-9: where hardly anything is left within them they may differ.
		for i := range l.Rows {
			l.Rows[i].Low += 1e-7
			l.Rows[i].High -= 1e-7
		}
		roomy := l.Solve().Status == lightaim.Optimal
		switch {
		case r.Status == lightaim.Optimal:
			checkQuadratic(t, &q, r)
		case r.Status != lr.Status && lr.Violation > 1e-6 || r.Status == lightaim.Stuck:
			t.Fatalf("%v, the simplex says %v by %g", r.Status, lr.Status, lr.Violation)
		case roomy:
			t.Fatalf("%v, the simplex finds %v", r.Status, lr.X)
		}
	})
}
