package draw

import "math"

// sampleDensities are three log-normal quantities before and after.
func sampleDensities(f Frame) Densities {
	d := Densities{Frame: f, Name: "What two cycles taught"}
	for _, p := range []struct {
		name, unit, note     string
		centre, sd, at, left float64
	}{
		{"Growth of this cultivar here, against the usual", "", "narrowed by 68 %", 1, 0.20, 1.18, 0.065},
		{"Mass at which the heart closes", "g", "narrowed by 6 %", 42, 0.12, 41, 0.113},
		{"Dry share", "%", "hardly learned", 5.2, 0.10, 5.2, 0.10},
		{"Need of calcium", "mg/g", "narrowed by 40 %", 1.1, 0.12, 1.25, 0.07},
	} {
		q := Density{Name: p.name, Unit: p.unit, Note: p.note, Level: 0.9}
		const z = 1.644854
		q.PriorLow, q.PriorMid, q.PriorHigh = p.centre*math.Exp(-z*p.sd), p.centre, p.centre*math.Exp(z*p.sd)
		q.AfterLow, q.AfterMid, q.AfterHigh = p.at*math.Exp(-z*p.left), p.at, p.at*math.Exp(z*p.left)
		for i := range 61 {
			x := p.centre * math.Exp(p.sd*3.2*(float64(i)/30-1))
			bell := func(c, sd float64) float64 { t := math.Log(x/c) / sd; return math.Exp(-t*t/2) / sd }
			q.X, q.Prior, q.After = append(q.X, x), append(q.Prior, bell(p.centre, p.sd)), append(q.After, bell(p.at, p.left))
		}
		d.Panels = append(d.Panels, q)
	}
	return d
}

// sampleLearned is an outlook before and after, with what was weighed and counted.
func sampleLearned(f Frame) Lines {
	l := Lines{Frame: f, XName: "day after transplanting"}
	before, after := Series{Name: "before"}, Series{Name: "after"}
	for d := 1; d <= 35; d++ {
		x := float64(d)
		l.X = append(l.X, x)
		m := 260 / (1 + math.Exp(-(x-25)/4.6))
		before.Y, before.Low, before.High = append(before.Y, m), append(before.Low, m*0.6), append(before.High, m*1.5)
		after.Y, after.Low, after.High = append(after.Y, 1.15*m), append(after.Low, m*1.02), append(after.High, m*1.3)
	}
	l.Panels = []Panel{
		{Name: "Fresh mass of a head", Unit: "g", Series: []Series{before, after}, Zero: true,
			Points: []Points{{Name: "weighed", At: []Dot{{X: 14, Y: 24}, {X: 14, Y: 27}, {X: 21, Y: 81}, {X: 28, Y: 140, Odd: true}, {X: 35, Y: 281}, {X: 35, Y: 262}, {X: 0, Y: 1.5}, {X: 20, Y: math.NaN()}}}}},
		{Name: "Heads with inner burn so far", Unit: "%", Zero: true, Series: []Series{{Name: "before", Y: l.X}, {Name: "after", Y: after.Low}},
			Points: []Points{{Name: "seen on single heads", At: []Dot{{X: 35, Y: 40}}}, {Name: "counted over the bench", At: []Dot{{X: 30, Y: 17}}}}},
	}
	return l
}
