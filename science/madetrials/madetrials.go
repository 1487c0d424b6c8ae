package madetrials

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strconv"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/mixed"
	"underlamp/science/stat/onset"
	"underlamp/science/stat/ranks"
	"underlamp/science/stat/ratio"
)

// A Rate is how often something came out.
type Rate struct {
	Design  string
	What    string // "90 % limits hold", "lower limit above the truth", "finds a difference at 5 %"
	Method  string
	Trials  int
	Share   float64
	Error   float64 // standard error of Share
	R       float64 // the same by R; NaN where it was not counted
	RError  float64
	Low     float64 // what the plan accepts; NaN where nothing is asked
	High    float64
	Default bool // the method that findings use
}

// Holds says that the share lies within what is asked, and agrees with R within three
// standard errors of the difference.
func (r Rate) Holds() bool {
	return (math.IsNaN(r.Low) || r.Low <= r.Share && r.Share <= r.High) && (math.IsNaN(r.R) || math.Abs(r.Share-r.R) <= 3*math.Hypot(r.Error, r.RError))
}

// trialsOf goes through trials on all processors; each counts into what it is given.
func trialsOf(n int, seed uint64, counts int, one func(r *rand.Rand, count []int)) []int {
	workers := min(runtime.GOMAXPROCS(0), n)
	sums := make([][]int, workers)
	var wg sync.WaitGroup
	for w := range workers {
		sums[w] = make([]int, counts)
		wg.Go(func() {
			for i := w; i < n; i += workers {
				one(rand.New(rand.NewPCG(seed, uint64(i))), sums[w])
			}
		})
	}
	wg.Wait()
	out := make([]int, counts)
	for _, s := range sums {
		for k, v := range s {
			out[k] += v
		}
	}
	return out
}

func rate(design, what, method string, k, n int, r float64, rTrials int) Rate {
	p := float64(k) / float64(n)
	se := func(p float64, n int) float64 { return math.Sqrt(max(p*(1-p), 1/float64(4*n)) / float64(n)) }
	out := Rate{Design: design, What: what, Method: method, Trials: n, Share: p, Error: se(p, n), R: r, Low: math.NaN(), High: math.NaN()}
	if !math.IsNaN(r) {
		out.RError = se(r, rTrials)
	}
	return out
}

func (r Rate) asked(low, high float64) Rate { r.Low, r.High = low, high; return r }
func (r Rate) usual() Rate                  { r.Default = true; return r }

var none = math.NaN()

// All counts every design, trials of each.
func All(trials int) ([]Rate, error) {
	if trials < 100 || trials > 1_000_000 {
		return nil, fmt.Errorf("%d trials of each design: 100 to 1 000 000 can be made", trials)
	}
	var out []Rate
	out = append(out, thresholds(trials)...)
	out = append(out, runs(trials)...)
	out = append(out, bestLight(trials)...)
	return append(out, tests(trials)...), nil
}

