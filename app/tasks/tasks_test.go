package tasks_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"underlamp/app/tasks"
)

type text string

func (s text) Size() int { return len(s) }

// until is work that goes on until it is stopped or let go.
func until(key string, free <-chan struct{}) tasks.Work {
	return tasks.Work{Kind: "wait", Key: key, Title: "Waiting " + key, Page: "/" + key, Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
		select {
		case <-free:
			return text("free " + key), nil
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}}
}

func begin(t *testing.T, r *tasks.Registry, w tasks.Work) *tasks.Task {
	t.Helper()
	x, err := r.Begin(w)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func look(t *tasks.Task) tasks.Snapshot { s, _ := t.Look(); return s }

// Equal questions share one work, whoever asks at the same time; the result is found again
// by its name and by the question.
func TestEqualQuestionsShareOneWork(t *testing.T) {
	r := tasks.New(tasks.Options{})
	defer r.Close()
	free := make(chan struct{})
	var ran atomic.Int64
	w := until("a", free)
	do := w.Do
	w.Do = func(ctx context.Context, x *tasks.Task) (tasks.Result, error) { ran.Add(1); return do(ctx, x) }
	ids := make([]string, 20)
	var wg sync.WaitGroup
	for i := range ids {
		wg.Go(func() {
			x, err := r.Begin(w)
			if err != nil {
				t.Error(err)
				return
			}
			ids[i] = x.ID()
		})
	}
	wg.Wait()
	for _, id := range ids {
		if id != ids[0] || id == "" {
			t.Fatalf("names %v", ids)
		}
	}
	close(free)
	x, err := r.Find(ids[0])
	if err != nil {
		t.Fatal(err)
	}
	s := x.Wait(t.Context())
	if s.State != tasks.Done || s.Result != text("free a") || s.Share != 1 || s.Ended.IsZero() || ran.Load() != 1 {
		t.Errorf("%+v after %d runs", s, ran.Load())
	}
	if again := begin(t, r, w); again != x || r.Of("wait", "a") != x || r.Of("wait", "b") != nil || r.Of("other", "a") != nil {
		t.Error("a done work is begun anew, or not found")
	}
	if _, err := r.Find("nothing"); !errors.Is(err, tasks.ErrUnknown) {
		t.Error(err)
	}
}

// A stopped work has really ended, keeps what it showed, and can be begun anew, even while
// the one before has not come to its end.
func TestStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := tasks.New(tasks.Options{})
		defer r.Close()
		slow := tasks.Work{Kind: "k", Key: "a", Do: func(ctx context.Context, x *tasks.Task) (tasks.Result, error) {
			x.Progress("half", 0.5)
			x.Progress("back", 0.2) // is not shown as a step back
			x.Show(text("first"))
			<-ctx.Done()
			time.Sleep(time.Second) // what cannot be broken off
			return text("late"), nil
		}}
		x := begin(t, r, slow)
		synctest.Wait()
		time.Sleep(2 * time.Second)
		if s := look(x); s.State != tasks.Running || s.Doing != "back" || s.Share != 0.5 || s.Result != text("first") || s.Left != 2*time.Second {
			t.Errorf("%+v", s)
		}
		x.Stop()
		if s := look(x); s.State != tasks.Running || !s.Stopping {
			t.Errorf("while it stops: %+v", s)
		}
		again := begin(t, r, slow)
		if again == x {
			t.Error("a work that is being stopped was joined")
		}
		if s := x.Wait(t.Context()); s.State != tasks.Stopped || s.Result != text("first") || s.Err != nil || s.Stopping {
			t.Errorf("%+v", s)
		}
		x.Stop() // does no harm
		again.Stop()
		if s := again.Wait(t.Context()); s.State != tasks.Stopped {
			t.Errorf("%+v", s)
		}
		if r.Running() != 0 {
			t.Error("something runs")
		}
	})
}

// One long work runs at a time, short work passes it by, and what waits can be stopped
// without ever having run.
func TestTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := tasks.New(tasks.Options{Waiting: 2})
		defer r.Close()
		free := make(chan struct{})
		long := func(key string) tasks.Work { w := until(key, free); w.Long = true; return w }
		a, b, c := begin(t, r, long("a")), begin(t, r, long("b")), begin(t, r, long("c"))
		synctest.Wait()
		short := begin(t, r, until("short", free))
		synctest.Wait()
		var states []tasks.State
		for _, x := range []*tasks.Task{a, b, c, short} {
			states = append(states, look(x).State)
		}
		running := 0
		for _, s := range states[:3] {
			if s == tasks.Running {
				running++
			}
		}
		if running != 1 || states[3] != tasks.Running || r.Running() != 4 {
			t.Errorf("states %v", states)
		}
		if _, err := r.Begin(long("d")); !errors.Is(err, tasks.ErrFull) {
			t.Errorf("a third that waits: %v", err)
		}
		for _, x := range []*tasks.Task{a, b, c} {
			if look(x).State == tasks.Waiting {
				x.Stop()
				if s := x.Wait(t.Context()); s.State != tasks.Stopped {
					t.Errorf("%+v", s)
				}
				break
			}
		}
		close(free)
		done := 0
		for _, x := range []*tasks.Task{a, b, c, short} {
			if x.Wait(t.Context()).State == tasks.Done {
				done++
			}
		}
		if done != 3 {
			t.Errorf("%d done", done)
		}
	})
}

