package light_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/science/quantity"
	"underlamp/working"
)

func read(t testing.TB, text string) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.ReadWith(strings.NewReader(text), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatalf("%v %v", err, problems)
	}
	return b
}

func model(t testing.TB, b *underlamp.Bench) *light.Model {
	t.Helper()
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func demoBench(t testing.TB, name string) *underlamp.Bench {
	return read(t, string(bytes.TrimSpace(demo.File(name))))
}

func answer(t testing.TB, m *light.Model, s *underlamp.Setting) *light.Answer {
	t.Helper()
	a, err := m.Answer(s, 13)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// DLI is the definition: PPFD times seconds of light. Dimming is linear, hours
// change DLI and not PPFD.
func TestAnswerFollowsDefinitions(t *testing.T) {
	m := model(t, demoBench(t, "tier-1-top.yaml"))
	now := answer(t, m, nil)
	for _, p := range now.Plants {
		if want := float64(p.PPFD) * 16 * 3600 / 1e6; math.Abs(float64(p.DLI)-want) > 1e-9 {
			t.Errorf("plant %s: DLI %.4f, want %.4f", p.Name, p.DLI, want)
		}
	}
	s := now.Setting
	s.Dimming, s.Hours = 0.5, 8
	half := answer(t, m, &s)
	if r := half.Mean.Value / now.Mean.Value; math.Abs(r-0.5) > 1e-9 {
		t.Errorf("half the dimming gives %.6f of the PPFD", r)
	}
	if r := half.DLI.Value / now.DLI.Value; math.Abs(r-0.25) > 1e-9 {
		t.Errorf("half the dimming and half the hours give %.6f of the DLI", r)
	}
	if now.Lowest.Value > now.Mean.Value || now.Mean.Value > now.Highest.Value || now.Spread.Value <= 0 {
		t.Errorf("lowest %.0f, mean %.0f, highest %.0f, spread %.1f %%", now.Lowest.Value, now.Mean.Value, now.Highest.Value, now.Spread.Value)
	}
}

const smallLamp = `
underlamp: 1
name: one small lamp
space: {width: 2 m, depth: 2 m, height: 1.5 m}
walls: {left: open, right: open, front: open, back: open, below: open, above: open}
lamps:
  - {name: A, at: [1 m, 1 m], height: 30 in, opening: {diameter: 8 cm}, flux: 70 µmol/s, watts: 30 W, beam: 90°, hours: 16 h}
plants: {at: [[1 m, 1 m]]}
`

// Common practice, no source: one type of small lamp read 575, 278 and 175
// µmol/m²/s at 9, 13 and 21.5 inches. Inverse square carries 278 at 13 in to 580
// at 9 in (fits) and to 102 at 21.5 in (does not): the answer must say so.
func TestReadingThatInverseSquareCannotCarry(t *testing.T) {
	b := read(t, smallLamp+`readings:
  - {name: at 9 in, at: [1 m, 1 m], height: 21 in, ppfd: 575 µmol/m²/s}
  - {name: at 13 in, at: [1 m, 1 m], height: 17 in, ppfd: 278 µmol/m²/s}
  - {name: at 21.5 in, at: [1 m, 1 m], height: 8.5 in, ppfd: 175 µmol/m²/s}
`)
	a := answer(t, model(t, b), nil)
	for i, far := range []bool{false, false, true} {
		if a.Readings[i].FarOff != far {
			t.Errorf("reading %s: far off is %v (z %.1f), want %v", a.Readings[i].Name, a.Readings[i].FarOff, a.Readings[i].Z, far)
		}
	}
	notes := strings.Join(a.Notes, "\n")
	for _, want := range []string{"at 21.5 in", "another lamp", "ruler"} {
		if !strings.Contains(notes, want) {
			t.Errorf("the notes do not say %q:\n%s", want, notes)
		}
	}
}

// Readings narrow what is known of the level.
func TestReadingsNarrowTheLevel(t *testing.T) {
	b := demoBench(t, "tier-1-top.yaml")
	with := model(t, b).LevelSD()
	b.Readings = nil
	without := model(t, b).LevelSD()
	if with >= 0.7*without || with < 0.03 {
		t.Errorf("relative standard deviation of the level: %.3f with readings, %.3f without; the meter alone is 0.05", with, without)
	}
}

// In the dark there is no level to be unsure of.
func TestLevelInTheDark(t *testing.T) {
	b := read(t, smallLamp)
	b.Readings = nil
	for i := range b.Lamps {
		b.Lamps[i].Dimming = underlamp.Said[quantity.Fraction](0)
	}
	if got := model(t, b).LevelSD(); got != 0 {
		t.Errorf("relative standard deviation of no light: %g", got)
	}
}

// Lamps that burn for different hours: the DLI is the sum over lamps of their
// light times their hours.
func TestDifferentHours(t *testing.T) {
	b := read(t, smallLamp)
	two := *b
	two.Lamps = append([]underlamp.Lamp{}, b.Lamps[0], b.Lamps[0])
	two.Lamps[1].Name, two.Lamps[1].X, two.Lamps[1].Hours = "B", 1.3, underlamp.Said[quantity.Hours](8)
	one := answer(t, model(t, b), nil)
	other := *b
	other.Lamps = append([]underlamp.Lamp{}, two.Lamps[1])
	second := answer(t, model(t, &other), nil)
	both := answer(t, model(t, &two), nil)
	if want := one.DLI.Value + second.DLI.Value; math.Abs(both.DLI.Value-want) > 1e-6*want {
		t.Errorf("DLI %.4f, want %.4f", both.DLI.Value, want)
	}
	if both.Day != 16 {
		t.Errorf("light day %g h, want 16", float64(both.Day))
	}
}

// Every source that a working names is in the bibliography, and every figure
// says its formula.
func TestWorkingsAreWhole(t *testing.T) {
	a := answer(t, model(t, demoBench(t, "tier-2-middle.yaml")), nil)
	for _, f := range []working.Figure{a.Mean, a.DLI, a.Lowest, a.Highest, a.Spread, a.Canopy} {
		if f.Working.Formula == "" || f.Name == "" {
			t.Errorf("figure %q lacks its formula", f.Name)
		}
		for _, key := range f.Working.Sources {
			working.Cite(key)
		}
	}
}

func TestImpossibleHeight(t *testing.T) {
	m := model(t, demoBench(t, "tier-1-top.yaml"))
	if _, err := m.At(quantity.Metre(0.9)); err == nil {
		t.Error("lamps above the ceiling gave no error")
	}
}

func BenchmarkAnswer(b *testing.B) {
	m := model(b, demoBench(b, "tier-1-top.yaml"))
	s := m.Bench().Setting()
	b.Run("heights changed", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			s.Height = quantity.Metre(0.30 + 0.001*float64(i%50))
			answer(b, m, &s)
		}
	})
	b.Run("dimming alone", func(b *testing.B) {
		lit, err := m.At(s.Height)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			s.Dimming = quantity.Fraction(0.3 + 0.01*float64(i%70))
			lit.Answer(&s, 37)
		}
	})
}

