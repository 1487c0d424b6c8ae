package energycost_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/internal/compare"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

func tariff(t interface{ Fatal(...any) }, text string) energycost.Tariff {
	x, err := energycost.ParseTariff(text)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestParseTariff(t *testing.T) {
	t.Parallel()
	x := tariff(t, "07:00-23:00 0.34, 23:00-07:00 0.19")
	for q, want := range map[int]float64{0: 0.19, 27: 0.19, 28: 0.34, 91: 0.34, 92: 0.19, 95: 0.19} {
		if x.PerKWh[q] != want {
			t.Errorf("%s: %g, want %g", energycost.Clock(q), x.PerKWh[q], want)
		}
	}
	for _, same := range []string{
		"23:00–07:00 0.19; 7:00 to 23:00 at 0.34", "0:00-7:00 0.19,7-23 0.34,23-24:00 0.19", "07:00-23:00 0.34 , 23:00-07:00 0.19,",
	} {
		if tariff(t, same) != x {
			t.Errorf("%q reads otherwise", same)
		}
	}
	if y := tariff(t, "00:00-24:00 0.3 EUR/kWh"); y.Currency != "EUR" || y.PerKWh[50] != 0.3 || y.Varies() {
		t.Errorf("%+v", y)
	}
}

func TestTariffErrors(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"":                                      "00:00 to 24:00 has no price",
		"07:00-23:00 0.34":                      "00:00 to 07:00 has no price",
		"07:00-23:00 0.34, 22:00-07:00 0.19":    "22:00 has a price already",
		"07:00-23:00 0,34, 23:00-07:00 0,19":    "decimal point",
		"07:10-23:00 0.34, 23:00-07:10 0.19":    "quarter",
		"25:00-23:00 0.34":                      "no time of day",
		"07:00-23:00":                           "price is missing",
		"cheap":                                 "no time from and to",
		"00:00-24:00 -0.1":                      "below 0",
		"00:00-24:00 NaN":                       "out of range",
		"00:00-24:00 many":                      "cannot be read",
		"0-12 0.3 EUR/kWh, 12-24 0.2 USD/kWh":   "currency",
		"0-12 0.3, " + strings.Repeat("x", 5e3): "bytes",
	} {
		_, err := energycost.ParseTariff(text)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "example") {
			t.Errorf("%.40q: %v, want a word of %q", text, err, want)
		}
	}
}

// By hand: 16 h of light under the night tariff of 8 h cost least with all of
// the night in them; 8 h lie wholly in it.
func TestPlaceByHand(t *testing.T) {
	t.Parallel()
	x := tariff(t, "07:00-23:00 0.34, 23:00-07:00 0.19")
	p, err := energycost.LightDay{Tariff: x, Hours: 8, Dark: 6}.Place()
	if err != nil || len(p.Light) != 1 || p.Light[0].String() != "23:00 to 07:00" {
		t.Fatalf("%v %v", p, err)
	}
	compare.Within(t, "price of the night", p.PerHour, 0.19, 1e-12)
	p, err = energycost.LightDay{Tariff: x, Hours: 16, Dark: 6}.Place()
	if err != nil {
		t.Fatal(err)
	}
	compare.Within(t, "price of 16 h", p.PerHour, (8*0.19+8*0.34)/16, 1e-12)
	compare.Within(t, "money of 126 W for 16 h", p.Money(126), 0.126*(8*0.19+8*0.34), 1e-12)
	// Two cheap spans of 5 h, 7 h apart: light of 10 h is cheapest broken, and its dark
	// period of 7 h lies between them.
	y := tariff(t, "00:00-05:00 0.1, 05:00-12:00 0.4, 12:00-17:00 0.1, 17:00-24:00 0.4")
	p, err = energycost.LightDay{Tariff: y, Hours: 10, Dark: 7, Broken: true}.Place()
	if err != nil || len(p.Light) != 2 || p.Dark != 7 {
		t.Fatalf("%v %v", p, err)
	}
	compare.Within(t, "broken", p.PerHour, 0.1, 1e-12)
	p, err = energycost.LightDay{Tariff: y, Hours: 10, Dark: 7}.Place()
	if err != nil {
		t.Fatal(err)
	}
	compare.Within(t, "in one", p.PerHour, 0.25, 1e-12)
	// In a window over midnight.
	p, err = energycost.LightDay{Tariff: x, Hours: 9, Dark: 6, From: 80, To: 24}.Place()
	if err != nil || p.Light[0].From < 80 || p.Light[0].To > 96+24 {
		t.Fatalf("%v %v", p, err)
	}
	for _, d := range []energycost.LightDay{
		{Hours: 20, Dark: 6}, {Hours: 10, From: 0, To: 8}, {Hours: 25}, {Hours: 8, From: -1}, {Hours: quantity.Hours(math.Inf(1))}, {Hours: quantity.Hours(math.NaN())},
	} {
		if _, err := d.Place(); err == nil {
			t.Errorf("%+v has a place", d)
		}
	}
}

