package notify_test

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp"
	"underlamp/notify"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var start = time.Date(2026, 6, 10, 12, 0, 0, 0, time.UTC)

// A post counts what arrives, and fails while it is broken.
type post struct {
	mu     sync.Mutex
	got    []string
	broken bool
}

func (p *post) send(_ context.Context, r *underlamp.Receiver, n notify.Notice) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.broken {
		return errors.New("no connection")
	}
	p.got = append(p.got, r.Name+" "+n.ID())
	return nil
}

func (p *post) take() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := strings.Join(p.got, ", ")
	p.got = nil
	return out
}

type world struct {
	t    *testing.T
	keep *sqlite.DB
	now  time.Time
	post *post
	to   []underlamp.Receiver
}

func newWorld(t *testing.T) *world {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	hook := &underlamp.Webhook{URL: "http://127.0.0.1"}
	return &world{t, s, start, &post{}, []underlamp.Receiver{{Name: "all", Webhook: hook}, {Name: "night", Webhook: hook, Urgent: true}, {Name: "cellar", Webhook: hook, Benches: []string{"cellar"}}}}
}

func (w *world) notifier(o notify.Options) *notify.Notifier {
	o.Now, o.Webhook = func() time.Time { return w.now }, w.post.send
	return notify.New(w.keep, func(context.Context) ([]underlamp.Receiver, error) { return w.to, nil }, o)
}

func (w *world) open(rule string, urgent bool) store.Message {
	w.t.Helper()
	m, _, err := w.keep.OpenMessage(context.Background(), store.Message{Bench: "shelf", Rule: rule, Text: rule, Urgent: urgent, Since: store.At(w.now), Opened: store.At(w.now)})
	if err != nil {
		w.t.Fatal(err)
	}
	return m
}

func (w *world) close(rule string) {
	w.t.Helper()
	if ok, err := w.keep.CloseMessage(context.Background(), "shelf", rule, store.At(w.now)); err != nil || !ok {
		w.t.Fatal(ok, err)
	}
}

func (w *world) tick(n *notify.Notifier, when, want string) {
	w.t.Helper()
	if err := n.Tick(context.Background()); err != nil {
		w.t.Fatal(when, err)
	}
	if got := w.post.take(); got != want {
		w.t.Errorf("%s: sent %q, want %q", when, got, want)
	}
}

// Each gets what is theirs, once; also from a notifier that was started anew.
func TestWhoGetsWhat(t *testing.T) {
	w := newWorld(t)
	n := w.notifier(notify.Options{})
	w.open("dew", false)
	w.tick(n, "dew", "all 1-open")
	w.tick(n, "again", "")
	w.tick(w.notifier(notify.Options{}), "after a new start", "")
	w.open("CO2 danger", true)
	if err := n.Tick(context.Background()); err != nil {
		t.Fatal(err)
	}
	if got := w.post.take(); got != "all 2-open, night 2-open" && got != "night 2-open, all 2-open" {
		t.Errorf("urgent: %q", got)
	}
	w.now = w.now.Add(time.Hour)
	w.close("dew")
	w.tick(n, "over", "all 1-close")
	w.tick(n, "again", "")
}

// A receiver that does not answer is tried again, ever more rarely, until it does; after
// two days it is given up, and the fault stays.
func TestRetries(t *testing.T) {
	w := newWorld(t)
	n := w.notifier(notify.Options{})
	w.post.broken = true
	m := w.open("dew", false)
	tries := 0
	for range 60 * 24 * 3 {
		if err := n.Tick(context.Background()); err != nil {
			t.Fatal(err)
		}
		w.now = w.now.Add(time.Minute)
	}
	ds, err := w.keep.Deliveries(context.Background(), m.ID)
	if err != nil || len(ds) != 1 || ds[0].Done == 0 || !strings.HasPrefix(ds[0].Fault, "given up: no connection") {
		t.Fatalf("%+v, %v", ds, err)
	}
	if tries = ds[0].Tries; tries < 40 || tries > 60 { // once an hour for two days, and some at first
		t.Errorf("%d tries in two days", tries)
	}
	w.post.broken = false
	w.tick(n, "after it was given up", "")

	w = newWorld(t)
	n = w.notifier(notify.Options{})
	w.post.broken = true
	w.open("dew", false)
	w.tick(n, "broken", "")
	w.now = w.now.Add(20 * time.Second)
	w.post.broken = false
	w.tick(n, "too early", "")
	w.now = w.now.Add(20 * time.Second)
	w.tick(n, "mended", "all 1-open")
}