// Results are bounded in number, size and age. What was looked at longest ago goes first,
// and that is said.
func TestForgetting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := tasks.New(tasks.Options{Kept: 3, Bytes: 100, Age: time.Hour})
		defer r.Close()
		give := func(key string, size int) *tasks.Task {
			x := begin(t, r, tasks.Work{Kind: "k", Key: key, Title: "Work " + key, Page: "/" + key, Do: func(context.Context, *tasks.Task) (tasks.Result, error) {
				return text(strings.Repeat("x", size)), nil
			}})
			x.Wait(t.Context())
			time.Sleep(time.Second)
			return x
		}
		a, b, c := give("a", 10), give("b", 10), give("c", 10)
		a.Look()
		time.Sleep(time.Second)
		d := give("d", 10)
		var gone *tasks.ForgottenError
		if _, err := r.Find(b.ID()); !errors.As(err, &gone) || gone.Title != "Work b" || gone.Page != "/b" || !strings.Contains(err.Error(), "Work b") {
			t.Errorf("b: %v", err)
		}
		for _, x := range []*tasks.Task{a, c, d} {
			if _, err := r.Find(x.ID()); err != nil {
				t.Error(err)
			}
		}
		if again := give("b", 90); again == b {
			t.Error("a forgotten work was joined")
		}
		if all := r.All(); len(all) != 2 || all[0].Title != "Work b" {
			t.Errorf("%+v", all)
		}
		time.Sleep(2 * time.Hour)
		if all := r.All(); len(all) != 0 {
			t.Errorf("after two hours %+v", all)
		}
	})
}

// A work that panics, fails or takes too long tells so, and the others go on.
func TestFailures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := tasks.New(tasks.Options{Longest: time.Minute})
		defer r.Close()
		for _, c := range []struct {
			key, want string
			do        func(ctx context.Context) error
		}{
			{"panics", "mistake of the program", func(context.Context) error { panic("as a bug would") }},
			{"fails", "no light", func(context.Context) error { return errors.New("no light") }},
			{"too long", "took too long", func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() }},
		} {
			x := begin(t, r, tasks.Work{Kind: "k", Key: c.key, Do: func(ctx context.Context, _ *tasks.Task) (tasks.Result, error) {
				return nil, c.do(ctx)
			}})
			if s := x.Wait(t.Context()); s.State != tasks.Failed || s.Err == nil || !strings.Contains(s.Err.Error(), c.want) {
				t.Errorf("%s: %+v", c.key, s)
			}
			if again := begin(t, r, tasks.Work{Kind: "k", Key: c.key, Do: func(context.Context, *tasks.Task) (tasks.Result, error) { return text("well"), nil }}); again.Wait(t.Context()).State != tasks.Done {
				t.Errorf("%s cannot be begun anew", c.key)
			}
		}
	})
}

// A change reaches everybody who waits for one.
func TestChangesAreTold(t *testing.T) {
	r := tasks.New(tasks.Options{})
	defer r.Close()
	steps := make(chan float64)
	x := begin(t, r, tasks.Work{Kind: "k", Key: "a", Do: func(_ context.Context, x *tasks.Task) (tasks.Result, error) {
		for s := range steps {
			x.Progress("at "+fmt.Sprint(s), s)
		}
		return text("end"), nil
	}})
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			last := -1.0
			for {
				s, changed := x.Look()
				if s.Share < last {
					t.Errorf("%g after %g", s.Share, last)
				}
				if last = s.Share; s.State.Ended() {
					return
				}
				<-changed
			}
		})
	}
	for i := range 50 {
		steps <- float64(i) / 50
	}
	close(steps)
	wg.Wait()
}

// When the server ends, what runs and what waits is stopped, nothing new begins, and
// streams let go; work that does not listen is not waited for for ever.
func TestClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := tasks.New(tasks.Options{Short: 1})
		a, b := begin(t, r, until("a", nil)), begin(t, r, until("b", nil))
		synctest.Wait()
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		select {
		case <-r.Ending():
		default:
			t.Error("streams are not told")
		}
		if sa, sb := look(a).State, look(b).State; sa != tasks.Stopped || sb != tasks.Stopped {
			t.Errorf("%s and %s", sa, sb)
		}
		if _, err := r.Begin(until("c", nil)); !errors.Is(err, tasks.ErrClosed) {
			t.Error(err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}

		deaf := tasks.New(tasks.Options{Ending: time.Second})
		begin(t, deaf, tasks.Work{Kind: "k", Key: "a", Do: func(context.Context, *tasks.Task) (tasks.Result, error) {
			time.Sleep(time.Minute)
			return nil, nil
		}})
		synctest.Wait()
		if err := deaf.Close(); err == nil {
			t.Error("work that does not end is not told")
		}
		time.Sleep(2 * time.Minute)
	})
}
