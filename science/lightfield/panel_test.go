package lightfield_test

import (
	"strings"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// A panel that fills the box from side to side makes two boxes of it: what is above
// has its top as floor, what is below its underside as ceiling, and no light goes
// through. The boxes alone are solved without panels, on the exact exchange of their
// grid. Tolerance 1 %: their patches differ.
func TestFullPanelMakesTwoBoxes(t *testing.T) {
	s := boxed(1.2, 0.6, 1.1, 0.7)
	s.Panels = []lightfield.Panel{{X2: 1.2, Y2: 0.6, Z: 0.5, Top: 0.3, Bottom: 0.8}}
	low := lightfield.Lamp{Centre: lightfield.Point{X: 0.4, Y: 0.3, Z: 0.4}, Width: 0.3, Depth: 0.1, Flux: 60, Exponent: 1}
	high := low
	high.Centre.Z += 0.5
	f := solve(t, s, low, high)
	pts := []lightfield.Point{{X: 0.3, Y: 0.2}, {X: 1.1, Y: 0.55, Z: 0.1}, {X: 0.3, Y: 0.2, Z: 0.5}, {X: 1.1, Y: 0.55, Z: 0.6}}
	got := f.Responses(nil, pts)
	for i, v := range got {
		if same := (i >= 4) == (i%4 >= 2); !same && v != 0 {
			t.Errorf("light through the panel: %v at %+v", v, pts[i%4])
		}
	}
	under := boxed(1.2, 0.6, 0.5, 0.7)
	under.Walls[lightfield.Above].Reflectance = 0.8
	over := boxed(1.2, 0.6, 0.6, 0.7)
	over.Walls[lightfield.Below].Reflectance = 0.3
	a, b := solve(t, under, low), solve(t, over, low)
	for i, p := range pts {
		want := 0.0
		if i < 2 {
			want = a.PPFD(nil, []float64{1}, []lightfield.Point{p})[0]
		} else {
			p.Z -= 0.5
			want = b.PPFD(nil, []float64{1}, []lightfield.Point{p})[0]
			got[i] = got[4+i]
		}
		if relative(got[i], want) > 0.01 {
			t.Errorf("at %+v: %v, want %v (%.2f %%)", p, got[i], want, 100*(got[i]/want-1))
		}
	}
}

// What a panel leaves of a level panel lamp is a rectangle again, whose light has a
// closed form (element and parallel rectangle). The lamp spans 0.8 to 1.2 in x and
// y at 1.5; the panel at 1.0 ends at x = 1 and hides, from a point at height 0, all
// of the lamp below x_p + 1.5 (1 − x_p). Tolerance: MaxError.
func TestShadowOfAPanelLamp(t *testing.T) {
	s := boxed(2, 2, 2, 0)
	s.Panels = []lightfield.Panel{{X2: 1, Y2: 2, Z: 1}}
	for _, turn := range []quantity.Degree{0, 90, 1e-9} { // the last goes by places
		f := solve(t, s, lightfield.Lamp{Centre: lightfield.Point{X: 1, Y: 1, Z: 1.5}, Width: 0.4, Depth: 0.4, Flux: 100, Exponent: 1, Turn: turn})
		for _, c := range []struct{ x, from float64 }{{1.5, 0.8}, {1.4, 0.8}, {1.2, 0.9}, {1, 1}, {0.7, 1.15}, {0.6, 1.2}} {
			want := 100 / 0.16 * lightfield.ElementToParallelRectangle(c.from-c.x, 1.2-c.x, -0.2, 0.2, 1.5)
			got := f.Direct(nil, []lightfield.Point{{X: c.x, Y: 1}})[0]
			bound := 0.01 * want
			if turn == 1e-9 { // a share of the opening seen to a quarter of a step
				bound += 0.25 / 12 * 100 / 0.16 * lightfield.ElementToParallelRectangle(0.8-c.x, 1.2-c.x, -0.2, 0.2, 1.5)
			}
			if !(got <= want+bound && got >= want-bound) {
				t.Errorf("turn %v, x %v: %v, want %v", turn, c.x, got, want)
			}
		}
	}
}

// Absorbed light adds up to what is sent out with panels in the box, and with
// mirrors as well. Tolerance 1 %: shares in sight are sampled.
func TestPanelsKeepTheBalance(t *testing.T) {
	for _, mirror := range []quantity.Fraction{0, 0.5} {
		s := boxed(1.2, 0.6, 0.8, 0.4)
		s.Walls[lightfield.Left].Mirror, s.Walls[lightfield.Back].Mirror = mirror, mirror
		s.Panels = []lightfield.Panel{
			{X1: 0, X2: 0.5, Y1: 0, Y2: 0.6, Z: 0.33, Top: 0.7, Bottom: 0.5},
			{X1: 0.8, X2: 1.1, Y1: 0.2, Y2: 0.5, Z: 0.15, Top: 0.2, Bottom: 0.9},
		}
		f := solve(t, s, someLamps[0], someLamps[1], someLamps[2])
		dim := []float64{1, 1, 1}
		e := f.WallIrradiance(dim)
		for i, w := range s.Walls {
			e[i] *= 1 - float64(w.Mirror+w.Reflectance)
		}
		got := total(s, e)
		top, bottom := f.PanelIrradiance(dim)
		for i, p := range s.Panels {
			got += (p.X2 - p.X1) * (p.Y2 - p.Y1) * (top[i]*(1-float64(p.Top)) + bottom[i]*(1-float64(p.Bottom)))
		}
		if relative(got, 220) > 0.01 {
			t.Errorf("mirror %v: %v absorbed, want 220", mirror, got)
		}
	}
}

func TestPanelFaults(t *testing.T) {
	lamp := lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.5, Z: 0.5}, Width: 0.2, Depth: 0.2, Flux: 10, Exponent: 1}
	for _, c := range []struct {
		panel lightfield.Panel
		want  string
	}{
		{lightfield.Panel{X1: 0.5, X2: 0.4, Y2: 1, Z: 0.3}, "panel 1 spans 0.5 to 0.4 m in x"},
		{lightfield.Panel{X2: 1, Y1: 0.5, Y2: 1.4, Z: 0.3}, "panel 1 spans 0.5 to 1.4 m in y"},
		{lightfield.Panel{X2: 1, Y2: 1, Z: 1}, "panel 1 is at a height of 1 m"},
		{lightfield.Panel{X2: 1, Y2: 1, Z: 0.3, Top: 1.2}, "panel 1 has a reflectance of 1.2"},
		{lightfield.Panel{X2: 1, Y2: 1, Z: 0.5}, "lamp 1: the luminous opening touches panel 1"},
	} {
		s := boxed(1, 1, 1, 0.5)
		s.Panels = []lightfield.Panel{c.panel}
		if _, err := lightfield.Solve(s, []lightfield.Lamp{lamp}, lightfield.Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v lacks %q", err, c.want)
		}
	}
	s := boxed(1, 1, 1, 0.5)
	s.Walls[0].Mirror = 0.6
	if _, err := lightfield.NewRoom(s, lightfield.Options{}); err == nil || !strings.Contains(err.Error(), "together at most 1") {
		t.Errorf("side that gives back more than it gets: %v", err)
	}
	narrow := mirrored(0.02, 1, 2, 1, 1)
	if _, err := lightfield.NewRoom(narrow, lightfield.Options{}); err == nil || !strings.Contains(err.Error(), "left and right are such good mirrors") {
		t.Errorf("mirrors without end: %v", err)
	}
}
