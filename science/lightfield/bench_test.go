package lightfield_test

import (
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// rack is a space with 24 lamps in six columns and four rows.
func rack(height float64) (lightfield.Space, []lightfield.Lamp) {
	s := lightfield.Space{Width: 2.4, Depth: 1.2, Height: 0.6}
	for side := range s.Walls {
		s.Walls[side].Reflectance = 0.8
	}
	s.Walls[lightfield.Below].Reflectance = 0.2
	s.Walls[lightfield.Front].Open = true
	var lamps []lightfield.Lamp
	for i := range 6 {
		for j := range 4 {
			lamps = append(lamps, lightfield.Lamp{
				Centre: lightfield.Point{X: 0.2 + 0.4*float64(i), Y: 0.15 + 0.3*float64(j), Z: height},
				Width:  0.3, Depth: 0.1, Flux: quantity.PPF(40 + i + j), Exponent: 1.2,
			})
		}
	}
	return s, lamps
}

func grid(s lightfield.Space, nx, ny int, z float64) []lightfield.Point {
	var pts []lightfield.Point
	for i := range nx {
		for j := range ny {
			pts = append(pts, lightfield.Point{X: s.Width * (float64(i) + 0.5) / float64(nx), Y: s.Depth * (float64(j) + 0.5) / float64(ny), Z: z})
		}
	}
	return pts
}

// Budget: 100 ms on two processors.
func BenchmarkCold24Lamps10000Points(b *testing.B) {
	s, lamps := rack(0.35)
	pts := grid(s, 125, 80, 0)
	b.ReportAllocs()
	for b.Loop() {
		f, err := lightfield.Solve(s, lamps, lightfield.Options{})
		if err != nil {
			b.Fatal(err)
		}
		f.Responses(nil, pts)
	}
}

// Budget: 10 ms.
func BenchmarkDimmingOnly(b *testing.B) {
	s, lamps := rack(0.35)
	pts := grid(s, 125, 80, 0)
	f, err := lightfield.Solve(s, lamps, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	resp := f.Responses(nil, pts)
	dim := make([]float64, len(lamps))
	dst := make([]float64, len(pts))
	n := 0.0
	b.ReportAllocs()
	for b.Loop() {
		n++
		for i := range dim {
			dim[i] = 1 / (n + float64(i))
		}
		lightfield.Combine(dst, resp, dim)
	}
}

// Budget: 50 ms.
func BenchmarkHeightsChanged(b *testing.B) {
	s, lamps := rack(0.35)
	pts := grid(s, 125, 80, 0)
	room, err := lightfield.NewRoom(s, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	dst := make([]float64, len(pts)*len(lamps))
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		n++
		for i := range lamps {
			lamps[i].Centre.Z = 0.25 + 0.01*float64((n+i)%20)
		}
		f, err := room.Solve(lamps)
		if err != nil {
			b.Fatal(err)
		}
		f.Responses(dst, pts)
	}
}

// A fit of 24 lamps of two makes to twelve readings, walls included.
func BenchmarkFit24Lamps12Readings(b *testing.B) {
	s, lamps := rack(0.35)
	f, err := lightfield.Solve(s, lamps, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	full := make([]float64, len(lamps))
	prior := lightfield.Prior{ExponentSD: 0.2, ReflectanceSD: 0.6}
	for i := range full {
		full[i] = 1
		prior.Group = append(prior.Group, i%2)
	}
	pts := grid(s, 4, 3, 0.02)
	var readings []lightfield.Reading
	for i, e := range f.PPFD(nil, full, pts) {
		readings = append(readings, lightfield.Reading{At: pts[i], PPFD: quantity.PPFD(e * (1.1 + 0.01*float64(i%3))), Dimming: full})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := lightfield.Fit(s, lamps, readings, prior); err != nil {
			b.Fatal(err)
		}
	}
}
