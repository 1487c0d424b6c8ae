package draw

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// shoelace is the area of rings, positive if anticlockwise.
func shoelace(rings [][]point) float64 {
	var sum float64
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			sum += (p.x*q.y - q.x*p.y) / 2
		}
	}
	return sum
}

func fill(nx, ny int, w, d float64, f func(x, y float64) float64) Grid {
	var g Grid
	for i := range nx {
		g.X = append(g.X, w*float64(i)/float64(nx-1))
	}
	for j := range ny {
		g.Y = append(g.Y, d*float64(j)/float64(ny-1))
	}
	for _, y := range g.Y {
		for _, x := range g.X {
			g.Values = append(g.Values, f(x, y))
		}
	}
	return g
}

// A plane a·x + b·y has straight contours: every vertex lies on a·x + b·y = level,
// and the ground above x ≥ level has the area of a rectangle. Analytic; the
// tolerance is that of rounding.
func TestContourOfPlane(t *testing.T) {
	g := fill(7, 5, 1.2, 0.6, func(x, y float64) float64 { return 3*x - 2*y })
	tr := newTracer(g)
	for _, level := range []float64{-0.7, 0.1, 1.05, 2.9} {
		lines := tr.lines(level)
		if len(lines) != 1 {
			t.Fatalf("level %g: %d lines, want 1", level, len(lines))
		}
		for _, p := range lines[0] {
			if math.Abs(3*p.x-2*p.y-level) > 1e-12 {
				t.Errorf("level %g: vertex %v is off by %g", level, p, 3*p.x-2*p.y-level)
			}
		}
		if got := simplify(lines[0], 1e-9); len(got) != 2 {
			t.Errorf("level %g: %d points make a straight line", level, len(got))
		}
	}
	across := newTracer(fill(7, 5, 1.2, 0.6, func(x, y float64) float64 { return x }))
	for _, level := range []float64{0, 0.3, 0.55, 1.2} {
		if got, want := shoelace(across.region(level)), (1.2-level)*0.6; math.Abs(got-want) > 1e-12 {
			t.Errorf("area of x ≥ %g is %g, want %g", level, got, want)
		}
	}
}

// A cone of height 1 − r has circles as contours. Chords of a fine grid lose no
// more than the sagitta: cells of 0.02 across a radius of 0.5 give
// h²/(8r) = 1e-4, so 4e-4 of the area and of the radius is generous.
func TestContourOfCone(t *testing.T) {
	g := fill(101, 101, 2, 2, func(x, y float64) float64 { return 1 - math.Hypot(x-1, y-1) })
	tr := newTracer(g)
	if got, want := shoelace(tr.region(0.5)), math.Pi*0.25; math.Abs(got/want-1) > 4e-4 {
		t.Errorf("area %g, want %g", got, want)
	}
	lines := tr.lines(0.5)
	if len(lines) != 1 || lines[0][0] != lines[0][len(lines[0])-1] {
		t.Fatalf("want one closed line, have %d", len(lines))
	}
	if got := length(lines[0]); math.Abs(got/math.Pi-1) > 4e-4 {
		t.Errorf("length %g, want π", got)
	}
	// A crater: the low middle is a hole, wound the other way.
	hole := newTracer(fill(101, 101, 2, 2, func(x, y float64) float64 { return math.Hypot(x-1, y-1) })).region(0.5)
	if got, want := shoelace(hole), 4-math.Pi*0.25; len(hole) != 2 || math.Abs(got/want-1) > 4e-4 {
		t.Errorf("%d rings of area %g, want 2 of %g", len(hole), got, want)
	}
}

// In a cell with corners 1 0 / 0 1 the mean is 0.5. Below it the two high corners
// are joined, above it apart. Areas by hand: a corner cut off at a share u of both
// sides has the area u²/2.
func TestSaddle(t *testing.T) {
	g := Grid{X: []float64{0, 1}, Y: []float64{0, 1}, Values: []float64{1, 0, 0, 1}}
	tr := newTracer(g)
	for _, c := range []struct {
		level float64
		rings int
		area  float64
	}{{0.25, 1, 1 - 2*0.25*0.25/2}, {0.5, 1, 1 - 2*0.5*0.5/2}, {0.75, 2, 2 * 0.25 * 0.25 / 2}} {
		rings := tr.region(c.level)
		if got := shoelace(rings); len(rings) != c.rings || math.Abs(got-c.area) > 1e-12 {
			t.Errorf("level %g: %d rings of area %g, want %d of %g", c.level, len(rings), got, c.rings, c.area)
		}
		if lines := tr.lines(c.level); len(lines) != 2 {
			t.Errorf("level %g: %d lines, want 2", c.level, len(lines))
		}
	}
	other := newTracer(Grid{X: g.X, Y: g.Y, Values: []float64{0, 1, 1, 0}})
	if rings := other.region(0.75); len(rings) != 2 || math.Abs(shoelace(rings)-0.0625) > 1e-12 {
		t.Errorf("the turned saddle has %d rings of area %g", len(rings), shoelace(rings))
	}
}

