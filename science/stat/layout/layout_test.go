package layout_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/layout"
)

func numbered(name string, of []int) stat.Factor {
	l := make([]string, len(of))
	for i, k := range of {
		l[i] = fmt.Sprint(k)
	}
	return stat.NewFactor(name, l)
}

// Fisher (1935): 863 of 32768 sign assignments of Darwin's maize have a sum as
// large, 1726 in both tails.
func TestDarwin(t *testing.T) {
	c := rset.Load(t, "randomisation-darwin")
	d := c.Table()
	var y []float64
	var treat, pair []int
	for i, x := range d.Numbers("crossed") {
		y = append(y, x, d.Numbers("selfed")[i])
		treat, pair = append(treat, 0, 1), append(pair, i, i)
	}
	r, err := layout.Within(numbered("cross", treat), numbered("pair", pair)).Test(y, 1)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Exact || r.Layouts != 32768 || r.Extreme != 1726 {
		t.Errorf("%+v", r)
	}
	rset.Near(t, "p", r.P, c.Number("randomisation/p_two_sided"), 0, 1e-15)
}

// R 4.2.2, all 184756 allocations of PlantGrowth; and all 1296 orders in runs.
func TestExact(t *testing.T) {
	c := rset.Load(t, "randomisation-two-group")
	d := c.Table()
	var y []float64
	var g []string
	for i, s := range d.Text("group") {
		if s != "ctrl" {
			y, g = append(y, d.Numbers("weight")[i]), append(g, s)
		}
	}
	r, err := layout.Free(stat.NewFactor("group", g)).Test(y, 1)
	if err != nil {
		t.Fatal(err)
	}
	if float64(r.Extreme) != c.Number("mean_difference/at_least_as_extreme") || r.Layouts != c.Number("mean_difference/allocations") {
		t.Errorf("%+v", r)
	}
	rset.Near(t, "p", r.P, c.Number("mean_difference/p_two_sided"), 0, 1e-14)
	rset.Near(t, "smallest p", r.SmallestP, c.Number("mean_difference/min_attainable_p"), 1e-12, 0)

	c = rset.Load(t, "randomisation-rcbd")
	d = c.Table()
	run, dli, cultivar := stat.NewFactor("run", d.Text("run")), stat.NewFactor("dli", d.Text("dli")), stat.NewFactor("cultivar", d.Text("cultivar"))
	cell := stat.Cross(stat.Cross(run, dli), cultivar)
	u, err := anova.UnitMeans(d.Numbers("fresh_mass_g"), cell, nil)
	if err != nil {
		t.Fatal(err)
	}
	take := func(f stat.Factor, first []int) []int {
		out := make([]int, len(first))
		for i, j := range first {
			out[i] = f.Of[j]
		}
		return out
	}
	r1, d1 := numbered("run", take(run, u.First)), numbered("dli", take(dli, u.First))
	v, err := anova.UnitMeans(u.Mean, stat.Cross(r1, d1), nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err = layout.Within(numbered("dli", take(d1, v.First)), numbered("run", take(r1, v.First))).Test(v.Mean, 1)
	if err != nil {
		t.Fatal(err)
	}
	if float64(r.Extreme) != c.Number("exact/at_least_as_extreme") || r.Layouts != 1296 {
		t.Errorf("%+v", r)
	}
	rset.Near(t, "p", r.P, c.Number("exact/p"), 0, 1e-15)
	rset.Near(t, "smallest p", r.SmallestP, c.Number("exact/min_attainable_p"), 1e-12, 0)
}

// Combinatorics: numbers of layouts and the smallest p they allow.
func TestCounts(t *testing.T) {
	c := rset.Load(t, "design-counts")
	free := func(counts ...int) layout.Scheme {
		var of []int
		for k, n := range counts {
			for range n {
				of = append(of, k)
			}
		}
		return layout.Free(numbered("t", of))
	}
	check := func(s layout.Scheme, layouts, p float64) {
		t.Helper()
		l, sp, err := s.Layouts()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, "layouts", l, layouts, 0, 0)
		if p > 0 {
			rset.Near(t, "smallest p", sp, p, 1e-12, 0)
		}
	}
	for n := 2; n <= 8; n++ {
		k := fmt.Sprintf("2x%d", n)
		check(free(n, n), c.Number("allocations_2trt/"+k), c.Number("min_p_two_sided_2trt/"+k))
	}
	check(free(3, 3, 3), c.Number("allocations_3x3"), c.Number("min_p_F_3x3"))
	check(free(2, 2, 2, 2), c.Number("allocations_4x2"), 0)
	blocks := func(k, b int) layout.Scheme {
		var of, bl []int
		for j := range b {
			for i := range k {
				of, bl = append(of, i), append(bl, j)
			}
		}
		return layout.Within(numbered("t", of), numbered("b", bl))
	}
	check(blocks(4, 3), c.Number("rcbd_layouts_4trt_3blocks"), 0)
	for b := 2; b <= 10; b++ {
		check(blocks(2, b), math.Pow(2, float64(b)), c.Number(fmt.Sprintf("min_p_rcbd_2trt_b/%d", b)))
	}
	for b := 2; b <= 6; b++ {
		check(blocks(3, b), math.Pow(6, float64(b)), c.Number(fmt.Sprintf("min_p_rcbd_F_3trt_b/%d", b)))
	}
	for k := 2; k <= 6; k++ {
		s, _ := square(t, k, 5)
		check(s, c.Number(fmt.Sprintf("latin_squares_n/%d", k)), 0)
	}
}

