package light

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
	"underlamp/working"
)

// A Correction is what the residual field did to an answer.
type Correction struct {
	Used     bool
	Why      string          // one sentence: why it is used, or why not
	Usable   int             // readings near the model and under the lamps of this setting
	SD       float64         // standard deviation of the field before the readings, relative
	Length   quantity.Metre  // over which it changes, in plan
	Before   quantity.PPFD   // mean over the plants without the field
	Plants   []float64       // factor on each plant; 1 without field
	Map      []float64       // factor at each node of the answer's map; nil without field
	Readings []quantity.PPFD // what each reading should show by lamps, walls, meter and field
}

// MapBefore is the map of the answer as lamps and walls alone would have it.
func (a *Answer) MapBefore() Map {
	m := Map{X: a.Map.X, Y: a.Map.Y, PPFD: append([]float64(nil), a.Map.PPFD...)}
	for i, f := range a.Field.Map {
		m.PPFD[i] /= f
	}
	return m
}

// Figures lists the headline figures in the order of importance.
func (a *Answer) Figures() []working.Figure {
	out := []working.Figure{a.Mean, a.DLI, a.Lowest, a.Highest, a.Evenness, a.Spread, a.Canopy, a.Within}
	if a.Above != nil {
		out = append(out, *a.Above)
	}
	if a.Shade != nil {
		out = append(out, *a.Shade)
	}
	return out
}

func (m *Model) correction(ppfd, bare, onMap []float64) Correction {
	c := Correction{Used: m.use.on, Why: m.why(), Usable: m.use.usable, Map: onMap}
	if m.use.on {
		k := m.field.Kernel()
		c.SD, c.Length = k.SD, quantity.Metre(k.Length)
	}
	for i, v := range bare {
		c.Before += quantity.PPFD(v / float64(len(bare)))
		f := 1.0
		if v > 0 {
			f = ppfd[i] / v
		}
		c.Plants = append(c.Plants, f)
	}
	for _, v := range m.expected() {
		c.Readings = append(c.Readings, quantity.PPFD(v))
	}
	return c
}

// fieldWorking tells in the working of a PPFD whether the field was used.
func (m *Model) fieldWorking(w *working.Working) {
	if len(m.bench.Readings) == 0 {
		return
	}
	w.Steps = append(w.Steps, m.why())
	if !m.use.on {
		return
	}
	k := m.field.Kernel()
	units := m.bench.Units
	w.Formula += ";  times exp(residual field)"
	w.Inputs = append(w.Inputs, working.Plain("residual field",
		fmt.Sprintf("%s over %s", quantity.Share.Format(k.SD, units, 2), quantity.Length.Format(k.Length, units, 2)),
		fmt.Sprintf("weighed by the readings; length from %s to %s allowed", quantity.Length.Format(m.use.minM, units, 2), quantity.Length.Format(m.use.maxM, units, 2))))
	w.Steps = append(w.Steps, "The field is a Gaussian process on ln(reading/model), found together with flux, beam, walls and meter. It fades with the distance from the readings; at another height under the lamps it holds less (half of its variance is lost where the distance changes by a factor of 1.8), and the band widens.")
	w.Notes = append(w.Notes, "Equal dimming of all lamps leaves the field as it is. With other lamps on it holds as far as the lamps are shared.")
	w.Sources = append(w.Sources, "RasmussenWilliams2006")
}

func (m *Model) evenness(low, mean float64) working.Figure {
	v := math.NaN()
	if mean > 0 {
		v = 100 * low / mean
	}
	return working.Figure{
		Name: "darkest plant, of the mean", Value: v, Unit: "%", Digits: 2,
		Working: working.Working{Formula: "PPFD of the darkest plant / mean PPFD at the plants", Notes: []string{"A common error of the meter drops out of this figure."}},
	}
}

// nearTarget is how far the light may be off the target to count as met: 10 %.
const nearTarget = 0.1

func (m *Model) within(mp Map) working.Figure {
	target, origin := float64(m.opt.Target), "stated"
	name := "surface within 10 % of the target"
	if target == 0 {
		target, origin = mp.Mean(), "computed: the mean over the planting surface, since no target is stated"
		name = "surface within 10 % of its mean"
	}
	return working.Figure{
		Name: name, Value: 100 * mp.Within(target, nearTarget), Unit: "%", Digits: 2,
		Working: working.Working{
			Formula: "area where |PPFD / target − 1| ≤ 0.1, over the planting surface",
			Inputs:  []working.Input{working.Plain("target", quantity.PhotonFluxDensity.Format(target, m.bench.Units, 3), origin)},
			Steps:   []string{"Every cell of the map is cut into 16; the light in between is interpolated."},
		},
	}
}

func (m *Model) above(ppfd []float64) *working.Figure {
	if m.opt.Ceiling <= 0 {
		return nil
	}
	n := 0
	for _, v := range ppfd {
		if v > float64(m.opt.Ceiling) {
			n++
		}
	}
	return &working.Figure{
		Name: "plants above the ceiling", Value: 100 * float64(n) / float64(len(ppfd)), Unit: "%", Digits: 2,
		Working: working.Working{
			Formula: "plants whose PPFD is above the ceiling / plants",
			Inputs: []working.Input{
				working.Plain("ceiling", quantity.PhotonFluxDensity.Format(float64(m.opt.Ceiling), m.bench.Units, 3), "stated"),
				working.Plain("plants above it", fmt.Sprintf("%d of %d", n, len(ppfd)), "computed"),
			},
		},
	}
}

// Within is the share of the surface whose PPFD is within a relative tolerance of
// a target. Each cell is cut into 4 × 4, the light in it is bilinear.
func (m Map) Within(target, tolerance float64) float64 {
	const cuts = 4
	hits, all := 0.0, 0.0
	nx := len(m.X)
	for j := range len(m.Y) - 1 {
		for i := range nx - 1 {
			area := (m.X[i+1] - m.X[i]) * (m.Y[j+1] - m.Y[j])
			e := [4]float64{m.PPFD[j*nx+i], m.PPFD[j*nx+i+1], m.PPFD[(j+1)*nx+i], m.PPFD[(j+1)*nx+i+1]}
			for b := range cuts {
				v := (float64(b) + 0.5) / cuts
				for a := range cuts {
					u := (float64(a) + 0.5) / cuts
					at := (e[0]*(1-u)+e[1]*u)*(1-v) + (e[2]*(1-u)+e[3]*u)*v
					if math.Abs(at-target) <= tolerance*target {
						hits += area
					}
					all += area
				}
			}
		}
	}
	return hits / all
}
