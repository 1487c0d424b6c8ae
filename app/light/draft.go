package light

import (
	"fmt"

	"underlamp"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// A Draft is the light of a bench while somebody still arranges it: what lamps and walls
// give, without bands. It is made in a fraction of the time of an [Answer].
type Draft struct {
	X, Y  []float64       // m, of the map
	PPFD  []quantity.PPFD // µmol m⁻² s⁻¹ at the planting surface, X fastest; mean over the light day
	Plant []quantity.PPFD // mean over the crown of each plant
	Mean  quantity.PPFD   // over the plants
	DLI   quantity.DLI    // mean over the plants
	Day   quantity.Hours  // of light
	Known []bool          // of each lamp: it has the flux that the readings of the model gave it
	Flux  []quantity.PPF  // of each lamp at full power, as it is taken
}

// Draft is the light of a bench that came of the model's by moving, turning, adding or taking
// away things. What the readings of the model taught of a lamp goes with the lamp of the same
// name, as long as its flux, power and optics are described as before; what they taught of the
// walls stays while the walls do. Readings of b are not looked at: they were taken before
// it was moved. The residual field stays out too, for it belongs to the old places.
func (m *Model) Draft(b *underlamp.Bench, columns int) (*Draft, error) {
	lamps, d := lampsOf(b), &Draft{Known: make([]bool, len(b.Lamps))}
	before := lampsOf(m.bench)
	for i, l := range b.Lamps {
		for k, o := range m.bench.Lamps {
			if o.Name == l.Name && before[k].Flux > 0 && sameOutput(o, l) {
				lamps[i].Flux *= m.fit.Lamps[k].Flux / before[k].Flux
				lamps[i].Exponent = m.fit.Lamps[k].Exponent
				d.Known[i] = len(m.bench.Readings) > 0
			}
		}
		d.Flux = append(d.Flux, lamps[i].Flux)
	}
	space, was := spaceOf(b), spaceOf(m.bench)
	room := m.room
	if !sameSpace(space, was) {
		if space.Walls == was.Walls {
			space.Walls = m.fit.Space.Walls
		}
		var err error
		if room, err = lightfield.NewRoom(space, lightfield.Options{}); err != nil {
			return nil, fmt.Errorf("the space of bench %q cannot be computed: %w", b.Name, err)
		}
	}
	for i := range lamps {
		lamps[i].Centre.Z = clearOf(space, lamps[i], lamps[i].Centre.Z)
	}
	field, err := room.Solve(lamps)
	if err != nil {
		return nil, fmt.Errorf("the light of bench %q cannot be computed: %w", b.Name, err)
	}
	dim, day := DayWeights(b)
	d.Day = day

	columns = max(columns, 2)
	rows := min(max(int(float64(columns)*float64(b.Space.Depth/b.Space.Width)+0.5), 2), 4*columns)
	line := func(n int, length quantity.Metre) (out []float64) {
		for i := range n {
			out = append(out, float64(length)*float64(i)/float64(n-1))
		}
		return out
	}
	d.X, d.Y = line(columns, b.Space.Width), line(rows, b.Space.Depth)
	var at []lightfield.Point
	for _, y := range d.Y {
		for _, x := range d.X {
			at = append(at, lightfield.Point{X: x, Y: y})
		}
	}
	radius := crownRadius(b)
	for _, p := range b.Plants {
		for _, o := range crownOffsets {
			at = append(at, lightfield.Point{X: clamp(float64(p.X)+o[0]*radius, 0, float64(b.Space.Width)), Y: clamp(float64(p.Y)+o[1]*radius, 0, float64(b.Space.Depth))})
		}
	}
	light := lightfield.Combine(make([]float64, len(at)), field.Responses(nil, at), dim)
	n := columns * rows
	for _, v := range light[:n] {
		d.PPFD = append(d.PPFD, quantity.PPFD(v))
	}
	for _, v := range crownMeans(light[n:], nil) {
		d.Plant = append(d.Plant, quantity.PPFD(v))
		d.Mean += quantity.PPFD(v) / quantity.PPFD(len(b.Plants))
	}
	d.DLI = quantity.DailyLight(d.Mean, day)
	return d, nil
}

// sameOutput says that two descriptions of a lamp give it the same light, in the same shape.
func sameOutput(a, b underlamp.Lamp) bool {
	return a.Kind == b.Kind && a.Flux.Value == b.Flux.Value && a.Power.Value == b.Power.Value && a.Beam.Value == b.Beam.Value &&
		a.Opening == b.Opening && (a.File == nil) == (b.File == nil) && (a.File == nil || a.File.Name == b.File.Name)
}

// sameSpace says that two spaces are of one shape with the same walls.
func sameSpace(a, b lightfield.Space) bool {
	if a.Width != b.Width || a.Depth != b.Depth || a.Height != b.Height || a.Walls != b.Walls || len(a.Panels) != len(b.Panels) {
		return false
	}
	for i := range a.Panels {
		if a.Panels[i] != b.Panels[i] {
			return false
		}
	}
	return true
}
