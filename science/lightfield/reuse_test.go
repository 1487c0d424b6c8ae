package lightfield_test

import (
	"math"
	"slices"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// Changing one lamp must give what solving anew gives, and keep the field that
// was. Tolerance: rounding.
func TestReplaceIsSolvingAnew(t *testing.T) {
	s, lamps := rack(0.3)
	s.Walls[lightfield.Left].Mirror = 0.1
	f := solve(t, s, lamps...)
	pts := grid(s, 4, 3, 0.1)
	before := f.Responses(nil, pts)
	moved := lamps[7]
	moved.Centre.Z, moved.Tilt, moved.Towards = 0.4, 20, 90
	g, err := f.Replace(7, moved)
	if err != nil {
		t.Fatal(err)
	}
	lamps[7] = moved
	want := solve(t, s, lamps...).Responses(nil, pts)
	for i, v := range g.Responses(nil, pts) {
		if relative(v, want[i]) > 1e-12 {
			t.Fatalf("%v, want %v", v, want[i])
		}
	}
	for i, v := range g.ResponseOf(nil, 7, pts) {
		if relative(v, want[7*len(pts)+i]) > 1e-12 {
			t.Fatalf("response of one: %v, want %v", v, want[7*len(pts)+i])
		}
	}
	for i, v := range f.Responses(nil, pts) {
		if v != before[i] {
			t.Fatal("replacing a lamp changed the field it was taken from")
		}
	}
	moved.Centre.X = -1
	if _, err := f.Replace(7, moved); err == nil {
		t.Error("a lamp outside the space was accepted")
	}
}

// A side with another reflectance must give what a room made with it gives, from 0
// and to 0 as well. Tolerance: rounding of the balance.
func TestReflectanceMayChange(t *testing.T) {
	s, lamps := rack(0.3)
	s.Panels = []lightfield.Panel{{X1: 1.8, X2: 2.4, Y1: 0, Y2: 0.6, Z: 0.2, Top: 0.5, Bottom: 0.5}}
	room, err := lightfield.NewRoom(s, lightfield.Options{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := room.Solve(lamps)
	if err != nil {
		t.Fatal(err)
	}
	pts := grid(s, 4, 3, 0.05)
	for _, c := range []struct {
		side  lightfield.Side
		rho   float64
		tight float64
	}{{lightfield.Below, 0.06, 1e-9}, {lightfield.Below, 0, 0.02}, {lightfield.Front, 0.7, 1e-9}} {
		with, err := room.WithReflectance(c.side, quantity.Fraction(c.rho))
		if err != nil {
			t.Fatal(err)
		}
		g, err := f.In(with)
		if err != nil {
			t.Fatal(err)
		}
		other := s
		other.Walls[c.side] = lightfield.Wall{Reflectance: quantity.Fraction(c.rho)}
		h, err := lightfield.Solve(other, lamps, lightfield.Options{})
		if err != nil {
			t.Fatal(err)
		}
		dim := slices.Repeat([]float64{1}, len(lamps))
		want := h.PPFD(nil, dim, pts)
		for i, v := range g.PPFD(nil, dim, pts) {
			// Without the patches of the floor the others are cut finer: their own error.
			if math.Abs(v-want[i]) > c.tight*want[i] {
				t.Fatalf("side %v at %v: %v, want %v", c.side, c.rho, v, want[i])
			}
		}
		if g.Space().Walls[c.side] != other.Walls[c.side] {
			t.Errorf("the space does not say so: %+v", g.Space().Walls[c.side])
		}
	}
	if _, err := room.WithReflectance(lightfield.Below, 1.5); err == nil {
		t.Error("a reflectance of 1.5 was accepted")
	}
}

// The light at a dimming is the combination of the responses, with mirrors,
// panels and planes of many points as well. Tolerance: rounding.
func TestPPFDIsTheSumOfResponses(t *testing.T) {
	for _, kind := range []string{"plain", "mirrors", "panel"} {
		s, lamps := rack(0.3)
		lamps = lamps[:5]
		switch kind {
		case "mirrors":
			s.Walls[lightfield.Left], s.Walls[lightfield.Right] = lightfield.Wall{Mirror: 0.8}, lightfield.Wall{Mirror: 0.6, Reflectance: 0.2}
		case "panel":
			s.Panels = []lightfield.Panel{{X1: 0, X2: 1, Y1: 0.5, Y2: 1, Z: 0.2, Top: 0.5}}
		}
		f, err := lightfield.Solve(s, lamps, lightfield.Options{Patches: 100})
		if err != nil {
			t.Fatal(err)
		}
		dim := []float64{1, 0, 0.3, 0.7, 1.2}
		pts := append(grid(s, 45, 40, 0.1), lightfield.Point{X: 0.3, Y: 0.2, Z: 0.05}, lightfield.Point{X: math.NaN()})
		want := lightfield.Combine(nil, f.Responses(nil, pts), dim)
		for i, v := range f.PPFD(nil, dim, pts) {
			if !(relative(v, want[i]) < 1e-9) && !(math.IsNaN(v) && math.IsNaN(want[i])) {
				t.Fatalf("%s, point %d: %v, want %v", kind, i, v, want[i])
			}
		}
	}
}

// PPFD must not hold lamps × points: 500 lamps at 100 000 points would be 400 MB.
// Here 100 lamps at 20 000 points, 16 MB of products; the bound leaves room for the
// lattice, whose size does not depend on either.
func TestPPFDNeedsLittleMemory(t *testing.T) {
	s, lamps := rack(0.3)
	for len(lamps) < 100 {
		lamps = append(lamps, lamps[len(lamps)%24])
	}
	f, err := lightfield.Solve(s, lamps, lightfield.Options{Patches: 100})
	if err != nil {
		t.Fatal(err)
	}
	dim := make([]float64, len(lamps))
	for i := range dim {
		dim[i] = 1
	}
	pts := grid(s, 200, 100, 0.1)
	dst := make([]float64, len(pts))
	r := testing.Benchmark(func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f.PPFD(dst, dim, pts)
		}
	})
	if r.AllocedBytesPerOp() > 2<<20 {
		t.Errorf("%d bytes for one map", r.AllocedBytesPerOp())
	}
}
