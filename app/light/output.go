package light

import (
	"underlamp"
	"underlamp/science/quantity"
)

// output is the light that a lamp gives at a dimming, as a share of its photon
// flux at full power, by its own dimming curve. Both the readings and the answer
// ask it. Age is in the flux itself, see lampsOf.
func output(l underlamp.Lamp, dimming quantity.Fraction) float64 { return float64(l.Light(dimming)) }

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
