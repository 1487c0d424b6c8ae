package lamp

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/working"
)

// Unit is the unit of photons of a light; empty for a relative one.
func Unit(s spectrum.Spectrum) string {
	switch s.Scale() {
	case spectrum.Flux:
		return quantity.PhotonFlux.Unit()
	case spectrum.FluxDensity:
		return quantity.PhotonFluxDensity.Unit()
	}
	return ""
}

// MostRatio is where a ratio says no more than that there is hardly any far-red.
const MostRatio = 1000

// SpectrumFigures are the figures of a light but for its bands: R:FR in both
// definitions, phytochrome, yield photon flux, what a lux meter and a watt are
// worth, colour temperature. name is that of the spectrum, for the working.
func SpectrumFigures(name string, s spectrum.Spectrum) []working.Figure {
	from, to := s.Support()
	data := working.Plain("spectrum", fmt.Sprintf("%s, %s to %s nm", name, quantity.Number(from, 4), quantity.Number(to, 4)), "stated")
	figure := func(what string, v float64, unit, formula string, notes []string, sources ...string) working.Figure {
		return working.Figure{Name: what, Value: v, Unit: unit, Working: working.Working{Formula: formula, Inputs: []working.Input{data}, Notes: notes, Sources: sources}}
	}
	narrow, wide := s.RedFarRed()
	ratio := func(r spectrum.Ratio) float64 {
		if r.Value > MostRatio {
			return math.Inf(1)
		}
		return r.Value
	}
	c := s.Colour()
	var why []string
	if c.Why != "" {
		why = []string{c.Why}
	}
	figures := []working.Figure{
		figure("R:FR, "+narrow.Bands(), ratio(narrow), "", "∫ n dλ / ∫ n dλ over the bands", []string{"The definition with bands of 10 nm."}),
		figure("R:FR, "+wide.Bands(), ratio(wide), "", "∫ n dλ / ∫ n dλ over the bands", []string{"The definition with bands of 100 nm; the two differ up to threefold on diodes."}),
		figure("phytochrome PPE (Mancinelli 1994)", s.PPE(), "", "∫ n σ_r dλ / (∫ n σ_r dλ + ∫ n σ_fr dλ), 300 to 770 nm", []string{
			"With other cross-sections 0.03 to 0.05 more may come out: never compare across tables.",
			"A high PPE does not keep plants compact by itself: lettuce seedlings stretch under red diodes alone.",
		}, "Mancinelli1994", "Hoenecke1992"),
		figure("yield photon flux / PPF (McCree 1972)", s.YieldPhotons()/s.In(spectrum.PAR), "", "∫ n q dλ (350 to 725 nm) / ∫ n dλ (400 to 700 nm)", []string{"Leaves in weak light, one wavelength at a time; mean of growth chambers."}, "McCree1972"),
		figure("lux for each µmol/m²/s", s.LuxPerMicromole(), "lx", "683.002 ∫ e V dλ / ∫ n dλ (400 to 700 nm)", nil, "CIE018"),
		figure("photons for each lumen", s.MicromolesPerLumen(), "µmol/s/lm", "∫ n dλ (400 to 700 nm) / (683.002 ∫ e V dλ)", nil, "CIE018"),
		figure("photons for each joule of 400–700 nm", s.PARPerJoule(), "µmol/J", "∫ n dλ / ∫ e dλ, 400 to 700 nm; e = n · 119.627/λ", nil, "BIPM2019"),
		figure("most that a perfect lamp gives", float64(s.EfficacyLimit()), "µmol/J", "∫ n dλ (400 to 700 nm) / ∫ e dλ (all)", []string{"All electricity turned into this light. Radiation outside the data is not counted."}, "Kusuma2020", "ASABE2017"),
		figure("colour temperature", c.CCT, "K", "the black body nearest in u, v of 1960", why, "CIE15", "CIE11664"),
		figure("distance from white, Duv", c.Duv, "", "distance from the Planckian locus in u, v of 1960, above it positive", nil, "CIE15"),
	}
	figures[8].Digits = 4
	return figures
}
