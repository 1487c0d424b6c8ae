package client

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"net/http"
	"strings"
	"time"

	"underlamp/wire"
)

// ended says that nothing more will come of work.
func ended(t wire.Task) bool { return t.State == "done" || t.State == "stopped" || t.State == "failed" }

// Await waits for the end of work that was begun, or for that of ctx. Work that was stopped or has
// failed is an error beside what is known of it.
func (c *Client) Await(ctx context.Context, t wire.Task) (wire.Task, error) {
	var err error
	for id := t.ID; err == nil && (!ended(t) || t.State == "done" && t.Result == nil); {
		done := ended(t)
		if t, err = c.GetTask(ctx, id, Wait(20*time.Second)); done {
			break // it gave nothing
		}
	}
	switch {
	case err != nil:
	case t.State == "failed":
		err = errors.New(t.Wrong)
	case t.State == "stopped":
		err = errors.New("the work was stopped")
	}
	return t, err
}

// Result reads what work gave, such as Result[wire.Best](task).
func Result[T any](t wire.Task) (T, error) {
	var out T
	if t.Result == nil {
		return out, fmt.Errorf("%q has given nothing", t.Title)
	}
	err := json.Unmarshal(t.Result, &out)
	return out, err
}

// WatchTask follows work until it ends.
func (c *Client) WatchTask(ctx context.Context, task string) iter.Seq2[wire.Task, error] {
	return func(yield func(wire.Task, error) bool) {
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		res, err := c.request(ctx, call{method: http.MethodGet, path: "/tasks/" + seg(task) + "/events", head: http.Header{"Accept": {"text/event-stream, application/problem+json"}}})
		if err != nil {
			yield(wire.Task{}, err)
			return
		}
		defer res.Body.Close()
		if res.StatusCode != http.StatusOK {
			text, _ := io.ReadAll(io.LimitReader(res.Body, 1<<20))
			p := &Problem{wire.Problem{Status: res.StatusCode, Detail: res.Status}}
			json.Unmarshal(text, &p.Problem) // else the status must do
			yield(wire.Task{}, p)
			return
		}
		lines := bufio.NewScanner(res.Body)
		lines.Buffer(nil, mostBody)
		for lines.Scan() {
			data, ok := strings.CutPrefix(lines.Text(), "data: ")
			if !ok {
				continue
			}
			var t wire.Task
			if err := json.Unmarshal([]byte(data), &t); err != nil {
				yield(t, err)
				return
			}
			if !yield(t, nil) {
				return
			}
		}
		if err := lines.Err(); err != nil {
			yield(wire.Task{}, err)
		}
	}
}
