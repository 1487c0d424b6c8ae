package validation

import (
	"math"

	"underlamp/science/residualfield"
)

// Residual checks the field that readings leave, and what a further reading
// would narrow, against the same case in a general-purpose library.
func Residual() []Check {
	const area = "light"
	const note = "six readings, σ 0.04, ℓ 0.3 m; GaussianProcessRegressor of scikit-learn 1.2.1"
	at := func(x, y float64) residualfield.Target {
		return residualfield.Target{Place: residualfield.Place{X: x, Y: y, Mix: []float64{1}}}
	}
	d := residualfield.Data{
		Value: []float64{0.05, -0.02, 0.03, -0.01, -0.06, 0.02},
		Noise: []float64{0.025, 0.03, 0.028, 0.03, 0.04, 0.035},
	}
	for _, p := range [][2]float64{{0.1, 0.1}, {0.3, 0.3}, {0.6, 0.3}, {0.9, 0.3}, {1.1, 0.1}, {0.6, 0.5}} {
		d.Places = append(d.Places, at(p[0], p[1]).Place)
	}
	k := residualfield.Kernel{SD: 0.04, Length: 0.3}
	p, err := residualfield.Condition(k, d)
	if err != nil {
		panic("validation: Residual: " + err.Error())
	}
	f, err := residualfield.FitOne(k, d)
	if err != nil {
		panic("validation: Residual: " + err.Error())
	}
	targets := []residualfield.Target{at(0.2, 0.2), at(0.6, 0.3), at(1.1, 0.5), at(0.85, 0.12)}
	before, after := f.Narrowing(targets, targets, []float64{0.03, 0.03, 0.03, 0.03})
	by := func(name, source string, got, want float64) Check {
		c := near(area, name, source, Independent, "", got, want, 1e-9*math.Max(1, math.Abs(want)))
		c.Note = note
		return c
	}
	const gp = "RasmussenWilliams2006"
	return []Check{
		by("residual field: mean among readings", gp, p.Mean(targets[0]), 0.018214719692),
		by("residual field: sd among readings", gp, p.SD(targets[0]), 0.019455073006),
		by("residual field: mean away from readings", gp, p.Mean(targets[2]), -0.008761066712),
		by("residual field: sd away from readings", gp, p.SD(targets[2]), 0.033879051462),
		by("residual field: log marginal likelihood", gp, p.LogMarginal, 10.715442212122),
		by("next reading: sd over four plants before", "ChalonerVerdinelli1995", before, 0.02533583217904659),
		by("next reading: sd over four plants after the best of four places", "ChalonerVerdinelli1995", after[2], 0.021916157323782794),
	}
}
