package feedfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
)

// Made is what a bench takes of a plan: the feed as the last entry of the log left the tank, or as
// it is mixed. What was measured in that entry, and not changed in it, is a measurement.
func Made(p *underlamp.FeedPlan) *underlamp.FeedMade {
	q := p.Problem()
	m := q.Solve()
	s, ec, why := m.Solution, m.Reading.EC, "worked out from the salts and the water of the feed"
	var last *underlamp.FeedEntry
	if stands := q.Follow(m, p.Litres.Value, p.Looks()); len(stands) > 0 {
		s = stands[len(stands)-1].After
		ec = s.Open(nutrients.AirCO2).EC
		last = &p.Log[len(p.Log)-1]
		why = "worked out from the feed and its log to " + last.Date
	}
	still := last != nil && last.Water == 0 && last.Added == nil
	ion := func(i nutrients.Ion) underlamp.Given[quantity.MilligramPerLitre] {
		g := underlamp.Given[quantity.MilligramPerLitre]{Value: quantity.MilligramPerLitre(s.Ions.MgL(i)), Origin: underlamp.Computed, Note: why}
		if still && last.Knows[i] {
			g.Origin, g.Note = underlamp.Measured, "analysis of "+last.Date
		}
		return g
	}
	out := &underlamp.FeedMade{
		Calcium: ion(nutrients.Calcium), Ammonium: ion(nutrients.Ammonium), Potassium: ion(nutrients.Potassium), Magnesium: ion(nutrients.Magnesium),
		EC: underlamp.Given[quantity.MillisiemensPerCm]{Value: quantity.MillisiemensPerCm(ec), Origin: underlamp.Computed, Note: why},
	}
	if still && !math.IsNaN(last.EC) {
		out.EC = underlamp.Given[quantity.MillisiemensPerCm]{Value: quantity.MillisiemensPerCm(last.EC), Origin: underlamp.Measured, Note: "read on " + last.Date}
	}
	if last != nil && !math.IsNaN(last.C) {
		out.RootTemp = &underlamp.Given[quantity.Celsius]{Value: quantity.Celsius(last.C), Origin: underlamp.Measured, Note: "read on " + last.Date}
	}
	return out
}

// ParseIons reads an analysis in one line: "ca 130 mg/L, k: 90 mg/L".
func ParseIons(text string) (a nutrients.Amounts, knows [nutrients.Ions]bool, err error) {
	for _, part := range strings.Split(text, ",") {
		part = strings.TrimSpace(part)
		key, amount, ok := strings.Cut(strings.Replace(part, ":", " ", 1), " ")
		k := slices.IndexFunc(forms, func(f form) bool { return f.key == handwritten.Normal(key) })
		if !ok || k < 0 {
			return a, knows, fmt.Errorf("%q is not of the form: ca 130 mg/L; keys are %s", part, strings.Join(ionKeys(), ", "))
		}
		f := forms[k]
		x, bad := quantity.Molarity.Parse(strings.TrimSpace(amount))
		if bad != nil {
			if x, bad = quantity.Concentration.Parse(strings.TrimSpace(amount)); bad != nil {
				return a, knows, bad
			}
			x *= f.perMg()
		}
		if !molarSpan.Holds(x) {
			return a, knows, fmt.Errorf("%q is beyond what is read here", part)
		}
		a[f.ion], knows[f.ion] = x, true
	}
	return a, knows, nil
}
