package calcium_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/calcium"
)

// A shelf is one setting of the heart: feed, air, mass of the plant, and what it
// lays down a day.
type shelf struct {
	feed  calcium.Feed
	air   calcium.Air
	fresh float64
	laid  calcium.Laid
	area  float64
}

func drawShelf(t *rapid.T) shelf {
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	return shelf{
		feed: calcium.Feed{CalciumMgL: f("Ca", 60, 250), AmmoniumMgL: f("NH4", 0, 100), PotassiumMgL: f("K", 50, 400), MagnesiumMgL: f("Mg", 10, 80),
			EC: f("EC", 0.6, 3), RootC: f("root", 14, 28)},
		air: calcium.Air{DayDeficit: f("day deficit", 1, 12), NightDeficit: f("night deficit", 0.2, 8), DayC: f("day", 16, 30), NightC: f("night", 12, 26), HeartSpeed: f("speed", 0.02, 1), LightHours: f("hours", 8, 20),
			Opening: f("opening", 0.5, 2), Cooling: f("cooling", 1.5, 4)},
		fresh: f("fresh", 20, 300),
		laid:  calcium.Laid{Light: f("laid by day", 2, 30), Dark: f("laid by night", 1, 15)},
		area:  f("area", 0.6, 1.6),
	}
}

// after is the heart, and the flow of the last day, after days of one setting.
func (s shelf) after(days int) (calcium.Heart, calcium.Flow) {
	tr := calcium.Lettuce()
	c := tr.Prepare(s.feed, s.air)
	h := calcium.NewHeart()
	var f calcium.Flow
	for range days {
		f = h.Day(&tr, &c, s.fresh, s.laid, s.area)
	}
	return h, f
}

// The directions that the package comment promises, with the trials behind them.
func TestDirections(t *testing.T) {
	t.Parallel()
	for _, d := range []struct {
		what  string
		worse func(*shelf)
	}{
		{"more light or CO2, so more growth (Sago2016)", func(s *shelf) { s.laid.Light *= 1.2; s.laid.Dark *= 1.2 }},
		{"more humid by day (ErtleKubota2023a, CollierTibbitts1984)", func(s *shelf) { s.air.DayDeficit *= 0.8 }},
		{"drier by night (PalzkillTibbitts1977, Vanhassel2015)", func(s *shelf) { s.air.NightDeficit += 0.5 }},
		{"less air onto the heart (Frantz2004)", func(s *shelf) { s.air.HeartSpeed *= 0.7 }},
		{"larger, so more closed", func(s *shelf) { s.fresh *= 1.2 }},
		{"less calcium in the feed", func(s *shelf) { s.feed.CalciumMgL *= 0.7 }},
		{"saltier", func(s *shelf) { s.feed.EC += 0.5 }},
		{"more ammonium", func(s *shelf) { s.feed.AmmoniumMgL += 40 }},
		{"more potassium", func(s *shelf) { s.feed.PotassiumMgL += 80 }},
		{"more magnesium", func(s *shelf) { s.feed.MagnesiumMgL += 30 }},
		{"cooler roots under the same air (Carotti2021)", func(s *shelf) { s.feed.RootC -= 3 }},
		{"warmer air over the same roots (Carotti2021)", func(s *shelf) { s.air.DayC += 2; s.air.NightC += 2 }},
	} {
		t.Run(d.what, func(t *testing.T) {
			t.Parallel()
			rapid.Check(t, func(t *rapid.T) {
				base := drawShelf(t)
				worse := base
				d.worse(&worse)
				a, fa := base.after(20)
				b, fb := worse.after(20)
				if fb.Supply >= fa.Supply || b.Concentration >= a.Concentration {
					t.Fatalf("supply %g then %g, calcium %g then %g", fa.Supply, fb.Supply, a.Concentration, b.Concentration)
				}
				if b.Want < a.Want || b.Burnt < a.Burnt*(1-1e-12) && d.what[0] != 'w' {
					t.Fatalf("want %g then %g, burnt leaves %g then %g", a.Want, b.Want, a.Burnt, b.Burnt)
				}
			})
		})
	}
}

// Hartz2007: calcium of the feed has no relation to burn. Doubled from 100 mg/L in a
// common feed it brings less than a tenth more.
func TestFeedHardlyHelps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawShelf(t)
		s.feed = calcium.UsualFeed()
		double := s
		double.feed.CalciumMgL *= 2
		_, one := s.after(1)
		_, two := double.after(1)
		if r := two.Supply / one.Supply; r <= 1 || r > 1.10 {
			t.Fatalf("twice the calcium in the feed brings %g of it", r)
		}
	})
}

