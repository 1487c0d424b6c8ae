package live

import (
	"cmp"
	"context"
	"slices"
	"time"

	"underlamp"
	"underlamp/store"
)

// RuleBurn is the rule of the chance of burn. It needs an outlook, which takes too long for a
// tick: package trouble opens and closes its messages.
const RuleBurn = string(underlamp.WatchBurn)

// BurnLimit is the limit of the chance of burn of a bench: that of its watch file, else that of
// the bench file. False if it is not watched.
func BurnLimit(b *underlamp.Bench, w *underlamp.Watch) (limit float64, urgent, on bool) {
	limit, on = float64(b.Limits.Burn.Value), true
	if w != nil {
		for _, r := range w.Rules {
			if r.Key != underlamp.WatchBurn {
				continue
			}
			if r.High != nil {
				limit = r.High.Value
			}
			urgent, on = r.Urgent, !r.Off
		}
	}
	return limit, urgent, on && limit > 0
}

// Tick brings all benches up to date and opens and closes messages.
func (e *Engine) Tick(ctx context.Context) error {
	if err := e.refresh(ctx, ""); err != nil {
		return err
	}
	open, err := e.keep.OpenMessages(ctx, "")
	if err != nil {
		return err
	}
	is := map[string]map[string]store.Message{}
	for _, m := range open {
		if is[m.Bench] == nil {
			is[m.Bench] = map[string]store.Message{}
		}
		is[m.Bench][m.Rule] = m
	}
	now := e.opt.Now()
	e.mu.Lock()
	names := slices.Clone(e.order)
	e.mu.Unlock()
	for _, name := range names {
		if err := e.judge(ctx, name, is[name], now); err != nil {
			return err
		}
	}
	return nil
}

// judge asks the rules of a bench and tells the store what they say.
func (e *Engine) judge(ctx context.Context, name string, open map[string]store.Message, now time.Time) error {
	e.mu.Lock()
	h := e.states[name]
	if h == nil {
		e.mu.Unlock()
		return nil
	}
	verdicts := h.judge(now, h.day(now), func(rule string) bool { _, ok := open[rule]; return ok })
	e.mu.Unlock()
	seen := map[string]bool{}
	for _, v := range verdicts {
		seen[v.rule] = true
		m, is := open[v.rule]
		switch {
		case v.unsure:
		case v.holds:
			key := name + "\x00" + v.rule
			if is && (m.Text == v.text && m.Urgent == v.urgent || now.Sub(e.renewedAt(key)) < renewEvery) {
				continue
			}
			m = store.Message{Bench: name, Rule: v.rule, Text: v.text, Mend: v.mend, Urgent: v.urgent, Since: store.At(v.since), Opened: store.At(now)}
			if _, fresh, err := e.keep.OpenMessage(ctx, m); err != nil {
				return err
			} else if fresh {
				e.opt.Log.Info("message", "bench", name, "rule", v.rule, "text", v.text)
			}
			e.setRenewed(key, now)
		case is:
			if _, err := e.keep.CloseMessage(ctx, name, v.rule, store.At(now)); err != nil {
				return err
			}
		}
	}
	for rule := range open { // of rules that are switched off, or of sensors that are gone
		if !seen[rule] && rule != RuleBurn {
			if _, err := e.keep.CloseMessage(ctx, name, rule, store.At(now)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (e *Engine) renewedAt(key string) time.Time {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.renewed[key]
}

func (e *Engine) setRenewed(key string, now time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.renewed[key] = now
}

// Text is a message in one line, for people.
func Text(m store.Message) string { return cmp.Or(m.Text, m.Rule) + " " + m.Mend }

// Quiet says whether messages of a bench wait at an instant that are not urgent, and until
// when: the quiet hours of its watch file. While nothing is known of the bench, as when the
// engine begins, they wait for a minute: nobody is woken by mistake.
func (e *Engine) Quiet(bench string, at time.Time) (until time.Time, quiet bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.states[bench]
	switch {
	case h == nil:
		return at.Add(time.Minute), true
	case h.limits.quiet == nil:
		return time.Time{}, false
	}
	w := *h.limits.quiet
	in, since := inWindow(w, at, h.zone)
	if !in {
		return time.Time{}, false
	}
	_, off := windowOn(w, since, h.zone)
	return off, true
}
