package photometry_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/science/reference"
)

// I cosᵐ: the half peak is at cos⁻¹(½^(1/m)), the tenth at cos⁻¹(0.1^(1/m)).
func TestBeamOfCosineLamps(t *testing.T) {
	for _, m := range []float64{1, 2, 8, 60} {
		w := sample(t, []float64{0}, steps(0, 90, 180), photometry.Axial, cosPower(m))
		half := 2 * math.Acos(math.Pow(0.5, 1/m)) * 180 / math.Pi
		tenth := 2 * math.Acos(math.Pow(0.1, 1/m)) * 180 / math.Pi
		// Half a degree of step: below 0.05° even for the narrowest.
		within(t, "beam angle", float64(w.BeamAngle().Mean), half, 0.05)
		within(t, "field angle", float64(w.FieldAngle().C90), tenth, 0.05)
		fit := w.FitCosine()
		within(t, "exponent", fit.Exponent, m, 0.003*m)
		within(t, "misplaced", fit.Misplaced, 0, 0.002)
		within(t, "uneven", fit.Uneven, 0, 1e-9)
	}
}

// A box of light from 20° on one side to 50° on the other, and an upward lamp.
func TestBeamOffAxis(t *testing.T) {
	gammas := steps(0, 90, 90)
	lop := sample(t, []float64{0, 180}, gammas, photometry.NoSymmetry, func(c, g float64) float64 {
		if c == 0 && g <= 50 || c == 180 && g <= 20 {
			return 100
		}
		return 0
	})
	within(t, "lopsided", float64(lop.AngleAbove(0.5, 0)), 71, 0.1) // 50.5 + 20.5: the edges fall over one degree
	aside := sample(t, []float64{0, 180}, gammas, photometry.NoSymmetry, func(c, g float64) float64 {
		if c == 0 && g >= 30 && g <= 60 {
			return 100
		}
		return 0
	})
	within(t, "all on one side", float64(aside.AngleAbove(0.5, 0)), 31, 0.1)
	up := sample(t, []float64{0}, steps(90, 180, 90), photometry.Axial, func(_, g float64) float64 { return 10 * math.Pow(-math.Cos(g*math.Pi/180), 2) })
	within(t, "upward", float64(up.BeamAngle().Mean), 90, 0.1)
	if f := up.FitCosine(); !math.IsNaN(f.Exponent) {
		t.Errorf("a lamp with nothing below has exponent %v", f.Exponent)
	}
	sphere := sample(t, []float64{0}, steps(0, 180, 18), photometry.Axial, func(_, _ float64) float64 { return 1 })
	within(t, "sphere", float64(sphere.BeamAngle().C0), 360, 1e-9)
}

// A ring at 60° is far from any cosine law: nearly all its light is misplaced.
// Half the light in two opposite quadrants: what is above the mean is a half of
// it, (2−1)·½.
func TestFitSaysHowBad(t *testing.T) {
	ring := sample(t, []float64{0}, steps(0, 90, 90), photometry.Axial, func(_, g float64) float64 {
		return math.Exp(-math.Pow((g-60)/2, 2))
	})
	if f := ring.FitCosine(); f.Misplaced < 0.7 {
		t.Errorf("a ring is misplaced by %v", f.Misplaced)
	}
	planes := steps(0, 359, 359)
	halves := sample(t, planes, steps(0, 90, 18), photometry.NoSymmetry, func(c, g float64) float64 {
		if math.Mod(c, 180) < 90 {
			return 100 * math.Cos(g*math.Pi/180)
		}
		return 0
	})
	within(t, "uneven", halves.FitCosine().Uneven, 0.5, 0.005) // planes 1° apart blur the edges
}

// A cosine lamp: I(θ) cos³θ = ½ at cos⁴θ = ½, so 2 tan θ = 2 √(√2 − 1) = 1.2872;
// on the diagonal cos⁴θ = ¼, θ = 45°, √2. A sphere: cos³θ = ½ and ¼.
func TestSpacing(t *testing.T) {
	w := sample(t, []float64{0}, steps(0, 90, 90), photometry.Axial, cosPower(1))
	s := w.Spacing()
	within(t, "cosine, two", s.C0, 2*math.Sqrt(math.Sqrt2-1), 1e-6)
	within(t, "cosine, four", s.Diagonal, math.Sqrt2, 1e-6)
	sphere := sample(t, []float64{0}, steps(0, 180, 180), photometry.Axial, func(_, _ float64) float64 { return 1 })
	tan := func(share float64) float64 { return math.Tan(math.Acos(math.Cbrt(share))) }
	within(t, "sphere, two", sphere.Spacing().C90, 2*tan(0.5), 1e-6)
	within(t, "sphere, four", sphere.Spacing().Diagonal, math.Sqrt2*tan(0.25), 1e-6)
	up := sample(t, []float64{0}, steps(90, 180, 9), photometry.Axial, func(_, _ float64) float64 { return 1 })
	if !math.IsNaN(up.Spacing().C0) {
		t.Error("an upward lamp has a spacing criterion")
	}
}

