package moistair_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/internal/compare"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/reference"
)

// ASHRAE2017: the thermodynamic wet bulb. The example that [moistair.FromWetBulb] misses by
// its instrument holds here: printed to two digits of the ratio and read from a chart.
func TestWetBulbOfASHRAE(t *testing.T) {
	t.Parallel()
	s, err := moistair.StateOf(40, 101.325, moistair.WetBulbC, 20)
	if err != nil {
		t.Fatal(err)
	}
	// Read from a chart to 0.0001; our curve is up to 0.1 % of the 0.0147 of saturated air at 20 °C away.
	compare.Within(t, "example 1: ratio", s.Ratio(), 0.0065, 1e-4+1.5e-5)
	compare.Within(t, "example 1: dew point", s.Of(moistair.DewPointC), 7, 0.5)
	compare.Within(t, "example 1: humidity", float64(s.Humidity()), 0.14, 0.01)
	compare.Within(t, "example 1: enthalpy", s.Enthalpy(), 56.7, 0.1+0.06) // chart, and 0.1 % of the curve
	compare.Within(t, "example 1: volume", s.Volume()/0.896, 1, 0.01)

	// The formula check of the same source: 0.0192281 with its own saturation curve, from
	// which ours is 0.08 % at 25 °C.
	s, err = moistair.StateOf(30, 95.461, moistair.WetBulbC, 25)
	if err != nil {
		t.Fatal(err)
	}
	compare.Within(t, "ratio of 30 and 25 °C at 95.461 kPa", s.Ratio()/0.0192281, 1, 0.001)
}

// ASHRAE2017, values of moist and dry air.
func TestVolumeOfASHRAE(t *testing.T) {
	t.Parallel()
	table := reference.MustLoad("climate-ashrae-check-points")
	moist, err := moistair.StateOf(30, 95.461, moistair.MixingRatio, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	dry, err := moistair.StateOf(25, 101.325, moistair.MixingRatio, 0)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{
		"dry air volume": dry.Volume(), "moist air volume": moist.Volume(), "moist air density": moist.Density(),
		"moist air enthalpy": 1000 * moist.Enthalpy(), "dry air enthalpy": 1000 * dry.Enthalpy(),
	}
	met := 0
	for i := range table.Rows {
		if v, ok := got[table.Text(i, "quantity")]; ok {
			met++
			compare.Within(t, table.Text(i, "quantity"), v/table.Float(i, "value"), 1, table.Float(i, "tol")) // of the table: real gas, digits
		}
	}
	if met != len(got) {
		t.Errorf("met %d rows, want %d", met, len(got))
	}
}

// Vectors computed outside this project, from every column back to the air.
func TestHumidityVectorsBackwards(t *testing.T) {
	t.Parallel()
	table := reference.MustLoad("climate-humidity-vectors")
	for i := range table.Rows {
		f := func(c string) float64 { return table.Float(i, c) }
		air, rh := quantity.Celsius(f("T_C")), f("RH_pct")/100
		for _, c := range []struct {
			m     moistair.Measure
			value float64
			tol   float64 // of the humidity: the other saturation formula is 0.15 % apart, and the printed digits
		}{
			{moistair.Deficiency, f("VPD_air_kPa"), 1e-4}, {moistair.DewPointC, f("dew_point_C"), 1e-4}, {moistair.PartialPressure, f("ea_kPa"), 1e-4},
			{moistair.VapourDensity, f("abs_humidity_g_m3"), 0.002}, {moistair.MixingRatio, f("humidity_ratio_g_kg") / 1000, 0.002}, {moistair.EnthalpyKJ, f("enthalpy_kJ_kg"), 0.002},
		} {
			s, err := moistair.StateOf(air, 101.325, c.m, c.value)
			if err != nil {
				t.Fatal(err)
			}
			compare.Within(t, fmt.Sprintf("humidity at %g °C from the %s", float64(air), c.m), float64(s.Humidity()), rh, c.tol)
		}
	}
}

// From any measure there and back, at any height.
func TestRoundTrips(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		air := quantity.Celsius(rapid.Float64Range(-20, 50).Draw(t, "°C"))
		p := moistair.Pressure(quantity.Metre(rapid.Float64Range(-400, 5000).Draw(t, "m")))
		rh := quantity.Fraction(rapid.Float64Range(0.001, 1).Draw(t, "humidity"))
		s := moistair.At(air, rh, p)
		for _, m := range moistair.Measures() {
			back, err := moistair.StateOf(air, p, m, s.Of(m))
			if err != nil {
				t.Fatalf("%s: %v", m, err)
			}
			if d := math.Abs(float64(back.Vapour - s.Vapour)); d > 1e-9+2e-7*float64(s.Vapour) {
				t.Fatalf("%s: vapour pressure %g came back as %g", m, s.Vapour, back.Vapour)
			}
		}
		dew, wet := s.Of(moistair.DewPointC), s.Of(moistair.WetBulbC)
		if wet > float64(air)+1e-9 || wet < dew-0.02 {
			// The two curves that meet in the wet bulb are of different sources: 0.02 °C.
			t.Fatalf("dew point %g, wet bulb %g, air %g", dew, wet, air)
		}
		if heavier := moistair.At(air, 0, p).Density(); s.Density() > heavier+1e-12 {
			t.Fatalf("moist air is heavier than dry air: %g, %g", s.Density(), heavier)
		}
	})
}

