package lightfield

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/quantity"
)

// A surface is one side of the space or one face of a panel. Its free axes are
// the two that follow its own: (axis+1)%3 with index u and (axis+2)%3 with v.
type surface struct {
	side     Side    // −1 for a panel
	rho      float64 // of a panel; that of a side may change
	axis     int
	at, sign float64 // where it lies, and to which end of the axis it faces
	from, to [2]int  // the cells it covers, as indices of the room's lines
	first    int     // of its patches; −1 if it has none
	blocks   int     // first of its blocks
	lo, hi   [3]float64
	spread   [2][]fineCell
}

func (s *surface) free() (b, c int) { return (s.axis + 1) % 3, (s.axis + 2) % 3 }

// A patch is one cell of a surface.
type patch struct{ on, u, v int }

// A Room is a space made ready: the exchange of light between the patches of
// its sides is worked out, so that lamps can be placed in it again and again.
// It does not change once made; calls may run in parallel.
type Room struct {
	space    Space
	opt      Options
	panels   []Panel      // those of the space, drawn through to the sides they touch
	lines    [3][]float64 // that cut every axis into cells
	fine     [3][]float64 // the same, every cell cut again for gathering
	broken   [3][]bool    // lines at which a panel ends: light may jump there
	count    [3]int       // cells along each axis
	step     [3]float64   // their lengths, m; 0 if they differ
	surfaces []surface
	patches  []patch // of the surfaces that reflect
	rects    []rect  // the same in space
	areas    []float64
	images   []image // copies of the box that light from Lambert sources comes from
	wide     []image // the same for lamps that shine sideways
	wideErr  error   // why there are no wide ones
	near     int     // number of images taken patch by patch
	ringOne  int     // number of images that touch the box, and the box
	blocks   []block
	far      []float64      // exchange of blocks through the other images, m²
	passing  []float64      // by how much the light of a patch on surfaces without patches is corrected
	exchange *mat.SymDense  // A_i F_ij in m²; nil without reflecting sides
	cells    []cellAt       // the patches on the grid; nil with panels
	reach    [3]int         // grid differences along each axis up to which the corners are tabulated
	parallel [3][][]float64 // parallelCorner at grid differences, by the axis across and the distance in boxes
	crossed  [3][]float64   // perpendicularCorner at grid differences, by the common axis
	system   *system
}

// A system is the balance of light of a room at given reflectances, factorised.
type system struct {
	rho  [NumSides]float64
	chol mat.Cholesky
}

// errNoBalance is what a room without any loss comes to.
var errNoBalance = errors.New("the sides reflect so much that the balance of light cannot be solved; give at least one side a reflectance below 1")

// NewRoom cuts the sides of a space into patches, computes the exchange of light
// between them (exact without mirrors and panels) and factorises their balance.
// All that is wrong with the space is joined into one error.
func NewRoom(space Space, opt Options) (*Room, error) {
	opt, optErr := opt.fill()
	if err := errors.Join(space.check(), optErr); err != nil {
		return nil, err
	}
	space.Panels = slices.Clone(space.Panels)
	r := &Room{space: space, opt: opt, panels: slices.Clone(space.Panels)}
	for i := range r.panels {
		p := &r.panels[i]
		p.X1, p.X2 = through(p.X1, p.X2, space.Width)
		p.Y1, p.Y2 = through(p.Y1, p.Y2, space.Depth)
	}
	var err error
	if r.images, err = imagesOf(space, opt.MaxError, false); err != nil {
		return nil, err
	}
	r.wide, r.wideErr = imagesOf(space, opt.MaxError, true)
	r.ringOne, r.near = upTo(r.images, touching), upTo(r.images, apart)
	r.cut()
	for i := range r.surfaces {
		s := &r.surfaces[i]
		s.first = -1
		if r.rho(s, r.given()) > 0 {
			s.first = len(r.patches)
			r.patches = append(r.patches, r.patchesOf(i)...)
		}
	}
	if len(r.patches) > mostPatches {
		return nil, fmt.Errorf("the panels cut the sides into %d patches, more than %d; line up the edges of panels, or leave out the small ones", len(r.patches), mostPatches)
	}
	for _, p := range r.patches {
		rc := r.rectOf(p)
		r.rects = append(r.rects, rc)
		r.areas = append(r.areas, rc.area)
		if r.uniform() {
			r.cells = append(r.cells, r.cellOf(p))
		}
	}
	if r.uniform() {
		r.tabulate()
	}
	r.exchangeAll()
	var ok bool
	if r.system, ok = r.factorise(r.given()); !ok {
		return nil, errNoBalance
	}
	return r, nil
}

