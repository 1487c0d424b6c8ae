package spectrumfile

import (
	"fmt"
	"regexp"
	"strings"

	"underlamp/science/spectrum"
)

var (
	// An amount of photons with its prefix: umol, nmol, mol.
	moles = regexp.MustCompile(`(?:^|[^a-z])([unm]?)mol(?:es?)?`)
	// A power with its prefix, followed by what it is divided by: mw/nm, uw/cm2/nm.
	watts = regexp.MustCompile(`(?:^|[^a-z])([kmun]?)w(?:atts?)?(?:/|\s|\(|\)|\]|_|m-2|cm-2|m\^|cm\^|nm|per|m2|cm2|$)`)
	// What the first column is in says nothing about the second.
	abscissa = regexp.MustCompile(`(?:wave ?length|lambda|λ)[^a-z]*nm|^[^a-z]*nm[^a-z]`)
	area     = regexp.MustCompile(`(c?)m(?:\^?-?2|\*\*-?2)`)
)

var spelling = strings.NewReplacer("µ", "u", "μ", "u", "micromol", "umol", "microwatt", "uw", "milliwatt", "mw", "²", "2", "⁻", "-", "¹", "1",
	"·", " ", "−", "-", "square metre", "m2", "square meter", "m2", "_", " ")

// prefixes of units, as factors.
var prefixes = map[string]float64{"": 1, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9}

// units guesses from the headings what the values count and how large they are,
// says so in a note, and returns the factor that turns them into W or µmol/s.
func (d *Data) units(t *text) float64 {
	// The heading of the column itself decides, if it says anything.
	for _, text := range [...]string{t.second, strings.Join(t.heads, " ")} {
		if factor, ok := d.guess(text); ok {
			return factor
		}
	}
	d.note("The headings do not say whether the values are energy or photons.")
	return 1
}

func (d *Data) guess(heading string) (factor float64, ok bool) {
	s := abscissa.ReplaceAllString(spelling.Replace(strings.ToLower(heading)), " ")
	mol, watt := moles.FindStringSubmatch(s), watts.FindStringSubmatch(s)
	photons := mol != nil || strings.Contains(s, "photon") || strings.Contains(s, "quanta")
	energy := watt != nil || strings.Contains(s, "irradiance") || strings.Contains(s, "energy") || strings.Contains(s, "radiant") || strings.Contains(s, "power")
	if photons && strings.Contains(s, "irradiance") && watt == nil {
		energy = false // "photon irradiance"
	}
	said := short(heading)
	if photons == energy {
		if photons {
			d.note("The heading %q names energy and photons both.", said)
			return 1, true
		}
		if strings.Contains(s, "count") {
			d.note("The heading %q speaks of counts: they are a spectrum only if the sensitivity of the instrument has been taken out.", said)
			return 1, true
		}
		return 1, false
	}
	d.BasisKnown = true
	d.Basis = spectrum.Energy
	if photons {
		d.Basis = spectrum.Photons
	}
	relative := strings.Contains(s, "relative") || strings.Contains(s, "normali") || strings.Contains(s, "a.u.") || strings.Contains(s, "arb")
	perNM := strings.Contains(s, "/nm") || strings.Contains(s, "nm-1") || strings.Contains(s, "nm^-1") || strings.Contains(s, " nm") || strings.Contains(s, "/(m2 nm)") || strings.Contains(s, "per nm")
	m := area.FindStringSubmatch(s)
	factor = 1
	unit := "W"
	switch {
	case relative || mol == nil && watt == nil:
	case !perNM:
		d.note("The heading %q has no unit for each nm, so only the shape is used.", said)
	case photons:
		// µmol is the unit kept.
		d.Scale, factor, unit = spectrum.Flux, prefixes[mol[1]]*1e6, "µmol/s"
	default:
		d.Scale, factor = spectrum.Flux, prefixes[watt[1]]
	}
	if d.Scale == spectrum.Flux && m != nil {
		d.Scale = spectrum.FluxDensity
		unit = "W/m²"
		if photons {
			unit = "µmol/m²/s"
		}
		if m[1] == "c" {
			factor *= 1e4
		}
	}
	what := fmt.Sprintf("relative %s", d.Basis)
	if d.Scale != spectrum.Relative {
		what = fmt.Sprintf("%s, %s for each nm", d.Basis, unit)
		if factor != 1 {
			what = fmt.Sprintf("%s, turned into %s for each nm (times %g)", d.Basis, unit, factor)
		}
	}
	d.note("The heading %q was taken as %s.", said, what)
	return factor, true
}
