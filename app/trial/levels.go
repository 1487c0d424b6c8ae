package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/optimal"
	"underlamp/working"
)

// An Expected curve is what the grower takes the response over the light to be: a form
// with its parameters, or, for burn, the logit of its chance.
type Expected struct {
	Form       curve.Form
	Logit      bool // of burn: logit p = a + b x, and Parameters are a, b
	Parameters []float64
	Limit      float64 // of burn: the share that is borne
}

// ParseExpected reads "Mitscherlich 180 0.12 2" or "logit -7 0.35": the name of a form and
// its parameters in order.
func ParseExpected(text string) (Expected, error) {
	fields := strings.Fields(text)
	var words []string
	var p []float64
	for _, f := range fields {
		var x float64
		if _, err := fmt.Sscanf(f, "%g", &x); err == nil {
			p = append(p, x)
		} else {
			words = append(words, f)
		}
	}
	name := strings.ToLower(strings.Join(words, " "))
	var known []string
	for _, f := range curve.Forms {
		known = append(known, f.String()+" ("+strings.Join(f.Parameters(), ", ")+")")
	}
	known = append(known, "logit (a, b)")
	e := Expected{Parameters: p}
	want := []string{"a", "b"}
	switch name {
	case "logit", "burn":
		e.Logit = true
	default:
		found := false
		for _, f := range curve.Forms {
			if strings.ToLower(f.String()) == name {
				e.Form, want, found = f, f.Parameters(), true
			}
		}
		if !found {
			return e, fmt.Errorf("no curve is called %q; there are %s", name, strings.Join(known, "; "))
		}
	}
	if len(p) != len(want) {
		return e, fmt.Errorf("the curve %s takes %d numbers, %s; there are %d", name, len(want), strings.Join(want, ", "), len(p))
	}
	if e.Logit && !(p[1] > 0) {
		return e, fmt.Errorf("the chance of burn must rise with the light: b above 0")
	}
	return e, nil
}

func (e Expected) name() string {
	if e.Logit {
		return "logit of the chance of burn"
	}
	return e.Form.String()
}

func (e Expected) model() optimal.Model {
	if e.Logit {
		return optimal.Logistic(e.Parameters[0], e.Parameters[1])
	}
	return optimal.Model{Parameters: len(e.Parameters), Gradient: func(x float64) []float64 { return e.Form.Slopes(x, e.Parameters) }}
}

// Placed are levels of light put where an expected curve is informative.
type Placed struct {
	Levels  []float64 // mol/m²/d, rising, in steps of 0.1
	Figures []working.Figure
	Says    []string
}

// Levels places n levels between low and high. The best are as many as the curve has
// parameters; findings need one more to fit it at all, and that one, or more, goes into
// the widest gaps, where it can show that the form is wrong.
func Levels(e Expected, low, high float64, n int) (*Placed, error) {
	m := e.model()
	k := m.Parameters
	if !(low > 0 && high > low && high <= 80) {
		return nil, fmt.Errorf("light is tried between two levels above 0 and up to 80 %s", dliUnit)
	}
	if n < k+1 {
		return nil, fmt.Errorf("the %s has %d parameters, so it takes at least %d levels to be fitted and doubted; there are %d", e.name(), k, k+1, n)
	}
	if n > 12 {
		return nil, fmt.Errorf("%d levels are more than 12; repeats tell more than further levels", n)
	}
	d, err := m.D(low, high)
	if err != nil {
		return nil, fmt.Errorf("%w; is the curve right for this range?", err)
	}
	out := &Placed{}
	var best []string
	for _, p := range d.Points {
		out.Levels = append(out.Levels, math.Round(10*p.X)/10)
		best = append(best, fmt.Sprintf("%s (%s of the units)", quantity.Number(p.X, 3), working.Percent(p.Share)))
	}
	for len(out.Levels) < n {
		gaps := append([]float64{low}, out.Levels...)
		gaps = append(gaps, high)
		at, wide := 0, 0.0
		for i := 1; i < len(gaps); i++ {
			w := gaps[i] - gaps[i-1]
			if i == 1 || i == len(gaps)-1 {
				w *= 0.75 // beyond the levels there is no gap to bridge
			}
			if w > wide {
				wide, at = w, i
			}
		}
		x := math.Round(5*(gaps[at-1]+gaps[at])) / 10
		if at == 1 {
			x = low
		} else if at == len(gaps)-1 {
			x = high
		}
		if slices.Contains(out.Levels, x) {
			return nil, fmt.Errorf("between %s and %s %s there is no room for %d levels", quantity.Number(low, 3), quantity.Number(high, 3), dliUnit, n)
		}
		out.Levels = append(out.Levels, x)
		slices.Sort(out.Levels)
	}
	efficiency := func(levels []float64) float64 {
		var p []optimal.Point
		for _, x := range levels {
			p = append(p, optimal.Point{X: x, Share: 1 / float64(len(levels))})
		}
		v, err := m.DEfficiency(p, low, high)
		if err != nil {
			return 0
		}
		return v
	}
	even := make([]float64, n)
	for i := range even {
		even[i] = low + (high-low)*float64(i)/float64(n-1)
	}
	var numbers []string
	for _, x := range e.Parameters {
		numbers = append(numbers, quantity.Number(x, 4))
	}
	inputs := []working.Input{
		working.Plain("expected curve", e.name()+" "+strings.Join(numbers, ", "), underlamp.Stated.String()),
		working.Plain("range", fmt.Sprintf("%s to %s %s", quantity.Number(low, 3), quantity.Number(high, 3), dliUnit), underlamp.Stated.String()),
	}
	sources := []string{"Chernoff1953", "KieferWolfowitz1960"}
	out.Figures = append(out.Figures,
		working.Figure{Name: "these levels, with as many units each", Value: 100 * efficiency(out.Levels), Unit: "% of the best", Digits: 3, Working: working.Working{Formula: "(det M / det M of the best)^(1/parameters), M the information of the levels at the expected curve", Inputs: inputs, Sources: sources,
			Notes: []string{"the best: " + strings.Join(best, ", "), fmt.Sprintf("proof: the sensitivity is nowhere in the range above %.7g", d.Worst)}}},
		working.Figure{Name: "even levels", Value: 100 * efficiency(even), Unit: "% of the best", Digits: 3, Working: working.Working{Formula: "the same for levels at equal steps", Inputs: inputs, Sources: sources}})
	out.Says = append(out.Says, fmt.Sprintf("The levels that tell the expected curve best are %s %s.", strings.Join(best, ", "), dliUnit),
		fmt.Sprintf("The other %s can show that the form is wrong.", plural(n-len(d.Points), "level", "levels")),
		"They are best if the curve is as expected; if it is not, they may be worse than even levels.")
	if e.Logit && e.Limit > 0 && e.Limit < 1 {
		x := (math.Log(e.Limit/(1-e.Limit)) - e.Parameters[0]) / e.Parameters[1]
		switch {
		case x < low || x > high:
			out.Says = append(out.Says, fmt.Sprintf("The expected safe light, %s %s, lies outside the range: try others.", quantity.Number(x, 3), dliUnit))
		default:
			out.Says = append(out.Says, fmt.Sprintf("The expected safe light (%s of plants) is %s %s. It alone is told best by units close to it, but where it is, is not known; these levels tell the whole curve.", working.Percent(e.Limit), quantity.Number(x, 3), dliUnit))
		}
	}
	return out, nil
}

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}
