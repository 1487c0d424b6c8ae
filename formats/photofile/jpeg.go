package photofile

import (
	"bytes"
	"encoding/binary"
	"errors"
)

// Markers of a JPEG file (ITUT81, table B.1).
const (
	soi = 0xD8
	eoi = 0xD9
	sos = 0xDA
	com = 0xFE
)

var errJPEG = errors.New("the JPEG file is broken off or damaged; take the picture again")

// walkJPEG goes through the segments up to the end of the first picture, writes those that
// a plain picture has, and returns EXIF and colour profile.
func walkJPEG(data []byte, out *bytes.Buffer) (parts, error) {
	if len(data) < 4 || data[0] != 0xFF || data[1] != soi {
		return parts{}, errJPEG
	}
	put := func(b []byte) {
		if out != nil {
			out.Write(b)
		}
	}
	put(data[:2])
	var p parts
	var profile profileParts
	at, scans := 2, 0
	for {
		if at+2 > len(data) || data[at] != 0xFF {
			return parts{}, errJPEG
		}
		for at+2 < len(data) && data[at+1] == 0xFF { // fill bytes
			at++
		}
		m := data[at+1]
		switch {
		case m == eoi:
			if scans == 0 {
				return parts{}, errJPEG
			}
			put(data[at : at+2])
			p.icc = profile.whole()
			return p, nil
		case m >= 0xD0 && m <= 0xD7 || m == 0x01: // alone, without length
			put(data[at : at+2])
			at += 2
			continue
		}
		if at+4 > len(data) {
			return parts{}, errJPEG
		}
		n := int(binary.BigEndian.Uint16(data[at+2:]))
		end := at + 2 + n
		if n < 2 || end > len(data) {
			return parts{}, errJPEG
		}
		body := data[at+4 : end]
		if m == 0xE1 && bytes.HasPrefix(body, exifMark) {
			if p.exif == nil { // readers take the first
				p.exif = body[len(exifMark):]
			}
		}
		if m == 0xE2 && bytes.HasPrefix(body, iccMark) {
			profile.add(body[len(iccMark):])
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

// orientationSegment is EXIF that says how a picture is turned and nothing else.
func orientationSegment(turn int) []byte {
	body := append(bytes.Clone(exifMark), orientationTIFF(turn)...)
	return append([]byte{0xFF, 0xE1, 0, byte(len(body) + 2)}, body...)
}

// A profileParts is a colour profile in segments: each has its number from 1 and how many
// there are (ICC2010, annex B.4).
type profileParts [][]byte

func (p *profileParts) add(body []byte) {
	if len(body) < 2 || body[0] == 0 {
		return
	}
	for len(*p) < int(body[0]) {
		*p = append(*p, nil)
	}
	(*p)[body[0]-1] = body[2:]
}

func (p profileParts) whole() []byte { return bytes.Join(p, nil) }
