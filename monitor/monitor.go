// Package monitor tells other programs how a server is: figures in the text format of
// Prometheus, and one JSON object that says whether all is well.
//
// It has no pages and no tokens: mount its handlers where only the person's own machines
// reach them. They tell names of sensors and no readings.
package monitor

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/VictoriaMetrics/metrics"

	"underlamp/intake"
	"underlamp/store"
)

// A Taker keeps readings; an [*intake.Intake] is one.
type Taker interface {
	Take(ctx context.Context, readings []intake.Reading) error
}

// A Store is what the monitor asks of one.
type Store interface {
	store.Sensors
	store.Vitals
}

// A Queue is what it asks of a queue of work.
type Queue interface {
	Waiting(ctx context.Context) (waiting, given int, err error)
}

// Options of a monitor.
type Options struct {
	Store   Store // nil where the server keeps nothing
	Queue   Queue // nil where there is none
	Version string
	Log     *slog.Logger     // nil logs nothing
	Now     func() time.Time // nil is the clock
}

// patience bounds one look at store and queue: a database that hangs must not make the
// monitor hang.
const patience = 5 * time.Second

// A Monitor counts and tells.
type Monitor struct {
	o     Options
	begun time.Time
	set   *metrics.Set

	kept, refused, failed *metrics.Counter
	took                  *metrics.PrometheusHistogram

	mu      sync.Mutex
	lastErr error // of the last attempt to keep readings; nil if it was kept
	since   time.Time
}

// New makes a monitor.
func New(o Options) *Monitor {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	metrics.ExposeMetadata(true) // whether a figure is a count or a state
	set := metrics.NewSet()
	return &Monitor{
		o: o, begun: o.Now(), set: set,
		kept:    set.NewCounter(`underlamp_readings_kept_total`),
		refused: set.NewCounter(`underlamp_readings_refused_total`),
		failed:  set.NewCounter(`underlamp_readings_failed_total`),
		took:    set.NewPrometheusHistogramExt(`underlamp_take_seconds`, []float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10}),
	}
}

// Taker counts what an intake takes.
func (m *Monitor) Taker(in Taker) Taker { return counting{in, m} }

type counting struct {
	Taker
	m *Monitor
}

func (c counting) Take(ctx context.Context, readings []intake.Reading) error {
	begin := time.Now()
	err := c.Taker.Take(ctx, readings)
	n := len(readings)
	if _, ok := errors.AsType[*intake.RefusedError](err); ok {
		c.m.refused.Add(n)
		return err
	}
	c.m.took.UpdateDuration(begin)
	if err == nil {
		c.m.kept.Add(n)
	} else {
		c.m.failed.Add(n)
		if ctx.Err() != nil {
			return err // the sender went away
		}
	}
	c.m.mu.Lock()
	defer c.m.mu.Unlock()
	if err != nil && c.m.lastErr == nil {
		c.m.since = c.m.o.Now()
	}
	c.m.lastErr = err
	return err
}

// Requests counts what a handler answers, by class of status and by name.
func (m *Monitor) Requests(name string, h http.Handler) http.Handler {
	took := m.set.GetOrCreatePrometheusHistogramExt(fmt.Sprintf(`underlamp_request_seconds{part=%q}`, name), []float64{0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10})
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		begin := time.Now()
		s := &seen{ResponseWriter: w}
		defer func() {
			took.UpdateDuration(begin)
			m.set.GetOrCreateCounter(fmt.Sprintf(`underlamp_requests_total{part=%q,class="%dxx"}`, name, max(s.status, 200)/100)).Inc()
		}()
		h.ServeHTTP(s, r)
	})
}

// seen remembers the status of an answer.
type seen struct {
	http.ResponseWriter
	status int
}

func (s *seen) WriteHeader(status int) {
	if s.status == 0 {
		s.status = status
	}
	s.ResponseWriter.WriteHeader(status)
}

// Unwrap lets a handler that streams reach the connection.
func (s *seen) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// Health is how a server is.
type Health struct {
	Status  string       `json:"status"` // "ok" or "wrong"
	Version string       `json:"version,omitempty"`
	Up      float64      `json:"up_s"`
	Store   *StoreHealth `json:"store,omitempty"`
	Queue   *QueueHealth `json:"queue,omitempty"`
}

// StoreHealth is how the store is.
type StoreHealth struct {
	Writable   bool     `json:"writable"`
	Keeping    bool     `json:"keeping"` // the last readings that came were kept, or none came
	Since      string   `json:"not_keeping_since,omitempty"`
	Backlog    int64    `json:"backlog"`                // readings not packed yet
	LastAt     string   `json:"last_reading,omitempty"` // instant of the newest of all sensors
	LastAge    *float64 `json:"last_reading_age_s,omitempty"`
	Sensors    int      `json:"sensors"`
	sensorAges []sensorAge
}

