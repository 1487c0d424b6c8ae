package labelfind_test

import (
	"bufio"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"underlamp/internal/photoscene"
	"underlamp/science/labelfind"
	"underlamp/science/pinhole"
	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

var pictures = flag.String("pictures", "", "write the pictures of the reader test into this folder")

// scene is a photo of one label on a table, sharp and well lit: 700 × 540 pixels, about 3.5
// pixels a mm.
func scene(letter byte, tilt float64) (photoscene.Scene, photoscene.Label) {
	l, _ := plantlabel.LayoutOf(letter)
	label := photoscene.Label{Layout: l, Content: plantlabel.Content{Code: "7K3Q", Title: "P 11"}, X: -20, Y: 10, Turn: 0.3}
	return photoscene.Scene{
		Camera: photoscene.Camera{Width: 700, Height: 540, Focal: 620, Distance: 178, Tilt: tilt * math.Pi / 180, Azimuth: 1},
		Labels: []photoscene.Label{label}, Ground: [3]float64{0.35, 0.3, 0.25}, Grain: 0.2, Noise: 2, Blur: 0.7, Vignette: 0.2,
	}, label
}

// only is the one label that must be found.
func only(t *testing.T, f *labelfind.Found) *labelfind.Label {
	t.Helper()
	if len(f.Labels) != 1 {
		t.Fatalf("%d labels, want 1: %v %v", len(f.Labels), f.None, f.Sightings)
	}
	return &f.Labels[0]
}

// Every layout is found at its place, from 0° to 35°: marks to a fifth of a pixel, the scale
// at a plant 120 mm away to 1 %, the angle to 1°.
func TestLabelsAreFound(t *testing.T) {
	for _, c := range []struct {
		letter byte
		tilt   float64
	}{{'S', 0}, {'L', 12}, {'T', 22}, {'C', 5}, {'S', 28}} {
		s, label := scene(c.letter, c.tilt)
		if c.letter == 'C' {
			s.Camera.Distance = 260
		}
		// The focal length as EXIF gives it: of a 35 mm film, in whole millimetres.
		exif := math.Round(s.Camera.Focal * pinhole.FullFrame / math.Hypot(700, 540))
		q := only(t, labelfind.Find(s.Render(), labelfind.Options{Focal: exif}))
		name := fmt.Sprintf("%s at %.0f°", label.Layout.Name, c.tilt)
		if q.Refused != nil {
			t.Errorf("%s: %v", name, q.Refused)
			continue
		}
		if q.Code != "7K3Q" || q.Layout.Letter != c.letter || q.Marks != 4 {
			t.Errorf("%s: code %s, layout %c, %d marks", name, q.Code, q.Layout.Letter, q.Marks)
		}
		h := q.Fit.Plane(0)
		for i, m := range label.Layout.Marks {
			u, v := s.Camera.Project(label.At(m))
			p := h.Apply(pinhole.Point(m))
			if d := math.Hypot(p.X-u, p.Y-v); d > 0.2 {
				t.Errorf("%s: mark %d is %.2f pixels off", name, i, d)
			}
		}
		if want := s.Camera.TiltTo(label.X, label.Y, 0); math.Abs(q.Tilt-want) > math.Pi/180 {
			t.Errorf("%s: tilt %.1f°, want %.1f°", name, q.Tilt*180/math.Pi, want*180/math.Pi)
		}
		// The scale 120 mm from the label.
		x, y := label.X+80, label.Y+90
		u, v := s.Camera.Project(x, y, 0)
		mm, sd := q.Fit.PlaceScale(pinhole.Point{X: u, Y: v}, 0)
		a, b := pair(s.Camera, x-0.5, y, x+0.5, y)
		e, f := pair(s.Camera, x, y-0.5, x, y+0.5)
		want := 1 / math.Sqrt(math.Abs(a*f-b*e))
		if math.Abs(mm/want-1) > 0.01 || math.Abs(mm/want-1) > 4*sd {
			t.Errorf("%s: scale at the plant %+.2f %% (stated %.2f %%)", name, 100*(mm/want-1), 100*sd)
		}
		// A pixel's square aperture adds 1/12 to the variance of the blur.
		if want := math.Hypot(s.Blur, math.Sqrt(1.0/12)); math.Abs(q.Blur-want) > 0.35 {
			t.Errorf("%s: blur %.2f pixels, want about %.2f", name, q.Blur, want)
		}
		if !q.Light.Coloured || q.Light.Residual > 0.05 {
			t.Errorf("%s: light %+v", name, q.Light)
		}
	}
}

func pair(c photoscene.Camera, x0, y0, x1, y1 float64) (du, dv float64) {
	u0, v0 := c.Project(x0, y0, 0)
	u1, v1 := c.Project(x1, y1, 0)
	return u1 - u0, v1 - v0
}

// What cannot be used is refused with its reason.
func TestRefusals(t *testing.T) {
	purple := srgb.Matrix{{0.9, 0.02, 0.02}, {0.12, 0.02, 0.10}, {0.01, 0.02, 0.8}} // green is what leaks from red and blue
	for _, c := range []struct {
		name   string
		change func(*photoscene.Scene)
		want   labelfind.Reason
	}{
		{"oblique", func(s *photoscene.Scene) { s.Camera.Tilt, s.Camera.Distance = 48*math.Pi/180, 150 }, labelfind.Oblique},
		{"dark", func(s *photoscene.Scene) { s.Exposure, s.Noise = 0.02, 1 }, labelfind.Dark},
		{"too bright", func(s *photoscene.Scene) { s.Exposure = 1.6 }, labelfind.Bright},
		{"purple", func(s *photoscene.Scene) { s.Light = &purple }, labelfind.Purple},
		{"two marks covered", func(s *photoscene.Scene) {
			for _, i := range []int{1, 2} {
				x, y, _ := s.Labels[0].At(s.Labels[0].Layout.Marks[i])
				s.Leaves = append(s.Leaves, photoscene.Leaf{X: x, Y: y, Z: 2, A: 5, B: 5, Colour: [3]float64{0.1, 0.24, 0.05}})
			}
		}, labelfind.Covered},
		{"code covered", func(s *photoscene.Scene) {
			x, y, _ := s.Labels[0].At(plantlabel.Point{X: 24, Y: 21})
			s.Leaves = append(s.Leaves, photoscene.Leaf{X: x, Y: y, Z: 2, A: 7, B: 6, Colour: [3]float64{0.1, 0.24, 0.05}})
		}, labelfind.Unread},
		{"far away", func(s *photoscene.Scene) { s.Camera.Distance, s.Blur = 330, 0.2 }, labelfind.TooSmall},
		{"blurred", func(s *photoscene.Scene) { s.Blur = 2.2 }, labelfind.Blurred},
		{"two of one code", func(s *photoscene.Scene) {
			o := s.Labels[0]
			o.X, o.Y = o.X+5, o.Y-50
			s.Labels = append(s.Labels, o)
		}, labelfind.Twice},
		{"no label", func(s *photoscene.Scene) { s.Labels = nil }, labelfind.NoLabel},
		{"night", func(s *photoscene.Scene) { s.Exposure, s.Noise = 0.001, 2 }, labelfind.Dark},
	} {
		s, _ := scene('S', 8)
		c.change(&s)
		f := labelfind.Find(s.Render(), labelfind.Options{})
		got := f.None
		if len(f.Labels) > 0 {
			got = f.Labels[0].Refused
		}
		if got == nil || got.Reason != c.want {
			t.Errorf("%s: %v (%+v)", c.name, got, f.Sightings)
			continue
		}
		if !strings.HasSuffix(got.Because, ".") || !strings.HasSuffix(got.Advice, ".") {
			t.Errorf("%s: no sentences: %q %q", c.name, got.Because, got.Advice)
		}
	}
}

// One mark may be covered; a print without colours sets the balance and no matrix; a print
// that is 2 % too large is told of.
func TestWhatIsBorne(t *testing.T) {
	s, label := scene('L', 10)
	x, y, _ := label.At(label.Layout.Marks[2])
	s.Leaves = []photoscene.Leaf{{X: x, Y: y, Z: 2, A: 6, B: 6, Colour: [3]float64{0.1, 0.24, 0.05}}}
	s.Labels[0].Mono = true
	warm := srgb.Matrix{{1, 0, 0}, {0, 0.8, 0}, {0, 0, 0.45}}
	s.Light = &warm
	s.Labels[0].Scale = 1.02
	q := only(t, labelfind.Find(s.Render(), labelfind.Options{PrintScale: 1.02, PrintSD: 0.001}))
	if q.Refused != nil || q.Marks != 3 || len(q.Doubts) == 0 {
		t.Fatalf("%d marks, %v %v", q.Marks, q.Refused, q.Doubts)
	}
	if q.Light.Coloured || q.Light.Purple || !math.IsNaN(q.Light.Residual) {
		t.Errorf("light of a print without colours: %+v", q.Light)
	}
	white := q.Light.Matrix.Apply([3]float64{0.8 * 1, 0.8 * 0.8, 0.8 * 0.45})
	for i, v := range white {
		// Vignetting darkens what lies off the centre.
		if math.Abs(v/white[1]-1) > 0.03 || v < 0.95 || v > 1.12 {
			t.Errorf("white paper comes to %.3f in value %d", v, i)
		}
	}
	// mm are true ones: the print is larger than it should be, and that was told.
	u0, v0 := s.Camera.Project(label.X, label.Y, 0)
	mm, _ := q.Fit.PlaceScale(pinhole.Point{X: u0, Y: v0}, 0)
	a, b := pair(s.Camera, label.X-0.5, label.Y, label.X+0.5, label.Y)
	c, d := pair(s.Camera, label.X, label.Y-0.5, label.X, label.Y+0.5)
	if want := 1 / math.Sqrt(math.Abs(a*d-b*c)); math.Abs(mm/want-1) > 0.005 {
		t.Errorf("scale %+.2f %%", 100*(mm/want-1))
	}
}

// Colours of the light go out: what the patches show is what was printed, to the residual.
func TestColourMatrix(t *testing.T) {
	s, label := scene('L', 5)
	cast := srgb.Matrix{{0.85, 0.12, 0.03}, {0.08, 0.8, 0.1}, {0.02, 0.12, 0.55}}
	s.Light = &cast
	q := only(t, labelfind.Find(s.Render(), labelfind.Options{}))
	if q.Refused != nil || !q.Light.Coloured || q.Light.Residual > 0.03 {
		t.Fatalf("%v, light %+v", q.Refused, q.Light)
	}
	for _, leaf := range [][3]float64{{0.10, 0.24, 0.05}, {0.3, 0.35, 0.08}, {0.12, 0.06, 0.02}} {
		seen := cast.Apply(leaf)
		for i := range seen {
			seen[i] *= 0.8
		}
		got := q.Light.Matrix.Apply(seen)
		for i := range got {
			if math.Abs(got[i]-leaf[i]) > 0.035 {
				t.Errorf("a leaf of %.2f comes to %.2f", leaf, got)
				break
			}
		}
	}
	_ = label
}

// Other QR codes are told apart from labels, and labels are found beside them; photos may lie
// on any side.
func TestForeignCodesAndTurnedPhotos(t *testing.T) {
	s, _ := scene('S', 6)
	m := s.Render()
	code, err := qrcode.NewQRCodeWriter().Encode("HTTPS", gozxing.BarcodeFormat_QR_CODE, 168, 168, nil)
	if err != nil {
		t.Fatal(err)
	}
	for y := range 168 {
		for x := range 168 {
			v := color.RGBA{255, 255, 255, 255}
			if code.Get(x, y) {
				v = color.RGBA{0, 0, 0, 255}
			}
			m.SetRGBA(4+x, 4+y, v)
		}
	}
	b := m.Bounds()
	turned := image.NewRGBA(image.Rect(0, 0, b.Dy(), b.Dx()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			turned.SetRGBA(b.Dy()-1-y, x, m.RGBAAt(x, y))
		}
	}
	f := labelfind.Find(turned, labelfind.Options{})
	q := only(t, f)
	if q.Code != "7K3Q" || q.Refused != nil {
		t.Errorf("label %s, %v", q.Code, q.Refused)
	}
	if len(f.Sightings) != 1 || f.Sightings[0].Refused.Reason != labelfind.Foreign {
		t.Errorf("sightings %+v", f.Sightings)
	}
}

// Pictures of nothing and of noise give no label, whatever their kind and size.
func TestNothingThere(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 8))
	ycc := image.NewYCbCr(image.Rect(0, 0, 301, 207), image.YCbCrSubsampleRatio420)
	for i := range ycc.Y {
		ycc.Y[i] = uint8(rng.IntN(256))
	}
	paletted := image.NewPaletted(image.Rect(5, 7, 250, 180), color.Palette{color.Black, color.White})
	for i := range paletted.Pix {
		paletted.Pix[i] = uint8(rng.IntN(2))
	}
	for _, m := range []image.Image{image.NewRGBA(image.Rect(0, 0, 1, 1)), image.NewGray(image.Rect(0, 0, 70, 70)), ycc, ycc.SubImage(image.Rect(11, 13, 290, 200)), paletted, image.NewNRGBA64(image.Rect(0, 0, 100, 90))} {
		if f := labelfind.Find(m, labelfind.Options{}); len(f.Labels) > 0 || f.None == nil {
			t.Errorf("%T: %d labels, %v", m, len(f.Labels), f.None)
		}
	}
}