// The balance dc/dt = r (supply − c), apart for light and dark hours, against Euler's
// method in 50 000 steps each, whose error is r/50 000 of the change.
func TestBalanceIsSolvedExactly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawShelf(t)
		tr := calcium.Lettuce()
		_, whole := s.after(1)
		// What a phase brings alone: without day water there is only the night's, and the
		// other way round; without growth by night (no night) the day's growth is left.
		night := s
		night.air.DayDeficit = 0
		_, dark := night.after(1)
		imported := tr.Sap * s.feed.Uptake(1) / calcium.UsualFeed().Uptake(1) * math.Pow(1.28, (s.feed.RootC-20)/10)
		byNight := imported * dark.Water
		byDay := imported * (whole.Water - dark.Water)
		half := func(laid, days, air float64) float64 {
			q := (1 + math.Exp((15.7-20)/5.05)) / (1 + math.Exp((15.7-air)/5.05))
			g := laid / days
			return tr.GrowthMax * q * g / (g + tr.GrownHalf*q) * days
		}
		rd := half(s.laid.Light, s.air.LightHours/24, s.air.DayC)
		rn := half(s.laid.Dark, 1-s.air.LightHours/24, s.air.NightC)
		if math.Abs(rd+rn-whole.Growth) > 1e-12 {
			t.Fatalf("growth %g, want %g", whole.Growth, rd+rn)
		}
		c := calcium.NewHeart().Concentration
		const steps = 50_000
		for range steps {
			c += (byDay - rd*c) / steps
		}
		for range steps {
			c += (byNight - rn*c) / steps
		}
		h, f := s.after(1)
		if math.Abs(h.Concentration-c) > 1e-4*(1+f.Supply) {
			t.Fatalf("calcium %.9g, by fine steps %.9g", h.Concentration, c)
		}
		// After many days the plant is in a round that repeats: what comes in a day goes
		// into a day's growth.
		far, _ := s.after(2000)
		next := far
		cond := tr.Prepare(s.feed, s.air)
		next.Day(&tr, &cond, s.fresh, s.laid, s.area)
		if math.Abs(next.Concentration-far.Concentration) > 1e-6*(1+far.Concentration) {
			t.Fatalf("after 2000 days calcium still goes from %g to %g", far.Concentration, next.Concentration)
		}
	})
}

func TestWellSuppliedNeverBurns(t *testing.T) {
	t.Parallel()
	need := calcium.Lettuce().Need
	rapid.Check(t, func(t *rapid.T) {
		s := drawShelf(t)
		h, f := s.after(60)
		day, burns := h.BurnDay()
		// The night's share of supply comes in one go: over light and dark hours calcium
		// swings around the supply by at most a night's growth.
		if f.Supply*math.Exp(-f.Growth) >= need && burns {
			t.Fatalf("supply %g, need %g, yet burn on day %g", f.Supply, need, day)
		}
		if burns && !(day > 0 && day <= 60) {
			t.Fatalf("burn on day %g of 60", day)
		}
		if b := h.BurntShare(); b < 0 || b > 1 || (h.Burnt >= 1) != burns {
			t.Fatalf("share %g, burns %v", b, burns)
		}
	})
}

func TestExtremes(t *testing.T) {
	t.Parallel()
	big := func(name string, t *rapid.T) float64 {
		return rapid.SampledFrom([]float64{0, 1e-9, 1, 24, 100, 1e4}).Draw(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := shelf{
			feed: calcium.Feed{CalciumMgL: big("Ca", t), AmmoniumMgL: big("NH4", t), PotassiumMgL: big("K", t), MagnesiumMgL: big("Mg", t), EC: big("EC", t), RootC: rapid.Float64Range(-5, 50).Draw(t, "root")},
			air: calcium.Air{DayDeficit: big("day", t), NightDeficit: big("night", t), DayC: rapid.Float64Range(-5, 50).Draw(t, "°C"), NightC: 20,
				HeartSpeed: big("speed", t), LightHours: rapid.Float64Range(0, 24).Draw(t, "hours")},
			fresh: big("fresh", t), laid: calcium.Laid{Light: big("by day", t), Dark: big("by night", t)}, area: 1,
		}
		h, f := s.after(5)
		for _, v := range []float64{h.Concentration, h.Want, h.BurntShare(), f.Supply, f.Growth, f.Enclosed, f.Water} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("%+v %+v", h, f)
			}
		}
	})
}

