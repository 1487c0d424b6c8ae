package headcycle_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

func usual() headcycle.Environment {
	return headcycle.Environment{
		Hours: 16, CO2: 450, DayC: 22, NightC: 20, DayRH: 0.65, NightRH: 0.75, Speed: 0.1, HeartShare: calcium.HeartShare("none"),
		Feed: calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 21},
	}
}

var start = headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}

func run(env headcycle.Environment, light headcycle.Profile, days int, dim []float64, course []headcycle.Day) headcycle.Outcome {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, env)
	return headcycle.Run(&tr, &pre, light, start, days, dim, course)
}

func TestCourseEndsInLast(t *testing.T) {
	t.Parallel()
	course := make([]headcycle.Day, 35)
	with := run(usual(), headcycle.Flat(250), 35, nil, course)
	without := run(usual(), headcycle.Flat(250), 35, nil, nil)
	if with != without {
		t.Errorf("with a course %+v, without %+v", with, without)
	}
	if course[34] != with.Last {
		t.Error("the last day of the course is not the last day")
	}
	water := 0.0
	for i, d := range course {
		water += d.Water
		if i > 0 && d.Fresh <= course[i-1].Fresh {
			t.Errorf("day %d: %g g after %g g", i+1, d.Fresh, course[i-1].Fresh)
		}
	}
	if math.Abs(water-with.Water) > 1e-9*water {
		t.Errorf("water of the days %g, of the cycle %g", water, with.Water)
	}
	// By hand: 250 µmol over 16 h is 14.4 mol a day.
	if math.Abs(with.Light-14.4*35) > 1e-9 {
		t.Errorf("light %g mol, want %g", with.Light, 14.4*35)
	}
}

func TestDimming(t *testing.T) {
	t.Parallel()
	ones := slices.Repeat([]float64{1}, 30)
	if a, b := run(usual(), headcycle.Flat(250), 30, ones, nil), run(usual(), headcycle.Flat(250), 30, nil, nil); a != b {
		t.Error("a schedule of ones is not the same as none")
	}
	half := slices.Repeat([]float64{0.5}, 30)
	if a, b := run(usual(), headcycle.Flat(250), 30, half, nil), run(usual(), headcycle.Flat(125), 30, nil, nil); math.Abs(a.Last.Fresh-b.Last.Fresh) > 0.001*b.Last.Fresh {
		t.Errorf("half of 250 µmol gives %g g, 125 µmol %g g", a.Last.Fresh, b.Last.Fresh)
	}
	late := slices.Clone(ones)
	for d := 15; d < 30; d++ {
		late[d] = 0.6
	}
	full, dimmed := run(usual(), headcycle.Flat(350), 30, nil, nil), run(usual(), headcycle.Flat(350), 30, late, nil)
	if dimmed.Burnt > full.Burnt || dimmed.Last.Fresh >= full.Last.Fresh || dimmed.Last.Calcium <= full.Last.Calcium {
		t.Errorf("less light at the end: %+v, full light: %+v", dimmed, full)
	}
}

func TestPanicsOnLengths(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]func(){
		"dim":    func() { run(usual(), headcycle.Flat(250), 30, make([]float64, 29), nil) },
		"course": func() { run(usual(), headcycle.Flat(250), 30, nil, make([]headcycle.Day, 31)) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s of the wrong length did not panic", name)
				}
			}()
			f()
		}()
	}
}

func TestProfile(t *testing.T) {
	t.Parallel()
	p := headcycle.Profile{Spacing: 0.1, Levels: []float64{100, 120, 160}}
	for _, c := range []struct{ height, want float64 }{
		{-1, 100}, {0, 100}, {0.05, 110}, {0.1, 120}, {0.175, 150}, {0.2, 160}, {5, 160},
	} {
		if got := p.At(c.height); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("at %g m: %g, want %g", c.height, got, c.want)
		}
	}
	if got := (headcycle.Profile{}).At(0.1); got != 0 {
		t.Errorf("an empty profile has %g", got)
	}
	// Light that rises toward the lamp: a taller plant gets more.
	course := make([]headcycle.Day, 30)
	run(usual(), headcycle.Profile{Spacing: 0.1, Levels: []float64{200, 230, 270, 330}}, 30, nil, course)
	if course[29].PPFD <= course[0].PPFD || course[0].PPFD < 200 {
		t.Errorf("light %g on day 1 and %g on day 30", course[0].PPFD, course[29].PPFD)
	}
}

