package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/working"
)

// A Residual is what the analysis leaves of a unit.
type Residual struct {
	Unit     string
	Fitted   float64
	Residual float64 // in the unit of the means
	Student  float64 // over its own standard error, without the unit itself
	Cook     float64
	Normal   float64 // where a normal law would have Student by its rank
	Far      bool    // beyond three standard errors, or it moves the answer by itself
}

// Residuals are those of all units, in the order of the trial.
type Residuals struct {
	Of     string // what a row is: "unit", or "lamp in its cycle" of a split plot
	Means  string // name of the response with its unit
	Points []Residual
}

const (
	farOff  = 3.0 // standard errors; common practice, no source
	farCook = 1.0 // Cook's distance; common practice, no source
	farMADs = 6.0 // of a plant from the middle of its unit, in deviations; common practice, no source
)

// checks says in words and for a picture what the residuals of the units show.
func (f *Findings) checks() {
	p := Part{Title: titleFit, Tells: Certainty}
	v, treat := f.values(), f.treat
	var names []string
	for _, u := range f.Units {
		names = append(names, u.Name)
	}
	var fit *linear.Fit
	of := "unit"
	switch {
	case f.analysis != nil:
		fit = f.analysis.Fit
	case f.splitPlot != nil:
		fit, of, names = f.splitPlot.WholeFit, "lamp in its cycle", f.wholes().Levels
		v, treat, _ = f.wholeMeans()
	}
	if fit != nil && fit.DF >= 2 {
		p.Residuals = &Residuals{Of: of, Means: withUnit(string(f.Trial.Response), f.unit()), Points: residualsOf(fit, names)}
		f.sayResiduals(&p)
		f.sayScatter(&p, v, treat)
	}
	f.oddPlants(&p)
	if len(p.Says) > 0 {
		f.Parts = append(f.Parts, p)
	}
}

func withUnit(name, unit string) string {
	if unit == "" {
		return name
	}
	return name + ", " + unit
}

// residualsOf takes apart a fit. Normal scores are those of Blom1958.
func residualsOf(fit *linear.Fit, names []string) []Residual {
	r, cook := fit.Studentised()
	out := make([]Residual, len(names))
	order := make([]int, len(names))
	for i := range names {
		order[i] = i
		if math.IsNaN(r[i]) || math.IsInf(r[i], 0) {
			r[i] = 0
		}
		if math.IsNaN(cook[i]) || math.IsInf(cook[i], 0) {
			cook[i] = 0
		}
		out[i] = Residual{Unit: names[i], Fitted: fit.Fitted[i], Residual: fit.Residuals[i], Student: r[i], Cook: cook[i], Far: math.Abs(r[i]) > farOff || cook[i] > farCook}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case r[a] < r[b]:
			return -1
		case r[a] > r[b]:
			return 1
		}
		return 0
	})
	for k, i := range order {
		out[i].Normal = dist.NormalQuantile((float64(k+1) - 0.375) / (float64(len(order)) + 0.25))
	}
	return out
}

func (f *Findings) sayResiduals(p *Part) {
	far := 0
	for _, x := range p.Residuals.Points {
		if x.Far {
			far++
			p.Says = append(p.Says, fmt.Sprintf("Unit %s lies far from what its treatment and block say (residual %s of its own standard error). Look whether something happened to it; it is kept.", x.Unit, working.Signed(x.Student, 1)))
		}
	}
	if far == 0 {
		p.Says = append(p.Says, "No unit lies further than three standard errors from what its treatment and block say.")
	}
	p.Heads = far
	// How straight the normal plot is: the correlation of residuals and normal scores.
	n := float64(len(p.Residuals.Points))
	var ma, mb, aa, bb, ab float64
	for _, x := range p.Residuals.Points {
		ma, mb = ma+x.Student/n, mb+x.Normal/n
	}
	for _, x := range p.Residuals.Points {
		a, b := x.Student-ma, x.Normal-mb
		aa, bb, ab = aa+a*a, bb+b*b, ab+a*b
	}
	if !(aa > 0 && bb > 0) {
		return
	}
	c := ab / math.Sqrt(aa*bb)
	p.Figures = append(p.Figures, working.Figure{Name: "straightness of the normal plot", Value: c, Working: working.Working{
		Formula: "correlation of the residuals of the units with the normal scores of their ranks, (i − 3/8)/(n + 1/4)",
		Inputs:  []working.Input{working.Plain("units", fmt.Sprint(len(p.Residuals.Points)), underlamp.Computed.String())}, Sources: []string{"Blom1958"},
		Notes: []string{"near 1 is straight; with few units it says little, so the picture is for looking and the analysis is not chosen by it"}}})
}

// sayScatter says whether the treatments scatter alike.
func (f *Findings) sayScatter(p *Part, v []float64, treat stat.Factor) {
	t, err := anova.BrownForsythe(v, treat)
	if err != nil {
		return
	}
	p.Figures = append(p.Figures, pFigure("p of equal scatter", t.P, working.Working{
		Formula: "analysis of variance of the distances of unit means from their treatment's median",
		Inputs:  []working.Input{working.Plain("F", fmt.Sprintf("%.4g", t.Statistic), underlamp.Computed.String()), working.Plain("degrees of freedom", fmt.Sprintf("%.0f and %.0f", t.DF1, t.DF2), underlamp.Computed.String())},
		Sources: []string{"BrownForsythe1974"}, Notes: []string{"for show, and never a gate before the other tests"}}))
	if t.P >= 1-level {
		return
	}
	p.Says = append(p.Says, fmt.Sprintf("Treatments scatter unequally (Brown and Forsythe, p %s).", pText(t.P)))
	if w, err := anova.Welch(v, treat); err == nil && !f.hasBlock && f.splitPlot == nil {
		p.Says = append(p.Says, fmt.Sprintf("With a variance for each (Welch): F = %.3g, p %s.", w.Statistic, pText(w.P)))
	}
}

// oddPlants names plants that lie far from the others of their unit: a slip of the pen
// moves the mean of the unit, and the analysis of units cannot see it.
func (f *Findings) oddPlants(p *Part) {
	if f.Trial.Response == underlamp.ResponseBurn || f.Trial.Response == underlamp.ResponseSeverity {
		return
	}
	values, order, _, _ := valuesOf(f.entries, f.Trial.Response)
	middle := map[string]float64{}
	var off []float64
	for _, u := range f.Units {
		middle[u.Name] = medianOf(u.Raw)
		for _, x := range u.Raw {
			if u.N > 2 {
				off = append(off, math.Abs(x-middle[u.Name]))
			}
		}
	}
	// The usual deviation of plants within units; a bad value does not move it.
	usual := 1.4826 * medianOf(off)
	if !(usual > 0) {
		return
	}
	odd := 0
	for _, k := range order {
		d := values[k] - middle[k.unit]
		if math.Abs(d) <= farMADs*usual {
			continue
		}
		if odd++; odd > 5 {
			continue
		}
		p.Says = append(p.Says, fmt.Sprintf("Plant %s of unit %s (%.4g %s) lies far from its fellows (about %.4g); look whether it was written down right. It is kept.", k.plant, k.unit, values[k], f.unit(), middle[k.unit]))
	}
	if odd > 5 {
		p.Says = append(p.Says, fmt.Sprintf("%d more plants lie as far from theirs.", odd-5))
	}
}

func medianOf(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
