package trial

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/stat"
	"underlamp/science/stat/onset"
	"underlamp/working"
)

// An OnsetPlant is what the rounds saw of one plant: the last day without burn and the
// first with it, +Inf if never.
type OnsetPlant struct {
	Unit, Plant string
	Last, First float64
}

// An OnsetCurve is the share of a treatment's plants that have begun to burn. Mass lies
// somewhere within (Left, Right]; where within is not known.
type OnsetCurve struct {
	Treatment         string
	Left, Right, Mass []float64
	Plants            []OnsetPlant
	ModelDay, Model   []float64 // share by day after the Weibull law, if it could be fitted
}

// Onset are the curves of the treatments.
type Onset struct {
	Curves []OnsetCurve
	Until  float64 // last day on which was looked
}

const earlyShare = 0.1 // whose day is told

// onsets are the observations by plant.
func (f *Findings) onsets() (plants []OnsetPlant, err error) {
	at := map[plantKey]int{}
	for _, e := range f.entries {
		if e.Missing != "" || (e.What != underlamp.ResponseClear && e.What != underlamp.ResponseFirst) {
			continue
		}
		k := plantKey{e.TrialUnit, e.Plant}
		i, ok := at[k]
		if !ok {
			i = len(plants)
			at[k] = i
			plants = append(plants, OnsetPlant{Unit: k.unit, Plant: k.plant, First: math.Inf(1)})
		}
		if e.What == underlamp.ResponseClear {
			plants[i].Last = max(plants[i].Last, e.Value)
		} else {
			plants[i].First = min(plants[i].First, e.Value)
		}
	}
	for _, o := range plants {
		if o.Last > o.First {
			return nil, fmt.Errorf("unit %s, plant %s: burn on day %g and none seen on day %g after it; burn does not heal, so one of both is a slip. Correct it, and the days can be read", o.Unit, o.Plant, o.First, o.Last)
		}
		if err := (onset.Observation{Last: o.Last, First: o.First}).Check(); err != nil {
			return nil, fmt.Errorf("unit %s, plant %s: %w", o.Unit, o.Plant, err)
		}
	}
	return plants, nil
}

// onsetScores are the log-rank scores of the plants by unit (Sun1996).
func (f *Findings) onsetScores() (raw map[string][]float64, began int, err error) {
	plants, err := f.onsets()
	if err != nil {
		return nil, 0, err
	}
	obs := observations(plants)
	for _, o := range obs {
		if !math.IsInf(o.First, 1) {
			began++
		}
	}
	if began == 0 {
		return nil, 0, stat.Refuse("a comparison of the days of the first burn", "no burn was seen at any round")
	}
	all, err := onset.FitNPMLE(obs)
	if err != nil {
		return nil, began, err
	}
	scores, err := all.Scores(obs, onset.Sun)
	if err != nil {
		return nil, began, err
	}
	raw = map[string][]float64{}
	for i, o := range plants {
		raw[o.Unit] = append(raw[o.Unit], scores[i])
	}
	return raw, began, nil
}

func observations(plants []OnsetPlant) []onset.Observation {
	out := make([]onset.Observation, len(plants))
	for i, o := range plants {
		out[i] = onset.Observation{Last: o.Last, First: o.First}
	}
	return out
}

// onset tells of the day of the first burn, as the rounds saw it.
func (f *Findings) onset() {
	plants, err := f.onsets()
	if err == nil && len(plants) == 0 {
		return
	}
	p := Part{Title: "The day of the first burn"}
	defer func() { f.Parts = append(f.Parts, p) }()
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	raw, began, err := f.onsetScores()
	if began == 0 {
		p.Says = append(p.Says, "No burn was seen at any round; there is no day to compare.")
		return
	}
	p.Onset = f.onsetCurves(plants)
	if err != nil {
		p.Says = append(p.Says, sentence(err))
		return
	}
	if t, err := f.onUnits(raw); err != nil {
		p.Says = append(p.Says, "The days are not tested: "+lower(sentence(err)))
	} else {
		p.Figures = append(p.Figures, working.Figure{Name: "F of the day of first burn", Value: t.Statistic, Working: working.Working{
			Formula: "log-rank scores of Sun by plant, averaged by unit, analysed as the primary response",
			Inputs:  []working.Input{working.Plain("plants with burn", fmt.Sprintf("%d of %d", began, len(plants)), underlamp.Measured.String()), working.Plain("p", pText(t.P), underlamp.Computed.String())}, Sources: []string{"Turnbull1976", "Sun1996"}}})
		p.Says = append(p.Says, fmt.Sprintf("The day of the first burn by treatment: F = %.3g with %.0f and %.0f degrees of freedom, p %s. Days between two rounds are not guessed.", t.Statistic, t.DF1, t.DF2, pText(t.P)))
	}
	f.onsetLaw(&p, plants)
}

