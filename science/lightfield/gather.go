package lightfield

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// inParallel calls work on the ranges that cut 0..n into blocks, on as many
// processors as there are; each takes the next block when it is done. Every block
// writes only its own results, so the outcome does not depend on their order.
func inParallel(n, block int, work func(from, to int)) {
	blocks := (n + block - 1) / block
	workers := min(runtime.GOMAXPROCS(0), blocks)
	if workers <= 1 {
		if n > 0 {
			work(0, n)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for b := int(next.Add(1)) - 1; b < blocks; b = int(next.Add(1)) - 1 {
				work(b*block, min(n, (b+1)*block))
			}
		})
	}
	wg.Wait()
}

// finer is how many strips a patch is cut into along each axis for gathering.
const finer = 2

// finerLines cuts every cell between lines into finer parts.
func finerLines(lines []float64) []float64 {
	out := []float64{lines[0]}
	for i, to := range lines[1:] {
		from := lines[i]
		for k := 1; k <= finer; k++ {
			out = append(out, from+(to-from)*float64(k)/finer)
		}
	}
	return out
}

// A fineCell says which two patches a strip lies between, counted from the first
// of its surface, and the share of the further one.
type fineCell struct {
	near, far int
	share     float64
}

// spread lists the strips between two lines of an axis. Exitance is interpolated
// between the middles of patches, flat beyond the last and at the edge of a panel.
func (r *Room) spread(axis, from, to int) []fineCell {
	lines := r.lines[axis]
	middle := func(i int) float64 { return (lines[i] + lines[i+1]) / 2 }
	var out []fineCell
	for i := from; i < to; i++ {
		for k := range finer {
			f := i*finer + k
			off := (r.fine[axis][f]+r.fine[axis][f+1])/2 - middle(i)
			next, edge := i+1, i+1
			if off < 0 {
				next, edge = i-1, i
			}
			c := fineCell{near: i - from, far: i - from}
			if next >= from && next < to && !r.broken[axis][edge] {
				c.far, c.share = next-from, math.Abs(off/(middle(next)-middle(i)))
			}
			out = append(out, c)
		}
	}
	return out
}

// gather writes, for a small surface at p that faces up, by how much the
// exitance of every patch lights it. Each patch is cut into finer × finer cells
// whose exitance is interpolated between the middles of patches, since a surface
// close to a wall would see the steps between patches. The weights are sums of view
// factors; they add up to the view factor of all that reflects. What is behind the
// surface counts nothing, cells that reach below its plane are clipped, and a point
// outside the space counts as the nearest one inside.
func (r *Room) gather(dst []float64, p Point, scratch *[]float64) {
	r.gatherUpTo(touching, dst, p, scratch)
	if r.ringOne == len(r.images) {
		return
	}
	far := make([]float64, len(dst))
	r.gatherUpTo(distant, far, p, scratch)
	for j, v := range far {
		dst[j] += v
	}
}

// gatherUpTo is [Room.gather] for the box and the copies that touch it, or for all
// others.
func (r *Room) gatherUpTo(most class, dst []float64, p Point, scratch *[]float64) {
	clear(dst)
	at := [3]float64{clamp(p.X, 0, r.space.Width), clamp(p.Y, 0, r.space.Depth), clamp(p.Z, 0, r.space.Height)}
	if most == touching {
		for _, img := range r.images[:r.ringOne] {
			r.gatherFrom(dst, at, img, scratch)
		}
		return
	}
	for _, img := range r.images[r.ringOne:r.near] {
		for i := range r.surfaces {
			r.gatherPatches(dst, &r.surfaces[i], r.space.seen(at, img.n), turned(img.n[2]), img.weight)
		}
	}
	if r.far == nil {
		return
	}
	for b := range r.blocks {
		rc := &r.blocks[b].rect
		s := &r.surfaces[r.blocks[b].surface]
		if s.first < 0 || rc.area == 0 {
			continue
		}
		sum := 0.0
		for _, img := range r.images[r.near:] {
			q := r.space.seen(at, img.n)
			if k := kernel(q, 2, turned(img.n[2]), rc.centre, rc.axis, rc.sign); k > 0 && (r.uniform() || r.visible(q, rc.centre)) {
				sum += img.weight * k
			}
		}
		i := b - s.blocks
		u0, u1 := blockEnds(i/blocksAlong, s.from[0], s.to[0])
		v0, v1 := blockEnds(i%blocksAlong, s.from[1], s.to[1])
		for u := u0; u < u1; u++ {
			for v := v0; v < v1; v++ {
				j := s.first + (u-s.from[0])*(s.to[1]-s.from[1]) + v - s.from[1]
				dst[j] += sum * r.areas[j]
			}
		}
	}
}

