package benchfile_test

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

func TestWriteNothingAnswered(t *testing.T) {
	var w bytes.Buffer
	if err := benchfile.Write(&w, benchfile.Answers{}); err != nil {
		t.Fatal(err)
	}
	b := read(t, w.String())
	if got := strings.Count(w.String(), "# assumed, please measure"); got != 6 { // space, height and watts of two lamps, plants
		t.Errorf("%d marks of what was assumed:\n%s", got, w.String())
	}
	if !b.Price.IsDefault() || !b.Air.Fan.IsDefault() || !b.Air.Speed.IsDefault() || !b.Lamps[0].Rated.IsDefault() || !b.Space.Walls[underlamp.Left].Reflectance.IsDefault() || !b.Limits.Burn.IsDefault() {
		t.Errorf("an unanswered value is read as stated: %+v", b)
	}
	// The comments tell the truth: without their #, every default line reads as
	// what the reader takes anyway.
	text := w.String()
	for _, line := range []string{"efficacy: 2.3 µmol/J", "beam: 120°", "dimming: 100 %", "hours: 16 h", "type: butterhead", "tendency: usual", "days: 35", "start mass: 1.5 g", "saleable: 120 g"} {
		if !strings.Contains(text, "# "+line) {
			t.Errorf("no comment %q", line)
		}
		text = strings.Replace(text, "# "+line, line, 1)
	}
	text = strings.Replace(text, "# electricity", "electricity", 1)
	text = strings.Replace(text, "# feed", "feed", 1)
	for _, part := range []string{"walls:", "air:", "limits:"} {
		before, rest, _ := strings.Cut(text, "# "+part)
		block, after, _ := strings.Cut(rest, "\n\n")
		text = before + part + strings.ReplaceAll(block, "\n#", "\n") + "\n\n" + after
	}
	said := read(t, text)
	pairs := []struct {
		what      string
		got, want any
	}{
		{"rated", said.Lamps[0].Rated.Value, b.Lamps[0].Rated.Value}, {"flux", said.Lamps[0].Flux.Value, b.Lamps[0].Flux.Value},
		{"beam", said.Lamps[0].Beam.Value, b.Lamps[0].Beam.Value}, {"hours", said.Lamps[0].Hours.Value, b.Lamps[0].Hours.Value},
		{"days", said.Crop.Days.Value, b.Crop.Days.Value}, {"start", said.Crop.StartMass.Value, b.Crop.StartMass.Value},
		{"saleable", said.Crop.Saleable.Value, b.Crop.Saleable.Value}, {"type", said.Crop.Type.Value, b.Crop.Type.Value},
		{"day", said.Air.Day.Temperature.Value, b.Air.Day.Temperature.Value}, {"night", said.Air.Night.Humidity.Value, b.Air.Night.Humidity.Value},
		{"co2", said.Air.CO2.Value, b.Air.CO2.Value}, {"speed", said.Air.Speed.Value, b.Air.Speed.Value},
		{"price", said.Price.Value, b.Price.Value}, {"burn", said.Limits.Burn.Value, b.Limits.Burn.Value},
		{"dimming", said.Limits.MinDim.Value, b.Limits.MinDim.Value}, {"hours limit", said.Limits.MaxHours.Value, b.Limits.MaxHours.Value},
		{"calcium", said.Feed.Calcium.Value, b.Feed.Calcium.Value}, {"ec", said.Feed.EC.Value, b.Feed.EC.Value},
		{"roots", said.Feed.RootTemp.Value, b.Feed.RootTemp.Value},
		{"above", said.Space.Walls[underlamp.Above].Reflectance.Value, b.Space.Walls[underlamp.Above].Reflectance.Value},
		{"below", said.Space.Walls[underlamp.Below].Reflectance.Value, b.Space.Walls[underlamp.Below].Reflectance.Value},
	}
	for _, p := range pairs {
		if p.got != p.want {
			t.Errorf("the comment says %s = %v, the default is %v", p.what, p.got, p.want)
		}
	}
	if said.Air.CO2.IsDefault() || said.Price.IsDefault() || said.Limits.Burn.IsDefault() {
		t.Error("a line without its # is still read as default")
	}
}

