package client

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	mrand "math/rand/v2"
	"mime"
	"net/http"
	"net/url"
	"reflect"
	"strconv"
	"strings"
	"time"

	"underlamp/wire"
)

// Options say how to ask. Zero values stand for the defaults named.
type Options struct {
	Token string        // empty: none, as on the machine of the server
	HTTP  *http.Client  // nil: one of its own
	Tries int           // of a request that can be sent again; 4
	Pause time.Duration // before the second try, doubled before each other; 250 ms
	Agent string        // of the program, for the log of the server; "underlamp-client"
}

// A Client asks one server. It is safe for many goroutines.
type Client struct {
	base string
	o    Options
}

const prefix = "/api/v1"

// mostBody is the most bytes of an answer that are read.
const mostBody = 256 << 20

// New is a client of a server at an address such as http://127.0.0.1:8080. A token must not go
// over a network in the clear: use https there.
func New(address string, o Options) (*Client, error) {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return nil, fmt.Errorf("%q is no address of a server; write it as http://127.0.0.1:8080", address)
	}
	if o.HTTP == nil {
		o.HTTP = &http.Client{}
	}
	// A redirect would carry the token elsewhere.
	own := *o.HTTP
	own.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	o.HTTP = &own
	if o.Tries == 0 {
		o.Tries = 4
	}
	if o.Pause == 0 {
		o.Pause = 250 * time.Millisecond
	}
	if o.Agent == "" {
		o.Agent = "underlamp-client"
	}
	return &Client{base: strings.TrimSuffix(strings.TrimSuffix(address, "/"), prefix), o: o}, nil
}

// A Problem is why a request was refused.
type Problem struct{ wire.Problem }

// Error is what is wrong, where, and what to do.
func (p *Problem) Error() string {
	text := p.Detail
	for _, f := range p.Errors {
		text += " " + f.Pointer + " " + f.Detail + "."
	}
	if p.Do != "" {
		text += " " + p.Do
	}
	return strings.TrimSpace(text)
}

// Is compares by type: errors.Is(err, client.Kind("not-found")).
func (p *Problem) Is(target error) bool {
	var k Kind
	return errors.As(target, &k) && p.Type == "urn:underlamp:problem:"+string(k)
}

// A Kind is a type of problem, without what all of them begin with.
type Kind string

// Error names it.
func (k Kind) Error() string { return "problem " + string(k) }

// ErrNotModified says that what was asked for is as it was, see [IfNoneMatch].
var ErrNotModified = errors.New("it is as it was")

// A Meta is what comes with an answer.
type Meta struct {
	Status   int
	ETag     string // for [IfMatch] and [IfNoneMatch]
	Location string
	Type     string // media type
	Name     string // of a file to save it as
	Replayed bool   // the request had been answered before
}

// An Option is one of a call.
type Option func(*call)

// A call is a request with what was said of it.
type call struct {
	method, path string
	query        any
	body         []byte
	head         http.Header
	meta         *Meta
	once         bool // creates

}

func header(name, value string) Option { return func(c *call) { c.head.Set(name, value) } }

// IfMatch names the version that is to be changed.
func IfMatch(tag string) Option { return header("If-Match", tag) }

// IfNoneMatch asks only for what is no more as it was; else the error is [ErrNotModified].
func IfNoneMatch(tag string) Option { return header("If-None-Match", tag) }

// Wait waits so long for the end of long work, in whole seconds, 30 s at most.
func Wait(d time.Duration) Option {
	return header("Prefer", "wait="+strconv.Itoa(int(math.Ceil(d.Seconds()))))
}

// Key is the Idempotency-Key of a request that creates, for programs that remember it over a
// start of their own; without it each call has one by chance.
func Key(key string) Option { return header("Idempotency-Key", key) }

// Accept asks for another kind of answer, such as text/csv, where a method gives bytes.
func Accept(kind string) Option { return header("Accept", kind) }

// ContentType says the kind of what is sent, where a method takes bytes.
func ContentType(kind string) Option { return header("Content-Type", kind) }

// Into hands out what comes with the answer.
func Into(m *Meta) Option { return func(c *call) { c.meta = m } }

// Raw asks for anything below /api/v1, with a body of any kind, and gives the bytes of the answer.
func (c *Client) Raw(ctx context.Context, method, path string, query url.Values, body []byte, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: method, path: path, query: query, body: body}, opts)
}

// do asks for JSON.
func do[R any](ctx context.Context, c *Client, x call, opts []Option) (R, error) {
	var out R
	text, err := c.send(ctx, x, opts)
	if err != nil || len(text) == 0 {
		return out, err
	}
	if err := json.Unmarshal(text, &out); err != nil {
		return out, fmt.Errorf("the answer to %s %s cannot be read: %w", x.method, x.path, err)
	}
	return out, nil
}

// doJSON sends JSON and asks for some.
func doJSON[R any](ctx context.Context, c *Client, x call, in any, opts []Option) (R, error) {
	text, err := json.Marshal(in)
	if err != nil {
		var none R
		return none, fmt.Errorf("this cannot be sent: %w", err)
	}
	x.body = text
	return do[R](ctx, c, x, append([]Option{ContentType("application/json")}, opts...))
}

