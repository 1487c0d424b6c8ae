package httpintake_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/internal/pgtest"
	"underlamp/monitor"
	"underlamp/store"
	"underlamp/store/postgres"
)

// The database crashes in the middle of sending and comes back: who sends is told to
// send again and not that it is kept; the health answer says so; after it is back all goes
// on by itself, and everything that was acknowledged is there, once.
func TestDatabaseGoneAndBack(t *testing.T) {
	ctx := context.Background()
	server := pgtest.Start(t)
	s, err := postgres.Open(ctx, server.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	in := intake.New(s, intake.Options{FoldEvery: 100 * time.Millisecond})
	defer in.Close()
	token, hash := store.NewToken()
	if err := s.AddDevice(ctx, store.Device{Name: "d"}, hash); err != nil {
		t.Fatal(err)
	}
	m := monitor.New(monitor.Options{Store: s})
	mux := http.NewServeMux()
	mux.Handle("/intake", httpintake.Handler(m.Taker(in), s, nil))
	mux.Handle("/health", m.Health())
	web := httptest.NewServer(mux)
	defer web.Close()

	const step = 100
	begin := time.Now().Add(-24 * time.Hour).Unix()
	send := func(k int64) int {
		var b bytes.Buffer
		fmt.Fprintf(&b, `[{"bn":"rack/air","bt":%d,"bu":"Cel","v":0}`, begin+k*step)
		for i := 1; i < step; i++ {
			fmt.Fprintf(&b, `,{"t":%d,"v":%d}`, i, i)
		}
		b.WriteByte(']')
		r, err := http.NewRequest(http.MethodPost, web.URL+"/intake", &b)
		if err != nil {
			t.Error(err)
			return 0
		}
		r.Header.Set("Authorization", "Bearer "+token)
		r.Header.Set("Content-Type", "application/senml+json")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Error(err)
			return 0
		}
		answer.Body.Close()
		return answer.StatusCode
	}
	health := func() int {
		answer, err := http.Get(web.URL + "/health")
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		return answer.StatusCode
	}
	var kept, refused atomic.Int64 // packs
	stop, over := make(chan struct{}), make(chan struct{})
	go func() { // a device that sends a pack again until it is acknowledged
		defer close(over)
		for k := int64(0); ; {
			select {
			case <-stop:
				return
			default:
			}
			switch code := send(k); code {
			case http.StatusNoContent:
				k++
				kept.Store(k)
			case http.StatusServiceUnavailable:
				refused.Add(1)
				time.Sleep(5 * time.Millisecond)
			default:
				t.Errorf("answer %d", code)
				return
			}
		}
	}()
	wait := func(what string, ok func() bool) {
		t.Helper()
		for since := time.Now(); !ok(); time.Sleep(5 * time.Millisecond) {
			if time.Since(since) > 3*time.Minute || t.Failed() {
				t.Fatalf("%s does not come", what)
			}
		}
	}
	for range 2 {
		from := kept.Load()
		wait("readings that are kept", func() bool { return kept.Load() > from+10 })
		if code := health(); code != http.StatusOK {
			t.Errorf("health %d while all is well", code)
		}
		was := refused.Load()
		server.Crash()
		wait("refusals", func() bool { return refused.Load() > was+5 })
		if code := health(); code != http.StatusServiceUnavailable {
			t.Errorf("health %d while the database is gone", code)
		}
		server.Resume(t)
	}
	from := kept.Load()
	wait("readings that are kept again", func() bool { return kept.Load() > from+10 })
	close(stop)
	<-over
	x, err := s.Sensor(ctx, "rack/air")
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Samples(ctx, x.ID, 0, store.At(time.Now()))
	if err != nil || int64(len(got)) != kept.Load()*step {
		t.Fatalf("%d readings are there, %d were acknowledged, %v", len(got), kept.Load()*step, err)
	}
	for i, r := range got {
		if r.At != (begin+int64(i))*store.Second || r.Value != float64(i%step) {
			t.Fatalf("reading %d is %+v", i, r)
		}
	}
	faults, err := s.Verify(ctx)
	if err != nil || len(faults) > 0 {
		t.Errorf("%v, %v", faults, err)
	}
	t.Logf("2 crashes: %d packs acknowledged, %d times told to send again, %d readings there", kept.Load(), refused.Load(), len(got))
}

// full is a store whose disk is full.
type full struct{}

func (full) Take(context.Context, []intake.Reading) error {
	return fmt.Errorf("keep readings: database or disk is full (13)")
}

// A full disk is no fault of the sender: it keeps what it has and sends it later.
func TestDiskFull(t *testing.T) {
	token, hash := store.NewToken()
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, "/intake", strings.NewReader(`[{"n":"a","v":1}]`))
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Content-Type", "application/senml+json")
	m := monitor.New(monitor.Options{})
	httpintake.Handler(m.Taker(full{}), known{hash: hash}, nil).ServeHTTP(w, r)
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" || strings.Contains(w.Body.String(), "disk") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

type devices = store.Devices

type known struct {
	devices
	hash [32]byte
}

func (k known) DeviceBy(_ context.Context, hash [32]byte) (store.Device, error) {
	if hash != k.hash {
		return store.Device{}, store.ErrNotFound
	}
	return store.Device{Name: "d"}, nil
}
