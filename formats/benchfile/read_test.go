package benchfile_test

import (
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/internal/marked"
	"underlamp/science/quantity"
)

func read(t *testing.T, text string) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.Read(strings.NewReader(text))
	if err != nil || b == nil {
		t.Fatalf("%v\n%s", err, problems.Render("bench.yaml", []byte(text), false))
	}
	check(t, b)
	return b
}

// check holds a bench against the ranges of docs/formats/bench.md.
func check(t *testing.T, b *underlamp.Bench) {
	t.Helper()
	in := func(what string, x, low, high float64) {
		t.Helper()
		if !(x >= low && x <= high) {
			t.Errorf("%s = %v, outside %v to %v", what, x, low, high)
		}
	}
	w, d, h := float64(b.Space.Width), float64(b.Space.Depth), float64(b.Space.Height)
	in("width", w, 0.05, 50)
	in("depth", d, 0.05, 50)
	in("height", h, 0.05, 10)
	for _, wall := range b.Space.Walls {
		rho := float64(wall.Reflectance.Value)
		in("reflectance", rho, 0, 1)
		if !wall.Open {
			in("reflectance in its class", rho, float64(wall.Low), float64(wall.High))
		}
	}
	in("lamps", float64(len(b.Lamps)), 1, 200)
	names := map[string]bool{}
	for _, l := range b.Lamps {
		in("lamp x", float64(l.X), 0, w)
		in("lamp y", float64(l.Y), 0, d)
		in("lamp height", float64(l.Height), math.SmallestNonzeroFloat64, h)
		in("flux", float64(l.Flux.Value), 1e-3, 1.1e5)
		in("watts", float64(l.Power.Value), 1e-3, 4e5)
		in("efficacy", float64(l.Rated.Value), 1e-6, 5.5+1e-6)
		if got := float64(l.Power.Value) * float64(l.Rated.Value); math.Abs(got/float64(l.Flux.Value)-1) > 0.0301 {
			t.Errorf("%v W × %v µmol/J is not %v µmol/s", l.Power.Value, l.Rated.Value, l.Flux.Value)
		}
		in("beam", float64(l.Beam.Value), 5, 170)
		in("opening width", float64(l.Opening.Width.Value), 0.001, 10)
		in("opening depth", float64(l.Opening.Depth.Value), 0.001, 10)
		in("dimming", float64(l.Dimming.Value), 0, 1)
		in("hours", float64(l.Hours.Value), 1.0/60, 24)
		if names[l.Name] || l.Name == "" || l.Kind == "" {
			t.Errorf("lamp name %q, kind %q", l.Name, l.Kind)
		}
		names[l.Name] = true
	}
	in("plants", float64(len(b.Plants)), 1, 2000)
	for _, p := range b.Plants {
		in("plant x", float64(p.X), 0, w)
		in("plant y", float64(p.Y), 0, d)
	}
	for _, m := range b.Readings {
		in("reading x", float64(m.X), 0, w)
		in("reading y", float64(m.Y), 0, d)
		in("reading height", float64(m.Height), 0, h)
		in("ppfd", float64(m.PPFD), 0, 5000)
		in("reading dimming", float64(m.Dimming.Value), 0, 1)
		for _, name := range m.Lamps {
			if !names[name] {
				t.Errorf("a reading under lamp %q", name)
			}
		}
	}
	in("days", float64(b.Crop.Days.Value), 7, 120)
	in("start mass", float64(b.Crop.StartMass.Value), 0.01, 50)
	in("saleable", float64(b.Crop.Saleable.Value), float64(b.Crop.StartMass.Value), 2000)
	for _, c := range []underlamp.Climate{b.Air.Day, b.Air.Night} {
		in("temperature", float64(c.Temperature.Value), -5, 50)
		in("humidity", float64(c.Humidity.Value), 0.01, 1)
	}
	in("co2", float64(b.Air.CO2.Value), 150, 5000)
	in("speed", float64(b.Air.Speed.Value), 0.01, 5)
	in("altitude", float64(b.Air.Altitude.Value), -430, 5000)
	in("volume", float64(b.Room.Volume.Value), 0.02, 1e6)
	in("leak", float64(b.Room.Leak.Value), 0, 200)
	in("heat loss", float64(b.Room.HeatLoss.Value), 0, 1e5)
	in("other power", float64(b.Room.Others.Value), 0, 1e6)
	in("temperature outside", float64(b.Room.Outside.Temperature.Value), -40, 50)
	in("humidity outside", float64(b.Room.Outside.Humidity.Value), 0.01, 1)
	in("CO2 outside", float64(b.Room.OutsideCO2.Value), 150, 5000)
	in("dehumidifier", float64(b.Room.Drier.Litres.Value), 0, 1e5)
	in("its efficiency", float64(b.Room.Drier.PerKWh.Value), 0.1, 20)
	in("its label", float64(b.Room.Drier.RatedC.Value), 5, 40)
	in("cooling", b.Room.Cooling.Value, 0.2, 20)
	in("price of CO2", b.Room.CO2Price.Value, 0, 1e4)
	in("calcium", float64(b.Feed.Calcium.Value), 1, 1000)
	for name, ion := range map[string]float64{"ammonium": float64(b.Feed.Ammonium.Value), "potassium": float64(b.Feed.Potassium.Value), "magnesium": float64(b.Feed.Magnesium.Value)} {
		in(name, ion, 0, 2000)
	}
	in("ec", float64(b.Feed.EC.Value), 0.1, 10)
	in("root temperature", float64(b.Feed.RootTemp.Value), 1, 40)
	in("price", b.Price.Value.PerKWh, 0, 1e4)
	in("burn", float64(b.Limits.Burn.Value), 0.005, 1)
	in("lowest lamps", float64(b.Limits.MinHeight.Value), math.SmallestNonzeroFloat64, float64(b.Limits.MaxHeight.Value))
	in("highest lamps", float64(b.Limits.MaxHeight.Value), 0, h+1e-9)
	in("least dimming", float64(b.Limits.MinDim.Value), 0.01, float64(b.Limits.MaxDim.Value))
	in("most dimming", float64(b.Limits.MaxDim.Value), 0.01, 1)
	in("least hours", float64(b.Limits.MinHours.Value), 0.5, float64(b.Limits.MaxHours.Value))
	in("most hours", float64(b.Limits.MaxHours.Value), 0.5, 24)
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(1, math.Abs(b)) }

