package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/optimum"
	"underlamp/science/stat/ratio"
	"underlamp/working"
)

const dliUnit = "mol/m²/d"

// levelsOf counts different doses; all must be known.
func levelsOf(units []Unit) (levels int, low, high float64, known bool) {
	seen := map[float64]bool{}
	low, high = math.Inf(1), 0
	for _, u := range units {
		if u.Dose <= 0 {
			return 0, 0, 0, false
		}
		seen[u.Dose] = true
		low, high = min(low, u.Dose), max(high, u.Dose)
	}
	return len(seen), low, high, len(units) > 0
}

// parabola is the response over the DLI on the unit means, of the average block.
type parabola struct {
	curve optimum.Curve
	rss   float64
}

func (f *Findings) parabola() (*parabola, error) {
	n := len(f.Units)
	x, x2 := make([]float64, n), make([]float64, n)
	var m1, m2 float64
	for i, u := range f.Units {
		x[i], x2[i] = u.Dose, u.Dose*u.Dose
		m1, m2 = m1+x[i]/float64(n), m2+x2[i]/float64(n)
	}
	var terms []linear.Term
	if f.hasBlock {
		terms = append(terms, linear.Term{linear.By(f.block)})
	}
	k := len(terms)
	terms = append(terms, linear.Term{linear.Of("dli", x)}, linear.Term{linear.Of("dli²", x2)})
	fit, err := linear.FitModel(f.values(), terms...)
	if err != nil {
		return nil, err
	}
	s2, err := fit.Variance()
	if err != nil {
		return nil, err
	}
	if s2 <= 0 {
		return nil, stat.Refuse("a curve with limits", "the units do not scatter at all")
	}
	b1, b2 := fit.Column(k, 0), fit.Column(k+1, 0)
	mean := fit.Vector(nil)
	b0 := slices.Clone(mean)
	for i := range b0 {
		b0[i] -= m1*b1[i] + m2*b2[i]
	}
	ls := [][]float64{b0, b1, b2}
	out := &parabola{curve: optimum.Curve{DF: float64(fit.DF)}, rss: fit.RSS}
	for _, l := range ls {
		v, err := fit.Value(l)
		if err != nil {
			return nil, err
		}
		out.curve.Coef = append(out.curve.Coef, v)
		row := make([]float64, 3)
		for j, m := range ls {
			row[j] = s2 * fit.Covariance(l, m)
		}
		out.curve.Cov = append(out.curve.Cov, row)
	}
	return out, nil
}

// dose answers how the response goes with the light.
func (f *Findings) dose() {
	levels, low, high, known := levelsOf(f.Units)
	if !known || f.Trial.Layout == underlamp.SplitLayout || f.Trial.Response == underlamp.ResponseSeverity || f.Trial.Response == underlamp.ResponseBurn {
		return
	}
	if levels < 3 {
		return
	}
	p := Part{Title: titleLight}
	defer func() { f.Parts = append(f.Parts, p) }()
	f.trend(&p)
	x, y := make([]float64, len(f.Units)), f.values()
	for i, u := range f.Units {
		x[i] = u.Dose
	}
	var fits []curve.Candidate
	err := error(stat.Refuse("curves", "no form could be fitted"))
	if f.hasBlock {
		fits, err = curve.CompareInBlocks(x, y, f.block, level, curve.Forms...)
	}
	some := slices.ContainsFunc(fits, func(c curve.Candidate) bool { return c.Counts })
	if !f.hasBlock || err != nil || !some {
		fits, err = curve.Compare(x, y, level, curve.Forms...)
		if err == nil && f.hasBlock {
			p.Says = append(p.Says, "The cycles did not hold the same light, so the forms are compared without their shifts; cycles that differ blur them.")
		}
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err))
	}
	var unclear []string
	for _, c := range fits {
		if !c.Counts {
			unclear = append(unclear, c.Form.String())
		}
		if !c.Counts || !c.Near {
			continue
		}
		w := working.Figure{Name: "form: " + c.Form.String(), Value: c.Delta, Unit: "AICc above the best", Working: working.Working{Formula: "AICc = n ln(RSS/n) + penalty, on unit means", Sources: []string{"HurvichTsai1989"}}}
		for _, e := range c.Response.Estimates(level) {
			w.Working.Inputs = append(w.Working.Inputs, working.Plain(e.Name, fmt.Sprintf("%.4g", e.Value), underlamp.Fitted.String()))
		}
		p.Figures = append(p.Figures, w)
		if c.Response.Join != nil {
			up := "no upper limit from these data"
			if !math.IsInf(c.Response.Join.Upper, 0) {
				up = fmt.Sprintf("%.3g", c.Response.Join.Upper)
			}
			p.Says = append(p.Says, fmt.Sprintf("By the form %q the rise ends between %.3g and %s %s.", c.Form, c.Response.Join.Lower, up, dliUnit))
		}
	}
	if len(unclear) > 0 {
		p.Says = append(p.Says, "Not identified from these units, and so not shown: "+strings.Join(unclear, "; ")+".")
	}
	if q, err := f.parabola(); err == nil {
		c := q.curve
		t := dist.TQuantile(1-(1-doseLevel)/2, c.DF)
		v, err := ratio.Vertex(c.Coef[1], c.Coef[2], c.Cov[1][1], c.Cov[1][2], c.Cov[2][2], t, doseLevel)
		switch {
		case err != nil || c.Coef[2] >= 0 || v.Kind != ratio.Bounded:
			p.Says = append(p.Says, fmt.Sprintf("There is no best light inside these data: between %.3g and %.3g %s no top of the curve can be placed.", low, high, dliUnit))
		default:
			w := working.Figure{Name: "light for the most " + string(f.Trial.Response), Value: v.Value, Unit: dliUnit, Digits: 4, Band: &working.Band{Low: v.Lower, High: v.Upper, Level: doseLevel},
				Working: working.Working{Formula: "−b₁/(2 b₂) of the parabola, limits of Fieller with t", Inputs: []working.Input{working.Plain("b₁", fmt.Sprintf("%.4g", c.Coef[1]), underlamp.Fitted.String()), working.Plain("b₂", fmt.Sprintf("%.4g", c.Coef[2]), underlamp.Fitted.String()), working.Plain("degrees of freedom", fmt.Sprint(c.DF), underlamp.Computed.String())}, Sources: []string{"Fieller1954"}}}
			if v.Value > high || v.Value < low {
				p.Says = append(p.Says, "The top of the parabola lies outside the light that was tried; try more before you lean on it.")
			}
			p.Figures = append(p.Figures, w)
		}
	}
}

// trend tests linear and quadratic trend over the treatments' doses.
func (f *Findings) trend(p *Part) {
	if f.means == nil || f.analysis == nil {
		return
	}
	dose := map[string]float64{}
	for _, t := range f.Trial.Treatments {
		dose[t.Name] = float64(t.DLI)
	}
	var x []float64
	for _, l := range f.means.Levels {
		if dose[l] <= 0 || slices.Contains(x, dose[l]) {
			return
		}
		x = append(x, dose[l])
	}
	degree := min(2, len(x)-1)
	for d, c := range linear.Orthogonal(x, degree) {
		name := []string{"straight trend over the light", "bend of the trend"}[d]
		e, err := f.means.Contrast(name, c, level)
		if err != nil {
			continue
		}
		p.Figures = append(p.Figures, f.figure(name, e, "Σ c·mean, c the orthogonal polynomial with the true spacing, of unit length", []working.Input{working.Plain("p", pText(e.P), underlamp.Computed.String())}, "Searle1992"))
	}
}

// Curves stub.
type Curves struct{}
