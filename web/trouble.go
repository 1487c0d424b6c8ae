package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/trouble"
	"underlamp/draw/ailment"
	"underlamp/science/diagnosis"
	"underlamp/store"
	"underlamp/working"
)

// Cases keep what was wrong on benches, and tell what sensors read; a store does.
type Cases interface {
	trouble.Keep
	trouble.Readings
}

var _ Cases = store.Store(nil)

// Most of what one request may name.
const (
	mostSymptoms = 20
	mostCases    = 40 // that the page lists
)

// diagnosis is the model of the folder's table; problems says why its own file does not hold.
func (s *Site) diagnosis() (model *diagnosis.Model, problems string, err error) {
	return s.evidence.Model(s.benches.folder)
}

type symptomCard struct {
	Key, Name string
	Picture   template.HTML
	On        bool
}

func cardOf(f *diagnosis.Finding) symptomCard {
	name := f.Name
	return symptomCard{Key: f.Key, Name: name, Picture: template.HTML(ailment.Of(f.Key).SVG(false))} // made here
}

type troubleOption struct{ Value, Name string }

type troubleQuestion struct {
	Number  int
	Ask     string
	Options []troubleOption
}

type troubleCause struct {
	Rank         int
	Name, Why    string
	Chance, Band string
	Bar          template.HTML
	Ask          string // who knows more of what no record shows
	For, Against []troubleReason
	Prior        string
}

type troubleReason struct{ Text, Says, Times string }

type troubleRecord struct {
	Name, Text, From string
	Default          bool
}

type caseRow struct {
	ID, Day, First, Became, Again string
	Pictures                      []symptomCard
	Rule                          string
	Due                           bool
}

type troubleView struct {
	Title, ID, Bench string
	Problems, Fault  string
	Walks            bool // may keep cases

	Symptoms []symptomCard // all, to pick from
	Picked   []symptomCard
	Answered []string

	Hidden   []troubleOption // fields of the forms: name and value
	Question *troubleQuestion
	Stop     string // address without more questions

	Causes    []troubleCause
	Others    string
	Apart     string
	Change    string
	Expects   string
	Again     string
	Records   []troubleRecord
	CannotSee string

	Kept  bool // cases are kept here
	By    string
	Cases []caseRow
	Tally string
	Rows  int // of the table
}

// asked reads what a request tells: s for symptoms, a for answers as finding:state.
func asked(form url.Values) (trouble.Asked, error) {
	var out trouble.Asked
	for _, key := range form["s"] {
		if !slices.Contains(out.Symptoms, key) {
			out.Symptoms = append(out.Symptoms, key)
		}
	}
	for _, a := range form["a"] {
		key, state, ok := strings.Cut(a, ":")
		if !ok {
			return out, fmt.Errorf("%q is no answer", a)
		}
		out.Answers = append(out.Answers, trouble.Answer{Finding: key, State: state})
	}
	if len(out.Symptoms) > mostSymptoms || len(out.Answers) > mostSymptoms {
		return out, errors.New("these are more than there can be")
	}
	return out, nil
}

// troubleBench is a bench with what its records can be made of.
func (s *Site) troubleBench(ctx context.Context, e *entry) (*trouble.Bench, error) {
	zone := s.zoneNow()
	b := &trouble.Bench{Bench: e.bench, Light: e.model, Outlook: e.fast, Now: time.Now().In(zone)}
	if s.cases != nil {
		sensed, err := trouble.Sense(ctx, s.cases, e.id, b.Now)
		if err != nil {
			return nil, err
		}
		b.Sensed = sensed
	}
	if s.rounds != nil {
		rec, err := s.record(ctx, e.id)
		if err != nil {
			return nil, err
		}
		b.Weighed = trouble.Weighings(rec, e.bench, b.Now)
	}
	if len(b.Weighed) > 0 && e.refused == nil { // nothing else is set beside it
		f, _, err := e.forecast(nil)
		if err != nil {
			return nil, err
		}
		b.Forecast = f
	}
	return b, nil
}

func (s *Site) troubleFailed(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return
	}
	s.log.Error("trouble", "err", err)
	s.fail(w, http.StatusServiceUnavailable, "The trouble cannot be looked into now.", "Load the page again in a while. If it stays so, underlamp doctor says why.")
}

// troublePage lets symptoms be picked, asks, and tells what it may be.
func (s *Site) troublePage(w http.ResponseWriter, r *http.Request) {
	s.showTrouble(w, r, http.StatusOK, "")
}

