package aswire

import (
	"underlamp/app/learn"
	"underlamp/app/outlook"
	"underlamp/wire"
)

// Lesson is what was learned; odd says what does not fit.
func Lesson(l *learn.Lesson, odd []string) wire.Lesson {
	s := l.Posterior.Sampling
	good, _ := l.Good()
	short := func(f *outlook.Forecast) wire.LessonForecast {
		return wire.LessonForecast{Fresh: band(f.Fresh), Chance: wire.Number(f.Chance), Day: band(f.FirstBurn), PerKWh: band(f.PerKWh)}
	}
	out := wire.Lesson{Bench: l.Bench.Name, Cycles: []wire.LessonCycle{}, Comparison: []wire.LessonCompared{}, Before: short(l.Before), After: short(l.After), Factors: []wire.LessonFactor{}, Odd: list(odd), Next: []wire.LessonFurther{},
		RHat: wire.Number(s.RHat), BulkESS: wire.Number(s.BulkESS), TailESS: wire.Number(s.TailESS), Good: good, Figures: Figures(l.Figures()), Notes: list(l.Notes)}
	for _, c := range l.Cycles {
		out.Cycles = append(out.Cycles, wire.LessonCycle{Name: c.Name, Transplanted: c.Transplanted, Harvested: c.Harvested, Plants: c.Plants, Weighings: c.Weighings, Heights: c.Heights, Burns: c.Burns, Counts: c.Counts})
	}
	for _, c := range l.Comparison() {
		out.Comparison = append(out.Comparison, wire.LessonCompared(c))
	}
	for i, p := range l.Posterior.Parameters {
		out.Factors = append(out.Factors, wire.LessonFactor{Key: p.Key, Name: learn.Plain(p).Name, Before: wire.Numbers([]float64{p.Prior.Q05, p.Prior.Q50, p.Prior.Q95}), After: wire.Numbers([]float64{p.Posterior.Q05, p.Posterior.Q50, p.Posterior.Q95}), Narrowed: wire.Number(p.Shrinkage), Learned: p.Learned, Told: l.ToldText(i)})
	}
	for _, f := range l.Next.Further {
		out.Next = append(out.Next, wire.LessonFurther{What: f.What, Mass: wire.Number(f.Mass), Burn: wire.Number(f.Burn)})
	}
	return out
}
