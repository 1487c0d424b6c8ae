package cropgrowth_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/cropgrowth"
	"underlamp/science/quantity"
	"underlamp/science/reference"
)

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.7g, want %.7g ± %.2g", what, got, want, tolerance)
	}
}

// VanHenten1994, pages 58 to 62, as transcribed from the text.
func TestParametersAsPrinted(t *testing.T) {
	t.Parallel()
	p := cropgrowth.VanHenten()
	got := map[string]float64{
		"c_alpha": p.Alpha, "c_beta": p.Beta, "c_gr_max": p.GrowthMax, "c_gamma": p.Gamma, "c_Q10_gr": p.Q10Growth,
		"c_resp_sht": p.RespShoot, "c_resp_rt": p.RespRoot, "c_Q10_resp": p.Q10Resp, "c_tau": p.RootShare, "c_K": p.Extinction,
		"c_lar": p.LeafRatio, "c_omega": p.CO2Density, "c_Gamma": p.Compensate, "c_Q10_Gamma": p.Q10Comp, "c_epsilon": p.LightYield,
		"g_bnd": p.Boundary, "g_stm": p.Stomata, "c_car_1": p.Carb1, "c_car_2": p.Carb2, "c_car_3": p.Carb3,
	}
	table := reference.MustLoad("vanhenten1994_parameters")
	met := 0
	for i := range table.Rows {
		if g, ok := got[table.Text(i, "symbol")]; ok {
			met++
			within(t, table.Text(i, "symbol"), g, table.Float(i, "value"), 0)
		}
	}
	if met != len(got) {
		t.Errorf("met %d parameters in the table, want %d", met, len(got))
	}
}

// euler runs the published equations as the vectors were computed: explicit
// Euler, 60 s, light from hour 0, 4.6 µmol/J, 2.70 g/m² with 75 % structural.
// The vectors hold c_α at 30/44 (0.6818, from the molar masses that the paper
// names), not at its printed 0.68.
func euler(ppfd, hours, co2, air float64, days int) cropgrowth.Canopy {
	p := cropgrowth.VanHenten()
	p.Alpha = 30.0 / 44.0
	e := p.Exchange(quantity.PPM(co2), quantity.Celsius(air))
	c := cropgrowth.Canopy{NonStructural: 0.25 * 2.70, Structural: 0.75 * 2.70}
	for minute := range days * 24 * 60 {
		par := 0.0
		if float64(minute%(24*60)) < hours*60 {
			par = ppfd / 4.6
		}
		dn, ds := p.Rates(c, e, par)
		c.NonStructural += 60 * dn
		c.Structural += 60 * ds
	}
	return c
}

// Vectors computed outside this project by other code from the same equations,
// printed to 3 decimals. 0.002 leaves a digit for the order of summation.
func TestVanHentenVectors(t *testing.T) {
	t.Parallel()
	table := reference.MustLoad("vanhenten1994_own_test_vectors")
	for i := range table.Rows {
		f := func(c string) float64 { return table.Float(i, c) }
		c := euler(f("ppfd_umol_m2_s"), f("photoperiod_h"), f("CO2_ppm"), f("temp_C"), int(f("day")))
		at := fmt.Sprintf("row %d, day %g", i, f("day"))
		within(t, at+", sugars", c.NonStructural, f("X_nsdw_g_m2"), 0.002)
		within(t, at+", structure", c.Structural, f("X_sdw_g_m2"), 0.002)
		within(t, at+", total", c.Total(), f("total_dry_weight_g_m2"), 0.003)
	}
}

// Equations 7 to 12 at 43.478 W/m² (200 µmol at 4.6 µmol/J), 800 ppm and 22 °C,
// computed outside this project: Γ = 45.948 ppm, ε = 1.43726e-5 g/J, g_car =
// 4.0392e-3 m/s, g = 1.69368e-3 m/s, f_max = 4.93063e-4 g m⁻² s⁻¹.
func TestPhotosynthesisByHand(t *testing.T) {
	t.Parallel()
	e := cropgrowth.VanHenten().Exchange(800, 22)
	within(t, "f_max", e.Photosynthesis(43.478), 4.93063e-4, 1e-8)
}

// VanHenten1994, text: photosynthesis ends below 5 and above 40 °C; no uptake
// without light or with CO2 below the compensation point.
func TestExchangeLimits(t *testing.T) {
	t.Parallel()
	p := cropgrowth.VanHenten()
	for _, c := range []struct {
		what    string
		co2     quantity.PPM
		air     quantity.Celsius
		par     float64
		nothing bool
	}{
		{"dark", 800, 22, 0, true}, {"cold", 800, 4.9, 50, true}, {"hot", 800, 40.2, 50, true},
		{"CO2 below compensation", 40, 22, 50, true}, {"usual", 450, 22, 50, false},
	} {
		if f := p.Exchange(c.co2, c.air).Photosynthesis(c.par); (f == 0) != c.nothing || f < 0 {
			t.Errorf("%s: uptake %g", c.what, f)
		}
	}
	// The printed coefficients peak at 22.5 °C with 4.04 mm/s: −c2/(2 c1).
	within(t, "optimum", -p.Carb2/(2*p.Carb1), 22.5, 1e-9)
}

// The curved response lies between the two limits and the straight one, and meets
// both at its ends.
func TestCurvedResponse(t *testing.T) {
	t.Parallel()
	e := cropgrowth.VanHenten().Exchange(800, 22)
	// The two limits, from the ends of the published response.
	yield, dark := e.Photosynthesis(1e-12)/1e-12, e.Photosynthesis(1e15)
	rapid.Check(t, func(t *rapid.T) {
		par := rapid.Float64Range(0.01, 500).Draw(t, "par")
		theta := rapid.Float64Range(0, 0.999).Draw(t, "curvature")
		least, f, most := e.Photosynthesis(par), e.Curved(par, theta), min(yield*par, dark)
		if f < least*(1-1e-9) || f > most*(1+1e-9) {
			t.Fatalf("curved %g, straight %g, limit %g", f, least, most)
		}
		if root := theta*f*f - (yield*par+dark)*f + yield*par*dark; math.Abs(root) > 1e-9*yield*par*dark {
			t.Fatalf("the equation is missed by %g", root)
		}
		if sharp := e.Curved(par, 1); math.Abs(sharp-most) > 1e-7*most {
			t.Fatalf("at curvature 1 %g, the lesser limit is %g", sharp, most)
		}
	})
	if e.Curved(50, 0) != e.Photosynthesis(50) && math.Abs(e.Curved(50, 0)/e.Photosynthesis(50)-1) > 1e-12 {
		t.Error("curvature 0 is not VanHenten1994, equation 7")
	}
	if e.Curved(0, 0.5) != 0 || e.Curved(-1, 0.5) != 0 {
		t.Error("photosynthesis in the dark")
	}
}