func (s *Site) showTrouble(w http.ResponseWriter, r *http.Request, status int, fault string) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	model, problems, err := s.diagnosis()
	if err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	t := model.Table()
	v := troubleView{Title: "Trouble: " + e.bench.Name, ID: e.id, Bench: e.bench.Name, Problems: problems, Fault: fault, Walks: access.Walkers.Has(access.From(r.Context())), Kept: s.cases != nil, Rows: t.Rows()}
	if c, err := r.Cookie(knownBy); err == nil {
		v.By = c.Value
	}
	tell, err := asked(r.Form)
	if err != nil {
		v.Fault, status = upper(err.Error())+".", http.StatusBadRequest
	} else if len(tell.Symptoms) > 0 {
		if err := s.examined(r, e, model, tell, &v); errors.Is(err, errNotAsked) {
			v.Fault, status = upper(err.Error())+".", http.StatusBadRequest
		} else if err != nil {
			s.troubleFailed(w, r, err)
			return
		}
	}
	for _, f := range trouble.Symptoms(t) {
		c := cardOf(&f)
		c.On = slices.Contains(tell.Symptoms, f.Key)
		if c.On {
			v.Picked = append(v.Picked, c)
		}
		if len(v.Causes) == 0 || r.FormValue("more") != "" {
			v.Symptoms = append(v.Symptoms, c)
		}
	}
	if s.cases != nil {
		if err := s.caseRows(r.Context(), e.id, model.Table(), &v); err != nil {
			s.troubleFailed(w, r, err)
			return
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "trouble.tmpl", v)
}

// errNotAsked is wrapped by what a request asks wrongly.
var errNotAsked = errors.New("this cannot be asked")

// examined fills in what is thought of a trouble.
func (s *Site) examined(r *http.Request, e *entry, model *diagnosis.Model, tell trouble.Asked, v *troubleView) error {
	x, b, err := s.examine(r.Context(), e, model, tell)
	if err != nil {
		return err
	}
	for _, key := range tell.Symptoms {
		v.Hidden = append(v.Hidden, troubleOption{"s", key})
	}
	t := model.Table()
	for _, a := range tell.Answers {
		v.Hidden = append(v.Hidden, troubleOption{"a", a.Finding + ":" + a.State})
		f := t.Finding(a.Finding)
		said := "not known"
		if a.State != "" {
			said = f.States[f.State(a.State)].Name
		}
		v.Answered = append(v.Answered, f.Ask+" "+upper(said)+".")
	}
	if x.Next != nil && r.FormValue("done") == "" {
		q := troubleQuestion{Number: len(tell.Answers) + 1, Ask: x.Next.Finding.Ask}
		for _, st := range x.Next.Finding.States {
			q.Options = append(q.Options, troubleOption{x.Next.Finding.Key + ":" + st.Key, upper(st.Name)})
		}
		q.Options = append(q.Options, troubleOption{x.Next.Finding.Key + ":", "I do not know"})
		v.Question = &q
		form := url.Values{"s": tell.Symptoms, "a": r.Form["a"], "done": {"1"}}
		v.Stop = "/bench/" + e.id + "/trouble?" + form.Encode()
	}
	const told = 5
	rest := 0.0
	for i, c := range x.Causes {
		if i >= told {
			rest += c.Chance
			continue
		}
		v.Causes = append(v.Causes, causeView(x, i, c))
	}
	v.Others = fmt.Sprintf("All other causes of the table together: %s.", working.Percent(rest))
	if x.Apart != nil {
		v.Apart = upper(trouble.LookText(x.Apart.Finding))
	}
	if x.First != nil {
		v.Change, v.Expects = upper(x.First.Text)+".", x.First.Says()
	}
	v.Again = x.Again.In(b.Now.Location()).Format("Monday 2 January")
	for _, rec := range x.Records {
		v.Records = append(v.Records, troubleRecord{upper(rec.Name), rec.Text, rec.From, rec.Default()})
	}
	v.CannotSee = trouble.CannotSee(x)
	return nil
}

// examine ranks the causes and finds the first change.
func (s *Site) examine(ctx context.Context, e *entry, model *diagnosis.Model, tell trouble.Asked) (*trouble.Examination, *trouble.Bench, error) {
	b, err := s.troubleBench(ctx, e)
	if err != nil {
		return nil, nil, err
	}
	x, err := trouble.Examine(model, b, tell)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errNotAsked, err)
	}
	return x, b, x.Advise(b)
}