// gatherPatches adds what a surface at a place gets by way of one copy from the
// patches of a side, each as its middle.
func (r *Room) gatherPatches(dst []float64, s *surface, at [3]float64, up, weight float64) {
	if s.first < 0 {
		return
	}
	n := (s.to[0] - s.from[0]) * (s.to[1] - s.from[1])
	rects := r.rects[s.first : s.first+n]
	for j, out := range dst[s.first : s.first+n] {
		rc := &rects[j]
		if k := kernel(at, 2, up, rc.centre, rc.axis, rc.sign); k > 0 && (r.uniform() || r.visible(at, rc.centre)) {
			dst[s.first+j] = out + weight*rc.area*k
		}
	}
}

// isPatches says whether the patches of a side in a copy of the box are far enough
// from a place to be taken for their middles: that errs by (size/d)² of what comes by
// way of the copy, which may be a quarter of MaxError of the whole.
func (r *Room) isPatches(s *surface, at [3]float64, img image) bool {
	d2 := 0.0
	for a := range 3 {
		gap := max(0, s.lo[a]-at[a], at[a]-s.hi[a])
		d2 += gap * gap
	}
	size := r.rects[s.first].size
	return img.weight*size*size <= r.opt.MaxError/4*d2
}

// gatherFrom adds what a surface at a place of the box gets by way of one copy, by
// exact view factors.
func (r *Room) gatherFrom(dst []float64, at [3]float64, img image, scratch *[]float64) {
	up := turned(img.n[2])
	base, places := img.ring == 0, 2
	if base {
		places = 5
	}
	at = r.space.seen(at, img.n)
	for i := range r.surfaces {
		s := &r.surfaces[i]
		if s.first < 0 {
			continue
		}
		if !base && r.uniform() && r.isPatches(s, at, img) {
			r.gatherPatches(dst, s, at, up, img.weight)
			continue
		}
		b, c := s.free()
		var state []shade // of each patch; nil if all is free
		if !r.uniform() {
			switch r.shadeOf(at, at, s.lo, s.hi) {
			case hidden:
				continue
			case partly:
				state = make([]shade, (s.to[0]-s.from[0])*(s.to[1]-s.from[1]))
				for j := range state {
					rc := &r.rects[s.first+j]
					state[j] = r.shadeOf(at, at, rc.lo, rc.hi)
				}
			}
		}
		fb, fc := r.fine[b][s.from[0]*finer:s.to[0]*finer+1], r.fine[c][s.from[1]*finer:s.to[1]*finer+1]
		nb, nc := len(fb)-1, len(fc)-1
		if need := (nb + 1) * (nc + 1); cap(*scratch) < need {
			*scratch = make([]float64, need)
		}
		corner := (*scratch)[:(nb+1)*(nc+1)]
		sense := 1.0
		if s.axis == 2 {
			h := (s.at - at[2]) * up
			if s.sign == up {
				continue
			}
			if base && s.side == Above {
				h = max(h, 1e-9)
			}
			if h <= 1e-12 {
				continue
			}
			for i, x := range fb {
				u := x - at[b]
				for j, y := range fc {
					corner[i*(nc+1)+j] = parallelElement(u, y-at[c], h)
				}
			}
		} else {
			x := (at[s.axis] - s.at) * s.sign
			if base {
				x = max(x, 1e-9)
			} else if x <= 1e-9 {
				continue
			}
			sense = up
			for i, y := range fb {
				for j, z := range fc {
					u, v := y-at[b], z-at[c]
					if b == 2 {
						u, v = v, u
					}
					// Minus: light comes from heights above v.
					corner[i*(nc+1)+j] = -perpendicularElement(x, u, max(v*up, 0))
				}
			}
		}
		sense *= img.weight
		width := s.to[1] - s.from[1]
		out := dst[s.first : s.first+(s.to[0]-s.from[0])*width]
		for i, cu := range s.spread[0] {
			lo, hi := corner[i*(nc+1):], corner[(i+1)*(nc+1):]
			nearRow, farRow := out[cu.near*width:], out[cu.far*width:]
			for j, cv := range s.spread[1] {
				f := max(0, sense*((hi[j+1]-lo[j+1])-(hi[j]-lo[j]))) // exactly 0 where clipped
				if state != nil && f > 0 {
					switch state[cu.near*width+cv.near] {
					case hidden:
						continue
					case partly:
						f *= r.seenShare(at, s, fb[i], fb[i+1], fc[j], fc[j+1], places)
					}
				}
				nearRow[cv.near] += f * (1 - cu.share) * (1 - cv.share)
				nearRow[cv.far] += f * (1 - cu.share) * cv.share
				farRow[cv.near] += f * cu.share * (1 - cv.share)
				farRow[cv.far] += f * cu.share * cv.share
			}
		}
	}
}