// The example of the documentation, read field by field against what a person
// reads in it.
func TestDocumentedExample(t *testing.T) {
	text := marked.Example(t, "../../docs/formats/bench.md")
	b, problems, err := benchfile.Read(strings.NewReader(text))
	if err != nil || len(problems) > 0 {
		t.Fatalf("%v\n%s", err, problems.Render("bench.md", []byte(text), false))
	}
	check(t, b)
	a := b.Lamps[0]
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"width", float64(b.Space.Width), 1.2},
		{"below", float64(b.Space.Walls[underlamp.Below].Reflectance.Value), 0.3},
		{"left", float64(b.Space.Walls[underlamp.Left].Reflectance.Value), 0.8},
		{"lamp x", float64(a.X), 0.3},
		{"lamp height", float64(a.Height), 0.34},
		{"opening", float64(a.Opening.Width.Value), 0.54},
		{"flux", float64(a.Flux.Value), 110},
		{"watts", float64(a.Power.Value), 42.3},
		{"plants", float64(len(b.Plants)), 18},
		{"first plant x", float64(b.Plants[0].X), 0.1},
		{"second plant x", float64(b.Plants[1].X), 0.3}, // (120 − 2·10)/5 = 20 cm apart
		{"last plant y", float64(b.Plants[17].Y), 0.5},
		{"days", float64(b.Crop.Days.Value), 35},
		{"night humidity", float64(b.Air.Night.Humidity.Value), 0.75},
		{"calcium", float64(b.Feed.Calcium.Value), 90},
		{"price", b.Price.Value.PerKWh, 0.31},
		{"lowest", float64(b.Limits.MinHeight.Value), 0.20},
		{"least dimming", float64(b.Limits.MinDim.Value), 0.30},
		{"most hours", float64(b.Limits.MaxHours.Value), 20},
		{"ppfd", float64(b.Readings[0].PPFD), 212},
	} {
		if !near(c.got, c.want) {
			t.Errorf("%s = %v, want %v", c.what, c.got, c.want)
		}
	}
	if a.Power.Origin != underlamp.Measured || a.Power.Note != "plug meter" || a.Flux.Origin != underlamp.Stated {
		t.Errorf("watts %+v, flux %+v", a.Power, a.Flux)
	}
	if b.Crop.Cultivar != "Ravenna Pale" || b.Crop.Transplanted != "2026-10-01" || b.Readings[0].When != "2026-10-02" || b.Readings[0].Lamps[0] != "A" {
		t.Errorf("%+v %+v", b.Crop, b.Readings[0])
	}
	// The line of the reading is where a person finds it.
	if line := strings.Split(text, "\n")[b.Readings[0].Line-1]; !strings.Contains(line, "name: R1") {
		t.Errorf("reading in line %q", line)
	}
}

