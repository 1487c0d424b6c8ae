package mqttintake

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"underlamp/mqtt"
)

var now = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

func TestDecode(t *testing.T) {
	at := time.Unix(1795614000, 0).UTC()
	type reading struct {
		sensor, unit string
		at           time.Time
		value        float64
	}
	for _, c := range []struct {
		name, topic, text string
		timed             bool
		left              int
		want              []reading
	}{
		{"a number", "rack/air", "21.4", false, 0, []reading{{"rack/air", "", now, 21.4}}},
		{"a number with blanks", "/rack/air/", " -3e-1\n", false, 0, []reading{{"rack/air", "", now, -0.3}}},
		{"an object", "rack", `{"air":21.4,"humidity":62}`, false, 0, []reading{{"rack/air", "", now, 21.4}, {"rack/humidity", "", now, 62}}},
		{"an object with more", "rack", `{"air":21.4,"door":"open","ok":true,"none":null,"list":[1],"in":{"x":1}}`, false, 5, []reading{{"rack/air", "", now, 21.4}}},
		{"an object with seconds", "rack", `{"time":1795614000.25,"air":21}`, true, 0, []reading{{"rack/air", "", at.Add(250 * time.Millisecond), 21}}},
		{"an object with milliseconds", "rack", `{"air":21,"time":1795614000250}`, true, 0, []reading{{"rack/air", "", at.Add(250 * time.Millisecond), 21}}},
		{"an object with a text of time", "rack", `{"air":21,"time":"2026-11-25T16:20:00+02:00"}`, true, 0, []reading{{"rack/air", "", time.Date(2026, 11, 25, 14, 20, 0, 0, time.UTC), 21}}},
		// A name and a label as in Jennings2018, section 5.1.
		{"a pack", "rack", `[{"bn":"urn:dev:ow:10e2073a01080063:","bt":1795614000,"n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"}]`, true, 1, []reading{{"urn:dev:ow:10e2073a01080063:temp", "Cel", at, 23.1}}},
		{"a pack with relative times", "rack", `[{"n":"a","v":1,"t":-30},{"n":"a","v":2}]`, false, 0, []reading{{"a", "", now.Add(-30 * time.Second), 1}, {"a", "", now, 2}}},
		{"a pack of which one has no time", "rack", `[{"n":"a","v":1,"t":1795614000},{"n":"a","v":2}]`, false, 0, []reading{{"a", "", at, 1}, {"a", "", now, 2}}},
		{"a pack on a topic that is no name", "räck 2", `[{"n":"a","v":1,"t":1795614000}]`, true, 0, []reading{{"a", "", at, 1}}},
	} {
		p, err := decode(c.topic, []byte(c.text), now)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if p.timed != c.timed || p.left != c.left || len(p.readings) != len(c.want) {
			t.Errorf("%s: %+v", c.name, p)
			continue
		}
		for i, w := range c.want {
			r := p.readings[i]
			if r.Sensor != w.sensor || r.Unit != w.unit || !r.At.Equal(w.at) || r.Value != w.value {
				t.Errorf("%s: %+v, want %+v", c.name, r, w)
			}
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	for _, c := range []struct{ topic, text, says string }{
		{"rack", "", "is empty"},
		{"rack", "  \n", "is empty"},
		{"rack", "21,4", "with a point"},
		{"rack", "on", "is no number"},
		{"rack", "NaN", "is no number"},
		{"rack", "0x10", "is no number"},
		{"rack", "1_000", "is no number"},
		{"rack", "1e999", "is no number"},
		{"rack", "21.4 °C", "is no number"},
		{"rack", strings.Repeat("1", 65), "is no number"},
		{"räck", "21", "cannot be called by the topic"},
		{"", "21", "cannot be called by the topic"},
		{"rack", `{"a":1`, "no JSON"},
		{"rack", `{"a":1}{`, "follows"},
		{"rack", `{"a":1,"a":2}`, "twice"},
		{"rack", `{"a b":1}`, "called by the key"},
		{"rack", `{"":1}`, "called by the key"},
		{"rack", `{"a":1e999}`, "beyond"},
		{"rack", `{"a":"1"}`, "no numbers"},
		{"rack", `{"time":1795614000}`, "no numbers"},
		{"rack", `{"a":1,"time":12}`, "the time 12 is none"},
		{"rack", `{"a":1,"time":"2026-11-25 14:20"}`, "with its offset"},
		{"rack", `{"a":1,"time":[1]}`, "neither"},
		{"rack", `[{"n":"a"`, "no JSON"},
		{"rack", `[{"v":1}]`, "no name"},
	} {
		_, err := decode(c.topic, []byte(c.text), now)
		if _, ok := errors.AsType[*mqtt.RefusedError](err); !ok || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.text, err, c.says)
		}
	}
}

// Whatever comes is refused in words, or gives readings that can be kept.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{"21.4", `{"a":1,"time":1795614000}`, `[{"bn":"a/","bt":1.7e9,"n":"b","v":1}]`, "", "{", "[", `{"a":{"b":[1]}}`, "1e400", "\xff"} {
		f.Add("rack/air", []byte(s))
	}
	f.Fuzz(func(t *testing.T, topic string, data []byte) {
		p, err := decode(topic, data, now)
		if err != nil {
			if _, ok := errors.AsType[*mqtt.RefusedError](err); !ok || len(p.readings) > 0 {
				t.Fatalf("%v, %d readings", err, len(p.readings))
			}
			return
		}
		again, err := decode(topic, data, now.Add(time.Minute))
		if err != nil || len(again.readings) != len(p.readings) {
			t.Fatalf("the second time: %v", err)
		}
		same := true
		for i, r := range p.readings {
			if !mqtt.ValidTopic(r.Sensor) || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
				t.Fatalf("%+v", r)
			}
			same = same && r.At.Equal(again.readings[i].At)
		}
		if len(p.readings) > 0 && same != p.timed {
			t.Fatalf("timed is %v, and the times stay: %v", p.timed, same)
		}
	})
}
