package lightfield_test

import (
	"fmt"
	"slices"
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

// How the cost grows: lamps at 10 000 points, walls included.
func BenchmarkLamps(b *testing.B) {
	for _, n := range []int{6, 24, 96, 500} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s, lamps := manyLamps(n)
			dim := slices.Repeat([]float64{1}, n)
			pts := grid(s, 125, 80, 0)
			b.ReportAllocs()
			for b.Loop() {
				f, err := lightfield.Solve(s, lamps, lightfield.Options{})
				if err != nil {
					b.Fatal(err)
				}
				f.PPFD(nil, dim, pts)
			}
		})
	}
}

// manyLamps hangs n lamps in rows over a wide rack.
func manyLamps(n int) (lightfield.Space, []lightfield.Lamp) {
	s, lamps := rack(0.35)
	s.Width *= max(1, float64(n)/24)
	one := lamps[0]
	lamps = nil
	for i := range n {
		one.Centre.X = 0.2 + (s.Width-0.4)*float64(i/4)/float64((n-1)/4)
		one.Centre.Y = 0.15 + 0.3*float64(i%4)
		lamps = append(lamps, one)
	}
	return s, lamps
}

// The largest map: 500 lamps, 100 000 points at one dimming.
func BenchmarkMap500Lamps100000Points(b *testing.B) {
	s, lamps := manyLamps(500)
	f, err := lightfield.Solve(s, lamps, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	dim := slices.Repeat([]float64{1}, len(lamps))
	pts := grid(s, 500, 200, 0)
	dst := make([]float64, len(pts))
	b.ReportAllocs()
	for b.Loop() {
		f.PPFD(dst, dim, pts)
	}
}

func BenchmarkPatches(b *testing.B) {
	for _, n := range []int{150, 600, 2400} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s, lamps := rack(0.35)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := lightfield.Solve(s, lamps, lightfield.Options{Patches: n}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// One lamp of 24 moved; points left out, for their cost is that of the plane.
func BenchmarkReplaceOneLamp(b *testing.B) {
	s, lamps := rack(0.35)
	f, err := lightfield.Solve(s, lamps, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		lamps[5].Centre.Z = 0.65 - lamps[5].Centre.Z
		if _, err := f.Replace(5, lamps[5]); err != nil {
			b.Fatal(err)
		}
	}
}

// The crop closes: the floor has another reflectance.
func BenchmarkFloorChanged(b *testing.B) {
	s, lamps := rack(0.35)
	room, err := lightfield.NewRoom(s, lightfield.Options{})
	if err != nil {
		b.Fatal(err)
	}
	f, err := room.Solve(lamps)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		with, err := room.WithReflectance(lightfield.Below, 0.06)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.In(with); err != nil {
			b.Fatal(err)
		}
	}
}

// A tent of bright film: four sides and the top mirror 0.3 and scatter 0.55.
func BenchmarkColdTent(b *testing.B) {
	benchmarkCold(b, func(s *lightfield.Space, lamps []lightfield.Lamp) {
		for _, side := range []lightfield.Side{lightfield.Left, lightfield.Right, lightfield.Front, lightfield.Back, lightfield.Above} {
			s.Walls[side] = lightfield.Wall{Reflectance: 0.55, Mirror: 0.3}
		}
	})
}

// A shelf over a third of the bench.
func BenchmarkColdPanel(b *testing.B) {
	benchmarkCold(b, func(s *lightfield.Space, lamps []lightfield.Lamp) {
		s.Panels = []lightfield.Panel{{X2: 0.8, Y2: 1.2, Z: 0.2, Top: 0.5, Bottom: 0.5}}
	})
}

// All lamps tilted.
func BenchmarkColdTilted(b *testing.B) {
	benchmarkCold(b, func(s *lightfield.Space, lamps []lightfield.Lamp) {
		for i := range lamps {
			lamps[i].Tilt, lamps[i].Towards = 20, 90
		}
	})
}

// All lamps with a distribution as a file gives it.
func BenchmarkColdByFile(b *testing.B) {
	law := newTable()
	benchmarkCold(b, func(s *lightfield.Space, lamps []lightfield.Lamp) {
		for i := range lamps {
			lamps[i].Distribution = law
		}
	})
}

func benchmarkCold(b *testing.B, change func(*lightfield.Space, []lightfield.Lamp)) {
	s, lamps := rack(0.35)
	change(&s, lamps)
	dim := slices.Repeat([]float64{1}, len(lamps))
	pts := grid(s, 125, 80, 0)
	b.ReportAllocs()
	for b.Loop() {
		f, err := lightfield.Solve(s, lamps, lightfield.Options{})
		if err != nil {
			b.Fatal(err)
		}
		f.PPFD(nil, dim, pts)
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
