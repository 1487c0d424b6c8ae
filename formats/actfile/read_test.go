package actfile_test

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/formats/actfile"
	"underlamp/science/quantity"
)

const good = `underlamp act: 1
bench: cellar-rack.yaml
zone: Europe/Berlin
acting: yes
lamps:
  - lamp: left bar
    topic: rack-dimmer/left/set
    payload: 0 to 100
    on at: 06:00
    limits: {dimming: 20 % to 90 %, hours: 18 h, change: 10 %}
    safe: 30 %
    safe wait: 1.5 min
  - lamp: heater lamp
    topic: plug/set
    payload: on/off
    on at: 22:30
    limits: {dimming: 100 %, hours: 12 h, change: any}
    safe: off
`

func TestRead(t *testing.T) {
	a, problems, err := actfile.Read(strings.NewReader(good))
	if err != nil || a == nil {
		t.Fatal(problems, err)
	}
	if a.Bench != "cellar-rack.yaml" || a.Zone.String() != "Europe/Berlin" || !a.Live || len(a.Lamps) != 2 {
		t.Errorf("%+v", a)
	}
	if got, want := a.Lamps[0], (underlamp.Actuator{Lamp: "left bar", Topic: "rack-dimmer/left/set", On: 6 * time.Hour, Low: 0.2, High: 0.9, MaxHours: 18, Change: 0.1, Safe: 0.3, Wait: 90 * time.Second}); got != want {
		t.Errorf("%+v", got)
	}
	if got, want := a.Lamps[1], (underlamp.Actuator{Lamp: "heater lamp", Topic: "plug/set", Payload: underlamp.Switch, On: 22*time.Hour + 30*time.Minute, Low: 1, High: 1, MaxHours: 12}); got != want {
		t.Errorf("%+v", got)
	}
	// Nothing is turned unless it says so.
	for _, text := range []string{strings.Replace(good, "acting: yes\n", "", 1), strings.Replace(good, "acting: yes", "acting: no", 1)} {
		if a, problems, err := actfile.Read(strings.NewReader(text)); err != nil || a == nil || a.Live {
			t.Errorf("%+v, %v, %v", a, problems, err)
		}
	}
}

// Each mistake is told; above all every limit must be written.
func TestProblems(t *testing.T) {
	for _, c := range []struct{ old, new, says string }{
		{"underlamp act: 1\n", "", "the version of the format is missing"},
		{"bench: cellar-rack.yaml\n", "", "the bench whose plan is followed is missing"},
		{"zone: Europe/Berlin\n", "", "the time zone is missing"},
		{"Europe/Berlin", "Local", "is no time zone"},
		{"acting: yes", "acting: perhaps", "perhaps"},
		{"lamp: left bar\n", "name: left bar\n", "lamp"},
		{"lamp: heater lamp", "lamp: left bar", `the lamp "left bar" is in line 6 already`},
		{"topic: plug/set", "topic: rack-dimmer/left/set", "is in line 6 already"},
		{"topic: plug/set", "topic: plug/#", "is no topic of one lamp"},
		{"    topic: plug/set\n", "", "the topic that the lamp listens to is missing"},
		{"payload: on/off", "payload: 0 to 7", "payload"},
		{"    payload: on/off\n", "", "how the dimming is written for the lamp is missing"},
		{"on at: 06:00", "on at: 25:00", "is no time of the clock"},
		{"    on at: 06:00\n", "", "when the light begins is missing"},
		{"    limits: {dimming: 20 % to 90 %, hours: 18 h, change: 10 %}\n", "", "how far the lamp may be turned is missing"},
		{"dimming: 20 % to 90 %, ", "", "the least and the most dimming while it is lit is missing"},
		{"hours: 18 h, ", "", "the most hours of light on a day is missing"},
		{", change: 10 %", "", "how much the dimming may change in a minute is missing"},
		{"change: 10 %", "change: 0 %", "may not change"},
		{"20 % to 90 %", "0 %", "may not be lit"},
		{"hours: 18 h", "hours: 25 h", "more than the most"},
		{"    safe: off\n", "", "what the lamp is set to when the program ends or dies is missing"},
		{"safe: 30 %", "safe: 10 %", "the safe dimming is outside of the limits"},
		{"safe: 30 %", "safe: dim", "safe"},
		{"safe wait: 1.5 min", "safe wait: 2 h", "more than the most"},
	} {
		if !strings.Contains(good, c.old) {
			t.Fatal(c.old)
		}
		a, problems, err := actfile.Read(strings.NewReader(strings.Replace(good, c.old, c.new, 1)))
		if err != nil || a != nil || !strings.Contains(problems.Error(), c.says) && !anyPath(problems.Error(), c.says) {
			t.Errorf("%q for %q: %v, %v, want %q", c.new, c.old, problems, err, c.says)
		}
	}
}

