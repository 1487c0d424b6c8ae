// Package intake takes what sensors send, and acknowledges it when it is kept.
//
// Many senders share one write: what arrives while a write is under way is kept with the
// next one, so that a thousand senders cost few writes and none waits for a timer. A
// sensor that nobody has entered is entered by its first reading, with the unit that it
// said, so that nothing is lost before somebody says where it stands.
package intake

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"sync"
	"time"

	"underlamp/store"
)

// A Keeper is what intake needs of a store.
type Keeper interface {
	store.Readings
	store.Sensors
}

// A Reading is what a sensor sent.
type Reading struct {
	Sensor string // key
	Unit   string // as sent; empty if none was
	At     time.Time
	Value  float64
}

// A RefusedError says which reading cannot be taken, and why; sending it again will not
// help.
type RefusedError struct {
	Index  int // from 0
	Sensor string
	Reason string
}

// Error names the reading and the reason.
func (e *RefusedError) Error() string {
	return fmt.Sprintf("reading %d, of sensor %q, %s", e.Index+1, e.Sensor, e.Reason)
}

// ErrClosed is returned by Take after Close.
var ErrClosed = errors.New("the intake is closed")

// Options of an intake; zero values are the usual ones.
type Options struct {
	Log       *slog.Logger     // nil logs nothing
	Now       func() time.Time // nil is the clock
	FoldAfter int              // readings after which they are packed; 0 means 200 000
	FoldEvery time.Duration    // and time; 0 means a minute
	Ahead     time.Duration    // how far a clock may run ahead; 0 means an hour

	// Kept is told of readings that are on the disk, before their senders are; it must
	// not wait. Nil: nobody is told.
	Kept func(readings []store.Reading)
}

// mostTogether bounds a write; more waits for the next one.
const mostTogether = 100_000

// A job is one call of Take.
type job struct {
	readings []store.Reading
	done     chan error
}

// An Intake takes readings. Its methods may be called together.
type Intake struct {
	keep Keeper
	opt  Options
	jobs chan job
	quit chan struct{}
	over chan struct{}
	once sync.Once

	mu  sync.Mutex
	ids map[string]int64
}

// New starts an intake. Close ends it.
func New(k Keeper, opt Options) *Intake {
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.FoldAfter == 0 {
		opt.FoldAfter = 200_000
	}
	if opt.FoldEvery == 0 {
		opt.FoldEvery = time.Minute
	}
	if opt.Ahead == 0 {
		opt.Ahead = time.Hour
	}
	in := &Intake{keep: k, opt: opt, jobs: make(chan job), quit: make(chan struct{}), over: make(chan struct{}), ids: map[string]int64{}}
	go in.run()
	return in
}

// Check says what of readings cannot be taken, with a [*RefusedError]. Who takes many in
// several calls, all or none, checks them first.
func (in *Intake) Check(readings []Reading) error {
	latest := in.opt.Now().Add(in.opt.Ahead)
	for i, r := range readings {
		refuse := func(format string, args ...any) error {
			return &RefusedError{i, r.Sensor, fmt.Sprintf(format, args...)}
		}
		switch {
		case r.Sensor == "":
			return refuse("names no sensor")
		case math.IsNaN(r.Value) || math.IsInf(r.Value, 0):
			return refuse("is no number")
		case r.At.After(latest):
			return refuse("is of %s, which has not come yet: look at the clock of the sensor", r.At.UTC().Format(time.RFC3339))
		case r.At.Year() < 2000:
			return refuse("is of the year %d: look at the clock of the sensor", r.At.Year())
		}
	}
	return nil
}

