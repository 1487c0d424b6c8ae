package validation

import (
	"math"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// Light checks the field of light against view factors in print and against
// results that can be reached by hand.
func Light() []Check {
	const area = "light"
	by := func(name, source, purpose, unit string, got, want, tolerance float64, note string) Check {
		c := near(area, name, source, purpose, unit, got, want, tolerance)
		c.Note = note
		return c
	}
	const digits = 0.5e-4
	out := []Check{
		by("view factor of 1 by 1.5 rectangles at 0.5", "SiegelHowell", Published, "", lightfield.ParallelRectangles(1, 1.5, 0.5), 0.4756, digits, "half of the last digit"),
		by("view factor of unit squares at 1", "HowellCatalogue", Published, "", lightfield.ParallelRectangles(1, 1, 1), 0.1998, digits, ""),
		by("view factor of unit squares at right angles", "HowellCatalogue", Published, "", lightfield.PerpendicularRectangles(1, 1, 1), 0.2000, digits, "printed as 0.20004"),
		by("element under a disc, on its axis", "SiegelHowell", Independent, "", lightfield.ElementToDisc(0.3, 0.4, 0), 0.36, 1e-9, "r²/(r²+h²)"),
		by("element under an endless ceiling", "SiegelHowell", Independent, "", lightfield.ElementToParallelRectangle(-1e6, 1e6, -1e6, 1e6, 1), 1, 1e-5, "the whole sky"),
	}
	out = append(append(out, lamps()...), boxes()...)
	return append(append(out, mirrors()...), roomUtilisation()...)
}

// lamps checks direct light: a small lamp by the distance law, a disc and a panel
// by their integrals.
func lamps() []Check {
	const area = "light"
	at := func(lamp lightfield.Lamp, x, d float64) float64 {
		var space lightfield.Space
		space.Width, space.Depth, space.Height = 20, 20, 20
		for i := range space.Walls {
			space.Walls[i].Open = true
		}
		lamp.Centre = lightfield.Point{X: 10, Y: 10, Z: 1 + d}
		f, err := lightfield.Solve(space, []lightfield.Lamp{lamp}, lightfield.Options{})
		if err != nil {
			panic("validation: lamps: " + err.Error())
		}
		return f.Direct(nil, []lightfield.Point{{X: 10 + x, Y: 10, Z: 1}})[0]
	}
	// E = Φ (m+1)/(2π) cos^(m+1) θ / d²: at 0.5 m beside a point 0.5 m above, θ is 45°.
	point := func(m float64) float64 {
		return 100 * (m + 1) / (2 * math.Pi) * math.Pow(math.Sqrt2/2, m+1) / 0.5
	}
	panel := lightfield.Lamp{Shape: lightfield.Rectangle, Width: 1, Depth: 1, Flux: 100, Exponent: 1}
	disc := lightfield.Lamp{Shape: lightfield.Disc, Width: 1, Flux: 100, Exponent: 1}
	// As one point both would give Φ/(π d²).
	as := func(d float64) float64 { return 100 / (math.Pi * d * d) }
	law := func(name, source string, got, want, tolerance float64, note string) Check {
		c := near(area, name, source, Independent, "µmol/m²/s", got, want, tolerance)
		c.Note = note
		return c
	}
	const split = 0.01 // the error that the options allow
	return []Check{
		law("point lamp of exponent 1, 45° aside", "GeneralisedCosine", at(lightfield.Lamp{Flux: 100, Exponent: 1}, 0.5, 0.5), point(1), 1e-6*point(1), ""),
		law("point lamp of exponent 3, 45° aside", "GeneralisedCosine", at(lightfield.Lamp{Flux: 100, Exponent: 3}, 0.5, 0.5), point(3), 1e-6*point(3), ""),
		law("panel of 1 m from 10 m", "CIE17", at(panel, 0, 10), as(10), split*as(10), "the distance law; the panel itself is worth 0.3 %"),
		law("disc of 1 m from 1 m", "SiegelHowell", at(disc, 0, 1), as(1)/1.25, split*as(1), "one point would overstate it by exactly (r/d)², 25 %"),
		// 33 % printed, so 0.5 points.
		law("panel of 1 m from 1 m: what one point overstates", "SiegelHowell", as(1)/at(panel, 0, 1), 1.33, 0.005+split, "by direct integration outside this project, ratio of point to panel"),
	}
}

// boxes checks reflected light by the balance of a closed box: all that the
// lamps send is absorbed, so the mean over its sides is Φ/(A (1−ρ)).
func boxes() []Check {
	const area = "light"
	var out []Check
	for _, rho := range []float64{0, 0.5, 0.9} {
		space := lightfield.Space{Width: 1.2, Depth: 0.6, Height: 0.5}
		for i := range space.Walls {
			space.Walls[i].Reflectance = quantity.Fraction(rho)
		}
		f, err := lightfield.Solve(space, []lightfield.Lamp{{Centre: lightfield.Point{X: 0.6, Y: 0.3, Z: 0.48}, Width: 1, Depth: 0.3, Flux: 200, Exponent: 1}}, lightfield.Options{})
		if err != nil {
			panic("validation: boxes: " + err.Error())
		}
		sides := f.WallIrradiance([]float64{1})
		// Sides in pairs across x, y and z.
		areas := [3]float64{0.6 * 0.5, 1.2 * 0.5, 1.2 * 0.6}
		sum, total := 0.0, 0.0
		for i, e := range sides {
			sum += e * areas[i/2]
			total += areas[i/2]
		}
		want := 200 / (total * (1 - rho))
		c := near(area, "mean light in a closed box of reflectance "+number(rho), "SiegelHowell", Independent, "µmol/m²/s", sum/total, want, 0.01*want)
		c.Note = "balance of energy, Φ/(A (1−ρ)); 1 % as the options allow"
		out = append(out, c)
	}
	return out
}

// mirrors checks mirror sides, tilted lamps and panels where the answer can be
// reached by hand.
func mirrors() []Check {
	const area = "light"
	black := lightfield.Space{Width: 1, Depth: 3, Height: 1}
	field := func(space lightfield.Space, lamp lightfield.Lamp) *lightfield.Field {
		f, err := lightfield.Solve(space, []lightfield.Lamp{lamp}, lightfield.Options{})
		if err != nil {
			panic("validation: mirrors: " + err.Error())
		}
		return f
	}
	at := func(space lightfield.Space, lamp lightfield.Lamp, p lightfield.Point) float64 {
		return field(space, lamp).PPFD(nil, []float64{1}, []lightfield.Point{p})[0]
	}
	row := func(name, source, unit string, got, want, share float64, note string) Check {
		c := near(area, name, source, Independent, unit, got, want, share*want)
		c.Note = note
		return c
	}
	// A Lambert point at height 0.9 seen dx away: E = Φ h² / (π d⁴).
	point := func(dx float64) float64 { d2 := dx*dx + 0.81; return 100 * 0.81 / (math.Pi * d2 * d2) }
	lamp := lightfield.Lamp{Centre: lightfield.Point{X: 0.3, Y: 1.5, Z: 0.9}, Flux: 100, Exponent: 1}
	one, two := black, black
	one.Walls[lightfield.Left].Mirror = 0.85
	two.Walls[lightfield.Left].Mirror, two.Walls[lightfield.Right].Mirror = 0.95, 0.95
	series := point(0.3 - 0.8)
	for first := range 2 {
		x, w, mirror := 0.3, 1.0, first
		for range 2000 {
			x, w, mirror = 2*float64(mirror)-x, w*0.95, 1-mirror
			series += w * point(x-0.8)
		}
	}
	endless := lightfield.Space{Width: 0.8, Depth: 2, Height: 1}
	endless.Walls[lightfield.Left].Mirror, endless.Walls[lightfield.Right].Mirror = 1, 1
	bar := lightfield.Lamp{Centre: lightfield.Point{X: 0.4, Y: 1, Z: 0.6}, Width: 0.8, Depth: 0.1, Flux: 100, Exponent: 1}
	sin := 0.05 / math.Hypot(0.05, 0.6)

	closed := lightfield.Space{Width: 1.2, Depth: 0.6, Height: 0.5}
	for i := range closed.Walls {
		closed.Walls[i] = lightfield.Wall{Reflectance: 0.4, Mirror: 0.4}
	}
	sides := field(closed, lightfield.Lamp{Centre: lightfield.Point{X: 0.6, Y: 0.3, Z: 0.48}, Width: 1, Depth: 0.3, Flux: 200, Exponent: 1}).WallIrradiance([]float64{1})
	areas := [3]float64{0.6 * 0.5, 1.2 * 0.5, 1.2 * 0.6}
	sum, total := 0.0, 0.0
	for i, e := range sides {
		sum += e * areas[i/2]
		total += areas[i/2]
	}
	tilted := lamp
	tilted.Centre, tilted.Tilt, tilted.Towards, tilted.Exponent = lightfield.Point{X: 0.2, Y: 1, Z: 0.7}, 45, 90, 3
	shelf := black
	shelf.Panels = []lightfield.Panel{{X2: 0.5, Y2: 3, Z: 0.6}}
	panel := lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 1.5, Z: 0.9}, Width: 0.4, Depth: 0.4, Flux: 100, Exponent: 1}
	return []Check{
		row("one mirror wall of 0.85 beside a lamp", "AllenBerkley1979", "µmol/m²/s", at(one, lamp, lightfield.Point{X: 0.8, Y: 1.5}), point(0.5)+0.85*point(1.1), 1e-9, "lamp and its copy by the distance law"),
		row("two mirror walls of 0.95 face to face", "AllenBerkley1979", "µmol/m²/s", at(two, lamp, lightfield.Point{X: 0.8, Y: 1.5}), series, 0.0025, "4000 copies, found by reflecting one after the other; the far ones are left out by a quarter of the error allowed"),
		row("bar from mirror to mirror, an endless strip", "SiegelHowell", "µmol/m²/s", at(endless, bar, lightfield.Point{X: 0.3, Y: 1}), 100/0.08*sin, 0.0075, "M sin θ below the middle of a strip seen under ±θ"),
		row("mean light in a closed box that scatters 0.4 and mirrors 0.4", "SiegelHowell", "µmol/m²/s", sum/total, 200/(total*0.2), 0.01, "balance of energy, Φ/(A (1−ρ−s))"),
		row("point lamp of exponent 3, tilted 45°, on its axis", "GeneralisedCosine", "µmol/m²/s", at(black, tilted, lightfield.Point{X: 0.2, Y: 1.7}), 100*4/(2*math.Pi)*math.Sqrt2/2/0.98, 1e-6, "I₀ cos 45° / d²"),
		row("panel lamp half behind a shelf", "SiegelHowell", "µmol/m²/s", at(shelf, panel, lightfield.Point{X: 0.5, Y: 1.5}), 100/0.16*lightfield.ElementToParallelRectangle(0, 0.2, -0.2, 0.2, 0.9), 0.01, "view factor of the half in sight"),
	}
}

