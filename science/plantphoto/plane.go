package plantphoto

import (
	"image"
	"image/color"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"underlamp/science/labelfind"
	"underlamp/science/pinhole"
	"underlamp/science/plantfigure"
	"underlamp/science/srgb"
)

// A window is a part of a plane that is parallel to a label's, and how finely it is shown.
type window struct {
	x0, y0, x1, y1 float64 // mm on the label
	perMM          float64 // pixels of the picture
}

// sized sets the fineness: as fine as the photo, but no more than a number of pixels.
func (w window) sized(native float64, most float64) window {
	w.perMM = min(native, math.Sqrt(most/((w.x1-w.x0)*(w.y1-w.y0))))
	return w
}

func (w window) pixels() (width, height int) {
	return max(8, int((w.x1-w.x0)*w.perMM)), max(8, int((w.y1-w.y0)*w.perMM))
}

// toPlane takes pixels of the picture to mm.
func (w window) toPlane() pinhole.Homography {
	return pinhole.Homography{{1 / w.perMM, 0, w.x0}, {0, 1 / w.perMM, w.y0}, {0, 0, 1}}
}

var linear = srgb.Table()

// bring makes the picture of a window: linear light, corrected by a matrix, averaged over
// what a pixel of it covers in the photo. onto takes mm on the plane to pixels of the photo.
func bring(m image.Image, onto pinhole.Homography, w window, mix srgb.Matrix) (*plantfigure.Picture, pinhole.Homography) {
	width, height := w.pixels()
	toPhoto := onto.Times(w.toPlane())
	p := &plantfigure.Picture{Width: width, Height: height, PerPixel: 1 / w.perMM, Pix: make([]float32, 3*width*height)}
	bounds := m.Bounds()
	// Samples along a side of a pixel: about one for each pixel of the photo.
	j := toPhoto.Jacobian(pinhole.Point{X: float64(width) / 2, Y: float64(height) / 2})
	n := min(4, max(1, int(math.Sqrt(math.Abs(j[0][0]*j[1][1]-j[0][1]*j[1][0]))+0.5)))
	var k [3][3]float32
	for i := range k {
		for c := range k[i] {
			k[i][c] = float32(mix[i][c] / float64(n*n))
		}
	}
	at := reader(m)
	seen := make([]bool, width*height)
	var missing atomic.Bool
	rows(height, func(y int) {
		for x := range width {
			var r, g, b float32
			whole := true
			for s := range n {
				py := float64(y) + (float64(s)+0.5)/float64(n)
				// A row of samples lies on a line of the photo.
				for t := range n {
					px := float64(x) + (float64(t)+0.5)/float64(n)
					d := 1 / (toPhoto[2][0]*px + toPhoto[2][1]*py + toPhoto[2][2])
					u, v := (toPhoto[0][0]*px+toPhoto[0][1]*py+toPhoto[0][2])*d, (toPhoto[1][0]*px+toPhoto[1][1]*py+toPhoto[1][2])*d
					if !(u >= 0 && v >= 0 && d > 0) || u >= float64(bounds.Dx()) || v >= float64(bounds.Dy()) {
						whole = false
						continue
					}
					if n == 1 {
						r, g, b = between(at, bounds, u, v)
						continue
					}
					q := at(bounds.Min.X+int(u), bounds.Min.Y+int(v))
					r += linear[q[0]]
					g += linear[q[1]]
					b += linear[q[2]]
				}
			}
			o := y*width + x
			if !whole {
				missing.Store(true)
				continue
			}
			seen[o] = true
			p.Pix[3*o] = k[0][0]*r + k[0][1]*g + k[0][2]*b
			p.Pix[3*o+1] = k[1][0]*r + k[1][1]*g + k[1][2]*b
			p.Pix[3*o+2] = k[2][0]*r + k[2][1]*g + k[2][2]*b
		}
	})
	if missing.Load() {
		p.Seen = seen
	}
	return p, toPhoto
}

// between is linear light between pixels.
func between(at func(x, y int) [3]uint8, b image.Rectangle, u, v float64) (r, g, bl float32) {
	u, v = min(max(u-0.5, 0), float64(b.Dx()-1)), min(max(v-0.5, 0), float64(b.Dy()-1))
	i, j := min(int(u), b.Dx()-2), min(int(v), b.Dy()-2)
	a, c := float32(u-float64(i)), float32(v-float64(j))
	i, j = max(0, i)+b.Min.X, max(0, j)+b.Min.Y
	for q, w := range [4]float32{(1 - a) * (1 - c), a * (1 - c), (1 - a) * c, a * c} {
		p := at(i+q%2, j+q/2)
		r += w * linear[p[0]]
		g += w * linear[p[1]]
		bl += w * linear[p[2]]
	}
	return r, g, bl
}

// reader reads single pixels of a photo.
func reader(m image.Image) func(x, y int) [3]uint8 {
	switch m := m.(type) {
	case *image.YCbCr:
		return func(x, y int) [3]uint8 {
			c := m.COffset(x, y)
			r, g, b := color.YCbCrToRGB(m.Y[m.YOffset(x, y)], m.Cb[c], m.Cr[c])
			return [3]uint8{r, g, b}
		}
	case *image.RGBA:
		return func(x, y int) [3]uint8 {
			o := m.PixOffset(x, y)
			return [3]uint8(m.Pix[o : o+3])
		}
	case *image.NRGBA:
		return func(x, y int) [3]uint8 {
			o := m.PixOffset(x, y)
			return [3]uint8(m.Pix[o : o+3])
		}
	}
	return func(x, y int) [3]uint8 {
		r, g, b, _ := m.At(x, y).RGBA()
		return [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}
	}
}

// visible is what of the plane the photo shows within a reach of a place, mm: the box
// around it. onto takes mm to pixels.
func visible(bounds image.Rectangle, onto *pinhole.Homography, centre pinhole.Point, reach float64) window {
	w := window{x0: math.Inf(1), y0: math.Inf(1), x1: math.Inf(-1), y1: math.Inf(-1)}
	// Walk over the square of the reach; what of it is in the photo counts.
	const steps = 60
	for i := range steps + 1 {
		for j := range steps + 1 {
			x, y := centre.X+reach*(2*float64(i)/steps-1), centre.Y+reach*(2*float64(j)/steps-1)
			if onto[2][0]*x+onto[2][1]*y+onto[2][2] <= 0 {
				continue
			}
			p := onto.Apply(pinhole.Point{X: x, Y: y})
			if p.X >= 0 && p.Y >= 0 && p.X < float64(bounds.Dx()) && p.Y < float64(bounds.Dy()) {
				w.x0, w.y0, w.x1, w.y1 = min(w.x0, x), min(w.y0, y), max(w.x1, x), max(w.y1, y)
			}
		}
	}
	const margin = 2.0 / steps
	w.x0, w.y0, w.x1, w.y1 = w.x0-margin*reach, w.y0-margin*reach, w.x1+margin*reach, w.y1+margin*reach
	return w
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

// covers are the labels as areas of the picture that are no plant.
func covers(labels []labelfind.Label, toPhoto pinhole.Homography) (out []plantfigure.Ring) {
	back := toPhoto.Inverse()
	for _, l := range labels {
		var ring plantfigure.Ring
		for _, c := range l.Corners {
			p := back.Apply(c)
			ring = append(ring, plantfigure.Point(p))
		}
		out = append(out, ring)
	}
	return out
}
