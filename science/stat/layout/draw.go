package layout

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
)

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x6c61796f7574)) }

// Complete assigns counts[k] units to treatment k, completely at random; it returns
// the treatment of each unit.
func Complete(counts []int, seed uint64) []int {
	return complete(counts, source(seed))
}

func complete(counts []int, r *rand.Rand) []int {
	var out []int
	for k, n := range counts {
		for range n {
			out = append(out, k)
		}
	}
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// Blocks assigns every treatment each times in every block; it returns the
// treatment of each unit by block.
func Blocks(treatments, each, blocks int, seed uint64) [][]int {
	r := source(seed)
	counts := make([]int, treatments)
	for k := range counts {
		counts[k] = each
	}
	out := make([][]int, blocks)
	for b := range out {
		out[b] = complete(counts, r)
	}
	return out
}

// A SplitPlot is a layout of whole units and parts: Whole[b][i] is the treatment of
// unit i of block b, Part[b][i][j] the level at place j within it.
type SplitPlot struct {
	Whole [][]int
	Part  [][][]int
}

// Split assigns wholes treatments to whole units, each times in every block, and
// parts levels to the places within each unit.
func Split(wholes, each, parts, blocks int, seed uint64) SplitPlot {
	r := source(seed)
	counts := make([]int, wholes)
	for k := range counts {
		counts[k] = each
	}
	s := SplitPlot{make([][]int, blocks), make([][][]int, blocks)}
	for b := range blocks {
		s.Whole[b] = complete(counts, r)
		for range s.Whole[b] {
			s.Part[b] = append(s.Part[b], r.Perm(parts))
		}
	}
	return s
}

// LargestSquare is the most sides of a Latin square that Latin draws.
const LargestSquare = 20

// Latin draws a Latin square of k sides; element [i][j] is the treatment in row i
// and column j.
func Latin(k int, seed uint64) ([][]int, error) {
	if k < 2 || k > LargestSquare {
		return nil, fmt.Errorf("a Latin square has 2 to %d sides, not %d", LargestSquare, k)
	}
	return latin(k, source(seed)), nil
}

func latin(k int, r *rand.Rand) [][]int {
	if k > 6 {
		return jacobsonMatthews(k, r)
	}
	all := reduced(k)
	base := all[r.IntN(len(all))]
	// Every square is one reduced square with all columns and all rows but the first
	// permuted, in exactly one way.
	cols, rows := r.Perm(k), r.Perm(k-1)
	out := make([][]int, k)
	for i := range out {
		from := 0
		if i > 0 {
			from = 1 + rows[i-1]
		}
		out[i] = make([]int, k)
		for j := range k {
			out[i][j] = int(base[from*k+cols[j]])
		}
	}
	return out
}

var (
	reducedMu sync.Mutex
	reducedOf = map[int][][]uint8{}
)

// reduced lists all Latin squares with first row and first column in order.
func reduced(k int) [][]uint8 {
	reducedMu.Lock()
	defer reducedMu.Unlock()
	if l, ok := reducedOf[k]; ok {
		return l
	}
	var out [][]uint8
	s := make([]uint8, k*k)
	row, col := make([]uint, k), make([]uint, k)
	for i := range k {
		s[i], s[i*k] = uint8(i), uint8(i)
		row[0] |= 1 << i
		col[0] |= 1 << i
		if i > 0 {
			row[i] |= 1 << i
			col[i] |= 1 << i
		}
	}
	var fill func(at int)
	fill = func(at int) {
		if at == k*k {
			out = append(out, slices.Clone(s))
			return
		}
		i, j := at/k, at%k
		if i == 0 || j == 0 {
			fill(at + 1)
			return
		}
		for v := range k {
			bit := uint(1) << v
			if (row[i]|col[j])&bit != 0 {
				continue
			}
			s[at] = uint8(v)
			row[i] |= bit
			col[j] |= bit
			fill(at + 1)
			row[i] &^= bit
			col[j] &^= bit
		}
	}
	fill(0)
	reducedOf[k] = out
	return out
}

// jacobsonMatthews walks on the incidence cubes of Latin squares, proper and, with
// one cell of −1, improper (JacobsonMatthews1996).
func jacobsonMatthews(k int, r *rand.Rand) [][]int {
	c := make([]int8, k*k*k)
	at := func(x, y, z int) *int8 { return &c[(x*k+y)*k+z] }
	for x := range k {
		for y := range k {
			*at(x, y, (x+y)%k) = 1
		}
	}
	proper := true
	var ix, iy, iz int
	pick := func(f func(i int) int8) int {
		var found []int
		for i := range k {
			if f(i) == 1 {
				found = append(found, i)
			}
		}
		return found[r.IntN(len(found))]
	}
	for step := 0; step < 40*k*k*k || !proper; step++ {
		x, y, z := ix, iy, iz
		if proper {
			for {
				x, y, z = r.IntN(k), r.IntN(k), r.IntN(k)
				if *at(x, y, z) == 0 {
					break
				}
			}
		}
		x2 := pick(func(i int) int8 { return *at(i, y, z) })
		y2 := pick(func(i int) int8 { return *at(x, i, z) })
		z2 := pick(func(i int) int8 { return *at(x, y, i) })
		*at(x, y, z)++
		*at(x, y2, z2)++
		*at(x2, y, z2)++
		*at(x2, y2, z)++
		*at(x2, y, z)--
		*at(x, y2, z)--
		*at(x, y, z2)--
		*at(x2, y2, z2)--
		proper = *at(x2, y2, z2) != -1
		ix, iy, iz = x2, y2, z2
	}
	out := make([][]int, k)
	for x := range out {
		out[x] = make([]int, k)
		for y := range k {
			for z := range k {
				if *at(x, y, z) == 1 {
					out[x][y] = z
				}
			}
		}
	}
	return out
}

// Williams draws sequences of k treatments in which each follows each other equally often
// (Williams1949): k sequences for an even k, 2k for an odd one. Row i is the
// sequence of unit i over the periods. Treatments are named at random and the
// sequences are given to the units at random.
func Williams(k int, seed uint64) ([][]int, error) {
	if k < 2 {
		return nil, fmt.Errorf("a square of Williams has 2 or more treatments, not %d", k)
	}
	r := source(seed)
	first := make([]int, k) // 0, 1, k−1, 2, k−2, …
	for i := 1; i < k; i++ {
		if i%2 == 1 {
			first[i] = (i + 1) / 2
		} else {
			first[i] = k - i/2
		}
	}
	names := r.Perm(k)
	var out [][]int
	for s := range k {
		seq, back := make([]int, k), make([]int, k)
		for i, v := range first {
			seq[i] = names[(v+s)%k]
			back[k-1-i] = seq[i]
		}
		out = append(out, seq)
		if k%2 == 1 {
			out = append(out, back)
		}
	}
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out, nil
}
