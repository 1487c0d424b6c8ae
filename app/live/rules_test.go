package live_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/store"
)

// open are the texts of the open messages, by rule.
func (w *world) open() map[string]string {
	w.t.Helper()
	all, err := w.keep.OpenMessages(context.Background(), w.bench.Name)
	if err != nil {
		w.t.Fatal(err)
	}
	out := map[string]string{}
	for _, m := range all {
		out[m.Rule] = m.Text + " " + m.Mend
	}
	return out
}

// expect fails unless exactly the rules named are open, each with its words.
func (w *world) expect(when string, rules map[string]string) {
	w.t.Helper()
	w.tick()
	got := w.open()
	for rule, words := range rules {
		if text, ok := got[rule]; !ok || !strings.Contains(text, words) {
			w.t.Errorf("%s: %q is %q, want %q", when, rule, text, words)
		}
	}
	for rule, text := range got {
		if _, ok := rules[rule]; !ok {
			w.t.Errorf("%s: %q is open: %s", when, rule, text)
		}
	}
}

func given(v float64) *underlamp.Given[float64] {
	g := underlamp.Said(v)
	return &g
}

func ptr[T any](v T) *T { return &v }

// all fit the file of the bench but for what a test turns.
func calm(w *world) map[string]func(time.Time) float64 {
	return map[string]func(time.Time) float64{"air": always(21), "rh": clock(w.zone, 6, 22, 65, 75)}
}

func (w *world) airSensors() {
	w.sensor(store.Sensor{Key: "air", Quantity: "temperature", Unit: "Cel", Every: 5 * time.Minute})
	w.sensor(store.Sensor{Key: "rh", Quantity: "humidity", Unit: "%RH", Every: 5 * time.Minute})
}

// wiggle moves a value by a little, so that it is not stuck.
func wiggle(f func(time.Time) float64) func(time.Time) float64 {
	return func(t time.Time) float64 { return f(t) + 0.1*float64(t.Minute()/5%2) }
}

// Moist air is told after its delay, stays told until it has come back by the hysteresis,
// and is told once by two servers. What is acknowledged stays open.
func TestRange(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.airSensors()
	humidity := func(tt time.Time) float64 {
		switch at := tt.Sub(june); {
		case at < 8*time.Hour:
			return 70
		case at < 11*time.Hour:
			return 86 // above the 75 % of the night by more than ten points
		case at < 12*time.Hour:
			return 84 // below the limit, not by the hysteresis
		}
		return 70
	}
	values := map[string]func(time.Time) float64{"air": wiggle(always(21)), "rh": wiggle(humidity)}
	last := june
	until := func(at time.Duration) {
		w.now = june.Add(at)
		w.read(last, w.now, 5*time.Minute, values)
		last = w.now
	}
	until(8*time.Hour + 50*time.Minute)
	w.expect("before the delay", nil)
	until(9*time.Hour + 5*time.Minute)
	w.expect("after the delay", map[string]string{"humidity high": "The humidity is at 86 % (rh): above 85 % since 08:00. Ventilate"})
	other := w.another()
	if err := other.Tick(context.Background()); err != nil {
		t.Fatal(err)
	}
	all, err := w.keep.Messages(context.Background(), "", 0, store.At(w.now)+1)
	if err != nil || len(all) != 1 {
		t.Errorf("two servers opened %d messages, %v", len(all), err)
	}
	if err := w.keep.Acknowledge(context.Background(), all[0].ID, "Ines", store.At(w.now)); err != nil {
		t.Fatal(err)
	}
	until(11*time.Hour + 30*time.Minute)
	w.expect("within the hysteresis", map[string]string{"humidity high": "above 85 %"})
	if b := w.board(); len(b.Messages) != 1 || b.Messages[0].By != "Ines" {
		t.Errorf("%+v", b.Messages)
	}
	// A server that was started anew knows that it was told.
	w.engine = w.another()
	w.expect("after a new start", map[string]string{"humidity high": "above 85 %"})
	until(12*time.Hour + 5*time.Minute)
	w.expect("come back", nil)
	all, err = w.keep.Messages(context.Background(), w.bench.Name, 0, store.At(w.now)+1)
	if err != nil || len(all) != 1 || all[0].Closed != store.At(w.now) || store.Time(all[0].Since) != june.Add(8*time.Hour) {
		t.Errorf("%+v, %v", all, err)
	}
}