// Any bench that can be answered is written and read back as answered.
func TestWriteRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.Float64Range(0.3, 5)
		a := benchfile.Answers{Units: rapid.SampledFrom([]quantity.System{quantity.Metric, quantity.US}).Draw(t, "units")}
		s := benchfile.SpaceAnswer{Width: quantity.Metre(side.Draw(t, "width")), Depth: quantity.Metre(side.Draw(t, "depth")), Height: quantity.Metre(rapid.Float64Range(0.2, 3).Draw(t, "height"))}
		if rapid.Bool().Draw(t, "space answered") {
			a.Space = &s
		}
		if rapid.Bool().Draw(t, "lamps answered") {
			a.Lamps = &benchfile.LampsAnswer{Count: rapid.IntRange(1, 60).Draw(t, "lamps"), Watts: quantity.Watt(rapid.Float64Range(1, 900).Draw(t, "watts")), Height: s.Height * 0.8}
			if rapid.Bool().Draw(t, "flux known") {
				a.Lamps.Flux = quantity.PPF(float64(a.Lamps.Watts) * 2.5)
			}
		}
		if rapid.Bool().Draw(t, "plants answered") {
			a.Plants = &benchfile.PlantsAnswer{Type: rapid.SampledFrom(underlamp.HeadTypes()).Draw(t, "type"), Count: rapid.IntRange(1, 200).Draw(t, "plants")}
		}
		if rapid.Bool().Draw(t, "fan answered") {
			fan := rapid.SampledFrom(underlamp.FanAims()).Draw(t, "fan")
			a.Fan = &fan
		}
		if rapid.Bool().Draw(t, "price answered") {
			a.Price = &quantity.Price{PerKWh: float64(rapid.IntRange(0, 900).Draw(t, "price")) / 1000, Currency: rapid.SampledFrom([]string{"EUR", "$", "kr"}).Draw(t, "currency")}
		}
		var w bytes.Buffer
		if err := benchfile.Write(&w, a); err != nil {
			t.Fatal(err)
		}
		b, problems, err := benchfile.Read(bytes.NewReader(w.Bytes()))
		if err != nil || b == nil {
			t.Fatalf("%v %v\n%s", err, problems, w.String())
		}
		// Lengths are written to 0.1 mm (metric) or 0.001 in.
		close := func(what string, got, want float64) {
			if d := got - want; d > 1e-4 || d < -1e-4 {
				t.Fatalf("%s: %v, answered %v\n%s", what, got, want, w.String())
			}
		}
		if a.Space != nil {
			close("width", float64(b.Space.Width), float64(s.Width))
			close("height", float64(b.Space.Height), float64(s.Height))
		}
		if a.Lamps != nil {
			close("lamps", float64(len(b.Lamps)), float64(a.Lamps.Count))
			close("lamp height", float64(b.Lamps[0].Height), float64(a.Lamps.Height))
			close("watts", float64(b.Lamps[0].Power.Value)/1e3, float64(a.Lamps.Watts)/1e3)
			if b.Lamps[0].Flux.IsDefault() != (a.Lamps.Flux == 0) {
				t.Fatalf("flux %+v", b.Lamps[0].Flux)
			}
		}
		if a.Plants != nil && (len(b.Plants) != a.Plants.Count || b.Crop.Type.Value != a.Plants.Type) {
			t.Fatalf("%d plants of %s", len(b.Plants), b.Crop.Type)
		}
		if b.Air.Fan.IsDefault() != (a.Fan == nil) || a.Fan != nil && b.Air.Fan.Value != *a.Fan {
			t.Fatalf("fan %+v", b.Air.Fan)
		}
		if b.Price.IsDefault() != (a.Price == nil) || a.Price != nil && b.Price.Value != *a.Price {
			t.Fatalf("price %+v", b.Price)
		}
		if b.Units != a.Units {
			t.Fatalf("units %v", b.Units)
		}
	})
}

func TestWriteRefuses(t *testing.T) {
	space := &benchfile.SpaceAnswer{Width: 1.2, Depth: 0.6, Height: 0.45}
	for name, a := range map[string]benchfile.Answers{
		"lamps over the ceiling": {Space: space, Lamps: &benchfile.LampsAnswer{Count: 2, Watts: 40, Height: 0.5}},
		"no space":               {Space: &benchfile.SpaceAnswer{}},
		"no output":              {Lamps: &benchfile.LampsAnswer{Count: 2, Height: 0.3}},
		"a million lamps":        {Lamps: &benchfile.LampsAnswer{Count: 1e6, Watts: 40, Height: 0.3}},
		"no plants":              {Plants: &benchfile.PlantsAnswer{Type: underlamp.Leaf}},
		"unknown head":           {Plants: &benchfile.PlantsAnswer{Type: "cabbage", Count: 4}},
	} {
		var w bytes.Buffer
		if err := benchfile.Write(&w, a); err == nil || w.Len() > 0 {
			t.Errorf("%s: %v, %d bytes written", name, err, w.Len())
		}
	}
	var problems benchfile.Problems
	err := benchfile.Write(&bytes.Buffer{}, benchfile.Answers{Space: space, Lamps: &benchfile.LampsAnswer{Count: 2, Watts: 40, Height: 0.5}})
	if !errors.As(err, &problems) || !problems.HasErrors() {
		t.Errorf("%v does not hold the problems", err)
	}
}

// A grower forgets a unit and misspells a key; both are reported at once.
func Example() {
	text := `underlamp: 1
space: {width: 120 cm, depth: 60 cm, height: 45 cm}
lamps:
  - at: [60 cm, 30 cm]
    height: 34
    opening: {width: 54 cm, depth: 4 cm}
    wats: 42 W
    flux: 110 µmol/s
plants:
  grid: {columns: 6, rows: 3}
`
	_, problems, err := benchfile.Read(strings.NewReader(text))
	if err != nil {
		panic(err)
	}
	fmt.Print(problems.Render("cellar.yaml", []byte(text), false))
	// Output:
	// cellar.yaml:5:13: error: lamps[0].height: "34" is not a length: the unit is missing (m, cm, mm, in, ft)
	//     5 |     height: 34
	//       |             ^
	//       wanted: for example 34 cm or 13.5 in
	// cellar.yaml:7:5: error: lamps[0]: the key "wats" is not known here
	//     7 |     wats: 42 W
	//       |     ^
	//       wanted: one of name, kind, at, height, turn, tilt, towards, opening, flux, watts, efficacy, beam, photometry, mirrored, lux per ppfd, spectrum, ageing, dimming, dimming curve, hours
	//       did you mean "watts"?
}
