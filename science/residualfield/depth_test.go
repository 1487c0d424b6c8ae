package residualfield_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/science/residualfield"
)

// How alike differences from the model are at two distances under the lamps, by
// computation of the light itself (lightfield): benches whose lamps are not equal
// (sd 10 %) or whose side wall is dull. The kernel must not promise more than that
// (0.03 for the spread of twelve draws), for shade of cables, which it also stands
// for, moves faster; and over a factor of 2 it must not throw away much, 0.2.
func TestDepthLength(t *testing.T) {
	for _, ratio := range []float64{0.4, 0.6, 0.8, 1.25, 1.6, 2} {
		sum := 0.0
		for _, layout := range []string{"bars", "panels", "wall"} {
			for seed := range uint64(4) {
				sum += correlation(t, layout, ratio, seed) / 12
			}
		}
		d := at(0, 0)
		d.Depth = math.Log(ratio)
		kernel := residualfield.Kernel{SD: 1, Length: 1}.Cov(at(0, 0), d)
		t.Logf("distance × %.2f: benches %.2f, kernel %.2f", ratio, sum, kernel)
		if kernel > sum+0.03 || ratio > 0.5 && kernel < sum-0.2 {
			t.Errorf("distance × %.2f: benches %.2f, kernel %.2f", ratio, sum, kernel)
		}
	}
}

// correlation is how alike the differences from the model are at two distances
// under the lamps, over a grid of places, the level left out: 2⟨ab⟩/(⟨aa⟩+⟨bb⟩),
// which is the correlation of two fields of one variance and falls also where
// their sizes part.
func correlation(t *testing.T, layout string, ratio float64, seed uint64) float64 {
	rng := rand.New(rand.NewPCG(seed, 9))
	space := lightfield.Space{Width: 1.2, Depth: 0.8, Height: 1.2}
	for i := range space.Walls {
		space.Walls[i] = lightfield.Wall{Reflectance: 0.7}
	}
	space.Walls[lightfield.Front].Open = true
	space.Walls[lightfield.Below].Reflectance = 0.2
	var lamps []lightfield.Lamp
	if layout == "panels" {
		for i := range 6 {
			lamps = append(lamps, lightfield.Lamp{Centre: lightfield.Point{X: 0.2 + 0.4*float64(i%3), Y: 0.2 + 0.4*float64(i/3), Z: 0.8}, Width: 0.2, Depth: 0.2, Flux: 80, Exponent: 1.2})
		}
	} else {
		for i := range 4 {
			lamps = append(lamps, lightfield.Lamp{Centre: lightfield.Point{X: 0.6, Y: 0.1 + 0.2*float64(i), Z: 0.8}, Width: 1.1, Depth: 0.04, Flux: 80, Exponent: 1})
		}
	}
	other, odd := append([]lightfield.Lamp(nil), lamps...), space
	if layout == "wall" {
		odd.Walls[rng.IntN(2)].Reflectance = quantity.Fraction(0.2 + 0.4*rng.Float64())
	} else {
		for i := range other {
			other[i].Flux *= quantity.PPF(math.Exp(0.1 * rng.NormFloat64()))
		}
	}
	const near = 0.3
	delta := func(depth float64) []float64 {
		var pts []lightfield.Point
		for i := range 9 {
			for j := range 7 {
				pts = append(pts, lightfield.Point{X: 0.06 + 0.135*float64(i), Y: 0.06 + 0.113*float64(j), Z: 0.8 - depth})
			}
		}
		out := make([]float64, len(pts))
		for sign, c := range []struct {
			s lightfield.Space
			l []lightfield.Lamp
		}{{odd, other}, {space, lamps}} {
			f, err := lightfield.Solve(c.s, c.l, lightfield.Options{Patches: 200})
			if err != nil {
				t.Fatal(err)
			}
			d := make([]float64, len(c.l))
			for i := range d {
				d[i] = 1
			}
			for i, e := range f.PPFD(nil, d, pts) {
				out[i] += float64(1-2*sign) * math.Log(e)
			}
		}
		mean := 0.0
		for _, v := range out {
			mean += v / float64(len(out))
		}
		for i := range out {
			out[i] -= mean
		}
		return out
	}
	a, b := delta(near), delta(near*ratio)
	var aa, bb, ab float64
	for i := range a {
		aa, bb, ab = aa+a[i]*a[i], bb+b[i]*b[i], ab+a[i]*b[i]
	}
	return 2 * ab / (aa + bb)
}
