package aim

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/quantity"
	"underlamp/working"
)

// figures are what a proposal brings, in the order of a table that sets before
// beside after.
func (s *state) figures(p *Proposal) []working.Figure {
	u := s.b.Units
	light := working.Working{
		Formula: "E = Σ lamps dimming · response;  response = PPFD of the lamp at full power, mean over the crown",
		Inputs: []working.Input{
			working.Plain("height of the lamps", quantity.Length.Format(float64(p.Height), u, 3), "computed"),
			working.Plain("dimming", strings.Join(s.dimTexts(p), ", "), "computed"),
			working.Plain("hours of light", quantity.Duration.Format(float64(p.Hours), u, 4), "computed"),
			working.Plain("height of the canopy", quantity.Length.Format(float64(s.a.Canopy), u, 3), "stated"),
			working.Plain("doubt about the level", fmt.Sprintf("%s %%, one standard deviation", quantity.Number(100*s.sd, 2)), "fitted to readings"),
		},
		Steps:   []string{"The dimmings are a linear program (least electricity) or a least squares (most even) at each height and number of hours; these are tried one by one."},
		Sources: []string{"Chvatal1983", "GoldfarbIdnani1983", "LandDoig1960", "ASABE2017"},
		Notes:   []string{"The band holds what labels and readings leave open about the level of the whole bench; single lamps that differ from their kind are not in it."},
	}
	if len(s.b.Readings) == 0 {
		light.Inputs[4].Origin = "label"
	}
	ppfd := func(name string, v quantity.PPFD) working.Figure {
		return working.Figure{Name: name, Value: float64(v), Unit: quantity.PhotonFluxDensity.Unit(), Band: working.Normal(float64(v), float64(v)*s.sd, 0.9), Working: light}
	}
	dli := working.Figure{Name: "mean DLI", Value: float64(p.DLI), Unit: quantity.DailyIntegral.Unit(), Band: working.Normal(float64(p.DLI), float64(p.DLI)*s.sd, 0.9), Working: working.Working{
		Formula: "DLI = PPFD · 0.0036 · hours",
		Inputs: []working.Input{
			working.Plain("mean PPFD", quantity.PhotonFluxDensity.Format(float64(p.Mean), u, 3), "computed"),
			working.Plain("hours of light", quantity.Duration.Format(float64(p.Hours), u, 4), "computed"),
		},
		Sources: []string{"ASABE2017"},
	}}
	asked := quantity.PhotonFluxDensity.Format(s.asked(p), u, 3)
	within := working.Figure{Name: fmt.Sprintf("plants that have %s", s.withinWords()), Value: float64(p.Within), Unit: fmt.Sprintf("of %d", len(p.PPFD)), Working: working.Working{
		Formula: "plants counted", Inputs: []working.Input{working.Plain("wanted", asked, "stated")},
	}}
	uneven := working.Figure{Name: "distance from the target", Value: 100 * p.Uneven, Unit: "%", Digits: 2, Working: working.Working{
		Formula: "√ mean (PPFD / wanted − 1)² over the plants",
		Inputs:  []working.Input{working.Plain("wanted", asked, "stated")},
		Notes:   []string{"It holds both a wrong level and uneven light. An error common to all plants is not in it."},
	}}
	who := "the darkest plant"
	if s.a.Goal == MostEven || s.a.Mean {
		who = "the mean"
	}
	if n := s.need(); n < len(p.PPFD) {
		who = fmt.Sprintf("the darkest of the %d brightest plants", n)
	}
	what := "the target"
	if s.a.Goal == MostWithin {
		what = "the lower limit"
	}
	under := working.Figure{Name: fmt.Sprintf("chance that %s is under %s", who, what), Value: math.Round(1000*float64(p.Under)) / 10, Unit: "%", Digits: 2, Working: working.Working{
		Formula: "Φ(ln(wanted/PPFD)/sd)",
		Inputs: []working.Input{
			working.Plain("wanted", asked, "stated"),
			working.Plain("sd", quantity.Number(s.sd, 2), light.Inputs[4].Origin),
		},
		Notes: []string{"A target met exactly is missed with a chance of one half: the level is as likely below as above what is believed."},
	}}
	var watts []working.Input
	for k, n := range p.Layout.names {
		c := p.Layout.power[k]
		watts = append(watts, working.Plain("power of "+n, quantity.Power.Format(c.At(1), u, 3), s.powerOrigin(k)))
	}
	power := working.Figure{Name: "power while lit", Value: float64(p.Power), Unit: quantity.Power.Unit(), Working: working.Working{
		Formula: "Σ lamps power(dimming)", Inputs: watts, Notes: []string{s.curveWords()},
	}}
	day := working.Figure{Name: "electricity a day", Value: float64(p.Day), Unit: "kWh", Working: working.Working{
		Formula: "power · hours", Inputs: []working.Input{
			working.Plain("power while lit", quantity.Power.Format(float64(p.Power), u, 3), "computed"),
			working.Plain("hours of light", quantity.Duration.Format(float64(p.Hours), u, 4), "computed"),
		}, Notes: []string{"Fans, pumps, heating, cooling and drying of the air are not in it."},
	}}
	price := s.tar.String()
	origin := s.b.Price.Origin.String()
	if s.a.Tariff != nil {
		origin = "stated"
	}
	money := working.Figure{Name: "money a day", Value: p.Money, Unit: s.tar.Currency, Money: true, Working: working.Working{
		Formula: "Σ quarters lit power · price", Inputs: []working.Input{working.Plain("price of a kWh", price, origin)},
	}}
	return []working.Figure{ppfd("PPFD of the darkest plant", p.Lowest), ppfd("mean PPFD", p.Mean), ppfd("PPFD of the brightest plant", p.Top), dli, within, uneven, under, power, day, money}
}

