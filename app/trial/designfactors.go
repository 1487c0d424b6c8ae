package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/power"
	"underlamp/working"
)

// unitFactors are the factors of the trial over the units of a plan.
func unitFactors(t *underlamp.Trial, treat stat.Factor) []stat.Factor {
	levels := map[string][]string{}
	for _, x := range t.Treatments {
		levels[x.Name] = x.Levels
	}
	var out []stat.Factor
	for k, f := range t.Factors {
		s := stat.Factor{Name: f.Name, Levels: f.Levels}
		for _, i := range treat.Of {
			s.Of = append(s.Of, slices.Index(f.Levels, levels[treat.Levels[i]][k]))
		}
		out = append(out, s)
	}
	return out
}

// judgeFactors says what each factor and each pair could show.
func (a Ask) judgeFactors(p *Proposal) error {
	plan := p.plan()
	factors := unitFactors(p.Trial, plan.Treatment)
	var nuisance []linear.Term
	for _, b := range plan.Nuisance {
		nuisance = append(nuisance, linear.Term{linear.By(b)})
	}
	m, err := modelOf(factors, nuisance, plan.Treatment)
	if err != nil {
		return err
	}
	p.DF = m.df
	p.Repeats = len(plan.Treatment.Of)
	for _, f := range factors {
		p.Repeats = min(p.Repeats, slices.Min(f.Counts()))
	}
	fit, err := linear.FitModel(make([]float64, len(plan.Treatment.Of)), append(nuisance, m.terms...)...)
	if err != nil {
		return err
	}
	sd, sub := a.between(p), a.Plant/math.Sqrt(float64(a.Plants))
	if a.counted() {
		// Shares of plants, by the variance of the share of a lamp: normal only in the limit.
		q := a.Burn.Base + a.Difference/2
		sd, sub = math.Sqrt(q*(1-q)*a.Burn.Rho), math.Sqrt(q*(1-q)*(1-a.Burn.Rho)/float64(a.Plants))
	}
	unit := a.unitName()
	inputs := a.inputs(p, sd)
	if a.counted() {
		inputs = a.burnInputs(p)
	}
	inputs = append(inputs, working.Plain("error from", m.from(), underlamp.Computed.String()))
	df := float64(m.df)
	least, worst := 2.0, 0.0
	var floor float64
	scale := a.Difference
	show := func(name string, l []float64) {
		v := fit.Covariance(l, l)
		se := math.Sqrt(v * (sd*sd + sub*sub))
		chance := power.T(scale/se, df, 0.05)
		found := power.TDetectable(df, 0.05, Goal) * se
		p.Figures = append(p.Figures, working.Figure{Name: "chance of finding it: " + name, Value: 100 * chance, Unit: "%", Digits: 2, Working: working.Working{
			Formula: fmt.Sprintf("noncentral t with %d degrees of freedom, for the difference over the levels of the other factors", m.df), Inputs: inputs, Sources: []string{"Searle1992"},
			Notes: []string{fmt.Sprintf("found with a chance of 80 %%: %s %s", quantity.Number(a.shown(found), 3), unit)}}})
		if chance < least {
			least = chance
		}
		if found > worst {
			worst = found
			floor = power.TDetectable(df, 0.05, Goal) * math.Sqrt(v) * sd
		}
	}
	diff := func(at, from map[string]int) []float64 {
		x, y := fit.Vector(at), fit.Vector(from)
		for i := range x {
			x[i] -= y[i]
		}
		return x
	}
	for _, e := range m.effects {
		if len(e.of) != 1 {
			continue
		}
		x := factors[e.of[0]]
		l := diff(map[string]int{x.Name: len(x.Levels) - 1}, map[string]int{x.Name: 0})
		if _, err := fit.Value(l); err != nil {
			return err
		}
		show(x.Name, l)
	}
	p.Power = least
	mains := least
	for _, e := range m.effects {
		if len(e.of) != 2 {
			continue
		}
		x, y := factors[e.of[0]], factors[e.of[1]]
		hi, lo := len(x.Levels)-1, len(y.Levels)-1
		l := diff(map[string]int{x.Name: hi, y.Name: lo}, map[string]int{x.Name: 0, y.Name: lo})
		r := diff(map[string]int{x.Name: hi, y.Name: 0}, map[string]int{x.Name: 0, y.Name: 0})
		for i := range l {
			l[i] -= r[i]
		}
		if _, err := fit.Value(l); err != nil {
			continue
		}
		name := e.name + ", as a difference of differences"
		if len(e.alias) > 0 {
			name += " (with " + strings.Join(e.alias, ", ") + ")"
		}
		show(name, l)
	}
	p.Power = mains
	p.Figures = append(p.Figures, working.Figure{Name: "difference found with a chance of 80 %", Value: a.shown(worst), Unit: unit, Working: working.Working{Formula: "noncentral t, for the comparison that is worst of those above", Inputs: inputs,
		Notes: []string{fmt.Sprintf("%s %s with plants without end", quantity.Number(a.shown(floor), 3), unit)}}})
	if l := len(a.Factors); p.Layout == underlamp.IncompleteLayout && l > 2 && twoLevels(a.Factors) && p.halved(plan) {
		var names []string
		for _, f := range a.Factors {
			names = append(names, f.Name)
		}
		p.Cannot = append(p.Cannot, "The interaction of all factors, "+strings.Join(names, " × ")+", cannot be told from differences between cycles.")
	}
	if s := m.assumes(); s != "" {
		p.Cannot = append(p.Cannot, s)
	}
	for _, l := range m.lost {
		p.Cannot = append(p.Cannot, l+" cannot be told from the cycles.")
	}
	if a.counted() {
		p.Cannot = append(p.Cannot, "For several factors the power of shares is that of the large-sample limit, not simulated; with few plants or shares near 0 it flatters.")
	}
	return nil
}

// halved reports blocks that hold one half of a two-level factorial each.
func (p *Proposal) halved(plan power.Plan) bool {
	parity := map[int]int{}
	for i, t := range plan.Treatment.Of {
		odd := 0
		for k, l := range p.Trial.Treatments[t].Levels {
			if p.Trial.Factors[k].Levels[1] == l {
				odd ^= 1
			}
		}
		b := plan.Nuisance[0].Of[i]
		if old, ok := parity[b]; ok && old != odd {
			return false
		}
		parity[b] = odd
	}
	return true
}
