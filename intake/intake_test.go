package intake_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/intake"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func options() intake.Options { return intake.Options{Now: func() time.Time { return now }} }

func open(t testing.TB) *sqlite.DB {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// slow is a store whose writes take a while, and that counts them; it refuses batches
// with a value of −1, as an engine that chokes on one reading would.
type slow struct {
	*sqlite.DB
	writes, folds atomic.Int64
	wait          time.Duration
}

func (s *slow) Append(ctx context.Context, rs []store.Reading) error {
	s.writes.Add(1)
	time.Sleep(s.wait)
	for _, r := range rs {
		if r.Value == -1 {
			return errors.New("disk of straw")
		}
	}
	return s.DB.Append(ctx, rs)
}

func (s *slow) Fold(ctx context.Context) (int, error) {
	s.folds.Add(1)
	return s.DB.Fold(ctx)
}

// A thousand that send at once cost few writes; each is acknowledged when its own is
// kept; one that cannot be kept takes nobody with it.
func TestTogether(t *testing.T) {
	s := &slow{DB: open(t), wait: 2 * time.Millisecond}
	o := options()
	var told atomic.Int64
	o.Kept = func(rs []store.Reading) { told.Add(int64(len(rs))) }
	in := intake.New(s, o)
	const senders = 1000
	var wg sync.WaitGroup
	var failed atomic.Int64
	for i := range senders {
		wg.Go(func() {
			v := float64(i)
			if i == 500 {
				v = -1
			}
			err := in.Take(context.Background(), []intake.Reading{{Sensor: fmt.Sprintf("s%d", i%10), Unit: "Cel", At: now.Add(-time.Duration(i) * time.Second), Value: v}})
			if (err != nil) != (i == 500) {
				t.Errorf("sender %d: %v", i, err)
			}
			if err != nil {
				failed.Add(1)
			}
		})
	}
	wg.Wait()
	in.Close()
	if n := s.writes.Load(); n > senders {
		t.Errorf("%d writes for %d senders", n, senders)
	} else {
		t.Logf("%d writes for %d senders", n, senders)
	}
	total := 0
	sensors, err := s.Sensors(context.Background())
	if err != nil || len(sensors) != 10 || sensors[0].Unit != "Cel" {
		t.Fatalf("%d sensors, %v", len(sensors), err)
	}
	for _, x := range sensors {
		got, err := s.Samples(context.Background(), x.ID, 0, store.At(now)+1)
		if err != nil {
			t.Fatal(err)
		}
		total += len(got)
	}
	if told.Load() != senders-1 {
		t.Errorf("%d readings were told as kept", told.Load())
	}
	if total != senders-1 || failed.Load() != 1 {
		t.Errorf("%d readings kept of %d, %d failed", total, senders, failed.Load())
	}
	if err := in.Take(context.Background(), []intake.Reading{{Sensor: "a", At: now, Value: 1}}); !errors.Is(err, intake.ErrClosed) {
		t.Errorf("after the end: %v", err)
	}
	if err := in.Take(context.Background(), nil); err != nil {
		t.Errorf("nothing: %v", err)
	}
}

func TestRefused(t *testing.T) {
	s := open(t)
	in := intake.New(s, options())
	defer in.Close()
	good := intake.Reading{Sensor: "a", At: now, Value: 1}
	for want, bad := range map[string]intake.Reading{
		"names no sensor":       {At: now, Value: 1},
		"is no number":          {Sensor: "a", At: now, Value: math.NaN()},
		"which has not come":    {Sensor: "a", At: now.Add(2 * time.Hour), Value: 1},
		"look at the clock":     {Sensor: "a", At: time.Unix(5, 0), Value: 1},
		"of the year 1":         {Sensor: "a", Value: 1},
		"reading 2, of sensor ": {Sensor: "b", At: now, Value: math.Inf(1)},
	} {
		err := in.Take(context.Background(), []intake.Reading{good, bad})
		if _, ok := errors.AsType[*intake.RefusedError](err); !ok || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if all, err := s.Sensors(context.Background()); err != nil || len(all) != 0 {
		t.Errorf("of refused packs sensors were entered: %v, %v", all, err)
	}
	// A clock that runs half an hour ahead is late winter time, and is taken.
	if err := in.Take(context.Background(), []intake.Reading{{Sensor: "a", At: now.Add(30 * time.Minute), Value: 1}}); err != nil {
		t.Error(err)
	}
}

// What was taken is packed after so many readings, after a while, and at the end.
func TestPacks(t *testing.T) {
	s := &slow{DB: open(t)}
	o := options()
	o.FoldAfter, o.FoldEvery = 100, 20*time.Millisecond
	in := intake.New(s, o)
	send := func(n int) {
		var rs []intake.Reading
		for i := range n {
			rs = append(rs, intake.Reading{Sensor: "a", At: now.Add(-time.Duration(i) * time.Second), Value: 1})
		}
		if err := in.Take(context.Background(), rs); err != nil {
			t.Fatal(err)
		}
	}
	send(100)
	for begin := time.Now(); s.folds.Load() == 0; time.Sleep(time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not packed after 100 readings")
		}
	}
	before := s.folds.Load()
	send(1)
	for begin := time.Now(); s.folds.Load() <= before; time.Sleep(time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not packed after a while")
		}
	}
	send(1)
	in.Close()
	if n, err := s.DB.Fold(context.Background()); err != nil || n != 0 {
		t.Errorf("after the end %d readings are not packed, %v", n, err)
	}
}

// What senders of one reading each see: how many a second are kept and acknowledged.
func BenchmarkTakeOneByOne(b *testing.B) {
	in := intake.New(open(b), intake.Options{})
	defer in.Close()
	var k atomic.Int64
	b.SetParallelism(500)
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			i := k.Add(1)
			err := in.Take(context.Background(), []intake.Reading{{Sensor: fmt.Sprintf("s%d", i%1000), At: now.Add(time.Duration(i-1e7) * time.Millisecond), Value: 21.5}})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}
