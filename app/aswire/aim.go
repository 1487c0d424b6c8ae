package aswire

import (
	"underlamp/app/aim"
	"underlamp/wire"
)

func proposal(p *aim.Proposal) wire.Proposal {
	o := wire.Proposal{
		HeightM: float64(p.Height), Hours: float64(p.Hours), Layout: p.Layout.Name, Lowest: wire.Number(p.Lowest), Mean: wire.Number(p.Mean), Top: wire.Number(p.Top),
		DLI: wire.Number(p.DLI), Uneven: wire.Number(p.Uneven), Within: p.Within, Under: wire.Number(p.Under), Watt: wire.Number(p.Power), Day: wire.Number(p.Day), Money: wire.Number(p.Money),
		Lamps: []wire.DimmedLamp{}, Exact: p.Exact,
	}
	for _, s := range p.Light {
		o.Light = append(o.Light, s.String())
	}
	for k, n := range p.Layout.Names() {
		o.Lamps = append(o.Lamps, wire.DimmedLamp{Name: n, X: p.Layout.X[k], Y: p.Layout.Y[k], Dimming: float64(p.Dim[k])})
	}
	return o
}

func proposals(all []aim.Proposal) []wire.Proposal {
	out := []wire.Proposal{}
	for i := range all {
		out = append(out, proposal(&all[i]))
	}
	return out
}

// Aim is a target of light; wanted is the question in words.
func Aim(r *aim.Result, wanted string) wire.Aim {
	return wire.Aim{
		Bench: r.Bench.Name, Wanted: wanted, Currency: r.Currency, Found: r.Found, Before: proposal(&r.Before), After: proposal(&r.After),
		Figures: Figures(r.AfterFigures), RunnerUps: proposals(r.RunnerUps), Curve: proposals(r.Curve), Limits: list(r.Limits), Notes: list(r.Notes), Searched: r.Searched,
	}
}

func sides(both [2]aim.SideAnswer) []wire.MatchSide {
	out := []wire.MatchSide{}
	for _, s := range both {
		o := wire.MatchSide{Bench: s.Bench.Name, Plants: list(s.Plants), Lamps: []wire.DimmedLamp{}, HeightM: float64(s.Height), Hours: float64(s.Hours), Level: wire.Number(s.Level.Value), Unit: s.Level.Unit,
			Low: wire.Number(s.Level.Band.Low), High: wire.Number(s.Level.Band.High), Uneven: wire.Number(s.Uneven), Watt: wire.Number(s.Power)}
		for k, l := range s.Bench.Lamps {
			o.Lamps = append(o.Lamps, wire.DimmedLamp{Name: l.Name, X: float64(l.X), Y: float64(l.Y), Dimming: float64(s.Dim[k])})
		}
		out = append(out, o)
	}
	return out
}

// Match is two groups of plants in one light.
func Match(r *aim.MatchResult) wire.Match {
	by := "PPFD"
	if r.Ask.DLI {
		by = "DLI"
	}
	return wire.Match{By: by, Found: r.Found, Before: sides(r.Before), After: sides(r.After), Ratio: wire.Number(r.Ratio.Value),
		Band: [2]wire.Number{wire.Number(r.Ratio.Band.Low), wire.Number(r.Ratio.Band.High)}, Apart: wire.Number(r.Apart),
		Day: [2]float64{float64(r.DayBefore), float64(r.DayAfter)}, Limits: list(r.Limits), Notes: list(r.Notes)}
}

// Raise is a calendar of moves.
func Raise(r *aim.RaiseResult) wire.Raise {
	o := wire.Raise{Bench: r.Bench.Name, Target: wire.Number(r.Target), Moves: []wire.RaiseMove{}, Days: []wire.RaiseDay{}, Out: r.Out, Limits: list(r.Limits), Notes: list(r.Notes)}
	for _, m := range r.Moves {
		o.Moves = append(o.Moves, wire.RaiseMove{Day: m.Day, Date: m.Date, From: float64(m.From), To: float64(m.To)})
	}
	for _, d := range r.Days {
		o.Days = append(o.Days, wire.RaiseDay{Day: d.Day, Date: d.Date, Canopy: float64(d.Canopy), Low: float64(d.Low), High: float64(d.High), Lamps: float64(d.Lamps), PPFD: wire.Number(d.PPFD), Stay: wire.Number(d.Stay), Held: d.Held, Dim: wire.Number(d.Dim)})
	}
	return o
}
