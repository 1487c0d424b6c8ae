package plantfigure

import "math"

// A Candidate is a part of a picture that could be a plant.
type Candidate struct {
	Centre     Point // of its area, pixels
	Inside     Point // a pixel of it, pixels
	Area       float64
	Box        [4]float64 // left, top, right, down, pixels
	OnRim      bool       // it reaches the edge of what the photo shows
	boundaries []Point
}

// Distance of the nearest leaf of the candidate from a ring, mm, to about two cells of the
// grid; 0 if the ring touches it. perPixel is that of the picture.
func (c *Candidate) Distance(r Ring, perPixel float64) float64 {
	best := math.Inf(1)
	for _, q := range c.boundaries {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			dx, dy := b.X-a.X, b.Y-a.Y
			t := max(0, min(1, ((q.X-a.X)*dx+(q.Y-a.Y)*dy)/(dx*dx+dy*dy)))
			best = min(best, math.Hypot(q.X-a.X-t*dx, q.Y-a.Y-t*dy))
		}
	}
	return best * perPixel
}

// candidateShare is the share of the largest candidate from which another one counts, and
// candidateLeast the least area, mm² (common practice, no source).
const (
	candidateShare = 0.04
	candidateLeast = 20.0
)

// Candidates are all parts of a picture that could be plants, in the order in which rows meet
// them. Pieces of leaf that lie nearer than 2 mm to each other are one. The error is a
// [*Refusal].
func Candidates(p *Picture) ([]Candidate, error) {
	g, err := onGrid(p)
	if err != nil {
		return nil, err
	}
	c := &cut{grid: g}
	c.colours()
	if err := c.cutOff(); err != nil {
		return nil, err
	}
	c.green = make([]bool, len(c.leafy))
	c.mark(c.green)
	vote(c.green, c.w, c.h)
	// Pieces that crumbs alone make would join what is apart: they go first.
	numbers, pieces := label(c.green, c.w, c.h, true)
	least := leastPiece / (c.mm * c.mm)
	kept := make([]bool, len(c.green))
	for i, k := range numbers {
		kept[i] = k > 0 && float64(pieces[k-1].cells) >= least
	}
	distance := squaredDistance(kept, c.w, c.h, true)
	reach := joins / 2 / c.mm
	wide := make([]bool, len(kept))
	for i, d := range distance {
		wide[i] = float64(d) <= reach*reach
	}
	numbers, pieces = label(wide, c.w, c.h, true)
	out := make([]Candidate, len(pieces))
	cells := make([]int, len(pieces))
	per := float64(c.per)
	for i := range out {
		b := pieces[i]
		out[i].Box = [4]float64{float64(b.left) * per, float64(b.top) * per, float64(b.right) * per, float64(b.down) * per}
	}
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			if !kept[i] {
				continue
			}
			k := numbers[i] - 1
			q := &out[k]
			at := Point{(float64(x) + 0.5) * per, (float64(y) + 0.5) * per}
			if cells[k] == 0 {
				q.Inside = at
			}
			cells[k]++
			q.Centre.X += at.X
			q.Centre.Y += at.Y
			edge := x == 0 || y == 0 || x == c.w-1 || y == c.h-1
			q.OnRim = q.OnRim || edge || c.closed[i-1] || c.closed[i+1] || c.closed[i-c.w] || c.closed[i+c.w]
			if edge || !kept[i-1] || !kept[i+1] || !kept[i-c.w] || !kept[i+c.w] {
				q.boundaries = append(q.boundaries, at)
			}
		}
	}
	most := 0
	for _, n := range cells {
		most = max(most, n)
	}
	var large []Candidate
	for i := range out {
		q := &out[i]
		q.Area = float64(cells[i]) * c.mm * c.mm
		if float64(cells[i]) < candidateShare*float64(most) || q.Area < candidateLeast {
			continue
		}
		q.Centre.X /= float64(cells[i])
		q.Centre.Y /= float64(cells[i])
		large = append(large, *q)
	}
	return large, nil
}