type sensorAge struct {
	key string
	age float64
}

// QueueHealth is how the work of the server is.
type QueueHealth struct {
	Reachable bool `json:"reachable"`
	Waiting   int  `json:"waiting"`
	Given     int  `json:"given_up"`
}

// Look says how the server is. What is wrong is logged in full and told without it: an
// error may name hosts and files.
func (m *Monitor) Look(ctx context.Context) Health {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	now := m.o.Now()
	h := Health{Status: "ok", Version: m.o.Version, Up: now.Sub(m.begun).Seconds()}
	wrong := func(what string, err error) {
		h.Status = "wrong"
		m.o.Log.Error("health", "what", what, "err", err)
	}
	if m.o.Store != nil {
		s := &StoreHealth{Writable: true, Keeping: true}
		h.Store = s
		if err := m.o.Store.Ping(ctx); err != nil {
			s.Writable = false
			wrong("the store cannot be written", err)
		}
		m.mu.Lock()
		if m.lastErr != nil {
			s.Keeping, s.Since = false, m.since.UTC().Format(time.RFC3339)
			wrong("readings are not kept", m.lastErr)
		}
		m.mu.Unlock()
		if err := m.ages(ctx, s, now); err != nil {
			wrong("the store cannot be read", err)
		}
	}
	if m.o.Queue != nil {
		q := &QueueHealth{Reachable: true}
		h.Queue = q
		var err error
		if q.Waiting, q.Given, err = m.o.Queue.Waiting(ctx); err != nil {
			q.Reachable = false
			wrong("the queue of work cannot be read", err)
		}
	}
	return h
}

func (m *Monitor) ages(ctx context.Context, s *StoreHealth, now time.Time) error {
	var err error
	if s.Backlog, err = m.o.Store.Backlog(ctx); err != nil {
		return err
	}
	sensors, err := m.o.Store.Sensors(ctx)
	if err != nil {
		return err
	}
	s.Sensors = len(sensors)
	keys := map[int64]string{}
	for _, x := range sensors {
		keys[x.ID] = x.Key
	}
	latest, err := m.o.Store.Latest(ctx)
	if err != nil {
		return err
	}
	newest := int64(0)
	for _, r := range latest {
		newest = max(newest, r.At)
		if key, ok := keys[r.Sensor]; ok {
			s.sensorAges = append(s.sensorAges, sensorAge{key, now.Sub(store.Time(r.At)).Seconds()})
		}
	}
	if newest > 0 {
		age := now.Sub(store.Time(newest)).Seconds()
		s.LastAge, s.LastAt = &age, store.Time(newest).Format(time.RFC3339)
	}
	return nil
}

// Health answers with 200 if all is well, else with 503, and says what it looked at.
func (m *Monitor) Health() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := m.Look(r.Context())
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Cache-Control", "no-store")
		if h.Status != "ok" {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		e.Encode(h) // who has gone away needs no answer
	})
}

// labels escapes the value of a label, as the text format asks.
var labels = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

// Metrics answers in the text format of Prometheus.
func (m *Monitor) Metrics() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := m.Look(r.Context())
		var b bytes.Buffer
		gauge := func(name string, v float64) { metrics.WriteGaugeFloat64(&b, name, v) }
		truth := func(v bool) float64 {
			if v {
				return 1
			}
			return 0
		}
		gauge("underlamp_up_seconds", h.Up)
		gauge("underlamp_healthy", truth(h.Status == "ok"))
		if s := h.Store; s != nil {
			gauge("underlamp_store_writable", truth(s.Writable))
			gauge("underlamp_store_keeping", truth(s.Keeping))
			gauge("underlamp_backlog_readings", float64(s.Backlog))
			gauge("underlamp_sensors", float64(s.Sensors))
			if s.LastAge != nil {
				gauge("underlamp_last_reading_age_seconds", *s.LastAge)
			}
			if len(s.sensorAges) > 0 {
				metrics.WriteMetadataIfNeeded(&b, "underlamp_sensor_age_seconds", "gauge")
			}
			for _, x := range s.sensorAges {
				fmt.Fprintf(&b, "underlamp_sensor_age_seconds{sensor=\"%s\"} %g\n", labels.Replace(x.key), x.age)
			}
		}
		if q := h.Queue; q != nil {
			gauge("underlamp_jobs_waiting", float64(q.Waiting))
			gauge("underlamp_jobs_given_up", float64(q.Given))
		}
		m.set.WritePrometheus(&b)
		metrics.WriteProcessMetrics(&b)
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		b.WriteTo(w)
	})
}
