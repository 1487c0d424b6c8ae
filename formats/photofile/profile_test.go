package photofile_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"flag"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"underlamp/formats/photofile"
)

var update = flag.Bool("update", false, "make the files of testdata anew with the tools of other projects")

// displayProfile is a profile of three curves and a matrix as phones embed it: the colorants
// of Display P3 at D50 and the curve of sRGB as a formula (ICC.1:2010, annex F.3).
func displayProfile() []byte {
	be := binary.BigEndian
	fixed := func(v float64) []byte { return be.AppendUint32(nil, uint32(int32(math.Round(v*65536)))) }
	xyz := func(x, y, z float64) []byte {
		return append(append(append([]byte("XYZ \x00\x00\x00\x00"), fixed(x)...), fixed(y)...), fixed(z)...)
	}
	para := append([]byte("para\x00\x00\x00\x00\x00\x03\x00\x00"), bytes.Join([][]byte{fixed(2.4), fixed(1 / 1.055), fixed(0.055 / 1.055), fixed(1 / 12.92), fixed(0.04045)}, nil)...)
	name := "Display of a test"
	mluc := be.AppendUint32(be.AppendUint32([]byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenUS"), uint32(2*len(name))), 28)
	for _, c := range name {
		mluc = append(mluc, 0, byte(c))
	}
	for len(mluc)%4 != 0 {
		mluc = append(mluc, 0)
	}
	tags := []struct {
		name string
		data []byte
	}{{"desc", mluc}, {"wtpt", xyz(0.9642, 1, 0.8249)}, {"rXYZ", xyz(0.51512, 0.24120, -0.00105)}, {"gXYZ", xyz(0.29198, 0.69225, 0.04189)}, {"bXYZ", xyz(0.15710, 0.06657, 0.78407)},
		{"rTRC", para}, {"gTRC", para}, {"bTRC", para}}
	head := make([]byte, 128)
	copy(head[8:], "\x04\x00\x00\x00mntrRGB XYZ ")
	copy(head[36:], "acsp")
	copy(head[68:], append(append(fixed(0.9642), fixed(1)...), fixed(0.8249)...))
	out := be.AppendUint32(head, uint32(len(tags)))
	at := 132 + 12*len(tags)
	var body []byte
	for _, t := range tags {
		out = append(out, t.name...)
		out = be.AppendUint32(be.AppendUint32(out, uint32(at+len(body))), uint32(len(t.data)))
		body = append(body, t.data...)
	}
	out = append(out, body...)
	be.PutUint32(out, uint32(len(out)))
	return out
}

// rootProfile is that of a display whose curves are roots of what is below 0.
func rootProfile() []byte {
	offset := binary.BigEndian.AppendUint32(nil, uint32(math.Round(0.055/1.055*65536)))
	return bytes.ReplaceAll(displayProfile(), offset, []byte{0xff, 0xfe, 0, 0})
}

// withProfile puts a profile into a PNG.
func withProfile(plain, icc []byte) []byte {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write(icc)
	w.Close()
	return append(append(bytes.Clone(plain[:33]), chunk("iCCP", append([]byte("display\x00\x00"), z.Bytes()...))...), plain[33:]...)
}

func chunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// Colours of a display profile become those of sRGB as Little CMS 2.14 (transicc of Debian's
// liblcms2-utils, relative colorimetric, to its built-in sRGB) makes them of the same
// profile: its answers, rounded to 8 bits, stand here. One step is left for rounding.
func TestColourProfile(t *testing.T) {
	if *update {
		if err := os.WriteFile("testdata/display.icc", displayProfile(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ in, want color.RGBA }{
		{color.RGBA{255, 0, 0, 255}, color.RGBA{255, 0, 0, 255}},
		{color.RGBA{0, 255, 0, 255}, color.RGBA{0, 255, 0, 255}},
		{color.RGBA{0, 0, 255, 255}, color.RGBA{0, 0, 255, 255}},
		{color.RGBA{128, 128, 128, 255}, color.RGBA{128, 128, 128, 255}},
		{color.RGBA{60, 140, 50, 255}, color.RGBA{0, 142, 31, 255}},
		{color.RGBA{200, 180, 60, 255}, color.RGBA{204, 179, 8, 255}},
		{color.RGBA{120, 80, 40, 255}, color.RGBA{127, 78, 30, 255}},
		{color.RGBA{90, 160, 70, 255}, color.RGBA{61, 162, 55, 255}},
		{color.RGBA{30, 60, 20, 255}, color.RGBA{17, 61, 13, 255}},
		{color.RGBA{235, 240, 225, 255}, color.RGBA{234, 240, 224, 255}},
	} {
		p := image.NewRGBA(image.Rect(0, 0, 2, 2))
		for i := range 4 {
			p.SetRGBA(i%2, i/2, c.in)
		}
		var b bytes.Buffer
		if err := png.Encode(&b, p); err != nil {
			t.Fatal(err)
		}
		got, err := photofile.Decode(withProfile(b.Bytes(), displayProfile()), 0)
		if err != nil || got.Profile != "Display of a test" || len(got.Notes) > 0 {
			t.Fatalf("%+v, %v", got, err)
		}
		at := got.Image.RGBAAt(1, 1)
		for k, v := range [3][2]uint8{{at.R, c.want.R}, {at.G, c.want.G}, {at.B, c.want.B}} {
			if math.Abs(float64(v[0])-float64(v[1])) > 1 {
				t.Errorf("%v: %v, want %v (channel %d)", c.in, at, c.want, k)
			}
		}
	}
}

// Photos dressed by ExifTool 12.57 and cwebp 1.2.4, whose makers read the same standards, are
// read alike in all three formats; plain ones tell nothing to ExifTool's own words any more.
func TestDressedByOthers(t *testing.T) {
	for _, name := range []string{"phone.jpg", "phone.png", "phone.webp"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		i, err := photofile.Check(data)
		if err != nil {
			t.Fatal(err)
		}
		w, h := i.Upright()
		taken, ok := i.Shot.Taken(time.Local)
		if i.Orientation != 6 || w != 32 || h != 64 || i.Shot.Focal != 4.25 || i.Shot.Focal35 != 26 || !ok || !taken.Equal(time.Date(2026, 10, 1, 9, 20, 0, 0, time.UTC)) {
			t.Errorf("%s: %+v, %v", name, i, taken)
		}
		plain, err := photofile.Plain(data)
		if err != nil {
			t.Fatal(err)
		}
		for _, secret := range []string{"SECRET", "2026:10", "xmpmeta"} {
			if strings.Contains(string(plain), secret) {
				t.Errorf("%s: plain, it tells %q", name, secret)
			}
		}
		again, err := photofile.Check(plain)
		if err != nil || again.Orientation != 6 || again.Shot != (photofile.Shot{}) {
			t.Errorf("%s: plain %+v, %v", name, again, err)
		}
		a, err1 := photofile.Decode(data, 0)
		b, err2 := photofile.Decode(plain, 0)
		if err1 != nil || err2 != nil || !bytes.Equal(a.Image.Pix, b.Image.Pix) || a.Profile != b.Profile {
			t.Errorf("%s: other pixels (%v, %v)", name, err1, err2)
			continue
		}
		if red := a.Image.RGBAAt(28, 30); red.R < 150 || red.B > 90 { // turned by 90°, what was above is right
			t.Errorf("%s: %v at the right", name, red)
		}
	}
}

// The clock of a camera that does not say its zone is that of the caller.
func TestTaken(t *testing.T) {
	zone := time.FixedZone("", 2*3600)
	s := photofile.Shot{Wall: time.Date(2026, 10, 1, 10, 20, 0, 0, time.UTC)}
	if at, ok := s.Taken(zone); !ok || !at.Equal(time.Date(2026, 10, 1, 8, 20, 0, 0, time.UTC)) {
		t.Errorf("%v", at)
	}
	if _, ok := (photofile.Shot{}).Taken(zone); ok {
		t.Error("a time out of nothing")
	}
}

// A head that promises more pixels than its bytes can hold is refused before anything is
// decoded, as are HEIC, with what to do, and pictures that move.
func TestNotDecoded(t *testing.T) {
	flat := jpegOf(t, image.NewGray(image.Rect(0, 0, 16, 16)))
	lying := bytes.Clone(flat)
	at := bytes.Index(lying, []byte{0xFF, 0xC0})
	binary.BigEndian.PutUint16(lying[at+5:], 7000)
	binary.BigEndian.PutUint16(lying[at+7:], 9000)
	moving := append([]byte("RIFF\x22\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x02\x00\x00\x00\x0f\x00\x00\x0f\x00\x00"), "VP8L\x08\x00\x00\x00\x2f\x0f\xc0\x03\x00\x00\x00\x00"...)
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"lying": {lying, "9000 × 7000"}, "HEIC": {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "send JPEG"}, "AVIF": {[]byte("\x00\x00\x00\x18ftypavif\x00\x00\x00\x00"), "AVIF"},
		"moving": {moving, "moving"},
	} {
		_, err := photofile.Check(c.data)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if n := testing.AllocsPerRun(1, func() { photofile.Decode(c.data, 0) }); n > 200 {
			t.Errorf("%s: %v allocations", name, n)
		}
	}
}

// A picture that is made small while it is decoded is the mean over whole blocks.
func TestReduced(t *testing.T) {
	p := image.NewRGBA(image.Rect(0, 0, 90, 60))
	for y := range 60 {
		for x := range 90 {
			p.SetRGBA(x, y, color.RGBA{uint8(x), uint8(y), 7, 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	got, err := photofile.Decode(b.Bytes(), 700)
	if err != nil || got.Reduced != 3 || got.Image.Rect.Dx() != 30 || got.Image.Rect.Dy() != 20 {
		t.Fatalf("%v, %v", got, err)
	}
	if at := got.Image.RGBAAt(4, 2); at != (color.RGBA{13, 7, 7, 255}) {
		t.Errorf("%v", at)
	}
}

func BenchmarkDecode(b *testing.B) {
	p := image.NewRGBA(image.Rect(0, 0, 4000, 3000))
	for i := range p.Pix {
		p.Pix[i] = byte(i*2654435761>>24) | 0xC0
	}
	data := jpegOf(b, p)
	for name, most := range map[string]int{"whole": 0, "half": 3_000_000} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := photofile.Decode(data, most); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
