package validation

import (
	"fmt"
	"math"

	"underlamp/science/allometry"
)

// Plants checks the mass that is told from a photo before any plant was weighed: classes
// of plants with the mean width of their crowns (WUR2021), of which one set the level.
func Plants() []Check {
	const filled = 0.75 // share of the crown's disc that leaves fill, as assumed for the level
	var out []Check
	for _, r := range rows("wur2021_lettuce_size_classes") {
		from, to, d := r.f("fresh_from_g"), r.f("fresh_to_g"), r.f("mean_diameter_cm")
		if from < 15 {
			continue // refused: smaller than the curve stands on
		}
		disc := math.Pi / 4 * d * d
		m, err := allometry.Lettuce().Mass(allometry.Seen{Area: filled * disc, AreaSD: 0.1 * disc}, 0.9)
		if err != nil {
			m.Grams, m.Lower, m.Upper = none, none, none
		}
		purpose := Published
		if from == 50 {
			purpose = Calibrated
		}
		mid := math.Sqrt(from * to)
		c := value("photos", fmt.Sprintf("mass by leaf area, plants of %g to %g g", from, to), "WUR2021", purpose, "g", m.Grams, mid, mid*m.Grams/m.Upper, mid*m.Grams/m.Lower)
		c.Note = fmt.Sprintf("crown %.1f cm wide, taken as three quarters full; told is %.0f to %.0f g with a chance of 90 %%, in which the class must lie", d, m.Lower, m.Upper)
		out = append(out, c)
	}
	return out
}
