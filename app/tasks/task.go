package tasks

import (
	"context"
	"errors"
	"sync"
	"time"
)

// A Result is what work gave, or gave so far.
type Result interface {
	Size() int // bytes that it holds, about
}

// Work is what is asked for.
type Work struct {
	Kind  string // such as "settings map"
	Key   string // what of, in which version: work of equal kind and key is shared
	Title string // for people
	Page  string // address of the page that it belongs to
	Again string // address to which a form is sent that begins it anew
	Long  bool   // takes minutes rather than seconds

	// Do works until it is done or ctx ends, and gives a result. It tells t how far it is.
	Do func(ctx context.Context, t *Task) (Result, error)
}

// A State is how a task stands.
type State string

// The states.
const (
	Waiting State = "waiting" // for its turn
	Running State = "running"
	Done    State = "done"
	Stopped State = "stopped" // by a person, or because the server ended
	Failed  State = "failed"
)

// Ended says that nothing more will come.
func (s State) Ended() bool { return s == Done || s == Stopped || s == Failed }

// A Task is work that was begun.
type Task struct {
	id     string
	work   Work
	begun  time.Time
	cancel context.CancelCauseFunc
	ctx    context.Context
	now    func() time.Time

	mu       sync.Mutex
	state    State
	doing    string
	share    float64
	ran      time.Time // when its turn came
	ended    time.Time
	looked   time.Time // when somebody last wanted to know
	stopping bool
	result   Result
	shown    int // versions of the result
	err      error
	changed  chan struct{}
}

// A Snapshot is a task at one moment.
type Snapshot struct {
	ID, Kind, Title, Page, Again string

	State        State
	Stopping     bool          // somebody asked it to stop, and it has not yet
	Doing        string        // what is done now
	Share        float64       // done, 0 to 1
	Left         time.Duration // about; 0: not known
	Begun, Ended time.Time     // Ended is zero while it runs
	Result       Result        // so far; nil: nothing yet
	Shown        int           // grows with every new result
	Err          error         // why it failed
}

// ErrStopped is the cause of work that a person stopped, ErrClosed of that which ended with
// the server.
var (
	ErrStopped = errors.New("the work was stopped")
	ErrClosed  = errors.New("the server ends, so nothing is begun")
	errTooLong = errors.New("the work took too long and was stopped")
)

// leftFrom is how long work must have run, and how far it must be, for a forecast of the
// rest.
const (
	leftFrom  = 700 * time.Millisecond
	leftShare = 0.05
)

// ID is the name under which [Registry.Find] finds it.
func (t *Task) ID() string { return t.id }

// Progress says what is done now and how far the work is, from 0 to 1. It never goes back.
func (t *Task) Progress(doing string, share float64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.state.Ended() {
		return
	}
	if share > t.share {
		t.share = min(share, 1)
	}
	t.doing = doing
	t.tell()
}

// Show gives a first result, which a later one replaces.
func (t *Task) Show(r Result) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.state.Ended() {
		return
	}
	t.result = r
	t.shown++
	t.tell()
}

// tell wakes who waits for a change.
func (t *Task) tell() {
	close(t.changed)
	t.changed = make(chan struct{})
}

// Stop asks the work to end. It returns at once; the state tells when it has.
func (t *Task) Stop() {
	t.mu.Lock()
	if !t.state.Ended() {
		t.stopping = true
		t.tell()
	}
	t.mu.Unlock()
	t.cancel(ErrStopped)
}

// Look is the task now, and a channel that is closed when it has changed since.
func (t *Task) Look() (Snapshot, <-chan struct{}) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.looked = t.now()
	return t.snapshot(), t.changed
}

func (t *Task) snapshot() Snapshot {
	s := Snapshot{ID: t.id, Kind: t.work.Kind, Title: t.work.Title, Page: t.work.Page, Again: t.work.Again, State: t.state, Stopping: t.stopping && !t.state.Ended(), Doing: t.doing, Share: t.share, Begun: t.begun, Ended: t.ended, Result: t.result, Shown: t.shown, Err: t.err}
	if s.State == Running && !s.Stopping {
		if ran := t.now().Sub(t.ran); ran >= leftFrom && t.share >= leftShare {
			s.Left = time.Duration(float64(ran) * (1 - t.share) / t.share)
		}
	}
	return s
}

// Wait returns when the task has ended, or ctx has.
func (t *Task) Wait(ctx context.Context) Snapshot {
	for {
		s, changed := t.Look()
		if s.State.Ended() {
			return s
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return s
		}
	}
}

// turn says that the work begins now.
func (t *Task) turn() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.state, t.ran, t.doing = Running, t.now(), "beginning"
	t.tell()
}

// end puts away what the work gave. What it showed stays if it gave nothing.
func (t *Task) end(r Result, err error) {
	cause := context.Cause(t.ctx)
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case err == nil:
		t.state, t.share, t.result = Done, 1, r
		t.shown++
	case errors.Is(cause, ErrStopped) || errors.Is(cause, ErrClosed):
		t.state = Stopped
	case errors.Is(cause, errTooLong):
		t.state, t.err = Failed, errTooLong
	default:
		t.state, t.err = Failed, err
	}
	t.ended = t.now()
	t.work.Do = nil // and with it what it was asked about
	t.tell()
}

// size is what the task holds.
func (t *Task) size() int {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.result == nil {
		return 0
	}
	return t.result.Size()
}
