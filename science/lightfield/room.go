package lightfield

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A patch is one cell of the grid on a side. Its free axes are the two that
// follow the side's own axis: (axis+1)%3 with index u and (axis+2)%3 with v.
type patch struct {
	side Side
	u, v int
}

// A Room is a space made ready: the exchange of light between the patches of
// its sides is worked out, so that lamps can be placed in it again and again.
// It does not change once made; calls may run in parallel.
type Room struct {
	space    Space
	opt      Options
	count    [3]int     // cells along each axis
	step     [3]float64 // their lengths, m
	patches  []patch    // of the reflecting sides
	first    [NumSides]int
	exchange *mat.SymDense // A_i F_ij in m²; nil without reflecting sides
	parallel [3][]float64  // parallelCorner at grid differences, by the axis across
	crossed  [3][]float64  // perpendicularCorner at grid differences, by the common axis
	system   *system
}

// A system is the balance of light of a room at given reflectances, factorised.
type system struct {
	rho  [NumSides]float64
	chol mat.Cholesky
}

// NewRoom cuts the sides of a space into patches, computes the exact exchange of
// light between them and factorises their balance. All that is wrong with the
// space is joined into one error.
func NewRoom(space Space, opt Options) (*Room, error) {
	opt, optErr := opt.fill()
	if err := errors.Join(space.check(), optErr); err != nil {
		return nil, err
	}
	r := &Room{space: space, opt: opt}
	area := 0.0
	for side, w := range space.Walls {
		if w.reflectance() > 0 {
			area += space.area(Side(side))
		}
	}
	if area == 0 { // nothing reflects: the grid only serves to measure what falls on the sides
		for side := range Side(NumSides) {
			area += space.area(side)
		}
	}
	edge := math.Sqrt(area / float64(opt.Patches))
	// The light on the walls changes fastest with height, since lamps hang close
	// above the plants, so cells are lower than wide.
	stretch := [3]float64{1.4, 1.4, 1 / 2.2}
	for axis := range 3 {
		n := math.Round(space.size(axis) / (edge * stretch[axis]))
		r.count[axis] = int(min(max(n, 2), 40))
		r.step[axis] = space.size(axis) / float64(r.count[axis])
	}
	for side := range Side(NumSides) {
		r.first[side] = -1
		if space.Walls[side].reflectance() > 0 {
			r.first[side] = len(r.patches)
			r.patches = append(r.patches, r.patchesOf(side)...)
		}
	}
	r.tabulate()
	if n := len(r.patches); n > 0 {
		r.exchange = mat.NewSymDense(n, nil)
		inParallel(n, 16, func(from, to int) {
			for i := from; i < to; i++ {
				for j := range i {
					if r.patches[i].side != r.patches[j].side {
						r.exchange.SetSym(i, j, r.exchangeArea(r.patches[i], r.patches[j]))
					}
				}
			}
		})
	}
	var rho [NumSides]float64
	for side, w := range space.Walls {
		rho[side] = w.reflectance()
	}
	var ok bool
	if r.system, ok = r.factorise(rho); !ok {
		return nil, errors.New("the sides reflect so much that the balance of light cannot be solved; give at least one side a reflectance below 1")
	}
	return r, nil
}

// patchesOf lists the cells of a side, v fastest.
func (r *Room) patchesOf(side Side) []patch {
	a := side.axis()
	var out []patch
	for u := range r.count[(a+1)%3] {
		for v := range r.count[(a+2)%3] {
			out = append(out, patch{side, u, v})
		}
	}
	return out
}

// patchArea is the area of one cell of a side in m².
func (r *Room) patchArea(side Side) float64 {
	a := side.axis()
	return r.step[(a+1)%3] * r.step[(a+2)%3]
}

// tabulate fills the corner terms; every exchange area is a difference of them.
func (r *Room) tabulate() {
	for a := range 3 {
		b, c := (a+1)%3, (a+2)%3
		nb, nc := r.count[b]+1, r.count[c]+1
		r.parallel[a] = make([]float64, nb*nc)
		for i := range nb {
			for j := range nc {
				r.parallel[a][i*nc+j] = parallelCorner(float64(i)*r.step[b], float64(j)*r.step[c], r.space.size(a))
			}
		}
		na := r.count[a] + 1
		r.crossed[a] = make([]float64, na*nb*nc)
		inParallel(na, 1, func(from, to int) {
			for i := from; i < to; i++ {
				for j := range nb {
					for k := range nc {
						r.crossed[a][(i*nb+j)*nc+k] = perpendicularCorner(float64(i)*r.step[a], float64(j)*r.step[b], float64(k)*r.step[c])
					}
				}
			}
		})
	}
}

