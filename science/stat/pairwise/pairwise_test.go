package pairwise_test

import (
	"strings"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/pairwise"
)

// compare finds each comparison of R, "b - a", among ours and compares what is there.
func compare(t *testing.T, c *rset.Case, path string, names []string, got pairwise.Comparisons, est, p, lower, upper []float64, abs float64) {
	t.Helper()
	if len(names) != len(got.Pairs) {
		t.Fatalf("%s: %d comparisons, want %d", path, len(got.Pairs), len(names))
	}
	for i, n := range names {
		found := false
		for _, e := range got.Pairs {
			back := strings.Split(e.Name, " − ")
			if strings.ReplaceAll(n, " ", "") == back[1]+"-"+back[0] {
				e.Value, e.Interval.Lower, e.Interval.Upper = -e.Value, -e.Interval.Upper, -e.Interval.Lower
			} else if strings.ReplaceAll(n, " ", "") != back[0]+"-"+back[1] {
				continue
			}
			found = true
			rset.Near(t, path+" "+n, e.Value, est[i], 1e-10, 1e-10)
			rset.Near(t, path+" p "+n, e.P, p[i], 0, abs)
			rset.Near(t, path+" lower "+n, e.Interval.Lower, lower[i], 1e-8, 1e-7)
			rset.Near(t, path+" upper "+n, e.Interval.Upper, upper[i], 1e-8, 1e-7)
		}
		if !found {
			t.Errorf("%s: no %q", path, n)
		}
	}
}

// Tukey-Kramer, Games-Howell and Dunnett by exact integration in R 4.2.2, on
// PlantGrowth, chickwts and InsectSprays.
func TestGroups(t *testing.T) {
	for _, s := range []struct{ id, y, g, dunnett, control string }{
		{"oneway-plantgrowth", "weight", "group", "dunnett", "ctrl"},
		{"oneway-chickwts", "weight", "feed", "dunnett_vs_casein", "casein"},
		{"counts-insectsprays", "count", "spray", "", ""},
	} {
		c := rset.Load(t, s.id)
		d := c.Table()
		y, g := d.Numbers(s.y), stat.NewFactor(s.g, d.Text(s.g))
		u, err := pairwise.Unequal(y, g, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		compare(t, c, "Games-Howell", c.Words("games_howell/comparison"), u, c.Numbers("games_howell/estimate"), c.Numbers("games_howell/p_adj"), c.Numbers("games_howell/lower"), c.Numbers("games_howell/upper"), 1e-10)
		if s.dunnett == "" {
			continue
		}
		a, err := anova.OneWay(y, g)
		if err != nil {
			t.Fatal(err)
		}
		all, err := pairwise.All(a.Means, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "critical q", all.Critical, c.Number("tukey_kramer/critical_q"), 1e-9, 0)
		k := "tukey_kramer/table/"
		compare(t, c, "Tukey-Kramer", c.Words(k+"comparison"), all, c.Numbers(k+"estimate"), c.Numbers(k+"p_adj"), c.Numbers(k+"lower"), c.Numbers(k+"upper"), 1e-10)
		control := -1
		for i, l := range g.Levels {
			if l == s.control {
				control = i
			}
		}
		against, err := pairwise.Against(a.Means, control, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if against.Note != "" {
			t.Error(against.Note)
		}
		rset.Near(t, "critical value of Dunnett", against.Critical, c.Number(s.dunnett+"/critical_value"), 1e-9, 0)
		k = s.dunnett + "/table/"
		compare(t, c, "Dunnett", c.Words(k+"comparison"), against, c.Numbers(k+"estimate"), c.Numbers(k+"p_adj"), c.Numbers(k+"lower"), c.Numbers(k+"upper"), 1e-10)
	}
}

// In blocks: R's TukeyHSD at 15 degrees of freedom (its own error is below 1e-8
// there) and Dunnett against the lowest level, on lamp means of the synthetic trial.
func TestBlocks(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	d := c.Table()
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), stat.Cross(stat.NewFactor("run", d.Text("run")), stat.NewFactor("lamp", d.Text("lamp"))), nil)
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
	dli := pick("dli")
	a, err := anova.Blocks(u.Mean, dli, pick("run"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := pairwise.All(a.Means, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	column := func(m [][]float64, j int) []float64 {
		var out []float64
		for _, r := range m {
			out = append(out, r[j])
		}
		return out
	}
	m := c.Matrix("tukey_on_means/values")
	compare(t, c, "TukeyHSD", c.Words("tukey_on_means/rows"), all, column(m, 0), column(m, 3), column(m, 1), column(m, 2), 1e-7)
	control := 0
	for i, l := range dli.Levels {
		if l == "8" {
			control = i
		}
	}
	g, err := pairwise.Against(a.Means, control, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, n := range c.Words("dunnett_vs_8_on_means/dli") {
		names = append(names, n+" - 8")
	}
	k := "dunnett_vs_8_on_means/"
	compare(t, c, "Dunnett", names, g, c.Numbers(k+"estimate"), c.Numbers(k+"p_adj"), c.Numbers(k+"lower"), c.Numbers(k+"upper"), 1e-10)
}

// R 4.2.2 p.adjust.
func TestAdjust(t *testing.T) {
	c := rset.Load(t, "p-adjust")
	p := c.Table().Numbers("p")
	for i, got := range pairwise.Holm(p) {
		rset.Near(t, "Holm", got, c.Numbers("holm")[i], 0, 1e-14)
	}
	for i, got := range pairwise.BenjaminiHochberg(p) {
		rset.Near(t, "Benjamini-Hochberg", got, c.Numbers("bh")[i], 0, 1e-14)
	}
}

func TestRefusals(t *testing.T) {
	g := stat.NewFactor("light", []string{"a", "a", "b", "b"})
	if _, err := pairwise.Unequal([]float64{1, 2, 3, 3}, g, 0.95); stat.Refused(err) == nil {
		t.Errorf("no scatter in b: %v", err)
	}
	if _, err := pairwise.Unequal([]float64{1, 2}, stat.NewFactor("light", []string{"a", "b"}), 0.95); stat.Refused(err) == nil {
		t.Errorf("one unit each: %v", err)
	}
	a, err := anova.OneWay([]float64{1, 1, 3, 3}, g)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := pairwise.All(a.Means, 0.95); stat.Refused(err) == nil {
		t.Errorf("no scatter at all: %v", err)
	}
}
