package lightfield

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// source makes a lamp ready for this room.
func (r *Room) source(l Lamp, maxError float64) source {
	s := newSource(l, maxError)
	if !r.uniform() && s.skew == nil && (s.disc || s.sin != 0) {
		s.plain = newSkew(l, maxError)
	}
	return s
}

// upTo counts the images up to a class.
func upTo(images []image, most class) int {
	n := 0
	for n < len(images) && images[n].class <= most {
		n++
	}
	return n
}

// byImages is the light of a lamp on a level surface at p that comes by way of the
// copies given.
func (r *Room) byImages(s *source, p Point, images []image) float64 {
	at := [3]float64{clamp(p.X, 0, r.space.Width), clamp(p.Y, 0, r.space.Depth), clamp(p.Z, 0, r.space.Height)}
	sum := 0.0
	for _, img := range images {
		steps := shadeSteps
		if img.ring > 1 {
			steps /= 3
		}
		sum += img.weight * r.lit(s, r.space.seen(at, img.n), 2, turned(img.n[2]), steps)
	}
	return sum
}

// fromLamp is the light of a lamp on a level surface at p, straight and by way of
// mirrors alone.
func (r *Room) fromLamp(s *source, p Point) float64 {
	e := r.lit(s, [3]float64{p.X, p.Y, p.Z}, 2, 1, shadeSteps)
	if images := r.imagesFor(s); len(images) > 1 {
		e += r.byImages(s, p, images[1:])
	}
	return e
}

// addDirect adds the light that comes straight from the lamps: lamp by lamp, or
// with a dimming their sum.
func (f *Field) addDirect(dst []float64, pts []Point, dimming []float64) {
	plain := f.room.uniform()
	f.eachLamp(dst, pts, dimming, func(s *source, p Point) float64 {
		var v float64
		if plain {
			v = s.onHorizontal(p)
		} else {
			v = f.room.lit(s, [3]float64{p.X, p.Y, p.Z}, 2, 1, shadeSteps)
		}
		if math.IsNaN(p.X) || math.IsNaN(p.Y) {
			v = math.NaN()
		}
		return v
	})
}

// eachLamp adds what light gives to every lamp's row of dst, or dimmed to dst.
func (f *Field) eachLamp(dst []float64, pts []Point, dimming []float64, light func(s *source, p Point) float64) {
	n := len(pts)
	inParallel(n, 128, func(from, to int) {
		for k := range f.sources {
			s := &f.sources[k]
			row, d := dst, 1.0
			if dimming == nil {
				row = dst[k*n:]
			} else if d = dimming[k]; d == 0 {
				continue
			}
			for i := from; i < to; i++ {
				row[i] += d * light(s, pts[i])
			}
		}
	})
}

// columns is what the light of the sides is gathered for: one column a lamp, or
// with a dimming one for all.
type columns struct {
	b       *mat.Dense // exitance by patch and column
	n       int
	dimming []float64
}

func (f *Field) columns(dimming []float64) columns {
	if dimming == nil {
		return columns{f.byPatch, len(f.lamps), nil}
	}
	c := columns{nil, 1, dimming}
	if f.byPatch != nil {
		c.b = new(mat.Dense)
		c.b.Mul(f.byPatch, mat.NewDense(len(dimming), 1, dimming))
	}
	return c
}

// addReflected adds the light that comes from the sides, scattered or mirrored.
// Neighbouring points of one height share a lattice if there are more of them than
// nodes. What is seen of the sides is taken from kept, unless that is nil.
func (f *Field) addReflected(dst []float64, pts []Point, dimming []float64, kept *Places) {
	r := f.room
	mirrors := len(r.images) > 1
	if len(f.lamps) == 0 || f.byPatch == nil && !mirrors {
		return
	}
	if mirrors { // lamps seen in the nearest copies are as sharp as the lamps
		f.eachLamp(dst, pts, dimming, func(s *source, p Point) float64 {
			images := r.imagesFor(s)
			return r.byImages(s, p, images[1:upTo(images, touching)])
		})
	}
	cols := f.columns(dimming)
	f.addShared(dst, pts, cols, touching, kept)
	if upTo(r.images, touching) < len(r.images) || upTo(r.wide, touching) < len(r.wide) {
		f.addShared(dst, pts, cols, distant, kept)
	}
}

