package trial

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
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
