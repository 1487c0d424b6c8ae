package plantphoto

import (
	"image"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"underlamp/internal/photoscene"
	"underlamp/science/plantfigure"
	"underlamp/science/plantlabel"
)

// Issue "A photo measures the plant": area within 3 %, lengths within 2 %, identity always or
// refused. Small pictures here; TestManyScenes draws many.
func TestAreaAndWidthOfKnownPlants(t *testing.T) {
	c := run(t, 3, 3, 900, 1, photoscene.Flat)
	d := run(t, 3, 1, 1200, 2, photoscene.Flat)
	for _, c := range []*tally{c, d} {
		if c.measured < c.plants-1 {
			t.Errorf("of %d plants %d were measured: %v", c.plants, c.measured, c.refused)
		}
		if quantile(c.area, 1) > 0.03 || quantile(c.width, 1) > 0.02 {
			t.Errorf("%s", c)
		}
	}
}

// onTable is a label of 96 × 48 mm with a plant of flat leaves where its arrow points.
func onTable() photoscene.Scene {
	l, _ := plantlabel.LayoutOf('L')
	return photoscene.Scene{
		Camera: photoscene.Camera{Width: 700, Height: 700, Focal: 700, Distance: 300, Tilt: 0.15, Azimuth: 2},
		Labels: []photoscene.Label{{Layout: l, Content: plantlabel.Content{Code: "AB12"}, Y: -70}},
		Ground: [3]float64{0.4, 0.35, 0.3}, Grain: 0.15, Noise: 2, Blur: 0.7,
		Leaves: photoscene.Rosette(rand.New(rand.NewPCG(5, 8)), 0, 25, 55, 0, 9),
	}
}

// the is the one plant of a result.
func the(t *testing.T, r *Result) *Plant {
	t.Helper()
	if len(r.Plants) != 1 {
		t.Fatalf("%d plants: %v", len(r.Plants), r.None)
	}
	return &r.Plants[0]
}

// Leaves that all stand 40 mm over the label look larger by (d/(d − 40))²; told that the
// plant is 80 mm high, its middle is where the leaves are, and the area comes out right. Not
// told, the area is too large by what the doubt says.
func TestHeightOfLeaves(t *testing.T) {
	s := onTable()
	truth := photoscene.Area(s.Leaves) / 100
	for i := range s.Leaves {
		s.Leaves[i].Z = 40
	}
	m := s.Render()
	told := the(t, Measure(m, Options{Heights: map[plantlabel.Code]Height{"AB12": {80, 4}}}))
	if told.Refused != nil || !told.HeightUsed || told.Level != 40 {
		t.Fatalf("%v, level %g", told.Refused, told.Level)
	}
	// The focal length is not known, and so the distance to a tenth: what it leaves is stated.
	if a := told.Top.Area; math.Abs(a.Value/truth-1) > 0.04 || math.Abs(a.Value-truth) > 2*a.SD {
		t.Errorf("told the height: area %.2f ± %.2f cm², want %.2f", a.Value, a.SD, truth)
	}
	not := the(t, Measure(m, Options{}))
	if not.Refused != nil {
		t.Fatal(not.Refused)
	}
	want := truth * math.Pow(1/(1-40/(300*math.Cos(0.15))), 2)
	if a := not.Top.Area; math.Abs(a.Value/want-1) > 0.03 || math.Abs(a.Value-truth) > 2.5*a.SD {
		t.Errorf("not told: area %.2f ± %.2f cm², want %.2f for a truth of %.2f", a.Value, a.SD, want, truth)
	}
	if d := strings.Join(not.Doubts, " "); !strings.Contains(d, "height of the plant is not known") {
		t.Errorf("doubts: %s", d)
	}
	parts := map[string]bool{}
	sum := 0.0
	for _, p := range not.Top.Area.Parts {
		parts[p.Cause] = true
		sum += p.SD * p.SD
	}
	if !parts[CauseHeight] || !parts[CausePrint] || !parts[CauseLens] || !parts[plantfigure.CauseScale] {
		t.Errorf("parts %+v", not.Top.Area.Parts)
	}
	if math.Abs(math.Sqrt(sum)/not.Top.Area.SD-1) > 1e-9 {
		t.Errorf("parts add up to %g, SD is %g", math.Sqrt(sum), not.Top.Area.SD)
	}
	high := the(t, Measure(m, Options{Heights: map[plantlabel.Code]Height{"AB12": {900, 4}}}))
	if high.Refused == nil || high.Refused.Reason != TooNear {
		t.Errorf("a plant higher than the camera: %v", high.Refused)
	}
}

