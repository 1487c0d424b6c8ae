package validation

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"underlamp/science/spectrum"
)

// Spectrum checks the colour of light: constants, illuminants by formula against
// the CIE, against the output of a general colour program, and against published
// figures for plants.
func Spectrum() []Check {
	const area = "spectrum"
	var out []Check
	by := func(name, source, purpose, unit string, got, want, tolerance float64, note string) {
		c := near(area, name, source, purpose, unit, got, want, tolerance)
		c.Note = note
		out = append(out, c)
	}
	for _, nm := range []float64{450, 530, 660, 730} {
		want := map[float64]float64{450: 3.7617, 530: 4.4305, 660: 5.5172, 730: 6.1023}[nm]
		l := spectrum.Line(nm)
		by(fmt.Sprintf("photons of %g nm in a joule", nm), "BIPM2019", Independent, "µmol/J", l.Total(spectrum.Photons)/l.Total(spectrum.Energy), want, 5e-5, "half of the last digit")
	}

	a, d := spectrum.IlluminantA(), spectrum.Daylight(spectrum.DaylightD65)
	ca, cd := a.Colour(), d.Colour()
	const five = 2e-5
	by("illuminant A: chromaticity x", "CIE11664", Published, "", ca.X, 0.44757, five, "half of the last digit, and as much for the observer at 5 nm")
	by("illuminant A: chromaticity y", "CIE11664", Published, "", ca.Y, 0.40745, five, "")
	by("illuminant D65: chromaticity x", "CIE11664", Published, "", cd.X, 0.31272, five, "")
	by("illuminant D65: chromaticity y", "CIE11664", Published, "", cd.Y, 0.32903, five, "")
	by("illuminant A: colour temperature", "CIE11664", Published, "K", ca.CCT, 2856, 1, "")
	by("illuminant D65: colour temperature", "CIE11664", Published, "K", cd.CCT, 6504, 3, "the nominal figure is a definition; 1 in the fifth digit of y is 0.4 K")

	for _, r := range rows("specplot_values") {
		name := r.text("spectrum")
		s := madeBy(name)
		// Diodes: V(λ) in straight lines of 1 nm, the observer refined from 5 nm.
		tolerance, note, got := 2e-5, "", s.Lumens()
		if strings.HasPrefix(name, "diodes") {
			tolerance, note = 5e-4, "straight lines between the rows of V(λ) lie above its falling curve"
		} else {
			got /= 1000
		}
		want := r.f("illuminance")
		by("illuminance of "+name, "Argyll", Independent, "lx", got, want, tolerance*want, note)
		if want := r.f("cct_K"); !math.IsNaN(want) {
			by("colour temperature of "+name, "Argyll", Independent, "K", s.Colour().CCT, want, 5e-4*want, "")
		}
	}

	flat, err := spectrum.New(spectrum.Samples{NM: []float64{300, 830}, Value: []float64{100, 100}, Basis: spectrum.Energy})
	if err != nil {
		panic("validation: Spectrum: " + err.Error())
	}
	own := map[string]spectrum.Spectrum{"A": a, "D50": madeBy("daylight D50"), "D65": d, "E": flat}
	for _, r := range rows("specplot_reference_spectra") {
		name, want := r.text("spectrum"), r.f("abs_y")
		by("illuminance of the program's own "+name, "Argyll", Independent, "lx/1000", own[name].Lumens()/1e5, want, 5e-5*want, "its tables have steps of 5 nm")
	}

	for _, r := range rows("thimijan_heins1983_conversions") {
		of := map[string]spectrum.Spectrum{"incandescent": a, "sun and sky": d}
		s, ok := of[r.text("source")]
		if !ok {
			continue
		}
		share, note := 0.03, "daylight of 5500 to 6500 K differs by as much"
		if r.text("source") == "incandescent" {
			share, note = 0.02, "lamps of 2800 to 2900 K differ by as much"
		}
		by("lux for each µmol, "+r.text("source"), "ThimijanHeins1983", Published, "lx", s.LuxPerMicromole(), r.f("lux_per_umol"), share*r.f("lux_per_umol"), note)
		by("µmol for each joule of 400 to 700 nm, "+r.text("source"), "ThimijanHeins1983", Published, "µmol/J", s.PARPerJoule(), r.f("umol_per_J"), share*r.f("umol_per_J"), note)
	}

	const lines = 0.002
	const spline = "printed with a spline through the rows; straight lines move it by 0.001 at most"
	for _, c := range []struct{ nm, want float64 }{{435, 0.3859998}, {620, 0.874}, {660, 0.869649}, {735, 0.01749967}} {
		by(fmt.Sprintf("PPE of %g nm", c.nm), "Aphalo2015", Published, "", spectrum.Line(c.nm).PPE(), c.want, lines, spline)
	}
	for _, c := range []struct{ ratio, want float64 }{{1.15, 0.6919699}, {0.01, 0.04747996}} {
		s, err := spectrum.Mix(spectrum.Photons, spectrum.Part{Spectrum: spectrum.Line(660), Share: c.ratio}, spectrum.Part{Spectrum: spectrum.Line(730), Share: 1})
		if err != nil {
			panic("validation: Spectrum: " + err.Error())
		}
		by(fmt.Sprintf("PPE of 660 and 730 nm, %g to 1", c.ratio), "Aphalo2015", Published, "", s.PPE(), c.want, lines, spline)
	}

	// By other code outside this project, from the CIE's own tables.
	for _, c := range []struct {
		name                   string
		s                      spectrum.Spectrum
		blue, narrow, ppe, ypf float64
	}{{"A", a, 0.090654, 0.71941, 0.61883, 0.93313}, {"D65", d, 0.30456, 1.0464, 0.67516, 0.88243}} {
		narrow, _ := c.s.RedFarRed()
		by("blue share of illuminant "+c.name, "CIE11664", Independent, "", c.s.OfPAR(spectrum.Blue), c.blue, 2e-4*c.blue, "trapezoids of 1 nm")
		by("R:FR 655–665 : 725–735 nm of illuminant "+c.name, "CIE11664", Independent, "", narrow.Value, c.narrow, 2e-4*c.narrow, "")
		by("PPE of illuminant "+c.name, "Mancinelli1994", Independent, "", c.s.PPE(), c.ppe, 2e-4*c.ppe, "")
		by("YPF/PPF of illuminant "+c.name, "McCree1972", Independent, "", c.s.YieldPhotons()/c.s.In(spectrum.PAR), c.ypf, 2e-4*c.ypf, "")
	}
	return out
}

// madeBy makes the spectrum that a row of specplot_values names.
func madeBy(name string) spectrum.Spectrum {
	kind, rest, _ := strings.Cut(name, " ")
	switch {
	case name == "illuminant A":
		return spectrum.IlluminantA()
	case kind == "diodes":
		parts, err := spectrum.ParseParts(rest)
		if err != nil {
			panic("validation: madeBy: " + err.Error())
		}
		s, err := spectrum.Mix(spectrum.Photons, parts...)
		if err != nil {
			panic("validation: madeBy: " + err.Error())
		}
		return s
	case name == "daylight D50":
		return spectrum.Daylight(5000 * 1.4388 / 1.4380)
	case name == "daylight D65":
		return spectrum.Daylight(spectrum.DaylightD65)
	}
	kelvin, err := strconv.ParseFloat(strings.Fields(name)[len(strings.Fields(name))-2], 64)
	if err != nil {
		panic("validation: madeBy: no temperature in " + name)
	}
	if kind == "daylight" {
		return spectrum.Daylight(kelvin)
	}
	return spectrum.Planck(kelvin)
}