// A plant that meets any climate a person may write stays a number.
func TestAnyClimate(t *testing.T) {
	t.Parallel()
	plants := headcycle.LettuceSpread().Draws(headcycle.Lettuce(), 50, 7)
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		env := headcycle.Environment{
			Hours: quantity.Hours(f("hours", 0, 24)), CO2: quantity.PPM(f("ppm", 200, 2500)),
			DayC: quantity.Celsius(f("day", 2, 42)), NightC: quantity.Celsius(f("night", 2, 42)),
			DayRH: quantity.Fraction(f("day RH", 0.1, 1)), NightRH: quantity.Fraction(f("night RH", 0.1, 1)),
			Speed: quantity.MetrePerSecond(f("speed", 0, 3)), HeartShare: f("share", 0, 1),
			Feed: calcium.Feed{CalciumMgL: f("Ca", 0, 400), EC: f("EC", 0, 6), RootC: f("root", 2, 40)},
		}
		tr := plants[rapid.IntRange(0, len(plants)-1).Draw(t, "plant")]
		pre := headcycle.Prepare(&tr, env)
		o := headcycle.Run(&tr, &pre, headcycle.Flat(quantity.PPFD(f("PPFD", 0, 2000))), headcycle.Start{FreshGrams: f("start", 0.001, 20), GroundM2: f("ground", 0.005, 0.2)}, 35, nil, nil)
		for _, v := range []float64{o.Last.Fresh, o.Last.Dry, o.Last.LeafArea, o.Last.Height, o.Last.Calcium, o.Burnt, o.Water, o.Light} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v", o)
			}
		}
		if o.Last.Fresh < 0 || o.Last.Fresh > 20000 || o.Burnt < 0 || o.Burnt > 1 {
			t.Fatalf("%+v", o)
		}
	})
}

// Graamans2017, text: a closed stand (Batavia, leaf area index 3, 21 and 19 °C, 73
// and 83 % humidity, 16 h) lost 0.032 g m⁻² s⁻¹ on the mean of 24 h and of six light
// levels from 140 to 593 µmol, the paper's model 0.030; twice its error, 0.004, is
// allowed. Water for each kg of head is compared in docs/validation.md.
func TestWaterOfAClosedStand(t *testing.T) {
	t.Parallel()
	env := usual()
	env.DayC, env.NightC, env.DayRH, env.NightRH = 21, 19, 0.73, 0.83
	// The aerodynamic resistance of the paper, 100 s/m at LAI 3: 350 √(l/u)/3 with l
	// = 0.11 m needs 0.15 m/s.
	env.Speed = 0.15
	mean := 0.0
	for _, ppfd := range []quantity.PPFD{140, 205, 296, 398, 452, 593} {
		o := run(env, headcycle.Flat(ppfd), 35, nil, nil)
		mean += o.Last.Water / start.GroundM2 / 86400 / 6
	}
	if math.Abs(mean-0.032) > 0.008 {
		t.Errorf("a closed stand loses %.4f g m⁻² s⁻¹, measured 0.032", mean)
	}
}

func TestDraws(t *testing.T) {
	t.Parallel()
	s := headcycle.LettuceSpread()
	a, b := s.Draws(headcycle.Lettuce(), 2000, 3), s.Draws(headcycle.Lettuce(), 2000, 3)
	if !slices.Equal(a, b) {
		t.Error("the same seed gives other plants")
	}
	if slices.Equal(a[:10], s.Draws(headcycle.Lettuce(), 10, 4)) {
		t.Error("another seed gives the same plants")
	}
	if !slices.Equal(a[:10], s.Draws(headcycle.Lettuce(), 10, 3)) {
		t.Error("the first ten of many are not the ten of few")
	}
	// The standard deviation of 2000 logarithms is known to 1.6 %; the bound at three
	// deviations takes 1.3 % of it. The mean is known to 0.45 % of itself.
	var sum, sq float64
	for _, p := range a {
		l := math.Log(p.Growth.Vigour / headcycle.Lettuce().Growth.Vigour)
		sum += l
		sq += l * l
	}
	n := float64(len(a))
	mean := sum / n
	sd := math.Sqrt(sq/n - mean*mean)
	if math.Abs(sd/s.Vigour-1) > 0.06 || math.Abs(mean) > 4*s.Vigour/math.Sqrt(n) {
		t.Errorf("logarithm of vigour: mean %g, deviation %g, want 0 and %g", mean, sd, s.Vigour)
	}
	for _, v := range headcycle.Normals(5000, 1) {
		if math.Abs(v) > 3 {
			t.Fatalf("%g is outside three deviations", v)
		}
	}
}

