package layout_test

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/layout"
)

// Balanced incomplete blocks as CochranCox1957 index them (chapter 11; from memory): the
// treatments, block size, blocks, meetings of a pair and efficiency factor. Each must be
// found, for balance is the most efficient that there can be.
func TestBalancedPlans(t *testing.T) {
	for _, c := range []struct {
		v, k, b, meet int
		e             float64
	}{{4, 2, 6, 1, 0.67}, {4, 3, 4, 2, 0.89}, {5, 2, 10, 1, 0.62}, {5, 3, 10, 3, 0.83}, {5, 4, 5, 3, 0.94}, {6, 2, 15, 1, 0.60}, {6, 3, 10, 2, 0.80}, {6, 3, 20, 4, 0.80},
		{6, 4, 15, 6, 0.90}, {6, 5, 6, 4, 0.96}, {7, 2, 21, 1, 0.58}, {7, 3, 7, 1, 0.78}, {7, 4, 7, 2, 0.88}, {7, 6, 7, 5, 0.97}, {8, 2, 28, 1, 0.57}, {8, 4, 14, 3, 0.86},
		{8, 7, 8, 6, 0.98}, {9, 3, 12, 1, 0.75}, {9, 4, 18, 3, 0.84}, {9, 6, 12, 5, 0.94}, {10, 3, 30, 2, 0.74}, {10, 4, 15, 2, 0.83}, {10, 6, 15, 5, 0.93}, {11, 5, 11, 2, 0.88},
		{11, 6, 11, 3, 0.92}, {13, 3, 26, 1, 0.72}, {13, 4, 13, 1, 0.81}, {13, 9, 13, 6, 0.96}, {16, 4, 20, 1, 0.80}, {16, 6, 16, 2, 0.89}} {
		d, e, err := layout.Incomplete(c.v, c.k, c.b, 3)
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("%d in %d blocks of %d", c.v, c.b, c.k)
		if !e.Balanced || e.FewestMeet != c.meet || e.MostMeet != c.meet {
			t.Errorf("%s: pairs meet %d to %d times, want %d", name, e.FewestMeet, e.MostMeet, c.meet)
		}
		rset.Near(t, name, e.Average, c.e, 0, 0.0051) // printed with two digits, some cut
		rset.Near(t, name+", by formula", e.Average, float64(c.v*(c.k-1))/float64(c.k*(c.v-1)), 1e-9, 0)
		if e.ErrorDF != c.b*c.k-c.b-c.v+1 {
			t.Errorf("%s: %d degrees of freedom", name, e.ErrorDF)
		}
		checkBlocks(t, name, d, c.k)
	}
}

// checkBlocks holds a design to what it claims.
func checkBlocks(t *testing.T, name string, d layout.BlockDesign, size int) {
	t.Helper()
	n := d.Counts()
	if slices.Max(n)-slices.Min(n) > 1 {
		t.Errorf("%s: repeats %v", name, n)
	}
	whole := map[[2]int]int{}
	for i, b := range d.Blocks {
		c := slices.Clone(b)
		slices.Sort(c)
		if len(b) != size || len(slices.Compact(c)) != size {
			t.Errorf("%s: block %v", name, b)
		}
		if d.Replicate != nil {
			for _, v := range b {
				whole[[2]int{d.Replicate[i], v}]++
			}
		}
	}
	for k, n := range whole {
		if n != 1 {
			t.Errorf("%s: replicate %d holds treatment %d %d times", name, k[0], k[1], n)
		}
	}
}

// Any sizes give a design that is what it says, or a refusal with what it takes; no design
// exceeds its bound, and the search gives away little of it.
func TestAnySizes(t *testing.T) {
	for v := 3; v <= 12; v++ {
		for k := 2; k < min(v, 7); k++ {
			for b := 2; b <= 14; b += 3 {
				name := fmt.Sprintf("%d in %d blocks of %d", v, b, k)
				d, e, err := layout.Incomplete(v, k, b, uint64(v*b))
				if err != nil {
					if stat.Refused(err) == nil {
						t.Errorf("%s: %v", name, err)
					}
					continue
				}
				checkBlocks(t, name, d, k)
				if e.Average > e.Bound+1e-9 || e.Least > e.Most+1e-12 || d.Replicate == nil && e.ErrorDF != b*k-b-v+1 {
					t.Errorf("%s: %+v", name, e)
				}
			}
		}
	}
}

// R 4.2.2: efficiency factors of given cyclic designs (John1966 has the construction).
func TestEfficiency(t *testing.T) {
	c := rset.Load(t, "incomplete-cyclic")
	words := c.Words("initial")
	for i, v := range c.Numbers("v") {
		d := layout.BlockDesign{Treatments: int(v)}
		for s := range int(v) {
			var b []int
			for w := range strings.FieldsSeq(words[i]) {
				x, _ := strconv.Atoi(w)
				b = append(b, (x+s)%int(v))
			}
			d.Blocks = append(d.Blocks, b)
		}
		e, err := d.Efficiency()
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, words[i], e.Average, c.Numbers("efficiency")[i], 1e-10, 0)
	}
}

