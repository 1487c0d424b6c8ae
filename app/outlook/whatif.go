package outlook

import (
	"context"
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A WhatIf is one change of the bench as it is set, and what it would do.
type WhatIf struct {
	Key      string  // "fan-down"
	Name     string  // "blow air down onto the hearts (0.3 m/s)"
	Chance   float64 // of burn after the change
	Points   Band    // change of the chance in percentage points; the band is that of the comparison of equal draws
	Fresh    float64 // change of fresh mass, share of what it is now
	Mass     Band    // the same in percent, with the band of the comparison of equal draws
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
	brighterBy  = 0.15
	usualEC     = 1.6 // mS cm⁻¹, common practice, no source
	lowAmmonium = 10  // mg L⁻¹ of NH4-N, common practice, no source
)

// A change is one thing that a grower has in hand.
type change struct {
	key, name string
	asked     bool // tried when somebody asks for it, and not among what is usual
	do        func(b *underlamp.Bench)
}

// changes are those that the bench, as it is set now, leaves to make.
func (o *Outlook) changes() []change {
	u := o.b.Units
	now := o.b.Setting()
	var out []change
	add := func(key, name string, do func(b *underlamp.Bench)) { out = append(out, change{key, name, false, do}) }
	ask := func(key, name string, do func(b *underlamp.Bench)) { out = append(out, change{key, name, true, do}) }

	if o.b.Air.Fan.Value != underlamp.Down {
		speed := max(o.b.Air.Speed.Value, fanSpeed)
		add("fan-down", fmt.Sprintf("a fan that blows down onto the hearts (%s)", quantity.AirSpeed.Format(float64(speed), u, 2)), func(b *underlamp.Bench) {
			b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.Down), underlamp.Said(speed)
		})
	}
	if o.b.Air.Fan.Value == underlamp.NoFan {
		add("fan-across", fmt.Sprintf("a fan that blows across the heads (%s)", quantity.AirSpeed.Format(fanSpeed, u, 2)), func(b *underlamp.Bench) {
			b.Air.Fan, b.Air.Speed = underlamp.Said(underlamp.Across), underlamp.Said(max(b.Air.Speed.Value, fanSpeed))
		})
	}
	night := o.b.Air.Night.Humidity.Value
	if night < moistNight-0.01 {
		add("moist-nights", fmt.Sprintf("moister nights (%s instead of %s)", working.Percent(moistNight), working.Percent(float64(night))), func(b *underlamp.Bench) {
			b.Air.Night.Humidity = underlamp.Said(quantity.Fraction(moistNight))
		})
	}
	if drier := night - dryerBy; drier > 0.3 {
		add("drier-nights", fmt.Sprintf("drier nights (%s instead of %s)", working.Percent(float64(drier)), working.Percent(float64(night))), func(b *underlamp.Bench) {
			b.Air.Night.Humidity = underlamp.Said(drier)
		})
	}
	humid := o.b.Air.Day.Humidity.Value
	if d := humid - dryerBy; d > 0.4 {
		add("drier-days", fmt.Sprintf("drier days (%s instead of %s)", working.Percent(float64(d)), working.Percent(float64(humid))), func(b *underlamp.Bench) {
			b.Air.Day.Humidity = underlamp.Said(d)
		})
	}
	if d := humid + dryerBy; d < 0.95 {
		ask("moist-days", fmt.Sprintf("moister days (%s instead of %s)", working.Percent(float64(d)), working.Percent(float64(humid))), func(b *underlamp.Bench) {
			b.Air.Day.Humidity = underlamp.Said(d)
		})
	}
	if root := float64(o.b.Feed.RootTemp.Value); root+1 <= warmestRoot {
		warm := min(root+warmerRoots, warmestRoot)
		add("warm-roots", fmt.Sprintf("warmer roots (%s instead of %s)", quantity.Temperature.Format(warm, u, 3), quantity.Temperature.Format(root, u, 3)), func(b *underlamp.Bench) {
			b.Feed.RootTemp = underlamp.Said(quantity.Celsius(warm))
		})
	}
	if h := now.Hours - fewerHours; h >= 6 {
		add("fewer-hours", fmt.Sprintf("%s fewer hours of light (%s)", quantity.Number(fewerHours, 2), quantity.Duration.Format(float64(h), u, 3)), func(b *underlamp.Bench) {
			for i := range b.Lamps {
				b.Lamps[i].Hours = underlamp.Said(max(b.Lamps[i].Hours.Value-fewerHours, 1))
			}
		})
	}
	if h := now.Hours + fewerHours; h <= 20 && now.Hours > 0 {
		ask("more-hours", fmt.Sprintf("%s more hours of light (%s)", quantity.Number(fewerHours, 2), quantity.Duration.Format(float64(h), u, 3)), func(b *underlamp.Bench) {
			for i := range b.Lamps {
				b.Lamps[i].Hours = underlamp.Said(min(b.Lamps[i].Hours.Value+fewerHours, 24))
			}
		})
	}
	add("dimmer", fmt.Sprintf("%s less light", working.Percent(dimmerBy)), func(b *underlamp.Bench) {
		for i := range b.Lamps {
			b.Lamps[i].Dimming = underlamp.Said(b.Lamps[i].Dimming.Value * (1 - dimmerBy))
		}
	})
	if d := now.Dimming; d > 0 && d < 0.99 {
		up := min(d*(1+brighterBy), 1)
		ask("brighter", fmt.Sprintf("lamps at %s instead of %s", working.Percent(float64(up)), working.Percent(float64(d))), func(b *underlamp.Bench) {
			for i := range b.Lamps {
				b.Lamps[i].Dimming = underlamp.Said(min(b.Lamps[i].Dimming.Value*up/d, 1))
			}
		})
	}
	if ec := o.b.Feed.EC.Value; ec > usualEC+0.1 {
		ask("weaker-feed", fmt.Sprintf("a thinner feed (%s instead of %s)", quantity.Conductivity.Format(usualEC, u, 2), quantity.Conductivity.Format(float64(ec), u, 2)), func(b *underlamp.Bench) {
			thin(&b.Feed, usualEC/float64(ec))
		})
	} else if ec > 0 && ec < usualEC-0.1 {
		ask("ec-up", fmt.Sprintf("a stronger feed (%s instead of %s)", quantity.Conductivity.Format(usualEC, u, 2), quantity.Conductivity.Format(float64(ec), u, 2)), func(b *underlamp.Bench) {
			thin(&b.Feed, usualEC/float64(ec))
		})
	}
	if n := o.b.Feed.Ammonium.Value; n > lowAmmonium {
		ask("less-ammonium", fmt.Sprintf("ammonium nitrogen at %s mg/L instead of %s", quantity.Number(lowAmmonium, 2), quantity.Number(float64(n), 3)), func(b *underlamp.Bench) {
			b.Feed.Ammonium = underlamp.Said[quantity.MilligramPerLitre](lowAmmonium)
		})
	}
	return out
}

