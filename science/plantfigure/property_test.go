package plantfigure

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// painted is a picture of a leaf-green ellipse on grey, turned and moved, with exact
// shares at its edge from 8 × 8 points a pixel.
func painted(w, h int, mm, cx, cy, a, b, turn float64) *Picture {
	leaf, ground := [3]float32{0.14, 0.30, 0.045}, [3]float32{0.25, 0.25, 0.24}
	p := &Picture{Width: w, Height: h, PerPixel: mm, Pix: make([]float32, 3*w*h), Corrected: true}
	sin, cos := math.Sincos(turn)
	reach := max(a, b) + 2
	for y := range h {
		for x := range w {
			n := float32(0)
			if math.Hypot(float64(x)-cx, float64(y)-cy) < reach {
				for i := range 64 {
					dx, dy := float64(x)+(float64(i%8)+0.5)/8-cx, float64(y)+(float64(i/8)+0.5)/8-cy
					u, v := (dx*cos+dy*sin)/a, (-dx*sin+dy*cos)/b
					if u*u+v*v < 1 {
						n++
					}
				}
			}
			n /= 64
			for k := range 3 {
				p.Pix[3*(y*w+x)+k] = n*leaf[k] + (1-n)*ground[k]
			}
		}
	}
	return p
}

// over2 lays two pictures over each other: leaf is darker in red than ground.
func over2(a, b *Picture) *Picture {
	for i := 0; i < len(a.Pix); i += 3 {
		if b.Pix[i] < a.Pix[i] {
			copy(a.Pix[i:i+3], b.Pix[i:i+3])
		}
	}
	return a
}

// Area and widths of an ellipse are known in closed form, wherever it lies and however it
// is turned, and go with the square and the first power of the scale.
func TestEllipse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(14, 40).Draw(t, "a")
		b := a * rapid.Float64Range(0.4, 1).Draw(t, "ratio")
		turn := rapid.Float64Range(0, math.Pi).Draw(t, "turn")
		cx, cy := rapid.Float64Range(48, 52).Draw(t, "x"), rapid.Float64Range(48, 52).Draw(t, "y")
		mm := rapid.Float64Range(0.1, 2).Draw(t, "mm")
		top, err := FromTop(painted(100, 100, mm, cx, cy, a, b, turn), Wanted{One: true, ScaleSD: 0.01})
		if err != nil {
			t.Fatal(err)
		}
		check := func(what string, got, want, tolerance float64) {
			if math.Abs(got/want-1) > tolerance {
				t.Errorf("%s %v, true %v", what, got, want)
			}
		}
		check("area", top.Area.Value, math.Pi*a*b*mm*mm/100, 0.005)
		check("width", top.Width.Value, 2*a*mm, 0.01)
		check("narrow", top.Narrow.Value, 2*b*mm, 0.02)
		check("equivalent", top.Equivalent.Value, 2*math.Sqrt(a*b)*mm, 0.005)
		check("roundness", top.Roundness.Value, b/a, 0.02)
		check("solidity", top.Solidity.Value, 1, 0.02)
		if math.Hypot(top.Heart.X-cx, top.Heart.Y-cy) > 0.1 {
			t.Errorf("heart at %v, true %v %v", top.Heart, cx, cy)
		}
		if s := top.Area.SD / top.Area.Value; s < 0.02 { // twice that of the scale
			t.Errorf("relative standard deviation of the area %v", s)
		}
		sum := 0.0
		for _, p := range top.Area.Parts {
			sum += p.SD * p.SD
		}
		check("parts", math.Sqrt(sum), top.Area.SD, 1e-12)
		if top.Plants != 1 {
			t.Errorf("%d plants", top.Plants)
		}
	})
}

func TestSideways(t *testing.T) {
	p := painted(100, 120, 0.5, 50, 55, 40, 20, math.Pi/2) // 80 px tall, top at 15
	s, err := Sideways(p, Wanted{Base: 110, ScaleSD: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "height", s.Height.Value, 0.5*(110-15), 0.3)
	near(t, "width", s.Width.Value, 0.5*40, 0.3)
	near(t, "stretch", s.Stretch.Value, 95.0/40, 0.05)
	if s, err = Sideways(p, Wanted{Base: math.NaN()}); err != nil {
		t.Fatal(err)
	}
	near(t, "height over the lowest leaf", s.Height.Value, 0.5*80, 0.3)
	if len(s.Doubts) == 0 || s.Height.SD < 4 {
		t.Errorf("a guessed planting surface leaves %v and %v", s.Doubts, s.Height)
	}
}

// A seedling on a stem of 2 mm over a brown pot: the stem is plant, the pot is not.
func TestSidewaysOnAStem(t *testing.T) {
	p := painted(120, 160, 0.5, 60, 50, 30, 16, 0) // from 34 to 66
	put := func(x0, y0, x1, y1 int, c [3]float32) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				copy(p.Pix[3*(y*120+x):], c[:])
			}
		}
	}
	put(58, 60, 62, 120, [3]float32{0.28, 0.42, 0.14})
	put(30, 120, 90, 156, [3]float32{0.10, 0.055, 0.03})
	s, err := Sideways(p, Wanted{Base: math.NaN()})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "height", s.Height.Value, 0.5*(120-34), 0.6)
	near(t, "width", s.Width.Value, 0.5*60, 0.3)
	near(t, "stretch", s.Stretch.Value, 86.0/60, 0.03)
	near(t, "area", s.Area.Value, (math.Pi*30*16+4*54)*0.25/100, 0.1)
}

