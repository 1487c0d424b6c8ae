package door_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp/access"
	"underlamp/store/sqlite"
	"underlamp/web/door"
)

func newDoor(t testing.TB) *access.Door {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return access.New(s, nil)
}

func comeIn(t testing.TB, d *access.Door, role access.Role) (string, access.Visitor) {
	t.Helper()
	i, err := d.Invite(context.Background(), "Ida", role)
	if err != nil {
		t.Fatal(err)
	}
	token, v, err := d.Redeem(context.Background(), i.Code, netip.MustParseAddr("192.168.1.7"), "phone")
	if err != nil {
		t.Fatal(err)
	}
	return token, v
}

func who(w http.ResponseWriter, r *http.Request) { fmt.Fprintf(w, "%+v", access.From(r.Context())) }

func serve(t testing.TB, o door.Options, h http.HandlerFunc) *httptest.Server {
	t.Helper()
	s := httptest.NewServer(door.New(o).Handler(h))
	t.Cleanup(s.Close)
	return s
}

func ask(t testing.TB, at string, change func(r *http.Request)) (int, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, at, nil)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(r)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

// Who asks is known by the cookie, and by nothing else.
func TestWhoAsks(t *testing.T) {
	d := newDoor(t)
	token, v := comeIn(t, d, access.Helper)
	var log bytes.Buffer
	s := serve(t, door.Options{Door: d, Asked: slog.New(slog.NewJSONHandler(&log, nil))}, who)
	stranger := fmt.Sprintf("%+v", access.Visitor{})
	for name, c := range map[string]struct {
		change func(r *http.Request)
		want   string
	}{
		"nothing": {nil, stranger},
		"cookie":  {func(r *http.Request) { r.Header.Set("Cookie", "underlamp="+token) }, fmt.Sprintf("%+v", v)},
		"two":     {func(r *http.Request) { r.Header.Set("Cookie", "underlamp="+token+"; underlamp="+token) }, stranger},
		"wrong":   {func(r *http.Request) { r.Header.Set("Cookie", "underlamp="+token[1:]+"A") }, stranger},
		"secure":  {func(r *http.Request) { r.Header.Set("Cookie", "__Host-underlamp="+token) }, stranger},
		"bearer":  {func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) }, stranger},
		"says so": {func(r *http.Request) {
			r.Header.Set("X-Forwarded-For", "127.0.0.1")
			r.Header.Set("Forwarded", "for=127.0.0.1")
		}, stranger},
	} {
		if status, got := ask(t, s.URL+"/x?code=SECRET", c.change); status != 200 || got != c.want {
			t.Errorf("%s: %d %s, want %s", name, status, got, c.want)
		}
	}
	s.Close()
	text := log.String()
	if strings.Contains(text, token) || strings.Contains(text, "SECRET") || strings.Count(text, "\n") != 7 || !strings.Contains(text, `"person":"Ida"`) || !strings.Contains(text, `"status":200`) {
		t.Errorf("written down:\n%s", text)
	}
}

// Requests name the address that they came to, or a name of this machine.
func TestHosts(t *testing.T) {
	s := serve(t, door.Options{Door: newDoor(t), Names: []string{"cellar.local"}}, who)
	_, port, _ := net.SplitHostPort(s.Listener.Addr().String())
	for host, want := range map[string]int{
		"127.0.0.1:" + port: 200, "127.0.0.1": 200, "Cellar.Local:" + port: 200, "cellar.local.": 200,
		"evil.example": 421, "192.168.1.10:" + port: 421, "localhost": 421, "127.0.0.1.evil.example": 421, "[::1]": 421, "2130706433": 421,
	} {
		if got, _ := ask(t, s.URL, func(r *http.Request) { r.Host = host }); got != want {
			t.Errorf("%s: %d, want %d", host, got, want)
		}
	}
}

