package mixed_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/mixed"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func variance(f *mixed.Fit, name string) float64 {
	for _, c := range f.Components {
		if c.Name == name {
			return c.Variance
		}
	}
	return math.NaN()
}

// lme4 1.1-31 and pbkrtest 0.5-2 stop their optimisers at about 1e-7; 1e-5 is the
// agreement asked of interior fits.
const reml = 1e-5

// Rail (Berger 1987): variances, deviance, effects.
func TestRail(t *testing.T) {
	c := rset.Load(t, "mixed-rail")
	d := c.Table()
	rail := stat.NewFactor("Rail", d.Text("Rail"))
	f := must(mixed.FitModel(d.Numbers("travel"), nil, rail))
	rset.Near(t, "between", variance(f, "Rail"), c.Number("reml_varcomp/vcov/0"), 1e-6, 0)
	rset.Near(t, "within", variance(f, "residual"), c.Number("reml_varcomp/vcov/1"), 1e-6, 0)
	// Balanced: by the analysis of variance exactly, (1862.1 − 194/12)/3 and 194/12.
	rset.Near(t, "between, exact", variance(f, "Rail"), (1862.1-194./12)/3, 1e-10, 0)
	rset.Near(t, "within, exact", variance(f, "residual"), 194./12, 1e-10, 0)
	rset.Near(t, "deviance", f.Deviance, c.Number("reml_deviance"), 1e-10, 0)
	e := must(f.Estimate("mean", f.Vector(nil), 0.95))
	rset.Near(t, "mean", e.Value, 66.5, 1e-12, 0)
	rset.Near(t, "its error", e.SE, c.Number("fixef/values/0/1"), 1e-6, 0)
	rset.Near(t, "its df", e.DF, 5, 1e-9, 0)
	blup := c.Numbers("blup/(Intercept)")
	for i, name := range c.Words("blup/row") {
		for k, l := range rail.Levels {
			if l == name {
				rset.Near(t, "effect", f.Components[0].Effects[k], blup[i], 1e-6, 0)
			}
		}
	}
}

// Machines (Milliken and Johnson 1992): crossed and nested, whole and with seven rows
// missing; Kenward-Roger covariance, t and F.
func TestMachines(t *testing.T) {
	c := rset.Load(t, "mixed-machines")
	d := c.Table()
	fit := func(drop map[int]bool) (*mixed.Fit, stat.Factor) {
		var y []float64
		var w, m []string
		for i, v := range d.Numbers("score") {
			if !drop[i+1] {
				y, w, m = append(y, v), append(w, d.Text("Worker")[i]), append(m, d.Text("Machine")[i])
			}
		}
		worker, machine := stat.NewFactor("Worker", w), stat.NewFactor("Machine", m)
		return must(mixed.FitModel(y, []linear.Term{{linear.By(machine)}}, worker, stat.Cross(worker, machine))), machine
	}
	f, machine := fit(nil)
	rset.Near(t, "interaction", variance(f, "Worker:Machine"), c.Number("varcomp/vcov/0"), reml, 0)
	rset.Near(t, "worker", variance(f, "Worker"), c.Number("varcomp/vcov/1"), reml, 0)
	rset.Near(t, "residual", variance(f, "residual"), c.Number("varcomp/vcov/2"), reml, 0)
	rset.Near(t, "deviance", f.Deviance, c.Number("reml_deviance"), 1e-9, 0)
	test := must(f.Term(0, &machine))
	rset.Near(t, "F", test.Statistic, c.Number("anova_KR/F value/0"), reml, 0)
	rset.Near(t, "df", test.DF2, c.Number("anova_KR/DenDF/0"), reml, 0)
	rset.Near(t, "p", test.P, c.Number("anova_KR/Pr(>F)/0"), 0, 1e-6)
	for k := range 3 {
		e := must(f.Estimate("mean", f.Vector(map[string]int{"Machine": k}), 0.95))
		rset.Near(t, "mean", e.Value, c.Numbers("emm/emmean")[k], 1e-9, 0)
		rset.Near(t, "SE", e.SE, c.Numbers("emm/SE")[k], reml, 0)
		rset.Near(t, "df", e.DF, c.Numbers("emm/df")[k], reml, 0)
		rset.Near(t, "lower", e.Interval.Lower, c.Numbers("emm/lower.CL")[k], reml, 0)
	}
	m := must(f.Means(machine))
	e := must(m.Contrast("A − B", []float64{1, -1, 0}, 0.95))
	rset.Near(t, "difference SE", e.SE, c.Number("tukey/SE/0"), reml, 0)
	rset.Near(t, "difference df", e.DF, c.Number("tukey/df/0"), reml, 0)

	f, machine = fit(map[int]bool{1: true, 7: true, 8: true, 20: true, 33: true, 34: true, 50: true})
	for i, n := range []string{"Worker:Machine", "Worker", "residual"} {
		rset.Near(t, "unbalanced "+n, variance(f, n), c.Numbers("unbalanced_varcomp/vcov")[i], reml, 0)
	}
	test = must(f.Term(0, &machine))
	rset.Near(t, "unbalanced F", test.Statistic, c.Number("unbalanced_anova_KR/F value/0"), reml, 0)
	rset.Near(t, "unbalanced df", test.DF2, c.Number("unbalanced_anova_KR/DenDF/0"), reml, 0)
	rset.Near(t, "unbalanced p", test.P, c.Number("unbalanced_anova_KR/Pr(>F)/0"), 0, 1e-6)
	for k, row := range c.Matrix("unbalanced_coef_KR/values") {
		l := make([]float64, 3)
		l[k] = 1
		e := must(f.Estimate("coefficient", l, 0.95))
		rset.Near(t, "coefficient", e.Value, row[0], reml, 0)
		rset.Near(t, "SE", e.SE, row[1], reml, 0)
		rset.Near(t, "df", e.DF, row[2], reml, 0)
		rset.Near(t, "p", e.P, row[4], 0, 1e-6)
	}
}

