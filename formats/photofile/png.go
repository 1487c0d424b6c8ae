package photofile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
)

// mostProfile bounds a colour profile; those of displays have some hundred bytes.
const mostProfile = 1 << 20

// walkPNG writes the chunks that the picture needs, up to its end, and returns EXIF and
// colour profile.
func walkPNG(data []byte, out *bytes.Buffer) (parts, error) {
	broken := errors.New("the PNG file is broken off or damaged; take the picture again")
	if !bytes.HasPrefix(data, pngMark) {
		return parts{}, broken
	}
	put := func(b []byte) {
		if out != nil {
			out.Write(b)
		}
	}
	put(pngMark)
	var p parts
	for at := len(pngMark); ; {
		if at+12 > len(data) {
			return parts{}, broken
		}
		n := int64(binary.BigEndian.Uint32(data[at:]))
		end := int64(at) + 12 + n
		if end > int64(len(data)) {
			return parts{}, broken
		}
		body := data[at+8 : end-4]
		kind := string(data[at+4 : at+8])
		switch kind {
		case "IHDR", "PLTE", "IDAT", "tRNS", "gAMA", "cHRM", "sRGB", "sBIT", "bKGD", "pHYs":
			put(data[at:end])
		case "iCCP":
			p.icc = inflated(body)
			put(data[at:end])
		case "eXIf":
			if p.exif == nil {
				p.exif = body
				if turn, _ := readEXIF(body); turn != 1 {
					put(pngChunk("eXIf", orientationTIFF(turn)))
				}
			}
		case "IEND":
			put(data[at:end])
			return p, nil
		}
		at = int(end)
	}
}

// inflated is the profile of a chunk iCCP: its name, a zero, how it is packed (0), and what
// is packed; nil if it cannot be read (W3CPNG, 11.3.3.3).
func inflated(body []byte) []byte {
	i := bytes.IndexByte(body, 0)
	if i < 0 || i+2 > len(body) || body[i+1] != 0 {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(body[i+2:]))
	if err != nil {
		return nil
	}
	out, err := io.ReadAll(io.LimitReader(z, mostProfile+1))
	if err != nil || len(out) > mostProfile {
		return nil
	}
	return out
}

func pngChunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}
