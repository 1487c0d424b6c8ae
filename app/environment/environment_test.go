package environment_test

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/science/reference"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func bench(t *testing.T, more string) *underlamp.Bench {
	t.Helper()
	b, problems, err := benchfile.ReadWith(strings.NewReader(string(demo.File("tier-2-middle.yaml"))+more), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatal(err, problems)
	}
	return b
}

// What guidelines ask for, in their headings, with the items that stand for each. The list is
// not made from that of the package: it holds it.
//
// Source of the first: Krizek2000, abstract: photosynthetic photon flux, air temperature and
// atmospheric moisture first, then CO2, spectral distribution and soil temperature; in solution
// culture hydrogen ion concentration, electrical conductivity and dissolved oxygen; radiation,
// temperature, moisture, CO2 and air velocity at the top of the canopy.
//
// Source of the second: Poorter2012, table 2, growth chambers, as a page on phenotyping standards
// prints it: PPFD in several points, its daily sum, hours of light, kind of lamps and R:FR, a map
// of light, air temperature, temperature of organs and soil, humidity for the VPD, and how much
// water how often.
//
// The third is from memory: the rows of the table of TibbittsSagerKrizek2000 and EP411
// (radiation, spectrum, air, soil and liquid temperature, moisture, air velocity, CO2, watering,
// substrate, nutrition, pH, conductivity) with those that ICCEG2004 has besides (lamp type,
// photoperiod, direction of the air, room).
var asked = map[string]map[string][]environment.Key{
	"Krizek2000": {
		"photosynthetic photon flux": {environment.PPFD}, "air temperature": {environment.AirDay, environment.AirNight}, "atmospheric moisture": {environment.HumidityDay, environment.HumidityNight},
		"CO2": {environment.CO2}, "spectral distribution": {environment.Spectrum}, "soil temperature": {environment.Root}, "pH": {environment.PH}, "conductivity": {environment.EC},
		"dissolved oxygen": {environment.Oxygen}, "air velocity": {environment.AirSpeed},
	},
	"Poorter2012": {
		"PPFD": {environment.PPFD}, "daily sum": {environment.DLI}, "hours of light": {environment.Photoperiod}, "lamps": {environment.Lamps}, "R:FR": {environment.Spectrum}, "map of light": {environment.Evenness},
		"air": {environment.AirDay, environment.AirNight}, "organs": {environment.Leaf}, "soil": {environment.Root}, "humidity": {environment.HumidityDay, environment.HumidityNight},
		"VPD": {environment.VPDDay, environment.VPDNight}, "water": {environment.Watering},
	},
	"EP411": {
		"radiation": {environment.PPFD, environment.OverTime}, "spectrum": {environment.Spectrum}, "air": {environment.AirDay, environment.AirNight}, "soil and liquid": {environment.Root},
		"moisture": {environment.HumidityDay, environment.HumidityNight}, "air velocity": {environment.AirSpeed}, "CO2": {environment.CO2}, "watering": {environment.Watering},
		"substrate": {environment.Substrate, environment.Container}, "nutrition": {environment.Composition}, "pH": {environment.PH}, "conductivity": {environment.EC},
	},
	"ICCEG2004": {
		"lamp type": {environment.Lamps}, "photoperiod": {environment.Photoperiod}, "direction": {environment.AirFlow}, "room": {environment.Room, environment.Space}, "PPFD": {environment.PPFD},
		"temperature": {environment.AirDay, environment.AirNight}, "humidity": {environment.HumidityDay, environment.HumidityNight}, "CO2": {environment.CO2}, "watering": {environment.Watering},
		"substrate": {environment.Substrate}, "nutrition": {environment.Composition, environment.PH, environment.EC},
	},
}

// Every item of every guideline is in the list, says that it is of that guideline, and comes out
// either told or among what is missing, with what would supply it.
func TestEveryItemIsToldOrMissing(t *testing.T) {
	bare := &underlamp.Bench{Lamps: []underlamp.Lamp{{Name: "lamp", Kind: "lamp"}}}
	for name, k := range map[string]environment.Known{"bare": {Bench: bare}, "demo": {Bench: bench(t, "")}, "full": full(t)} {
		table := environment.Of(k)
		rows := map[environment.Key]environment.Row{}
		for _, r := range table.Rows {
			rows[r.Key] = r
		}
		for guideline, items := range asked {
			for heading, keys := range items {
				for _, key := range keys {
					r, ok := rows[key]
					if !ok {
						t.Errorf("%s: %s asks for %s, and there is no row %q", name, guideline, heading, key)
						continue
					}
					if !slices.Contains(r.By, guideline) {
						t.Errorf("%q does not say that %s asks for it", key, guideline)
					}
				}
			}
		}
		for _, r := range table.Rows {
			told := r.State != environment.Missing
			if told != (r.Value != "") {
				t.Errorf("%s: %q is %q with the value %q", name, r.Key, r.State, r.Value)
			}
			// What follows from others or is asked for only where it matters has no gap of its own.
			follows := slices.Contains([]environment.Key{environment.DLI, environment.Evenness, environment.VPDDay, environment.VPDNight, environment.Leaf}, r.Key)
			if !told && len(r.Gaps) == 0 && !follows {
				t.Errorf("%s: %q is missing, and nothing says how to get it", name, r.Key)
			}
			if slices.Contains([]environment.State{environment.SetOnly, environment.Assumed}, r.State) && len(r.Gaps) == 0 && !follows && r.Key != environment.Photoperiod {
				t.Errorf("%s: %q is %q, and nothing says how to measure it", name, r.Key, r.State)
			}
			for _, g := range r.Gaps {
				if g.What == "" || g.How == "" || g.Item != r.Name {
					t.Errorf("%s: a gap of %q says %+v", name, r.Key, g)
				}
			}
		}
	}
	for _, it := range environment.Items() {
		for _, key := range it.By {
			if _, ok := reference.Cite(key); !ok {
				t.Errorf("%q is asked for by %s, which no bibliography has", it.Key, key)
			}
		}
	}
}

