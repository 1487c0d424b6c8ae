package actuate_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp"
	"underlamp/actuate"
	"underlamp/internal/mqtttest"
	"underlamp/mqtt"
	"underlamp/mqtt/mqttbroker"
	"underlamp/mqtt/mqttlink"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// A way records what is sent.
type way struct {
	mu     sync.Mutex
	sent   []string
	fail   bool
	wills  []actuate.Will
	ups    []func()
	closed int
}

func (w *way) dial(x actuate.Will, up func()) (actuate.Outlet, bool, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.wills = append(w.wills, x)
	w.ups = append(w.ups, up)
	return w, true, nil
}

func (w *way) Publish(_ context.Context, topic string, payload []byte, retain bool) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.fail {
		return errors.New("no connection")
	}
	if !retain {
		return errors.New("not retained")
	}
	w.sent = append(w.sent, topic+" "+string(payload))
	return nil
}

func (w *way) Close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed++
}

func (w *way) take() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := w.sent
	w.sent = nil
	return out
}

// A room is what an actor acts on.
type room struct {
	t         *testing.T
	bench     *underlamp.Bench
	acting    *underlamp.Acting
	overrides []underlamp.Override
	bad       error
	way       way
	db        *sqlite.DB
	log       mqtttest.Log
	wall      time.Time
	steady    time.Duration
	actor     *actuate.Actor
}

func newRoom(t *testing.T) *room {
	t.Helper()
	db, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	r := &room{
		t: t, db: db, wall: time.Date(2026, 11, 26, 5, 59, 0, 0, time.UTC),
		bench: &underlamp.Bench{Lamps: []underlamp.Lamp{
			{Name: "left", Dimming: underlamp.Said[quantity.Fraction](0.6), Hours: underlamp.Said[quantity.Hours](16)},
			{Name: "right", Dimming: underlamp.Said[quantity.Fraction](1), Hours: underlamp.Said[quantity.Hours](4)},
		}},
		acting: &underlamp.Acting{Bench: "rack", Zone: time.UTC, Live: true, Lamps: []underlamp.Actuator{
			{Lamp: "left", Topic: "rack/left", On: 6 * time.Hour, Low: 0.2, High: 0.9, MaxHours: 18, Safe: 0.3, Wait: 30 * time.Second},
			{Lamp: "right", Topic: "rack/right", Payload: underlamp.Switch, On: 5 * time.Hour, Low: 1, High: 1, MaxHours: 5},
		}},
	}
	r.start()
	return r
}

func (r *room) start() {
	r.actor = actuate.New("rack", func(context.Context) (*underlamp.Acting, *underlamp.Bench, []underlamp.Override, error) {
		return r.acting, r.bench, r.overrides, r.bad
	}, r.way.dial, r.db, actuate.Options{
		Log: slog.New(slog.NewTextHandler(&r.log, nil)), Now: func() time.Time { return r.wall }, Steady: func() time.Duration { return r.steady },
	})
}

// step lets time pass and decides.
func (r *room) step(d time.Duration) []string {
	r.wall, r.steady = r.wall.Add(d), r.steady+d
	r.actor.Step(context.Background())
	return r.way.take()
}

func (r *room) want(got []string, want ...string) {
	r.t.Helper()
	if !slices.Equal(got, want) {
		r.t.Errorf("sent %v, want %v\n%s", got, want, r.log.String())
	}
}

