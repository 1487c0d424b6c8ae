package aim

import (
	"fmt"
	"math"

	"underlamp/science/lightaim"
	"underlamp/science/quantity"
	"underlamp/working"
)

// doubt works out how sure the ratio of the two levels is. A scale error of the
// meter drops out where one meter read both benches.
func (x *match) doubt(r *MatchResult) error {
	same := !x.ask.TwoMeters && len(x.s[0].b.Readings) > 0 && len(x.s[1].b.Readings) > 0 || x.one
	var sd [2]float64
	for j, s := range x.s {
		known := s.m.PlantSD
		if same {
			known = s.m.PlantSDSameMeter
		}
		per, err := known()
		if err != nil {
			return refuse("%v", err)
		}
		sd[j] = meanOf(per, s.plants)
	}
	r.RatioS = math.Hypot(sd[0], sd[1])
	ratio := r.After[1].Level.Value / r.After[0].Level.Value
	up, down := math.Log(1+matchApart), math.Log(1-matchApart)
	r.Apart = quantity.Fraction(1 - normalCDF((up-math.Log(ratio))/r.RatioS) + normalCDF((down-math.Log(ratio))/r.RatioS))
	r.Ratio = working.Figure{Name: "level of the second over the first", Value: ratio, Band: working.Normal(ratio, ratio*r.RatioS, 0.9), Working: working.Working{
		Formula: "sd² = sd₁² + sd₂²",
		Inputs: []working.Input{
			working.Plain("sd of the first", quantity.Number(100*sd[0], 2)+" %", "computed"),
			working.Plain("sd of the second", quantity.Number(100*sd[1], 2)+" %", "computed"),
		},
		Notes: []string{"The two errors are taken as independent but for the meter's."},
	}}
	switch {
	case x.one:
		r.Notes = append(r.Notes, "Both groups stand on one bench: an error common to all readings of the meter drops out of the comparison.")
	case same:
		r.Notes = append(r.Notes, "It is assumed that one meter read both benches: its scale error, 5 % in either level, then drops out of the comparison. If two meters were used, say so.")
	case x.ask.TwoMeters:
		r.Notes = append(r.Notes, "Two meters: the scale error of each stays in the comparison. One meter for both would make it surer.")
	default:
		r.Notes = append(r.Notes, "A bench without readings rests on its label: the comparison is as unsure as the labels. Reading both with one meter would make it far surer.")
	}
	r.Ratio.Working.Notes = append(r.Ratio.Working.Notes, r.Notes...)
	return nil
}

// say puts into sentences what limits the match.
func (x *match) say(r *MatchResult, miss *lightaim.InfeasibleError) {
	say := func(format string, args ...any) { r.Limits = append(r.Limits, fmt.Sprintf(format, args...)) }
	what := "PPFD"
	if x.ask.DLI {
		what = "DLI"
	}
	if !r.Found {
		level := ""
		if x.ask.Level > 0 {
			level = " of " + quantity.Number(x.ask.Level, 3) + " " + r.Before[0].Level.Unit
		}
		advice := "Other heights, or a lower level, may do."
		if x.one {
			advice = "Both groups may get their light from the same lamps: then only other places of lamps or plants can make them equal."
		}
		if miss != nil && miss.Steps {
			say("Free dimmers could match the two, but no steps of %s do within %s. A finer step or a wider tolerance would help.", percent(float64(x.ask.Step)), percent(float64(x.ask.Tolerance)))
			return
		}
		say("The two cannot be brought to a common %s%s within the limits of dimming and height. %s", what, level, advice)
		return
	}
	for j, s := range r.After {
		if x.one && j == 1 {
			break
		}
		b := s.Bench
		var full, least []string
		for k, d := range s.Dim {
			if float64(d) > float64(b.Limits.MaxDim.Value)-1e-6 {
				full = append(full, b.Lamps[k].Name)
			} else if float64(d) < float64(b.Limits.MinDim.Value)+1e-6 {
				least = append(least, b.Lamps[k].Name)
			}
		}
		if len(full) > 0 {
			say("%s of %s %s as bright as the limits allow.", list("", full), b.Name, have(full, "burns", "burn"))
		}
		if len(least) > 0 {
			say("%s of %s %s dimmed as far as the limits allow.", list("", least), b.Name, have(least, "is", "are"))
		}
	}
	if d := math.Abs(r.Ratio.Value - 1); d > 0.002 {
		say("The steps of the dimmers leave a difference of %s %%.", quantity.Number(100*d, 2))
	}
	if r.After[0].Hours != r.After[1].Hours && !x.ask.DLI {
		say("The light days differ (%s and %s): equal PPFD does not give equal DLI.", quantity.Duration.Format(float64(r.After[0].Hours), x.s[0].b.Units, 4), quantity.Duration.Format(float64(r.After[1].Hours), x.s[1].b.Units, 4))
	}
}
