package photometry_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/science/reference"
)

// steps returns angles from a to b, n steps.
func steps(a, b float64, n int) []float64 {
	out := make([]float64, n+1)
	for i := range out {
		out[i] = a + (b-a)*float64(i)/float64(n)
	}
	return out
}

// sample makes a web of a function of C and gamma in degrees.
func sample(t testing.TB, planes, gammas []float64, s photometry.Symmetry, f func(c, g float64) float64) *photometry.Web {
	t.Helper()
	tab := photometry.Table{PlanesDeg: planes, GammasDeg: gammas, Symmetry: s}
	for _, c := range planes {
		for _, g := range gammas {
			tab.Candela = append(tab.Candela, f(c, g))
		}
	}
	w, err := photometry.NewWeb(tab)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func cosPower(m float64) func(c, g float64) float64 {
	return func(_, g float64) float64 {
		return 1000 * math.Pow(math.Max(0, math.Cos(g*math.Pi/180)), m)
	}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.6g, want %.6g within %.2g", what, got, want, tolerance)
	}
}

// Exact integrals of analytic lamps: I₀ cosᵐ γ gives 2π I₀/(m+1), a sphere 4π I₀.
func TestFluxOfAnalyticLamps(t *testing.T) {
	// m = 1 is exact at any step.
	for _, n := range []int{1, 2, 9, 36} {
		w := sample(t, []float64{0}, steps(0, 90, n), photometry.Axial, cosPower(1))
		within(t, "flux of a cosine lamp", w.Flux(), math.Pi*1000, 1e-9*3141)
		within(t, "its flux within 30°", w.ZonalFlux(0, 30), math.Pi*1000*0.25, 1e-9*3141) // sin² 30°
	}
	for _, m := range []float64{0.5, 2, 5, 30} {
		w := sample(t, []float64{0}, steps(0, 90, 180), photometry.Axial, cosPower(m))
		want := 2 * math.Pi * 1000 / (m + 1)
		// The middle of a cell is m²h²/12 off at most: 30² (0.5°)²/12 is 0.6 %,
		// but only far from the peak; 0.2 % holds for all, 0.05 % below m = 5.
		within(t, "flux of cosᵐ", w.Flux(), want, 0.002*want)
	}
	sphere := sample(t, []float64{0}, []float64{0, 180}, photometry.Axial, func(_, _ float64) float64 { return 10 })
	within(t, "flux of a sphere", sphere.Flux(), 40*math.Pi, 1e-9)
	within(t, "its upward flux", sphere.Up(), 20*math.Pi, 1e-9)
	within(t, "a zone of it", sphere.ZonalFlux(60, 120), 20*math.Pi, 1e-9) // between parallels: 4π cos 60°
}

// Planes at uneven angles count by the arc they stand for: (1 + cos 2C) cos γ
// gives π I₀, since cos 2C is nothing on the mean.
func TestUnevenPlanes(t *testing.T) {
	planes := append(steps(0, 40, 40), steps(41, 359, 159)...)
	w := sample(t, planes, steps(0, 90, 30), photometry.NoSymmetry, func(c, g float64) float64 {
		return 1000 * (1 + math.Cos(c*math.Pi/90)) * math.Cos(g*math.Pi/180)
	})
	// The trapezium errs by (2·2°)²/12 of the part that varies in the coarse
	// piece: below 0.05 %.
	within(t, "flux", w.Flux(), 1000*math.Pi, 0.0005*3141)
}

// Totals that a general photometric program printed for two measured lamps.
func TestPublishedTotals(t *testing.T) {
	tab := reference.MustLoad("photometry_measured_candela")
	downlight := photometry.Table{PlanesDeg: []float64{0}, Symmetry: photometry.Axial}
	linear := photometry.Table{PlanesDeg: []float64{0, 22.5, 45, 67.5, 90}, Symmetry: photometry.Quadrant}
	for i := range tab.Rows {
		g := tab.Float(i, "gamma_deg")
		downlight.GammasDeg, linear.GammasDeg = append(downlight.GammasDeg, g), append(linear.GammasDeg, g)
		downlight.Candela = append(downlight.Candela, tab.Float(i, "downlight"))
	}
	for _, c := range []string{"C0", "C22.5", "C45", "C67.5", "C90"} {
		for i := range tab.Rows {
			linear.Candela = append(linear.Candela, tab.Float(i, "linear_"+c))
		}
	}
	for _, tt := range []struct {
		table photometry.Table
		want  float64
	}{{downlight, 531.98}, {linear, 753.80}} {
		w, err := photometry.NewWeb(tt.table)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "total", w.Flux(), tt.want, 0.005) // half of the last digit
		if got := w.Symmetry(); got != tt.table.Symmetry {
			t.Errorf("symmetry %v, want %v", got, tt.table.Symmetry)
		}
	}
}