func TestRunAllocatesNothing(t *testing.T) {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usual())
	light := headcycle.Flat(250)
	course := make([]headcycle.Day, 35)
	moved := start
	moved.Before = []headcycle.Stand{{Until: 10, GroundM2: 1.0 / 80}}
	if n := testing.AllocsPerRun(20, func() { headcycle.Run(&tr, &pre, light, moved, 35, nil, course) }); n != 0 {
		t.Errorf("%g allocations a run", n)
	}
}

// Two benches with the same lamps, one twice as close: which is heavier, and
// which has less calcium in its heart?
func Example() {
	far, close := run(usual(), headcycle.Flat(175), 30, nil, nil), run(usual(), headcycle.Flat(350), 30, nil, nil)
	fmt.Println("heavier:", close.Last.Fresh > far.Last.Fresh)
	fmt.Println("poorer in calcium:", close.Last.Calcium < far.Last.Calcium)
	// Output:
	// heavier: true
	// poorer in calcium: true
}

// Under a canopy that closes, the light goes from that over the bare surface to
// that over leaves, and never beyond.
func TestProfileClosesWithTheCanopy(t *testing.T) {
	t.Parallel()
	p := headcycle.Profile{Spacing: 0.1, Levels: []float64{200, 240}, Closed: []float64{180, 230}}
	for _, c := range []struct{ height, cover, want float64 }{
		{0, 0, 200}, {0, 1, 180}, {0, 0.5, 190}, {0.1, 1, 230}, {0.05, 0.5, 212.5}, {0, 2, 180}, {0, -1, 200},
	} {
		if got := p.Under(c.height, c.cover); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("at %g m, cover %g: %g, want %g", c.height, c.cover, got, c.want)
		}
	}
	tr := headcycle.Lettuce()
	env := headcycle.Environment{Hours: 16, CO2: 450, DayC: 22, NightC: 20, DayRH: 0.65, NightRH: 0.75, Speed: 0.1, HeartShare: 0.15, Feed: calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 21}}
	pre := headcycle.Prepare(&tr, env)
	start := headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}
	mass := func(p headcycle.Profile) float64 { return headcycle.Run(&tr, &pre, p, start, 35, nil, nil).Last.Fresh }
	bare, closing, closed := mass(headcycle.Profile{Spacing: 1, Levels: []float64{200}}), mass(headcycle.Profile{Spacing: 1, Levels: []float64{200}, Closed: []float64{180}}), mass(headcycle.Profile{Spacing: 1, Levels: []float64{180}})
	if !(closed < closing && closing < bare) {
		t.Errorf("%g g over a closed canopy, %g under a closing one, %g over a bare surface", closed, closing, bare)
	}
}

// Plants that stand closer at first. By hand: 10 days at 80 and 25 days at 25
// plants per m² are 0.0125 · 10/35 + 0.04 · 25/35 m² on the mean.
func TestStandsBefore(t *testing.T) {
	t.Parallel()
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, usual())
	end := func(s headcycle.Start) headcycle.Outcome {
		return headcycle.Run(&tr, &pre, headcycle.Flat(250), s, 35, nil, nil)
	}
	moved := start
	moved.Before = []headcycle.Stand{{Until: 10, GroundM2: 1.0 / 80}}
	if got, want := moved.MeanGround(35), (0.0125*10+0.04*25)/35; math.Abs(got-want) > 1e-12 {
		t.Errorf("mean ground %g m², want %g", got, want)
	}
	if moved.Ground(10) != 0.0125 || moved.Ground(11) != 0.04 || start.Ground(1) != 0.04 {
		t.Errorf("ground %g on day 10, %g on day 11", moved.Ground(10), moved.Ground(11))
	}
	same := start
	same.Before = []headcycle.Stand{{Until: 10, GroundM2: 0.04}}
	wide, close, as := end(start), end(moved), end(same)
	if as != wide {
		t.Error("a stand with the ground of the plan changes the outcome")
	}
	// Close plants share the light sooner, so they are lighter; but they were small
	// then, and what they made of the light of their ground is more.
	if close.Last.Fresh >= wide.Last.Fresh {
		t.Errorf("%g g after a close stand, %g g without", close.Last.Fresh, wide.Last.Fresh)
	}
	if close.Last.Dry/moved.MeanGround(35) <= wide.Last.Dry/start.MeanGround(35) {
		t.Errorf("a close stand makes no more of the light: %g and %g g/m²", close.Last.Dry/moved.MeanGround(35), wide.Last.Dry/start.MeanGround(35))
	}
	// Never moved apart is worse still.
	packed := headcycle.Start{FreshGrams: 1.5, GroundM2: 1.0 / 80}
	if p := end(packed); p.Last.Fresh >= close.Last.Fresh {
		t.Errorf("%g g never moved, %g g moved on day 10", p.Last.Fresh, close.Last.Fresh)
	}
}

