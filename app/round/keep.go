package round

import (
	"context"
	"errors"
	"math"
	"time"

	"underlamp"
	"underlamp/store"
)

// Load reads what was seen on a bench, and says of entries that cannot be read why. Days are
// those of the zone.
func Load(ctx context.Context, s store.Observations, bench string, zone *time.Location) (*Record, []error, error) {
	all, err := s.Observations(ctx, bench, 0, math.MaxInt64)
	if err != nil {
		return nil, nil, err
	}
	entries, faults := ReadAll(all)
	return NewRecord(entries, zone), faults, nil
}

// A Refusal says why an entry was not kept.
type Refusal struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

// Put keeps entries of one bench, all or none. Where an id is known with another content it
// fails with [store.ErrDiffers].
func Put(ctx context.Context, s store.Observations, entries []Entry) error {
	var all []store.Observation
	for _, e := range entries {
		o, err := e.Observation()
		if err != nil {
			return err
		}
		all = append(all, o)
	}
	return s.Observe(ctx, all)
}

// PutEach keeps entries of one bench. Where an id comes again, it is asked what was kept
// under it: the same entry sent twice is kept, another one is refused, and the rest goes in.
func PutEach(ctx context.Context, s store.Observations, entries []Entry) (kept []string, refused []Refusal, err error) {
	if len(entries) == 0 {
		return nil, nil, nil
	}
	if err = Put(ctx, s, entries); err == nil {
		for _, e := range entries {
			kept = append(kept, e.ID)
		}
		return kept, nil, nil
	}
	if !errors.Is(err, store.ErrDiffers) {
		return nil, nil, err
	}
	rec, _, err := Load(ctx, s, entries[0].Bench, time.UTC)
	if err != nil {
		return nil, nil, err
	}
	for _, e := range entries {
		if was, ok := rec.Find(e.ID); ok && was.SameAs(&e) {
			kept = append(kept, e.ID)
			continue
		}
		switch err := Put(ctx, s, []Entry{e}); {
		case err == nil:
			kept = append(kept, e.ID)
		case errors.Is(err, store.ErrDiffers):
			refused = append(refused, Refusal{e.ID, "something else is kept under this id"})
		default:
			return nil, nil, err
		}
	}
	return kept, refused, nil
}

// Receive keeps what a phone sent of a bench. What it says is kept is on the disk; of what it
// refuses it says why. A nil bench is one whose file has mistakes: what was seen is kept all
// the same.
func (p *Packet) Receive(ctx context.Context, s store.Observations, bench string, b *underlamp.Bench, received time.Time) (kept []string, refused []Refusal, err error) {
	if b == nil {
		b = &underlamp.Bench{}
	}
	var entries []Entry
	for i := range p.Entries {
		e, err := p.Enter(i, bench, b, received)
		if err != nil {
			refused = append(refused, Refusal{p.Entries[i].ID, err.Error()})
			continue
		}
		entries = append(entries, e)
	}
	kept, others, err := PutEach(ctx, s, entries)
	return kept, append(refused, others...), err
}