// Take keeps readings, all or none, and returns when they are on the disk. A
// [*RefusedError] says what cannot be taken; any other error that they are to be sent
// again.
func (in *Intake) Take(ctx context.Context, readings []Reading) error {
	if len(readings) == 0 {
		return nil
	}
	if err := in.Check(readings); err != nil {
		return err
	}
	out := make([]store.Reading, len(readings))
	for i, r := range readings {
		out[i] = store.Reading{At: store.At(r.At), Value: r.Value}
	}
	for i, r := range readings {
		id, err := in.sensor(ctx, r)
		if err != nil {
			return err
		}
		out[i].Sensor = id
	}
	j := job{out, make(chan error, 1)}
	select {
	case in.jobs <- j:
	case <-in.quit:
		return ErrClosed
	case <-ctx.Done():
		return ctx.Err()
	}
	// From here on it will be kept or fail; to leave would not tell which.
	return <-j.done
}

// sensor is the id of a sensor, entered if it is new.
func (in *Intake) sensor(ctx context.Context, r Reading) (int64, error) {
	in.mu.Lock()
	id, ok := in.ids[r.Sensor]
	in.mu.Unlock()
	if ok {
		return id, nil
	}
	s, err := in.keep.Sensor(ctx, r.Sensor)
	switch {
	case errors.Is(err, store.ErrNotFound):
		if s.ID, err = in.keep.PutSensor(ctx, store.Sensor{Key: r.Sensor, Unit: r.Unit, Note: "entered by its first reading"}); err != nil {
			return 0, err
		}
		in.opt.Log.Info("a sensor was entered", "sensor", r.Sensor, "unit", r.Unit)
	case err != nil:
		return 0, err
	}
	in.mu.Lock()
	in.ids[r.Sensor] = s.ID
	in.mu.Unlock()
	return s.ID, nil
}

// run writes until it is told to quit, and then what waits.
func (in *Intake) run() {
	defer close(in.over)
	tick := time.NewTicker(in.opt.FoldEvery)
	defer tick.Stop()
	waiting := 0
	for {
		select {
		case j := <-in.jobs:
			if waiting += in.write(j); waiting >= in.opt.FoldAfter {
				in.fold()
				waiting = 0
			}
		case <-tick.C:
			if waiting > 0 {
				in.fold()
				waiting = 0
			}
		case <-in.quit:
			in.fold()
			return
		}
	}
}

// write keeps a job together with those that wait, and returns how many readings were
// kept.
func (in *Intake) write(first job) int {
	batch := []job{first}
	n := len(first.readings)
gather:
	for n < mostTogether {
		select {
		case j := <-in.jobs:
			batch = append(batch, j)
			n += len(j.readings)
		default:
			break gather
		}
	}
	all := make([]store.Reading, 0, n)
	for _, j := range batch {
		all = append(all, j.readings...)
	}
	// The senders wait for the disk and not for one another's patience.
	ctx := context.Background()
	err := in.keep.Append(ctx, all)
	if err == nil || len(batch) == 1 {
		if err == nil && in.opt.Kept != nil {
			in.opt.Kept(all)
		}
		for _, j := range batch {
			j.done <- err
		}
		if err != nil {
			in.opt.Log.Error("readings were not kept", "readings", n, "err", err)
			return 0
		}
		return n
	}
	// One may be at fault: each for itself, so that it does not take others with it.
	kept := 0
	for _, j := range batch {
		err := in.keep.Append(ctx, j.readings)
		if err != nil {
			in.opt.Log.Error("readings were not kept", "readings", len(j.readings), "err", err)
		} else {
			kept += len(j.readings)
			if in.opt.Kept != nil {
				in.opt.Kept(j.readings)
			}
		}
		j.done <- err
	}
	return kept
}

func (in *Intake) fold() {
	for {
		n, err := in.keep.Fold(context.Background())
		if err != nil {
			in.opt.Log.Error("readings were not packed; they are kept as they came", "err", err)
			return
		}
		if n == 0 {
			return
		}
	}
}

// Close ends the intake when what was taken is kept and packed.
func (in *Intake) Close() {
	in.once.Do(func() { close(in.quit) })
	<-in.over
}
