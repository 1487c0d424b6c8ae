package outlook

import (
	"context"
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A WhatIf is one change of the bench as it is set, and what it would do.
type WhatIf struct {
	Name     string  // "blow air down onto the hearts (0.3 m/s)"
	Chance   float64 // of burn after the change
	Points   Band    // change of the chance in percentage points; the band is that of the comparison of equal draws
	Fresh    float64 // change of fresh mass, share of what it is now
	PerKWh   float64 // change of saleable g per kWh, in g per kWh
	Judgment string  // "helps", "does harm", "hardly matters"
}

// Sizes of the changes that are tried.
const (
	fanSpeed    = 0.3  // m s⁻¹, a small fan at arm's length; common practice, no source
	dryerBy     = 0.10 // of relative humidity
	moistNight  = 0.95 // the treatment of Vanhassel2015
	fewerHours  = 2.0
	dimmerBy    = 0.15 // the first step of ErtleKubota2023b
	warmerRoots = 3.0  // °C; Carotti2021 tried steps of 4
	warmestRoot = 25.0 // °C, the most that is usual for the solution; common practice, no source
	whatIfDraws = 200
)

// WhatIfs tries the changes that a grower has in hand on the bench as it is set
// now: air on the hearts, the humidity of night and day, warmer roots, fewer hours, less
// light. All are run on the same draws, so the band of a difference is that of
// paired plants.
func (o *Outlook) WhatIfs(ctx context.Context) ([]WhatIf, error) {
	type change struct {
		name string
		do   func(b *underlamp.Bench)
	}
	u := o.b.Units
	now := o.b.Setting()
	var changes []change
	add := func(name string, do func(b *underlamp.Bench)) { changes = append(changes, change{name, do}) }

	if o.b.Air.Fan.Value != underlamp.Down {
		speed := max(o.b.Air.Speed.Value, fanSpeed)
		add(fmt.Sprintf("a fan that blows down onto the hearts (%s)", quantity.AirSpeed.Format(float64(speed), u, 2)), func(b *underlamp.Bench) {
			b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.Down), underlamp.Said(speed)
		})
	}
	if o.b.Air.Fan.Value == underlamp.NoFan {
		add(fmt.Sprintf("a fan that blows across the heads (%s)", quantity.AirSpeed.Format(fanSpeed, u, 2)), func(b *underlamp.Bench) {
			b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.Across), underlamp.Said(max(b.Air.Speed.Value, fanSpeed))
		})
	}
	night := o.b.Air.Night.Humidity.Value
	if night < moistNight-0.01 {
		add(fmt.Sprintf("moister nights (%s instead of %s)", working.Percent(moistNight), working.Percent(float64(night))), func(b *underlamp.Bench) {
			b.Air.Night.Humidity = underlamp.Said(quantity.Fraction(moistNight))
		})
	}
	if drier := night - dryerBy; drier > 0.3 {
		add(fmt.Sprintf("drier nights (%s instead of %s)", working.Percent(float64(drier)), working.Percent(float64(night))), func(b *underlamp.Bench) {
			b.Air.Night.Humidity = underlamp.Said(drier)
		})
	}
	if d := o.b.Air.Day.Humidity.Value - dryerBy; d > 0.4 {
		add(fmt.Sprintf("drier days (%s instead of %s)", working.Percent(float64(d)), working.Percent(float64(o.b.Air.Day.Humidity.Value))), func(b *underlamp.Bench) {
			b.Air.Day.Humidity = underlamp.Said(d)
		})
	}
	if root := float64(o.b.Feed.RootTemp.Value); root+1 <= warmestRoot {
		warm := min(root+warmerRoots, warmestRoot)
		add(fmt.Sprintf("warmer roots (%s instead of %s)", quantity.Temperature.Format(warm, u, 3), quantity.Temperature.Format(root, u, 3)), func(b *underlamp.Bench) {
			b.Feed.RootTemp = underlamp.Said(quantity.Celsius(warm))
		})
	}
	if h := now.Hours - fewerHours; h >= 6 {
		add(fmt.Sprintf("%s fewer hours of light (%s)", quantity.Number(fewerHours, 2), quantity.Duration.Format(float64(h), u, 3)), func(b *underlamp.Bench) {
			for i := range b.Lamps {
				b.Lamps[i].Hours = underlamp.Said(max(b.Lamps[i].Hours.Value-fewerHours, 1))
			}
		})
	}
	add(fmt.Sprintf("%s less light", working.Percent(dimmerBy)), func(b *underlamp.Bench) {
		for i := range b.Lamps {
			b.Lamps[i].Dimming = underlamp.Said(b.Lamps[i].Dimming.Value * (1 - dimmerBy))
		}
	})

	ens := o.ens.small(whatIfDraws)
	base, err := o.changed(o.b, ens)
	if err != nil {
		return nil, err
	}
	var out []WhatIf
	for _, c := range changes {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b := *o.b
		b.Lamps = append([]underlamp.Lamp(nil), o.b.Lamps...)
		c.do(&b)
		f, err := o.changed(&b, ens)
		if err != nil {
			return nil, err
		}
		out = append(out, compare(c.name, base, f))
	}
	return out, nil
}

// changed forecasts a variant of the bench whose lamps hang where they do now.
func (o *Outlook) changed(b *underlamp.Bench, ens ensemble) (*Forecast, error) {
	lit, err := o.m.At(o.b.Setting().Height)
	if err != nil {
		return nil, err
	}
	dim, day := light.DayWeights(b)
	f := o.run(b, classesOf(lit.ClosingProfilesAt(dim, levelSpacing, levelCount), maxClasses), environment(b, day), ens, false)
	f.Energy = energyOf(b, f)
	f.PerKWh = o.perKWh(f)
	return f, nil
}

// compare sets a variant beside the base, draw by draw.
func compare(name string, base, f *Forecast) WhatIf {
	n := float64(len(base.draws))
	var sum, sq, fresh0, fresh1 float64
	for i := range base.draws {
		d := f.draws[i].chance - base.draws[i].chance
		sum += d
		sq += d * d
		fresh0 += base.draws[i].fresh
		fresh1 += f.draws[i].fresh
	}
	mean := sum / n
	se := math.Sqrt(max(sq/n-mean*mean, 0) / n)
	w := WhatIf{
		Name: name, Chance: f.Chance,
		Points: Band{Low: 100 * (mean - 1.645*se), Mid: 100 * mean, High: 100 * (mean + 1.645*se)},
		Fresh:  fresh1/fresh0 - 1,
		PerKWh: f.PerKWh.Mid - base.PerKWh.Mid,
	}
	switch {
	case math.Abs(mean) < noticeablePts || (w.Points.Low < 0 && w.Points.High > 0):
		w.Judgment = "hardly matters"
	case mean < 0:
		w.Judgment = "helps"
	default:
		w.Judgment = "does harm"
	}
	return w
}
