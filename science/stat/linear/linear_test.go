package linear_test

import (
	"math"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/linear"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// R 4.2.2 contr.poly with equal and unequal spacing.
func TestOrthogonal(t *testing.T) {
	c := rset.Load(t, "orthogonal-poly")
	for path, x := range map[string][]float64{
		"equal_4": {1, 2, 3, 4}, "equal_5": {1, 2, 3, 4, 5}, "equal_6": {1, 2, 3, 4, 5, 6},
		"unequal_8_11_14_20_26": {8, 11, 14, 20, 26}, "unequal_100_150_250_400": {100, 150, 250, 400},
	} {
		want := c.Matrix(path + "/values")
		got := linear.Orthogonal(x, len(x)-1)
		for d := range got {
			for i := range x {
				rset.Near(t, path, got[d][i], want[i][d], 0, 1e-13)
			}
		}
	}
}

// R 4.2.2 lm, anova, drop1, emmeans on npk, ToothGrowth, warpbreaks and anorexia.
func TestModels(t *testing.T) {
	c := rset.Load(t, "factorial-npk")
	d := c.Table()
	f := func(n string) linear.Variable { return linear.By(stat.NewFactor(n, d.Text(n))) }
	fit := must(linear.FitModel(d.Numbers("yield"), linear.Term{f("block")}, linear.Term{f("N")}, linear.Term{f("P")}, linear.Term{f("K")},
		linear.Term{f("N"), f("P")}, linear.Term{f("N"), f("K")}, linear.Term{f("P"), f("K")}, linear.Term{f("N"), f("P"), f("K")}))
	ss := c.Numbers("anova/Sum Sq")
	for i, r := range fit.Rows[:7] {
		rset.Near(t, "npk "+r.Name, r.SS, ss[i], 1e-10, 0)
	}
	if fit.Rows[7].DF != 0 {
		t.Error("the three-way interaction is confounded with blocks")
	}
	if _, _, err := fit.Drop(7); stat.Refused(err) == nil {
		t.Errorf("a confounded term: %v", err)
	}
	rset.Near(t, "npk error", fit.RSS, ss[7], 1e-10, 0)

	c = rset.Load(t, "doseresp-toothgrowth")
	d = c.Table()
	dose := d.Numbers("dose")
	sq := make([]float64, len(dose))
	for i, x := range dose {
		sq[i] = x * x
	}
	supp := stat.NewFactor("supp", d.Text("supp"))
	y := d.Numbers("len")
	small := must(linear.FitModel(y, linear.Term{linear.By(supp)}, linear.Term{linear.Of("dose", dose)}, linear.Term{linear.By(supp), linear.Of("dose", dose)}))
	dosef := stat.NewFactor("dose", d.Text("dose"))
	large := must(linear.FitModel(y, linear.Term{linear.By(supp)}, linear.Term{linear.By(dosef)}, linear.Term{linear.By(supp), linear.By(dosef)}))
	lof := must(linear.LackOfFit(small, large))
	rset.Near(t, "lack of fit", lof.Statistic, c.Number("lack_of_fit_linear/F/1"), 1e-10, 0)
	rset.Near(t, "its p", lof.P, c.Number("lack_of_fit_linear/Pr(>F)/1"), 1e-9, 0)

	c = rset.Load(t, "twoway-warpbreaks")
	d = c.Table()
	wool, tension := stat.NewFactor("wool", d.Text("wool")), stat.NewFactor("tension", d.Text("tension"))
	fit = must(linear.FitModel(d.Numbers("breaks"), linear.Term{linear.By(wool)}, linear.Term{linear.By(tension)}, linear.Term{linear.By(wool), linear.By(tension)}))
	for i, r := range fit.Rows {
		rset.Near(t, r.Name, r.SS, c.Numbers("anova/Sum Sq")[i], 1e-10, 0)
	}
	tl := c.Words("emm/tension")
	for i, w := range c.Words("emm/wool") {
		at := map[string]int{"wool": index(wool, w), "tension": index(tension, tl[i])}
		e := must(fit.Estimate("cell", fit.Vector(at), 0.95))
		rset.Near(t, "cell mean", e.Value, c.Numbers("emm/emmean")[i], 1e-10, 0)
		rset.Near(t, "cell error", e.SE, c.Numbers("emm/SE")[i], 1e-10, 0)
	}

	c = rset.Load(t, "ancova-anorexia")
	d = c.Table()
	treat := stat.NewFactor("Treat", d.Text("Treat"))
	fit = must(linear.FitModel(d.Numbers("Postwt"), linear.Term{linear.Of("Prewt", d.Numbers("Prewt"))}, linear.Term{linear.By(treat)}))
	means := must(fit.Means(treat))
	for i, name := range c.Words("adjusted_means/Treat") {
		k := index(treat, name)
		e := must(means.Each(0.95))[k]
		rset.Near(t, "adjusted mean", e.Value, c.Numbers("adjusted_means/emmean")[i], 1e-10, 0)
		rset.Near(t, "its error", e.SE, c.Numbers("adjusted_means/SE")[i], 1e-10, 0)
		rset.Near(t, "its limit", e.Interval.Upper, c.Numbers("adjusted_means/upper.CL")[i], 1e-10, 0)
	}
}

func index(f stat.Factor, level string) int {
	for k, l := range f.Levels {
		if l == level {
			return k
		}
	}
	panic(level)
}

// Trend over the rates of GomezGomez1984 in blocks: the sums of squares of the
// polynomials (R 4.2.2 aov with split), as squared contrasts of the means.
func TestTrend(t *testing.T) {
	c := rset.Load(t, "rcbd-seeding-rate")
	d := c.Table()
	rate, block := stat.NewFactor("rate", d.Text("rate")), stat.NewFactor("block", d.Text("block"))
	fit := must(linear.FitModel(d.Numbers("yield"), linear.Term{linear.By(block)}, linear.Term{linear.By(rate)}))
	m := must(fit.Means(rate))
	q := linear.Orthogonal([]float64{25, 50, 75, 100, 125, 150}, 5)
	for k := range q {
		e := must(m.Contrast("trend", q[k], 0.95))
		rset.Near(t, "sum of squares", 4*e.Value*e.Value, c.Numbers("poly_ss/Sum Sq")[2+k], 1e-9, 0)
		rset.Near(t, "p", e.P, c.Numbers("poly_ss/Pr(>F)")[2+k], 1e-9, 0)
	}
}

// An empty cell is not made up.
func TestEmptyCell(t *testing.T) {
	a, b := stat.NewFactor("a", []string{"x", "x", "y", "y", "x"}), stat.NewFactor("b", []string{"1", "2", "1", "1", "2"})
	fit := must(linear.FitModel([]float64{1, 2, 3, 4, 3}, linear.Term{linear.By(a)}, linear.Term{linear.By(b)}, linear.Term{linear.By(a), linear.By(b)}))
	if _, err := fit.Means(a); stat.Refused(err) == nil {
		t.Errorf("mean over an empty cell: %v", err)
	}
	v, err := fit.Value(fit.Vector(map[string]int{"a": 0, "b": 1}))
	if err != nil || math.Abs(v-2.5) > 1e-12 {
		t.Errorf("a cell with units: %v, %v", v, err)
	}
	if _, err := linear.FitModel([]float64{1, 2}, linear.Term{linear.Of("x", []float64{1})}); err == nil {
		t.Error("a covariate of another length")
	}
}
