package outlook

import (
	"context"
	"fmt"
	"math"
	"slices"

	"underlamp/science/quantity"
	"underlamp/working"
)

// A shape is how the light runs over the cycle, in steps that a grower turns.
type shape struct {
	name  string
	steps []shapeStep // from day 1 on
}

type shapeStep struct {
	day   int
	light float64 // over the light of the first day's level
}

// shapes are the runs that are tried: constant first, then less light for the
// last days, two levels, and a rise or fall by the week.
func shapes(days int) []shape {
	out := []shape{{"constant light", []shapeStep{{1, 1}}}}
	for _, last := range []int{5, 7, 10, 14} {
		from := days - last + 1
		if from < 8 {
			continue
		}
		for _, x := range []float64{0.85, 0.7, 0.55} {
			out = append(out, shape{fmt.Sprintf("%s of the light for the last %d days", working.Percent(x), last), []shapeStep{{1, 1}, {from, x}}})
		}
	}
	for _, x := range []float64{1.25, 1.5, 1.75} {
		out = append(out, shape{fmt.Sprintf("%s of the light from the middle of the cycle", working.Percent(x)), []shapeStep{{1, 1}, {days/2 + 1, x}}})
	}
	for _, rise := range []float64{-0.3, 0.3, 0.6, 1} {
		weeks := (days + 6) / 7
		if weeks < 3 {
			continue
		}
		s := shape{name: fmt.Sprintf("light that rises week by week, to %s of that of the first", working.Percent(1+rise))}
		if rise < 0 {
			s.name = fmt.Sprintf("light that falls week by week, to %s of that of the first", working.Percent(1+rise))
		}
		for w := range weeks {
			s.steps = append(s.steps, shapeStep{7*w + 1, 1 + rise*float64(w)/float64(weeks-1)})
		}
		out = append(out, s)
	}
	return out
}

// turned is a shape at a level of the light of the first day, in whole per cent of
// dimming; ok is false where it leaves the limits of the dimmers.
func (o *Outlook) turnedShape(sh shape, first float64, days int) (steps []RampStep, light []float64, ok bool) {
	lim := o.b.Limits
	light = make([]float64, days)
	for k, st := range sh.steps {
		dim := quantity.Fraction(math.Round(100*float64(o.b.DimmingFor(quantity.Fraction(first*st.light)))) / 100)
		if dim < lim.MinDim.Value-1e-9 || dim > lim.MaxDim.Value+1e-9 {
			return nil, nil, false
		}
		if n := len(steps); n == 0 || steps[n-1].Dimming != dim {
			steps = append(steps, RampStep{st.day, dim})
		}
		to := days
		if k+1 < len(sh.steps) {
			to = sh.steps[k+1].day - 1
		}
		for d := st.day - 1; d < to; d++ {
			light[d] = o.shareAt(dim)
		}
	}
	return steps, light, true
}

// ramps finds for each shape the level at which it does best under the limit, and
// compares it with constant light that was set as finely.
func (o *Outlook) ramps(ctx context.Context, g Goal, best result, limit float64, say func(string, int, int)) ([]Ramp, error) {
	s, err := newSearcher(ctx, o, g, compareDraws, true)
	if err != nil {
		return nil, err
	}
	p := best.plan
	s.harvest = []int{p.Days}
	level := max(o.shareAt(p.Dimming), 1e-3)
	type found struct {
		r     result
		steps []RampStep
	}
	seek := func(sh shape) (found, bool) {
		var top found
		ok := false
		try := func(first float64) {
			steps, light, fits := o.turnedShape(sh, first, p.Days)
			if !fits {
				return
			}
			shares := make([]float64, len(light))
			for i, v := range light {
				shares[i] = v / level
			}
			if r := s.days(p, shares)[0]; !ok || better(r, top.r, limit) {
				top, ok = found{r, steps}, true
			}
		}
		at := level
		for _, f := range []float64{0.7, 0.8, 0.9, 1, 1.1, 1.25} {
			before := top
			try(level * f)
			if !slices.Equal(before.steps, top.steps) {
				at = level * f
			}
		}
		for _, f := range []float64{0.95, 0.975, 1.025, 1.05} {
			try(at * f)
		}
		return top, ok
	}
	all := shapes(p.Days)
	base, ok := seek(all[0])
	if !ok {
		return nil, nil
	}
	var out []Ramp
	for i, sh := range all[1:] {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		say("ramps", i, len(all)-1)
		f, ok := seek(sh)
		if !ok || violation(f.r, limit) > violation(base.r, limit)+1e-12 || len(f.steps) < 2 {
			continue
		}
		points := paired(base.r.burnt, f.r.burnt)
		out = append(out, Ramp{
			Name: sh.name, Days: f.steps, After: weighed(s, f.r), Gain: paired(base.r.draws, f.r.draws),
			Points: Band{100 * points.Low, 100 * points.Mid, 100 * points.High},
		})
	}
	say("ramps", len(all)-1, len(all)-1)
	slices.SortStableFunc(out, func(a, b Ramp) int {
		switch {
		case a.Gain.Mid > b.Gain.Mid:
			return -1
		case a.Gain.Mid < b.Gain.Mid:
			return 1
		}
		return 0
	})
	if len(out) > 5 {
		out = out[:5]
	}
	return out, nil
}
