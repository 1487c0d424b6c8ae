package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"reflect"
	"strconv"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/tasks"
	"underlamp/wire"
)

// A given is what work of the API gives: JSON.
type given struct{ json []byte }

// Size is what it holds.
func (g given) Size() int { return len(g.json) }

// give makes the result of work.
func give(v any, err error) (tasks.Result, error) {
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(v)
	return given{text}, err
}

// longest is how long a request may wait for work.
const longest = 30 * time.Second

// begin begins work, or finds equal work that was begun, and says how it stands. With the header
// Prefer: wait=10 (RFC 7240) it waits that many seconds for the end.
func (c *Call) begin(w tasks.Work) (wire.Task, error) {
	w.Kind += " (API)" // the pages have results of their own
	t, err := c.api.o.Work.Begin(w)
	if err != nil {
		status, kind := http.StatusServiceUnavailable, "busy"
		return wire.Task{}, problem(status, kind, sentence(err), "Look at "+Prefix+"/tasks, and ask again later.").after(5)
	}
	c.Status = http.StatusAccepted
	c.Header().Set("Location", Prefix+"/tasks/"+t.ID())
	if d := waitOf(c.Request); d > 0 {
		ctx, cancel := context.WithTimeout(c.Context(), d)
		defer cancel()
		t.Wait(ctx)
		c.Header().Set("Preference-Applied", fmt.Sprintf("wait=%d", int(d/time.Second)))
	}
	x, _ := t.Look()
	return taskJSON(x, true), nil
}

// waitOf is how long a request would wait.
func waitOf(r *http.Request) time.Duration {
	for _, line := range r.Header.Values("Prefer") {
		for part := range strings.SplitSeq(line, ",") {
			if text, ok := strings.CutPrefix(strings.TrimSpace(part), "wait="); ok {
				if s, err := strconv.Atoi(text); err == nil && s > 0 {
					return min(time.Duration(min(s, 3600))*time.Second, longest)
				}
			}
		}
	}
	return 0
}

func taskJSON(x tasks.Snapshot, whole bool) wire.Task {
	out := wire.Task{ID: x.ID, Kind: strings.TrimSuffix(x.Kind, " (API)"), Title: x.Title, State: string(x.State), Stopping: x.Stopping, Doing: x.Doing, Share: x.Share, Left: x.Left.Seconds(), Begun: x.Begun.UTC()}
	if !x.Ended.IsZero() {
		ended := x.Ended.UTC()
		out.Ended = &ended
	}
	if x.State == tasks.Failed && x.Err != nil {
		out.Wrong = sentence(x.Err)
	}
	if g, ok := x.Result.(given); ok && whole {
		out.Result = g.json
	}
	return out
}

// result is the schema type of what work gives.
func result[T any]() reflect.Type { return reflect.TypeFor[T]() }

type taskPath struct {
	Task string `path:"task" maxlen:"64"`
}

func (a *API) taskOps() []Operation {
	read := []access.Scope{access.ScopeRead, access.ScopePlan}
	return []Operation{
		op(Operation{ID: "listTasks", Method: "GET", Path: "/tasks", Tag: "Tasks", Summary: "List the long work that runs, waits or has ended, the latest first", Scopes: read, Doc: "Results are left out here. They are kept for a day, and given up for others where there are many."},
			func(c *Call, p Paging, _ None) (wire.Page[wire.Task], error) {
				var all []wire.Task
				for _, x := range a.o.Work.All() {
					all = append(all, taskJSON(x, false))
				}
				return pageInOrder(c, p, all, func(t wire.Task) string { return t.ID })
			}),
		op(Operation{ID: "getTask", Method: "GET", Path: "/tasks/{task}", Tag: "Tasks", Summary: "How far long work is, and what it gave", Scopes: read, Errors: []int{http.StatusGone},
			Doc: "With Prefer: wait=10 it answers when the work has ended, or after ten seconds."},
			func(c *Call, p taskPath, _ None) (wire.Task, error) {
				t, err := a.findTask(p.Task)
				if err != nil {
					return wire.Task{}, err
				}
				if d := waitOf(c.Request); d > 0 {
					ctx, cancel := context.WithTimeout(c.Context(), d)
					defer cancel()
					t.Wait(ctx)
				}
				x, _ := t.Look()
				return taskJSON(x, true), nil
			}),
		op(Operation{ID: "stopTask", Method: "DELETE", Path: "/tasks/{task}", Tag: "Tasks", Summary: "Stop long work", Scopes: []access.Scope{access.ScopePlan}, Status: http.StatusAccepted, Errors: []int{http.StatusGone},
			Doc: "Stops it for everybody who waits for it. What it gave until then stays. To stop what has ended does nothing."},
			func(_ *Call, p taskPath, _ None) (wire.Task, error) {
				t, err := a.findTask(p.Task)
				if err != nil {
					return wire.Task{}, err
				}
				t.Stop()
				x, _ := t.Look()
				return taskJSON(x, false), nil
			}),
		op(Operation{ID: "watchTask", Method: "GET", Path: "/tasks/{task}/events", Tag: "Tasks", Summary: "Follow long work as a stream of events", Scopes: read, Gives: []string{"text/event-stream"}, Errors: []int{http.StatusGone},
			Doc: "Server-sent events of the name task; each holds a Task as JSON. The stream ends with the work."},
			func(c *Call, p taskPath, _ None) (stream, error) {
				t, err := a.findTask(p.Task)
				if err != nil {
					return nil, err
				}
				return func(w http.ResponseWriter) { a.follow(c, w, t) }, nil
			}),
	}
}

func (a *API) findTask(id string) (*tasks.Task, error) {
	t, err := a.o.Work.Find(id)
	var gone *tasks.ForgottenError
	switch {
	case errors.As(err, &gone):
		return nil, problem(http.StatusGone, "gone", sentence(err), "Begin it again.")
	case err != nil:
		return nil, missing(sentence(err), "Begin it again; "+Prefix+"/tasks lists what there is.")
	}
	return t, nil
}

// Times of a stream.
const (
	heartbeat = 15 * time.Second
	pace      = 150 * time.Millisecond
)

// follow sends how far a task is, until it has ended.
func (a *API) follow(c *Call, w http.ResponseWriter, t *tasks.Task) {
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // a proxy in between passes each event on at once
	out := http.NewResponseController(w)
	ctx := c.Context()
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	shown := -1
	for {
		x, changed := t.Look()
		text, err := json.Marshal(taskJSON(x, x.Shown != shown || x.State.Ended()))
		if err != nil {
			return
		}
		shown = x.Shown
		fmt.Fprintf(w, "event: task\ndata: %s\n\n", text)
		if out.Flush() != nil || x.State.Ended() {
			return
		}
		for waiting := true; waiting; {
			select {
			case <-changed:
				waiting = false
			case <-beat.C:
				if !c.still(ctx) {
					return
				}
				if fmt.Fprint(w, ": still here\n\n"); out.Flush() != nil {
					return
				}
			case <-ctx.Done():
				return
			case <-a.o.Work.Ending():
				return
			}
		}
		select {
		case <-time.After(pace):
		case <-ctx.Done():
			return
		case <-a.o.Work.Ending():
		}
	}
}
