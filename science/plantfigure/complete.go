package plantfigure

import "math"

// tintBins is the number of bins along each of a/L and b/L by which colours of the
// background are remembered; they span ±tintSpan.
const (
	tintBins = 24
	tintSpan = 0.36
)

// binOf is the bin of a tint.
func binOf(t tint) int {
	sin, cos := math.Sincos(t.hue * math.Pi / 180)
	bin := func(v float64) int {
		return min(tintBins-1, max(0, int((v*t.saturation+tintSpan)/(2*tintSpan)*tintBins)))
	}
	return bin(sin)*tintBins + bin(cos)
}

// A memory is what the background around a plant looks like.
type memory struct {
	known [tintBins * tintBins]bool // that it has a tint, or one next to it
	top   float64                   // luminance that a twentieth of it exceeds
	dark  bool                      // as dark as the shade between leaves
}

// remember looks at every third cell that is neither nearer to the plant than some cells
// nor green; nil if there are too few.
func (c *cut) remember(v view, plant []bool, outside []int32, beyond float64) *memory {
	pal := thePalette()
	var count [tintBins * tintBins]int
	var light [512]int
	n := 0
	clear := int32(math.Pow(max(mixesOver, beyond), 2))
	for y := range v.h {
		for x := y % 3; x < v.w; x += 3 {
			k, i := y*v.w+x, v.at(x, y)
			if plant[k] || c.green[i] || outside[k] < clear || c.closed[i] || c.tool[i] {
				continue
			}
			count[pal.bin[pal.at(c.rgb[3*i], c.rgb[3*i+1], c.rgb[3*i+2])]]++
			light[min(511, max(0, int(c.light[i]*256)))]++
			n++
		}
	}
	if n < 50 {
		return nil
	}
	m := &memory{}
	for k := range count {
		s := 0
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if x, y := k%tintBins+dx, k/tintBins+dy; x >= 0 && y >= 0 && x < tintBins && y < tintBins {
					s += count[y*tintBins+x]
				}
			}
		}
		m.known[k] = float64(s) >= knownOutside*float64(n)
	}
	m.top = float64(quantile(light[:], 0, len(light), 0.95)+1) / 256
	m.dark = float64(quantile(light[:], 0, len(light), 0.5))/256 < 0.5*c.medianLight
	return m
}

// bronze adds what lies in a hole of a plant of two colours, or in a bay near to red leaf
// and near to green leaf, and has the hue between: a leaf that passes from one to the other.
// Brown ground in a gap looks the same, so it counts among what may be either.
func (c *cut) bronze(v view, plant, look, hole []bool) {
	red, green := make([]bool, len(plant)), make([]bool, len(plant))
	var reds, greens int
	for y := range v.h {
		for x := range v.w {
			if k := y*v.w + x; plant[k] {
				i := v.at(x, y)
				if c.rgb[3*i] > c.rgb[3*i+1] {
					red[k] = true
					reds++
				} else {
					green[k] = true
					greens++
				}
			}
		}
	}
	if n := reds + greens; 10*reds < n || 10*greens < n {
		return
	}
	pal := thePalette()
	reach := int32(math.Round(closesOver / c.mm * closesOver / c.mm))
	toRed, toGreen := squaredDistance(red, v.w, v.h, true), squaredDistance(green, v.w, v.h, true)
	for k, in := range look {
		if !in || plant[k] || (toRed[k] > reach || toGreen[k] > reach) && !hole[k] {
			continue
		}
		i := v.at(k%v.w, k/v.w)
		t := pal.tint(c.rgb[3*i], c.rgb[3*i+1], c.rgb[3*i+2])
		if t.hue > 20 && t.hue < greenFull && t.saturation > leastLeafy && float64(c.light[i]) < shineBright*c.medianLight {
			plant[k] = true
			c.gapCells++
		}
	}
}

// enclosed marks what is closed in by a mask once channels are sealed that are no wider
// than twice the root of seal; outside is the squared distance to the mask.
func enclosed(mask []bool, outside []int32, w, h int, seal int32) []bool {
	open := make([]bool, w*h)
	for k, d := range outside {
		open[k] = d > seal
	}
	labels, parts := label(open, w, h, false)
	out := make([]bool, w*h)
	var front, next []int
	for k, l := range labels {
		if l > 0 && !parts[l-1].rim {
			out[k] = true
			front = append(front, k)
		}
	}
	// What the sealing took away from those parts is given back.
	for range int(math.Sqrt(float64(seal))) + 1 {
		next = next[:0]
		for _, k := range front {
			for _, j := range [4]int{k - 1, k + 1, k - w, k + w} {
				if j >= 0 && j < len(out) && !out[j] && !mask[j] {
					out[j] = true
					next = append(next, j)
				}
			}
		}
		front, next = next, front
	}
	// Holes that are narrower than that.
	for k := range open {
		open[k] = !mask[k]
	}
	labels, parts = label(open, w, h, false)
	for k, l := range labels {
		if l > 0 && !parts[l-1].rim {
			out[k] = true
		}
	}
	return out
}