func causeView(x *trouble.Examination, i int, c diagnosis.Ranked) troubleCause {
	out := troubleCause{Rank: i + 1, Name: upper(c.Name()), Chance: working.Percent(c.Chance), Band: working.Percent(c.Low) + " to " + working.Percent(c.High), Bar: chanceBar(c), Prior: working.Percent(c.Prior)}
	if c.Cause == nil {
		return out
	}
	out.Why = c.Cause.Because
	if c.Cause.Hidden {
		out.Ask = "Ask " + c.Cause.Ask + "."
	}
	speaks, against := x.Reasons(c)
	const most = 5
	for k, y := range speaks {
		if k < most {
			out.For = append(out.For, troubleReason{y.Text, upper(y.Says()) + ".", y.Times})
		}
	}
	for k, y := range against {
		if k < most {
			out.Against = append(out.Against, troubleReason{y.Text, upper(y.Says()) + ".", y.Times})
		}
	}
	return out
}

// chanceBar draws a chance with what the table leaves open.
func chanceBar(c diagnosis.Ranked) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="chance" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true"><rect class="c-all" width="100" height="12"/><rect class="c-is" width="%.1f" height="12"/><rect class="c-band" x="%.1f" y="4.5" width="%.1f" height="3"/></svg>`,
		100*c.Chance, 100*c.Low, max(100*(c.High-c.Low), 0.4)))
}

// caseRows lists the cases of a bench and counts how often the first cause was right.
func (s *Site) caseRows(ctx context.Context, bench string, t *diagnosis.Table, v *troubleView) error {
	all, faults, err := trouble.Cases(ctx, s.cases, bench)
	if err != nil {
		return err
	}
	for _, f := range faults {
		s.log.Warn("a case of trouble cannot be read", "bench", bench, "err", f)
	}
	zone := s.zoneNow()
	today := time.Now().In(zone).Format(time.DateOnly)
	for _, c := range all[:min(len(all), mostCases)] {
		row := caseRow{ID: c.ID, Day: c.At.In(zone).Format("2 January 2006"), Rule: c.Rule, Again: c.Again}
		if len(c.Causes) > 0 {
			row.First = upper(c.Causes[0].Name) + " (" + working.Percent(c.Causes[0].Chance) + ")"
		}
		for _, key := range c.Symptoms {
			if f := t.Finding(key); f != nil {
				row.Pictures = append(row.Pictures, symptomCard{Key: key, Name: f.Name})
			}
		}
		if o := c.Outcome(); o != nil {
			row.Became = outcomeText(t, o)
		} else {
			row.Due = c.Again != "" && c.Again <= today
		}
		v.Cases = append(v.Cases, row)
	}
	if len(all) > 0 {
		v.Tally = trouble.Count(all).Says()
	}
	return nil
}

func outcomeText(t *diagnosis.Table, o *trouble.Outcome) string {
	text := "Never found out"
	switch c := t.Cause(o.Cause); {
	case c != nil:
		text = upper(c.Name)
	case o.Cause == diagnosis.Else:
		text = "Something else"
	case o.Cause != "":
		text = o.Cause
	}
	switch o.Help {
	case "yes":
		text += "; the change helped"
	case "no":
		text += "; the change did not help"
	}
	return text
}

// line reads a line of text of a form; false if it is none.
func line(r *http.Request, name string, most int) (string, bool) {
	text := strings.TrimSpace(r.PostFormValue(name))
	return text, len(text) <= most && !strings.ContainsAny(text, "\r\n\x00")
}

// troubleKeep keeps a case.
func (s *Site) troubleKeep(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	by, ok1 := line(r, "by", 80)
	note, ok2 := line(r, "note", 300)
	tell, err := asked(r.PostForm)
	if err != nil || !ok1 || !ok2 || len(tell.Symptoms) == 0 {
		s.showTrouble(w, r, http.StatusBadRequest, "This cannot be kept. Pick what you see; who and note are one line each.")
		return
	}
	model, _, err := s.diagnosis()
	if err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	x, b, err := s.examine(r.Context(), e, model, tell)
	switch {
	case errors.Is(err, errNotAsked):
		s.showTrouble(w, r, http.StatusBadRequest, upper(err.Error())+".")
		return
	case err != nil:
		s.troubleFailed(w, r, err)
		return
	}
	c := trouble.NewCase(e.id, x, by, note)
	if err := trouble.Save(r.Context(), s.cases, c, b.Now); err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	s.remember(w, by)
	http.Redirect(w, r, "/bench/"+e.id+"/trouble/"+c.ID, http.StatusSeeOther)
}

type caseView struct {
	Title, ID, Bench, Fault string
	Case                    *trouble.Case
	Day, Became, By         string
	Picked                  []symptomCard
	Causes                  []troubleCause
	Answers                 []string
	History                 []string
	Choices                 []troubleOption
	Walks                   bool
}

