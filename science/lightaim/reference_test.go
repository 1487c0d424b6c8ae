package lightaim_test

import (
	"encoding/json"
	"math"
	"os"
	"sync"
	"testing"

	"underlamp/science/lightaim"
)

// judge is what testing and rapid share.
type judge interface {
	Helper()
	Errorf(format string, args ...any)
}

type row struct {
	Coef      []float64
	Low, High *float64
}

func low(v *float64) float64 {
	if v == nil {
		return math.Inf(-1)
	}
	return *v
}

func high(v *float64) float64 {
	if v == nil {
		return math.Inf(1)
	}
	return *v
}

func lows(v []*float64) (out []float64) {
	for _, x := range v {
		out = append(out, low(x))
	}
	return out
}

func highs(v []*float64) (out []float64) {
	for _, x := range v {
		out = append(out, high(x))
	}
	return out
}

func rowsOf(r []row) (out []lightaim.Row) {
	for _, x := range r {
		out = append(out, lightaim.Row{Coef: x.Coef, Low: low(x.Low), High: high(x.High)})
	}
	return out
}

// reference is testdata/reference.json: the answers of SciPy 1.10.1 (HiGHS, BVLS
// and SLSQP) to random programs, made by testdata/make_reference.py.
type reference struct {
	Library string
	Linear  []struct {
		Cost      []float64
		Low, High []*float64
		Rows      []row
		Status    string
		Value     *float64
	}
	Squares []struct {
		J             [][]float64
		To, Low, High []float64
		Rows          []row
		Squares       float64
		X             []float64
	}
	Steps []struct {
		Responses   [][]float64
		Start, More []float64
		Step        float64
		Off         bool
		Low         float64
		High        *float64
		Status      string
		Watt        *float64
	}
	Within []struct {
		Responses         [][]float64
		Low, High, Target float64
		Count             int
	}
}

var scipy = sync.OnceValue(func() reference {
	text, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		panic(err)
	}
	var r reference
	if err := json.Unmarshal(text, &r); err != nil {
		panic(err)
	}
	return r
})

// checkLinear holds an answer to the conditions of Karush, Kuhn and Tucker, or, if
// the program is called infeasible, to its certificate.
func checkLinear(t judge, l *lightaim.Linear, r lightaim.LinearResult) {
	t.Helper()
	n := len(l.Cost)
	scale := 1.0
	for _, c := range l.Cost {
		scale = max(scale, math.Abs(c))
	}
	gradient := make([]float64, n)
	if r.Status == lightaim.Optimal {
		copy(gradient, l.Cost)
	}
	sum := 0.0 // of prices times the bounds that they belong to
	price := func(name string, p, size, v, lo, hi float64) {
		tol := 1e-7 * scale / size
		if p > tol {
			sum += p * lo
		} else if p < -tol {
			sum += p * hi
		}
		if r.Status != lightaim.Optimal {
			return
		}
		if v < lo-1e-7*(size+math.Abs(lo)) || v > hi+1e-7*(size+math.Abs(hi)) {
			t.Errorf("%s is %g, want %g to %g", name, v, lo, hi)
		}
		if p > tol && math.Abs(v-lo) > 1e-6*(size+math.Abs(lo)) || p < -tol && math.Abs(v-hi) > 1e-6*(size+math.Abs(hi)) {
			t.Errorf("%s is %g of %g to %g, yet has the price %g", name, v, lo, hi, p)
		}
	}
	for i, row := range l.Rows {
		v, size := 0.0, 0.0
		for j, c := range row.Coef {
			v += c * r.X[j]
			size = max(size, math.Abs(c))
			gradient[j] -= r.Price[i] * c
		}
		if size == 0 {
			size = 1
		}
		price("row", r.Price[i], size, v, row.Low, row.High)
	}
	for j, v := range r.X {
		gradient[j] -= r.Reduced[j]
		if math.Abs(gradient[j]) > 1e-6*scale {
			t.Errorf("the prices leave %g of the gradient of x%d", gradient[j], j)
		}
		price("x", r.Reduced[j], 1, v, l.Low[j], l.High[j])
	}
	if r.Status == lightaim.Infeasible && !(sum > 1e-9) {
		t.Errorf("called infeasible without proof: %g", sum)
	}
}

