package anova_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/linear"
)

// One-way sets of the NIST Statistical Reference Datasets, certified values. The
// higher sets hold 13 digits of which float64 keeps few: 1e12 + 0.4 is stored to
// 1e-4, which moves F by its 2 parts in 1000.
func TestNIST(t *testing.T) {
	for id, rel := range map[string]float64{
		"sirstv": 1e-12, "smls01": 1e-12, "smls03": 1e-11, "atmwtag": 1e-9,
		"smls04": 1e-8, "smls06": 1e-8, "smls07": 2e-3, "smls09": 2e-3,
	} {
		c := rset.Load(t, "nist-anova-"+id)
		d := c.Table()
		group := "group"
		if _, ok := d.Columns[group]; !ok {
			t.Fatalf("%s: columns %v", id, d.Columns)
		}
		a, err := anova.OneWay(d.Numbers("y"), stat.NewFactor("group", d.Text(group)))
		if err != nil {
			t.Fatal(err)
		}
		l := a.Treatment()
		rset.Near(t, id+" between SS", l.SS, c.Number("between_ss"), rel, 0)
		rset.Near(t, id+" within SS", a.Error.SS, c.Number("within_ss"), rel, 0)
		rset.Near(t, id+" F", l.Test.Statistic, c.Number("F"), rel, 0)
		rset.Near(t, id+" residual SD", math.Sqrt(a.Error.MS), c.Number("residual_sd"), rel, 0)
		if float64(l.DF) != c.Number("between_df") || float64(a.Error.DF) != c.Number("within_df") {
			t.Errorf("%s: degrees of freedom %d and %d", id, l.DF, a.Error.DF)
		}
	}
}

// table compares lines with R's anova() of the same path, in R's order.
func table(t *testing.T, c *rset.Case, path string, lines []anova.Line, rel float64) {
	t.Helper()
	ss := c.Numbers(path + "/Sum Sq")
	df := c.Numbers(path + "/Df")
	f := c.Numbers(path + "/F value")
	p := c.Numbers(path + "/Pr(>F)")
	for i, l := range lines {
		what := fmt.Sprintf("%s line %d %s", path, i, l.Name)
		rset.Near(t, what+" SS", l.SS, ss[i], rel, 1e-9)
		if float64(l.DF) != df[i] {
			t.Errorf("%s: %d degrees of freedom, want %g", what, l.DF, df[i])
		}
		if !math.IsNaN(f[i]) {
			rset.Near(t, what+" F", l.Test.Statistic, f[i], rel, 1e-9)
			rset.Near(t, what+" p", l.Test.P, p[i], rel, 1e-12)
		}
	}
}

// R 4.2.2 anova(lm()), oneway.test, car::leveneTest on PlantGrowth, chickwts and
// InsectSprays of package datasets.
func TestOneWay(t *testing.T) {
	for _, s := range []struct{ id, y, g, table string }{
		{"oneway-plantgrowth", "weight", "group", "anova"},
		{"oneway-chickwts", "weight", "feed", "anova"},
		{"counts-insectsprays", "count", "spray", "anova_raw"},
	} {
		c := rset.Load(t, s.id)
		d := c.Table()
		y, g := d.Numbers(s.y), stat.NewFactor(s.g, d.Text(s.g))
		a, err := anova.OneWay(y, g)
		if err != nil {
			t.Fatal(err)
		}
		table(t, c, s.table, append(a.Lines, a.Error), 1e-10)
		w, err := anova.Welch(y, g)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "Welch F", w.Statistic, c.Number("welch/statistic/F"), 1e-10, 0)
		rset.Near(t, "Welch df", w.DF2, c.Number("welch/parameter/denom df"), 1e-10, 0)
		rset.Near(t, "Welch p", w.P, c.Number("welch/p_value"), 1e-9, 0)
		b, err := anova.BrownForsythe(y, g)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "Brown-Forsythe F", b.Statistic, c.Number("brown_forsythe/F value/0"), 1e-9, 0)
		rset.Near(t, "Brown-Forsythe p", b.P, c.Number("brown_forsythe/Pr(>F)/0"), 1e-9, 0)
		if s.id == "oneway-plantgrowth" {
			each, err := a.Means.Each(0.95)
			if err != nil {
				t.Fatal(err)
			}
			for i, row := range c.Matrix("ci_each_mean_pooled/values") {
				rset.Near(t, "mean", each[i].Value, row[0], 1e-12, 0)
				rset.Near(t, "lower", each[i].Interval.Lower, row[1], 1e-10, 0)
				rset.Near(t, "upper", each[i].Interval.Upper, row[2], 1e-10, 0)
			}
			r, cook := a.Fit.Studentised()
			for i := range r {
				rset.Near(t, "studentised residual", r[i], c.Number(fmt.Sprintf("residuals_studentised/%d", i+1)), 1e-8, 0)
				rset.Near(t, "Cook's distance", cook[i], c.Number(fmt.Sprintf("cooks_distance/%d", i+1)), 1e-8, 0)
			}
		}
	}
}

