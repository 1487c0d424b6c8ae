package layout

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
)

// adjusted is the generalised inverse of the information of the treatments where blocks
// do not hold them alike; nil where they do, for sums are enough there.
func (s Scheme) adjusted() *mat.SymDense {
	if s.block == nil {
		return nil
	}
	d := BlockDesign{Treatments: len(s.Treatment.Levels)}
	same := true
	var first []int
	for _, units := range s.cells() {
		var b []int
		n := make([]int, d.Treatments)
		for _, i := range units {
			b = append(b, s.Treatment.Of[i])
			n[s.Treatment.Of[i]]++
		}
		if first == nil {
			first = n
		}
		same = same && slices.Equal(n, first)
		d.Blocks = append(d.Blocks, b)
	}
	if same {
		return nil
	}
	return inverse(d.information())
}

// pairs reports blocks of two different treatments throughout.
func (s Scheme) pairs() bool {
	if s.block == nil {
		return false
	}
	for _, units := range s.cells() {
		if len(units) != 2 || s.Treatment.Of[units[0]] == s.Treatment.Of[units[1]] {
			return false
		}
	}
	return true
}

// inverse is the generalised inverse of a matrix without eigenvalues below 0; nil if it
// has no eigenvalues to speak of.
func inverse(c *mat.SymDense) *mat.SymDense {
	values, vectors, ok := eigen(c)
	n := len(values)
	if !ok || n == 0 || !(values[n-1] > 0) {
		return nil
	}
	g := mat.NewSymDense(n, nil)
	for k, l := range values {
		if l < 1e-9*values[n-1] {
			continue
		}
		for i := range n {
			for j := i; j < n; j++ {
				g.SetSym(i, j, g.At(i, j)+vectors.At(i, k)*vectors.At(j, k)/l)
			}
		}
	}
	return g
}

func form(g *mat.SymDense, q []float64) float64 {
	var ss float64
	for i, x := range q {
		ss += g.At(i, i) * x * x
		for j := range i {
			ss += 2 * g.At(i, j) * x * q[j]
		}
	}
	return ss
}

// table returns the treatment of each row and column.
func (s Scheme) table() [][]int {
	t := make([][]int, len(s.row.Levels))
	for i := range t {
		t[i] = make([]int, len(s.col.Levels))
	}
	for i, v := range s.Treatment.Of {
		t[s.row.Of[i]][s.col.Of[i]] = v
	}
	return t
}

// orders counts the ways to give the sequences to the rows, and those among them that
// differ from the one used by the names of the treatments alone.
func (s Scheme) orders() (layouts, same float64) {
	t := s.table()
	times := map[string]int{}
	for _, r := range t {
		times[fmt.Sprint(r)]++
	}
	layouts = factorial(len(t))
	for _, n := range times {
		layouts /= factorial(n)
	}
	same = 1
	k := len(s.Treatment.Levels)
	distinct := map[int]bool{}
	for _, v := range t[0] {
		distinct[v] = true
	}
	if len(distinct) < k {
		return layouts, same
	}
	tried := map[string]bool{}
	same = 0
	for _, r := range t {
		if tried[fmt.Sprint(r)] {
			continue
		}
		tried[fmt.Sprint(r)] = true
		to, back := make([]int, k), make([]int, k)
		for i := range to {
			to[i], back[i] = -1, -1
		}
		ok := true
		for c, v := range t[0] {
			ok = ok && (to[v] < 0 || to[v] == r[c]) && (back[r[c]] < 0 || back[r[c]] == v)
			to[v], back[r[c]] = r[c], v
		}
		left := map[string]int{}
		for k, n := range times {
			left[k] = n
		}
		for _, q := range t {
			if !ok {
				break
			}
			named := make([]int, len(q))
			for c, v := range q {
				named[c] = to[v]
			}
			left[fmt.Sprint(named)]--
			ok = left[fmt.Sprint(named)] >= 0
		}
		if ok {
			same++
		}
	}
	return layouts, same
}

// testSequences goes through the ways to give the sequences to the rows.
func (s Scheme) testSequences(values []float64, out Result, seed uint64) (Result, error) {
	t := s.table()
	rows, cols, k := len(t), len(t[0]), len(s.Treatment.Levels)
	y := make([][]float64, rows)
	rowMean, colMean := make([]float64, rows), make([]float64, cols)
	var mean float64
	for i := range y {
		y[i] = make([]float64, cols)
	}
	for i, v := range values {
		r, c := s.row.Of[i], s.col.Of[i]
		y[r][c] = v
		rowMean[r] += v / float64(cols)
		colMean[c] += v / float64(rows)
		mean += v / float64(rows*cols)
	}
	var scale float64
	for r := range y {
		for c := range y[r] {
			y[r][c] += mean - rowMean[r] - colMean[c]
			scale += y[r][c] * y[r][c]
		}
	}
	if scale < 1e-20*mean*mean || scale == 0 {
		return Result{}, stat.Refuse("a randomisation test", "all units have the same value but for rows and columns")
	}
	// Information with rows and columns taken out.
	byRow, byCol, n := square(k), square(k), make([]float64, k)
	for r := range t {
		for c, v := range t[r] {
			n[v]++
			for _, u := range t[r] {
				byRow[v][u]++
			}
			for q := range t {
				byCol[v][t[q][c]]++
			}
		}
	}
	info := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			x := -float64(byRow[i][j])/float64(cols) - float64(byCol[i][j])/float64(rows) + n[i]*n[j]/float64(rows*cols)
			if i == j {
				x += n[i]
			}
			info.SetSym(i, j, x)
		}
	}
	g := inverse(info)
	if g == nil {
		return Result{}, stat.Refuse("a randomisation test", "treatments cannot be told apart from rows and columns")
	}
	sum := make([]float64, k)
	statistic := func(order []int) float64 {
		clear(sum)
		for r, q := range order {
			for c, v := range t[q] {
				sum[v] += y[r][c]
			}
		}
		return form(g, sum)
	}
	order := make([]int, rows)
	for i := range order {
		order[i] = i
	}
	bound := statistic(order) - 1e-9*scale
	if !out.Exact {
		r := rand.New(rand.NewPCG(seed, 0x73657175656e))
		for range Draws {
			r.Shuffle(rows, func(i, j int) { order[i], order[j] = order[j], order[i] })
			if statistic(order) >= bound {
				out.Extreme++
			}
		}
		out.P = float64(out.Extreme+1) / float64(Draws+1)
		return out, nil
	}
	// Rows with the same sequence are exchanged for nothing, so each layout is met once.
	names := make([]string, rows)
	for i := range t {
		names[i] = fmt.Sprint(t[i])
	}
	used := make([]bool, rows)
	var place func(at int)
	place = func(at int) {
		if at == rows {
			if statistic(order) >= bound {
				out.Extreme++
			}
			return
		}
		tried := map[string]bool{}
		for q := range t {
			if used[q] || tried[names[q]] {
				continue
			}
			tried[names[q]] = true
			used[q], order[at] = true, q
			place(at + 1)
			used[q] = false
		}
	}
	place(0)
	out.P = float64(out.Extreme) / out.Layouts
	return out, nil
}