// The synthetic nested trial with unequal numbers; blocks fixed.
func TestNestedTrial(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	d := c.Table()
	run, lamp, dli := stat.NewFactor("run", d.Text("run")), stat.NewFactor("lamp", d.Text("lamp")), stat.NewFactor("dli", d.Text("dli"))
	unit := stat.Cross(run, lamp)
	f := must(mixed.FitModel(d.Numbers("fresh_mass_g"), []linear.Term{{linear.By(dli)}, {linear.By(run)}}, unit))
	rset.Near(t, "unit", variance(f, "run:lamp"), c.Number("mixed_varcomp/vcov/0"), reml, 0)
	rset.Near(t, "residual", variance(f, "residual"), c.Number("mixed_varcomp/vcov/1"), reml, 0)
	rset.Near(t, "deviance", f.Deviance, c.Number("mixed_reml_deviance"), 1e-9, 0)
	for i, factor := range []stat.Factor{dli, run} {
		test := must(f.Term(i, &factor))
		rset.Near(t, "F", test.Statistic, c.Numbers("mixed_anova_KR/F value")[i], reml, 0)
		rset.Near(t, "df", test.DF2, c.Numbers("mixed_anova_KR/DenDF")[i], reml, 0)
		rset.Near(t, "p", test.P, c.Numbers("mixed_anova_KR/Pr(>F)")[i], 0, 1e-6)
	}
	for i, name := range c.Words("mixed_emm_KR/f") {
		for k, l := range dli.Levels {
			if l == name {
				e := must(f.Estimate(l, f.Vector(map[string]int{"dli": k}), 0.95))
				rset.Near(t, "mean", e.Value, c.Numbers("mixed_emm_KR/emmean")[i], reml, 0)
				rset.Near(t, "SE", e.SE, c.Numbers("mixed_emm_KR/SE")[i], reml, 0)
				rset.Near(t, "df", e.DF, c.Numbers("mixed_emm_KR/df")[i], reml, 0)
			}
		}
	}

	// Two groups of three units, unequal numbers.
	c = rset.Load(t, "lamp-tiny")
	d = c.Table()
	light := stat.NewFactor("light", d.Text("light"))
	f = must(mixed.FitModel(d.Numbers("fresh_mass_g"), []linear.Term{{linear.By(light)}}, stat.NewFactor("lamp", d.Text("lamp"))))
	rset.Near(t, "tiny, lamp", variance(f, "lamp"), c.Number("mixed_varcomp/vcov/0"), reml, 0)
	test := must(f.Term(0, &light))
	rset.Near(t, "tiny, df", test.DF2, c.Number("coef_KR/values/1/2"), reml, 0)
	rset.Near(t, "tiny, p", test.P, c.Number("coef_KR/values/1/4"), 0, 1e-6)
}

