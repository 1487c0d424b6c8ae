package aswire

import (
	"math"

	"underlamp"
	"underlamp/app/feed"
	"underlamp/science/nutrients"
	"underlamp/wire"
	"underlamp/working"
)

// feedLines are what is weighed; amounts are of steps of the scale, without what binary numbers
// leave behind.
func feedLines(lines []feed.Line) []wire.FeedLine {
	out := []wire.FeedLine{}
	for _, l := range lines {
		x := wire.FeedLine{Product: l.Product.Name, Amount: wire.Number(math.Round(1e6*l.Amount) / 1e6), Unit: l.Product.Unit(), Exact: wire.Number(l.Exact), Note: l.Note}
		if l.MicroGrams > 0 {
			g, ml := wire.Number(l.MicroGrams), wire.Number(l.MicroML)
			x.MicroGrams, x.MicroML = &g, &ml
		}
		out = append(out, x)
	}
	return out
}

func feedIons(rows []feed.Row) []wire.FeedIon {
	out := []wire.FeedIon{}
	for _, r := range rows {
		x := wire.FeedIon{Ion: r.Ion.String(), Got: wire.Number(r.Got * r.Ion.Mass()), Water: wire.Number(r.Water * r.Ion.Mass()), Off: r.Off, Why: r.Why}
		if r.Asked {
			want := wire.Number(r.Want * r.Ion.Mass())
			x.Want = &want
		}
		out = append(out, x)
	}
	return out
}

// FeedMix is what to weigh, with what was looked at.
func FeedMix(file string, whatIf bool, p *underlamp.FeedPlan) wire.FeedMix {
	a, checks := feed.Check(p)
	out := wire.FeedMix{File: file, Name: p.Name, Recipe: p.Recipe, WhatIf: whatIf, Litres: wire.Number(a.Litres), Lines: feedLines(a.Lines), Ions: feedIons(a.Rows), EC: wire.Number(a.Mix.Reading.EC), PH: wire.Number(a.Mix.Reading.PH),
		Stock: []wire.FeedStock{}, Apart: []wire.FeedLine{}, Verdicts: []string{}, Checks: []wire.FeedCheck{}, Off: list(a.Why), Remedies: list(a.Remedies), Figures: Figures(a.Figures), Notes: list(a.Notes), Cautions: list(a.Cautions)}
	if a.Stock != nil {
		for _, part := range a.Stock.Parts {
			x := wire.FeedStock{Name: part.Name, Lines: feedLines(part.Lines), Use: part.Use, Clear: part.Clear}
			if !math.IsInf(part.Most, 0) && part.Most > 0 {
				most := wire.Number(part.Most)
				x.Most = &most
			}
			out.Stock = append(out.Stock, x)
		}
		out.Apart, out.Verdicts = feedLines(a.Stock.Apart), list(a.Stock.Verdicts)
	}
	for _, c := range checks {
		out.Checks = append(out.Checks, wire.FeedCheck(c))
	}
	return out
}

// FeedCorrection is what to do with a running tank.
func FeedCorrection(file string, a *feed.CorrectAnswer) wire.FeedCorrection {
	return wire.FeedCorrection{File: file, Of: a.Date, Litres: wire.Number(a.Litres), Replace: a.Replace, Drain: wire.Number(a.Drain), Water: wire.Number(a.Water), Guessed: a.Guessed, Do: list(a.Do), Lines: feedLines(a.Lines), Ions: feedIons(a.Now), Figures: Figures(a.Figures), Notes: list(a.Notes), Cautions: list(a.Cautions)}
}

// FeedLog is what was read of a tank.
func FeedLog(p *underlamp.FeedPlan) wire.FeedLog {
	d := feed.Drift(p)
	out := wire.FeedLog{Items: []wire.FeedEntry{}, PerDay: wire.Number(d.PerDay), Figures: Figures(d.Figures), Notes: list(d.Notes)}
	for _, r := range d.Rows {
		e := r.Entry
		x := wire.FeedEntry{Date: e.Date, New: e.New, Volume: wire.Number(e.Litres), EC: wire.Number(e.EC), PH: wire.Number(e.PH), C: wire.Number(e.C), Water: wire.Number(e.Water), By: e.By, Note: e.Note, EC1: wire.Number(r.EC), Day: wire.Number(r.Day)}
		for i := range nutrients.Ions {
			if e.Knows[i] {
				if x.Ions == nil {
					x.Ions = map[string]wire.Number{}
				}
				x.Ions[i.String()] = wire.Number(e.Known.MgL(i))
			}
		}
		for k, v := range e.Added {
			if v > 0 {
				x.Added = append(x.Added, wire.FeedAdded{Product: p.Cupboard[k].Name, Amount: wire.Number(v), Unit: p.Cupboard[k].Unit()})
			}
		}
		out.Items = append(out.Items, x)
	}
	return out
}

// FeedRecipes are the published targets.
func FeedRecipes() []wire.FeedRecipe {
	out := []wire.FeedRecipe{}
	for _, r := range nutrients.Recipes() {
		x := wire.FeedRecipe{Name: r.Name, Source: working.Cite(r.Source), Read: r.Read, EC: wire.Number(r.StatedEC), Ions: map[string]wire.Number{}, Note: r.Note}
		for i := range nutrients.Ions {
			if r.Asks[i] {
				x.Ions[i.String()] = wire.Number(r.Amounts.MgL(i))
			}
		}
		out = append(out, x)
	}
	return out
}

// FeedSubstances are what products are made of.
func FeedSubstances() []wire.FeedSubstance {
	out := []wire.FeedSubstance{}
	for _, s := range nutrients.Substances() {
		if s.Tank == nutrients.NoTank {
			continue
		}
		x := wire.FeedSubstance{Name: s.Name, Also: list(s.Also), Formula: s.Formula, Molar: wire.Number(s.Molar), Holds: []string{}, Caution: s.Caution}
		for i := range nutrients.Ions {
			if s.PerMol[i] > 0 {
				x.Holds = append(x.Holds, i.String())
			}
		}
		out = append(out, x)
	}
	return out
}
