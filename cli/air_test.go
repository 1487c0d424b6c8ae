package cli

import (
	"math"
	"strings"
	"testing"
)

// Air of a bench: the answer, what if, and the figures for programs.
func TestAirOfABench(t *testing.T) {
	file := demoFile(t, "tier-2-middle.yaml")
	var now, then struct {
		WhatIf  bool `json:"what_if"`
		Figures []struct {
			Name  string
			Value float64
		}
		Days []struct{ Day int }
		Ways []struct{ Key string }
		Fan  struct {
			Mean float64 `json:"mean_at_plants_m_s"`
		}
		Readings struct{ N int }
	}
	inJSON(t, &now, "air", file, "--json")
	inJSON(t, &then, "air", file, "--night-humidity", "90 %", "--blades", "12 cm", "--flow", "90 m³/h", "--distance", "60 cm", "--readings", "0.2, 0.3 m/s", "--json")
	if now.WhatIf || !then.WhatIf || len(now.Days) == 0 || len(now.Ways) != 3 || then.Fan.Mean <= 0 || then.Readings.N != 2 {
		t.Errorf("%+v, %+v", now, then)
	}
	value := func(name string) (a, b float64) {
		a, b = math.NaN(), math.NaN()
		for _, f := range now.Figures {
			if f.Name == name {
				a = f.Value
			}
		}
		for _, f := range then.Figures {
			if f.Name == name {
				b = f.Value
			}
		}
		return a, b
	}
	if a, b := value("VPD of the air by night"); !(b < a) {
		t.Errorf("moister nights pull with %g kPa, before %g", b, a)
	}
	if a, b := value("water to remove by night"); !(b < a) {
		t.Errorf("moister nights: %g g/h, before %g", b, a)
	}
	code, out, errs := run(t, "", "air", file, "--day", "7", "--co2", "1000 ppm", "--volume", "12 m³", "--units", "us", "--working")
	for _, want := range []string{"Ways to hold this air", "On day 7", "pints/d", "CO2 can kill", "5 000 ppm", "A bottle of 5 kg", "residual-current", "°F"} {
		if code != 0 || !strings.Contains(out, want) {
			t.Errorf("code %d, without %q: %s", code, want, errs)
		}
	}
	refuses(t, "--night-humidity", "air", file, "--night-humidity", "wet")
	refuses(t, "Humidity by night must be from", "air", file, "--night-humidity", "300 %")
	refuses(t, "--blades", "air", file, "--flow", "90 m³/h")
	refuses(t, "distance", "air", file, "--blades", "12 cm", "--flow", "90 m³/h")
	refuses(t, "reading 2", "air", file, "--readings", "0.2 m/s, fast")
	refuses(t, "moist air by itself", "air", file, "--temperature", "20 °C")
	refuses(t, "metric or us", "air", file, "--units", "old")
}

func TestMoistAir(t *testing.T) {
	var out struct {
		Figures []struct {
			Name  string
			Value float64
			Unit  string
		}
	}
	inJSON(t, &out, "air", "--temperature", "22 °C", "--humidity", "70 %", "--json")
	// Computed outside this project, see the humidity vectors of package moistair.
	want := map[string]float64{"dew point": 16.277, "vapour pressure deficit": 0.7932, "enthalpy": 51.56, "mixing ratio": 11.575}
	for _, f := range out.Figures {
		if w, ok := want[f.Name]; ok {
			if math.Abs(f.Value/w-1) > 0.0015 {
				t.Errorf("%s: %g %s, want %g", f.Name, f.Value, f.Unit, w)
			}
			delete(want, f.Name)
		}
	}
	if len(want) > 0 {
		t.Errorf("missing %v", want)
	}
	refuses(t, "one measure of moisture", "air", "--temperature", "22 °C")
	refuses(t, "both given", "air", "--temperature", "22 °C", "--humidity", "50 %", "--vpd", "1 kPa")
	refuses(t, "at most 22 °C", "air", "--temperature", "22 °C", "--dew-point", "25 °C")
	refuses(t, "needs a bench file, or --temperature", "air")
	refuses(t, "of a bench", "air", "--temperature", "22 °C", "--humidity", "50 %", "--leak", "1 /h")
}
