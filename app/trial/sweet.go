package trial

import (
	"fmt"
	"math"
	"underlamp"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/optimum"
	"underlamp/working"
)

// sweet is the light with the most saleable mass.
func (f *Findings) sweet(p *Part, t *binary.Threshold, low, high float64) {
	q, err := f.parabola()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	b, err := optimum.Product(q.curve, optimum.Curve{Coef: t.Fit.Coef, Cov: t.Fit.Cov, DF: t.Fit.DF}, low, high, 2000, doseLevel, f.Trial.Seed+2)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	w := working.Figure{Name: "sweet spot: most mass without burn", Value: b.Value, Unit: dliUnit, Digits: 4,
		Working: working.Working{Formula: "the light where mass(x)·(1 − burn(x)) is greatest, 2000 joint draws of both curves",
			Inputs: []working.Input{working.Plain("mass without burn there", fmt.Sprintf("%.4g g a place", b.Gain), underlamp.Computed.String()), working.Plain("light tried", fmt.Sprintf("%.3g to %.3g %s", low, high, dliUnit), underlamp.Stated.String())},
			Notes:  []string{"the curves of mass and burn are drawn as if their errors were independent"}}}
	switch {
	case b.Interval.Bounded():
		w.Band = &working.Band{Low: b.Interval.Lower, High: b.Interval.Upper, Level: doseLevel}
	default:
		p.Says = append(p.Says, fmt.Sprintf("The sweet spot is open towards %s: %s of the draws are best at an end of what was tried.", openEnd(b), working.Percent(max(b.AtLow, b.AtHigh))))
	}
	p.Figures = append(p.Figures, w)
	beside := "that is within the safe light"
	switch {
	case t.State != binary.Limited:
		beside = "no limit of the safe light is known beside it"
	case t.Limits.Lower < b.Value:
		beside = "that is above the safe light: stay at its lower limit"
	}
	p.Says = append(p.Says, fmt.Sprintf("Most saleable mass is at about %.3g %s; %s.", b.Value, dliUnit, beside))
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
