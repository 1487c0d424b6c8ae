package trial

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/quantity"
)

// A LitUnit is the light of a unit by the bench's own field.
type LitUnit struct {
	Unit     string
	Lamp     string
	Aim      quantity.DLI      // 0: no level of light
	Now      quantity.DLI      // at the dimming of the bench
	Dimming  quantity.Fraction // proposed
	Got      quantity.DLI      // mean over the plants that count, with it
	Spread   float64           // coefficient of variation over the plants that count
	Plants   []string
	Guards   []string // plants whose light lies more than a fifth from the mean of the unit: grown, not counted
	Achieved bool     // within 5 % of the aim
}

// Groups gives every plant to its nearest lamp; the index of plants by lamp.
func Groups(b *underlamp.Bench) [][]int {
	out := make([][]int, len(b.Lamps))
	for i, p := range b.Plants {
		best, d := 0, math.Inf(1)
		for k, l := range b.Lamps {
			if x := math.Hypot(float64(p.X-l.X), float64(p.Y-l.Y)); x < d-1e-9 {
				best, d = k, x
			}
		}
		out[best] = append(out[best], i)
	}
	return out
}

// CheckLight works out, for the units of one block, the dimming of each lamp that
// gives its plants what the treatment claims, the light of the neighbours' lamps
// included, and what is achieved. The dimmings are in steps of 1 %.
func CheckLight(m *light.Model, t *underlamp.Trial, block string) ([]LitUnit, []string, error) {
	b := m.Bench()
	lit, err := m.At(b.Setting().Height)
	if err != nil {
		return nil, nil, err
	}
	r := lit.Responses(0)
	n, lamps := len(b.Plants), len(b.Lamps)
	groups := Groups(b)
	dims, day := light.DayWeights(b)
	aim, unitOf := make([]float64, lamps), make([]int, lamps)
	for k := range unitOf {
		unitOf[k] = -1
	}
	for i, u := range t.Places {
		if u.Block != block {
			continue
		}
		for k, l := range b.Lamps {
			if l.Name != u.Lamp || unitOf[k] >= 0 {
				continue
			}
			unitOf[k] = i
			if d := doseOfTreatment(t, u.Treatment); d > 0 {
				aim[k] = float64(quantity.ConstantPPFD(quantity.DLI(d), day))
			}
		}
	}
	mean := func(g []int, x []float64) float64 {
		s := 0.0
		for _, i := range g {
			for k := range lamps {
				s += x[k] * r[k*n+i]
			}
		}
		return s / float64(len(g))
	}
	x := append([]float64{}, dims...)
	// Cyclic projection: each lamp in turn makes up what its own plants lack.
	solve := func(groups [][]int) {
		for range 500 {
			for k, g := range groups {
				if aim[k] == 0 || len(g) == 0 {
					continue
				}
				own := 0.0
				for _, i := range g {
					own += r[k*n+i] / float64(len(g))
				}
				if own > 0 {
					x[k] = min(1, max(0, x[k]+(aim[k]-mean(g, x))/own))
				}
			}
		}
	}
	// Guards are found with all plants counted; the dimming is then for the rest.
	solve(groups)
	guards, kept := make([][]string, lamps), make([][]int, lamps)
	for k, g := range groups {
		for _, i := range g {
			if got := mean(g, x); math.Abs(mean([]int{i}, x)-got) > 0.2*got {
				guards[k] = append(guards[k], b.Plants[i].Name)
			} else {
				kept[k] = append(kept[k], i)
			}
		}
		if len(kept[k]) == 0 {
			kept[k], guards[k] = g, nil
		}
	}
	groups = kept
	solve(groups)
	var out []LitUnit
	var says []string
	for k, g := range groups {
		x[k] = math.Round(100*x[k]) / 100
		if unitOf[k] >= 0 && len(g) == 0 {
			says = append(says, fmt.Sprintf("No plant stands nearest to %s.", b.Lamps[k].Name))
		}
	}
	for k, g := range groups {
		if unitOf[k] < 0 || len(g) == 0 {
			continue
		}
		u := t.Places[unitOf[k]]
		got := mean(g, x)
		v := LitUnit{Unit: u.Name, Lamp: b.Lamps[k].Name, Now: quantity.DailyLight(quantity.PPFD(mean(g, dims)), day), Got: quantity.DailyLight(quantity.PPFD(got), day), Dimming: b.Lamps[k].DimmingFor(quantity.Fraction(x[k]))}
		v.Guards = guards[k]
		ss := 0.0
		for _, i := range g {
			p := mean([]int{i}, x)
			ss += (p - got) * (p - got)
			v.Plants = append(v.Plants, b.Plants[i].Name)
		}
		if got > 0 && len(g) > 1 {
			v.Spread = math.Sqrt(ss/float64(len(g)-1)) / got
		}
		if aim[k] > 0 {
			v.Aim = quantity.DailyLight(quantity.PPFD(aim[k]), day)
			v.Achieved = math.Abs(got-aim[k]) <= 0.05*aim[k]
			if !v.Achieved {
				says = append(says, fmt.Sprintf("%s cannot have %.3g mol/m²/d: by dimming alone its plants get %.3g. Choose another level, hang the lamp otherwise, or part it from its neighbours.", u.Name, float64(v.Aim), float64(v.Got)))
			}
		}
		out = append(out, v)
	}
	says = append(says, "Lamps of this bench light each other's plants; a board between them makes treatments purer. The brighter side is also the warmer one.")
	return out, says, nil
}

func doseOfTreatment(t *underlamp.Trial, name string) float64 {
	for _, x := range t.Treatments {
		if x.Name == name {
			return float64(x.DLI)
		}
	}
	return 0
}