// all goes through a list, one piece after the other.
func all[T, P any](ctx context.Context, c *Client, x call, items func(P) ([]T, string), opts []Option) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		x := x // each walk begins anew
		for {
			p, err := do[P](ctx, c, x, opts)
			if err != nil {
				var none T
				yield(none, err)
				return
			}
			list, next := items(p)
			for _, t := range list {
				if !yield(t, nil) {
					return
				}
			}
			if next == "" {
				return
			}
			u, err := url.Parse(next)
			if err != nil || !strings.HasPrefix(u.EscapedPath(), prefix+"/") {
				var none T
				yield(none, fmt.Errorf("the address of the next piece, %q, is none of the API", next))
				return
			}
			x.path, x.query = strings.TrimPrefix(u.EscapedPath(), prefix), u.Query()
		}
	}
}

// seg is a name within a path.
func seg(name any) string { return url.PathEscape(fmt.Sprint(name)) }

// values are the parameters of a query, from the fields of a struct.
func values(q any) url.Values {
	if v, ok := q.(url.Values); ok {
		return v
	}
	out := url.Values{}
	v := reflect.ValueOf(q)
	if !v.IsValid() || v.Kind() == reflect.Pointer && v.IsNil() {
		return out
	}
	v = reflect.Indirect(v)
	for i := range v.NumField() {
		name, f := v.Type().Field(i).Tag.Get("query"), v.Field(i)
		if f.IsZero() {
			continue
		}
		if f.Kind() == reflect.Slice {
			for j := range f.Len() {
				out.Add(name, word(f.Index(j)))
			}
			continue
		}
		out.Set(name, word(f))
	}
	return out
}

func word(v reflect.Value) string {
	v = reflect.Indirect(v)
	switch x := v.Interface().(type) {
	case time.Time:
		return x.Format(time.RFC3339Nano)
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	default:
		return fmt.Sprint(x)
	}
}

// send sends a request, again where that does no harm, and reads the answer.
func (c *Client) send(ctx context.Context, x call, opts []Option) ([]byte, error) {
	x.head = http.Header{}
	for _, o := range opts {
		o(&x)
	}
	if x.once && x.head.Get("Idempotency-Key") == "" {
		x.head.Set("Idempotency-Key", rand.Text())
	}
	again := x.method != http.MethodPost && x.method != http.MethodPatch || x.head.Get("Idempotency-Key") != "" && x.once
	if x.head.Get("If-Match") != "" { // after an answer that was lost it would be refused as changed
		again = false
	}
	tries := 1
	if again {
		tries = c.o.Tries
	}
	pause := c.o.Pause
	for try := 1; ; try++ {
		text, wait, err := c.try(ctx, x)
		if err == nil || wait < 0 || try >= tries || ctx.Err() != nil {
			return text, err
		}
		if wait == 0 {
			wait = pause/2 + mrand.N(pause/2+1)
			pause *= 2
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
			return nil, errors.Join(ctx.Err(), err)
		}
	}
}

func (c *Client) request(ctx context.Context, x call) (*http.Response, error) {
	address := c.base + prefix + x.path
	if q := values(x.query); len(q) > 0 {
		address += "?" + q.Encode()
	}
	r, err := http.NewRequestWithContext(ctx, x.method, address, bytes.NewReader(x.body))
	if err != nil {
		return nil, err
	}
	for k, v := range x.head {
		r.Header[k] = v
	}
	if c.o.Token != "" {
		r.Header.Set("Authorization", "Bearer "+c.o.Token)
	}
	r.Header.Set("User-Agent", c.o.Agent)
	return c.o.HTTP.Do(r)
}

// try sends a request once. Wait is how long until it may be sent again, 0: not said; below 0 it
// would be in vain.
func (c *Client) try(ctx context.Context, x call) (text []byte, wait time.Duration, err error) {
	res, err := c.request(ctx, x)
	if err != nil {
		return nil, 0, err
	}
	defer res.Body.Close()
	text, err = io.ReadAll(io.LimitReader(res.Body, mostBody+1))
	if err == nil && len(text) > mostBody {
		return nil, -1, fmt.Errorf("the answer to %s %s has more than %d MB", x.method, x.path, mostBody>>20)
	}
	if err != nil {
		return nil, 0, err
	}
	if x.meta != nil {
		*x.meta = Meta{Status: res.StatusCode, ETag: res.Header.Get("ETag"), Location: res.Header.Get("Location"), Replayed: res.Header.Get("Idempotent-Replayed") == "true"}
		x.meta.Type, _, _ = mime.ParseMediaType(res.Header.Get("Content-Type"))
		if _, p, err := mime.ParseMediaType(res.Header.Get("Content-Disposition")); err == nil {
			x.meta.Name = p["filename"]
		}
	}
	switch {
	case res.StatusCode < 300:
		return text, 0, nil
	case res.StatusCode == http.StatusNotModified:
		return nil, -1, ErrNotModified
	}
	p := &Problem{wire.Problem{Title: http.StatusText(res.StatusCode), Status: res.StatusCode, Detail: fmt.Sprintf("%s %s was answered with %s.", x.method, x.path, res.Status)}}
	if kind, _, _ := mime.ParseMediaType(res.Header.Get("Content-Type")); kind == "application/problem+json" {
		if err := json.Unmarshal(text, &p.Problem); err != nil {
			return nil, -1, fmt.Errorf("the answer to %s %s cannot be read: %w", x.method, x.path, err)
		}
	}
	wait = -1
	switch res.StatusCode {
	case http.StatusTooManyRequests, http.StatusBadGateway, http.StatusGatewayTimeout:
		wait = 0
	case http.StatusServiceUnavailable, http.StatusConflict:
		// Of these only what says when to ask again passes.
	}
	if s, err := strconv.Atoi(res.Header.Get("Retry-After")); err == nil && s >= 0 {
		wait = time.Duration(min(s, 600)) * time.Second
	}
	return nil, wait, p
}
