package lightfield

import "math"

// A rect is a rectangle in space across one axis.
type rect struct {
	axis   int
	sign   float64 // to which end of the axis it faces
	lo, hi [3]float64
	centre [3]float64
	area   float64
	size   float64 // half of its diagonal
}

// filled works out centre, area and size.
func (a rect) filled() rect {
	a.area = 1
	for i := range 3 {
		a.centre[i] = (a.lo[i] + a.hi[i]) / 2
		if d := a.hi[i] - a.lo[i]; i != a.axis {
			a.area *= d
			a.size += d * d
		}
	}
	a.size = math.Sqrt(a.size) / 2
	return a
}

// seen is the rectangle as it stands to the box from copy n; see [Space.seen].
func (a rect) seen(s *Space, n [3]int) rect {
	if n == [3]int{} {
		return a
	}
	a.lo, a.hi, a.centre = s.seen(a.lo, n), s.seen(a.hi, n), s.seen(a.centre, n)
	for i := range 3 {
		if a.lo[i] > a.hi[i] {
			a.lo[i], a.hi[i] = a.hi[i], a.lo[i]
		}
	}
	a.sign *= turned(n[a.axis])
	return a
}

// at is the place of a rectangle with parameters u and v from 0 to 1.
func (a *rect) at(u, v float64) [3]float64 {
	p := a.lo
	b, c := (a.axis+1)%3, (a.axis+2)%3
	p[b] += u * (a.hi[b] - a.lo[b])
	p[c] += v * (a.hi[c] - a.lo[c])
	return p
}

// kernel is cos·cos/(π d²) between two small surfaces; 0 if one does not face the
// other.
func kernel(p [3]float64, axis int, sign float64, q [3]float64, qAxis int, qSign float64) float64 {
	v := [3]float64{q[0] - p[0], q[1] - p[1], q[2] - p[2]}
	a, b := v[axis]*sign, -v[qAxis]*qSign
	if a <= 0 || b <= 0 {
		return 0
	}
	d2 := v[0]*v[0] + v[1]*v[1] + v[2]*v[2]
	return a * b / (math.Pi * d2 * d2)
}

// Distances in sizes (half diagonals of both together) from which the exchange of
// two rectangles is taken from 2 × 2 places on each, and from their middles. The
// next term of the series is of the order of (size/d)⁴ and (size/d)².
const (
	fewFrom  = 4
	onceFrom = 16
)

// between is A F in m² of two rectangles of which the second is in the box and the
// first there or in a copy of it. Panels shade: for two that are near the share in
// sight is taken from the places given.
func (r *Room) between(a, b *rect, places []float64) float64 {
	d := [3]float64{b.centre[0] - a.centre[0], b.centre[1] - a.centre[1], b.centre[2] - a.centre[2]}
	if d[a.axis]*a.sign <= 1e-12 || -d[b.axis]*b.sign <= 1e-12 {
		return 0
	}
	apart := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	size := a.size + b.size
	shade := false
	if !r.uniform() {
		switch r.shadeOf(a.lo, a.hi, b.lo, b.hi) {
		case hidden:
			return 0
		case partly:
			shade = true
		}
	}
	if apart > onceFrom*size {
		if shade && !r.visible(a.centre, b.centre) {
			return 0
		}
		return a.area * b.area * kernel(a.centre, a.axis, a.sign, b.centre, b.axis, b.sign)
	}
	if apart > fewFrom*size {
		all, seen := r.sampled(a, b, gaussPair[:], shade)
		if shade {
			return a.area * b.area * seen
		}
		return a.area * b.area * all
	}
	exact := exactExchange(a, b)
	if shade {
		all, seen := r.sampled(a, b, places, true)
		if all == 0 {
			return 0
		}
		exact *= seen / all
	}
	return exact
}

// Places along an edge: two nodes of Gauss, and the middles of thirds.
var (
	gaussPair = [2]float64{0.5 - math.Sqrt(3)/6, 0.5 + math.Sqrt(3)/6}
	thirds    = [3]float64{1.0 / 6, 0.5, 5.0 / 6}
)

// sampled is the mean kernel between places on two rectangles, all of it and what
// panels leave.
func (r *Room) sampled(a, b *rect, nodes []float64, shade bool) (all, seen float64) {
	n := float64(len(nodes))
	n *= n
	for _, u := range nodes {
		for _, v := range nodes {
			p := a.at(u, v)
			for _, s := range nodes {
				for _, t := range nodes {
					q := b.at(s, t)
					k := kernel(p, a.axis, a.sign, q, b.axis, b.sign)
					all += k
					if shade && k > 0 && r.visible(p, q) {
						seen += k
					}
				}
			}
		}
	}
	return all / (n * n), seen / (n * n)
}