// With lamps on for 24 h no night lifts water into the heart.
func TestNoNight(t *testing.T) {
	t.Parallel()
	s := shelf{feed: calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20}, air: calcium.Air{DayDeficit: 0, DayC: 22, NightC: 20, LightHours: 24, HeartSpeed: 0.1}, fresh: 100, laid: calcium.Laid{Light: 12}, area: 1}
	if _, f := s.after(1); f.Water != 0 || f.Supply != 0 {
		t.Errorf("water %g, supply %g in saturated air without a night, want none", f.Water, f.Supply)
	}
}

// A day of next to no light is a number like any other (found by TestExtremes: what
// is laid down over it ran over the largest number there is).
func TestNextToNoDay(t *testing.T) {
	t.Parallel()
	s := shelf{feed: calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20}, air: calcium.Air{DayC: 22, NightC: 20, LightHours: 3e-306}, fresh: 100, laid: calcium.Laid{Light: 24}, area: 1}
	if h, f := s.after(5); math.IsNaN(f.Growth) || math.IsNaN(f.Supply) || math.IsNaN(h.Concentration) {
		t.Errorf("%+v %+v", h, f)
	}
}

func TestHeartShare(t *testing.T) {
	t.Parallel()
	if !(calcium.HeartShare("down") > calcium.HeartShare("across") && calcium.HeartShare("across") > calcium.HeartShare("none")) {
		t.Error("air from above reaches the heart less than air from the side, or than none")
	}
}

func TestDayAllocatesNothing(t *testing.T) {
	tr := calcium.Lettuce()
	c := tr.Prepare(calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20}, calcium.Air{DayDeficit: 6, NightDeficit: 4, DayC: 22, NightC: 20, HeartSpeed: 0.1, LightHours: 16})
	h := calcium.NewHeart()
	if n := testing.AllocsPerRun(100, func() { h.Day(&tr, &c, 100, calcium.Laid{Light: 8, Dark: 4}, 1) }); n != 0 {
		t.Errorf("%g allocations a day", n)
	}
}

// A grower turns the fan so that it blows down on the heads. Does more calcium
// reach the heart?
func Example() {
	tr := calcium.Lettuce()
	supply := func(aim string) float64 {
		air := calcium.Air{DayDeficit: 6.8, NightDeficit: 4.3, DayC: 22, NightC: 20, HeartSpeed: 0.4 * calcium.HeartShare(aim), LightHours: 16}
		c := tr.Prepare(calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20}, air)
		h := calcium.NewHeart()
		return h.Day(&tr, &c, 120, calcium.Laid{Light: 8, Dark: 4}, 1).Supply
	}
	fmt.Println("more with air from above:", supply("down") > supply("across"))
	// Output: more with air from above: true
}

// Without any supply calcium falls as exp(−r t) from 1.2 mg/g, and the leaves that
// burn follow by hand: each day 1 − exp(−want/Bearing) of the young ones, while new
// leaves join and as many grow out of danger.
func TestBurnByHand(t *testing.T) {
	t.Parallel()
	tr := calcium.Lettuce()
	c := tr.Prepare(calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20}, calcium.Air{DayC: 20, NightC: 20, LightHours: 24, HeartSpeed: 0.1})
	h := calcium.NewHeart()
	young, burnt, leaves, seen := 8.0, 0.0, 8.0, 0.0
	for day := 1; day <= 20; day++ {
		f := h.Day(&tr, &c, 100, calcium.Laid{Light: tr.GrownHalf}, 1)
		if want := tr.GrowthMax / 2; math.Abs(f.Growth-want) > 1e-12 { // half of the greatest, by definition
			t.Fatalf("growth %g a day, want %g", f.Growth, want)
		}
		calciumNow := 1.2 * math.Exp(-f.Growth*float64(day))
		if math.Abs(h.Concentration-calciumNow) > 1e-9 {
			t.Fatalf("day %d: calcium %g, want %g", day, h.Concentration, calciumNow)
		}
		leaves += tr.LeafRate
		young += tr.LeafRate * (1 - young/8)
		if want := min((1-calciumNow/tr.Need)/0.55, 1); want > 0 { // full at 0.45 of the need
			now := young * (1 - math.Exp(-want/tr.Bearing))
			young -= now
			burnt += now
			if seen == 0 && burnt >= 1 {
				seen = float64(day) - (burnt-1)/now
			}
		}
		if math.Abs(h.Burnt-burnt) > 1e-9 || math.Abs(h.BurntShare()-burnt/leaves) > 1e-9 {
			t.Fatalf("day %d: %g leaves burnt, want %g", day, h.Burnt, burnt)
		}
	}
	if day, ok := h.BurnDay(); !ok || math.Abs(day-seen) > 1e-9 {
		t.Errorf("burn first seen on day %g (%v), want %g", day, ok, seen)
	}
}