// exchangeAll works out the exchange of light between all patches.
func (r *Room) exchangeAll() {
	r.blocks, r.far = nil, nil
	r.makeBlocks()
	if n := len(r.patches); n > 0 {
		r.exchange = mat.NewSymDense(n, nil)
		raw := r.exchange.RawSymmetric()
		inParallel(n, 16, func(from, to int) {
			row := make([]float64, n)
			for i := from; i < to; i++ {
				r.exchangeRow(row[:i+1], r.patches[i], &r.rects[i])
				for j, v := range row[:i+1] {
					raw.Data[j*raw.Stride+i] = v
				}
			}
		})
	}
	r.close()
}

// through moves the ends of a panel that touches a side behind it, so that no light
// slips by between two roundings.
func through(from, to, size float64) (float64, float64) {
	if from < edgeM {
		from = -1e-9
	}
	if to > size-edgeM {
		to = size + 1e-9
	}
	return from, to
}

// mostPatches bounds memory and time: 4000 patches balance in some seconds.
const mostPatches = 6000

// given are the reflectances of the sides as the space has them.
func (r *Room) given() (rho [NumSides]float64) {
	for side, w := range r.space.Walls {
		rho[side] = w.reflectance()
	}
	return rho
}

// rho is the reflectance of a surface with the sides' as given.
func (r *Room) rho(s *surface, sides [NumSides]float64) float64 {
	if s.side >= 0 {
		return sides[s.side]
	}
	return s.rho
}

// uniform says whether the cells along each axis are alike.
func (r *Room) uniform() bool { return len(r.space.Panels) == 0 }

// cut lays the lines and lists the surfaces: the sides in their order, then top
// and bottom of every panel. Lines lie on every edge of a panel.
func (r *Room) cut() {
	space := &r.space
	area := 0.0
	for side, w := range space.Walls {
		if w.reflectance() > 0 {
			area += space.area(Side(side))
		}
	}
	var breaks [3][]float64
	for _, p := range space.Panels {
		if p.Top > 0 || p.Bottom > 0 {
			area += (p.X2 - p.X1) * (p.Y2 - p.Y1)
		}
		breaks[0] = append(breaks[0], p.X1, p.X2)
		breaks[1] = append(breaks[1], p.Y1, p.Y2)
		breaks[2] = append(breaks[2], p.Z)
	}
	if area == 0 { // nothing reflects: the grid only serves to measure what falls on the sides
		for side := range Side(NumSides) {
			area += space.area(side)
		}
	}
	edge := math.Sqrt(area / float64(r.opt.Patches))
	// The light on the walls changes fastest with height, since lamps hang close
	// above the plants, so cells are lower than wide.
	stretch := [3]float64{1.2, 1.2, 1 / 1.4}
	for axis := range 3 {
		size := space.size(axis)
		ends := []float64{0}
		for _, v := range slices.Sorted(slices.Values(breaks[axis])) {
			if v-ends[len(ends)-1] > edgeM && size-v > edgeM {
				ends = append(ends, v)
			}
		}
		ends = append(ends, size)
		if axis == 2 {
			for _, v := range r.belowSlits(edge * stretch[2]) {
				if !slices.ContainsFunc(ends, func(at float64) bool { return math.Abs(at-v) <= edgeM }) {
					ends = append(ends, v)
				}
			}
			slices.Sort(ends)
		}
		least := 1.0
		if len(ends) == 2 {
			least = 2
		}
		r.lines[axis] = []float64{0}
		r.broken[axis] = []bool{true}
		for i, to := range ends[1:] {
			from := ends[i]
			n := min(max(math.Round((to-from)/(edge*stretch[axis])), least), 40)
			for k := 1.0; k <= n; k++ {
				r.lines[axis] = append(r.lines[axis], from+(to-from)*k/n)
				// The light jumps where a panel ends, not at the cuts below a slit.
				edge := axis != 2 || slices.ContainsFunc(space.Panels, func(p Panel) bool { return p.Z == to }) || i == len(ends)-2
				r.broken[axis] = append(r.broken[axis], k == n && edge)
			}
		}
		r.count[axis] = len(r.lines[axis]) - 1
		if len(ends) == 2 {
			r.step[axis] = size / float64(r.count[axis])
		}
		r.fine[axis] = finerLines(r.lines[axis])
	}
	for side := range Side(NumSides) {
		s := surface{side: side, axis: side.axis(), sign: 1}
		if side.far() {
			s.at, s.sign = space.size(s.axis), -1
		}
		b, c := s.free()
		s.to = [2]int{r.count[b], r.count[c]}
		r.surfaces = append(r.surfaces, s)
	}
	nearest := func(axis int, v float64) int {
		best := 0
		for i, at := range r.lines[axis] {
			if math.Abs(at-v) < math.Abs(r.lines[axis][best]-v) {
				best = i
			}
		}
		return best
	}
	for _, p := range space.Panels {
		s := surface{side: -1, axis: 2, at: p.Z, from: [2]int{nearest(0, p.X1), nearest(1, p.Y1)}, to: [2]int{nearest(0, p.X2), nearest(1, p.Y2)}}
		s.rho, s.sign = float64(p.Top), 1
		r.surfaces = append(r.surfaces, s)
		s.rho, s.sign = float64(p.Bottom), -1
		r.surfaces = append(r.surfaces, s)
	}
	for i := range r.surfaces {
		s := &r.surfaces[i]
		b, c := s.free()
		s.lo[s.axis], s.hi[s.axis] = s.at, s.at
		s.lo[b], s.hi[b] = r.lines[b][s.from[0]], r.lines[b][s.to[0]]
		s.lo[c], s.hi[c] = r.lines[c][s.from[1]], r.lines[c][s.to[1]]
		s.spread = [2][]fineCell{r.spread(b, s.from[0], s.to[0]), r.spread(c, s.from[1], s.to[1])}
	}
}

