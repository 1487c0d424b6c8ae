package layout

import (
	"math"
	"math/rand/v2"

	"underlamp/science/stat"
)

// A Scheme is how treatments were given to units: what may be exchanged with what.
type Scheme struct {
	Treatment  stat.Factor
	block      *stat.Factor
	row, col   *stat.Factor
	sequences  bool
	systematic bool
}

// Free is a completely randomised layout.
func Free(treatment stat.Factor) Scheme { return Scheme{Treatment: treatment} }

// Within is randomised within each block. Blocks need not hold every treatment: the
// statistic is then the sum of squares of the treatments with blocks taken out.
func Within(treatment, block stat.Factor) Scheme { return Scheme{Treatment: treatment, block: &block} }

// Square is a Latin square.
func Square(treatment, row, column stat.Factor) Scheme {
	return Scheme{Treatment: treatment, row: &row, col: &column}
}

// Sequences is a layout whose rows hold sequences of treatments over the columns, given
// to the rows at random, as [Williams] does. Every row has a value in every column.
func Sequences(treatment, row, column stat.Factor) Scheme {
	return Scheme{Treatment: treatment, row: &row, col: &column, sequences: true}
}

// Systematic was set up by hand. It has no randomisation test.
func Systematic(treatment stat.Factor) Scheme { return Scheme{Treatment: treatment, systematic: true} }

// Most is the number of layouts up to which all are gone through, and Draws how
// many are drawn beyond.
const (
	Most  = 1_000_000
	Draws = 100_000
)

// A Result is a randomisation test.
type Result struct {
	Layouts   float64 // that could have been drawn
	Exact     bool    // all were gone through; else Draws were drawn
	Extreme   int     // of them, at least as extreme as the one used
	P         float64
	SmallestP float64 // that this scheme can give at all, whatever the values
}

// squares are the numbers of Latin squares (McKayWanless2005 beyond 6).
var squares = []float64{0, 1, 2, 12, 576, 161280, 812851200, 61479419904000, 108776032459082956800}

// cells returns the units of each block (one for a free scheme).
func (s Scheme) cells() [][]int {
	if s.block == nil {
		all := make([]int, len(s.Treatment.Of))
		for i := range all {
			all[i] = i
		}
		return [][]int{all}
	}
	out := make([][]int, len(s.block.Levels))
	for i, b := range s.block.Of {
		out[b] = append(out[b], i)
	}
	return out
}

func (s Scheme) check() error {
	what := "a randomisation test"
	t := s.Treatment
	if s.systematic {
		return stat.Refuse(what, "the layout was not drawn at random")
	}
	if len(t.Levels) < 2 {
		return stat.Refuse(what, "there is only one level of %s", t.Name)
	}
	for _, f := range []*stat.Factor{s.block, s.row, s.col} {
		if f != nil && len(f.Of) != len(t.Of) {
			return stat.Refuse(what, "%s and %s have different numbers of units", f.Name, t.Name)
		}
	}
	if s.sequences {
		cell := map[[2]int]bool{}
		for i := range t.Of {
			cell[[2]int{s.row.Of[i], s.col.Of[i]}] = true
		}
		if len(cell) != len(t.Of) || len(t.Of) != len(s.row.Levels)*len(s.col.Levels) {
			return stat.Refuse(what, "not every %s has one unit in every %s", s.row.Name, s.col.Name)
		}
		return nil
	}
	if s.row != nil {
		k := len(t.Levels)
		inRow, inCol, cell := map[[2]int]bool{}, map[[2]int]bool{}, map[[2]int]bool{}
		for i, v := range t.Of {
			inRow[[2]int{s.row.Of[i], v}] = true
			inCol[[2]int{s.col.Of[i], v}] = true
			cell[[2]int{s.row.Of[i], s.col.Of[i]}] = true
		}
		if len(t.Of) != k*k || len(s.row.Levels) != k || len(s.col.Levels) != k || len(inRow) != k*k || len(inCol) != k*k || len(cell) != k*k {
			return stat.Refuse(what, "this is no complete Latin square")
		}
		if k >= len(squares) {
			return stat.Refuse(what, "squares of more than %d sides are not counted", len(squares)-1)
		}
	}
	return nil
}

func factorial(n int) float64 {
	f, _ := math.Lgamma(float64(n + 1))
	return math.Round(math.Exp(f))
}

// Layouts returns how many layouts could have been drawn, and the smallest p value
// that a test of them can reach, whatever comes out. Ask before the trial.
func (s Scheme) Layouts() (layouts, smallestP float64, err error) {
	if err := s.check(); err != nil {
		return 0, 0, err
	}
	k := len(s.Treatment.Levels)
	if s.sequences {
		layouts, same := s.orders()
		return layouts, math.Min(1, same/layouts), nil
	}
	if s.row != nil {
		return squares[k], factorial(k) / squares[k], nil
	}
	layouts = 1
	counts := make([][]int, k) // by treatment, its count in every block
	for _, units := range s.cells() {
		n := make([]int, k)
		for _, i := range units {
			n[s.Treatment.Of[i]]++
		}
		placed := 0
		for t, c := range n {
			counts[t] = append(counts[t], c)
			// binomial(placed + c, c)
			for j := 1; j <= c; j++ {
				layouts = layouts * float64(placed+j) / float64(j)
			}
			placed += c
		}
	}
	layouts = math.Round(layouts)
	// Treatments with the same counts everywhere may exchange their names without
	// changing the statistic.
	same := 1.0
	for t := range counts {
		alike := 1
		for u := range t {
			equal := true
			for b := range counts[t] {
				equal = equal && counts[t][b] == counts[u][b]
			}
			if equal {
				alike++
			}
		}
		same *= float64(alike)
	}
	if same == 1 && s.pairs() {
		same = 2 // turning every pair round leaves the statistic as it is
	}
	return layouts, math.Min(1, same/layouts), nil
}

