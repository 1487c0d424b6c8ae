package lightfield_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/lightfield"
)

// wall are crowns in a circle around a point, so close that they leave no gap; their
// inner edge is a circle of the radius given.
func wall(p lightfield.Point, radius, height float64) (out []lightfield.Crown) {
	const n, thick = 400, 0.02
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		out = append(out, lightfield.Crown{X: p.X + (radius+thick)*cos, Y: p.Y + (radius+thick)*sin, Radius: thick, Height: height})
	}
	return out
}

// Behind a round wall a point sees of a level disc or plane that shines evenly a
// smaller disc, whose share has a closed form (HowellCatalogue, C-11: element and
// parallel disc, F = r²/(r² + h²)). Tolerance 1.5 %: what the places of the opening
// resolve.
func TestLeftBehindARoundWall(t *testing.T) {
	p := lightfield.Point{X: 3, Y: 3, Z: 0.1}
	disc := func(r, h float64) float64 { return lightfield.ElementToDisc(r, h, 0) }
	open := lightfield.Space{Width: 6, Depth: 6, Height: 0.7}
	for s := range open.Walls {
		open.Walls[s].Open = true
	}
	shining := open // floor and ceiling send light back, evenly since the lamp covers all
	shining.Walls[lightfield.Above] = lightfield.Wall{Reflectance: 0.8}
	shining.Walls[lightfield.Below] = lightfield.Wall{Reflectance: 0.5}
	// Between endless planes the ceiling shines ρ₁ρ₂/(1 − ρ₁ρ₂) times as much as the lamp.
	square := func(h float64) float64 { return 4 * lightfield.ElementToParallelRectangle(0, 3, 0, 3, h) }
	back := 0.8 * 0.5 / (1 - 0.8*0.5)
	plane := lightfield.Lamp{Centre: lightfield.Point{X: 3, Y: 3, Z: 0.6}, Width: 6, Depth: 6, Flux: 3000, Exponent: 1}
	for _, c := range []struct {
		name   string
		space  lightfield.Space
		lamp   lightfield.Lamp
		radius float64
		tall   float64 // of the wall over the point
		want   float64
	}{
		{"a disc lamp", open, lightfield.Lamp{Centre: lightfield.Point{X: 3, Y: 3, Z: 0.5}, Shape: lightfield.Disc, Width: 1, Flux: 100, Exponent: 1}, 0.1, 0.1, disc(0.4, 0.4) / disc(0.5, 0.4)},
		{"the same behind a low wall", open, lightfield.Lamp{Centre: lightfield.Point{X: 3, Y: 3, Z: 0.5}, Shape: lightfield.Disc, Width: 1, Flux: 100, Exponent: 1}, 0.2, 0.05, 1},
		{"a plane", open, plane, 0.1, 0.1, disc(0.5, 0.5) / square(0.5)},
		{"a plane and what floor and ceiling send back", shining, plane, 0.1, 0.05, disc(2, 1) * (1 + back) / (square(0.5) + back*square(0.6))},
	} {
		got := solve(t, c.space, c.lamp).Left([]float64{1}, []lightfield.Point{p}, wall(p, c.radius, p.Z+c.tall))[0]
		if math.Abs(got/c.want-1) > 0.015 {
			t.Errorf("%s: %.4f left, want %.4f", c.name, got, c.want)
		}
	}
}

// Under a point lamp a neighbour shades all or nothing: it is in the way where its
// edge, seen from the point, is higher than the lamp.
func TestLeftByAPointLamp(t *testing.T) {
	open := lightfield.Space{Width: 2, Depth: 2, Height: 1}
	for s := range open.Walls {
		open.Walls[s].Open = true
	}
	f := solve(t, open, lightfield.Lamp{Centre: lightfield.Point{X: 1.5, Y: 1, Z: 0.5}, Flux: 100, Exponent: 1})
	p := []lightfield.Point{{X: 0.5, Y: 1, Z: 0.1}}
	// From the point to the near edge 0.2 m, to the lamp 1 m across and 0.4 m up: the
	// way passes the edge 0.08 m above the point.
	for height, want := range map[float64]float64{0.05: 1, 0.1: 1, 0.179: 1, 0.181: 0, 0.6: 0} {
		if got := f.Left([]float64{1}, p, []lightfield.Crown{{X: 0.8, Y: 1, Radius: 0.1, Height: height}})[0]; got != want {
			t.Errorf("a neighbour of %g m leaves %g, want %g", height, got, want)
		}
	}
}

// Crowns only take: the share left lies within 0 and 1, does not grow with the
// height of a crown nor with one crown more.
func TestLeftIsMonotonic(t *testing.T) {
	f := solve(t, boxed(1.2, 0.6, 0.5, 0.7), lightfield.Lamp{Centre: lightfield.Point{X: 0.4, Y: 0.3, Z: 0.4}, Width: 0.6, Depth: 0.1, Flux: 60, Exponent: 1.4})
	rapid.Check(t, func(t *rapid.T) {
		p := []lightfield.Point{{X: rapid.Float64Range(0, 1.2).Draw(t, "x"), Y: rapid.Float64Range(0, 0.6).Draw(t, "y"), Z: rapid.Float64Range(0, 0.2).Draw(t, "z")}}
		var crowns []lightfield.Crown
		last := 1.0
		for range 4 {
			crowns = append(crowns, lightfield.Crown{X: rapid.Float64Range(0, 1.2).Draw(t, "cx"), Y: rapid.Float64Range(0, 0.6).Draw(t, "cy"), Radius: rapid.Float64Range(0.02, 0.15).Draw(t, "r"), Height: rapid.Float64Range(0, 0.3).Draw(t, "h")})
			left := f.Left([]float64{0.7}, p, crowns)[0]
			if !(left >= 0 && left <= last+1e-12) {
				t.Fatalf("%g left, before %g, behind %+v", left, last, crowns)
			}
			last = left
		}
	})
}