// exactExchange is A F in m² of two rectangles that see each other in full
// (EhlertSmith1993).
func exactExchange(a, b *rect) float64 {
	sum := 0.0
	ends := [2]float64{1, -1} // low and high end of a against the low end of b; the other way against the high one
	if a.axis == b.axis {
		c := math.Abs(b.lo[a.axis] - a.lo[a.axis])
		x, y := (a.axis+1)%3, (a.axis+2)%3
		for i, si := range ends {
			for k, sk := range ends {
				dx := pick(a, i, x) - pick(b, k, x)
				for j, sj := range ends {
					for l, sl := range ends {
						sum += si * sk * sj * sl * parallelCorner(dx, pick(a, j, y)-pick(b, l, y), c)
					}
				}
			}
		}
		return sum
	}
	common := 3 - a.axis - b.axis
	// How far a reaches from the plane of b, and the other way round.
	y := [2]float64{math.Abs(a.lo[b.axis] - b.lo[b.axis]), math.Abs(a.hi[b.axis] - b.lo[b.axis])}
	z := [2]float64{math.Abs(b.lo[a.axis] - a.lo[a.axis]), math.Abs(b.hi[a.axis] - a.lo[a.axis])}
	if y[0] > y[1] {
		y[0], y[1] = y[1], y[0]
	}
	if z[0] > z[1] {
		z[0], z[1] = z[1], z[0]
	}
	for i, si := range ends {
		for k, sk := range ends {
			u := pick(a, i, common) - pick(b, k, common)
			for j, sj := range ends {
				for l, sl := range ends {
					sum += si * sk * sj * sl * perpendicularCorner(u, y[j], z[l])
				}
			}
		}
	}
	return sum
}

// pick is the low (0) or high (1) end of a rectangle along an axis.
func pick(a *rect, end, axis int) float64 {
	if end == 0 {
		return a.lo[axis]
	}
	return a.hi[axis]
}

// A cellAt is a patch, or a copy of one, on the uniform grid of the box and its
// copies. Places are in cells along each axis from the corner of the box.
type cellAt struct {
	axis  int
	sign  int    // to which end of the axis it faces
	place [3]int // of its low corner; along its own axis that of its plane
}

// cellOf is a patch on the grid.
func (r *Room) cellOf(p patch) cellAt {
	s := &r.surfaces[p.on]
	c := cellAt{axis: s.axis, sign: int(s.sign)}
	if s.side.far() {
		c.place[s.axis] = r.count[s.axis]
	}
	c.place[(s.axis+1)%3], c.place[(s.axis+2)%3] = p.u, p.v
	return c
}

// seen is the cell as it stands to the box from copy n; see [Space.seen].
func (c cellAt) seen(count, n [3]int) cellAt {
	for a := range 3 {
		if n[a]%2 == 0 {
			c.place[a] -= n[a] * count[a]
			continue
		}
		c.place[a] = (n[a]+1)*count[a] - c.place[a]
		if a != c.axis { // the low corner was the high one
			c.place[a]--
		} else {
			c.sign = -c.sign
		}
	}
	return c
}

