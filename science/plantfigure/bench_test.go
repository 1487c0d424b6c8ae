package plantfigure

import (
	"math"
	"testing"
)

// A rosette in a plane of 2.9 megapixels, as a photo of 12 leaves it.
func BenchmarkFromTop(b *testing.B) {
	r := scene{w: 1700, h: 1700, mm: 0.15, leaves: 18, length: 105, width: 0.7, colour: green, heart: pale, ground: "rock wool", shadow: 0.5, noise: 0.015, burnt: 12}.render()
	w := Wanted{Seed: r.seed, Reach: 30, Base: math.NaN(), ScaleSD: 0.005}
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		if _, err := FromTop(r.Picture, w); err != nil {
			b.Fatal(err)
		}
	}
}
