package light_test

import (
	"math"
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// The fall begins with the mean at the plants, goes where a sensor at the middle of each
// plant would read, and follows the dimming, of all lamps and of each.
func TestFall(t *testing.T) {
	for _, name := range []string{"tier-1-top.yaml", "tier-2-middle.yaml", "tier-3-bottom.yaml"} {
		b := demoBench(t, name)
		m := model(t, b)
		lit, err := m.At(b.Setting().Height)
		if err != nil {
			t.Fatal(err)
		}
		half, one := make([]quantity.Fraction, len(b.Lamps)), make([]quantity.Fraction, len(b.Lamps))
		for i := range half {
			half[i] = 0.5
		}
		one[0] = 1
		whole := lit.AnswerDimmed(half, 16, 13)
		_, before := whole.Fall()
		for _, dimming := range [][]quantity.Fraction{half, one} {
			a := lit.AnswerDimmed(dimming, 16, 13)
			heights, fall := a.Fall()
			if rel := fall[0]/a.Mean.Value - 1; math.Abs(rel) > 0.005 {
				t.Errorf("%s: at the surface %.4f of the mean", name, 1+rel)
			}
			for k, z := range heights[:len(heights)/2] { // nearer to a lamp a crown is wider than its light is even
				sum := 0.0
				for _, p := range b.Plants {
					sum += float64(lit.PPFDAt(dimming, p.X, p.Y, quantity.Metre(z))) / float64(len(b.Plants))
				}
				if rel := fall[k]/sum - 1; math.Abs(rel) > 0.1 {
					t.Errorf("%s at %.3f m: %.1f, sensors at the middles %.1f", name, z, fall[k], sum)
				}
			}
		}
		s := whole.Setting
		s.Dimming = 0.25
		_, after := lit.Answer(&s, 13).Fall()
		for k := range after {
			if ratio := after[k] / before[k]; math.Abs(ratio-lightOf(b, 0.25)/lightOf(b, 0.5)) > 0.01 {
				t.Errorf("%s: half of the dimming leaves %.3f of the light", name, ratio)
			}
		}
	}
}

// lightOf is the share of light that the first lamp gives at a dimming, by its driver.
func lightOf(b *underlamp.Bench, dimming quantity.Fraction) float64 {
	return float64(b.Lamps[0].Light(dimming))
}
