package trouble

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/app/outlook"
	"underlamp/science/diagnosis"
	"underlamp/store"
	"underlamp/working"
)

// WatchStore is what a watch needs of a store.
type WatchStore interface {
	Keep
	Readings
	store.Messages
}

// Watches look at benches by themselves: where the outlook, made with what sensors read in
// the last days, passes the limit of burn, they open a message and a case.
type Watches struct {
	Keep    WatchStore
	Benches func(ctx context.Context) ([]live.Bench, error)
	// ReadWatch reads the watch file of a bench; nil: there are none.
	ReadWatch func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error)
	Model     *diagnosis.Model
	Zone      *time.Location
	Log       *slog.Logger
	Every     time.Duration // 0: an hour
	Draws     int           // of the outlook; 0: 200, by which a share of 10 % is known to 2 points
	First     time.Duration // until the first look; 0: two minutes, so that a start is not held up
}

// watchDraws is the usual number of draws of the outlook.
const watchDraws = 200

// backBy is how far the chance must fall under the limit, as a part of it, before the
// message closes.
const backBy = 0.15

// Run looks until ctx is done.
func (w *Watches) Run(ctx context.Context) {
	every, wait := w.Every, w.First
	if every == 0 {
		every = time.Hour
	}
	if wait == 0 {
		wait = 2 * time.Minute
	}
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		wait = every
		if err := w.Look(ctx, time.Now()); err != nil && ctx.Err() == nil {
			w.Log.Error("the burn of benches was not looked at; it is tried again", "err", err)
		}
	}
}

// Look looks at every bench once.
func (w *Watches) Look(ctx context.Context, now time.Time) error {
	all, err := w.Benches(ctx)
	if err != nil {
		return err
	}
	for _, b := range all {
		if err := w.look(ctx, b, now); err != nil {
			return fmt.Errorf("bench %s: %w", b.Key, err)
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return nil
}

func (w *Watches) look(ctx context.Context, b live.Bench, now time.Time) error {
	var rules *underlamp.Watch
	if d, err := w.Keep.Document(ctx, live.KindWatch, b.Key); err == nil && w.ReadWatch != nil {
		rules, _ = w.ReadWatch(b.Bench, d.Text) // what is wrong with it stands on the board
	}
	limit, urgent, on := live.BurnLimit(b.Bench, rules)
	x := &Bench{Bench: b.Bench, Now: now.In(w.Zone)}
	day, growing := x.Day()
	over := func() error {
		_, err := w.Keep.CloseMessage(ctx, b.Key, live.RuleBurn, store.At(now))
		return err
	}
	if !on || !growing || day > b.Crop.Days.Value || len(b.Plants) == 0 || outlook.Supported(b.Bench) != nil {
		return over() // nothing grows, or nobody wants to know
	}
	var err error
	if x.Sensed, err = Sense(ctx, w.Keep, b.Key, now); err != nil {
		return err
	}
	x.Bench = Applied(b.Bench, x.Sensed)
	if x.Light, err = light.NewModel(x.Bench); err != nil {
		return err
	}
	if x.Outlook, err = outlook.New(x.Light, cmp.Or(w.Draws, watchDraws)); err != nil {
		return err
	}
	if x.Forecast, err = x.Outlook.Forecast(nil); err != nil {
		return err
	}
	chance := x.Forecast.Chance
	switch {
	case chance <= limit*(1-backBy):
		return over()
	case chance <= limit:
		return nil // what is open stays so
	}
	by := "the bench file alone; no sensor tells of its air"
	if len(x.Sensed) > 0 {
		by = fmt.Sprintf("what sensors read in the last %d days", lastDays)
	}
	c, err := w.opened(b.Key, x, limit, by)
	if err != nil {
		return err
	}
	m := store.Message{Bench: b.Key, Rule: live.RuleBurn, Urgent: urgent, Since: store.At(now), Opened: store.At(now),
		Text: c.Note, Mend: fmt.Sprintf("Change first: %s. Look into the hearts, and at the page Trouble of the bench.", c.Change)}
	_, fresh, err := w.Keep.OpenMessage(ctx, m)
	if err != nil || !fresh {
		return err // of many servers the one that opened the message keeps the case
	}
	w.Log.Info("case", "bench", b.Key, "rule", live.RuleBurn, "text", c.Note)
	return Save(ctx, w.Keep, c, now)
}

// opened is the case of a forecast that passed the limit: nothing was seen yet, so no cause
// is ranked; the change is that against inner burn.
func (w *Watches) opened(key string, b *Bench, limit float64, by string) (*Case, error) {
	t := w.Model.Table()
	x := &Examination{At: b.Now, Records: b.Records(t), Findings: map[string]string{}}
	if cause := t.Cause("inner-burn"); cause != nil {
		x.Causes = []diagnosis.Ranked{{Key: cause.Key, Cause: cause}}
	} else {
		x.Causes = []diagnosis.Ranked{{Key: diagnosis.Else}}
	}
	if err := x.Advise(b); err != nil {
		return nil, err
	}
	x.Causes = nil
	c := NewCase(key, x, "", fmt.Sprintf("The outlook gives a chance of inner burn of %s by harvest, and the limit is %s (by %s).", working.Percent(b.Forecast.Chance), working.Percent(limit), by))
	c.Rule = live.RuleBurn
	if c.Change == "" {
		c.Change = "dim the lamps, or look at the air"
	}
	return c, nil
}