// Only what changes is sent; again after a new connection and after a failure; the safe
// state at the end.
func TestSends(t *testing.T) {
	r := newRoom(t)
	r.want(r.step(0), "rack/left 0", "rack/right ON")
	r.want(r.step(10 * time.Second))
	r.want(r.step(time.Minute), "rack/left 60")
	r.want(r.step(time.Minute))
	if s := r.actor.Status(); len(s) != 2 || s[0].Payload != "60" || !s[0].Sent || !strings.Contains(s[0].Why, "lit until 22:00") {
		t.Errorf("%+v", s)
	}
	if w := r.way.wills; len(w) != 2 || w[0].Topic != "rack/left" || string(w[0].Payload) != "30" || w[0].Wait != 30*time.Second || string(w[1].Payload) != "OFF" {
		t.Errorf("%+v", w)
	}
	// A new connection of the left lamp.
	r.way.ups[0]()
	var got []string
	for begin := time.Now(); len(got) == 0 && time.Since(begin) < 2*time.Minute; time.Sleep(time.Millisecond) {
		got = r.step(0)
	}
	r.want(got, "rack/left 60")
	// A failure: it is sent when it can be.
	r.way.fail = true
	r.overrides = []underlamp.Override{{Lamp: "left", Dimming: 0.25}}
	r.want(r.step(10 * time.Second))
	if s := r.actor.Status(); s[0].Sent || !strings.Contains(s[0].Problem, "no connection") {
		t.Errorf("%+v", s[0])
	}
	r.way.fail = false
	r.want(r.step(10*time.Second), "rack/left 25")
	r.overrides = nil
	r.want(r.step(10*time.Second), "rack/left 60")
	r.actor.Close()
	r.want(r.way.take(), "rack/left 30", "rack/right OFF")
	if r.way.closed != 2 {
		t.Errorf("%d ways are closed", r.way.closed)
	}
}

// A dry run opens nothing and sends nothing; it logs each change once.
func TestDry(t *testing.T) {
	r := newRoom(t)
	r.acting.Live = false
	for range 20 {
		r.want(r.step(10 * time.Second))
	}
	r.actor.Close()
	if len(r.way.wills) != 0 || len(r.way.take()) != 0 || r.actor.Live() {
		t.Error("a dry run reached for a lamp")
	}
	if n := strings.Count(r.log.String(), "dry run"); n != 3 { // dark, on; left goes on
		t.Errorf("%d lines: %s", n, r.log.String())
	}
	// Taken live, and dry again: the lamps are left in their safe state.
	r.start()
	r.acting.Live = true
	r.want(r.step(time.Second), "rack/left 60", "rack/right ON")
	r.acting = &underlamp.Acting{Bench: "rack", Zone: time.UTC, Lamps: r.acting.Lamps}
	r.want(r.step(time.Second), "rack/left 30", "rack/right OFF")
}

// What cannot be read or does not fit changes nothing, and is said once. A lamp that goes
// out of the description is left in its safe state.
func TestTrouble(t *testing.T) {
	r := newRoom(t)
	r.bad = errors.New("line 3: no")
	r.want(r.step(0))
	r.want(r.step(time.Second))
	r.bad = nil
	r.want(r.step(time.Second), "rack/left 0", "rack/right ON")
	bench := r.bench
	r.bench = &underlamp.Bench{Lamps: bench.Lamps[:1]}
	r.want(r.step(2*time.Minute), "rack/left 60")
	r.bench = bench
	acting := *r.acting
	acting.Lamps = acting.Lamps[:1]
	r.acting = &acting
	r.want(r.step(time.Second), "rack/right OFF")
	text := r.log.String()
	if strings.Count(text, "line 3: no") != 1 || strings.Count(text, "is not on the bench") != 1 {
		t.Error(text)
	}
}

// The hours of the day hold over a new start, in order or not, and while the program was
// away a lamp counts as its will has it.
func TestNewStart(t *testing.T) {
	r := newRoom(t)
	r.overrides = []underlamp.Override{{Lamp: "right", Dimming: 1}}
	r.step(0) // right is lit since 5:59, for five hours at most
	for range 4 * 60 {
		r.step(time.Minute)
	}
	r.wall = r.wall.Add(30 * time.Second) // it dies; its will sets it off
	r.start()
	r.want(r.step(0), "rack/left 60", "rack/right ON")
	for range 50 {
		r.step(time.Minute)
	}
	r.actor.Close() // in order, and away for an hour
	r.way.take()
	r.wall, r.steady = r.wall.Add(time.Hour), 0
	r.start()
	r.want(r.step(0), "rack/left 60", "rack/right ON")
	var got []string
	n := 0
	for ; len(got) == 0 && n < 60; n++ {
		got = r.step(time.Minute)
	}
	r.want(got, "rack/right OFF")
	if n < 9 || n > 12 { // 4 h, 50 min, and some
		t.Errorf("off after %d minutes more", n)
	}
	// Set back by an hour it stays off.
	r.wall = r.wall.Add(-time.Hour)
	r.want(r.step(time.Minute))
}

