package kept

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp/formats/benchfile"
	"underlamp/store"
)

// A Step is a stretch of time in which a bench was as one version describes it, as is known
// now.
type Step struct {
	store.Version
	To      int64    // when the next begins; 0: it holds
	Changes []string // what became otherwise at its begin, in words; of the first none
	Fault   string   // why that cannot be said
}

// A Correction is something that was entered and counts no more, or for a shorter time.
type Correction struct {
	store.Version
	By *store.Version // what took its place; the one entered for the same time
}

// Timeline is how a bench was, by what is known now: of versions that hold from one instant
// the one that was entered last, each until the next. Beside it are those that were put
// right. Both are in the order of time.
func Timeline(all []store.Version) (steps []Step, corrected []Correction) {
	last := map[int64]store.Version{}
	for _, v := range all {
		last[v.From] = v
	}
	for _, v := range all {
		if by := last[v.From]; by.Number != v.Number {
			corrected = append(corrected, Correction{v, &by})
		}
	}
	for _, v := range last {
		steps = append(steps, Step{Version: v})
	}
	slices.SortFunc(steps, func(a, b Step) int { return compare(a.From, b.From) })
	slices.SortFunc(corrected, func(a, b Correction) int { return compare(a.From, b.From) })
	for i := range steps {
		if i > 0 {
			steps[i-1].To = steps[i].From
			steps[i].Changes, steps[i].Fault = changed(steps[i-1].Text, steps[i].Text)
		}
	}
	return steps, corrected
}

