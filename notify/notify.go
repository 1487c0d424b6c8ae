package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/store"
)

// The document that says who is told: its kind and name in the store.
const (
	Kind = "notify"
	Name = "receivers"
)

// FromStore gives who is told, as the document of a store says it; nobody if there is
// none. parse reads its text.
func FromStore(keep store.Documents, parse func(text []byte) ([]underlamp.Receiver, error)) func(ctx context.Context) ([]underlamp.Receiver, error) {
	return func(ctx context.Context) ([]underlamp.Receiver, error) {
		d, err := keep.Document(ctx, Kind, Name)
		if errors.Is(err, store.ErrNotFound) {
			return nil, nil
		} else if err != nil {
			return nil, err
		}
		got, err := parse(d.Text)
		if err != nil {
			return nil, fmt.Errorf("who is told cannot be read (underlamp notify): %w", err)
		}
		return got, nil
	}
}

// What a notice can tell.
const (
	EventOpen  = "open"
	EventClose = "close"
	EventTest  = "test"
)

// A Notice is what is sent to a receiver.
type Notice struct {
	Event   string
	Message store.Message
}

// ID is the same whenever the notice is sent again.
func (n Notice) ID() string { return fmt.Sprintf("%d-%s", n.Message.ID, n.Event) }

// Subject is the notice in a line.
func (n Notice) Subject() string {
	m := n.Message
	switch {
	case n.Event == EventClose:
		return m.Bench + ": over: " + m.Rule
	case m.Urgent:
		return m.Bench + ": URGENT: " + m.Rule
	}
	return m.Bench + ": " + m.Rule
}

// Body is the notice in sentences, times in a zone.
func (n Notice) Body(zone *time.Location) string {
	m := n.Message
	at := func(us int64) string { return store.Time(us).In(zone).Format("2006-01-02 15:04 MST") }
	var b strings.Builder
	if n.Event == EventClose {
		fmt.Fprintf(&b, "This is over since %s:\n\n", at(m.Closed))
	}
	fmt.Fprintf(&b, "%s\n%s\n\nBench: %s\nSince: %s\nNoticed: %s\n", m.Text, m.Mend, m.Bench, at(m.Since), at(m.Opened))
	if n.Event != EventClose {
		b.WriteString("\nThis message comes once. Local codes and licensed practice govern; this is no safety device.\n")
	}
	return b.String()
}

// JSON is the notice for programs: the body of a webhook, the payload of MQTT.
func (n Notice) JSON() []byte {
	m := n.Message
	rfc := func(us int64) *string {
		if us == 0 {
			return nil
		}
		s := store.Time(us).Format(time.RFC3339)
		return &s
	}
	out, err := json.Marshal(struct {
		ID     string  `json:"id"`
		Event  string  `json:"event"`
		Bench  string  `json:"bench"`
		Rule   string  `json:"rule"`
		Text   string  `json:"text"`
		Mend   string  `json:"what_to_do"`
		Urgent bool    `json:"urgent"`
		Since  *string `json:"since"`
		Opened *string `json:"opened"`
		Closed *string `json:"closed"`
	}{n.ID(), n.Event, m.Bench, m.Rule, m.Text, m.Mend, m.Urgent, rfc(m.Since), rfc(m.Opened), rfc(m.Closed)})
	if err != nil {
		panic("notify: JSON: " + err.Error()) // texts and numbers only
	}
	return out
}

// A Send takes a notice to a receiver, and returns when it has arrived.
type Send func(ctx context.Context, r *underlamp.Receiver, n Notice) error

// A Store is what a notifier needs of a store.
type Store interface {
	store.Messages
	store.Deliveries
}

// Options of a notifier; zero values are the usual ones.
type Options struct {
	Now func() time.Time // nil is the clock
	Log *slog.Logger     // nil logs nothing

	// Quiet says until when messages of a bench wait that are not urgent; false if they
	// do not wait now. Nil: they never wait.
	Quiet func(bench string, at time.Time) (until time.Time, quiet bool)

	Webhook Send                                     // nil: there is none
	Mail    Send                                     // nil: there is none
	MQTT    func(topic string, payload []byte) error // nil: there is no broker

	Every time.Duration // between looks of [Notifier.Run]; 0 means 5 s
}

const (
	giveUp  = 48 * time.Hour // after which a delivery is given up
	lease   = 2 * time.Minute
	sending = 30 * time.Second // that one delivery may take
	atOnce  = 16
)

// backOff is how long to wait after a number of tries that failed.
func backOff(tries int) time.Duration {
	d := 30 * time.Second
	for range min(tries, 8) - 1 {
		d *= 3
	}
	return min(d, time.Hour)
}

// A Notifier sends what the store says is to be sent.
type Notifier struct {
	keep      Store
	receivers func(ctx context.Context) ([]underlamp.Receiver, error)
	opt       Options
}

// New is a notifier. receivers gives who is told what, as it is now.
func New(keep Store, receivers func(ctx context.Context) ([]underlamp.Receiver, error), opt Options) *Notifier {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Every == 0 {
		opt.Every = 5 * time.Second
	}
	return &Notifier{keep, receivers, opt}
}

