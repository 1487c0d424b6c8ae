package air

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// Of the demo: the parts agree with one another and with the outlook.
func TestDemoBench(t *testing.T) {
	t.Parallel()
	m, o := demoBench(t, "tier-2-middle.yaml", 60)
	b := m.Bench()
	f, err := o.Under(b, 0)
	if err != nil {
		t.Fatal(err)
	}
	a := Of(b, f, nil, f.AtSurface, 0)
	whole := 0.0
	for i, d := range a.Days {
		whole += (d.Light.Water.Mid*d.Light.Hours + d.Dark.Water.Mid*d.Dark.Hours) / 1000
		want := f.Course[i].Water.Mid * f.Heads
		if got := d.Light.Water.Mid*d.Light.Hours + d.Dark.Water.Mid*d.Dark.Hours; math.Abs(got-want) > 1e-6*want {
			t.Fatalf("day %d: %g g, the outlook has %g", d.Day, got, want)
		}
		for _, l := range []Load{d.Light, d.Dark} {
			if l.Remove.Low > l.Remove.Mid || l.Remove.Mid > l.Remove.High || l.Sensible.Low > l.Sensible.Mid || l.Sensible.Mid > l.Sensible.High {
				t.Fatalf("day %d: a band without its middle: %+v", d.Day, l)
			}
			// Nothing is lost: what runs and what comes through walls leaves as warmth or with water.
			latentAll := moistair.LatentHeat(b.Air.Day.Temperature.Value) * l.Water.Mid / 3600
			if l.Electric > 0 && math.Abs(l.Electric+l.Envelope-l.Sensible.Mid-latentAll) > 1e-6 {
				t.Fatalf("day %d: heat is lost", d.Day)
			}
		}
	}
	if math.Abs(whole-a.WaterCycle.Mid) > 1e-9 {
		t.Errorf("the cycle has %g L, its days %g", a.WaterCycle.Mid, whole)
	}
	if !(a.Size.Low < a.Size.Mid && a.Size.Mid < a.Size.High) || a.Cheapest < 0 {
		t.Errorf("size %+v, cheapest %d", a.Size, a.Cheapest)
	}
	// The machine that was found large enough is large enough.
	c := *b
	c.Room.Drier.Litres = underlamp.Said(quantity.LitrePerDay(a.Size.Mid))
	if again := Of(&c, f, nil, f.AtSurface, 0); !again.Ways[0].Possible {
		t.Errorf("a machine of the size found is said to be too small: %s", again.Ways[0].Why)
	}
	c.Room.Drier.Litres = underlamp.Said(quantity.LitrePerDay(a.Size.Mid / 3))
	if small := Of(&c, f, nil, f.AtSurface, 0); small.Ways[0].Possible {
		t.Error("a third of the machine is said to be enough")
	}
	// Air beyond the room that is as moist dries nothing, and that is said.
	c.Room.Outside = underlamp.Climate{Temperature: underlamp.Said[quantity.Celsius](28), Humidity: underlamp.Said[quantity.Fraction](0.9)}
	wet := Of(&c, f, nil, f.AtSurface, 0)
	if wet.Ways[2].Possible || !strings.Contains(wet.Ways[2].Why, "cannot dry") {
		t.Errorf("moist air beyond the room: %+v", wet.Ways[2])
	}
	for _, fig := range a.Figures() {
		if math.IsNaN(fig.Value) || fig.Working.Formula == "" {
			t.Errorf("figure %q: %g, formula %q", fig.Name, fig.Value, fig.Working.Formula)
		}
	}
}