func compare(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// changed says in words what became otherwise.
func changed(was, is []byte) ([]string, string) {
	switch {
	case len(was) == 0 && len(is) == 0:
		return nil, ""
	case len(is) == 0:
		return []string{"the bench was taken away"}, ""
	case len(was) == 0:
		return []string{"the bench is there again"}, ""
	}
	words, err := benchfile.Words(was, is)
	if err != nil {
		return nil, "What was changed cannot be said: the file had mistakes."
	}
	if len(words) == 0 && !bytes.Equal(was, is) {
		words = []string{"only comments or the way it is written"}
	}
	return words, ""
}

// Between says in words what two descriptions of a bench say differently; nothing where that
// cannot be said.
func Between(was, is []byte) []string {
	words, _ := changed(was, is)
	return words
}

// at is the place of the step that holds at an instant; -1 before the first.
func at(steps []Step, t int64) int {
	i, found := slices.BinarySearchFunc(steps, t, func(s Step, t int64) int { return compare(s.From, t) })
	if !found {
		i--
	}
	return i
}

// ErrPast is wrapped where a time cannot be one of the past of a bench.
var ErrPast = errors.New("that time cannot be")

// past is an ErrPast with a sentence of its own.
type past string

// Error is the sentence for a person.
func (p past) Error() string { return string(p) }

// Is says that it is an [ErrPast].
func (p past) Is(target error) bool { return target == ErrPast }

// A CarryError says that a change cannot be made to how a bench was at some time.
type CarryError struct {
	From int64 // of the version
	Err  error
}

// Error says it to a person.
func (e *CarryError) Error() string {
	return fmt.Sprintf("the change cannot be made to the bench as it was from %s on: %v; save it from a later time", store.Time(e.From).Local().Format("2006-01-02 15:04"), e.Err)
}

// Unwrap is why.
func (e *CarryError) Unwrap() error { return e.Err }

// versions are those to enter for a save. What became otherwise is made so in every
// description that held since then, so that a later one does not undo it.
func (d *Desk) versions(ctx context.Context, s Save) ([]store.Version, error) {
	now := store.At(d.now())
	from := now
	if !s.From.IsZero() {
		from = store.At(s.From)
	}
	if from > now {
		return nil, past("a bench is entered when it is so; that time has not come yet")
	}
	all, err := d.keep.History(ctx, s.Bench)
	if err != nil {
		return nil, err
	}
	steps, _ := Timeline(all)
	new := func(from int64, text []byte) store.Version {
		return store.Version{Bench: s.Bench, From: from, Recorded: now, By: s.By, Why: s.Why, Text: text}
	}
	// The file may have been changed by hand and not been taken up yet: that is a change of its
	// own, from now on.
	if n := len(steps); n == 0 || !bytes.Equal(steps[n-1].Text, s.Base) {
		if from < now && n > 0 {
			return nil, past("the file has just been changed by hand; wait a moment, until that is in the history, and save again")
		}
		return []store.Version{new(from, s.Text)}, nil
	}
	i := at(steps, from)
	if i < 0 {
		return nil, past(fmt.Sprintf("the bench is known since %s; its past cannot begin before", store.Time(steps[0].From).Local().Format("2006-01-02 15:04")))
	}
	var out []store.Version
	for k := i; k < len(steps); k++ {
		begin := max(steps[k].From, from)
		if len(steps[k].Text) == 0 {
			continue
		}
		text := s.Text
		if k < len(steps)-1 || !bytes.Equal(steps[k].Text, s.Base) {
			if text, err = carried(steps[k].Text, s.Base, s.Text); err != nil {
				return nil, &CarryError{steps[k].From, err}
			}
		}
		if k > i && bytes.Equal(text, steps[k].Text) {
			continue
		}
		out = append(out, new(begin, text))
	}
	return out, nil
}

// carried makes a change in another description, which must be a bench afterwards. Files that
// it names are not opened.
func carried(to, was, is []byte) ([]byte, error) {
	text, err := benchfile.Carry(to, was, is)
	if err != nil {
		return nil, err
	}
	_, problems, err := benchfile.Read(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	for _, p := range problems {
		if p.Severity == benchfile.Error && !strings.Contains(p.Path, "photometry") && !strings.Contains(p.Path, "spectrum") && !strings.Contains(p.Path, "profile") {
			return nil, fmt.Errorf("%s: %s", p.Path, p.Message)
		}
	}
	return text, nil
}

// Correct says that what a step of the timeline brought, which begins at an instant, was so
// since another one: earlier ("it was already 30 cm on Monday") or later. What was entered
// stays beside it. It changes the past alone: how the bench is now stays.
func (d *Desk) Correct(ctx context.Context, bench string, begin, from time.Time, by, why string) error {
	if d.keep == nil {
		return errors.New("no history is kept; serve with a store")
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	now, old, new := store.At(d.now()), store.At(begin), store.At(from)
	if new > now {
		return past("that time has not come yet")
	}
	all, err := d.keep.History(ctx, bench)
	if err != nil {
		return err
	}
	steps, _ := Timeline(all)
	i := at(steps, old)
	switch {
	case i < 0 || steps[i].From != old:
		return fmt.Errorf("nothing of bench %q begins then: %w", bench, store.ErrNotFound)
	case new == old:
		return nil
	}
	version := func(from int64, text []byte) store.Version {
		return store.Version{Bench: bench, From: from, Recorded: now, By: by, Why: why, Text: text}
	}
	var out []store.Version
	if i == 0 { // of the first nothing was before
		if new < old {
			out = append(out, version(new, steps[0].Text))
		} else {
			return past("nothing is known of the bench before that; its begin can only be put earlier")
		}
	} else if new < old {
		k := at(steps, new)
		if k < 0 {
			return past(fmt.Sprintf("the bench is known since %s; a change cannot be before", store.Time(steps[0].From).Local().Format("2006-01-02 15:04")))
		}
		for ; k < i; k++ {
			text, err := moved(steps[k].Text, steps[i-1].Text, steps[i].Text)
			if err != nil {
				return &CarryError{steps[k].From, err}
			}
			out = append(out, version(max(steps[k].From, new), text))
		}
	} else {
		last := at(steps, new)
		for k := i; k <= last; k++ {
			if steps[k].From == new {
				break
			}
			text, err := moved(steps[k].Text, steps[i].Text, steps[i-1].Text)
			if err != nil {
				return &CarryError{steps[k].From, err}
			}
			out = append(out, version(steps[k].From, text))
		}
		if steps[last].From != new {
			out = append(out, version(new, steps[last].Text))
		}
	}
	_, err = d.keep.PutBenches(ctx, out)
	return err
}

// moved is a description with a change made in it; whole texts where one was no bench.
func moved(to, was, is []byte) ([]byte, error) {
	if bytes.Equal(to, was) {
		return is, nil
	}
	if len(to) == 0 || len(is) == 0 || len(was) == 0 {
		return nil, errors.New("the bench was not there")
	}
	return carried(to, was, is)
}

// History is the timeline of a bench; it is empty where none is kept.
func (d *Desk) History(ctx context.Context, bench string) ([]Step, []Correction, error) {
	if d.keep == nil {
		return nil, nil, nil
	}
	all, err := d.keep.History(ctx, bench)
	if err != nil {
		return nil, nil, err
	}
	steps, corrected := Timeline(all)
	return steps, corrected, nil
}
