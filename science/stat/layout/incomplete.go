package layout

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
)

// A BlockDesign gives treatments to the places of blocks.
type BlockDesign struct {
	Treatments int
	Blocks     [][]int // treatments of each block, by place
	Replicate  []int   // the replicate of each block, if every replicate holds each treatment once; else nil
}

// Counts returns how often each treatment stands in the design.
func (d BlockDesign) Counts() []int {
	n := make([]int, d.Treatments)
	for _, b := range d.Blocks {
		for _, t := range b {
			n[t]++
		}
	}
	return n
}

// Concurrence returns, for each pair of treatments, in how many blocks they meet, places
// of the same block counted one by one.
func (d BlockDesign) Concurrence() [][]int {
	m := square(d.Treatments)
	for _, b := range d.Blocks {
		for i, t := range b {
			for j, u := range b {
				if i != j {
					m[t][u]++
				}
			}
		}
	}
	return m
}

func square(n int) [][]int {
	m := make([][]int, n)
	for i := range m {
		m[i] = make([]int, n)
	}
	return m
}

// information is the matrix C of the treatments with blocks taken out: variances of their
// estimates are σ²C⁻.
func (d BlockDesign) information() *mat.SymDense {
	c := mat.NewSymDense(d.Treatments, nil)
	n := make([]float64, d.Treatments)
	for _, b := range d.Blocks {
		clear(n)
		for _, t := range b {
			n[t]++
		}
		for i, x := range n {
			if x == 0 {
				continue
			}
			c.SetSym(i, i, c.At(i, i)+x-x*x/float64(len(b)))
			for j := i + 1; j < len(n); j++ {
				if n[j] > 0 {
					c.SetSym(i, j, c.At(i, j)-x*n[j]/float64(len(b)))
				}
			}
		}
	}
	return c
}

// An Efficiency is how well a block design compares its treatments, beside complete
// blocks with as many repeats and the same scatter within blocks.
type Efficiency struct {
	Average      float64 // harmonic mean of the canonical efficiency factors
	Bound        float64 // that no design of this size can exceed
	Least, Most  float64 // over pairs of treatments, by the variance of their difference
	Balanced     bool    // every pair is compared as well as every other
	FewestMeet   int     // blocks in which the pair meets that meets least
	MostMeet     int
	ErrorDF      int // of the analysis within blocks
	pairVariance [][]float64
}

// Variance returns the variance of the difference between two treatments in units of the
// variance within blocks.
func (e *Efficiency) Variance(i, j int) float64 { return e.pairVariance[i][j] }

// Efficiency works out how well the design compares its treatments. It refuses a design
// whose treatments are not all joined by common blocks.
func (d BlockDesign) Efficiency() (*Efficiency, error) {
	what := "an incomplete block design"
	v := d.Treatments
	counts := d.Counts()
	if v < 2 || len(d.Blocks) < 1 || slices.Min(counts) < 1 {
		return nil, stat.Refuse(what, "a treatment stands in no block")
	}
	c := d.information()
	values, vectors, ok := eigen(c)
	if !ok {
		return nil, stat.Refuse(what, "its information cannot be worked out")
	}
	if values[1] < 1e-8*values[v-1] {
		return nil, stat.Refuse(what, "some treatments never meet others, not even by a chain of blocks, so they cannot be compared")
	}
	e := &Efficiency{FewestMeet: math.MaxInt}
	units := 0
	for _, n := range counts {
		units += n
	}
	e.ErrorDF = units - len(d.Blocks) - v + 1
	// Canonical factors: of R^-½ C R^-½.
	s := mat.NewSymDense(v, nil)
	for i := range v {
		for j := i; j < v; j++ {
			s.SetSym(i, j, c.At(i, j)/math.Sqrt(float64(counts[i]*counts[j])))
		}
	}
	canon, _, ok := eigen(s)
	if !ok {
		return nil, stat.Refuse(what, "its information cannot be worked out")
	}
	var sum float64
	for _, x := range canon[1:] {
		sum += 1 / x
	}
	e.Average = float64(v-1) / sum
	e.Bound = d.bound()
	e.pairVariance = make([][]float64, v)
	for i := range v {
		e.pairVariance[i] = make([]float64, v)
		for j := range v {
			for k := 1; k < v; k++ {
				x := vectors.At(i, k) - vectors.At(j, k)
				e.pairVariance[i][j] += x * x / values[k]
			}
		}
	}
	meet := d.Concurrence()
	e.Least = math.Inf(1)
	for i := range v {
		for j := range i {
			full := 1/float64(counts[i]) + 1/float64(counts[j])
			x := full / e.pairVariance[i][j]
			e.Least, e.Most = math.Min(e.Least, x), math.Max(e.Most, x)
			e.FewestMeet, e.MostMeet = min(e.FewestMeet, meet[i][j]), max(e.MostMeet, meet[i][j])
		}
	}
	e.Balanced = e.Most-e.Least < 1e-9
	return e, nil
}

