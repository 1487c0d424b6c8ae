package lightfield

import (
	"math"
	"runtime"
	"sync"
)

// inParallel calls work on the ranges that cut 0..n into blocks, on as many
// processors as there are. Every block writes only its own results, so the
// outcome does not depend on their order.
func inParallel(n, block int, work func(from, to int)) {
	blocks := (n + block - 1) / block
	workers := min(runtime.GOMAXPROCS(0), blocks)
	if workers <= 1 {
		if n > 0 {
			work(0, n)
		}
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for b := w; b < blocks; b += workers {
				work(b*block, min(n, (b+1)*block))
			}
		})
	}
	wg.Wait()
}

// finer is how many strips a patch is cut into along each axis for gathering.
const finer = 2

// gather writes, for a small surface at p that faces up, by how much the
// exitance of every patch lights it. Each patch is cut into finer × finer cells
// whose exitance is interpolated between the middles of patches (flat beyond the
// last), since a surface close to a wall would see the steps between patches. The
// weights are sums of view factors; they add up to the view factor of all that
// reflects. The planting surface is behind the surface, cells that reach below
// its plane are clipped, and a point outside the space counts as the nearest one
// inside.
func (r *Room) gather(dst []float64, p Point, scratch *[]float64) {
	clear(dst)
	at := [3]float64{clamp(p.X, 0, r.space.Width), clamp(p.Y, 0, r.space.Depth), clamp(p.Z, 0, r.space.Height)}
	for side := range Side(NumSides) {
		first := r.first[side]
		if first < 0 || side == Below {
			continue
		}
		a := side.axis()
		b, c := (a+1)%3, (a+2)%3
		nb, nc := r.count[b]*finer, r.count[c]*finer
		db, dc := r.step[b]/finer, r.step[c]/finer
		if need := (nb + 1) * (nc + 1); cap(*scratch) < need {
			*scratch = make([]float64, need)
		}
		corner := (*scratch)[:(nb+1)*(nc+1)]
		if side == Above {
			h := max(r.space.Height-at[2], 1e-9)
			for i := range nb + 1 {
				u := float64(i)*db - at[b]
				for j := range nc + 1 {
					corner[i*(nc+1)+j] = parallelElement(u, float64(j)*dc-at[c], h)
				}
			}
		} else {
			x := at[a]
			if side.far() {
				x = r.space.size(a) - x
			}
			x = max(x, 1e-9)
			for i := range nb + 1 {
				for j := range nc + 1 {
					u, v := float64(i)*db-at[b], float64(j)*dc-at[c]
					if b == 2 {
						u, v = v, u
					}
					// Minus: light comes from heights above v.
					corner[i*(nc+1)+j] = -perpendicularElement(x, u, max(v, 0))
				}
			}
		}
		out := dst[first : first+r.count[b]*r.count[c]]
		for i := range nb {
			lo, hi := corner[i*(nc+1):], corner[(i+1)*(nc+1):]
			near, far, share := between(i, r.count[b])
			nearRow, farRow := out[near*r.count[c]:], out[far*r.count[c]:]
			for j := range nc {
				f := max(0, hi[j+1]-hi[j]-lo[j+1]+lo[j])
				n, m, part := between(j, r.count[c])
				nearRow[n] += f * (1 - share) * (1 - part)
				nearRow[m] += f * (1 - share) * part
				farRow[n] += f * share * (1 - part)
				farRow[m] += f * share * part
			}
		}
	}
}

// between tells which two of n patches fine cell i lies between, and the share
// of the further one.
func between(i, n int) (near, far int, share float64) {
	near = i / finer
	// The middle of the cell as seen from the middle of its patch, in patches.
	off := (float64(i%finer)+0.5)/finer - 0.5
	far = near + 1
	if off < 0 {
		far, off = near-1, -off
	}
	if far < 0 || far >= n {
		return near, near, 0
	}
	return near, far, off
}

func clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }

// A lattice carries a smooth function over one horizontal plane of the space:
// nodes that crowd towards the walls, and cubic interpolation between them.
type lattice struct{ x, y []float64 }

func (r *Room) lattice() lattice {
	nodes := func(n int, size float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = size * (1 - math.Cos(math.Pi*float64(i)/float64(n-1))) / 2
		}
		return out
	}
	return lattice{
		x: nodes(max(20, r.count[0]*5/2), r.space.Width),
		y: nodes(max(20, r.count[1]*5/2), r.space.Depth),
	}
}

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
