package logged_test

import (
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // zones, whatever the machine has

	"underlamp"
	"underlamp/app/logged"
	"underlamp/formats/benchfile"
)

const bench = `underlamp: 1
name: a shelf
space: {width: 1 m, depth: 1 m, height: 50 cm}
lamps: [{at: [50 cm, 50 cm], height: 30 cm, flux: 100 µmol/s, watts: 40 W}]
plants: {at: [[50 cm, 50 cm]]}
air: {day: {temperature: 20 °C}}
`

func shelf(t testing.TB) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.Read(strings.NewReader(bench))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	return b
}

// table is three days, a row every ten minutes: lamps from 06:00 to 22:00 of the zone
// at 240 µmol/m²/s, 24.5 °C and 54 %; in the dark 15 °C and 82 %.
func table(zone *time.Location) logged.Ask {
	a := logged.Ask{Zone: zone}
	temp, rh, ppfd := logged.Column{Name: "Temp", Unit: "°C"}, logged.Column{Name: "RH", Unit: "%"}, logged.Column{Name: "PPFD", Unit: "µmol/m²/s"}
	at := time.Date(2026, 6, 1, 0, 0, 0, 0, zone)
	for ; at.Before(time.Date(2026, 6, 4, 0, 0, 0, 0, zone)); at = at.Add(10 * time.Minute) {
		a.Times = append(a.Times, at.UTC())
		h := at.In(zone).Hour()
		if h >= 6 && h < 22 {
			temp.Values, rh.Values, ppfd.Values = append(temp.Values, 24.5), append(rh.Values, 54), append(ppfd.Values, 240)
		} else {
			temp.Values, rh.Values, ppfd.Values = append(temp.Values, 15), append(rh.Values, 82), append(ppfd.Values, 0)
		}
	}
	a.Columns = []logged.Column{temp, rh, ppfd}
	return a
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

// DLI is the definition, 240 · 16 · 3600 / 10⁶. The deficits are e_s(1 − RH) with the
// printed e_s of Allen1998, chapter 3, example 3: 3.075 kPa at 24.5 °C, 1.705 at 15 °C.
func TestThreeDays(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	a := table(zone)
	a.Bench = shelf(t)
	out, err := logged.Read(a)
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Days) != 3 || out.Step != 10*time.Minute || out.Gaps != 0 || len(out.Uses) != 3 {
		t.Fatalf("%d days, %v, %d gaps, %v", len(out.Days), out.Step, out.Gaps, out.Uses)
	}
	for _, d := range out.Days {
		near(t, d.Date+" DLI", d.DLI, 13.824, 1e-9)
		near(t, d.Date+" hours", d.LightHours, 16, 1e-9)
		near(t, d.Date+" lit", float64(d.Light.Temperature), 24.5, 1e-9)
		near(t, d.Date+" lit VPD", float64(d.Light.VPD), 3.075*0.46, 0.0005*0.46)
		near(t, d.Date+" dark VPD", float64(d.Dark.VPD), 1.705*0.18, 0.0005*0.18)
		near(t, d.Date+" covered", d.Covered, 1, 1e-9)
	}
	if !strings.Contains(out.Block, "humidity: {value: 82 %, from: measured}") || out.Lines[0].Stated != "20 °C (stated)" || !strings.Contains(out.Lines[1].Stated, "default") {
		t.Errorf("%s\n%+v", out.Block, out.Lines)
	}
	// The lines are those of the bench file: written into one they are read as measured.
	text := strings.Replace(bench, "air: {day: {temperature: 20 °C}}\n", out.Block, 1)
	b, problems, err := benchfile.Read(strings.NewReader(text))
	if err != nil || problems.HasErrors() || math.Abs(float64(b.Air.Night.Humidity.Value)-0.82) > 1e-9 || b.Air.Day.Temperature.Origin != underlamp.Measured {
		t.Errorf("%v %v %+v", err, problems, b.Air)
	}
	// Without the sensor of light the hours by the clock say the same.
	b2 := a
	b2.As, b2.On, b2.Off = map[string]logged.Role{"PPFD": logged.Nothing}, 6*time.Hour, 22*time.Hour
	dark, err := logged.Read(b2)
	if err != nil || !math.IsNaN(dark.Days[1].DLI) || dark.Days[1].Light.VPD != out.Days[1].Light.VPD {
		t.Errorf("%v %+v, want %+v", err, dark.Days[1].Light, out.Days[1].Light)
	}
	b2.On, b2.Off = 0, 0
	whole, err := logged.Read(b2)
	if err != nil || whole.Block != "" || len(whole.Figures) == 0 {
		t.Errorf("without hours: %v, %q, %d figures", err, whole.Block, len(whole.Figures))
	}
}

