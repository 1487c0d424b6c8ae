package growth_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/growth"
)

// subjects reads individuals from a table, in the order of their first line; units and
// curves by the labels of other columns, "" for one of all.
func subjects(tab rset.Table, who string, t, size []float64, unit, curve []string) (out []growth.Subject, names []string) {
	number := func(seen map[string]int, l string) int {
		if _, ok := seen[l]; !ok {
			seen[l] = len(seen)
		}
		return seen[l]
	}
	at, units, curves := map[string]int{}, map[string]int{}, map[string]int{}
	// Curves and units are counted in the order of their names, as R does.
	for _, x := range []struct {
		labels []string
		seen   map[string]int
	}{{unit, units}, {curve, curves}} {
		for _, l := range slices.Sorted(slices.Values(x.labels)) {
			number(x.seen, l)
		}
	}
	for i, w := range tab.Text(who) {
		k, ok := at[w]
		if !ok {
			k = len(out)
			at[w] = k
			s := growth.Subject{Unit: k}
			if unit != nil {
				s.Unit = units[unit[i]]
			}
			if curve != nil {
				s.Curve = curves[curve[i]]
			}
			out, names = append(out, s), append(names, w)
		}
		out[k].T, out[k].Sizes = append(out[k].T, t[i]), append(out[k].Sizes, size[i])
	}
	return out, names
}

// agrees holds a fit against nlme's at 1e-4, log likelihoods at 1e-5 absolute.
func agrees(t *testing.T, c *rset.Case, name string, f *growth.Many, levels map[string][][]float64, on map[string][]int) {
	t.Helper()
	want, se := c.Numbers(name+"/fixef"), c.Numbers(name+"/se")
	k, curves := len(f.Coef[0]), len(f.Coef)
	for g := range curves {
		for i := range k {
			// R has the curves of one parameter side by side.
			rset.Near(t, fmt.Sprintf("%s: parameter %d of curve %d", name, i, g), f.Coef[g][i], want[i*curves+g], 1e-4, 0)
			rset.Near(t, fmt.Sprintf("%s: its standard error", name), math.Sqrt(f.Cov[g][i][i]), se[i*curves+g], 1e-4, 0)
		}
	}
	for level, cov := range levels {
		sd := c.Numbers(name + "/sd/" + level)
		for j, i := range on[level] {
			rset.Near(t, fmt.Sprintf("%s: deviation %d of %s", name, i, level), math.Sqrt(cov[i][i]), sd[j], 1e-4, 0)
		}
	}
	rset.Near(t, name+": sigma", f.Sigma, c.Number(name+"/sigma"), 1e-4, 0)
	if l := c.Number(name + "/logLik"); !(math.Abs(f.LogLik-l) <= 1e-5) {
		t.Errorf("%s: log likelihood %.9f, R has %.9f", name, f.LogLik, l)
	}
}

var (
	first    = growth.Random{Of: []bool{true}}
	firstTwo = growth.Random{Of: []bool{true, true}}
)

// Relative growth rates by animal and their comparison between diets: R 4.2.2, case
// growth-chick-rgr, after Hoffmann and Poorter (2002) and Matthews et al. (1990).
func TestRatesAgainstR(t *testing.T) {
	c := rset.Load(t, "growth-chick-rgr")
	tab := c.Table()
	diets := tab.Text("Diet")
	sub, names := subjects(tab, "Chick", tab.Numbers("Time"), tab.Numbers("weight"), nil, nil)
	diet := map[string]string{}
	for i, n := range tab.Text("Chick") {
		diet[n] = diets[i]
	}
	var v []float64
	var g []string
	for i, s := range sub {
		if len(s.T) <= 2 {
			continue
		}
		e, err := growth.Slope(s.T, s.Sizes, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		v, g = append(v, e.Value), append(g, diet[names[i]])
	}
	if len(v) != int(c.Number("n")) {
		t.Fatal(len(v))
	}
	for i, want := range c.Numbers("slopes_first8") {
		rset.Near(t, fmt.Sprint("slope ", i), v[i], want, 1e-9, 0)
	}
	a, err := anova.OneWay(v, stat.NewFactor("diet", g))
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "F", a.Treatment().Test.Statistic, c.Number("anova_slopes/F value/0"), 1e-8, 0)
	rset.Near(t, "p", a.Treatment().Test.P, c.Number("anova_slopes/Pr(>F)/0"), 1e-7, 0)
}

