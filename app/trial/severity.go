package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/ordinal"
	"underlamp/science/stat/ranks"
	"underlamp/working"
)

// A GradeRow counts the plants of a treatment or unit by grade.
type GradeRow struct {
	Name   string
	Counts []int // of each class
}

// A GradeGroup is a treatment with its units.
type GradeGroup struct {
	GradeRow
	Units []GradeRow
}

// Grades are the plants by grade of burn.
type Grades struct {
	Classes []string // "0" to "5"
	Groups  []GradeGroup
}

const (
	fewestInClass = 5  // plants: fewer are merged from the top (plan of the analysis)
	hermiteNodes  = 10 // of the quadrature over the shifts of units
)

// severity tells of the grades of burn: how many plants of each unit have which, the
// chance that a plant of one treatment has a higher grade than one of another, and
// proportional odds with a shift of each unit where the data carry them.
func (f *Findings) severity() {
	values, order, _, _ := valuesOf(f.entries, underlamp.ResponseSeverity)
	if len(order) == 0 {
		return
	}
	p := Part{Title: "Severity of burn"}
	defer func() { f.Parts = append(f.Parts, p) }()
	top := 0
	for _, k := range order {
		top = max(top, int(values[k]))
	}
	g := &Grades{}
	for c := range top + 1 {
		g.Classes = append(g.Classes, fmt.Sprint(c))
	}
	byUnit := map[string][]float64{}
	for _, k := range order {
		byUnit[k.unit] = append(byUnit[k.unit], values[k])
	}
	tally := func(name string, v []float64) GradeRow {
		r := GradeRow{Name: name, Counts: make([]int, top+1)}
		for _, x := range v {
			r.Counts[int(x)]++
		}
		return r
	}
	clusters := map[string][][]float64{} // of each treatment: what it was given to, with its plants
	for _, t := range f.Trial.Treatments {
		var all []float64
		group := GradeGroup{}
		whole := map[string]int{}
		for _, u := range f.Trial.Places {
			v := byUnit[u.Name]
			if u.Treatment != t.Name || len(v) == 0 {
				continue
			}
			all = append(all, v...)
			group.Units = append(group.Units, tally(u.Name, v))
			name := u.Name
			if f.Trial.Layout == underlamp.SplitLayout {
				name = u.Whole
			}
			i, ok := whole[name]
			if !ok {
				i = len(clusters[t.Name])
				whole[name] = i
				clusters[t.Name] = append(clusters[t.Name], nil)
			}
			clusters[t.Name][i] = append(clusters[t.Name][i], v...)
		}
		if len(all) > 0 {
			group.GradeRow = tally(t.Name, all)
			g.Groups = append(g.Groups, group)
		}
	}
	p.Grades = g
	if top == 0 {
		p.Says = append(p.Says, "No plant has a grade above 0; there is nothing to compare.")
		return
	}
	if len(g.Groups) < 2 {
		p.Says = append(p.Says, "Grades were given in one treatment only; there is nothing to compare.")
		return
	}
	base := 0
	for i, x := range g.Groups {
		for _, t := range f.Trial.Treatments {
			if t.Name == x.Name && t.Control {
				base = i
			}
		}
	}
	f.superior(&p, g, clusters, base)
	f.odds(&p, g, byUnit, base)
}

