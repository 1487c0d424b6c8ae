package live_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/store"
)

// The line through three pairs is that of R 4.2.2, lm(c(2,3,6) ~ c(1,2,4)): intercept 0.5,
// slope 1.357143. One pair by hand.
func TestFromPairs(t *testing.T) {
	c, err := live.FromPairs(measurand.AirTemperature, []live.Pair{{Read: 1, True: 2}, {Read: 2, True: 3}, {Read: 4, True: 6}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", c.Calibration.Gain, 1.357143, 5e-7)
	near(t, "intercept", -c.Calibration.Gain*c.Calibration.Offset, 0.5, 1e-12)
	near(t, "worst", c.Worst, 2*1.357142857+0.5-3, 1e-6)
	s := store.Sensor{Calibrations: []store.Calibration{c.Calibration}}
	near(t, "true of 2", s.True(1, 2), 3.2142857, 1e-6)
	one, err := live.FromPairs(measurand.PPFD, []live.Pair{{Read: 200, True: 212}})
	if err != nil || math.Abs(one.Calibration.Gain-1.06) > 1e-12 || one.Calibration.Offset != 0 {
		t.Errorf("%+v, %v", one, err)
	}
	ice, err := live.FromPairs(measurand.AirTemperature, []live.Pair{{Read: 0.4, True: 0}})
	if err != nil || ice.Calibration.Gain != 1 || ice.Calibration.Offset != 0.4 {
		t.Errorf("%+v, %v", ice, err)
	}
	for want, pairs := range map[string][]live.Pair{
		"there is no pair":  nil,
		"tells no gain":     {{Read: 0, True: 5}},
		"read at one value": {{Read: 200, True: 212}, {Read: 200, True: 215}},
		"is no calibration": {{Read: 200, True: 2120}},
		"is two numbers":    {{Read: math.NaN(), True: 1}},
		"a gain of −":       {{Read: 1, True: 2}, {Read: 2, True: 1}},
	} {
		if _, err := live.FromPairs(measurand.PPFD, pairs); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want %q", pairs, err, want)
		}
	}
}

func TestDescribed(t *testing.T) {
	b := live.Bench{Key: "shelf", Bench: shelf(t, "")}
	m := func(v float64) *quantity.Metre { x := quantity.Metre(v); return &x }
	s, err := live.Described(store.Sensor{Key: "a", Unit: "Cel"}, live.Change{Reads: ptr("temperature"), Bench: &b, X: m(0.5), Y: m(0.3), Height: m(0.05), Every: ptr(time.Minute)})
	if err != nil || s.Quantity != "air temperature" || s.Bench != "shelf" || *s.X != 0.5 || *s.Height != 0.05 || s.Every != time.Minute || s.Key != "a" {
		t.Errorf("%+v, %v", s, err)
	}
	again, err := live.Described(s, live.Change{Note: ptr("moved")})
	if err != nil || again.Quantity != s.Quantity || again.Note != "moved" || again.Bench != "shelf" {
		t.Errorf("%+v, %v", again, err)
	}
	for want, c := range map[string]live.Change{
		"is nothing that is read here":    {Reads: ptr("wetness")},
		`"Cel" is no unit of humidity`:    {Reads: ptr("humidity")},
		"cannot stand −1 cm from the":     {X: m(-0.01)},
		"the bench ends at 60 cm":         {Bench: &b, Y: m(0.7)},
		"once a day or more often":        {Every: ptr(30 * time.Hour)},
		"nobody said in which unit it se": {Reads: ptr("pH"), Unit: ptr("")},
	} {
		if _, err := live.Described(store.Sensor{Key: "a", Unit: "Cel"}, c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	calibrated, err := live.WithCalibration(s, store.Calibration{From: 20, Gain: 1.1}, false)
	if err == nil {
		calibrated, err = live.WithCalibration(calibrated, store.Calibration{From: 10, Gain: 1.2}, false)
	}
	if err == nil {
		calibrated, err = live.WithCalibration(calibrated, store.Calibration{From: 20, Gain: 0.9}, false)
	}
	if err != nil || len(calibrated.Calibrations) != 2 || calibrated.Calibrations[0].From != 10 || calibrated.Calibrations[1].Gain != 0.9 || len(s.Calibrations) != 0 {
		t.Errorf("%+v, %v", calibrated.Calibrations, err)
	}
	if _, err := live.WithCalibration(s, store.Calibration{Gain: 0.018}, false); err == nil {
		t.Error("a gain of 0.018 was taken")
	}
	if _, err := live.WithCalibration(s, store.Calibration{Gain: 0.018}, true); err != nil {
		t.Errorf("a factor of 0.018: %v", err)
	}
}

// Under daylight one µmol/m²/s is 54 lx (ThimijanHeins1983, second-hand; that daylight and
// D65 differ by some per cent), so 10 800 lx are 200 µmol/m²/s. Without a spectrum lux tell
// nothing.
func TestLux(t *testing.T) {
	for _, known := range []bool{true, false} {
		b := shelf(t, "")
		if known {
			b.Lamps[0].Colour = &underlamp.LampColour{Name: "daylight", Spectrum: spectrum.Daylight(6504)}
		}
		w := newWorld(t, b, time.UTC)
		w.sensor(store.Sensor{Key: "lux", Quantity: "PPFD", Unit: "lx", Every: time.Minute})
		w.now = june.Add(time.Hour)
		w.read(june, w.now, time.Minute, map[string]func(time.Time) float64{"lux": always(10800)})
		x := w.board().Sensors[0]
		if !known {
			if len(x.Checks) != 1 || !strings.Contains(x.Checks[0].Text, "have no spectrum") || x.Last != nil {
				t.Errorf("%+v", x)
			}
			continue
		}
		near(t, "PPFD", *x.Last, 200, 0.05*200)
		if x.Sent != "lx" || x.Unit != "µmol/m²/s" {
			t.Errorf("%+v", x)
		}
	}
}

// Quiet hours over midnight and over the change of clocks, which went back at 3 on this
// night.
func TestQuietHours(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	w := newWorld(t, shelf(t, ""), zone)
	w.watching(underlamp.Watch{Zone: "Europe/Berlin", Quiet: &underlamp.Window{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute}})
	w.now = time.Date(2026, 10, 24, 12, 0, 0, 0, zone)
	w.board()
	end := time.Date(2026, 10, 25, 6, 30, 0, 0, zone)
	for at, quiet := range map[time.Time]bool{
		time.Date(2026, 10, 24, 21, 59, 0, 0, zone): false, time.Date(2026, 10, 24, 22, 0, 0, 0, zone): true,
		time.Date(2026, 10, 25, 0, 30, 0, 0, zone): true, end.Add(-time.Minute): true, end: false,
	} {
		until, got := w.engine.Quiet("shelf", at)
		if got != quiet || quiet && !until.Equal(end) {
			t.Errorf("at %v: %v until %v", at, got, until)
		}
	}
	if until, quiet := w.engine.Quiet("another", end); !quiet || until.Sub(end) != time.Minute {
		t.Errorf("a bench of which nothing is known yet: %v until %v", quiet, until)
	}
	if _, err := w.engine.Board(context.Background(), "another"); err == nil {
		t.Error("a bench that is not there has a board")
	}
}

// Light that rises evenly to 400 µmol/m²/s from 6 to 14 o'clock and falls to 22 has a DLI of
// half of 400 over 16 h: 11.52 mol/m²/d, to the last bit of the trapezoids.
func TestRamp(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.sensor(store.Sensor{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s", Every: 10 * time.Minute})
	w.now = june.Add(23 * time.Hour)
	w.read(june, w.now, 10*time.Minute, map[string]func(time.Time) float64{"ppfd": func(t time.Time) float64 {
		return max(400*(1-math.Abs(t.Sub(june).Hours()-14)/8), 0)
	}})
	b := w.board()
	near(t, "DLI", w.value(b, live.KeyDLI), 11.52, 1e-9)
	near(t, "DLI by the end", w.value(b, live.KeyDLIEnd), 11.52, 1e-9)
}

// The zone of the days can be set while the engine runs; a watch file that names one goes
// before it.
func TestSetZone(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.now = time.Date(2026, 3, 2, 3, 0, 0, 0, time.UTC) // the evening before in Chicago
	zone := func(want, day string) {
		t.Helper()
		if err := w.engine.Tick(context.Background()); err != nil {
			t.Fatal(err)
		}
		b, err := w.engine.Board(context.Background(), "shelf")
		if err != nil || b.Zone != want || b.Today.From.UTC().Format(time.DateTime) != day {
			t.Errorf("zone %s, day from %s, want %s and %s; %v", b.Zone, b.Today.From, want, day, err)
		}
	}
	zone("UTC", "2026-03-02 00:00:00")
	for range 2 { // a zone that is loaded again is the same
		chicago, err := time.LoadLocation("America/Chicago")
		if err != nil {
			t.Fatal(err)
		}
		w.engine.SetZone(chicago)
		zone("America/Chicago", "2026-03-01 06:00:00")
	}
	w.watching(underlamp.Watch{Zone: "Europe/Berlin"})
	zone("Europe/Berlin", "2026-03-01 23:00:00")
}
