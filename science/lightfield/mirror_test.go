package lightfield_test

import (
	"math"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// mirrored is a black box with mirrors of the shares given on left, right, front,
// back, below, above.
func mirrored(width, depth, height float64, m ...quantity.Fraction) lightfield.Space {
	s := boxed(width, depth, height, 0)
	for i, v := range m {
		s.Walls[i].Mirror = v
	}
	return s
}

// pointLight is E = Φ (m+1)/(2π) cos^(m+1) θ / d² under a point that faces down.
func pointLight(flux, m, dx, dy, h float64) float64 {
	if h <= 0 {
		return 0
	}
	d2 := dx*dx + dy*dy + h*h
	return flux * (m + 1) / (2 * math.Pi) * math.Pow(h/math.Sqrt(d2), m+1) / d2
}

// A mirror shows one copy of a lamp: the light beside it is the sum of two lamps by
// the distance law, the copy dimmed by the mirror share. Tolerance: rounding, and
// the powers of whole exponents are exact.
func TestOneMirror(t *testing.T) {
	s := mirrored(2, 2, 2, 0.85)
	f := solve(t, s, lightfield.Lamp{Centre: lightfield.Point{X: 0.3, Y: 1, Z: 1.5}, Flux: 80, Exponent: 2})
	for _, p := range []lightfield.Point{{X: 0.1, Y: 0.9, Z: 0.2}, {X: 1.7, Y: 0.4, Z: 1.2}, {X: 0, Y: 1, Z: 0}} {
		want := pointLight(80, 2, p.X-0.3, p.Y-1, 1.5-p.Z) + 0.85*pointLight(80, 2, p.X+0.3, p.Y-1, 1.5-p.Z)
		if got := f.PPFD(nil, []float64{1}, []lightfield.Point{p})[0]; relative(got, want) > 1e-9 {
			t.Errorf("at %+v: %v, want %v", p, got, want)
		}
		if got := f.Direct(nil, []lightfield.Point{p})[0]; relative(got, pointLight(80, 2, p.X-0.3, p.Y-1, 1.5-p.Z)) > 1e-9 {
			t.Errorf("direct light at %+v holds that of the mirror: %v", p, got)
		}
	}
}

// A floor mirror shows nothing to a surface that faces up, but with a mirror above
// as well the light comes again from the second copy: 2H higher, and dimmed twice.
func TestMirrorsAboveAndBelow(t *testing.T) {
	s := mirrored(2, 2, 1, 0, 0, 0, 0, 0.7, 0.6)
	f := solve(t, s, lightfield.Lamp{Centre: lightfield.Point{X: 1, Y: 1, Z: 0.8}, Flux: 80, Exponent: 1})
	want := 0.0
	for n := range 40 {
		want += math.Pow(0.42, float64(n)) * pointLight(80, 1, 0.3, 0, 0.7+2*float64(n))
	}
	if got := f.PPFD(nil, []float64{1}, []lightfield.Point{{X: 1.3, Y: 1, Z: 0.1}})[0]; relative(got, want) > 1e-3 {
		t.Errorf("%v, want %v", got, want)
	}
}

// Two mirrors face to face repeat a lamp without end. The sum is taken here over
// 4000 copies, whose places and weights are found by reflecting the last one in turn
// in the left and the right mirror. Tolerance: a quarter of MaxError, where the
// package stops.
func TestTwoMirrorsFaceToFace(t *testing.T) {
	for _, m := range [][2]float64{{0.5, 0.9}, {0.95, 0.95}, {1, 1}} {
		s := mirrored(1, 3, 1, quantity.Fraction(m[0]), quantity.Fraction(m[1]))
		f := solve(t, s, lightfield.Lamp{Centre: lightfield.Point{X: 0.3, Y: 1.5, Z: 0.9}, Flux: 80, Exponent: 1})
		for _, p := range []lightfield.Point{{X: 0.8, Y: 1.2, Z: 0.1}, {X: 0.01, Y: 2.9, Z: 0}} {
			want := pointLight(80, 1, 0.3-p.X, 1.5-p.Y, 0.9-p.Z)
			for first := range 2 { // the mirror met first on the way back from p
				x, w, mirror := 0.3, 1.0, first
				for range 2000 {
					x, w, mirror = 2*float64(mirror)-x, w*m[mirror], 1-mirror
					want += w * pointLight(80, 1, x-p.X, 1.5-p.Y, 0.9-p.Z)
				}
			}
			if got := f.PPFD(nil, []float64{1}, []lightfield.Point{p})[0]; relative(got, want) > 0.0025 {
				t.Errorf("mirrors %v at %+v: %v, want %v (%.2f %%)", m, p, got, want, 100*(got/want-1))
			}
		}
	}
}

// A bar from one perfect mirror to the other is an endless strip. Under such a
// strip of exitance M, which spans angles θ₁ to θ₂ from straight up, E = M/2
// (sin θ₂ − sin θ₁) (Siegel and Howell, element and infinite strip).
func TestBarBetweenMirrorsIsEndless(t *testing.T) {
	s := mirrored(0.8, 2, 1, 1, 1)
	f := solve(t, s, lightfield.Lamp{Centre: lightfield.Point{X: 0.4, Y: 1, Z: 0.6}, Width: 0.8, Depth: 0.1, Flux: 100, Exponent: 1})
	for _, y := range []float64{1, 1.3, 0.2} {
		sin := func(y2 float64) float64 { return (y2 - y) / math.Hypot(y2-y, 0.6) }
		want := 100 / 0.08 / 2 * (sin(1.05) - sin(0.95))
		for _, x := range []float64{0.4, 0.05} {
			if got := f.PPFD(nil, []float64{1}, []lightfield.Point{{X: x, Y: y}})[0]; relative(got, want) > 0.0075 {
				t.Errorf("at %v, %v: %v, want %v", x, y, got, want)
			}
		}
	}
}

// A box of perfect mirrors over a black floor sends all light to the floor,
// whatever the lamp; and with any mirrors, absorbed light adds up to what is sent
// out. Tolerance 0.75 %: half of MaxError for the lamps as without mirrors, and the
// quarter that is given up with the far copies.
func TestMirrorsKeepTheLight(t *testing.T) {
	for k, l := range append(someLamps,
		lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.3, Z: 0.2}, Width: 0.2, Depth: 0.1, Flux: 100, Exponent: 1, Turn: 20},
		lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.3, Z: 0.2}, Width: 0.2, Depth: 0.1, Flux: 100, Distribution: upAndDown{}, Tilt: 40, Towards: 30, Turn: 20},
	) {
		s := mirrored(1.2, 0.6, 0.8, 0.9, 0.9, 0.85, 0.95, 0, 0.9)
		if k == 4 { // perfect mirrors are followed in a low room only
			s = mirrored(1.2, 0.9, 0.3, 1, 1, 1, 1, 0, 1)
		}
		f := solve(t, s, l)
		e := f.WallIrradiance([]float64{1})
		for i, w := range s.Walls {
			e[i] *= 1 - float64(w.Mirror)
		}
		if got := total(s, e); relative(got, float64(l.Flux)) > 0.0075 {
			t.Errorf("lamp %d: %v of %v arrives", k, got, l.Flux)
		}
	}
	s := boxed(1.2, 0.6, 0.8, 0.3)
	for i, m := range []quantity.Fraction{0.5, 0.6, 0, 0.65, 0.1, 0.4} {
		s.Walls[i].Mirror = m
	}
	e := solve(t, s, someLamps...).WallIrradiance([]float64{1, 1, 1, 1})
	for i, w := range s.Walls {
		e[i] *= 1 - float64(w.Mirror+w.Reflectance)
	}
	if got := total(s, e); relative(got, 280) > 0.0075 {
		t.Errorf("%v absorbed, want 280", got)
	}
}

