package live

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"reflect"
	"slices"
	"sync"
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/store"
	"underlamp/store/packed"
)

// Documents that belong to live benches.
const (
	KindWatch = "watch" // what to watch of a bench; its name is the key of the bench
)

// A Store is what an engine needs of a store.
type Store interface {
	store.Readings
	store.Sensors
	store.Documents
	store.Messages
}

// Options of an engine; zero values are the usual ones but for ReadWatch.
type Options struct {
	Now  func() time.Time // nil is the clock
	Zone *time.Location   // of the days of benches whose watch file names none; nil is the zone of this machine
	Log  *slog.Logger     // nil logs nothing

	// ReadWatch reads the watch file of a bench. Its error is a sentence for the board;
	// the usual limits hold then. Nil: there are no watch files.
	ReadWatch func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error)

	// Shared says that other processes put readings into the store too: the newest
	// readings are looked for at every tick.
	Shared bool

	Every time.Duration // between ticks of [Engine.Run]; 0 means 10 s
}

// Times between looks at the store.
const (
	sweepEvery = 10 * time.Minute // that what is held is all that is there
	driftEvery = 24 * time.Hour
	renewEvery = 15 * time.Minute // that the text of an open message follows the readings
)

// mostPending bounds the readings that wait for the next tick; beyond it all is read from
// the store again.
const mostPending = 500_000

// A Bench is one that is live, with what it is called by in the store: the name of its
// file without the ending, as in package kept.
type Bench struct {
	Key string
	*underlamp.Bench
	Before []Past // as it was lately, in order; what is missing was as it is now
}

// A Past is a bench as it was until an instant.
type Past struct {
	Until time.Time
	Bench *underlamp.Bench
}

// Looks is how far back an engine looks: the descriptions of so long are of use to it.
const Looks = time.Duration(keepFor) * time.Microsecond

// An Engine keeps the boards of benches. What it holds is a copy of what the store can
// tell: a new engine over the same store comes to the same. Its methods may be called
// together.
type Engine struct {
	keep    Store
	benches func(ctx context.Context) ([]Bench, error)
	opt     Options

	inbox   sync.Mutex
	pending []store.Reading
	lost    bool // more arrived than pending holds

	planning sync.Mutex
	plans    map[string]*plan   // by bench
	earlier  map[string][]*plan // as benches were lately

	mu      sync.Mutex
	states  map[string]*held
	order   []string
	byID    map[int64]*sensor
	renewed map[string]time.Time // message texts, by bench and rule
	zone    *time.Location       // of the days of benches whose watch file names none
}

// held is a state with what it was made from.
type held struct {
	*state
	text  []byte         // of the watch file
	zone  *time.Location // that the engine had
	swept time.Time
}

// New is an engine over a store. benches gives the benches as they are now; sensors, watch
// files and messages are theirs by their key.
func New(keep Store, benches func(ctx context.Context) ([]Bench, error), opt Options) *Engine {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Zone == nil {
		opt.Zone = time.Local
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Every == 0 {
		opt.Every = 10 * time.Second
	}
	return &Engine{keep: keep, benches: benches, opt: opt, plans: map[string]*plan{}, earlier: map[string][]*plan{}, states: map[string]*held{}, byID: map[int64]*sensor{}, renewed: map[string]time.Time{}, zone: opt.Zone}
}

// SetZone sets the zone of the days of benches whose watch file names none. It holds from the
// next tick on; sums of the day are made anew from the readings.
func (e *Engine) SetZone(zone *time.Location) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if zone.String() != e.zone.String() { // a zone that is loaded twice is two
		e.zone = zone
	}
}

// Taken tells of readings that the store keeps by now, as an intake calls it. It only
// notes them, and never waits for the store.
func (e *Engine) Taken(readings []store.Reading) {
	e.inbox.Lock()
	defer e.inbox.Unlock()
	if len(e.pending)+len(readings) > mostPending {
		e.pending, e.lost = nil, true
		return
	}
	e.pending = append(e.pending, readings...)
}

