package validation

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"underlamp/science/photometry"
	"underlamp/science/reference"
)

// Photometry checks the light of photometric webs against totals that others
// printed, the printed table of utilisation, and exact integrals.
func Photometry() []Check {
	out := append(analyticWebs(), measuredWebs()...)
	out = append(out, coordinateTypes()...)
	return append(out, utilisation()...)
}

const photometryArea = "photometry"

// analyticWeb is a lamp that is the same all round, from a function of γ in °.
func analyticWeb(step, last float64, f func(deg float64) float64) *photometry.Web {
	t := photometry.Table{PlanesDeg: []float64{0}, Symmetry: photometry.Axial}
	for g := 0.0; g <= last; g += step {
		t.GammasDeg = append(t.GammasDeg, g)
		t.Candela = append(t.Candela, f(g))
	}
	return mustWeb(t)
}

func mustWeb(t photometry.Table) *photometry.Web {
	w, err := photometry.NewWeb(t)
	if err != nil {
		panic("validation: Photometry: " + err.Error())
	}
	return w
}

// cosine is cos deg, exactly 0 at and beyond the horizon.
func cosine(deg float64) float64 {
	if deg >= 90 {
		return 0
	}
	return math.Cos(deg * math.Pi / 180)
}

func analyticWebs() []Check {
	near := func(name, unit string, got, want, tolerance float64, note string) Check {
		c := near(photometryArea, name, "GeneralisedCosine", Independent, unit, got, want, tolerance)
		c.Note = note
		return c
	}
	even := analyticWeb(10, 90, func(g float64) float64 { return 1000 * cosine(g) })
	narrow := analyticWeb(1, 90, func(g float64) float64 { return 1000 * math.Pow(cosine(g), 8) })
	sphere := analyticWeb(5, 180, func(float64) float64 { return 100 })
	fit := narrow.FitCosine()
	half := 2 * math.Acos(math.Pow(0.5, 1.0/8)) * 180 / math.Pi
	return []Check{
		near("light of 1000 cosγ cd in steps of 10°", "lm", even.Flux(), 1000*math.Pi, 1e-6, "π I₀, exact at any step"),
		near("light of 1000 cos⁸γ cd", "lm", narrow.Flux(), 2*math.Pi*1000/9, 1, "2π I₀/9; steps of 1°, m h²/12 of curvature"),
		near("light of 100 cd all round", "lm", sphere.Flux(), 400*math.Pi, 1e-6, "4π I₀"),
		near("beam angle of cos⁸γ", "°", float64(narrow.BeamAngle().Mean), half, 0.05, "2 cos⁻¹ ½^(1/8)"),
		near("exponent found in cos⁸γ", "", fit.Exponent, 8, 0.02, ""),
		near("spacing of two even emitters", "heights", even.Spacing().C0, 2*math.Sqrt(math.Sqrt2-1), 0.002, "cos⁴θ = ½; steps of 10° between which intensity is linear in cosγ"),
		near("spacing of four even emitters", "heights", even.Spacing().Diagonal, math.Sqrt2, 0.002, "cos⁴θ = ¼"),
	}
}

// measuredWebs adds up two measured lamps.
func measuredWebs() []Check {
	tab := reference.MustLoad("photometry_measured_candela")
	downlight := photometry.Table{PlanesDeg: []float64{0}, Symmetry: photometry.Axial}
	linear := photometry.Table{PlanesDeg: []float64{0, 22.5, 45, 67.5, 90}, Symmetry: photometry.Quadrant}
	for i := range tab.Rows {
		g := tab.Float(i, "gamma_deg")
		downlight.GammasDeg, linear.GammasDeg = append(downlight.GammasDeg, g), append(linear.GammasDeg, g)
		downlight.Candela = append(downlight.Candela, tab.Float(i, "downlight"))
	}
	for _, c := range linear.PlanesDeg {
		for i := range tab.Rows {
			linear.Candela = append(linear.Candela, tab.Float(i, fmt.Sprintf("linear_C%g", c)))
		}
	}
	total := func(name string, t photometry.Table, want float64) Check {
		c := near(photometryArea, name, "UtilisationNotebook", Published, "lm", mustWeb(t).Flux(), want, 0.005)
		c.Note = "printed by a general photometric program; half of the last digit"
		return c
	}
	return append([]Check{total("total of a measured downlight", downlight, 531.98), total("total of a measured linear lamp", linear, 753.80)}, floodlight()...)
}

// floodlight reads a measured table of type B. The laboratory printed a total but
// not how it added up, so the check is that the rules of type B come near and
// those of type A do not; and that turning the table into type C keeps its light.
func floodlight() []Check {
	tab := reference.MustLoad("photometry_floodlight_type_b")
	g := photometry.Goniometer{Coordinates: photometry.TypeB, Mirrored: true}
	for i := range tab.Rows {
		g.VDeg = append(g.VDeg, tab.Float(i, "vertical_deg"))
	}
	for _, column := range tab.Header[1:] {
		h, err := strconv.ParseFloat(strings.TrimPrefix(column, "h"), 64)
		if err != nil {
			panic("validation: floodlight: " + err.Error())
		}
		g.HDeg = append(g.HDeg, h)
		for i := range tab.Rows {
			g.Candela = append(g.Candela, tab.Float(i, column))
		}
	}
	w, err := g.Web()
	if err != nil {
		panic("validation: floodlight: " + err.Error())
	}
	own := g.Flux()
	turned := near(photometryArea, "light of a measured floodlight, type B turned into C", "UtilisationNotebook", Independent, "lm", w.Flux(), own, 0.005*own)
	turned.Note = "the sum over cells of the table itself; cells of up to 10°, linear in one case and cut into corners in the other"
	g.Coordinates = photometry.TypeA
	const printed = 10601
	nearer := order(photometryArea, "a measured floodlight of type B: the printed total fits B better than A", "UtilisationNotebook", Published,
		math.Abs(own-printed) < math.Abs(g.Flux()-printed)/5,
		fmt.Sprintf("printed %d lm, %+.1f %% by the rules of type B, %+.1f %% by those of type A", printed, 100*(own/printed-1), 100*(g.Flux()/printed-1)))
	return []Check{turned, nearer}
}

