package photofile

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
)

// A Picture is a decoded photo: upright, in sRGB, opaque.
type Picture struct {
	Info
	Image   *image.RGBA
	Reduced int      // each pixel is the mean of so many by so many of the photo
	Profile string   // what its colour profile calls itself; empty: it has none
	Notes   []string // what was assumed
}

// Decode makes a photo upright and sRGB, and shrinks it by means over blocks of whole
// pixels until it has at most so many pixels (0: any number). A 12-megapixel JPEG takes
// some 70 MB, one of 50 megapixels shrunk to 12.5 some 130 MB, progressive ones four times
// that: callers decode one at a time.
func Decode(data []byte, most int) (*Picture, error) {
	i, p, err := look(data)
	if err != nil {
		return nil, err
	}
	out := &Picture{Info: i, Reduced: 1}
	if most > 0 {
		for (i.Width/out.Reduced)*(i.Height/out.Reduced) > most {
			out.Reduced++
		}
	}
	var convert *conversion
	if len(p.icc) > 0 {
		switch profile, err := readProfile(p.icc); {
		case err != nil:
			out.Notes = append(out.Notes, fmt.Sprintf("the colour profile cannot be used (%v); colours are taken as sRGB", err))
		default:
			out.Profile, convert = profile.name, profile.toSRGB()
		}
	}
	full, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("the picture is broken off or damaged; take it again")
	}
	out.Image = upright(full, out.Reduced, i.Orientation, convert)
	return out, nil
}

// smallRoom is how many pixels are decoded to make a small picture of; more takes too much
// memory beside a server's other work.
const smallRoom = 52_000_000

// Small makes a JPEG of at most so many pixels on its longer side, upright, in sRGB, without
// anything but the picture. It takes some tenths of a second and much memory for a large
// one: callers make one at a time.
func Small(data []byte, longest int) ([]byte, error) {
	i, err := Check(data)
	if err != nil {
		return nil, err
	}
	if int64(i.Width)*int64(i.Height) > smallRoom {
		return nil, fmt.Errorf("a picture of more than %d million pixels is shown whole only", smallRoom/1_000_000)
	}
	k := max(1, (max(i.Width, i.Height)+longest-1)/longest)
	p, err := Decode(data, max(1, i.Width/k)*max(1, i.Height/k))
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, p.Image, &jpeg.Options{Quality: 80}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// upright takes means over blocks of k by k pixels, white where nothing is, converts their
// colours, and sets them as the picture is turned (CIPA2012, tag 274). It goes through the
// picture by strips, so that no second whole one is held.
func upright(in image.Image, k, turn int, convert *conversion) *image.RGBA {
	b := in.Bounds()
	w, h := max(1, b.Dx()/k), max(1, b.Dy()/k)
	ow, oh := w, h
	if turn >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	strip := image.NewRGBA(image.Rect(0, 0, b.Dx(), k))
	line := make([]byte, 4*w)
	_, opaque := in.(*image.YCbCr)
	for y := range h {
		if !opaque {
			draw.Draw(strip, strip.Bounds(), image.White, image.Point{}, draw.Src)
		}
		draw.Draw(strip, strip.Bounds(), in, image.Pt(b.Min.X, b.Min.Y+y*k), draw.Over)
		row := line
		if k == 1 {
			row = strip.Pix[:4*w]
		} else {
			means(line, strip, b.Dx(), min(k, b.Dy()-y*k), k)
		}
		if convert != nil {
			convert.row(row)
		}
		if turn == 1 {
			copy(out.Pix[out.PixOffset(0, y):], row)
			continue
		}
		for x := range w {
			u, v := turned(x, y, w, h, turn)
			copy(out.Pix[out.PixOffset(u, v):], row[4*x:4*x+4])
		}
	}
	return out
}

// means writes the means over blocks of k pixels width and ny rows.
func means(line []byte, strip *image.RGBA, width, ny, k int) {
	for x := range len(line) / 4 {
		var sum [3]int
		nx := min(k, width-x*k)
		for j := range ny {
			at := strip.PixOffset(x*k, j)
			for range nx {
				sum[0] += int(strip.Pix[at])
				sum[1] += int(strip.Pix[at+1])
				sum[2] += int(strip.Pix[at+2])
				at += 4
			}
		}
		for c := range 3 {
			line[4*x+c] = byte(sum[c] / (nx * ny))
		}
		line[4*x+3] = 255
	}
}

// turned is where a pixel of a picture of w by h goes.
func turned(x, y, w, h, turn int) (int, int) {
	switch turn {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return h - 1 - y, x
	case 7:
		return h - 1 - y, w - 1 - x
	case 8:
		return y, w - 1 - x
	}
	return x, y
}
