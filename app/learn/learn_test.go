package learn_test

import (
	"bytes"
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"underlamp"
	"underlamp/app/learn"
	"underlamp/app/outlook"
	"underlamp/formats/cyclefile"
	"underlamp/formats/profilefile"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

// From an invented crop whose hidden growth is 0.80 · 1.04 of the usual, learning
// finds a factor about there, narrows the outlook towards what was weighed, and a
// profile gives, written and read, the very plants of the outlook after.
func TestALessonOfAnInventedCrop(t *testing.T) {
	if testing.Short() {
		t.Skip("learning takes some ten seconds")
	}
	m := model(t, "tier-2-middle.yaml")
	c := cycle(t, "tier-2-middle.summer.cycle.yaml", m.Bench())
	share := -1.0
	l, err := learn.Teach(context.Background(), m, []*underlamp.Cycle{c}, learn.Options{NoBest: true, Progress: func(_ string, s float64) {
		if s < share-1e-9 {
			t.Errorf("progress falls from %g to %g", share, s)
		}
		share = s
	}})
	if err != nil {
		t.Fatal(err)
	}
	if share != 1 {
		t.Errorf("progress ends at %g", share)
	}
	i := slices.IndexFunc(l.Posterior.Parameters, func(p headlearn.Parameter) bool { return p.Key == "vigour" })
	v := l.Posterior.Parameters[i]
	if v.Posterior.Q05 > 0.832 || v.Posterior.Q95 < 0.832 || v.Shrinkage < 0.3 || !v.Learned {
		t.Errorf("vigour %+v, hidden 0.832", v.Posterior)
	}
	if l.Told[i][0].Data != "weighings" {
		t.Errorf("vigour is told by %v", l.Told[i])
	}
	before, after := l.Before.Fresh, l.After.Fresh
	if after.High-after.Low > 0.8*(before.High-before.Low) || after.Mid > before.Mid {
		t.Errorf("fresh mass before %v, after %v", before, after)
	}
	if l.Next.Best.What == "" || slices.ContainsFunc(l.Next.Further, func(f learn.Further) bool { return f.Mass < 0 || f.Burn < 0 || f.Mass > 1 || f.Burn > 1 }) {
		t.Errorf("further observations %+v", l.Next)
	}

	p, err := l.Profile("", "2026-11-25")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := profilefile.Write(&b, p); err != nil {
		t.Fatal(err)
	}
	got, problems, err := profilefile.Read(&b)
	if err != nil || got == nil {
		t.Fatal(err, problems)
	}
	bench := *m.Bench()
	bench.Crop.Profile = got
	from, err := outlook.SourceOf(&bench)
	if err != nil {
		t.Fatal(err)
	}
	o, err := outlook.NewFrom(m, 0, from)
	if err != nil {
		t.Fatal(err)
	}
	again, err := o.Forecast(nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]outlook.Band{l.After.Fresh, l.After.FirstBurn}, []outlook.Band{again.Fresh, again.FirstBurn}, cmpopts.EquateNaNs()); d != "" || l.After.Chance != again.Chance {
		t.Errorf("the outlook with the profile is not the one shown: %s, chance %g and %g", d, l.After.Chance, again.Chance)
	}

	// Draws that have not settled give no profile.
	l.Posterior.Sampling.RHat = 1.2
	if _, err := l.Profile("", "2026-11-25"); err == nil || !strings.Contains(err.Error(), "R-hat 1.2") {
		t.Errorf("draws that have not settled: %v", err)
	}
}

func read(t *testing.T, b *underlamp.Bench, text string) *underlamp.Cycle {
	t.Helper()
	c, problems, err := cyclefile.Read(strings.NewReader("underlamp cycle: 1\nbench: tier-2-middle.yaml\ntransplanted: 2026-08-10\n"+text), b)
	if err != nil || c == nil {
		t.Fatal(err, problems)
	}
	return c
}

// A cycle that holds nothing of use is refused with a sentence, and a learning that
// is stopped stops.
func TestNothingToLearnFrom(t *testing.T) {
	m := model(t, "tier-2-middle.yaml")
	for _, text := range []string{"", "observations:\n  - {date: 2026-08-10, plant: P1, mass: 1.3 g}\n", "observations:\n  - {date: 2026-08-20, plant: P1, leaves: 8}\n"} {
		if _, err := learn.Teach(context.Background(), m, []*underlamp.Cycle{read(t, m.Bench(), text)}, learn.Options{}); !errors.Is(err, learn.ErrNothing) {
			t.Errorf("%q: %v", text, err)
		}
		if _, err := learn.Backtest(context.Background(), m, []*underlamp.Cycle{read(t, m.Bench(), text)}, learn.BacktestOptions{}); err == nil || !strings.Contains(err.Error(), "no day of harvest") {
			t.Errorf("%q: %v", text, err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	c := cycle(t, "tier-2-middle.summer.cycle.yaml", m.Bench())
	if _, err := learn.Teach(ctx, m, []*underlamp.Cycle{c}, learn.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if _, err := learn.Backtest(ctx, m, []*underlamp.Cycle{c}, learn.BacktestOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// The outlook of a day knows nothing of later days: other observations, other changes
// and another outcome leave it as it was.
func TestTheBacktestDoesNotLookAhead(t *testing.T) {
	m := model(t, "tier-2-middle.yaml")
	c := cycle(t, "tier-2-middle.summer.cycle.yaml", m.Bench())
	run := func(c *underlamp.Cycle) learn.Trial {
		r, err := learn.Backtest(context.Background(), m, []*underlamp.Cycle{c}, learn.BacktestOptions{Every: 15, Draws: 100})
		if err != nil {
			t.Fatal(err)
		}
		return r.Trials[0]
	}
	first := run(c)
	other := *c
	other.Observations = slices.Clone(c.Observations)
	for i := range other.Observations {
		if o := &other.Observations[i]; o.Day > 15 && o.Mass != nil {
			m := *o.Mass / 2
			o.Mass = &m
		}
	}
	dark := underlamp.Said[quantity.Fraction](0.3)
	other.Changes = append(slices.Clone(c.Changes), underlamp.Change{Date: "2026-08-10", Day: 21, Dimming: &dark})
	second := run(&other)
	if len(first.Issues) != 3 || first.Issues[1].Own != 6 || first.Issues[0].Own != 0 {
		t.Fatalf("issues %+v", first.Issues)
	}
	for i := range 2 { // days 0 and 15
		a, b := first.Issues[i].Said, second.Issues[i].Said
		if a.Mass != b.Mass || a.Chance != b.Chance {
			t.Errorf("day %d: %v, chance %g; with another future %v, chance %g", first.Issues[i].Day, a.Mass, a.Chance, b.Mass, b.Chance)
		}
	}
	if a, b := first.Issues[2].Said.Mass, second.Issues[2].Said.Mass; a == b {
		t.Errorf("day 30 does not feel what was weighed before: %v", a)
	}
	// What is known helps: six heads weighed on day 14 bring the mean nearer.
	if a, b := first.Issues[0].Said, first.Issues[1].Said; b.CRPS >= a.CRPS || math.Abs(b.Error) >= math.Abs(a.Error) {
		t.Errorf("day 0: CRPS %g, error %g; day 15: %g, %g", a.CRPS, a.Error, b.CRPS, b.Error)
	}
}
