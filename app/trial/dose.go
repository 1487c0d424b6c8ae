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

// nearlyMost is the share of the most response whose light is told.
const nearlyMost = 0.95

// A Curve is a form of the response over the light, for a picture.
type Curve struct {
	Name      string
	Y         []float64
	Low, High []float64 // limits of the mean; nil but for the best form
}

// Curves are the forms that come near, over the light that was tried.
type Curves struct {
	X     []float64
	Forms []Curve // the best first
}

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

// A gain is the response over the light on the unit means, of the average block, as the
// search for the sweet spot takes it.
type gain struct {
	name  string
	curve optimum.Curve
	at    func(x float64, coef []float64) float64 // nil for a parabola
	rss   float64
}

func (f *Findings) parabola() (*gain, error) {
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
	if s2 <= flat(f.values()) {
		return nil, stat.Refuse("a curve with limits", "the units do not scatter at all")
	}
	b1, b2 := fit.Column(k, 0), fit.Column(k+1, 0)
	mean := fit.Vector(nil)
	b0 := slices.Clone(mean)
	for i := range b0 {
		b0[i] -= m1*b1[i] + m2*b2[i]
	}
	ls := [][]float64{b0, b1, b2}
	out := &gain{name: curve.Parabola.String(), curve: optimum.Curve{DF: float64(fit.DF)}, rss: fit.RSS}
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

// gain is the form of the response that AICc picks, or a parabola where it picks none.
func (f *Findings) gain() (*gain, error) {
	if f.best == nil || f.best.Form == curve.Parabola {
		return f.parabola()
	}
	for k := range f.best.Coef {
		if !(f.best.Cov[k][k] > 0) {
			return f.parabola()
		}
	}
	out := &gain{name: f.best.Form.String(), curve: optimum.Curve{Coef: f.best.Coef, Cov: f.best.Cov, DF: float64(f.best.DF)}, at: f.best.Form.Value, rss: f.best.RSS}
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
	f.forms(&p, low, high)
	q, err := f.parabola()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	c := q.curve
	t := dist.TQuantile(1-(1-doseLevel)/2, c.DF)
	v, err := ratio.Vertex(c.Coef[1], c.Coef[2], c.Cov[1][1], c.Cov[1][2], c.Cov[2][2], t, doseLevel)
	if err != nil || c.Coef[2] >= 0 || v.Kind != ratio.Bounded {
		p.Says = append(p.Says, fmt.Sprintf("There is no best light inside these data: between %.3g and %.3g %s no top of the curve can be placed.", low, high, dliUnit))
		return
	}
	w := working.Figure{Name: "light for the most " + string(f.Trial.Response), Value: v.Value, Unit: dliUnit, Digits: 4, Band: &working.Band{Low: v.Lower, High: v.Upper, Level: doseLevel},
		Working: working.Working{Formula: "−b₁/(2 b₂) of the parabola, limits of Fieller with t", Inputs: []working.Input{working.Plain("b₁", fmt.Sprintf("%.4g", c.Coef[1]), underlamp.Fitted.String()), working.Plain("b₂", fmt.Sprintf("%.4g", c.Coef[2]), underlamp.Fitted.String()), working.Plain("degrees of freedom", fmt.Sprint(c.DF), underlamp.Computed.String())}, Sources: []string{"Fieller1954"}}}
	if v.Value > high || v.Value < low {
		p.Says = append(p.Says, "The top of the parabola lies outside the light that was tried; try more before you lean on it.")
	}
	p.Figures = append(p.Figures, w)
}

// forms compares the forms of the response, cycles with a shift each.
func (f *Findings) forms(p *Part, low, high float64) {
	x, y := make([]float64, len(f.Units)), f.values()
	for i, u := range f.Units {
		x[i] = u.Dose
	}
	var fits []curve.Candidate
	var err error
	if f.hasBlock {
		fits, err = curve.CompareInBlocks(x, y, f.block, level, curve.Forms...)
	} else {
		fits, err = curve.Compare(x, y, level, curve.Forms...)
	}
	if err != nil {
		p.Says = append(p.Says, sentence(err))
	}
	var unclear []string
	for _, c := range fits {
		if !c.Counts {
			unclear = append(unclear, c.Form.String())
		}
		if !c.Counts || !c.Near || c.Response.RSS <= flat(y)*float64(len(y)) {
			continue
		}
		if f.best == nil {
			f.best = c.Response
		}
		f.form(p, c)
		f.addCurve(p, c, low, high)
	}
	if f.best != nil {
		f.reach(p, low, high)
	}
	if len(unclear) > 0 {
		p.Says = append(p.Says, "Not identified from these units, and so not shown: "+strings.Join(unclear, "; ")+".")
	}
}

// form shows one form that comes near, its parameters with limits by profile.
func (f *Findings) form(p *Part, c curve.Candidate) {
	w := working.Figure{Name: "form: " + c.Form.String() + ", AICc above the nearest", Value: c.Delta, Working: working.Working{Formula: "AICc = n ln(RSS/n) + penalty, on unit means; limits of the parameters by profile of the sum of squares with F", Sources: []string{"HurvichTsai1989", "BatesWatts1988"}}}
	for k, name := range c.Response.Names {
		in := c.Response.Profile(k, level)
		if c.Response.Join != nil && name == "join" {
			in = *c.Response.Join
		}
		w.Working.Inputs = append(w.Working.Inputs, working.Plain(name, fmt.Sprintf("%.4g, %s", c.Response.Coef[k], limitsText(in)), underlamp.Fitted.String()))
	}
	p.Figures = append(p.Figures, w)
	if c.Response.Join != nil {
		p.Says = append(p.Says, fmt.Sprintf("By the form “%s” the rise ends at %.3g %s, %s.", c.Form, c.Response.Coef[2], dliUnit, limitsText(*c.Response.Join)))
	}
}

// limitsText says limits; one that the data do not give is said to be unknown.
func limitsText(i stat.Interval) string {
	lo, hi := fmt.Sprintf("%.3g", i.Lower), fmt.Sprintf("%.3g", i.Upper)
	switch {
	case i.Bounded():
		return lo + " to " + hi
	case math.IsInf(i.Upper, 1) && math.IsInf(i.Lower, -1):
		return "without limits from these data"
	case math.IsInf(i.Upper, 1):
		return "from " + lo + ", no upper limit from these data"
	}
	return "up to " + hi + ", no lower limit from these data"
}

// reach shows the light that gives nearly the most, of the best form.
func (f *Findings) reach(p *Part, low, high float64) {
	at, in, err := f.best.Reach(nearlyMost, doseLevel)
	if err != nil {
		return
	}
	share := working.Percent(nearlyMost)
	w := working.Figure{Name: "light for " + share + " of the most " + string(f.Trial.Response), Value: at, Unit: dliUnit, Digits: 3, Working: working.Working{
		Formula: "the light at which the form “" + f.best.Form.String() + "” reaches " + share + " of its most, limits by profile of the sum of squares with F",
		Inputs:  []working.Input{working.Plain("light tried", fmt.Sprintf("%.3g to %.3g %s", low, high, dliUnit), underlamp.Stated.String()), working.Plain("limits", limitsText(in), underlamp.Computed.String())},
		Sources: []string{"BatesWatts1988"}}}
	switch {
	case at > high:
		w.Word = fmt.Sprintf("above %.3g %s, the most that was tried", high, dliUnit)
		w.Value = high
	case at < low:
		w.Word = fmt.Sprintf("below %.3g %s, the least that was tried", low, dliUnit)
		w.Value = low
	case in.Bounded():
		w.Band = &working.Band{Low: in.Lower, High: in.Upper, Level: doseLevel}
	default:
		p.Says = append(p.Says, fmt.Sprintf("The light for %s of the most %s, %.3g %s, %s.", share, f.Trial.Response, at, dliUnit, limitsText(in)))
	}
	p.Figures = append(p.Figures, w)
}

// addCurve keeps a form for the picture.
func (f *Findings) addCurve(p *Part, c curve.Candidate, low, high float64) {
	const steps = 60
	if p.Curves == nil {
		p.Curves = &Curves{}
		for k := range steps + 1 {
			p.Curves.X = append(p.Curves.X, low+(high-low)*float64(k)/steps)
		}
	}
	first := len(p.Curves.Forms) == 0
	out := Curve{Name: c.Form.String()}
	for _, x := range p.Curves.X {
		e := c.Response.At(x, level)
		out.Y = append(out.Y, e.Value)
		if first && e.SE > 0 {
			out.Low, out.High = append(out.Low, e.Interval.Lower), append(out.High, e.Interval.Upper)
		}
	}
	if len(out.Low) != len(out.Y) {
		out.Low, out.High = nil, nil
	}
	p.Curves.Forms = append(p.Curves.Forms, out)
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