// gridExchange is A_p F_pq in m² for cells of a uniform grid of which q is in the
// box, exact (see [ParallelRectangles] and [PerpendicularRectangles] for the
// sources); 0 if one does not face the other.
func (r *Room) gridExchange(p, q *cellAt) float64 {
	weights := [3]float64{-1, 2, -1}
	sum := 0.0
	if p.axis == q.axis {
		a := p.axis
		apart := q.place[a] - p.place[a]
		if apart*p.sign <= 0 || apart*q.sign >= 0 {
			return 0
		}
		b, c := (a+1)%3, (a+2)%3
		t, nc := r.parallel[a][abs(apart)/r.count[a]], r.reach[c]+1
		du, dv := p.place[b]-q.place[b], p.place[c]-q.place[c]
		v0, v1, v2 := abs(dv-1), abs(dv), abs(dv+1)
		for i, wi := range weights {
			row := t[abs(du+i-1)*nc:]
			sum += wi * (2*row[v1] - row[v0] - row[v2])
		}
		return sum
	}
	common := 3 - p.axis - q.axis
	b, c := (common+1)%3, (common+2)%3
	// How far, in cells, q is from the plane of p, and the other way round.
	far := func(from, of *cellAt) (cells int, faces bool) {
		d := of.place[from.axis] - from.place[from.axis]
		if from.sign > 0 {
			return d, d >= 0
		}
		return -d - 1, d < 0
	}
	ep, forth := far(p, q)
	eq, back := far(q, p)
	if !forth || !back {
		return 0
	}
	eb, ec := ep, eq // along the axis of p, and along that of q
	if p.axis != b {
		eb, ec = eq, ep
	}
	nb, nc := r.reach[b]+1, r.reach[c]+1
	d := p.place[common] - q.place[common]
	t := r.crossed[common]
	for i, wi := range weights {
		at := t[(abs(d+i-1)*nb+eb)*nc+ec:]
		sum += wi * (at[1] + at[nc] - at[0] - at[nc+1])
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

// exchangeRow writes A_p F_pj in m² for the first len(dst) patches of the room: in
// the box, in the near copies patch by patch, in the others block by block.
func (r *Room) exchangeRow(dst []float64, p patch, rc *rect) {
	if r.uniform() {
		clear(dst)
		at := r.cellOf(p)
		for _, img := range r.images[:r.near] {
			from := at.seen(r.count, img.n)
			for j := range dst {
				dst[j] += img.weight * r.gridExchange(&from, &r.cells[j])
			}
		}
	} else {
		for j := range dst {
			dst[j] = 0
			if r.patches[j].on != p.on {
				dst[j] = r.between(rc, &r.rects[j], thirds[:])
			}
		}
		for _, img := range r.images[1:r.near] {
			from := rc.seen(&r.space, img.n)
			for j := range dst {
				dst[j] += img.weight * r.between(&from, &r.rects[j], gaussPair[:])
			}
		}
	}
	if r.far == nil {
		return
	}
	n, mine := len(r.blocks), r.blockOf(p)
	share := rc.area / r.blocks[mine].area
	for j := range dst {
		b := r.blockOf(r.patches[j])
		dst[j] += r.far[mine*n+b] * share * r.areas[j] / r.blocks[b].area
	}
}

// blocksAlong is the number of blocks along each way of a surface.
const blocksAlong = 4

// A block is a part of a surface that acts as one in the distance.
type block struct {
	rect
	surface int
}

// makeBlocks cuts all surfaces into blocks and sums their exchange over the far
// copies.
func (r *Room) makeBlocks() {
	if r.near == len(r.images) || len(r.patches) == 0 {
		return
	}
	for i := range r.surfaces {
		r.surfaces[i].blocks = len(r.blocks)
		r.blocks = append(r.blocks, r.blocksOf(i)...)
	}
	n := len(r.blocks)
	r.far = make([]float64, n*n)
	inParallel(n, 1, func(from, to int) {
		for i := from; i < to; i++ {
			for _, img := range r.images[r.near:] {
				a := r.blocks[i].seen(&r.space, img.n)
				for j := range r.blocks {
					b := &r.blocks[j].rect
					k := kernel(a.centre, a.axis, a.sign, b.centre, b.axis, b.sign)
					if k > 0 && b.area > 0 && (r.uniform() || r.visible(a.centre, b.centre)) {
						r.far[i*n+j] += img.weight * a.area * b.area * k
					}
				}
			}
		}
	})
}

// blocksOf cuts a surface into blocks; some are empty where it has few cells.
func (r *Room) blocksOf(on int) []block {
	s := &r.surfaces[on]
	b, c := s.free()
	out := make([]block, 0, blocksAlong*blocksAlong)
	for u := range blocksAlong {
		for v := range blocksAlong {
			rc := rect{axis: s.axis, sign: s.sign}
			rc.lo[s.axis], rc.hi[s.axis] = s.at, s.at
			u0, u1 := blockEnds(u, s.from[0], s.to[0])
			v0, v1 := blockEnds(v, s.from[1], s.to[1])
			rc.lo[b], rc.hi[b] = r.lines[b][u0], r.lines[b][u1]
			rc.lo[c], rc.hi[c] = r.lines[c][v0], r.lines[c][v1]
			out = append(out, block{rc.filled(), on})
		}
	}
	return out
}

// blockEnds are the lines between which block i of a surface lies.
func blockEnds(i, from, to int) (lo, hi int) {
	return from + i*(to-from)/blocksAlong, from + (i+1)*(to-from)/blocksAlong
}

// blockOf is the block of a patch.
func (r *Room) blockOf(p patch) int {
	s := &r.surfaces[p.on]
	along := func(i, from, to int) int {
		k := (i - from) * blocksAlong / (to - from)
		for {
			if lo, hi := blockEnds(k, from, to); i < lo {
				k--
			} else if i >= hi {
				k++
			} else {
				return k
			}
		}
	}
	return s.blocks + along(p.u, s.from[0], s.to[0])*blocksAlong + along(p.v, s.from[1], s.to[1])
}

// tabulate fills the corner terms; every exchange area is a difference of them.
func (r *Room) tabulate() {
	var boxes [3]int
	for _, img := range r.images[:r.near] {
		for a, n := range img.n {
			boxes[a] = max(boxes[a], abs(n)+1)
		}
	}
	for a, n := range boxes {
		r.reach[a] = n*r.count[a] + 1
	}
	for a := range 3 {
		b, c := (a+1)%3, (a+2)%3
		na, nb, nc := r.reach[a]+1, r.reach[b]+1, r.reach[c]+1
		r.parallel[a] = make([][]float64, boxes[a]+1)
		for k := 1; k <= boxes[a]; k++ {
			t := make([]float64, nb*nc)
			for i := range nb {
				for j := range nc {
					t[i*nc+j] = parallelCorner(float64(i)*r.step[b], float64(j)*r.step[c], float64(k)*r.space.size(a))
				}
			}
			r.parallel[a][k] = t
		}
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
