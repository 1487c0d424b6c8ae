package spectrum

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
	"underlamp/science/reference"
)

func quantityEfficacy(v float64) quantity.Efficacy { return quantity.Efficacy(v) }

// anySpectrum draws spectra of up to 60 samples at uneven steps.
func anySpectrum(t *rapid.T) Spectrum {
	n := rapid.IntRange(2, 60).Draw(t, "n")
	s := Samples{Basis: Basis(rapid.IntRange(0, 1).Draw(t, "basis"))}
	nm := rapid.Float64Range(200, 500).Draw(t, "first")
	for range n {
		s.NM = append(s.NM, nm)
		s.Value = append(s.Value, rapid.Float64Range(0, 10).Draw(t, "value"))
		nm += rapid.Float64Range(0.1, 30).Draw(t, "step")
	}
	s.Value[0]++
	out, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Resampling loses no photon, moves none farther than two steps (one to a sample, one
// from it), and makes none negative.
func TestResampleKeepsPhotons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySpectrum(t)
		step := rapid.Float64Range(0.2, 40).Draw(t, "step")
		r := s.Resample(step)
		total := s.Total(Photons)
		if got := r.Total(Photons); math.Abs(got-total) > 1e-9*total {
			t.Fatalf("%g photons of %g", got, total)
		}
		for _, c := range r.curves {
			for i, v := range c.v {
				if v < -1e-12 {
					t.Fatalf("%g at %g nm", v, c.nm[i])
				}
			}
		}
		at := rapid.Float64Range(200, 2000).Draw(t, "at")
		below := r.Photons(0, at)
		if lo, hi := s.Photons(0, at-2*step), s.Photons(0, at+2*step); below < lo-1e-9*total || below > hi+1e-9*total {
			t.Fatalf("%g photons below %g nm, want between %g and %g", below, at, lo, hi)
		}
	})
}

func TestBinsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySpectrum(t)
		edges := []float64{150}
		for edges[len(edges)-1] < 2500 {
			edges = append(edges, edges[len(edges)-1]+rapid.Float64Range(1, 200).Draw(t, "width"))
		}
		sum := 0.0
		for _, v := range s.Bins(edges) {
			sum += v
		}
		if total := s.Total(Photons); math.Abs(sum-total) > 1e-9*total {
			t.Fatalf("bins hold %g of %g", sum, total)
		}
	})
}

// A light mixed of parts has the photons and the phytochrome weights of its
// parts; shares of energy are shares of energy.
func TestMixIsLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anySpectrum(t), anySpectrum(t)
		w := rapid.Float64Range(0.01, 0.99).Draw(t, "share")
		for _, basis := range []Basis{Photons, Energy} {
			m, err := Mix(basis, Part{a, w}, Part{b, 1 - w})
			if err != nil {
				t.Fatal(err)
			}
			band := Band{"", 400, 450}
			in := func(s Spectrum) float64 {
				if basis == Energy {
					return s.Energy(band.From, band.To) / s.Total(Energy)
				}
				return s.In(band) / s.Total(Photons)
			}
			if got, want := in(m), w*in(a)+(1-w)*in(b); math.Abs(got-want) > 1e-9 {
				t.Fatalf("%v: share %g, want %g", basis, got, want)
			}
		}
	})
}

// No figure but the size depends on the unit.
func TestShapeHasNoUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySpectrum(t)
		b := s.Times(rapid.Float64Range(1e-3, 1e3).Draw(t, "times"))
		same := func(what string, x, y float64) {
			if math.Abs(x-y) > 1e-6*(math.Abs(x)+1e-9) && !(math.IsNaN(x) && math.IsNaN(y)) && x != y {
				t.Fatalf("%s: %g and %g", what, x, y)
			}
		}
		same("PPE", s.PPE(), b.PPE())
		same("blue", s.OfPAR(Blue), b.OfPAR(Blue))
		same("lux", s.LuxPerMicromole(), b.LuxPerMicromole())
		same("limit", float64(s.EfficacyLimit()), float64(b.EfficacyLimit()))
		if p := s.PPE(); p < 0 || p > 1 {
			t.Fatalf("PPE %g", p)
		}
	})
}

