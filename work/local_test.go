package work_test

import (
	"context"
	"errors"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/store/sqlite"
	"underlamp/work"
)

func open(t *testing.T, path string) *sqlite.DB {
	t.Helper()
	s, err := sqlite.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for begin := time.Now(); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal(what)
		}
	}
}

// A job is kept over a stop, is done again after it failed or panicked, and then is gone;
// entered twice it is one.
func TestLocal(t *testing.T) {
	ctx := context.Background()
	s := open(t, filepath.Join(t.TempDir(), "s.db"))
	first := work.NewLocal(s, nil)
	for range 2 {
		if err := first.Add(ctx, "message", "a", []byte("text")); err != nil {
			t.Fatal(err)
		}
	}
	if err := first.Add(ctx, "unknown", "b", nil); err != nil {
		t.Fatal(err)
	}
	if n, given, err := first.Waiting(ctx); n != 2 || given != 0 || err != nil {
		t.Errorf("%d wait, %d given up, %v", n, given, err)
	}
	if err := first.Add(ctx, "two words", "a", nil); err == nil {
		t.Error("a kind of two words was taken")
	}
	q := work.NewLocal(s, nil)
	var tries, turns atomic.Int64
	q.Do("message", func(_ context.Context, data []byte) error {
		switch {
		case string(data) != "text":
			t.Errorf("%q", data)
		case tries.Add(1) == 1:
			panic("as a bug would")
		}
		return nil
	})
	q.Every("turn", time.Second, func(context.Context) error { turns.Add(1); return errors.New("does not stop the next one") })
	if err := q.Start(ctx); err != nil {
		t.Fatal(err)
	}
	until(t, "the job is not done", func() bool { n, _, err := q.Waiting(ctx); return err == nil && n == 1 })
	until(t, "no turns", func() bool { return turns.Load() >= 3 })
	if err := q.Close(); err != nil {
		t.Error(err)
	}
	if n := tries.Load(); n != 2 {
		t.Errorf("tried %d times", n)
	}
	before := turns.Load()
	time.Sleep(1100 * time.Millisecond)
	if turns.Load() != before {
		t.Error("it goes on after Close")
	}
}

// Pauses grow and stay within an hour; what cannot be done is given up after a day or two.
func TestPause(t *testing.T) {
	sum := time.Duration(0)
	for n := 1; n < work.Attempts; n++ {
		if work.Pause(n) < work.Pause(n-1) || work.Pause(n) > time.Hour {
			t.Errorf("pause %d is %s", n, work.Pause(n))
		}
		sum += work.Pause(n)
	}
	if sum < 24*time.Hour || sum > 48*time.Hour {
		t.Errorf("given up after %s", sum)
	}
}

func TestPeriods(t *testing.T) {
	q := work.NewLocal(open(t, filepath.Join(t.TempDir(), "s.db")), nil)
	q.Every("too often", time.Millisecond, func(context.Context) error { return nil })
	if err := q.Start(context.Background()); err == nil {
		t.Error("a period of a millisecond was taken")
	}
}
