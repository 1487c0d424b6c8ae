package spectrum

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/quantity"
	"underlamp/science/reference"
)

// What calls a note. They are planning rules drawn from the published effects,
// not thresholds that a source prints: a note is no verdict.
const (
	lowBlue    = 0.10 // of PPF; Cope2013, Hoenecke1992 and Kohler2024 lie on both sides
	highBlue   = 0.30 // of PPF; the end of what Kusuma2021 tried
	lowRatio   = 2.0  // R:FR of 100 nm bands; stretch was published for 1.6 and 0.8
	muchFarRed = 0.10 // of ePAR; ZhenBugbee2020 had 0.15
	lowPPE     = 0.6  // KongZheng2024
	dimPPFD    = 200  // µmol m⁻² s⁻¹; Voutsinos2021 had 188
	muchGreen  = 0.30 // of PPF; the end of what Snowden2016 tried
)

// A Note is what is published about one property of a light.
type Note struct {
	Cue       string   // blue, far-red, phytochrome, dim, green
	Light     string   // what this light has
	Published []string // what was found, each with its species, conditions and source
	Sources   []string // keys of the bibliography, in the order of Published
	Disagree  bool     // the results for the species point different ways
	Advice    string   // what to do about it
}

// Notes tells what is published about a light at a PPFD (0 if it is not known)
// for the shape and the mass of a species ("" for any). It gives the effects
// with their conditions, says where sources disagree or where nothing was found
// for the species, and never judges the lamp.
func (s Spectrum) Notes(ppfd quantity.PPFD, species string) []Note {
	var out []Note
	share := func(b Band) float64 { return s.OfPAR(b) }
	percent := func(v float64) string { return quantity.Number(100*v, 2) + " %" }
	add := func(cue, light string) { out = append(out, note(cue, light, species)) }

	if blue := share(Blue); blue < lowBlue || blue > highBlue {
		light := fmt.Sprintf("%s of the photons of 400–700 nm are blue (400–500 nm)", percent(blue))
		if ppfd > 0 {
			light += fmt.Sprintf(", %s µmol/m²/s", quantity.Number(blue*float64(ppfd), 2))
		}
		if blue < lowBlue {
			light += "; below about 10 % leaves and stems often grow longer"
		} else {
			light += "; above about 30 % plants often stay smaller"
		}
		add("blue", light+".")
	}
	_, wide := s.RedFarRed()
	far := s.In(FarRed) / s.In(EPAR)
	if wide.Value < lowRatio || far > muchFarRed {
		light := fmt.Sprintf("Far-red (700–750 nm) is %s of the photons of 400–750 nm", percent(far))
		if !math.IsNaN(wide.Value) {
			light += fmt.Sprintf("; R:FR is %s (%s)", quantity.Number(wide.Value, 3), wide.Bands())
		}
		add("far-red", light+".")
	}
	if ppe := s.PPE(); ppe < lowPPE {
		add("phytochrome", fmt.Sprintf("PPE is %s (cross-sections of Mancinelli 1994); plants may take the light for shade.", quantity.Fixed(ppe, 2)))
	}
	if ppfd > 0 && ppfd < dimPPFD {
		add("dim", fmt.Sprintf("The light is dim, %s µmol/m²/s: heads often grow loose whatever the colour.", quantity.Number(float64(ppfd), 3)))
	}
	if green := share(Green); green > muchGreen {
		add("green", fmt.Sprintf("%s of the photons of 400–700 nm are green (500–600 nm); under a canopy such light is taken for shade.", percent(green)))
	}
	return out
}

// note collects the published rows of a cue, those of the species first choice.
func note(cue, light, species string) Note {
	n := Note{Cue: cue, Light: light}
	table := reference.MustLoad("spectrum_evidence")
	want := crop(species)
	directions := map[bool][]string{} // by whether the row is of the species
	var other Note
	for i := range table.Rows {
		if table.Text(i, "cue") != cue {
			continue
		}
		of := table.Text(i, "species")
		text := fmt.Sprintf("%s: %s (%s)", of, table.Text(i, "result"), table.Text(i, "conditions"))
		ours := want == "" || strings.Contains(of, want)
		directions[ours] = append(directions[ours], table.Text(i, "direction"))
		into := &n
		if !ours {
			into = &other
		}
		into.Published = append(into.Published, text)
		into.Sources = append(into.Sources, table.Text(i, "source"))
	}
	found := directions[true]
	if len(n.Published) == 0 {
		found = directions[false]
	}
	// The other species show the spread, after those that were asked for.
	n.Disagree = disagree(found)
	missing := want != "" && len(n.Published) == 0
	n.Published = append(n.Published, other.Published...)
	n.Sources = append(n.Sources, other.Sources...)
	const trial = "A trial of this lamp on this cultivar would settle it."
	switch {
	case missing:
		n.Advice = fmt.Sprintf("Nothing was found for %s; the results are of other plants, and plants differ. %s", species, trial)
	case n.Disagree:
		n.Advice = "The sources do not agree. " + trial
	default:
		n.Advice = "Cultivars differ. " + trial
	}
	return n
}

// disagree tells whether results point different ways: some found an effect on
// shape that others did not find, or the opposite one.
func disagree(directions []string) bool {
	has := func(d string) bool { return slices.Contains(directions, d) }
	return has("none") && (has("stretch") || has("compact") || has("mass")) || has("mixed")
}

// crop is the species under whose name results are filed: types of lettuce are
// lettuce.
func crop(species string) string {
	s := strings.ToLower(strings.TrimSpace(species))
	for _, t := range []string{"lettuce", "butterhead", "batavia", "romaine", "crisphead", "oakleaf", "lactuca"} {
		if strings.Contains(s, t) {
			return "lettuce"
		}
	}
	return s
}
