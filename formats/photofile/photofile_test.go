package photofile_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"strings"
	"testing"

	"underlamp/formats/photofile"
)

// picture is red above, blue below.
func picture(w, h int) *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{220, 20, 20, 255}
			if y >= h/2 {
				c = color.RGBA{20, 20, 220, 255}
			}
			p.SetRGBA(x, y, c)
		}
	}
	return p
}

func jpegOf(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exif is a segment with an orientation, a maker, and a directory of GPS, big-endian, laid
// out by hand after CIPA DC-008 (2012), section 4.
func exif(turn int) []byte {
	const maker = "SECRETMAKER\x00"
	be := binary.BigEndian
	tiff := []byte("MM\x00*\x00\x00\x00\x08\x00\x03")
	entry := func(tag, kind uint16, n, value uint32) {
		tiff = be.AppendUint16(tiff, tag)
		tiff = be.AppendUint16(tiff, kind)
		tiff = be.AppendUint32(tiff, n)
		tiff = be.AppendUint32(tiff, value)
	}
	entry(271, 2, uint32(len(maker)), 8+2+3*12+4)
	entry(274, 3, 1, uint32(turn)<<16)
	entry(34853, 4, 1, 8+2+3*12+4+uint32(len(maker)))
	tiff = append(be.AppendUint32(tiff, 0), maker...)
	tiff = append(tiff, "\x00\x00 48.2082N SECRETPLACE"...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	return append(be.AppendUint16([]byte{0xFF, 0xE1}, uint16(len(body)+2)), body...)
}

func segment(marker byte, body string) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xFF, marker}, uint16(len(body)+2)), body...)
}

// dressed is a JPEG as phones write them: EXIF, comment, an index of further pictures, and a
// film after its end.
func dressed(t testing.TB, turn int) []byte {
	plain := jpegOf(t, picture(64, 32))
	out := bytes.Clone(plain[:2])
	for _, s := range [][]byte{exif(turn), segment(0xE1, "http://ns.adobe.com/xap/1.0/\x00SECRETXMP"), segment(0xFE, "SECRETCOMMENT"), segment(0xE2, "MPF\x00SECRETMPF"), segment(0xE2, "ICC_PROFILE\x00\x01\x01colours"), segment(0xED, "Photoshop 3.0\x00SECRETIPTC")} {
		out = append(out, s...)
	}
	return append(append(out, plain[2:]...), "ftypmp42 SECRETFILM"...)
}

// Where, when and with what a picture was taken leaves it; how it is turned, its colours and
// its pixels stay.
func TestPlain(t *testing.T) {
	for turn := 1; turn <= 8; turn++ {
		in := dressed(t, turn)
		i, err := photofile.Check(in)
		if err != nil || i.Orientation != turn || i.Width != 64 || i.Height != 32 || i.Media != "image/jpeg" || len(i.SHA256) != 64 {
			t.Fatalf("%+v, %v", i, err)
		}
		out, err := photofile.Plain(in)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(out, []byte("SECRET")) {
			t.Errorf("turned %d: it still tells something", turn)
		}
		if !bytes.Contains(out, []byte("ICC_PROFILE")) {
			t.Error("the colour profile is gone")
		}
		again, err := photofile.Check(out)
		if err != nil || again.Orientation != turn {
			t.Errorf("turned %d: then %+v, %v", turn, again, err)
		}
		a, _, err1 := image.Decode(bytes.NewReader(in))
		b, _, err2 := image.Decode(bytes.NewReader(out))
		if err1 != nil || err2 != nil || !bytes.Equal(a.(*image.YCbCr).Y, b.(*image.YCbCr).Y) {
			t.Errorf("turned %d: other pixels (%v, %v)", turn, err1, err2)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, picture(8, 8)); err != nil {
		t.Fatal(err)
	}
	in := b.Bytes()
	text := append([]byte("tEXt"), "Comment\x00SECRET"...)
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(text)-4))
	chunk = binary.BigEndian.AppendUint32(append(chunk, text...), crc32.ChecksumIEEE(text))
	with := append(append(append(bytes.Clone(in[:33]), chunk...), in[33:]...), "SECRET"...)
	if out, err := photofile.Plain(with); err != nil || !bytes.Equal(out, in) {
		t.Errorf("PNG: %v, %d bytes of %d", err, len(out), len(in))
	}
}

