package tasks

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"
)

// Options bound a [Registry]. Zero values stand for the defaults named.
type Options struct {
	Short   int           // run at once, of those that take seconds; 2
	Long    int           // and of those that take minutes; 1, for each takes all processors
	Waiting int           // most of each that wait for their turn; 20
	Longest time.Duration // that work may run; 15 minutes
	Kept    int           // ended tasks that are remembered; 200
	Bytes   int           // of their results; 32 MiB
	Age     time.Duration // that a result is kept; 24 hours
	Ending  time.Duration // that Close waits; 10 seconds

	Log *slog.Logger     // nil logs nothing
	Now func() time.Time // nil: that of this machine
}

// mostGone is how many forgotten tasks are remembered by name.
const mostGone = 300

// A Registry holds the tasks of one server.
type Registry struct {
	o    Options
	quit chan struct{} // closed by Close

	short, long chan struct{}

	mu     sync.Mutex
	closed bool
	tasks  []*Task // in the order of their begin
	gone   []*ForgottenError
	wg     sync.WaitGroup
}

// A ForgottenError says that a result was given up for others.
type ForgottenError struct {
	ID, Title, Page string
	Begun           time.Time
}

// Error says so to a person.
func (e *ForgottenError) Error() string {
	return fmt.Sprintf("the result of “%s” has been forgotten to make room for others", e.Title)
}

// ErrUnknown says that there is no such task.
var ErrUnknown = errors.New("there is no such work: it was begun by an earlier run of the server, or long ago")

// ErrFull says that too much waits already.
var ErrFull = errors.New("too much work waits for its turn already; stop some of it, or ask again later")

// New is an empty registry. [Registry.Close] ends what it began.
func New(o Options) *Registry {
	o.Short, o.Long, o.Waiting = cmp.Or(o.Short, 2), cmp.Or(o.Long, 1), cmp.Or(o.Waiting, 20)
	o.Longest, o.Age, o.Ending = cmp.Or(o.Longest, 15*time.Minute), cmp.Or(o.Age, 24*time.Hour), cmp.Or(o.Ending, 10*time.Second)
	o.Kept, o.Bytes = cmp.Or(o.Kept, 200), cmp.Or(o.Bytes, 32<<20)
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Registry{o: o, quit: make(chan struct{}), short: make(chan struct{}, o.Short), long: make(chan struct{}, o.Long)}
}

// Longest is how long work may run.
func (r *Registry) Longest() time.Duration { return r.o.Longest }

// Begin begins work and returns at once. If equal work waits, runs or is done, that is
// returned; work that was stopped or failed is begun anew.
func (r *Registry) Begin(w Work) (*Task, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, ErrClosed
	}
	r.forget()
	if t := r.find(w.Kind, w.Key); t != nil {
		t.mu.Lock()
		state, stopping := t.state, t.stopping
		t.mu.Unlock()
		if state == Done || !state.Ended() && !stopping {
			return t, nil
		}
	}
	lane := r.short
	if w.Long {
		lane = r.long
	}
	busy := 0
	for _, t := range r.tasks {
		t.mu.Lock()
		if !t.state.Ended() && t.work.Long == w.Long {
			busy++
		}
		t.mu.Unlock()
	}
	if busy >= cap(lane)+r.o.Waiting {
		return nil, ErrFull
	}
	now := r.o.Now()
	t := &Task{id: strings.ToLower(rand.Text()[:16]), work: w, begun: now, looked: now, now: r.o.Now, state: Waiting, doing: "waiting for its turn", changed: make(chan struct{})}
	t.ctx, t.cancel = context.WithCancelCause(context.Background())
	r.tasks = append(r.tasks, t)
	r.wg.Go(func() { r.run(t, lane) })
	return t, nil
}

// run waits for the turn of a task and does its work.
func (r *Registry) run(t *Task, lane chan struct{}) {
	defer t.cancel(nil)
	select {
	case lane <- struct{}{}:
	case <-t.ctx.Done():
		t.end(nil, context.Cause(t.ctx))
		return
	}
	defer func() { <-lane }()
	if t.ctx.Err() != nil {
		t.end(nil, context.Cause(t.ctx))
		return
	}
	late := time.AfterFunc(r.o.Longest, func() { t.cancel(errTooLong) })
	defer late.Stop()
	t.turn()
	result, err := r.do(t)
	t.end(result, err)
}