// thin brings the ions of a feed along with its EC.
func thin(f *underlamp.Feed, by float64) {
	f.EC = underlamp.Said(f.EC.Value * quantity.MillisiemensPerCm(by))
	for _, ion := range []*underlamp.Given[quantity.MilligramPerLitre]{&f.Calcium, &f.Ammonium, &f.Potassium, &f.Magnesium} {
		*ion = underlamp.Said(ion.Value * quantity.MilligramPerLitre(by))
	}
}

// Try is what one change would do, by its key: those of [Outlook.WhatIfs], and moist-days,
// more-hours, brighter, weaker-feed, ec-up, less-ammonium. False where the bench leaves no
// room for it, and for a key that is none.
func (o *Outlook) Try(key string) (WhatIf, bool, error) {
	all := o.changes()
	i := slices.IndexFunc(all, func(c change) bool { return c.key == key })
	if i < 0 {
		return WhatIf{}, false, nil
	}
	ens := o.ens.small(whatIfDraws)
	base, err := o.changed(o.b, ens)
	if err != nil {
		return WhatIf{}, false, err
	}
	w, err := o.try(all[i], base, ens)
	return w, err == nil, err
}

func (o *Outlook) try(c change, base *Forecast, ens ensemble) (WhatIf, error) {
	b := *o.b
	b.Lamps = append([]underlamp.Lamp(nil), o.b.Lamps...)
	c.do(&b)
	f, err := o.changed(&b, ens)
	if err != nil {
		return WhatIf{}, err
	}
	w := compare(c.name, base, f)
	w.Key = c.key
	return w, nil
}

// WhatIfs tries the changes that a grower has in hand on the bench as it is set
// now: air on the hearts, the humidity of night and day, warmer roots, fewer hours, less
// light. All are run on the same draws, so the band of a difference is that of
// paired plants.
func (o *Outlook) WhatIfs(ctx context.Context) ([]WhatIf, error) {
	ens := o.ens.small(whatIfDraws)
	base, err := o.changed(o.b, ens)
	if err != nil {
		return nil, err
	}
	var out []WhatIf
	for _, c := range o.changes() {
		if c.asked {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		w, err := o.try(c, base, ens)
		if err != nil {
			return nil, err
		}
		out = append(out, w)
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
	f := o.run(b, standOf(b), classesOf(lit.ClosingProfilesAt(dim, levelSpacing, levelCount), maxClasses), environment(b, day), ens, false)
	o.account(b, f)
	return f, nil
}

// compare sets a variant beside the base, draw by draw.
func compare(name string, base, f *Forecast) WhatIf {
	n := float64(len(base.draws))
	var sum, sq, fresh0, fresh1, gain, gain2 float64
	for i := range base.draws {
		d := f.draws[i].chance - base.draws[i].chance
		sum += d
		sq += d * d
		fresh0 += base.draws[i].fresh
		fresh1 += f.draws[i].fresh
		g := f.draws[i].fresh - base.draws[i].fresh
		gain += g
		gain2 += g * g
	}
	massSE := math.Sqrt(max(gain2/n-gain*gain/n/n, 0) / n)
	mean := sum / n
	se := math.Sqrt(max(sq/n-mean*mean, 0) / n)
	w := WhatIf{
		Name: name, Chance: f.Chance,
		Points: Band{Low: 100 * (mean - 1.645*se), Mid: 100 * mean, High: 100 * (mean + 1.645*se)},
		Fresh:  fresh1/fresh0 - 1,
		Mass:   Band{Low: 100 * (gain/n - 1.645*massSE) * n / fresh0, Mid: 100 * gain / fresh0, High: 100 * (gain/n + 1.645*massSE) * n / fresh0},
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