// A perfect mirror makes half a room of the whole: a box with one is the left half
// of a box twice as wide without, hung with the lamps and their copies. The sides
// scatter, so that this checks their exchange by way of the mirror. Both are cut
// into the same patches; what is left is the tolerance of the lattice, 0.5 %.
func TestMirrorIsHalfARoom(t *testing.T) {
	half := boxed(0.9, 0.7, 0.8, 0.75)
	half.Walls[lightfield.Below].Reflectance = 0.3
	half.Walls[lightfield.Front].Open = true
	whole := half
	whole.Width *= 2
	half.Walls[lightfield.Right] = lightfield.Wall{Mirror: 1}
	lamps := []lightfield.Lamp{
		{Centre: lightfield.Point{X: 0.3, Y: 0.3, Z: 0.6}, Width: 0.3, Depth: 0.1, Flux: 80, Exponent: 1, Turn: 30},
		{Centre: lightfield.Point{X: 0.8, Y: 0.5, Z: 0.7}, Flux: 50, Distribution: batwing{}, Tilt: 25, Towards: 70, Turn: 15},
	}
	both := append([]lightfield.Lamp(nil), lamps...)
	for _, l := range lamps {
		l.Centre.X = whole.Width - l.Centre.X
		l.Turn, l.Towards = -l.Turn, 180-l.Towards
		both = append(both, l)
	}
	a, err := lightfield.Solve(half, lamps, lightfield.Options{Patches: 600})
	if err != nil {
		t.Fatal(err)
	}
	b, err := lightfield.Solve(whole, both, lightfield.Options{Patches: 1200})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []lightfield.Point{{X: 0.05, Y: 0.1}, {X: 0.85, Y: 0.6, Z: 0.1}, {X: 0.45, Y: 0.35, Z: 0.3}, {X: 0.89, Y: 0.02}} {
		got, want := a.PPFD(nil, []float64{1, 1}, []lightfield.Point{p})[0], b.PPFD(nil, []float64{1, 1, 1, 1}, []lightfield.Point{p})[0]
		if relative(got, want) > 0.005 {
			t.Errorf("at %+v: %v, want %v (%.2f %%)", p, got, want, 100*(got/want-1))
		}
	}
}

