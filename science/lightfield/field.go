package lightfield

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Field is the light of lamps in a space, solved. It does not change once
// made; calls may run in parallel.
type Field struct {
	room     *Room
	lamps    []Lamp
	sources  []source
	exitance [][]float64 // B by lamp and patch, PPFD, lamps at full power
	byPatch  []float64   // the same, patch-major
}

// Solve prepares the space, places the lamps and solves the exchange of light
// between the sides. All that is wrong with space, lamps and options is joined
// into one error. To place lamps again in one space, use [NewRoom] once.
func Solve(space Space, lamps []Lamp, opt Options) (*Field, error) {
	room, err := NewRoom(space, opt)
	if err != nil {
		return nil, err
	}
	return room.Solve(lamps)
}

// Solve places lamps in the room and solves the exchange of light. All that is
// wrong with the lamps is joined into one error.
func (r *Room) Solve(lamps []Lamp) (*Field, error) {
	if err := checkLamps(r.space, lamps); err != nil {
		return nil, err
	}
	f := &Field{room: r, lamps: append([]Lamp(nil), lamps...)}
	f.sources = make([]source, len(lamps))
	for i, l := range lamps {
		f.sources[i] = newSource(l, r.opt.MaxError)
	}
	n := len(r.patches)
	if n == 0 || len(lamps) == 0 {
		return f, nil
	}
	// Right-hand sides A E₀, one column a lamp.
	rhs := mat.NewDense(n, len(lamps), nil)
	inParallel(n, 8, func(from, to int) {
		for i := from; i < to; i++ {
			area := r.patchArea(r.patches[i].side)
			for k := range f.sources {
				rhs.Set(i, k, area*r.onPatch(&f.sources[k], r.patches[i]))
			}
		}
	})
	var b mat.Dense
	if err := r.system.chol.SolveTo(&b, rhs); err != nil {
		// Ill-conditioned only: reflectances a hair below 1. The answer is usable.
		if _, near := err.(mat.Condition); !near {
			return nil, err
		}
	}
	f.byPatch = b.RawMatrix().Data
	f.exitance = make([][]float64, len(lamps))
	for k := range lamps {
		f.exitance[k] = mat.Col(nil, k, &b)
	}
	return f, nil
}

// Space is the space that the field was solved for.
func (f *Field) Space() Space { return f.room.space }

// Lamps is a copy of the lamps.
func (f *Field) Lamps() []Lamp { return append([]Lamp(nil), f.lamps...) }

// Responses returns the PPFD that each lamp at full power gives on a horizontal
// surface facing up at each point, direct and reflected: element k·len(pts)+i is
// lamp k at point i. It writes to dst, which must have len(lamps)·len(pts)
// elements, or allocates if dst is nil. At a point in or above the plane of a
// lamp's opening that lamp gives reflected light only. A point with NaN gives
// NaN. Points outside the space get the reflected light of the nearest point
// inside.
//
// Reflected light is smooth: where many points share a height it is computed on
// a lattice of that plane and interpolated; the difference stays below 0.5 % of
// the light.
func (f *Field) Responses(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Responses")
	f.direct(dst, pts)
	f.addReflected(dst, pts)
	return dst
}

// Direct is [Field.Responses] without the reflected light.
func (f *Field) Direct(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Direct")
	f.direct(dst, pts)
	return dst
}

// Reflected is [Field.Responses] without the direct light.
func (f *Field) Reflected(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Reflected")
	clear(dst)
	f.addReflected(dst, pts)
	return dst
}

// PPFD returns the PPFD on a horizontal surface facing up at each point with
// every lamp dimmed by its factor (1 is full power; the light is linear in it,
// no bounds are set). It writes to dst, which must have len(pts) elements, or
// allocates if dst is nil. To try many dimmings at the same points, call
// [Field.Responses] once and then [Combine].
func (f *Field) PPFD(dst []float64, dimming []float64, pts []Point) []float64 {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.PPFD: one dimming for each lamp is needed")
	}
	dst = sized(dst, len(pts), "PPFD")
	return Combine(dst, f.Responses(nil, pts), dimming)
}

// Combine adds the responses of lamps, as [Field.Responses] returns them, each
// times its dimming. The result has len(responses)/len(dimming) elements; it
// goes to dst or, if dst is nil, to new memory.
func Combine(dst, responses, dimming []float64) []float64 {
	n := 0
	if len(dimming) > 0 {
		n = len(responses) / len(dimming)
	} else {
		n = len(dst)
	}
	if n*len(dimming) != len(responses) {
		panic("lightfield: Combine: responses are not a whole number of points for each lamp")
	}
	dst = sized(dst, n, "Combine")
	clear(dst)
	for k, d := range dimming {
		if d == 0 {
			continue
		}
		for i, v := range responses[k*n : (k+1)*n] {
			dst[i] += d * v
		}
	}
	return dst
}

func sized(dst []float64, n int, name string) []float64 {
	if dst == nil {
		return make([]float64, n)
	}
	if len(dst) != n {
		panic("lightfield: " + name + ": dst has the wrong length")
	}
	return dst
}

