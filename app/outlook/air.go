package outlook

import (
	"context"
	"sync"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// Under is the forecast of the mean plant of a bench that differs from that of the outlook in
// air and feed alone, with at most draws of its draws (0: all): for its days, which are those
// of [Outlook.Forecast] when all draws are taken. Two such forecasts are of the same draws, so
// they may be set against each other.
func (o *Outlook) Under(b *underlamp.Bench, draws int) (*Forecast, error) {
	profiles, day, err := o.hangingNow()
	if err != nil {
		return nil, err
	}
	ens := o.ens
	if draws > 0 {
		ens = ens.small(draws)
	}
	classes := classesOf(profiles, 1)
	f := o.run(b, standOf(b), classes, environment(b, day), ens, true)
	f.AtSurface, f.Setting, f.Day = meanClass(classes).Levels[0], b.Setting(), day
	o.account(b, f)
	return f, nil
}

// Central are the traits of the mean plant of a bench, before any draw.
func Central(b *underlamp.Bench) headcycle.Traits { return central(b) }

// Chances are those of burn on benches that differ from that of the outlook in air and feed
// alone, all over the same draws (0: all of them).
func (o *Outlook) Chances(ctx context.Context, benches []*underlamp.Bench, draws int) ([]float64, error) {
	profiles, day, err := o.hangingNow()
	if err != nil {
		return nil, err
	}
	ens := o.ens
	if draws > 0 {
		ens = ens.small(draws)
	}
	classes := classesOf(profiles, maxClasses)
	out := make([]float64, len(benches))
	for i, b := range benches {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out[i] = o.run(b, standOf(b), classes, environment(b, day), ens, false).Chance
	}
	return out, nil
}

// hangingLight is the light of a bench as its lamps hang and burn, by height over each plant: what
// changes of the air leave as it is.
type hangingLight struct {
	once     sync.Once
	profiles [][]float64
	day      quantity.Hours
	err      error
}

func (o *Outlook) hangingNow() ([][]float64, quantity.Hours, error) {
	h := o.hanging
	h.once.Do(func() {
		lit, err := o.m.At(o.b.Setting().Height)
		if err != nil {
			h.err = err
			return
		}
		var dim []float64
		dim, h.day = light.DayWeights(o.b)
		h.profiles = lit.ClosingProfilesAt(dim, levelSpacing, levelCount)
	})
	return h.profiles, h.day, h.err
}