// addShared adds the light of the sides that is seen in the box and the copies that
// touch it (up to touching), or light of sides and lamps seen in the others (up to
// distant): the latter is smooth and needs fewer nodes.
func (f *Field) addShared(dst []float64, pts []Point, cols columns, most class, kept *Places) {
	if most == touching && cols.b == nil {
		return
	}
	for from := 0; from < len(pts); {
		to := from + 1
		for to < len(pts) && pts[to].Z == pts[from].Z {
			to++
		}
		lat, ok := f.room.lattice(pts[from].Z)
		if most == distant {
			lat = f.room.coarse(lat)
		}
		if ok && to-from > len(lat.x)*len(lat.y) {
			f.addFromLattice(dst, pts, from, to, lat, cols, most, kept)
			from = to
			continue
		}
		// Take all following points that have no plane to share.
		for to < len(pts) && (to+1 == len(pts) || pts[to+1].Z != pts[to].Z) {
			to++
		}
		f.addExactly(dst, pts, from, to, cols, most, kept)
		from = to
	}
}

// fromAfar adds to each column the light of lamps seen in the copies from the
// second ring on. It is smooth over the space.
func (f *Field) fromAfar(sum []float64, p Point, cols columns) {
	for k := range f.sources {
		s := &f.sources[k]
		images := f.room.imagesFor(s)
		images = images[upTo(images, touching):]
		if len(images) == 0 {
			continue
		}
		if cols.dimming == nil {
			sum[k] += f.room.byImages(s, p, images)
		} else if d := cols.dimming[k]; d != 0 {
			sum[0] += d * f.room.byImages(s, p, images)
		}
	}
}

// addExactly gathers at each of the points from to to.
func (f *Field) addExactly(dst []float64, pts []Point, from, to int, cols columns, most class, kept *Places) {
	var known *mat.Dense
	if cols.b != nil {
		known = kept.view(f.room, part{from, most}, to-from, func(i int) Point { return pts[from+i] })
	}
	inParallel(to-from, 16, func(lo, hi int) {
		var scratch []float64
		factors := make([]float64, len(f.room.patches))
		sum := make([]float64, cols.n)
		for i := from + lo; i < from+hi; i++ {
			clear(sum)
			if most == distant {
				f.fromAfar(sum, pts[i], cols)
			}
			if cols.b != nil {
				if known != nil {
					factors = known.RawRowView(i - from)
				} else {
					f.room.gatherUpTo(most, factors, pts[i], &scratch)
				}
				for j, g := range factors {
					if g == 0 {
						continue
					}
					for k, b := range cols.b.RawRowView(j) {
						sum[k] += g * b
					}
				}
			}
			for k, v := range sum {
				dst[k*len(pts)+i] += v
			}
		}
	})
}

// nodeTile is how many nodes of a lattice are gathered before they are multiplied
// by the exitance: it bounds the memory.
const nodeTile = 64

// addFromLattice interpolates in the lattice of the plane of the points from to to.
func (f *Field) addFromLattice(dst []float64, pts []Point, from, to int, lat lattice, cols columns, most class, kept *Places) {
	nx, ny := len(lat.x), len(lat.y)
	z := pts[from].Z
	nodes := make([]float64, nx*ny*cols.n)
	node := func(i int) Point { return Point{lat.x[i/ny], lat.y[i%ny], z} }
	var known *mat.Dense
	if cols.b != nil {
		known = kept.view(f.room, part{from, most}, nx*ny, node)
	}
	inParallel(nx*ny, nodeTile, func(lo, hi int) {
		var scratch []float64
		if cols.b != nil {
			var view mat.Matrix
			if known != nil {
				view = known.Slice(lo, hi, 0, len(f.room.patches))
			} else {
				fresh := mat.NewDense(hi-lo, len(f.room.patches), nil)
				for i := lo; i < hi; i++ {
					f.room.gatherUpTo(most, fresh.RawRowView(i-lo), node(i), &scratch)
				}
				view = fresh
			}
			mat.NewDense(hi-lo, cols.n, nodes[lo*cols.n:hi*cols.n]).Mul(view, cols.b)
		}
		for i := lo; i < hi && most == distant; i++ {
			f.fromAfar(nodes[i*cols.n:(i+1)*cols.n], node(i), cols)
		}
	})
	inParallel(to-from, 128, func(lo, hi int) {
		sum := make([]float64, cols.n)
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
					row := nodes[((ix+a)*ny+iy+b)*cols.n:]
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
