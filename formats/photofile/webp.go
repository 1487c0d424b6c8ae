package photofile

import (
	"bytes"
	"encoding/binary"
	"errors"
)

func isWebP(data []byte) bool {
	return len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP"
}

// Bits of the chunk VP8X (RFC9649, section 2.7).
const (
	webpMoves = 0x02
	webpXMP   = 0x04
	webpEXIF  = 0x08
)

// walkWebP writes the chunks that the picture needs, and returns EXIF and colour profile.
func walkWebP(data []byte, out *bytes.Buffer) (parts, error) {
	broken := errors.New("the WebP file is broken off or damaged; take the picture again")
	if !isWebP(data) {
		return parts{}, broken
	}
	end := 8 + int64(binary.LittleEndian.Uint32(data[4:]))
	if end > int64(len(data)) || end < 12 {
		return parts{}, broken
	}
	var p parts
	var plain []byte
	wide := -1 // where the flags of VP8X are
	seen := false
	for at := int64(12); at+8 <= end; {
		n := int64(binary.LittleEndian.Uint32(data[at+4:]))
		next := at + 8 + n + n&1
		if at+8+n > end {
			return parts{}, broken
		}
		body := data[at+8 : at+8+n]
		chunk := func() {
			plain = append(plain, data[at:at+8+n]...)
			if n&1 == 1 {
				plain = append(plain, 0)
			}
		}
		name := string(data[at : at+4])
		if wide < 0 && (name == "ALPH" || name == "ICCP" || name == "EXIF") {
			name = "" // without VP8X before them they say nothing (RFC9649, section 2.7)
		}
		switch name {
		case "VP8X":
			if n < 10 || wide >= 0 {
				return parts{}, broken
			}
			if body[0]&webpMoves != 0 {
				return parts{}, errors.New("the WebP file is a moving picture; send one photo")
			}
			wide = len(plain) + 8
			chunk()
			plain[wide] &^= webpXMP | webpEXIF
		case "VP8 ", "VP8L":
			if !seen {
				seen = true
				chunk()
			}
		case "ALPH":
			chunk()
		case "ICCP":
			if p.icc == nil {
				p.icc = body
				chunk()
			}
		case "EXIF":
			if p.exif == nil {
				p.exif = bytes.TrimPrefix(body, exifMark)
			}
		}
		at = next
	}
	if !seen {
		return parts{}, broken
	}
	if out == nil {
		return p, nil
	}
	if turn, _ := readEXIF(p.exif); turn != 1 && wide >= 0 {
		plain[wide] |= webpEXIF
		tiff := orientationTIFF(turn)
		plain = binary.LittleEndian.AppendUint32(append(plain, "EXIF"...), uint32(len(tiff)))
		plain = append(plain, tiff...)
	}
	out.WriteString("RIFF")
	out.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(plain)+4)))
	out.WriteString("WEBP")
	out.Write(plain)
	return p, nil
}
