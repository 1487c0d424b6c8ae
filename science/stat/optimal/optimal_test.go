package optimal_test

import (
	"math"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/optimal"
)

func model(f curve.Form, p ...float64) optimal.Model {
	return optimal.Model{Parameters: len(p), Gradient: func(x float64) []float64 { return f.Slopes(x, p) }}
}

func near(t *testing.T, what string, d *optimal.Design, err error, abs float64, want ...optimal.Point) {
	t.Helper()
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	if len(d.Points) != len(want) {
		t.Errorf("%s: %v, want %v", what, d.Points, want)
		return
	}
	for i, p := range d.Points {
		rset.Near(t, what+": level", p.X, want[i].X, 0, abs)
		rset.Near(t, what+": share", p.Share, want[i].Share, 0, 1e-4)
	}
	if !(d.Worst < 1+1e-5) || d.Least < 0.9999 {
		t.Errorf("%s: sensitivity up to %v", what, d.Worst)
	}
}

// Published closed forms. Michaelis and Menten on [0, b]: half at b, half at bK/(2K+b)
// (DetteKissWong2010, and older). Mitscherlich on [l, u]: thirds at l, u and
// 1/k + (l e^(−kl) − u e^(−ku))/(e^(−kl) − e^(−ku)) (BoxLucas1959 and later; here also found
// by hand from the determinant). Parabola: thirds at the ends and the middle. Straight
// line: halves at the ends. Logit: halves where the linear predictor is ±1.5434
// (AbdelbasitPlackett1983); all from memory but the first.
func TestClosedForms(t *testing.T) {
	const third, half = 1. / 3, 0.5
	for _, c := range [][2]float64{{20, 5}, {20, 50}, {30, 12}} {
		b, k := c[0], c[1]
		d, err := model(curve.Hyperbola, 200, k).D(0, b)
		near(t, "Michaelis-Menten", d, err, 1e-4*b, optimal.Point{X: b * k / (2*k + b), Share: half}, optimal.Point{X: b, Share: half})
	}
	for _, c := range [][3]float64{{5, 25, 0.12}, {8, 24, 0.3}, {2, 40, 0.05}} {
		l, u, k := c[0], c[1], c[2]
		m := 1/k + (l*math.Exp(-k*l)-u*math.Exp(-k*u))/(math.Exp(-k*l)-math.Exp(-k*u))
		d, err := model(curve.Mitscherlich, 180, k, 2).D(l, u)
		near(t, "Mitscherlich", d, err, 1e-4*u, optimal.Point{X: l, Share: third}, optimal.Point{X: m, Share: third}, optimal.Point{X: u, Share: third})
	}
	d, err := model(curve.Parabola, 1, 2, -0.05).D(8, 24)
	near(t, "parabola", d, err, 1e-3, optimal.Point{X: 8, Share: third}, optimal.Point{X: 16, Share: third}, optimal.Point{X: 24, Share: third})
	a, b := -7.0, 0.35
	d, err = optimal.Logistic(a, b).D(0, 40)
	near(t, "logit", d, err, 1e-3, optimal.Point{X: (-1.5434 - a) / b, Share: half}, optimal.Point{X: (1.5434 - a) / b, Share: half})
}

// The dose of a chance p in the logit is told best at that dose alone while its logit lies
// within ±2.399, the root of t tanh(t/2) = 2 (Wu1988, from memory; the root is computed).
// Beyond it takes two doses. The slope alone: halves at ±2.399 (from memory, the same root).
func TestThreshold(t *testing.T) {
	a, b := -7.0, 0.35
	m := optimal.Logistic(a, b)
	for _, p := range []float64{0.1, 0.2, 0.5, 0.9} {
		x := (math.Log(p/(1-p)) - a) / b
		d, err := m.C([]float64{1, x}, 0, 40)
		near(t, "threshold", d, err, 1e-3, optimal.Point{X: x, Share: 1})
	}
	x := (math.Log(0.02/0.98) - a) / b
	d, err := m.C([]float64{1, x}, 0, 40)
	if err != nil || len(d.Points) != 2 || d.Worst > 1+1e-5 {
		t.Errorf("%+v %v", d, err)
	}
	d, err = m.C([]float64{0, 1}, 0, 40)
	near(t, "slope", d, err, 2e-3, optimal.Point{X: (-2.39936 - a) / b, Share: 0.5}, optimal.Point{X: (2.39936 - a) / b, Share: 0.5})
	if v := 2.39936 * math.Tanh(2.39936/2); math.Abs(v-2) > 1e-5 {
		t.Error(v)
	}
}

// Extrapolation of a straight line and the top of a parabola, by hand: cᵀθ at x beyond
// [−1, 1] takes shares (|x| ± 1)/2|x| at the ends (Elfving1952 has the construction); the
// top of a symmetric parabola at the middle takes halves at the ends.
func TestElfving(t *testing.T) {
	line := optimal.Model{Parameters: 2, Gradient: func(x float64) []float64 { return []float64{1, x} }}
	d, err := line.C([]float64{1, 2}, -1, 1)
	near(t, "line at 2", d, err, 1e-4, optimal.Point{X: -1, Share: 0.25}, optimal.Point{X: 1, Share: 0.75})
	p := model(curve.Parabola, 0, 0, -1)
	d, err = p.C([]float64{0, 1, 0}, -1, 1) // the top is −b1/(2 b2): its gradient at b1 = 0
	near(t, "top", d, err, 1e-4, optimal.Point{X: -1, Share: 0.5}, optimal.Point{X: 1, Share: 0.5})
}