// staircase is a web with the lumens of 18 zones, each zone of even intensity.
func staircase(t *testing.T, lumens []float64) *photometry.Web {
	var gammas, cd []float64
	for k, lm := range lumens {
		a, b := float64(10*k), float64(10*k+10)
		v := lm / (2 * math.Pi * (math.Cos(a*math.Pi/180) - math.Cos(b*math.Pi/180)))
		if k > 0 {
			a += 1e-7
		}
		gammas, cd = append(gammas, a, b), append(cd, v, v)
	}
	w, err := photometry.NewWeb(photometry.Table{PlanesDeg: []float64{0}, GammasDeg: gammas, Candela: cd, Symmetry: photometry.Axial})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// All 198 printed coefficients, with the direct ratios and form factors behind
// them.
func TestPrintedUtilisation(t *testing.T) {
	zones := reference.MustLoad("photometry_zonal_lumens")
	var lumens []float64
	for i := range zones.Rows {
		lumens = append(lumens, zones.Float(i, "lumen"))
	}
	w := staircase(t, lumens)
	within(t, "flux", w.Flux(), 9217.17, 0.05)
	table := reference.MustLoad("photometry_utilisation")
	for i := range table.Rows {
		rcr := table.Float(i, "rcr")
		got, err := w.Utilisation(rcr, photometry.Reflectances{Ceiling: table.Float(i, "ceiling"), Walls: table.Float(i, "walls"), Floor: 0.2})
		if err != nil {
			t.Fatal(err)
		}
		// Half of the last digit, and what rounding the direct ratio and the form
		// factor to three decimals first can do (0.05 points each, twice over).
		within(t, fmt.Sprintf("utilisation %v", table.Rows[i]), 100*got, table.Float(i, "cu_pct"), 0.65)
		if rcr > 0 {
			within(t, "direct ratio", w.DirectRatio(rcr), table.Float(i, "direct_ratio"), 0.00051) // half of the last digit
			// The row is cut, not rounded, after three decimals.
			within(t, "ceiling to floor", photometry.CeilingToFloor(rcr), table.Float(i, "ceiling_to_floor"), 0.001)
		}
	}
}

// Limits that need no table: in black rooms the direct light remains, and all
// that the walls, ceiling and floor take in is what the lamp gives.
func TestUtilisationLimits(t *testing.T) {
	w := sample(t, []float64{0}, steps(0, 90, 90), photometry.Axial, cosPower(1))
	for _, rcr := range []float64{0.5, 1, 3, 9} {
		black, err := w.Utilisation(rcr, photometry.Reflectances{})
		if err != nil {
			t.Fatal(err)
		}
		within(t, "black room", black, w.DirectRatio(rcr), 1e-12)
		grey, _ := w.Utilisation(rcr, photometry.Reflectances{Ceiling: 0.7, Walls: 0.5, Floor: 0.2})
		if grey <= black {
			t.Errorf("RCR %v: %v with light walls, %v with black ones", rcr, grey, black)
		}
		// A perfectly white room sends all light to the floor, the only taker.
		white, _ := w.Utilisation(rcr, photometry.Reflectances{Ceiling: 0.999, Walls: 0.999})
		within(t, "white room", white, 1, 0.03)
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := w.Utilisation(bad, photometry.Reflectances{}); err == nil {
			t.Errorf("RCR %v: no error", bad)
		}
	}
	if _, err := w.Utilisation(1, photometry.Reflectances{Walls: 1}); err == nil {
		t.Error("walls that reflect everything: no error")
	}
}

// One lamp measured in type A, B and C is one lamp: a wide oval beam, tilted in
// no way, written as a function of direction only.
func TestCoordinateTypesAgree(t *testing.T) {
	lamp := func(across, up, along float64) float64 {
		if along <= 0 {
			return 0
		}
		return 1000 * along * (1 + 0.8*across*across - 0.5*up*up + 0.3*up)
	}
	deg := steps(-90, 90, 36)
	gon := func(kind photometry.Coordinates, h, v float64) float64 {
		sh, ch := math.Sincos(h * math.Pi / 180)
		sv, cv := math.Sincos(v * math.Pi / 180)
		if kind == photometry.TypeA {
			return lamp(sh*cv, sv, ch*cv)
		}
		return lamp(sh, ch*sv, ch*cv)
	}
	c := sample(t, steps(0, 355, 71), steps(0, 90, 36), photometry.NoSymmetry, func(c, g float64) float64 {
		sc, cc := math.Sincos(c * math.Pi / 180)
		sg, cg := math.Sincos(g * math.Pi / 180)
		return lamp(sg*sc, sg*cc, cg)
	})
	// Exact: ∫ along = π; ∫ along·across² = ∫ along·up² = π/4; ∫ along·up = 0.
	exact := 1000 * math.Pi * (1 + 0.8/4 - 0.5/4)
	within(t, "type C flux", c.Flux(), exact, 0.001*exact)
	for _, kind := range []photometry.Coordinates{photometry.TypeA, photometry.TypeB} {
		for _, mirrored := range []bool{false, true} {
			g := photometry.Goniometer{Coordinates: kind, HDeg: deg, VDeg: deg, Mirrored: mirrored}
			if mirrored {
				g.HDeg = steps(0, 90, 18)
			}
			for _, h := range g.HDeg {
				for _, v := range g.VDeg {
					g.Candela = append(g.Candela, gon(kind, h, v))
				}
			}
			// 5° cells, corners averaged: h²/12 of the curvature, 0.4 %.
			within(t, "flux in its own angles", g.Flux(), exact, 0.004*exact)
			w, err := g.Web()
			if err != nil {
				t.Fatal(err)
			}
			within(t, "flux of its web", w.Flux(), exact, 0.004*exact)
			for cc := 0.0; cc < 360; cc += 20 {
				for gg := 0.0; gg <= 85; gg += 7.3 {
					got, want := w.At(quantity.Degree(cc), quantity.Degree(gg)), c.At(quantity.Degree(cc), quantity.Degree(gg))
					if math.Abs(got-want) > 0.004*1000 {
						t.Errorf("type %v, mirrored %v, C %v, gamma %v: %v cd, in type C %v", kind, mirrored, cc, gg, got, want)
					}
				}
			}
		}
	}
	if _, err := (photometry.Goniometer{HDeg: []float64{0, 100}, VDeg: []float64{0, 10}, Candela: make([]float64, 4), Coordinates: photometry.TypeB}).Web(); err == nil || !strings.Contains(err.Error(), "100°") {
		t.Errorf("H = 100° in type B: %v", err)
	}
}

func TestClasses(t *testing.T) {
	table := map[string]float64{ // lx per µmol m⁻² s⁻¹, ThimijanHeins1983 as quoted elsewhere
		"sun": 54, "fluorescent": 74, "metal-halide": 71, "hps": 82, "incandescent": 50,
	}
	for key, lux := range table {
		c, err := photometry.ClassOf(key)
		if err != nil {
			t.Fatal(err)
		}
		if lux < c.LuxLow || lux > c.LuxHigh {
			t.Errorf("%s: %v lx per µmol lies outside %v to %v", key, lux, c.LuxLow, c.LuxHigh)
		}
		// The printed value within two standard deviations of the factor.
		if d := math.Abs(1/lux/c.PerLumen() - 1); d > 2*c.RelativeSD {
			t.Errorf("%s: off by %v, sd %v", key, d, c.RelativeSD)
		}
	}
	if c, err := photometry.ClassOf(" White LED "); err != nil || c.Key != "white-led" {
		t.Errorf("%v, %v", c, err)
	}
	for _, name := range []string{"red+blue", "blue and red", "disco", ""} {
		if _, err := photometry.ClassOf(name); err == nil {
			t.Errorf("%q has a class", name)
		}
	}
	within(t, "photons of 5400 lm of sun", float64(photometry.PhotonFlux(5400, 1.0/54)), 100, 1e-9)
}

// A grower's question: how far apart may these bars hang?
func ExampleWeb_Spacing() {
	// An even emitter, as most bars without lenses are: 120 cd straight down.
	w, err := photometry.NewWeb(photometry.Table{
		PlanesDeg: []float64{0}, GammasDeg: []float64{0, 30, 60, 90},
		Candela: []float64{120, 103.92, 60, 0}, Symmetry: photometry.Axial,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f lm, beam %.0f°, hang them at most %.1f times their height apart\n", w.Flux(), w.BeamAngle().Mean, w.Spacing().C0)
	// Output: 377 lm, beam 120°, hang them at most 1.3 times their height apart
}
