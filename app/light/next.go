package light

import (
	"errors"
	"fmt"
	"math"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A NextReading is where one more meter reading would tell the most about the
// light of the plants.
type NextReading struct {
	X, Y   quantity.Metre
	Height quantity.Metre // of the sensor: 0, the planting surface
	Expect quantity.PPFD  // what the meter should show there, all lamps as they are set

	Before float64        // relative standard deviation of the PPFD of a plant, root mean square over the plants
	After  float64        // the same with that reading
	Gain   working.Figure // After in percent, with its working

	Tried Narrowing
}

// A Narrowing is After for every place that was tried, on a regular grid.
type Narrowing struct {
	X, Y  []float64 // m from the left and from the front, ascending
	After []float64 // relative, at X[i], Y[j]: After[j*len(X)+i]
}

// errDark says that no place can be read.
var errDark = errors.New("no lamp lights the planting surface as the bench is set, so no reading can help")

// tryColumns is the number of columns of places that are tried, and edge how far
// they stay off the sides, in m: closer a sensor cannot be held level and read.
const (
	tryColumns = 17
	edge       = 0.05
)

// NextReading looks over a grid of places on the planting surface, with the lamps
// as the bench is set, for the reading that would lower the mean variance of the
// light of the plants the most. It does not matter what the reading would say:
//
//	var' = var − cov(plant, place)² / (var(place) + noise²)
//
// (ChalonerVerdinelli1995: A-optimality.) Flux, beam, walls, meter and residual
// field all take part in the covariances.
func (m *Model) NextReading() (*NextReading, error) {
	lit, err := m.At(m.bench.Setting().Height)
	if err != nil {
		return nil, err
	}
	return lit.NextReading()
}

// NextReading is that of the model, with the lamps at this height.
func (l *Lit) NextReading() (*NextReading, error) {
	m := l.m
	dim, _ := DayWeights(m.bench)
	for i, lamp := range m.bench.Lamps {
		dim[i] = output(lamp, lamp.Dimming.Value) // a reading sees the lamps burn, not their mean over the day
	}
	mix := m.mix(dim)
	grid := Narrowing{X: between(float64(m.bench.Space.Width), tryColumns)}
	rows := clamp(math.Round(tryColumns*float64(m.bench.Space.Depth)/float64(m.bench.Space.Width)), 3, 2*tryColumns)
	grid.Y = between(float64(m.bench.Space.Depth), int(rows))
	var pts []lightfield.Point
	for _, y := range grid.Y {
		for _, x := range grid.X {
			pts = append(pts, lightfield.Point{X: x, Y: y})
		}
	}
	noise := lightfield.Expected(pts, func(p []lightfield.Point) []float64 { return l.field.PPFD(nil, dim, p) })
	slopes, err := m.slopes()
	if err != nil {
		return nil, err
	}
	lamps := l.field.Lamps()
	plants, err := slopes.At(lamps, m.plants)
	if err != nil {
		return nil, err
	}
	places, err := slopes.At(lamps, pts)
	if err != nil {
		return nil, err
	}
	h := float64(l.height)
	candidates := m.targets(h, 0, mix, pts, m.fit.WithMeter(places.Log(dim)))
	before, after := m.field.Narrowing(m.targets(h, 0, mix, m.plants, plants.Log(dim)), candidates, noise)
	grid.After = after
	best := -1
	for i, v := range after {
		if !math.IsInf(noise[i], 1) && !math.IsNaN(v) && (best < 0 || v < after[best]) {
			best = i
		}
	}
	if best < 0 {
		return nil, errDark
	}
	p := pts[best]
	light := l.field.PPFD(nil, dim, pts[best:best+1])[0] * m.fit.MeterFactor
	for _, f := range l.factors(mix, pts[best:best+1], 0) {
		light *= f
	}
	n := &NextReading{X: quantity.Metre(p.X), Y: quantity.Metre(p.Y), Expect: quantity.PPFD(light), Before: before, After: after[best], Tried: grid}
	n.Gain = m.gain(n, noise[best], len(pts))
	return n, nil
}

// between are n equally spaced places on a length, off its ends.
func between(length float64, n int) []float64 {
	off := min(edge, length/4)
	out := nodes(length-2*off, n)
	for i := range out {
		out[i] += off
	}
	return out
}

func (m *Model) gain(n *NextReading, noise float64, tried int) working.Figure {
	u := m.bench.Units
	share := func(v float64) string { return quantity.Share.Format(v, u, 2) }
	w := working.Working{
		Formula: "var' = var − cov(plant, place)² / (var(place) + noise²), mean over the plants",
		Inputs: []working.Input{
			working.Plain("plants", fmt.Sprint(len(m.plants)), "stated"),
			working.Plain("readings so far", fmt.Sprint(len(m.bench.Readings)), "measured"),
			working.Plain("sd of a plant's light now", share(n.Before), "computed"),
			working.Plain("sd of one reading there", share(noise), "computed: 2.5 % of its own and 1 cm of place"),
			working.Plain("places tried", fmt.Sprint(tried), "computed"),
		},
		Steps: []string{
			"Flux, beam, walls, meter and residual field take part; all lamps burn as they are set.",
			"What the reading will say plays no part, only where it is taken.",
		},
		Sources: []string{"ChalonerVerdinelli1995", "RasmussenWilliams2006"},
		Notes:   []string{"The scale error of the meter stays: no second reading with the same meter can lower it."},
	}
	if !m.use.on {
		w.Sources = w.Sources[:1]
		w.Steps[0] = "Flux, beam, walls and meter take part; all lamps burn as they are set."
	}
	return working.Figure{Name: "sd of a plant's light after the next reading", Value: 100 * n.After, Unit: "%", Digits: 2, Working: w}
}

// hardly is the share of the standard deviation that must go for a reading to be
// worth the walk.
const hardly = 0.02

// Sentence says the advice in one line, or that another reading would hardly help.
func (n *NextReading) Sentence(u quantity.System) string {
	length := func(v quantity.Metre) string { return quantity.Length.Format(float64(v), u, 3) }
	share := func(v float64) string { return quantity.Fixed(100*v, 1) + " %" }
	where := fmt.Sprintf("%s from the left, %s from the front, on the planting surface", length(n.X), length(n.Y))
	if n.After > (1-hardly)*n.Before {
		return fmt.Sprintf("One more reading would hardly tell more of the light of a plant: even the best place (%s) leaves ± %s of ± %s. What is left is for the most part the meter's own scale.",
			where, share(n.After), share(n.Before))
	}
	return fmt.Sprintf("Next reading: %s. It narrows the light of a plant from ± %s to ± %s (expect about %s).",
		where, share(n.Before), share(n.After), quantity.PhotonFluxDensity.Format(float64(n.Expect), u, 2))
}