// Carotti2021: under bright light hot air over cool roots was the worst corner. Cooler
// roots under the same air leave less calcium at harvest, and so does warm air of the
// same vapour deficit (Cox1976: burn went with growth, over temperature and light).
func TestWarmAirAndCoolRoots(t *testing.T) {
	t.Parallel()
	env := usual()
	env.DayC, env.NightC, env.Feed.RootC = 28, 28, 28
	cool := env
	cool.Feed.RootC = 20
	warm, chilled := run(env, headcycle.Flat(400), 29, nil, nil), run(cool, headcycle.Flat(400), 29, nil, nil)
	if chilled.Last.Calcium >= warm.Last.Calcium || chilled.Burnt < warm.Burnt {
		t.Errorf("roots at 28 °C: %.3f mg/g, %.2f of leaves; at 20 °C %.3f and %.2f", warm.Last.Calcium, warm.Burnt, chilled.Last.Calcium, chilled.Burnt)
	}
	// 65 % at 17 °C lacks 5.06 g/m³ and 75 % at 15 °C 3.21; at 24 and 22 °C that is 76.7 and 83.5 %.
	mild, hot := usual(), usual()
	mild.DayC, mild.NightC, mild.DayRH, mild.NightRH, mild.Feed.RootC = 17, 15, 0.65, 0.75, 16.3
	hot.DayC, hot.NightC, hot.DayRH, hot.NightRH, hot.Feed.RootC = 24, 22, 0.767, 0.835, 23.3
	a, b := run(mild, headcycle.Flat(250), 35, nil, nil), run(hot, headcycle.Flat(250), 35, nil, nil)
	if b.Last.Calcium >= a.Last.Calcium {
		t.Errorf("at one vapour deficit: %.3f mg/g at 17 °C, %.3f at 24 °C", a.Last.Calcium, b.Last.Calcium)
	}
}

// No pressure means that of the sea, to the last bit; thinner air holds a heart nearer to the
// wet bulb, which is farther below, and changes little else. Night is part of a day's water.
func TestPressure(t *testing.T) {
	t.Parallel()
	tr := headcycle.Lettuce()
	run := func(p quantity.Kilopascal) ([]headcycle.Day, headcycle.Outcome) {
		env := headcycle.Environment{Hours: 16, CO2: 450, DayC: 22, NightC: 19, DayRH: 0.65, NightRH: 0.75, Speed: 0.2, HeartShare: 0.25, Feed: calcium.UsualFeed(), Pressure: p}
		pre := headcycle.Prepare(&tr, env)
		course := make([]headcycle.Day, 30)
		return course, headcycle.Run(&tr, &pre, headcycle.Flat(220), headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, 30, nil, course)
	}
	course, sea := run(0)
	if _, same := run(101.3); same != sea {
		t.Errorf("%+v, %+v", same, sea)
	}
	if _, high := run(80); high.Water != sea.Water || high.Last.Fresh != sea.Last.Fresh || high.Last.Calcium == sea.Last.Calcium {
		t.Errorf("at 80 kPa: %+v, %+v", high, sea)
	}
	for d, x := range course {
		if !(x.Night > 0 && x.Night < x.Water) {
			t.Fatalf("day %d: %g g in the dark of %g", d, x.Night, x.Water)
		}
	}
}
