package power_test

import (
	"fmt"
	"math"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/power"
)

func spaced(a int, size float64) []float64 {
	m := make([]float64, a)
	for i := range m {
		m[i] = size * (float64(i)/float64(a-1) - 0.5)
	}
	return m
}

// R 4.2.2, noncentral F at the level of units (Searle1992), with the ceiling. R's
// noncentral F is good to 1e-9 (against 40 digits), and so are these bounds.
func TestNested(t *testing.T) {
	c := rset.Load(t, "power-nested-lamp")
	d := c.Table()
	a, r, n, sl, se := d.Numbers("a"), d.Numbers("r"), d.Numbers("n"), d.Numbers("sl"), d.Numbers("se")
	ncp, ceiling := c.Numbers("ncp"), c.Numbers("limit_power_infinite_plants")
	for i, want := range c.Numbers("power") {
		p, err := power.Nested{Means: spaced(int(a[i]), 30), Units: int(r[i]), Subs: int(n[i]), SDUnit: sl[i], SDSub: se[i], Alpha: 0.05}.F()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "power", p.Chance, want, 0, 2e-9)
		rset.Near(t, "noncentrality", p.Noncentrality, ncp[i], 1e-12, 0)
		if !math.IsNaN(ceiling[i]) {
			rset.Near(t, "ceiling", p.Ceiling, ceiling[i], 0, 2e-9)
		}
	}
}

// The simulator against the formula at five rows of the same grid, 3 standard errors;
// and in blocks against the formula with (a−1)(r−1) degrees of freedom.
func TestSimulatorAgrees(t *testing.T) {
	c := rset.Load(t, "power-nested-lamp")
	d := c.Table()
	a, r, n, sl, se := d.Numbers("a"), d.Numbers("r"), d.Numbers("n"), d.Numbers("sl"), d.Numbers("se")
	want := c.Numbers("power")
	for _, i := range []int{1, 27, 36, 50, 66} {
		s, err := power.Nested{Means: spaced(int(a[i]), 30), Units: int(r[i]), Subs: int(n[i]), SDUnit: sl[i], SDSub: se[i], Alpha: 0.05}.Simulate(t.Context(), 4000, uint64(i))
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, fmt.Sprintf("row %d, a %g r %g n %g", i, a[i], r[i], n[i]), s.Chance, want[i], 0, 3*s.SE)
	}
	b := power.Nested{Means: spaced(4, 30), Units: 4, Subs: 8, SDUnit: 10, SDSub: 20, Blocks: true, Alpha: 0.05}
	p, err := b.F()
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Simulate(t.Context(), 4000, 5)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "blocks", s.Chance, p.Chance, 0, 3*s.SE)
}

// R 4.2.2 power.t.test(strict = TRUE), power.anova.test; R package pwr for unequal groups.
func TestTwoGroupsAndMany(t *testing.T) {
	c := rset.Load(t, "power-t")
	for i, n := range []int{3, 4, 5, 6, 8, 10, 15, 20} {
		p, err := power.TwoGroups(n, n, 1.5, 1, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "two groups", p, c.Numbers("two_sample_n")[i], 0, 1e-9)
	}
	p, _ := power.TwoGroups(4, 8, 1.5, 1, 0.05)
	rset.Near(t, "unequal groups", p, c.Number("unequal_4_8"), 0, 1e-9)
	for i, n := range []int{3, 4, 6, 10} {
		p, err := power.Pairs(n, 1.5, 1, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "pairs", p, c.Numbers("paired")[i], 0, 1e-9)
		m, floor, err := power.Nested{Means: []float64{0, 0}, Units: n, Subs: 1, SDSub: 1, Alpha: 0.05}.Detectable(0.8)
		if err != nil || floor != 0 {
			t.Fatal(err, floor)
		}
		rset.Near(t, "smallest difference", m, c.Numbers("mdd_at_n")[i], 1e-8, 0)
	}
	c = rset.Load(t, "power-anova")
	// The variance between four equally spaced means of range w is 5 w²/27.
	for i, n := range []int{2, 3, 4, 5, 6, 8, 12} {
		d := power.Nested{Means: spaced(4, math.Sqrt(27./5)), Units: n, Subs: 1, SDSub: math.Sqrt(1.5), Alpha: 0.05}
		p, err := d.F()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "four groups", p.Chance, c.Numbers("groups4")[i], 0, 1e-9)
	}
	for i, between := range []float64{0.3, 0.5, 1, 2} {
		n, err := power.Nested{Means: spaced(4, math.Sqrt(27./5*between)), Subs: 1, SDSub: 1, Alpha: 0.05}.UnitsFor(0.8)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "units", float64(n), math.Ceil(c.Numbers("n_for_80")[i]), 0, 0)
	}
}

