package quantity_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
)

// near allows the last digits of a float64: a unit is one or two roundings.
func near(got, want float64) bool {
	return math.Abs(got-want) <= 4e-15*math.Max(1, math.Abs(want))
}

// The expected values are products with the factors of NIST SP 811 (2008),
// appendix B.8, worked out by hand: inch 2.54 E−02 m, foot 3.048 E−01 m, pound
// 4.535 924 E−01 kg (exactly 0.45359237), ounce 2.834 952 E−02 kg, foot per
// minute 5.08 E−03 m/s, kilometre per hour 2.777 778 E−01 m/s, degree Fahrenheit
// (t−32)/1.8; the rest follow from SI prefixes alone.
func TestParse(t *testing.T) {
	for _, c := range []struct {
		kind quantity.Kind
		text string
		want float64
	}{
		{quantity.Length, "34 cm", 0.34},
		{quantity.Length, "34cm", 0.34},
		{quantity.Length, "13.5 in", 0.3429},
		{quantity.Length, `13.5"`, 0.3429},
		{quantity.Length, "13,5 inches", 0.3429},
		{quantity.Length, "4 ft", 1.2192},
		{quantity.Length, "4′", 1.2192},
		{quantity.Length, "1.2 m", 1.2},
		{quantity.Length, "5e2 mm", 0.5},
		{quantity.Length, "−3 cm", -0.03},
		{quantity.Length, "0,125 m", 0.125},
		{quantity.Temperature, "72 °F", 200.0 / 9},
		{quantity.Temperature, "32 F", 0},
		{quantity.Temperature, "212℉", 100},
		{quantity.Temperature, "-40 °F", -40},
		{quantity.Temperature, "22 ºC", 22},
		{quantity.Temperature, "295.15 K", 22},
		{quantity.PhotonFluxDensity, "212 µmol/m²/s", 212},
		{quantity.PhotonFluxDensity, "212 μmol m⁻² s⁻¹", 212},
		{quantity.PhotonFluxDensity, "212 umol/(m2 s)", 212},
		{quantity.PhotonFluxDensity, "212 µmol·m^-2·s^-1", 212},
		{quantity.PhotonFlux, "0.36 mol/h", 100},
		{quantity.PhotonFlux, "110 µmol s⁻¹", 110},
		{quantity.DailyIntegral, "14.4 mol m⁻² d⁻¹", 14.4},
		{quantity.Duration, "90 min", 1.5},
		{quantity.Days, "5 weeks", 35},
		{quantity.Power, "0.42 kW", 420},
		{quantity.PhotonEfficacy, "2.6 µmol/s/W", 2.6},
		{quantity.Share, "80 %", 0.8},
		{quantity.Share, "0.8", 0.8},
		{quantity.Angle, "120°", 120},
		{quantity.Angle, "120 deg", 120},
		{quantity.Mass, "6.3 oz", 178.601995687500},
		{quantity.Mass, "1 lb", 453.59237},
		{quantity.Mass, "0.18 kg", 180},
		{quantity.AirSpeed, "60 ft/min", 0.3048},
		{quantity.AirSpeed, "3.6 km/h", 1},
		{quantity.GasShare, "450 ppm", 450},
		{quantity.Concentration, "90 mg/L", 90},
		{quantity.Concentration, "90 ppm", 90},
		{quantity.Conductivity, "1400 µS/cm", 1.4},
		{quantity.Conductivity, "1.4 dS/m", 1.4},
		{quantity.PlantDensity, "2.5 plants/ft²", 2.5 / 0.09290304}, // ft² = 9.290 304 E−02 m²
	} {
		got, err := c.kind.Parse(c.text)
		if err != nil || !near(got, c.want) {
			t.Errorf("%s: Parse(%q) = %v, %v; want %v", c.kind.Name(), c.text, got, err, c.want)
		}
	}
}

