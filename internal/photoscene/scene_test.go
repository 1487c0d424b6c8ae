package photoscene

import (
	"math"
	"testing"
)

// The truth of scenes is in closed form where there is one.
func TestTruth(t *testing.T) {
	f := Leaf{X: 3, Y: -2, A: 40, B: 18, Turn: 0.7}
	if got, want := Area([]Leaf{f}), math.Pi*f.A*f.B; math.Abs(got/want-1) > 5e-4 {
		t.Errorf("area of an ellipse %.2f, want %.2f", got, want)
	}
	if got := Width([]Leaf{f}); math.Abs(got/80-1) > 1e-4 {
		t.Errorf("width of an ellipse %.3f, want 80", got)
	}
	g := f
	g.X += 10
	if one, both := Area([]Leaf{f}), Area([]Leaf{f, g}); both <= one || both >= 2*one {
		t.Errorf("two leaves that overlap cover %.1f, one %.1f", both, one)
	}
}

// What Render draws lies where Project says: the mean place of the pixels of a bright leaf
// before a leaning camera with a lens that bends.
func TestRenderAndProjectAgree(t *testing.T) {
	s := Scene{Camera: Camera{Width: 300, Height: 200, Focal: 280, Distance: 300, Tilt: 0.5, Azimuth: 2, Roll: 0.2, K1: -0.03},
		Leaves: []Leaf{{X: 40, Y: -20, Z: 25, A: 4, B: 4, Colour: [3]float64{0.9, 0.9, 0.9}}}}
	m := s.Render()
	var x, y, n float64
	for j := range 200 {
		for i := range 300 {
			w := float64(m.RGBAAt(i, j).G)
			w *= w // nearly linear
			x += w * (float64(i) + 0.5)
			y += w * (float64(j) + 0.5)
			n += w
		}
	}
	u, v := s.Camera.Project(40, -20, 25)
	if math.Hypot(x/n-u, y/n-v) > 0.3 {
		t.Errorf("drawn at %.2f, %.2f, projected to %.2f, %.2f", x/n, y/n, u, v)
	}
}