// asked is the PPFD wanted at the hours of a proposal, without margin.
func (s *state) asked(p *Proposal) float64 {
	a := s.a
	a.Sure = 0.5
	return a.target(float64(p.Hours), s.sd)
}

func (s *state) withinWords() string {
	if s.a.Goal == MostWithin || s.a.Goal == MostEven || s.a.Mean {
		return fmt.Sprintf("the target within %s %%", quantity.Number(100*float64(s.a.Tolerance), 2))
	}
	return "the target"
}

// dimTexts prints the dimming of each lamp, or one for all if they are alike.
func (s *state) dimTexts(p *Proposal) []string { return DimTexts(p) }

// DimTexts prints the dimming of each lamp with its name, or one text if all are
// alike.
func DimTexts(p *Proposal) []string {
	alike := true
	for _, d := range p.Dim {
		alike = alike && math.Abs(float64(d-p.Dim[0])) < 1e-6
	}
	if alike {
		return []string{dimText(p.Dim[0]) + " all"}
	}
	var out []string
	for k, d := range p.Dim {
		out = append(out, p.Layout.names[k]+" "+dimText(d))
	}
	return out
}

// Of more lamps than these a table shows the range only.
const dimsShown = 4

// DimSummary is DimTexts in a few words where there are many lamps.
func DimSummary(p *Proposal) string {
	texts := DimTexts(p)
	if len(texts) <= dimsShown {
		return strings.Join(texts, ", ")
	}
	lo, hi, sum := p.Dim[0], p.Dim[0], quantity.Fraction(0)
	for _, d := range p.Dim {
		lo, hi = min(lo, d), max(hi, d)
		sum += d
	}
	return fmt.Sprintf("%s to %s, mean %s", dimText(lo), dimText(hi), dimText(sum/quantity.Fraction(len(p.Dim))))
}

func dimText(d quantity.Fraction) string {
	if d == 0 {
		return "off"
	}
	v := 100 * float64(d)
	if math.Abs(v-math.Round(v)) < 0.05 {
		return quantity.Fixed(v, 0) + " %"
	}
	return quantity.Fixed(v, 1) + " %"
}

func (s *state) powerOrigin(k int) string {
	if s.a.LampsTo > 0 || k >= len(s.b.Lamps) {
		k = 0
	}
	return s.b.Lamps[k].Power.Origin.String()
}

func (s *state) curveWords() string {
	if s.a.Power != nil {
		return "Power by the curves given, straight between their points."
	}
	for _, l := range s.b.Lamps {
		if len(l.Curve) > 0 {
			return "Light and power follow the measured dimming curves, straight between their points; dim steps are counted in light, not on the dimmer. Lamps without a curve are taken in proportion."
		}
	}
	return "Power is taken in proportion to the dimming: common practice, no source. A driver draws some watts more at low dimming."
}