func square(t *testing.T, k int, seed uint64) (layout.Scheme, []int) {
	t.Helper()
	q, err := layout.Latin(k, seed)
	if err != nil {
		t.Fatal(err)
	}
	var of, row, col []int
	for i := range q {
		for j, v := range q[i] {
			of, row, col = append(of, v), append(row, i), append(col, j)
		}
	}
	return layout.Square(numbered("t", of), numbered("r", row), numbered("c", col)), of
}

// By definition the test rejects in no more than the share p of the layouts, for
// any values: over all 1296 orders, and over all Latin squares of four.
func TestSize(t *testing.T) {
	y := []float64{3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8, 9, 7, 9, 3}
	seen := map[float64]int{}
	total := 0
	for seed := range uint64(600) {
		s, _ := square(t, 4, seed)
		r, err := s.Test(y, 1)
		if err != nil {
			t.Fatal(err)
		}
		if !r.Exact || r.Layouts != 576 {
			t.Fatalf("%+v", r)
		}
		seen[r.P]++
		total++
	}
	for p := range seen {
		below := 0
		for q, n := range seen {
			if q <= p {
				below += n
			}
		}
		// Drawn, not counted: 4 standard errors.
		if got := float64(below) / float64(total); got > p+4*math.Sqrt(p*(1-p)/float64(total)) {
			t.Errorf("p ≤ %.4f in %.4f of the layouts", p, got)
		}
	}
}

// With too many layouts the drawn p is near that of t, for forty units in two groups.
func TestDrawn(t *testing.T) {
	var of []int
	var y []float64
	for i := range 40 {
		of = append(of, i%2)
		y = append(y, float64((i*7)%13)+1.2*float64(i%2))
	}
	g := numbered("g", of)
	r, err := layout.Free(g).Test(y, 7)
	if err != nil || r.Exact {
		t.Fatalf("%+v %v", r, err)
	}
	s := g.Split(y)
	e, err := anova.Difference("d", s[1], s[0], true, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.P-e.P) > 0.01 {
		t.Errorf("drawn p %.4f, t gives %.4f", r.P, e.P)
	}
	// PhipsonSmyth2010: the layout used counts among those drawn, so p is never 0.
	rset.Near(t, "p", r.P, float64(r.Extreme+1)/(layout.Draws+1), 0, 1e-15)
	if again, _ := layout.Free(g).Test(y, 7); again != r {
		t.Error("not the same for the same seed")
	}
}