// bound is that of balance: the trace of R^-½ C R^-½ shared out evenly (John1966).
func (d BlockDesign) bound() float64 {
	counts := d.Counts()
	trace := float64(d.Treatments)
	n := make([]float64, d.Treatments)
	for _, b := range d.Blocks {
		clear(n)
		for _, t := range b {
			n[t]++
		}
		for t, x := range n {
			trace -= x * x / float64(len(b)) / float64(counts[t])
		}
	}
	return math.Min(1, trace/float64(d.Treatments-1))
}

func eigen(m *mat.SymDense) ([]float64, *mat.Dense, bool) {
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return nil, nil, false
	}
	var v mat.Dense
	e.VectorsTo(&v)
	return e.Values(nil), &v, true
}

// Most treatments and blocks of an incomplete block design.
const (
	MostTreatments = 60
	MostBlocks     = 200
)

// Incomplete finds blocks of size places for treatments that do not all fit into one, and
// gives them out at random: blocks, places within them and names of treatments. Three
// constructions are tried, and that with the greatest average efficiency factor is taken:
// blocks developed from initial blocks around the circle (John1966), α-designs whose
// blocks come in complete replicates (PattersonWilliams1976), and exchanges of treatments
// from many starts. The same sizes always give the same design; the seed gives it out.
// What comes out is checked: each treatment is repeated equally often as far as the
// numbers allow, stands in a block at most once, and all are joined.
func Incomplete(treatments, size, blocks int, seed uint64) (BlockDesign, *Efficiency, error) {
	what := "an incomplete block design"
	switch {
	case size < 2:
		return BlockDesign{}, nil, stat.Refuse(what, "a block of one place compares nothing")
	case treatments <= size:
		return BlockDesign{}, nil, stat.Refuse(what, "the %d treatments fit into blocks of %d; take complete blocks", treatments, size)
	case treatments > MostTreatments || blocks > MostBlocks:
		return BlockDesign{}, nil, stat.Refuse(what, "more than %d treatments or %d blocks are not planned here", MostTreatments, MostBlocks)
	case blocks*(size-1) < treatments-1:
		return BlockDesign{}, nil, stat.Refuse(what, "%d blocks of %d cannot join %d treatments; at least %d blocks are needed", blocks, size, treatments, (treatments-1+size-2)/(size-1))
	}
	best := BlockDesign{}
	var found *Efficiency
	try := func(d BlockDesign) {
		e, err := d.Efficiency()
		if err != nil || d.uneven() {
			return
		}
		if found == nil || e.Average > found.Average+1e-9 || e.Average > found.Average-1e-9 && best.Replicate == nil && d.Replicate != nil {
			best, found = d, e
		}
	}
	cyclic(treatments, size, blocks, try)
	alpha(treatments, size, blocks, try)
	if found == nil || !found.Balanced {
		exchanged(treatments, size, blocks, try)
	}
	if found == nil {
		return BlockDesign{}, nil, stat.Refuse(what, "no blocks were found that join all treatments")
	}
	out := best.shuffled(source(seed))
	e, err := out.Efficiency()
	return out, e, err
}

