package actuate

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"underlamp"
	"underlamp/app/act"
	"underlamp/mqtt"
	"underlamp/science/quantity"
	"underlamp/store"
)

// kindState is the kind of the documents that say what was set.
const kindState = "act state"

// A Will is what a lamp is to be set to when the program dies.
type Will struct {
	Topic   string
	Payload []byte
	Wait    time.Duration
}

// An Outlet is a way to one lamp.
type Outlet interface {
	mqtt.Publisher
	Close()
}

// A Dial opens a way to a lamp, with its will if it can have one, and calls up after each
// connection; up returns at once. The way need not be open yet. It says whether somebody
// will see to the will.
type Dial func(w Will, up func()) (out Outlet, willed bool, err error)

// A Load reads what to do now: the description, its bench, and what a person wants.
type Load func(ctx context.Context) (*underlamp.Acting, *underlamp.Bench, []underlamp.Override, error)

// Options of an actor; zero values are the usual ones.
type Options struct {
	Every time.Duration // between decisions; 0 means 10 s
	Log   *slog.Logger  // nil logs nothing
	Now   func() time.Time
	// Steady is the time by a clock that only goes forward, from any begin; nil is that of
	// the machine.
	Steady func() time.Duration
}

// A Status is what a lamp is set to.
type Status struct {
	Lamp    string
	Topic   string
	Dimming quantity.Fraction
	Payload string
	Why     string
	Limited string // the limit that changed what was wanted; empty if none did
	Sent    bool   // the broker has it; false in a dry run
	Problem string // why it could not be sent; empty if it could
}

// A hand turns one lamp.
type hand struct {
	plan   act.Plan
	out    Outlet // nil in a dry run
	willed bool
	state  act.State
	said   string // payload that the broker has; empty if it may not
	logged string // payload that was logged last
	status Status
}

// An Actor turns the lamps of one bench, from Run to its end.
type Actor struct {
	name string
	load Load
	dial Dial
	keep store.Documents
	opt  Options
	wake chan struct{}

	mu        sync.Mutex
	zone      *time.Location
	live      bool
	overrides []underlamp.Override
	hands     map[string]*hand
	again     map[string]bool // topics whose connection is new
	wall      time.Time       // of the last decision
	steady    time.Duration
	told      string // what is wrong, as logged
	saved     string
}

// New makes an actor; name is that of its documents.
func New(name string, load Load, dial Dial, keep store.Documents, opt Options) *Actor {
	if opt.Every == 0 {
		opt.Every = 10 * time.Second
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Steady == nil {
		begin := time.Now()
		opt.Steady = func() time.Duration { return time.Since(begin) }
	}
	opt.Log = opt.Log.With("act", name)
	return &Actor{name: name, load: load, dial: dial, keep: keep, opt: opt, wake: make(chan struct{}, 1), hands: map[string]*hand{}, again: map[string]bool{}}
}

// Run decides until ctx is done, and then sets all lamps to their safe state.
func (a *Actor) Run(ctx context.Context) {
	tick := time.NewTicker(a.opt.Every)
	defer tick.Stop()
	for {
		a.Step(ctx)
		select {
		case <-tick.C:
		case <-a.wake:
		case <-ctx.Done():
			a.Close()
			return
		}
	}
}

// Status tells what each lamp is set to, by its name.
func (a *Actor) Status() []Status {
	a.mu.Lock()
	defer a.mu.Unlock()
	var out []Status
	for _, name := range slices.Sorted(maps.Keys(a.hands)) {
		out = append(out, a.hands[name].status)
	}
	return out
}

// Live says whether lamps are turned, and not only watched.
func (a *Actor) Live() bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.live
}

// trouble logs what is wrong, once for each reason.
func (a *Actor) trouble(text string, err error) {
	now := ""
	if err != nil {
		now = text + err.Error()
	}
	if now != a.told && err != nil {
		a.opt.Log.Error(text, "why", err)
	} else if now != a.told {
		a.opt.Log.Info("it can be acted again")
	}
	a.told = now
}

