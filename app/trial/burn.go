package trial

import (
	"fmt"
	"math"
	"slices"
	"underlamp"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/dist"
	"underlamp/working"
)

// burn finds the safe light, and with mass the sweet spot.
func (f *Findings) burn() {
	yes, n := map[string]int{}, map[string]int{}
	state := map[[2]string]bool{}
	any := false
	for _, e := range f.entries {
		if e.What == underlamp.ResponseBurn && e.Missing == "" {
			k := [2]string{e.TrialUnit, e.Plant}
			state[k] = state[k] || e.Value > 0 // burn does not heal
			any = true
		}
	}
	if !any {
		return
	}
	for k, b := range state {
		n[k[0]]++
		if b {
			yes[k[0]]++
		}
	}
	p := Part{Title: titleBurn, Tells: Advice}
	defer func() {
		f.Parts = append(f.Parts, p)
	}()
	var ys, ns, run []int
	var x []float64
	var names []string
	blocks := map[string]int{}
	for _, u := range f.Trial.Places {
		if n[u.Name] == 0 {
			continue
		}
		d := doseOf(f.Trial, u)
		if d <= 0 {
			p.Heads = 1
			p.Says = append(p.Says, "The light of unit "+u.Name+" is not known, so burn cannot be set against it; write dli at the units or treatments.")
			return
		}
		if _, ok := blocks[u.Block]; !ok {
			blocks[u.Block] = len(blocks)
		}
		names = append(names, u.Name)
		ys, ns, x, run = append(ys, yes[u.Name]), append(ns, n[u.Name]), append(x, d), append(run, blocks[u.Block])
	}
	if len(blocks) < 2 {
		run = nil
	}
	p0 := float64(f.Trial.BurnLimit)
	origin := underlamp.Stated
	if p0 == 0 {
		p0, origin = 0.2, underlamp.Default
	}
	t, err := binary.FindThreshold(ys, ns, x, run, p0, doseLevel)
	if err != nil {
		p.Heads = 1
		p.Says = append(p.Says, sentence(err))
		return
	}
	lowest, highest := slices.Min(x), slices.Max(x)
	switch t.State {
	case binary.NeverSeen:
		p.Says = append(p.Says, fmt.Sprintf("No burn was seen up to %.3g %s, the highest light tried; the upper limit of the safe light is not known.", highest, dliUnit))
	case binary.Everywhere:
		p.Says = append(p.Says, fmt.Sprintf("Every plant burnt, down to %.3g %s; the safe light is lower, how low these data do not say.", lowest, dliUnit))
	case binary.Parted, binary.TooFew:
		s := fmt.Sprintf("All that is known is a gap: no burn up to %.3g, first burn at %.3g %s.", t.Gap.LastClean, t.Gap.FirstYes, dliUnit)
		if t.Gap.NoneClean {
			s = fmt.Sprintf("Burn was seen at the lowest light tried, %.3g %s.", t.Gap.FirstYes, dliUnit)
		}
		why := " Light parts burnt from clean plants, so a curve has no steepness and no limits."
		if t.State == binary.TooFew {
			why = " There are too few units for limits that hold."
		}
		p.Says = append(p.Says, s+why)
		if fit, err := binary.Firth(binary.OnDose(ys, ns, x), doseLevel); err == nil && t.State == binary.Parted && fit.Coef[1] > 0 {
			p.Says = append(p.Says, fmt.Sprintf("For a look only: Firth's penalised curve reaches %s at %.3g %s.", working.Percent(p0), (math.Log(p0/(1-p0))-fit.Coef[0])/fit.Coef[1], dliUnit))
		}
	case binary.Falls:
		p.Says = append(p.Says, "Burn does not rise with the light in these data; there is no safe light to give.")
	case binary.Unbounded:
		p.Says = append(p.Says, fmt.Sprintf("Whether burn rises with the light is not settled, so the safe light has no limits. No burn up to %.3g %s is what was seen.", t.Gap.LastClean, dliUnit))
	case binary.Limited:
		w := working.Figure{Name: "safe light: burn in at most " + working.Percent(p0), Value: t.Limits.Value, Unit: dliUnit, Digits: 4,
			Working: working.Working{Formula: "(logit p₀ − a)/b, limits of Fieller, covariance clustered by " + t.Clusters,
				Inputs: []working.Input{{Name: "p₀", Value: working.Percent(p0), Origin: origin.String()}, working.Plain("a", fmt.Sprintf("%.4g", t.Fit.Coef[0]), underlamp.Fitted.String()),
					working.Plain("b", fmt.Sprintf("%.4g", t.Fit.Coef[1]), underlamp.Fitted.String()), working.Plain("degrees of freedom", fmt.Sprint(t.Fit.DF), underlamp.Computed.String())}, Sources: []string{"Fieller1954"}}}
		w.Band = &working.Band{Low: t.Limits.Lower, High: t.Limits.Upper, Level: doseLevel}
		p.Figures = append(p.Figures, w)
		if t.Below {
			p.Says = append(p.Says, "The lower limit lies below the lowest light tried: take no light that was tried as safe.")
		} else {
			p.Says = append(p.Says, fmt.Sprintf("Stay at or below %.3g %s, the lower limit: there the upper band of the chance of burn crosses %s.", t.Limits.Lower, dliUnit, working.Percent(p0)))
		}
		if t.Above {
			p.Says = append(p.Says, "The upper limit lies above the highest light tried: no upper limit from these data.")
		}
		if t.Second != nil && t.Second.Bounded() && max(math.Abs(t.Second.Lower-t.Limits.Lower), math.Abs(t.Second.Upper-t.Limits.Upper)) > 0.1*(highest-lowest) {
			p.Says = append(p.Says, fmt.Sprintf("A second look (beta-binomial profile) gives %.3g to %.3g %s.", t.Second.Lower, t.Second.Upper, dliUnit))
		}
	}
	p.Heads = len(p.Says)
	p.Burn = burnCurve(t, ys, ns, x, names, p0)
	if f.Trial.Response == underlamp.ResponseMass && t.Fit != nil && (t.State == binary.Limited || t.State == binary.Unbounded) {
		f.sweet(&p, t, lowest, highest)
	}
}

