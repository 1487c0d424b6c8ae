package outlook

import (
	"underlamp/app/light"
	"underlamp/science/headcycle"
)

// CanopyUnder is the height of the plants by day, in m, when the top of the canopy
// of the mean plant has the PPFD given for each day: light that follows the canopy,
// as under lamps that are raised. Day, air and feed are those of the bench.
func (o *Outlook) CanopyUnder(ppfd []float64) []Band {
	_, day := light.DayWeights(o.b)
	env, st, days := environment(o.b, day), start(o.b), len(ppfd)
	n := len(o.ens.traits)
	courses := make([]headcycle.Day, n*days)
	parallel(n, func(i int) {
		tr := &o.ens.traits[i]
		pre := headcycle.Prepare(tr, env)
		headcycle.Run(tr, &pre, headcycle.Flat(1), st, days, scaledDays(ppfd, o.ens.light[i]), courses[i*days:(i+1)*days])
	})
	out := make([]Band, days)
	buf := make([]float64, n)
	for d := range out {
		for i := range n {
			buf[i] = courses[i*days+d].Height
		}
		out[d] = BandOf(buf)
	}
	return out
}

func scaledDays(v []float64, f float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = x * f
	}
	return out
}
