package power_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/power"
)

func numbersOf(text string) []float64 {
	var out []float64
	for w := range strings.FieldsSeq(text) {
		x, _ := strconv.ParseFloat(w, 64)
		out = append(out, x)
	}
	return out
}

// A plan of equal groups or complete blocks has the power of the formulas, which are held
// against R; detectable differences too.
func TestPlanIsNested(t *testing.T) {
	for _, blocks := range []bool{false, true} {
		d := power.Nested{Means: spaced(4, 30), Units: 4, Subs: 8, SDUnit: 10, SDSub: 20, Blocks: blocks, Alpha: 0.05}
		want, err := d.F()
		if err != nil {
			t.Fatal(err)
		}
		p := power.Grid(4, 4, blocks)
		got, err := p.F(d.Means, 10, 20, 8, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "power", got.Chance, want.Chance, 1e-9, 0)
		rset.Near(t, "ceiling", got.Ceiling, want.Ceiling, 1e-9, 0)
		w, _, err := d.Detectable(0.8)
		if err != nil {
			t.Fatal(err)
		}
		best, worst, err := p.Detectable(0.8, 10, 20, 8, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "detectable", best, w, 1e-9, 0)
		rset.Near(t, "detectable by the worst pair", worst, w, 1e-9, 0)
		pw, _, df, err := p.Contrast([]float64{1, -1, 0, 0}, w, 10, 20, 8, 0.05)
		if err != nil || df != want.DF2 {
			t.Fatal(df, err)
		}
		rset.Near(t, "contrast", pw, 0.8, 1e-8, 0)
	}
}

// R 4.2.2, noncentral F of balanced incomplete blocks by their information matrix; and the
// simulator with the same plan.
func TestPlanIncomplete(t *testing.T) {
	c := rset.Load(t, "power-incomplete")
	var treat, block []string
	for b := range 7 {
		for _, s := range c.Numbers("initial") {
			treat, block = append(treat, fmt.Sprint((int(s)+b)%7)), append(block, fmt.Sprint(b))
		}
	}
	tf := stat.NewFactor("t", treat)
	p := power.Plan{Treatment: tf, Nuisance: []stat.Factor{stat.NewFactor("b", block)}}
	means := make([]float64, 7)
	for i, l := range tf.Levels {
		k, _ := strconv.Atoi(l)
		means[i] = c.Numbers("means")[k]
	}
	got, err := p.F(means, c.Number("sd_unit"), c.Number("sd_sub"), int(c.Number("subs")), 0.05)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "noncentrality", got.Noncentrality, c.Number("ncp"), 1e-9, 0)
	rset.Near(t, "power", got.Chance, c.Number("power"), 0, 2e-9)
	if got.DF2 != int(c.Number("df2")) {
		t.Error(got.DF2)
	}
}

// The exact power of Fisher's test of two groups, by enumeration in R 4.2.2: the
// randomisation test on units of one plant each is that test. 3.5 standard errors.
func TestExactCounts(t *testing.T) {
	c := rset.Load(t, "power-discrete")
	n, p1, p2 := c.Numbers("exact/n"), c.Numbers("exact/p1"), c.Numbers("exact/p2")
	for i, want := range c.Numbers("exact/power") {
		if n[i] > 8 { // 184756 orders a trial
			continue
		}
		d := power.Counted{Plan: power.Grid(2, int(n[i]), false), Chances: []float64{p1[i], p2[i]}, Subs: 1, Exact: true}
		s, err := d.Simulate(t.Context(), power.Runs{Trials: 800, Seed: uint64(i), Alpha: 0.05 + 1e-12})
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, fmt.Sprintf("n %g, %g against %g", n[i], p1[i], p2[i]), s.Chance, want, 0, 3.5*s.SE)
	}
}

