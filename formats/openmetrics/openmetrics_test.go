package openmetrics_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"pgregory.net/rapid"

	"underlamp/formats/openmetrics"
)

var now = time.Date(2026, 11, 26, 2, 40, 0, 0, time.UTC)

func read(t *testing.T, text string) *openmetrics.Exposition {
	t.Helper()
	e, err := openmetrics.Read([]byte(text), now)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return e
}

// Constants after the grammar and examples of Hartmann2020, from memory.
func TestRead(t *testing.T) {
	e := read(t, "# TYPE air_celsius gauge\n# UNIT air_celsius celsius\n# HELP air_celsius Of the air.\n"+
		"air_celsius{sensor=\"rack-2/air\"} 21.4 1795614000\n"+
		"air_celsius{room=\"attic\",floor=\"2\"} 18 1795614000.25 # {trace=\"a\"} 0.5\n"+
		"humidity_ratio 0.62\n"+
		"# TYPE energy_joules counter\nenergy_joules_total 3.6e6\nenergy_joules_created 1795614000\n"+
		"# TYPE wait_seconds histogram\nwait_seconds_bucket{le=\"+Inf\"} 3\nwait_seconds_sum 2\n"+
		"light NaN\n\n# EOF\n")
	want := []openmetrics.Sample{
		{Name: "rack-2/air", Unit: "celsius", At: time.Unix(1795614000, 0).UTC(), Value: 21.4},
		{Name: "air_celsius/2/attic", Unit: "celsius", At: time.Unix(1795614000, 250_000_000).UTC(), Value: 18},
		{Name: "humidity_ratio", Unit: "/", At: now, Value: 0.62},
		{Name: "energy_joules_total", Unit: "joules", At: now, Value: 3.6e6},
	}
	if len(e.Samples) != len(want) || e.Skipped != 4 {
		t.Fatalf("%+v, %d left out", e.Samples, e.Skipped)
	}
	for i, s := range e.Samples {
		if s != want[i] {
			t.Errorf("%+v, want %+v", s, want[i])
		}
	}
}

func TestWrong(t *testing.T) {
	for text, says := range map[string]string{
		"air":                         "the value is missing",
		"2air 1":                      "no name of a metric",
		"air one":                     "no number",
		"air 0x10":                    "no number",
		"air 1 noon":                  "no time",
		"air 1 2 3":                   "at most a time",
		"air{sensor=\"a\" 1":          "commas",
		"air{sensor=\"a":              "does not end",
		"air{sensor=\"a\\":            "does not end",
		"air{sensor} 1":               "labels are written",
		"air{a=\"1\",a=\"2\"} 1":      "twice",
		"air{sensor=\"a b\"} 1":       "has characters besides",
		"air{sensor=\"\"} 1":          "1 to 200",
		"air{sensor=\"a\"}1":          "a value follows",
		"a 1\n# EOF\nb 2":             "line 3: something follows",
		"a \xff":                      "UTF-8",
		strings.Repeat("a 1\n", 2e5):  "more than",
		strings.Repeat("# a\n", 2e6):  "larger than",
		"a 1\n\nb{sensor=\"-x\"} 2\n": "line 3: the sensor",
	} {
		if e, err := openmetrics.Read([]byte(text), now); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%.30q: %v, %v, want %q", text, e, err, says)
		}
	}
}

// What the writer of another house (prometheus/common, expfmt) makes is read as it was
// meant, whatever labels hold.
func TestAgainstAnotherWriter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		ms := rapid.Int64Range(0, 4e12).Draw(t, "time")
		label := rapid.StringMatching(`[a-zA-Z0-9][a-zA-Z0-9:._/-]{0,20}`).Draw(t, "label")
		other := rapid.SampledFrom([]string{`a"b`, `c:\d`, "two\nlines", "ä {x} ,=", ""}).Draw(t, "other")
		name, kind := "air_celsius", dto.MetricType_GAUGE
		label1, label2 := "sensor", "room"
		m := &dto.Metric{Gauge: &dto.Gauge{Value: &value}, TimestampMs: &ms, Label: []*dto.LabelPair{{Name: &label2, Value: &other}, {Name: &label1, Value: &label}}}
		var b bytes.Buffer
		if _, err := expfmt.MetricFamilyToOpenMetrics(&b, &dto.MetricFamily{Name: &name, Type: &kind, Metric: []*dto.Metric{m}}); err != nil {
			t.Fatal(err)
		}
		if _, err := expfmt.FinalizeOpenMetrics(&b); err != nil {
			t.Fatal(err)
		}
		e, err := openmetrics.Read(b.Bytes(), now)
		if err != nil || len(e.Samples) != 1 {
			t.Fatalf("%v, %+v\n%s", err, e, &b)
		}
		s := e.Samples[0]
		if d := s.At.Sub(time.UnixMilli(ms)).Abs(); s.Value != value || s.Name != label || s.Unit != "celsius" || d > time.Microsecond {
			t.Fatalf("%+v of %g %q at %d\n%s", s, value, label, ms, &b)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add([]byte("# TYPE a gauge\na{sensor=\"x\\\"\"} 1 2\n# EOF\n"))
	f.Add([]byte("a_ratio{b=\"c\",} .5 1e9 # {} 1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := openmetrics.Read(data, now)
		if err != nil {
			return
		}
		for _, s := range e.Samples {
			if s.Name == "" || s.Value != s.Value || s.Value-s.Value != 0 || s.At.Year() > 9999 {
				t.Fatalf("%+v of %q", s, data)
			}
		}
	})
}
