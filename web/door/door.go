package door

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"underlamp/access"
)

// Options are what a [Guard] needs.
type Options struct {
	Door  *access.Door
	Names []string     // of this machine, in lower case, without port
	Log   *slog.Logger // nil logs nothing
	Asked *slog.Logger // where each request is written down; nil: nowhere
}

// A Guard lets through who is known.
type Guard struct {
	o     Options
	asked *access.Limit
}

// askBurst and askEvery bound what one address may ask: a page with its parts is some twenty
// requests, a slider that is pulled ten a second.
const (
	askBurst = 300
	askEvery = 25 * time.Millisecond
)

// New is a guard.
func New(o Options) *Guard {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Asked == nil {
		o.Asked = slog.New(slog.DiscardHandler)
	}
	return &Guard{o: o, asked: access.NewLimit(askBurst, askEvery)}
}

// Handler answers other machines: what comes from a known browser, and from a stranger, goes
// on to next with who it is in its context.
func (g *Guard) Handler(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		begin := time.Now()
		from := From(r)
		kept := &answer{ResponseWriter: w, rc: http.NewResponseController(w)}
		kept.rc.SetWriteDeadline(time.Time{})
		who := access.Visitor{}
		defer func() {
			g.o.Asked.Info("asked", "from", from, "person", who.Person, "session", who.Session, "method", r.Method, "path", r.URL.Path, "status", kept.status, "bytes", kept.bytes, "ms", time.Since(begin).Milliseconds())
		}()
		if !g.here(r) {
			http.Error(kept, "This server answers under the address that it printed at its start.", http.StatusMisdirectedRequest)
			return
		}
		if wait, ok := g.asked.Take(from, begin); !ok {
			kept.Header().Set("Retry-After", strconv.Itoa(int(wait/time.Second)+1))
			http.Error(kept, "Too much was asked from this address at once. Wait a moment and load the page again.", http.StatusTooManyRequests)
			return
		}
		v, newer, err := g.enter(r)
		if err != nil {
			g.o.Log.Error("who asks cannot be read", "err", err)
			http.Error(kept, "Who asks cannot be read from the store now. Load the page again in a while; underlamp doctor says what is wrong.", http.StatusServiceUnavailable)
			return
		}
		if who = v; newer != "" {
			SetToken(kept, r, newer)
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			// A body that drips in is not waited for; what is done with it may take longer.
			kept.rc.SetReadDeadline(begin.Add(bodyTime))
			r.Body = &body{r.Body, func() { kept.rc.SetReadDeadline(time.Time{}) }}
		}
		ctx, cut := context.WithCancel(access.With(r.Context(), v))
		defer cut()
		if v.Session == "" {
			next.ServeHTTP(kept, r.WithContext(ctx))
			return
		}
		over, watched, revoked := make(chan struct{}), make(chan struct{}), false
		go func() {
			defer close(watched)
			revoked = g.watch(ctx, v.Session, over, func() {
				cut()
				kept.end()
			})
		}()
		defer func() {
			close(over)
			<-watched
			if revoked { // what was written is not the whole: the connection ends without a proper end
				panic(http.ErrAbortHandler)
			}
		}()
		next.ServeHTTP(kept, r.WithContext(ctx))
	})
}

const (
	bodyTime   = 2 * time.Minute  // for all of a body: a photo over weak Wi-Fi
	writeTime  = 30 * time.Second // for a visitor to take a piece of the answer
	watchEvery = time.Second
)

// A body calls read when all of it was read, or it cannot be.
type body struct {
	io.ReadCloser
	read func()
}

func (b *body) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	if err != nil {
		b.read()
	}
	return n, err
}

// watch looks whether a session may still ask while one of its requests runs.
func (g *Guard) watch(ctx context.Context, session string, over <-chan struct{}, cut func()) bool {
	t := time.NewTicker(watchEvery)
	defer t.Stop()
	for {
		select {
		case <-over:
			return false
		case <-t.C:
			may, err := g.o.Door.Still(context.WithoutCancel(ctx), session)
			if err == nil && !may {
				g.o.Log.Info("cut: the session was revoked", "session", session)
				cut()
				return true
			}
		}
	}
}

// here says whether a request names this machine: by the address that its connection came to,
// or by one of its names.
func (g *Guard) here(r *http.Request) bool {
	host := r.Host
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if at, err := netip.ParseAddr(host); err == nil {
		to, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
		return at.Unmap().WithZone("") == addressOf(to)
	}
	return slices.Contains(g.o.Names, strings.TrimSuffix(host, "."))
}

// enter tells who asks.
func (g *Guard) enter(r *http.Request) (access.Visitor, string, error) {
	token := Token(r)
	if token == "" {
		return access.Visitor{}, "", nil
	}
	v, next, err := g.o.Door.Enter(r.Context(), token)
	if errors.Is(err, access.ErrStranger) || r.Context().Err() != nil {
		return access.Visitor{}, "", nil
	}
	return v, next, err
}

// From is the address that a request comes from. What a request says of itself
// (X-Forwarded-For) is not believed.
func From(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap().WithZone("")
}

// Names of the cookie. Under TLS a browser takes it from this very host alone, and sends it
// under TLS alone (RFC 6265bis, section 4.1.3).
const (
	plainCookie  = "underlamp"
	secureCookie = "__Host-underlamp"
)

func cookieName(r *http.Request) string {
	if r.TLS != nil {
		return secureCookie
	}
	return plainCookie
}

// Token is what a request shows; empty if it shows nothing. Of several of the name none is
// believed.
func Token(r *http.Request) string {
	all := r.CookiesNamed(cookieName(r))
	if len(all) != 1 {
		return ""
	}
	return all[0].Value
}

// SetToken gives a browser its token.
func SetToken(w http.ResponseWriter, r *http.Request, token string) {
	setCookie(w, r, token, 400*24*3600)
}

// DropToken takes it away.
func DropToken(w http.ResponseWriter, r *http.Request) { setCookie(w, r, "", -1) }

func setCookie(w http.ResponseWriter, r *http.Request, value string, age int) {
	http.SetCookie(w, &http.Cookie{Name: cookieName(r), Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode})
}

// An answer notes what was answered, and waits only so long for a visitor to take it.
type answer struct {
	http.ResponseWriter
	rc     *http.ResponseController
	status int
	bytes  int64

	mu    sync.Mutex
	ended bool
}

// end lets nothing more through.
func (a *answer) end() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.ended = true
	a.rc.SetWriteDeadline(time.Now().Add(-time.Second))
}

// open puts the time off in which a piece must be taken.
func (a *answer) open() bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.ended {
		a.rc.SetWriteDeadline(time.Now().Add(writeTime))
	}
	return !a.ended
}

// WriteHeader notes the status.
func (a *answer) WriteHeader(status int) {
	if a.status == 0 {
		a.status = status
	}
	a.ResponseWriter.WriteHeader(status)
}

// Write notes how much.
func (a *answer) Write(p []byte) (int, error) {
	if a.status == 0 {
		a.status = http.StatusOK
	}
	if !a.open() {
		return 0, http.ErrHandlerTimeout
	}
	n, err := a.ResponseWriter.Write(p)
	a.bytes += int64(n)
	return n, err
}

// Flush sends what was written.
func (a *answer) Flush() {
	if a.open() {
		a.rc.Flush()
	}
}

// Unwrap is for [http.ResponseController].
func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }
