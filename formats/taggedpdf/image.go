package taggedpdf

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
)

// MostPixels is how large a picture may be.
const MostPixels = 40e6

// An Image is a picture of the document.
type Image struct {
	Width, Height int

	name   string
	data   []byte // as it stands in the file
	filter string // DCTDecode: data is a JPEG; empty: samples to be compressed
	space  string
	mask   []byte // of PNG: opacity, 8 bits a pixel
	num    int
	mnum   int
}

// Image takes a picture as JPEG or PNG. A JPEG goes into the file as it is.
func (d *Document) Image(data []byte) (*Image, error) {
	cfg, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the picture cannot be read: %w", err)
	}
	if cfg.Width <= 0 || cfg.Height <= 0 || float64(cfg.Width)*float64(cfg.Height) > MostPixels {
		return nil, fmt.Errorf("the picture has %d × %d pixels, more than %d million", cfg.Width, cfg.Height, int(MostPixels/1e6))
	}
	im := &Image{Width: cfg.Width, Height: cfg.Height, name: fmt.Sprintf("I%d", len(d.images)+1)}
	switch kind {
	case "jpeg":
		if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
			return nil, fmt.Errorf("the picture cannot be read: %w", err)
		}
		im.data, im.filter = data, "DCTDecode"
		switch at := components(data); at {
		case 1:
			im.space = "/DeviceGray"
		case 3:
			im.space = "/DeviceRGB"
		default:
			return nil, errors.New("the picture is a JPEG for presses (four colours), which is not taken: save it in RGB")
		}
	case "png":
		src, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			return nil, fmt.Errorf("the picture cannot be read: %w", err)
		}
		im.space = "/DeviceRGB"
		b := src.Bounds()
		im.data = make([]byte, 0, 3*b.Dx()*b.Dy())
		im.mask = make([]byte, 0, b.Dx()*b.Dy())
		clear := false
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				r, g, bl, a := src.At(x, y).RGBA()
				if a != 0xffff {
					clear = true
					if a > 0 {
						r, g, bl = r*0xffff/a, g*0xffff/a, bl*0xffff/a
					}
				}
				im.data = append(im.data, byte(r>>8), byte(g>>8), byte(bl>>8))
				im.mask = append(im.mask, byte(a>>8))
			}
		}
		if !clear {
			im.mask = nil
		}
	default:
		return nil, fmt.Errorf("a picture of kind %s is not taken: JPEG and PNG are", kind)
	}
	d.images = append(d.images, im)
	return im, nil
}

// components is how many colours the first frame of a JPEG has; 0 if there is none.
func components(data []byte) int {
	for i := 2; i+9 < len(data); {
		if data[i] != 0xff {
			return 0
		}
		m := data[i+1]
		switch {
		case m == 0xff:
			i++
			continue
		case m >= 0xc0 && m <= 0xcf && m != 0xc4 && m != 0xc8 && m != 0xcc:
			return int(data[i+9])
		}
		i += 2 + int(data[i+2])<<8 + int(data[i+3])
	}
	return 0
}