// Lamps that give no light, and a day without a night: everything is a number or is not said.
func TestEdgesOfTheDay(t *testing.T) {
	t.Parallel()
	m, o := demoBench(t, "tier-2-middle.yaml", 5)
	for name, turn := range map[string]func(*underlamp.Lamp){
		"24 h": func(l *underlamp.Lamp) { l.Hours = underlamp.Said[quantity.Hours](24) },
		"off":  func(l *underlamp.Lamp) { l.Dimming = underlamp.Said[quantity.Fraction](0) },
	} {
		b := *m.Bench()
		b.Lamps = append([]underlamp.Lamp{}, b.Lamps...)
		for i := range b.Lamps {
			turn(&b.Lamps[i])
		}
		f, err := o.Under(&b, 0)
		if err != nil {
			t.Fatal(err)
		}
		if name == "24 h" {
			f.Day = 24
		} else {
			for i := range f.Course {
				f.Course[i].PPFD = math.NaN()
			}
		}
		a := Of(&b, f, nil, math.NaN(), 0)
		for _, x := range a.Figures() {
			if math.IsNaN(x.Value) || math.IsInf(x.Value, 0) {
				t.Errorf("%s: %s is %g", name, x.Name, x.Value)
			}
		}
		if (a.Refused != nil) != (name == "off") || (len(a.Crossings) == 0) != (name == "24 h") {
			t.Errorf("%s: refused %v, %d crossings", name, a.Refused, len(a.Crossings))
		}
		for _, s := range a.Sentences() {
			if strings.Contains(s, "not known") {
				t.Errorf("%s: %s", name, s)
			}
		}
	}
}

// More CO2 costs more, a tighter room less, and nothing is dosed into plain air.
func TestDose(t *testing.T) {
	t.Parallel()
	m, o := demoBench(t, "tier-2-middle.yaml", 20)
	f, err := o.Under(m.Bench(), 0)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		b := *m.Bench()
		leak := rapid.Float64Range(0.05, 5).Draw(t, "leak")
		b.Room.Volume, b.Room.Leak = underlamp.Said[quantity.CubicMetre](12), underlamp.Said(quantity.PerHour(leak))
		b.Air.CO2 = underlamp.Said(quantity.PPM(rapid.Float64Range(600, 1500).Draw(t, "ppm")))
		d := Of(&b, f, nil, f.AtSurface, 0).Dose
		if !d.Enriched || math.Abs(d.Rate-d.Leak-d.Uptake) > 1e-9 || d.Cylinder < 40_000 {
			t.Fatalf("%+v", d)
		}
		b.Room.Leak = underlamp.Said(quantity.PerHour(2 * leak))
		if more := Of(&b, f, nil, f.AtSurface, 0).Dose; math.Abs(more.Leak/d.Leak-2) > 1e-9 {
			t.Fatalf("twice the leak loses %g of it", more.Leak/d.Leak)
		}
		b.Air.CO2 = underlamp.Said[quantity.PPM](430)
		if plain := Of(&b, f, nil, f.AtSurface, 0).Dose; plain.Enriched || plain.Rate != 0 {
			t.Fatalf("%+v", plain)
		}
	})
}

