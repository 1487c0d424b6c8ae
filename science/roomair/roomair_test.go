package roomair_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/internal/compare"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/roomair"
)

const seaLevel = 101.325

// Arithmetic by hand: 100 g/h at 20 °C are 68.1 W; 1 ppm in a m³ is 1.83 mg at 20 °C and 1.80
// at 25 °C (OSHATableZ1 gives 9 000 mg/m³ for 5 000 ppm at 25 °C).
func TestArithmetic(t *testing.T) {
	t.Parallel()
	compare.Within(t, "100 g/h", roomair.Load{Water: 100, AirC: 20}.Latent(), 68.1, 0.1)
	compare.Within(t, "1 ppm at 20 °C", 1e3*roomair.CO2Density(20, seaLevel), 1.83, 0.005)
	compare.Within(t, "5000 ppm at 25 °C", 5000*1e3*roomair.CO2Density(25, seaLevel), 9000, 50)
	// 20 m³ from 420 to 1000 ppm take 21 g.
	compare.Within(t, "20 m³ to 1000 ppm", 20*580*roomair.CO2Density(20, seaLevel), 21.2, 0.1)
	// 5 kg set free in 20 m³: 250 g/m³ over 1 830 g/m³ of pure gas is 0.1366 of the air that
	// was there, so 0.1202 of the mixture if the room keeps its pressure.
	compare.Within(t, "5 kg in 20 m³", float64(roomair.CO2After(5000, 20, 0, 20, seaLevel)), 120_200, 200)
}

// What the two published curves say of the condition that they are told relative to, and
// what they agree on: a machine takes out less from cool air and from dry air.
func TestDehumidifierFalls(t *testing.T) {
	t.Parallel()
	d := roomair.Dehumidifier{Litres: 20, PerKWh: 1.6, RatedC: roomair.WarmLabelC, RatedRel: roomair.LabelHumid}
	at := d.At(roomair.WarmLabelC, roomair.LabelHumid)
	compare.Within(t, "water at the label", at.Water.Central, 1, 1e-12)
	compare.Within(t, "energy at the label", at.Energy.Central, 1, 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(18, 30).Draw(t, "°C")
		h := rapid.Float64Range(0.42, 0.75).Draw(t, "humidity")
		here := d.At(quantity.Celsius(c), quantity.Fraction(h))
		if here.Water.Low > here.Water.Central || here.Water.High < here.Water.Central {
			t.Fatal("the band does not hold the middle")
		}
		if d.At(quantity.Celsius(c+1), quantity.Fraction(h)).Water.Central <= here.Water.Central {
			t.Fatal("warmer air gives no more water")
		}
		if d.At(quantity.Celsius(c), quantity.Fraction(h+0.03)).Water.Central <= here.Water.Central {
			t.Fatal("moister air gives no more water")
		}
		// A size that was worked out fits its own need.
		water := rapid.Float64Range(1, 2000).Draw(t, "g/h")
		litres, low, high := d.SizeFor(water, 1, quantity.Celsius(c), quantity.Fraction(h))
		if low > litres || litres > high {
			t.Fatal("the size lies outside its band")
		}
		big := d
		big.Litres = litres
		latent := roomair.Load{Water: water, AirC: quantity.Celsius(c)}.Latent()
		hour := big.Hour(water, latent, quantity.Celsius(c), quantity.Fraction(h))
		if math.Abs(hour.Duty-1) > 1e-9 {
			t.Fatalf("a machine of the size asked runs %g of the time", hour.Duty)
		}
		if math.Abs(hour.Heat-latent-1000*hour.KWh) > 1e-6 {
			t.Fatal("heat is lost")
		}
		big.Litres /= 2
		if half := big.Hour(water, latent, quantity.Celsius(c), quantity.Fraction(h)); half.Duty <= 1 || half.Heat >= hour.Heat {
			t.Fatal("half the machine does the whole work")
		}
	})
}

// A balance of vapour: what goes out with the air is what was asked, and heat and CO2
// change sign with their differences.
func TestExchange(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := moistair.At(quantity.Celsius(rapid.Float64Range(15, 30).Draw(t, "in °C")), quantity.Fraction(rapid.Float64Range(0.4, 0.95).Draw(t, "in")), seaLevel)
		out := moistair.At(quantity.Celsius(rapid.Float64Range(-10, 30).Draw(t, "out °C")), quantity.Fraction(rapid.Float64Range(0.2, 1).Draw(t, "out")), seaLevel)
		x := roomair.Exchange{Inside: in, Outside: out}
		water := rapid.Float64Range(1, 5000).Draw(t, "g/h")
		flow, err := x.FlowFor(water)
		if in.Ratio() <= out.Ratio() {
			if !errors.Is(err, roomair.ErrNoDrier) {
				t.Fatalf("moister air outside dries: %v", err)
			}
			return
		}
		if err != nil {
			if in.Ratio()-out.Ratio() > 1e-5 {
				t.Fatal(err)
			}
			return
		}
		if back := x.WaterOf(flow); math.Abs(back-water) > 1e-9*water {
			t.Fatalf("%g g/h asked, %g carried", water, back)
		}
		// Sensible heat and that of the vapour together are the difference of enthalpies.
		kg := flow / in.Volume() / 3600
		whole := 1000 * kg * (in.Enthalpy() - out.Enthalpy())
		vapour := 1000 * kg * (in.Ratio() - out.Ratio()) * (2501 + 1.86*float64(in.Dry))
		if d := whole - vapour - x.HeatOf(flow); math.Abs(d) > 1e-6*(1+math.Abs(whole)) {
			t.Fatalf("enthalpies differ by %g W from warmth and vapour", d)
		}
	})
	if got := roomair.CO2Loss(10, 1000, 420, 20, seaLevel); math.Abs(got-10*580*0.00183) > 0.02 {
		t.Errorf("10 m³/h at 1000 ppm lose %g g/h", got)
	}
}

// A crop breathes out 400 g/h in a room of 24 °C and 70 %. Winter air does the drying with
// little of it, and takes the CO2 along.
func ExampleExchange() {
	x := roomair.Exchange{Inside: moistair.At(24, 0.7, 101.3), Outside: moistair.At(5, 0.85, 101.3)}
	flow, err := x.FlowFor(400)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f m³/h, %.0f W of warmth, %.0f g/h of CO2\n", flow, x.HeatOf(flow), roomair.CO2Loss(flow, 1000, 420, 24, 101.3))
	// Output:
	// 40 m³/h, 252 W of warmth, 42 g/h of CO2
}
