package settings_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/app/settings"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func TestKeeper(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	k := settings.New(s)
	if got, err := k.Now(ctx); err != nil || got != (settings.Settings{}) || got.Location() != nil || got.System(quantity.US) != quantity.US {
		t.Errorf("%+v, %v", got, err)
	}
	want := settings.Settings{Units: settings.US, Zone: "America/Chicago"}
	if err := k.Put(ctx, want); err != nil {
		t.Fatal(err)
	}
	for _, from := range []*settings.Keeper{k, settings.New(s)} {
		got, err := from.Now(ctx)
		if err != nil || got != want || got.System(quantity.Metric) != quantity.US || got.Location().String() != "America/Chicago" {
			t.Errorf("%+v, %v", got, err)
		}
	}
	for _, bad := range []settings.Settings{{Units: "imperial"}, {Zone: "Mars/Olympus"}, {Zone: "../../etc/passwd"}, {Zone: "Local"}, {Zone: strings.Repeat("x", 100)}} {
		if err := k.Put(ctx, bad); err == nil {
			t.Errorf("%+v was set", bad)
		}
	}
	// A document that another version wrote is told, and what was set last holds.
	if err := s.PutDocument(ctx, store.Document{Kind: "settings", Name: "pages", Recorded: store.At(time.Now()), Text: []byte(`{"colour":"green"}`)}); err != nil {
		t.Fatal(err)
	}
	if _, err := settings.New(s).Now(ctx); err == nil || !strings.Contains(err.Error(), "colour") {
		t.Errorf("%v", err)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{`{}`, `{"units":"us","zone":"Europe/Berlin"}`, `{} {}`, `null`, `{"zone":"../x"}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := settings.Parse(text)
		if err == nil && (s.Zone != "" && s.Location() == nil || strings.Contains(s.Zone, "..")) {
			t.Fatalf("%q gives %+v", text, s)
		}
	})
}