// belowSlits are heights at which the sides are cut besides, where light falls
// between a panel and a side: what it lights there fades within a few widths of the
// slit, faster than cells of the height given could follow.
func (r *Room) belowSlits(cell float64) []float64 {
	var out []float64
	for _, p := range r.space.Panels {
		for _, gap := range []float64{p.X1, r.space.Width - p.X2, p.Y1, r.space.Depth - p.Y2} {
			if gap > edgeM && gap < cell {
				for _, k := range []float64{-3, -1.5, -0.5, 0.5, 1.5} {
					if z := p.Z + k*gap; z > edgeM && z < r.space.Height-edgeM {
						out = append(out, z)
					}
				}
			}
		}
	}
	return out
}

// patchesOf lists the cells of a surface, v fastest.
func (r *Room) patchesOf(on int) []patch {
	s := &r.surfaces[on]
	var out []patch
	for u := s.from[0]; u < s.to[0]; u++ {
		for v := s.from[1]; v < s.to[1]; v++ {
			out = append(out, patch{on, u, v})
		}
	}
	return out
}

// rectOf is a patch in space.
func (r *Room) rectOf(p patch) rect {
	s := &r.surfaces[p.on]
	b, c := s.free()
	rc := rect{axis: s.axis, sign: s.sign}
	rc.lo[s.axis], rc.hi[s.axis] = s.at, s.at
	rc.lo[b], rc.hi[b] = r.lines[b][p.u], r.lines[b][p.u+1]
	rc.lo[c], rc.hi[c] = r.lines[c][p.v], r.lines[c][p.v+1]
	return rc.filled()
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
		// A side that reflects nothing now may reflect later: its patches stay, dark.
		at := max(r.rho(&r.surfaces[r.patches[i].on], rho), 1e-12)
		row[i] = r.areas[i]/at - src[i]
	}
	return s, s.chol.Factorize(balance)
}

// WithReflectance is the room with another reflectance of one side, as the floor
// has when the crop closes. The exchange of light is kept and only its balance is
// factorised again. A side that reflected nothing when the room was made has no
// patches; then, and for an open side, the room is made anew with it closed.
func (r *Room) WithReflectance(side Side, rho quantity.Fraction) (*Room, error) {
	space := r.space
	space.Walls[side].Open = false
	space.Walls[side].Reflectance = rho
	if err := space.check(); err != nil {
		return nil, err
	}
	if r.surfaces[side].first < 0 {
		if rho == 0 && !r.space.Walls[side].Open {
			return r, nil
		}
		return NewRoom(space, r.opt)
	}
	return r.withSides(space)
}

// withMirrors is the room with a space that differs in what its sides scatter and
// mirror alone, sides that do either being the same ones. The patches are kept, and
// the copies of the box that are followed, with other weights.
func (r *Room) withMirrors(space Space) (*Room, error) {
	with := *r
	with.space = space
	with.surfaces = slices.Clone(r.surfaces) // they hold the number of their first block
	reweigh := func(images []image) []image {
		images = slices.Clone(images)
		for i := range images {
			images[i].weight = space.weightOf(images[i].n)
		}
		return images
	}
	with.images, with.wide = reweigh(r.images), reweigh(r.wide)
	with.exchangeAll()
	var ok bool
	if with.system, ok = with.factorise(with.given()); !ok {
		return nil, errNoBalance
	}
	return &with, nil
}

// withSides is the room with a space that differs in what its sides scatter alone,
// sides that scatter nothing being the same ones. The exchange of light is kept.
func (r *Room) withSides(space Space) (*Room, error) {
	with := *r
	with.space = space
	var ok bool
	if with.system, ok = r.factorise(with.given()); !ok {
		return nil, errNoBalance
	}
	return &with, nil
}