// What a person says stands in place of what follows from the bench; off is off; a watch
// file that cannot be read leaves the usual limits and is told on the board.
func TestWatchFile(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.airSensors()
	w.now = june.Add(12 * time.Hour)
	w.read(june, w.now, 5*time.Minute, map[string]func(time.Time) float64{"air": wiggle(always(28)), "rh": wiggle(always(60))})
	w.expect("usual", map[string]string{"air temperature high": "above 26 °C", "VPD high": "above"})
	w.watching(underlamp.Watch{Rules: []underlamp.WatchRule{{Key: underlamp.WatchAir, High: given(27), Delay: ptr(time.Minute), Urgent: true}, {Key: underlamp.WatchVPD, Off: true}}})
	w.expect("own", map[string]string{"air temperature high": "above"})
	for _, l := range w.board().Limits {
		switch {
		case l.Key == underlamp.WatchAir && (l.Text != "at least 14 °C, at most 27 °C, for 1 min" || l.Origin != "default, stated"),
			l.Key == underlamp.WatchVPD && (!l.Off || l.Origin != "stated"),
			l.Key == underlamp.WatchHumidity && (l.Origin != "default" || !strings.Contains(l.Note, "common practice")):
			t.Errorf("%+v", l)
		}
	}
	w.watching(underlamp.Watch{Rules: []underlamp.WatchRule{{Key: underlamp.WatchAir, Off: true}, {Key: underlamp.WatchVPD, Off: true}}})
	w.expect("off", nil)
	if err := w.keep.PutDocument(context.Background(), store.Document{Kind: live.KindWatch, Name: w.bench.Name, Text: []byte("broken")}); err != nil {
		t.Fatal(err)
	}
	w.expect("broken", map[string]string{"air temperature high": "above 26 °C", "VPD high": "above"})
	if n := w.board().Notes; len(n) == 0 || !strings.Contains(n[0], "line 1, column 1") {
		t.Errorf("%v", n)
	}
}

// Carbon dioxide over the limit of a working day is told at once, urgently, though its
// watch is off and its sensor reads what no bench can have.
func TestDanger(t *testing.T) {
	for _, ppm := range []float64{5200, 30000} {
		w := newWorld(t, shelf(t, ""), time.UTC)
		w.sensor(store.Sensor{Key: "co2", Quantity: "CO2", Unit: "ppm", Every: time.Minute})
		w.watching(underlamp.Watch{Rules: []underlamp.WatchRule{{Key: underlamp.WatchCO2, Off: true}, {Key: underlamp.WatchSensor, Off: true}}})
		w.now = june.Add(2 * time.Minute)
		w.read(june, w.now, time.Minute, map[string]func(time.Time) float64{"co2": always(ppm)})
		w.expect("danger", map[string]string{"CO2 danger": "Leave the room"})
		if all, err := w.keep.OpenMessages(context.Background(), ""); err != nil || !all[0].Urgent {
			t.Errorf("%+v, %v", all, err)
		}
		last := w.now
		w.now = w.now.Add(2 * time.Minute)
		w.read(last, w.now, time.Minute, map[string]func(time.Time) float64{"co2": always(900)})
		w.expect("aired", nil)
	}
}

