package marginburn_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/leafenergy"
	"underlamp/science/marginburn"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

func opening(kPa float64) float64 { return leafenergy.DryAirOpening(quantity.Kilopascal(kPa)) }

// The air limit is 50 % at 24 °C by the psychrometrics of the project.
func TestAirLimit(t *testing.T) {
	t.Parallel()
	if got := float64(moistair.VPD(24, 0.5)); math.Abs(got-marginburn.AirLimit) > 0.005 {
		t.Errorf("50 %% at 24 °C is %.3f kPa, the limit %g", got, marginburn.AirLimit)
	}
}

// Maas1990: lettuce yields in full up to 1.3 dS/m of the extract and 13 % less for each
// further one: at 2.3 it loses 13 %, at 5.3 52 %, at 9 all of it (1.3 + 100/13 = 8.99).
func TestSaltAgainstMaas(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ extract, loss float64 }{{0, 0}, {1.3, 0}, {2.3, 0.13}, {5.3, 0.52}, {9, 1}} {
		if got := marginburn.Of(2*c.extract, 1, opening).Loss; math.Abs(got-c.loss) > 0.002 {
			t.Errorf("extract of %g dS/m: loss %.3f, want %g", c.extract, got, c.loss)
		}
	}
}

func TestLevels(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		ec, vpd float64
		want    marginburn.Level
	}{
		{1.4, 0.9, marginburn.Low},    // a common feed at 65 % and 22 °C
		{2.6, 1.49, marginburn.Low},   // both at the limit
		{3.0, 0.9, marginburn.Raised}, // salty
		{1.4, 1.8, marginburn.Raised}, // dry
		{3.0, 1.8, marginburn.High},   // both
		{8.0, 0.9, marginburn.High},   // salt by far
		{0, 0, marginburn.Low},        // pure water in saturated air
	} {
		if got := marginburn.Of(c.ec, c.vpd, opening); got.Level != c.want {
			t.Errorf("EC %g, %g kPa: %s, want %s (%+v)", c.ec, c.vpd, got.Level, c.want, got)
		}
	}
	if at := marginburn.Of(marginburn.SaltLimit, marginburn.AirLimit, opening); math.Abs(at.Load-1) > 1e-12 {
		t.Errorf("load %g at both limits, want 1", at.Load)
	}
}

// More salt or drier air never lowers the grade or the load.
func TestMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, hi float64) float64 { return rapid.Float64Range(0, hi).Draw(t, name) }
		ec, vpd, more, drier := f("EC", 10), f("VPD", 4), f("more", 5), f("drier", 3)
		a, b := marginburn.Of(ec, vpd, opening), marginburn.Of(ec+more, vpd+drier, opening)
		if b.Level < a.Level || b.Load < a.Load*(1-1e-12) || b.Loss < a.Loss {
			t.Fatalf("%+v then %+v", a, b)
		}
	})
}

// The feed of a bench has crept up to 3.2 mS/cm and the room is dry. Which margin of
// the crop is in danger?
func Example() {
	r := marginburn.Of(3.2, float64(moistair.VPD(24, 0.45)), opening)
	fmt.Printf("%s: salty %v, dry %v, yield lost to salt %.0f %%\n", r.Level, r.Salty, r.Dry, 100*r.Loss)
	// Output: high: salty true, dry true, yield lost to salt 4 %
}