// A search over heights passes a shelf: at its height the lamps hang just over it.
func TestLampsPassAShelf(t *testing.T) {
	b := read(t, `
underlamp: 1
space: {width: 1 m, depth: 60 cm, height: 60 cm}
shelves: [{from: [0 cm, 0 cm], to: [50 cm, 60 cm], height: 30 cm}]
lamps:
  - {name: A, at: [40 cm, 30 cm], height: 50 cm, opening: {width: 50 cm, depth: 4 cm}, flux: 100 µmol/s, watts: 40 W, tilt: 10°, towards: 0°}
plants: {at: [[80 cm, 30 cm], [20 cm, 30 cm]]}
`)
	m := model(t, b)
	for _, h := range []quantity.Metre{0.02, 0.26, 0.30, 0.301, 0.34, 0.60} {
		lit, err := m.At(h)
		if err != nil {
			t.Fatal(err)
		}
		a := lit.Answer(nil, 5)
		if lo, hi := a.Plants[1].PPFD, a.Plants[0].PPFD; h > 0.27 && !(lo < hi) {
			t.Errorf("lamps at %v m: %v under the shelf, %v beside it", h, lo, hi)
		}
	}
}

// The second half of a closing profile is what the bench gives with leaves below
// from the start.
func TestClosingProfiles(t *testing.T) {
	b := demoBench(t, "tier-2-middle.yaml")
	b.Readings = nil // so that nothing is fitted anew
	lit, err := model(t, b).At(0.32)
	if err != nil {
		t.Fatal(err)
	}
	const levels = 5
	both := lit.ClosingProfiles(0.04, levels)
	shut := *b
	shut.Space.Walls[underlamp.Below].Reflectance = underlamp.Said[quantity.Fraction](0.06)
	leaves, err := model(t, &shut).At(0.32)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range leaves.ClosingProfiles(0.04, levels) {
		if len(want) != levels || len(both[i]) != 2*levels {
			t.Fatalf("%d and %d values", len(want), len(both[i]))
		}
		for k := range levels {
			if got := both[i][levels+k]; math.Abs(got/want[k]-1) > 0.002 || got > both[i][k] {
				t.Errorf("plant %d, level %d: %.1f, over leaves %.1f, over the bare surface %.1f", i, k, got, want[k], both[i][k])
			}
		}
	}
}