// Moister air: less pull, a higher dew point, nearer to dew. Warm days before cold nights bring
// dew at lights off. At any altitude the same, for vapour pressures do not depend on it.
func TestDewLaws(t *testing.T) {
	t.Parallel()
	m, _ := demoBench(t, "tier-2-middle.yaml", 10)
	refused := errors.New("not asked")
	rapid.Check(t, func(t *rapid.T) {
		b := *m.Bench()
		rh := rapid.Float64Range(0.4, 0.9).Draw(t, "humidity")
		c := rapid.Float64Range(12, 28).Draw(t, "°C")
		b.Air.Night = underlamp.Climate{Temperature: underlamp.Said(quantity.Celsius(c)), Humidity: underlamp.Said(quantity.Fraction(rh))}
		b.Air.Day = b.Air.Night
		dry := Of(&b, nil, refused, 200, 0)
		b.Air.Night.Humidity.Value += 0.08
		moist := Of(&b, nil, refused, 200, 0)
		if moist.Night.VPD.Mid >= dry.Night.VPD.Mid || moist.Night.Dew.Mid <= dry.Night.Dew.Mid || moist.Night.Margin.Mid >= dry.Night.Margin.Mid {
			t.Fatalf("moister nights: %+v then %+v", dry.Night, moist.Night)
		}
		for _, h := range []Half{dry.Day, dry.Night, moist.Night} {
			if !(h.Leaf.Low <= h.Leaf.Mid && h.Leaf.Mid <= h.Leaf.High && h.Margin.Low <= h.Margin.Mid) {
				t.Fatalf("a band without its middle: %+v", h)
			}
		}
		b.Air.Altitude = underlamp.Said[quantity.Metre](2500)
		if high := Of(&b, nil, refused, 200, 0); high.Night.VPD.Mid != moist.Night.VPD.Mid || high.Night.Dew.Mid != moist.Night.Dew.Mid {
			t.Fatal("deficit or dew point depend on the altitude")
		}
	})
	b := *m.Bench()
	b.Air.Day = underlamp.Climate{Temperature: underlamp.Said[quantity.Celsius](26), Humidity: underlamp.Said[quantity.Fraction](0.8)}
	b.Air.Night = underlamp.Climate{Temperature: underlamp.Said[quantity.Celsius](17), Humidity: underlamp.Said[quantity.Fraction](0.8)}
	a := Of(&b, nil, refused, 200, 0)
	if RiskOf(a.Crossings[0].Margin) != Wet || RiskOf(a.Crossings[1].Margin) != Wet {
		t.Errorf("26 °C and 80 %% before 17 °C: %+v", a.Crossings)
	}
	if s := strings.Join(a.Sentences(), " "); !strings.Contains(s, "Dew can be expected") {
		t.Errorf("said: %s", s)
	}
}

