package power

import (
	"context"
	"math"
	"math/rand/v2"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// A Nested trial has Units units at each level of a treatment and Subs subsamples in
// each unit.
type Nested struct {
	Means  []float64 // of the levels, as they would have to differ
	Units  int       // per level
	Subs   int       // subsamples per unit
	SDUnit float64   // between units of one level
	SDSub  float64   // between subsamples of one unit
	Blocks bool      // units come in complete blocks, one per level; SDUnit is then within blocks
	Alpha  float64   // level of the test, 0.05
}

func (d Nested) check() error {
	switch {
	case len(d.Means) < 2:
		return stat.Refuse("power", "there is only one level")
	case d.Units < 1 || d.Subs < 1:
		return stat.Refuse("power", "there are no units or no subsamples")
	case d.SDUnit < 0 || d.SDSub < 0 || !(d.SDUnit+d.SDSub > 0) || math.IsInf(d.SDUnit+d.SDSub, 0):
		return stat.Refuse("power", "the scatter between units and within them is not known")
	case !(d.Alpha > 0 && d.Alpha < 1):
		return stat.Refuse("power", "the level of the test is not between 0 and 1")
	case d.errorDF() < 1:
		return stat.Refuse("power", "one unit at each level leaves no degrees of freedom; whatever comes out, level and unit cannot be told apart")
	}
	return stat.Check(d.Means)
}

func (d Nested) errorDF() int {
	a := len(d.Means)
	if d.Blocks {
		return (a - 1) * (d.Units - 1)
	}
	return a * (d.Units - 1)
}

// variance of the mean of one unit.
func (d Nested) variance() float64 {
	return d.SDUnit*d.SDUnit + d.SDSub*d.SDSub/float64(d.Subs)
}

// A Power is the chance of a significant F.
type Power struct {
	Chance        float64
	DF1, DF2      int
	Noncentrality float64
	Ceiling       float64 // chance with subsamples without end; 1 if units do not differ
}

// F returns the power of the F test between levels.
func (d Nested) F() (Power, error) {
	if err := d.check(); err != nil {
		return Power{}, err
	}
	var mean, ss float64
	for _, m := range d.Means {
		mean += m / float64(len(d.Means))
	}
	for _, m := range d.Means {
		ss += (m - mean) * (m - mean)
	}
	ss *= float64(d.Units)
	return chance(ss, d.variance(), d.SDUnit, len(d.Means)-1, d.errorDF(), d.Alpha), nil
}

// UnitsFor returns the least number of units per level that gives the F test the
// chance, at most 1000, or a refusal if none does.
func (d Nested) UnitsFor(chance float64) (int, error) {
	for d.Units = 2; d.Units <= 1000; d.Units++ {
		p, err := d.F()
		if err != nil {
			return 0, err
		}
		if p.Chance >= chance {
			return d.Units, nil
		}
	}
	return 0, stat.Refuse("the number of units", "even 1000 units at each level do not give this chance")
}

// Detectable returns the smallest difference between two levels that a two-sided t
// test on the error of the whole trial finds with the chance, and the same with
// subsamples without end. Means are not used but for their number.
func (d Nested) Detectable(chance float64) (difference, floor float64, err error) {
	if err := d.check(); err != nil {
		return 0, 0, err
	}
	if !(chance > d.Alpha && chance < 1) {
		return 0, 0, stat.Refuse("the smallest difference", "the chance asked for is not between the level of the test and 1")
	}
	delta := shift(float64(d.errorDF()), d.Alpha, chance)
	r := float64(d.Units)
	return delta * math.Sqrt(2*d.variance()/r), delta * math.Sqrt(2/r) * d.SDUnit, nil
}

// shift is the noncentrality at which a two-sided t test has the power.
func shift(df, alpha, power float64) float64 {
	f := func(delta float64) float64 { return twoSided(df, alpha, delta) - power }
	hi := 4.0
	for f(hi) < 0 {
		hi *= 2
	}
	return numeric.Root(f, 0, hi)
}

// T returns the power of a two-sided t test with df degrees of freedom whose estimate
// lies delta standard errors from 0.
func T(delta, df, alpha float64) float64 { return twoSided(df, alpha, delta) }

// TDetectable is the number of standard errors that such a test finds with the chance.
func TDetectable(df, alpha, chance float64) float64 { return shift(df, alpha, chance) }

func twoSided(df, alpha, delta float64) float64 {
	t := dist.TQuantile(1-alpha/2, df)
	n := dist.NoncentralT{DF: df, Delta: delta}
	return n.Upper(t) + n.Lower(-t)
}

// TwoGroups returns the power of the two-sided t test between groups of n1 and n2
// units whose means differ by difference, with standard deviation sd between units.
func TwoGroups(n1, n2 int, difference, sd, alpha float64) (float64, error) {
	if n1 < 1 || n2 < 1 || n1+n2 < 3 {
		return 0, stat.Refuse("power", "one unit in each group leaves no degrees of freedom")
	}
	if !(sd > 0) {
		return 0, stat.Refuse("power", "the scatter between units is not known")
	}
	return twoSided(float64(n1+n2-2), alpha, difference/(sd*math.Sqrt(1/float64(n1)+1/float64(n2)))), nil
}

// Pairs returns the power of the two-sided paired t test of n pairs; sd is that of
// the differences.
func Pairs(n int, difference, sd, alpha float64) (float64, error) {
	if n < 2 {
		return 0, stat.Refuse("power", "one pair leaves no degrees of freedom")
	}
	if !(sd > 0) {
		return 0, stat.Refuse("power", "the scatter between pairs is not known")
	}
	return twoSided(float64(n-1), alpha, difference/sd*math.Sqrt(float64(n))), nil
}

// DesignEffect is the factor by which clustering inflates variance: 1 + (n − 1) ICC
// for n subsamples per unit.
func DesignEffect(subs, icc float64) float64 { return 1 + (subs-1)*icc }

// Naive returns how often a test that takes subsamples for units would find a
// difference where there is none: a levels, r units each, n subsamples each, at
// nominal level alpha, with share icc of the variance between units.
func Naive(a, r, n int, icc, alpha float64) (float64, error) {
	if a < 2 || r < 1 || n < 1 || icc < 0 || icc >= 1 {
		return 0, stat.Refuse("the error of the naive test", "it needs two levels, a unit, a subsample, and a share from 0 to below 1")
	}
	d1, dl, dw := float64(a-1), float64(a*(r-1)), float64(a*r*(n-1))
	if dw == 0 || icc == 0 {
		return alpha, nil
	}
	k := 1 + float64(n)*icc/(1-icc) // variance of unit means in units of that within
	crit := dist.FQuantile(1-alpha, d1, dl+dw)
	given := func(z, w float64) float64 {
		return dist.ChiSquareUpper(d1*crit*(k*z+w)/((dl+dw)*k), d1)
	}
	inner := func(z float64) float64 {
		return dist.OverScale(dw, func(s float64) float64 { return given(z, dw*s*s) })
	}
	if dl == 0 {
		return inner(0), nil
	}
	return dist.OverScale(dl, func(s float64) float64 { return inner(dl * s * s) }), nil
}

// Simulate draws trials of normal values and counts how often F on the unit means is
// significant: a check of [Nested.F], and of what follows it.
func (d Nested) Simulate(ctx context.Context, trials int, seed uint64) (Simulated, error) {
	if err := d.check(); err != nil {
		return Simulated{}, err
	}
	p := Grid(len(d.Means), d.Units, d.Blocks)
	_, block := grid(len(d.Means), d.Units)
	test, err := p.test(false)
	if err != nil {
		return Simulated{}, err
	}
	return Simulate(ctx, Runs{Trials: trials, Seed: seed, Alpha: d.Alpha}, func(r *rand.Rand) (float64, error) {
		runs := make([]float64, d.Units)
		if d.Blocks {
			for i := range runs {
				runs[i] = 3 * d.SDUnit * r.NormFloat64()
			}
		}
		y := make([]float64, len(p.Treatment.Of))
		for i, l := range p.Treatment.Of {
			y[i] = d.Means[l] + runs[block.Of[i]] + d.SDUnit*r.NormFloat64()
			var s float64
			for range d.Subs {
				s += r.NormFloat64()
			}
			y[i] += d.SDSub * s / float64(d.Subs)
		}
		return test(y)
	})
}

func grid(levels, units int) (treatment, block stat.Factor) {
	treatment, block = stat.Factor{Name: "treatment", Levels: make([]string, levels)}, stat.Factor{Name: "block", Levels: make([]string, units)}
	for l := range levels {
		for u := range units {
			treatment.Of, block.Of = append(treatment.Of, l), append(block.Of, u)
		}
	}
	return treatment, block
}
