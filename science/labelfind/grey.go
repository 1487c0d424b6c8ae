package labelfind

import (
	"image"
	"runtime"
	"sync"
)

// grey is the luma of a photo, or of a smaller copy.
type grey struct {
	w, h int
	pix  []uint8
}

// luma takes the grey picture out of a photo: the Y of a JPEG is one already.
func luma(m image.Image) *grey {
	b := m.Bounds()
	g := &grey{b.Dx(), b.Dy(), nil}
	if y, ok := m.(*image.YCbCr); ok && y.YStride == g.w {
		o := y.YOffset(b.Min.X, b.Min.Y)
		g.pix = y.Y[o : o+g.w*g.h]
		return g
	}
	g.pix = make([]uint8, g.w*g.h)
	rows(g.h, func(y int) {
		out := g.pix[y*g.w : (y+1)*g.w]
		switch m := m.(type) {
		case *image.YCbCr:
			o := m.YOffset(b.Min.X, b.Min.Y+y)
			copy(out, m.Y[o:o+g.w])
		case *image.Gray:
			o := m.PixOffset(b.Min.X, b.Min.Y+y)
			copy(out, m.Pix[o:o+g.w])
		case *image.RGBA:
			o := m.PixOffset(b.Min.X, b.Min.Y+y)
			grey4(out, m.Pix[o:])
		case *image.NRGBA:
			o := m.PixOffset(b.Min.X, b.Min.Y+y)
			grey4(out, m.Pix[o:])
		default:
			for x := range out {
				r, gr, bl, _ := m.At(b.Min.X+x, b.Min.Y+y).RGBA()
				out[x] = uint8((299*r + 587*gr + 114*bl) / 1000 >> 8)
			}
		}
	})
	return g
}

// grey4 is the luma of pixels of four bytes.
func grey4(out, pix []uint8) {
	for x := range out {
		p := pix[4*x : 4*x+3]
		out[x] = uint8((299*uint32(p[0]) + 587*uint32(p[1]) + 114*uint32(p[2])) / 1000)
	}
}

// shrunk is the picture with k × k pixels made one.
func (g *grey) shrunk(k int) *grey {
	out := &grey{g.w / k, g.h / k, make([]uint8, (g.w/k)*(g.h/k))}
	rows(out.h, func(y int) {
		sum := make([]uint32, out.w)
		for j := range k {
			row := g.pix[(y*k+j)*g.w : (y*k+j)*g.w+out.w*k]
			for x := range sum {
				s := uint32(0)
				for _, v := range row[x*k : x*k+k] {
					s += uint32(v)
				}
				sum[x] += s
			}
		}
		for x, s := range sum {
			out.pix[y*out.w+x] = uint8(s / uint32(k*k))
		}
	})
	return out
}

// at is the picture between pixels, by its four neighbours; beyond its edge, that of the edge.
// Pixel (0, 0) has its centre at (0.5, 0.5).
func (g *grey) at(x, y float64) float64 {
	x, y = min(max(x-0.5, 0), float64(g.w-1)), min(max(y-0.5, 0), float64(g.h-1))
	i, j := min(int(x), g.w-2), min(int(y), g.h-2)
	a, b := x-float64(i), y-float64(j)
	p := g.pix[j*g.w+i:]
	return (1-b)*((1-a)*float64(p[0])+a*float64(p[1])) + b*((1-a)*float64(p[g.w])+a*float64(p[g.w+1]))
}

// holds says that a place lies in the picture, a margin away from its edge.
func (g *grey) holds(x, y, margin float64) bool {
	return x >= margin && y >= margin && x <= float64(g.w)-margin && y <= float64(g.h)-margin
}

// dark tells pixels that are darker than their surroundings: those below the mean of a
// square about them by more than the noise. One byte a pixel, 1 is dark.
func (g *grey) dark() []uint8 {
	const reach, noise = 24, 6
	// Sums over columns, moved down row by row, then along the row. Bands of rows run side by side.
	out := make([]uint8, g.w*g.h)
	bands := runtime.GOMAXPROCS(0)
	var wait sync.WaitGroup
	for band := range bands {
		wait.Go(func() {
			from, to := g.h*band/bands, g.h*(band+1)/bands
			column := make([]int32, g.w)
			lo, hi := max(0, from-reach), max(0, from-reach) // rows [lo, hi) are in column
			for y := from; y < to; y++ {
				for ; hi < min(g.h, y+reach+1); hi++ {
					for x, v := range g.pix[hi*g.w : (hi+1)*g.w] {
						column[x] += int32(v)
					}
				}
				for ; lo < y-reach; lo++ {
					for x, v := range g.pix[lo*g.w : (lo+1)*g.w] {
						column[x] -= int32(v)
					}
				}
				sum, l, r := int32(0), 0, 0
				row, dst := g.pix[y*g.w:(y+1)*g.w], out[y*g.w:(y+1)*g.w]
				n := int32(hi - lo)
				for x := range row {
					for ; r < min(g.w, x+reach+1); r++ {
						sum += column[r]
					}
					for ; l < x-reach; l++ {
						sum -= column[l]
					}
					if (int32(row[x])+noise)*n*int32(r-l) < sum {
						dst[x] = 1
					}
				}
			}
		})
	}
	wait.Wait()
	return out
}

// rows calls f for each row, on all processors.
func rows(h int, f func(y int)) {
	n := runtime.GOMAXPROCS(0)
	var wait sync.WaitGroup
	for i := range n {
		wait.Go(func() {
			for y := h * i / n; y < h*(i+1)/n; y++ {
				f(y)
			}
		})
	}
	wait.Wait()
}