func TestOutput(t *testing.T) {
	for _, c := range []struct {
		lines                    string
		flux, watts, efficacy    float64
		oFlux, oWatts, oEfficacy underlamp.Origin
	}{
		{"flux: 110 µmol/s\n    watts: 42 W", 110, 42, 110.0 / 42, underlamp.Stated, underlamp.Stated, underlamp.Computed},
		{"flux: 110 µmol/s\n    watts: 42 W\n    efficacy: 2.6 µmol/J", 110, 42, 2.6, underlamp.Stated, underlamp.Stated, underlamp.Stated},
		{"flux: 110 µmol/s\n    watts: 42 W\n    efficacy: 2.5 µmol/J", 110, 42, 110.0 / 42, underlamp.Stated, underlamp.Stated, underlamp.Computed},
		{"flux: 104 µmol/s\n    efficacy: 2.6 µmol/J", 104, 40, 2.6, underlamp.Stated, underlamp.Computed, underlamp.Stated},
		{"watts: 40 W\n    efficacy: {value: 2.6 µmol/J, from: label}", 104, 40, 2.6, underlamp.Computed, underlamp.Stated, underlamp.Label},
		{"watts: 40 W", 92, 40, 2.3, underlamp.Default, underlamp.Stated, underlamp.Default},
		{"flux: 92 µmol/s", 92, 40, 2.3, underlamp.Stated, underlamp.Default, underlamp.Default},
	} {
		l := read(t, strings.Replace(bench, "flux: 110 µmol/s\n    watts: 42 W", c.lines, 1)).Lamps[0]
		if !near(float64(l.Flux.Value), c.flux) || !near(float64(l.Power.Value), c.watts) || !near(float64(l.Rated.Value), c.efficacy) {
			t.Errorf("%q: %v µmol/s, %v W, %v µmol/J", c.lines, l.Flux.Value, l.Power.Value, l.Rated.Value)
		}
		if l.Flux.Origin != c.oFlux || l.Power.Origin != c.oWatts || l.Rated.Origin != c.oEfficacy {
			t.Errorf("%q: origins %v, %v, %v", c.lines, l.Flux.Origin, l.Power.Origin, l.Rated.Origin)
		}
	}
}

// Everything that was not written is a default that gives its reason.
func TestDefaults(t *testing.T) {
	b := read(t, bench)
	for what, isDefault := range map[string]bool{
		"beam": b.Lamps[0].Beam.IsDefault(), "tendency": b.Crop.Tendency.IsDefault(), "days": b.Crop.Days.IsDefault(),
		"start": b.Crop.StartMass.IsDefault(), "saleable": b.Crop.Saleable.IsDefault(), "day": b.Air.Day.Temperature.IsDefault(),
		"night": b.Air.Night.Humidity.IsDefault(), "co2": b.Air.CO2.IsDefault(), "speed": b.Air.Speed.IsDefault(), "fan": b.Air.Fan.IsDefault(),
		"calcium": b.Feed.Calcium.IsDefault(), "ammonium": b.Feed.Ammonium.IsDefault(), "potassium": b.Feed.Potassium.IsDefault(), "magnesium": b.Feed.Magnesium.IsDefault(), "ec": b.Feed.EC.IsDefault(), "root": b.Feed.RootTemp.IsDefault(), "price": b.Price.IsDefault(),
		"burn": b.Limits.Burn.IsDefault(), "height": b.Limits.MaxHeight.IsDefault(), "hours": b.Limits.MinHours.IsDefault(),
		"dimming": b.Lamps[0].Dimming.IsDefault(), "hours of the lamp": b.Lamps[0].Hours.IsDefault(),
		"species": b.Crop.Species.IsDefault(), "type": b.Crop.Type.IsDefault(),
		"left": b.Space.Walls[underlamp.Left].Reflectance.IsDefault(),
	} {
		if !isDefault {
			t.Errorf("%s is no default", what)
		}
	}
	// 22 °C over 16 h and 19 °C over 8 h: (352 + 152)/24 = 21 °C.
	if got := float64(b.Feed.RootTemp.Value); !near(got, 21) {
		t.Errorf("roots at %v °C, want 21", got)
	}
	for _, s := range []underlamp.Side{underlamp.Left, underlamp.Right, underlamp.Front, underlamp.Back} {
		if !b.Space.Walls[s].Open {
			t.Errorf("%v is not open", s)
		}
	}
	// What is said is no default, even where it says the same.
	said := read(t, strings.Replace(bench, "    watts: 42 W\n", "    watts: 42 W\n    dimming: 100 %\n    hours: {value: 16 h, from: measured, note: timer}\n", 1)+"crop: {species: lettuce, type: butterhead}\n")
	l, c := said.Lamps[0], said.Crop
	if l.Dimming.Origin != underlamp.Stated || l.Hours.Origin != underlamp.Measured || l.Hours.Note != "timer" || c.Species.Origin != underlamp.Stated || c.Type.Origin != underlamp.Stated {
		t.Errorf("stated values are read as %v, %v, %v, %v", l.Dimming, l.Hours, c.Species, c.Type)
	}
	if got := read(t, bench+"air: {fan: down}\n").Air.Speed.Value; got != 0.3 {
		t.Errorf("a fan makes %v m/s", got)
	}
	if b.Name != "Bench" || b.Lamps[0].Name != "A" || b.Lamps[0].Kind != "A" || b.Crop.Type.Value != underlamp.Butterhead {
		t.Errorf("names %q %q %q %q", b.Name, b.Lamps[0].Name, b.Lamps[0].Kind, b.Crop.Type.Value)
	}
}

