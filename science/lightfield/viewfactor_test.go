package lightfield_test

import (
	"math"
	"testing"

	"underlamp/science/lightfield"
)

func relative(got, want float64) float64 { return math.Abs(got/want - 1) }

// Published: 0.4756 for 1 × 1.5 at 0.5 (Siegel and Howell, Thermal Radiation Heat
// Transfer, p. 843, as quoted in the manual of a heat-transfer program), 0.1998
// and 0.2000 for unit squares face to face and at right angles (the same
// handbook's charts). The others follow by reciprocity, A₁F₁₂ = A₂F₂₁: 2·0.11643
// must equal 0.23285. Tolerance: the digits printed.
func TestPublishedViewFactors(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"1 x 1.5 at 0.5", lightfield.ParallelRectangles(1, 1.5, 0.5), 0.4756},
		{"unit squares at 1", lightfield.ParallelRectangles(1, 1, 1), 0.1998},
		{"perpendicular unit squares", lightfield.PerpendicularRectangles(1, 1, 1), 0.2000},
		// r²/(r²+h²) on the axis, exact.
		{"element under a disc", lightfield.ElementToDisc(0.3, 0.4, 0), 0.36},
		{"far disc", lightfield.ElementToDisc(0.01, 10, 0) * 1e6, 1},
		// Everything above a level element is its whole sky.
		{"endless ceiling", lightfield.ElementToParallelRectangle(-1e6, 1e6, -1e6, 1e6, 1), 1},
		{"endless wall at hand", lightfield.ElementToPerpendicularRectangle(1, -1e6, 1e6, 0, 1e6), 0.5},
	} {
		if math.Abs(c.got-c.want) > 0.5e-4 {
			t.Errorf("%s: %.6f, want %.4f", c.name, c.got, c.want)
		}
	}
	if a, b := lightfield.PerpendicularRectangles(1, 1, 2), 2*lightfield.PerpendicularRectangles(1, 2, 1); math.Abs(a-b) > 1e-12 {
		t.Errorf("reciprocity: %v and %v", a, b)
	}
	// Floor of a box to everything else is 1 (closure).
	w, d, h := 1.2, 0.6, 0.35
	sum := lightfield.ParallelRectangles(w, d, h) + 2*lightfield.PerpendicularRectangles(w, d, h) + 2*lightfield.PerpendicularRectangles(d, w, h)
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("floor to everything: %v", sum)
	}
}

// midpoint integrates over a rectangle of the unit square by n × n midpoints;
// it is the brute force that formulas are held against.
func midpoint(n int, f func(u, v float64) float64) float64 {
	sum := 0.0
	for i := range n {
		for j := range n {
			sum += f((float64(i)+0.5)/float64(n), (float64(j)+0.5)/float64(n))
		}
	}
	return sum / float64(n*n)
}

// The element factors are from memory (Siegel and Howell), so they are held
// against brute force with the kernel cos·cos/(π d²). Tolerance: midpoint error
// of 400 × 400 cells.
func TestElementFactorsByBruteForce(t *testing.T) {
	const n = 400
	for _, c := range []struct{ x1, x2, y1, y2, h float64 }{
		{0, 1, 0, 1, 1}, {-0.2, 0.7, 0.1, 0.4, 0.3}, {0.5, 1.5, -2, -1, 0.6},
	} {
		want := (c.x2 - c.x1) * (c.y2 - c.y1) * midpoint(n, func(u, v float64) float64 {
			x, y := c.x1+(c.x2-c.x1)*u, c.y1+(c.y2-c.y1)*v
			d2 := x*x + y*y + c.h*c.h
			return c.h * c.h / (math.Pi * d2 * d2)
		})
		if got := lightfield.ElementToParallelRectangle(c.x1, c.x2, c.y1, c.y2, c.h); relative(got, want) > 1e-4 {
			t.Errorf("parallel %+v: %v, want %v", c, got, want)
		}
	}
	for _, c := range []struct{ x, y1, y2, z1, z2 float64 }{
		{0.4, 0, 1, 0, 1}, {0.3, -0.2, 0.5, 0.1, 0.6}, {1, 1, 2, 0.2, 0.3},
	} {
		want := (c.y2 - c.y1) * (c.z2 - c.z1) * midpoint(n, func(u, v float64) float64 {
			y, z := c.y1+(c.y2-c.y1)*u, c.z1+(c.z2-c.z1)*v
			d2 := c.x*c.x + y*y + z*z
			return z * c.x / (math.Pi * d2 * d2)
		})
		if got := lightfield.ElementToPerpendicularRectangle(c.x, c.y1, c.y2, c.z1, c.z2); relative(got, want) > 1e-4 {
			t.Errorf("perpendicular %+v: %v, want %v", c, got, want)
		}
	}
	for _, c := range []struct{ r, h, x float64 }{{0.3, 0.2, 0.1}, {0.3, 0.2, 0.8}, {1, 0.5, 1}, {0.1, 2, 3}} {
		// Equal areas in s = r².
		want := math.Pi * c.r * c.r * midpoint(n, func(u, v float64) float64 {
			r := c.r * math.Sqrt(u)
			sin, cos := math.Sincos(2 * math.Pi * v)
			dx, dy := r*cos-c.x, r*sin
			d2 := dx*dx + dy*dy + c.h*c.h
			return c.h * c.h / (math.Pi * d2 * d2)
		})
		if got := lightfield.ElementToDisc(c.r, c.h, c.x); relative(got, want) > 1e-4 {
			t.Errorf("disc %+v: %v, want %v", c, got, want)
		}
	}
}