// complete adds what is enclosed by leaf, or lies in a narrow bay of it, and is not
// background: pale hearts, highlights, bronze and burnt leaf, the shade between leaves.
func (c *cut) complete() {
	v := c.around(c.box, int(max(15/c.mm, float64(c.box.right-c.box.left)/4)))
	w, h := v.w, v.h
	plant := v.crop(c.plant)
	outside := squaredDistance(plant, w, h, true)
	mem := c.remember(v, plant, outside, closesOver/c.mm)
	if mem == nil {
		mem = c.remember(v, plant, outside, mixesOver)
	}
	if mem == nil { // no background to tell leaf from
		return
	}

	// Holes, and bays: what is nearer than closesOver to the plant, and as far from all
	// that is not (closing by a disc).
	rr := int32(math.Round(closesOver / c.mm * closesOver / c.mm))
	away := make([]bool, w*h)
	for k, d := range outside {
		away[k] = d > rr
	}
	inward := squaredDistance(away, w, h, true)
	for k, d := range inward { // beyond the view is background too
		edge := int32(min(k%w, k/w, w-1-k%w, h-1-k/w) + 1)
		inward[k] = min(d, edge*edge)
	}
	hole := enclosed(plant, outside, w, h, int32(math.Pow(max(1.5, sealsOver/c.mm), 2)))
	pal := thePalette()
	look, may := make([]bool, w*h), make([]bool, w*h)
	for y := range h {
		for x := range w {
			k, i := y*w+x, v.at(x, y)
			if plant[k] || c.tool[i] || c.closed[i] || inward[k] <= rr && !hole[k] {
				continue
			}
			look[k] = true
			switch light := float64(c.light[i]); {
			case c.green[i], hole[k] && int(c.leafy[i]) >= c.threshold:
				may[k] = true
			case light < deepShade*c.medianLight:
				may[k] = hole[k] && !mem.dark // the shade between leaves
			case light > 1.3*mem.top:
				may[k] = true // brighter than the background is anywhere
			case !mem.known[pal.bin[pal.at(c.rgb[3*i], c.rgb[3*i+1], c.rgb[3*i+2])]]:
				may[k] = true
			}
		}
	}
	vote(may, w, h)
	for k, l := range look {
		may[k] = may[k] && l
	}
	// Where leaf and background meet, their mixture has a tint that neither has. What does
	// not reach beyond that is left to the soft edge.
	mayBe, pieces := label(may, w, h, true)
	reaches := make([]bool, len(pieces)+1)
	for k, l := range mayBe {
		if l > 0 && (outside[k] >= mixesOver*mixesOver || hole[k]) {
			reaches[l] = true
		}
	}
	for k, l := range mayBe {
		may[k] = reaches[l]
	}

	// Part by part: nearly all of it, or only the cells that may be leaf.
	labels, parts := label(look, w, h, false)
	type part struct {
		may, shine int
		light      float64
	}
	sums := make([]part, len(parts)+1)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			k := y*w + x
			if labels[k] == 0 {
				continue
			}
			p, i := &sums[labels[k]], v.at(x, y)
			p.may += b2i(may[k])
			p.light += float64(c.light[i])
			p.shine += b2i(float64(c.light[i]) > shineBright*c.medianLight)
		}
	}
	filled := make([]bool, len(parts)+1)
	for l, p := range sums[1:] {
		n := float64(parts[l].cells)
		size := n * c.mm * c.mm
		switch {
		case size < smallestHole, float64(p.may) > 0.8*n:
			filled[l+1] = true
		case float64(p.shine) > 0.5*n && size < shineLargest && p.light > 0.85*mem.top*n:
			filled[l+1] = true // a highlight, as bright as the background in full light
		}
	}
	c.bronze(v, plant, look, hole)
	for k, l := range labels {
		if filled[l] || may[k] {
			plant[k] = true
		}
	}
	// What is still open may be gap or deep shade.
	space := away
	for k := range space {
		space[k] = !plant[k]
	}
	labels, parts = label(space, w, h, false)
	for y := range h {
		for x := range w {
			k, i := y*w+x, v.at(x, y)
			if l := labels[k]; l > 0 && !parts[l-1].rim {
				if size := float64(parts[l-1].cells) * c.mm * c.mm; size < smallestHole {
					plant[k] = true
				} else if float64(c.light[i]) < deepShade*c.medianLight || size < 10*smallestHole {
					c.gapCells++
				}
			}
			c.plant[i] = plant[k]
		}
	}
}
