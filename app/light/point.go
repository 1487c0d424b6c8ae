package light

import (
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// PPFDAt is the light at a place and a height above the planting surface while the lamps
// burn at a dimming each, as a sensor there that looks up would read it.
func (l *Lit) PPFDAt(dimming []quantity.Fraction, x, y, z quantity.Metre) quantity.PPFD {
	dim := make([]float64, len(dimming))
	for i := range dim {
		dim[i] = output(l.m.bench.Lamps[i], dimming[i])
	}
	pts := []lightfield.Point{{X: float64(x), Y: float64(y), Z: float64(z)}}
	out := lightfield.Combine(make([]float64, 1), l.field.Responses(nil, pts), dim)
	if f := l.factors(l.m.mix(dim), pts, float64(z)); f != nil {
		out[0] *= f[0]
	}
	return quantity.PPFD(out[0])
}