// Two servers on one store send each notice once; one that dies with a claim leaves it to
// the other, two minutes later.
func TestManyServers(t *testing.T) {
	w := newWorld(t)
	a, b := w.notifier(notify.Options{}), w.notifier(notify.Options{})
	for i := range 40 {
		w.open("rule "+string(rune('A'+i)), false)
	}
	var wg sync.WaitGroup
	for _, n := range []*notify.Notifier{a, b, a, b} {
		wg.Go(func() {
			if err := n.Tick(context.Background()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	w.post.mu.Lock()
	seen := map[string]int{}
	for _, g := range w.post.got {
		seen[g]++
	}
	w.post.got = nil
	w.post.mu.Unlock()
	if len(seen) != 40 {
		t.Errorf("%d of 40 were sent", len(seen))
	}
	for g, n := range seen {
		if n != 1 {
			t.Errorf("%s was sent %d times", g, n)
		}
	}
	// A server claims and dies.
	m := w.open("dew", false)
	if err := w.keep.PlanDeliveries(context.Background(), []store.Delivery{{Message: m.ID, Event: notify.EventOpen, Receiver: "all", Due: store.At(w.now)}}); err != nil {
		t.Fatal(err)
	}
	if got, err := w.keep.ClaimDeliveries(context.Background(), store.At(w.now), store.At(w.now.Add(2*time.Minute)), 5); err != nil || len(got) != 1 {
		t.Fatal(got, err)
	}
	w.tick(b, "while it is claimed", "")
	w.now = w.now.Add(3 * time.Minute)
	w.tick(b, "after the claim", "all 41-open")
}

// Quiet hours hold back what is not urgent. What is over or known by then is not sent.
func TestQuiet(t *testing.T) {
	w := newWorld(t)
	w.to = w.to[:1]
	until := start.Add(time.Hour)
	n := w.notifier(notify.Options{Quiet: func(_ string, at time.Time) (time.Time, bool) { return until, at.Before(until) }})
	w.open("dew", false)
	w.open("silent rh", false)
	known := w.open("stuck rh", false)
	w.open("CO2 danger", true)
	w.tick(n, "in quiet hours", "all 4-open")
	w.now = w.now.Add(30 * time.Minute)
	w.close("silent rh")
	if err := w.keep.Acknowledge(context.Background(), known.ID, "Ines", store.At(w.now)); err != nil {
		t.Fatal(err)
	}
	w.tick(n, "still", "")
	w.now = start.Add(61 * time.Minute)
	w.tick(n, "after them", "all 1-open")
	w.tick(n, "again", "")
}

// A danger that was over before the way to the receiver was mended is told all the same,
// and its end.
func TestUrgentIsToldLate(t *testing.T) {
	w := newWorld(t)
	w.to = w.to[:1]
	n := w.notifier(notify.Options{})
	w.post.broken = true
	w.open("CO2 danger", true)
	w.tick(n, "broken", "")
	w.now = w.now.Add(5 * time.Minute)
	w.close("CO2 danger")
	w.post.broken = false
	w.tick(n, "mended", "all 1-open")
	w.tick(n, "and its end", "all 1-close")
}

func TestTopic(t *testing.T) {
	w := newWorld(t)
	w.to = []underlamp.Receiver{{Name: "broker", Topic: "underlamp/messages"}}
	var topic, payload string
	n := w.notifier(notify.Options{MQTT: func(at string, p []byte) error { topic, payload = at, string(p); return nil }})
	w.open("dew", false)
	w.tick(n, "dew", "")
	if topic != "underlamp/messages" || !strings.Contains(payload, `"rule":"dew"`) {
		t.Errorf("%s: %s", topic, payload)
	}
	none := w.notifier(notify.Options{})
	m := w.open("more dew", false)
	w.tick(none, "no broker", "")
	if ds, err := w.keep.Deliveries(context.Background(), m.ID); err != nil || len(ds) != 1 || ds[0].Done != 0 || !strings.Contains(ds[0].Fault, "no way") {
		t.Errorf("%+v, %v", ds, err)
	}
}

func TestReveal(t *testing.T) {
	t.Setenv("UL_TEST_SECRET", "walnut")
	if s, err := notify.Reveal(underlamp.Secret{Env: "UL_TEST_SECRET"}); s != "walnut" || err != nil {
		t.Error(s, err)
	}
	if s, err := notify.Reveal(underlamp.Secret{}); s != "" || err != nil {
		t.Error(s, err)
	}
	if _, err := notify.Reveal(underlamp.Secret{Env: "UL_TEST_UNSET"}); err == nil || !strings.Contains(err.Error(), "is not set") {
		t.Error(err)
	}
}