// seenShare is the share of a cell of a surface that panels leave in sight of p,
// by n × n places of it.
func (r *Room) seenShare(p [3]float64, s *surface, b0, b1, c0, c1 float64, n int) float64 {
	b, c := s.free()
	var q [3]float64
	q[s.axis] = s.at
	seen := 0
	for i := range n {
		q[b] = b0 + (float64(i)+0.5)/float64(n)*(b1-b0)
		for j := range n {
			q[c] = c0 + (float64(j)+0.5)/float64(n)*(c1-c0)
			if r.visible(p, q) {
				seen++
			}
		}
	}
	return float64(seen) / float64(n*n)
}

func clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }

// A lattice carries a smooth function over one horizontal plane of the space:
// nodes that crowd towards the walls, and cubic interpolation between them.
type lattice struct{ x, y []float64 }

// lattice returns that of the plane at height z. The edge of a panel above the
// plane shows in it as a half shadow about as wide as the panel is high above; the
// nodes stand at most a quarter of that apart. ok is false where that cannot be had.
func (r *Room) lattice(z float64) (lat lattice, ok bool) {
	apart := math.Inf(1)
	for _, p := range r.space.Panels {
		if p.Z > z {
			apart = min(apart, (p.Z-z)/4)
		}
		if r.space.Walls[Above].mirror() > 0 { // shows it from below as well
			apart = min(apart, math.Abs(p.Z-z)/4)
		}
	}
	nodes := func(n int, size float64) []float64 {
		// In the middle nodes are π/2 times as far apart as on the average.
		if wide := math.Ceil(math.Pi/2*size/apart) + 1; wide > float64(n) {
			if wide > mostNodesAlong {
				return nil
			}
			n = int(wide)
		}
		return cosines(n, size)
	}
	lat = lattice{
		x: nodes(max(20, r.count[0]*15/8), r.space.Width),
		y: nodes(max(20, r.count[1]*15/8), r.space.Depth),
	}
	return lat, lat.x != nil && lat.y != nil
}

// coarse is a lattice for what is seen in copies that do not touch the box, given
// that for the others. Such light comes from at least the length of the box along
// some axis that mirrors repeat; the nodes stand at most half of the least of these
// lengths apart, where cubic interpolation errs by a few per mille of it. Panels
// throw shadows that need the finer one.
func (r *Room) coarse(lat lattice) lattice {
	if !r.uniform() {
		return lat
	}
	apart := math.Inf(1)
	for _, images := range [][]image{r.images, r.wide} {
		for _, img := range images[upTo(images, touching):] {
			for a, n := range img.n {
				if abs(n) > 1 {
					apart = min(apart, r.space.size(a)/2)
				}
			}
		}
	}
	n := func(size float64) int { return max(8, int(math.Ceil(math.Pi/2*size/apart))+1) }
	if nx, ny := n(r.space.Width), n(r.space.Depth); nx*ny < len(lat.x)*len(lat.y) {
		return lattice{cosines(nx, r.space.Width), cosines(ny, r.space.Depth)}
	}
	return lat
}

// cosines are n nodes that crowd towards both ends.
func cosines(n int, size float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = size * (1 - math.Cos(math.Pi*float64(i)/float64(n-1))) / 2
	}
	return out
}

// mostNodesAlong bounds a lattice; a finer one costs as much as the points.
const mostNodesAlong = 400

// cubic finds the four nodes about v and their Lagrange weights.
func cubic(nodes []float64, v float64) (first int, w [4]float64) {
	n := len(nodes)
	v = clamp(v, nodes[0], nodes[n-1])
	// The nodes are a cosine, so the place is known without a search.
	t := math.Acos(clamp(1-2*v/nodes[n-1], -1, 1)) / math.Pi * float64(n-1)
	first = int(clamp(math.Floor(t)-1, 0, float64(n-4)))
	x := nodes[first : first+4]
	for i := range w {
		w[i] = 1
		for j := range w {
			if j != i {
				w[i] *= (v - x[j]) / (x[i] - x[j])
			}
		}
	}
	return first, w
}