// Small pictures stand upright: of a picture that is red above, the camera held turned, red
// is where EXIF's figure of the eight orientations has it.
func TestSmallIsUpright(t *testing.T) {
	for turn, red := range map[int]string{1: "above", 2: "above", 3: "below", 4: "below", 5: "left", 6: "right", 7: "right", 8: "left"} {
		out, err := photofile.Small(dressed(t, turn), 16)
		if err != nil {
			t.Fatal(err)
		}
		p, err := jpeg.Decode(bytes.NewReader(out))
		if err != nil {
			t.Fatal(err)
		}
		b := p.Bounds()
		if max(b.Dx(), b.Dy()) > 16 || (b.Dx() > b.Dy()) != (turn < 5) {
			t.Errorf("turned %d: %v", turn, b)
		}
		at := map[string]image.Point{"above": {b.Dx() / 2, 1}, "below": {b.Dx() / 2, b.Dy() - 2}, "left": {1, b.Dy() / 2}, "right": {b.Dx() - 2, b.Dy() / 2}}[red]
		if r, _, blue, _ := p.At(at.X, at.Y).RGBA(); r < blue {
			t.Errorf("turned %d: red is not %s", turn, red)
		}
	}
}

// What is no picture, too large, or a bomb is refused by its head alone.
func TestRefused(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, picture(4, 4)); err != nil {
		t.Fatal(err)
	}
	bomb := bytes.Clone(b.Bytes())
	binary.BigEndian.PutUint32(bomb[16:], 29_000)
	binary.BigEndian.PutUint32(bomb[20:], 29_000)
	binary.BigEndian.PutUint32(bomb[29:], crc32.ChecksumIEEE(bomb[12:29]))
	good := jpegOf(t, picture(64, 64))
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"nothing": {nil, "empty"}, "text": {[]byte("<svg onload=alert(1)>"), "no JPEG, PNG or WebP"}, "GIF": {[]byte("GIF89a\x01\x00\x01\x00"), "no JPEG, PNG or WebP"}, "bomb": {bomb, "29000 × 29000"},
		"broken off": {good[:len(good)-30], "broken off"}, "broken PNG": {b.Bytes()[:b.Len()-8], "broken off"}, "too large": {make([]byte, photofile.MaxBytes+1), "at most 20 MB"},
	} {
		if _, err := photofile.Check(c.data); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func FuzzPhoto(f *testing.F) {
	f.Add(dressed(f, 6))
	f.Add(jpegOf(f, picture(9, 5)))
	var b bytes.Buffer
	if err := png.Encode(&b, picture(5, 9)); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add(withProfile(b.Bytes(), displayProfile()))
	f.Add(withProfile(b.Bytes(), rootProfile()))
	for _, name := range []string{"phone.jpg", "phone.png", "phone.webp"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	if webp, err := os.ReadFile("testdata/phone.webp"); err == nil { // without the chunk that announces profile and EXIF
		f.Add(bytes.Replace(webp, []byte("VP8X"), []byte("VP8@"), 1))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		i, err := photofile.Check(data)
		if err != nil {
			return
		}
		out, err := photofile.Plain(data)
		if err != nil {
			t.Fatalf("a picture that was taken cannot be made plain: %v", err)
		}
		again, err := photofile.Check(out)
		if err != nil || again.Width != i.Width || again.Height != i.Height || again.Orientation != i.Orientation {
			t.Fatalf("%+v became %+v, %v", i, again, err)
		}
		if i.Width*i.Height < 100_000 {
			if p, err := photofile.Decode(data, 1000); err == nil && p.Image.Rect.Dx()*p.Image.Rect.Dy() > 1000 {
				t.Fatalf("decoded to %v", p.Image.Rect)
			}
		}
		if twice, err := photofile.Plain(out); err != nil || !bytes.Equal(twice, out) {
			t.Fatalf("plain is not plain: %v", err)
		}
	})
}

func BenchmarkSmall(b *testing.B) {
	data := jpegOf(b, picture(4000, 3000))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := photofile.Small(data, 480); err != nil {
			b.Fatal(err)
		}
	}
}