// The rate between two harvests of different plots, against R's means and variances.
func TestBetweenAgainstR(t *testing.T) {
	c := rset.Load(t, "growth-soybean")
	tab := c.Table()
	var w [2][]float64
	for i, y := range tab.Text("Year") {
		for k, day := range []float64{14, 28} {
			if y == "1988" && tab.Text("Variety")[i] == "F" && tab.Numbers("Time")[i] == day {
				w[k] = append(w[k], tab.Numbers("weight")[i])
			}
		}
	}
	e, err := growth.Between(14, w[0], 28, w[1], 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "rate", e.Value, c.Number("harvests/rgr"), 1e-9, 0)
	rset.Near(t, "standard error", e.SE, c.Number("harvests/se"), 1e-9, 0)
	q := dist.TQuantile(0.975, 14)
	rset.Near(t, "upper limit", e.Interval.Upper, e.Value+q*e.SE, 1e-12, 0)
}

// Curves of single trees: R's nls on Loblolly (seed 301) and Orange.
func TestOneAgainstR(t *testing.T) {
	c := rset.Load(t, "growth-loblolly")
	tab := c.Table()
	sub, names := subjects(tab, "Seed", tab.Numbers("age"), tab.Numbers("height"), nil, nil)
	s := sub[slices.Index(names, "301")]
	f, err := growth.One(growth.Model{Form: growth.Logistic, Scatter: growth.Constant}, s.T, s.Sizes)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range c.Matrix("seed301_logistic/values") {
		rset.Near(t, "logistic, "+f.Names[i], f.Coef[i], row[0], 1e-6, 0)
		rset.Near(t, "its standard error", math.Sqrt(f.Cov[i][i]), row[1], 1e-5, 0)
	}
	rset.Near(t, "logistic, sum of squares", f.RSS, c.Number("seed301_rss/logis"), 1e-8, 0)
	// R writes Gompertz as A exp(−b2 b3^t): b2 = exp(m/s), b3 = exp(−1/s).
	if f, err = growth.One(growth.Model{Form: growth.Gompertz, Scatter: growth.Constant}, s.T, s.Sizes); err != nil {
		t.Fatal(err)
	}
	g := c.Matrix("seed301_gompertz/values")
	rset.Near(t, "Gompertz, A", f.Coef[0], g[0][0], 1e-6, 0)
	rset.Near(t, "Gompertz, b2", math.Exp(f.Coef[1]/f.Coef[2]), g[1][0], 1e-6, 0)
	rset.Near(t, "Gompertz, b3", math.Exp(-1/f.Coef[2]), g[2][0], 1e-6, 0)

	c = rset.Load(t, "growth-orange")
	tab = c.Table()
	sub, names = subjects(tab, "Tree", tab.Numbers("age"), tab.Numbers("circumference"), nil, nil)
	for k, row := range c.Matrix("trees/values") {
		s := sub[slices.Index(names, fmt.Sprint(k+1))]
		f, err := growth.One(growth.Model{Form: growth.Logistic, Scatter: growth.Constant}, s.T, s.Sizes)
		if err != nil {
			t.Fatal(err)
		}
		for i := range row {
			rset.Near(t, fmt.Sprintf("tree %d, %s", k+1, f.Names[i]), f.Coef[i], row[i], 1e-5, 0)
			rset.Near(t, "its standard error", math.Sqrt(f.Cov[i][i]), c.Matrix("se/values")[k][i], 1e-4, 0)
		}
		if k != 3 {
			continue
		}
		a, err := f.Asymptote(0.95)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "asymptote, lower limit", a.Interval.Lower, c.Number("profile_A_tree4/0"), 1e-4, 0)
		rset.Near(t, "asymptote, upper limit", a.Interval.Upper, c.Number("profile_A_tree4/1"), 1e-4, 0)
		e, err := f.TimeTo(100, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "time to 100", e.Value, c.Number("delta_to_100_tree4/0"), 1e-5, 0)
		rset.Near(t, "its standard error", e.SE, c.Number("delta_to_100_tree4/1"), 1e-4, 0)
		if e, err = f.ProfileTimeTo(100, 0.95); err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "time to 100, lower limit", e.Interval.Lower, c.Number("profile_to_100_tree4/0"), 1e-4, 0)
		rset.Near(t, "time to 100, upper limit", e.Interval.Upper, c.Number("profile_to_100_tree4/1"), 1e-4, 0)
	}
}