// The grades follow the share of burnt leaves, and a plant without a whole burnt leaf has
// none; by the bounds as they are printed.
func TestSeverity(t *testing.T) {
	t.Parallel()
	tr := calcium.Lettuce()
	// Saturated air, no night: no supply at all, so burn runs through every grade.
	c := tr.Prepare(calcium.UsualFeed(), calcium.Air{DayC: 20, NightC: 20, LightHours: 24, HeartSpeed: 0.1})
	h := calcium.NewHeart()
	if h.Severity() != 0 {
		t.Error("a plant at transplanting has a grade")
	}
	reached := map[int]bool{}
	for range 60 {
		h.Day(&tr, &c, 100, calcium.Laid{Light: 3}, 1)
		want := 0
		if _, seen := h.BurnDay(); seen {
			want = 1
			for _, from := range []float64{0.05, 0.15, 0.30, 0.50} {
				if h.BurntShare() >= from {
					want++
				}
			}
		}
		if got := h.Severity(); got != want {
			t.Errorf("share %.3f: grade %d, want %d", h.BurntShare(), got, want)
		}
		reached[h.Severity()] = true
	}
	if !reached[0] || !reached[5] {
		t.Errorf("grades reached: %v", reached)
	}
}

// With the heat of the air to fetch through the same closed leaves, a heart gains far less
// from warm air than its deficit rises: at 65 % humidity the deficit is half as high again
// at 24 as at 17 °C, the water through a closed heart a sixth. s/γ is 1.86 and 2.71 there
// (FAO-56, Allen1998).
func TestClosedHeartCoolsToItsWetBulb(t *testing.T) {
	t.Parallel()
	tr := calcium.Lettuce()
	tr.HeartResistance, tr.HeartDraught = 1e7, 0 // so that nothing else counts
	water := func(deficit, cooling float64) float64 {
		c := tr.Prepare(calcium.UsualFeed(), calcium.Air{DayDeficit: deficit, NightDeficit: 100, DayC: 20, NightC: 20, LightHours: 16, HeartSpeed: 0.01, Cooling: cooling})
		h := calcium.NewHeart()
		return h.Day(&tr, &c, 1e4, calcium.Laid{Light: 8}, 1).Water
	}
	dry, moist := water(7.62, 2.71), water(5.06, 1.86)
	if r := dry / moist; math.Abs(r-7.62/5.06*2.86/3.71) > 0.01 {
		t.Errorf("water at 24 over that at 17 °C is %.3f, want %.3f", r, 7.62/5.06*2.86/3.71)
	}
}

// A closed heart cools toward the wet bulb and never below it; an open one has no path that
// could cool it; root pressure falls with the deficit of the night and is whole in saturated air.
func TestCooler(t *testing.T) {
	t.Parallel()
	tr := calcium.Lettuce()
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(1, 4).Draw(t, "s/γ")
		dry := rapid.Float64Range(0, 30).Draw(t, "D/γ")
		c := tr.Prepare(calcium.UsualFeed(), calcium.Air{DayC: 22, NightC: 19, HeartSpeed: rapid.Float64Range(0, 1).Draw(t, "u"), LightHours: 16, Opening: 1, Cooling: slope})
		mass := rapid.Float64Range(1, 600).Draw(t, "g")
		cool := c.Cooler(&tr, mass, dry)
		if cool < 0 || cool > dry/(1+slope)+1e-9 {
			t.Fatalf("%g K, the wet bulb is %g below", cool, dry/(1+slope))
		}
		if more := c.Cooler(&tr, mass*1.2, dry); more < cool-1e-12 {
			t.Fatalf("a more closed heart is warmer: %g, %g", more, cool)
		}
		d := rapid.Float64Range(0, 10).Draw(t, "deficit")
		if left := tr.RootPressureLeft(d); left > 1 || left <= 0 || tr.RootPressureLeft(d+0.1) >= left || tr.RootPressureLeft(0) != 1 {
			t.Fatalf("root pressure %g", left)
		}
	})
}
