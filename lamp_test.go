package underlamp_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/science/quantity"
)

// A dimmer without a curve dims light and power alike; one with a curve goes by
// straight lines through its points.
func TestDimmer(t *testing.T) {
	plain := underlamp.Lamp{Power: underlamp.Said[quantity.Watt](40)}
	if plain.Light(0.3) != 0.3 || plain.Draw(0.3) != 12 {
		t.Errorf("30 %%: light %v, %v W; want 0.3 and 12 W", plain.Light(0.3), plain.Draw(0.3))
	}
	curved := plain
	curved.Curve = []underlamp.DimPoint{{Dimming: 0.2, Light: 0.1, Power: 0.2}, {Dimming: 0.6, Light: 0.7, Power: 0.5}, {Dimming: 1, Light: 1, Power: 1}}
	for _, tt := range []struct{ at, light, watts float64 }{
		{0, 0, 0}, {0.1, 0.05, 4}, {0.2, 0.1, 8}, {0.4, 0.4, 14}, {0.6, 0.7, 20}, {0.8, 0.85, 30}, {1, 1, 40},
	} {
		d := quantity.Fraction(tt.at)
		if l, w := float64(curved.Light(d)), float64(curved.Draw(d)); math.Abs(l-tt.light) > 1e-12 || math.Abs(w-tt.watts) > 1e-12 {
			t.Errorf("%v: light %v, %v W; want %v and %v W", tt.at, l, w, tt.light, tt.watts)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(0, 1).Draw(t, "b")
		if a <= b && curved.Light(quantity.Fraction(a)) > curved.Light(quantity.Fraction(b))+1e-12 {
			t.Fatalf("more light at %g than at %g", a, b)
		}
	})
}
