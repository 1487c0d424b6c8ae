package headlearn

import (
	"fmt"
	"math"
	"math/rand/v2"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// A made crop: what it is, and what a grower would have written down of it.
type made struct {
	logs     []float64 // ln factors of the axes
	spread   float64   // ln factor on the spread of plants
	evidence Evidence
}

// usualAir burns some half of the plants by day 35 at 180 µmol m⁻² s⁻¹ over the prior:
// little evaporation by day, a dry night, still air.
func usualAir() headcycle.Environment {
	return headcycle.Environment{
		Hours: 16, CO2: 600, DayC: 22, NightC: 20, DayRH: 0.75, NightRH: 0.70, Speed: 0.1, HeartShare: calcium.HeartShare("none"), Feed: calcium.UsualFeed(),
	}
}

// A plan is what the grower does.
type plan struct {
	cycles, plants int
	ppfd           float64
	burns          bool
}

// simulate draws a crop from the prior and grows every plant of every cycle with the
// full model: traits that the crop keeps, those of the cycle, those of the plant, all
// of them and each by itself. So the short cuts of the likelihood are part of what
// is tested.
func simulate(rng *rand.Rand, pl plan) made {
	prior := LettucePrior(headcycle.Lettuce())
	f := newFrame(prior)
	kept := make([]float64, len(f.traits))
	for i := range kept {
		kept[i] = f.kept[i] * rng.NormFloat64()
	}
	m := made{spread: plantSpreadSD * rng.NormFloat64()}
	for _, a := range f.axes {
		v := 0.0
		for j, mem := range a.members {
			v += mem.weight * kept[a.traits[j]]
		}
		m.logs = append(m.logs, v)
	}
	for range pl.cycles {
		m.evidence.Cycles = append(m.evidence.Cycles, f.simulateCycle(rng, kept, m.spread, pl, len(m.evidence.Cycles)))
	}
	return m
}

func (f *frame) simulateCycle(rng *rand.Rand, kept []float64, spread float64, pl plan, number int) Cycle {
	const days = 35
	c := Cycle{
		Name: fmt.Sprintf("cycle %d", number+1), Days: days, Start: headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, StartSD: 0.05,
		Stages: []Stage{{Environment: usualAir()}},
	}
	cycle := make([]float64, len(kept))
	for i := range cycle {
		cycle[i] = f.cycle[i] * rng.NormFloat64()
	}
	began := c.Start
	began.FreshGrams *= math.Exp(c.StartSD * rng.NormFloat64())
	for k := range pl.plants {
		// Light falls off toward the ends of the bench.
		light := headcycle.Profile{Spacing: 0.1, Levels: []float64{1, 1.08, 1.2}}
		for i := range light.Levels {
			light.Levels[i] *= pl.ppfd * (0.85 + 0.3*float64(k)/math.Max(float64(pl.plants-1), 1))
		}
		tr := f.central
		for i, t := range f.traits {
			within := f.within[i]
			for _, name := range spreadOfMass {
				if t.Name == name {
					within *= spreadFactor(spread)
				}
			}
			t.Multiply(&tr, math.Exp(kept[i]+cycle[i]+within*rng.NormFloat64()))
		}
		pre := headcycle.Prepare(&tr, usualAir())
		course := make([]headcycle.Day, days)
		out := headcycle.Run(&tr, &pre, light, began, days, nil, course)
		p := Plant{Name: fmt.Sprint(k + 1), Light: []headcycle.Profile{light}}
		weigh := func(day int, dried bool) {
			w := Weighing{Day: day, FreshGrams: course[day-1].Fresh*math.Exp(pathFresh*rng.NormFloat64()) + rng.NormFloat64()}
			if dried {
				w.DryGrams = w.FreshGrams * course[day-1].Dry / course[day-1].Fresh * math.Exp(pathDry*rng.NormFloat64())
			}
			p.Weighings = append(p.Weighings, w)
		}
		if k%2 == 0 {
			weigh(18, false)
		}
		weigh(days, k%4 == 0)
		if pl.burns {
			delay := burnDays * rng.NormFloat64()
			for day := 14; day <= days; day += 3 {
				if float64(day) >= out.BurnDay+delay {
					p.Burns = append(p.Burns, Seen(day))
					break
				}
				p.Burns = append(p.Burns, Sound(day))
			}
		}
		c.Plants = append(c.Plants, p)
	}
	return c
}