// Mixed models against nlme 3.1-162 (Pinheiro and Bates 2000): one level and two, constant
// and proportional scatter, effects correlated or not, a curve for all or for each unit.
func TestManyAgainstR(t *testing.T) {
	fit := func(m growth.Model, s []growth.Subject, individuals, units growth.Random) *growth.Many {
		t.Helper()
		f, err := growth.FitMany(m, s, individuals, units)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	logistic := growth.Model{Form: growth.Logistic, Scatter: growth.Constant}
	c := rset.Load(t, "growth-orange")
	tab := c.Table()
	s, names := subjects(tab, "Tree", tab.Numbers("age"), tab.Numbers("circumference"), nil, nil)
	f := fit(logistic, s, first, growth.Random{})
	agrees(t, c, "random_A", f, map[string][][]float64{"Tree": f.Individuals}, map[string][]int{"Tree": {0}})
	for k, want := range c.Numbers("random_A/effects") {
		rset.Near(t, fmt.Sprint("effect of tree ", k+1), f.Effects[slices.Index(names, fmt.Sprint(k+1))][0], want, 1e-4, 0)
	}

	c = rset.Load(t, "growth-dnase")
	tab = c.Table()
	x := tab.Numbers("conc")
	for i := range x {
		x[i] = math.Log(x[i])
	}
	s, _ = subjects(tab, "Run", x, tab.Numbers("density"), nil, nil)
	f = fit(logistic, s, growth.Random{Of: []bool{true, true}, Correlated: true}, growth.Random{})
	agrees(t, c, "random_Am", f, map[string][][]float64{"Run": f.Individuals}, map[string][]int{"Run": {0, 1}})
	rset.Near(t, "random_Am: correlation", f.Individuals[0][1]/math.Sqrt(f.Individuals[0][0]*f.Individuals[1][1]), c.Number("random_Am/cor/Run"), 1e-4, 0)
	f = fit(logistic, s, growth.Random{Of: []bool{true, true, true}, Correlated: true}, growth.Random{})
	agrees(t, c, "random_all", f, map[string][][]float64{"Run": f.Individuals}, map[string][]int{"Run": {0, 1, 2}})

	c = rset.Load(t, "growth-soybean")
	tab = c.Table()
	gompertz := growth.Model{Form: growth.Gompertz}
	var field []string
	for i, y := range tab.Text("Year") {
		field = append(field, tab.Text("Variety")[i]+" "+y)
	}
	s, _ = subjects(tab, "Plot", tab.Numbers("Time"), tab.Numbers("weight"), nil, nil)
	f = fit(gompertz, s, firstTwo, growth.Random{})
	agrees(t, c, "gompertz", f, map[string][][]float64{"Plot": f.Individuals}, map[string][]int{"Plot": {0, 1}})
	f = fit(growth.Model{Form: growth.Logistic}, s, firstTwo, growth.Random{})
	agrees(t, c, "logistic", f, map[string][][]float64{"Plot": f.Individuals}, map[string][]int{"Plot": {0, 1}})
	f = fit(gompertz, s, growth.Random{}, growth.Random{})
	for i, want := range c.Numbers("pooled/coef") {
		rset.Near(t, "pooled", f.Coef[0][i], want, 1e-5, 0)
		// nls divides by the degrees of freedom, maximum likelihood by the values.
		rset.Near(t, "pooled, standard error", math.Sqrt(f.Cov[0][i][i]*float64(f.N)/float64(f.N-3)), c.Numbers("pooled/se")[i], 1e-4, 0)
	}
	s, _ = subjects(tab, "Plot", tab.Numbers("Time"), tab.Numbers("weight"), field, nil)
	f = fit(gompertz, s, first, firstTwo)
	agrees(t, c, "nested", f, map[string][][]float64{"Plot": f.Individuals, "Field": f.Units}, map[string][]int{"Plot": {0}, "Field": {0, 1}})
	s, _ = subjects(tab, "Plot", tab.Numbers("Time"), tab.Numbers("weight"), field, field)
	f = fit(gompertz, s, first, growth.Random{})
	agrees(t, c, "by_field", f, map[string][][]float64{"Plot": f.Individuals}, map[string][]int{"Plot": {0}})

	c = rset.Load(t, "growth-chick-exponential")
	tab = c.Table()
	s, _ = subjects(tab, "Chick", tab.Numbers("Time"), tab.Numbers("weight"), nil, nil)
	f = fit(growth.Model{Form: growth.Exponential}, s, growth.Random{Of: []bool{true, true}, Correlated: true}, growth.Random{})
	agrees(t, c, "random_both", f, map[string][][]float64{"Chick": f.Individuals}, map[string][]int{"Chick": {0, 1}})

	c = rset.Load(t, "growth-loblolly-gompertz")
	tab = c.Table()
	s, _ = subjects(tab, "Seed", tab.Numbers("age"), tab.Numbers("height"), nil, nil)
	for name, scatter := range map[string]growth.Scatter{"constant": growth.Constant, "proportional": growth.Proportional} {
		f = fit(growth.Model{Form: growth.Gompertz, Scatter: scatter}, s, first, growth.Random{})
		agrees(t, c, name, f, map[string][][]float64{"Seed": f.Individuals}, map[string][]int{"Seed": {0}})
	}
}

// made draws a trial: plants in units along Gompertz's curve, with effects of both.
func made(rng *rand.Rand, units, plants int, times []float64, sdUnit, sdPlant, sigma float64) []growth.Subject {
	var out []growth.Subject
	for u := range units {
		du := sdUnit * rng.NormFloat64()
		for range plants {
			a, m := math.Log(180)+du+sdPlant*rng.NormFloat64(), 18+2*sdPlant*rng.NormFloat64()
			s := growth.Subject{Unit: u}
			for _, t := range times {
				s.T = append(s.T, t)
				s.Sizes = append(s.Sizes, math.Exp(a-math.Exp((m-t)/9)+sigma*rng.NormFloat64()))
			}
			out = append(out, s)
		}
	}
	return out
}

var weekly = []float64{7, 12, 17, 22, 27, 32, 37}

// Truth is found again in a large made trial.
func TestTruthIsRecovered(t *testing.T) {
	s := made(rand.New(rand.NewPCG(5, 6)), 60, 10, weekly, 0.1, 0.15, 0.05)
	f, err := growth.FitMany(growth.Model{Form: growth.Gompertz}, s, firstTwo, first)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		name            string
		got, want, band float64 // four standard errors, or a tenth for a deviation
	}{
		{"ln A", f.Coef[0][0], math.Log(180), 4 * math.Sqrt(f.Cov[0][0][0])},
		{"m", f.Coef[0][1], 18, 4 * math.Sqrt(f.Cov[0][1][1])},
		{"s", f.Coef[0][2], 9, 4 * math.Sqrt(f.Cov[0][2][2])},
		{"sigma", f.Sigma, 0.05, 0.005},
		{"plants, ln A", math.Sqrt(f.Individuals[0][0]), 0.15, 0.015},
		{"plants, m", math.Sqrt(f.Individuals[1][1]), 0.3, 0.03},
		{"units, ln A", math.Sqrt(f.Units[0][0]), 0.1, 0.03},
	} {
		if !(math.Abs(x.got-x.want) <= x.band) {
			t.Errorf("%s: %.5g, made with %.5g", x.name, x.got, x.want)
		}
	}
}

