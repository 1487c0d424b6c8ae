package aswire

import (
	"underlamp"
	"underlamp/app/outlook"
	"underlamp/wire"
)

func weighed(p outlook.Weighed) wire.PlanPoint {
	return wire.PlanPoint{Setting: Setting(p.Plan.Setting), Fan: string(p.Plan.Fan), Speed: wire.Number(p.Plan.Speed), Night: wire.Number(p.Plan.Night), CO2: wire.Number(p.Plan.CO2), Density: wire.Number(p.Plan.Density), Days: p.Plan.Days,
		Value: wire.Number(p.Value), Chance: wire.Number(p.Chance), Fresh: wire.Number(p.Fresh), Sold: wire.Number(p.Sold), KWh: wire.Number(p.KWh), Heads: wire.Number(p.Heads)}
}

// Plan is the best of everything that can be turned.
func Plan(b *underlamp.Bench, x *outlook.Wider) wire.Plan {
	out := wire.Plan{Bench: b.Name, Goal: x.Goal.Name(), Unit: x.Goal.Unit(b), Limit: wire.Number(x.Limit), Found: x.Found, Now: weighed(x.Now), Best: weighed(x.Best),
		Turned: list(x.Turned), Searched: x.Searched, Bounds: []wire.PlanBound{}, Changes: []wire.PlanChange{}}
	for _, m := range x.Bounds {
		out.Bounds = append(out.Bounds, wire.PlanBound{Bound: m.Name, Gain: band(m.Gain), Told: m.Told()})
	}
	for _, c := range x.Changes {
		out.Changes = append(out.Changes, wire.PlanChange{Change: c.Name, From: c.From, To: c.To, Gain: band(c.Gain), Points: band(c.Points), Serves: c.Serves, After: weighed(c.After)})
	}
	for _, p := range x.Frontier {
		out.Frontier = append(out.Frontier, weighed(p))
	}
	for _, r := range x.Ramps {
		o := wire.PlanRamp{Ramp: r.Name, Gain: band(r.Gain), Chance: wire.Number(r.After.Chance), Dimmers: []wire.RampStep{}, Pays: r.Pays()}
		for _, st := range r.Days {
			o.Dimmers = append(o.Dimmers, wire.RampStep{Day: st.Day, Dimming: wire.Number(st.Dimming)})
		}
		out.Ramps = append(out.Ramps, o)
	}
	return out
}
