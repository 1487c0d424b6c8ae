package cli

import (
	"math"

	"underlamp/app/aswire"
	"underlamp/app/feed"
	"underlamp/science/nutrients"
	"underlamp/wire"
	"underlamp/working"
)

type feedLineOut struct {
	Product    string  `json:"product" doc:"its name"`
	Amount     float64 `json:"amount" doc:"to weigh or to measure, rounded to what can be weighed, in the unit"`
	Unit       string  `json:"unit" doc:"of the amount: g or mL"`
	Exact      float64 `json:"exact" doc:"the amount before it was rounded, in the unit"`
	MicroGrams float64 `json:"microGrams,omitempty" doc:"of the product, to dissolve in 1 L where it is too little to weigh (g)"`
	MicroML    float64 `json:"microMl,omitempty" doc:"of that litre to take (mL)"`
}

type feedIonOut struct {
	Ion   string   `json:"ion" doc:"element or ion, with the form in which it is counted"`
	Want  *float64 `json:"wantMgL,omitempty" doc:"wanted (mg/L); missing: nothing is wanted of it"`
	Got   float64  `json:"gotMgL" doc:"that the feed then has (mg/L)"`
	Water float64  `json:"waterMgL" doc:"of that, what the water brings (mg/L)"`
	Off   bool     `json:"off,omitempty" doc:"it is farther from what is wanted than is usual"`
	Why   string   `json:"why,omitempty" doc:"why it is off"`
}

type feedPartOut struct {
	Name     string        `json:"name" doc:"of the tank of stock"`
	Lines    []feedLineOut `json:"lines" doc:"what goes into it"`
	Use      string        `json:"use" doc:"how much of it goes into the feed"`
	Clear    bool          `json:"clear" doc:"it stays clear at the strength asked"`
	MostFold *float64      `json:"clearTo,omitempty" doc:"how many times stronger than the feed it stays clear; missing beyond 1000"` // left out beyond 1000
}

type mixOut struct {
	Name     string        `json:"name" doc:"of the feed"`
	Recipe   string        `json:"recipe,omitempty" doc:"name of the recipe"`
	Litres   float64       `json:"litres" doc:"of feed, or of stock (L)"`
	Lines    []feedLineOut `json:"lines" doc:"what to weigh for the feed itself"`
	Ions     []feedIonOut  `json:"ions" doc:"what the feed then has"`
	Parts    []feedPartOut `json:"stock,omitempty" doc:"tanks of stock; missing where none is asked for"`
	Apart    []feedLineOut `json:"intoTheFeed,omitempty" doc:"what goes into the feed and not into a tank"`
	Verdicts []string      `json:"stockVerdicts,omitempty" doc:"on the tanks of stock, in sentences"`
	Figures  []wire.Figure `json:"figures" doc:"of the feed, with working"`
	Why      []string      `json:"off,omitempty" doc:"what is off, and why"`
	Remedies []string      `json:"remedies,omitempty" doc:"what would mend it"`
	Notes    []string      `json:"notes,omitempty" doc:"what to know of it, in sentences"`
	Cautions []string      `json:"cautions,omitempty" doc:"for whoever mixes it"`
}

func feedLines(lines []feed.Line) []feedLineOut {
	out := []feedLineOut{}
	for _, l := range lines {
		out = append(out, feedLineOut{l.Product.Name, l.Amount, l.Product.Unit(), l.Exact, l.MicroGrams, l.MicroML})
	}
	return out
}

func feedIons(rows []feed.Row) []feedIonOut {
	out := []feedIonOut{}
	for _, r := range rows {
		o := feedIonOut{Ion: r.Ion.String(), Got: r.Got * r.Ion.Mass(), Water: r.Water * r.Ion.Mass(), Off: r.Off, Why: r.Why}
		if r.Asked {
			want := r.Want * r.Ion.Mass()
			o.Want = &want
		}
		out = append(out, o)
	}
	return out
}

func mixJSON(a *feed.Answer) mixOut {
	out := mixOut{Name: a.Plan.Name, Recipe: a.Plan.Recipe, Litres: a.Litres, Lines: feedLines(a.Lines), Ions: feedIons(a.Rows), Figures: aswire.Figures(a.Figures), Why: a.Why, Remedies: a.Remedies, Notes: a.Notes, Cautions: a.Cautions}
	if a.Stock != nil {
		for _, p := range a.Stock.Parts {
			o := feedPartOut{Name: p.Name, Lines: feedLines(p.Lines), Use: p.Use, Clear: p.Clear}
			if !math.IsInf(p.Most, 0) && p.Most > 0 {
				o.MostFold = &p.Most
			}
			out.Parts = append(out.Parts, o)
		}
		out.Apart, out.Verdicts = feedLines(a.Stock.Apart), a.Stock.Verdicts
	}
	return out
}