// superior is the headline: the chance of a higher grade.
func (f *Findings) superior(p *Part, g *Grades, clusters map[string][][]float64, base int) {
	from := g.Groups[base].Name
	together := 1 - (1-level)/float64(len(g.Groups)-1) // limits that hold for all of them (Bonferroni)
	var settled, open []string
	defer func() {
		p.Heads = len(settled)
		p.Says = slices.Concat(settled, open, p.Says)
	}()
	for i, x := range g.Groups {
		if i == base {
			continue
		}
		name := "chance of a higher grade, " + x.Name + " than " + from
		e, err := ranks.SuperiorityInUnits(name, clusters[from], clusters[x.Name], together)
		if err != nil {
			p.Says = append(p.Says, x.Name+" and "+from+": "+lower(sentence(err)))
			continue
		}
		w := working.Figure{Name: name, Value: 100 * e.Value, Unit: "%", Digits: 2, Band: &working.Band{Low: 100 * e.Interval.Lower, High: 100 * e.Interval.Upper, Level: together}, Working: working.Working{
			Formula: "share of pairs of plants, one of each treatment, in which it has the higher grade, ties by half; error from the units' means of it, t after Satterthwaite; limits hold together for all " + count(len(g.Groups)-1, "comparison", "comparisons") + " (Bonferroni)",
			Inputs:  []working.Input{working.Plain("lamps", fmt.Sprintf("%d and %d", len(clusters[x.Name]), len(clusters[from])), underlamp.Computed.String()), working.Plain("degrees of freedom", fmt.Sprintf("%.3g", e.DF), underlamp.Computed.String())},
			Sources: []string{"BrunnerMunzel2000", "Obuchowski1997"}}}
		p.Figures = append(p.Figures, w)
		if e.DF < 3 {
			continue
		}
		s := fmt.Sprintf("A plant of %s has a higher grade than one of %s with a chance of %s, %s to %s", x.Name, from, working.Percent(e.Value), working.Percent(e.Interval.Lower), working.Percent(e.Interval.Upper))
		switch {
		case e.Interval.Lower > 0.5:
			settled = append(settled, s+": it burns worse.")
		case e.Interval.Upper < 0.5:
			settled = append(settled, s+": it burns less.")
		default:
			open = append(open, s+"; which burns worse is left open.")
		}
	}
}

// odds fits proportional odds with a shift of each unit, by treatment, else over the light.
func (f *Findings) odds(p *Part, g *Grades, byUnit map[string][]float64, base int) {
	counts := make([]int, len(g.Classes))
	for _, x := range g.Groups {
		for c, n := range x.Counts {
			counts[c] += n
		}
	}
	merged := ordinal.MergeTop(counts, fewestInClass)
	// Classes without a plant below the top are no classes.
	index, next := map[int]int{}, 0
	for c := range merged {
		if counts[c] > 0 {
			if _, ok := index[merged[c]]; !ok {
				index[merged[c]] = next
				next++
			}
		}
	}
	if next < 2 {
		p.Says = append(p.Says, "Too few plants have a grade above 0 for odds of a higher grade.")
		return
	}
	if n := len(g.Classes) - next; n > 0 {
		p.Says = append(p.Says, fmt.Sprintf("For the odds of a higher grade, grades with fewer than %d plants were merged from the top: %d classes are left.", fewestInClass, next))
	}
	// Rows are classes of units, weighed by their plants.
	build := func(light bool) (d ordinal.Data, unit []int, levels int, ok bool) {
		if light {
			d.Names = []string{dliUnit}
		} else {
			for i, x := range g.Groups {
				if i != base {
					d.Names = append(d.Names, x.Name)
				}
			}
		}
		whole, doses := map[string]int{}, map[float64]bool{}
		for _, u := range f.Trial.Places {
			v := byUnit[u.Name]
			if len(v) == 0 {
				continue
			}
			x := make([]float64, len(d.Names))
			if light {
				if x[0] = doseOf(f.Trial, u); x[0] <= 0 {
					return d, nil, 0, false
				}
				doses[x[0]] = true
			} else if k := slices.Index(d.Names, u.Treatment); k >= 0 {
				x[k] = 1
			}
			name := u.Name
			if f.Trial.Layout == underlamp.SplitLayout {
				name = u.Whole
			}
			if _, ok := whole[name]; !ok {
				whole[name] = len(whole)
			}
			n := make([]float64, next)
			for _, s := range v {
				n[index[merged[int(s)]]]++
			}
			for c, w := range n {
				if w > 0 {
					d.Class, d.Weight, d.X, unit = append(d.Class, c), append(d.Weight, w), append(d.X, x), append(unit, whole[name])
				}
			}
		}
		return d, unit, len(doses), !light || len(doses) >= 3
	}
	var why error
	for _, light := range []bool{false, true} {
		d, unit, _, ok := build(light)
		if !ok {
			continue
		}
		fit, err := ordinal.FitRandom(d, unit, hermiteNodes)
		if err != nil {
			if stat.Refused(err) == nil {
				return
			}
			if why == nil {
				why = err
			}
			continue
		}
		if why != nil {
			p.Says = append(p.Says, "By treatment the odds cannot be had: "+lower(sentence(why))+" Over the light they can.")
		}
		f.showOdds(p, fit, d, unit, g.Groups[base].Name, light)
		return
	}
	p.Says = append(p.Says, "Odds of a higher grade cannot be had: "+lower(sentence(why))+" The chances above and the test of the units' midranks stand.")
}