// exchangeArea is A_p F_pq in m², exact (see [ParallelRectangles] and
// [PerpendicularRectangles] for the sources).
func (r *Room) exchangeArea(p, q patch) float64 {
	ap, aq := p.side.axis(), q.side.axis()
	index := func(p patch, axis int) int {
		if (p.side.axis()+1)%3 == axis {
			return p.u
		}
		return p.v
	}
	sum := 0.0
	weights := [3]float64{-1, 2, -1}
	if ap == aq {
		if p.side == q.side {
			return 0
		}
		nc := r.count[(ap+2)%3] + 1
		for i, wi := range weights {
			du := abs(p.u - q.u + i - 1)
			for j, wj := range weights {
				sum += wi * wj * r.parallel[ap][du*nc+abs(p.v-q.v+j-1)]
			}
		}
		return sum
	}
	common := 3 - ap - aq
	b, c := (common+1)%3, (common+2)%3
	nb, nc := r.count[b]+1, r.count[c]+1
	// A cell's distance from the line where the two planes meet, in cells.
	fromEdge := func(p, other patch) int {
		a := other.side.axis()
		i := index(p, a)
		if other.side.far() {
			return r.count[a] - 1 - i
		}
		return i
	}
	eb, ec := fromEdge(p, q), fromEdge(q, p) // p reaches along q's axis and the other way round
	if aq != b {
		eb, ec = ec, eb
	}
	d := index(p, common) - index(q, common)
	for i, wi := range weights {
		base := abs(d+i-1) * nb
		t := r.crossed[common]
		sum += wi * (t[(base+eb)*nc+ec+1] + t[(base+eb+1)*nc+ec] -
			t[(base+eb)*nc+ec] - t[(base+eb+1)*nc+ec+1])
	}
	// The double difference has a minus for the common direction, see the weights.
	return -sum
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// factorise prepares the balance of light at the reflectances given for the
// sides that reflect.
//
//	B = ρ (E₀ + F B)   so   (A/ρ − A F) B = A E₀
//
// with exitance B, direct light E₀, areas A and view factors F. The matrix is
// symmetric and, with any ρ below 1 in sight, positive definite.
func (r *Room) factorise(rho [NumSides]float64) (*system, bool) {
	s := &system{rho: rho}
	n := len(r.patches)
	if n == 0 {
		return s, true
	}
	balance := mat.NewSymDense(n, nil)
	raw, from := balance.RawSymmetric(), r.exchange.RawSymmetric()
	for i := range n {
		row, src := raw.Data[i*raw.Stride:], from.Data[i*from.Stride:]
		for j := i + 1; j < n; j++ {
			row[j] = -src[j]
		}
		side := r.patches[i].side
		row[i] = r.patchArea(side) / rho[side]
	}
	return s, s.chol.Factorize(balance)
}

// onPatches writes the direct light of one lamp on the patches given, as means
// over each patch in PPFD. The part of a patch above the lamp is dark.
func (r *Room) onPatches(dst []float64, s *source, patches []patch) {
	for i, p := range patches {
		dst[i] = r.onPatch(s, p)
	}
}

func (r *Room) onPatch(s *source, p patch) float64 {
	a := p.side.axis()
	b, c := (a+1)%3, (a+2)%3
	if p.side == Above {
		return 0
	}
	var lo, hi [3]float64
	if p.side.far() {
		lo[a] = r.space.size(a)
	}
	hi[a] = lo[a]
	lo[b], hi[b] = float64(p.u)*r.step[b], float64(p.u+1)*r.step[b]
	lo[c], hi[c] = float64(p.v)*r.step[c], float64(p.v+1)*r.step[c]
	share := 1.0
	if a != 2 {
		top := min(hi[2], s.z)
		if top <= lo[2] {
			return 0
		}
		share = (top - lo[2]) / (hi[2] - lo[2])
		hi[2] = top
	}
	sign := 1.0
	if p.side.far() {
		sign = -1
	}
	return share * r.meanOver(s, lo, hi, a, sign, 6)
}

// meanOver is the mean direct light of a lamp over a rectangle on a side, by
// Gauss nodes; a rectangle too near to the lamp for that is cut.
func (r *Room) meanOver(s *source, lo, hi [3]float64, a int, sign float64, depth int) float64 {
	b, c := (a+1)%3, (a+2)%3
	// The distance from the opening sets the scale on which the light changes.
	gap := func(axis int, at, half float64) float64 {
		return max(0, lo[axis]-at-half, at-half-hi[axis])
	}
	gx, gy, gz := gap(0, s.x, s.a), gap(1, s.y, s.b), gap(2, s.z, 0)
	d := math.Sqrt(gx*gx + gy*gy + gz*gz)
	need := func(axis int) int {
		half := (hi[axis] - lo[axis]) / 2
		ratio := d / half
		switch {
		case ratio > 12:
			return 1
		case ratio > 4.5:
			return 2
		case ratio > 2.2:
			return 3
		case ratio > 1.2:
			return 4
		}
		return 9
	}
	nb, nc := need(b), need(c)
	if depth > 0 && max(nb, nc) > 4 {
		axis := b
		if nb <= 4 || nc > 4 && hi[c]-lo[c] > hi[b]-lo[b] {
			axis = c
		}
		mid := (lo[axis] + hi[axis]) / 2
		loFar, hiNear := lo, hi
		loFar[axis], hiNear[axis] = mid, mid
		return (r.meanOver(s, lo, hiNear, a, sign, depth-1) + r.meanOver(s, loFar, hi, a, sign, depth-1)) / 2
	}
	gb, gc := &gauss[min(nb, 4)], &gauss[min(nc, 4)]
	sum := 0.0
	at := lo
	for i, t := range gb.at {
		at[b] = lo[b] + (hi[b]-lo[b])*(1+t)/2
		for j, t := range gc.at {
			at[c] = lo[c] + (hi[c]-lo[c])*(1+t)/2
			p := Point{at[0], at[1], at[2]}
			var e float64
			if a == 2 {
				e = s.onHorizontal(p)
			} else {
				e = s.onWall(p, a, sign)
			}
			sum += gb.weight[i] * gc.weight[j] * e
		}
	}
	return sum
}
