package web

import (
	"bytes"
	"context"
	"html/template"
	"net/http"
	"net/url"
	"time"

	"underlamp/app/tasks"
	"underlamp/report"
)

// Parts of the search for the best setting, as shares of its time on the demo.
const (
	drawnFirst = 0.02
	drawnWhole = 0.10
)

// bestWork draws the settings map of a bench, first a coarse one, and searches its best
// setting.
func (e *entry) bestWork() tasks.Work {
	q := url.Values{"best": {"1"}}
	again := url.Values{}
	if e.asked != "" {
		q.Set("at", e.asked)
		again.Set("at", e.asked)
	}
	if e.fieldOff {
		q.Set("field", "off")
		again.Set("field", "off")
	}
	return tasks.Work{Kind: "best setting", Key: e.version(), Title: "Settings map and best setting of " + e.called(),
		Page: "/bench/" + e.id + "?" + q.Encode() + "#best", Again: address("/bench/"+e.id+"/best", again),
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			t.Progress("a first settings map", 0)
			draft, err := e.fast.Draft(ctx)
			if err != nil {
				return nil, err
			}
			t.Show(section{html: report.MapSection(e.bench, draft, "The settings map, a first look")})
			t.Progress("the settings map", drawnFirst)
			whole, err := e.whole.Map(ctx, 0, 0)
			if err != nil {
				return nil, err
			}
			t.Show(section{html: report.MapSection(e.bench, whole, "The settings map")})
			t.Progress("searching lamp heights, dimming and hours", drawnWhole)
			best, err := e.whole.Best(ctx, func(done, of int) {
				t.Progress("searching lamp heights, dimming and hours", drawnWhole+(1-drawnWhole)*float64(done)/float64(of))
			})
			if err != nil {
				return nil, err
			}
			return section{html: report.BestSection(e.bench, best, whole)}, nil
		}}
}

// called is the name of the bench, with the time if it is not of now.
func (e *entry) called() string {
	if e.then != "" {
		return e.bench.Name + " as it was on " + e.then
	}
	return e.bench.Name
}

func address(path string, q url.Values) string {
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// bestHTML is how far the search is, begun by the first who looks.
func (s *Site) bestHTML(r *http.Request, e *entry) template.HTML {
	t, err := s.visit(e.bestWork())
	if err != nil {
		return template.HTML("<p class=\"note\">" + template.HTMLEscapeString(asSentence(err.Error())) + "</p>")
	}
	x := firstShown(r.Context(), t)
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, "workstate.tmpl", s.workView(r, x, false)); err != nil {
		s.log.Error("best", "err", err)
	}
	return template.HTML(b.String())
}

// atOnce is how long a part of a page waits for the first picture of its work.
const atOnce = 300 * time.Millisecond

// firstShown is a task with its first result, or as it stands after a moment.
func firstShown(ctx context.Context, t *tasks.Task) tasks.Snapshot {
	late := time.After(atOnce)
	for {
		x, changed := t.Look()
		if x.Shown > 0 || x.State.Ended() {
			return x
		}
		select {
		case <-changed:
		case <-late:
			return x
		case <-ctx.Done():
			return x
		}
	}
}

// bestDo begins the search anew.
func (s *Site) bestDo(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	switch {
	case e == nil:
	case e.refused != nil:
		s.fail(w, http.StatusUnprocessableEntity, asSentence(e.refused.Error()), "Its light is told all the same.")
	default:
		s.begun(w, r, e.bestWork())
	}
}