// Against trying every set of hours: eight blocks of 3 h stand for the day.
func TestBrokenAgainstAllSets(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var x energycost.Tariff
		for b := range 8 {
			p := float64(rapid.IntRange(1, 9).Draw(t, "price")) / 10
			for i := range 12 {
				x.PerKWh[b*12+i] = p
			}
		}
		blocks := rapid.IntRange(1, 6).Draw(t, "blocks of light")
		dark := rapid.IntRange(1, 8-blocks).Draw(t, "blocks of dark")
		best, fewest := math.Inf(1), 0
		for set := range 256 {
			n, cost, longest, run, stretches := 0, 0.0, 0, 0, 0
			for k := range 16 {
				on := set>>(k%8)&1 == 1
				if on {
					run = 0
				} else {
					run++
					longest = max(longest, run)
				}
				if k < 8 && on {
					n++
					cost += 12 * x.PerKWh[k*12]
					if set>>((k+7)%8)&1 == 0 {
						stretches++
					}
				}
			}
			if n == blocks && longest >= dark && (cost < best-1e-9 || cost < best+1e-9 && stretches < fewest) {
				best, fewest = cost, stretches
			}
		}
		d := energycost.LightDay{Tariff: x, Hours: quantity.Hours(3 * blocks), Dark: quantity.Hours(3 * dark), Broken: true, Stretch: 12}
		p, err := d.Place()
		if err != nil {
			t.Fatal(err)
		}
		// Stretches need not begin at a block, so finer ones may be cheaper, never dearer.
		if got := p.PerHour * float64(blocks) * 12; got > best+1e-9 {
			t.Fatalf("%g, all sets give %g", got, best)
		}
		if p.Dark < d.Dark || p.Hours != d.Hours {
			t.Fatalf("%+v for %+v", p, d)
		}
		for _, l := range p.Light {
			if l.To-l.From < 12 {
				t.Fatalf("a stretch of %d quarters, want at least 12", l.To-l.From)
			}
		}
		// In one stretch, every start by hand.
		d.Broken = false
		one := math.Inf(1)
		for s := range energycost.Quarters {
			c := 0.0
			for i := range blocks * 12 {
				c += x.PerKWh[(s+i)%energycost.Quarters]
			}
			one = min(one, c)
		}
		q, err := d.Place()
		if err != nil || math.Abs(q.PerHour*float64(blocks)*12-one) > 1e-9 || p.PerHour > q.PerHour+1e-9 {
			t.Fatalf("%v %v, every start gives %g", q, err, one)
		}
	})
}

// With stretches of a quarter the cheapest quarters are all that matters when the
// dark period is short: their sum is the least there is.
func TestBrokenTakesTheCheapest(t *testing.T) {
	t.Parallel()
	x := tariff(t, "00:00-01:00 0.1, 01:00-06:00 0.5, 06:00-07:00 0.1, 07:00-12:00 0.5, 12:00-13:00 0.1, 13:00-24:00 0.5")
	p, err := energycost.LightDay{Tariff: x, Hours: 3, Broken: true, Stretch: 1}.Place()
	if err != nil || len(p.Light) != 3 {
		t.Fatalf("%v %v", p, err)
	}
	compare.Within(t, "price", p.PerHour, 0.1, 1e-12)
	// Stretches of at least 2 h cannot pick both cheap hours for 3 h of light.
	y := tariff(t, "00:00-01:00 0.1, 01:00-12:00 0.5, 12:00-13:00 0.1, 13:00-24:00 0.5")
	p, err = energycost.LightDay{Tariff: y, Hours: 3, Broken: true, Stretch: 8}.Place()
	if err != nil || len(p.Light) != 1 {
		t.Fatalf("%v %v", p, err)
	}
	compare.Within(t, "price of one stretch", p.PerHour, 1.1/3, 1e-12)
}

func TestTariffPrintsAndReads(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var x energycost.Tariff
		x.Currency = rapid.SampledFrom([]string{"", "EUR", "$"}).Draw(t, "currency")
		at := 0
		for at < energycost.Quarters {
			n := rapid.IntRange(1, 96).Draw(t, "quarters")
			p := float64(rapid.IntRange(0, 50).Draw(t, "price")) / 100
			for ; n > 0 && at < energycost.Quarters; n-- {
				x.PerKWh[at] = p
				at++
			}
		}
		y, err := energycost.ParseTariff(x.String())
		if err != nil || y != x {
			t.Fatalf("%q: %v", x.String(), err)
		}
	})
}

func FuzzParseTariff(f *testing.F) {
	for _, s := range []string{"07:00-23:00 0.34, 23:00-07:00 0.19", "0-24 0.3 EUR/kWh", "x", "24:00-24:00 1", "0-0 0.1", "7–23 1;23-7 2", "-", ",,,", "0-24 1e400"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := energycost.ParseTariff(s)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "tariff: ") {
				t.Fatalf("%q", err)
			}
			return
		}
		for _, p := range x.PerKWh {
			if !(p >= 0 && p <= 1e12) {
				t.Fatalf("price %g", p)
			}
		}
		if y, err := energycost.ParseTariff(x.String()); err != nil || y != x {
			t.Fatalf("%q reads as %q, which reads otherwise: %v", s, x.String(), err)
		}
	})
}

func ExampleLightDay_Place() {
	t, _ := energycost.ParseTariff("07:00-23:00 0.34, 23:00-07:00 0.19")
	p, _ := energycost.LightDay{Tariff: t, Hours: 14, Dark: 6}.Place()
	fmt.Printf("%s, %.3f a kWh\n", p.Light[0], p.PerHour)
	// Output: 17:00 to 07:00, 0.254 a kWh
}

func BenchmarkPlaceBroken(b *testing.B) {
	t := tariff(b, "07:00-23:00 0.34, 23:00-07:00 0.19")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := (energycost.LightDay{Tariff: t, Hours: 14, Dark: 6, Broken: true}).Place(); err != nil {
			b.Fatal(err)
		}
	}
}
