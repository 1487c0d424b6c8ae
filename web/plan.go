package web

import (
	"context"
	"encoding/json"
	"errors"
	"html/template"
	"net/http"
	"strings"

	"underlamp/app/outlook"
	"underlamp/report"
)

// A planForm is what a person has asked, as the form shows it again.
type planForm struct {
	Goal            string
	Frontier, Ramps bool
}

// A planGoal is one choice of the form.
type planGoal struct {
	Key, Name string
	Chosen    bool
}

func readPlan(r *http.Request) (planForm, outlook.WiderOptions) {
	f := planForm{Goal: r.FormValue("for"), Frontier: r.FormValue("frontier") != "", Ramps: r.FormValue("ramps") != ""}
	goal, ok := outlook.GoalOf(f.Goal)
	if !ok {
		f.Goal = goal.Key()
	}
	return f, outlook.WiderOptions{Goal: goal, Frontier: f.Frontier, Ramps: f.Ramps}
}

// planKey tells what was asked of a bench.
type planKey struct {
	goal            outlook.Goal
	frontier, ramps bool
}

// planOf searches, or gives what was found before; one search a bench at a time.
func (e *entry) planOf(ctx context.Context, opt outlook.WiderOptions) (*outlook.Wider, error) {
	e.planMu.Lock()
	defer e.planMu.Unlock()
	key := planKey{opt.Goal, opt.Frontier, opt.Ramps}
	if w, ok := e.plans[key]; ok {
		return w, nil
	}
	if e.refused != nil {
		return nil, e.refused
	}
	w, err := e.whole.Wider(ctx, opt)
	if err != nil {
		return nil, err
	}
	if e.plans == nil {
		e.plans = map[planKey]*outlook.Wider{}
	}
	e.plans[key] = w
	return w, nil
}

// plan asks for the best of everything that can be turned. With a script the
// search runs beside the page, with progress and a button to stop it; without one
// the page waits for it.
func (s *Site) plan(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	form, opt := readPlan(r)
	view := struct {
		Title, ID, Bench string
		Form             planForm
		Goals            []planGoal
		Asked            bool
		Run              string
		Whole            string
		Wrong            string
		Result, Cautions template.HTML
	}{Title: "Everything that can be turned", ID: e.id, Bench: e.bench.Name, Form: form, Asked: r.FormValue("for") != "", Cautions: report.Cautions()}
	for _, g := range outlook.Goals() {
		if g == outlook.Margin && len(e.bench.Money.Sale) == 0 {
			continue // the page says what to add to the file
		}
		view.Goals = append(view.Goals, planGoal{g.Key(), g.Name(), g == opt.Goal})
	}
	q := r.URL.Query()
	q.Set("for", form.Goal)
	q.Del("whole")
	view.Run = "/bench/" + e.id + "/plan/run?" + q.Encode()
	q.Set("whole", "1")
	view.Whole = "/bench/" + e.id + "/plan?" + q.Encode() + "#answer"
	if view.Asked && r.FormValue("whole") != "" {
		x, err := e.planOf(r.Context(), opt)
		if err != nil {
			view.Wrong = err.Error()
		} else {
			view.Result = report.PlanSection(e.bench, x)
		}
	}
	s.page(w, http.StatusOK, "plan.tmpl", view)
}

// planRun searches and sends progress, one JSON object a line, then the answer.
// Closing the connection stops the search.
func (s *Site) planRun(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	_, opt := readPlan(r)
	w.Header().Set("Content-Type", "application/x-ndjson; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	send := func(v any) {
		line, err := json.Marshal(v)
		if err != nil {
			return
		}
		w.Write(append(line, '\n'))
		if f, ok := w.(http.Flusher); ok {
			f.Flush()
		}
	}
	opt.Progress = func(what string, done, of int) {
		send(map[string]any{"what": what, "done": done, "of": of})
	}
	x, err := e.planOf(r.Context(), opt)
	switch {
	case errors.Is(err, context.Canceled):
	case err != nil:
		send(map[string]string{"wrong": err.Error()})
	default:
		send(map[string]string{"html": strings.TrimSpace(string(report.PlanSection(e.bench, x)))})
	}
}

// mapPart sends a coarse settings map at once, until the best setting brings the
// whole one.
func (s *Site) mapPart(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	if e.refused != nil {
		http.Error(w, e.refused.Error(), http.StatusUnprocessableEntity)
		return
	}
	mp, err := e.fast.Draft(r.Context())
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Write([]byte(report.MapSection(e.bench, mp)))
}
