package aswire

import (
	"time"

	"underlamp"
	"underlamp/app/air"
	"underlamp/app/trouble"
	"underlamp/science/fanjet"
	"underlamp/science/quantity"
	"underlamp/wire"
)

func airBand(b air.Band) wire.Band {
	return wire.Band{Low: wire.Number(b.Low), Mid: wire.Number(b.Mid), High: wire.Number(b.High)}
}

func airLoad(l air.Load) wire.AirLoad {
	return wire.AirLoad{Hours: wire.Number(l.Hours), Water: airBand(l.Water), Remove: airBand(l.Remove), Add: wire.Number(l.Add), Electric: wire.Number(l.Electric), Envelope: wire.Number(l.Envelope), Sensible: airBand(l.Sensible), Latent: wire.Number(l.Latent)}
}

// Air is the air of a bench; now is that of the bench as it is, nil if nothing was turned.
func Air(a, now *air.Answer) wire.Air {
	b := a.Bench
	out := wire.Air{Bench: b.Name, WhatIf: now != nil, Figures: Figures(a.Figures()), Before: []wire.Figure{}, Days: []wire.AirDay{}, Ways: []wire.AirWay{}, Knobs: []wire.AirKnob{}, Fan: string(b.Air.Fan.Value)}
	if now != nil {
		out.Before = Figures(now.Figures())
	}
	if a.Refused != nil {
		out.Refused = a.Refused.Error()
	}
	for _, d := range a.Days {
		out.Days = append(out.Days, wire.AirDay{Day: d.Day, Light: airLoad(d.Light), Dark: airLoad(d.Dark), CO2: wire.Number(d.Uptake)})
	}
	if len(a.Days) > 0 {
		out.Day, out.Worst = a.Days[a.At].Day, a.Days[a.Worst].Day
	}
	for i, x := range a.Ways {
		out.Ways = append(out.Ways, wire.AirWay{Key: x.Key, Name: x.Name, Possible: x.Possible, Why: x.Why, Flow: wire.Number(x.Flow), Dark: wire.Number(x.Dark), KWh: wire.Number(x.KWh()), CO2: wire.Number(x.CO2), Money: wire.Number(x.Money), Cycle: wire.Number(x.Cycle), Costs: wire.Number(x.Costs)})
		if i == a.Cheapest {
			out.Cheapest = x.Key
		}
	}
	for _, k := range air.Knobs() {
		v, unit := k.Shown(k.Of(b), quantity.Metric)
		low, _ := k.Shown(k.Low, quantity.Metric)
		high, _ := k.Shown(k.High, quantity.Metric)
		out.Knobs = append(out.Knobs, wire.AirKnob{Name: k.Name, Label: k.Label, Value: wire.Number(v), Unit: unit, Low: wire.Number(low), High: wire.Number(high), Default: k.IsDefault(b)})
	}
	return out
}

// AirHearts are what moving air and nights do.
func AirHearts(h *air.Hearts) wire.AirHearts {
	out := wire.AirHearts{Limit: wire.Number(h.Limit), Now: wire.Number(h.Now), Draws: h.Draws, Speeds: []wire.HeartSpeed{}, Nights: []wire.HeartNight{}}
	for i, aim := range h.Aims {
		switch aim {
		case underlamp.Across:
			out.Across = wire.Number(h.Need[i])
		case underlamp.Down:
			out.Down = wire.Number(h.Need[i])
		}
	}
	for _, x := range h.Speeds {
		out.Speeds = append(out.Speeds, wire.HeartSpeed{Speed: wire.Number(x.Speed), Across: wire.Number(x.Burn[0]), Down: wire.Number(x.Burn[1])})
	}
	for _, x := range h.Nights {
		out.Nights = append(out.Nights, wire.HeartNight{Humidity: wire.Number(x.Humidity), VPD: wire.Number(x.VPD), Root: wire.Number(x.Pressure), Margin: wire.Number(x.Margin), Chance: wire.Number(x.Chance), Now: x.Now})
	}
	return out
}

// AirBlown is the air of a fan at the heads.
func AirBlown(b *underlamp.Bench, w *air.Blown, h *air.Hearts) wire.AirBlown {
	return wire.AirBlown{Outlet: wire.Number(w.Jet.Outlet), From: w.From, Mean: wire.Number(w.Mean), Low: wire.Number(w.Low), High: wire.Number(w.High), Least: wire.Number(w.Least), Most: wire.Number(w.Most), Plants: wire.Numbers(w.Plants), Says: list(air.BlownSentences(b, w, h))}
}

