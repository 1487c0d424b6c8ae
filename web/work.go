package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/tasks"
	"underlamp/app/trial"
)

// A section is what the work of these pages gives.
type section struct {
	html template.HTML // for a page; empty: the page that asked shows the rest

	name, missing string // of a file to save, and why there is none
	file          []byte

	proposals []trial.Proposal // layouts of a trial
	not       []string         // and what does not fit, or could not be reported

	papers []paperFile
}

// Size is about what a section holds.
func (x section) Size() int {
	n := len(x.html) + len(x.file)
	for _, p := range x.papers {
		n += len(p.html)
	}
	for _, p := range x.proposals {
		n += 4 << 10
		if p.Trial != nil {
			n += 250 * len(p.Trial.Places)
		}
	}
	return n
}

const (
	shortly   = time.Second // that a page waits for work which mostly takes less
	fewest    = time.Second // what took less is not listed
	heartbeat = 15 * time.Second
	pace      = 150 * time.Millisecond // between two events of a stream
)

// A workView is work as a page shows it.
type workView struct {
	ID, Title, Kind, Page, Again string
	State                        string // waiting, running, done, stopped, failed
	Stopping                     bool
	Doing, Far                   string
	Percent                      int
	Wrong                        string
	Part                         template.HTML
	When                         string
	Owner                        bool // the visitor may start and stop
	Alone                        bool // on the page of the work itself
}

// Runs says that it has not ended.
func (v workView) Runs() bool { return v.State == "waiting" || v.State == "running" }

func (s *Site) workView(r *http.Request, x tasks.Snapshot, alone bool) *workView {
	v := &workView{ID: x.ID, Title: x.Title, Kind: x.Kind, Page: x.Page, Again: x.Again, State: string(x.State), Stopping: x.Stopping, Doing: upperFirst(x.Doing), Owner: access.Owners.Has(access.From(r.Context())), Alone: alone}
	v.Percent = int(math.Floor(100 * x.Share))
	switch {
	case x.Stopping:
		v.Doing = "Stopping"
	case x.State == tasks.Running:
		v.Far = fmt.Sprintf("%d %%", v.Percent)
		if x.Left > 0 {
			v.Far += ", about " + span(x.Left) + " left"
		}
	}
	if part, ok := x.Result.(section); ok {
		v.Part = part.html
	}
	switch x.State {
	case tasks.Stopped:
		v.Wrong = "This was stopped."
		if v.Part != "" {
			v.Wrong = "This was stopped. What had been computed until then stands below."
		}
	case tasks.Failed:
		v.Wrong = asSentence(x.Err.Error())
	}
	begun := x.Begun.In(s.zone)
	v.When = begun.Format("2 January, 15:04")
	if y, m, d := s.today().Date(); begun.Year() == y && begun.Month() == m && begun.Day() == d {
		v.When = "today, " + begun.Format("15:04")
	}
	if !x.Ended.IsZero() {
		v.When += fmt.Sprintf("; took %s", span(x.Ended.Sub(x.Begun)))
	}
	return v
}

