package aim_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"underlamp/app/aim"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
	"underlamp/working"
)

func read(t testing.TB, text string) *light.Model {
	t.Helper()
	b, problems, err := benchfile.ReadWith(strings.NewReader(text), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatalf("%v %v", err, problems)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func demoModel(t testing.TB, name string) *light.Model {
	t.Helper()
	return read(t, string(bytes.TrimSpace(demo.File(name))))
}

func reach(t testing.TB, m *light.Model, a aim.Ask) *aim.Result {
	t.Helper()
	r, err := aim.Reach(context.Background(), m, a, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}

// oneLamp is a small Lambertian lamp over one plant in an open space, so that the
// light can be worked out by hand.
const oneLamp = `
underlamp: 1
name: %s
space: {width: 2 m, depth: 2 m, height: 1.5 m}
walls: {left: open, right: open, front: open, back: open, below: open, above: open}
lamps:
  - {name: A, at: [1 m, 1 m], height: %g cm, opening: {diameter: 2 cm}, flux: %g µmol/s, watts: 60 W, beam: 120°, dimming: 100 %%, hours: %g h}
plants: {at: [[1 m, 1 m]]}
electricity: 0.30 EUR/kWh
limits: {lamp height: 40 cm to 90 cm, dimming: 10 %% to 100 %%, hours: 8 h to 18 h}
`

// crown is the mean light over a crown of radius R (0.12 m for a single plant)
// under a Lambertian point at height h: the integral of Φ h²/(π (h² + r²)²) over
// the disc, divided by its area, is Φ/(π (h² + R²)).
func crown(flux, h float64) float64 { return flux / (math.Pi * (h*h + 0.12*0.12)) }

// The light of a crown is a rule of seven points (below 0.1 % off here) and the
// opening of the lamp is met to 1 %.
const lit = 0.012

func TestOneLampByHand(t *testing.T) {
	t.Parallel()
	m := read(t, fmt.Sprintf(oneLamp, "one", 60.0, 160.0, 16.0))
	r := reach(t, m, aim.Ask{PPFD: 150, Stepless: true})
	// The lower, the less power: 40 cm, dimmed to 150/E.
	near(t, "height", float64(r.After.Height), 0.40, 1e-9)
	want := 150 / crown(160, 0.40)
	near(t, "dimming", float64(r.After.Dim[0]), want, lit*want)
	near(t, "power", float64(r.After.Power), 60*want, lit*60*want)
	near(t, "electricity of a day", float64(r.After.Day), 0.060*want*16, lit*want)
	near(t, "money of a day", r.After.Money, 0.30*float64(r.After.Day), 1e-9)
	near(t, "before", float64(r.Before.Mean), crown(160, 0.60), lit*crown(160, 0.60))
	near(t, "chance of being under", float64(r.After.Under), 0.5, 1e-6)
	// 90 % sure: the level is raised by exp(1.2816 sd), and the chance falls to 10 %.
	sure := reach(t, m, aim.Ask{PPFD: 150, Stepless: true, Sure: 0.9})
	near(t, "chance of being under, surely", float64(sure.After.Under), 0.10, 1e-6)
	near(t, "margin", float64(sure.After.Dim[0]/r.After.Dim[0]), math.Exp(1.281552*m.LevelSD()), 1e-5)
	// With the lamp left where it hangs.
	kept := reach(t, m, aim.Ask{PPFD: 120, KeepHeight: true, Stepless: true})
	near(t, "dimming at 60 cm", float64(kept.After.Dim[0]), 120/crown(160, 0.60), lit)
	// A canopy of 20 cm with 30 cm of clearance: 50 cm, and 30 cm above the canopy.
	up := reach(t, m, aim.Ask{PPFD: 150, Stepless: true, Canopy: 0.2, Clearance: 0.3})
	near(t, "height over a canopy", float64(up.After.Height), 0.50, 1e-9)
	near(t, "dimming over a canopy", float64(up.After.Dim[0]), 150/crown(160, 0.30), lit)
}

func TestDailyLightAndTariff(t *testing.T) {
	t.Parallel()
	m := read(t, fmt.Sprintf(oneLamp, "one", 60.0, 160.0, 16.0))
	tariff, err := energycost.ParseTariff("07:00-23:00 0.34, 23:00-07:00 0.19")
	if err != nil {
		t.Fatal(err)
	}
	// 6 mol at 40 cm need 6/0.0036/E hours at full power: E = 292, so 5.7 h; the 8 h of
	// the night hold it dimmed, and every longer day costs more.
	r := reach(t, m, aim.Ask{DLI: 6, Tariff: &tariff, Stepless: true, Dark: 6})
	near(t, "hours", float64(r.After.Hours), 8, 1e-9)
	near(t, "DLI", float64(r.After.DLI), 6, 1e-6)
	if len(r.After.Light) != 1 || r.After.Light[0].String() != "23:00 to 07:00" {
		t.Errorf("light at %v", r.After.Light)
	}
	near(t, "money", r.After.Money, float64(r.After.Day)*0.19, 1e-9)
	// 16 h of now, priced at their best: 8 h at either price.
	near(t, "money before", r.Before.Money, 0.060*8*(0.34+0.19), 1e-9)
}

// The search against trying every height and every step of both dimmers.
func TestReachAgainstAllSettings(t *testing.T) {
	t.Parallel()
	m := demoModel(t, "tier-2-middle.yaml")
	for _, a := range []aim.Ask{{PPFD: 150}, {PPFD: 220, Mean: true}, {PPFD: 150, OneDimmer: true}, {PPFD: 120, AtMost: 320}} {
		r := reach(t, m, a)
		best := math.Inf(1)
		for h := 20; h <= 38; h++ {
			lit, err := m.At(quantity.Metre(h) / 100)
			if err != nil {
				t.Fatal(err)
			}
			resp := lit.Responses(0)
			n := len(resp) / 2
			for i := 6; i <= 20; i++ {
				for j := 6; j <= 20; j++ {
					x, y := float64(i)/20, float64(j)/20
					low, high, mean := math.Inf(1), 0.0, 0.0
					for p := range n {
						e := x*resp[p] + y*resp[n+p]
						low, high = min(low, e), max(high, e)
						mean += e / float64(n)
					}
					if a.Mean {
						low = mean
					}
					if low < float64(a.PPFD)*(1-1e-6) || a.AtMost > 0 && high > float64(a.AtMost)*(1+1e-6) || a.OneDimmer && i != j {
						continue
					}
					best = min(best, 65*(x+y))
				}
			}
		}
		if !r.Found {
			if !math.IsInf(best, 1) {
				t.Errorf("%+v: not found, yet %g W does it", a, best)
			}
			continue
		}
		near(t, fmt.Sprintf("power for %+v", a), float64(r.After.Power), best, 1e-3)
	}
}

// What is proposed is even, or has many plants within, at least as well as the
// bench is now; runners-up are apart; the curve falls; every source is known.
func TestGoals(t *testing.T) {
	t.Parallel()
	m := demoModel(t, "tier-1-top.yaml")
	for _, a := range []aim.Ask{{PPFD: 230, Goal: aim.MostEven}, {PPFD: 230, Goal: aim.MostWithin, Tolerance: 0.15}, {DLI: 9, Share: 0.9}} {
		r := reach(t, m, a)
		if !r.Found || len(r.Limits) == 0 {
			t.Errorf("%v: %v %v", a.Goal, r.Found, r.Limits)
		}
		switch a.Goal {
		case aim.MostEven:
			if r.After.Uneven >= r.Before.Uneven || float64(r.After.Mean) < 230*(1-1e-6) {
				t.Errorf("uneven %.3f after, %.3f before; mean %.1f", r.After.Uneven, r.Before.Uneven, float64(r.After.Mean))
			}
		case aim.MostWithin:
			if r.After.Within < r.Before.Within {
				t.Errorf("%d plants within after, %d before", r.After.Within, r.Before.Within)
			}
		default:
			// The darkest plant may miss; the chance is that of the 17th.
			if r.After.Within < 17 || r.After.Under > 0.5+1e-6 {
				t.Errorf("%d plants have it, want 17 of 18; chance of fewer %.2f", r.After.Within, float64(r.After.Under))
			}
		}
		for i := 1; i < len(r.Curve); i++ {
			if r.Curve[i].Power < r.Curve[i-1].Power || r.Curve[i].Uneven > r.Curve[i-1].Uneven {
				t.Errorf("the curve turns at point %d", i)
			}
		}
		for _, f := range append(r.BeforeFigures, r.AfterFigures...) {
			if f.Working.Formula == "" {
				t.Errorf("%s has no formula", f.Name)
			}
			for _, key := range f.Working.Sources {
				working.Cite(key)
			}
		}
	}
}

// Out of reach: which plants and how far, in words; the nearest setting is shown.
func TestOutOfReach(t *testing.T) {
	t.Parallel()
	r := reach(t, demoModel(t, "tier-1-top.yaml"), aim.Ask{PPFD: 300})
	darkest := 0
	for i, v := range r.After.PPFD {
		if v < r.After.PPFD[darkest] {
			darkest = i
		}
	}
	if r.Found || !strings.Contains(strings.Join(r.Limits, " "), r.Bench.Plants[darkest].Name+" (") || r.After.Lowest <= r.Before.Lowest {
		t.Errorf("%v %v", r.Found, r.Limits)
	}
}

// Other numbers of lamps: two panels in a row light more evenly than one.
func TestLayouts(t *testing.T) {
	t.Parallel()
	r := reach(t, demoModel(t, "tier-2-middle.yaml"), aim.Ask{PPFD: 200, Goal: aim.MostEven, LampsFrom: 1, LampsTo: 2})
	if !r.Found || len(r.After.Dim) != 2 || r.After.Layout.Name != "1 row of 2" {
		t.Errorf("%v", r.After.Layout.Name)
	}
}

func TestWrongAsks(t *testing.T) {
	t.Parallel()
	m := read(t, fmt.Sprintf(oneLamp, "one", 60.0, 160.0, 16.0))
	nan := math.NaN()
	for name, a := range map[string]aim.Ask{
		"nothing": {}, "both": {PPFD: 100, DLI: 5}, "NaN": {PPFD: quantity.PPFD(nan)}, "huge": {PPFD: 1e9}, "share": {PPFD: 100, Share: 2},
		"mean and share": {PPFD: 100, Share: 0.5, Mean: true}, "hours": {PPFD: 100, Hours: 30}, "canopy": {PPFD: 100, Canopy: 2},
		"clearance": {PPFD: 100, Canopy: 0.5, Clearance: 0.5}, "sure": {PPFD: 100, Sure: 0.2}, "step": {PPFD: 100, Step: 0.9}, "dark": {PPFD: 100, Dark: 12},
		"lamps": {PPFD: 100, LampsFrom: 3, LampsTo: 2}, "too many lamps": {PPFD: 100, LampsFrom: 1, LampsTo: 1000}, "clearance now": {PPFD: 100, KeepHeight: true, Canopy: 0.5, Clearance: 0.3},
	} {
		if _, err := aim.Reach(context.Background(), m, a, nil); err == nil {
			t.Errorf("%s was taken", name)
		} else if _, ok := errors.AsType[*aim.AskError](err); !ok {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := aim.Reach(ctx, m, aim.Ask{PPFD: 100}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// By hand: E = Φ/(π (h² + R²)) on each of two benches.
func TestMatchByHand(t *testing.T) {
	t.Parallel()
	a := read(t, fmt.Sprintf(oneLamp, "first", 50.0, 150.0, 16.0))
	b := read(t, fmt.Sprintf(oneLamp, "second", 70.0, 200.0, 12.0))
	ask := aim.MatchAsk{A: aim.Side{Model: a}, B: aim.Side{Model: b}, Stepless: true}
	r, err := aim.Match(context.Background(), ask)
	if err != nil || !r.Found {
		t.Fatal(r, err)
	}
	// The second is the dimmer: 126 against 181 µmol, and stays as it is.
	e1, e2 := crown(150, 0.5), crown(200, 0.7)
	near(t, "first", float64(r.After[0].Dim[0]), e2/e1, lit)
	near(t, "second", float64(r.After[1].Dim[0]), 1, 1e-6)
	near(t, "ratio", r.Ratio.Value, 1, 1e-6)
	// Labels only, independent: 15 % of flux each, and 20 % of the exponent m = 1, which
	// enters as m + 1 and so counts half.
	near(t, "doubt", r.RatioS, math.Sqrt(2*(0.15*0.15+0.1*0.1)), 0.003)
	// By DLI the 16 h of the first count.
	ask.DLI = true
	if r, err = aim.Match(context.Background(), ask); err != nil {
		t.Fatal(err)
	}
	near(t, "first by DLI", float64(r.After[0].Dim[0]), e2*12/(e1*16), lit)
	// The highest level with heights free: both at 40 cm; the first at full power has
	// 292·150/160 … so the second is dimmed to Φ₁/Φ₂.
	ask.DLI, ask.Highest, ask.Heights = false, true, true
	if r, err = aim.Match(context.Background(), ask); err != nil {
		t.Fatal(err)
	}
	near(t, "level", r.After[0].Level.Value, crown(150, 0.40), lit*crown(150, 0.40))
	near(t, "first at its highest", float64(r.After[0].Dim[0]), 1, 1e-6)
	h := float64(r.After[1].Height)
	near(t, "second at the highest", float64(r.After[1].Dim[0])*crown(200, h), crown(150, 0.40), 2*lit*crown(150, 0.40))
	for name, bad := range map[string]aim.MatchAsk{
		"one bench without groups": {A: aim.Side{Model: a}, B: aim.Side{Model: a}},
		"unknown plant":            {A: aim.Side{Model: a, Plants: []string{"none"}}, B: aim.Side{Model: b}},
		"level and highest":        {A: aim.Side{Model: a}, B: aim.Side{Model: b}, Level: 100, Highest: true},
	} {
		if _, err := aim.Match(context.Background(), bad); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// One meter for both benches makes the comparison surer than two meters.
func TestMatchKnowsTheMeter(t *testing.T) {
	t.Parallel()
	ask := aim.MatchAsk{A: aim.Side{Model: demoModel(t, "tier-1-top.yaml")}, B: aim.Side{Model: demoModel(t, "tier-2-middle.yaml")}}
	one, err := aim.Match(context.Background(), ask)
	if err != nil {
		t.Fatal(err)
	}
	ask.TwoMeters = true
	two, err := aim.Match(context.Background(), ask)
	if err != nil {
		t.Fatal(err)
	}
	// The two scale errors of 5 % are what is between them, and the prior of the lamps
	// knows a part of them.
	gone := math.Sqrt(two.RatioS*two.RatioS - one.RatioS*one.RatioS)
	if gone < 0.04 || gone > 0.05*math.Sqrt2 {
		t.Errorf("sd of the ratio %.3f with one meter, %.3f with two: %.3f between them", one.RatioS, two.RatioS, gone)
	}
	if !strings.Contains(strings.Join(one.Notes, " "), "assumed") || one.Apart >= two.Apart {
		t.Errorf("%v, %.2f and %.2f", one.Notes, float64(one.Apart), float64(two.Apart))
	}
}

// In an open space the light depends on the distance alone, so lamps that follow
// the canopy hold it: at the height of now plus that of the canopy.
func TestRaiseByHand(t *testing.T) {
	t.Parallel()
	m := read(t, fmt.Sprintf(oneLamp, "one", 50.0, 160.0, 16.0)+"crop: {species: lettuce, type: butterhead, days: 30, transplanted: 2026-10-05}\n")
	r, err := aim.Raise(context.Background(), m, aim.RaiseAsk{Tolerance: 0.08, Step: 0.01})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "target", float64(r.Target), crown(160, 0.5), lit*crown(160, 0.5))
	if r.Out != 0 || len(r.Moves) < 2 {
		t.Errorf("%d days out, moves %v", r.Out, r.Moves)
	}
	last := quantity.Metre(0)
	for _, d := range r.Days {
		want := crown(160, float64(d.Lamps-d.Canopy))
		near(t, fmt.Sprintf("PPFD on day %d", d.Day), float64(d.PPFD), want, lit*want)
		if d.Lamps < last || d.Lamps < d.Canopy+0.05 {
			t.Errorf("day %d: lamps at %.2f over %.2f, before %.2f", d.Day, float64(d.Lamps), float64(d.Canopy), float64(last))
		}
		// Distance from the exact height: E falls as 1/d², so 8 % of light are 4 % of 50 cm.
		if off := math.Abs(float64(d.Lamps-d.Canopy) - 0.5); off > 0.5*0.045 {
			t.Errorf("day %d: %.3f m off", d.Day, off)
		}
		last = d.Lamps
	}
	if r.Days[0].Date != "2026-10-06" || r.Moves[0].Date == "" {
		t.Errorf("dates %v %v", r.Days[0].Date, r.Moves)
	}
	if _, err := aim.Raise(context.Background(), m, aim.RaiseAsk{Clearance: 0.9}); err == nil {
		t.Error("a clearance that does not fit was taken")
	}
}

// The calendar and the plants are found in turn, so at the end neither may move the
// other: the plants grown in the light of the calendar are those of its table. And
// light that stays as it is grows the plants of the plain outlook.
func TestRaiseIsAFixedPoint(t *testing.T) {
	t.Parallel()
	for _, tier := range []struct {
		name string
		ppfd quantity.PPFD
	}{{"tier-2-middle.yaml", 0}, {"tier-2-middle.yaml", 180}, {"tier-1-top.yaml", 200}} {
		m := demoModel(t, tier.name)
		r, err := aim.Raise(context.Background(), m, aim.RaiseAsk{PPFD: tier.ppfd})
		if err != nil {
			t.Fatal(err)
		}
		o, err := outlook.New(m, 200) // the draws that Raise takes
		if err != nil {
			t.Fatal(err)
		}
		var light []float64
		for _, d := range r.Days {
			light = append(light, float64(d.PPFD))
		}
		for i, h := range o.CanopyUnder(light) {
			// 3 mm is where the search stops.
			if off := math.Abs(h.Mid - float64(r.Days[i].Canopy)); off > 0.003+1e-9+float64(r.Open) {
				t.Errorf("%s for %g, day %d: %.1f cm in the light of the calendar, %.1f in its table", tier.name, float64(tier.ppfd), i+1, 100*h.Mid, 100*float64(r.Days[i].Canopy))
				break
			}
		}
	}
}

func ExampleReach() {
	b, _, _ := benchfile.ReadWith(bytes.NewReader(demo.File("tier-2-middle.yaml")), benchfolder.Files(demo.Folder()))
	m, err := light.NewModel(b)
	if err != nil {
		fmt.Println(err)
		return
	}
	// 150 µmol/m²/s for every plant: how high, how far dimmed, and what does it save?
	r, err := aim.Reach(context.Background(), m, aim.Ask{PPFD: 150}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("found:", r.Found, "saves electricity:", r.After.Day < r.Before.Day, "plants without:", len(r.After.PPFD)-r.After.Within)
	// Output: found: true saves electricity: true plants without: 0
}

func BenchmarkReach(b *testing.B) {
	m := demoModel(b, "tier-1-top.yaml")
	for name, a := range map[string]aim.Ask{"PPFD": {PPFD: 180}, "DLI and hours": {DLI: 12}, "most even": {PPFD: 230, Goal: aim.MostEven}, "most within": {PPFD: 230, Goal: aim.MostWithin}, "share": {PPFD: 200, Share: 0.9}} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				reach(b, m, a)
			}
		})
	}
}

func BenchmarkRaise(b *testing.B) {
	m := demoModel(b, "tier-1-top.yaml")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := aim.Raise(context.Background(), m, aim.RaiseAsk{}); err != nil {
			b.Fatal(err)
		}
	}
}
