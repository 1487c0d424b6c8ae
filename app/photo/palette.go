package photo

import (
	"image"
	"image/color"
	"slices"
)

// bins are colours of five bits each.
const bins = 1 << 15

func bin(r, g, b uint8) int { return int(r>>3)<<10 | int(g>>3)<<5 | int(b>>3) }

// paletteOf chooses 256 colours for pictures by cutting the box of colours with the most
// pixels in the middle of its longest side, again and again (median cut).
func paletteOf(pictures []*image.RGBA) color.Palette {
	var count [bins]int
	for _, p := range pictures {
		for i := 0; i < len(p.Pix); i += 4 {
			count[bin(p.Pix[i], p.Pix[i+1], p.Pix[i+2])]++
		}
	}
	part := func(c, axis int) int { return c >> (10 - 5*axis) & 31 }
	var all []int
	for c, n := range count {
		if n > 0 {
			all = append(all, c)
		}
	}
	type box struct {
		colours    []int
		axis, long int
		pixels     int
	}
	of := func(colours []int) box {
		b := box{colours: colours}
		for axis := range 3 {
			lo, hi := 31, 0
			for _, c := range colours {
				lo, hi = min(lo, part(c, axis)), max(hi, part(c, axis))
			}
			if hi-lo > b.long {
				b.axis, b.long = axis, hi-lo
			}
		}
		for _, c := range colours {
			b.pixels += count[c]
		}
		return b
	}
	boxes := []box{of(all)}
	for len(boxes) < 256 {
		at, most := -1, 0
		for i, b := range boxes {
			if v := b.long * b.long * min(b.pixels, 1<<30); b.long > 0 && v > most {
				at, most = i, v
			}
		}
		if at < 0 {
			break
		}
		b := boxes[at]
		slices.SortStableFunc(b.colours, func(x, y int) int { return part(x, b.axis) - part(y, b.axis) })
		half, cut := 0, 0
		for cut = 1; cut < len(b.colours); cut++ {
			if half += count[b.colours[cut-1]]; half*2 >= b.pixels {
				break
			}
		}
		cut = min(cut, len(b.colours)-1)
		boxes[at] = of(b.colours[:cut])
		boxes = append(boxes, of(b.colours[cut:]))
	}
	var out color.Palette
	for _, b := range boxes {
		var sum [3]int
		for _, c := range b.colours {
			for axis := range 3 {
				sum[axis] += count[c] * (part(c, axis) * 255 / 31)
			}
		}
		n := max(b.pixels, 1)
		out = append(out, color.RGBA{uint8(sum[0] / n), uint8(sum[1] / n), uint8(sum[2] / n), 255})
	}
	return out
}

// A nearest finds the nearest colour of a palette, once for each bin.
type nearest struct {
	p     color.Palette
	known [bins]int16
}

func newNearest(p color.Palette) *nearest {
	n := &nearest{p: p}
	for i := range n.known {
		n.known[i] = -1
	}
	return n
}

func (n *nearest) of(r, g, b uint8) uint8 {
	i := bin(r, g, b)
	if n.known[i] < 0 {
		n.known[i] = int16(n.p.Index(color.RGBA{uint8(int(r>>3) * 255 / 31), uint8(int(g>>3) * 255 / 31), uint8(int(b>>3) * 255 / 31), 255}))
	}
	return uint8(n.known[i])
}
