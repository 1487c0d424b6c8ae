package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"net/http"
	"sync"
	"time"

	"underlamp/store"
)

// How long answers are kept, and how long others wait for one.
const (
	answerLife = 24 * time.Hour
	claimLife  = 5 * time.Minute // longer than any such answer takes
	mostAnswer = 256 << 10       // bytes
)

// keptHeaders are those of an answer that come again with it.
var keptHeaders = []string{"Content-Type", "Location", "ETag", "Link"}

// once answers a request that creates something, once for its Idempotency-Key.
func (c *Call) once(key string, do func() (*reply, error)) (*reply, error) {
	if len(key) > 200 || bytes.ContainsFunc([]byte(key), func(r rune) bool { return r < 0x20 || r > 0x7e }) {
		return nil, problem(http.StatusBadRequest, "idempotency-key", "The Idempotency-Key is no key.", "Send 1 to 200 printable characters of ASCII, such as a random UUID.")
	}
	sent, err := c.bytes()
	if err != nil {
		return nil, err
	}
	who := "here"
	if c.Token != nil {
		who = "token " + c.Token.ID
	}
	h := sha256.New()
	for _, part := range []string{c.Request.Method, c.Request.URL.EscapedPath(), c.Request.URL.RawQuery, c.Request.Header.Get("Content-Type"), c.Request.Header.Get("If-Match"), string(sent)} {
		h.Write([]byte(tagOf(part)))
	}
	now := c.api.o.Now()
	claim := store.Answer{Key: who + "\n" + key, Made: store.At(now), Expires: store.At(now.Add(claimLife)), Request: [32]byte(h.Sum(nil))}
	ctx := c.Context()
	was, mine, err := c.api.answers.ClaimAnswer(ctx, claim)
	switch {
	case err != nil:
		return nil, err
	case !mine && was.Request != claim.Request:
		return nil, problem(http.StatusUnprocessableEntity, "idempotency-key", "This Idempotency-Key came with another request before.", "Give each request a key of its own.")
	case !mine && was.Status == 0:
		return nil, problem(http.StatusConflict, "in-progress", "A request with this Idempotency-Key is being answered now.", "Send it again in a moment.").after(1)
	case !mine:
		out := &reply{status: int(was.Status), body: was.Body}
		head := map[string]string{}
		if err := json.Unmarshal(was.Head, &head); err != nil {
			return nil, err
		}
		for k, v := range head {
			c.Header().Set(k, v)
		}
		c.Header().Set("Idempotent-Replayed", "true")
		return out, nil
	}
	ctx = context.WithoutCancel(ctx) // whoever asked may have left, and will send it again
	finished := false
	defer func() {
		if !finished { // also if the work panics
			if err := c.api.answers.DropAnswer(ctx, claim); err != nil {
				c.api.o.Log.Error("api: a claim stays until it is over", "err", err)
			}
		}
	}()
	r, err := do()
	if err != nil || len(r.body) > mostAnswer || r.stream != nil {
		return r, err // a refusal changes nothing, so it may be asked again
	}
	head := map[string]string{}
	for _, name := range keptHeaders {
		if v := c.Header().Get(name); v != "" {
			head[name] = v
		}
	}
	claim.Status, claim.Body, claim.Expires = int64(r.status), r.body, store.At(now.Add(answerLife))
	if claim.Head, err = json.Marshal(head); err != nil {
		return nil, err
	}
	if err := c.api.answers.PutAnswer(ctx, claim); err != nil {
		return nil, err
	}
	finished = true
	return r, nil
}

// answersHere keep answers where there is no store.
type answersHere struct {
	mu  sync.Mutex
	all map[string]store.Answer
}

const mostHere = 10000

func (a *answersHere) ClaimAnswer(_ context.Context, x store.Answer) (store.Answer, bool, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for k, was := range a.all {
		if was.Expires <= x.Made {
			delete(a.all, k)
		}
	}
	if was, there := a.all[x.Key]; there {
		return was, false, nil
	}
	if len(a.all) >= mostHere {
		return store.Answer{}, false, errors.New("too many answers are kept")
	}
	a.all[x.Key] = x
	return x, true, nil
}

func (a *answersHere) PutAnswer(_ context.Context, x store.Answer) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if was, there := a.all[x.Key]; !there || was.Made != x.Made || was.Status != 0 {
		return store.ErrNotFound
	}
	a.all[x.Key] = x
	return nil
}

func (a *answersHere) DropAnswer(_ context.Context, x store.Answer) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if was, there := a.all[x.Key]; there && was.Made == x.Made && was.Status == 0 {
		delete(a.all, x.Key)
	}
	return nil
}
