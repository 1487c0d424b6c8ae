package demo_test

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"underlamp/app/photo"
	"underlamp/demo"
	"underlamp/draw/labelsheet"
	"underlamp/formats/photofile"
	"underlamp/internal/photoscene"
	"underlamp/science/plantlabel"
)

var update = flag.Bool("update", false, "draw the photos of the demo anew")

// shots are the photos: who, when, what it weighs in the rounds of the demo, and how high its
// leaves stand.
var shots = []struct {
	plant, day string
	grams      float64
	height     float64 // mm
	spots      int
	blur       float64
}{
	{"P4", "2026-10-22", 17.8, 50, 0, 0.7}, {"P8", "2026-10-22", 22.8, 55, 0, 0.7}, {"P11", "2026-10-22", 22, 55, 0, 0.7},
	{"P8", "2026-10-26", 48, 75, 0, 0.7},
	{"P4", "2026-10-29", 70, 90, 0, 0.7}, {"P8", "2026-10-29", 92, 100, 1, 0.7}, {"P11", "2026-10-29", 88, 100, 0, 0.7},
	{"P8", "2026-11-02", 160, 120, 3, 0.7},
	{"P4", "2026-11-05", 186, 135, 1, 0.7}, {"P8", "2026-11-05", 242, 145, 5, 0.7}, {"P11", "2026-11-05", 236, 140, 0, 0.7},
	{"P11", "2026-11-02", 150, 120, 0, 9},
}

// areaOf is the invented leaf area of an invented mass, cm².
func areaOf(grams, scatter float64) float64 { return 12.5 * math.Pow(grams, 0.68) * (1 + scatter) }

// taken is EXIF as a phone writes it: when, and where, which nothing that leaves underlamp may
// tell.
func taken(day string, focal35 uint32) []byte {
	be := binary.BigEndian
	date, zone := day[:4]+":"+day[5:7]+":"+day[8:]+" 19:05:00\x00", "+01:00\x00"
	tiff := []byte("MM\x00*\x00\x00\x00\x08\x00\x02")
	entry := func(tag, kind uint16, n, value uint32) {
		tiff = be.AppendUint16(tiff, tag)
		tiff = be.AppendUint16(tiff, kind)
		tiff = be.AppendUint32(tiff, n)
		tiff = be.AppendUint32(tiff, value)
	}
	const exif = 8 + 2 + 2*12 + 4
	const gps = exif + 2 + 3*12 + 4
	const data = gps + 2 + 1*12 + 4
	entry(34665, 4, 1, exif)
	entry(34853, 4, 1, gps)
	tiff = append(tiff, 0, 0, 0, 0, 0, 3)
	entry(36867, 2, uint32(len(date)), data)
	entry(36881, 2, uint32(len(zone)), data+uint32(len(date)))
	entry(41989, 3, 1, focal35<<16)
	tiff = append(tiff, 0, 0, 0, 0, 0, 1)
	entry(1, 2, 2, uint32('N')<<24)
	tiff = append(tiff, 0, 0, 0, 0)
	tiff = append(append(tiff, date...), zone...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	return append(be.AppendUint16([]byte{0xFF, 0xE1}, uint16(len(body)+2)), body...)
}

// perMM is pixels a millimetre on the table, and distance how far the camera is, mm.
const perMM, distance = 3.5, 850.0

// dressed is a photo with what the phone says of it.
func dressed(t *testing.T, plain []byte, day string) []byte {
	c, err := jpeg.DecodeConfig(bytes.NewReader(plain))
	if err != nil {
		t.Fatal(err)
	}
	if plain, err = photofile.Plain(plain); err != nil {
		t.Fatal(err)
	}
	focal35 := perMM * distance * math.Hypot(36, 24) / math.Hypot(float64(c.Width), float64(c.Height))
	return append(append(bytes.Clone(plain[:2]), taken(day, uint32(math.Round(focal35)))...), plain[2:]...)
}

func draw(t *testing.T, i int) []byte {
	s := shots[i]
	layout, err := labelsheet.LayoutOf("large")
	if err != nil {
		t.Fatal(err)
	}
	scatter := 0.05 * math.Sin(float64(7*i))
	seed := uint64(s.plant[1]) + uint64(len(s.plant))*100 // a plant keeps its leaves
	leavesOf := func(length float64) []photoscene.Leaf {
		return photoscene.Rosette(rand.New(rand.NewPCG(seed, 3)), 0, 0, length, s.height, 16)
	}
	lo, hi := 10.0, 300.0
	for range 14 {
		mid := (lo + hi) / 2
		if photoscene.Area(leavesOf(mid))/100 < areaOf(s.grams, scatter) {
			lo = mid
		} else {
			hi = mid
		}
	}
	leaves := leavesOf(lo)
	radius := photoscene.Width(leaves) / 2
	camera := photoscene.Camera{Focal: perMM * distance, X: 65, Y: 4, Distance: distance, Tilt: 0.06 + 0.03*math.Sin(float64(i)), Azimuth: float64(i), Roll: 0.1 * math.Sin(float64(3*i))}
	camera.Width = int(perMM * (2*radius*1.3 + 190))
	camera.Height = int(perMM * max(150, 2*radius*1.45))
	for k := range s.spots { // burnt margins: on the tips of young leaves, the last ones
		l := leaves[len(leaves)-1-2*k]
		sin, cos := math.Sincos(l.Turn)
		r := l.A * 0.8
		leaves = append(leaves, photoscene.Leaf{X: l.X + cos*r, Y: l.Y + sin*r, Z: l.Z + 0.5, A: l.B * 0.35, B: l.B * 0.22, Turn: l.Turn + 1.4, Colour: [3]float64{0.13, 0.07, 0.03}})
	}
	scene := photoscene.Scene{
		Camera: camera,
		Labels: []photoscene.Label{{Layout: layout, Content: plantlabel.Content{Code: photo.CodeOf(photo.Subject{Bench: demo.SensorBench, Plant: s.plant}), Title: s.plant}, X: radius + 75, Y: 10, Turn: 0.1 * math.Sin(float64(5*i))}},
		Leaves: leaves, Ground: [3]float64{0.42, 0.41, 0.4}, Grain: 0.06, Noise: 1.5, Blur: s.blur, Vignette: 0.15, Exposure: 0.62 + 0.12*math.Sin(float64(i)), Seed: uint64(i),
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, scene.Render(), &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func nameOf(i int) string { return fmt.Sprintf("%s-%s.jpg", shots[i].day, shots[i].plant) }

// The photos of the demo stand in their folder; -update dresses them anew, and draws those that
// are missing (a minute each for large ones).
func TestPhotos(t *testing.T) {
	if *update {
		for i := range shots {
			file := filepath.Join("photos", nameOf(i))
			plain, err := os.ReadFile(file)
			if err != nil {
				plain = draw(t, i)
			}
			if err := os.WriteFile(file, dressed(t, plain, shots[i].day), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	for i := range shots {
		if f, err := demo.Photos().Open(nameOf(i)); err != nil && !*update {
			t.Error(err)
		} else if err == nil {
			f.Close()
		}
	}
}
