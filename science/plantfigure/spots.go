package plantfigure

import (
	"cmp"
	"math"
	"slices"
)

// Constants of what is burnt; no source, see docs/photos.md.
const (
	leastSpot     = 0.8  // mm²; smaller ones are noise
	spotDepth     = 2.0  // cells from the edge that a spot must reach: a thin rim is leaf mixed with background
	spotLargest   = 0.15 // of the leaf area; more is a bronze leaf
	paleBurn      = 0.05 // saturation under which a colour has no hue to judge
	ringWidth     = 3.0  // mm around a spot in which its leaf is looked at
	spotsMost     = 60   // candidates that are told; the likeliest
	hueUnsure     = 4.0  // degrees, standard deviation with corrected colours
	hueUncorrect  = 9.0  // without
	brightAgainst = 0.9  // of the median luminance of leaves, above which tan is yellow and not brown
)

// brownness is how brown a tint is, 0 to 1. On a plant without red leaf, what is red is
// burnt too.
func brownness(t tint, redLeaf bool) float64 {
	from, full := redNone-8, redNone+4
	if !redLeaf {
		from, full = -10, 15
	}
	return min(ramp(t.hue, from, full), ramp(t.hue, 97, 82)) * ramp(t.saturation, paleBurn, 0.11)
}

// redLeafShare is the share of red cells from which a plant has red leaves.
const redLeafShare = 0.08

// colourShares is what the colours of a plant tell, sorted cell by cell.
type colourShares struct {
	leaf             float64
	yellow, red      [3]float64 // at hues moved by -sd, 0, +sd
	green, greenDark float64    // sum of DGCI, and of DGCI in light stronger by a twentieth
	greenCells       float64
	brown            []float32 // of cells in the box of the plant, 0 where leaf is sound
}

func (c *cut) colourShares(corrected bool) *colourShares {
	s := &colourShares{}
	pal := thePalette()
	bw := c.box.right - c.box.left
	s.brown = make([]float32, bw*(c.box.down-c.box.top))
	sd := hueUncorrect
	if corrected {
		sd = hueUnsure
	}
	each := func(f func(i, k int, v float64, t tint)) {
		for y := c.box.top; y < c.box.down; y++ {
			for x := c.box.left; x < c.box.right; x++ {
				i := y*c.w + x
				if v := c.share[i]; v >= 0.5 {
					f(i, (y-c.box.top)*bw+x-c.box.left, float64(v), pal.tint(c.rgb[3*i], c.rgb[3*i+1], c.rgb[3*i+2]))
				}
			}
		}
	}
	each(func(i, k int, v float64, t tint) {
		s.leaf += v
		dim := float64(c.light[i]) < brightAgainst*c.medianLight
		for j := range 3 {
			hue := t.hue + float64(j-1)*sd
			switch {
			case hue >= yellowFrom && hue <= yellowTo && t.saturation >= yellowSaturation && !(dim && hue < greenFull):
				s.yellow[j] += v
			case hue >= redFrom && hue <= redNone && t.saturation >= leastLeafy:
				s.red[j] += v
			}
		}
	})
	redLeaf := s.red[1] > redLeafShare*s.leaf
	each(func(i, k int, v float64, t tint) {
		if light := float64(c.light[i]); light > darkest && light < brightAgainst*c.medianLight {
			if b := brownness(t, redLeaf); b > 0.5 {
				s.brown[k] = float32(b)
				return
			}
		}
		if k%bw%5 == 0 && k/bw%5 == 0 { // every 25th cell is enough for a mean
			r, g, b := float64(c.rgb[3*i]), float64(c.rgb[3*i+1]), float64(c.rgb[3*i+2])
			s.green += DGCI(r, g, b)
			s.greenDark += DGCI(1.05*r, 1.05*g, 1.05*b)
			s.greenCells++
		}
	})
	return s
}

// share is a share of the leaf area with what a shift of all hues would do to it.
func (s *colourShares) share(v [3]float64) Value {
	if s.leaf == 0 {
		return Value{Value: math.NaN()}
	}
	return newValue(v[1]/s.leaf, Part{CauseColour, (math.Abs(v[0]-v[1]) + math.Abs(v[2]-v[1])) / 2 / s.leaf})
}

