package plantfigure

import (
	"fmt"
	"math"
	"slices"
)

// mostCells is how many cells a picture is worked on in. A finer one is averaged over
// squares of pixels: linear light loses nothing by it, for a cell that is half leaf is
// half-way between leaf and background, whatever its size.
const mostCells = 1_300_000

// A grid is the picture in cells.
type grid struct {
	w, h   int
	per    int     // pixels along a cell
	mm     float64 // along a cell
	rgb    []float32
	closed []bool // not shown by the photo, or beyond it
	tool   []bool // label and the like
}

func bad(format string, arguments ...any) *Refusal {
	return &Refusal{BadPicture, fmt.Sprintf(format, arguments...), "Take the photo again, with all of the label and of the plant in it."}
}

// onGrid averages a picture over cells. The picture's own errors are refused.
func onGrid(p *Picture) (*grid, error) {
	switch {
	case p.Width < 8 || p.Height < 8:
		return nil, bad("The picture has %d × %d pixels, too few to measure in.", p.Width, p.Height)
	case p.Width > 1<<15 || p.Height > 1<<15 || len(p.Pix) != 3*p.Width*p.Height:
		return nil, bad("The picture is said to have %d × %d pixels and holds %d values for them.", p.Width, p.Height, len(p.Pix))
	case p.Seen != nil && len(p.Seen) != p.Width*p.Height:
		return nil, bad("%d pixels are said to be seen or not, of a picture of %d × %d.", len(p.Seen), p.Width, p.Height)
	case !(p.PerPixel > 0) || p.PerPixel > 50:
		return nil, bad("A pixel is said to be %g mm.", p.PerPixel)
	}
	g := &grid{per: 1}
	for p.Width/g.per*(p.Height/g.per) > mostCells {
		g.per++
	}
	g.w, g.h = p.Width/g.per, p.Height/g.per
	g.mm = p.PerPixel * float64(g.per)
	g.rgb = make([]float32, 3*g.w*g.h)
	scale := float32(1 / float64(g.per*g.per))
	dark := make([]bool, g.h) // rows that hold what is no light
	bands(g.h, func(from, to int) {
		for y := from; y < to; y++ {
			out := g.rgb[3*y*g.w : 3*(y+1)*g.w]
			for dy := range g.per {
				row := p.Pix[3*(y*g.per+dy)*p.Width:][:3*p.Width]
				k := 0
				for x := range g.w {
					var r, gr, b float32
					for range g.per {
						r += row[k]
						gr += row[k+1]
						b += row[k+2]
						k += 3
					}
					out[3*x] += r * scale
					out[3*x+1] += gr * scale
					out[3*x+2] += b * scale
				}
			}
			for _, v := range out {
				dark[y] = dark[y] || !(v > -1e3 && v < 1e6) // also when it is no number
			}
		}
	})
	if slices.Contains(dark, true) {
		return nil, bad("The picture holds a value that is no light.")
	}
	g.closed = make([]bool, g.w*g.h)
	if p.Seen != nil {
		for y := range g.h {
			for dy := range g.per {
				row := p.Seen[(y*g.per+dy)*p.Width:][:p.Width]
				for x := range g.w {
					if slices.Contains(row[x*g.per:(x+1)*g.per], false) {
						g.closed[y*g.w+x] = true
					}
				}
			}
		}
	}
	g.tool = make([]bool, g.w*g.h)
	for _, ring := range p.NotPlant {
		fill(g.tool, g.w, g.h, ring, 1/float64(g.per))
	}
	return g, nil
}

// fill sets the cells whose centre lies in a ring, after scaling its points.
func fill(mask []bool, w, h int, ring Ring, scale float64) {
	var cross []float64
	for y := range h {
		cy := float64(y) + 0.5
		cross = cross[:0]
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			ay, by := a.Y*scale, b.Y*scale
			if (ay <= cy) != (by <= cy) {
				cross = append(cross, scale*(a.X+(b.X-a.X)*(cy-ay)/(by-ay)))
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			from := max(0, int(math.Ceil(cross[i]-0.5)))
			to := min(w, int(math.Ceil(cross[i+1]-0.5)))
			for x := from; x < to; x++ {
				mask[y*w+x] = true
			}
		}
	}
}