// uneven reports treatments repeated unequally beyond need, or twice in a block.
func (d BlockDesign) uneven() bool {
	n := d.Counts()
	if slices.Max(n)-slices.Min(n) > 1 {
		return true
	}
	for _, b := range d.Blocks {
		seen := map[int]bool{}
		for _, t := range b {
			if seen[t] {
				return true
			}
			seen[t] = true
		}
	}
	return false
}

// shuffled gives the design out at random.
func (d BlockDesign) shuffled(r *rand.Rand) BlockDesign {
	names := r.Perm(d.Treatments)
	out := BlockDesign{Treatments: d.Treatments}
	for _, b := range d.Blocks {
		c := make([]int, len(b))
		for i, t := range b {
			c[i] = names[t]
		}
		r.Shuffle(len(c), func(i, j int) { c[i], c[j] = c[j], c[i] })
		out.Blocks = append(out.Blocks, c)
	}
	if d.Replicate == nil {
		r.Shuffle(len(out.Blocks), func(i, j int) { out.Blocks[i], out.Blocks[j] = out.Blocks[j], out.Blocks[i] })
		return out
	}
	// Replicates in a drawn order, blocks in a drawn order within them.
	groups := map[int][][]int{}
	for i, b := range out.Blocks {
		groups[d.Replicate[i]] = append(groups[d.Replicate[i]], b)
	}
	out.Blocks = nil
	for at, g := range r.Perm(len(groups)) {
		l := groups[g]
		r.Shuffle(len(l), func(i, j int) { l[i], l[j] = l[j], l[i] })
		for _, b := range l {
			out.Blocks = append(out.Blocks, b)
			out.Replicate = append(out.Replicate, at)
		}
	}
	return out
}

// mostInitial is the number of initial blocks up to which all are gone through.
const mostInitial = 4000

// cyclic develops initial blocks around the circle of treatments.
func cyclic(v, k, b int, try func(BlockDesign)) {
	if b%v != 0 {
		return
	}
	sets := b / v
	var initial [][]int
	var pick func(at []int, next int)
	pick = func(at []int, next int) {
		if len(initial) >= mostInitial {
			return
		}
		if len(at) == k {
			initial = append(initial, slices.Clone(at))
			return
		}
		for t := next; t < v; t++ {
			pick(append(at, t), t+1)
		}
	}
	pick([]int{0}, 1)
	develop := func(starts ...[]int) BlockDesign {
		d := BlockDesign{Treatments: v}
		for _, s := range starts {
			for shift := range v {
				block := make([]int, k)
				for i, t := range s {
					block[i] = (t + shift) % v
				}
				d.Blocks = append(d.Blocks, block)
			}
		}
		return d
	}
	// The design is a circulant, so its efficiency follows from how often each difference
	// occurs; the concurrences that are most even come first.
	unevenness := func(starts ...[]int) int {
		n := make([]int, v)
		for _, s := range starts {
			for _, a := range s {
				for _, c := range s {
					if a != c {
						n[(a-c+v)%v]++
					}
				}
			}
		}
		sum := 0
		for _, x := range n[1:] {
			sum += x * x
		}
		return sum
	}
	if sets == 1 {
		best := math.MaxInt
		for _, s := range initial {
			if u := unevenness(s); u <= best {
				best = u
				try(develop(s))
			}
		}
		return
	}
	r := rand.New(rand.NewPCG(uint64(v), uint64(k*1000+b)))
	for range 40 {
		starts := make([][]int, sets)
		for i := range starts {
			starts[i] = initial[r.IntN(len(initial))]
		}
		best := unevenness(starts...)
		for improved := true; improved; {
			improved = false
			for i := range starts {
				was := starts[i]
				keep := was
				for _, s := range initial {
					starts[i] = s
					if u := unevenness(starts...); u < best {
						best, keep, improved = u, s, true
					}
				}
				starts[i] = keep
			}
		}
		try(develop(starts...))
	}
}