// What sensors send, in the codes of RFC 8428, section 12.1, and as usually typed. S/m to
// mS/cm, J to kWh and klx to lx follow from SI prefixes and 3600 s/h alone.
func TestConversion(t *testing.T) {
	for _, c := range []struct {
		kind quantity.Kind
		unit string
		in   float64
		want float64
	}{
		{quantity.Temperature, "Cel", 21.4, 21.4}, {quantity.Temperature, "K", 294.55, 21.4}, {quantity.Temperature, "°F", 70.52, 21.4},
		{quantity.Share, "%RH", 62, 0.62}, {quantity.Share, "/", 0.62, 0.62}, {quantity.Share, "%", 62, 0.62},
		{quantity.Illuminance, "lx", 15000, 15000}, {quantity.Illuminance, "klux", 15, 15000},
		{quantity.Conductivity, "S/m", 0.15, 1.5}, {quantity.Conductivity, "uS/cm", 1500, 1.5},
		{quantity.Energy, "J", 3.6e6, 1}, {quantity.Energy, "Wh", 1000, 1}, {quantity.Energy, "MJ", 3.6, 1},
		{quantity.Acidity, "pH", 5.8, 5.8}, {quantity.Acidity, "", 5.8, 5.8}, {quantity.Power, "W", 42, 42}, {quantity.AirSpeed, "m/s", 0.3, 0.3}, {quantity.GasShare, "ppm", 480, 480},
	} {
		u, ok := c.kind.Conversion(c.unit)
		if !ok || math.Abs(u.Base(c.in)-c.want) > 1e-12*math.Max(1, c.want) || math.Abs(u.Of(c.want)-c.in) > 1e-11*math.Max(1, c.in) {
			t.Errorf("%g %s is %g %s (%v), want %g", c.in, c.unit, u.Base(c.in), c.kind.Unit(), ok, c.want)
		}
	}
	if _, ok := quantity.Temperature.Conversion("%RH"); ok {
		t.Error("%RH was taken for a temperature")
	}
	if _, ok := quantity.Temperature.Conversion(""); ok {
		t.Error("no unit was taken for one of temperature")
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		kind   quantity.Kind
		text   string
		reason string
	}{
		{quantity.Length, "34", `"34" is not a length: the unit is missing (m, cm, mm, in, ft); write for example 34 cm or 13.5 in`},
		{quantity.Length, "", "nothing is written"},
		{quantity.Length, "cm", "does not begin with a number"},
		{quantity.Length, "NaN cm", "does not begin with a number"},
		{quantity.Length, "inf m", "does not begin with a number"},
		{quantity.Length, "34 °C", "°C measures a temperature"},
		{quantity.Length, "34 °", "° measures an angle"},
		{quantity.Length, "34 hands", `the unit "hands" is not known here`},
		{quantity.Length, "1,234 m", "could be 1234 or 1.234"},
		{quantity.Length, "1,234,567 m", "thousands separators"},
		{quantity.Length, "1.234,5 m", "thousands separators"},
		{quantity.Length, "1e400 m", "is no number"},
		{quantity.Length, "2e12 m", "far too large"},
		{quantity.Length, "1.2.3 m", "is no number"},
		{quantity.Length, strings.Repeat("9", 90) + " m", "far too long"},
		{quantity.PhotonEfficacy, "42 W", `"42 W" is not an efficacy: W measures a power`},
		{quantity.AirSpeed, "3", "is not an air speed"},
		{quantity.Temperature, "22", "the unit is missing (°C, °F, K)"},
	} {
		v, err := c.kind.Parse(c.text)
		var pe *quantity.ParseError
		if !errors.As(err, &pe) || !strings.Contains(err.Error(), c.reason) || v != 0 {
			t.Errorf("%s: Parse(%q) = %v, %v; want an error with %q", c.kind.Name(), c.text, v, err, c.reason)
		}
	}
}