// The exact price of taking plants for units, by integration in R 4.2.2 (its integrate
// to 1e-8).
func TestNaive(t *testing.T) {
	c := rset.Load(t, "type1-naive-plants")
	d := c.Table()
	a, r, n, icc := d.Numbers("a"), d.Numbers("r"), d.Numbers("n"), d.Numbers("icc")
	effect := c.Numbers("design_effect")
	for i, want := range c.Numbers("type1") {
		got, err := power.Naive(int(a[i]), int(r[i]), int(n[i]), icc[i], 0.05)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, fmt.Sprintf("a %g r %g n %g icc %g", a[i], r[i], n[i], icc[i]), got, want, 0, 1e-7)
		rset.Near(t, "design effect", power.DesignEffect(n[i], icc[i]), effect[i], 1e-14, 0)
	}
}

// Type I error of tests on shares of units, nominal 5 %: by simulation in R (1500
// trials; 4 units each of 8, p 0.25, rho 0.1) t rejects in 0.048 and the exact
// randomisation test in 0.010. Differences of two simulations within 3 standard errors.
func TestCounted(t *testing.T) {
	d := power.Counted{Plan: power.Grid(2, 4, false), Chances: []float64{0.25, 0.25}, Subs: 8, Rho: 0.1}
	runs := power.Runs{Trials: 4000, Seed: 11, Alpha: 0.05}
	s, err := d.Simulate(t.Context(), runs)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "t on shares", s.Chance, 0.048, 0, 3*math.Hypot(s.SE, math.Sqrt(0.048*0.952/1500)))
	d.Exact = true
	s, err = d.Simulate(t.Context(), runs)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "exact", s.Chance, 0.010, 0, 3*math.Hypot(s.SE, math.Sqrt(0.01*0.99/1500)))
	if again, _ := d.Simulate(t.Context(), runs); again != s {
		t.Error("not the same for the same seed")
	}
	// Nobody burns: no trial has a test, and none finds anything.
	none, err := power.Counted{Plan: power.Grid(2, 3, false), Chances: []float64{0, 0}, Subs: 4}.Simulate(t.Context(), power.Runs{Trials: 50, Seed: 1, Alpha: 0.05})
	if err != nil || none.Refused != 50 || none.Chance != 0 {
		t.Errorf("%+v %v", none, err)
	}
}

func TestRefusals(t *testing.T) {
	one := power.Nested{Means: []float64{1, 2}, Units: 1, Subs: 12, SDUnit: 1, SDSub: 1, Alpha: 0.05}
	if _, err := one.F(); stat.Refused(err) == nil {
		t.Errorf("one unit per level: %v", err)
	}
	one.Units, one.SDUnit, one.SDSub = 4, 0, 0
	if _, _, err := one.Detectable(0.8); stat.Refused(err) == nil {
		t.Errorf("no scatter: %v", err)
	}
	if _, err := (power.Nested{Means: []float64{1, 1}, Subs: 1, SDSub: 1, Alpha: 0.05}).UnitsFor(0.8); stat.Refused(err) == nil {
		t.Errorf("no difference: %v", err)
	}
	if _, err := power.TwoGroups(1, 1, 1, 1, 0.05); stat.Refused(err) == nil {
		t.Errorf("one against one: %v", err)
	}
}
