package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/science/crops"
	"underlamp/wire"
)

func TestCrops(t *testing.T) {
	code, out, _ := run(t, "", "crops")
	if code != 0 {
		t.Fatalf("code %d", code)
	}
	for _, c := range crops.All() {
		if !strings.Contains(out, c.Name) {
			t.Errorf("the list has no %s:\n%s", c.Name, out)
		}
		code, one, errs := run(t, "", append([]string{"crops"}, strings.Fields(c.Name)...)...)
		if code != 0 || errs != "" {
			t.Errorf("%s: code %d, %s", c.Name, code, errs)
		}
		flat := strings.Join(strings.Fields(one), " ")
		for _, f := range c.Facts {
			if !strings.Contains(flat, f.Name+": "+f.Text) {
				t.Errorf("%s: %s is not told as %q", c.Name, f.Name, f.Text)
			}
			for _, key := range f.Sources {
				if !strings.Contains(one, "\n  "+key+"  ") {
					t.Errorf("%s: the source %s is not spelt out", c.Name, key)
				}
			}
		}
		if !c.Supported() && !strings.Contains(flat, "growth not supported by data.") {
			t.Errorf("%s is not refused:\n%s", c.Name, one)
		}
	}
	for _, args := range [][]string{{"crops", "fennel"}, {"crops", "lettuce"}, {"crops", "--json", "no such crop"}} {
		if code, out, errs := run(t, "", args...); code != 2 || out != "" || !strings.Contains(errs, "romaine") {
			t.Errorf("%v: code %d, %q, %q", args, code, out, errs)
		}
	}
}

func TestCropsAsJSON(t *testing.T) {
	var all cropsOut
	_, out, _ := run(t, "", "crops", "--json")
	if err := json.Unmarshal([]byte(out), &all); err != nil || len(all.Crops) != len(crops.All()) {
		t.Fatal(len(all.Crops), err)
	}
	var one wire.Crop
	_, out, _ = run(t, "", "crops", "--json", "cos")
	if err := json.Unmarshal([]byte(out), &one); err != nil {
		t.Fatal(err)
	}
	entering := 0
	for _, f := range one.Facts {
		if (f.Value != nil) != (f.Status == "number") {
			t.Errorf("%s has the status %s and the value %v", f.Name, f.Status, f.Value)
		}
		if f.Outlook {
			entering++
		}
	}
	if one.Name != "romaine" || one.HeadType != "romaine" || !one.Growth.Supported || entering != 1 {
		t.Errorf("%+v", one)
	}
}

// Every command that needs an outlook refuses another species: code 1, for nothing is
// wrong with the file, and no figure. What is of light alone works.
func TestOtherSpecies(t *testing.T) {
	file := filepath.Join(t.TempDir(), "spinach.yaml")
	text := strings.NewReplacer("species: lettuce", "species: spinach", "  type: butterhead\n", "").Replace(string(demo.File("tier-3-bottom.yaml")))
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, verb := range []string{"outlook", "best", "plan", "doubt", "raise"} {
		code, out, errs := run(t, "", verb, file)
		if code != 1 || out != "" || !strings.Contains(errs, "growth and burn of spinach cannot be forecast") {
			t.Errorf("%s: code %d, %q, %q", verb, code, out, errs)
		}
	}
	for _, args := range [][]string{{"light", file}, {"check", file}, {"aim", file, "--target", "120 µmol/m²/s"}} {
		code, out, errs := run(t, "", args...)
		if code != 0 || out == "" || !strings.Contains(errs, "warning: crop.species: growth and tipburn of spinach are not supported by data") {
			t.Errorf("%v: code %d, %q", args, code, errs)
		}
		if strings.Contains(out, "butterhead") {
			t.Errorf("%v: a spinach has a head type:\n%s", args, out)
		}
	}
	code, out, errs := run(t, "", "report", "--json", file)
	if code != 0 || !strings.Contains(out, `"outlook_refused": "growth and burn of spinach`) || strings.Contains(out, "fresh mass of a head") {
		t.Errorf("report: code %d, %s", code, errs)
	}
	page := filepath.Join(t.TempDir(), "spinach.html")
	if code, _, errs := run(t, "", "report", file, "-o", page); code != 0 {
		t.Fatalf("report: code %d, %s", code, errs)
	}
	html, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Growth and burn of spinach are not forecast", "mean PPFD", "Baumbauer2019", "heart closing"} {
		if !strings.Contains(string(html), want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if strings.Contains(string(html), "chance of inner tipburn") {
		t.Error("the report of spinach has a chance of burn")
	}
}