func TestLinearAgainstLibrary(t *testing.T) {
	t.Parallel()
	n := 0
	for i, c := range scipy().Linear {
		l := lightaim.Linear{Cost: c.Cost, Low: lows(c.Low), High: highs(c.High), Rows: rowsOf(c.Rows)}
		r := l.Solve()
		checkLinear(t, &l, r)
		if r.Status.String() != c.Status {
			t.Errorf("program %d is %v, the library says %s", i, r.Status, c.Status)
			continue
		}
		// HiGHS holds conditions to 1e-7.
		if c.Value != nil {
			n++
			if math.Abs(r.Value-*c.Value) > 1e-6*(1+math.Abs(*c.Value)) {
				t.Errorf("program %d: %.9g, the library has %.9g", i, r.Value, *c.Value)
			}
		}
	}
	if n < 30 {
		t.Errorf("%d programs compared", n)
	}
}

func TestSquaresAgainstLibrary(t *testing.T) {
	t.Parallel()
	for i, c := range scipy().Squares {
		q := lightaim.Quadratic{J: c.J, To: c.To, Low: c.Low, High: c.High, Rows: rowsOf(c.Rows), Ridge: 1e-10, Near: make([]float64, len(c.Low))}
		r := q.Solve()
		checkQuadratic(t, &q, r)
		// BVLS stops at 1e-14, SLSQP at 1e-15 of the squares but seldom that near: it may
		// be worse than ours, never better by more than rounding.
		if r.Squares > c.Squares+1e-9 || len(c.Rows) == 0 && math.Abs(r.Squares-c.Squares) > 1e-9 || r.Squares < c.Squares*(1-1e-4)-1e-9 {
			t.Errorf("program %d: squares %.10g, the library has %.10g", i, r.Squares, c.Squares)
		}
	}
}

func checkQuadratic(t judge, q *lightaim.Quadratic, r lightaim.QuadraticResult) {
	t.Helper()
	if r.Status != lightaim.Optimal {
		t.Errorf("%v", r.Status)
		return
	}
	n := len(q.Low)
	g, scale := make([]float64, n), 1.0
	for i, j := range q.J {
		d := -q.To[i]
		for k, v := range j {
			d += v * r.X[k]
		}
		for k, v := range j {
			g[k] += v * d
			scale = max(scale, v*v, math.Abs(v*q.To[i]))
		}
	}
	for k := range n {
		g[k] += q.Ridge*(r.X[k]-q.Near[k]) - r.Reduced[k]
	}
	held := func(name string, v, lo, hi, p, size float64) {
		tol := 1e-7 * (1 + size)
		if v < lo-tol || v > hi+tol {
			t.Errorf("%s is %g, want %g to %g", name, v, lo, hi)
		}
		small := 1e-7 * scale / max(size, 1e-9)
		if p > small && v > lo+1e-6*(1+size) || p < -small && v < hi-1e-6*(1+size) {
			t.Errorf("%s is %g of %g to %g, yet has the price %g", name, v, lo, hi, p)
		}
	}
	for i, row := range q.Rows {
		v, size := 0.0, 0.0
		for k, c := range row.Coef {
			v += c * r.X[k]
			g[k] -= r.Price[i] * c
			size = max(size, math.Abs(c))
		}
		held("row", v, row.Low, row.High, r.Price[i], size)
	}
	for k, v := range r.X {
		held("x", v, q.Low[k], q.High[k], r.Reduced[k], 1)
		if math.Abs(g[k]) > 1e-6*scale {
			t.Errorf("the prices leave %g of the gradient of x%d", g[k], k)
		}
	}
}
