// Package settings keeps what people set for the pages as a whole, as a document of the
// store: units and the zone of the days. What is not set follows the bench files and the
// machine.
package settings

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"underlamp/science/quantity"
	"underlamp/store"
)

// Units that can be set.
const (
	AsFiles = ""       // as each bench file says
	Metric  = "metric" // cm, °C
	US      = "us"     // in, °F; masses stay in g
)

// Settings are what is set; the zero value sets nothing.
type Settings struct {
	Units string `json:"units,omitempty"`
	Zone  string `json:"zone,omitempty"` // such as Europe/Berlin; empty: that of the machine
}

// System is the units to show, for a bench whose file says them.
func (s Settings) System(file quantity.System) quantity.System {
	switch s.Units {
	case Metric:
		return quantity.Metric
	case US:
		return quantity.US
	}
	return file
}

// Location is the zone of the days; nil if none is set.
func (s Settings) Location() *time.Location {
	if s.Zone == "" {
		return nil
	}
	z, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil // it was checked when it was set; the data of zones may have changed
	}
	return z
}

// Wrong is what cannot be set.
type Wrong struct{ Text string }

// Error is the sentence.
func (e *Wrong) Error() string { return e.Text }

func unknownZone(zone string) error {
	return &Wrong{fmt.Sprintf("the zone %.40q is not known; zones are called after places, such as Europe/Berlin or America/Chicago", zone)}
}

// check says what cannot be set.
func (s Settings) check() error {
	switch s.Units {
	case AsFiles, Metric, US:
	default:
		return &Wrong{fmt.Sprintf("%.20q are no units that can be set; there are metric and us", s.Units)}
	}
	if len(s.Zone) > 64 || s.Zone == "Local" {
		return unknownZone(s.Zone)
	}
	if _, err := time.LoadLocation(s.Zone); err != nil {
		return unknownZone(s.Zone)
	}
	return nil
}

// maxText bounds a document of settings.
const maxText = 1 << 12

// Parse reads a document. Words that this version does not know are an error: they would be
// lost when it is written again.
func Parse(text []byte) (Settings, error) {
	var s Settings
	if len(text) > maxText {
		return s, errors.New("the settings are too long")
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return Settings{}, fmt.Errorf("the settings cannot be read: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return Settings{}, errors.New("something follows the settings")
	}
	if err := s.check(); err != nil {
		return Settings{}, err
	}
	return s, nil
}

// The document.
const (
	kind = "settings"
	name = "pages"
)

// fresh is how long what was read counts: other servers of the store may set as well.
const fresh = 5 * time.Second

// A Keeper keeps the settings in a store. It is safe for many goroutines.
type Keeper struct {
	docs store.Documents
	now  func() time.Time

	mu   sync.Mutex
	last Settings
	read time.Time
	err  error
}

// New keeps settings in a store.
func New(docs store.Documents) *Keeper { return &Keeper{docs: docs, now: time.Now} }

// Now is what is set. If it cannot be read it is what was set last, with the error.
func (k *Keeper) Now(ctx context.Context) (Settings, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if now := k.now(); k.read.IsZero() || now.Sub(k.read) >= fresh || now.Before(k.read) {
		s, err := k.load(ctx)
		if ctx.Err() != nil {
			return k.last, nil // the visitor has left; that tells nothing of the store
		}
		if k.read, k.err = now, err; err == nil {
			k.last = s
		}
	}
	return k.last, k.err
}

func (k *Keeper) load(ctx context.Context) (Settings, error) {
	d, err := k.docs.Document(ctx, kind, name)
	if errors.Is(err, store.ErrNotFound) {
		return Settings{}, nil
	}
	if err != nil {
		return Settings{}, err
	}
	return Parse(d.Text)
}

// Put sets.
func (k *Keeper) Put(ctx context.Context, s Settings) error {
	if err := s.check(); err != nil {
		return err
	}
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if err := k.docs.PutDocument(ctx, store.Document{Kind: kind, Name: name, Recorded: store.At(k.now()), Text: text}); err != nil {
		return err
	}
	k.last, k.read, k.err = s, k.now(), nil
	return nil
}