// A default is not shown as set, and what is set not as measured.
func TestStates(t *testing.T) {
	b := bench(t, "")
	row := func(k environment.Known, key environment.Key) environment.Row {
		rows := environment.Of(k).Rows
		return rows[slices.IndexFunc(rows, func(r environment.Row) bool { return r.Key == key })]
	}
	if r := row(environment.Known{Bench: b}, environment.AirDay); r.State != environment.SetOnly || r.Value != "21.5 °C" {
		t.Errorf("air by day is %q, %q", r.State, r.Value)
	}
	b.Air.CO2.Origin = underlamp.Default
	if r := row(environment.Known{Bench: b}, environment.CO2); r.State != environment.Assumed {
		t.Errorf("a default is %q", r.State)
	}
	b.Air.Speed.Origin = underlamp.Measured
	r := row(environment.Known{Bench: b}, environment.AirSpeed)
	if r.State != environment.Measured {
		t.Errorf("a measured speed is %q", r.State)
	}
	var what []string
	for _, g := range r.Gaps {
		what = append(what, g.What)
	}
	if got := strings.Join(what, "; "); got != "the instrument, and when it was calibrated; where it was read; how often it was read" {
		t.Errorf("of a measured speed lacks %q", got)
	}
	b.Method.Instruments = []underlamp.Instrument{{Reads: underlamp.ObservedSpeed, Make: "hot wire", Calibrated: "2026-01-05", Place: "over ten heads", Often: "at start and end"}}
	if r := row(environment.Known{Bench: b}, environment.AirSpeed); len(r.Gaps) > 0 || r.Instrument != "hot wire, calibrated 2026-01-05" || r.Where != "over ten heads" {
		t.Errorf("with its instrument: %+v", r)
	}
	// Each gap that a field closes says which: one whose value then closes it.
	b.Method.Instruments[0].Often = ""
	if g := row(environment.Known{Bench: b}, environment.AirSpeed).Gaps; len(g) != 1 || g[0].Field != "method.instruments[0].often" {
		t.Errorf("without how often it was read: %+v", g)
	}
	for key, field := range map[environment.Key]string{environment.Seedlings: "method.seedlings", environment.AirFlow: "method.air flow", environment.Composition: "method.solution", environment.PH: "method.ph", environment.Watering: "method.watering"} {
		if key == environment.AirFlow {
			b.Air.Fan.Origin = underlamp.Default
		}
		if g := row(environment.Known{Bench: b}, key).Gaps; len(g) != 1 || g[0].Field != field {
			t.Errorf("%s: %+v, want the field %s", key, g, field)
		}
	}
}

const method = `
method:
  room: shared cellar, no barrier
  air flow: across
  seedlings: sown 2026-09-28
  container: net pots of 5 cm
  substrate: rockwool
  watering: deep water
  solution: as the feed
  ph: 5.8
  oxygen: air stone
  instruments:
    - {reads: light, make: quantum meter, calibrated: 2026-05-04, place: on the planting surface, often: before the crop}
`

