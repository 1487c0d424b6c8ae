package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
)

// The header of the demo lamp says what it was made of: 105 µmol/s and the
// shares of its parts.
func TestSpectrumOfTheDemoLamp(t *testing.T) {
	file := demoFile(t, demo.LampSpectrum)
	svg := filepath.Join(t.TempDir(), "a.svg")
	var v struct {
		PPFD  *float64 `json:"ppfd_umol_m2_s"`
		Bands []struct {
			Name    string
			To      float64 `json:"to_nm"`
			Photons float64
			Unit    string
		}
		Figures []struct {
			Name    string
			Value   *float64
			Working struct{ Formula string }
		}
		Efficacy struct{ Verdict string }
		LuxMeter string `json:"lux_meter"`
	}
	inJSON(t, &v, "spectrum", "--json", "--svg", svg, "--efficacy", "2.5 µmol/J", file)
	par := v.Bands[6]
	// Written with five decimals every second nm: 1 in 2000.
	if par.Name != "PAR" || math.Abs(par.Photons-105) > 0.05 || par.Unit != "µmol/s" {
		t.Errorf("PAR is %+v, want 105 µmol/s", par)
	}
	if v.PPFD != nil || v.Efficacy.Verdict != "plausible" || v.LuxMeter != "usable" {
		t.Errorf("PPFD %v, efficacy %s, lux meter %s", v.PPFD, v.Efficacy.Verdict, v.LuxMeter)
	}
	for _, f := range v.Figures {
		if f.Value == nil || f.Working.Formula == "" {
			t.Errorf("%s: value %v, formula %q", f.Name, f.Value, f.Working.Formula)
		}
	}
	picture, err := os.ReadFile(svg)
	if err != nil || !strings.Contains(string(picture), "<svg") || !strings.Contains(string(picture), "far-red") {
		t.Errorf("the picture: %v, %d bytes", err, len(picture))
	}
}

func TestSpectrumAsText(t *testing.T) {
	file := demoFile(t, demo.LampSpectrum)
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{file}, []string{"Hollin bar 42", "700–750", "700–800", "655–665 : 725–735 nm", "600–700 : 700–800 nm", "Mancinelli 1994", "McCree 1972", "begin at 380 nm"}},
		{[]string{"--led", "450:20:15, 660:18:85"}, []string{"lux meter is useless", "over 1000", "none", "No colour temperature"}},
		{[]string{"--led", "450:20:5,660:18:95", "--ppfd", "150", "--species", "butterhead"}, []string{"7.5", "The sources do not agree", "trial of this lamp on this cultivar", "Voutsinos"}},
		{[]string{"--led", "660:18:40", file}, []string{"with diodes", "60 % of the photons"}},
		{[]string{"--led", "450:20:1,660:18:1"}, []string{"add to 2"}},
		{[]string{"--led", "730:25:100"}, []string{"mean little"}},
		{[]string{"--photons", file}, []string{"your word was taken"}},
		{[]string{"--working", file}, []string{"formula", "Mancinelli A."}},
		{[]string{"--led", "450:20:15,660:18:85", "--efficacy", "4.5"}, []string{"warning", "4.1"}},
	} {
		code, out, errs := run(t, "", append([]string{"spectrum"}, c.args...)...)
		if code != 0 {
			t.Errorf("%v: code %d: %s", c.args, code, errs)
		}
		for _, want := range c.want {
			if !strings.Contains(out, want) {
				t.Errorf("%v: %q is missing in\n%s", c.args, want, out)
			}
		}
	}
	// Shares by energy give another light: 15 W of 450 nm hold 15·450, 85 W of 660
	// nm 85·660 photons, so 10.7 % are blue. Diodes are narrow: half a digit.
	_, out, _ := run(t, "", "spectrum", "--shares", "energy", "--led", "450:20:15,660:18:85")
	if !strings.Contains(out, "10.7 %") {
		t.Errorf("shares by energy:\n%s", out)
	}
	// Standard input, and a basis that only the person knows.
	const bare = "nm value\n400 1\n500 1\n"
	rows := "nm value\n"
	for nm := 380; nm <= 780; nm += 10 {
		rows += string(rune('0'+nm/100)) + string(rune('0'+nm/10%10)) + "0 1\n"
	}
	if code, out, errs := run(t, rows, "spectrum", "--energy", "-"); code != 0 || !strings.Contains(out, "27.3 %") {
		// Equal energy: the photons of 400 to 500 nm are (500²−400²)/(700²−400²).
		t.Errorf("code %d: %s %s", code, out, errs)
	}
	// Flat photons of 400 to 700 nm have a third in blue; 60 % of that is a fifth.
	flat := "nm value\n399.99 0\n400 1\n"
	for nm := 410; nm <= 700; nm += 10 {
		flat += string(rune('0'+nm/100)) + string(rune('0'+nm/10%10)) + "0 1\n"
	}
	if code, out, errs := run(t, flat+"700.01 0\n", "spectrum", "--photons", "--led", "660:18:40", "-"); code != 0 || !strings.Contains(out, "20.0 %") {
		t.Errorf("code %d: %s %s", code, out, errs)
	}
	if code, _, errs := run(t, rows, "spectrum", "-"); code != 2 || !strings.Contains(errs, "--energy or --photons") {
		t.Errorf("code %d: %s", code, errs)
	}
	if code, _, errs := run(t, bare, "spectrum", "--energy", "-"); code != 2 || !strings.Contains(errs, "only 2 wavelengths") {
		t.Errorf("code %d: %s", code, errs)
	}
}

// Wrong input: exit code 2, a sentence, nothing written.
func TestSpectrumWrongInput(t *testing.T) {
	file := demoFile(t, demo.LampSpectrum)
	svg := filepath.Join(t.TempDir(), "a.svg")
	for _, args := range [][]string{
		{}, {"a", "b"}, {"no-such-file.csv"}, {"--led", "450"}, {"--led", "450:20:0"}, {"--led", "900:20:1"}, {"--led", "450:20:100", file},
		{"--energy", "--photons", file}, {"--shares", "lumens", file}, {"--ppfd", "-3", file}, {"--ppfd", "3 kg", file}, {"--ppfd", "NaN", file},
		{"--efficacy", "5.6", file}, {"--efficacy", "4.9", file}, {"--no-such-option", file},
	} {
		refuses(t, "", append([]string{"spectrum", "--svg", svg}, args...)...)
	}
	if _, err := os.Stat(svg); err == nil {
		t.Error("a picture was written")
	}
}
