package trialtable

import (
	"fmt"
	"slices"
	"time"

	"underlamp"
)

// ounce is grams in an ounce (ThompsonTaylor2008: 28.349 52), for the doubt below.
const ounce = 28.34952

// Doubts asks about values that can hardly be meant: a plant whose mass fell by half, a
// head beyond what leafy greens weigh, a mass that would fit its fellows if it were in
// ounces, a burn that healed. Nothing is left out for it. The bounds are common
// practice, no source.
func Doubts(entries []underlamp.TrialEntry) []string {
	var out []string
	masses := map[string][]float64{}
	for _, e := range entries {
		if e.What == underlamp.ResponseMass && e.Missing == "" {
			masses[ofDay(e)] = append(masses[ofDay(e)], e.Value)
		}
	}
	last := map[string]underlamp.TrialEntry{}
	sorted := slices.Clone(entries)
	slices.SortStableFunc(sorted, func(a, b underlamp.TrialEntry) int {
		if a.Time < b.Time {
			return -1
		}
		if a.Time > b.Time {
			return 1
		}
		return 0
	})
	for _, e := range sorted {
		if e.Missing != "" {
			continue
		}
		who := fmt.Sprintf("%s (unit %s, plant %s)", e.ID, e.TrialUnit, e.Plant)
		k := e.TrialUnit + "\x00" + e.Plant + "\x00" + string(e.What)
		p, before := last[k]
		switch e.What {
		case underlamp.ResponseMass:
			m := median(masses[ofDay(e)])
			switch {
			case len(masses[ofDay(e)]) >= 5 && e.Value*ounce > m/2 && e.Value*ounce < 2*m && e.Value < m/8:
				out = append(out, fmt.Sprintf("%s: %.4g g where the others weigh about %.4g g; in ounces it would be %.4g g.", who, e.Value, m, e.Value*ounce))
			case e.Value > 1500:
				out = append(out, fmt.Sprintf("%s: %.4g g is more than leafy greens weigh.", who, e.Value))
			case before && e.Value < p.Value/2:
				out = append(out, fmt.Sprintf("%s: %.4g g after %.4g g in %s; the mass fell by more than half.", who, e.Value, p.Value, p.ID))
			}
		case underlamp.ResponseBurn:
			if before && p.Value > 0 && e.Value == 0 {
				out = append(out, fmt.Sprintf("%s: no burn after burn in %s; burn does not heal.", who, p.ID))
			}
		}
		last[k] = e
	}
	return out
}

// ofDay is the day of an entry, without the time of day.
func ofDay(e underlamp.TrialEntry) string { return e.Time[:min(len(e.Time), len(time.DateOnly))] }

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[len(s)/2]
}
