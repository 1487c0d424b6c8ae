package ranks_test

import (
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/ranks"
)

// R 4.2.2 kruskal.test on three sets, friedman.test on the rice of GomezGomez1984.
func TestGroups(t *testing.T) {
	for _, s := range []struct{ id, y, g string }{
		{"oneway-plantgrowth", "weight", "group"}, {"oneway-chickwts", "weight", "feed"}, {"counts-insectsprays", "count", "spray"},
	} {
		c := rset.Load(t, s.id)
		d := c.Table()
		k, err := ranks.KruskalWallis(d.Numbers(s.y), stat.NewFactor(s.g, d.Text(s.g)))
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, s.id, k.Statistic, c.Number("kruskal/statistic/Kruskal-Wallis chi-squared"), 1e-11, 0)
		rset.Near(t, s.id+" p", k.P, c.Number("kruskal/p_value"), 1e-9, 0)
	}
	c := rset.Load(t, "rcbd-seeding-rate")
	d := c.Table()
	f, err := ranks.Friedman(d.Numbers("yield"), stat.NewFactor("rate", d.Text("rate")), stat.NewFactor("block", d.Text("block")))
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "Friedman", f.Statistic, c.Number("friedman/statistic/Friedman chi-squared"), 1e-11, 0)
	rset.Near(t, "Friedman p", f.P, c.Number("friedman/p_value"), 1e-10, 0)
}

// friedman.test of R 4.2.2 with ties in four of five blocks.
func TestFriedmanTies(t *testing.T) {
	var treat, block []string
	for b := range 5 {
		for k := range 3 {
			treat, block = append(treat, string(rune('a'+k))), append(block, string(rune('1'+b)))
		}
	}
	f, err := ranks.Friedman([]float64{1, 2, 2, 3, 3, 1, 4, 4, 4, 2, 5, 1, 7, 6, 6}, stat.NewFactor("t", treat), stat.NewFactor("b", block))
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "Friedman", f.Statistic, 2, 1e-12, 0)
	rset.Near(t, "p", f.P, 0.367879441171442, 1e-12, 0)
}

// Own computation in R 4.2.2 (normal approximation with ties) on ToothGrowth, orange juice.
func TestJonckheere(t *testing.T) {
	c := rset.Load(t, "doseresp-toothgrowth")
	d := c.Table()
	var y []float64
	var dose []string
	for i, s := range d.Text("supp") {
		if s == "OJ" {
			y, dose = append(y, d.Numbers("len")[i]), append(dose, d.Text("dose")[i])
		}
	}
	j, err := ranks.Jonckheere(y, stat.NewFactor("dose", dose))
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "z", j.Statistic, c.Number("jonckheere_OJ/z"), 1e-11, 0)
	rset.Near(t, "p", j.P, c.Number("jonckheere_OJ/p_two_sided"), 1e-9, 0)
}

// Brunner and Munzel on the wine data of R package ordinal.
func TestSuperiority(t *testing.T) {
	c := rset.Load(t, "relative-effect")
	d := c.Table()
	g := stat.NewFactor("temp", d.Text("temp"))
	split := g.Split(d.Numbers("rating"))
	cold, warm := split[0], split[1]
	if g.Levels[0] != "cold" {
		cold, warm = warm, cold
	}
	e, err := ranks.Superiority("warm above cold", cold, warm, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "effect", e.Value, c.Number("warm_vs_cold/effect"), 1e-12, 0)
	rset.Near(t, "se", e.SE, c.Number("warm_vs_cold/se"), 1e-11, 0)
	rset.Near(t, "df", e.DF, c.Number("warm_vs_cold/df"), 1e-11, 0)
	rset.Near(t, "p", e.P, c.Number("warm_vs_cold/p_value"), 1e-8, 0)
	rset.Near(t, "lower", e.Interval.Lower, c.Number("warm_vs_cold/conf_int/0"), 1e-10, 0)
}

func TestRefusals(t *testing.T) {
	g := stat.NewFactor("g", []string{"a", "a", "b", "b"})
	same := []float64{1, 1, 1, 1}
	for name, err := range map[string]error{
		"Kruskal":     second(ranks.KruskalWallis(same, g)),
		"Jonckheere":  second(ranks.Jonckheere(same, g)),
		"Friedman":    second(ranks.Friedman(same, g, g)),
		"superiority": func() error { _, err := ranks.Superiority("x", []float64{1, 2}, []float64{3, 4}, 0.95); return err }(),
	} {
		if stat.Refused(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func second(_ stat.Test, err error) error { return err }

// Units of one are Brunner and Munzel's; units of several against Obuchowski's sums, written
// out in R 4.2.2 on the made trial lamp_trial_a (all pairs by outer(), sums by tapply()).
func TestSuperiorityInUnits(t *testing.T) {
	a, b := []float64{1, 2, 2, 4, 3, 1}, []float64{2, 3, 5, 4, 4}
	one := func(v []float64) (out [][]float64) {
		for _, x := range v {
			out = append(out, []float64{x})
		}
		return out
	}
	want, err := ranks.Superiority("x", a, b, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ranks.SuperiorityInUnits("x", one(a), one(b), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range [][2]float64{{got.Value, want.Value}, {got.SE, want.SE}, {got.DF, want.DF}, {got.P, want.P}, {got.Interval.Lower, want.Interval.Lower}} {
		rset.Near(t, "units of one", p[0], p[1], 1e-12, 0)
	}
	d := rset.ReadTable(t, "lamp_trial_a.csv")
	grade, run, lamp, dli := d.Numbers("severity"), d.Text("run"), d.Text("lamp"), d.Text("dli")
	units := func(level string) [][]float64 {
		at := map[string]int{}
		var out [][]float64
		for i, l := range dli {
			if l != level {
				continue
			}
			k := run[i] + "/" + lamp[i]
			j, ok := at[k]
			if !ok {
				j = len(out)
				at[k] = j
				out = append(out, nil)
			}
			out[j] = append(out[j], grade[i])
		}
		return out
	}
	for _, c := range []struct {
		a, b                    string
		value, se, df, p, lower float64
	}{
		{"14", "20", 0.571068548387097, 0.0504633477638463, 4.18875367857155, 0.228750788308764, 0.433415002093201},
		{"11", "23", 0.760416666666667, 0.0522812597238509, 4.35060441642706, 0.00608394346865491, 0.619759619319983},
		{"17", "23", 0.651724137931034, 0.0752016722793397, 5.4220348737922, 0.0952575169436103, 0.462851343670455},
	} {
		e, err := ranks.SuperiorityInUnits("x", units(c.a), units(c.b), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		name := c.a + " and " + c.b
		rset.Near(t, name, e.Value, c.value, 1e-12, 0)
		rset.Near(t, name+", se", e.SE, c.se, 1e-12, 0)
		rset.Near(t, name+", df", e.DF, c.df, 1e-11, 0)
		rset.Near(t, name+", p", e.P, c.p, 1e-9, 0)
		rset.Near(t, name+", lower", e.Interval.Lower, c.lower, 1e-10, 0)
	}
	if _, err := ranks.SuperiorityInUnits("x", [][]float64{{1, 1}, {1}}, [][]float64{{2}, {2, 2}}, 0.95); stat.Refused(err) == nil {
		t.Errorf("groups that do not overlap: %v", err)
	}
}