func refused(t *testing.T, p *Picture, w Wanted, want Reason) {
	t.Helper()
	_, err := FromTop(p, w)
	var r *Refusal
	if !errors.As(err, &r) || r.Reason != want || r.Because == "" || r.Advice == "" {
		t.Errorf("%v, want %s", err, want)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	grey := painted(100, 100, 0.5, -500, -500, 10, 10, 0)
	refused(t, grey, Wanted{Base: nan}, NothingFound)
	refused(t, painted(100, 100, 0.5, 80, 50, 30, 30, 0), Wanted{}, CutOff)
	refused(t, painted(100, 100, 0.5, 50, 50, 20, 20, 0), Wanted{Seed: Point{90, 90}, Reach: 5}, NothingFound)
	refused(t, painted(100, 100, 0.5, 50, 50, 20, 20, 0), Wanted{Others: []Point{{60, 50}}}, Overlapping)
	refused(t, &Picture{Width: 100, Height: 100, PerPixel: 1}, Wanted{}, BadPicture)
	refused(t, &Picture{Width: 100, Height: 100, Pix: make([]float32, 30000)}, Wanted{}, BadPicture)

	// a part of the plant that the photo does not show
	p := painted(100, 100, 0.5, 50, 50, 20, 20, 0)
	p.Seen = make([]bool, 10000)
	for i := range p.Seen {
		p.Seen[i] = i%100 < 60
	}
	refused(t, p, Wanted{}, CutOff)

	// a green tray
	tray := painted(100, 100, 0.5, 50, 50, 20, 20, 0)
	for i := 0; i < len(tray.Pix); i += 3 {
		if tray.Pix[i] > 0.2 {
			copy(tray.Pix[i:], []float32{0.05, 0.2, 0.06})
		}
	}
	refused(t, tray, Wanted{}, ColourCast)

	// not a number
	p = painted(100, 100, 0.5, 50, 50, 20, 20, 0)
	p.Pix[500] = float32(nan)
	refused(t, p, Wanted{}, BadPicture)

	// two discs that touch, and the same when a person says that it is one plant
	a := over2(painted(200, 120, 0.8, 62, 60, 36, 36, 0), painted(200, 120, 0.8, 132, 60, 36, 36, 0))
	refused(t, a, Wanted{}, Overlapping)
	if top, err := FromTop(a, Wanted{One: true}); err != nil || math.Abs(top.Area.Value/(2*math.Pi*36*36*0.64/100)-1) > 0.02 {
		t.Errorf("as one plant: %v, %v", top, err)
	}
	// a label in the picture is no plant
	p = painted(100, 100, 0.5, 50, 50, 20, 20, 0)
	for y := 5; y < 15; y++ {
		for x := 5; x < 25; x++ {
			copy(p.Pix[3*(y*100+x):], []float32{0.02, 0.4, 0.02})
		}
	}
	p.NotPlant = []Ring{{{4, 4}, {26, 4}, {26, 16}, {4, 16}}}
	top, err := FromTop(p, Wanted{Seed: Point{50, 50}, Reach: 30})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "beside a green label", top.Area.Value, math.Pi*400*0.25/100, 0.1)
	if top.Plants != 1 {
		t.Errorf("%d plants beside a label", top.Plants)
	}
}

func TestTwoSeedlingsInAPlug(t *testing.T) {
	a := over2(painted(140, 100, 0.4, 45, 50, 16, 16, 0), painted(140, 100, 0.4, 95, 50, 14, 14, 0))
	top, err := FromTop(a, Wanted{Seed: Point{48, 50}, Reach: 20})
	if err != nil {
		t.Fatal(err)
	}
	if top.Plants != 2 || len(top.Doubts) == 0 {
		t.Errorf("%d plants, %v", top.Plants, top.Doubts)
	}
	near(t, "the nearer one", top.Area.Value, math.Pi*256*0.16/100, 0.03)
	// where the other has a label of its own it is no second plant of this one
	top, err = FromTop(a, Wanted{Seed: Point{48, 50}, Reach: 20, Others: []Point{{95, 50}}})
	if err != nil || top.Plants != 1 {
		t.Errorf("%v, %v", top, err)
	}
}