// Every form that findings fit has levels, and their optimality is proved on the range, for
// any curve in a wide region; the efficiency of even levels is no more than 1.
func TestEveryForm(t *testing.T) {
	for i := range 12 {
		top, k := []float64{40, 300}[i%2], []float64{0.05, 0.1, 0.2}[i/2%3]
		theta, join := []float64{0.4, 0.9}[i/6], 14+float64(i)/2
		for _, m := range []optimal.Model{
			model(curve.Parabola, 10, 12, -0.3), model(curve.Mitscherlich, top, k, 1), model(curve.Hyperbola, top, 1/k), model(curve.ShiftedHyperbola, top, top*k, 5),
			model(curve.NonRectangular, top, top*k, theta, 5), model(curve.LinearPlateau, top, 8, join), model(curve.QuadraticPlateau, top, -0.5, join), optimal.Logistic(-k*40, 2*k)} {
			d, err := m.D(0.5, 30)
			if err != nil {
				t.Fatal(err)
			}
			if d.Worst > 1.001 {
				t.Fatalf("%d parameters: sensitivity %v, %v", m.Parameters, d.Worst, d.Points)
			}
			sum := 0.0
			for _, p := range d.Points {
				sum += p.Share
			}
			var even []optimal.Point
			for i := range 7 {
				even = append(even, optimal.Point{X: 0.5 + 29.5*float64(i)/6, Share: 1. / 7})
			}
			e, err := m.DEfficiency(even, 0.5, 30)
			if err != nil || math.Abs(sum-1) > 1e-9 || e > 1+1e-6 || e <= 0 {
				t.Fatalf("efficiency %v, shares %v, %v", e, sum, err)
			}
		}
	}
}

// R 4.2.2: levels by optim, and the efficiency of six even levels against them. Slopes are
// by differences on both sides, which costs digits.
func TestAgainstRule(t *testing.T) {
	c := rset.Load(t, "optimal-levels")
	for name, f := range map[string]curve.Form{"non_rectangular": curve.NonRectangular, "quadratic_plateau": curve.QuadraticPlateau} {
		r := c.Numbers(name + "/range")
		var even []optimal.Point
		for i := range 6 {
			even = append(even, optimal.Point{X: r[0] + (r[1]-r[0])*float64(i)/5, Share: 1. / 6})
		}
		e, err := model(f, c.Numbers(name+"/p")...).DEfficiency(even, r[0], r[1])
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, name, e, c.Number(name+"/efficiency_even"), 1e-6, 0)
		d, err := model(f, c.Numbers(name+"/p")...).D(r[0], r[1])
		if err != nil || len(d.Points) != len(c.Numbers(name+"/points")) {
			t.Fatal(d, err)
		}
		for i, x := range c.Numbers(name + "/points") {
			if f == curve.QuadraticPlateau && x > c.Numbers(name + "/p")[2] {
				if d.Points[i].X < c.Numbers(name + "/p")[2] { // anywhere on the plateau
					t.Errorf("%s: %v", name, d.Points)
				}
				continue
			}
			rset.Near(t, name+": level", d.Points[i].X, x, 1e-3, 0)
		}
	}
}

// Rounding keeps the number, and each level once (PukelsheimRieder1992).
func TestUnits(t *testing.T) {
	d := &optimal.Design{Points: []optimal.Point{{X: 1, Share: 1. / 3}, {X: 2, Share: 1. / 3}, {X: 3, Share: 1. / 3}}}
	for n := 3; n < 20; n++ {
		u, err := d.Units(n)
		if err != nil || u[0]+u[1]+u[2] != n || max(u[0], u[1], u[2])-min(u[0], u[1], u[2]) > 1 {
			t.Errorf("%d: %v %v", n, u, err)
		}
	}
	if _, err := d.Units(2); stat.Refused(err) == nil {
		t.Error("two units for three levels")
	}
}

func TestRefusals(t *testing.T) {
	for name, f := range map[string]func() (*optimal.Design, error){
		"no range":   func() (*optimal.Design, error) { return model(curve.Hyperbola, 1, 1).D(3, 3) },
		"no slopes":  func() (*optimal.Design, error) { return model(curve.Hyperbola, 1, -3).D(0, 6) },
		"flat":       func() (*optimal.Design, error) { return model(curve.Mitscherlich, 0, 1, 0).D(1, 5) },
		"wrong ask":  func() (*optimal.Design, error) { return model(curve.Hyperbola, 1, 1).C([]float64{1}, 1, 5) },
		"no ask":     func() (*optimal.Design, error) { return model(curve.Hyperbola, 1, 1).C([]float64{0, 0}, 1, 5) },
		"never burn": func() (*optimal.Design, error) { return optimal.Logistic(-900, 0).D(1, 5) },
	} {
		if d, err := f(); stat.Refused(err) == nil {
			t.Errorf("%s: %v %v", name, d, err)
		}
	}
}

func BenchmarkD(b *testing.B) {
	m := model(curve.NonRectangular, 200, 20, 0.7, 5)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.D(4, 30); err != nil {
			b.Fatal(err)
		}
	}
}