// Run ticks until ctx is done.
func (e *Engine) Run(ctx context.Context) {
	t := time.NewTicker(e.opt.Every)
	defer t.Stop()
	for {
		if err := e.Tick(ctx); err != nil && ctx.Err() == nil {
			e.opt.Log.Error("live benches were not brought up to date; it is tried again", "err", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
	}
}

// Board is all that is known of a bench now. A bench that is not there gives
// [store.ErrNotFound].
func (e *Engine) Board(ctx context.Context, bench string) (*Board, error) {
	if err := e.refresh(ctx, bench); err != nil {
		return nil, err
	}
	open, err := e.keep.OpenMessages(ctx, bench)
	if err != nil {
		return nil, err
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.states[bench]
	if h == nil {
		return nil, fmt.Errorf("bench %q: %w", bench, store.ErrNotFound)
	}
	b := h.board(e.opt.Now())
	b.Messages = append(b.Messages, open...)
	return b, nil
}

// refresh brings the states up to date; that of one bench alone if it is named.
func (e *Engine) refresh(ctx context.Context, only string) error {
	benches, err := e.benches(ctx)
	if err != nil {
		return err
	}
	sensors, err := e.keep.Sensors(ctx)
	if err != nil {
		return err
	}
	watches := map[string][]byte{}
	if e.opt.ReadWatch != nil {
		docs, err := e.keep.Documents(ctx, KindWatch)
		if err != nil {
			return err
		}
		for _, d := range docs {
			watches[d.Name] = d.Text
		}
	}
	now := e.opt.Now()
	there := map[string]bool{}
	var order []string
	for _, b := range benches {
		if there[b.Key] {
			continue // the first of two of one key
		}
		there[b.Key] = true
		order = append(order, b.Key)
	}
	var faults []error
	for _, b := range benches {
		if only != "" && b.Key != only {
			continue
		}
		if err := e.bench(ctx, b, watches[b.Key], sensors, now); err != nil {
			faults = append(faults, err) // one bench at fault takes no other with it
		}
	}
	e.mu.Lock()
	e.order = order
	for name := range e.states {
		if !there[name] {
			e.drop(name)
		}
	}
	e.mu.Unlock()
	e.planning.Lock()
	for name := range e.plans {
		if !there[name] {
			delete(e.plans, name)
			delete(e.earlier, name)
		}
	}
	e.planning.Unlock()
	if err := e.drain(ctx, now); err != nil {
		faults = append(faults, err)
	}
	return errors.Join(faults...)
}

// drop forgets a bench. The caller holds the lock.
func (e *Engine) drop(name string) {
	for _, x := range e.states[name].sensors {
		delete(e.byID, x.ID)
	}
	delete(e.states, name)
}

func (e *Engine) planOf(b Bench, sensors []store.Sensor) (*plan, error) {
	e.planning.Lock()
	defer e.planning.Unlock()
	if p := e.plans[b.Key]; p != nil && (p.bench == b.Bench || equal(reflect.ValueOf(p.bench), reflect.ValueOf(b.Bench))) {
		return p.with(sensors)
	}
	p, err := newPlan(b.Bench, sensors)
	if err != nil {
		return nil, err
	}
	e.plans[b.Key] = p
	return p, nil
}

// erasOf are the plans of a bench as it was, each until an instant. A plan is kept as long as
// its description counts.
func (e *Engine) erasOf(b Bench, sensors []store.Sensor) ([]era, error) {
	e.planning.Lock()
	defer e.planning.Unlock()
	var out []era
	var hold []*plan
	for _, was := range b.Before {
		if b.Bench == was.Bench {
			continue
		}
		var p *plan
		for _, known := range e.earlier[b.Key] {
			if known.bench == was.Bench || equal(reflect.ValueOf(known.bench), reflect.ValueOf(was.Bench)) {
				p = known
			}
		}
		var err error
		if p == nil {
			p, err = newPlan(was.Bench, sensors)
		} else {
			p, err = p.with(sensors)
		}
		if err != nil {
			return nil, err
		}
		out, hold = append(out, era{store.At(was.Until), p}), append(hold, p)
	}
	e.earlier[b.Key] = hold
	return out, nil
}

// bench makes or renews the state of a bench.
func (e *Engine) bench(ctx context.Context, b Bench, text []byte, sensors []store.Sensor, now time.Time) error {
	var mine []store.Sensor
	for _, x := range sensors {
		if x.Bench == b.Key {
			mine = append(mine, x)
		}
	}
	p, err := e.planOf(b, mine)
	if err != nil {
		return err
	}
	eras, err := e.erasOf(b, mine)
	if err != nil {
		return err
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.states[b.Key]
	if h == nil || h.plan != p || !slices.Equal(h.eras, eras) || string(h.text) != string(text) || h.zone != e.zone {
		var w *underlamp.Watch
		var fault []string
		if len(text) > 0 && e.opt.ReadWatch != nil {
			if w, err = e.opt.ReadWatch(b.Bench, text); err != nil {
				fault = append(fault, "The watch file cannot be read, and the usual limits hold: "+err.Error())
				w = nil
			}
		}
		if h != nil {
			e.drop(b.Key)
		}
		h = &held{state: newState(b.Key, p, eras, w, e.zone), text: text, zone: e.zone, swept: now}
		h.faults = fault
	}
	// Sensors that are new, changed or gone.
	was := map[int64]*sensor{}
	for _, x := range h.sensors {
		was[x.ID] = x
	}
	next := make([]*sensor, 0, len(mine))
	for _, x := range mine {
		old := was[x.ID]
		if old != nil && reflect.DeepEqual(old.Sensor, x) {
			next = append(next, old)
			delete(was, x.ID)
			continue
		}
		y := newSensor(x, h.state, h.limits.base.Value)
		if err := e.load(ctx, y, now); err != nil {
			return err
		}
		next = append(next, y)
	}
	for id := range was {
		delete(e.byID, id)
	}
	for _, x := range next {
		e.byID[x.ID] = x
	}
	h.sensors = next
	e.states[b.Key] = h
	switch {
	case now.Sub(h.swept) >= sweepEvery:
		if err := e.sweep(ctx, h, now, store.At(now)-keepFor); err != nil {
			return err
		}
		h.swept = now
	case e.opt.Shared:
		if err := e.sweep(ctx, h, now, store.At(now)-2*slotWidth); err != nil {
			return err
		}
	}
	return e.drifts(ctx, h, now)
}

// load reads what is held of a sensor from the store: the readings of 30 hours.
func (e *Engine) load(ctx context.Context, x *sensor, now time.Time) error {
	at := store.At(now)
	x.series.forget(at)
	if x.fault != nil {
		return nil
	}
	in, err := e.keep.Samples(ctx, x.ID, slotOf(at-keepFor), at+2*store.Hour)
	if err != nil {
		return err
	}
	x.fill(in)
	return nil
}

// drain takes the readings that have arrived.
func (e *Engine) drain(ctx context.Context, now time.Time) error {
	e.inbox.Lock()
	in, lost := e.pending, e.lost
	e.pending, e.lost = nil, false
	e.inbox.Unlock()
	e.mu.Lock()
	defer e.mu.Unlock()
	late := map[*sensor][]int64{}
	for _, r := range in {
		x := e.byID[r.Sensor]
		if x == nil || x.fault != nil {
			continue
		}
		if !x.take(r.At, r.Value) {
			late[x] = append(late[x], slotOf(r.At))
		}
	}
	var faults []error
	for x, slots := range late {
		if err := e.reload(ctx, x, slots); err != nil {
			faults = append(faults, err)
		}
	}
	if len(faults) > 0 {
		lost = true
	}
	for _, h := range e.states {
		if lost {
			h.swept = time.Time{} // look at all of it again
		}
		for _, x := range h.sensors {
			x.series.forget(store.At(now))
		}
	}
	return errors.Join(faults...)
}

// reload reads slots from the store, neighbours together.
func (e *Engine) reload(ctx context.Context, x *sensor, slots []int64) error {
	slices.Sort(slots)
	slots = slices.Compact(slots)
	for i := 0; i < len(slots); {
		j := i + 1
		for j < len(slots) && slots[j] == slots[j-1]+slotWidth {
			j++
		}
		in, err := e.keep.Samples(ctx, x.ID, slots[i], slots[j-1]+slotWidth)
		if err != nil {
			return err
		}
		by := map[int64][]packed.Sample{}
		for _, r := range x.trueValues(in) {
			by[slotOf(r.At)] = append(by[slotOf(r.At)], r)
		}
		for _, at := range slots[i:j] {
			x.series.load(at, by[at])
		}
		i = j
	}
	return nil
}

// sweep holds what is held against the sums of the store, and reads again what differs.
func (e *Engine) sweep(ctx context.Context, h *held, now time.Time, from int64) error {
	at := store.At(now)
	for _, x := range h.sensors {
		if x.fault != nil {
			continue
		}
		begin, end := slotOf(from), slotOf(at+2*store.Hour)
		sums, err := e.keep.Buckets(ctx, x.ID, begin, end, slotWidth)
		if err != nil {
			return err
		}
		is := map[int64]*slot{}
		for i := range x.series.slots {
			is[x.series.slots[i].at] = &x.series.slots[i]
		}
		var differ []int64
		for _, b := range sums {
			if z := is[b.From]; z == nil || int64(z.n) != b.N || !near(x.value(z.last.At, b.Mean()), z.mean()) || !near(x.value(z.last.At, b.Last), z.last.Value) {
				differ = append(differ, b.From)
			}
		}
		if err := e.reload(ctx, x, differ); err != nil {
			return err
		}
	}
	return nil
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// drifts looks once a day whether light sensors have drifted, by sums of hours.
func (e *Engine) drifts(ctx context.Context, h *held, now time.Time) error {
	light := h.of(measurand.PPFD)
	due := slices.ContainsFunc(light, func(x *sensor) bool { return now.Sub(x.looked) >= driftEvery })
	if !due {
		return nil
	}
	levels := map[*sensor]map[int64]float64{}
	from := map[*sensor]int64{}
	for _, x := range light {
		from[x] = store.At(now) - driftDays*store.Day
		if n := len(x.Calibrations); n > 0 {
			from[x] = max(from[x], x.Calibrations[n-1].From)
		}
		sums, err := e.keep.Buckets(ctx, x.ID, store.At(now)-driftDays*store.Day, store.At(now), store.Hour)
		if err != nil {
			return err
		}
		levels[x] = map[int64]float64{}
		for _, b := range sums {
			if v := x.value(b.From, b.Mean()); x.on(x.value(b.From, b.Min)) && v <= x.m.High {
				day := b.From / store.Day
				levels[x][day] = max(levels[x][day], v)
			}
		}
	}
	for _, x := range light {
		mine := map[*sensor]map[int64]float64{x: {}}
		for day, v := range levels[x] {
			if day*store.Day >= from[x] {
				mine[x][day] = v
			}
		}
		var others []*sensor
		for _, y := range light {
			if y != x {
				others = append(others, y)
				mine[y] = levels[y]
			}
		}
		x.drift = drift(x, others, mine, now)
		x.looked = now
	}
	return nil
}