// Lamps that hang at different heights keep their differences when they are
// moved, so the limits leave room for the highest and the lowest.
func TestHeightLimitsOfUnequalLamps(t *testing.T) {
	two := strings.Replace(bench, "plants:", "  - {at: [90 cm, 30 cm], height: 30 cm, opening: {diameter: 12 cm}, flux: 110 µmol/s, watts: 42 W}\nplants:", 1)
	b := read(t, two) // mean 32 cm, the highest 2 cm above it
	if !near(float64(b.Limits.MaxHeight.Value), 0.43) || !near(float64(b.Limits.MinHeight.Value), 0.12) {
		t.Errorf("limits %v to %v", b.Limits.MinHeight.Value, b.Limits.MaxHeight.Value)
	}
	for _, c := range []struct {
		limit string
		ok    bool
	}{{"2.1 cm to 43 cm", true}, {"20 cm to 43.5 cm", false}, {"2 cm to 40 cm", false}} {
		_, problems, err := benchfile.Read(strings.NewReader(two + "limits: {lamp height: " + c.limit + "}\n"))
		if err != nil || problems.HasErrors() == c.ok {
			t.Errorf("%s: %v", c.limit, problems)
		}
	}
	// At either end no lamp leaves the space.
	for _, h := range []quantity.Metre{b.Limits.MinHeight.Value, b.Limits.MaxHeight.Value} {
		for _, l := range b.With(underlamp.Setting{Height: h, Dimming: 1, Hours: 16}).Lamps {
			if l.Height <= 0 || l.Height > b.Space.Height+1e-12 {
				t.Errorf("mean height %v puts a lamp at %v", h, l.Height)
			}
		}
	}
}

func TestGrid(t *testing.T) {
	for _, c := range []struct {
		grid         string
		firstX, gapX float64
	}{
		{"{columns: 6, rows: 3}", 0.10, 0.20},
		{"{columns: 6, rows: 3, margin: 0 cm}", 0, 0.24},
		{"{columns: 6, rows: 3, margin: [35 cm, 5 cm]}", 0.35, 0.10},
		{"{columns: 6, rows: 3, spacing: 20 cm}", 0.10, 0.20},
		{"{columns: 6, rows: 3, spacing: [10 cm, 20 cm]}", 0.35, 0.10},
		{"{columns: 6, rows: 3, spacing: 10 cm, margin: 5 cm}", 0.05, 0.10},
	} {
		b := read(t, strings.Replace(bench, "{columns: 6, rows: 3}", c.grid, 1))
		if x0, dx := float64(b.Plants[0].X), float64(b.Plants[1].X-b.Plants[0].X); len(b.Plants) != 18 || !near(x0, c.firstX) || !near(dx, c.gapX) {
			t.Errorf("%s: %d plants, first at %v, then every %v", c.grid, len(b.Plants), x0, dx)
		}
	}
}

func TestPlantHeights(t *testing.T) {
	b := read(t, strings.Replace(bench, "rows: 3}", "rows: 3}\n  height: 9 cm\n  heights: [{plants: [p3, P18], height: 15 cm}]", 1))
	for i, p := range b.Plants {
		want := quantity.Metre(0.09)
		if i == 2 || i == 17 {
			want = 0.15
		}
		if p.Height != want {
			t.Errorf("%s stands %g m tall, want %g", p.Name, float64(p.Height), float64(want))
		}
	}
	if b := read(t, bench); b.Plants[0].Height != 0 {
		t.Errorf("a height that nobody said: %g", float64(b.Plants[0].Height))
	}
}

