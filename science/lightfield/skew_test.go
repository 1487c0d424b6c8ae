package lightfield_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// Where the light of a tilted point goes, by hand. A lamp at (1, 1, 1) tilted 45°
// towards 0° aims at (2, 1, 0): there E = Φ (m+1)/(2π) cos 45° / d² with d² = 2. 90°
// from its axis and behind it is dark. Turned by 90°, the long way of the batwing
// (own x) lies along y.
func TestTiltAndTurn(t *testing.T) {
	at := func(l lightfield.Lamp, x, y, z float64) float64 {
		l.Centre, l.Flux = lightfield.Point{X: 1, Y: 1, Z: 1}, 100
		return solve(t, open(3, 3, 3), l).Direct(nil, []lightfield.Point{{X: x, Y: y, Z: z}})[0]
	}
	for _, m := range []float64{0.5, 1, 3, 20.5} {
		want := 100 * (m + 1) / (2 * math.Pi) * math.Sqrt2 / 2 / 2
		for _, c := range []struct {
			towards quantity.Degree
			x, y    float64
		}{{0, 2, 1}, {90, 1, 2}, {180, 0, 1}, {-90, 1, 0}, {45, 1 + math.Sqrt2/2, 1 + math.Sqrt2/2}} {
			l := lightfield.Lamp{Exponent: m, Tilt: 45, Towards: c.towards, Turn: 33}
			if got := at(l, c.x, c.y, 0); relative(got, want) > 2e-7 {
				t.Errorf("m %v towards %v: %v, want %v", m, c.towards, got, want)
			}
			if got := at(l, 2-c.x, 2-c.y, 0); got > 1e-9 {
				t.Errorf("m %v towards %v: %v at 90° from the axis", m, c.towards, got)
			}
		}
	}
	if got := at(lightfield.Lamp{Exponent: 1, Tilt: 180}, 1, 1, 0.5); got != 0 {
		t.Errorf("a lamp that faces up lights the floor: %v", got)
	}
	// c = 0 along own x: (2/π) cos γ sin² γ · 1.5 at 45°, 0.5 along own y.
	long, wide := 100*2/math.Pi*math.Pow(math.Sqrt2/2, 3)*1.5*math.Sqrt2/2/2, 100*2/math.Pi*math.Pow(math.Sqrt2/2, 3)*0.5*math.Sqrt2/2/2
	b := lightfield.Lamp{Distribution: batwing{}, Turn: 90}
	if got := [2]float64{at(b, 1, 2, 0), at(b, 2, 1, 0)}; relative(got[0], long) > 1e-7 || relative(got[1], wide) > 1e-7 { // angles are good to 3e-8
		t.Errorf("batwing along y and x: %v, want %v and %v", got, long, wide)
	}
}

// Tilted, turned and patterned openings at random against 300 × 300 midpoints
// that share nothing with the program but the tracer's way of rotating. Tolerance:
// MaxError of 1 %, or of the brightest light such a lamp gives at that distance,
// 1e-4 (light that grazes along a plane).
func TestNearFieldOfTiltedLamps(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	worst := 0.0
	for i := range 190 {
		l := lightfield.Lamp{
			Centre: lightfield.Point{X: 1, Y: 1, Z: 1}, Shape: lightfield.Shape(i % 3),
			Width: 0.02 + 0.6*rng.Float64(), Depth: 0.02 + 0.3*rng.Float64(), Flux: 100,
			Exponent: []float64{1, 0, 2.4, 9}[i%4], Turn: quantity.Degree(360 * rng.Float64()),
			Tilt: quantity.Degree(80 * rng.Float64()), Towards: quantity.Degree(360 * rng.Float64()),
		}
		l.Inner = 0.95 * rng.Float64() * l.Width
		switch i / 12 % 4 {
		case 1:
			l.Distribution = batwing{}
		case 2:
			l.Tilt, l.Distribution = 0, newTable()
		case 3:
			l.Tilt = 0
		}
		if i >= 150 { // level bars, as long as plants are far
			l.Shape, l.Width, l.Depth, l.Tilt, l.Turn = lightfield.Rectangle, 1.2, 0.04, 0, []quantity.Degree{0, 90}[i%2]
			l.Distribution = []lightfield.Distribution{batwing{}, newTable()}[i/2%2]
		}
		p := lightfield.Point{X: 1 + 0.8*(rng.Float64()-0.5), Y: 1 + 0.8*(rng.Float64()-0.5), Z: 1 - 0.03 - 0.5*rng.Float64()*rng.Float64()}
		got := solve(t, open(2, 2, 2), l).Direct(nil, []lightfield.Point{p})[0]
		turned := axes(l)
		_, axis, _ := start(lightfield.Lamp{Exponent: 1e9}, turned, [4]float64{0.5, 0.5, 0.5, 1})
		own := func(c float64) [3]float64 { // the lamp's own direction c, square to the axis
			_, d, _ := start(lightfield.Lamp{Distribution: upAndDown{}}, turned, [4]float64{0, 0, (c + math.Pi) / (2 * math.Pi), 0.5})
			return d
		}
		x, y := own(0), own(math.Pi/2)
		const n = 300
		want := midpoint(n, func(u, v float64) float64 {
			q, _, _ := start(l, turned, [4]float64{u, v, 0, 0})
			d := [3]float64{p.X - q[0], p.Y - q[1], p.Z - q[2]}
			d2 := dot(d, d)
			dist := math.Sqrt(d2)
			cos := dot(d, axis) / dist
			if d[2] >= 0 {
				return 0
			}
			var rel float64
			if l.Distribution != nil {
				rel = l.Distribution.Relative(math.Atan2(dot(d, y), dot(d, x)), math.Acos(cos))
			} else if cos > 0 {
				rel = (l.Exponent + 1) / (2 * math.Pi) * math.Pow(cos, l.Exponent)
			}
			return 100 * rel * -d[2] / dist / d2
		})
		off := math.Abs(got - want)
		worst = max(worst, off/(want+1e-3))
		if off > 0.01*want+1e-3 {
			t.Errorf("%+v at %+v: %v, want %v (%.2f %%)", l, p, got, want, 100*(got/want-1))
		}
	}
	t.Logf("worst error %.3f %%", 100*worst)
}

