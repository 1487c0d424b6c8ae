package aswire

import (
	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/quantity"
	"underlamp/wire"
)

func candidate(c outlook.Candidate) wire.Candidate {
	return wire.Candidate{
		Setting: Setting(c.Setting), PPFD: wire.Number(c.PPFD), DLI: wire.Number(quantity.DailyLight(quantity.PPFD(c.PPFD), c.Setting.Hours)),
		PerKWh: wire.Number(c.PerKWh), Chance: wire.Number(c.Chance), Fresh: wire.Number(c.Fresh), Sold: wire.Number(c.Sold),
	}
}

func forecast(f *outlook.Forecast, ppfd float64) wire.Candidate {
	c := candidate(outlook.Candidate{Setting: f.Setting, PPFD: ppfd, PerKWh: f.PerKWh.Mid, Chance: f.Chance, Fresh: f.Fresh.Mid, Sold: f.Sold})
	b := band(f.PerKWh)
	c.Band = &b
	return c
}

// Best setting of a bench, and what else would help.
func Best(b *underlamp.Bench, r *outlook.Best) wire.Best {
	out := wire.Best{Bench: b.Name, Limit: wire.Number(b.Limits.Burn.Value), Found: r.Found, Now: forecast(&r.Now, r.NowPPFD),
		RunnerUps: []wire.Candidate{}, Searched: r.Searched, Limits: list(r.Limits), WhatIfs: []wire.WhatIf{}}
	if r.Found {
		c := forecast(&r.Best, r.BestPPFD)
		out.Best = &c
	}
	for _, c := range r.RunnerUps {
		out.RunnerUps = append(out.RunnerUps, candidate(c))
	}
	for _, x := range r.WhatIfs {
		out.WhatIfs = append(out.WhatIfs, WhatIf(x))
	}
	if r.Fan != nil && r.Fan.Candidate.PerKWh > 0 {
		c := candidate(r.Fan.Candidate)
		out.Fan = &c
	}
	return out
}

// WhatIf is one change and what it would do.
func WhatIf(x outlook.WhatIf) wire.WhatIf {
	return wire.WhatIf{Change: x.Name, Chance: wire.Number(x.Chance), Points: band(x.Points), Fresh: wire.Number(x.Fresh), PerKWh: wire.Number(x.PerKWh), Judgment: x.Judgment}
}