// A label of 90 % after 36 000 h, at 12 h a day: 3 000 days.
func TestAgeingByTheLabel(t *testing.T) {
	b := read(t, strings.Replace(bench, "watts: 42 W", "watts: 42 W\n    hours: 12 h\n    ageing: {light: 90 %, after: 36000 h, new: 2020-01-01}", 1))
	if left := float64(b.Lamps[0].LeftAt("2028-03-19")); !near(left, 0.9) {
		t.Errorf("%.5f left after 3 000 days, want 0.9", left)
	}
}

func TestWalls(t *testing.T) {
	b := read(t, bench+"walls: {left: 80 %, right: 60 % to 90 %, front: open, back: 0.95, below: concrete, above: {value: 70 %, from: measured}}\n")
	for _, c := range []struct {
		side             underlamp.Side
		low, usual, high float64
		origin           underlamp.Origin
		open             bool
	}{
		{underlamp.Left, 0.7, 0.8, 0.9, underlamp.Stated, false},
		{underlamp.Right, 0.6, 0.75, 0.9, underlamp.Stated, false},
		{underlamp.Front, 0, 0, 0, underlamp.Stated, true},
		{underlamp.Back, 0.85, 0.95, 1, underlamp.Stated, false},
		// ECOSTRESS library (Meerdink et al. 2019), concrete, mean from 420 nm: 0.323.
		{underlamp.Below, 0.2, 0.32, 0.45, underlamp.Default, false},
		{underlamp.Above, 0.6, 0.7, 0.8, underlamp.Measured, false},
	} {
		w := b.Space.Walls[c.side]
		if !near(float64(w.Low), c.low) || !near(float64(w.Reflectance.Value), c.usual) || !near(float64(w.High), c.high) || w.Reflectance.Origin != c.origin || w.Open != c.open {
			t.Errorf("%v: %+v", c.side, w)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	var big strings.Builder
	big.WriteString(strings.Split(bench, "plants:")[0] + "plants:\n  at:\n")
	for i := range 2000 {
		big.WriteString("    - [" + quantity.Number(float64(i%50)*2, 4) + " cm, " + quantity.Number(float64(i/50)*1.5, 4) + " cm]\n")
	}
	for name, text := range map[string]string{"small": bench, "2000plants": big.String(), "worst": strings.Repeat("a:\n", 9999)} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				if _, _, err := benchfile.Read(strings.NewReader(text)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// The ions beside calcium are read as written; those not written are of a common feed
// at the EC of the file: 210 mg/L at 1.4 mS/cm is 300 at 2.
func TestFeedIons(t *testing.T) {
	b := read(t, bench+"\nfeed: {ec: 2 mS/cm, ammonium: 40 mg/L, magnesium: {value: 30 ppm, from: measured}}\n")
	f := b.Feed
	if f.Ammonium.Value != 40 || f.Ammonium.IsDefault() || f.Magnesium.Value != 30 || f.Magnesium.Origin != underlamp.Measured {
		t.Errorf("ammonium %+v, magnesium %+v", f.Ammonium, f.Magnesium)
	}
	if math.Abs(float64(f.Potassium.Value)-300) > 1e-9 || !f.Potassium.IsDefault() || f.Potassium.Note == "" {
		t.Errorf("potassium %+v, want 300 mg/L as a default with its reason", f.Potassium)
	}
}

// Plants that are moved apart: both forms of days, both units of density.
func TestSpacing(t *testing.T) {
	t.Parallel()
	b := read(t, bench+"crop: {spacing: [{until: 1 week, density: 100 plants/m²}, {until: 14 d, density: 5 plants/ft²}]}\n")
	if len(b.Crop.Spacing) != 2 || b.Crop.Spacing[0] != (underlamp.Stand{Until: 7, Density: 100}) || b.Crop.Spacing[1].Until != 14 {
		t.Fatalf("%+v", b.Crop.Spacing)
	}
	// By hand: 5 / (0.3048 m)² = 53.82 m⁻².
	if got := b.Crop.Spacing[1].Density; math.Abs(got-53.82) > 0.005 {
		t.Errorf("5 plants/ft² are %g plants/m²", got)
	}
	if read(t, bench).Crop.Spacing != nil {
		t.Error("a bench without spacings has some")
	}
}