func TestImpossibleAir(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		m    moistair.Measure
		v    float64
		want string
	}{
		{moistair.RelativeHumidity, 1.2, "cannot have a relative humidity of 1.2"},
		{moistair.RelativeHumidity, -0.1, "cannot have"},
		{moistair.DewPointC, 25, "cannot have a dew point of 25: dry air has -Inf, saturated air 22"},
		{moistair.DewPointC, -300, "cannot have a dew point"},
		{moistair.WetBulbC, 23, "wet-bulb temperature of 23"},
		{moistair.WetBulbC, 0, "wet-bulb temperature of 0: dry air has"},
		{moistair.Deficiency, 3, "cannot have a vapour pressure deficit of 3"},
		{moistair.EnthalpyKJ, 10, "cannot have an"},
		{moistair.MixingRatio, 0.05, "saturated air 0.01"},
		{moistair.MixingRatio, math.NaN(), "is no number"},
	} {
		_, err := moistair.StateOf(22, 101.3, c.m, c.v)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %g: %v, want %q", c.m, c.v, err, c.want)
		}
		var bad *moistair.Impossible
		if err != nil && !math.IsNaN(c.v) && !errors.As(err, &bad) {
			t.Errorf("%s %g: %v is no Impossible", c.m, c.v, err)
		}
	}
	for _, c := range []struct {
		t quantity.Celsius
		p quantity.Kilopascal
	}{{80, 101.3}, {-60, 101.3}, {22, 10}, {22, 300}, {quantity.Celsius(math.NaN()), 101.3}} {
		if _, err := moistair.StateOf(c.t, c.p, moistair.RelativeHumidity, 0.5); err == nil {
			t.Errorf("%g °C at %g kPa was taken", float64(c.t), float64(c.p))
		}
	}
	// Digits that a person read off saturated air are no impossibility.
	if s, err := moistair.StateOf(22, 101.3, moistair.DewPointC, 22); err != nil || s.Humidity() != 1 {
		t.Errorf("saturated air: %v, %v", s, err)
	}
}

// Which humidity is a deficit of 0.9 kPa at 24 °C, in a valley and in the mountains? The
// same; but the air of the mountains is thinner, so it holds more water for each kg.
func ExampleStateOf() {
	for _, height := range []quantity.Metre{0, 2000} {
		s, err := moistair.StateOf(24, moistair.Pressure(height), moistair.Deficiency, 0.9)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f %%, dew point %.1f °C, wet bulb %.1f °C, %.1f g/kg\n", 100*s.Humidity(), s.Of(moistair.DewPointC), s.WetBulb(), 1000*s.Ratio())
	}
	// Output:
	// 70 %, dew point 18.2 °C, wet bulb 20.0 °C, 13.1 g/kg
	// 70 %, dew point 18.2 °C, wet bulb 19.7 °C, 16.7 g/kg
}
