package actuate

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"underlamp"
	"underlamp/formats/actfile"
	"underlamp/store"
)

// Kinds of the documents that say what to do. Both have the same name.
const (
	KindAct      = "act"          // the description, see package actfile
	KindOverride = "act override" // what a person wants meanwhile; may be missing
)

// A Bench finds a bench as it is described now.
type Bench func(ctx context.Context, name string) (*underlamp.Bench, error)

// FromStore reads what to do from the documents of a name.
func FromStore(docs store.Documents, bench Bench, name string) Load {
	return func(ctx context.Context) (*underlamp.Acting, *underlamp.Bench, []underlamp.Override, error) {
		d, err := docs.Document(ctx, KindAct, name)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("the description of how the lamps are turned: %w", err)
		}
		acting, problems, err := actfile.Read(bytes.NewReader(d.Text))
		if err == nil && acting == nil {
			err = problems
		}
		if err != nil {
			return nil, nil, nil, fmt.Errorf("the description of how the lamps are turned: %w", err)
		}
		overrides, err := Overrides(ctx, docs, name)
		if err != nil {
			return nil, nil, nil, err
		}
		b, err := bench(ctx, acting.Bench)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("the bench %q: %w", acting.Bench, err)
		}
		return acting, b, overrides, nil
	}
}

// Overrides are what a person wants of lamps, by the documents of a name.
func Overrides(ctx context.Context, docs store.Documents, name string) ([]underlamp.Override, error) {
	d, err := docs.Document(ctx, KindOverride, name)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	} else if err != nil {
		return nil, fmt.Errorf("the overrides: %w", err)
	}
	out, problems, err := actfile.ReadOverrides(bytes.NewReader(d.Text))
	if err == nil && out == nil {
		err = problems
	}
	if err != nil {
		return nil, fmt.Errorf("the overrides: %w", err)
	}
	return out, nil
}

// A Group acts on all benches that have a description in the store.
type Group struct {
	docs  store.Documents
	bench Bench
	dial  Dial
	opt   Options

	mu     sync.Mutex
	actors map[string]*member
}

type member struct {
	actor *Actor
	stop  context.CancelFunc
	over  chan struct{}
}

// NewGroup makes a group; see [New].
func NewGroup(docs store.Documents, bench Bench, dial Dial, opt Options) *Group {
	return &Group{docs: docs, bench: bench, dial: dial, opt: opt, actors: map[string]*member{}}
}

// Run acts until ctx is done, and returns when all lamps are in their safe state. A
// description that is new is taken up, and the lamps of one that is gone are set to their
// safe state, within one time of the options.
func (g *Group) Run(ctx context.Context) {
	every := g.opt.Every
	if every == 0 {
		every = 10 * time.Second
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	told := false
	for {
		err := g.look(ctx)
		if err != nil && ctx.Err() == nil && !told && g.opt.Log != nil {
			g.opt.Log.Error("it cannot be read which lamps are turned; they go on as before", "why", err)
		}
		told = err != nil
		select {
		case <-tick.C:
		case <-ctx.Done():
			g.mu.Lock()
			defer g.mu.Unlock()
			for _, m := range g.actors {
				m.stop()
			}
			for _, m := range g.actors {
				<-m.over
			}
			return
		}
	}
}

// look starts and ends actors.
func (g *Group) look(ctx context.Context) error {
	all, err := g.docs.Documents(ctx, KindAct)
	if err != nil {
		return err
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	there := map[string]bool{}
	for _, d := range all {
		if there[d.Name] = true; g.actors[d.Name] != nil {
			continue
		}
		m := &member{actor: New(d.Name, FromStore(g.docs, g.bench, d.Name), g.dial, g.docs, g.opt), over: make(chan struct{})}
		var own context.Context
		own, m.stop = context.WithCancel(ctx)
		go func() {
			m.actor.Run(own)
			close(m.over)
		}()
		g.actors[d.Name] = m
	}
	for name, m := range g.actors {
		if !there[name] {
			m.stop()
			<-m.over
			delete(g.actors, name)
		}
	}
	return nil
}

// A Report is what the lamps of one description are set to.
type Report struct {
	Name  string
	Live  bool // lamps are turned; else it is a dry run
	Lamps []Status
}

// Reports tell of all descriptions, by name.
func (g *Group) Reports() []Report {
	g.mu.Lock()
	defer g.mu.Unlock()
	var out []Report
	for _, name := range slices.Sorted(maps.Keys(g.actors)) {
		a := g.actors[name].actor
		out = append(out, Report{name, a.Live(), a.Status()})
	}
	return out
}
