package cli

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAim(t *testing.T) {
	file, page := demoFile(t, "tier-2-middle.yaml"), filepath.Join(t.TempDir(), "curve.html")
	code, out, errs := run(t, "", "aim", file, "--target", "150 µmol/m²/s", "--tariff", "07:00-23:00 0.34, 23:00-07:00 0.19", "--html", page)
	if code != 0 {
		t.Fatalf("code %d: %s", code, errs)
	}
	for _, want := range []string{"now", "proposed", "every plant", "light from", "What limits", "Runners-up", "Electricity against evenness", "90 % sure", "common practice"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing:\n%s", want, out)
		}
	}
	html, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"<svg", "Before and after", "The numbers as a table", "Mains and water"} {
		if !strings.Contains(string(html), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, bad := range []string{"<script", " style=", "<link", "NaN"} {
		if strings.Contains(string(html), bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
}

func TestAimAsJSON(t *testing.T) {
	var v struct {
		Found bool
		After struct {
			Lamps []struct{ Dimming float64 }
			DLI   float64 `json:"dli_mean_mol_m2_d"`
		}
	}
	inJSON(t, &v, "aim", "--json", demoFile(t, "tier-2-middle.yaml"), "--dli", "9 mol/m²/d", "--for", "mean", "--one-dimmer", "--dim-step", "none")
	if !v.Found || math.Abs(v.After.DLI-9) > 1e-3 || len(v.After.Lamps) != 2 || v.After.Lamps[0] != v.After.Lamps[1] {
		t.Errorf("%+v", v)
	}
}

func TestMatchAndRaise(t *testing.T) {
	a, b := demoFile(t, "tier-1-top.yaml"), demoFile(t, "tier-2-middle.yaml")
	code, out, errs := run(t, "", "match", a, b)
	if code != 0 {
		t.Fatalf("code %d: %s", code, errs)
	}
	for _, want := range []string{"matched", "one meter read both", "more than 5 % apart"} {
		if !strings.Contains(out, want) {
			t.Errorf("match does not say %q:\n%s", want, out)
		}
	}
	if code, out, errs = run(t, "", "match", b, "--first", "P1,P2,P7,P8", "--second", "P5,P6,P11,P12", "--json"); code != 0 || !strings.Contains(out, `"second_over_first"`) {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
	page := filepath.Join(t.TempDir(), "calendar.html")
	if code, out, errs = run(t, "", "raise", a, "--html", page); code != 0 || !strings.Contains(out, "2026-10-06") || !strings.Contains(out, "dim to") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
	if html, err := os.ReadFile(page); err != nil || !strings.Contains(string(html), "<svg") {
		t.Errorf("%v", err)
	}
	if code, out, errs = run(t, "", "raise", a, "--json"); code != 0 || !json.Valid([]byte(out)) {
		t.Errorf("code %d: %s", code, errs)
	}
}

// Wrong options: code 2 and a sentence that says what to write.
func TestWrongAims(t *testing.T) {
	file := demoFile(t, "tier-1-top.yaml")
	target := []string{"--target", "180 µmol/m²/s"}
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"aim", file}, "needs a target"},
		{[]string{"aim", file, "--target", "180"}, "unit is missing"},
		{[]string{"aim", file, "--target", "-5 µmol/m²/s"}, "not above 0"},
		{append([]string{"aim", file, "--dli", "9 mol/m²/d"}, target...), "one of them"},
		{append([]string{"aim", file, "--least", "money"}, target...), "electricity"},
		{append([]string{"aim", file, "--most", "light"}, target...), "even or within"},
		{append([]string{"aim", file, "--least", "electricity", "--most", "even"}, target...), "one of them"},
		{append([]string{"aim", file, "--for", "some"}, target...), "mean"},
		{append([]string{"aim", file, "--tariff", "07:00-23:00 0.34"}, target...), "has no price"},
		{append([]string{"aim", file, "--try-lamps", "many"}, target...), "2 to 6"},
		{append([]string{"aim", file, "--light-from", "18:00"}, target...), "go together"},
		{append([]string{"aim", file, "--light-from", "18:05", "--light-until", "20:00"}, target...), "quarter"},
		{append([]string{"aim", file, "--canopy", "30 cm", "--clearance", "30 cm"}, target...), "60 cm"},
		{append([]string{"aim", file, "--dark", "12 h"}, target...), "more than a day"},
		{[]string{"match", file}, "--first"},
		{[]string{"match", file, file, file}, "two bench files"},
		{[]string{"match", file, file, "--equal", "colour"}, "ppfd or dli"},
		{[]string{"match", file, "--first", "P1", "--second", "Q9"}, "Q9"},
		{[]string{"match", file, "--first", "P1, P2", "--second", "P2"}, "both groups"},
		{[]string{"match", file, file, "--level", "200 µmol/m²/s", "--highest"}, "either"},
		{[]string{"raise", file, "--step", "2"}, "unit is missing"},
		{[]string{"raise", file, "--clearance", "80 cm"}, "limits of the bench"},
		{[]string{"raise", file, "--within", "70 %"}, "50 %"},
	} {
		refuses(t, tt.want, tt.args...)
	}
}
