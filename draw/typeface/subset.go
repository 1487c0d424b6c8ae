package typeface

import (
	"encoding/binary"
	"fmt"
	"slices"
)

// Flags of a part of a composite glyph (ISO14496, table glyf).
const (
	wordArguments = 1 << 0
	oneScale      = 1 << 3
	moreParts     = 1 << 5
	twoScales     = 1 << 6
	fourScales    = 1 << 7
)

// Subset returns a TrueType font whose glyph i is glyph list[i] of the face, for
// all i; a glyph may stand in it more than once. Parts of composite glyphs follow
// after them. It has the tables that ISO 32000-1, 9.9, asks of a font in a PDF.
// The first of the list must be 0, the letter of what is missing.
func (f *Face) Subset(list []uint16) ([]byte, error) {
	if len(list) == 0 || list[0] != 0 {
		panic("typeface: Face.Subset: the first glyph must be 0")
	}
	list = slices.Clone(list)
	place := map[uint16]int{} // where a glyph of the face stands in the list
	for i, g := range list {
		if int(g) >= f.glyphs {
			return nil, fmt.Errorf("%s has no glyph %d", f.Name, g)
		}
		if _, ok := place[g]; !ok {
			place[g] = i
		}
	}
	var glyf []byte
	loca := []uint32{0}
	for i := 0; i < len(list); i++ { // grows as parts are met
		data := slices.Clone(f.glyph(list[i]))
		if len(data) >= 10 && int16(binary.BigEndian.Uint16(data)) < 0 {
			for at := 10; ; {
				if at+4 > len(data) {
					return nil, fmt.Errorf("%s: glyph %d ends within its parts", f.Name, list[i])
				}
				flags, part := binary.BigEndian.Uint16(data[at:]), binary.BigEndian.Uint16(data[at+2:])
				if _, ok := place[part]; !ok {
					if int(part) >= f.glyphs {
						return nil, fmt.Errorf("%s: glyph %d has a part that is none", f.Name, list[i])
					}
					place[part] = len(list)
					list = append(list, part)
				}
				binary.BigEndian.PutUint16(data[at+2:], uint16(place[part]))
				at += 6
				if flags&wordArguments != 0 {
					at += 2
				}
				switch {
				case flags&oneScale != 0:
					at += 2
				case flags&twoScales != 0:
					at += 4
				case flags&fourScales != 0:
					at += 8
				}
				if flags&moreParts == 0 {
					break
				}
			}
		}
		glyf = append(glyf, data...)
		for len(glyf)%4 != 0 {
			glyf = append(glyf, 0)
		}
		loca = append(loca, uint32(len(glyf)))
	}
	if len(list) > 0xffff {
		return nil, fmt.Errorf("%d glyphs are more than a font can have", len(list))
	}
	be := binary.BigEndian
	head := slices.Clone(f.tables["head"])
	be.PutUint32(head[8:], 0) // the sum over all is put in last
	be.PutUint16(head[50:], 1)
	hhea := slices.Clone(f.tables["hhea"])
	be.PutUint16(hhea[34:], uint16(len(list)))
	maxp := slices.Clone(f.tables["maxp"])
	be.PutUint16(maxp[4:], uint16(len(list)))
	var hmtx, offsets []byte
	for _, g := range list {
		hmtx = be.AppendUint16(hmtx, uint16(f.Advance(g)))
		hmtx = be.AppendUint16(hmtx, f.bearing(g))
	}
	for _, at := range loca {
		offsets = be.AppendUint32(offsets, at)
	}
	return pack([]table{{"glyf", glyf}, {"head", head}, {"hhea", hhea}, {"hmtx", hmtx}, {"loca", offsets}, {"maxp", maxp}}), nil
}

// glyph is the data of a glyph; empty for a blank.
func (f *Face) glyph(g uint16) []byte {
	loca := f.tables["loca"]
	at := func(i int) int {
		if f.short {
			return 2 * int(binary.BigEndian.Uint16(loca[2*i:]))
		}
		return int(binary.BigEndian.Uint32(loca[4*i:]))
	}
	return f.tables["glyf"][at(int(g)):at(int(g)+1)]
}

// bearing is the left side bearing of a glyph.
func (f *Face) bearing(g uint16) uint16 {
	hmtx := f.tables["hmtx"]
	if int(g) < f.metric {
		return binary.BigEndian.Uint16(hmtx[4*int(g)+2:])
	}
	return binary.BigEndian.Uint16(hmtx[4*f.metric+2*(int(g)-f.metric):])
}

type table struct {
	tag  string
	data []byte
}

// pack writes a font of tables in order of their tags.
func pack(tables []table) []byte {
	be := binary.BigEndian
	n := len(tables)
	power, log := 1, 0
	for power*2 <= n {
		power, log = power*2, log+1
	}
	out := be.AppendUint32(nil, 0x00010000)
	out = be.AppendUint16(out, uint16(n))
	out = be.AppendUint16(out, uint16(16*power))
	out = be.AppendUint16(out, uint16(log))
	out = be.AppendUint16(out, uint16(16*(n-power)))
	at := 12 + 16*n
	headAt := 0
	for _, t := range tables {
		if t.tag == "head" {
			headAt = at
		}
		out = append(out, t.tag...)
		out = be.AppendUint32(out, sum(t.data))
		out = be.AppendUint32(out, uint32(at))
		out = be.AppendUint32(out, uint32(len(t.data)))
		at += (len(t.data) + 3) &^ 3
	}
	for _, t := range tables {
		out = append(out, t.data...)
		for len(out)%4 != 0 {
			out = append(out, 0)
		}
	}
	be.PutUint32(out[headAt+8:], 0xB1B0AFBA-sum(out))
	return out
}

// sum is the checksum of a table.
func sum(data []byte) uint32 {
	var s uint32
	for i := 0; i < len(data); i += 4 {
		var word [4]byte
		copy(word[:], data[i:])
		s += binary.BigEndian.Uint32(word[:])
	}
	return s
}
