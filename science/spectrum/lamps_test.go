package spectrum

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// lampsOf reads a table of CIE illuminants, see testdata/LICENCE.md.
func lampsOf(t testing.TB, name string) map[string]Spectrum {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]Spectrum{}
	for col := 1; col < len(rows[0]); col++ {
		s := Samples{Basis: Energy}
		for _, row := range rows[1:] {
			nm, err1 := strconv.ParseFloat(row[0], 64)
			v, err2 := strconv.ParseFloat(row[col], 64)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			s.NM, s.Value = append(s.NM, nm), append(s.Value, v)
		}
		sp, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		out[rows[0][col]] = sp
	}
	return out
}

// CIE15 (2018), tables 11 and 12: temperatures printed with the LED illuminants,
// from memory. Half a unit, and 1 in 2000 for every second nm of the table.
func TestPublishedTemperatures(t *testing.T) {
	leds := lampsOf(t, "cie-led.csv")
	for name, want := range map[string]float64{"LED-B1": 2733, "LED-B2": 2998, "LED-B3": 4103, "LED-B4": 5109, "LED-B5": 6598,
		"LED-BH1": 2851, "LED-RGB1": 2840, "LED-V1": 2724, "LED-V2": 4070} {
		within(t, name, leds[name].Colour().CCT, want, 0.5+want/2000)
	}
}

// The same lamps by other code outside this project (trapezoids of 1 nm): five
// digits printed, and 5 in 10 000 for every second nm of the table here.
func TestLampsIndependently(t *testing.T) {
	all := lampsOf(t, "cie-led.csv")
	for name, s := range lampsOf(t, "cie-hp.csv") {
		all[name] = s
	}
	for name, want := range map[string][6]float64{ // µmol/J, lx per µmol, blue %, narrow R:FR, PPE, YPF/PPF
		"LED-B1": {4.8934, 67.071, 9.2059, 5.0894, 0.80884, 0.91207},
		"LED-B3": {4.6789, 69.763, 18.429, 5.8968, 0.80593, 0.88022},
		"LED-B5": {4.4919, 69.424, 29.077, 4.9376, 0.78731, 0.85118},
		"LED-V2": {4.6575, 56.544, 22.535, 3.806, 0.7679, 0.87019},
		"HP1":    {4.9038, 85.841, 5.5543, 2.7908, 0.82309, 0.95289},
		"HP3":    {4.7574, 69.916, 13.901, 2.593, 0.77114, 0.9024},
		"HP5":    {4.6689, 61.817, 20.962, 2.5805, 0.7488, 0.87726},
	} {
		s := all[name]
		narrow, _ := s.RedFarRed()
		for i, got := range []float64{s.PARPerJoule(), s.LuxPerMicromole(), 100 * s.OfPAR(Blue), narrow.Value, s.PPE(), s.YieldPhotons() / s.In(PAR)} {
			within(t, name+" "+strconv.Itoa(i), got, want[i], 5e-4*want[i])
		}
	}
	// ThimijanHeins1983: high-pressure sodium 82 lx per µmol and 4.98 µmol/J.
	// Another lamp than HP1: 5 % between makes and ages (a newer lamp by the same
	// maker's page: 77).
	within(t, "sodium, lx per µmol", all["HP1"].LuxPerMicromole(), 82, 0.05*82)
	within(t, "sodium, µmol/J", all["HP1"].PARPerJoule(), 4.98, 0.05*4.98)
}

// McCree1972: an instrument maker states that YPF is about 90 % of PPF over many
// lamps; common lamps lie from 0.85 to 0.955.
func TestYieldOfCommonLamps(t *testing.T) {
	for name, s := range lampsOf(t, "cie-led.csv") {
		if y := s.YieldPhotons() / s.In(PAR); !(y > 0.85 && y < 0.955) {
			t.Errorf("%s: YPF/PPF %.3f", name, y)
		}
	}
}

// Kusuma2020: a fixture of white and red diodes with the diodes of 2020 ends at
// 3.4 µmol/J, blue and red at 4.1: the spectrum must allow both.
func TestEfficacy(t *testing.T) {
	leds := lampsOf(t, "cie-led.csv")
	red, err := LED(660, 18)
	if err != nil {
		t.Fatal(err)
	}
	blue, err := LED(450, 20)
	if err != nil {
		t.Fatal(err)
	}
	mixed, err := Mix(Photons, Part{leds["LED-B3"], 60}, Part{red, 40})
	if err != nil {
		t.Fatal(err)
	}
	both, err := Mix(Photons, Part{blue, 20}, Part{red, 80})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		s     Spectrum
		claim float64
		want  Verdict
	}{
		{mixed, 3.4, Plausible}, {both, 4.1, Plausible}, {both, 4.2, Doubtful}, {red, 5.45, Doubtful}, {red, 5.53, Impossible},
		{blue, 3.8, Impossible}, {blue, 3.6, Doubtful}, {blue, 3.4, Plausible}, {mixed, 5.4, Impossible}, {mixed, 0, Impossible},
		{leds["LED-B3"], 5.6, Impossible},
	} {
		if got, why := c.s.JudgeEfficacy(quantityEfficacy(c.claim)); got != c.want {
			t.Errorf("%g µmol/J: verdict %d (%s), want %d", c.claim, got, why, c.want)
		}
	}
	// By hand: 450/119.6266 and 660/119.6266, half of the last digit; the curve of
	// a diode is even about its peak.
	within(t, "limit of blue", float64(blue.EfficacyLimit()), 3.7617, 5e-5)
	within(t, "limit of red", float64(red.EfficacyLimit()), 5.5172, 5e-5)
}