// Every way to store one lamp gives the same web.
func TestFolding(t *testing.T) {
	f := func(c, g float64) float64 {
		rad := c * math.Pi / 180
		return (100 + 20*math.Cos(2*rad)) * math.Cos(g*math.Pi/180)
	}
	gammas := steps(0, 90, 18)
	whole := sample(t, steps(0, 345, 23), gammas, photometry.NoSymmetry, f)
	for _, tt := range []struct {
		s      photometry.Symmetry
		planes []float64
	}{
		{photometry.Quadrant, steps(0, 90, 6)}, {photometry.Bilateral0, steps(0, 180, 12)},
		{photometry.Bilateral90, steps(90, 270, 12)}, {photometry.NoSymmetry, steps(0, 360, 24)}, {photometry.NoSymmetry, steps(-180, 180, 24)},
	} {
		w := sample(t, tt.planes, gammas, tt.s, f)
		within(t, tt.s.String()+": flux", w.Flux(), whole.Flux(), 1e-9*whole.Flux())
		for c := -30.0; c <= 400; c += 7 {
			within(t, tt.s.String(), w.At(quantity.Degree(c), 33), whole.At(quantity.Degree(c), 33), 1e-9*120)
		}
		if got := w.Symmetry(); got != photometry.Quadrant {
			t.Errorf("stored with symmetry %v it has %v, want quadrant", tt.s, got)
		}
	}
	// A lamp with one plane of symmetry is told from the other kind.
	lop := sample(t, steps(0, 180, 12), gammas, photometry.Bilateral0, func(c, g float64) float64 {
		return (100 + 20*math.Cos(c*math.Pi/180)) * math.Cos(g*math.Pi/180)
	})
	within(t, "toward C 300", lop.At(300, 0), 110, 1e-9)
	if got := lop.Symmetry(); got != photometry.Bilateral0 {
		t.Errorf("symmetry %v", got)
	}
	if got := lop.Turn(90).Symmetry(); got != photometry.Bilateral90 {
		t.Errorf("turned by 90° it has symmetry %v", got)
	}
	if got := lop.Turn(40).Symmetry(); got != photometry.NoSymmetry {
		t.Errorf("turned by 40° it has symmetry %v", got)
	}
}

func TestTurnAndMirror(t *testing.T) {
	f := func(c, g float64) float64 {
		return 200 + 50*math.Sin(c*math.Pi/180) + 20*math.Cos(2*c*math.Pi/180) + g/9
	}
	w := sample(t, steps(0, 350, 35), steps(0, 120, 24), photometry.NoSymmetry, f)
	mirrored := w.Mirror()
	twice := mirrored.Mirror()
	rapid.Check(t, func(rt *rapid.T) {
		by := quantity.Degree(rapid.Float64Range(-720, 720).Draw(rt, "by"))
		c := quantity.Degree(rapid.Float64Range(-400, 400).Draw(rt, "c"))
		g := quantity.Degree(rapid.Float64Range(0, 120).Draw(rt, "g"))
		turned := w.Turn(by)
		for _, tt := range []struct{ got, want float64 }{
			{turned.At(c+by, g), w.At(c, g)},
			{mirrored.At(-c, g), w.At(c, g)},
			{twice.At(c, g), w.At(c, g)},
			{turned.Flux(), w.Flux()},
		} {
			if math.Abs(tt.got-tt.want) > 1e-8*tt.want {
				rt.Fatalf("turned by %v, toward %v, %v: %v, want %v", by, c, g, tt.got, tt.want)
			}
		}
	})
}