// A chain of verdicts about one threshold: spots are burnt when browner than 0.7. The
// learned threshold nears it, and its standard deviation shrinks. And with one feature
// alone the fit must solve the penalised score equations, whatever way it got there.
func TestLearnBurn(t *testing.T) {
	var verdicts []Verdict
	for i := range 200 {
		f := Features{Brown: float64(i) / 200, Contrast: 0.5}
		verdicts = append(verdicts, Verdict{f, f.Brown > 0.7})
	}
	before, sd0 := UsualBurn().Threshold(Features{Contrast: 0.5})
	m, err := LearnBurn(BurnModel{}, verdicts)
	if err != nil {
		t.Fatal(err)
	}
	after, sd1 := m.Threshold(Features{Contrast: 0.5})
	t.Logf("threshold %.3f ± %.3f, then %.3f ± %.3f", before, sd0, after, sd1)
	near(t, "threshold", after, 0.7, 0.05)
	if !(sd1 < sd0/2) || m.Verdicts != 200 {
		t.Errorf("standard deviation %v, then %v", sd0, sd1)
	}
	prior := UsualBurn()
	for i := range coefficients {
		score := -(m.Mean[i] - prior.Mean[i]) / prior.Covariance[i][i]
		for _, v := range verdicts {
			x := v.Seen.row()
			eta := 0.0
			for k := range x {
				eta += m.Mean[k] * x[k]
			}
			score += (float64(b2i(v.Burnt)) - 1/(1+math.Exp(-eta))) * x[i]
		}
		near(t, "score", score, 0, 1e-6)
	}
	low, _ := m.Chance(Features{Brown: 0.3, Contrast: 0.5})
	high, sd := m.Chance(Features{Brown: 0.95, Contrast: 0.5})
	if low > 0.2 || high < 0.8 || sd <= 0 {
		t.Errorf("chances %v and %v", low, high)
	}
	if _, err := LearnBurn(BurnModel{Mean: []float64{1}}, nil); err == nil {
		t.Error("a model of one coefficient was taken")
	}
	if _, err := LearnBurn(BurnModel{}, []Verdict{{Seen: Features{Brown: math.NaN()}}}); err == nil {
		t.Error("a verdict on no number was taken")
	}
	if _, err := FromTop(painted(100, 100, 1, 50, 50, 20, 20, 0), Wanted{Burn: BurnModel{Mean: []float64{2}}}); err == nil {
		t.Error("a broken model was used")
	}
}

// Nothing that a picture can hold makes it fail otherwise than by a refusal.
func FuzzFromTop(f *testing.F) {
	f.Add([]byte{1, 2, 3, 250, 40, 90, 30}, 20, 17, 1.0, 5.0, 5.0, 10.0)
	f.Add([]byte{30, 200, 20}, 40, 40, 0.5, 20.0, 20.0, 0.0)
	f.Fuzz(func(t *testing.T, pix []byte, w, h int, mm, x, y, reach float64) {
		if len(pix) == 0 || w < 0 || h < 0 || w > 80 || h > 80 {
			return
		}
		p := &Picture{Width: w, Height: h, PerPixel: mm, Pix: make([]float32, 3*w*h), Seen: make([]bool, w*h), NotPlant: []Ring{{{x, y}, {x + 3, y}, {reach, y + 3}}}}
		for i := range p.Pix {
			p.Pix[i] = float32(pix[i%len(pix)]) / 200
		}
		for i := range p.Seen {
			p.Seen[i] = pix[i%len(pix)]%17 != 3
		}
		want := Wanted{Seed: Point{x, y}, Reach: reach, Others: []Point{{y, x}}, Base: y}
		for _, measure := range []func() error{
			func() error { _, err := FromTop(p, want); return err },
			func() error { _, err := Sideways(p, want); return err },
		} {
			var r *Refusal
			if err := measure(); err != nil && !errors.As(err, &r) {
				t.Fatal(err)
			}
		}
	})
}

// Distances by the definition, in a mask large enough to be split among cores.
func TestSquaredDistanceByDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const w, h = 210, 190
	for _, sparse := range []int{7, 900} {
		mask := make([]bool, w*h)
		var set []int
		for i := range mask {
			if mask[i] = rng.IntN(sparse) == 0; mask[i] {
				set = append(set, i)
			}
		}
		got := squaredDistance(mask, w, h, true)
		for range 300 {
			i := rng.IntN(w * h)
			want := int32(far)
			for _, j := range set {
				dx, dy := int32(i%w-j%w), int32(i/w-j/w)
				want = min(want, dx*dx+dy*dy)
			}
			if got[i] != want {
				t.Fatalf("squared distance %d of cell %d, by definition %d", got[i], i, want)
			}
		}
	}
}