// A BurnUnit is the share of burnt plants of a unit.
type BurnUnit struct {
	Unit     string
	Dose     float64
	Burnt, N int
}

// A BurnCurve is the chance of burn over the light with its units, for a picture. Without a
// curve X is empty.
type BurnCurve struct {
	Units        []BurnUnit
	Limit        float64 // the chance that is borne
	X            []float64
	Y, Low, High []float64
}

// burnCurve takes the curve and its limits, t on the logit.
func burnCurve(t *binary.Threshold, yes, n []int, x []float64, names []string, limit float64) *BurnCurve {
	out := &BurnCurve{Limit: limit}
	for i := range x {
		out.Units = append(out.Units, BurnUnit{names[i], x[i], yes[i], n[i]})
	}
	low, high := slices.Min(x), slices.Max(x)
	if t.Fit == nil || !(low < high) || !(t.Fit.DF >= 1) {
		return out
	}
	const steps = 60
	q := dist.TQuantile(1-(1-doseLevel)/2, t.Fit.DF)
	c := t.Fit.Cov
	share := func(eta float64) float64 { return 1 / (1 + math.Exp(-eta)) }
	for k := range steps + 1 {
		d := low + (high-low)*float64(k)/steps
		eta := t.Fit.Coef[0] + t.Fit.Coef[1]*d
		half := q * math.Sqrt(max(c[0][0]+2*d*c[0][1]+d*d*c[1][1], 0))
		out.X = append(out.X, d)
		out.Y, out.Low, out.High = append(out.Y, share(eta)), append(out.Low, share(eta-half)), append(out.High, share(eta+half))
	}
	return out
}