// The catalyst example of balanced incomplete blocks: the printed sums of squares, by R
// too, and the randomisation test by all 1296 orders, enumerated in R.
func TestCatalyst(t *testing.T) {
	c := rset.Load(t, "incomplete-catalyst")
	d := c.Table()
	treat, block := stat.NewFactor("catalyst", d.Text("catalyst")), stat.NewFactor("batch", d.Text("batch"))
	a, err := anova.Blocks(d.Numbers("time"), treat, block)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "treatments", a.Treatment().SS, 22.75, 0, 0.005)
	rset.Near(t, "error", a.Error.SS, 3.25, 0, 0.005)
	rset.Near(t, "F", a.Treatment().Test.Statistic, c.Number("F"), 1e-9, 0)
	rset.Near(t, "p", a.Treatment().Test.P, c.Number("p"), 0, 1e-9)
	r, err := layout.Within(treat, block).Test(d.Numbers("time"), 1)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Exact || r.Layouts != c.Number("layouts") || float64(r.Extreme) != c.Number("at_least_as_extreme") {
		t.Errorf("%+v", r)
	}
	design := layout.BlockDesign{Treatments: 4, Blocks: make([][]int, 4)}
	for i, b := range block.Of {
		design.Blocks[b] = append(design.Blocks[b], treat.Of[i])
	}
	e, err := design.Efficiency()
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "efficiency", e.Average, c.Number("efficiency"), 1e-12, 0)
}

// The augmented example that Petersen prints, and the variances of differences, by R and
// by the formulas of Federer1956: two checks 2/b, entries of one block 2, of two blocks
// 2 + 2/c, entry and check 1 + 1/b + 1/c − 1/(bc).
func TestPetersen(t *testing.T) {
	c := rset.Load(t, "augmented-petersen")
	d := c.Table()
	levels := c.Words("levels")
	treat, block := stat.NewFactor("treatment", d.Text("treatment")), stat.NewFactor("block", d.Text("block"))
	a, err := anova.Blocks(d.Numbers("yield"), treat, block)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "treatments", a.Treatment().SS, 285.10, 0, 0.005)
	rset.Near(t, "error", a.Error.SS, c.Number("ss_error"), 1e-9, 0)
	rset.Near(t, "F", a.Treatment().Test.Statistic, c.Number("F"), 1e-9, 0)
	for i, l := range levels {
		rset.Near(t, l, a.Means.Value[slices.Index(treat.Levels, l)], c.Numbers("adjusted_means")[i], 1e-9, 0)
	}
	design := layout.BlockDesign{Treatments: len(treat.Levels), Blocks: make([][]int, 3)}
	for i, b := range block.Of {
		design.Blocks[b] = append(design.Blocks[b], treat.Of[i])
	}
	e, err := design.Efficiency()
	if err != nil {
		t.Fatal(err)
	}
	at := func(x, y string) float64 {
		return e.Variance(slices.Index(treat.Levels, x), slices.Index(treat.Levels, y))
	}
	for _, v := range []struct {
		name, a, b string
		formula    float64
	}{{"two_checks", "A", "B", 2. / 3}, {"entries_same_block", "g", "k", 2}, {"entries_other_blocks", "g", "e", 2.5}, {"entry_check", "g", "A", 1 + 1./3 + 1./4 - 1./12}} {
		rset.Near(t, v.name, at(v.a, v.b), c.Number("variance/"+v.name), 1e-10, 0)
		rset.Near(t, v.name+" by formula", at(v.a, v.b), v.formula, 1e-10, 0)
	}
}

// Augmented layouts hold every check in every block and each entry once; those without
// error are refused.
func TestAugmented(t *testing.T) {
	for _, c := range [][4]int{{2, 1, 7, 3}, {1, 2, 5, 4}, {4, 1, 8, 3}, {2, 2, 1, 2}} {
		d, err := layout.Augmented(c[0], c[1], c[2], c[3], 5)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := math.MaxInt, 0
		for _, b := range d.Blocks {
			n := map[int]int{}
			for _, v := range b {
				n[v]++
			}
			for k := range c[0] {
				if n[k] != c[1] {
					t.Errorf("%v: %v", c, d.Blocks)
				}
			}
			lo, hi = min(lo, len(b)), max(hi, len(b))
		}
		for k, n := range d.Counts() {
			if k >= c[0] && n != 1 {
				t.Errorf("%v: entry %d stands %d times", c, k, n)
			}
		}
		if hi-lo > 1 {
			t.Errorf("%v: blocks of %d to %d", c, lo, hi)
		}
	}
	for _, c := range [][4]int{{1, 1, 5, 4}, {2, 1, 5, 1}, {0, 1, 5, 3}, {2, 1, 0, 3}} {
		if _, err := layout.Augmented(c[0], c[1], c[2], c[3], 5); stat.Refused(err) == nil {
			t.Errorf("%v: %v", c, err)
		}
	}
}

