package photometry

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/quantity"
)

// PhotonFlux turns the light of a lamp into photons of 400 to 700 nm.
//
//	Φ_p = Φ · k   [µmol s⁻¹], Φ in lm, k in µmol s⁻¹ per lm
func PhotonFlux(lumens, micromolPerLumen float64) quantity.PPF {
	return quantity.PPF(lumens * micromolPerLumen)
}

// A Class is a kind of light source with the photons in its lumens, for a person
// who has no spectrum. The factor holds for the plain lamp; a filter or a
// coloured cover changes it.
type Class struct {
	Key         string  // how to ask for it: "white-led"
	Name        string  // "white LED"
	LuxLow      float64 // lx per µmol m⁻² s⁻¹, least and most that was published or computed
	LuxHigh     float64
	RelativeSD  float64 // of the factor: the range is taken as even, so its length over √12
	Source      string  // key of the bibliography
	SourceNotes string  // which figures make the range
}

// PerLumen is the factor in µmol s⁻¹ per lm, from the middle of the range.
func (c Class) PerLumen() float64 { return 2 / (c.LuxLow + c.LuxHigh) }

// Classes lists the kinds of sources, the commonest first.
//
// The ranges are of lx per µmol m⁻² s⁻¹; the same number is lm per µmol s⁻¹.
// ThimijanHeins1983 is known only as quoted elsewhere; figures from CIE015 were
// computed outside this program from the printed spectra, with V(λ) and
// 683.002 lm/W.
func Classes() []Class {
	return []Class{
		class("white-led", "white LED", 61, 75, "CIE015", "LED-B1 67.1, B3 69.8, B5 69.4, BH1 73.3, RGB-mixed white 60.5, a measured 4000 K lamp 64.3; violet-pumped white (53 to 57) is not covered"),
		class("hps", "high-pressure sodium", 74, 86, "ThimijanHeins1983", "82; CIE HP1 85.8; a measured lamp 74.2; double-ended 77 by a maker"),
		class("metal-halide", "metal halide", 59, 79, "ThimijanHeins1983", "71; CIE HP3 to HP5 62 to 70; a measured lamp 79.2; ceramic 59 and 65 by a maker"),
		class("fluorescent", "white fluorescent tube", 69, 81, "ThimijanHeins1983", "cool white 74; CIE FL1 69.2, FL2 76.5, FL4 80.5, FL11 76.1; full-spectrum tubes (59 to 64) are not covered"),
		class("incandescent", "incandescent and halogen", 49, 51, "ThimijanHeins1983", "50; CIE illuminant A 50.3"),
		class("sun", "sun and sky", 52, 57, "ThimijanHeins1983", "sun and sky 54, blue sky 52; D65 55.5; ASTM G173 56.0"),
	}
}

func class(key, name string, low, high float64, source, notes string) Class {
	return Class{
		Key: key, Name: name, LuxLow: low, LuxHigh: high,
		// An even spread of length L has the standard deviation L/√12.
		RelativeSD: (high - low) / math.Sqrt(12) / ((high + low) / 2),
		Source:     source, SourceNotes: notes,
	}
}

// ClassOf finds a class by its key or name, with blanks, hyphens and underscores
// alike. Lamps of red and blue diodes are refused: a lumen says next to nothing
// about their photons (9 to 11 lm per µmol/s, against 111 for green).
func ClassOf(name string) (Class, error) {
	plain := func(s string) string {
		return strings.NewReplacer(" ", "-", "_", "-").Replace(strings.ToLower(strings.TrimSpace(s)))
	}
	asked := plain(name)
	var keys []string
	for _, c := range Classes() {
		if asked == c.Key || asked == plain(c.Name) {
			return c, nil
		}
		keys = append(keys, c.Key)
	}
	if strings.Contains(asked, "red") || strings.Contains(asked, "blue") || strings.Contains(asked, "purple") || strings.Contains(asked, "pink") {
		return Class{}, fmt.Errorf("photometry: no factor fits a lamp of red and blue light: its lumens hardly count its photons; give its own µmol per lumen, from its spectrum")
	}
	return Class{}, fmt.Errorf("photometry: no class of light is called %q, want %s, or a number of µmol per lumen", name, strings.Join(keys, ", "))
}
