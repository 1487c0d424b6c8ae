package web

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"path"
	"slices"
	"strings"
	"sync"

	"underlamp/access"
	"underlamp/app/trialbook"
)

// mostPlots is how many trials are remembered with the places of their plants.
const mostPlots = 40

// plots are the places of the plants of trials, by plan and version of the bench.
type plots struct {
	mu    sync.Mutex
	known map[string][]trialbook.Plot
	order []string
}

// plotsOf are the places of the plants of a trial on its bench, with the bench; nil where
// it names none that can be read, or has no unit under its lamps.
func (s *Site) plotsOf(p *trialbook.Page) ([]trialbook.Plot, *entry) {
	if p.Trial.Bench == "" {
		return nil, nil
	}
	e, err := s.benches.get(strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)))
	if err != nil || e == nil || e.broken {
		return nil, nil
	}
	key := fmt.Sprintf("%x %s", sha256.Sum256(p.Source), e.version())
	s.plots.mu.Lock()
	defer s.plots.mu.Unlock()
	if out, ok := s.plots.known[key]; ok {
		return out, e
	}
	out, err := trialbook.Plots(e.model, p.Trial)
	if err != nil {
		out = nil // the page of the plan says why
	}
	if s.plots.known == nil {
		s.plots.known = map[string][]trialbook.Plot{}
	}
	s.plots.known[key] = out
	if s.plots.order = append(s.plots.order, key); len(s.plots.order) > mostPlots {
		delete(s.plots.known, s.plots.order[0])
		s.plots.order = s.plots.order[1:]
	}
	return out, e
}

// walked is what was seen on rounds of the bench of a trial; nil where there are none, or
// the trial has no places there.
func (s *Site) walked(r *http.Request, p *trialbook.Page) (*trialbook.Walked, error) {
	if s.rounds == nil {
		return nil, nil
	}
	plots, e := s.plotsOf(p)
	if plots == nil {
		return nil, nil
	}
	rec, err := s.record(r.Context(), e.id)
	if err != nil {
		return nil, err
	}
	return &trialbook.Walked{Record: rec, Bench: e.bench, Plots: plots}, nil
}

type moveRow struct{ Where, Name, What, Said, When, By, Was string }

type clashRow struct {
	Key, Where, Name, What, When string
	Rounds, RoundsBy             string
	Table, TableBy               string
}

type trialRoundsView struct {
	trialHead
	Wrong   string
	Moves   []moveRow
	Clashes []clashRow
	Left    []string
	Doubts  []string
	Known   int
	Seen    string // fingerprint
	By      string
	Taken   string
}

// trialRounds shows what of the rounds the trial does not have yet.
func (s *Site) trialRounds(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	s.trialRoundsView(w, r, id, p, http.StatusOK, "")
}

func (s *Site) trialRoundsView(w http.ResponseWriter, r *http.Request, id string, p *trialbook.Page, status int, wrong string) {
	v := trialRoundsView{trialHead: s.headOf(r, id, p, "rounds"), Wrong: wrong, By: strings.TrimSpace(r.FormValue("by"))}
	if who := access.From(r.Context()); v.By == "" && !who.Here {
		v.By = who.Person
	}
	if n := r.URL.Query().Get("taken"); n != "" && wrong == "" {
		v.Taken = n
	}
	walked, err := s.walked(r, p)
	switch {
	case err != nil:
		s.roundsFailed(w, r, err)
		return
	case walked == nil && v.Wrong == "":
		v.Wrong = "The rounds of no bench belong to this trial: its plan names no bench here whose lamps are its units."
	case walked != nil:
		t, err := trialbook.Take(p, *walked, nil, "", s.today())
		if err != nil {
			v.Wrong = asSentence(err.Error())
			break
		}
		v.Left, v.Doubts, v.Known, v.Seen = t.Left, t.Doubts, t.Known, t.Fingerprint()
		for _, m := range t.Moves {
			e := m.Entry
			v.Moves = append(v.Moves, moveRow{e.TrialUnit + ", " + e.Plant, m.Name, labelOf(e.What), trialbook.SaidOf(e), e.Time, e.By, m.Was})
		}
		for _, c := range t.Clashes {
			v.Clashes = append(v.Clashes, clashRow{c.Key(), c.Rounds.TrialUnit + ", " + c.Rounds.Plant, c.Name, labelOf(c.Rounds.What), c.Rounds.Time[:min(10, len(c.Rounds.Time))], trialbook.SaidOf(c.Rounds), c.Rounds.By, trialbook.SaidOf(c.Table), c.Table.By})
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "trialrounds.tmpl", v)
}

// trialRoundsDo takes over what was shown, with the decisions about what both have.
func (s *Site) trialRoundsDo(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil || !s.writes(w) {
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, http.StatusRequestEntityTooLarge, "That is too much at once.", "Load the page again.")
		return
	}
	walked, err := s.walked(r, p)
	switch {
	case err != nil:
		s.roundsFailed(w, r, err)
		return
	case walked == nil:
		s.trialRoundsView(w, r, id, p, http.StatusUnprocessableEntity, "")
		return
	}
	decided := map[string]trialbook.Decision{}
	for name, v := range r.PostForm {
		if key, ok := strings.CutPrefix(name, "clash-"); ok && slices.Contains([]trialbook.Decision{trialbook.ByRounds, trialbook.ByTable}, trialbook.Decision(v[0])) {
			decided[key] = trialbook.Decision(v[0])
		}
	}
	by := strings.TrimSpace(r.PostForm.Get("by"))
	if by == "" {
		s.trialRoundsView(w, r, id, p, http.StatusUnprocessableEntity, "Write who takes them over.")
		return
	}
	done, err := trialbook.TakeOver(s.place, p, *walked, r.PostForm.Get("seen"), decided, by, s.today())
	switch {
	case errors.Is(err, trialbook.ErrMoved):
		s.trialRoundsView(w, r, id, p, http.StatusConflict, asSentence(err.Error()))
	case err != nil:
		s.log.Error("rounds into a trial", "trial", id, "err", err)
		s.trialRoundsView(w, r, id, p, http.StatusServiceUnavailable, "Nothing was kept: "+err.Error()+".")
	default:
		http.Redirect(w, r, fmt.Sprintf("/trial/%s/rounds?taken=%d", id, len(done.Moves)), http.StatusSeeOther)
	}
}

// trialsOn are the trials whose plants stand on a bench.
func (s *Site) trialsOn(e *entry) (out []trialCard) {
	files, err := trialbook.Files(s.benches.folder)
	if err != nil {
		return nil
	}
	for _, file := range files {
		id := strings.TrimSuffix(file, path.Ext(file))
		if p, _ := trialbook.Open(s.benches.folder, file); p != nil && p.Trial.Bench == e.file && validTrial.MatchString(id) {
			out = append(out, trialCard{ID: id, Name: p.Trial.Name})
		}
	}
	return out
}
