package validation

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/growth"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/pairwise"
	"underlamp/science/stat/power"
	"underlamp/science/stat/ratio"
)

// Statistics checks the methods for trials against printed results and certified
// values. The tests of science/stat hold many more, against R.
func Statistics() []Check {
	const area = "statistics"
	must := func(err error) {
		if err != nil {
			panic("validation: Statistics: " + err.Error())
		}
	}
	var out []Check
	add := func(name, source, purpose, note string, got, want, tolerance float64) {
		c := near(area, name, source, purpose, "", got, want, tolerance)
		c.Note = note
		out = append(out, c)
	}

	// Rice by seeding rate in blocks.
	yields := [6][4]float64{{5113, 5398, 5307, 4678}, {5346, 5952, 4719, 4264}, {5272, 5713, 5483, 4749},
		{5164, 4831, 4986, 4410}, {4804, 4848, 4432, 4748}, {5254, 4542, 4919, 4098}}
	var y []float64
	var rate, block []string
	for i, row := range yields {
		for j, v := range row {
			y, rate, block = append(y, v), append(rate, fmt.Sprint(25*(i+1))), append(block, fmt.Sprint(j+1))
		}
	}
	a, err := anova.Blocks(y, stat.NewFactor("rate", rate), stat.NewFactor("block", block))
	must(err)
	const rice = "rice by seeding rate in four blocks"
	add("blocks: sum of squares of blocks", "GomezGomez1984", Published, rice, a.Lines[0].SS, 1944361, 0.5)
	add("blocks: sum of squares of treatments", "GomezGomez1984", Published, rice, a.Treatment().SS, 1198331, 0.5)
	add("blocks: sum of squares of the error", "GomezGomez1984", Published, rice, a.Error.SS, 1658376, 0.5)
	all, err := pairwise.All(a.Means, 0.95)
	must(err)
	add("blocks: half width of Tukey's limits", "Tukey1953", Independent, rice+"; TukeyHSD of R 4.2.2", (all.Pairs[0].Interval.Upper-all.Pairs[0].Interval.Lower)/2, 763.882131544736, 1e-3)

	// Darwin's maize.
	crossed := []float64{23.5, 12, 21, 22, 19.125, 21.5, 22.125, 20.375, 18.25, 21.625, 23.25, 21, 22.125, 23, 12}
	selfed := []float64{17.375, 20.375, 20, 20, 18.375, 18.625, 18.625, 15.25, 16.5, 18, 16.25, 18, 12.75, 15.5, 18}
	var h []float64
	var kind, pair []string
	for i := range crossed {
		h = append(h, crossed[i], selfed[i])
		kind, pair = append(kind, "crossed", "selfed"), append(pair, fmt.Sprint(i), fmt.Sprint(i))
	}
	r, err := layout.Within(stat.NewFactor("kind", kind), stat.NewFactor("pair", pair)).Test(h, 1)
	must(err)
	add("randomisation: sign assignments as extreme, of 32768", "Fisher1935", Published, "15 pairs of maize, both tails: twice the printed 863", float64(r.Extreme), 1726, 0)

	// Distributions.
	add("studentised range: two groups at 2 degrees of freedom, P above 6", "Tukey1953", Independent, "2 P(t > 6/√2) exactly; a common program is off by 7e-5 here",
		dist.Range{K: 2, DF: 2}.Upper(6), 1-6/math.Sqrt2/math.Sqrt(2+18), 1e-13)
	add("Dunnett: critical value, two groups against one, 3 degrees of freedom, 90 %", "Dunnett1955", Independent, "deterministic integration in R 4.2.2",
		dist.NewDunnett(5, []int{5, 5}, 3).Quantile(0.9), 2.9121115019034, 1e-8)

	// Power at the level of units.
	p, err := power.Nested{Means: []float64{-15, 15}, Units: 2, Subs: 4, SDSub: 20, Alpha: 0.05}.F()
	must(err)
	add("power: two levels, two units of four subsamples, difference 1.5 SD", "Murray1998", Independent, "noncentral F of R 4.2.2", p.Chance, 0.387400128805689, 1e-8)
	naive, err := power.Naive(2, 2, 8, 0.1, 0.05)
	must(err)
	add("error of a nominal 5 % test that takes eight plants for units", "Hurlbert1984", Independent, "two levels, two units each, ICC 0.10; integration in R 4.2.2", naive, 0.137049137124637, 2e-6)

	// NIST: nonlinear least squares from the near start.
	x := []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760}
	v := []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78}
	m, err := curve.Least(func(x float64, b []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) }, []string{"b1", "b2"}, x, v, []float64{250, 0.0005}, nil, nil)
	must(err)
	add("nonlinear least squares: Misra1a, b1", "NISTStRD", Published, "certified", m.Coef[0], 238.94212918, 2.4e-6)
	add("nonlinear least squares: Misra1a, residual sum of squares", "NISTStRD", Published, "certified", m.RSS, 0.12455138894, 1.3e-9)

	// A plateau whose printed join is widely known.
	px := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 13, 15, 16}
	py := []float64{0.46, 0.47, 0.57, 0.61, 0.62, 0.68, 0.69, 0.78, 0.7, 0.74, 0.77, 0.78, 0.74, 0.8, 0.8, 0.78}
	q, err := curve.FitForm(curve.QuadraticPlateau, px, py, 0.95)
	must(err)
	add("plateau: join of the reprinted example", "AndersonNelson1975", Published, "16 pairs; join 12.7477, plateau 0.7775", q.Coef[2], 12.7477, 5e-5)

	// Five orange trees at seven ages: logistic with a random asymptote.
	ages := []float64{118, 484, 664, 1004, 1231, 1372, 1582}
	var trees []growth.Subject
	for i, sizes := range [][]float64{{30, 58, 87, 115, 120, 142, 145}, {33, 69, 111, 156, 172, 203, 203}, {30, 51, 75, 108, 115, 139, 140},
		{32, 62, 112, 167, 179, 209, 214}, {30, 49, 81, 125, 142, 174, 177}} {
		trees = append(trees, growth.Subject{Unit: i, T: ages, Sizes: sizes})
	}
	o, err := growth.FitMany(growth.Model{Form: growth.Logistic, Scatter: growth.Constant}, trees, growth.Random{Of: []bool{true}}, growth.Random{})
	must(err)
	add("growth with random effects: asymptote of orange trees", "PinheiroBates2000", Independent, "nlme 3.1-162 on the printed girths", o.Coef[0][0], 191.049000599028, 1e-4)
	add("growth with random effects: deviation of the asymptote between trees", "PinheiroBates2000", Independent, "nlme 3.1-162 on the printed girths", math.Sqrt(o.Individuals[0][0]), 31.4825576921208, 1e-4)

	return append(out, coverage(area)...)
}

