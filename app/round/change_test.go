package round_test

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// What a person writes at the server becomes an entry, or is refused with what to do; a change
// that comes twice is entered once, and one that somebody else was faster with is told so.
func TestChangeAndDecide(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	const bench = "tier"
	b := &underlamp.Bench{Plants: []underlamp.Plant{{Name: "P1"}, {Name: "P2"}}}
	now := time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)
	record := func() *round.Record {
		rec, faults, err := round.Load(ctx, s, bench, time.UTC)
		if err != nil || len(faults) > 0 {
			t.Fatal(err, faults)
		}
		return rec
	}
	enter := func(c round.Change) round.Entry {
		e, err := record().Change(c, bench, b, now)
		if err == nil {
			err = round.Put(ctx, s, []round.Entry{e})
		}
		if err != nil && !errors.Is(err, store.ErrDiffers) {
			t.Fatal(err)
		}
		return e
	}
	enter(round.Change{ID: "entry-001", By: "Ida", Plant: "P1", What: underlamp.ResponseMass, Value: "141 g"})
	enter(round.Change{ID: "entry-002", By: "Ida", Of: "entry-001", Value: "114 g", Note: "digits"})
	enter(round.Change{ID: "entry-002", By: "Ida", Of: "entry-001", Value: "114 g", Note: "digits"})
	if all := record().Standing(); len(all) != 1 || all[0].Value != 114 {
		t.Errorf("%+v", all)
	}
	enter(round.Change{ID: "entry-003", By: "Ida", Of: "entry-002", Do: round.DoBack})
	if all := record().Standing(); len(all) != 1 || all[0].Value != 141 {
		t.Errorf("%+v", all)
	}
	enter(round.Change{ID: "entry-004", By: "Ida", Of: "entry-003", Do: round.DoStrike, Note: "pot"})
	if all := record().Standing(); len(all) != 0 {
		t.Errorf("%+v", all)
	}
	for name, c := range map[string]struct {
		round.Change
		overrun bool
	}{
		"nobody says it":     {round.Change{ID: "entry-005", Plant: "P1", What: underlamp.ResponseMass, Value: "1 g"}, false},
		"no such day":        {round.Change{ID: "entry-005", By: "Ida", Plant: "P1", What: underlamp.ResponseMass, Value: "1 g", Day: "yesterday"}, false},
		"no value":           {round.Change{ID: "entry-005", By: "Ida", Plant: "P1", What: underlamp.ResponseMass, Value: "a lot"}, false},
		"no such entry":      {round.Change{ID: "entry-005", By: "Ida", Of: "entry-none", Value: "1 g"}, false},
		"somebody was first": {round.Change{ID: "entry-005", By: "Malte", Of: "entry-001", Value: "1 g"}, true},
		"nothing before it":  {round.Change{ID: "entry-005", By: "Ida", Of: "entry-004", Do: round.DoBack, Value: "1 g"}, false},
	} {
		_, err := record().Change(c.Change, bench, b, now)
		f, ok := round.IsFault(err)
		if name == "nothing before it" { // what the strike took out is before it
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if !ok || f.Overrun != c.overrun {
			t.Errorf("%s: %v", name, err)
		}
	}

	for i, v := range []string{"20 g", "30 g", "40 g"} {
		enter(round.Change{ID: "other-00" + string(rune('1'+i)), By: "Ida", Plant: "P2", What: underlamp.ResponseMass, Value: v})
	}
	of := []string{"other-003", "other-001", "other-002"}
	if _, err := record().Decide(round.Decide{ID: "decide-1", By: "Ida", Of: of[:2], Keep: "other-001"}, bench, b, now); err == nil {
		t.Error("a decision about two of three")
	}
	out, err := record().Decide(round.Decide{ID: "decide-1", By: "Ida", Of: of, Keep: round.KeepAll}, bench, b, now)
	if err != nil || len(out) != 2 || !slices.Equal(out[1].Beside, []string{"other-001", "other-002"}) {
		t.Fatalf("%v %+v", err, out)
	}
	if err := round.Put(ctx, s, out); err != nil || len(record().Conflicts()) != 0 {
		t.Errorf("%v %+v", err, record().Conflicts())
	}
	if again, err := record().Decide(round.Decide{ID: "decide-2", By: "Ida", Of: of, Keep: round.KeepAll}, bench, b, now); err != nil || again != nil {
		t.Errorf("decided again: %v %+v", err, again)
	}
}