// A Lambert rectangle at any tilt has a closed form, a sum over its edges
// (Lambert's formula, quoted by GoralEtAl1984 as the contour integral):
// E = M/(2π) Σ Γ_k · n, Γ_k along the normal of the triangle of edge and receiver,
// as long as its angle. Nearer than an opening's width. Tolerance 1 %.
func TestTiltedRectangleByLambertsFormula(t *testing.T) {
	for _, tilt := range []quantity.Degree{0.001, 20, 45, 70} {
		l := lightfield.Lamp{Centre: lightfield.Point{X: 1, Y: 1, Z: 1}, Width: 0.5, Depth: 0.3, Flux: 100, Exponent: 1, Tilt: tilt, Towards: 40, Turn: 10}
		f := solve(t, open(2, 2, 2), l)
		for _, p := range []lightfield.Point{{X: 1.2, Y: 1.2, Z: 0.7}, {X: 1.5, Y: 1.4, Z: 0.4}, {X: 1, Y: 1.1, Z: 0.6}} {
			var v [4][3]float64
			for i, c := range [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
				q, _, _ := start(l, axes(l), [4]float64{c[0], c[1], 0, 0})
				v[i] = [3]float64{q[0] - p.X, q[1] - p.Y, q[2] - p.Z}
			}
			sum := 0.0
			for i, a := range v {
				b := v[(i+1)%4]
				cross := [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
				angle := math.Acos(dot(a, b) / math.Sqrt(dot(a, a)*dot(b, b)))
				sum += angle * cross[2] / math.Sqrt(dot(cross, cross))
			}
			want := 100 / 0.15 / (2 * math.Pi) * math.Abs(sum)
			if got := f.Direct(nil, []lightfield.Point{p})[0]; relative(got, want) > 0.01 {
				t.Errorf("tilt %v at %+v: %v, want %v", tilt, p, got, want)
			}
		}
	}
}

// A ring is a disc less its middle: on the axis E = M (R²/(R²+d²) − r²/(r²+d²)),
// M = Φ/(π(R²−r²)); elementary. The second ring takes the general way.
func TestRingOnAxis(t *testing.T) {
	for _, tilt := range []quantity.Degree{0, 1e-7} {
		for _, r := range []float64{0.05, 0.15, 0.195} {
			for _, d := range []float64{0.05, 0.3, 1.5} {
				l := lightfield.Lamp{Centre: lightfield.Point{X: 1, Y: 1, Z: 1.8}, Shape: lightfield.Ring, Width: 0.4, Inner: 2 * r, Flux: 100, Exponent: 1, Tilt: tilt}
				got := solve(t, open(2, 2, 2), l).Direct(nil, []lightfield.Point{{X: 1, Y: 1, Z: 1.8 - d}})[0]
				want := 100 / (math.Pi * (0.04 - r*r)) * (0.04/(0.04+d*d) - r*r/(r*r+d*d))
				if relative(got, want) > 0.01 {
					t.Errorf("inner radius %v at %v m: %v, want %v", r, d, got, want)
				}
			}
		}
	}
}

func TestTiltedLampFaults(t *testing.T) {
	ok := lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.5, Z: 0.9}, Width: 0.4, Depth: 0.1, Flux: 10, Exponent: 1}
	for _, c := range []struct {
		change func(*lightfield.Lamp)
		want   string
	}{
		{func(l *lightfield.Lamp) { l.Tilt = 40 }, "through a closed side in z: it spans 0.7714 to 1.029 m"},
		{func(l *lightfield.Lamp) { l.Tilt = 181 }, "a tilt is from 0° to 180°"},
		{func(l *lightfield.Lamp) { l.Turn = quantity.Degree(math.NaN()) }, "a tilt is from 0° to 180°"},
		{func(l *lightfield.Lamp) { l.Centre.Y, l.Turn = 0.1, 90 }, "through a closed side in y"},
		{func(l *lightfield.Lamp) { l.Shape, l.Inner = lightfield.Ring, 0.4 }, "the middle must be from 0 and below the width"},
		{func(l *lightfield.Lamp) { l.Shape = 3 }, "the shape 3 is not known"},
		{func(l *lightfield.Lamp) { l.Distribution = table{1} }, "the distribution adds up to 2.12 over all directions"},
	} {
		l := ok
		c.change(&l)
		if _, err := lightfield.Solve(boxed(1, 1, 1, 0.5), []lightfield.Lamp{l}, lightfield.Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v lacks %q", err, c.want)
		}
	}
}
