package calibration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"

	"underlamp/science/headcycle"
)

// A crowd is 300 plants from one seed.
const (
	crowdSize = 300
	crowdSeed = 1
)

// Plants are the draws that crowds are watched with: plants and cultivars of one
// trial.
func Plants(central headcycle.Traits) []headcycle.Traits {
	return headcycle.OneTrial().Draws(central, crowdSize, crowdSeed)
}

// A Fit is a set of parameters with the misfit that is left.
type Fit struct {
	Names  []string
	Values []float64
	Misfit float64 // sum of squared residuals, in units of the weights
	Rows   []Residual
}

// A Residual is one target of a fit.
type Residual struct {
	Case   string
	Target float64
	Got    float64
}

// FitGrowth fits the two free parameters of growth, the factor on photosynthesis
// and the curvature of its response to light, to the calibration rows G01 and G02
// (dry mass per mol at 200 and 750 µmol m⁻² s⁻¹) and G19 (a winter crop in a
// greenhouse), with equal weights in the logarithm, taken as good to 10 %.
// Curvature has a prior of 0.7 with a standard deviation of 0.2, about what is
// used for leaves (Bonan2019, chapter 11, from memory).
func FitGrowth() Fit {
	winter := WinterNorden()
	rows := func(vigour, curvature float64) []Residual {
		tr := headcycle.Lettuce()
		tr.Growth.Vigour, tr.Growth.Curvature = vigour, curvature
		return []Residual{
			{"G01", 1.01, CarottiDry(tr, 200, Usual())},
			{"G02", 0.76, CarottiDry(tr, 750, Usual())},
			{"G19", 9.8, Winter(tr, winter)},
		}
	}
	cost := func(vigour, curvature float64) float64 {
		s := square((curvature - 0.7) / 0.2)
		for _, r := range rows(vigour, curvature) {
			s += square(math.Log(r.Got/r.Target) / 0.1)
		}
		return s
	}
	best := func(curvature float64) float64 {
		return golden(func(v float64) float64 { return cost(v, curvature) }, 0.7, 1.6)
	}
	curvature := golden(func(th float64) float64 { return cost(best(th), th) }, 0, 0.95)
	vigour := best(curvature)
	return Fit{Names: []string{"Vigour", "Curvature"}, Values: []float64{vigour, curvature}, Misfit: cost(vigour, curvature), Rows: rows(vigour, curvature)}
}

// FitHeart fits five parameters of the heart, and one factor on their spread,
// to the calibration rows T03, T05 and T06 and to one result on nights:
//
//   - first burn on day 22, standard deviation 2.6 d over ten cultivars;
//   - 7 to 41 % of leaves burnt at day 28, the span of ten cultivars, taken as
//     the 6th and the 94th percentile of plants (the expected ranks of the
//     lowest and highest of ten);
//   - calcium of young leaves of burnt plants between 0.2 and 0.5 mg per g,
//     middle 0.35;
//   - calcium that falls by more than a third when nights are of 90 instead of
//     95 % humidity (CollierTibbitts1984, the third second-hand): taken as 0.62 of
//     it, within a tenth.
//
// Each parameter has a prior around a first guess, which keeps what the rows
// cannot tell apart from running away. T01, T02 and T04 are orders; they are
// printed beside the fit and cannot move it.
func FitHeart() Fit { return FitHeartOf(headcycle.Lettuce()) }