// Step decides once for each lamp, and sends what has changed. If what to do cannot be
// read or does not fit the bench, the lamps go on by what was read last.
func (a *Actor) Step(ctx context.Context) {
	a.mu.Lock()
	defer a.mu.Unlock()
	acting, bench, overrides, err := a.load(ctx)
	var plans []act.Plan
	if err == nil {
		plans, err = act.Plans(bench, acting)
	}
	if ctx.Err() != nil {
		return
	}
	if err == nil {
		a.overrides = overrides
		err = a.adopt(ctx, acting, plans)
	}
	a.trouble("what to do with the lamps cannot be told; they go on as before", err)
	if len(a.hands) == 0 {
		return
	}
	now, steady := a.opt.Now(), a.opt.Steady()
	var elapsed time.Duration
	if !a.wall.IsZero() {
		elapsed = act.Elapsed(steady-a.steady, now.Round(0).Sub(a.wall))
	}
	a.wall, a.steady = now.Round(0), steady
	wants := map[string]*underlamp.Override{}
	for i := range a.overrides {
		wants[a.overrides[i].Lamp] = &a.overrides[i]
	}
	for _, name := range slices.Sorted(maps.Keys(a.hands)) {
		h := a.hands[name]
		if a.again[h.plan.Topic] {
			h.said = ""
			delete(a.again, h.plan.Topic)
		}
		d, s := act.Decide(h.plan, wants[name], h.state, act.Tick{Now: now, Elapsed: elapsed})
		h.state = s
		a.tell(ctx, h, d)
	}
	a.save(ctx)
}

// tell sends a decision if the broker does not have it, or logs what would be sent.
func (a *Actor) tell(ctx context.Context, h *hand, d act.Decision) {
	text := h.plan.Payload.Text(d.Dimming)
	h.status = Status{Lamp: h.plan.Lamp, Topic: h.plan.Topic, Dimming: d.Dimming, Payload: text, Why: d.Why, Limited: d.Limited, Sent: h.out != nil && h.said == text}
	if h.logged != text {
		word := "a lamp is set"
		if h.out == nil {
			word = "a lamp would be set, but this is a dry run"
		}
		a.opt.Log.Info(word, "lamp", h.plan.Lamp, "topic", h.plan.Topic, "payload", text, "why", d.Why, "limit", d.Limited)
		h.logged = text
	}
	if h.out == nil || h.said == text {
		return
	}
	if err := h.out.Publish(ctx, h.plan.Topic, []byte(text), true); err != nil {
		h.said = "" // it may have arrived or not
		h.status.Problem = fmt.Sprintf("It could not be sent: %v.", err)
		return
	}
	h.said, h.status.Sent = text, true
}

// adopt takes up what to do: lamps that are new, changed or gone.
func (a *Actor) adopt(ctx context.Context, acting *underlamp.Acting, plans []act.Plan) error {
	var old map[string]act.State
	if a.zone == nil { // the first time
		var err error
		if old, err = a.resume(ctx, acting.Zone); err != nil {
			return err
		}
	}
	a.zone = acting.Zone
	if a.live != acting.Live {
		if a.live = acting.Live; a.live {
			a.opt.Log.Warn("lamps are turned from now on")
		} else {
			a.opt.Log.Warn("lamps are not turned any more; what would be done is logged")
		}
	}
	keep := map[string]bool{}
	for _, p := range plans {
		keep[p.Lamp] = true
		h := a.hands[p.Lamp]
		if h == nil {
			h = &hand{state: old[p.Lamp]}
			a.hands[p.Lamp] = h
		}
		was := h.plan
		h.plan = p
		if h.out != nil && (!a.live || was.Topic != p.Topic || was.Payload != p.Payload || was.Safe != p.Safe || was.Wait != p.Wait) {
			h.plan = was
			a.letGo(ctx, h)
			h.plan = p
		}
		if a.live && h.out == nil {
			topic := p.Topic
			out, willed, err := a.dial(Will{topic, []byte(p.Payload.Text(p.Safe)), p.Wait}, func() { a.up(topic) })
			if err != nil {
				return fmt.Errorf("lamp %q cannot be reached: %w", p.Lamp, err)
			}
			h.out, h.willed, h.said = out, willed, ""
		}
	}
	for name, h := range a.hands {
		if !keep[name] {
			a.letGo(ctx, h)
			delete(a.hands, name)
		}
	}
	return nil
}

