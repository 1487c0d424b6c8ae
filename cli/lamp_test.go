package cli

import (
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
)

func TestLamp(t *testing.T) {
	file := demoFile(t, demo.LampFile)
	svg := filepath.Join(t.TempDir(), "curve.svg")
	code, out, errs := run(t, "", "lamp", "--per-lumen", "white-led", "--working", "--utilisation", "--svg", svg, file)
	if code != 0 || errs != "" {
		t.Fatalf("code %d: %s", code, errs)
	}
	for _, want := range []string{"Hollin bar 42", "42.3 W", "110 cm along C0-C180 and 4 cm along C90-C270", "absolute", "exponent", "90 % band", "Thimijan", "room cavity ratio"} {
		if !strings.Contains(out, want) {
			t.Errorf("the output does not say %q:\n%s", want, out)
		}
	}
	picture, err := os.ReadFile(svg)
	if err != nil {
		t.Fatal(err)
	}
	for dec := xml.NewDecoder(strings.NewReader(string(picture))); ; {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the curve is not XML: %v", err)
		}
	}
	// From standard input, with a number: 6840 lm · 0.02 = 137 µmol/s.
	code, out, errs = run(t, string(demo.File(demo.LampFile)), "lamp", "--per-lumen", "0.02", "-")
	if code != 0 || !strings.Contains(out, "137 µmol/s") || !strings.Contains(out, "no band") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
}

// The demo lamp must fit the lamp that the demo benches describe: 42 W,
// 2.5 µmol/J and 120° on the label, 110 by 4 cm.
func TestLampAsJSON(t *testing.T) {
	type lamp struct {
		Flux    float64  `json:"flux_lm"`
		Up      float64  `json:"up_lm"`
		Power   float64  `json:"power_w"`
		Stated  *float64 `json:"stated_lm"`
		Beam    struct{ C0, C90, Mean float64 }
		BeamDeg struct {
			C0  float64 `json:"c0_deg"`
			C90 float64 `json:"c90_deg"`
		} `json:"beam_angle"`
		Opening struct {
			C0  float64 `json:"along_c0_m"`
			C90 float64 `json:"along_c90_m"`
		} `json:"opening"`
		Photons []struct {
			Value float64
			Band  *struct{ Low, High float64 }
		}
		Zones []float64 `json:"zones_of_10_deg_lm"`
		Notes []struct {
			Line int
			Text string
		}
	}
	get := func(args ...string) (l lamp) {
		t.Helper()
		inJSON(t, &l, append([]string{"lamp", "--json"}, args...)...)
		return l
	}
	file := demoFile(t, demo.LampFile)
	l := get("--per-lumen", "white LED", file)
	sum := 0.0
	for _, z := range l.Zones {
		sum += z
	}
	if math.Abs(sum-l.Flux) > 1e-6*l.Flux || l.Up != 0 || l.Stated != nil || len(l.Notes) != 0 {
		t.Errorf("%+v", l)
	}
	if len(l.Photons) != 2 || l.Photons[0].Band == nil || l.Photons[1].Value < 2.1 || l.Photons[1].Value > 2.9 {
		t.Errorf("photons %+v, label 2.5 µmol/J", l.Photons)
	}
	if l.BeamDeg.C0 < 105 || l.BeamDeg.C90 > 130 || l.BeamDeg.C0 >= l.BeamDeg.C90 {
		t.Errorf("beam %+v, label 120°", l.BeamDeg)
	}
	// A quarter turn swaps the planes of light and opening, and nothing else.
	turned := get("--turn", "90", file)
	if turned.BeamDeg.C0 != l.BeamDeg.C90 || turned.BeamDeg.C90 != l.BeamDeg.C0 || turned.Opening.C0 != l.Opening.C90 || math.Abs(turned.Flux-l.Flux) > 1e-9*l.Flux {
		t.Errorf("turned by 90°: %+v", turned)
	}
	if aside := get("--turn", "30", "--mirror", file); len(aside.Notes) != 1 || !strings.Contains(aside.Notes[0].Text, "quarters") {
		t.Errorf("turned by 30°: %+v", aside.Notes)
	}
}

// Wrong input: code 2, a sentence with the line, nothing written.
func TestLampRefuses(t *testing.T) {
	dir := t.TempDir()
	good := demoFile(t, demo.LampFile)
	bad := filepath.Join(dir, "bad.ies")
	text := strings.Replace(string(demo.File(demo.LampFile)), "2232.3", "many", 1)
	if err := os.WriteFile(bad, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	svg := filepath.Join(dir, "curve.svg")
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{bad, "--svg", svg}, "bad.ies: line 18: \"many\" is no number"},
		{[]string{filepath.Join(dir, "none.ies")}, "cannot be opened"},
		{[]string{"--per-lumen", "red+blue", "--svg", svg, good}, "red and blue"},
		{[]string{"--per-lumen", "14", good}, "14 µmol per lumen"},
		{[]string{"--per-lumen", "NaN", good}, "wanted"},
		{[]string{"--turn", "1000", good}, "--turn"},
		{[]string{"--turn", "NaN", good}, "--turn"},
		{nil, "takes one photometric file"},
	} {
		refuses(t, tt.want, append([]string{"lamp"}, tt.args...)...)
	}
	if _, err := os.Stat(svg); err == nil {
		t.Error("a curve was written all the same")
	}
}