// alpha makes α-designs: v = s·k, blocks in replicates of s.
func alpha(v, k, b int, try func(BlockDesign)) {
	if v%k != 0 || b%(v/k) != 0 {
		return
	}
	s := v / k
	reps := b / s
	r := rand.New(rand.NewPCG(uint64(v)<<8, uint64(k*1000+b)))
	for range 200 {
		d := BlockDesign{Treatments: v}
		for rep := range reps {
			array := make([]int, k)
			if rep > 0 {
				for j := 1; j < k; j++ {
					array[j] = r.IntN(s)
				}
			}
			for i := range s {
				block := make([]int, k)
				for j := range k {
					block[j] = j*s + (array[j]+i)%s
				}
				d.Blocks = append(d.Blocks, block)
				d.Replicate = append(d.Replicate, rep)
			}
		}
		try(d)
	}
}

// exchanged improves random blocks by exchanging treatments between blocks until the pairs
// meet as evenly as exchanges can make them.
func exchanged(v, k, b int, try func(BlockDesign)) {
	r := rand.New(rand.NewPCG(uint64(v)<<16, uint64(k*1000+b)))
	starts := min(60, max(6, 200000/(v*v*b)))
	for range starts {
		d := BlockDesign{Treatments: v, Blocks: make([][]int, b)}
		left := make([]int, v)
		extra := b*k - v*(b*k/v)
		for i, t := range r.Perm(v) {
			left[t] = b * k / v
			if i < extra {
				left[t]++
			}
		}
		// Each block takes those of which most are left, so that none is needed twice.
		for i := range b {
			order := r.Perm(v)
			slices.SortStableFunc(order, func(x, y int) int { return left[y] - left[x] })
			d.Blocks[i] = slices.Clone(order[:k])
			for _, t := range order[:k] {
				left[t]--
			}
		}
		meet := d.Concurrence()
		for range 60 {
			better := false
			for i := range b {
				for j := range i {
					better = exchange(d.Blocks[i], d.Blocks[j], meet) || better
				}
			}
			if !better {
				break
			}
		}
		try(d)
	}
}

// exchange swaps the pair of treatments of two blocks that makes meetings most even.
func exchange(p, q []int, meet [][]int) bool {
	gain, pi, qi := 0, -1, -1
	for i, t := range p {
		if slices.Contains(q, t) {
			continue
		}
		for j, u := range q {
			if slices.Contains(p, u) {
				continue
			}
			// Σλ² falls by 2(λ−1)+… for meetings lost, and rises for those gained.
			change := 0
			for l, w := range p {
				if l != i {
					change += delta(meet[t][w], -1) + delta(meet[u][w], 1)
				}
			}
			for l, w := range q {
				if l != j {
					change += delta(meet[u][w], -1) + delta(meet[t][w], 1)
				}
			}
			// A treatment of both blocks keeps its meetings with both.
			for _, w := range p {
				if w != t && slices.Contains(q, w) {
					change -= 4 // it was counted as lost and as gained
				}
			}
			if change < gain {
				gain, pi, qi = change, i, j
			}
		}
	}
	if pi < 0 {
		return false
	}
	t, u := p[pi], q[qi]
	apply := func(a, w, by int) { meet[a][w] += by; meet[w][a] += by }
	for l, w := range p {
		if l != pi {
			apply(t, w, -1)
			apply(u, w, 1)
		}
	}
	for l, w := range q {
		if l != qi {
			apply(u, w, -1)
			apply(t, w, 1)
		}
	}
	p[pi], q[qi] = u, t
	return true
}

// delta is the change of λ² when λ changes by ±1.
func delta(l, by int) int { return (l+by)*(l+by) - l*l }