// GomezGomez1984, table 2.5: published sums of squares 1,944,361, 1,198,331 and
// 1,658,376; more digits, and a missing cell, by R 4.2.2 and emmeans.
func TestBlocks(t *testing.T) {
	c := rset.Load(t, "rcbd-seeding-rate")
	d := c.Table()
	y := d.Numbers("yield")
	rate, block := stat.NewFactor("rate", d.Text("rate")), stat.NewFactor("block", d.Text("block"))
	a, err := anova.Blocks(y, rate, block)
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "anova", append(a.Lines, a.Error), 1e-10)
	for i, want := range []float64{1944361, 1198331, 1658376} {
		rset.Near(t, "published sum of squares", append(a.Lines, a.Error)[i].SS, want, 0, 0.5)
	}
	rset.Near(t, "relative efficiency", anova.RelativeEfficiency(a), c.Number("relative_efficiency"), 1e-10, 0)

	var y2 []float64
	var r2, b2 []string
	for i := range y {
		if i != 5 {
			y2, r2, b2 = append(y2, y[i]), append(r2, d.Text("rate")[i]), append(b2, d.Text("block")[i])
		}
	}
	a, err = anova.Blocks(y2, stat.NewFactor("rate", r2), stat.NewFactor("block", b2))
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "missing cell, treatment F", a.Treatment().Test.Statistic, c.Number("missing_cell_typeIII_treat/F value/2"), 1e-10, 0)
	rset.Near(t, "missing cell, p", a.Treatment().Test.P, c.Number("missing_cell_typeIII_treat/Pr(>F)/2"), 1e-9, 0)
	each, err := a.Means.Each(0.95)
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range c.Words("missing_cell_emm/t") {
		for _, e := range each {
			if e.Name == name {
				rset.Near(t, "adjusted mean", e.Value, c.Numbers("missing_cell_emm/emmean")[i], 1e-10, 0)
				rset.Near(t, "its error", e.SE, c.Numbers("missing_cell_emm/SE")[i], 1e-10, 0)
				rset.Near(t, "its limit", e.Interval.Lower, c.Numbers("missing_cell_emm/lower.CL")[i], 1e-9, 0)
			}
		}
	}
}

// R 4.2.2: OrchardSprays of package datasets, whole and with two cells missing, and
// the synthetic rotation on unit means.
func TestLatin(t *testing.T) {
	c := rset.Load(t, "latin-orchardsprays")
	d := c.Table()
	y := d.Numbers("decrease")
	f := func(keep func(int) bool, name string) stat.Factor {
		var l []string
		for i, s := range d.Text(name) {
			if keep(i) {
				l = append(l, s)
			}
		}
		return stat.NewFactor(name, l)
	}
	all := func(int) bool { return true }
	a, err := anova.Latin(y, f(all, "treatment"), f(all, "rowpos"), f(all, "colpos"))
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "anova", append(a.Lines, a.Error), 1e-9)
	some := func(i int) bool { return i != 4 && i != 39 }
	var y2 []float64
	for i, v := range y {
		if some(i) {
			y2 = append(y2, v)
		}
	}
	a, err = anova.Latin(y2, f(some, "treatment"), f(some, "rowpos"), f(some, "colpos"))
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range a.Lines {
		rset.Near(t, "missing cells "+l.Name, l.Test.Statistic, c.Numbers("missing_two_cells/F value")[i+1], 1e-9, 0)
		rset.Near(t, "missing cells p "+l.Name, l.Test.P, c.Numbers("missing_two_cells/Pr(>F)")[i+1], 1e-9, 0)
	}

	c = rset.Load(t, "lamp-rotation")
	d = c.Table()
	unit := stat.Cross(stat.NewFactor("run", d.Text("run")), stat.NewFactor("position", d.Text("position")))
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), unit, nil)
	if err != nil {
		t.Fatal(err)
	}
	pick := func(name string) stat.Factor {
		var l []string
		for _, i := range u.First {
			l = append(l, d.Text(name)[i])
		}
		return stat.NewFactor(name, l)
	}
	a, err = anova.Latin(u.Mean, pick("spectrum"), pick("run"), pick("position"))
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "latin_on_means", append([]anova.Line{a.Lines[0], a.Lines[1]}, a.Lines[2], a.Error), 1e-9)
}

