package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"underlamp/app/kept"
	"underlamp/store"
)

// when is an instant of the store by the clock of the site.
func when(at int64, zone *time.Location) string {
	return store.Time(at).In(zone).Format("Monday 2 January 2006, 15:04")
}

// stepAt is how a bench was at an instant, by what is known now; nil before it is known.
func (s *Site) stepAt(ctx context.Context, id string, t time.Time) (*kept.Step, error) {
	steps, _, err := s.desk.History(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, x := range slices.Backward(steps) {
		if x.From <= store.At(t) {
			return &x, nil
		}
	}
	return nil, nil
}

// pastEntries are some benches as they were, with what was computed of them.
type pastEntries struct {
	mu  sync.Mutex
	all []*entry // the newest last
}

// mostPast bounds how many are held.
const mostPast = 4

// pastOf is the bench of a page as it was at a time; it answers itself if that cannot be
// told.
func (s *Site) pastOf(w http.ResponseWriter, r *http.Request, now *entry, at string) *entry {
	t, err := s.instant(at)
	if err != nil {
		s.fail(w, http.StatusBadRequest, "That time cannot be read.", "Times are written 2026-11-23 or 2026-11-23T08:00.")
		return nil
	}
	step, err := s.stepAt(r.Context(), now.id, t)
	switch {
	case err != nil:
		s.log.Error("history", "err", err)
		s.fail(w, http.StatusServiceUnavailable, "The history cannot be read now.", "Load the page again in a while. If it stays so, underlamp doctor says why.")
		return nil
	case step == nil || len(step.Text) == 0:
		s.fail(w, http.StatusNotFound, "The bench was not known at that time.", "Its history says since when it is.")
		return nil
	}
	e := s.pastEntry(now, at, t, step)
	if e.broken {
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{e.id + " as it was", e.problems})
		return nil
	}
	return e
}

// pastEntry is a bench as it was at a time, asked for as at.
func (s *Site) pastEntry(now *entry, at string, t time.Time, step *kept.Step) *entry {
	set := s.benches.set()
	key := stampOf(step.Text)
	s.past.mu.Lock()
	defer s.past.mu.Unlock()
	for _, e := range s.past.all {
		if e.id == now.id && e.stamp == key && e.asked == at && e.set == set.Stamp() && e.fresh(s.benches.folder) {
			return e
		}
	}
	e := &entry{id: now.id, file: now.file, stamp: key, set: set.Stamp(), asked: at, then: t.In(s.zone).Format("Monday 2 January 2006, 15:04")}
	e.read(s.benches.folder, now.file, step.Text, set)
	if e.broken {
		return e
	}
	if s.past.all = append(s.past.all, e); len(s.past.all) > mostPast {
		s.past.all = s.past.all[1:]
	}
	return e
}

type historyView struct {
	Title, ID, Bench string
	Kept             bool
	Steps            []historyStep // the newest first
	Corrected        []historyCorrected
	By, Max          string
	Fault            string
}

type historyStep struct {
	From, To, Recorded string
	Begin              string // for forms
	Short              string // for a field of date and time
	By, Why            string
	Changes            []string
	Fault              string
	Late               bool // recorded well after it began
	Now, Begin0, Gone  bool // Begin0: the first that is known
}

type historyCorrected struct {
	From, Recorded, By, Why    string
	Instead, InsteadBy, Reason string
	Changes                    []string
}

func (s *Site) historyPage(w http.ResponseWriter, r *http.Request) {
	s.showHistory(w, r, http.StatusOK, "")
}

func (s *Site) showHistory(w http.ResponseWriter, r *http.Request, status int, fault string) {
	id := r.PathValue("id")
	if !validID.MatchString(id) {
		s.fail(w, http.StatusNotFound, "There is no bench of this name.", "The benches are listed on the first page.")
		return
	}
	v := historyView{ID: id, Bench: id, Kept: s.desk.HasHistory(), Fault: fault, Max: time.Now().In(s.zone).Format("2006-01-02T15:04")}
	if e, err := s.benches.get(id); err == nil && e != nil && e.bench != nil {
		v.Bench = e.bench.Name
	}
	v.Title = v.Bench + ", history"
	steps, corrected, err := s.desk.History(r.Context(), id)
	if err != nil {
		s.log.Error("history", "err", err)
		s.fail(w, http.StatusServiceUnavailable, "The history cannot be read now.", "Load the page again in a while. If it stays so, underlamp doctor says why.")
		return
	}
	if len(steps) == 0 && v.Kept {
		if text, err := s.desk.Read(r.Context(), id); err != nil || text == nil {
			s.fail(w, http.StatusNotFound, "There is no bench of this name.", "The benches are listed on the first page.")
			return
		}
	}
	if c, err := r.Cookie(knownBy); err == nil {
		v.By = c.Value
	}
	for i, x := range slices.Backward(steps) {
		h := historyStep{From: when(x.From, s.zone), Recorded: when(x.Recorded, s.zone), Begin: fmt.Sprint(x.From), Short: store.Time(x.From).In(s.zone).Format("2006-01-02T15:04"), By: x.By, Why: x.Why, Changes: x.Changes, Fault: x.Fault, Now: x.To == 0, Begin0: i == 0, Gone: len(x.Text) == 0}
		if x.To != 0 {
			h.To = when(x.To, s.zone)
		}
		d := x.Recorded - x.From
		h.Late = d > int64(2*store.Minute) || d < -int64(2*store.Minute)
		v.Steps = append(v.Steps, h)
	}
	for _, c := range slices.Backward(corrected) {
		h := historyCorrected{From: when(c.From, s.zone), Recorded: when(c.Recorded, s.zone), By: c.Version.By, Why: c.Why, Instead: when(c.By.Recorded, s.zone), InsteadBy: c.By.By, Reason: c.By.Why}
		h.Changes = kept.Between(c.Text, c.By.Text)
		v.Corrected = append(v.Corrected, h)
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "history.tmpl", v)
}

// historyCorrect puts the begin of a change right.
func (s *Site) historyCorrect(w http.ResponseWriter, r *http.Request) {
	by, why := strings.TrimSpace(r.PostFormValue("by")), strings.TrimSpace(r.PostFormValue("why"))
	var begin int64
	if _, err := fmt.Sscan(r.PostFormValue("begin"), &begin); err != nil || len(by) > mostNote || len(why) > mostNote || strings.ContainsAny(by+why, "\r\n\x00") || !validID.MatchString(r.PathValue("id")) {
		s.showHistory(w, r, http.StatusBadRequest, "This cannot be read. Who and why are one line each.")
		return
	}
	from, err := s.instant(r.PostFormValue("from"))
	if err != nil {
		s.showHistory(w, r, http.StatusUnprocessableEntity, "Say since when it was so, as a date and a time.")
		return
	}
	err = s.desk.Correct(r.Context(), r.PathValue("id"), store.Time(begin), from, by, why)
	switch {
	case errors.Is(err, store.ErrNotFound):
		s.showHistory(w, r, http.StatusNotFound, "That change is not in the history any more. It may just have been put right by somebody else.")
	case err != nil:
		s.showHistory(w, r, http.StatusUnprocessableEntity, upper(err.Error())+".")
	default:
		s.remember(w, by)
		http.Redirect(w, r, "/bench/"+r.PathValue("id")+"/history", http.StatusSeeOther)
	}
}