// onsetCurves are Turnbull's estimates by treatment.
func (f *Findings) onsetCurves(plants []OnsetPlant) *Onset {
	treatment := f.treatmentOf()
	out := &Onset{}
	for _, o := range plants {
		out.Until = max(out.Until, o.Last)
		if !math.IsInf(o.First, 1) {
			out.Until = max(out.Until, o.First)
		}
	}
	for _, t := range f.Trial.Treatments {
		c := OnsetCurve{Treatment: t.Name}
		for _, o := range plants {
			if treatment[o.Unit] == t.Name {
				c.Plants = append(c.Plants, o)
			}
		}
		if len(c.Plants) == 0 {
			continue
		}
		if n, err := onset.FitNPMLE(observations(c.Plants)); err == nil {
			c.Left, c.Right, c.Mass = n.Left, n.Right, n.Mass
		}
		out.Curves = append(out.Curves, c)
	}
	return out
}

func (f *Findings) treatmentOf() map[string]string {
	out := map[string]string{}
	for _, u := range f.Trial.Places {
		out[u.Name] = u.Treatment
	}
	return out
}

// onsetLaw fits Weibull's law to the intervals, over the light where it is known and has
// three levels, else by treatment, with covariance clustered by what treatments were given to.
func (f *Findings) onsetLaw(p *Part, plants []OnsetPlant) {
	light := true
	doses := map[float64]bool{}
	cluster, place := map[string]int{}, map[string]underlamp.TrialUnit{}
	clusters := map[string]int{}
	for _, u := range f.Trial.Places {
		name := u.Name
		if f.Trial.Layout == underlamp.SplitLayout {
			name = u.Whole
		}
		if _, ok := clusters[name]; !ok {
			clusters[name] = len(clusters)
		}
		cluster[u.Name], place[u.Name] = clusters[name], u
	}
	seen := map[int]bool{}
	for _, o := range plants {
		d := doseOf(f.Trial, place[o.Unit])
		light = light && d > 0
		doses[d], seen[cluster[o.Unit]] = true, true
	}
	light = light && len(doses) >= 3
	var levels []string
	for _, c := range p.Onset.Curves {
		levels = append(levels, c.Treatment)
	}
	base := 0
	for i, l := range levels {
		for _, t := range f.Trial.Treatments {
			if t.Name == l && t.Control {
				base = i
			}
		}
	}
	names := []string{"intercept"}
	row := func(unit string) []float64 {
		if light {
			return []float64{1, doseOf(f.Trial, place[unit])}
		}
		x := make([]float64, len(levels))
		x[0] = 1
		k := slices.Index(levels, place[unit].Treatment)
		switch {
		case k == base:
		case k < base:
			x[k+1] = 1
		default:
			x[k] = 1
		}
		return x
	}
	if light {
		names = append(names, dliUnit)
	} else {
		for i, l := range levels {
			if i != base {
				names = append(names, l)
			}
		}
	}
	if len(names) < 2 {
		return
	}
	var x [][]float64
	var c []int
	for _, o := range plants {
		x, c = append(x, row(o.Unit)), append(c, cluster[o.Unit])
	}
	law, err := onset.FitRegression(onset.Weibull, observations(plants), x, names)
	if err == nil {
		law, err = law.Clustered(c, len(names))
	}
	if err != nil {
		p.Says = append(p.Says, "A law of the days (Weibull) cannot be fitted: "+lower(sentence(err))+" The curves without a law stand.")
		return
	}
	if law.DF < 3 {
		p.Says = append(p.Says, "There are too few units for limits of a law of the days; the curves without a law stand.")
		return
	}
	in := []working.Input{working.Plain("shape of the law", fmt.Sprintf("%.3g", 1/law.Scale), underlamp.Fitted.String()), working.Plain("clusters", fmt.Sprint(len(seen)), underlamp.Computed.String()), working.Plain("degrees of freedom", fmt.Sprintf("%.0f", law.DF), underlamp.Computed.String())}
	for _, e := range law.Estimates(level)[1:] {
		name, unit := "day of burn of "+e.Name+" for "+levels[base], "times"
		if light {
			name, unit = "day of burn for 1 "+dliUnit+" more", "times"
		}
		w := working.Figure{Name: name, Value: math.Exp(e.Value), Unit: unit, Band: &working.Band{Low: math.Exp(e.Interval.Lower), High: math.Exp(e.Interval.Upper), Level: level},
			Working: working.Working{Formula: "exp(b) of ln day = a + b·x + σ·error (Weibull) by the likelihood of the intervals, covariance clustered by lamp",
				Inputs: append(slices.Clone(in), working.Plain("b", fmt.Sprintf("%.4g", e.Value), underlamp.Fitted.String())), Sources: []string{"Turnbull1976", "Finkelstein1986"}}}
		p.Figures = append(p.Figures, w)
		if light {
			switch {
			case e.Interval.Upper < 0:
				p.Says = append(p.Says, fmt.Sprintf("With 1 %s more light the first burn comes at %.3g times the day, %.3g to %.3g: sooner.", dliUnit, w.Value, w.Band.Low, w.Band.High))
			case e.Interval.Lower > 0:
				p.Says = append(p.Says, fmt.Sprintf("With 1 %s more light the first burn comes at %.3g times the day, %.3g to %.3g: later.", dliUnit, w.Value, w.Band.Low, w.Band.High))
			default:
				p.Says = append(p.Says, "Whether burn comes sooner with more light is left open by the law of the days.")
			}
		}
	}
	for i := range p.Onset.Curves {
		k := &p.Onset.Curves[i]
		at := row(k.Plants[0].Unit)
		if light {
			at = []float64{1, f.meanDose(k.Plants, place)}
		}
		e, err := law.Quantile(earlyShare, at, doseLevel)
		if err != nil {
			continue
		}
		w := working.Figure{Name: "day by which a tenth burns, " + k.Treatment, Value: e.Value, Unit: "d", Digits: 3, Working: working.Working{
			Formula: "Weibull's law at the treatment, share 10 %", Inputs: in, Sources: []string{"Finkelstein1986"}}}
		if e.Value > p.Onset.Until {
			w.Word = fmt.Sprintf("later than day %.3g, the last look", p.Onset.Until)
			w.Value = p.Onset.Until
		} else {
			w.Band = &working.Band{Low: e.Interval.Lower, High: e.Interval.Upper, Level: doseLevel}
			if e.Interval.Upper > p.Onset.Until {
				w.Working.Notes = append(w.Working.Notes, "the later limit lies beyond the last look: it is the law's word alone")
			}
		}
		p.Figures = append(p.Figures, w)
		mu := 0.0
		for j, v := range at {
			mu += v * law.Coef[j]
		}
		for n := range 101 {
			day := p.Onset.Until * float64(n) / 100
			k.ModelDay = append(k.ModelDay, day)
			k.Model = append(k.Model, -math.Expm1(-math.Pow(day/math.Exp(mu), 1/law.Scale)))
		}
	}
}

func (f *Findings) meanDose(plants []OnsetPlant, place map[string]underlamp.TrialUnit) float64 {
	var sum float64
	for _, o := range plants {
		sum += doseOf(f.Trial, place[o.Unit])
	}
	return sum / float64(len(plants))
}

// lower makes a clause of a sentence.
func lower(s string) string {
	r := []rune(s)
	if len(r) > 1 && r[0] >= 'A' && r[0] <= 'Z' && (r[1] >= 'a' && r[1] <= 'z' || r[1] == ' ') {
		r[0] += 'a' - 'A'
	}
	return string(r)
}
