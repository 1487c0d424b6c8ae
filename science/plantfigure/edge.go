package plantfigure

import "math"

// edges works out of each cell near the edge which share of it is plant. Light that comes
// from both leaf and background mixes linearly, so the share is where the cell's colour
// lies on the line from the background's colour to the leaf's, both taken as they are
// nearby. Blur moves light across the edge and back, and leaves the sum of shares alone.
func (c *cut) edges(blur float64) {
	if blur <= 0 {
		blur = 1
	}
	band := edgeBand + max(0, 2*(blur/float64(c.per)-1))
	sure := band + 0.5
	b2, s2 := int32(band*band+0.5), int32(math.Ceil(sure*sure))
	const block = 8
	v := c.around(c.box, int(2*sure)+2*block)
	plant := v.crop(c.plant)
	inside := squaredDistance(plant, v.w, v.h, false)
	outside := squaredDistance(plant, v.w, v.h, true)

	// Sums of sure leaf and sure background by blocks.
	bw, bh := (v.w+block-1)/block, (v.h+block-1)/block
	type sum struct{ r, g, b, n float32 }
	leaf, back := make([]sum, bw*bh), make([]sum, bw*bh)
	for y := range v.h {
		for x := range v.w {
			k, i := y*v.w+x, v.at(x, y)
			var s *sum
			switch at := y/block*bw + x/block; {
			case plant[k] && inside[k] >= s2:
				s = &leaf[at]
			case !plant[k] && outside[k] >= s2 && !c.closed[i] && !c.tool[i] && !c.green[i]:
				s = &back[at]
			default:
				continue
			}
			s.r += c.rgb[3*i]
			s.g += c.rgb[3*i+1]
			s.b += c.rgb[3*i+2]
			s.n++
		}
	}
	// The mean over the blocks around, farther out where there are too few.
	mean := func(sums []sum, bx, by int) (m [3]float32, ok bool) {
		for _, reach := range []int{0, 1, 2, 4} {
			var s sum
			for y := max(0, by-reach); y <= min(bh-1, by+reach); y++ {
				for x := max(0, bx-reach); x <= min(bw-1, bx+reach); x++ {
					t := sums[y*bw+x]
					s.r += t.r
					s.g += t.g
					s.b += t.b
					s.n += t.n
				}
			}
			if s.n >= 12 {
				return [3]float32{s.r / s.n, s.g / s.n, s.b / s.n}, true
			}
		}
		return m, false
	}
	c.share = make([]float32, c.w*c.h)
	c.cells = 0
	type pair struct {
		f, b    [3]float32
		ok, set bool
	}
	pairs := make([]pair, bw*bh)
	for y := range v.h {
		for x := range v.w {
			k, i := y*v.w+x, v.at(x, y)
			var share float32
			if plant[k] {
				share = 1
			}
			if (plant[k] && inside[k] <= b2 || !plant[k] && outside[k] <= b2) && !c.tool[i] && !c.closed[i] {
				p := &pairs[y/block*bw+x/block]
				if !p.set {
					var okF, okB bool
					p.f, okF = mean(leaf, x/block, y/block)
					p.b, okB = mean(back, x/block, y/block)
					p.ok, p.set = okF && okB, true
				}
				if p.ok {
					share = mixed([3]float32(c.rgb[3*i:3*i+3]), p.f, p.b, share)
				}
			}
			c.share[i] = share
			c.cells += float64(share)
		}
	}
}

// mixed is which share of the colour i is leaf f, and not background b; otherwise, where
// the two are too much alike to tell.
//
// A cell of background may lie in the shadow of the leaf, so the brightness of both is
// free: i = p·f + q·b by least squares with p, q ≥ 0, and the share is p/(p + q). It takes
// two different tints; before a black background, which no shadow makes darker, or one
// of the leaf's tint, the brightness tells: the share is the place of i on the line from b to f.
func mixed(i, f, b [3]float32, otherwise float32) float32 {
	dot := func(a, b [3]float32) float32 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	ff, bb, fb := dot(f, f), dot(b, b), dot(f, b)
	if bb > 0.04*ff && fb*fb < 0.92*ff*bb { // more than 16 degrees apart
		fi, bi := dot(f, i), dot(b, i)
		det := ff*bb - fb*fb
		p, q := (fi*bb-bi*fb)/det, (bi*ff-fi*fb)/det
		switch {
		case p <= 0:
			return 0
		case q <= 0:
			return 1
		}
		return p / (p + q)
	}
	d := [3]float32{f[0] - b[0], f[1] - b[1], f[2] - b[2]}
	d2 := dot(d, d)
	if d2 < 0.0004+0.01*ff {
		return otherwise
	}
	return min(1, max(0, dot([3]float32{i[0] - b[0], i[1] - b[1], i[2] - b[2]}, d)/d2))
}

// doubtThreshold counts the cells that another threshold would add or take away, near the plant.
func (c *cut) doubtThreshold() {
	low := int(math.Floor(float64(c.threshold) * (1 - thresholdSD)))
	high := int(math.Ceil(float64(c.threshold) * (1 + thresholdSD)))
	w := c.w
	for y := max(1, c.box.top-3); y < min(c.h-1, c.box.down+3); y++ {
		for x := max(1, c.box.left-3); x < min(w-1, c.box.right+3); x++ {
			i := y*w + x
			v := int(c.leafy[i])
			switch {
			case c.plant[i] && v >= c.threshold && v < high:
				c.closeCells[0] += float64(c.share[i])
			case !c.plant[i] && v >= low && v < c.threshold && !c.tool[i] && !c.closed[i] && c.share[i] < 0.1:
				c.closeCells[1]++
			}
		}
	}
}
