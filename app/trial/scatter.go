package trial

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/reference"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/working"
)

// Scatter takes the standard deviations between lamps of a level, between plants of a
// lamp and between cycles from an earlier trial, by the analysis of variance.
func Scatter(t *underlamp.Trial, entries []underlamp.TrialEntry) (lamp, plant, cycle float64, err error) {
	f := &Findings{Trial: t, entries: entries}
	if err := f.gather(); err != nil {
		return 0, 0, 0, err
	}
	f.primary()
	if f.analysis == nil || f.analysis.Error.DF < 3 {
		return 0, 0, 0, fmt.Errorf("too few repeats to take the scatter from: three degrees of freedom of error at least")
	}
	var v []float64
	var unit []string
	for _, u := range f.Units {
		for _, x := range u.Raw {
			v, unit = append(v, x), append(unit, u.Name)
		}
	}
	u, err := anova.UnitMeans(v, stat.NewFactor("unit", unit), nil)
	if err != nil {
		return 0, 0, 0, err
	}
	n := float64(len(v)) / float64(len(f.Units))
	e := f.analysis.Error.MS
	plant = math.Sqrt(u.Within)
	lamp = math.Sqrt(max(e-u.Within/n, 0.05*e)) // never none: a lamp is not exactly like another
	if f.hasBlock {
		for _, l := range f.analysis.Lines {
			if l.Name == "block" {
				cycle = math.Sqrt(max((l.MS-e)/float64(len(f.treat.Levels)), 0))
			}
		}
	}
	if !(plant > 0) || !(lamp > 0) {
		return 0, 0, 0, fmt.Errorf("its values do not scatter at all")
	}
	return lamp, plant, cycle, nil
}

// Published is the scatter to plan with where there is no earlier trial, in shares of the
// mean, and what it rests on. Between plants it is a printed figure of lettuce; between
// lamps and between cycles none was found, so those two are assumed.
func Published() (lamp, plant, cycle float64, note string) {
	t := reference.MustLoad("trial_scatter")
	for i := range t.Rows {
		if t.Text(i, "key") == "lettuce_plants" {
			plant = t.Float(i, "highest_percent") / 100
			note = fmt.Sprintf("between plants %s of the mean (%s, %s); between lamps and between cycles 5 %% assumed, no source; --scatter-from takes all three from a trial of your own", working.Percent(plant), t.Text(i, "source"), t.Text(i, "where"))
		}
	}
	return 0.05, plant, 0.05, note
}

// Scatter says what the powers of a plan rest on.
func (a Ask) Scatter() string {
	num := func(x float64) string { return quantity.Number(x, 3) }
	u := a.Response.Unit()
	var s string
	b := a.Burn
	switch {
	case a.Onset:
		s = fmt.Sprintf("of ln day %s between lamps and %s between cycles, Weibull shape %s", num(b.Log), num(b.Cycle), num(b.Shape))
	case a.Response == underlamp.ResponseSeverity:
		s = fmt.Sprintf("on the logit %s between lamps and %s between cycles", num(b.Logit), num(b.Cycle))
	case a.Response == underlamp.ResponseBurn:
		s = fmt.Sprintf("correlation of plants of a lamp %s, between cycles %s on the logit (assumed)", num(b.Rho), num(b.Cycle))
	default:
		s = fmt.Sprintf("between lamps %s %s, between plants %s %s, between cycles %s %s", num(a.Lamp), u, num(a.Plant), u, num(a.Cycle), u)
	}
	if a.Origin == underlamp.Fitted {
		return "Scatter: " + s + "; " + a.Note + "."
	}
	return "Scatter, by default: " + s + ". " + upper(a.Note) + "."
}