// Test compares the treatments by the layouts of the scheme. The seed matters only
// where there are too many to go through.
func (s Scheme) Test(values []float64, seed uint64) (Result, error) {
	if err := stat.Check(values, s.Treatment); err != nil {
		return Result{}, err
	}
	layouts, smallest, err := s.Layouts()
	if err != nil {
		return Result{}, err
	}
	out := Result{Layouts: layouts, SmallestP: smallest, Exact: layouts <= Most}

	// Centre within blocks; in a square row and column effects cancel.
	y := make([]float64, len(values))
	var scale float64
	if s.sequences {
		return s.testSequences(values, out, seed)
	}
	for _, units := range s.cells() {
		var mean float64
		for _, i := range units {
			mean += values[i] / float64(len(units))
		}
		for _, i := range units {
			y[i] = values[i] - mean
			scale += y[i] * y[i]
		}
	}
	if scale == 0 {
		return Result{}, stat.Refuse("a randomisation test", "all units have the same value")
	}
	k := len(s.Treatment.Levels)
	n := make([]float64, k)
	sum := make([]float64, k)
	for i, t := range s.Treatment.Of {
		n[t]++
		sum[t] += y[i]
	}
	statistic := func(sum []float64) float64 {
		var ss float64
		for t, v := range sum {
			ss += v * v / n[t]
		}
		return ss
	}
	if g := s.adjusted(); g != nil {
		statistic = func(sum []float64) float64 { return form(g, sum) }
	}
	bound := statistic(sum) - 1e-9*scale
	count := 0
	visit := func(sum []float64) {
		if statistic(sum) >= bound {
			count++
		}
	}
	switch {
	case out.Exact && s.row != nil:
		s.allSquares(y, visit)
	case out.Exact:
		s.all(y, visit)
	default:
		s.some(y, seed, visit)
	}
	out.Extreme = count
	if out.Exact {
		out.P = float64(count) / layouts
	} else {
		out.P = float64(count+1) / float64(Draws+1)
	}
	return out, nil
}

// all goes through the assignments block by block.
func (s Scheme) all(y []float64, visit func([]float64)) {
	cells := s.cells()
	k := len(s.Treatment.Levels)
	sum := make([]float64, k)
	left := make([]int, k)
	var block func(b int)
	var unit func(b, at int)
	block = func(b int) {
		if b == len(cells) {
			visit(sum)
			return
		}
		saved := append([]int(nil), left...)
		for t := range left {
			left[t] = 0
		}
		for _, i := range cells[b] {
			left[s.Treatment.Of[i]]++
		}
		unit(b, 0)
		copy(left, saved)
	}
	unit = func(b, at int) {
		if at == len(cells[b]) {
			block(b + 1)
			return
		}
		v := y[cells[b][at]]
		for t := range k {
			if left[t] == 0 {
				continue
			}
			left[t]--
			was := sum[t]
			sum[t] += v
			unit(b, at+1)
			sum[t] = was // not −v: that would gather round-off
			left[t]++
		}
	}
	block(0)
}

// allSquares goes through every Latin square.
func (s Scheme) allSquares(y []float64, visit func([]float64)) {
	k := len(s.Treatment.Levels)
	grid := s.grid(y)
	sum := make([]float64, k)
	rows, cols := permutations(k-1), permutations(k)
	for _, base := range reduced(k) {
		for _, r := range rows {
			for _, c := range cols {
				clear(sum)
				for i := range k {
					from := 0
					if i > 0 {
						from = 1 + r[i-1]
					}
					for j := range k {
						sum[base[from*k+c[j]]] += grid[i*k+j]
					}
				}
				visit(sum)
			}
		}
	}
}

func (s Scheme) grid(y []float64) []float64 {
	k := len(s.Treatment.Levels)
	g := make([]float64, k*k)
	for i, v := range y {
		g[s.row.Of[i]*k+s.col.Of[i]] = v
	}
	return g
}

func permutations(n int) [][]int {
	if n == 0 {
		return [][]int{{}}
	}
	var out [][]int
	for _, p := range permutations(n - 1) {
		for at := 0; at <= len(p); at++ {
			q := append(append(append([]int(nil), p[:at]...), n-1), p[at:]...)
			out = append(out, q)
		}
	}
	return out
}

// some draws layouts.
func (s Scheme) some(y []float64, seed uint64, visit func([]float64)) {
	r := rand.New(rand.NewPCG(seed, 0x74657374))
	k := len(s.Treatment.Levels)
	sum := make([]float64, k)
	if s.row != nil {
		grid := s.grid(y)
		for range Draws {
			clear(sum)
			for i, row := range latin(k, r) {
				for j, t := range row {
					sum[t] += grid[i*k+j]
				}
			}
			visit(sum)
		}
		return
	}
	cells := s.cells()
	labels := make([][]int, len(cells))
	for b, units := range cells {
		for _, i := range units {
			labels[b] = append(labels[b], s.Treatment.Of[i])
		}
	}
	for range Draws {
		clear(sum)
		for b, units := range cells {
			l := labels[b]
			r.Shuffle(len(l), func(i, j int) { l[i], l[j] = l[j], l[i] })
			for j, i := range units {
				sum[l[j]] += y[i]
			}
		}
		visit(sum)
	}
}