// No plant is given to a label that may belong to another.
func TestWhosePlant(t *testing.T) {
	leaves := func(x, y float64) []photoscene.Leaf {
		return photoscene.Rosette(rand.New(rand.NewPCG(6, 8)), x, y, 35, 0, 8)
	}
	for _, c := range []struct {
		name   string
		change func(*photoscene.Scene)
		want   []string // reasons by code; empty: measured
	}{
		{"between two plants, the arrow at neither", func(s *photoscene.Scene) {
			s.Labels[0].Y = 0
			s.Leaves = append(leaves(-95, 0), leaves(95, 0)...)
		}, []string{Unsure}},
		{"between two plants, the arrow at one", func(s *photoscene.Scene) {
			s.Labels[0].Y, s.Labels[0].X = 0, 0
			s.Leaves = append(leaves(0, 75), leaves(0, -75)...)
		}, []string{""}},
		{"nearest to one, the arrow at another", func(s *photoscene.Scene) {
			s.Labels[0].Y = -20
			s.Leaves = append(leaves(0, -84), leaves(0, 85)...)
		}, []string{Unsure}},
		{"two labels, one plant", func(s *photoscene.Scene) {
			o := s.Labels[0]
			o.Y, o.Content.Code, o.Turn = 112, "CD34", math.Pi
			s.Labels = append(s.Labels, o)
		}, []string{Shared, Shared}},
		{"no plant", func(s *photoscene.Scene) { s.Leaves = nil }, []string{string(plantfigure.NothingFound)}},
		{"cut off", func(s *photoscene.Scene) { s.Leaves = leaves(142, -20) }, []string{string(plantfigure.CutOff)}},
		{"blurred", func(s *photoscene.Scene) { s.Blur = 2.4 }, []string{"blurred"}},
	} {
		s := onTable()
		c.change(&s)
		r := Measure(s.Render(), Options{})
		if len(r.Plants) != len(c.want) {
			if r.None == nil || r.None.Reason != c.want[0] {
				t.Errorf("%s: %d labels, %v", c.name, len(r.Plants), r.None)
			}
			continue
		}
		for i, p := range r.Plants {
			got := ""
			if p.Refused != nil {
				got = p.Refused.Reason
			}
			if got != c.want[i] {
				t.Errorf("%s: %s %q, want %q (%v)", c.name, p.Label.Code, got, c.want[i], p.Refused)
			}
			if p.Refused == nil && math.Abs(p.Top.Heart.Y) > 1e9 {
				t.Errorf("%s: heart %v", c.name, p.Top.Heart)
			}
		}
		if c.name == "between two plants, the arrow at one" && r.Plants[0].Refused == nil {
			u, v := s.Camera.Project(0, 75, 0)
			if !overlap(r.Plants[0].Outline(), []plantfigure.Ring{{{X: u - 5, Y: v - 5}, {X: u + 5, Y: v - 5}, {X: u + 5, Y: v + 5}, {X: u - 5, Y: v + 5}}}) {
				t.Errorf("%s: the other plant was measured", c.name)
			}
		}
	}
}

// From the side: the foot of the label is the planting surface.
func TestFromTheSide(t *testing.T) {
	s := onTable()
	// The label stands 70 mm below the middle, its foot at −70 − 24 = −94; the plant beside
	// it reaches from there to 30.
	s.Labels[0].X = -75
	s.Leaves = []photoscene.Leaf{
		{X: 35, Y: -64, A: 8, B: 31, Colour: [3]float64{0.1, 0.24, 0.05}},
		{X: 35, Y: -14, A: 30, B: 44, Colour: [3]float64{0.11, 0.26, 0.05}},
	}
	p := the(t, Measure(s.Render(), Options{View: plantfigure.FromSide}))
	if p.Refused != nil {
		t.Fatal(p.Refused)
	}
	if h := p.Side.Height.Value; math.Abs(h/124-1) > 0.02 {
		t.Errorf("height %.1f mm, want 124", h)
	}
	if w := p.Side.Width.Value; math.Abs(w/60-1) > 0.02 {
		t.Errorf("width %.1f mm, want 60", w)
	}
}

// Outlines and kept pictures lie where the photo shows the plant.
func TestOutlineAndPicture(t *testing.T) {
	s := onTable()
	m := s.Render()
	b := image.NewNRGBA(image.Rect(100, 50, 800, 750)) // bounds that do not begin at 0
	for y := range 700 {
		for x := range 700 {
			b.Set(100+x, 50+y, m.At(x, y))
		}
	}
	p := the(t, Measure(b, Options{Keep: true}))
	if p.Refused != nil || p.Picture == nil {
		t.Fatalf("%v, picture %v", p.Refused, p.Picture != nil)
	}
	inside := 0
	for _, f := range s.Leaves {
		u, v := s.Camera.Project(f.X, f.Y, 0)
		if odd(crossings(p.Outline(), v), u) {
			inside++
		}
	}
	if inside != len(s.Leaves) {
		t.Errorf("%d of %d leaves lie in the outline", inside, len(s.Leaves))
	}
	// The middle of a leaf has the leaf's colour in the kept picture.
	f := s.Leaves[len(s.Leaves)-1]
	u, v := s.Camera.Project(f.X, f.Y, 0)
	back := p.ToPhoto.Inverse()
	q := back.Apply(struct{ X, Y float64 }{u, v})
	o := 3 * (int(q.Y)*p.Picture.Width + int(q.X))
	for i, want := range f.Colour {
		if got := float64(p.Picture.Pix[o+i]); math.Abs(got-want) > 0.04 {
			t.Errorf("value %d of a leaf is %.3f, want %.3f", i, got, want)
		}
	}
}
