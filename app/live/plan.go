package live

import (
	"fmt"
	"math"
	"sync"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/store"
)

// A plan is what a bench file says of the light: the light of every plant and at every
// light sensor, with the lamps at their dimming, and their hours. It is computed once for a
// bench; the solved space, of some megabytes, is not held.
type plan struct {
	bench     *underlamp.Bench
	plants    []light.PlantLight // all lamps on
	mean      float64            // µmol m⁻² s⁻¹ over the plants
	highest   float64            // of the brightest plant
	brightest string             // its name
	day       float64            // h of light
	origin    string             // of the hours
	draw      float64            // W while all lamps are on
	energy    float64            // kWh a day
	perLux    float64            // µmol m⁻² s⁻¹ for each lx; 0: not known
	lux       string             // why not

	mu     sync.Mutex
	places map[[3]float64]float64 // light at sensors
}

func newPlan(b *underlamp.Bench, sensors []store.Sensor) (*plan, error) {
	p := &plan{bench: b, origin: b.Origins(b.Setting()).Hours.String(), places: map[[3]float64]float64{}}
	_, day := light.DayWeights(b)
	p.day = float64(day)
	for _, l := range b.Lamps {
		w := l.Draw(l.Dimming.Value)
		p.draw += float64(w)
		p.energy += float64(quantity.EnergyOf(w, l.Hours.Value))
	}
	lit, err := p.solve()
	if err != nil {
		return nil, err
	}
	p.plants = lit.AnswerDimmed(p.dimming(), day, 5).Plants
	for _, x := range p.plants {
		v := float64(x.PPFD)
		p.mean += v / float64(len(p.plants))
		if v > p.highest {
			p.highest, p.brightest = v, x.Name
		}
	}
	p.perLux, p.lux = PerLux(b)
	p.learn(lit, sensors)
	return p, nil
}

// dli is the mean DLI of a whole day.
func (p *plan) dli() float64 {
	return float64(quantity.DailyLight(quantity.PPFD(p.mean), quantity.Hours(p.day)))
}

// hours are the hours of light of a whole day.
func (p *plan) hours() float64 { return p.day }

// solve computes the light of the bench.
func (p *plan) solve() (*light.Lit, error) {
	m, err := light.NewModel(p.bench)
	if err != nil {
		return nil, err
	}
	lit, err := m.At(p.bench.Setting().Height)
	if err != nil {
		return nil, fmt.Errorf("the light of bench %q cannot be computed: %w", p.bench.Name, err)
	}
	return lit, nil
}

func (p *plan) dimming() []quantity.Fraction {
	var out []quantity.Fraction
	for _, l := range p.bench.Lamps {
		out = append(out, l.Dimming.Value)
	}
	return out
}

// placeOf is where a sensor stands; false if nobody said.
func placeOf(s *store.Sensor) (place [3]float64, placed bool) {
	if s.X == nil || s.Y == nil {
		return place, false
	}
	place[0], place[1] = *s.X, *s.Y
	if s.Height != nil {
		place[2] = *s.Height
	}
	return place, true
}

// with is the plan with the light at sensors that it does not know yet.
func (p *plan) with(sensors []store.Sensor) (*plan, error) {
	p.mu.Lock()
	missing := false
	for i := range sensors {
		if place, placed := placeOf(&sensors[i]); placed && isLight(&sensors[i]) {
			if _, ok := p.places[place]; !ok {
				missing = true
			}
		}
	}
	p.mu.Unlock()
	if !missing {
		return p, nil
	}
	lit, err := p.solve()
	if err != nil {
		return nil, err
	}
	p.learn(lit, sensors)
	return p, nil
}

func (p *plan) learn(lit *light.Lit, sensors []store.Sensor) {
	for i := range sensors {
		if place, placed := placeOf(&sensors[i]); placed && isLight(&sensors[i]) {
			v := float64(lit.PPFDAt(p.dimming(), quantity.Metre(place[0]), quantity.Metre(place[1]), quantity.Metre(place[2])))
			p.mu.Lock()
			p.places[place] = v
			p.mu.Unlock()
		}
	}
}

func isLight(s *store.Sensor) bool {
	m, ok := measurand.Named(s.Quantity)
	return ok && m.Quantity == measurand.PPFD
}

// at is the light of the plan at a sensor; that of the mean plant where nobody said where
// it stands.
func (p *plan) at(s *store.Sensor) (ppfd float64, placed bool) {
	place, placed := placeOf(s)
	if !placed {
		return p.mean, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.places[place], true
}

// PerLux is the PPFD of one lx under the lamps of a bench; 0 and the reason where it
// cannot be told.
func PerLux(b *underlamp.Bench) (float64, string) {
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

// Limits of what counts as light, as in package logged.
const (
	onShare   = 0.1 // of the light of the plan at the sensor
	leastPPFD = 5   // µmol m⁻² s⁻¹: less is no lamp
)