// A missing value takes its four cells out, and nothing else.
func TestHole(t *testing.T) {
	g := fill(5, 5, 4, 4, func(x, y float64) float64 { return 1 })
	g.Values[2*5+2] = math.NaN()
	if got := shoelace(newTracer(g).region(0)); got != 12 {
		t.Errorf("area %g, want 16 − 4", got)
	}
	// A level is reached where the value equals it.
	if got := shoelace(newTracer(fill(3, 3, 2, 2, func(x, y float64) float64 { return 1 })).region(1)); got != 4 {
		t.Errorf("area %g at the level of a flat field, want 4", got)
	}
	// Two cells that touch at one corner: both areas stay.
	g = Grid{X: []float64{0, 1, 2}, Y: []float64{0, 1, 2}, Values: []float64{1, 1, math.Inf(1), 1, 1, 1, math.NaN(), 1, 1}}
	if got := shoelace(newTracer(g).region(0)); got != 2 {
		t.Errorf("area %g, want 2", got)
	}
}

// Whatever the field: the ground at or above a level and the ground below it,
// which is the ground above −level of the field turned over, fill the rectangle;
// so the bands between levels add up to it. Areas shrink as the level rises.
func TestBandsFillTheRectangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nx, ny := rapid.IntRange(2, 7).Draw(t, "nx"), rapid.IntRange(2, 7).Draw(t, "ny")
		// Halves, and levels at quarters: a value never equals a level, so above
		// and below share no point. Of a saddle whose mean equals the level both
		// sides claim the middle; those are left out.
		values := rapid.SliceOfN(rapid.IntRange(-6, 6), nx*ny, nx*ny).Draw(t, "values")
		g := fill(nx, ny, 3, 2, func(x, y float64) float64 { return 0 })
		turned := Grid{X: g.X, Y: g.Y, Values: make([]float64, len(values))}
		for i, v := range values {
			g.Values[i] = float64(v) / 2
			turned.Values[i] = -g.Values[i]
		}
		up, down := newTracer(g), newTracer(turned)
		before := math.Inf(1)
		for level := -3.3; level < 3.5; level += 0.2 { // never a mean of four halves
			area := shoelace(up.region(level))
			if rest := shoelace(down.region(-level)); math.Abs(area+rest-6) > 1e-9 {
				t.Fatalf("level %g: %g above and %g below, want 6 together", level, area, rest)
			}
			if area > before+1e-9 {
				t.Fatalf("level %g: area grows from %g to %g", level, before, area)
			}
			before = area
		}
	})
}

// Every vertex of a contour lies, by bilinear interpolation, at the level.
func TestContourVerticesLieAtLevel(t *testing.T) {
	g := sampleGrid()
	tr := newTracer(g)
	for _, level := range []float64{150, 200, 250, 290} {
		for _, line := range tr.lines(level) {
			for _, p := range line {
				if v := g.at(p.x, p.y); math.Abs(v-level) > 1e-9 {
					t.Fatalf("level %g: %g at %v", level, v, p)
				}
			}
		}
	}
}

func TestSimplifyStaysClose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "n")
		var line []point
		for range n {
			line = append(line, point{rapid.Float64Range(0, 50).Draw(t, "x"), rapid.Float64Range(0, 50).Draw(t, "y")})
		}
		got := simplify(line, 2)
		if got[0] != line[0] || got[len(got)-1] != line[n-1] {
			t.Fatal("the ends moved")
		}
		for _, p := range line {
			nearest := math.Inf(1)
			for i := 1; i < len(got); i++ {
				nearest = math.Min(nearest, distance(p, got[i-1], got[i]))
			}
			if nearest > 2 {
				t.Fatalf("%v is %g away", p, nearest)
			}
		}
	})
}