type correctOut struct {
	Litres  float64       `json:"litres" doc:"that the tank then holds (L)"`
	Date    string        `json:"date,omitempty" doc:"of the reading, YYYY-MM-DD"`
	Replace bool          `json:"replace" doc:"the tank is better made anew"`
	Drain   float64       `json:"drainShare" doc:"share of the tank to let out, 0 to 1"`
	Water   float64       `json:"waterLitres" doc:"to fill up with (L)"`
	Do      []string      `json:"do" doc:"what to do, step by step"`
	Lines   []feedLineOut `json:"lines" doc:"what to weigh"`
	Ions    []feedIonOut  `json:"ions" doc:"what is wanted and what the tank then has; waterMgL is what it holds now"` // waterMgL is what the tank holds now
	Figures []wire.Figure `json:"figures" doc:"of the tank, with working"`
	Log     []wire.Figure `json:"log,omitempty" doc:"what the log tells, with working"`
	Notes   []string      `json:"notes,omitempty" doc:"what to know of it, in sentences"`

	Cautions []string `json:"cautions,omitempty" doc:"for whoever does it"`
}

func correctJSON(a *feed.CorrectAnswer, d *feed.DriftAnswer) correctOut {
	return correctOut{a.Litres, a.Date, a.Replace, a.Drain, a.Water, a.Do, feedLines(a.Lines), feedIons(a.Now), aswire.Figures(a.Figures), aswire.Figures(d.Figures), append(a.Notes, d.Notes...), a.Cautions}
}

type recipeOut struct {
	Name   string             `json:"name" doc:"of the recipe"`
	Source string             `json:"source" doc:"where it is published"`
	Read   string             `json:"read" doc:"how its numbers came here"`
	MgL    map[string]float64 `json:"mgL" doc:"mg/L by element or ion"`
}

func recipesJSON() []recipeOut {
	var out []recipeOut
	for _, r := range nutrients.Recipes() {
		o := recipeOut{Name: r.Name, Source: working.Cite(r.Source), Read: r.Read, MgL: map[string]float64{}}
		for i := range nutrients.Ions {
			if r.Asks[i] {
				o.MgL[i.String()] = r.Amounts.MgL(i)
			}
		}
		out = append(out, o)
	}
	return out
}

// recipesOut is all of them.
type recipesOut struct {
	Recipes []recipeOut `json:"recipes" doc:"published recipes"`
}

// feedCheckOut is whether a feed holds together.
type feedCheckOut struct {
	Checks []feed.CheckRow `json:"checks" doc:"what was looked at"`
}

// substancesOut is the salts and acids that are known by name.
type substancesOut struct {
	Substances []substanceOut `json:"substances" doc:"salts and acids"`
}

type substanceOut struct {
	Name    string            `json:"name" doc:"by which it is known"`
	Formula string            `json:"formula" doc:"of what it is made of"`
	Holds   map[string]number `json:"mass_percent" doc:"ions and elements in it, in % of its mass; empty for a chelate, which goes by its label"`
	Soluble *number           `json:"solubility_20_c_g_l" unit:"g/L" doc:"at 20 °C; null if not known"`
	Memory  bool              `json:"solubility_from_memory,omitempty" doc:"the solubility is from memory, without a source"`
}

func substancesJSON() substancesOut {
	out := substancesOut{Substances: []substanceOut{}}
	for _, s := range nutrients.Substances() {
		o := substanceOut{Name: s.Name, Formula: s.Formula, Holds: map[string]number{}}
		for i := range nutrients.Ions {
			if n := s.PerMol[i]; n > 0 && s.Kind != nutrients.Chelate {
				o.Holds[i.String()] = number(100 * n * i.Mass() / s.Molar)
			}
		}
		if v := number(s.SolubilityAt(20)); v > 0 {
			o.Soluble, o.Memory = &v, s.FromMemory
		}
		out.Substances = append(out.Substances, o)
	}
	return out
}
