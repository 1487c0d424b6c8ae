package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"

	"underlamp/store"
)

// jobKind is that of the documents which hold jobs.
const jobKind = "job"

// A kept job.
type keptJob struct {
	Data   []byte `json:"data"`
	Failed int    `json:"failed,omitempty"` // times
	Given  bool   `json:"given_up,omitempty"`
	Why    string `json:"why,omitempty"`
	Next   int64  `json:"next_us"` // not before
}

// A Local is a queue for one server. Its jobs are documents of the store, so that they
// outlive it.
type Local struct {
	keep  store.Documents
	log   *slog.Logger
	now   func() time.Time
	every []periodic
	do    map[string]func(ctx context.Context, data []byte) error
	news  chan struct{}

	stop context.CancelFunc
	mu   sync.Mutex // jobs are entered and put away one at a time
	wg   sync.WaitGroup
}

type periodic struct {
	name   string
	period time.Duration
	do     func(ctx context.Context) error
}

var _ Queue = (*Local)(nil)

// NewLocal is a queue that keeps its jobs in a store; log may be nil.
func NewLocal(keep store.Documents, log *slog.Logger) *Local {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &Local{keep: keep, log: log, now: time.Now, do: map[string]func(context.Context, []byte) error{}, news: make(chan struct{}, 1)}
}

// Every has something done once in each period.
func (l *Local) Every(name string, period time.Duration, do func(ctx context.Context) error) {
	l.every = append(l.every, periodic{name, period, do})
}

// Do says how jobs of a kind are done.
func (l *Local) Do(kind string, do func(ctx context.Context, data []byte) error) { l.do[kind] = do }

// Add enters a job.
func (l *Local) Add(ctx context.Context, kind, key string, data []byte) error {
	if kind == "" || key == "" || strings.Contains(kind, " ") {
		return errors.New("a job needs a kind of one word and a key")
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	name := kind + " " + key
	old, err := l.keep.Document(ctx, jobKind, name)
	switch {
	case errors.Is(err, store.ErrNotFound):
	case err != nil:
		return err
	default:
		var j keptJob
		if json.Unmarshal(old.Text, &j) == nil && !j.Given {
			return nil
		}
	}
	if err := l.put(ctx, name, keptJob{Data: data, Next: store.At(l.now())}); err != nil {
		return err
	}
	select {
	case l.news <- struct{}{}:
	default:
	}
	return nil
}

func (l *Local) put(ctx context.Context, name string, j keptJob) error {
	text, err := json.Marshal(j)
	if err != nil {
		return err
	}
	return l.keep.PutDocument(ctx, store.Document{Kind: jobKind, Name: name, Recorded: store.At(l.now()), Text: text})
}

// Waiting counts jobs.
func (l *Local) Waiting(ctx context.Context) (waiting, given int, err error) {
	all, err := l.keep.Documents(ctx, jobKind)
	for _, d := range all {
		var j keptJob
		if json.Unmarshal(d.Text, &j) != nil || j.Given {
			given++
		} else {
			waiting++
		}
	}
	return waiting, given, err
}

// Start begins.
func (l *Local) Start(ctx context.Context) error {
	for _, p := range l.every {
		if p.period < time.Second || p.period > 24*time.Hour {
			return fmt.Errorf("%s is to be done every %s; a period is a second to a day", p.name, p.period)
		}
	}
	// Work outlives what Start was called in, until Close.
	ctx, l.stop = context.WithCancel(context.WithoutCancel(ctx))
	for _, p := range l.every {
		l.wg.Go(func() {
			for ctx.Err() == nil {
				l.run(ctx, p.name, p.do)
				now := l.now()
				wait(ctx, now.Truncate(p.period).Add(p.period).Sub(now), nil)
			}
		})
	}
	l.wg.Go(func() {
		for ctx.Err() == nil {
			wait(ctx, l.jobs(ctx), l.news)
		}
	})
	return nil
}

// Close stops.
func (l *Local) Close() error {
	if l.stop == nil {
		return nil
	}
	l.stop()
	done := make(chan struct{})
	go func() {
		l.wg.Wait()
		close(done)
	}()
	select {
	case <-done:
		return nil
	case <-time.After(ending):
		return errors.New("some work did not end in time; it is done again at the next start")
	}
}

func wait(ctx context.Context, d time.Duration, news <-chan struct{}) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	case <-news:
	}
}

// run does a piece of work. A panic in it is an error of that piece.
func (l *Local) run(ctx context.Context, name string, do func(ctx context.Context) error) (err error) {
	ctx, cancel := context.WithTimeout(ctx, Longest)
	defer cancel()
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("it panicked: %v", p)
		}
		if err != nil {
			l.log.Error("work", "what", name, "err", err)
		}
	}()
	return do(ctx)
}

// jobs does those whose time has come, and says when the next one's has.
func (l *Local) jobs(ctx context.Context) time.Duration {
	const usual = 30 * time.Second // when nothing is known
	all, err := l.keep.Documents(ctx, jobKind)
	if err != nil {
		l.log.Error("work", "what", "jobs", "err", err)
		return usual
	}
	next := usual
	for _, d := range all {
		var j keptJob
		kind, _, _ := strings.Cut(d.Name, " ")
		do := l.do[kind]
		if json.Unmarshal(d.Text, &j) != nil || j.Given || do == nil {
			continue // of a kind that this version does not know: it waits for one that does
		}
		if left := store.Time(j.Next).Sub(l.now()); left > 0 {
			next = min(next, left)
			continue
		}
		err := l.run(ctx, d.Name, func(ctx context.Context) error { return do(ctx, j.Data) })
		if ctx.Err() != nil {
			return usual // stopped in the middle of it: done again at the next start
		}
		l.mu.Lock()
		if err == nil {
			err = l.keep.DropDocument(ctx, jobKind, d.Name)
		} else {
			j.Failed++
			j.Why, j.Given = err.Error(), j.Failed >= Attempts
			pause := Pause(j.Failed)
			j.Next = store.At(l.now().Add(pause))
			next = min(next, pause)
			err = l.put(ctx, d.Name, j)
		}
		l.mu.Unlock()
		if err != nil {
			l.log.Error("work", "what", d.Name, "err", err)
		}
	}
	return next
}