// Yates's oats (R package MASS), aov with Error(B/V), and the synthetic split plot on
// cell means.
func TestSplitPlot(t *testing.T) {
	c := rset.Load(t, "splitplot-oats")
	d := c.Table()
	b, v, n := stat.NewFactor("B", d.Text("B")), stat.NewFactor("V", d.Text("V")), stat.NewFactor("N", d.Text("N"))
	s, err := anova.SplitPlot(d.Numbers("Y"), v, n, stat.Cross(b, v), &b)
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "stratum_B", []anova.Line{*s.Block}, 1e-9)
	table(t, c, "stratum_BV", []anova.Line{s.Whole, s.WholeError}, 1e-9)
	table(t, c, "stratum_within", []anova.Line{s.Part, s.Cross, s.PartError}, 1e-9)
	// emmeans pairs of N: one standard error with 45 degrees of freedom.
	e, err := s.PartMeans.Contrast("0.0 − 0.2", []float64{1, -1, 0, 0}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "difference", e.Value, c.Number("emm_N_pairs/estimate/0"), 1e-9, 0)
	rset.Near(t, "its error", e.SE, c.Number("emm_N_pairs/SE/0"), 1e-6, 0)

	c = rset.Load(t, "lamp-splitplot")
	d = c.Table()
	cell := stat.Cross(stat.Cross(stat.NewFactor("run", d.Text("run")), stat.NewFactor("dli", d.Text("dli"))), stat.NewFactor("cultivar", d.Text("cultivar")))
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), cell, nil)
	if err != nil {
		t.Fatal(err)
	}
	pick := func(name string) stat.Factor {
		var l []string
		for _, i := range u.First {
			l = append(l, d.Text(name)[i])
		}
		return stat.NewFactor(name, l)
	}
	run, dli, cultivar := pick("run"), pick("dli"), pick("cultivar")
	s, err = anova.SplitPlot(u.Mean, dli, cultivar, stat.Cross(run, dli), &run)
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "strata_lamp", []anova.Line{s.Whole, s.WholeError}, 1e-9)
	table(t, c, "strata_within", []anova.Line{s.Part, s.Cross, s.PartError}, 1e-9)
}

// R 4.2.2 t.test on Student's sleep data.
func TestTwoGroups(t *testing.T) {
	c := rset.Load(t, "two-sample-sleep")
	d := c.Table()
	g := stat.NewFactor("group", d.Text("group")).Split(d.Numbers("extra"))
	check := func(path string, e stat.Estimate, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, path+" t", e.T, c.Number(path+"/statistic/t"), 1e-11, 0)
		rset.Near(t, path+" df", e.DF, c.Number(path+"/parameter/df"), 1e-11, 0)
		rset.Near(t, path+" p", e.P, c.Number(path+"/p_value"), 1e-10, 0)
		rset.Near(t, path+" lower", e.Interval.Lower, c.Number(path+"/conf_int/0"), 1e-10, 0)
		rset.Near(t, path+" upper", e.Interval.Upper, c.Number(path+"/conf_int/1"), 1e-10, 0)
	}
	e, err := anova.Difference("sleep", g[0], g[1], false, 0.95)
	check("welch", e, err)
	e, err = anova.Difference("sleep", g[0], g[1], true, 0.95)
	check("pooled", e, err)
	e, err = anova.Paired("sleep", g[0], g[1], 0.95)
	check("paired", e, err)
	q, err := anova.Equivalent(e, 3, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "TOST lower", q.PLower, c.Number("tost_paired_margin_3/p_lower"), 1e-10, 0)
	rset.Near(t, "TOST upper", q.PUpper, c.Number("tost_paired_margin_3/p_upper"), 1e-9, 0)
	rset.Near(t, "TOST limit", q.Interval.Lower, c.Number("tost_paired_margin_3/ci90/0"), 1e-10, 0)
	if !q.IsEquivalent {
		t.Error("equivalent within 3 at 5 %")
	}
}

// The lamp means of the synthetic nested trial, R 4.2.2; the design effect from the
// mixed model is near that of the analysis of variance, for nearly equal numbers.
func TestUnitMeans(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	d := c.Table()
	run, lamp := stat.NewFactor("run", d.Text("run")), stat.NewFactor("lamp", d.Text("lamp"))
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), stat.Cross(run, lamp), nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range c.Numbers("unit_means/m") {
		rset.Near(t, "unit mean", u.Mean[i], want, 1e-12, 0)
	}
	pick := func(name string) stat.Factor {
		var l []string
		for _, i := range u.First {
			l = append(l, d.Text(name)[i])
		}
		return stat.NewFactor(name, l)
	}
	a, err := anova.Blocks(u.Mean, pick("dli"), pick("run"))
	if err != nil {
		t.Fatal(err)
	}
	table(t, c, "rcbd_on_means", append(a.Lines, a.Error), 1e-9)

	// Rail-like check by hand: two units of two, means 1 and 5, within variance 2:
	// between = (16 − 2)/2 = 7 with mean square between 2·8 = 16.
	u, err = anova.UnitMeans([]float64{0, 2, 4, 6}, stat.NewFactor("unit", []string{"a", "a", "b", "b"}), nil)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "within", u.Within, 2, 1e-14, 0)
	rset.Near(t, "between", u.Between, 7, 1e-14, 0)
}

