package light

import (
	"underlamp"
	"underlamp/science/quantity"
)

// output is the light that a lamp gives at a dimming, as a share of its photon
// flux at full power. It is the one place where a lamp's own dimming curve and
// its age would enter: both the readings and the answer ask it, so a lamp that has
// aged since the reading needs its age on either day and nothing else.
func output(_ underlamp.Lamp, dimming quantity.Fraction) float64 { return float64(dimming) }

// DayWeights are the factors on each lamp of a bench that give the mean PPFD
// over the light day, and the length of that day.
func DayWeights(b *underlamp.Bench) (dim []float64, day quantity.Hours) {
	for _, l := range b.Lamps {
		day = max(day, l.Hours.Value)
	}
	dim = make([]float64, len(b.Lamps))
	for i, l := range b.Lamps {
		if day > 0 {
			dim[i] = output(l, l.Dimming.Value) * float64(l.Hours.Value/day)
		}
	}
	return dim, day
}

func (m *Model) weights(change *underlamp.Setting) (dim []float64, day quantity.Hours) {
	if change != nil {
		return DayWeights(m.bench.With(*change))
	}
	return DayWeights(m.bench)
}