func (f *Field) direct(dst []float64, pts []Point) {
	n := len(pts)
	inParallel(n, 128, func(from, to int) {
		for k := range f.sources {
			s := &f.sources[k]
			for i := from; i < to; i++ {
				p := pts[i]
				v := s.onHorizontal(p)
				if math.IsNaN(p.X) || math.IsNaN(p.Y) {
					v = math.NaN()
				}
				dst[k*n+i] = v
			}
		}
	})
}

// addReflected adds the light that comes from the sides. Neighbouring points of
// one height share a lattice if there are more of them than nodes.
func (f *Field) addReflected(dst []float64, pts []Point) {
	if f.exitance == nil {
		return
	}
	lat := f.room.lattice()
	for from := 0; from < len(pts); {
		to := from + 1
		for to < len(pts) && pts[to].Z == pts[from].Z {
			to++
		}
		if to-from > len(lat.x)*len(lat.y) {
			f.addFromLattice(dst, pts, from, to, lat)
			from = to
			continue
		}
		// Take all following points that have no plane to share.
		for to < len(pts) && (to+1 == len(pts) || pts[to+1].Z != pts[to].Z) {
			to++
		}
		f.addExactly(dst, pts, from, to)
		from = to
	}
}

func (f *Field) addExactly(dst []float64, pts []Point, from, to int) {
	inParallel(to-from, 16, func(lo, hi int) {
		var scratch []float64
		factors := make([]float64, len(f.room.patches))
		for i := from + lo; i < from+hi; i++ {
			f.room.gather(factors, pts[i], &scratch)
			for k := range f.lamps {
				sum := 0.0
				for j, b := range f.exitance[k] {
					sum += factors[j] * b
				}
				dst[k*len(pts)+i] += sum
			}
		}
	})
}

func (f *Field) addFromLattice(dst []float64, pts []Point, from, to int, lat lattice) {
	nx, ny, lamps := len(lat.x), len(lat.y), len(f.lamps)
	n := len(f.room.patches)
	z := pts[from].Z
	view := mat.NewDense(nx*ny, n, nil)
	inParallel(nx*ny, 8, func(lo, hi int) {
		var scratch []float64
		for i := lo; i < hi; i++ {
			f.room.gather(view.RawRowView(i), Point{lat.x[i/ny], lat.y[i%ny], z}, &scratch)
		}
	})
	var at mat.Dense // node by lamp
	at.Mul(view, mat.NewDense(n, lamps, f.byPatch))
	nodes := at.RawMatrix().Data
	inParallel(to-from, 128, func(lo, hi int) {
		sum := make([]float64, lamps)
		for i := from + lo; i < from+hi; i++ {
			p := pts[i]
			if math.IsNaN(p.X) || math.IsNaN(p.Y) {
				continue // the direct part has made it NaN
			}
			ix, wx := cubic(lat.x, p.X)
			iy, wy := cubic(lat.y, p.Y)
			clear(sum)
			for a, wa := range wx {
				for b, wb := range wy {
					w := wa * wb
					row := nodes[((ix+a)*ny+iy+b)*lamps:]
					for k := range sum {
						sum[k] += w * row[k]
					}
				}
			}
			for k, v := range sum {
				dst[k*len(pts)+i] += v
			}
		}
	})
}

// WallIrradiance returns the mean PPFD that falls on each side from inside,
// direct and reflected, with every lamp dimmed by its factor. For an open side
// it is what leaves the space there.
func (f *Field) WallIrradiance(dimming []float64) [NumSides]float64 {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.WallIrradiance: one dimming for each lamp is needed")
	}
	r := f.room
	b := make([]float64, len(r.patches))
	for k, e := range f.exitance {
		for j, v := range e {
			b[j] += dimming[k] * v
		}
	}
	var out [NumSides]float64
	for side := range Side(NumSides) {
		cells := r.patchesOf(side)
		area := r.patchArea(side)
		inParallelSum := make([]float64, len(cells))
		inParallel(len(cells), 8, func(from, to int) {
			for i := from; i < to; i++ {
				e := 0.0
				for k := range f.sources {
					if dimming[k] != 0 {
						e += dimming[k] * r.onPatch(&f.sources[k], cells[i])
					}
				}
				for j, q := range r.patches {
					if q.side != side {
						e += r.exchangeArea(cells[i], q) * b[j] / area
					}
				}
				inParallelSum[i] = e
			}
		})
		for _, e := range inParallelSum {
			out[side] += e / float64(len(cells))
		}
	}
	return out
}

// DirectIrradiance is [Field.WallIrradiance] without the reflected light. In a
// space without openings that reach outside, area times irradiance adds up to
// the flux of the lamps; what is missing is the error of the quadrature.
func (f *Field) DirectIrradiance(dimming []float64) [NumSides]float64 {
	bare := *f
	black := *f.room
	black.patches = nil
	bare.room = &black
	bare.exitance = nil
	return bare.WallIrradiance(dimming)
}