// Fractions of NIST's list of minimal designs of resolution IV (Dataplot, DEXRES4) have the
// word lengths of what is found here, and so have those of minimum aberration in
// FriesHunter1980 and ChenSunWu1993 (from memory).
func TestFractions(t *testing.T) {
	for _, c := range []struct {
		k, p, resolution int
		lengths          []int         // from length 3
		listed           []layout.Word // generators of the list, if it has one
	}{
		{3, 1, 3, []int{1}, nil}, {4, 1, 4, []int{0, 1}, []layout.Word{0b111}}, {5, 1, 5, []int{0, 0, 1}, nil}, {5, 2, 3, []int{2, 1, 0}, nil}, {6, 1, 6, []int{0, 0, 0, 1}, nil},
		{6, 2, 4, []int{0, 3, 0, 0}, []layout.Word{0b0111, 0b1110}}, {6, 3, 3, []int{4, 3, 0, 0}, nil}, {7, 2, 4, []int{0, 1, 2, 0, 0}, nil},
		{7, 3, 4, []int{0, 7, 0, 0, 0}, []layout.Word{0b0111, 0b1110, 0b1101}}, {7, 4, 3, []int{7, 7, 0, 0, 1}, nil},
		{8, 4, 4, []int{0, 14, 0, 0, 0, 1}, []layout.Word{0b1110, 0b1101, 0b0111, 0b1011}}, {8, 3, 4, []int{0, 3, 4, 0, 0, 0}, nil},
		{9, 4, 4, []int{0, 6, 8, 0, 0, 1, 0}, []layout.Word{0b11110, 0b11101, 0b11011, 0b10111}}, {9, 5, 3, []int{4, 14, 8, 0, 4, 1, 0}, nil},
	} {
		f, err := layout.BestFraction(c.k, c.p)
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("2^(%d-%d)", c.k, c.p)
		if f.Resolution() != c.resolution || !slices.Equal(f.WordLengths()[2:], c.lengths) {
			t.Errorf("%s: resolution %d, words %v", name, f.Resolution(), f.WordLengths())
		}
		if c.listed != nil {
			l := layout.Fraction{Factors: c.k, Generators: c.listed}
			if !slices.Equal(l.WordLengths(), f.WordLengths()) {
				t.Errorf("%s: the list has %v, found %v", name, l.WordLengths(), f.WordLengths())
			}
		}
		checkFraction(t, name, f)
	}
	for _, c := range [][2]int{{4, 2}, {8, 5}, {11, 5}, {1, 0}, {10, 3}} {
		if _, err := layout.BestFraction(c[0], c[1]); stat.Refused(err) == nil {
			t.Errorf("%v: %v", c, err)
		}
	}
}

// checkFraction holds the runs to the algebra: effects are alias if and only if their
// columns are equal or opposite, and all others are orthogonal.
func checkFraction(t *testing.T, name string, f layout.Fraction) {
	t.Helper()
	for _, signs := range []uint32{0, 1} {
		runs := f.Runs(signs)
		column := func(w layout.Word) []int {
			out := make([]int, len(runs))
			for r := range runs {
				out[r] = 1
				for i, l := range runs[r] {
					if w>>i&1 == 1 {
						out[r] *= 2*l - 1
					}
				}
			}
			return out
		}
		var words []layout.Word
		for w := layout.Word(0); w < 1<<f.Factors; w++ {
			if w.Length() <= 2 {
				words = append(words, w)
			}
		}
		for _, a := range words {
			for _, b := range words {
				dot := 0
				x, y := column(a), column(b)
				for r := range x {
					dot += x[r] * y[r]
				}
				alias := a == b || slices.Contains(f.Aliases(a), b)
				if alias && dot != len(runs) && dot != -len(runs) || !alias && dot != 0 {
					t.Fatalf("%s: %v and %v: product %d of %d, alias %v", name, a, b, dot, len(runs), alias)
				}
			}
		}
	}
}

