package monitor_test

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"underlamp/intake"
	"underlamp/monitor"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

type queue struct{ waiting, given int }

func (q queue) Waiting(context.Context) (int, int, error) { return q.waiting, q.given, nil }

// failing is an intake that keeps nothing.
type failing struct{ err error }

func (f failing) Take(context.Context, []intake.Reading) error { return f.err }

func get(t *testing.T, h http.Handler) (int, string) {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	text, err := io.ReadAll(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	return w.Code, string(text)
}

// The figures are read by the parser of the Prometheus project, and say what happened.
func TestMetrics(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	in := intake.New(s, intake.Options{Now: func() time.Time { return now }})
	defer in.Close()
	m := monitor.New(monitor.Options{Store: s, Queue: queue{3, 1}, Version: "1", Now: func() time.Time { return now }})
	take := m.Taker(in)
	odd := "rack \"2\"\\ü\nair"
	for i, r := range [][]intake.Reading{
		{{Sensor: odd, At: now.Add(-90 * time.Second), Value: 21}, {Sensor: "b", At: now.Add(-time.Hour), Value: 1}},
		{{Sensor: "b", At: now, Value: math.NaN()}},
	} {
		if err := take.Take(ctx, r); (err != nil) != (i == 1) {
			t.Fatal(err)
		}
	}
	pages := m.Requests("pages", http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotFound) }))
	get(t, pages)
	code, text := get(t, m.Metrics())
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil || code != 200 {
		t.Fatalf("%d, %v:\n%s", code, err, text)
	}
	value := func(name string, label ...string) float64 {
		f := families[name]
		if f == nil {
			t.Errorf("no %s", name)
			return 0
		}
		for _, x := range f.Metric {
			if len(label) > 0 && (len(x.Label) == 0 || x.Label[len(x.Label)-1].GetValue() != label[0]) {
				continue
			}
			switch {
			case x.Untyped != nil:
				return x.Untyped.GetValue()
			case x.Gauge != nil:
				return x.Gauge.GetValue()
			case x.Counter != nil:
				return x.Counter.GetValue()
			case x.Histogram != nil:
				return float64(x.Histogram.GetSampleCount())
			}
		}
		t.Errorf("%s has no %q", name, label)
		return 0
	}
	for name, want := range map[string]float64{
		"underlamp_healthy": 1, "underlamp_store_writable": 1, "underlamp_store_keeping": 1, "underlamp_backlog_readings": 2, "underlamp_sensors": 2,
		"underlamp_last_reading_age_seconds": 90, "underlamp_jobs_waiting": 3, "underlamp_jobs_given_up": 1,
		"underlamp_readings_kept_total": 2, "underlamp_readings_refused_total": 1, "underlamp_readings_failed_total": 0,
		"underlamp_requests_total": 1, "underlamp_take_seconds": 1,
	} {
		if got := value(name); got != want {
			t.Errorf("%s is %g, want %g", name, got, want)
		}
	}
	if got := value("underlamp_sensor_age_seconds", odd); got != 90 {
		t.Errorf("age of the sensor with the odd name: %g", got)
	}
	if got := value("underlamp_requests_total", "4xx"); got != 1 {
		t.Errorf("%g answers of class 4xx", got)
	}
	if value("process_resident_memory_bytes") <= 0 {
		t.Error("no memory")
	}
}

// Health says what is wrong with 503, without the words of the error, and is well again
// when readings are kept again.
func TestHealth(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	m := monitor.New(monitor.Options{Store: s, Now: func() time.Time { return now }})
	look := func(want int) monitor.Health {
		t.Helper()
		code, text := get(t, m.Health())
		var h monitor.Health
		if err := json.Unmarshal([]byte(text), &h); err != nil || code != want || strings.Contains(text, "secret") {
			t.Errorf("%d, want %d, %v: %s", code, want, err, text)
		}
		return h
	}
	if h := look(200); h.Store == nil || h.Store.LastAge != nil || h.Queue != nil {
		t.Errorf("%+v", h)
	}
	one := []intake.Reading{{Sensor: "a", At: now, Value: 1}}
	m.Taker(failing{errors.New("disk full at /secret")}).Take(ctx, one)
	if h := look(503); h.Store.Keeping || !h.Store.Writable || h.Store.Since != "2026-11-26T12:00:00Z" {
		t.Errorf("%+v", h.Store)
	}
	m.Taker(failing{&intake.RefusedError{}}).Take(ctx, one) // the fault of the sender
	look(503)
	m.Taker(failing{nil}).Take(ctx, one)
	look(200)
	id, err := s.PutSensor(ctx, store.Sensor{Key: "a"})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Append(ctx, []store.Reading{{Sensor: id, At: store.At(now) - store.Minute, Value: 1}}); err != nil {
		t.Fatal(err)
	}
	if h := look(200); h.Store.LastAge == nil || *h.Store.LastAge != 60 || h.Store.Backlog != 1 {
		t.Errorf("%+v", h.Store)
	}
	s.Close()
	if h := look(503); h.Store.Writable {
		t.Errorf("%+v", h.Store)
	}
	if h := monitor.New(monitor.Options{}).Look(ctx); h.Status != "ok" || h.Store != nil {
		t.Errorf("%+v", h)
	}
}
