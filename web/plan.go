package web

import (
	"context"
	"html/template"
	"net/http"
	"net/url"

	"underlamp/access"
	"underlamp/app/outlook"
	"underlamp/app/tasks"
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

// query is the question in an address.
func (f planForm) query(e *entry) url.Values {
	q := url.Values{"for": {f.Goal}}
	if f.Frontier {
		q.Set("frontier", "1")
	}
	if f.Ramps {
		q.Set("ramps", "1")
	}
	if e.asked != "" {
		q.Set("at", e.asked)
	}
	if e.fieldOff {
		q.Set("field", "off")
	}
	return q
}

// planWork searches everything that can be turned.
func (e *entry) planWork(f planForm, opt outlook.WiderOptions) tasks.Work {
	q := f.query(e)
	path := "/bench/" + e.id + "/plan?" + q.Encode()
	return tasks.Work{Kind: "plan", Key: q.Encode() + " " + e.version(), Title: "The most " + opt.Goal.Name() + " on " + e.called(), Page: path + "#answer", Again: path, Long: true,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			opt.Progress = func(what string, share float64) { t.Progress("searching "+what, share) }
			x, err := e.whole.Wider(ctx, opt)
			if err != nil {
				return nil, err
			}
			return section{html: report.PlanSection(e.bench, x)}, nil
		}}
}

// plan asks for the best of everything that can be turned, and shows how far the search is
// or what it found.
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
		At, Field        string
		Asked, Owner     bool
		Work             *workView
		Wrong            string
		Cautions         template.HTML
	}{Title: "Everything that can be turned", ID: e.id, Bench: e.bench.Name, Form: form, At: e.asked, Asked: r.FormValue("for") != "", Owner: access.Owners.Has(access.From(r.Context())), Cautions: report.Cautions()}
	if e.fieldOff {
		view.Field = "off"
	}
	for _, g := range outlook.Goals() {
		if g == outlook.Margin && len(e.bench.Money.Sale) == 0 {
			continue // the page says what to add to the file
		}
		view.Goals = append(view.Goals, planGoal{g.Key(), g.Name(), g == opt.Goal})
	}
	switch {
	case e.refused != nil:
		view.Wrong = e.refused.Error()
	case view.Asked:
		x := e.planWork(form, opt)
		if t := s.work.Of(x.Kind, x.Key); t != nil {
			now, _ := t.Look()
			view.Work = s.workView(r, now, false)
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "plan.tmpl", view)
}

// planDo begins the search.
func (s *Site) planDo(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	form, opt := readPlan(r)
	if e.refused != nil { // the page says why
		http.Redirect(w, r, "/bench/"+e.id+"/plan?"+form.query(e).Encode(), http.StatusSeeOther)
		return
	}
	s.begun(w, r, e.planWork(form, opt))
}