// spots finds what looks burnt, and its share of both zones.
func (c *cut) spots(s *colourShares, heart Point, model BurnModel) (spots []Spot, inner, outer Value) {
	box := c.box
	bw, bh := box.right-box.left, box.down-box.top
	at := func(k int) int { return (k/bw+box.top)*c.w + k%bw + box.left }
	crown := make([]bool, bw*bh)
	for k := range crown {
		crown[k] = c.share[at(k)] >= 0.5
	}
	depth := squaredDistance(crown, bw, bh, false)
	for k, in := range crown { // what lies beyond the box is not plant either
		if in {
			edge := int32(min(k%bw, k/bw, bw-1-k%bw, bh-1-k/bw) + 1)
			depth[k] = min(depth[k], edge*edge)
		}
	}
	radius := math.Sqrt(c.cells/math.Pi) / 2
	isInner := func(k int) bool {
		return math.Hypot(float64(k%bw+box.left)+0.5-heart.X, float64(k/bw+box.top)+0.5-heart.Y) < radius
	}
	var zone [2]float64
	for k, in := range crown {
		if in {
			zone[b2i(isInner(k))]++
		}
	}
	browns := make([]bool, bw*bh)
	for k, b := range s.brown {
		browns[k] = b > 0
	}
	labels, pieces := label(browns, bw, bh, true)
	type sum struct {
		deep               bool
		brown, light, x, y float64
		inner, border, rim int
		ring               float64
		ringCells          int
	}
	sums := make([]sum, len(pieces))
	for k, l := range labels {
		if l == 0 {
			continue
		}
		p := &sums[l-1]
		p.deep = p.deep || float64(depth[k]) >= spotDepth*spotDepth
		p.brown += float64(s.brown[k])
		p.light += float64(c.light[at(k)])
		p.x += float64(k%bw) + 0.5
		p.y += float64(k/bw) + 0.5
		p.inner += b2i(isInner(k))
		for _, j := range [4]int{k - 1, k + 1, k - bw, k + bw} {
			if j < 0 || j >= len(labels) || labels[j] == l {
				continue
			}
			p.rim++
			if !crown[j] || depth[j] <= 2 {
				p.border++
			}
		}
	}
	total := float64(bw * bh)
	var expect, chance2, common [2]float64
	for l, p := range pieces {
		q := &sums[l]
		area := float64(p.cells) * c.mm * c.mm
		if area < leastSpot || p.cells < 4 || !q.deep || float64(p.cells) > spotLargest*min(total, c.cells) {
			continue
		}
		pad := max(2, int(ringWidth/c.mm))
		for y := max(0, p.top-pad); y < min(bh, p.down+pad); y++ {
			for x := max(0, p.left-pad); x < min(bw, p.right+pad); x++ {
				if k := y*bw + x; crown[k] && !browns[k] && depth[k] > 2 {
					q.ring += float64(c.light[at(k)])
					q.ringCells++
				}
			}
		}
		n := float64(p.cells)
		f := Features{Brown: q.brown / n, Size: math.Log(area / 4)}
		if q.ringCells > 0 && q.light > 0 {
			f.Contrast = min(3, max(-3, math.Log2(q.ring/float64(q.ringCells)/(q.light/n))))
		}
		if q.inner*2 > p.cells {
			f.Inner = 1
		}
		if q.rim > 0 {
			f.Border = float64(q.border) / float64(q.rim)
		}
		spot := Spot{
			At:   Point{(q.x/n + float64(box.left)) * float64(c.per), (q.y/n + float64(box.top)) * float64(c.per)},
			Area: area, Inner: f.Inner == 1, Seen: f,
		}
		spot.Chance, spot.ChanceSD = model.Chance(f)
		for i, cells := range [2]float64{n - float64(q.inner), float64(q.inner)} {
			expect[i] += cells * spot.Chance
			chance2[i] += cells * cells * spot.Chance * (1 - spot.Chance)
			common[i] += cells * spot.ChanceSD
		}
		pw, ph := p.right-p.left, p.down-p.top
		m := make([]float32, pw*ph)
		for y := range ph {
			for x := range pw {
				if labels[(y+p.top)*bw+x+p.left] == int32(l+1) {
					m[y*pw+x] = 1
				}
			}
		}
		for _, r := range contours(m, pw, ph) {
			if r.area() > spot.Outline.area() {
				spot.Outline = r
			}
		}
		for i := range spot.Outline {
			spot.Outline[i].X = (spot.Outline[i].X + float64(p.left+box.left)) * float64(c.per)
			spot.Outline[i].Y = (spot.Outline[i].Y + float64(p.top+box.top)) * float64(c.per)
		}
		spots = append(spots, spot)
	}
	slices.SortStableFunc(spots, func(a, b Spot) int {
		return cmp.Or(cmp.Compare(b.Chance, a.Chance), cmp.Compare(b.Area, a.Area))
	})
	if len(spots) > spotsMost {
		spots = spots[:spotsMost]
	}
	value := func(i int) Value {
		if zone[i] == 0 {
			return Value{Value: math.NaN()}
		}
		return newValue(expect[i]/zone[i], Part{CauseBurn, math.Sqrt(chance2[i]+common[i]*common[i]) / zone[i]})
	}
	return spots, value(1), value(0)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