// What runs for a session that is revoked is cut, and does not look whole.
func TestStreamIsCut(t *testing.T) {
	d := newDoor(t)
	token, v := comeIn(t, d, access.Viewer)
	ended := make(chan error, 1)
	s := serve(t, door.Options{Door: d}, func(w http.ResponseWriter, r *http.Request) {
		for i := 0; ; i++ {
			fmt.Fprintln(w, "line", i)
			w.(http.Flusher).Flush()
			select {
			case <-r.Context().Done():
				ended <- r.Context().Err()
				return
			case <-time.After(50 * time.Millisecond):
			}
		}
	})
	r, err := http.NewRequest(http.MethodGet, s.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.AddCookie(&http.Cookie{Name: "underlamp", Value: token})
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	lines := bufio.NewScanner(res.Body)
	if !lines.Scan() {
		t.Fatal("no line came")
	}
	begin := time.Now()
	if err := d.End(context.Background(), v.Session); err != nil {
		t.Fatal(err)
	}
	for lines.Scan() {
	}
	if lines.Err() == nil || time.Since(begin) > 5*time.Second {
		t.Errorf("after %v: %v", time.Since(begin), lines.Err())
	}
	select {
	case <-ended:
	case <-time.After(5 * time.Second):
		t.Error("the work went on")
	}
	if _, got := ask(t, s.URL+"/again", func(r *http.Request) {
		r.AddCookie(&http.Cookie{Name: "underlamp", Value: token})
		r.Method = http.MethodHead
	}); strings.Contains(got, "Ida") {
		t.Error("the session goes on")
	}
}

// Too much at once is refused with when to come again.
func TestTooMuch(t *testing.T) {
	s := serve(t, door.Options{Door: newDoor(t)}, who)
	refused := 0
	for range 400 {
		res, err := http.Get(s.URL)
		if err != nil {
			t.Fatal(err)
		}
		io.Copy(io.Discard, res.Body)
		res.Body.Close()
		if res.StatusCode == http.StatusTooManyRequests {
			refused++
			if res.Header.Get("Retry-After") == "" {
				t.Error("it is not said when to come again")
			}
		}
	}
	if refused == 0 {
		t.Error("400 requests at once went through")
	}
}

// Under TLS the cookie is for this host and TLS alone.
func TestCookie(t *testing.T) {
	for _, secure := range []bool{false, true} {
		r := httptest.NewRequest(http.MethodGet, map[bool]string{false: "http://cellar.local/", true: "https://cellar.local/"}[secure], nil)
		w := httptest.NewRecorder()
		door.SetToken(w, r, "token")
		c := w.Result().Cookies()[0]
		want := map[bool]string{false: "underlamp", true: "__Host-underlamp"}[secure]
		if c.Name != want || !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Secure != secure || c.Path != "/" || c.Domain != "" || c.MaxAge <= 0 {
			t.Errorf("%+v", c)
		}
		r.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
		if got := door.Token(r); got != "token" {
			t.Errorf("%q", got)
		}
	}
}

// A fake listener gives connections that come from addresses of a list.
type fake struct {
	net.Listener
	from chan string
}

type fakeConn struct {
	net.Conn
	from   net.Addr
	closed chan struct{}
	once   sync.Once
}

func (c *fakeConn) RemoteAddr() net.Addr { return c.from }
func (c *fakeConn) Close() error         { c.once.Do(func() { close(c.closed) }); return nil }

func (f *fake) Accept() (net.Conn, error) {
	from, ok := <-f.from
	if !ok {
		return nil, net.ErrClosed
	}
	return &fakeConn{from: net.TCPAddrFromAddrPort(netip.MustParseAddrPort(from)), closed: make(chan struct{})}, nil
}

// Connections from the internet are closed, and so are those beyond the bounds; what ends
// makes room.
func TestConnections(t *testing.T) {
	f := &fake{from: make(chan string, 1000)}
	l := door.Listen(f)
	for _, from := range []string{"8.8.8.8:1", "[2001:4860::1]:1", "192.168.1.7:1"} {
		f.from <- from
	}
	c, err := l.Accept()
	if err != nil || c.RemoteAddr().String() != "192.168.1.7:1" {
		t.Fatalf("%v, %v", c, err)
	}
	for range 100 {
		f.from <- "192.168.1.7:1"
	}
	f.from <- "[::ffff:192.168.1.8]:1"
	n := 1
	for ; ; n++ {
		x, err := l.Accept()
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(x.RemoteAddr().String(), "1.8:") {
			break
		}
	}
	if n != 32 {
		t.Errorf("%d connections of one address were taken", n)
	}
	c.Close()
	c.Close() // twice makes room once
	f.from <- "192.168.1.7:2"
	f.from <- "192.168.1.7:3"
	close(f.from)
	if x, err := l.Accept(); err != nil || x.RemoteAddr().String() != "192.168.1.7:2" {
		t.Errorf("%v, %v", x, err)
	}
	if x, err := l.Accept(); err == nil {
		t.Errorf("%v was taken", x.RemoteAddr())
	}
}

// Whatever a cookie says, who asks is a stranger, and nothing breaks.
func FuzzCookie(f *testing.F) {
	d := newDoor(f)
	token, _ := comeIn(f, d, access.Owner)
	h := door.New(door.Options{Door: d, Names: []string{"example.com"}}).Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if access.From(r.Context()) != (access.Visitor{}) && !strings.Contains(r.Header.Get("Cookie"), token) {
			w.WriteHeader(http.StatusTeapot)
		}
	}))
	for _, s := range []string{"", "underlamp=", "underlamp=" + token, `underlamp="` + token + `"`, "underlamp=" + token + "; underlamp=x", "=; ;;\x00", strings.Repeat("a=b; ", 200)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, cookie string) {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Header["Cookie"] = []string{cookie}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code == http.StatusTeapot {
			t.Fatalf("%q lets in", cookie)
		}
	})
}
