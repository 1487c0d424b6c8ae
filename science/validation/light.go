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
	return append(append(out, lamps()...), boxes()...)
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
