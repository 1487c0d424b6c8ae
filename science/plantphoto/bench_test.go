package plantphoto

import (
	"bytes"
	"image/jpeg"
	"sync"
	"testing"

	"underlamp/internal/photoscene"
)

// photo12 is a photo of 12 megapixels as a JPEG file of quality 88.
var photo12 = sync.OnceValue(func() []byte {
	t := photoscene.Draw(11, 4000, 1, photoscene.Flat)
	t.Samples = 1
	t.Blur, t.Noise = 1.2, 4
	var out bytes.Buffer
	if err := jpeg.Encode(&out, t.Render(), &jpeg.Options{Quality: 88}); err != nil {
		panic(err)
	}
	return out.Bytes()
})

// BenchmarkPhoto12 is from the bytes of a photo of 12 megapixels to the figures of its plant.
func BenchmarkPhoto12(b *testing.B) {
	data := photo12()
	b.Run("decode", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("all", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			m, err := jpeg.Decode(bytes.NewReader(data))
			if err != nil {
				b.Fatal(err)
			}
			if r := Measure(m, Options{}); len(r.Plants) != 1 || r.Plants[0].Refused != nil {
				b.Fatal("not measured")
			}
		}
	})
}
