package live

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/store"
)

// A plan is what a bench file says of the light: the map of its lamps at their dimming,
// and their hours. It is computed once for a bench, and costs what the light of a bench
// costs.
type plan struct {
	bench     *underlamp.Bench
	lit       *light.Lit
	dimming   []quantity.Fraction
	answer    *light.Answer // all lamps on
	mean      float64       // µmol m⁻² s⁻¹ over the plants
	highest   float64       // of the brightest plant
	brightest string        // its name
	day       float64       // h of light
	origin    string        // of the hours
	draw      float64       // W while all lamps are on
	energy    float64       // kWh a day
	perLux    float64       // µmol m⁻² s⁻¹ for each lx; 0: not known
	lux       string        // why not
}

func newPlan(b *underlamp.Bench) (*plan, error) {
	m, err := light.NewModel(b)
	if err != nil {
		return nil, err
	}
	s := b.Setting()
	p := &plan{bench: b, origin: b.Origins(s).Hours.String()}
	if p.lit, err = m.At(s.Height); err != nil {
		return nil, fmt.Errorf("the light of bench %q cannot be computed: %w", b.Name, err)
	}
	_, day := light.DayWeights(b)
	p.day = float64(day)
	for _, l := range b.Lamps {
		p.dimming = append(p.dimming, l.Dimming.Value)
		w := l.Draw(l.Dimming.Value)
		p.draw += float64(w)
		p.energy += float64(quantity.EnergyOf(w, l.Hours.Value))
	}
	p.answer = p.lit.AnswerDimmed(p.dimming, day, 5)
	for _, x := range p.answer.Plants {
		v := float64(x.PPFD)
		p.mean += v / float64(len(p.answer.Plants))
		if v > p.highest {
			p.highest, p.brightest = v, x.Name
		}
	}
	p.perLux, p.lux = perLux(b)
	return p, nil
}

// perLux is the PPFD of one lx under the lamps of a bench; 0 and the reason where it
// cannot be told.
func perLux(b *underlamp.Bench) (float64, string) {
	var photons, lumens float64
	for _, l := range b.Lamps {
		if l.Colour == nil {
			return 0, "the lamps of the bench file have no spectrum"
		}
		if l.Colour.LuxMeter() == spectrum.LuxUseless {
			return 0, "a lux meter is of no use under lamps of this colour"
		}
		w := float64(l.Flux.Value)
		photons, lumens = photons+w, lumens+w*l.Colour.LuxPerMicromole()
	}
	if !(lumens > 0) || math.IsInf(lumens, 0) {
		return 0, "the lamps of the bench file give no light that an eye sees"
	}
	return photons / lumens, ""
}

// at is the light of the plan at a sensor; that of the mean plant where nobody said where
// it stands.
func (p *plan) at(s *store.Sensor) (ppfd float64, placed bool) {
	if s.X == nil || s.Y == nil {
		return p.mean, false
	}
	z := 0.0
	if s.Height != nil {
		z = *s.Height
	}
	return float64(p.lit.PPFDAt(p.dimming, quantity.Metre(*s.X), quantity.Metre(*s.Y), quantity.Metre(z))), true
}

// Limits of what counts as light, as in package logged.
const (
	onShare   = 0.1 // of the light of the plan at the sensor
	leastPPFD = 5   // µmol m⁻² s⁻¹: less is no lamp
)
