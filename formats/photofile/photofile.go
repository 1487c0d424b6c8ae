package photofile

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	_ "image/png" // for image.Decode
)

// Limits of a picture.
const (
	MaxBytes  = 20 << 20
	MaxPixels = 64_000_000 // to be kept
	maxSide   = 30_000
	maxDecode = 26_000_000 // pixels to be made small of; more takes too much memory
)

// An Info is what the head of a picture says.
type Info struct {
	Media         string // image/jpeg or image/png
	Width, Height int    // as stored, before it is turned
	Orientation   int    // 1 to 8 as in EXIF (CIPA2012); 1 is upright
	SHA256        string // of all bytes, in hex
}

// Check looks at a picture without decoding it. Errors say what is wrong and what to do.
func Check(data []byte) (Info, error) {
	if len(data) == 0 {
		return Info{}, errors.New("the picture is empty; take it again")
	}
	if len(data) > MaxBytes {
		return Info{}, fmt.Errorf("the picture has %d MB; at most %d MB are taken: choose a smaller size in the camera", len(data)>>20, MaxBytes>>20)
	}
	c, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Info{}, errors.New("the file is no JPEG or PNG picture")
	}
	if c.Width < 1 || c.Height < 1 || c.Width > maxSide || c.Height > maxSide || int64(c.Width)*int64(c.Height) > MaxPixels {
		return Info{}, fmt.Errorf("the picture has %d × %d pixels; at most %d million are taken", c.Width, c.Height, MaxPixels/1_000_000)
	}
	sum := sha256.Sum256(data)
	i := Info{Media: "image/" + format, Width: c.Width, Height: c.Height, Orientation: 1, SHA256: hex.EncodeToString(sum[:])}
	if format == "jpeg" {
		if i.Orientation, err = walkJPEG(data, nil); err != nil {
			return Info{}, err
		}
	} else if _, err := plainPNG(data); err != nil {
		return Info{}, err
	}
	return i, nil
}

// Plain is the picture without what tells where, when and with what it was taken.
func Plain(data []byte) ([]byte, error) {
	if bytes.HasPrefix(data, pngMark) {
		return plainPNG(data)
	}
	var out bytes.Buffer
	turn, err := walkJPEG(data, &out)
	if err != nil {
		return nil, err
	}
	if turn == 1 {
		return out.Bytes(), nil
	}
	return append(append([]byte{0xFF, soi}, orientationSegment(turn)...), out.Bytes()[2:]...), nil
}

// Markers of a JPEG file (ITUT81, table B.1).
const (
	soi = 0xD8
	eoi = 0xD9
	sos = 0xDA
	com = 0xFE
)

var errJPEG = errors.New("the JPEG file is broken off or damaged; take the picture again")

// walkJPEG goes through the segments up to the end of the first picture, writes those that
// a plain picture has, and returns how it is turned.
func walkJPEG(data []byte, out *bytes.Buffer) (int, error) {
	if len(data) < 4 || data[0] != 0xFF || data[1] != soi {
		return 0, errJPEG
	}
	put := func(b []byte) {
		if out != nil {
			out.Write(b)
		}
	}
	put(data[:2])
	turn, at, scans := 1, 2, 0
	for {
		if at+2 > len(data) || data[at] != 0xFF {
			return 0, errJPEG
		}
		for at+2 < len(data) && data[at+1] == 0xFF { // fill bytes
			at++
		}
		m := data[at+1]
		switch {
		case m == eoi:
			if scans == 0 {
				return 0, errJPEG
			}
			put(data[at : at+2])
			return turn, nil
		case m >= 0xD0 && m <= 0xD7 || m == 0x01: // alone, without length
			put(data[at : at+2])
			at += 2
			continue
		}
		if at+4 > len(data) {
			return 0, errJPEG
		}
		n := int(binary.BigEndian.Uint16(data[at+2:]))
		end := at + 2 + n
		if n < 2 || end > len(data) {
			return 0, errJPEG
		}
		body := data[at+4 : end]
		if m == 0xE1 && bytes.HasPrefix(body, exifMark) {
			turn = orientation(body[len(exifMark):])
		}
		if !told(m, body) {
			put(data[at:end])
		}
		at = end
		if m == sos {
			scans++
			from := at
			for at+1 < len(data) && (data[at] != 0xFF || data[at+1] == 0 || data[at+1] >= 0xD0 && data[at+1] <= 0xD7) {
				at++
			}
			put(data[from:at])
		}
	}
}

var (
	exifMark = []byte("Exif\x00\x00")
	iccMark  = []byte("ICC_PROFILE\x00")
	pngMark  = []byte("\x89PNG\r\n\x1a\n")
)