// AirSurvey is what readings of an anemometer mean.
func AirSurvey(s fanjet.Survey, u quantity.System) wire.AirSurvey {
	return wire.AirSurvey{N: s.N, Mean: wire.Number(s.Mean), Low: wire.Number(s.Low), High: wire.Number(s.High), Least: wire.Number(s.Least), Most: wire.Number(s.Most), Uneven: wire.Number(s.Uneven), Says: list(air.SurveySentences(s, u))}
}

// AirRecord is what recorded hours say of dew.
func AirRecord(b *underlamp.Bench, r *air.Record, zone *time.Location) wire.AirRecord {
	return wire.AirRecord{From: r.From.UTC(), To: r.To.UTC(), Hours: len(r.Hours), Wet: r.Wet, Near: r.Near, Worst: r.Worst.At.UTC(), Margin: wire.Number(r.Worst.Margin), VPDDay: wire.Number(r.VPDDay), VPD: wire.Number(r.VPDDark), Says: list(air.RecordSentences(b, r, zone))}
}

// Trouble is what is thought of a trouble.
func Trouble(x *trouble.Examination, problems string) wire.TroubleThought {
	out := wire.TroubleThought{Causes: []wire.TroubleCause{}, Records: []wire.TroubleRecord{}, Again: x.Again.Format(time.DateOnly), CannotSee: trouble.CannotSee(x), Problems: problems}
	reasons := func(all []trouble.Reason) []wire.TroubleReason {
		r := []wire.TroubleReason{}
		for _, y := range all {
			r = append(r, wire.TroubleReason{Finding: y.Finding, Text: y.Text, Says: y.Says(), Factor: wire.Number(y.Factor)})
		}
		return r
	}
	for _, c := range x.Causes {
		speaks, against := x.Reasons(c)
		y := wire.TroubleCause{Key: c.Key, Name: c.Name(), Chance: wire.Number(c.Chance), Low: wire.Number(c.Low), High: wire.Number(c.High), Prior: wire.Number(c.Prior), For: reasons(speaks), Against: reasons(against)}
		if c.Cause != nil {
			y.Why = c.Cause.Because
			if c.Cause.Hidden {
				y.Ask = c.Cause.Ask
			}
		}
		out.Causes = append(out.Causes, y)
	}
	if x.Next != nil {
		q := wire.TroubleQuestion{Finding: x.Next.Finding.Key, Ask: x.Next.Finding.Ask, Answers: []wire.TroubleOption{}}
		for _, s := range x.Next.Finding.States {
			q.Answers = append(q.Answers, wire.TroubleOption{State: s.Key, Name: s.Name})
		}
		out.Next = &q
	}
	if x.Apart != nil {
		out.Apart = trouble.LookText(x.Apart.Finding)
	}
	if x.First != nil {
		out.Change, out.Expects = x.First.Text, x.First.Says()
	}
	for _, r := range x.Records {
		out.Records = append(out.Records, wire.TroubleRecord{Finding: r.Finding, Name: r.Name, Text: r.Text, From: r.From, Default: r.Default()})
	}
	return out
}

// TroubleCase is a case as it is kept.
func TroubleCase(c *trouble.Case) wire.TroubleCase {
	out := wire.TroubleCase{ID: c.ID, At: c.At.UTC(), By: c.By, Note: c.Note, Rule: c.Rule, Symptoms: list(c.Symptoms), Answers: []wire.TroubleAnswer{}, Found: list(c.Found), Causes: []wire.TroubleGuess{}, Change: c.Change, Expects: c.Expects, Again: c.Again, Open: c.Outcome() == nil, Outcomes: []wire.TroubleOutcome{}}
	for _, a := range c.Answers {
		out.Answers = append(out.Answers, wire.TroubleAnswer(a))
	}
	for _, t := range c.Causes {
		out.Causes = append(out.Causes, wire.TroubleGuess{Key: t.Key, Name: t.Name, Chance: wire.Number(t.Chance), Low: wire.Number(t.Low), High: wire.Number(t.High)})
	}
	for _, o := range c.Outcomes {
		out.Outcomes = append(out.Outcomes, wire.TroubleOutcome{At: o.At.UTC(), By: o.By, Cause: o.Cause, Help: o.Help, Note: o.Note})
	}
	return out
}