// How much a wall mirrors is in the band of a bench with foil and shown in the
// working; a bench without mirrors has neither.
func TestMirroredShareIsInTheBand(t *testing.T) {
	foil := foilBench(t, "right: open")
	width := func(b *underlamp.Bench) float64 {
		f := answer(t, model(t, b), nil).Lowest
		return (f.Band.High - f.Band.Low) / f.Value
	}
	known := foilBench(t, "right: open")
	for side := range known.Space.Walls {
		if w := &known.Space.Walls[side]; w.Mirror.Value > 0 {
			w.Mirror.Value = w.Reflectance.Value // all of it: no share to doubt
		}
	}
	if a, b := width(foil), width(known); !(a > b) {
		t.Errorf("relative band %.4f with the share in doubt, %.4f without", a, b)
	}
	show := func(b *underlamp.Bench) string {
		w := answer(t, model(t, b), nil).Mean.Working
		text := strings.Join(w.Notes, " ")
		for _, in := range w.Inputs {
			text += " " + in.Note
		}
		return text
	}
	if text := show(foil); !strings.Contains(text, "64 % to 90 % is mirrored (one standard deviation; common practice, no source)") || !strings.Contains(text, "Pozzobon2020") {
		t.Errorf("the working does not show it: %s", text)
	}
	if text := show(demoBench(t, "tier-1-top.yaml")); strings.Contains(text, "mirror") {
		t.Errorf("no wall mirrors here: %s", text)
	}
}

// What could explain a reading that is far off is said in the units of the bench.
func TestReasonsAreInTheUnitsOfTheBench(t *testing.T) {
	for units, inch := range map[string]bool{"metric": false, "us": true} {
		text := strings.Replace(string(demo.File("tier-1-top.yaml")), "units: metric", "units: "+units, 1)
		text = strings.Replace(text, "ppfd: 348", "ppfd: 640", 1)
		a := answer(t, model(t, read(t, text)), nil)
		said := strings.Join(a.Notes, " ") + strings.Join(a.Readings[0].Reasons, " ")
		if n := strings.Count(said, "the ruler was misread"); n != 2 {
			t.Fatalf("%s: %q", units, said)
		}
		_, after, _ := strings.Cut(said, "would fit at a height of ")
		after, _, _ = strings.Cut(after, "instead")
		if strings.Contains(after, " cm") == inch || strings.Contains(after, " in") != inch {
			t.Errorf("%s: %q", units, after)
		}
	}
}
