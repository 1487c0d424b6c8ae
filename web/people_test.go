package web_test

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/access"
	"underlamp/app/live"
	"underlamp/app/settings"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/localca"
	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/store/sqlite"
	"underlamp/web"
	"underlamp/web/door"
)

// A network is a site that this machine sees at here, others at there.
type network struct {
	site        *web.Site
	here, there *httptest.Server
	door        *access.Door
	store       store.Store
}

func newNetwork(t testing.TB) *network {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	ca, err := localca.Open(t.TempDir(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	n := &network{door: access.New(s, nil), store: s}
	// The addresses are known before the pages are made.
	n.here, n.there = httptest.NewUnstartedServer(nil), httptest.NewUnstartedServer(nil)
	dir := os.DirFS(folder(t))
	shelf := benchfolder.NewShelf(dir)
	engine := live.New(s, func(context.Context) ([]live.Bench, error) {
		all, err := shelf.Benches()
		var out []live.Bench
		for _, b := range all {
			out = append(out, live.Bench{Key: b.Key, Bench: b.Bench})
		}
		return out, err
	}, live.Options{Zone: time.UTC})
	if err := engine.Tick(context.Background()); err != nil {
		t.Fatal(err)
	}
	n.site = web.New(web.Options{Folder: dir, Keep: s, Hosts: []string{"127.0.0.1"}, Live: engine, Zone: time.UTC, People: n.door, Settings: settings.New(s), Here: web.Here{
		Where: "/home/ida/underlamp.db", Authority: ca, Plain: []string{"http://" + n.there.Listener.Addr().String() + "/"}, Secure: []string{"https://cellar.local:8283/"},
		Backup: func(ctx context.Context, to io.Writer) error {
			_, err := archive.Export(ctx, s, to, time.Now())
			return err
		},
	}})
	n.here.Config.Handler = n.site.Handler()
	n.there.Config.Handler = n.site.Elsewhere(door.New(door.Options{Door: n.door}))
	n.here.Start()
	n.there.Start()
	t.Cleanup(n.here.Close)
	t.Cleanup(n.there.Close)
	return n
}

// A client is a browser elsewhere.
type client struct {
	testing.TB
	at string
	*http.Client
}

func (n *network) client(t testing.TB) *client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &client{t, n.there.URL, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// in is a browser of a person with a role.
func (n *network) in(t testing.TB, person string, role access.Role) *client {
	t.Helper()
	c := n.client(t)
	if status, _, body := c.ask("POST", "/pair", url.Values{"code": {n.invite(t, person, role)}, "device": {"phone"}}, c.at); status != 303 {
		t.Fatalf("%d %s", status, body)
	}
	return c
}

func (n *network) invite(t testing.TB, person string, role access.Role) string {
	t.Helper()
	i, err := n.door.Invite(context.Background(), person, role)
	if err != nil {
		t.Fatal(err)
	}
	return i.Code
}

// ask asks as a browser does that was led here from a page of origin.
func (c *client) ask(method, path string, form url.Values, origin string) (int, http.Header, string) {
	c.Helper()
	r, err := http.NewRequest(method, c.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		c.Fatal(err)
	}
	r.Header.Set("Accept", "text/html,*/*")
	if method == "POST" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", origin)
	}
	res, err := c.Do(r)
	if err != nil {
		c.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		c.Fatal(err)
	}
	return res.StatusCode, res.Header, string(b)
}

func (c *client) get(path string) int {
	c.Helper()
	status, _, _ := c.ask("GET", path, nil, "")
	return status
}

// Every address says who it is for, and everybody else is refused: strangers are led to the
// page for a code. Few addresses are for strangers.
func TestEveryAddressIsForSomebody(t *testing.T) {
	n := newNetwork(t)
	clients := map[access.Who]*client{access.Strangers: n.client(t), access.Owners: n.in(t, "Ida", access.Owner), access.Helpers: n.in(t, "Jon", access.Helper), access.Viewers: n.in(t, "Kim", access.Viewer)}
	open := map[string]bool{"GET /static/{name}": true, "GET /help": true, "GET /help/{path...}": true, // who has no code yet may read how to get one
		"GET /pair": true, "POST /pair": true, "GET /secure": true, "GET /secure/authority.crt": true}
	routes := n.site.Routes()
	if len(routes) < 30 {
		t.Fatalf("%d addresses", len(routes))
	}
	for _, route := range routes {
		if route.Who == 0 || route.Who&^access.Everyone != 0 || route.Who&access.Owners == 0 {
			t.Errorf("%s is for %s", route.Pattern, route.Who)
		}
		if route.Who&access.Strangers != 0 != open[route.Pattern] {
			t.Errorf("%s is for %s", route.Pattern, route.Who)
		}
		method, path, _ := strings.Cut(route.Pattern, " ")
		most := int64(64 << 10)
		switch route.Pattern {
		case "POST /trial/{id}/import", "POST /import": // a table
			most = 9 << 20
		case "POST /bench/{id}/rounds/send": // what a phone has kept
			most = 1 << 20
		case "POST /bench/{id}/edit", "POST /bench/{id}/edit/try", "POST /bench/{id}/edit/merge": // a bench file twice
			most = 4 << 20
		case "POST /bench/{id}/rounds/photo":
			most = 20 << 20
		case "POST /import/{token}": // what is said of each column, and the conflicts
			most = 256 << 10
		case "POST /bench/{id}/feed/file": // a feed with its log
			most = 256 << 10
		case "POST /about": // about.yaml twice
			most = 640 << 10
		}
		if method != "GET" && method != "POST" || method == "POST" != (route.Body > 0) || route.Body > most {
			t.Errorf("%s takes %d bytes", route.Pattern, route.Body)
		}
		if method == "POST" && route.Who&access.Viewers != 0 && route.Pattern != "POST /leave" && route.Pattern != "POST /pair" {
			t.Errorf("viewers may %s", route.Pattern)
		}
		path = strings.NewReplacer("{$}", "", "{id}", "tier-1-top", "{name}", "none.css").Replace(path)
		for who, c := range clients {
			if route.Who&who != 0 {
				continue
			}
			status, h, _ := c.ask(method, path, nil, c.at)
			led := who == access.Strangers && method == "GET"
			if led && (status != 303 || h.Get("Location") != "/pair") || !led && status != 403 {
				t.Errorf("%s for %s: %d", route.Pattern, who, status)
			}
		}
	}
	for who, c := range clients {
		want := map[bool]int{true: 303, false: 404}[who == access.Strangers]
		for _, path := range []string{"/nothing", "/health", "/metrics", "/intake", "/bench", "/settings/other"} {
			if got := c.get(path); got != want {
				t.Errorf("%s for %s: %d, want %d", path, who, got, want)
			}
		}
	}
	// What each may is there.
	for path, may := range map[string]access.Who{"/": access.Members, "/bench/tier-1-top/lamps": access.Readers, "/bench/tier-1-top/live": access.Members, "/settings": access.Owners, "/secure": access.Everyone} {
		for who, c := range clients {
			if may&who != 0 && c.get(path) != 200 {
				t.Errorf("%s for %s: not there", path, who)
			}
		}
	}
	// A script is told in words, not led elsewhere.
	r, err := http.NewRequest("GET", n.there.URL+"/bench/tier-1-top/light", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 403 || res.Request.URL.Path != "/bench/tier-1-top/light" {
		t.Errorf("a script: %d at %s", res.StatusCode, res.Request.URL)
	}
}

// Pages show nobody what they may not do.
func TestPagesFitTheRole(t *testing.T) {
	n := newNetwork(t)
	helper, viewer := n.in(t, "Jon", access.Helper), n.in(t, "Kim", access.Viewer)
	for _, c := range []struct {
		of        *client
		path      string
		is, isNot []string
	}{
		{helper, "/", []string{"Jon, helper (rounds only)", "Cellar rack, top tier"}, []string{`href="/bench/tier-1-top"`, "/settings", "/trial/", "Chance of burn"}},
		{viewer, "/", []string{"Kim, viewer (reads)", `href="/bench/tier-1-top"`, "Chance of burn"}, []string{"/settings"}},
		{viewer, "/bench/tier-1-top/learn", nil, []string{"<button"}},
		{viewer, "/bench/tier-1-top/live", []string{`href="/bench/tier-1-top"`}, []string{"I know of it"}},
		{helper, "/bench/tier-1-top/live", nil, []string{`href="/bench/tier-1-top"`}},
		{helper, "/settings", []string{"This page is not for you", "helper (rounds only)"}, []string{"Take a copy"}},
	} {
		_, _, body := c.of.ask("GET", c.path, nil, "")
		for _, x := range c.is {
			if !strings.Contains(body, x) {
				t.Errorf("%s does not say %q", c.path, x)
			}
		}
		for _, x := range c.isNot {
			if strings.Contains(body, x) {
				t.Errorf("%s says %q", c.path, x)
			}
		}
	}
	if _, _, body := get(t, n.here.URL+"/"); !strings.Contains(body, "/settings") || strings.Contains(body, "You are here as") {
		t.Error("this machine is not its owner's")
	}
	if status, _, _ := get(t, n.here.URL+"/pair"); status != 200 {
		t.Errorf("the page for a code on this machine: %d", status)
	}
}

// A code lets in once; a browser that leaves, or is signed out, is a stranger at once.
func TestInAndOut(t *testing.T) {
	n := newNetwork(t)
	c := n.client(t)
	code := n.invite(t, "Ida", access.Owner)
	in := func(code, origin string) (int, http.Header, string) {
		return c.ask("POST", "/pair", url.Values{"code": {code}, "device": {"phone"}}, origin)
	}
	if status, _, _ := in(code, "http://evil.example"); status != 403 {
		t.Errorf("a form from elsewhere: %d", status)
	}
	if status, _, body := in("AAAAA-AAAAA", c.at); status != 422 || !strings.Contains(body, "lets nobody in") || !strings.Contains(body, `value="AAAAA-AAAAA"`) {
		t.Errorf("a wrong code: %d", status)
	}
	status, h, _ := in(code, c.at)
	if cookie := h.Get("Set-Cookie"); status != 303 || !regexp.MustCompile(`^underlamp=[\w-]{43}; Path=/; Max-Age=\d+; HttpOnly; SameSite=Strict$`).MatchString(cookie) {
		t.Fatalf("%d, %q", status, cookie)
	}
	if status, _, _ = in(code, c.at); status != 422 {
		t.Errorf("twice: %d", status)
	}
	for range 3 {
		status, h, _ = in("x", c.at)
	}
	if status != 429 || h.Get("Retry-After") == "" {
		t.Errorf("guessing: %d", status)
	}
	if status, _, _ := c.ask("POST", "/leave", nil, "http://evil.example"); status != 403 {
		t.Errorf("a page elsewhere signs out: %d", status)
	}
	if c.get("/settings") != 200 {
		t.Fatal("not in")
	}
	old := c.Jar.Cookies(mustURL(t, c.at))
	if status, h, _ := c.ask("POST", "/leave", nil, c.at); status != 303 || !strings.Contains(h.Get("Set-Cookie"), "Max-Age=0") {
		t.Errorf("leaving: %d %q", status, h.Get("Set-Cookie"))
	}
	if c.get("/") != 303 {
		t.Error("the browser is still in")
	}
	c.Jar.SetCookies(mustURL(t, c.at), old)
	if c.get("/") != 303 {
		t.Error("the token of a session that was left lets in")
	}
	// An owner signs another device out, and removes a person.
	owner, viewer := n.in2(t, "Ida", access.Owner), n.in2(t, "Kim", access.Viewer)
	_, _, body := owner.ask("GET", "/settings", nil, "")
	session := regexp.MustCompile(`name="session" value="([^"]+)"><button class="quiet" type="submit" aria-label="Sign out phone of Kim"`).FindStringSubmatch(body)
	if session == nil {
		t.Fatalf("Kim is not in the list\n%s", body)
	}
	if status, _, _ := viewer.ask("POST", "/settings/end", url.Values{"session": {session[1]}}, viewer.at); status != 403 {
		t.Errorf("a viewer signs out: %d", status)
	}
	if status, _, _ := owner.ask("POST", "/settings/end", url.Values{"session": {session[1]}}, owner.at); status != 303 || viewer.get("/") != 303 {
		t.Error("Kim was not signed out")
	}
	helper := n.in2(t, "Jon", access.Helper)
	if status, _, _ := owner.ask("POST", "/settings/remove", url.Values{"person": {"Jon"}}, owner.at); status != 303 || helper.get("/") != 303 {
		t.Error("Jon was not removed")
	}
	if status, _, _ := owner.ask("POST", "/settings/end", url.Values{"session": {strings.Repeat("x", 20000)}}, owner.at); status == 200 {
		t.Error("a form of 20 kB was taken")
	}
}

func mustURL(t testing.TB, text string) *url.URL {
	t.Helper()
	u, err := url.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// in2 comes in from another address than the tests do, which have tried enough codes.
func (n *network) in2(t testing.TB, person string, role access.Role) *client {
	t.Helper()
	token, _, err := n.door.Redeem(context.Background(), n.invite(t, person, role), netip.MustParseAddr("192.168.1.9"), "phone")
	if err != nil {
		t.Fatal(err)
	}
	c := n.client(t)
	c.Jar.SetCookies(mustURL(t, c.at), []*http.Cookie{{Name: "underlamp", Value: token, Path: "/"}})
	return c
}

// What is set holds on the pages; nonsense is refused with what is expected.
func TestSettings(t *testing.T) {
	n := newNetwork(t)
	c := n.in(t, "Ida", access.Owner)
	set := func(units, zone string, more ...string) (int, string) {
		form := url.Values{"units": {units}, "zone": {zone}}
		for i := 0; i+1 < len(more); i += 2 {
			form.Set(more[i], more[i+1])
		}
		status, _, body := c.ask("POST", "/settings", form, c.at)
		return status, body
	}
	page := func(path string) string {
		_, _, body := c.ask("GET", path, nil, "")
		for begin := time.Now(); works(body) && time.Since(begin) < browserWait; _, _, body = c.ask("GET", path, nil, "") {
			time.Sleep(50 * time.Millisecond)
		}
		return body
	}
	if body := page("/bench/tier-1-top/light"); !strings.Contains(body, "Lamps at 34 cm") {
		t.Error("not as the file says")
	}
	if status, body := set("us", "America/Chicago"); status != 303 {
		t.Fatalf("%d %s", status, body)
	}
	metric := regexp.MustCompile(`.{0,60}\d (cm|°C)[^²].{0,20}`) // areas of leaves are in cm² in both
	for _, path := range []string{"/bench/tier-1-top/light", "/bench/tier-1-top/lamps", "/bench/tier-1-top/raise?level=150", "/bench/tier-1-top/aim?level=180"} {
		if body := page(path); !strings.Contains(body, " in") || metric.MatchString(body) {
			t.Errorf("%s is not in US units: %s", path, metric.FindString(body))
		}
	}
	if body := page("/settings"); !strings.Contains(body, `value="us" selected`) || !strings.Contains(body, `value="America/Chicago"`) {
		t.Error("the page does not show what is set")
	}
	if status, body := set("us", "Mars/Olympus"); status != 422 || !strings.Contains(body, "Europe/Berlin") {
		t.Errorf("%d", status)
	}
	if status, _ := set("furlongs", ""); status != 422 {
		t.Errorf("%d", status)
	}
	// Numbers and money, on every page; what cannot be set is on the page again as it was typed.
	if status, body := set("", "", "numbers", "12.345,6", "currency", "USD", "rates", "1 EUR = 1,08 CHF"); status != 422 || !strings.Contains(body, "1 EUR = 1,08 CHF</textarea>") || !strings.Contains(body, "currency that is set is") {
		t.Errorf("%d %s", status, body)
	}
	if status, body := set("", "", "numbers", "12.345,6", "currency", "USD", "rates", "1 EUR = 1,25 USD"); status != 303 {
		t.Fatalf("%d %s", status, body)
	}
	point := regexp.MustCompile(`[^\d./:][1-9]\d*\.\d+ (mol|kWh|kg|g|cm|EUR|USD|kPa|%|°C|m/s|mS)`)
	for path, want := range map[string]string{"/": "14,9 mol", "/bench/tier-1-top/light": "14,9 mol", "/bench/tier-2-middle/outlook?hours=15": " USD", "/bench/tier-1-top/lamps": "2,24 µmol/J",
		"/trial/light-levels.trial": "15,2 mol", "/trial/light-levels.trial/plan": "22 mol", "/trial/light-levels.trial/record?unit=C1-L1&plant=P1": "158,5 g"} {
		body := page(path)
		if !strings.Contains(body, want) || strings.Contains(body, "<html") != strings.Contains(body, `data-decimal=","`) {
			t.Errorf("%s has no %q", path, want)
		}
		if m := point.FindString(body); m != "" || strings.Contains(body, " EUR") && strings.HasSuffix(path, "outlook") {
			t.Errorf("%s is not as set: %q", path, m)
		}
	}
	if status, _ := set("", ""); status != 303 || !strings.Contains(page("/bench/tier-1-top/light"), "Lamps at 34 cm") {
		t.Error("not set back")
	}
}

// The copy that an owner takes makes the store again.
func TestCopy(t *testing.T) {
	n := newNetwork(t)
	ctx := context.Background()
	id, err := n.store.PutSensor(ctx, store.Sensor{Key: "rack/air"})
	if err != nil {
		t.Fatal(err)
	}
	if err := n.store.Append(ctx, []store.Reading{{Sensor: id, At: store.At(time.Now()), Value: 21}}); err != nil {
		t.Fatal(err)
	}
	c := n.in(t, "Ida", access.Owner)
	status, h, body := c.ask("POST", "/settings/backup", nil, c.at)
	if status != 200 || !strings.Contains(h.Get("Content-Disposition"), ".zip") || h.Get("Cache-Control") != "no-store" {
		t.Fatalf("%d, %v", status, h)
	}
	a, err := archive.Open(bytes.NewReader([]byte(body)), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	again, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "again.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if err := a.Import(ctx, again); err != nil {
		t.Fatal(err)
	}
	if all, err := again.Latest(ctx); err != nil || len(all) != 1 || all[0].Value != 21 {
		t.Errorf("%v, %v", all, err)
	}
}

// A code from the page of settings comes with QR codes of the addresses; where no other
// machine is answered none is made.
func TestInvitePage(t *testing.T) {
	n := newNetwork(t)
	c := n.in(t, "Ida", access.Owner)
	status, h, body := c.ask("POST", "/settings/invite", url.Values{"person": {"Kim <b>"}, "role": {"viewer"}}, c.at)
	code := regexp.MustCompile(`[0-9A-Z]{5}-[0-9A-Z]{5}`).FindString(body)
	if status != 200 || code == "" || strings.Count(body, `<svg class="qr"`) != 2 || strings.Contains(body, "<b>") || h.Get("Cache-Control") != "no-store" || strings.Contains(body, "#"+code) {
		t.Errorf("%d, %q\n%s", status, code, body)
	}
	if status, _, _ := c.ask("POST", "/settings/invite", url.Values{"person": {" "}, "role": {"viewer"}}, c.at); status != 422 {
		t.Errorf("nobody was invited: %d", status)
	}
	if status, _, _ := c.ask("POST", "/settings/invite", url.Values{"person": {"Kim"}, "role": {"king"}}, c.at); status != 422 {
		t.Errorf("a king was invited: %d", status)
	}
	alone := httptest.NewServer(web.New(web.Options{Folder: os.DirFS(folder(t)), Hosts: []string{"127.0.0.1"}, People: n.door}).Handler())
	defer alone.Close()
	if status, body := post(t, alone.URL+"/settings/invite", url.Values{"person": {"Kim"}, "role": {"viewer"}}); status != 422 || !strings.Contains(body, "--lan") {
		t.Errorf("%d %s", status, body)
	}
	// Without a store there is the page, and it says so.
	if status, _, body := get(t, shared(t).URL+"/settings"); status != 200 || !strings.Contains(body, "Nothing is kept") {
		t.Errorf("%d %s", status, body)
	}
}

// Over TLS, with a client that trusts the authority: the certificate comes from the page, and
// the cookie is of the secure kind.
func TestOverTLS(t *testing.T) {
	n := newNetwork(t)
	dir := t.TempDir()
	ca, err := localca.Open(dir, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	site := web.New(web.Options{Folder: os.DirFS(folder(t)), People: n.door, Here: web.Here{Authority: ca, Plain: []string{"http://x/"}, Secure: []string{"https://x/"}}})
	plain := httptest.NewServer(site.Elsewhere(door.New(door.Options{Door: n.door})))
	defer plain.Close()
	_, h, der := get(t, plain.URL+"/secure/authority.crt")
	cert, err := x509.ParseCertificate([]byte(der))
	if err != nil || h.Get("Content-Type") != "application/x-x509-ca-cert" {
		t.Fatal(err)
	}
	if _, _, body := get(t, plain.URL+"/secure"); !strings.Contains(body, ca.Fingerprint()) || !strings.Contains(body, "without encryption") {
		t.Error("the page tells no fingerprint")
	}
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	secure := &http.Server{Handler: site.Elsewhere(door.New(door.Options{Door: n.door})), TLSConfig: ca.Config(nil)}
	l := httptest.NewUnstartedServer(nil).Listener
	go secure.ServeTLS(l, "", "")
	defer secure.Close()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &client{t, "https://" + l.Addr().String(), &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	status, h, _ := c.ask("POST", "/pair", url.Values{"code": {n.invite(t, "Ida", access.Owner)}}, c.at)
	if cookie := h.Get("Set-Cookie"); status != 303 || !strings.HasPrefix(cookie, "__Host-underlamp=") || !strings.Contains(cookie, "; Secure") {
		t.Errorf("%d %q", status, cookie)
	}
	if c.get("/settings") != 200 {
		t.Error("not in over TLS")
	}
	if _, _, body := c.ask("GET", "/secure", nil, ""); !strings.Contains(body, "came encrypted") {
		t.Error("the page does not see that it is encrypted")
	}
}

// On a phone: a code from the address lets in and leaves the address; a session that is
// revoked is out at the next touch; the pages fit.
func TestPeopleInABrowser(t *testing.T) {
	n := newNetwork(t)
	ctx := browser(t, 5*time.Minute)
	look := func(what string) {
		t.Helper()
		if what == "the page for a code" || what == "the code" || what == "the refusal" { // the others are among all pages
			axeCheck(t, ctx, "dark")
		}
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("%s is %d px wider than a phone", what, over)
		}
		if small := ask[string](t, ctx, `[...document.querySelectorAll('button, input:not([type=hidden]), select, summary, nav a, .home')].filter(e => e.offsetParent && (e.type === 'checkbox' ? e.closest('label') ?? e : e).getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join('\n')`); small != "" {
			t.Errorf("%s: smaller than 44 px:\n%s", what, small)
		}
	}
	code := n.invite(t, "Ida", access.Owner)
	act(t, ctx, "open", chromedp.EmulateViewport(390, 844), chromedp.Navigate(n.there.URL+"/bench/tier-1-top"))
	until(t, ctx, `location.pathname === '/pair'`)
	look("the page for a code")
	act(t, ctx, "scan", chromedp.Navigate("about:blank"), chromedp.Navigate(n.there.URL+"/pair#"+code))
	until(t, ctx, `document.getElementById('code').value !== ''`)
	if hash := ask[string](t, ctx, `location.href + document.activeElement.textContent`); strings.Contains(hash, code) || !strings.HasSuffix(hash, "Come in") {
		t.Errorf("the address is %s", hash)
	}
	act(t, ctx, "come in", chromedp.Click(".pair button"))
	until(t, ctx, `location.pathname === '/' && document.querySelector('.you') !== null`)
	if cookie := ask[string](t, ctx, `document.cookie`); cookie != "" {
		t.Errorf("a script reads the cookie %q", cookie)
	}
	look("the list")
	act(t, ctx, "settings", chromedp.Click(`.foot a[href="/settings"]`))
	until(t, ctx, `location.pathname === '/settings'`)
	look("the settings")
	act(t, ctx, "invite", chromedp.SetValue("#person", "Kim"), chromedp.Click(".invite button"))
	until(t, ctx, `document.querySelector('.big-code') !== null`)
	look("the code")
	kim := text(t, ctx, ".big-code")
	act(t, ctx, "secure", chromedp.Navigate(n.there.URL+"/secure"))
	look("the page of encryption")

	sessions, _, err := n.door.Sessions(context.Background())
	if err != nil || len(sessions) != 1 {
		t.Fatalf("%+v, %v", sessions, err)
	}
	act(t, ctx, "bench", chromedp.Navigate(n.there.URL+"/bench/"+demo.SensorBench+"/live"))
	if err := n.door.End(context.Background(), sessions[0].ID); err != nil {
		t.Fatal(err)
	}
	act(t, ctx, "reload", chromedp.Navigate(n.there.URL+"/settings"))
	until(t, ctx, `location.pathname === '/pair'`)

	// The viewer types the code in lower case, sees no settings, and may not post.
	act(t, ctx, "viewer", chromedp.SetValue("#code", strings.ToLower(strings.ReplaceAll(kim, "-", ""))), chromedp.Click(".pair button"))
	until(t, ctx, `location.pathname === '/' && document.querySelector('.you') !== null`)
	if ask[bool](t, ctx, `document.querySelector('[href="/settings"]') !== null`) {
		t.Error("a viewer is shown settings")
	}
	v, err := chromedp.Run(ctx, chromedp.Evaluate[int](`fetch('/settings', {method: 'POST', body: new URLSearchParams({units: 'us'})}).then(r => r.status)`, chromedp.EvalAwaitPromise))
	if err != nil || v != 403 {
		t.Errorf("a viewer posts: %d, %v", v, err)
	}
	act(t, ctx, "refused", chromedp.Navigate(n.there.URL+"/settings"))
	if got := text(t, ctx, "h1"); got != "This page is not for you." {
		t.Errorf("%q", got)
	}
	look("the refusal")
}

// until waits for a condition that may come with another page, where [wait] loses its own.
func until(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	for begin := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		yes, err := chromedp.Run(ctx, chromedp.Evaluate[bool](loaded+"("+condition+")"))
		if err == nil && yes {
			return
		}
		if time.Since(begin) > browserWait {
			t.Fatalf("waiting for %s: %v", condition, err)
		}
	}
}
