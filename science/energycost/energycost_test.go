package energycost_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/internal/compare"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

// Arithmetic by hand.
func TestArithmetic(t *testing.T) {
	t.Parallel()
	// 200 µmol m⁻² s⁻¹ at 2.8 µmol/J is 71.43 W/m²; 71.43 W give it back.
	compare.Within(t, "photons of 71.43 W/m²", float64(energycost.Flux(71.4286, 2.8)), 200, 1e-3)
	// 71.43 W · 16 h · 35 d = 40.0 kWh.
	compare.Within(t, "energy of a crop", float64(energycost.LampEnergy(71.4286, 16, 35)), 40, 1e-4)
	compare.Within(t, "price", energycost.Money(40, quantity.Price{PerKWh: 0.25}), 10, 1e-12)
	compare.Within(t, "yield", energycost.GramsPerKWh(3750, 40), 93.75, 1e-12)
	compare.Within(t, "no days", float64(energycost.LampEnergy(300, 16, 0)), 0, 0)
	compare.Within(t, "no energy", energycost.GramsPerKWh(100, 0), 0, 0)
	compare.Within(t, "less than no energy", energycost.GramsPerKWh(100, -1), 0, 0)
}

// ThompsonTaylor2008 and the constants of the SI: 119.6265656 J·nm/µmol, and with
// it 660 nm at 5.517 and 450 nm at 3.762 µmol/J (the general literature on lamps
// prints 5.52 and 3.76). Kusuma2020: 4.1 µmol/J for the best blue and red
// fixture of 2020.
func TestLimits(t *testing.T) {
	t.Parallel()
	perNanometre := energycost.PhotonEnergyConstant * 1e9 / 1e6 // J nm/µmol
	compare.Within(t, "constant", perNanometre, 119.6265656, 5e-8)
	compare.Within(t, "660 nm", 660/perNanometre, 5.517, 5e-4)
	compare.Within(t, "450 nm", 450/perNanometre, 3.76, 5e-3)
	compare.Within(t, "doubtful", float64(energycost.DoubtfulEfficacy), 4.1, 0)
	compare.Within(t, "impossible", float64(energycost.ImpossibleEfficacy), 5.52, 0.02)
	if energycost.ImpossibleEfficacy > quantity.Efficacy(660/perNanometre) {
		t.Error("a perfect red lamp would be called possible beyond its limit")
	}
}

func TestLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := quantity.Watt(rapid.Float64Range(0, 5000).Draw(t, "W"))
		h := quantity.Hours(rapid.Float64Range(0, 24).Draw(t, "h"))
		d := rapid.Float64Range(0, 60).Draw(t, "d")
		e := energycost.LampEnergy(p, h, d)
		if math.Abs(float64(e)-float64(energycost.LampEnergy(2*p, h, d))/2) > 1e-9 {
			t.Fatal("twice the power is not twice the energy")
		}
		// A mole of light costs 1/(3.6 k) kWh at k µmol/J.
		k := quantity.Efficacy(rapid.Float64Range(0.5, 4).Draw(t, "µmol/J"))
		mol := float64(energycost.Flux(p, k)) * float64(h) * d * 3600 / 1e6
		if math.Abs(mol/(3.6*float64(k))-float64(e)) > 1e-9*(1+float64(e)) {
			t.Fatalf("%g mol at %g µmol/J, yet %g kWh", mol, k, e)
		}
	})
}

// A shelf of 1 m² under 200 µmol m⁻² s⁻¹ from lamps of 2.8 µmol/J draws 71 W.
// What does a crop of 35 days cost at 0.30 a kWh?
func Example() {
	e := energycost.LampEnergy(71.4, 16, 35)
	fmt.Printf("%.0f kWh, %.2f\n", e, energycost.Money(e, quantity.Price{PerKWh: 0.30}))
	// Output: 40 kWh, 12.00
}