// coordinateTypes writes one lamp, 1000 cosγ (1 + 0.8 x² − 0.5 y²) cd with x
// across and y up, in types A and B.
func coordinateTypes() []Check {
	want := 1000 * math.Pi * (1 + (0.8-0.5)/4) // ∫ cosγ x² dΩ = ∫ cosγ y² dΩ = π/4
	var out []Check
	for _, kind := range []photometry.Coordinates{photometry.TypeA, photometry.TypeB} {
		g := photometry.Goniometer{Coordinates: kind}
		for a := -90.0; a <= 90; a += 5 {
			g.HDeg, g.VDeg = append(g.HDeg, a), append(g.VDeg, a)
		}
		for _, h := range g.HDeg {
			for _, v := range g.VDeg {
				sinH, cosH := math.Sincos(h * math.Pi / 180)
				sinV, cosV := math.Sincos(v * math.Pi / 180)
				x, y := sinH, cosH*sinV
				if kind == photometry.TypeA {
					x, y = sinH*cosV, sinV
				}
				g.Candela = append(g.Candela, math.Max(0, 1000*cosH*cosV*(1+0.8*x*x-0.5*y*y)))
			}
		}
		w, err := g.Web()
		if err != nil {
			panic("validation: coordinateTypes: " + err.Error())
		}
		c := near(photometryArea, fmt.Sprintf("light of an oval beam given in type %v", kind), "LM63", Independent, "lm", w.Flux(), want, 0.004*want)
		c.Note = "by hand, 1075 π; steps of 5°, linear between"
		out = append(out, c)
	}
	return out
}

// utilisation compares with the printed table: the row with the largest error
// of each reflectance of the ceiling, and the direct ratios.
func utilisation() []Check {
	zones := reference.MustLoad("photometry_zonal_lumens")
	t := photometry.Table{PlanesDeg: []float64{0}, Symmetry: photometry.Axial}
	for i := range zones.Rows {
		a := zones.Float(i, "from_deg")
		b := a + 10
		v := zones.Float(i, "lumen") / (2 * math.Pi * (math.Cos(a*math.Pi/180) - math.Cos(b*math.Pi/180)))
		if i > 0 {
			a += 1e-7 // a stair: each zone of one intensity
		}
		t.GammasDeg, t.Candela = append(t.GammasDeg, a, b), append(t.Candela, v, v)
	}
	w := mustWeb(t)
	table := reference.MustLoad("photometry_utilisation")
	var out []Check
	add := func(name, unit string, got, want, tolerance float64, note string) {
		c := near(photometryArea, name, "UtilisationNotebook", Published, unit, got, want, tolerance)
		c.Note = note
		out = append(out, c)
	}
	worst := map[float64]int{}
	off := func(i int) float64 { return 100*utilised(w, table, i) - table.Float(i, "cu_pct") }
	var ceilings []float64
	for i := range table.Rows {
		c := table.Float(i, "ceiling")
		if k, ok := worst[c]; !ok {
			ceilings = append(ceilings, c)
			worst[c] = i
		} else if math.Abs(off(i)) > math.Abs(off(k)) {
			worst[c] = i
		}
	}
	for _, c := range ceilings {
		i := worst[c]
		add(fmt.Sprintf("utilisation under a ceiling of %g %%, worst of its rows", 100*c), "%", 100*utilised(w, table, i), table.Float(i, "cu_pct"), 0.65,
			fmt.Sprintf("RCR %g, walls %g %%; half of the last digit, and the notebook rounds the direct ratio and form factor first", table.Float(i, "rcr"), 100*table.Float(i, "walls")))
	}
	for _, rcr := range []float64{1, 5, 10} {
		for i := range table.Rows {
			if table.Float(i, "rcr") == rcr && table.Float(i, "ceiling") == 0 {
				add(fmt.Sprintf("direct ratio at RCR %g", rcr), "", w.DirectRatio(rcr), table.Float(i, "direct_ratio"), 0.00051, "half of the last digit, and zones printed to 0.01 lm")
				add(fmt.Sprintf("ceiling to floor at RCR %g", rcr), "", photometry.CeilingToFloor(rcr), table.Float(i, "ceiling_to_floor"), 0.001, "the printed row is cut, not rounded")
			}
		}
	}
	return out
}

func utilised(w *photometry.Web, table reference.Table, i int) float64 {
	u, err := w.Utilisation(table.Float(i, "rcr"), photometry.Reflectances{Ceiling: table.Float(i, "ceiling"), Walls: table.Float(i, "walls"), Floor: 0.2})
	if err != nil {
		panic("validation: utilisation: " + err.Error())
	}
	return u
}
