package api

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/wire/schema"
)

// A reply is what goes out.
type reply struct {
	status int
	body   []byte
	stream func(w http.ResponseWriter) // nil: body is all
}

// A stream is an answer that goes on.
type stream func(w http.ResponseWriter)

// ServeHTTP answers. Who asks from a browser stands in the context ([access.From]).
func (a *API) ServeHTTP(w http.ResponseWriter, r *http.Request) { a.mux.ServeHTTP(w, r) }

// nothing answers for addresses and methods that there are not.
func (a *API) nothing(w http.ResponseWriter, r *http.Request) {
	var may []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		other := r.Clone(r.Context())
		other.Method = m
		if _, pattern := a.mux.Handler(other); pattern != Prefix+"/" && pattern != "" {
			may = append(may, m)
		}
	}
	if len(may) > 0 {
		w.Header().Set("Allow", strings.Join(may, ", "))
		writeProblem(w, problem(http.StatusMethodNotAllowed, "method", fmt.Sprintf("%.10s cannot be done at this address.", r.Method), "It takes "+strings.Join(may, " and ")+"."))
		return
	}
	writeProblem(w, missing("There is nothing at this address.", "What there is stands in "+Prefix+"/openapi.json."))
}

// answer answers one request.
func (a *API) answer(w http.ResponseWriter, r *http.Request, op *Operation) {
	c := &Call{Request: r, api: a, op: op, w: w}
	h := w.Header()
	h.Set("Cache-Control", "private, no-cache")
	h.Set("Vary", "Accept, Accept-Encoding, Authorization, Cookie")
	if err := c.enter(); err != nil {
		c.refuse(err)
		return
	}
	if !op.reads() {
		h.Set("Cache-Control", "no-store")
	}
	kind, err := c.kind()
	if err != nil {
		c.refuse(err)
		return
	}
	do := func() (*reply, error) { return c.reply(kind) }
	var out *reply
	if key := r.Header.Get("Idempotency-Key"); key != "" && op.Once {
		out, err = c.once(key, do)
	} else {
		out, err = do()
	}
	switch {
	case errors.Is(err, errNotModified):
		w.WriteHeader(http.StatusNotModified)
	case err != nil:
		c.refuse(err)
	case out.stream != nil:
		out.stream(w)
	default:
		c.send(out)
	}
}