// The search for the nearest black body finds the one that was put in.
func TestBlackBodiesFindThemselves(t *testing.T) {
	for _, k := range []float64{1500, 1900, 2700, 3500, 5000, 6500, 9300, 15000, 25000} {
		c := Planck(k).Colour()
		// 5·10⁻⁶ in x and y, of 300 to 830 nm and 5 nm rows.
		within(t, "temperature", c.CCT, k, 1e-3*k)
		within(t, "distance", c.Duv, 0, 2e-5)
	}
	// CIE15: no temperature beyond |Duv| 0.05, and none of a light half seen.
	if c := Line(530).Colour(); !math.IsNaN(c.CCT) || c.Duv < 0.05 || c.Why == "" {
		t.Errorf("a green line has %+v", c)
	}
	cut, err := New(Samples{NM: []float64{450, 700}, Value: []float64{1, 1}, Basis: Energy})
	if err != nil {
		t.Fatal(err)
	}
	if c := cut.Colour(); !math.IsNaN(c.CCT) || !strings.Contains(c.Why, "miss") {
		t.Errorf("data from 450 nm have %+v", c)
	}
}

func TestWrongSamples(t *testing.T) {
	for _, c := range []struct {
		nm, v []float64
		index int
	}{
		{[]float64{400}, []float64{1}, -1},
		{[]float64{400, 400}, []float64{1, 1}, 1},
		{[]float64{500, 400}, []float64{1, 1}, 1},
		{[]float64{0.4, 0.5}, []float64{1, 1}, 0},
		{[]float64{400, 4001}, []float64{1, 1}, 1},
		{[]float64{400, math.NaN()}, []float64{1, 1}, 1},
		{[]float64{400, 500}, []float64{1, math.NaN()}, 1},
		{[]float64{400, 500}, []float64{1, math.Inf(1)}, 1},
		{[]float64{400, 500}, []float64{1, -1e-9}, 1},
		{[]float64{400, 500}, []float64{0, 0}, -1},
	} {
		_, err := New(Samples{NM: c.nm, Value: c.v})
		var e *SampleError
		if !errors.As(err, &e) || e.Index != c.index || e.Error() == "" {
			t.Errorf("%v %v: %v", c.nm, c.v, err)
		}
	}
	for name, f := range map[string]func(){
		"lengths": func() { _, _ = New(Samples{NM: []float64{1}}) }, "factor": func() { Spectrum{}.Times(0) }, "step": func() { Spectrum{}.Resample(0) },
		"cold": func() { Planck(100) }, "daylight": func() { Daylight(3000) }, "line": func() { Line(1) },
		"dark part": func() { _, _ = Mix(Photons, Part{Spectrum{}, 1}) },
	} {
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "spectrum: ") {
					t.Errorf("%s: panicked with %q", name, s)
				}
			}()
			f()
			t.Errorf("%s: did not panic", name)
		}()
	}
}

func TestWrongParts(t *testing.T) {
	for _, text := range []string{"", " , ", "450", "450:20", "450:20:15:1", "blue:20:15", "100:20:15", "450:1:15", "450:20:0", "450:20:-1", "450:20:NaN", "NaN:20:1", strings.Repeat("450:20:1,", 21)} {
		if _, err := ParseParts(text); err == nil {
			t.Errorf("%q was read", text)
		}
	}
	parts, err := ParseParts("450nm:20nm:15%, 660:18:85")
	if err != nil || len(parts) != 2 || parts[1].Share != 85 {
		t.Errorf("%v, %v", parts, err)
	}
	if _, err := Mix(Photons); err == nil {
		t.Error("no parts were mixed")
	}
	if _, err := Mix(Photons, Part{Line(500), -1}); err == nil {
		t.Error("a negative share was mixed")
	}
}