func anyPath(text, says string) bool { return strings.Contains(strings.ToLower(text), says) }

func TestOverrides(t *testing.T) {
	got, problems, err := actfile.ReadOverrides(strings.NewReader("underlamp override: 1\nlamps:\n  - {lamp: left bar, dimming: 50 %, until: \"2026-11-26T18:00:00+01:00\"}\n  - {lamp: right bar, dimming: 0 %}\n"))
	if err != nil || len(got) != 2 || got[0].Dimming != 0.5 || !got[0].Until.Equal(time.Date(2026, 11, 26, 17, 0, 0, 0, time.UTC)) || got[1].Dimming != 0 || !got[1].Until.IsZero() {
		t.Fatalf("%+v, %v, %v", got, problems, err)
	}
	if got, problems, err := actfile.ReadOverrides(strings.NewReader("underlamp override: 1\n")); err != nil || got == nil || len(got) != 0 {
		t.Errorf("none: %v, %v, %v", got, problems, err)
	}
	for text, says := range map[string]string{
		"lamps: [{lamp: a, dimming: 1 %}]":                                                     "version",
		"underlamp override: 1\nlamps: [{lamp: a}]":                                            "the dimming; 0 % is off is missing",
		"underlamp override: 1\nlamps: [{dimming: 1 %}]":                                       "the name of the lamp is missing",
		"underlamp override: 1\nlamps: [{lamp: a, dimming: 120 %}]":                            "more than the most",
		"underlamp override: 1\nlamps: [{lamp: a, dimming: 1 %}, {lamp: a, dimming: 2 %}]":     "already",
		"underlamp override: 1\nlamps: [{lamp: a, dimming: 1 %, until: \"2026-11-26 18:00\"}]": "no time with its offset",
	} {
		got, problems, err := actfile.ReadOverrides(strings.NewReader(text))
		if err != nil || got != nil || !strings.Contains(problems.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", text, problems, err, says)
		}
	}
}

// What is written is read back.
func TestWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []underlamp.Override
		for _, name := range rapid.SliceOfNDistinct(rapid.StringMatching(`[a-zA-Zä°:#'"\\-]([a-z ]{0,20}[a-zµ"])?`), 0, 5, rapid.ID[string]).Draw(t, "names") {
			o := underlamp.Override{Lamp: name, Dimming: quantity.Fraction(float64(rapid.IntRange(0, 1000).Draw(t, "per mille")) / 1000)}
			if rapid.Bool().Draw(t, "for a while") {
				o.Until = time.Unix(int64(rapid.IntRange(1_700_000_000, 2_000_000_000).Draw(t, "until")), 0).UTC()
			}
			all = append(all, o)
		}
		var b bytes.Buffer
		if err := actfile.WriteOverrides(&b, all); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, problems, err := actfile.ReadOverrides(&b)
		if err != nil || len(got) != len(all) {
			t.Fatal(problems, err, text)
		}
		for i, o := range all {
			if g := got[i]; g.Lamp != o.Lamp || !g.Until.Equal(o.Until) || g.Dimming < o.Dimming-1e-9 || g.Dimming > o.Dimming+1e-9 {
				t.Fatalf("%+v, want %+v", g, o)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add(good)
	f.Add("underlamp act: 1\nlamps:\n  - {limits: {dimming: 1 to}}")
	f.Fuzz(func(t *testing.T, text string) {
		a, problems, err := actfile.Read(strings.NewReader(text))
		if err == nil && (a == nil) != problems.HasErrors() {
			t.Fatalf("%v, %v", a, problems)
		}
		if a == nil {
			return
		}
		for _, l := range a.Lamps {
			if l.Lamp == "" || l.Topic == "" || l.High <= 0 || l.Low > l.High || l.High > 1 || l.MaxHours < 0 || l.MaxHours > 24 || l.On < 0 || l.On >= 24*time.Hour || l.Change < 0 {
				t.Fatalf("%+v", l)
			}
		}
	})
}

// The document of the formats names every key.
func TestDocumented(t *testing.T) {
	text, err := os.ReadFile("../../docs/formats/act.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range actfile.Keys() {
		if !strings.Contains(string(text), k) {
			t.Errorf("docs/formats/act.md does not name the key %q", k)
		}
	}
}