// Alias strings as BoxHunterHunter2005 print them (from memory): the half fraction
// I = ABCD pairs AB with CD; in the 2^(7−4) with D = AB, E = AC, F = BC, G = ABC, A goes
// with BD, CE and FG.
func TestAliases(t *testing.T) {
	half := layout.Fraction{Factors: 4, Generators: []layout.Word{0b111}}
	if s := half.Relation() + fmt.Sprint(half.Strings(2)); s != "I = ABCD[[A] [B] [C] [D] [AB CD] [AC BD] [AD BC]]" {
		t.Error(s)
	}
	seven := layout.Fraction{Factors: 7, Generators: []layout.Word{0b011, 0b101, 0b110, 0b111}}
	if s := fmt.Sprint(seven.Strings(2)[0]); s != "[A BD CE FG]" {
		t.Error(s)
	}
	// Yates 2³ in blocks of four: ABC is what the halves differ in, and no other effect.
	halves, err := layout.Halves(3)
	if err != nil || fmt.Sprint(halves) != "[[0 3 5 6] [1 2 4 7]]" {
		t.Error(halves, err)
	}
	all, err := layout.Factorial([]int{2, 3})
	if err != nil || fmt.Sprint(all) != "[[0 0] [0 1] [0 2] [1 0] [1 1] [1 2]]" {
		t.Error(all, err)
	}
}

// Draws of the new layouts are uniform: chi-square over all that can occur, at 1e-6.
func TestUniformIncomplete(t *testing.T) {
	for name, c := range map[string]struct {
		draw func(seed uint64) any
		all  float64
	}{
		"3 in 3 blocks of 2":     {func(s uint64) any { d, _, _ := layout.Incomplete(3, 2, 3, s); return d.Blocks }, 6 * 8},
		"2 checks, 2 entries":    {func(s uint64) any { d, _ := layout.Augmented(2, 1, 2, 2, s); return d.Blocks }, 2 * 36},
		"1 check twice, 1 entry": {func(s uint64) any { d, _ := layout.Augmented(1, 2, 1, 2, s); return d.Blocks }, 2 * 3},
	} {
		counts := map[string]int{}
		n := int(c.all) * 60
		for s := range uint64(n) {
			counts[fmt.Sprint(c.draw(s))]++
		}
		if float64(len(counts)) != c.all {
			t.Errorf("%s: %d layouts occur, want %g", name, len(counts), c.all)
		}
		var chi float64
		for _, k := range counts {
			chi += (float64(k) - 60) * (float64(k) - 60) / 60
		}
		if p := dist.ChiSquareUpper(chi, c.all-1); p < 1e-6 || p > 1-1e-6 {
			t.Errorf("%s: chi-square %.1f over %g layouts, p %.2g", name, chi, c.all, p)
		}
	}
}

func williams(t *testing.T, k int, seed uint64) (layout.Scheme, []int) {
	t.Helper()
	q, err := layout.Williams(k, seed)
	if err != nil {
		t.Fatal(err)
	}
	var of, row, col []int
	for i := range q {
		for j, v := range q[i] {
			of, row, col = append(of, v), append(row, i), append(col, j)
		}
	}
	return layout.Sequences(numbered("t", of), numbered("lamp", row), numbered("cycle", col)), of
}

// The test of sequences has its size: over all draws of a Williams square of three, p ≤ x
// in no more than x of them, and its smallest p is what it says: 6 names of 720 orders.
func TestSequences(t *testing.T) {
	y := []float64{3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8, 9, 7, 9, 3, 2, 3}
	seen := map[float64]int{}
	const n = 3000
	for seed := range uint64(n) {
		s, _ := williams(t, 3, seed)
		r, err := s.Test(y, 1)
		if err != nil {
			t.Fatal(err)
		}
		if !r.Exact || r.Layouts != 720 {
			t.Fatalf("%+v", r)
		}
		rset.Near(t, "smallest p", r.SmallestP, 6./720, 1e-12, 0)
		seen[r.P]++
	}
	for p := range seen {
		below := 0
		for q, n := range seen {
			if q <= p {
				below += n
			}
		}
		if got := float64(below) / n; got > p+4.5*math.Sqrt(p*(1-p)/n) {
			t.Errorf("p ≤ %.4f in %.4f of the layouts", p, got)
		}
	}
	// A square of four: cyclic shifts of the sequences are the names alone.
	s, _ := williams(t, 4, 1)
	l, p, err := s.Layouts()
	if err != nil || l != 24 {
		t.Fatal(l, err)
	}
	rset.Near(t, "smallest p of four", p, 4./24, 1e-12, 0)
	if _, _, err := layout.Sequences(numbered("t", []int{0, 1, 0}), numbered("r", []int{0, 0, 1}), numbered("c", []int{0, 1, 0})).Layouts(); stat.Refused(err) == nil {
		t.Error("a gap in the table")
	}
}

func BenchmarkIncomplete(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := layout.Incomplete(12, 4, 9, 1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBestFraction(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := layout.BestFraction(8, 4); err != nil {
			b.Fatal(err)
		}
	}
}
