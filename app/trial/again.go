package trial

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/stat/dist"
	"underlamp/working"
)

// again asks whether one more cycle could change the choice between the control and the
// treatment that did best. What a further cycle would show is taken as normal about
// what is known, its gain as linear.
func (f *Findings) again() {
	if f.means == nil || f.Trial.Layout == underlamp.SplitLayout || f.Trial.Response == underlamp.ResponseSeverity {
		return
	}
	up := 1.0
	if f.Trial.Response == underlamp.ResponseBurn {
		up = -1
	}
	k := f.control()
	best, second := -1, -1
	for i, v := range f.means.Value {
		if i == k {
			continue
		}
		if best < 0 || up*v > up*f.means.Value[best] {
			best, second = i, best
		} else if second < 0 || up*v > up*f.means.Value[second] {
			second = i
		}
	}
	if k < 0 {
		k = second
	}
	if best < 0 || k < 0 {
		return
	}
	c := make([]float64, len(f.means.Value))
	c[best], c[k] = up, -up
	e, err := f.means.Contrast("gain", c, level)
	if err != nil || e.SE <= 0 {
		return
	}
	cycles := len(f.block.Levels)
	per := 1.0 / float64(max(cycles, 1))
	if !f.hasBlock {
		cycles = 1
		per = 1
	}
	// After one more cycle the variance is se²·b/(b+1); the estimate moves by the rest.
	move := e.SE * math.Sqrt(per/(1+per))
	z := math.Abs(e.Value-f.Trial.Difference) / move
	change := dist.NormalLower(-z) // not 1 − Φ(z), which is 0 too soon
	gain := move * (math.Exp(-z*z/2)/math.Sqrt(2*math.Pi) - z*change)
	name := f.means.Levels[best] + " for " + f.means.Levels[k]
	if f.Trial.Response == underlamp.ResponseMass {
		name += ", by mass alone, burn left out"
	}
	p := Part{Title: "Would another cycle change the choice?", Tells: Certainty}
	p.Figures = append(p.Figures, working.Figure{Name: "chance that another cycle changes the choice", Value: 100 * change, Unit: "%", Digits: 2, Working: working.Working{
		Formula: "Φ(−|d − δ|/s), s² = se² − se²·b/(b + 1)",
		Inputs: []working.Input{working.Plain("d, "+name, fmt.Sprintf("%.4g %s", e.Value, f.unit()), underlamp.Computed.String()), working.Plain("δ, worth knowing", fmt.Sprintf("%.4g %s", f.Trial.Difference, f.unit()), underlamp.Stated.String()),
			working.Plain("se", fmt.Sprintf("%.4g", e.SE), underlamp.Computed.String()), working.Plain("b, cycles so far", fmt.Sprint(cycles), underlamp.Computed.String())},
		Notes: []string{"the treatment that did best was chosen after looking, so its lead is somewhat too large", fmt.Sprintf("expected gain of the further cycle: %.2g %s a plant of every later cycle", max(gain, 0), f.unit())}}})
	if change < 0.05 {
		p.Says = append(p.Says, fmt.Sprintf("Another cycle like these would change the choice (%s) with a chance of %s: it is settled as far as such cycles can settle it.", name, working.Percent(change)))
	} else {
		p.Says = append(p.Says, fmt.Sprintf("Another cycle like these would change the choice (%s) with a chance of %s: it is worth running if that choice matters.", name, working.Percent(change)))
	}
	p.Heads = len(p.Says)
	f.Parts = append(f.Parts, p)
}