// The limits of the time to a size hold the truth about as often as they say. The
// truth is the time of the plant whose effects are 0. Band: three standard errors of the
// count, and for the small-sample approximations two points more.
func TestCoverageOfTimeTo(t *testing.T) {
	n := 400
	if testing.Short() {
		n = 80
	}
	truth := 18 - 9*math.Log(math.Log(180)-math.Log(60))
	rng := rand.New(rand.NewPCG(11, 12))
	count := map[string]int{}
	for range n {
		if f, err := growth.FitMany(growth.Model{Form: growth.Gompertz}, made(rng, 8, 4, weekly, 0.1, 0.1, 0.06), firstTwo, first); err != nil {
			t.Fatal(err)
		} else if e, err := f.TimeTo(0, 60, 0.95); err == nil && e.Interval.Holds(truth) {
			count["many, delta"]++
		}
		s := made(rng, 1, 1, weekly, 0, 0, 0.06)[0]
		f, err := growth.One(growth.Model{Form: growth.Gompertz}, s.T, s.Sizes)
		if err != nil {
			t.Fatal(err)
		}
		if e, err := f.TimeTo(60, 0.95); err == nil && e.Interval.Holds(truth) {
			count["one, delta"]++
		}
		if e, err := f.ProfileTimeTo(60, 0.95); err == nil && e.Interval.Holds(truth) {
			count["one, profile"]++
		}
	}
	band := 3*math.Sqrt(0.95*0.05/float64(n)) + 0.02
	for _, k := range []string{"many, delta", "one, delta", "one, profile"} {
		share := float64(count[k]) / float64(n)
		t.Logf("%s: %.3f of %d", k, share, n)
		if math.Abs(share-0.95) > band {
			t.Errorf("%s: limits hold in %.3f for 0.95", k, share)
		}
	}
}