// expit is the logistic curve.
func expit(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// burnt draws how many of n plants under one lamp burn: the chance of lamps varies as a
// beta with the correlation rho of plants under one lamp.
func burnt(r *rand.Rand, p, rho float64, n int) int {
	if rho > 0 {
		theta := (1 - rho) / rho
		p = distuv.Beta{Alpha: theta * p, Beta: theta * (1 - p), Src: r}.Rand()
	}
	k := 0
	for range n {
		if r.Float64() < p {
			k++
		}
	}
	return k
}

// judged counts limits: those that hold the truth (limits without an end on both sides
// hold), and those whose lower end is above it.
func judged(l ratio.Limits, err error, truth float64, hold, unsafe *int) {
	if err != nil {
		*hold++ // no curve, so no limits: nothing wrong is said
		return
	}
	in := l.Lower <= truth && truth <= l.Upper
	switch {
	case l.Kind == ratio.WholeLine, in == (l.Kind == ratio.Bounded):
		*hold++
	case l.Kind == ratio.Bounded && l.Lower > truth:
		*unsafe++
	}
}

// thresholds are trials of lamps for the light at which a share of plants burns.
func thresholds(trials int) []Rate {
	var out []Rate
	for i, d := range []struct {
		name             string
		doses            []float64
		lamps, plants    int
		p0, a, b         float64
		rho, sd          float64
		truth, r, unsafe float64
		naiveFails       bool
	}{
		{"P1: 6 levels, 4 lamps, 8 plants, correlation 0.10", []float64{8, 11, 14, 17, 20, 23}, 4, 8, 0.2, -7, 0.35, 0.10, 0, 16.039159, 0.89845, 0.057, true},
		{"P2: 4 levels, 2 lamps, 6 plants, correlation 0.15", []float64{10, 14, 18, 22}, 2, 6, 0.2, -6, 0.32, 0.15, 0, 14.41783, 0.91695, 0.0459, false},
		{"P3: 6 levels, 4 lamps, 8 plants, lamps normal on the logit, 0.6", []float64{8, 11, 14, 17, 20, 23}, 4, 8, 0.1, -7, 0.35, 0, 0.6, 13.323844, 0.9015, 0.04615, false},
		{"P4: 5 levels, 3 lamps, 8 plants, lamps alike", []float64{10, 13, 16, 19, 22}, 3, 8, 0.2, -7.5, 0.38, 0, 0, 16.088699, 0.90495, 0.0452, false},
		{"P5: 5 levels, 3 lamps, 8 plants, correlation 0.25", []float64{10, 13, 16, 19, 22}, 3, 8, 0.2, -7.5, 0.38, 0.25, 0, 16.088699, 0.8912, 0.06855, true},
	} {
		c := trialsOf(trials, uint64(100+i), 4, func(r *rand.Rand, count []int) {
			var yes, n, unit []int
			var dose []float64
			for _, x := range d.doses {
				for range d.lamps {
					p := expit(d.a + d.b*x + d.sd*r.NormFloat64())
					yes, n, dose, unit = append(yes, burnt(r, p, d.rho, d.plants)), append(n, d.plants), append(dose, x), append(unit, len(unit))
				}
			}
			f, err := binary.Logistic(binary.OnDose(yes, n, dose))
			if err != nil {
				count[0]++
				count[2]++
				return
			}
			cl, err := f.Clustered(unit, 2)
			var l ratio.Limits
			if err == nil {
				l, err = cl.Dose(d.p0, 0.9)
			}
			judged(l, err, d.truth, &count[0], &count[1])
			l, err = f.Dose(d.p0, 0.9)
			judged(l, err, d.truth, &count[2], &count[3])
		})
		low, high := bounds(trials)
		naive := rate(d.name, "90 % limits hold", "plants as repeats", c[2], trials, none, 0)
		if d.naiveFails {
			naive = naive.asked(0, 0.83)
		}
		out = append(out, rate(d.name, "90 % limits hold", "clustered by lamp", c[0], trials, d.r, 20000).asked(low, high).usual(),
			rate(d.name, "lower limit above the truth", "clustered by lamp", c[1], trials, d.unsafe, 20000).asked(0, 0.09).usual(), naive)
	}
	return out
}

// bounds are those that the plan of the project asks of a nominal 90 %.
func bounds(trials int) (low, high float64) {
	if trials >= 4000 {
		return 0.875, 0.93
	}
	wide := 3.2 * math.Sqrt(0.09/float64(trials))
	return 0.9 - wide, 0.9 + wide
}

// runs are trials of one lamp a level in each of several cycles that differ.
func runs(trials int) []Rate {
	var out []Rate
	for i, d := range []struct {
		name      string
		doses     []float64
		runs      int
		sd, rho   float64
		truth     float64
		r, unsafe float64
	}{
		{"R1: 6 levels, 4 cycles, 8 plants, cycles 0.5 apart on the logit", []float64{8, 11, 14, 17, 20, 23}, 4, 0.5, 0.05, 15.832823, 0.9074, 0.0575},
		{"R2: 6 levels, 4 cycles, 8 plants, cycles alike", []float64{8, 11, 14, 17, 20, 23}, 4, 0, 0.05, 16.039159, 0.90595, 0.04865},
		{"R3: 4 levels, 6 cycles, 8 plants, cycles 0.5 apart on the logit", []float64{10, 14, 18, 22}, 6, 0.5, 0.05, 15.832823, 0.9048, 0.05545},
	} {
		c := trialsOf(trials, uint64(200+i), 4, func(r *rand.Rand, count []int) {
			var yes, n, run, unit []int
			var dose []float64
			for k := range d.runs {
				shift := d.sd * r.NormFloat64()
				for _, x := range d.doses {
					yes, n, dose = append(yes, burnt(r, expit(-7+0.35*x+shift), d.rho, 8)), append(n, 8), append(dose, x)
					run, unit = append(run, k), append(unit, len(unit))
				}
			}
			f, err := binary.Logistic(binary.OnDose(yes, n, dose))
			if err != nil {
				count[0]++
				count[2]++
				return
			}
			for j, by := range []struct {
				cluster []int
				lost    int
			}{{run, 1}, {unit, 2}} {
				cl, err := f.Clustered(by.cluster, by.lost)
				var l ratio.Limits
				if err == nil {
					l, err = cl.Dose(0.2, 0.9)
				}
				judged(l, err, d.truth, &count[2*j], &count[2*j+1])
			}
		})
		low, high := bounds(trials)
		out = append(out, rate(d.name, "90 % limits hold", "clustered by cycle", c[0], trials, d.r, 20000).asked(low, high).usual(),
			rate(d.name, "lower limit above the truth", "clustered by cycle", c[1], trials, d.unsafe, 20000).asked(0, 0.09).usual(),
			rate(d.name, "90 % limits hold", "cycles left out of account", c[2], trials, none, 0))
	}
	return out
}

// bestLight are trials for the light of the most mass, where it lies on a parabola.
func bestLight(trials int) []Rate {
	var out []Rate
	for i, d := range []struct {
		name       string
		doses      []float64
		runs       int
		plants     int
		m          [3]float64
		unit       float64
		truth      float64
		r, rPlants float64
	}{
		{"Y1: 6 levels, 4 cycles, 8 plants, lamps 6 g apart", []float64{8, 11, 14, 17, 20, 23}, 4, 8, [3]float64{40, 13, -0.32}, 6, 20.3125, 0.90245, 0.739875},
		{"Y2: 4 levels, 2 cycles, 6 plants, lamps 6 g apart", []float64{10, 14, 18, 22}, 2, 6, [3]float64{20, 15, -0.4}, 6, 18.75, 0.902125, 0.768175},
		{"Y3: 6 levels, 4 cycles, 8 plants, lamps 12 g apart", []float64{8, 11, 14, 17, 20, 23}, 4, 8, [3]float64{40, 10, -0.25}, 12, 20, 0.8989, 0.566375},
	} {
		c := trialsOf(trials, uint64(300+i), 2, func(r *rand.Rand, count []int) {
			var means, plants []float64
			var x, xPlants []float64
			var run, runPlants []string
			for k := range d.runs {
				shift := 8 * r.NormFloat64()
				for _, v := range d.doses {
					lamp := d.m[0] + d.m[1]*v + d.m[2]*v*v + shift + d.unit*r.NormFloat64()
					sum := 0.0
					for range d.plants {
						y := lamp + 14*r.NormFloat64()
						sum += y
						plants, xPlants, runPlants = append(plants, y), append(xPlants, v), append(runPlants, strconv.Itoa(k))
					}
					means, x, run = append(means, sum/float64(d.plants)), append(x, v), append(run, strconv.Itoa(k))
				}
			}
			if holdsVertex(means, x, run, d.truth) {
				count[0]++
			}
			if holdsVertex(plants, xPlants, runPlants, d.truth) {
				count[1]++
			}
		})
		low, high := bounds(trials)
		out = append(out, rate(d.name, "90 % limits of the best light hold", "lamp means, cycles as blocks", c[0], trials, d.r, 40000).asked(low, high).usual(),
			rate(d.name, "90 % limits of the best light hold", "plants as repeats", c[1], trials, d.rPlants, 40000).asked(0, 0.83))
	}
	return out
}

// holdsVertex says whether Fieller's limits of the vertex of a parabola hold the truth. What
// is no interval is a set of doses too, and holds what is in it.
func holdsVertex(y, x []float64, block []string, truth float64) bool {
	const mid = 16
	one := make([]float64, len(x))
	two := make([]float64, len(x))
	for i, v := range x {
		one[i], two[i] = v-mid, (v-mid)*(v-mid)
	}
	f, err := linear.FitModel(y, linear.Term{linear.Of("x", one)}, linear.Term{linear.Of("x²", two)}, linear.Term{linear.By(stat.NewFactor("cycle", block))})
	if err != nil {
		return false
	}
	v, err := f.Variance()
	if err != nil {
		return false
	}
	b1, b2 := f.Column(0, 0), f.Column(1, 0)
	slope, err1 := f.Value(b1)
	bend, err2 := f.Value(b2)
	l, err := ratio.Vertex(slope, bend, v*f.Covariance(b1, b1), v*f.Covariance(b1, b2), v*f.Covariance(b2, b2), dist.TQuantile(0.95, float64(f.DF)), 0.9)
	if err != nil || err1 != nil || err2 != nil {
		return false
	}
	in := l.Lower <= truth-mid && truth-mid <= l.Upper
	return l.Kind == ratio.WholeLine || in == (l.Kind == ratio.Bounded)
}

// tests are trials of two groups that do not differ.
func tests(trials int) []Rate {
	const find = "finds a difference at 5 %"
	asked := func(r Rate) Rate {
		if trials >= 4000 {
			return r.asked(0.04, 0.06).usual()
		}
		wide := 3.2 * math.Sqrt(0.0475/float64(trials))
		return r.asked(max(0.05-wide, 0), 0.05+wide).usual()
	}
	var out []Rate
	for i, d := range []struct {
		icc float64
		r   [5]float64 // R does not refuse the mixed model: 0.010 and 0.029
	}{{0.05, [5]float64{0.085, 0.049, 0.035, none, 0}}, {0.30, [5]float64{0.266, 0.049, 0.029, none, 0}}} {
		name := fmt.Sprintf("mass: 2 groups of 3 lamps with 3 to 8 plants, correlation %.2f", d.icc)
		c := trialsOf(trials, uint64(400+i), 5, func(r *rand.Rand, count []int) {
			var y, means []float64
			var group, unit []string
			var all, lamps [2][]float64
			for k, n := range []int{8, 7, 5, 6, 8, 3} {
				g := k / 3
				shift := math.Sqrt(d.icc) * r.NormFloat64()
				sum := 0.0
				for range n {
					v := shift + math.Sqrt(1-d.icc)*r.NormFloat64()
					sum += v
					y, group, unit = append(y, v), append(group, strconv.Itoa(g)), append(unit, strconv.Itoa(k))
					all[g] = append(all[g], v)
				}
				means = append(means, sum/float64(n))
				lamps[g] = append(lamps[g], sum/float64(n))
			}
			found(count, 0, differ(all[0], all[1], true))
			found(count, 1, differ(lamps[0], lamps[1], true))
			found(count, 2, differ(lamps[0], lamps[1], false))
			if f, err := mixed.FitModel(y, []linear.Term{{linear.By(stat.NewFactor("group", group))}}, stat.NewFactor("lamp", unit)); err == nil {
				g := stat.NewFactor("group", group)
				if t, err := f.Term(0, &g); err == nil {
					found(count, 3, t.P)
				}
			}
			found(count, 4, drawn(means, 3))
		})
		out = append(out, asked(rate(name, find, "t on lamp means", c[1], trials, d.r[1], 1500)),
			rate(name, find, "Welch on lamp means", c[2], trials, d.r[2], 1500),
			rate(name, find, "mixed model, Kenward and Roger; refused where lamps come out alike", c[3], trials, none, 0).asked(0, 0.06),
			rate(name, find, "randomisation of lamps", c[4], trials, d.r[4], 1500).asked(0, 0.05),
			rate(name, find, "plants as repeats", c[0], trials, d.r[0], 1500))
	}

	name := "burn: 2 groups of 4 lamps, 8 plants, correlation 0.10"
	c := trialsOf(trials, 500, 3, func(r *rand.Rand, count []int) {
		var lamps, plants [2][]float64
		var all []float64
		for k := range 8 {
			y := burnt(r, 0.25, 0.1, 8)
			lamps[k/4] = append(lamps[k/4], float64(y)/8)
			all = append(all, float64(y)/8)
			for i := range 8 {
				v := 0.0
				if i < y {
					v = 1
				}
				plants[k/4] = append(plants[k/4], v)
			}
		}
		found(count, 0, differ(lamps[0], lamps[1], true))
		found(count, 1, drawn(all, 4))
		found(count, 2, differ(plants[0], plants[1], true))
	})
	out = append(out, asked(rate(name, find, "t on shares of lamps", c[0], trials, 0.048, 1500)),
		rate(name, find, "randomisation of lamps", c[1], trials, 0.010, 1500).asked(0, 0.05),
		rate(name, find, "plants as repeats (t on 0 and 1)", c[2], trials, none, 0))

	name = "severity: 2 groups of 4 lamps, 8 plants, lamps 0.7 apart on the logit"
	c = trialsOf(trials, 501, 3, func(r *rand.Rand, count []int) {
		var grade []float64
		for range 8 {
			shift := -0.5 + 0.7*r.NormFloat64()
			for range 8 {
				u := r.Float64()
				z := shift + math.Log(u/(1-u))
				k := 0.0
				for _, cut := range []float64{0, 0.9, 1.8, 2.8, 4} {
					if z > cut {
						k++
					}
				}
				grade = append(grade, k)
			}
		}
		byLamp(count, ranks.Of(grade), 4, 8)
		group := make([]string, len(grade))
		for i := range group {
			group[i] = strconv.Itoa(i / 32)
		}
		if t, err := ranks.KruskalWallis(grade, stat.NewFactor("group", group)); err == nil {
			found(count, 2, t.P)
		}
	})
	out = append(out, asked(rate(name, find, "t on midranks of lamps", c[0], trials, 0.058, 1500)),
		rate(name, find, "randomisation of midranks of lamps", c[1], trials, 0.028, 1500).asked(0, 0.05),
		rate(name, find, "plants as repeats (ranks)", c[2], trials, 0.139, 1500))

	name = "day of first burn: 2 groups of 4 lamps, 8 plants, nine rounds"
	c = trialsOf(trials, 502, 3, func(r *rand.Rand, count []int) {
		var obs []onset.Observation
		rounds := []float64{6, 9, 12, 15, 18, 21, 24, 27, 30}
		for range 8 {
			scale := 28 * math.Exp(0.15*r.NormFloat64())
			for range 8 {
				day := scale * math.Pow(-math.Log(1-r.Float64()), 1.0/3)
				o := onset.Observation{First: math.Inf(1)}
				for _, at := range rounds {
					if day <= at {
						o.First = at
						break
					}
					o.Last = at
				}
				obs = append(obs, o)
			}
		}
		f, err := onset.FitNPMLE(obs)
		if err != nil {
			return
		}
		s, err := f.Scores(obs, onset.Sun)
		if err != nil {
			return
		}
		byLamp(count, s, 4, 8)
		x := make([]float64, len(obs))
		for i := range x {
			x[i] = float64(i / 32)
		}
		if t, err := onset.Compare(s, x); err == nil {
			found(count, 2, t.P)
		}
	})
	return append(out, asked(rate(name, find, "t on log-rank scores of lamps", c[0], trials, 0.057, 1500)),
		rate(name, find, "randomisation of scores of lamps", c[1], trials, 0.033, 1500).asked(0, 0.05),
		rate(name, find, "plants as repeats (log-rank)", c[2], trials, 0.155, 1500))
}

// byLamp tests values of plants by their lamps, two groups of so many.
func byLamp(count []int, v []float64, lamps, plants int) {
	var by [2][]float64
	var all []float64
	for k := range 2 * lamps {
		m := 0.0
		for _, x := range v[k*plants : (k+1)*plants] {
			m += x / float64(plants)
		}
		by[k/lamps], all = append(by[k/lamps], m), append(all, m)
	}
	found(count, 0, differ(by[0], by[1], true))
	found(count, 1, drawn(all, lamps))
}

// found counts what is below 5 %.
func found(count []int, k int, p float64) {
	if p < 0.05 {
		count[k]++
	}
}

// differ is p of the difference of two means; 1 where nothing varies.
func differ(a, b []float64, pooled bool) float64 {
	e, err := anova.Difference("difference", a, b, pooled, 0.95)
	if err != nil || math.IsNaN(e.P) {
		return 1
	}
	return e.P
}

// drawn is p of the randomisation test of two groups, each of so many.
func drawn(v []float64, each int) float64 {
	group := make([]string, len(v))
	for i := range group {
		group[i] = strconv.Itoa(i / each)
	}
	r, err := layout.Free(stat.NewFactor("group", group)).Test(v, 1)
	if err != nil {
		return 1
	}
	return r.P
}