// What the ends of the data hide is said.
func TestGaps(t *testing.T) {
	flat := func(from, to float64) Spectrum {
		s, err := New(Samples{NM: []float64{from, to}, Value: []float64{1, 1}})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, c := range []struct {
		from, to float64
		want     []string
	}{
		{300, 830, nil},
		{380, 830, []string{"begin at 380"}},
		{420, 830, []string{"missing from PPF, blue"}},
		{300, 780, []string{"700–800 nm is cut short"}},
		{300, 760, []string{"PPE a little"}},
		{300, 745, []string{"ePAR to 750 nm are cut short"}},
		{300, 710, []string{"R:FR with 725–735 nm cannot be told"}},
		{300, 680, []string{"missing from PPF, red"}},
		{380, 780, []string{"begin at 380", "end at 780"}},
	} {
		got := flat(c.from, c.to).Gaps()
		if len(got) != len(c.want) {
			t.Errorf("%g to %g: %q", c.from, c.to, got)
			continue
		}
		for i := range got {
			if !strings.Contains(got[i], c.want[i]) || !strings.Contains(got[i], "not a little") {
				t.Errorf("%g to %g: %q, want %q", c.from, c.to, got[i], c.want[i])
			}
		}
	}
	narrow, wide := flat(300, 710).RedFarRed()
	if !math.IsNaN(narrow.Value) || !math.IsNaN(wide.Value) {
		t.Errorf("R:FR of data to 710 nm: %g and %g", narrow.Value, wide.Value)
	}
	if p := flat(300, 690).PPE(); !math.IsNaN(p) {
		t.Errorf("PPE of data to 690 nm: %g", p)
	}
	// A formula that ends by itself hides nothing.
	if s, err := LED(660, 18); err != nil || s.Gaps() != nil {
		t.Errorf("a diode has gaps %v, %v", s.Gaps(), err)
	}
}

func TestNotes(t *testing.T) {
	parts, err := ParseParts("450:20:5, 660:18:95")
	if err != nil {
		t.Fatal(err)
	}
	s, err := Mix(Photons, parts...)
	if err != nil {
		t.Fatal(err)
	}
	cues := func(notes []Note) (out []string) {
		for _, n := range notes {
			out = append(out, n.Cue)
			if len(n.Published) == 0 || len(n.Published) != len(n.Sources) || !strings.Contains(n.Advice, "trial") {
				t.Errorf("%s: %d results, %d sources, advice %q", n.Cue, len(n.Published), len(n.Sources), n.Advice)
			}
		}
		return out
	}
	notes := s.Notes(150, "butterhead")
	if got := fmt.Sprint(cues(notes)); got != "[blue dim]" {
		t.Errorf("notes %s", got)
	}
	if !notes[0].Disagree || !strings.Contains(notes[0].Published[0], "lettuce") || !strings.Contains(notes[0].Light, "7.5 µmol") {
		t.Errorf("first note: %+v", notes[0])
	}
	if got := fmt.Sprint(cues(IlluminantA().Notes(0, ""))); got != "[blue far-red]" {
		t.Errorf("notes of A: %s", got)
	}
	if got := fmt.Sprint(cues(Daylight(DaylightD65).Notes(400, ""))); got != "[blue far-red green]" {
		t.Errorf("notes of daylight: %s", got)
	}
	for led, want := range map[string]string{
		"450:20:20, 525:30:20, 660:18:60":  "[]",
		"450:20:100":                       "[blue phytochrome]",
		"450:20:29, 660:18:71, 770:10:40":  "[far-red]", // R:FR 1.8, nothing of it below 750 nm
		"450:20:20, 660:18:70, 735:10:12":  "[far-red]", // R:FR 5.8, an eighth of ePAR
		"450:20:20, 660:18:70, 735:10:6":   "[]",
		"450:20:20, 660:18:70, 725:10:180": "[far-red phytochrome]",
	} {
		parts, err := ParseParts(led)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Mix(Photons, parts...)
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(cues(s.Notes(250, "lettuce"))); got != want {
			t.Errorf("%s: notes %s, want %s (PPE %.2f)", led, got, want, s.PPE())
		}
	}
	kale := s.Notes(300, "kale")
	if !strings.Contains(kale[0].Advice, "Nothing was found for kale") {
		t.Errorf("kale: %q", kale[0].Advice)
	}
}

func TestLuxMeter(t *testing.T) {
	red, err := LED(660, 18)
	if err != nil {
		t.Fatal(err)
	}
	if red.LuxMeter() != LuxUseless || Daylight(DaylightD65).LuxMeter() != LuxUsable {
		t.Error("the lux meter is judged wrong")
	}
}

func BenchmarkAllFigures401Samples(b *testing.B) {
	s := lampsOf(b, "cie-led.csv")["LED-B3"]
	b.ReportAllocs()
	for b.Loop() {
		_ = s.OfPAR(Blue) + s.PPE() + s.YieldPhotons() + s.LuxPerMicromole()
	}
}

func BenchmarkColour(b *testing.B) {
	s := lampsOf(b, "cie-led.csv")["LED-B3"]
	b.ReportAllocs()
	for b.Loop() {
		_ = s.Colour()
	}
}

// Every published effect names a work of the bibliography, a direction that the
// notes know, and a cue that they use.
func TestEvidenceTable(t *testing.T) {
	table := reference.MustLoad("spectrum_evidence")
	for i := range table.Rows {
		if key := table.Text(i, "source"); !cited(key) {
			t.Errorf("row %d: %s is not in the bibliography", i+1, key)
		}
		if d := table.Text(i, "direction"); !slices.Contains([]string{"stretch", "compact", "none", "mass", "mixed"}, d) {
			t.Errorf("row %d: direction %q", i+1, d)
		}
		if c := table.Text(i, "cue"); !slices.Contains([]string{"blue", "far-red", "phytochrome", "dim", "green"}, c) {
			t.Errorf("row %d: cue %q", i+1, c)
		}
	}
}

func cited(key string) bool {
	_, ok := reference.Cite(key)
	return ok
}
