package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/science/sensitivity"
	"underlamp/working"
)

// DoubtSentences say what the outlook is least sure of, and what to measure next.
func DoubtSentences(b *underlamp.Bench, d *outlook.Doubts) []string {
	mass := func(v float64) string { return quantity.Mass.Format(v, b.Units, 3) }
	s := []string{fmt.Sprintf("With the values of the bench file taken at their word a head of the mean plant weighs %s to %s (90 %%); with the doubt about them, %s to %s. The mean plant burns in %s of the draws.",
		mass(d.Alone.Low), mass(d.Alone.High), mass(d.Mass.Low), mass(d.Mass.High), working.Percent(d.Burn))}
	if len(d.Items) == 0 || !d.Items[0].Matters() {
		return append(s, "No single measurement would narrow the outlook noticeably.")
	}
	first := d.Items[0]
	what := "in the mass"
	gain := first.MassGain
	if zeroIfNaN(first.BurnGain) > zeroIfNaN(gain) {
		what, gain = "in whether hearts burn", first.BurnGain
	}
	return append(s, fmt.Sprintf("Next: %s. That would take away about %s of the doubt %s (%s).", first.Act, working.Percent(gain), what, first.Name))
}

func zeroIfNaN(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// ShareText prints a share of the doubt: "31 %", or a dash where it is not known.
func ShareText(s sensitivity.Share) string { return GainText(s.Value) }

// GainText prints a part of the doubt, or a dash where it is not known.
func GainText(v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	return working.Percent(v)
}

// DoubtSection shows what the outlook is least sure of: a sentence, bars, and the
// table with what would narrow each.
func DoubtSection(b *underlamp.Bench, d *outlook.Doubts) template.HTML {
	type row struct{ Name, Mass, Burn, MassGain, BurnGain, Known, Act string }
	v := struct {
		Sentences []string
		Mass      template.HTML
		Burn      template.HTML
		Rows      []row
		Draws     int
	}{Sentences: DoubtSentences(b, d), Draws: d.Draws}
	mass, burn := draw.Bars{Name: "Doubt in the mass that would go", Unit: "%", Amounts: true}, draw.Bars{Name: "Doubt in burn or no burn that would go", Unit: "%", Amounts: true}
	for _, x := range d.Items {
		v.Rows = append(v.Rows, row{x.Name, ShareText(x.Mass), ShareText(x.Burn), GainText(x.MassGain), GainText(x.BurnGain), x.Known, x.Act})
		if !x.Matters() {
			continue
		}
		bar := func(s sensitivity.Share, gain float64) draw.Bar {
			se := s.SE
			return draw.Bar{Name: x.Name, Value: 100 * gain, Low: 100 * max(gain-1.645*se, 0), High: 100 * min(gain+1.645*se, 1)}
		}
		mass.Items = append(mass.Items, bar(x.Mass, x.MassGain))
		burn.Items = append(burn.Items, bar(x.Burn, x.BurnGain))
	}
	picture := func(id string, q draw.Bars) template.HTML {
		return fit(id, b, func(f draw.Frame) draw.Picture {
			q.Frame = f
			return q.Draw()
		})
	}
	if len(mass.Items) > 0 {
		v.Mass = picture("doubt-mass", mass)
		if !math.IsNaN(d.Items[0].Burn.Value) {
			v.Burn = picture("doubt-burn", burn)
		}
	}
	return render("doubt.tmpl", v)
}
