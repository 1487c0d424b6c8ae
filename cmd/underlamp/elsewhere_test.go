package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/cli"
	"underlamp/demo"
)

// start serves a folder of the demo until the test ends.
func start(t *testing.T, o cli.ServeOptions) cli.Serving {
	t.Helper()
	if o.Folder == "" {
		o.Folder = t.TempDir()
		if err := os.CopyFS(o.Folder, demo.Folder()); err != nil {
			t.Fatal(err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	at, ended := make(chan cli.Serving, 1), make(chan error, 1)
	o.Listen = "127.0.0.1:0"
	go func() { ended <- serve(ctx, o, func(s cli.Serving) { at <- s }) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	select {
	case s := <-at:
		return s
	case err := <-ended:
		ended <- nil
		t.Fatal(err)
	}
	return cli.Serving{}
}

// browse is a client that does not follow where it is led.
func browse(roots *x509.CertPool) *http.Client {
	return &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func fetch(t *testing.T, c *http.Client, at string, change func(*http.Request)) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, at, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html")
	if change != nil {
		change(r)
	}
	res, err := c.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(b)
}

// The whole way of a phone: it takes the certificate over HTTP, trusts it, comes in over TLS
// with the code of the terminal, and is out when a command removes its owner.
func TestServeLAN(t *testing.T) {
	dir, kept := t.TempDir(), filepath.Join(t.TempDir(), "readings.db")
	log := filepath.Join(dir, "asked.log")
	at := start(t, cli.ServeOptions{Store: kept, LAN: "127.0.0.1:0", HTTPS: "127.0.0.1:0", Names: []string{"Rack.lan"}, Certificates: filepath.Join(dir, "ca"), AccessLog: log, Terminal: true})
	if len(at.Elsewhere.Plain) < 2 || len(at.Elsewhere.Secure) < 2 || at.Invite == nil || at.Fingerprint == "" {
		t.Fatalf("%+v", at)
	}
	plain, secure := at.Elsewhere.Plain[0], at.Elsewhere.Secure[0]
	if res, _ := fetch(t, browse(nil), plain, nil); res.StatusCode != 303 || res.Header.Get("Location") != "/pair" {
		t.Errorf("a stranger: %d", res.StatusCode)
	}
	if res, _ := fetch(t, browse(nil), at.Pages, nil); res.StatusCode != 200 {
		t.Errorf("this machine: %d", res.StatusCode)
	}
	_, page := fetch(t, browse(nil), plain+"secure", nil)
	if !strings.Contains(page, at.Fingerprint) {
		t.Error("the page has another fingerprint than the terminal")
	}
	_, der := fetch(t, browse(nil), plain+"secure/authority.crt", nil)
	cert, err := x509.ParseCertificate([]byte(der))
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	phone := browse(roots)
	if _, err := browse(x509.NewCertPool()).Get(secure); err == nil {
		t.Error("a phone that trusts nothing went on")
	}
	form := url.Values{"code": {at.Invite.Code}, "device": {"phone"}}
	res, _ := fetch(t, phone, secure+"pair", func(r *http.Request) {
		r.Method, r.Body = http.MethodPost, io.NopCloser(strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", strings.TrimSuffix(secure, "/"))
	})
	if res.StatusCode != 303 || len(res.Cookies()) != 1 || !res.Cookies()[0].Secure {
		t.Fatalf("%d %v", res.StatusCode, res.Cookies())
	}
	cookie := res.Cookies()[0]
	settings := func() int {
		res, _ := fetch(t, phone, secure+"settings", func(r *http.Request) { r.AddCookie(cookie) })
		return res.StatusCode
	}
	if settings() != 200 {
		t.Fatal("not in")
	}
	for host, want := range map[string]int{"rack.lan": 303, "evil.example": 421, "localhost": 421} {
		if res, _ := fetch(t, phone, secure, func(r *http.Request) { r.Host = host }); res.StatusCode != want {
			t.Errorf("as %s: %d, want %d", host, res.StatusCode, want)
		}
	}
	for _, path := range []string{"health", "metrics", "intake"} {
		if res, _ := fetch(t, phone, secure+path, func(r *http.Request) { r.AddCookie(cookie) }); res.StatusCode != 404 {
			t.Errorf("%s elsewhere: %d", path, res.StatusCode)
		}
	}
	var out bytes.Buffer
	w := cli.World{In: strings.NewReader(""), Out: &out, Err: &out, Serve: serve, OpenStore: openStore, Terminal: true, Colour: true}
	run := func(want int, says string, args ...string) {
		t.Helper()
		out.Reset()
		if code := cli.Run(context.Background(), w, append(args, "--store", kept)); code != want || !strings.Contains(out.String(), says) {
			t.Errorf("%v: %d\n%s", args, code, &out)
		}
	}
	run(0, "phone", "people", "list")
	run(0, "\x1b[38;5;16;48;5;231m", "people", "invite", "Kim", "--role", "helper")
	run(0, plain+"pair", "people", "invite", "Kim")
	run(2, "no role", "people", "invite", "Kim", "--role", "king")
	run(0, "a code, until", "people", "list")
	run(2, "no session has the id", "people", "end", "nobody")
	run(0, "Owner is out", "people", "remove", "Owner")
	run(2, "nobody called", "people", "remove", "Owner")
	if settings() != 303 {
		t.Error("still in")
	}
	text, err := os.ReadFile(log)
	if err != nil || !strings.Contains(string(text), `"path":"/settings"`) || strings.Contains(string(text), cookie.Value) || strings.Contains(string(text), at.Invite.Code) {
		t.Errorf("%v\n%s", err, text)
	}
	if info, err := os.Stat(log); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the log: %v, %v", info.Mode(), err)
	}
}

// Over plain HTTP alone the way to encryption is shown, if that is wanted.
func TestHTTPSOnly(t *testing.T) {
	at := start(t, cli.ServeOptions{Store: filepath.Join(t.TempDir(), "s.db"), LAN: "127.0.0.1:0", HTTPS: "127.0.0.1:0", HTTPSOnly: true, Certificates: t.TempDir()})
	plain := at.Elsewhere.Plain[0]
	for path, want := range map[string]int{"": 303, "bench/tier-1-top": 303, "pair": 303, "secure": 200, "secure/authority.crt": 200, "static/none.css": 404} {
		if res, _ := fetch(t, browse(nil), plain+path, nil); res.StatusCode != want || want == 303 && res.Header.Get("Location") != "/secure" {
			t.Errorf("/%s: %d, want %d", path, res.StatusCode, want)
		}
	}
	if res, err := browse(nil).Post(plain+"pair", "text/plain", strings.NewReader("x")); err != nil || res.StatusCode != 403 {
		t.Errorf("%v, %v", res, err)
	}
	if at.Invite != nil {
		t.Error("a code was made that nobody reads")
	}
}

// The internet is not listened to, and keys do not go where copies are made of.
func TestServeLANRefuses(t *testing.T) {
	folder := t.TempDir()
	for says, o := range map[string]cli.ServeOptions{
		"does not show its pages to the internet": {LAN: "8.8.8.8:0"},
		"is no address and port":                  {LAN: "192.168.1.10"},
		"is no address of a network at home":      {LAN: "rack.example.org:0"},
		"whose files go into the store":           {LAN: "127.0.0.1:0", HTTPS: "127.0.0.1:0", Certificates: filepath.Join(folder, "keys")},
		"--access-log names a place":              {LAN: "127.0.0.1:0", AccessLog: filepath.Join(folder, "asked.log")},
	} {
		o.Folder, o.Listen, o.Store = folder, "127.0.0.1:0", filepath.Join(t.TempDir(), "s.db")
		if err := serve(context.Background(), o, func(cli.Serving) { t.Errorf("%s: served", says) }); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
}

// Who sends a request letter by letter is not waited for.
func TestSlowRequest(t *testing.T) {
	if testing.Short() {
		t.Skip("it waits for seconds")
	}
	at := start(t, cli.ServeOptions{Store: filepath.Join(t.TempDir(), "s.db"), LAN: "127.0.0.1:0"})
	u, err := url.Parse(at.Elsewhere.Plain[0])
	if err != nil {
		t.Fatal(err)
	}
	c, err := net.Dial("tcp", u.Host)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	begin := time.Now()
	closed := make(chan struct{})
	go func() {
		defer close(closed)
		io.Copy(io.Discard, c)
	}()
	for _, b := range []byte("GET / HTTP/1.1\r\nHost: " + u.Host + "\r\nX-Slow: " + strings.Repeat("a", 1000)) {
		if _, err := c.Write([]byte{b}); err != nil {
			break
		}
		select {
		case <-closed:
		case <-time.After(100 * time.Millisecond):
			continue
		}
		break
	}
	if took := time.Since(begin); took > 15*time.Second {
		t.Errorf("waited for %v", took)
	}
}