// Powers simulated in R 4.2.2, 20000 trials: counts, grades and onset at rounds. 3.5
// standard errors of both. With many units shares are normal: the large-sample power.
func TestDiscrete(t *testing.T) {
	c := rset.Load(t, "power-discrete")
	runs := power.Runs{Trials: 4000, Seed: 5, Alpha: 0.05}
	check := func(name string, s power.Simulated, err error, want float64) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, name, s.Chance, want, 0, 3.5*math.Hypot(s.SE, math.Sqrt(want*(1-want)/c.Number("trials"))))
	}
	for i, w := range c.Words("counted/chances") {
		p := numbersOf(w)
		s, err := power.Counted{Plan: power.Grid(len(p), int(c.Numbers("counted/units")[i]), false), Chances: p, Subs: 8, Rho: c.Numbers("counted/rho")[i]}.Simulate(t.Context(), runs)
		check("counted "+w, s, err, c.Numbers("counted/power")[i])
	}
	for i, w := range c.Words("graded/shift") {
		s, err := power.Graded{Plan: power.Grid(2, 4, false), Shift: numbersOf(w), Cuts: c.Numbers("graded/cuts"), SDUnit: 0.7, Subs: 8}.Simulate(t.Context(), runs)
		check("graded "+w, s, err, c.Numbers("graded/power")[i])
	}
	runs.Trials = 1500
	for i, w := range c.Words("timed/scale") {
		s, err := power.Timed{Plan: power.Grid(2, 4, false), Scale: numbersOf(w), Shape: 3, SDUnit: 0.15, Rounds: c.Numbers("timed/rounds"), Subs: 8}.Simulate(t.Context(), runs)
		check("timed "+w, s, err, c.Numbers("timed/power")[i])
	}
	// 30 units of 20 plants: (p1−p2)/√(2 p̄q̄(1+19ρ)/(600)) against the normal.
	p1, p2, rho := 0.2, 0.3, 0.05
	v := (p1*(1-p1) + p2*(1-p2)) / 20 * (1 + 19*rho)
	s, err := power.Counted{Plan: power.Grid(2, 30, false), Chances: []float64{p1, p2}, Subs: 20, Rho: rho}.Simulate(t.Context(), power.Runs{Trials: 4000, Seed: 5, Alpha: 0.05})
	want, _ := power.TwoGroups(30, 30, p2-p1, math.Sqrt(v/2), 0.05)
	if err != nil || math.Abs(s.Chance-want) > 0.01+3.5*s.SE { // the normal limit is good to about 0.01 here
		t.Errorf("large sample: %v, want %v, %v", s, want, err)
	}
}

// The result is that of the seed on any number of cores; the context ends it; progress is
// told.
func TestRuns(t *testing.T) {
	d := power.Counted{Plan: power.Grid(3, 4, true), Chances: []float64{0.1, 0.3, 0.5}, Subs: 8, Rho: 0.1}
	var told atomic.Int64
	runs := power.Runs{Trials: 1000, Seed: 3, Alpha: 0.05, Progress: func(n int) { told.Add(1) }}
	a, err := d.Simulate(t.Context(), runs)
	if err != nil || told.Load() != 10 {
		t.Fatal(err, told.Load())
	}
	old := runtime.GOMAXPROCS(1)
	b, err := d.Simulate(t.Context(), runs)
	runtime.GOMAXPROCS(old)
	if err != nil || a != b {
		t.Errorf("%v on all cores, %v on one, %v", a, b, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := d.Simulate(ctx, runs); !errors.Is(err, context.Canceled) {
		t.Errorf("after the end: %v", err)
	}
	at := func(x float64) (power.Simulated, error) {
		d.Chances = []float64{0.1, 0.1 + x/2, 0.1 + x}
		return d.Simulate(t.Context(), power.Runs{Trials: 400, Seed: 3, Alpha: 0.05})
	}
	e, err := power.Least(0.8, 0, 0.9, at)
	if err != nil {
		t.Fatal(err)
	}
	if s, _ := at(e); s.Chance < 0.8 {
		t.Errorf("%v at the least effect %v", s.Chance, e)
	}
	if s, _ := at(e - 0.9/128); s.Chance >= 0.8 {
		t.Errorf("%v below the least effect %v", s.Chance, e)
	}
	d.Chances = []float64{0.1, 0.3, 0.5}
	for name, f := range map[string]func() (power.Simulated, error){
		"cuts": func() (power.Simulated, error) {
			return power.Graded{Plan: d.Plan, Shift: []float64{0, 0, 0}, Cuts: []float64{1, 1}, Subs: 2}.Simulate(t.Context(), runs)
		},
		"rounds": func() (power.Simulated, error) {
			return power.Timed{Plan: d.Plan, Scale: []float64{1, 1, 1}, Shape: 2, Rounds: []float64{3, 2}, Subs: 2}.Simulate(t.Context(), runs)
		},
		"chance": func() (power.Simulated, error) {
			return power.Counted{Plan: d.Plan, Chances: []float64{1, 2, 0}, Subs: 2}.Simulate(t.Context(), runs)
		},
		"alpha": func() (power.Simulated, error) { return d.Simulate(t.Context(), power.Runs{Trials: 3}) },
		"no error": func() (power.Simulated, error) {
			return power.Counted{Plan: power.Grid(3, 1, false), Chances: []float64{0, 0, 1}, Subs: 2}.Simulate(t.Context(), runs)
		},
	} {
		if _, err := f(); stat.Refused(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func BenchmarkTimed(b *testing.B) {
	d := power.Timed{Plan: power.Grid(5, 4, true), Scale: []float64{20, 22, 24, 26, 28}, Shape: 3, SDUnit: 0.15, Rounds: []float64{6, 9, 12, 15, 18, 21, 24, 27, 30}, Subs: 8}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Simulate(b.Context(), power.Runs{Trials: 100, Seed: 1, Alpha: 0.05}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCounted(b *testing.B) {
	d := power.Counted{Plan: power.Grid(5, 4, true), Chances: []float64{0.1, 0.2, 0.3, 0.4, 0.5}, Subs: 8, Rho: 0.1}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Simulate(b.Context(), power.Runs{Trials: 1000, Seed: 1, Alpha: 0.05}); err != nil {
			b.Fatal(err)
		}
	}
}