// do does the work. A panic in it is an error of that work alone.
func (r *Registry) do(t *Task) (result Result, err error) {
	defer func() {
		if p := recover(); p != nil {
			r.o.Log.Error("task", "what", t.work.Title, "panic", p)
			result, err = nil, errors.New("the work broke off by a mistake of the program")
		}
	}()
	result, err = t.work.Do(t.ctx, t)
	if err == nil && t.ctx.Err() != nil {
		err = context.Cause(t.ctx) // half of a result is no result
	}
	return result, err
}

// find is the latest task of a kind and key.
func (r *Registry) find(kind, key string) *Task {
	for _, t := range slices.Backward(r.tasks) {
		if t.work.Kind == kind && t.work.Key == key {
			return t
		}
	}
	return nil
}

// Of is the latest task of a kind and key; nil if there is none.
func (r *Registry) Of(kind, key string) *Task {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.forget()
	return r.find(kind, key)
}

// Find is a task by its name. The error is a [*ForgottenError] or [ErrUnknown].
func (r *Registry) Find(id string) (*Task, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.forget()
	for _, t := range r.tasks {
		if t.id == id {
			return t, nil
		}
	}
	for _, g := range r.gone {
		if g.ID == id {
			return nil, g
		}
	}
	return nil, ErrUnknown
}

// All are the tasks, the latest first. To be listed is not to be looked at.
func (r *Registry) All() []Snapshot {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.forget()
	var out []Snapshot
	for _, t := range slices.Backward(r.tasks) {
		t.mu.Lock()
		out = append(out, t.snapshot())
		t.mu.Unlock()
	}
	return out
}

// Running counts the tasks that have not ended.
func (r *Registry) Running() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := 0
	for _, t := range r.tasks {
		t.mu.Lock()
		if !t.state.Ended() {
			n++
		}
		t.mu.Unlock()
	}
	return n
}

// forget gives up ended tasks that are too old, too many or too large, those first at which
// nobody has looked for longest. r.mu is held.
func (r *Registry) forget() {
	type old struct {
		t      *Task
		looked time.Time
		size   int
	}
	var ended []old
	bytes := 0
	for _, t := range r.tasks {
		t.mu.Lock()
		is, looked := t.state.Ended(), t.looked
		t.mu.Unlock()
		if is {
			o := old{t, looked, t.size()}
			ended, bytes = append(ended, o), bytes+o.size
		}
	}
	slices.SortStableFunc(ended, func(a, b old) int { return a.looked.Compare(b.looked) })
	for _, o := range ended {
		if len(ended) <= r.o.Kept && bytes <= r.o.Bytes && r.o.Now().Sub(o.looked) <= r.o.Age {
			break
		}
		ended, bytes = ended[1:], bytes-o.size
		r.tasks = slices.DeleteFunc(r.tasks, func(t *Task) bool { return t == o.t })
		r.gone = append(r.gone, &ForgottenError{o.t.id, o.t.work.Title, o.t.work.Page, o.t.begun})
	}
	if n := len(r.gone) - mostGone; n > 0 {
		r.gone = slices.Delete(r.gone, 0, n)
	}
}

// Ending is closed when the registry is: whoever streams lets go.
func (r *Registry) Ending() <-chan struct{} { return r.quit }

// Close stops all work, begins no more, and waits a little until what runs has returned.
func (r *Registry) Close() error {
	r.mu.Lock()
	if !r.closed {
		r.closed = true
		close(r.quit)
	}
	for _, t := range r.tasks {
		t.cancel(ErrClosed)
	}
	r.mu.Unlock()
	done := make(chan struct{})
	go func() {
		r.wg.Wait()
		close(done)
	}()
	select {
	case <-done:
		return nil
	case <-time.After(r.o.Ending):
		return errors.New("some work did not end in time and was left")
	}
}