// told says that a segment tells something that the picture itself does not need. Colour
// needs JFIF (APP0), a colour profile (APP2), and the word of Adobe on the transform (APP14).
func told(m byte, body []byte) bool {
	switch {
	case m == com:
		return true
	case m == 0xE0:
		return !bytes.HasPrefix(body, []byte("JFIF\x00"))
	case m == 0xE2:
		return !bytes.HasPrefix(body, iccMark)
	case m == 0xEE:
		return !bytes.HasPrefix(body, []byte("Adobe"))
	}
	return m >= 0xE1 && m <= 0xEF
}

// orientation reads tag 274 of the first directory; 1 if there is none.
func orientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	if tiff[0] == 'M' {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 1
	}
	n := int64(order.Uint16(tiff[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > int64(len(tiff)) {
			return 1
		}
		if order.Uint16(tiff[e:]) == 274 {
			if v := int(order.Uint16(tiff[e+8:])); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}

// orientationSegment is EXIF that says how a picture is turned and nothing else.
func orientationSegment(turn int) []byte {
	tiff := []byte{'I', 'I', 42, 0, 8, 0, 0, 0, 1, 0, 18, 1, 3, 0, 1, 0, 0, 0, byte(turn), 0, 0, 0, 0, 0, 0, 0}
	body := append(bytes.Clone(exifMark), tiff...)
	return append([]byte{0xFF, 0xE1, 0, byte(len(body) + 2)}, body...)
}

// plainPNG keeps the chunks that the picture needs, up to its end.
func plainPNG(data []byte) ([]byte, error) {
	broken := errors.New("the PNG file is broken off or damaged; take the picture again")
	if !bytes.HasPrefix(data, pngMark) {
		return nil, broken
	}
	out := bytes.NewBuffer(bytes.Clone(pngMark))
	for at := len(pngMark); ; {
		if at+12 > len(data) {
			return nil, broken
		}
		n := int64(binary.BigEndian.Uint32(data[at:]))
		end := int64(at) + 12 + n
		if end > int64(len(data)) {
			return nil, broken
		}
		kind := string(data[at+4 : at+8])
		switch kind {
		case "IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "bKGD", "pHYs":
			out.Write(data[at:end])
		}
		if kind == "IEND" {
			return out.Bytes(), nil
		}
		at = int(end)
	}
}

// Small makes a JPEG of at most so many pixels on its longer side, upright, without
// anything but the picture. It takes some tenths of a second and much memory for a large
// one: callers make one at a time.
func Small(data []byte, longest int) ([]byte, error) {
	i, err := Check(data)
	if err != nil {
		return nil, err
	}
	if int64(i.Width)*int64(i.Height) > maxDecode {
		return nil, fmt.Errorf("a picture of more than %d million pixels is shown whole only", maxDecode/1_000_000)
	}
	full, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("the picture cannot be decoded")
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, turned(shrunk(full, longest), i.Orientation), &jpeg.Options{Quality: 80}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// shrunk takes means over blocks of pixels, white where nothing is.
func shrunk(in image.Image, longest int) *image.RGBA {
	b := in.Bounds()
	k := max(1, (max(b.Dx(), b.Dy())+longest-1)/longest)
	w, h := max(1, b.Dx()/k), max(1, b.Dy()/k)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	row := image.NewRGBA(image.Rect(0, 0, b.Dx(), k))
	for y := range h {
		draw.Draw(row, row.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(row, row.Bounds(), in, image.Pt(b.Min.X, b.Min.Y+y*k), draw.Over)
		for x := range w {
			var sum [3]int
			nx, ny := min(k, b.Dx()-x*k), min(k, b.Dy()-y*k)
			for j := range ny {
				at := row.PixOffset(x*k, j)
				for i := range nx {
					for c := range 3 {
						sum[c] += int(row.Pix[at+4*i+c])
					}
				}
			}
			at := out.PixOffset(x, y)
			for c := range 3 {
				out.Pix[at+c] = byte(sum[c] / (nx * ny))
			}
			out.Pix[at+3] = 255
		}
	}
	return out
}

// turned sets a picture upright (CIPA2012, tag 274).
func turned(in *image.RGBA, turn int) *image.RGBA {
	if turn == 1 {
		return in
	}
	w, h := in.Rect.Dx(), in.Rect.Dy()
	ow, oh := w, h
	if turn >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range h {
		for x := range w {
			var u, v int
			switch turn {
			case 2:
				u, v = w-1-x, y
			case 3:
				u, v = w-1-x, h-1-y
			case 4:
				u, v = x, h-1-y
			case 5:
				u, v = y, x
			case 6:
				u, v = h-1-y, x
			case 7:
				u, v = h-1-y, w-1-x
			case 8:
				u, v = y, w-1-x
			}
			copy(out.Pix[out.PixOffset(u, v):], in.Pix[in.PixOffset(x, y):in.PixOffset(x, y)+4])
		}
	}
	return out
}
