package qr_test

import (
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"underlamp/draw/qr"
)

// texts are as long as the program makes them.
var texts = []string{
	"http://192.168.1.10:8282/pair#7KQ2M-9XD4T",
	"https://growing-room-of-the-north-cellar.local:8283/pair#7KQ2M-9XD4T",
	"http://[fd00::1234:5678:9abc:def0]:8282/secure",
}

// read reads a picture of a code with a general-purpose reader, the port of ZXing.
func read(t *testing.T, m image.Image) string {
	t.Helper()
	bits, err := gozxing.NewBinaryBitmapFromImage(m)
	if err != nil {
		t.Fatal(err)
	}
	got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	if err != nil {
		t.Fatal(err)
	}
	return got.GetText()
}

// screen is what a terminal shows of a text: cells of 8 by 16 pixels, a little grey around.
func screen(t *testing.T, text string, front, back color.Gray) image.Image {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	const w, h, edge = 8, 16, 24
	m := image.NewGray(image.Rect(0, 0, 2*edge+w*100, 2*edge+h*len(lines)))
	for i := range m.Pix {
		m.Pix[i] = 0x30 // the terminal around
	}
	for y, line := range lines {
		for x, c := range []rune(line) {
			var upper, lower bool
			switch c {
			case ' ':
			case '▀':
				upper = true
			case '▄':
				lower = true
			case '█':
				upper, lower = true, true
			default:
				t.Fatalf("%q in line %d", c, y+1)
			}
			for py := range h {
				ink := back
				if py < h/2 && upper || py >= h/2 && lower {
					ink = front
				}
				for px := range w {
					m.SetGray(edge+x*w+px, edge+y*h+py, ink)
				}
			}
		}
	}
	return m
}

// What a terminal shows is read by a general-purpose reader: with colour on any terminal,
// without on a dark one.
func TestTerminal(t *testing.T) {
	for _, text := range texts {
		drawn, err := qr.Terminal(text, true)
		if err != nil {
			t.Fatal(err)
		}
		plain := strings.NewReplacer("\x1b[38;5;16;48;5;231m", "", "\x1b[0m", "").Replace(drawn)
		if strings.Contains(plain, "\x1b") || strings.Count(drawn, "\x1b[38;5;16;48;5;231m") != strings.Count(drawn, "\n") {
			t.Errorf("colours are not set and put back on each line")
		}
		if got := read(t, screen(t, plain, color.Gray{0}, color.Gray{255})); got != text {
			t.Errorf("read %q", got)
		}
		if drawn, err = qr.Terminal(text, false); err != nil {
			t.Fatal(err)
		}
		if got := read(t, screen(t, drawn, color.Gray{220}, color.Gray{0x30})); got != text {
			t.Errorf("without colour read %q", got)
		}
	}
	if _, err := qr.Terminal(strings.Repeat("x", 5000), true); err == nil {
		t.Error("5000 bytes were drawn")
	}
}

// The picture for pages is well formed, and read from its path.
func TestSVG(t *testing.T) {
	for _, text := range texts {
		svg, err := qr.SVG(text, `a code "for" <you>`)
		if err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Box   string `xml:"viewBox,attr"`
			Label string `xml:"aria-label,attr"`
			Path  struct {
				D string `xml:"d,attr"`
			} `xml:"path"`
		}
		if err := xml.Unmarshal([]byte(svg), &doc); err != nil || doc.Label != `a code "for" <you>` {
			t.Fatalf("%v, label %q", err, doc.Label)
		}
		var n int
		fmt.Sscanf(doc.Box, "0 0 %d", &n)
		const scale = 6
		m := image.NewGray(image.Rect(0, 0, n*scale, n*scale))
		for i := range m.Pix {
			m.Pix[i] = 255
		}
		for _, run := range strings.Split(strings.TrimPrefix(doc.Path.D, "M"), "M") {
			var x, y, long int
			if k, err := fmt.Sscanf(run, "%d %dh%d", &x, &y, &long); k != 3 {
				t.Fatalf("%q: %v", run, err)
			}
			for py := range scale {
				for px := range long * scale {
					m.SetGray(x*scale+px, y*scale+py, color.Gray{})
				}
			}
		}
		if got := read(t, m); got != text {
			t.Errorf("read %q", got)
		}
	}
}