// Codes of labels as an independent reader reads them: testdata/zbar.txt was written by
// zbarimg 0.23.92 (Debian 12, package zbar-tools) over the pictures that this test writes with
// -pictures, by
//
//	for f in *.png; do echo "$f $(zbarimg -q --raw $f)"; done
func TestCodesByAnotherReader(t *testing.T) {
	if *pictures != "" {
		for _, l := range plantlabel.Layouts() {
			for _, c := range []plantlabel.Code{"A", "7K3Q", "0123456789AB", "ZZZZZZZZZZZZ"} {
				s := photoscene.Scene{Camera: photoscene.Camera{Width: 500, Height: 500, Focal: 500, Distance: 160}, Ground: [3]float64{0.3, 0.3, 0.3}, Labels: []photoscene.Label{{Layout: l, Content: plantlabel.Content{Code: c}}}}
				out, err := os.Create(filepath.Join(*pictures, fmt.Sprintf("%c-%s.png", l.Letter, c)))
				if err != nil {
					t.Fatal(err)
				}
				if err := png.Encode(out, s.Render()); err != nil {
					t.Fatal(err)
				}
				if err := out.Close(); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	in, err := os.Open("testdata/zbar.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	lines := bufio.NewScanner(in)
	n := 0
	for lines.Scan() {
		name, text, _ := strings.Cut(lines.Text(), " ")
		l, ok := plantlabel.LayoutOf(name[0])
		code := plantlabel.Code(strings.TrimSuffix(name[2:], ".png"))
		if !ok || text != l.Payload(code) {
			t.Errorf("%s: the other reader has %q, we wrote %q", name, text, l.Payload(code))
		}
		n++
	}
	if n < 16 {
		t.Errorf("%d codes were read by the other reader, want 16", n)
	}
}
