package measurand_test

import (
	"errors"
	"math"
	"testing"

	"underlamp/app/measurand"
)

func TestNamed(t *testing.T) {
	for word, want := range map[string]measurand.Quantity{
		"PPFD": measurand.PPFD, "ppfd": measurand.PPFD, "temperature": measurand.AirTemperature, "Leaf-Temperature": measurand.LeafTemperature, "root temperature": measurand.SolutionTemperature,
		"CO₂": measurand.CO2, "lamp_state": measurand.Lamp, "ph": measurand.PH, "RH": measurand.Humidity, "wetness": "",
	} {
		m, ok := measurand.Named(word)
		if m.Quantity != want || ok != (want != "") {
			t.Errorf("%q is %q, want %q", word, m.Quantity, want)
		}
	}
	for _, m := range measurand.All() {
		if got, ok := measurand.Of(m.Quantity); !ok || got.Quantity != m.Quantity || !(m.Low < m.High) {
			t.Errorf("%+v", m)
		}
		if _, ok := measurand.Named(string(m.Quantity)); !ok {
			t.Errorf("%s is not found by its own name", m.Quantity)
		}
	}
}

func TestConversion(t *testing.T) {
	light, _ := measurand.Of(measurand.PPFD)
	c, err := light.Conversion("klx", 0.018)
	if err != nil || math.Abs(c.Base(10)-180) > 1e-9 { // 10 000 lx · 0.018
		t.Errorf("10 klx are %g, %v", c.Base(10), err)
	}
	_, err = light.Conversion("lx", 0)
	if bad, ok := errors.AsType[*measurand.UnitError](err); !ok || !bad.Lux {
		t.Errorf("lux without a factor: %v", err)
	}
	if _, err := light.Conversion("Cel", 1); err == nil || err.Error() != `"Cel" is no unit of PPFD; it is read in µmol/m²/s, lx, klx` {
		t.Error(err)
	}
}
