package trial

import (
	"context"
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/ranks"
	"underlamp/working"
)

const (
	level     = 0.95 // of limits
	doseLevel = 0.90 // of limits of thresholds and optima
)

// Titles of the parts that the summary picks from.
const (
	titleTreatments = "Treatments compared, by units"
	titleLight      = "Over the light that the units got"
	titleBurn       = "Burn and the safe light"
	titleFit        = "Do the units fit the analysis?"
)

// A Unit is what a unit gave.
type Unit struct {
	underlamp.TrialUnit
	N    int     // plants with a value
	Mean float64 // of the primary response: a share for burn, a mean midrank for severity
	Dose float64 // DLI: what it got, else what was aimed at; 0 if neither is known
	Raw  []float64
}

// A Line is a row of the table of variance.
type Line struct {
	Name   string
	DF     int
	SS, MS float64
	F, P   float64
	Tested bool
	Why    string // why there is no test
}

// A Part is one question with its answer. Where it has a picture, what the picture needs
// is one of its last fields; package report draws it.
type Part struct {
	Title   string
	Says    []string
	Heads   int // how many of the first of Says stand in the summary
	Figures []working.Figure
	Tests   []Exploratory
	Tells   Telling // what its sentences are for

	Grades    *Grades
	Onset     *Onset
	Residuals *Residuals
	Curves    *Curves
	Burn      *BurnCurve
}

// A Telling is what a part answers.
type Telling int

// What parts tell.
const (
	Outcome   Telling = iota // what came out
	Advice                   // what to do
	Certainty                // how sure it is
)

// Findings are what a trial tells.
type Findings struct {
	Trial   *underlamp.Trial
	Units   []Unit
	Lines   []Line
	Summary []string // plain words, the most important first
	Parts   []Part
	Notes   []string
	Growth  []*Growth // of each measure that was taken at several times

	entries             []underlamp.TrialEntry
	terms               Terms
	treat, block, place stat.Factor
	hasBlock            bool
	means               *linear.Means
	analysis            *anova.Analysis
	splitPlot           *anova.SplitPlotAnalysis
	best                *curve.Response // the form of the response over the light, nil if none was identified
}

// Figures lists every figure.
func (f *Findings) Figures() []working.Figure {
	var out []working.Figure
	for _, p := range f.Parts {
		out = append(out, p.Figures...)
	}
	return out
}

// Find reads a trial. entries are those that stand. The error says what is missing for any
// answer at all; what a single question lacks is said in its part.
func Find(t *underlamp.Trial, entries []underlamp.TrialEntry) (*Findings, error) {
	return FindPriced(context.Background(), t, entries, Terms{}, nil)
}

// FindPriced is Find with what light costs and heads bring, for the light that brings most.
// progress hears after each part how many of them are done; nil for nobody. Between parts
// it ends with the error of ctx if that has ended.
func FindPriced(ctx context.Context, t *underlamp.Trial, entries []underlamp.TrialEntry, terms Terms, progress func(done, of int)) (*Findings, error) {
	f := &Findings{Trial: t, entries: entries, terms: terms}
	if err := f.gather(); err != nil {
		return nil, err
	}
	parts := []func(){f.primary, f.likeness, f.dose, f.burn, f.severity, f.onset, f.growth, f.others, f.carry, f.again, f.checks, f.summarise}
	for i, part := range parts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		part()
		if progress != nil {
			progress(i+1, len(parts))
		}
	}
	for _, p := range f.Parts {
		for i := range p.Figures {
			p.Figures[i].Even = true
		}
	}
	return f, nil
}

// A plantKey is a plant of a unit.
type plantKey struct{ unit, plant string }

// valuesOf are what was seen of each plant: of a response the last look counts, but for
// burn, which does not heal. twice counts plants whose last day has two values that differ.
func valuesOf(entries []underlamp.TrialEntry, what underlamp.Response) (values map[plantKey]float64, order []plantKey, missing, twice int) {
	entries, _ = finals(entries, what)
	values = map[plantKey]float64{}
	last := map[plantKey]string{}
	odd := map[plantKey]bool{}
	for _, e := range entries {
		if e.What != what {
			continue
		}
		if e.Missing != "" {
			missing++
			continue
		}
		k := plantKey{e.TrialUnit, e.Plant}
		old, seen := values[k]
		switch {
		case !seen:
			order = append(order, k)
			values[k], last[k] = e.Value, e.Time
		case what == underlamp.ResponseBurn:
			values[k] = max(old, e.Value)
		case e.Time >= last[k]:
			odd[k] = e.Time == last[k] && e.Value != old || e.Time == last[k] && odd[k]
			values[k], last[k] = e.Value, e.Time
		}
	}
	for _, is := range odd {
		if is {
			twice++
		}
	}
	return values, order, missing, twice
}

