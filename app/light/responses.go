package light

import (
	"fmt"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// LampsAt are the lamps, corrected by the readings, with their mean height moved
// to the one given; each keeps its distance from the mean.
func (m *Model) LampsAt(height quantity.Metre) []lightfield.Lamp {
	s := m.bench.Setting()
	s.Height = height
	return m.lampsAt(s)
}

// Responses are the PPFD that each lamp at full power gives each plant, mean over
// a crown at the height z above the planting surface: element k·plants+i is lamp
// k at plant i. The light of any dimmings is their sum. The residual field is in
// them as it is with the lamps dimmed as the bench has them.
func (l *Lit) Responses(z quantity.Metre) []float64 {
	dim, _ := DayWeights(l.m.bench)
	return crownResponses(l.m, l.field, z, func(pts []lightfield.Point) []float64 {
		return l.factors(l.m.mix(dim), pts, float64(z))
	})
}

// ResponsesOf is [Lit.Responses] for any lamps in the space of the bench: others
// in number or place than those that hang there. They carry no residual field,
// which belongs to the lamps that were read.
func (m *Model) ResponsesOf(lamps []lightfield.Lamp, z quantity.Metre) ([]float64, error) {
	field, err := m.room.Solve(lamps)
	if err != nil {
		return nil, fmt.Errorf("%d lamps in the space of bench %q: %w", len(lamps), m.bench.Name, err)
	}
	return crownResponses(m, field, z, func([]lightfield.Point) []float64 { return nil }), nil
}

func crownResponses(m *Model, field *lightfield.Field, z quantity.Metre, factors func([]lightfield.Point) []float64) []float64 {
	pts := make([]lightfield.Point, len(m.samples))
	for i, p := range m.samples {
		p.Z = float64(z)
		pts[i] = p
	}
	all := field.Responses(nil, pts)
	if f := factors(pts); f != nil {
		for i := range all {
			all[i] *= f[i%len(pts)]
		}
	}
	n := len(m.samples) / len(m.plants)
	out := make([]float64, len(all)/n)
	for i := range out {
		for _, v := range all[i*n : (i+1)*n] {
			out[i] += v / float64(n)
		}
	}
	return out
}

// PlantSD is the relative standard deviation of the light of each plant that
// readings and labels leave open, without the residual field.
func (m *Model) PlantSD() ([]float64, error) { return m.plainSD() }

// exactMeter stands for a meter without scale error.
const exactMeter = 1e-4

// PlantSDSameMeter is [Model.PlantSD] without the scale error of the meter: what
// matters between two benches that were read by one meter, whose error they
// share. Without readings it is the same as PlantSD.
func (m *Model) PlantSDSameMeter() ([]float64, error) { return m.plantSD(exactMeter) }

func (m *Model) plantSD(meter float64) ([]float64, error) {
	readings, err := readingsOf(m.bench)
	if err != nil {
		return nil, err
	}
	prior := priorOf(m.bench)
	if len(readings) > 0 {
		prior.MeterSD = meter
	}
	fit, err := lightfield.Fit(spaceOf(m.bench), lampsOf(m.bench), readings, prior)
	if err != nil {
		return nil, fmt.Errorf("the light of bench %q cannot be computed: %w", m.bench.Name, err)
	}
	return fit.RelativeSD(m.plants), nil
}