// The ceiling of the bench over its hours is 0.0036 · 150 · 16 = 8.64 mol/m²/d. At a third
// more light than the brightest plant may have, it is passed after 12 of 16 hours.
func TestDLI(t *testing.T) {
	bench := shelf(t, "limits: {target: 100 µmol/m²/s, ceiling: 150 µmol/m²/s}\n")
	w := newWorld(t, bench, time.UTC)
	x, y, z := 0.15, 0.15, 0.0
	w.sensor(store.Sensor{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s", X: &x, Y: &y, Height: &z, Every: time.Minute})
	w.now = june.Add(3 * time.Hour)
	w.read(june, w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": always(0)})
	b := w.board()
	_ = b
	// How the map shares light: sensor to brightest plant, from the board itself at 100.
	w.now = june.Add(6*time.Hour + time.Minute)
	w.read(june.Add(6*time.Hour), w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": always(100)})
	most := 0.0
	for _, p := range w.board().Plants {
		most = math.Max(most, p.PPFD)
	}
	if most < 100 {
		t.Fatalf("the corner is brighter than the brightest plant: %g", most)
	}
	bright := 100 * 200 / most // the sensor, while the brightest plant has 200
	w.now = june.Add(9 * time.Hour)
	w.read(june.Add(6*time.Hour), w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": wiggle(always(bright))})
	w.expect("bright", map[string]string{"DLI high": "will pass the ceiling of 8.64 mol/m²/d at 1"})
	if text := w.open()["DLI high"]; !strings.Contains(text, "at 17:5") && !strings.Contains(text, "at 18:0") {
		t.Errorf("passed after 12 h of light from 06:00: %s", text)
	}
	w.now = june.Add(18*time.Hour + 20*time.Minute)
	w.read(june.Add(9*time.Hour), w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": wiggle(always(bright))})
	w.expect("passed", map[string]string{"DLI high": "has passed"})
	// The next day is dim, and will miss nine tenths of 100 µmol/m²/s over 16 h.
	next := june.Add(24 * time.Hour)
	w.now = next.Add(10 * time.Hour)
	w.read(june.Add(18*time.Hour+20*time.Minute), w.now, time.Minute, map[string]func(time.Time) float64{"ppfd": wiggle(clock(time.UTC, 6, 16, 40, 0))})
	w.expect("dim", map[string]string{"DLI low": "and miss 5.18 mol/m²/d"})
}

// A dark period, lamps by the clock, and a lamp that says it burns in the dark; the hours
// are those of the zone, over the change of clocks.
func TestLamps(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	w := newWorld(t, shelf(t, ""), zone)
	w.sensor(store.Sensor{Key: "ppfd", Quantity: "PPFD", Unit: "umol/m2/s", Every: 5 * time.Minute})
	w.watching(underlamp.Watch{Zone: "Europe/Berlin", Lights: &underlamp.Window{From: 6 * time.Hour, To: 22 * time.Hour}, Rules: []underlamp.WatchRule{{Key: underlamp.WatchDLI, Off: true}}})
	begin := time.Date(2026, 10, 24, 0, 0, 0, 0, zone)
	last := begin
	until := func(at time.Time, f func(time.Time) float64) {
		w.now = at
		w.read(last, at, 5*time.Minute, map[string]func(time.Time) float64{"ppfd": wiggle(f)})
		last = at
	}
	right := clock(zone, 6, 22, 200, 0)
	until(time.Date(2026, 10, 25, 12, 0, 0, 0, zone), right) // clocks went back at 3
	w.expect("as it should be", nil)
	until(time.Date(2026, 10, 25, 12, 5, 0, 0, zone), always(0))
	w.expect("off for a moment", nil)
	until(time.Date(2026, 10, 25, 12, 15, 0, 0, zone), always(0))
	w.expect("off", map[string]string{"lamp off": "The lamps are off since 12:00, and should be on (06:00–22:00)."})
	until(time.Date(2026, 10, 25, 22, 5, 0, 0, zone), always(200))
	w.expect("on again, five minutes late", nil)
	until(time.Date(2026, 10, 25, 22, 20, 0, 0, zone), always(200))
	w.expect("on", map[string]string{"lamp on": "The lamps are on since 22:00, and should be off"})
	until(time.Date(2026, 10, 26, 21, 0, 0, 0, zone), always(200))
	w.expect("no dark", map[string]string{"dark": "no dark period of 4 h; the longest was 0 h"})
	w.sensor(store.Sensor{Key: "lamp", Quantity: "lamp", Unit: "/", Every: 5 * time.Minute})
	begin = last
	until(last.Add(40*time.Minute), always(0))
	w.read(begin, w.now, 5*time.Minute, map[string]func(time.Time) float64{"lamp": always(0.8)})
	w.expect("dark under a lamp that burns", map[string]string{"lamp off": "", "dark": "", "lamp dark": "it is dark at the light sensor"})
}

// Dew is near where the leaf is colder than the air. The dew point of 21.1 °C and 90.1 %
// is 19.41 °C (Allen1998, equation 15, solved for the temperature, by hand).
func TestDewAndVPD(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.airSensors()
	w.sensor(store.Sensor{Key: "leaf", Quantity: "leaf temperature", Unit: "Cel", Every: 5 * time.Minute})
	w.watching(underlamp.Watch{Lights: &underlamp.Window{From: 6 * time.Hour, To: 22 * time.Hour}, Rules: []underlamp.WatchRule{{Key: underlamp.WatchHumidity, Off: true}}})
	values := map[string]func(time.Time) float64{"air": wiggle(always(21)), "rh": wiggle(always(90)), "leaf": wiggle(always(20))}
	w.now = june.Add(9 * time.Hour)
	w.read(june.Add(5*time.Hour), w.now, 5*time.Minute, values)
	w.expect("three hours of light", map[string]string{"dew": "the leaf (leaf) is 0.69 °C over the dew point of 19.4 °C"})
	w.read(w.now, june.Add(10*time.Hour+5*time.Minute), 5*time.Minute, values)
	w.now = june.Add(10*time.Hour + 5*time.Minute)
	w.expect("four hours of light", map[string]string{"dew": "", "VPD low": "below"})
	// By night the verdict of the day stays.
	w.read(w.now, june.Add(23*time.Hour), 5*time.Minute, map[string]func(time.Time) float64{"air": wiggle(always(21)), "rh": wiggle(always(60)), "leaf": wiggle(always(21))})
	w.now = june.Add(23 * time.Hour)
	w.expect("at night", map[string]string{"VPD low": ""})
}

// Each fault of a sensor, told and over.
func TestSensorFaults(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.airSensors()
	w.sensor(store.Sensor{Key: "second", Quantity: "temperature", Unit: "Cel", Every: 5 * time.Minute})
	w.watching(underlamp.Watch{Rules: []underlamp.WatchRule{{Key: underlamp.WatchAir, Off: true}, {Key: underlamp.WatchHumidity, Off: true}, {Key: underlamp.WatchVPD, Off: true}, {Key: underlamp.WatchDew, Off: true}}})
	daily := func(t time.Time) float64 { return math.Round(10*(21+2*math.Sin(float64(t.Unix())/86400*2*math.Pi))) / 10 }
	w.now = june.Add(8 * time.Hour)
	w.read(june, w.now, 5*time.Minute, map[string]func(time.Time) float64{"air": always(21.3), "second": daily, "rh": wiggle(always(65))})
	w.expect("stuck", map[string]string{"stuck air": "very same, 21.3 °C, for 8 h"})
	// If nothing else moves, the room itself stands still.
	still := newWorld(t, shelf(t, ""), time.UTC)
	still.airSensors()
	still.sensor(store.Sensor{Key: "second", Quantity: "temperature", Unit: "Cel"})
	still.now = w.now
	still.read(june, still.now, 5*time.Minute, map[string]func(time.Time) float64{"air": always(21.3), "second": always(20.9), "rh": wiggle(always(65))})
	still.expect("a still room", nil)

	w.now = june.Add(9 * time.Hour)
	w.read(june.Add(8*time.Hour), w.now, 5*time.Minute, map[string]func(time.Time) float64{"air": wiggle(always(22)), "second": clock(time.UTC, 0, 24, 85, 85), "rh": func(t time.Time) float64 {
		if t.Minute() < 30 {
			return 20
		}
		return 65
	}})
	w.expect("impossible, and a jump", map[string]string{"implausible second": "no bench can be outside", "jump rh": "jumped from 2"})
	if b := w.board(); w.value(b, live.KeyVPD) <= 0 {
		t.Error("the sensor that cannot be right counts")
	}
	w.read(w.now, w.now.Add(90*time.Minute), 5*time.Minute, map[string]func(time.Time) float64{"second": daily, "rh": wiggle(always(65))})
	w.now = w.now.Add(90 * time.Minute)
	w.expect("silent", map[string]string{"silent air": "for 95 min; it usually sends every 5 min"})
}

// A light sensor that has lost a tenth since its first week is told, beside another one
// that has not.
func TestDrift(t *testing.T) {
	w := newWorld(t, shelf(t, ""), time.UTC)
	w.sensor(store.Sensor{Key: "old", Quantity: "PPFD", Unit: "umol/m2/s", Every: 30 * time.Minute})
	w.sensor(store.Sensor{Key: "sound", Quantity: "PPFD", Unit: "umol/m2/s", Every: 30 * time.Minute})
	w.now = june
	from := june.AddDate(0, 0, -60)
	fade := func(t time.Time) float64 { return 1 - 0.1*t.Sub(from).Hours()/24/60 }
	lit := clock(time.UTC, 6, 22, 200, 0)
	w.read(from, june, 30*time.Minute, map[string]func(time.Time) float64{"old": func(t time.Time) float64 { return lit(t) * fade(t) }, "sound": wiggle(lit)})
	w.tick()
	if got := w.open()["drift old"]; !strings.Contains(got, "It reads 9 % less than at first beside the other light sensors") {
		t.Errorf("%q", got)
	}
	w.sensor(store.Sensor{Key: "old", Quantity: "PPFD", Unit: "umol/m2/s", Every: 30 * time.Minute, Calibrations: []store.Calibration{{From: store.At(june.AddDate(0, 0, -1)), Gain: 1.1}}})
	w.now = w.now.Add(time.Minute)
	w.tick()
	if got := w.open()["drift old"]; got != "" {
		t.Errorf("after a calibration: %q", got)
	}
}