// Yates's oats: two strata, interaction.
func TestSplitPlot(t *testing.T) {
	c := rset.Load(t, "splitplot-oats")
	d := c.Table()
	b, v, n := stat.NewFactor("B", d.Text("B")), stat.NewFactor("V", d.Text("V")), stat.NewFactor("N", d.Text("N"))
	f := must(mixed.FitModel(d.Numbers("Y"), []linear.Term{{linear.By(n)}, {linear.By(v)}, {linear.By(n), linear.By(v)}}, b, stat.Cross(b, v)))
	rset.Near(t, "whole plots", variance(f, "B:V"), c.Number("varcomp/vcov/0"), reml, 0)
	rset.Near(t, "blocks", variance(f, "B"), c.Number("varcomp/vcov/1"), reml, 0)
	rset.Near(t, "deviance", f.Deviance, c.Number("reml_deviance"), 1e-9, 0)
	for i, factor := range []*stat.Factor{&n, &v, nil} {
		test := must(f.Term(i, factor))
		rset.Near(t, "F", test.Statistic, c.Numbers("anova_KR/F value")[i], reml, 0)
		rset.Near(t, "df", test.DF2, c.Numbers("anova_KR/DenDF")[i], reml, 0)
		rset.Near(t, "p", test.P, c.Numbers("anova_KR/Pr(>F)")[i], 0, 1e-6)
	}
	e := must(f.Estimate("V", f.Vector(map[string]int{"V": 0}), 0.95))
	for i, name := range c.Words("emm_V/V") {
		if name == v.Levels[0] {
			rset.Near(t, "mean", e.Value, c.Numbers("emm_V/emmean")[i], 1e-8, 0)
			rset.Near(t, "SE", e.SE, c.Numbers("emm_V/SE")[i], reml, 0)
			rset.Near(t, "df", e.DF, c.Numbers("emm_V/df")[i], reml, 0)
		}
	}
}

// Dyestuff2 (Box and Tiao 1973): the variance between batches is 0, is said to be, and
// no test is made of it.
func TestBoundary(t *testing.T) {
	c := rset.Load(t, "mixed-dyestuff2-singular")
	d := c.Table()
	f := must(mixed.FitModel(d.Numbers("Yield"), nil, stat.NewFactor("Batch", d.Text("Batch"))))
	if v := variance(f, "Batch"); v != 0 || len(f.Boundary) != 1 {
		t.Errorf("between %g, boundary %v", v, f.Boundary)
	}
	rset.Near(t, "residual", variance(f, "residual"), c.Number("varcomp/vcov/1"), 1e-6, 0)
	if _, err := f.Estimate("mean", f.Vector(nil), 0.95); stat.Refused(err) == nil {
		t.Errorf("a test at the boundary: %v", err)
	}
}

func TestRefusals(t *testing.T) {
	g := stat.NewFactor("lamp", []string{"a", "a", "b", "b", "c", "c"})
	y := []float64{1, 2, 4, 3, 8, 7}
	for name, err := range map[string]error{
		"no random factor": second(mixed.FitModel(y, nil)),
		"no scatter":       second(mixed.FitModel([]float64{1, 1, 1, 1, 1, 1}, nil, g)),
		"alone in a level": second(mixed.FitModel(y, nil, stat.NewFactor("plant", []string{"1", "2", "3", "4", "5", "6"}))),
		"twice the same":   second(mixed.FitModel(y, nil, g, stat.Factor{Name: "again", Levels: g.Levels, Of: g.Of})),
	} {
		if stat.Refused(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func second(_ *mixed.Fit, err error) error { return err }

// simulated is a trial of units lamps with plants plants in all.
func simulated(lamps, plants int) (y []float64, level, lamp stat.Factor) {
	r := rand.New(rand.NewPCG(1, 2))
	shift := make([]float64, lamps)
	for i := range shift {
		shift[i] = 6 * r.NormFloat64()
	}
	var ll, lv []string
	for i := range plants {
		k := i % lamps
		if r.Float64() < 0.1 {
			continue // lost
		}
		ll, lv = append(ll, strconv.Itoa(k)), append(lv, strconv.Itoa(k%5))
		y = append(y, 150+3*float64(k%5)+shift[k]+14*r.NormFloat64())
	}
	return y, stat.NewFactor("level", lv), stat.NewFactor("lamp", ll)
}

var table = flag.String("table", "", "write the plants of BenchmarkPlants2000Lamps40 to this file, for speed.R")

// With -table the benchmark's plants go to a file, so that speed.R times R on the same input.
func TestTableForR(t *testing.T) {
	y, level, lamp := simulated(40, 2000)
	var b strings.Builder
	b.WriteString("y,level,lamp\n")
	for i := range y {
		fmt.Fprintf(&b, "%.17g,%s,%s\n", y[i], level.Levels[level.Of[i]], lamp.Levels[lamp.Of[i]])
	}
	if n := strings.Count(b.String(), "\n"); n != len(y)+1 {
		t.Fatalf("%d lines", n)
	}
	if *table == "" {
		return
	}
	if err := os.WriteFile(*table, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := mixed.FitModel(y, []linear.Term{{linear.By(level)}}, lamp)
	if err != nil {
		t.Fatal(err)
	}
	test, err := f.Term(0, &level)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("F %.6f with %.4f and %.4f degrees of freedom, p %.6g", test.Statistic, test.DF1, test.DF2, test.P)
}

func BenchmarkPlants2000Lamps40(b *testing.B) {
	y, level, lamp := simulated(40, 2000)
	b.ReportAllocs()
	for b.Loop() {
		f, err := mixed.FitModel(y, []linear.Term{{linear.By(level)}}, lamp)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.Term(0, &level); err != nil {
			b.Fatal(err)
		}
	}
}
