package main

import (
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/cli"
	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/retention"
)

// A server forgets by the rules of its store and packs what an earlier one left, and says
// that it is well.
func TestServerLooksAfterItsStore(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	folder := t.TempDir()
	if err := os.CopyFS(folder, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(folder, "readings.db")
	s, err := openStore(ctx, kept)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	id, err := s.PutSensor(ctx, store.Sensor{Key: "rack/air"})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	err = s.Append(ctx, []store.Reading{{Sensor: id, At: store.At(now.AddDate(0, 0, -9)), Value: 1}, {Sensor: id, At: store.At(now.Add(-time.Minute)), Value: 2}})
	if err != nil {
		t.Fatal(err)
	}
	if err := retention.Put(ctx, s, retention.Rule{Scope: retention.All, Days: 3}, now); err != nil {
		t.Fatal(err)
	}
	address, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- serve(ctx, cli.ServeOptions{Folder: folder, Listen: "127.0.0.1:0", Store: kept}, func(a string) { address <- a })
	}()
	var at string
	select {
	case at = <-address:
	case err := <-ended:
		t.Fatal(err)
	}
	get := func(path string) (int, string) {
		answer, err := http.Get(at + path)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer.StatusCode, string(text)
	}
	for begin := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		got, err := s.Samples(ctx, id, 0, store.At(now))
		n, berr := s.Backlog(ctx)
		if err == nil && berr == nil && len(got) == 1 && n == 0 {
			break
		}
		if time.Since(begin) > 20*time.Second {
			t.Fatalf("%d readings are left and %d wait, %v %v", len(got), n, err, berr)
		}
	}
	if code, text := get("health"); code != 200 || !strings.Contains(text, `"status": "ok"`) {
		t.Errorf("%d %s", code, text)
	}
	if code, text := get("metrics"); code != 200 || !strings.Contains(text, `underlamp_sensor_age_seconds{sensor="rack/air"} `) {
		t.Errorf("%d %s", code, text)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