// full is the demo with two days of sensors of which the means are known, and all that is told.
func full(t *testing.T) environment.Known {
	t.Helper()
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	from := time.Date(2026, 10, 12, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(0, 0, 2)
	f := func(v float64) *float64 { return &v }
	// By the clock: lamps from 6:30 to 22:00, so that one hour of each day is split.
	lit := func(at time.Time) bool { m := at.Hour()*60 + at.Minute(); return m >= 390 && m < 1320 }
	for key, x := range map[string]struct {
		quantity, unit string
		read           func(at time.Time) float64
	}{
		"a/ppfd": {"PPFD", "µmol/m²/s", func(at time.Time) float64 { return map[bool]float64{true: 200}[lit(at)] }},
		"a/air":  {"air temperature", "°F", func(at time.Time) float64 { return map[bool]float64{true: 71.6, false: 64.4}[lit(at)] }}, // 22 and 18 °C
		"a/rh":   {"humidity", "%", func(at time.Time) float64 { return map[bool]float64{true: 60, false: 80}[lit(at)] }},
		"a/co2":  {"CO2", "ppm", func(at time.Time) float64 { return 400 + 100*float64(at.Day()-12) }},
		"a/lux":  {"PPFD", "lx", func(time.Time) float64 { return 9000 }},
	} {
		id, err := s.PutSensor(ctx, store.Sensor{Key: key, Bench: "tier-2-middle", Quantity: x.quantity, Unit: x.unit, X: f(0.6), Y: f(0.3), Height: f(0.15), Every: 10 * time.Minute, Note: "kind of " + key,
			Calibrations: []store.Calibration{{From: store.At(from.AddDate(0, -2, 0)), Gain: 1, By: "Ines"}}})
		if err != nil {
			t.Fatal(err)
		}
		var rs []store.Reading
		for at := from; at.Before(to); at = at.Add(10 * time.Minute) {
			rs = append(rs, store.Reading{Sensor: id, At: store.At(at), Value: x.read(at)})
		}
		if err := s.Append(ctx, rs); err != nil {
			t.Fatal(err)
		}
	}
	b := bench(t, method)
	log, err := environment.Recorded(ctx, s, "tier-2-middle", b, from, to, nil, time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	a, err := m.Answer(nil, 9)
	if err != nil {
		t.Fatal(err)
	}
	return environment.Known{Bench: b, Light: a, Log: log}
}

// Means by day and night are those of the readings, worked out by hand.
func TestRecorded(t *testing.T) {
	k := full(t)
	byName := map[string]environment.Series{}
	for _, s := range k.Log.Series {
		byName[s.Sensor] = s
	}
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	air := byName["a/air"]
	near("air by day", air.Day.Mean, 22)
	near("air by night", air.Night.Mean, 18)
	near("spread by day", air.Day.SD, 0)
	if air.Day.Hours != 30 || air.Night.Hours != 16 || air.All.Hours != 48 || k.Log.Split != 2 {
		t.Errorf("hours %d by day, %d by night, %d in all, %d split; want 30, 16, 48 and 2", air.Day.Hours, air.Night.Hours, air.All.Hours, k.Log.Split)
	}
	co2 := byName["a/co2"]
	near("CO2", co2.All.Mean, 450)
	near("its spread", co2.All.SD, math.Sqrt(48.0*2500/47))
	near("its lowest", co2.All.Low, 400)
	near("its highest", co2.All.High, 500)
	// FAO-56 (Allen and others 1998), table 2.3: e_s of 22 °C is 2.64 kPa, of 18 °C 2.06 kPa.
	if math.Abs(k.Log.VPDDay.Mean-2.64*0.4) > 0.01 || math.Abs(k.Log.VPDNight.Mean-2.06*0.2) > 0.01 {
		t.Errorf("VPD %v and %v kPa", k.Log.VPDDay.Mean, k.Log.VPDNight.Mean)
	}
	if byName["a/lux"].Wrong == "" {
		t.Error("lux under lamps of unknown colour were taken for light")
	}
	if air.Checked != "2026-08-12" || air.Checker != "Ines" || air.Make != "kind of a/air" {
		t.Errorf("the register says %+v", air)
	}
}

// A bench with all of it told lacks little, and its sentence counts right.
func TestFull(t *testing.T) {
	table := environment.Of(full(t))
	var left []string
	for _, g := range table.Gaps() {
		left = append(left, g.Item+": "+g.What)
	}
	want := []string{
		"Spectrum: the spectrum of the lamps",
		"Substrate or solution: set, not measured",
		"Air speed: set, not measured",
		"EC: set, not measured",
		"pH: the instrument, and when it was calibrated",
		"pH: where it was read",
		"pH: how often it was read",
	}
	if !slices.Equal(left, want) {
		t.Errorf("lacks\n%s\nwant\n%s", strings.Join(left, "\n"), strings.Join(want, "\n"))
	}
	if s := table.Sentence(); !strings.HasPrefix(s, "Of 28 things") || !strings.Contains(s, "7 particulars lack") {
		t.Error(s)
	}
	// Lit for 30 h, with two hours of switching, out of 48: 15.5 h a day.
	i := slices.IndexFunc(table.Rows, func(r environment.Row) bool { return r.Key == environment.Photoperiod })
	if r := table.Rows[i]; r.Value != "15.5 h" || r.State != environment.Measured {
		t.Errorf("the photoperiod is %q, %q", r.Value, r.State)
	}
	if testing.Verbose() {
		for _, r := range table.Rows {
			t.Logf("%-34s %-26s %s | %s | %s | %s | %s", r.Name, r.State, r.Value, r.Spread, r.Instrument, r.Where, r.Often)
		}
	}
}