// up is called after a connection.
func (a *Actor) up(topic string) {
	go func() { // a step may be under way, and wait for this very connection
		a.mu.Lock()
		a.again[topic] = true
		a.mu.Unlock()
		select {
		case a.wake <- struct{}{}:
		default:
		}
	}()
}

// letGo sets a lamp to its safe state and closes the way to it.
func (a *Actor) letGo(ctx context.Context, h *hand) {
	if h.out == nil {
		return
	}
	text := h.plan.Payload.Text(h.plan.Safe)
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := h.out.Publish(ctx, h.plan.Topic, []byte(text), true); err != nil {
		a.opt.Log.Error("a lamp could not be set to its safe state", "lamp", h.plan.Lamp, "topic", h.plan.Topic, "payload", text, "why", err)
	} else {
		a.opt.Log.Info("a lamp was set to its safe state", "lamp", h.plan.Lamp, "topic", h.plan.Topic, "payload", text)
		if (h.plan.Safe > 0) != (h.state.Dimming > 0) {
			h.state.Steady = 0
		}
		h.state.Dimming = h.plan.Safe
	}
	h.out.Close()
	h.out, h.said, h.logged = nil, "", ""
}

// Close sets all lamps to their safe state and closes the ways to them.
func (a *Actor) Close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, name := range slices.Sorted(maps.Keys(a.hands)) {
		a.letGo(context.Background(), a.hands[name])
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	a.save(ctx)
}

// A memory is what is kept of a lamp over a new start. While nobody decides it stays for
// Wait as it is, and is then at Away.
type memory struct {
	State act.State         `json:"state"`
	Wait  time.Duration     `json:"wait_ns"`
	Away  quantity.Fraction `json:"away"`
}

// memories are those of all lamps.
type memories struct {
	At    time.Time         `json:"at"`
	Lamps map[string]memory `json:"lamps"`
}

// save keeps what was set. What only time has changed is kept once a minute.
func (a *Actor) save(ctx context.Context) {
	m := memories{At: a.wall, Lamps: map[string]memory{}}
	what := a.wall.Truncate(time.Minute).String()
	for name, h := range a.hands {
		x := memory{State: h.state, Away: h.state.Dimming}
		if h.willed && h.out != nil {
			x.Wait, x.Away = h.plan.Wait, h.plan.Safe
		}
		m.Lamps[name] = x
	}
	for _, name := range slices.Sorted(maps.Keys(a.hands)) {
		what += " " + a.hands[name].status.Payload
	}
	if what == a.saved {
		return
	}
	text, err := json.Marshal(m)
	if err == nil {
		err = a.keep.PutDocument(ctx, store.Document{Kind: kindState, Name: a.name, Recorded: store.At(a.opt.Now()), Text: text})
	}
	if err != nil {
		a.opt.Log.Error("what the lamps were set to could not be kept; after a new start their hours of today may be counted anew", "err", err)
		return
	}
	a.saved = what
}

// resume reads what the lamps were set to before the program was away.
func (a *Actor) resume(ctx context.Context, zone *time.Location) (map[string]act.State, error) {
	d, err := a.keep.Document(ctx, kindState, a.name)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	var m memories
	if err := json.Unmarshal(d.Text, &m); err != nil {
		return nil, fmt.Errorf("the document %s %q cannot be read: %w; drop it if the lamps may have their full hours today", kindState, a.name, err)
	}
	out := map[string]act.State{}
	now := a.opt.Now()
	for name, x := range m.Lamps {
		gap := max(now.Sub(m.At), 0) // a clock that was set back tells nothing
		wait := min(x.Wait, gap)
		s := act.Away(x.State, wait, x.State.Dimming, now.Add(wait-gap), zone)
		out[name] = act.Away(s, gap-wait, x.Away, now, zone)
	}
	return out, nil
}
