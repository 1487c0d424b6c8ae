package benchfile_test

import (
	"strings"
	"testing"

	"underlamp"
	"underlamp/formats/benchfile"
)

const small = "underlamp: 1\nspace: {width: 60 cm, depth: 50 cm, height: 40 cm}\nlamps: [{at: [30 cm, 20 cm], height: 30 cm, watts: 40 W}]\nplants: {grid: {columns: 3, rows: 2}}\n"

// What is said of the room is read in any unit; what is not said is marked as nobody's word.
func TestRoom(t *testing.T) {
	t.Parallel()
	b := read(t, small+`air: {altitude: 1640 ft}
electricity: 0.30 EUR/kWh
room:
  volume: 424 ft³
  leak: {value: 0.4 /h, from: measured}
  heat loss: 8 W/K
  other power: 0.03 kW
  outside: {temperature: 50 °F, humidity: 80 %, co2: 430 ppm}
  dehumidifier: {removes: 21 pints/d, efficiency: 1.8 L/kWh, temperature: 65 °F, humidity: 60 %}
  cooling: 3.5
  co2 price: 2.50 EUR/kg
`)
	r := b.Room
	within := func(what string, got, want float64) {
		t.Helper()
		if d := got - want; d > 1e-3*want || d < -1e-3*want {
			t.Errorf("%s %g, want %g", what, got, want)
		}
	}
	within("altitude", float64(b.Air.Altitude.Value), 499.9)
	within("volume", float64(r.Volume.Value), 12.006)
	within("leak", float64(r.Leak.Value), 0.4)
	within("heat loss", float64(r.HeatLoss.Value), 8)
	within("others", float64(r.Others.Value), 30)
	within("outside", float64(r.Outside.Temperature.Value), 10)
	within("CO2", float64(r.OutsideCO2.Value), 430)
	within("litres", float64(r.Drier.Litres.Value), 9.937)
	within("label", float64(r.Drier.RatedC.Value), 18.333)
	within("cooling", r.Cooling.Value, 3.5)
	within("price of CO2", r.CO2Price.Value, 2.5)
	if r.Leak.Origin != underlamp.Measured || r.Volume.Origin != underlamp.Stated {
		t.Errorf("origins %v, %v", r.Leak.Origin, r.Volume.Origin)
	}
	d := read(t, small)
	for what, is := range map[string]bool{"volume": d.Room.Volume.IsDefault(), "leak": d.Room.Leak.IsDefault(), "outside": d.Room.Outside.Temperature.IsDefault(), "machine": d.Room.Drier.Litres.IsDefault(), "cooling": d.Room.Cooling.IsDefault(), "altitude": d.Air.Altitude.IsDefault(), "price": d.Room.CO2Price.IsDefault()} {
		if !is {
			t.Errorf("the %s that nobody said is no default", what)
		}
	}
	within("volume of the bench alone", float64(d.Room.Volume.Value), 0.12)
}

func TestRoomProblems(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"room: {volume: 12 m}":                   "measures a length",
		"room: {leak: often}":                    "does not begin with a number",
		"room: {cooling: cold}":                  "a number such as 3",
		"room: {cooling: 300}":                   "no number from 0.2 to 20",
		"room: {co2 price: 2 EUR}":               "",
		"room: {co2 price: 2 EUR/head}":          "is not counted by /kg",
		"room: {dehumidifier: {removes: 0 L/d}}": "",
		"room: {outside: {temperature: 90 °C}}":  "",
		"room: {volum: 12 m³}":                   "volume",
		"air: {altitude: 9000 m}":                "",
		"room: 12 m³":                            "",
		"room: {volume: .inf m³}":                "",
	} {
		b, problems, err := benchfile.Read(strings.NewReader(small + text + "\n"))
		if err != nil || b != nil || !problems.HasErrors() || !strings.Contains(problems.Render("b.yaml", []byte(small+text+"\n"), false), want) {
			t.Errorf("%s: %v, want an error with %q, got %v", text, b != nil, want, problems)
		}
	}
}
