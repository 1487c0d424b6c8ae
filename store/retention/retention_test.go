package retention_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"underlamp/store"
	"underlamp/store/retention"
	"underlamp/store/sqlite"
)

// Each sensor keeps its readings as long as the narrowest rule says, and its sums by
// hour always.
func TestApply(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)
	days := map[string]int{"air": 10, "light": 3, "light of the shelf": 7, "always": 20}
	ids := map[string]int64{}
	for key := range days {
		x := store.Sensor{Key: key, Quantity: "temperature"}
		if key == "light" || key == "light of the shelf" {
			x.Quantity = "PPFD"
		}
		if ids[key], err = s.PutSensor(ctx, x); err != nil {
			t.Fatal(err)
		}
		var rs []store.Reading
		for d := range int64(20) {
			rs = append(rs, store.Reading{Sensor: ids[key], At: store.At(now) - d*store.Day - store.Hour, Value: float64(d)})
		}
		if err := s.Append(ctx, rs); err != nil {
			t.Fatal(err)
		}
	}
	readings := func(key string) int {
		got, err := s.Samples(ctx, ids[key], 0, store.At(now))
		if err != nil {
			t.Fatal(err)
		}
		return len(got)
	}
	if err := retention.Apply(ctx, s, now); err != nil || readings("air") != 20 {
		t.Errorf("without a rule %d readings are left, %v", readings("air"), err)
	}
	for _, r := range []retention.Rule{
		{Scope: retention.All, Days: 99}, {Scope: retention.All, Days: 10}, // the later counts
		{Scope: retention.Quantity, Name: "PPFD", Days: 3},
		{Scope: retention.Sensor, Name: "light of the shelf", Days: 7},
		{Scope: retention.Sensor, Name: "always"},
	} {
		if err := retention.Put(ctx, s, r, now); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 {
		if err := retention.Apply(ctx, s, now); err != nil {
			t.Fatal(err)
		}
		for key, want := range days {
			sums, err := s.Buckets(ctx, ids[key], 0, store.At(now), store.Hour)
			if got := readings(key); got != want || err != nil || len(sums) != 20 {
				t.Errorf("%s: %d readings, want %d; %d sums by hour, %v", key, got, want, len(sums), err)
			}
		}
	}
	if err := s.PutDocument(ctx, store.Document{Kind: retention.Kind, Name: "sensor air", Text: []byte("{")}); err != nil {
		t.Fatal(err)
	}
	if err := retention.Apply(ctx, s, now.AddDate(1, 0, 0)); err == nil || readings("air") != 10 {
		t.Errorf("by a rule in doubt %d readings are left, %v", readings("air"), err)
	}
	if err := retention.Drop(ctx, s, retention.Rule{Scope: retention.Sensor, Name: "air"}); err != nil {
		t.Error(err)
	}
	for _, bad := range []retention.Rule{{Scope: retention.Sensor, Days: 1}, {Scope: retention.All, Days: -1}, {Scope: retention.All, Days: 1e9}} {
		if err := retention.Put(ctx, s, bad, now); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
}