// The order of rows and doubled rows change nothing; a gap is no reading.
func TestGapsAndOrder(t *testing.T) {
	a := table(time.UTC)
	a.Bench = shelf(t)
	n := len(a.Times)
	for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
		a.Times[i], a.Times[j] = a.Times[j], a.Times[i]
		for _, c := range a.Columns {
			c.Values[i], c.Values[j] = c.Values[j], c.Values[i]
		}
	}
	a.Times = append(a.Times, a.Times[5])
	for k := range a.Columns {
		a.Columns[k].Values = append(a.Columns[k].Values, a.Columns[k].Values[5])
	}
	out, err := logged.Read(a)
	if err != nil || out.Doubled != 1 {
		t.Fatal(err, out.Doubled)
	}
	near(t, "DLI", out.Days[2].DLI, 13.824, 1e-9)
	// Four hours of the second afternoon are missing.
	gone := table(time.UTC)
	gone.Bench = a.Bench
	from := 24*6 + 14*6
	gone.Times = append(gone.Times[:from:from], gone.Times[from+24:]...)
	for k, c := range gone.Columns {
		gone.Columns[k].Values = append(c.Values[:from:from], c.Values[from+24:]...)
	}
	out, err = logged.Read(gone)
	if err != nil || out.Gaps != 1 || out.Days[1].Whole || !out.Days[0].Whole {
		t.Fatalf("%v, %d gaps, %+v", err, out.Gaps, out.Days)
	}
	near(t, "mean DLI", out.Figures[0].Value, 13.824, 1e-9)
	near(t, "covered", out.Days[1].Covered, 20.0/24, 0.01)
}

func TestColumns(t *testing.T) {
	for _, c := range []struct {
		name, unit string
		want       logged.Role
	}{
		{"Temp", "°C", logged.Temperature}, {"Ch 1", "°F", logged.Temperature}, {"Air", "", logged.Temperature}, {"RH", "%", logged.Humidity},
		{"Luftfeuchte", "%", logged.Humidity}, {"PAR", "", logged.Light}, {"Quantum", "µmol/m²/s", logged.Light}, {"CO2", "ppm", logged.CO2},
		{"Battery", "%", ""}, {"Part number", "", ""}, {"Voltage", "V", ""},
	} {
		a := table(time.UTC)
		a.Bench = shelf(t)
		v := make([]float64, len(a.Times))
		for i := range v {
			v[i] = 50
		}
		a.Columns = []logged.Column{{Name: c.name, Unit: c.unit, Values: v}}
		out, err := logged.Read(a)
		if c.want == "" {
			if err == nil {
				t.Errorf("%q in %q was taken for %v", c.name, c.unit, out.Uses)
			}
			continue
		}
		if err != nil || out.Uses[0].Role != c.want {
			t.Errorf("%q in %q: %v, %v", c.name, c.unit, out, err)
		}
	}
}

func TestRefused(t *testing.T) {
	with := func(change func(a *logged.Ask)) error {
		a := table(time.UTC)
		a.Bench = shelf(t)
		change(&a)
		_, err := logged.Read(a)
		return err
	}
	for want, change := range map[string]func(a *logged.Ask){
		`column "Sensor" is not in the table`: func(a *logged.Ask) { a.As = map[string]logged.Role{"Sensor": logged.CO2} },
		`holds 200`:                           func(a *logged.Ask) { a.Columns[0].Values[3] = 200 },
		`which is none of humidity`:           func(a *logged.Ask) { a.As = map[string]logged.Role{"Temp": logged.Humidity} },
		`is the second that reads`: func(a *logged.Ask) {
			a.As = map[string]logged.Role{"PPFD": logged.Temperature}
			a.Columns[2].Unit = "°C"
		},
		`fewer than three times`:  func(a *logged.Ask) { a.Times = a.Times[:2] },
		`no column could be told`: func(a *logged.Ask) { a.Columns = a.Columns[:1]; a.Columns[0].Name, a.Columns[0].Unit = "x", "" },
	} {
		if err := with(change); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
