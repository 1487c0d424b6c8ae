package terminal

import "testing"

// Fixed colours of xterm (256colres.pl of the xterm sources, public domain): index and
// value.
func TestIndex256(t *testing.T) {
	for want, c := range map[int]rgb{
		16: {0, 0, 0}, 196: {255, 0, 0}, 46: {0, 255, 0}, 21: {0, 0, 255}, 231: {255, 255, 255},
		244: {0x80, 0x80, 0x80}, 232: {8, 8, 8}, 255: {238, 238, 238}, 67: {0x5f, 0x87, 0xaf}, 209: {0xff, 0x87, 0x5f},
	} {
		if got := c.index256(); got != want {
			t.Errorf("%v: %d, want %d", c, got, want)
		}
	}
}