// gather brings the plants of the primary response to units.
func (f *Findings) gather() error {
	t := f.Trial
	at := map[string]bool{}
	for _, u := range t.Places {
		at[u.Name] = true
	}
	for _, e := range f.entries {
		if !at[e.TrialUnit] {
			return fmt.Errorf("line %d of the table: the trial has no unit %q", e.Line, e.TrialUnit)
		}
		if e.Missing == "" && (math.IsNaN(e.Value) || math.IsInf(e.Value, 0)) {
			return fmt.Errorf("line %d of the table: the %s of plant %s is no number", e.Line, e.What, e.Plant)
		}
	}
	values, order, missing, twice := valuesOf(f.entries, t.Response)
	if _, gone := finals(f.entries, t.Response); gone > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s last seen days before the last look at the unit: in the growth, and not in the comparison of the last looks.", count(gone, "plant was", "plants were")))
	}
	if len(order) == 0 {
		return fmt.Errorf("the table holds no %s yet; enter it with underlamp trial record or import", t.Response)
	}
	v := make([]float64, len(order))
	for i, k := range order {
		v[i] = values[k]
	}
	if t.Response == underlamp.ResponseSeverity {
		v = ranks.Of(v)
		f.Notes = append(f.Notes, "Grades are compared by their midranks over all plants, averaged in each unit.")
	}
	raw := map[string][]float64{}
	for i, k := range order {
		raw[k.unit] = append(raw[k.unit], v[i])
	}
	f.fill(raw)
	if n := len(t.Places) - len(f.Units); n > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("Nothing was seen of %s of %s; they are left out.", count(n, "unit", "units"), fmt.Sprint(len(t.Places))))
	}
	if missing > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s missing; the table has the reason. If plants were lost because of the treatment itself, the means of the others mislead.", count(missing, "value is", "values are")))
	}
	if twice > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s two values of one day that differ; the later line counts. Strike the wrong one.", count(twice, "plant has", "plants have")))
	}
	return nil
}

// fill makes the units of values by unit.
func (f *Findings) fill(raw map[string][]float64) {
	t := f.Trial
	for _, place := range t.Places {
		u := Unit{TrialUnit: place, Dose: doseOf(t, place), Raw: raw[place.Name]}
		if u.N = len(u.Raw); u.N == 0 {
			continue
		}
		for _, x := range u.Raw {
			u.Mean += x / float64(u.N)
		}
		f.Units = append(f.Units, u)
	}
	f.treat = f.factor("treatment", func(u Unit) string { return u.Treatment })
	f.block = f.factor("block", func(u Unit) string { return u.Block })
	f.place = f.factor("place", func(u Unit) string { return u.Place })
	f.hasBlock = byBlock(t.Layout) && len(f.block.Levels) > 1
}

func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func doseOf(t *underlamp.Trial, u underlamp.TrialUnit) float64 {
	if u.DLI > 0 {
		return float64(u.DLI)
	}
	for _, x := range t.Treatments {
		if x.Name == u.Treatment {
			return float64(x.DLI)
		}
	}
	return 0
}

// factor sorts units; treatments stand in the order of the plan.
func (f *Findings) factor(name string, of func(Unit) string) stat.Factor {
	labels := make([]string, len(f.Units))
	for i, u := range f.Units {
		labels[i] = of(u)
	}
	x := stat.NewFactor(name, labels)
	if name != "treatment" {
		return x
	}
	var levels []string
	for _, t := range f.Trial.Treatments {
		if slices.Contains(labels, t.Name) {
			levels = append(levels, t.Name)
		}
	}
	for i, l := range labels {
		x.Of[i] = slices.Index(levels, l)
	}
	x.Levels = levels
	return x
}

func (f *Findings) values() []float64 {
	v := make([]float64, len(f.Units))
	for i, u := range f.Units {
		v[i] = u.Mean
	}
	return v
}

// unit is the unit of the means.
func (f *Findings) unit() string {
	if f.Trial.Response == underlamp.ResponseBurn {
		return "share"
	}
	if f.Trial.Response == underlamp.ResponseSeverity {
		return "midrank"
	}
	return f.Trial.Response.Unit()
}

func lineOf(l anova.Line) Line {
	out := Line{Name: l.Name, DF: l.DF, SS: l.SS, MS: l.MS}
	if l.Refused != nil {
		out.Why = l.Refused.Because
	} else if l.Test.DF1 > 0 {
		out.F, out.P, out.Tested = l.Test.Statistic, l.Test.P, true
	}
	return out
}

func pText(p float64) string {
	switch {
	case p < 0.001:
		return "< 0.001"
	case p < 0.1:
		return fmt.Sprintf("= %.3f", p)
	}
	return fmt.Sprintf("= %.2f", p)
}

// pFigure is a figure of a p value.
func pFigure(name string, p float64, w working.Working) working.Figure {
	f := working.Figure{Name: name, Value: p, Digits: 2, Working: w}
	if p < 0.001 {
		f.Word = "under 0.001"
	}
	return f
}

// sentence makes a sentence of an error.
func sentence(err error) string {
	s := []rune(err.Error())
	if len(s) == 0 {
		return ""
	}
	if s[0] >= 'a' && s[0] <= 'z' {
		s[0] -= 'a' - 'A'
	}
	if s[len(s)-1] != '.' {
		s = append(s, '.')
	}
	return string(s)
}