// Run looks and sends until ctx is done.
func (n *Notifier) Run(ctx context.Context) {
	t := time.NewTicker(n.opt.Every)
	defer t.Stop()
	for {
		if err := n.Tick(ctx); err != nil && ctx.Err() == nil {
			n.opt.Log.Error("messages were not sent; it is tried again", "err", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
	}
}

// Tick plans what is new and sends what is due.
func (n *Notifier) Tick(ctx context.Context) error {
	now := n.opt.Now()
	receivers, err := n.receivers(ctx)
	if err != nil {
		return err
	}
	messages, err := n.keep.Messages(ctx, "", store.At(now.Add(-giveUp)), store.At(now.Add(time.Hour)))
	if err != nil {
		return err
	}
	by := map[int64]store.Message{}
	for _, m := range messages {
		by[m.ID] = m
	}
	if err := n.plan(ctx, receivers, messages, now); err != nil {
		return err
	}
	for {
		due, err := n.keep.ClaimDeliveries(ctx, store.At(now), store.At(now.Add(lease)), atOnce)
		if err != nil {
			return err
		}
		if len(due) == 0 {
			return nil
		}
		var wg sync.WaitGroup
		faults := make([]error, len(due))
		for i, d := range due {
			wg.Go(func() { faults[i] = n.deliver(ctx, d, receivers, by, now) })
		}
		wg.Wait()
		if err := errors.Join(faults...); err != nil {
			return err
		}
		if len(due) < atOnce {
			return nil
		}
	}
}

// plan enters who is to be told of what.
func (n *Notifier) plan(ctx context.Context, receivers []underlamp.Receiver, messages []store.Message, now time.Time) error {
	var ds []store.Delivery
	for _, m := range messages {
		if m.Closed == 0 || m.Urgent {
			for i := range receivers {
				if r := &receivers[i]; r.Takes(m.Bench, m.Urgent) {
					ds = append(ds, store.Delivery{Message: m.ID, Event: EventOpen, Receiver: r.Name, Due: store.At(now)})
				}
			}
		}
		if m.Closed == 0 {
			continue
		}
		told, err := n.keep.Deliveries(ctx, m.ID)
		if err != nil {
			return err
		}
		for _, d := range told { // who was told of the begin is told of the end
			if d.Event == EventOpen && d.Done != 0 && d.Fault == "" {
				ds = append(ds, store.Delivery{Message: m.ID, Event: EventClose, Receiver: d.Receiver, Due: store.At(now)})
			}
		}
	}
	return n.keep.PlanDeliveries(ctx, ds)
}

// deliver sends one, and enters what became of it.
func (n *Notifier) deliver(ctx context.Context, d store.Delivery, receivers []underlamp.Receiver, messages map[int64]store.Message, now time.Time) error {
	end := func(why string) error {
		d.Done, d.Fault = store.At(now), why
		return n.keep.PutDelivery(ctx, d)
	}
	m, ok := messages[d.Message]
	if !ok {
		return end("too old to be of use")
	}
	var r *underlamp.Receiver
	for i := range receivers {
		if receivers[i].Name == d.Receiver {
			r = &receivers[i]
		}
	}
	switch {
	case r == nil:
		return end("there is no such receiver any more")
	case m.Urgent:
	case d.Event == EventOpen && m.Closed != 0:
		return end("over before it was sent")
	case d.Event == EventOpen && m.Acknowledged != 0:
		return end("known before it was sent")
	case n.opt.Quiet != nil:
		if until, quiet := n.opt.Quiet(m.Bench, now); quiet {
			d.Due = store.At(until)
			return n.keep.PutDelivery(ctx, d)
		}
	}
	sent, cancel := context.WithTimeout(ctx, sending)
	err := n.Send(sent, r, Notice{d.Event, m})
	cancel()
	if ctx.Err() != nil {
		return ctx.Err() // the claim runs out, and it is sent again
	}
	d.Tries++
	if err == nil {
		return end("")
	}
	d.Fault = err.Error()
	n.opt.Log.Warn("a message did not arrive", "receiver", r.Name, "bench", m.Bench, "rule", m.Rule, "tries", d.Tries, "err", err)
	if now.Sub(store.Time(max(m.Opened, m.Closed))) > giveUp-time.Hour {
		return end("given up: " + d.Fault)
	}
	d.Due = store.At(now.Add(backOff(d.Tries)))
	return n.keep.PutDelivery(ctx, d)
}

// Send takes a notice to a receiver now, on its way. It is for trying a receiver out, too.
func (n *Notifier) Send(ctx context.Context, r *underlamp.Receiver, notice Notice) error {
	switch {
	case r.Webhook != nil && n.opt.Webhook != nil:
		return n.opt.Webhook(ctx, r, notice)
	case r.Mail != nil && n.opt.Mail != nil:
		return n.opt.Mail(ctx, r, notice)
	case r.Topic != "" && n.opt.MQTT != nil:
		return n.opt.MQTT(r.Topic, notice.JSON())
	}
	return errors.New("this server has no way to the receiver")
}

// Reveal reads a secret. Its error does not hold it.
func Reveal(s underlamp.Secret) (string, error) {
	switch {
	case s.Env != "":
		v, ok := os.LookupEnv(s.Env)
		if !ok || v == "" {
			return "", fmt.Errorf("the variable %s of the environment is not set", s.Env)
		}
		return v, nil
	case s.File != "":
		b, err := os.ReadFile(s.File)
		if err != nil {
			return "", fmt.Errorf("the secret cannot be read: %w", err)
		}
		v := strings.TrimRight(string(b), "\r\n")
		if v == "" {
			return "", fmt.Errorf("the file %s of a secret is empty", s.File)
		}
		return v, nil
	}
	return "", nil
}
