package photofile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // for image.DecodeConfig
	_ "image/png"

	_ "golang.org/x/image/webp"
)

// Limits of a picture.
const (
	MaxBytes  = 20 << 20
	MaxPixels = 64_000_000
	maxSide   = 30_000

	// A photo never has more than some tens of pixels in a byte: noise of the sensor cannot
	// be packed. A head that promises more lies, or the picture is made to fill a memory.
	perByte  = 200
	lieBegin = 4_000_000 // pixels below which nobody is harmed by a lie
)

// An Info is what the head of a picture says.
type Info struct {
	Media         string // image/jpeg, image/png or image/webp
	Width, Height int    // as stored, before it is turned
	Orientation   int    // 1 to 8 as in EXIF (CIPA2012); 1 is upright
	SHA256        string // of all bytes, in hex
	Shot          Shot
}

// Upright is the size of the picture after it is turned.
func (i Info) Upright() (width, height int) {
	if i.Orientation >= 5 {
		return i.Height, i.Width
	}
	return i.Width, i.Height
}

// Check looks at a picture without decoding it. Errors say what is wrong and what to do.
func Check(data []byte) (Info, error) {
	i, _, err := look(data)
	return i, err
}

// parts are what stands in a picture beside its pixels.
type parts struct {
	exif []byte // TIFF
	icc  []byte // colour profile
}

func look(data []byte) (Info, parts, error) {
	if len(data) == 0 {
		return Info{}, parts{}, errors.New("the picture is empty; take it again")
	}
	if len(data) > MaxBytes {
		return Info{}, parts{}, fmt.Errorf("the picture has %d MB; at most %d MB are taken: choose a smaller size in the camera", len(data)>>20, MaxBytes>>20)
	}
	if kind := boxed(data); kind != "" {
		return Info{}, parts{}, fmt.Errorf("the picture is %s, which is not read here; send JPEG: on an iPhone choose Settings, Camera, Formats, Most Compatible, or share the photo through a page, which hands over JPEG", kind)
	}
	c, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || format != "jpeg" && format != "png" && format != "webp" {
		return Info{}, parts{}, errors.New("the file is no JPEG, PNG or WebP picture")
	}
	pixels := int64(c.Width) * int64(c.Height)
	if c.Width < 1 || c.Height < 1 || c.Width > maxSide || c.Height > maxSide || pixels > MaxPixels {
		return Info{}, parts{}, fmt.Errorf("the picture has %d × %d pixels; at most %d million are taken", c.Width, c.Height, MaxPixels/1_000_000)
	}
	if pixels > lieBegin && pixels > perByte*int64(len(data)) {
		return Info{}, parts{}, fmt.Errorf("the picture says that it has %d × %d pixels, but has only %d kB; it is broken off, or no photo", c.Width, c.Height, len(data)>>10)
	}
	sum := sha256.Sum256(data)
	i := Info{Media: "image/" + format, Width: c.Width, Height: c.Height, Orientation: 1, SHA256: hex.EncodeToString(sum[:])}
	var p parts
	switch format {
	case "jpeg":
		p, err = walkJPEG(data, nil)
	case "png":
		p, err = walkPNG(data, nil)
	case "webp":
		p, err = walkWebP(data, nil)
	}
	if err != nil {
		return Info{}, parts{}, err
	}
	i.Orientation, i.Shot = readEXIF(p.exif)
	return i, p, nil
}

// Plain is the picture without what tells where, when and with what it was taken. Pixels
// are not touched.
func Plain(data []byte) ([]byte, error) {
	var out bytes.Buffer
	switch {
	case bytes.HasPrefix(data, pngMark):
		if _, err := walkPNG(data, &out); err != nil {
			return nil, err
		}
		return out.Bytes(), nil
	case isWebP(data):
		if _, err := walkWebP(data, &out); err != nil {
			return nil, err
		}
		return out.Bytes(), nil
	}
	p, err := walkJPEG(data, &out)
	if err != nil {
		return nil, err
	}
	turn, _ := readEXIF(p.exif)
	if turn == 1 {
		return out.Bytes(), nil
	}
	return append(append([]byte{0xFF, soi}, orientationSegment(turn)...), out.Bytes()[2:]...), nil
}

// boxed names pictures in boxes of ISO/IEC 14496-12 by their brand: HEIC and AVIF. They are
// told apart only to say so.
func boxed(data []byte) string {
	if len(data) < 12 || string(data[4:8]) != "ftyp" {
		return ""
	}
	switch string(data[8:12]) {
	case "heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1":
		return "HEIC"
	case "avif", "avis":
		return "AVIF"
	}
	return ""
}