// reply has the operation done and puts what it gives into the kind that is asked for.
func (c *Call) reply(kind string) (*reply, error) {
	v, err := c.op.do(c)
	if err != nil {
		return nil, err
	}
	out := &reply{status: c.op.status()}
	if c.Status != 0 {
		out.status = c.Status
	}
	h := c.Header()
	switch v := v.(type) {
	case None:
		if c.Status == 0 && c.op.Status == 0 {
			out.status = http.StatusNoContent
		}
		return out, nil
	case stream:
		out.stream = v
		return out, nil
	case Raw:
		h.Set("Content-Type", v.Type)
		if v.Name != "" {
			h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": v.Name}))
		}
		out.body = v.Body
		return out, nil
	}
	if kind == "text/csv" {
		head, rows := v.(Table).CSV()
		var b bytes.Buffer
		t := csv.NewWriter(&b)
		t.UseCRLF = true // RFC 4180
		if err := errors.Join(t.Write(head), t.WriteAll(rows)); err != nil {
			return nil, err
		}
		h.Set("Content-Type", "text/csv; charset=utf-8; header=present")
		out.body = b.Bytes()
		return out, nil
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	h.Set("Content-Type", "application/json")
	out.body = b.Bytes()
	return out, nil
}

// leastZipped is what is not worth compressing, in bytes.
const leastZipped = 1024

// send sends a reply; of what is read, only if it is not what whoever asks has.
func (c *Call) send(out *reply) {
	h := c.Header()
	if c.op.reads() && out.status == http.StatusOK && h.Get("ETag") == "" {
		tag := `W/"` + tagOf(h.Get("Content-Type"), string(out.body)) + `"`
		h.Set("ETag", tag)
		if matches(c.Request.Header.Values("If-None-Match"), tag, true) {
			h.Del("Content-Type")
			c.w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	// A strong tag names these very bytes, and compressed ones are others (RFC 9110, section 8.8.1).
	if len(out.body) >= leastZipped && !c.strong && worthZipping(h.Get("Content-Type")) && takesGzip(c.Request) {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
		if err == nil {
			z.Write(out.body) // into memory
			z.Close()
			h.Set("Content-Encoding", "gzip")
			out = &reply{status: out.status, body: b.Bytes()}
		}
	}
	if len(out.body) > 0 {
		h.Set("Content-Length", strconv.Itoa(len(out.body)))
	}
	c.w.WriteHeader(out.status)
	c.w.Write(out.body)
}

func worthZipping(kind string) bool {
	kind, _, _ = strings.Cut(kind, ";")
	return strings.HasPrefix(kind, "text/") || strings.HasSuffix(kind, "json") || strings.HasSuffix(kind, "yaml")
}

func takesGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if name == "gzip" && strings.ReplaceAll(q, " ", "") != "q=0" {
			return true
		}
	}
	return false
}

// kind is that of the answer, by Accept (RFC 9110, section 12.5.1): of those that the operation
// gives the one liked best, the first of equals.
func (c *Call) kind() (string, error) {
	gives := c.op.gives()
	accept := strings.Join(c.Request.Header.Values("Accept"), ",")
	if len(gives) == 0 || strings.TrimSpace(accept) == "" {
		return slices.Concat(gives, []string{""})[0], nil
	}
	best, liked := "", 0.0
	for _, kind := range gives {
		if q := quality(accept, kind); q > liked {
			best, liked = kind, q
		}
	}
	if best == "" {
		return "", problem(http.StatusNotAcceptable, "accept", "None of the kinds in Accept is given here.", "It gives "+strings.Join(gives, " or ")+".")
	}
	return best, nil
}

func quality(accept, kind string) float64 {
	best, closeness := 0.0, -1
	main, _, _ := strings.Cut(kind, "/")
	for part := range strings.SplitSeq(accept, ",") {
		name, params, err := mime.ParseMediaType(strings.TrimSpace(part))
		if err != nil {
			continue
		}
		q := 1.0
		if text, ok := params["q"]; ok {
			if q, err = strconv.ParseFloat(text, 64); err != nil {
				continue
			}
		}
		near := -1
		switch name {
		case kind:
			near = 2
		case main + "/*":
			near = 1
		case "*/*":
			near = 0
		}
		if near > closeness {
			best, closeness = q, near
		}
	}
	return best
}

// sessionScopes are what a browser may read that was let in.
func sessionScopes(r access.Role) []access.Scope {
	switch r {
	case access.Owner:
		return access.Scopes
	case access.Viewer:
		return []access.Scope{access.ScopeRead}
	case access.Helper:
		return []access.Scope{access.ScopeRounds}
	}
	return nil
}

// enter finds out who asks, and holds the operation to what they may.
func (c *Call) enter() error {
	c.Who = access.From(c.Request.Context())
	shown := c.Request.Header.Values("Authorization")
	if len(shown) > 0 {
		c.Who = access.Visitor{} // the token alone counts
		t, err := c.api.token(c.Request, shown)
		if err != nil {
			return c.challenge(err)
		}
		c.Token = &t
	}
	if len(c.op.Scopes) == 0 {
		return nil
	}
	var has []access.Scope
	switch {
	case c.Token != nil:
		has = c.Token.Scopes
	case c.Who.Here:
		return nil
	case c.Who.Role != "":
		if has = sessionScopes(c.Who.Role); !c.op.reads() {
			return problem(http.StatusForbidden, "session", "A browser session reads here and changes nothing.", "Show a token: an owner makes one on the page of settings, or by underlamp token add.")
		}
	default:
		return c.challenge(problem(http.StatusUnauthorized, "token", "This needs a token.", "Send it in the header Authorization, as Bearer and the token. An owner makes one on the page of settings, or by underlamp token add."))
	}
	if slices.ContainsFunc(c.op.Scopes, func(s access.Scope) bool { return slices.Contains(has, s) }) {
		return nil
	}
	var words []string
	for _, s := range c.op.Scopes {
		words = append(words, string(s))
	}
	if c.Token != nil {
		c.Header().Set("WWW-Authenticate", fmt.Sprintf(`Bearer realm="underlamp", error="insufficient_scope", scope=%q`, strings.Join(words, " ")))
	}
	return problem(http.StatusForbidden, "scope", "This needs the scope "+strings.Join(words, " or ")+".", "Use a token that has it.")
}

// challenge says how to come in (RFC 6750, section 3).
func (c *Call) challenge(err error) error {
	var p *Problem
	if errors.As(err, &p) && p.Status == http.StatusUnauthorized {
		value := `Bearer realm="underlamp"`
		if p.Type == "urn:underlamp:problem:bad-token" {
			value += `, error="invalid_token"`
		}
		c.Header().Set("WWW-Authenticate", value)
	}
	return err
}

// token is the one that a request shows.
func (a *API) token(r *http.Request, shown []string) (access.Token, error) {
	bad := problem(http.StatusUnauthorized, "bad-token", "This token lets nobody in: it is mistyped, was revoked, or is over.", "Ask an owner for a new one.")
	scheme, text, _ := strings.Cut(shown[0], " ")
	if len(shown) > 1 || !strings.EqualFold(scheme, "bearer") {
		return access.Token{}, problem(http.StatusUnauthorized, "token", "The header Authorization cannot be read.", "Send one, with Bearer and the token.")
	}
	if a.tokens == nil {
		return access.Token{}, problem(http.StatusUnauthorized, "bad-token", "This server keeps nothing, so it knows no tokens.", "Start underlamp serve with --store; on this machine none is needed.")
	}
	t, err := a.tokens.Enter(r.Context(), strings.TrimSpace(text))
	if errors.Is(err, access.ErrStranger) {
		if wait, ok := a.wrong.Take(fromOf(r), a.o.Now()); !ok {
			return t, problem(http.StatusTooManyRequests, "slow-down", "Too many wrong tokens came from this address.", "Wait, then use a right one.").after(int(wait/time.Second) + 1)
		}
		return t, bad
	}
	return t, err
}

// still says that whoever asked may go on; for answers that go on.
func (c *Call) still(ctx context.Context) bool {
	if c.Token == nil {
		return ctx.Err() == nil // a session is watched by the guard
	}
	_, err := c.api.token(c.Request, c.Request.Header.Values("Authorization"))
	var p *Problem
	return ctx.Err() == nil && !(errors.As(err, &p) && p.Status == http.StatusUnauthorized)
}

func fromOf(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr()
}

func fault(pointer, detail string) schema.Fault {
	return schema.Fault{Pointer: pointer, Detail: detail}
}