// Draws are uniform: chi-square over all layouts that can occur, at 1e-6.
func TestUniform(t *testing.T) {
	for name, c := range map[string]struct {
		draw func(seed uint64) any
		all  float64
	}{
		"complete 2, 2, 2": {func(s uint64) any { return layout.Complete([]int{2, 2, 2}, s) }, 90},
		"blocks 3 × 2":     {func(s uint64) any { return layout.Blocks(3, 1, 2, s) }, 36},
		"square of 4":      {func(s uint64) any { q, _ := layout.Latin(4, s); return q }, 576},
		"split 2 × 2":      {func(s uint64) any { return layout.Split(2, 1, 2, 2, s) }, 4 * 16},
		"Williams of 3":    {func(s uint64) any { q, _ := layout.Williams(3, s); return q }, 720},
	} {
		counts := map[string]int{}
		n := int(c.all) * 40
		for s := range uint64(n) {
			counts[fmt.Sprint(c.draw(s))]++
		}
		if float64(len(counts)) != c.all {
			t.Errorf("%s: %d layouts occur, want %g", name, len(counts), c.all)
		}
		var chi float64
		for _, k := range counts {
			chi += (float64(k) - 40) * (float64(k) - 40) / 40
		}
		if p := dist.ChiSquareUpper(chi, c.all-1); p < 1e-6 || p > 1-1e-6 {
			t.Errorf("%s: chi-square %.1f over %g layouts, p %.2g", name, chi, c.all, p)
		}
	}
}

// Large squares by the Markov chain are Latin, and the treatments of a pair of rows
// are no more alike than those of the exact draws would be: each treatment is
// everywhere equally often.
func TestLargeSquares(t *testing.T) {
	const n = 1400
	var at [7]float64
	for s := range uint64(n) {
		q, err := layout.Latin(7, s)
		if err != nil {
			t.Fatal(err)
		}
		for i := range q {
			row, col := map[int]bool{}, map[int]bool{}
			for j := range q {
				row[q[i][j]], col[q[j][i]] = true, true
			}
			if len(row) != 7 || len(col) != 7 {
				t.Fatal("not Latin")
			}
		}
		at[q[2][5]]++
	}
	var chi float64
	for _, k := range at {
		chi += (k - n/7) * (k - n/7) / (n / 7)
	}
	if p := dist.ChiSquareUpper(chi, 6); p < 1e-6 {
		t.Errorf("chi-square %.1f, p %.2g", chi, p)
	}
	if _, err := layout.Latin(layout.LargestSquare+1, 1); err == nil {
		t.Error("too large")
	}
}

// Every treatment follows every other equally often (Williams1949).
func TestWilliams(t *testing.T) {
	for k := 2; k <= 9; k++ {
		q, err := layout.Williams(k, 3)
		if err != nil {
			t.Fatal(err)
		}
		after := map[[2]int]int{}
		for _, s := range q {
			for i := 1; i < k; i++ {
				after[[2]int{s[i-1], s[i]}]++
			}
		}
		want := 1 + k%2
		for a := range k {
			for b := range k {
				if a != b && after[[2]int{a, b}] != want {
					t.Errorf("%d treatments: %d follows %d %d times", k, b, a, after[[2]int{a, b}])
				}
			}
		}
	}
}

// The same seed gives the same layout.
func TestSeed(t *testing.T) {
	if !reflect.DeepEqual(layout.Blocks(4, 1, 6, 99), layout.Blocks(4, 1, 6, 99)) || reflect.DeepEqual(layout.Blocks(4, 1, 6, 99), layout.Blocks(4, 1, 6, 98)) {
		t.Error("layouts do not follow from their seed")
	}
}

func TestRefusals(t *testing.T) {
	g := numbered("t", []int{0, 0, 1, 1})
	for name, f := range map[string]func() (layout.Result, error){
		"systematic":  func() (layout.Result, error) { return layout.Systematic(g).Test([]float64{1, 2, 3, 4}, 1) },
		"same values": func() (layout.Result, error) { return layout.Free(g).Test([]float64{2, 2, 2, 2}, 1) },
		"one level": func() (layout.Result, error) {
			return layout.Free(numbered("t", []int{0, 0})).Test([]float64{1, 2}, 1)
		},
		"too many rows": func() (layout.Result, error) {
			return layout.Square(numbered("t", []int{0, 1, 1, 0}), numbered("r", []int{0, 1, 2, 3}), numbered("c", []int{0, 0, 1, 1})).Test([]float64{1, 2, 3, 4}, 1)
		},
		"no square": func() (layout.Result, error) { return layout.Square(g, g, g).Test([]float64{1, 2, 3, 4}, 1) },
	} {
		if _, err := f(); stat.Refused(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func BenchmarkExact(b *testing.B) {
	var of []int
	var y []float64
	for i := range 20 {
		of = append(of, i%2)
		y = append(y, float64(i*i%17))
	}
	s := layout.Free(numbered("g", of))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Test(y, 1); err != nil {
			b.Fatal(err)
		}
	}
}