// span is a time as a person says it.
func span(d time.Duration) string {
	switch s := d.Seconds(); {
	case s < 0.95:
		return "under 1 s"
	case s < 9.5:
		return fmt.Sprintf("%.0f s", s)
	case s < 55:
		return fmt.Sprintf("%.0f s", math.Ceil(s/5)*5)
	case s < 90:
		return "1 min"
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}

// visit is the work that a page shows, begun if nobody has asked for it before. What was
// stopped stays so until somebody begins it anew.
func (s *Site) visit(w tasks.Work) (*tasks.Task, error) {
	if t := s.work.Of(w.Kind, w.Key); t != nil {
		return t, nil
	}
	return s.work.Begin(w)
}

// quickly waits a little for work that mostly takes less.
func quickly(ctx context.Context, t *tasks.Task) tasks.Snapshot {
	ctx, cancel := context.WithTimeout(ctx, shortly)
	defer cancel()
	return t.Wait(ctx)
}

// begun goes to the page of work that a form has begun, or says why it could not be.
func (s *Site) begun(w http.ResponseWriter, r *http.Request, x tasks.Work) {
	if _, err := s.work.Begin(x); err != nil {
		s.fail(w, http.StatusServiceUnavailable, asSentence(err.Error()), "What runs is listed on the page of work.")
		return
	}
	http.Redirect(w, r, x.Page, http.StatusSeeOther)
}

// workPage lists what runs and what is remembered.
func (s *Site) workPage(w http.ResponseWriter, r *http.Request) {
	view := struct {
		Title         string
		Running, Past []*workView
		Owner         bool
	}{Title: "Work", Owner: access.Owners.Has(access.From(r.Context()))}
	for _, x := range s.work.All() {
		v := s.workView(r, x, true)
		v.Part = ""
		switch {
		case v.Runs():
			view.Running = append(view.Running, v)
		case x.Ended.Sub(x.Begun) >= fewest:
			view.Past = append(view.Past, v)
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "work.tmpl", view)
}

// task is the work of a request; it answers itself if there is none.
func (s *Site) task(w http.ResponseWriter, r *http.Request) *tasks.Task {
	t, err := s.work.Find(r.PathValue("id"))
	if err == nil {
		return t
	}
	view := struct{ Title, What, Page string }{Title: "Forgotten work", What: asSentence(err.Error())}
	var gone *tasks.ForgottenError
	status := http.StatusNotFound
	if errors.As(err, &gone) {
		status, view.Page = http.StatusGone, gone.Page
	}
	s.page(w, status, "workgone.tmpl", view)
	return nil
}

// workOne shows one work, however far it is.
func (s *Site) workOne(w http.ResponseWriter, r *http.Request) {
	t := s.task(w, r)
	if t == nil {
		return
	}
	x, _ := t.Look()
	v := s.workView(r, x, true)
	if v.State == "done" && v.Part == "" && v.Owner {
		http.Redirect(w, r, x.Page, http.StatusSeeOther)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "workone.tmpl", v)
}

// workDo stops work.
func (s *Site) workDo(w http.ResponseWriter, r *http.Request) {
	t := s.task(w, r)
	if t == nil {
		return
	}
	if r.PostFormValue("do") != "stop" {
		http.Error(w, "The form does not say stop.", http.StatusBadRequest)
		return
	}
	t.Stop()
	x := quickly(r.Context(), t) // so that the page that follows mostly says stopped, not stopping
	to := "/work/" + t.ID()
	switch r.PostFormValue("to") {
	case "page":
		to = x.Page
	case "list":
		to = "/work"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// workEvents streams how far work is, as server-sent events: "far" with the progress,
// "show" with the whole part of the page where there is something new to see. The stream
// ends with the work.
func (s *Site) workEvents(w http.ResponseWriter, r *http.Request) {
	t, err := s.work.Find(r.PathValue("id"))
	if err != nil {
		http.Error(w, asSentence(err.Error()), http.StatusNotFound)
		return
	}
	out := http.NewResponseController(w)
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // a proxy in between passes each event on at once
	alone := r.FormValue("alone") != ""
	ctx := r.Context()
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	var before tasks.Snapshot
	for first := true; ; first = false {
		x, changed := t.Look()
		if first || x.Shown != before.Shown || x.State != before.State || x.Stopping != before.Stopping {
			var b bytes.Buffer
			if err := s.pages.ExecuteTemplate(&b, "workstate.tmpl", s.workView(r, x, alone)); err != nil {
				s.log.Error("work", "err", err)
				return
			}
			fmt.Fprintf(w, "event: show\ndata: %s\n\n", strings.ReplaceAll(s.dressed(b.String()), "\n", "\ndata: "))
		} else {
			v := s.workView(r, x, alone)
			line, err := json.Marshal(map[string]any{"doing": v.Doing, "percent": v.Percent, "far": v.Far})
			if err != nil {
				return
			}
			fmt.Fprintf(w, "event: far\ndata: %s\n\n", line)
		}
		if before = x; out.Flush() != nil || x.State.Ended() {
			return
		}
		for waiting := true; waiting; {
			select {
			case <-changed:
				waiting = false
			case <-beat.C:
				if fmt.Fprint(w, ": still here\n\n"); out.Flush() != nil {
					return
				}
			case <-ctx.Done():
				return
			case <-s.work.Ending():
				return
			}
		}
		select {
		case <-time.After(pace):
		case <-ctx.Done():
			return
		case <-s.work.Ending():
			// What the end of the server did to the work is told at the next turn.
		}
	}
}

// Close ends what runs in the background, and the streams that tell of it. The site answers
// no more afterwards.
func (s *Site) Close() error { return s.work.Close() }
