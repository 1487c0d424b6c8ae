package lightfield

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// An image is one copy of the box in the lattice that its mirror sides show. Along
// an axis of length L, copy n of a place x is at
//
//	n L + x for even n,   (n+1) L − x for odd n
//
// and light from there has met the far mirror ⌈n/2⌉ and the near one ⌊n/2⌋ times
// if n is above 0, and the other way round below. How often does not depend on
// the places, so that every copy has one weight: the mirror shares multiplied.
type image struct {
	n      [3]int
	weight float64
	ring   int // largest |n|
	class  class
}

// A class of copies says how closely they are looked at.
type class int

const (
	touching class = iota // the box, and copies that touch it: as the box
	apart                 // patch by patch
	distant               // in blocks
)

// classOf is how closely a copy must be looked at. A block that is taken for its
// middle errs by about (size/d)², size being the half diagonals of the two blocks
// and d their distance; that counts by the weight of the copy, and may be MaxError of
// what one side sends to another. From the fourth ring on it is taken in any case.
func (s *Space) classOf(img image, maxError float64) class {
	if img.ring <= 1 {
		return touching
	}
	if img.ring > patchRings {
		return distant
	}
	d2, least := 0.0, math.Inf(1)
	for a, n := range img.n {
		l := s.size(a)
		if k := abs(n) - 1; k > 0 {
			d2 += float64(k*k) * l * l
		}
		least = min(least, l)
	}
	diagonal2 := s.Width*s.Width + s.Depth*s.Depth + s.Height*s.Height - least*least
	if img.weight*diagonal2/(blocksAlong*blocksAlong) <= maxError*d2 {
		return distant
	}
	return apart
}

// patchRings is how many rings of copies are taken patch by patch at most.
const patchRings = 3

// A place in copy n is lit by the box as its place in the box is lit by the copy;
// seen is that place for a receiver at p. Directions turn round where n is odd.
func (s *Space) seen(p [3]float64, n [3]int) [3]float64 {
	for a := range 3 {
		if l := s.size(a); n[a]%2 == 0 {
			p[a] -= float64(n[a]) * l
		} else {
			p[a] = float64(n[a]+1)*l - p[a]
		}
	}
	return p
}

// turned is −1 for an odd copy, whose directions are turned round, else 1.
func turned(n int) float64 {
	if n%2 == 0 {
		return 1
	}
	return -1
}

// mostRings bounds how far light is followed along one axis.
const mostRings = 60

// imagesOf lists the copies that matter by their class, nearest first; the first is
// the box. The light that is given up is at most lost, a quarter of maxError, as a
// share of what a lamp or side sends out.
//
// A ring N along an axis is left out if light from no kind of source keeps more than
// its part of lost after N lengths of the box along that axis. What is left of
// light in one direction is known: it meets a side of axis b every L_b/|ω_b|, and
// keeps the mirror share each time, or goes to zero where a side has none. The mean
// over directions is taken for a lamp or side whose light goes by Lambert's law
// about z, for sides of the other axes that scatter, and if wide for a lamp that
// shines evenly all round.
func imagesOf(s Space, maxError float64, wide bool) ([]image, error) {
	lost := maxError / 4
	var m [3][2]float64
	mirrors := 0
	for side, w := range s.Walls {
		m[side/2][side%2] = w.mirror()
	}
	for a := range 3 {
		if m[a][0] > 0 || m[a][1] > 0 {
			mirrors++
		}
	}
	if mirrors == 0 {
		return []image{{weight: 1}}, nil
	}
	var reach [3]int
	for a := range 3 {
		switch {
		case m[a][0] == 0 && m[a][1] == 0:
		case m[a][0] == 0 || m[a][1] == 0:
			reach[a] = 1
		default:
			for reach[a] = 1; s.kept(m, a, reach[a], wide) > lost/float64(mirrors); reach[a]++ {
				if reach[a] == mostRings {
					return nil, fmt.Errorf("the sides %v and %v are such good mirrors, so near each other, that light goes to and fro more than %d times; give them a mirror share of %.2f or less", Side(2*a), Side(2*a+1), mostRings, max(0, math.Sqrt(m[a][0]*m[a][1])-0.02))
				}
			}
		}
	}
	var out []image
	for x := -reach[0]; x <= reach[0]; x++ {
		for y := -reach[1]; y <= reach[1]; y++ {
			for z := -reach[2]; z <= reach[2]; z++ {
				w := s.weightOf([3]int{x, y, z})
				// What all the faint copies together could add is far below lost.
				if w > lost*1e-3 {
					img := image{n: [3]int{x, y, z}, weight: w, ring: max(abs(x), abs(y), abs(z))}
					img.class = s.classOf(img, maxError)
					out = append(out, img)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b image) int {
		return cmp.Or(cmp.Compare(a.class, b.class), cmp.Compare(a.ring, b.ring))
	})
	return out, nil
}

// weightOf is the mirror shares met on the way from a copy, multiplied.
func (s Space) weightOf(n [3]int) float64 {
	w := 1.0
	for a, n := range n {
		near, far := n/2, (n+1)/2
		if n < 0 {
			near, far = (1-n)/2, -n/2
		}
		w *= math.Pow(s.Walls[2*a].mirror(), float64(near)) * math.Pow(s.Walls[2*a+1].mirror(), float64(far))
	}
	return w
}

// kept is the largest share, over the kinds of source, of light that is left after
// n lengths of the box along an axis.
func (s Space) kept(m [3][2]float64, axis, n int, wide bool) float64 {
	const steps = 48
	var sum [4]float64 // Lambert about x, y, z; all round
	for i := range steps {
		cz := (float64(i) + 0.5) / steps
		sz := math.Sqrt(1 - cz*cz)
		for j := range steps {
			sin, cos := math.Sincos(math.Pi / 2 * (float64(j) + 0.5) / steps)
			w := [3]float64{sz * cos, sz * sin, cz}
			path := float64(n) * s.size(axis) / w[axis]
			left := 1.0
			for a := range 3 {
				crossed := path * w[a] / s.size(a)
				switch near, far := m[a][0], m[a][1]; {
				case near > 0 && far > 0:
					// One crossing fewer, for the source may stand anywhere.
					left *= math.Pow(math.Sqrt(near*far), max(0, crossed-1))
				case near > 0 || far > 0:
					if crossed > 2 {
						left = 0
					}
				case crossed > 1:
					left = 0
				}
			}
			for a := range 3 {
				sum[a] += 2 * w[a] * left
			}
			sum[3] += left
		}
	}
	most := sum[2]
	for a := range 2 {
		if s.Walls[2*a].reflectance() > 0 || s.Walls[2*a+1].reflectance() > 0 {
			most = max(most, sum[a])
		}
	}
	if wide {
		most = max(most, sum[3])
	}
	return most / (steps * steps)
}
