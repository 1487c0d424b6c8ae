package headlearn

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/headcycle"
)

// units is one cycle of three units: means of eight plants that share a lamp, with counts
// of burn.
func units(series string, weight float64, burnt, of int) Cycle {
	c := oneCycle(1, func(int, *Plant) {}).Cycles[0]
	c.Name, c.Days, c.Series = "block", 30, series
	c.Plants, c.Counts = nil, nil
	for i, e := range []float64{150, 200, 260} {
		light := []headcycle.Profile{{Spacing: 0.1, Levels: []float64{e, 1.1 * e, 1.2 * e}}}
		c.Plants = append(c.Plants, Plant{Name: string(rune('a' + i)), Light: light, Of: 8, SharedSD: 0.07, Weighings: []Weighing{{Day: 30, FreshGrams: 80 + e/3}}})
		c.Counts = append(c.Counts, Count{Day: 30, Burnt: burnt, Of: of, Light: light, Weight: weight})
	}
	return c
}

func TestMeansOfALamp(t *testing.T) {
	m, err := compile(Evidence{Cycles: []Cycle{units("", 1, 2, 8)}}, LettucePrior(headcycle.Lettuce()))
	if err != nil {
		t.Fatal(err)
	}
	c := &m.cycles[0]
	w := m.worker()
	tr := m.central
	w.run(c, &tr)
	// The quadratic of one mean is that of the plain formula: variance over n of plants and
	// scale, and all of the lamp's.
	for i := range c.series[fresh] {
		s := &c.series[fresh][i]
		q := w.plant(c, fresh, s, 1)
		load := c.plants[fresh][30]
		v := (dot(load, load)+s.noise[0]*s.noise[0])/8 + 0.07*0.07
		r := s.value[0] - w.expected(c, fresh, 30, c.between(s.x))
		cov := mat.NewSymDense(1, []float64{v})
		if math.Abs(q.a-r*r/cov.At(0, 0)) > 1e-9*math.Abs(q.a) || math.Abs(q.constant+math.Log(v)/2) > 1e-12 {
			t.Errorf("%g and %g, want %g and %g", q.a, q.constant, r*r/v, -math.Log(v)/2)
		}
	}
}

// A count of eight with weight ½ tells as much as one of four.
func TestWeightOfACount(t *testing.T) {
	prior := LettucePrior(headcycle.Lettuce())
	at := func(c Cycle) float64 {
		m, err := compile(Evidence{Cycles: []Cycle{c}}, prior)
		if err != nil {
			t.Fatal(err)
		}
		return m.worker().logLikelihood(point{logs: make([]float64, len(m.axes))})
	}
	if half, four := at(units("", 0.5, 2, 8)), at(units("", 0, 1, 4)); math.Abs(half-four) > 1e-9*math.Abs(four) {
		t.Errorf("%.12g and %.12g", half, four)
	}
	bad := units("", 1.5, 1, 4)
	if _, err := compile(Evidence{Cycles: []Cycle{bad}}, prior); err == nil {
		t.Error("a weight of 1.5 was taken")
	}
	bad = units("", 1, 1, 4)
	bad.Plants[0].SharedSD = math.NaN()
	if _, err := compile(Evidence{Cycles: []Cycle{bad}}, prior); err == nil {
		t.Error("an error that is no number was taken")
	}
}

// A series is computed together: the likelihood is that of cycles by themselves, as their
// lights are the same; and cycles that differ are not taken together.
func TestSeries(t *testing.T) {
	prior := LettucePrior(headcycle.Lettuce())
	at := func(cycles ...Cycle) (float64, *model) {
		m, err := compile(Evidence{Cycles: cycles}, prior)
		if err != nil {
			t.Fatal(err)
		}
		return m.worker().logLikelihood(point{logs: make([]float64, len(m.axes))}), m
	}
	alone, _ := at(units("", 1, 2, 8), units("", 1, 3, 8))
	together, m := at(units("x", 1, 2, 8), units("x", 1, 3, 8))
	if math.Abs(alone-together) > 1e-9*math.Abs(alone) || m.cycles[0].again || !m.cycles[1].again {
		t.Errorf("%.12g alone, %.12g together", alone, together)
	}
	other := units("x", 1, 3, 8)
	other.Start.FreshGrams *= 1.5
	if _, m := at(units("x", 1, 2, 8), other); m.cycles[1].again {
		t.Error("another start was computed together")
	}
}
