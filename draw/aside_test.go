package draw

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Points that are spread cover none of their neighbours, as long as there is room; others
// stay where they are, and so does the first of each place.
func TestPointsStandSideBySide(t *testing.T) {
	same := func(v float64) float64 { return v }
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 5).Draw(t, "n") // five are never more than there is room for
		pts := Points{Spread: true}
		for range n {
			pts.At = append(pts.At, Dot{X: 100 * float64(rapid.IntRange(0, 1).Draw(t, "x")), Y: rapid.Float64Range(0, 30).Draw(t, "y")})
		}
		aside := pts.aside(same, same)
		if lone := (Points{At: pts.At}).aside(same, same); len(lone) != n {
			t.Fatal(lone)
		}
		for i, a := range pts.At {
			if math.Abs(aside[i]) > mostAside {
				t.Fatalf("%v moved by %v", a, aside[i])
			}
			for j, b := range pts.At[:i] {
				if math.Hypot(a.X+aside[i]-b.X-aside[j], a.Y-b.Y) < dotWidth-1e-6 {
					t.Fatalf("%v and %v cover each other, moved by %v and %v", a, b, aside[i], aside[j])
				}
			}
		}
	})
}