func until(t testing.TB, what string, holds func() bool) {
	t.Helper()
	for begin := time.Now(); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not in time: ", what)
		}
	}
}

// Through real brokers: the lamp hears its setting, its safe state by the will when the
// line dies, its setting again when the line is back, and its safe state at the end.
func TestOutsideBroker(t *testing.T) {
	for name, start := range mqtttest.Kinds(t) {
		for _, version := range []string{"5", "3.1.1"} {
			t.Run(name+" "+version, func(t *testing.T) {
				b := start(t)
				line := mqtttest.NewLine(t, b.Address)
				if version == "3.1.1" {
					line = mqtttest.NewOldLine(t, b.Address)
				}
				r := newRoom(t)
				r.acting.Lamps = r.acting.Lamps[:1]
				r.acting.Lamps[0].Wait = 0
				heard := mqtttest.Hear(t, b.Address, "rack/left")
				text := func() string { return fmt.Sprint(slices.Compact(heard())) } // a setting may come twice
				actor := actuate.New("rack", func(context.Context) (*underlamp.Acting, *underlamp.Bench, []underlamp.Override, error) {
					return r.acting, r.bench, []underlamp.Override{{Lamp: "left", Dimming: 0.5}}, nil
				}, actuate.Outside(mqttlink.Options{Address: mqttlink.Address{Host: line.Address}, Retry: 10 * time.Millisecond}), r.db, actuate.Options{Every: 10 * time.Millisecond})
				ctx, cancel := context.WithCancel(context.Background())
				done := make(chan struct{})
				go func() { actor.Run(ctx); close(done) }()
				until(t, "the setting", func() bool { return text() == "[50]" })
				line.Cut()
				until(t, "the will", func() bool { return text() == "[50 30]" })
				line.Mend()
				until(t, "the setting again", func() bool { return text() == "[50 30 50]" })
				time.Sleep(50 * time.Millisecond)
				cancel()
				<-done
				until(t, "the safe state", func() bool { return text() == "[50 30 50 30]" })
			})
		}
	}
}

// Through our own broker: the lamp is a device that reads below its own name.
func TestOwnBroker(t *testing.T) {
	r := newRoom(t)
	token, hash := store.NewToken()
	if err := r.db.AddDevice(context.Background(), store.Device{Name: "rack"}, hash); err != nil {
		t.Fatal(err)
	}
	broker, err := mqttbroker.Start(mqttbroker.Options{Listen: "127.0.0.1:0"}, r.db, func(context.Context, mqtt.Message) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	defer broker.Close()
	actor := actuate.New("rack", func(context.Context) (*underlamp.Acting, *underlamp.Bench, []underlamp.Override, error) {
		return r.acting, r.bench, []underlamp.Override{{Lamp: "left", Dimming: 0.5}, {Lamp: "right", Dimming: 1}}, nil
	}, actuate.Inside(broker), r.db, actuate.Options{})
	actor.Step(context.Background())
	heard := make(chan string, 10)
	lamp, err := mqttlink.Open(mqttlink.Options{
		Address: mqttlink.Address{Host: broker.Address()}, User: "rack", Password: token, Client: "lamp", Filters: []string{"rack/left"},
		Receive: func(_ context.Context, m mqtt.Message) error { heard <- string(m.Payload); return nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	defer lamp.Close()
	if got := <-heard; got != "50" { // retained
		t.Errorf("%q", got)
	}
	actor.Close()
	broker.Close() // at once: the lamp still hears it
	if got := <-heard; got != "30" {
		t.Errorf("%q", got)
	}
}