// coverage simulates trials in which the doubt of a threshold is known.
func coverage(area string) []Check {
	const trials, subs, truth = 1000, 8, 16.039160
	const note = "1000 made trials of six levels, four units of eight subsamples, correlation 0.10; the true threshold for a chance of 0.20 is 16.04"
	r := rand.New(rand.NewPCG(2026, 1))
	hold, unsafe, naive := 0, 0, 0
	covers := func(l ratio.Limits) bool {
		in := l.Lower <= truth && truth <= l.Upper
		return l.Kind == ratio.WholeLine || in == (l.Kind == ratio.Bounded)
	}
	for range trials {
		var yes, n, unit []int
		var dose []float64
		for _, d := range []float64{8, 11, 14, 17, 20, 23} {
			for range 4 {
				p := 1 / (1 + math.Exp(7-0.35*d))
				p = distuv.Beta{Alpha: 9 * p, Beta: 9 * (1 - p), Src: r}.Rand()
				y := 0
				for range subs {
					if r.Float64() < p {
						y++
					}
				}
				unit = append(unit, len(unit))
				yes, n, dose = append(yes, y), append(n, subs), append(dose, d)
			}
		}
		f, err := binary.Logistic(binary.OnDose(yes, n, dose))
		if err != nil { // no curve, no interval: holds
			hold++
			naive++
			continue
		}
		c, err := f.Clustered(unit, 2)
		if err != nil {
			panic("validation: Statistics: " + err.Error())
		}
		l, err := c.Dose(0.2, 0.9)
		if err != nil {
			panic("validation: Statistics: " + err.Error())
		}
		if covers(l) {
			hold++
		}
		if l.Kind == ratio.Bounded && l.Lower > truth {
			unsafe++
		}
		if w, err := f.Dose(0.2, 0.9); err == nil && covers(w) {
			naive++
		}
	}
	share := func(k int) float64 { return float64(k) / trials }
	c := value(area, "threshold: share of trials whose 90 % limits hold", "Fieller1954", Published, "", share(hold), 0.9, 0.87, 0.93)
	c.Note = note
	u := value(area, "threshold: share of trials whose lower limit is above the truth", "Fieller1954", Published, "", share(unsafe), 0.05, 0, 0.09)
	u.Note = note
	o := order(area, "threshold: plants taken for units hold in at most 0.83 of the same trials", "Hurlbert1984", Published, share(naive) <= 0.83,
		fmt.Sprintf("they hold in %.3f: this simulation can tell the methods apart", share(naive)))
	return []Check{c, u, o}
}
