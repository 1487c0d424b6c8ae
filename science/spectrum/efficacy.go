package spectrum

import (
	"fmt"

	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

// PARPerJoule returns the photons of 400 to 700 nm for each joule of radiation
// of 400 to 700 nm, in µmol J⁻¹: what turns the energy of a light into photons
// for plants. Light is 4.5 (daylight) to 5.0 (incandescent, sodium).
func (s Spectrum) PARPerJoule() float64 { return s.In(PAR) / s.Energy(PAR.From, PAR.To) }

// EfficacyLimit returns the photon efficacy, 400 to 700 nm, of a lamp of this
// light that turns all its electricity into it: photons of 400 to 700 nm for
// each joule of all radiation in the data, in µmol J⁻¹. No lamp of this light
// reaches it; the best diodes reach 0.76 of it (white) to 0.93 (blue).
//
// Source: Kusuma2020.
func (s Spectrum) EfficacyLimit() quantity.Efficacy {
	return quantity.Efficacy(s.In(PAR) / s.Total(Energy))
}

// A Verdict says whether a claim can be true.
type Verdict int

// The verdicts.
const (
	Plausible  Verdict = iota // nothing speaks against it
	Doubtful                  // more than lamps have reached
	Impossible                // more light than the electricity holds
)

// feasible is the greatest share of electricity that any diode is expected ever
// to turn into light: blue, 93 % (Kusuma2020).
const feasible = 0.93

// JudgeEfficacy holds the efficacy that a label claims, in µmol J⁻¹ of 400 to
// 700 nm, against the spectrum and against what lamps reach. The reason is a
// sentence for people.
//
// Impossible is a claim above 5.5 (a perfect lamp of 660 nm has 5.517) or above
// the limit of the spectrum itself. Doubtful is one above 4.1, the most for a
// fixture with the diodes of 2020, or above 0.93 of the limit of the spectrum.
//
// Source: Kusuma2020.
func (s Spectrum) JudgeEfficacy(claim quantity.Efficacy) (Verdict, string) {
	limit := s.EfficacyLimit()
	text := quantity.Number(float64(claim), 3) + " µmol/J"
	switch {
	case !(claim > 0):
		return Impossible, text + " is no efficacy: it must be above 0"
	case claim > energycost.ImpossibleEfficacy:
		return Impossible, text + " is more light than the electricity holds: a photon of 660 nm costs at least 1/5.52 J"
	case claim > limit:
		return Impossible, fmt.Sprintf("%s is more light than the electricity holds: with this colour a perfect lamp gives %s µmol/J", text, quantity.Number(float64(limit), 3))
	case claim > energycost.DoubtfulEfficacy:
		return Doubtful, text + " is more than whole lamps reach: 4.1 µmol/J was the most with the diodes of 2020"
	case claim > feasible*limit:
		return Doubtful, fmt.Sprintf("%s is more than 93 %% of what a perfect lamp of this colour gives (%s µmol/J), and no diode is expected to turn that much into light", text, quantity.Number(float64(limit), 3))
	}
	return Plausible, fmt.Sprintf("%s can be: it is %s %% of what a perfect lamp of this colour gives (%s µmol/J)", text, quantity.Number(100*float64(claim/limit), 2), quantity.Number(float64(limit), 3))
}