func (f *Findings) showOdds(p *Part, fit *ordinal.Random, d ordinal.Data, unit []int, base string, light bool) {
	units := slices.Max(unit) + 1
	df := units - len(d.Names) - 1
	if df < 3 {
		p.Says = append(p.Says, "Too few units for limits of the odds of a higher grade.")
		return
	}
	t := dist.TQuantile((1+level)/2, float64(df))
	spread := fmt.Sprintf("%.3g on the logit", fit.SD)
	if fit.Boundary {
		spread = "0: the units differ no more than their plants do"
	}
	in := []working.Input{working.Plain("units", fmt.Sprint(units), underlamp.Computed.String()), working.Plain("degrees of freedom", fmt.Sprint(df), underlamp.Computed.String()), working.Plain("spread of the units", spread, underlamp.Fitted.String())}
	var notes []string
	if plain, err := ordinal.FitModel(d); err == nil {
		var all []int
		for j := range d.Names {
			all = append(all, j)
		}
		if test, err := plain.Proportional(all...); err == nil {
			in = append(in, working.Plain("p that it acts alike on every grade", pText(test.P), underlamp.Computed.String()))
			notes = append(notes, "the test that the treatment acts alike on every grade takes plants as independent, so its p is rather too small")
			if test.P < 0.01 {
				p.Says = append(p.Says, fmt.Sprintf("The odds may differ by grade (p %s, rather too small): one factor for all grades is then a rough mean.", pText(test.P)))
			}
		}
	}
	for j, b := range fit.Coef {
		name := "odds of a higher grade, " + d.Names[j] + " for " + base
		if light {
			name = "odds of a higher grade for 1 " + dliUnit + " more"
		}
		se := fit.SE[j]
		if !(se > 0) || math.Abs(b) > 15 {
			continue
		}
		w := working.Figure{Name: name, Value: math.Exp(b), Unit: "times", Band: &working.Band{Low: math.Exp(b - t*se), High: math.Exp(b + t*se), Level: level}, Working: working.Working{
			Formula: "exp(b) of P(grade ≤ k) = expit(θₖ − x·b − shift of the unit), quadrature over the shifts; limits with t on the units",
			Inputs:  append(slices.Clone(in), working.Plain("b", fmt.Sprintf("%.4g ± %.3g", b, se), underlamp.Fitted.String())), Sources: []string{"McCullagh1980"}, Notes: notes}}
		p.Figures = append(p.Figures, w)
		if light {
			s := fmt.Sprintf("With 1 %s more light the odds of a higher grade are %.3g times, %.3g to %.3g", dliUnit, w.Value, w.Band.Low, w.Band.High)
			switch {
			case w.Band.Low > 1:
				s += ": burn gets worse."
			case w.Band.High < 1:
				s += ": burn gets less."
			default:
				s += "; whether burn gets worse is left open."
			}
			p.Says = append(p.Says, s)
		}
	}
}