// utilisation checks the share of light that reaches the floor of a room against
// the zonal cavity method.
func roomUtilisation() []Check {
	// CU of IESLS6 for a Lambert luminaire at the ceiling: reflectances of ceiling,
	// walls and floor c, w, p, ceiling-floor factor f, direct ratio d.
	cu := func(rcr, c, w, p, f, d float64) float64 {
		c1 := (1 - w) * (1 - f*f) * rcr / (2.5*w*(1-f*f) + rcr*f*(1-w))
		c2 := (1 - c) * (1 + f) / (1 + c*f)
		c3 := (1 - p) * (1 + f) / (1 + p*f)
		c0 := c1 + c2 + c3
		return 2.5*w*c1*c3*(1-d)/(rcr*(1-w)*(1-p)*c0) + (1-p*c3*(c1+c2)/((1-p)*c0))*d/(1-p)
	}
	a := [9]float64{0, 0.041, 0.070, 0.100, 0.136, 0.190, 0.315, 0.640, 2.10}
	b := [9]float64{0, 0.98, 1.05, 1.12, 1.16, 1.25, 1.25, 1.25, 0.80}
	var out []Check
	for _, r := range []struct{ rcr, f float64 }{{1, 0.827}, {2, 0.689}, {5, 0.415}} {
		d := 0.0
		for i := range a {
			zone := math.Pow(math.Cos(float64(i)*math.Pi/18), 2) - math.Pow(math.Cos(float64(i+1)*math.Pi/18), 2)
			d += zone * math.Exp(-a[i]*math.Pow(r.rcr, b[i]))
		}
		space := lightfield.Space{Width: 10, Depth: 10, Height: r.rcr}
		for i := range space.Walls {
			space.Walls[i].Reflectance = 0.5
		}
		space.Walls[lightfield.Above].Reflectance, space.Walls[lightfield.Below].Reflectance = 0.8, 0.2
		ceiling := lightfield.Lamp{Centre: lightfield.Point{X: 5, Y: 5, Z: r.rcr}, Width: 10, Depth: 10, Flux: 100, Exponent: 1}
		f, err := lightfield.Solve(space, []lightfield.Lamp{ceiling}, lightfield.Options{})
		if err != nil {
			panic("validation: utilisation: " + err.Error())
		}
		c := near("light", "coefficient of utilisation at a room cavity ratio of "+number(r.rcr), "IESLS6", Published, "", f.WallIrradiance([]float64{1})[lightfield.Below], cu(r.rcr, 0.8, 0.5, 0.2, r.f, d), 0.04)
		c.Note = "0.8, 0.5, 0.2 for ceiling, walls, floor; the method's multipliers are fitted, 4 points are its own spread"
		out = append(out, c)
	}
	return out
}