// Mirrors face to face at both ends make a room without end: it is held against a
// room of nine such lengths that has lamps all along, in its middle. The light from
// beyond is worth 0.3 % there.
func TestMirrorsMakeALongRoom(t *testing.T) {
	short := boxed(0.6, 0.7, 0.6, 0.7)
	short.Walls[lightfield.Below].Reflectance = 0.1
	long := short
	long.Width *= 9
	short.Walls[lightfield.Left], short.Walls[lightfield.Right] = lightfield.Wall{Mirror: 1}, lightfield.Wall{Mirror: 1}
	lamp := lightfield.Lamp{Centre: lightfield.Point{X: 0.3, Y: 0.3, Z: 0.5}, Width: 0.2, Depth: 0.2, Flux: 80, Exponent: 1}
	var all []lightfield.Lamp
	var dim []float64
	for i := range 9 {
		l := lamp
		l.Centre.X += 0.6 * float64(i)
		all, dim = append(all, l), append(dim, 1)
	}
	a := solve(t, short, lamp)
	b, err := lightfield.Solve(long, all, lightfield.Options{Patches: 3000})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []lightfield.Point{{X: 0.3, Y: 0.3}, {X: 0.05, Y: 0.65, Z: 0.1}, {X: 0.5, Y: 0.1, Z: 0.3}} {
		got := a.PPFD(nil, []float64{1}, []lightfield.Point{p})[0]
		p.X += 4 * 0.6
		if want := b.PPFD(nil, dim, []lightfield.Point{p})[0]; relative(got, want) > 0.0075 {
			t.Errorf("at %+v: %v, want %v (%.2f %%)", p, got, want, 100*(got/want-1))
		}
	}
}