func TestRefused(t *testing.T) {
	good := photometry.Table{PlanesDeg: []float64{0, 90}, GammasDeg: []float64{0, 90}, Candela: []float64{1, 0, 1, 0}, Symmetry: photometry.Quadrant}
	if _, err := photometry.NewWeb(good); err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	for what, spoil := range map[string]func(*photometry.Table){
		"planes descend":   func(t *photometry.Table) { t.PlanesDeg = []float64{90, 0} },
		"gammas descend":   func(t *photometry.Table) { t.GammasDeg = []float64{90, 0} },
		"gammas too near":  func(t *photometry.Table) { t.GammasDeg = []float64{0, 1e-9} },
		"gamma beyond":     func(t *photometry.Table) { t.GammasDeg = []float64{0, 181} },
		"gamma NaN":        func(t *photometry.Table) { t.GammasDeg = []float64{0, nan} },
		"plane NaN":        func(t *photometry.Table) { t.PlanesDeg = []float64{nan, 90} },
		"negative":         func(t *photometry.Table) { t.Candela = []float64{1, -1, 1, 0} },
		"value NaN":        func(t *photometry.Table) { t.Candela = []float64{1, nan, 1, 0} },
		"value infinite":   func(t *photometry.Table) { t.Candela = []float64{1, math.Inf(1), 1, 0} },
		"dark":             func(t *photometry.Table) { t.Candela = make([]float64, 4) },
		"wrong symmetry":   func(t *photometry.Table) { t.Symmetry = photometry.Bilateral0 },
		"two axial":        func(t *photometry.Table) { t.Symmetry = photometry.Axial },
		"more than circle": func(t *photometry.Table) { t.PlanesDeg, t.Symmetry = []float64{-10, 359}, photometry.NoSymmetry },
	} {
		bad := good
		spoil(&bad)
		if _, err := photometry.NewWeb(bad); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a table with a value too few did not panic")
		}
	}()
	good.Candela = good.Candela[:3]
	_, _ = photometry.NewWeb(good)
}

// Relative is At per flux, its integral is 1, and no angle upsets it.
func TestRelative(t *testing.T) {
	bar := func(c, g float64) float64 {
		across := math.Sin(c*math.Pi/180) * math.Sin(g*math.Pi/180)
		return 900 * math.Pow(math.Max(0, math.Cos(g*math.Pi/180)), 0.8) * (1 - 0.3*across*across)
	}
	for name, w := range map[string]*photometry.Web{
		"axial":  sample(t, []float64{0}, steps(0, 90, 18), photometry.Axial, cosPower(1)),
		"bar":    sample(t, steps(0, 90, 6), steps(0, 90, 36), photometry.Quadrant, bar),
		"uneven": sample(t, []float64{0, 7, 31, 90, 123, 180}, steps(0, 180, 36), photometry.Bilateral0, func(c, g float64) float64 { return 10 + c/40 + g }),
		"upward": sample(t, []float64{0}, steps(90, 180, 18), photometry.Axial, func(_, g float64) float64 { return 100 * math.Max(0, -math.Cos(g*math.Pi/180)) }),
	} {
		const ng, nc = 2000, 90
		sum, worst := 0.0, 0.0
		peak, _, _ := w.Peak()
		for i := range ng {
			g := math.Pi * (float64(i) + 0.5) / ng
			for j := range nc {
				c := 2 * math.Pi * (float64(j) + 0.37) / nc
				v := w.Relative(c, g)
				sum += v * math.Sin(g) * math.Pi / ng * 2 * math.Pi / nc
				worst = math.Max(worst, math.Abs(v*w.Flux()-w.At(quantity.Degree(c*180/math.Pi), quantity.Degree(g*180/math.Pi))))
			}
		}
		within(t, name+": integral", sum, 1, 2e-4) // the middle rule of this test
		// Half a degree of linear interpolation: h²/8 of the curvature, 10⁻⁵, and
		// one degree in C where planes lie between its lines.
		if worst > 0.002*peak {
			t.Errorf("%s: Relative and At differ by %g of a peak of %g", name, worst, peak)
		}
		rapid.Check(t, func(rt *rapid.T) {
			c, g := rapid.Float64().Draw(rt, "c"), rapid.Float64().Draw(rt, "g")
			if v := w.Relative(c, g); !(v >= 0) || math.IsInf(v, 0) {
				rt.Fatalf("%s: Relative(%g, %g) is %g", name, c, g, v)
			}
		})
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			if v := w.Relative(0, bad); v != 0 {
				t.Errorf("%s: gamma %g gives %g", name, bad, v)
			}
			if v := w.Relative(bad, 1); !(v >= 0) {
				t.Errorf("%s: c %g gives %g", name, bad, v)
			}
		}
		// Over the pole and round the circle.
		for _, g := range []float64{0.2, 0.9, 1.5, 2.4} {
			within(t, name+": over the pole", w.Relative(0.4, -g), w.Relative(0.4+math.Pi, g), 1e-12)
			within(t, name+": round", w.Relative(0.4-2*math.Pi, g+2*math.Pi), w.Relative(0.4, g), 1e-12)
		}
	}
	// Exactly at the horizon a lamp that faces down still counts.
	flat := sample(t, []float64{0}, steps(0, 90, 3), photometry.Axial, func(_, _ float64) float64 { return 7 })
	within(t, "at the horizon", flat.Relative(0, math.Pi/2)*flat.Flux(), 7, 1e-3*7)
	if flat.Relative(0, math.Pi/2+1e-6) != 0 {
		t.Error("there is light above the horizon")
	}
	bars := sample(t, steps(0, 90, 6), steps(0, 90, 36), photometry.Quadrant, bar)
	if n := testing.AllocsPerRun(100, func() { bars.Relative(7, 0.4) }); n != 0 {
		t.Errorf("Relative allocates %v times", n)
	}
}

