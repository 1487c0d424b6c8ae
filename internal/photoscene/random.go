package photoscene

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"

	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

// A Stand is one label with its plant in a random scene.
type Stand struct {
	Label  Label
	Leaves []Leaf
	Height float64 // top of the plant over the label, mm
	Area   float64 // cm², seen from straight above at infinity
	Width  float64 // mm
}

// A Trial is a random scene with what is true of it.
type Trial struct {
	Scene
	Stands []Stand
	Module float64 // pixels a module of the first label's code, about
	Words  string  // what was drawn, for a line of a log
}

// A Form is how leaves stand over the label's plane.
type Form int

// The forms.
const (
	Flat   Form = iota // on the plane
	Middle             // about half of the height, as a plant whose leaves are spread evenly up to it
	Bowl               // the long outer leaves low, the short inner ones high
)

// Draw is a random scene of a number: photos as people take them, from good ones to such
// that should be refused. Side is the longer side of the photo in pixels, stands the number of
// labels, each with its plant.
func Draw(number uint64, side, stands int, form Form) Trial {
	rng := rand.New(rand.NewPCG(number, 0x706c616e74))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	layouts := plantlabel.Layouts()
	l := layouts[rng.IntN(len(layouts))]
	t := Trial{}
	w, h := side, side*3/4
	focal := between(0.65, 1.1) * float64(side)
	plant := between(30, 110) // mm, half of the width about
	pitch := max(2*plant, 1.2*l.Width) + between(10, 60)
	field := 1.15 * max(pitch*float64(stands)+40, 4.0/3*(2*plant+l.Height+60))
	t.Camera = Camera{Width: w, Height: h, Focal: focal, Distance: focal * field / float64(side),
		Tilt: between(0, 30) * math.Pi / 180, Azimuth: between(0, 2*math.Pi), Roll: between(-0.3, 0.3)}
	t.Ground = [3]float64{between(0.1, 0.6), between(0.1, 0.5), between(0.05, 0.45)}
	if t.Ground[1] > 0.9*t.Ground[0] { // no green ground
		t.Ground[1] = 0.9 * t.Ground[0]
	}
	t.Grain = between(0, 0.25)
	perMM := focal / t.Camera.Distance
	t.Module = l.QR.Width / plantlabel.Modules * perMM
	t.Blur = between(0, 0.4) * min(t.Module, 4)
	t.Noise = between(0.5, 7)
	t.Vignette = between(0, 0.35)
	t.Exposure = between(0.3, 0.85)
	t.Seed = number
	cast := srgb.Matrix{{between(0.75, 1), between(0, 0.12), between(0, 0.05)}, {between(0, 0.1), between(0.8, 1), between(0, 0.1)}, {between(0, 0.04), between(0, 0.12), between(0.55, 1)}}
	t.Light = &cast
	mono := rng.IntN(4) == 0
	for i := range stands {
		code := ""
		for range 1 + rng.IntN(plantlabel.MaxCode) {
			code += string("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"[rng.IntN(36)])
		}
		x := (float64(i) - float64(stands-1)/2) * pitch
		turn := between(-0.3, 0.3)
		away := plant + between(4, 25) + l.Height/2*math.Cos(turn) + l.Width/2*math.Abs(math.Sin(turn))
		s := Stand{Label: Label{Layout: l, Content: plantlabel.Content{Code: plantlabel.Code(code)}, X: x + between(-0.2, 0.2)*plant, Y: -away * 0.6, Turn: turn, Mono: mono}}
		r := plant * between(0.8, 1)
		s.Height = between(0.3, 0.9) * r
		z := s.Height
		if form == Flat {
			z, s.Height = 0, 0
		}
		s.Leaves = Rosette(rng, x, 0.4*away, r, z, 6+rng.IntN(10))
		if form == Middle {
			for j := range s.Leaves {
				s.Leaves[j].Z = s.Height * between(0.3, 0.7)
			}
		}
		s.Area, s.Width = Area(s.Leaves)/100, Width(s.Leaves)
		t.Stands = append(t.Stands, s)
		t.Labels = append(t.Labels, s.Label)
		t.Leaves = append(t.Leaves, s.Leaves...)
	}
	if rng.IntN(3) == 0 {
		t.Shadows = append(t.Shadows, Shadow{between(-80, 80), between(-60, 60), between(40, 150), between(40, 150), between(0.4, 0.85)})
	}
	t.Words = fmt.Sprintf("%s, %d × %d, tilt %.0f°, %.1f px a module, blur %.1f px, noise %.1f, exposure %.2f, mono %v, shadow %v",
		l.Name, w, h, t.Camera.Tilt*180/math.Pi, t.Module, t.Blur, t.Noise, t.Exposure, mono, len(t.Shadows) > 0)
	return t
}

// Render takes the photo.
func (t *Trial) Render() *image.RGBA { return t.Scene.Render() }