// Faster air and air blown down burn less, by the outlook's own draws; what is said to be needed
// keeps the limit when it is asked.
func TestHearts(t *testing.T) {
	t.Parallel()
	m, o := demoBench(t, "tier-1-top.yaml", 24)
	b := m.Bench()
	h, err := HeartsOf(context.Background(), b, o, 24)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range h.Speeds {
		if s.Burn[1] > s.Burn[0]+1e-9 {
			t.Errorf("at %g m/s down burns more than across", s.Speed)
		}
		if i > 0 && (s.Burn[0] > h.Speeds[i-1].Burn[0]+1e-9 || s.Burn[1] > h.Speeds[i-1].Burn[1]+1e-9) {
			t.Errorf("faster air burns more at %g m/s", s.Speed)
		}
	}
	for k, aim := range h.Aims {
		if math.IsNaN(h.Need[k]) || h.Need[k] == 0 {
			continue
		}
		c := *b
		c.Air.Speed, c.Air.Fan = underlamp.Said(quantity.MetrePerSecond(1.3*h.Need[k])), underlamp.Said(aim)
		got, err := o.Chances(context.Background(), []*underlamp.Bench{&c}, 24)
		if err != nil || got[0] > h.Limit+0.03 {
			t.Errorf("%s at 1.3 times the speed needed: %v, %v", aim, got, err)
		}
	}
	found := false
	for i, n := range h.Nights {
		found = found || n.Now
		if i > 0 && (n.Pressure <= h.Nights[i-1].Pressure || n.Margin >= h.Nights[i-1].Margin) {
			t.Errorf("nights of %g: %+v after %+v", n.Humidity, n, h.Nights[i-1])
		}
	}
	if !found {
		t.Error("the night as it is does not stand in the table")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := HeartsOf(ctx, b, o, 24); !errors.Is(err, context.Canceled) {
		t.Errorf("a visitor who left: %v", err)
	}
}

func TestUnderAgreesWithForecast(t *testing.T) {
	t.Parallel()
	m, o := demoBench(t, "tier-2-middle.yaml", 40)
	f, err := o.Forecast(nil)
	if err != nil {
		t.Fatal(err)
	}
	u, err := o.Under(m.Bench(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for d := range f.Course {
		far := func(a, b outlook.Band) bool { // apart by more than the order of sums
			return math.Abs(a.Low-b.Low)+math.Abs(a.Mid-b.Mid)+math.Abs(a.High-b.High) > 1e-9*(1+a.High)
		}
		if far(f.Course[d].Water, u.Course[d].Water) || far(f.Course[d].Night, u.Course[d].Night) || f.Course[d].Night.Mid > f.Course[d].Water.Mid {
			t.Fatalf("day %d: %+v, %+v", d+1, f.Course[d].Water, u.Course[d].Water)
		}
	}
	one, err := o.Chances(context.Background(), []*underlamp.Bench{m.Bench()}, 0)
	if err != nil || one[0] != f.Chance {
		t.Errorf("chance %v, the outlook has %v (%v)", one, f.Chance, err)
	}
}

func TestBlow(t *testing.T) {
	t.Parallel()
	m, _ := demoBench(t, "tier-2-middle.yaml", 5)
	b := m.Bench()
	for _, f := range []Blades{{}, {Diameter: 0.1}, {Diameter: 0.1, Distance: 0.3}, {Diameter: 9, Flow: 90, Distance: 0.3}, {Diameter: 0.05, Flow: 1e6, Distance: 0.3}, {Diameter: quantity.Metre(math.NaN()), Flow: 90, Distance: 0.3}} {
		if w, err := Blow(b, f); err == nil {
			t.Errorf("%+v was taken: %+v", f, w)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		f := Blades{Diameter: quantity.Metre(rapid.Float64Range(0.05, 0.5).Draw(t, "d")), Flow: rapid.Float64Range(5, 300).Draw(t, "flow"), Distance: quantity.Metre(rapid.Float64Range(0.1, 3).Draw(t, "x")), Aim: rapid.SampledFrom([]underlamp.FanAim{underlamp.Across, underlamp.Down}).Draw(t, "aim"), Count: rapid.IntRange(0, 5).Draw(t, "n")}
		w, err := Blow(b, f)
		if err != nil {
			t.Skip()
		}
		if w.Least > w.Mean+1e-9 || w.Most < w.Mean-1e-9 || w.Most > w.Jet.Outlet+drift || w.Low > w.Mean || w.High < w.Mean || len(w.Plants) != len(b.Plants) {
			t.Fatalf("%+v", w)
		}
		for _, s := range BlownSentences(b, w, nil) {
			if strings.Contains(s, "NaN") || strings.Contains(s, "∞") {
				t.Fatal(s)
			}
		}
	})
}

// Every knob turns what it says, and comes back from the unit that is shown.
func TestKnobs(t *testing.T) {
	t.Parallel()
	m, _ := demoBench(t, "tier-2-middle.yaml", 5)
	b := m.Bench()
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Knobs()).Draw(t, "knob")
		v := rapid.Float64Range(k.Low, k.High).Draw(t, "value")
		c, err := k.Turn(b, v)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(k.Of(c)-v) > 1e-8 {
			t.Fatalf("%s at %g is %g", k.Name, v, k.Of(c))
		}
		for _, u := range []quantity.System{quantity.Metric, quantity.US} {
			s, _ := k.Shown(v, u)
			if back := k.Kept(s, u); math.Abs(back-v) > 1e-9*max(1, math.Abs(v)) {
				t.Fatalf("%s: %g came back as %g", k.Name, v, back)
			}
		}
		if _, err := k.Turn(b, k.High*1.1+1); err == nil {
			t.Fatalf("%s beyond its span was taken", k.Name)
		}
		if _, err := k.Turn(b, math.NaN()); err == nil {
			t.Fatalf("%s took NaN", k.Name)
		}
	})
}