// One unit per level: no test between levels, but a curve over the units' means, with the
// three degrees of freedom that six units and a parabola leave (R 4.2.2).
func TestUnreplicated(t *testing.T) {
	c := rset.Load(t, "lamp-unreplicated")
	d := c.Table()
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), stat.NewFactor("lamp", d.Text("lamp")), nil)
	if err != nil {
		t.Fatal(err)
	}
	var level []string
	var x, sq []float64
	for _, i := range u.First {
		v := d.Numbers("dli")[i]
		level, x, sq = append(level, d.Text("dli")[i]), append(x, v), append(sq, v*v)
	}
	if _, err := anova.OneWay(u.Mean, stat.NewFactor("dli", level)); stat.Refused(err) == nil {
		t.Errorf("a test between unreplicated levels: %v", err)
	}
	f, err := linear.FitModel(u.Mean, linear.Term{linear.Of("dli", x)}, linear.Term{linear.Of("dli²", sq)})
	if err != nil {
		t.Fatal(err)
	}
	for k, row := range c.Matrix("regression_on_means/values") {
		l := make([]float64, 3)
		l[k] = 1
		e, err := f.Estimate("b", l, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "coefficient", e.Value, row[0], 1e-9, 0)
		rset.Near(t, "SE", e.SE, row[1], 1e-9, 0)
		rset.Near(t, "p", e.P, row[3], 1e-9, 0)
	}
}

// What cannot be had is refused in a sentence.
func TestRefusals(t *testing.T) {
	f := func(l ...string) stat.Factor { return stat.NewFactor("light", l) }
	for name, c := range map[string]struct {
		do   func() error
		want string
	}{
		"one lamp per level": {func() error { _, err := anova.OneWay([]float64{1, 2, 3}, f("a", "b", "c")); return err }, "each has one unit"},
		"one level":          {func() error { _, err := anova.OneWay([]float64{1, 2, 3}, f("a", "a", "a")); return err }, "only one level"},
		"one block": {func() error {
			_, err := anova.Blocks([]float64{1, 2, 3}, f("a", "b", "c"), stat.NewFactor("run", []string{"1", "1", "1"}))
			return err
		}, "no degrees of freedom"},
		"no scatter": {func() error {
			a, err := anova.OneWay([]float64{1, 1, 2, 2}, f("a", "a", "b", "b"))
			if err != nil {
				return err
			}
			return a.Treatment().Refused
		}, "do not differ at all"},
		"Welch, one unit": {func() error { _, err := anova.Welch([]float64{1, 2, 3}, f("a", "a", "b")); return err }, "fewer than two units"},
		"margin": {func() error {
			_, err := anova.Equivalent(stat.Estimate{Value: 1, SE: 1, DF: 3}, 0, 0.05)
			return err
		}, "chosen before"},
		"split plot with a hole": {func() error {
			u, p := stat.NewFactor("unit", []string{"1", "1", "2", "3", "3"}), stat.NewFactor("cultivar", []string{"x", "y", "x", "x", "y"})
			_, err := anova.SplitPlot([]float64{1, 2, 3, 4, 5}, f("a", "a", "b", "b", "b"), p, u, nil)
			return err
		}, "mixed model"},
	} {
		err := c.do()
		if err == nil || stat.Refused(err) == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := anova.OneWay([]float64{1, math.NaN()}, f("a", "b")); err == nil || stat.Refused(err) != nil {
		t.Errorf("a value that is no number is an error of the caller: %v", err)
	}
	a, err := anova.OneWay([]float64{1, 2, 4}, f("a", "b", "b"))
	if err != nil || a.Weak == "" {
		t.Errorf("one degree of freedom: %v, %q", err, a.Weak)
	}
}

// Two values lie equally far from their median: nothing is left to tell scatter by.
func TestScatterOfPairs(t *testing.T) {
	g := stat.NewFactor("g", []string{"a", "a", "b", "b", "c", "c"})
	if r, err := anova.BrownForsythe([]float64{1, 2, 5, 9, 3, 4}, g); stat.Refused(err) == nil {
		t.Errorf("%+v %v", r, err)
	}
}
