package photofile

import (
	"bytes"
	"encoding/binary"
	"strings"
	"time"
)

// A Shot is what EXIF says of the taking. Zero fields are not said.
type Shot struct {
	Wall   time.Time      // when, by the clock of the camera, in UTC as if that were its zone
	Offset *time.Duration // of that clock from UTC; nil: not said

	Focal   float64 // mm, of the lens
	Focal35 float64 // mm, the focal length of the same angle of view on 24 × 36 mm film
}

// Taken is when the picture was taken. Where the camera does not say its zone, that of its
// owner is asked for. False: not said.
func (s Shot) Taken(zone *time.Location) (time.Time, bool) {
	switch {
	case s.Wall.IsZero():
		return time.Time{}, false
	case s.Offset != nil:
		return s.Wall.Add(-*s.Offset), true
	}
	w := s.Wall
	return time.Date(w.Year(), w.Month(), w.Day(), w.Hour(), w.Minute(), w.Second(), w.Nanosecond(), zone).UTC(), true
}

// Tags of EXIF (CIPA2012, section 4.6).
const (
	tagOrientation = 274
	tagDateTime    = 306
	tagExif        = 34665
	tagTaken       = 36867
	tagOffset      = 36880
	tagOffsetTaken = 36881
	tagFocal       = 37386
	tagFocal35     = 41989
)

// A field is a value of a directory.
type field struct {
	kind  uint16
	count int64
	data  []byte
}

// sizes of the kinds of values in bytes (CIPA2012, section 4.6.2).
var sizes = [...]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}

// directory reads one directory of a TIFF; what does not fit is left out.
func directory(tiff []byte, order binary.ByteOrder, at int64) map[uint16]field {
	if at < 8 || at+2 > int64(len(tiff)) {
		return nil
	}
	out := map[uint16]field{}
	n := int64(order.Uint16(tiff[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > int64(len(tiff)) {
			break
		}
		f := field{kind: order.Uint16(tiff[e+2:]), count: int64(order.Uint32(tiff[e+4:]))}
		if int(f.kind) >= len(sizes) || sizes[f.kind] == 0 {
			continue
		}
		size, from := f.count*sizes[f.kind], e+8
		if size > 4 {
			from = int64(order.Uint32(tiff[e+8:]))
		}
		if from+size > int64(len(tiff)) {
			continue
		}
		f.data = tiff[from : from+size]
		if tag := order.Uint16(tiff[e:]); out[tag].data == nil {
			out[tag] = f
		}
	}
	return out
}

// readEXIF reads how a picture is turned, and when and with which lens it was taken. What
// cannot be read is as if it were not there.
func readEXIF(tiff []byte) (turn int, s Shot) {
	turn = 1
	var order binary.ByteOrder
	switch {
	case len(tiff) < 8:
		return turn, s
	case tiff[0] == 'M':
		order = binary.BigEndian
	default:
		order = binary.LittleEndian
	}
	whole := func(f field) (int64, bool) {
		switch {
		case f.kind == 3 && len(f.data) >= 2:
			return int64(order.Uint16(f.data)), true
		case f.kind == 4 && len(f.data) >= 4:
			return int64(order.Uint32(f.data)), true
		}
		return 0, false
	}
	text := func(f field) string {
		if f.kind != 2 {
			return ""
		}
		before, _, _ := bytes.Cut(f.data, []byte{0})
		return strings.TrimSpace(string(before))
	}
	first := directory(tiff, order, int64(order.Uint32(tiff[4:])))
	if v, ok := whole(first[tagOrientation]); ok && v >= 1 && v <= 8 {
		turn = int(v)
	}
	date, offset := text(first[tagDateTime]), ""
	if at, ok := whole(first[tagExif]); ok {
		more := directory(tiff, order, at)
		if t := text(more[tagTaken]); t != "" {
			date, offset = t, text(more[tagOffsetTaken])
		} else {
			offset = text(more[tagOffset])
		}
		if f := more[tagFocal]; f.kind == 5 && len(f.data) >= 8 {
			if over, under := order.Uint32(f.data), order.Uint32(f.data[4:]); under > 0 && over > 0 {
				s.Focal = float64(over) / float64(under)
			}
		}
		if v, ok := whole(more[tagFocal35]); ok {
			s.Focal35 = float64(v)
		}
	}
	if t, err := time.Parse("2006:01:02 15:04:05", date); err == nil && t.Year() >= 1970 {
		s.Wall = t
		if z, err := time.Parse("-07:00", offset); err == nil {
			_, seconds := z.Zone()
			d := time.Duration(seconds) * time.Second
			s.Offset = &d
		}
	}
	return turn, s
}

// orientationTIFF is a TIFF that says how a picture is turned and nothing else.
func orientationTIFF(turn int) []byte {
	return []byte{'I', 'I', 42, 0, 8, 0, 0, 0, 1, 0, 18, 1, 3, 0, 1, 0, 0, 0, byte(turn), 0, 0, 0, 0, 0, 0, 0}
}