// FitHeartOf fits the heart of other traits.
func FitHeartOf(start headcycle.Traits) Fit {
	parameters := []struct {
		name      string
		guess, sd float64 // sd of the logarithm
	}{
		{"CloseMass", 60, 0.5},
		{"HeartResistance", 800, 1},
		{"Bearing", 1, 0.2},
		{"Need", 0.55, 0.3},
		{"DryNight", 1.5, 0.5},
		{"HeartDraught", 0.02, 0.7},
		{"spread", 1, 0.5},
	}
	x := ErtleKubota()
	moist, dry := CollierTibbitts(0.95), CollierTibbitts(0.90)
	// The spread in use already holds the factor of an earlier fit; the factor here is on the unscaled one.
	base := headcycle.OneTrial().Heart(1 / headcycle.HeartSpread)
	traits := func(p []float64) headcycle.Traits {
		tr := start
		h := &tr.Heart
		h.CloseMass, h.HeartResistance, h.Bearing, h.Need, h.DryNight, h.HeartDraught = p[0], p[1], p[2], p[3], p[4], p[5]
		return tr
	}
	aired := func(tr headcycle.Traits) float64 {
		return x.With(func(e *Experiment) { e.Aim, e.Speed = "down", 1 }).Run(tr).Last.Calcium
	}
	nights := func(tr headcycle.Traits) float64 { return dry.Run(tr).Last.Calcium / moist.Run(tr).Last.Calcium }
	eval := func(p []float64) (Crowd, float64) {
		tr := traits(p)
		c := x.Watch(base.Heart(p[6]).Draws(tr, crowdSize, crowdSeed))
		ln := func(got, want, sd float64) float64 { return square(math.Log(max(got, 0.01)/want) / sd) }
		cost := square((c.Onset-22)/1) + ln(c.OnsetSD, 2.6, 0.3) + square((1-c.Chance)/0.1) + ln(c.Low, 0.07, 1) + ln(c.High, 0.41, 0.3) + ln(c.Calcium, 0.35, 0.3) + ln(nights(tr), 0.62, 0.1) + ln(aired(tr), 1.3, 0.25)
		for i, q := range parameters {
			cost += square(math.Log(p[i]/q.guess) / q.sd)
		}
		if math.IsNaN(cost) {
			cost = 1e6
		}
		return c, cost
	}
	at := func(u []float64) []float64 {
		p := make([]float64, len(u))
		for i := range u {
			p[i] = parameters[i].guess * math.Exp(u[i])
		}
		return p
	}
	problem := optimize.Problem{Func: func(u []float64) float64 { _, c := eval(at(u)); return c }}
	// Nelder-Mead is deterministic; the function is a count over plants and has no gradient.
	result, err := optimize.Minimize(problem, make([]float64, len(parameters)), &optimize.Settings{FuncEvaluations: 800}, &optimize.NelderMead{SimplexSize: 0.3})
	if result == nil {
		panic("calibration: FitHeart: " + err.Error())
	}
	best := at(result.X)
	c, cost := eval(best)
	fit := Fit{Values: best, Misfit: cost, Rows: []Residual{
		{"T05 first burn, day", 22, c.Onset},
		{"T05 its standard deviation, d", 2.6, c.OnsetSD},
		{"T06 burnt leaves at day 28, least burnt cultivar, %", 7, 100 * c.Low},
		{"T06 burnt leaves at day 28, most burnt cultivar, %", 41, 100 * c.High},
		{"T03 calcium of young leaves of burnt plants, mg/g", 0.35, c.Calcium},
		{"calcium after nights of 90 over that after 95 %", 0.62, nights(traits(best))},
		{"T03 calcium of young leaves where air is blown onto the heart, mg/g", 1.3, aired(traits(best))},
	}}
	for _, q := range parameters {
		fit.Names = append(fit.Names, q.name)
	}
	return fit
}

// golden finds the minimum of a function with one valley.
func golden(f func(float64) float64, lo, hi float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > 1e-4 {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - ratio*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + ratio*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}

func square(v float64) float64 { return v * v }

func meanSD(v []float64) (mean, sd float64) {
	switch len(v) {
	case 0:
		return math.NaN(), math.NaN()
	case 1:
		return v[0], math.NaN()
	}
	return stat.MeanStdDev(v, nil)
}

func percentile(v []float64, p float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return stat.Quantile(p, stat.Empirical, s, nil)
}