// A curve that has not bent keeps the exponential, one that has shows its bend.
func TestChoose(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var w []float64
	for _, d := range weekly {
		w = append(w, 2*math.Exp(0.1*d+0.05*rng.NormFloat64()))
	}
	c, err := growth.Choose(growth.Proportional, weekly, w)
	if err != nil || c.Form != growth.Exponential {
		t.Fatalf("%v %v", c, err)
	}
	if _, err := c.Asymptote(0.95); stat.Refused(err) == nil {
		t.Error(err)
	}
	rset.Near(t, "rate", c.Rate(10, 0.95).Value, 0.1, 0.1, 0)
	s := made(rng, 1, 1, []float64{5, 10, 15, 20, 25, 30, 40, 50, 60}, 0, 0, 0.02)[0]
	if c, err = growth.Choose(growth.Proportional, s.T, s.Sizes); err != nil || c.Form != growth.Gompertz {
		t.Fatalf("%v %v", c, err)
	}
	if a, err := c.Asymptote(0.95); err != nil || !a.Interval.Holds(180) {
		t.Errorf("%+v %v", a, err)
	}
}

// Odd data: an answer with finite numbers or a refusal.
func TestOddData(t *testing.T) {
	five := []float64{1, 2, 3, 4, 5}
	for name, w := range map[string][]float64{
		"falling": {50, 40, 30, 20, 10}, "flat": {7, 7, 7, 7, 7}, "zero": {0, 1, 2, 4, 8}, "negative": {-1, 1, 2, 4, 8},
		"jump": {1, 1, 1, 100, 100}, "tiny": {1e-9, 2e-9, 4e-9, 8e-9, 16e-9}, "huge": {1e200, 2e200, 4e200, 8e200, 16e200},
		"exact": {2, 4, 8, 16, 32}, "seesaw": {1, 100, 1, 100, 1},
	} {
		for _, scatter := range []growth.Scatter{growth.Proportional, growth.Constant} {
			c, err := growth.Choose(scatter, five, w)
			if err != nil {
				if stat.Refused(err) == nil {
					t.Errorf("%s: %v is no refusal", name, err)
				}
				continue
			}
			figures := append(slices.Clone(c.Coef), c.Size(3, 0.95).Value, c.Rate(3, 0.95).Value, c.Rate(3, 0.95).SE)
			if e, err := c.TimeTo(5, 0.95); err == nil {
				figures = append(figures, e.Value, e.SE)
			}
			if e, err := c.ProfileTimeTo(5, 0.95); err == nil {
				figures = append(figures, e.Value)
			}
			for _, v := range figures {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("%s, %v, %s: %v", name, scatter, c.Form, figures)
				}
			}
			for _, form := range growth.Forms {
				s := []growth.Subject{{T: five, Sizes: w}, {Unit: 1, T: five, Sizes: w}, {Unit: 2, T: five[:3], Sizes: w[:3]}}
				f, err := growth.FitMany(growth.Model{Form: form, Scatter: scatter}, s, firstTwo, growth.Random{})
				if err != nil {
					if stat.Refused(err) == nil {
						t.Errorf("%s: %v is no refusal", name, err)
					}
					continue
				}
				for _, v := range append(slices.Clone(f.Coef[0]), f.Sigma, f.Cov[0][0][0], f.Cov[0][1][1]) {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Errorf("%s, many, %s: %+v", name, form, f)
					}
				}
			}
		}
	}
	one := []growth.Subject{{T: five, Sizes: []float64{1, 2, 4, 8, 16}}}
	for name, err := range map[string]error{
		"one plant":      second(growth.FitMany(growth.Model{}, one, firstTwo, growth.Random{})),
		"nobody":         second(growth.FitMany(growth.Model{}, nil, firstTwo, growth.Random{})),
		"one time":       third(growth.Slope([]float64{3, 3}, []float64{1, 2}, 0.95)),
		"no time passes": third(growth.Between(3, []float64{1, 2}, 3, []float64{1, 2}, 0.95)),
		"one each":       third(growth.Between(3, []float64{1}, 4, []float64{2}, 0.95)),
		"three values":   second(growth.One(growth.Model{Form: growth.Gompertz}, five[:3], []float64{1, 2, 4})),
		"measured once": second(growth.FitMany(growth.Model{}, []growth.Subject{{T: five[:1], Sizes: five[:1]}, {Unit: 1, T: five[1:2], Sizes: five[1:2]}, {Unit: 2, T: five[2:3], Sizes: five[2:3]},
			{Unit: 3, T: five[3:4], Sizes: five[3:4]}}, firstTwo, growth.Random{})),
	} {
		if stat.Refused(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func second[T any](_ T, err error) error     { return err }
func third(_ stat.Estimate, err error) error { return err }

func BenchmarkFitMany(b *testing.B) {
	s := made(rand.New(rand.NewPCG(1, 2)), 40, 50, []float64{4, 8, 12, 16, 20, 24, 28, 32}, 0.1, 0.1, 0.05)
	each := slices.Clone(s)
	for i := range each {
		each[i].Curve = each[i].Unit
	}
	for name, run := range map[string]func() error{
		"a curve for each of 40 units": func() error {
			return second(growth.FitMany(growth.Model{Form: growth.Gompertz}, each, firstTwo, growth.Random{}))
		},
		"one curve, plants in units": func() error {
			return second(growth.FitMany(growth.Model{Form: growth.Gompertz}, s, firstTwo, first))
		},
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				if err := run(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