// Laws of every web: zones add up, nothing exceeds the peak, a coefficient of
// utilisation stays between nothing and what endless reflection allows.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tab := photometry.Table{PlanesDeg: []float64{0, 30, 90, 200, 300}, GammasDeg: []float64{0, 10, 45, 90, 130, 180}}
		for range len(tab.PlanesDeg) * len(tab.GammasDeg) {
			tab.Candela = append(tab.Candela, rapid.Float64Range(0, 1000).Draw(rt, "cd"))
		}
		tab.Candela[7]++ // never dark
		w, err := photometry.NewWeb(tab)
		if err != nil {
			rt.Fatal(err)
		}
		flux := w.Flux()
		peak, c, g := w.Peak()
		if at := w.At(c, g); math.Abs(at-peak) > 1e-9*peak {
			rt.Fatalf("the peak is %v, but %v there", peak, at)
		}
		a := quantity.Degree(rapid.Float64Range(-10, 190).Draw(rt, "a"))
		b := quantity.Degree(rapid.Float64Range(-10, 190).Draw(rt, "b"))
		if sum := w.ZonalFlux(0, a) + w.ZonalFlux(a, b) + w.ZonalFlux(b, 180); math.Abs(sum-flux) > 1e-9*flux {
			rt.Fatalf("zones add up to %v of %v", sum, flux)
		}
		if v := w.At(a*2, b); !(v >= 0 && v <= peak*(1+1e-12)) {
			rt.Fatalf("toward %v, %v: %v of at most %v", a, b, v, peak)
		}
		r := photometry.Reflectances{Ceiling: 0.7, Walls: 0.5, Floor: 0.2}
		for _, rcr := range []float64{0, 0.2, 1, 8} {
			if u, err := w.Utilisation(rcr, r); err != nil || !(u >= 0 && u <= 1/(1-0.7*0.2)+1e-9) {
				rt.Fatalf("utilisation at RCR %v: %v, %v", rcr, u, err)
			}
		}
		fit := w.FitCosine()
		for _, share := range []float64{fit.Misplaced, fit.Uneven} {
			if !(share >= 0 && share <= 1+1e-2) {
				rt.Fatalf("%+v", fit)
			}
		}
		for _, s := range []quantity.Degree{w.BeamAngle().Mean, w.FieldAngle().Mean} {
			if !(s >= 0 && s <= 360) {
				rt.Fatalf("angle %v", s)
			}
		}
		if w.FieldAngle().C0 < w.BeamAngle().C0 {
			rt.Fatalf("field %v is narrower than beam %v", w.FieldAngle(), w.BeamAngle())
		}
	})
}

func TestOpening(t *testing.T) {
	o := photometry.Opening{Shape: photometry.BoxShape, AlongC0: 1.2, AlongC90: 0.1, Height: 0.3}
	for by, swapped := range map[quantity.Degree]bool{0: false, 90: true, -90: true, 180: false, 270: true, 100: true, 360: false, 30: false} {
		if got := o.Turn(by); (got.AlongC0 == 0.1) != swapped || got.AlongC0+got.AlongC90 != o.AlongC0+o.AlongC90 {
			t.Errorf("turned by %v: %+v", by, got)
		}
	}
	if o.Largest() != 1.2 || o.Outline() != photometry.RectangleOutline {
		t.Errorf("%+v", o)
	}
}

var sink float64

func BenchmarkRelative(b *testing.B) {
	for _, bb := range []struct {
		name   string
		planes []float64
		s      photometry.Symmetry
	}{{"axial", []float64{0}, photometry.Axial}, {"quadrant 7 planes", steps(0, 90, 6), photometry.Quadrant}} {
		w := sample(b, bb.planes, steps(0, 90, 36), bb.s, func(c, g float64) float64 { return math.Cos(g*math.Pi/180) * (1 + c/1000) })
		b.Run(bb.name, func(b *testing.B) {
			b.ReportAllocs()
			for i := range b.N {
				sink += w.Relative(float64(i%628)/100, float64(i%157)/100)
			}
		})
	}
}

func BenchmarkNewWeb(b *testing.B) {
	tab := photometry.Table{PlanesDeg: steps(0, 360, 72), GammasDeg: steps(0, 180, 180)}
	for range 73 * 181 {
		tab.Candela = append(tab.Candela, 1)
	}
	b.Run("73 planes, 181 gammas", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			if _, err := photometry.NewWeb(tab); err != nil {
				b.Fatal(err)
			}
		}
	})
}
