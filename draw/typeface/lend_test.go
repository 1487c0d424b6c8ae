package typeface_test

import (
	"encoding/binary"
	"slices"
	"testing"
)

// lend adds the tables cmap (empty), name, post and OS/2 to a font, which x/image asks
// for and PDF does not.
func lend(t *testing.T, font []byte) []byte {
	t.Helper()
	be := binary.BigEndian
	tables := map[string][]byte{
		"cmap": append(be.AppendUint32(nil, 1), 0, 3, 0, 1, 0, 0, 0, 12, // version 0, one table
			0, 4, 0, 24, 0, 0, 0, 2, 0, 2, 0, 0, 0, 0, 0xff, 0xff, 0, 0, 0xff, 0xff, 0, 1, 0, 0),
		"name": {0, 0, 0, 0, 0, 6},
		"post": make([]byte, 32),
		"OS/2": make([]byte, 96),
	}
	be.PutUint32(tables["post"], 0x00030000)
	for i := range int(be.Uint16(font[4:])) {
		e := font[12+16*i:]
		at, n := be.Uint32(e[8:]), be.Uint32(e[12:])
		tables[string(e[:4])] = font[at : at+n]
	}
	var tags []string
	for tag := range tables {
		tags = append(tags, tag)
	}
	slices.Sort(tags)
	out := be.AppendUint32(nil, 0x00010000)
	out = be.AppendUint16(out, uint16(len(tags)))
	out = append(out, 0, 0, 0, 0, 0, 0)
	at := uint32(12 + 16*len(tags))
	var body []byte
	for _, tag := range tags {
		data := tables[tag]
		out = append(out, tag...)
		out = be.AppendUint32(out, 0)
		out = be.AppendUint32(out, at+uint32(len(body)))
		out = be.AppendUint32(out, uint32(len(data)))
		body = append(body, data...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	return append(out, body...)
}
