package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/optimum"
	"underlamp/working"
)

const jointDraws = 2000 // of both curves

// A goal is what the sweet spot shall bring most of.
type goal struct {
	name, gain, unit, formula string
	worth                     func(gain, loss, x float64) float64 // nil: gain·(1 − loss)
	scale                     float64                             // of what is printed
	inputs                    []working.Input
	notes                     []string
}

// goals are mass, mass for the electricity of the lamps, and, where prices are known, money.
func (f *Findings) goals() []goal {
	out := []goal{
		{name: "sweet spot: most mass without burn", gain: "mass without burn there", unit: "g a place", formula: "the light where mass(x)·(1 − burn(x)) is greatest", scale: 1},
		{name: "sweet spot by electricity: most mass without burn per kWh", gain: "mass without burn there, by light", unit: "g a place for each " + dliUnit, formula: "the light where mass(x)·(1 − burn(x))/x is greatest", scale: 1,
			worth: func(gain, loss, x float64) float64 { return gain * (1 - loss) / x },
			notes: []string{"the electricity of the lamps is taken as in proportion to their light, as with dimming; fans, drying and the rest of the room are left out"}},
	}
	t := f.terms
	if t.KWhPerMol > 0 {
		out[1].gain, out[1].unit, out[1].scale, out[1].inputs = "mass without burn there", "g/kWh", 1/t.KWhPerMol, t.Inputs
	}
	if t.KWhPerMol > 0 && len(t.Sale.Sale) > 0 && t.Price.Value.PerKWh >= 0 {
		out = append(out, goal{name: "sweet spot by money: most left of sales after electricity", gain: "left there", unit: t.Price.Value.Currency + " a place", formula: "the light where price(mass(x))·(1 − burn(x)) − x·kWh·price of electricity is greatest", scale: 1, inputs: t.Inputs,
			worth: func(gain, loss, x float64) float64 {
				return t.Sale.Price(max(gain, 0))*(1-loss) - x*t.KWhPerMol*t.Price.Value.PerKWh
			},
			notes: []string{"the price of the mean head is taken; what does not change with the light (seed, labour, rent) is left out"}})
	}
	return out
}

// sweet is the light that brings most, by each goal.
func (f *Findings) sweet(p *Part, t *binary.Threshold, low, high float64) {
	q, err := f.gain()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	for _, g := range f.goals() {
		b, err := f.top(q, t, g, low, high)
		if err != nil && q.at != nil { // the errors of the form do not serve for draws
			if q, err = f.parabola(); err == nil {
				b, err = f.top(q, t, g, low, high)
			}
		}
		if q == nil {
			return
		}
		if err != nil {
			p.Says = append(p.Says, sentence(err))
			continue
		}
		f.sayBest(p, t, g, q, b, low, high)
		if g.worth == nil {
			p.Heads = len(p.Says)
		}
	}
	if len(f.terms.Sale.Sale) == 0 {
		p.Says = append(p.Says, "The light that brings most money is not told: name a bench file with a price of electricity and what heads sell for (bench: in the trial file).")
	}
}

// top is the best light by one goal.
func (f *Findings) top(q *gain, t *binary.Threshold, g goal, low, high float64) (optimum.Best, error) {
	return optimum.Problem{Gain: q.curve, At: q.at, Loss: optimum.Curve{Coef: t.Fit.Coef, Cov: t.Fit.Cov, DF: t.Fit.DF}, Worth: g.worth,
		Low: low, High: high, Draws: jointDraws, Level: doseLevel, Seed: f.Trial.Seed + 2}.Best()
}

func (f *Findings) sayBest(p *Part, t *binary.Threshold, g goal, q *gain, b optimum.Best, low, high float64) {
	w := working.Figure{Name: g.name, Value: b.Value, Unit: dliUnit, Digits: 4,
		Working: working.Working{Formula: g.formula + fmt.Sprintf(", %d joint draws of both curves", jointDraws),
			Inputs: append([]working.Input{working.Plain("form of the mass", q.name, underlamp.Fitted.String()), working.Plain(g.gain, quantity.Number(b.Gain*g.scale, 4)+" "+g.unit, underlamp.Computed.String()), working.Plain("light tried", fmt.Sprintf("%.3g to %.3g %s", low, high, dliUnit), underlamp.Stated.String())}, g.inputs...),
			Notes:  append(slices.Clone(g.notes), "the curves of mass and burn are drawn as if they erred independently; in made trials whose units err together the limits hold as often")}}
	if b.Interval.Bounded() {
		w.Band = &working.Band{Low: b.Interval.Lower, High: b.Interval.Upper, Level: doseLevel}
	} else {
		p.Says = append(p.Says, fmt.Sprintf("The %s is open towards %s: %s of the draws are best at an end of what was tried.", shortGoal(g), openEnd(b), working.Percent(max(b.AtLow, b.AtHigh))))
	}
	p.Figures = append(p.Figures, w)
	if g.worth != nil && w.Band == nil {
		return
	}
	beside := "that is within the safe light"
	switch {
	case t.State != binary.Limited:
		beside = "no limit of the safe light is known beside it"
	case t.Limits.Lower < b.Value:
		beside = "that is above the safe light: stay at its lower limit"
	}
	what := "Most saleable mass"
	if g.worth != nil {
		what = "The " + shortGoal(g)
	}
	p.Says = append(p.Says, fmt.Sprintf("%s is at about %.3g %s; %s.", what, b.Value, dliUnit, beside))
}

func shortGoal(g goal) string {
	for i, r := range g.name {
		if r == ':' {
			return g.name[:i]
		}
	}
	return g.name
}

func openEnd(b optimum.Best) string {
	switch {
	case math.IsInf(b.Interval.Lower, 0) && math.IsInf(b.Interval.Upper, 0):
		return "both ends"
	case math.IsInf(b.Interval.Lower, 0):
		return "less light"
	}
	return "more light"
}
