package light

import (
	"fmt"

	"underlamp"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/working"
)

// TopLight is the light at the top of a plant that stands as tall as the bench
// says.
type TopLight struct {
	Height quantity.Metre `json:"height_m"`
	PPFD   quantity.PPFD  `json:"ppfd_umol_m2_s"`
	Taken  float64        `json:"taken_by_neighbours"` // share of the light that taller neighbours keep away, at most; 0 to 1
}

// addTops adds the light at the top of each plant whose height is known, less what
// taller neighbours shade. Crowns are upright cylinders as wide as the disc that
// a plant's light is averaged over, and let nothing through: the shade is an upper
// bound. bare is the PPFD at the plants without the residual field; what the field does
// at the planting surface it is taken to do higher up.
func (l *Lit) addTops(a *Answer, dim, bare []float64) {
	m := l.m
	var crowns []lightfield.Crown
	for i, p := range m.bench.Plants {
		if p.Height > 0 {
			crowns = append(crowns, lightfield.Crown{X: m.plants[i].X, Y: m.plants[i].Y, Radius: m.crownM, Height: float64(p.Height)})
		}
	}
	if len(crowns) == 0 {
		return
	}
	n := len(crownOffsets)
	var pts []lightfield.Point
	for i, p := range m.bench.Plants {
		if p.Height == 0 {
			continue
		}
		for _, at := range m.samples[i*n : (i+1)*n] {
			at.Z = float64(p.Height)
			pts = append(pts, at)
		}
	}
	ppfd, left := l.field.PPFD(nil, dim, pts), l.field.Left(dim, pts, crowns)
	for i, p := range m.bench.Plants {
		if p.Height == 0 {
			continue
		}
		whole, seen := 0.0, 0.0
		for j := range n {
			whole += ppfd[j] / float64(n)
			seen += ppfd[j] * left[j] / float64(n)
		}
		ppfd, left = ppfd[n:], left[n:]
		factor := 1.0
		if bare[i] > 0 {
			factor = float64(a.Plants[i].PPFD) / bare[i]
		}
		top := &TopLight{Height: p.Height, PPFD: quantity.PPFD(seen * factor)}
		if whole > 0 {
			top.Taken = 1 - seen/whole
		}
		a.Plants[i].Top = top
	}
	a.Shade = shadeFigure(m.bench, a)
}

// shadeFigure is the largest share that taller neighbours take from a plant.
func shadeFigure(b *underlamp.Bench, a *Answer) *working.Figure {
	var worst *PlantLight
	for i := range a.Plants {
		if p := &a.Plants[i]; p.Top != nil && (worst == nil || p.Top.Taken > worst.Top.Taken) {
			worst = p
		}
	}
	return &working.Figure{
		Name: "most that taller neighbours take from a plant", Value: 100 * worst.Top.Taken, Unit: "%", Digits: 2,
		Working: working.Working{
			Formula: "1 − light past the crowns of taller plants / light without them, at the top of the plant, mean over its crown",
			Inputs: []working.Input{
				working.Plain("plant", worst.Name, "computed"),
				working.Plain("its height", quantity.Length.Format(float64(worst.Top.Height), b.Units, 3), "stated"),
				working.Plain("its light", fmt.Sprintf("%s µmol/m²/s", quantity.Fixed(float64(worst.Top.PPFD), 0)), "computed"),
			},
			Steps: []string{"Every lamp is looked at in some hundred places, every patch of the sides in its middle, along straight lines from seven places of the crown."},
			Notes: []string{"An upper bound: crowns count as upright cylinders that let nothing through. Leaves let through and send back about a tenth of what they get."},
		},
	}
}