// troubleCase shows a case as it was kept.
func (s *Site) troubleCase(w http.ResponseWriter, r *http.Request) {
	s.showCase(w, r, http.StatusOK, "")
}

func (s *Site) showCase(w http.ResponseWriter, r *http.Request, status int, fault string) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	d, err := s.cases.Document(r.Context(), trouble.KindCase, e.id+"/"+r.PathValue("case"))
	if errors.Is(err, store.ErrNotFound) {
		s.fail(w, http.StatusNotFound, "There is no such case of this bench.", "Its page Trouble lists the cases.")
		return
	}
	var c *trouble.Case
	if err == nil {
		c, err = trouble.ReadCase(d.Text)
	}
	if err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	model, _, err := s.diagnosis()
	if err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	t, zone := model.Table(), s.zoneNow()
	v := caseView{Title: "Case of " + c.At.In(zone).Format("2 January 2006"), ID: e.id, Bench: e.bench.Name, Fault: fault, Case: c, Day: c.At.In(zone).Format("Monday 2 January 2006, 15:04"), Walks: access.Walkers.Has(access.From(r.Context()))}
	if k, err := r.Cookie(knownBy); err == nil {
		v.By = k.Value
	}
	for _, key := range c.Symptoms {
		if f := t.Finding(key); f != nil {
			v.Picked = append(v.Picked, cardOf(f))
		}
	}
	for i, y := range c.Causes {
		v.Causes = append(v.Causes, troubleCause{Rank: i + 1, Name: upper(y.Name), Chance: working.Percent(y.Chance), Band: working.Percent(y.Low) + " to " + working.Percent(y.High), Bar: chanceBar(diagnosis.Ranked{Chance: y.Chance, Low: y.Low, High: y.High})})
	}
	for _, a := range c.Answers {
		if f := t.Finding(a.Finding); f != nil {
			said := "not known"
			if i := f.State(a.State); i >= 0 {
				said = f.States[i].Name
			}
			v.Answers = append(v.Answers, f.Ask+" "+upper(said)+".")
		}
	}
	if o := c.Outcome(); o != nil {
		v.Became = outcomeText(t, o)
	}
	for _, o := range c.Outcomes {
		text := o.At.In(zone).Format("2 January 2006") + ": " + outcomeText(t, &o)
		if o.By != "" {
			text += " (" + o.By + ")"
		}
		if o.Note != "" {
			text += ". " + o.Note
		}
		v.History = append(v.History, text)
	}
	// What was thought of first is not chosen beforehand: nobody agrees by not looking.
	v.Choices = append(v.Choices, troubleOption{"", "Never found out"})
	ranked := map[string]bool{}
	for _, y := range c.Causes {
		if y.Key != diagnosis.Else && t.Cause(y.Key) != nil {
			v.Choices = append(v.Choices, troubleOption{y.Key, upper(y.Name)})
			ranked[y.Key] = true
		}
	}
	for _, y := range t.Causes {
		if !ranked[y.Key] {
			v.Choices = append(v.Choices, troubleOption{y.Key, upper(y.Name)})
		}
	}
	v.Choices = append(v.Choices, troubleOption{diagnosis.Else, "Something else"})
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "troublecase.tmpl", v)
}

// troubleOutcome records what became of a case.
func (s *Site) troubleOutcome(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	by, ok1 := line(r, "by", 80)
	note, ok2 := line(r, "note", 300)
	cause, ok3 := line(r, "cause", 80)
	if !ok1 || !ok2 || !ok3 {
		s.showCase(w, r, http.StatusBadRequest, "This cannot be read. Who and note are one line each.")
		return
	}
	model, _, err := s.diagnosis()
	if err != nil {
		s.troubleFailed(w, r, err)
		return
	}
	now := time.Now()
	err = trouble.Conclude(r.Context(), s.cases, model.Table(), e.id, r.PathValue("case"), trouble.Outcome{At: now.UTC().Truncate(time.Second), By: by, Cause: cause, Help: r.PostFormValue("helped"), Note: note}, now)
	switch {
	case errors.Is(err, store.ErrNotFound):
		s.fail(w, http.StatusNotFound, "There is no such case of this bench.", "Its page Trouble lists the cases.")
	case err != nil:
		s.showCase(w, r, http.StatusUnprocessableEntity, upper(err.Error())+".")
	default:
		s.remember(w, by)
		http.Redirect(w, r, "/bench/"+e.id+"/trouble/"+r.PathValue("case"), http.StatusSeeOther)
	}
}