func TestJudge(t *testing.T) {
	t.Parallel()
	m, _ := demoBench(t, "tier-2-middle.yaml", 5)
	if Judge(m.Bench(), nil) != nil {
		t.Error("no hours gave a record")
	}
	nan := math.NaN()
	at := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	hours := []Hour{
		{At: at, AirC: 22, RH: 0.6, LeafC: nan, PPFD: 250},
		{At: at.Add(time.Hour), AirC: 18, RH: 1, LeafC: nan, PPFD: 0},
		{At: at.Add(2 * time.Hour), AirC: 18, RH: 0.9, LeafC: 16.2, PPFD: 0}, // dew point 16.3 °C
		{At: at.Add(3 * time.Hour), AirC: 18, RH: 0.9, LeafC: 17, PPFD: nan},
	}
	r := Judge(m.Bench(), hours)
	if r.Wet != 2 || r.Near != 1 || !r.Leaves || !r.Light {
		t.Errorf("%+v", r)
	}
	if s := strings.Join(RecordSentences(m.Bench(), r, time.UTC), " "); !strings.Contains(s, "In 4 hours read") || !strings.Contains(s, "2 hours with leaves at or under") {
		t.Error(s)
	}
}

func TestPsychrometry(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		m    moistair.Measure
		text string
	}{{moistair.RelativeHumidity, "65 %"}, {moistair.DewPointC, "59 °F"}, {moistair.MixingRatio, "11 g/kg"}, {moistair.VapourDensity, "13 g/m³"}, {moistair.EnthalpyKJ, "51 kJ/kg"}, {moistair.Deficiency, "9 hPa"}} {
		k, err := ParseKnown(c.m, c.text)
		if err != nil {
			t.Fatal(err)
		}
		figs, err := Psychrometry(24, 500, k, 22, quantity.Metric)
		if err != nil {
			t.Fatalf("%s: %v", c.text, err)
		}
		for _, f := range figs {
			if f.Working.Formula == "" || len(f.Working.Sources) == 0 {
				t.Errorf("%s: %q has no working", c.text, f.Name)
			}
		}
	}
	if _, err := Psychrometry(24, 0, Known{moistair.DewPointC, 30, "30 °C"}, math.NaN(), quantity.Metric); err == nil {
		t.Error("a dew point above the air was taken")
	}
}

// What comes from outside is read whole or refused, and never has an impossible speed.
func FuzzParseReadings(f *testing.F) {
	for _, s := range []string{"0.2, 0.35, 0.1 m/s", "0,2; 0,35\n0,1 m/s", "above: 60 ft/min, within: 20 ft/min", "", "within:", "1e400 m/s", "0.2 m/s, -1 m/s", "\xff, 3", strings.Repeat("1,", 5000)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		out, err := ParseReadings(s)
		if (err == nil) != (len(out) > 0) || len(out) > mostReadings {
			t.Fatalf("%q: %d readings, %v", s, len(out), err)
		}
		for _, r := range out {
			if !(r.Speed >= 0 && r.Speed <= fastestReading) || !(r.Depth > 0 && r.Depth <= 1) {
				t.Fatalf("%q: %+v", s, r)
			}
		}
	})
}

func TestParseReadings(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][]float64{
		"0.2, 0.35, 0.1 m/s":                   {0.2, 0.35, 0.1},
		"0,2; 0,35\n0,1 m/s":                   {0.2, 0.35, 0.1},
		"60 ft/min":                            {0.3048},
		"above: 0.4 m/s, within: 0.1, 0.2 m/s": {0.4, 0.1, 0.2},
	} {
		got, err := ParseReadings(text)
		if err != nil || len(got) != len(want) {
			t.Errorf("%q: %v, %v", text, got, err)
			continue
		}
		for i, r := range got {
			if math.Abs(r.Speed-want[i]) > 1e-9 {
				t.Errorf("%q: %v", text, got)
			}
		}
	}
	for text, want := range map[string]string{"0.2, fast, 0.1 m/s": "reading 2", "0.2": "unit is missing", "beside: 0.2 m/s": "no place", "40 m/s": "0 to 20 m/s"} {
		if _, err := ParseReadings(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
