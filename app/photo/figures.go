package photo

import (
	"fmt"

	"underlamp"
	"underlamp/working"
)

// names of figures as people read them, and how each is reached.
var figureWords = map[Quantity]struct{ name, formula string }{
	Area:       {"leaf area seen from above", "A = Σ leaf pixels · (mm per pixel)² / 100"},
	Width:      {"width of the crown", "w = greatest distance of two parallel lines around the outline"},
	Narrow:     {"least width of the crown", "least distance of two parallel lines around the outline"},
	Height:     {"height", "h = from the planting surface to the highest leaf"},
	Stretch:    {"stretch", "height / width"},
	Roundness:  {"roundness", "4 · A / (π · w²); 1 is a disc"},
	Solidity:   {"solidity", "A / area of the convex hull"},
	Plants:     {"separate plants", "pieces within the crown that a plant could be"},
	Greenness:  {"greenness", "dark green colour index, mean over the leaf"},
	Yellow:     {"yellow", "share of the leaf area that is yellow"},
	Red:        {"red or purple", "share of the leaf area that is red"},
	BrownInner: {"burnt, inner zone", "Σ area of spots · chance that a person calls it burnt / A"},
	BrownOuter: {"burnt, outer zone", "Σ area of spots · chance that a person calls it burnt / A"},
}

// FigureName is what people call a quantity.
func FigureName(q Quantity) string { return figureWords[q].name }

// z90 is how many standard deviations either side hold 90 % of a normal distribution.
const z90 = 1.645

// share says that a quantity is shown in per cent.
func share(q Quantity) bool {
	return q == Yellow || q == Red || q == BrownInner || q == BrownOuter
}

// Figures are those of a look, each with its band of 90 % and its working.
func (l *Look) Figures() []working.Figure {
	var out []working.Figure
	inputs := []working.Input{
		{Name: "label " + l.Code.Readable(), Value: l.Label, Origin: underlamp.Measured.String(), Note: "its corner marks give millimetres and the plane"},
		{Name: "camera against the label", Value: fmt.Sprintf("%.0f°", l.Tilt), Origin: underlamp.Computed.String()},
	}
	if l.HeightCM > 0 {
		inputs = append(inputs, working.Input{Name: "height of the plant, by which leaves nearer to the camera are corrected", Value: fmt.Sprintf("%.1f cm", l.HeightCM), Origin: underlamp.Measured.String(), Note: "from the rounds"})
	}
	for _, q := range Quantities() {
		f, ok := l.Read.Figure(q)
		if (q == BrownInner || q == BrownOuter) && l.Brown != nil {
			f, ok = l.Brown.Shares[map[Quantity]int{BrownInner: 0, BrownOuter: 1}[q]], true
		}
		if !ok {
			continue
		}
		k, unit := 1.0, q.Unit()
		if share(q) {
			k, unit = 100, "%"
		}
		w := figureWords[q]
		x := working.Figure{Name: w.name, Value: k * f.Value, Unit: unit, Working: working.Working{Formula: w.formula, Inputs: inputs}}
		if f.SD > 0 {
			low := max(0, f.Value-z90*f.SD)
			high := f.Value + z90*f.SD
			if share(q) {
				high = min(high, 1)
			}
			x.Band = &working.Band{Low: k * low, High: k * high, Level: 0.9}
		}
		for _, p := range f.Parts {
			if p.SD > 0.05*f.SD {
				x.Working.Steps = append(x.Working.Steps, fmt.Sprintf("%s: ± %.2g %s", p.Cause, k*p.SD, unit))
			}
		}
		x.Working.Notes = []string{"Read by " + l.Shot.Finding.Method + "; the method is told in docs/photos.md."}
		out = append(out, x)
	}
	if m := l.Mass; m != nil {
		x := working.Figure{Name: "fresh mass by its area", Value: m.Grams, Unit: "g", Band: &working.Band{Low: m.Low, High: m.High, Level: 0.9},
			Working: working.Working{Formula: "ln g = level + exponent · ln (A / 300 cm²) + …", Inputs: inputs, Sources: []string{"Huxley1932", "WUR2021"}, Notes: []string{"From a photo, not from a scale: the curve of lettuce, and what was learned from plants that were photographed and weighed on the same day."}}}
		out = append(out, x)
	}
	return out
}