func TestParseRange(t *testing.T) {
	for _, c := range []struct {
		kind      quantity.Kind
		text      string
		low, high float64
	}{
		{quantity.Length, "20 cm to 45 cm", 0.20, 0.45},
		{quantity.Length, "20 to 45 cm", 0.20, 0.45},
		{quantity.Length, "20..45 cm", 0.20, 0.45},
		{quantity.Length, "8 in to 1 m", 0.2032, 1},
		{quantity.Duration, "10–18 h", 10, 18},
		{quantity.Share, "30 to 100 %", 0.3, 1},
		{quantity.Share, "0.3 to 1", 0.3, 1},
		{quantity.Temperature, "-5 to 5 °C", -5, 5},
	} {
		low, high, err := c.kind.ParseRange(c.text)
		if err != nil || !near(low, c.low) || !near(high, c.high) {
			t.Errorf("ParseRange(%q) = %v, %v, %v; want %v, %v", c.text, low, high, err, c.low, c.high)
		}
	}
	for _, text := range []string{"", "20 cm", "20 cm to", "45 cm to 20 cm", "20 to 45", strings.Repeat("−", 1<<20) + " to 3 cm"} {
		if _, _, err := quantity.Length.ParseRange(text); err == nil {
			t.Errorf("ParseRange(%.20q) was read", text)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{quantity.Length.Format(0.34, quantity.Metric, 2), "34 cm"},
		{quantity.Length.Format(2.4, quantity.Metric, 2), "2.4 m"},
		{quantity.Length.Format(0.3429, quantity.US, 3), "13.5 in"},
		{quantity.Temperature.Format(22, quantity.US, 3), "71.6 °F"},
		{quantity.Temperature.Format(-5, quantity.Metric, 2), "−5 °C"},
		{quantity.Mass.Format(453.59237, quantity.US, 3), "454 g"}, // kitchen scales show g everywhere, and yield is in g per kWh
		{quantity.AirSpeed.Format(0.3048, quantity.US, 3), "60 ft/min"},
		{quantity.Angle.Format(120, quantity.Metric, 3), "120°"},
		{quantity.Share.Format(0.805, quantity.Metric, 3), "80.5 %"},
		{quantity.PhotonFluxDensity.Format(math.NaN(), quantity.Metric, 3), "not known"},
		{quantity.Number(1234, 2), "1234"},
		{quantity.Number(12345.6, 3), "12\u202f346"},
		{quantity.Number(-0.00204, 2), "−0.002"},
		{quantity.Number(9.99, 2), "10"},
		{quantity.Number(0, 3), "0"},
		{quantity.Number(1e-4, 1), "0.0001"},
		{quantity.Number(-2e12, 1), "−2e+12"},
		{quantity.Number(math.Inf(-1), 1), "−∞"},
		{quantity.Fixed(-0.001, 2), "0.00"},
		{quantity.Fixed(-1.256, 2), "−1.26"},
		{quantity.Fixed(math.Inf(1), 2), "∞"},
	} {
		if c.got != c.want {
			t.Errorf("printed %q, want %q", c.got, c.want)
		}
	}
}

// 200 µmol m⁻² s⁻¹ over 16 h: 200 · 57600 s = 11 520 000 µmol = 11.52 mol.
// 250 over 18 h: 250 · 64800 = 16.2 mol. By hand.
func TestDailyLight(t *testing.T) {
	for _, c := range []struct {
		e quantity.PPFD
		h quantity.Hours
		d quantity.DLI
	}{{200, 16, 11.52}, {250, 18, 16.2}, {0, 16, 0}, {1000, 24, 86.4}} {
		if got := quantity.DailyLight(c.e, c.h); !near(float64(got), float64(c.d)) {
			t.Errorf("DailyLight(%v, %v) = %v, want %v", c.e, c.h, got, c.d)
		}
	}
	if got := quantity.ConstantPPFD(11.52, 16); !near(float64(got), 200) {
		t.Errorf("ConstantPPFD(11.52, 16) = %v, want 200", got)
	}
	if got := quantity.EnergyOf(42, 16); !near(float64(got), 0.672) {
		t.Errorf("EnergyOf(42 W, 16 h) = %v kWh, want 0.672", got)
	}
	if !math.IsInf(float64(quantity.ConstantPPFD(1, 0)), 1) {
		t.Error("light in no time must need infinite PPFD")
	}
	if got := quantity.Celsius(25).Kelvin(); got != 298.15 {
		t.Errorf("25 °C = %v K, want 298.15", got)
	}
	if got := quantity.Degree(180).Radians(); got != math.Pi {
		t.Errorf("180° = %v rad", got)
	}
}

func TestPrice(t *testing.T) {
	for _, c := range []struct {
		text string
		want quantity.Price
	}{
		{"0.31 EUR/kWh", quantity.Price{PerKWh: 0.31, Currency: "EUR"}},
		{"$0.16/kWh", quantity.Price{PerKWh: 0.16, Currency: "$"}},
		{"0.16 $ per kWh", quantity.Price{PerKWh: 0.16, Currency: "$"}},
		{"0,31 € / kWh", quantity.Price{PerKWh: 0.31, Currency: "€"}},
		{"31 JPY/kWh", quantity.Price{PerKWh: 31, Currency: "JPY"}},
	} {
		got, err := quantity.ParsePrice(c.text)
		if err != nil || got != c.want {
			t.Errorf("ParsePrice(%q) = %v, %v; want %v", c.text, got, err, c.want)
		}
	}
	for _, text := range []string{"", "0.31", "0.31 EUR", "EUR/kWh", "0.31/kWh", "$0.31 EUR/kWh", "-1 EUR/kWh", "1,234 EUR/kWh",
		"1 <b>/kWh", "1 \x1b[31m/kWh", "1 E\xff/kWh", "0.31 EUR/MWh",
		strings.Repeat("Ⱥ", 8) + "/kwh", // grows when lowered: an earlier version cut beyond the end
	} {
		if p, err := quantity.ParsePrice(text); err == nil {
			t.Errorf("ParsePrice(%q) = %v, want an error", text, p)
		}
	}
	if got := (quantity.Price{PerKWh: 0.31, Currency: "EUR"}).Money(-1.005); got != "−1.00 EUR" && got != "−1.01 EUR" {
		t.Errorf("Money = %q", got)
	}
}

// What is printed with 17 digits reads back as the same amount, in both systems.
func TestFormatParseRoundTrip(t *testing.T) {
	kinds := []quantity.Kind{quantity.Length, quantity.Temperature, quantity.PhotonFluxDensity, quantity.PhotonFlux,
		quantity.DailyIntegral, quantity.Duration, quantity.Days, quantity.Power, quantity.PhotonEfficacy, quantity.Share,
		quantity.Angle, quantity.Mass, quantity.AirSpeed, quantity.GasShare, quantity.Concentration, quantity.Conductivity,
		quantity.PlantDensity, quantity.Illuminance, quantity.Energy, quantity.Acidity, quantity.Pressure}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(kinds).Draw(t, "kind")
		sys := rapid.SampledFrom([]quantity.System{quantity.Metric, quantity.US}).Draw(t, "system")
		v := rapid.Float64Range(-9, 9).Draw(t, "v") // under five digits in every unit, so without digit groups
		text := k.Format(v, sys, 17)
		got, err := k.Parse(text)
		// Sizes under 10⁻⁴ print with 17 digits too, but an offset (°F) costs
		// absolute, not relative, precision: 1e-13 on values up to 40.
		if err != nil || math.Abs(got-v) > 1e-13 {
			t.Fatalf("%v printed %q, read %v, %v", v, text, got, err)
		}
	})
}

func TestPriceRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := quantity.Price{PerKWh: rapid.Float64Range(0, 1e6).Draw(t, "n"), Currency: rapid.SampledFrom([]string{"EUR", "$", "kr"}).Draw(t, "c")}
		if len(p.String()) > 80 {
			t.Skip("smaller than any coin: more digits than a price may have")
		}
		got, err := quantity.ParsePrice(p.String())
		if err != nil || got != p {
			t.Fatalf("%q read %v, %v", p, got, err)
		}
	})
}

func TestDailyLightInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := quantity.PPFD(rapid.Float64Range(0, 3000).Draw(t, "e"))
		h := quantity.Hours(rapid.Float64Range(0.1, 24).Draw(t, "h"))
		if got := quantity.ConstantPPFD(quantity.DailyLight(e, h), h); math.Abs(float64(got-e)) > 1e-12*float64(e) {
			t.Fatalf("%v → %v", e, got)
		}
	})
}

// Every unit that a kind says it accepts is accepted, and examples are amounts.
func TestUnitsAndExamples(t *testing.T) {
	for _, k := range []quantity.Kind{quantity.Length, quantity.Temperature, quantity.PhotonFluxDensity, quantity.PhotonFlux,
		quantity.DailyIntegral, quantity.Duration, quantity.Days, quantity.Power, quantity.PhotonEfficacy, quantity.Share,
		quantity.Angle, quantity.Mass, quantity.AirSpeed, quantity.GasShare, quantity.Concentration, quantity.Conductivity,
		quantity.PlantDensity, quantity.Illuminance, quantity.Energy, quantity.Acidity, quantity.Pressure} {
		for _, u := range k.Units() {
			if _, err := k.Parse("1 " + u); err != nil {
				t.Error(err)
			}
		}
		for _, e := range strings.Split(k.Example(), " or ") {
			if _, err := k.Parse(e); err != nil {
				t.Error(err)
			}
		}
		if k.Name() != "share" && k.Unit() != k.Units()[0] {
			t.Errorf("%s is kept in %q but prints %q first", k.Name(), k.Unit(), k.Units()[0])
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"34 cm", "13.5in", "72 °F", "212 µmol m⁻² s⁻¹", "1,5 m", "1e3", "−5 °C", "20 to 45 cm", "0.31 EUR/kWh", "$0.16 per kWh", "80 %", "ȺȺȺȺ/kWh", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, k := range []quantity.Kind{quantity.Length, quantity.Temperature, quantity.Share, quantity.PhotonFluxDensity, quantity.Concentration} {
			v, err := k.Parse(s)
			switch {
			case err != nil && v != 0:
				t.Fatalf("%q: value %v beside an error", s, v)
			case err == nil && !(math.Abs(v) <= 1e15):
				t.Fatalf("%q read as %v", s, v)
			case err != nil && len(err.Error()) > 1000:
				t.Fatalf("%q: an error of %d bytes", s, len(err.Error()))
			}
			if low, high, err := k.ParseRange(s); err == nil && !(low <= high) {
				t.Fatalf("%q: range %v to %v", s, low, high)
			}
		}
		p, err := quantity.ParsePrice(s)
		if err != nil {
			return
		}
		if !(p.PerKWh >= 0 && p.PerKWh <= 1e6) || p.Currency == "" {
			t.Fatalf("%q read as %v", s, p)
		}
		if len(p.String()) <= 80 {
			if again, err := quantity.ParsePrice(p.String()); err != nil || again != p {
				t.Fatalf("%q printed %q, read %v, %v", s, p, again, err)
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := quantity.PhotonFluxDensity.Parse("212 µmol m⁻² s⁻¹"); err != nil {
			b.Fatal(err)
		}
	}
}

// A grower with a US tape measure asks what a label's height is in metric, and
// how much light sixteen hours at 200 µmol m⁻² s⁻¹ are.
func Example() {
	h, err := quantity.Length.Parse("13.5 in")
	if err != nil {
		panic(err)
	}
	fmt.Println(quantity.Length.Format(h, quantity.Metric, 3))
	fmt.Println(quantity.DailyIntegral.Format(float64(quantity.DailyLight(200, 16)), quantity.Metric, 4))
	_, err = quantity.Length.Parse("34 °C")
	fmt.Println(err)
	// Output:
	// 34.3 cm
	// 11.52 mol/m²/d
	// "34 °C" is not a length: °C measures a temperature; write for example 34 cm or 13.5 in
}

// Fractions are read as on a tape: 1 in = 25.4 mm (NIST SP 811).
func TestFractions(t *testing.T) {
	for text, want := range map[string]float64{"1/2 in": 0.0127, "13 1/2 in": 0.3429, "13 1/2\"": 0.3429, "13½ in": 0.3429, "3 3/16 in": 0.0809625, "1/2 m": 0.5, "7/8in": 0.022225} {
		if got, err := quantity.Length.Parse(text); err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("%q is %g (%v), want %g", text, got, err, want)
		}
	}
	for _, text := range []string{"1/0 in", "1 /2 in", "1.5 1/2 in", "13 1/2", "1//2 in", "1/2/3 in", "13 0/2 in", "13 1/ in", "-1/2 in"} {
		if got, err := quantity.Length.Parse(text); err == nil {
			t.Errorf("%q was read as %g", text, got)
		}
	}
}
