package web_test

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/access"
	"underlamp/web"
)

var workID = regexp.MustCompile(`data-work="([a-z0-9]+)"`)

// long is a search that takes far longer than a test.
const long = "/plan?for=electricity&frontier=1&ramps=1"

// A stream reads server-sent events.
type stream struct {
	t    testing.TB
	scan *bufio.Scanner
	end  context.CancelFunc
}

func tailEvents(t testing.TB, address string) *stream {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), browserWait)
	t.Cleanup(cancel)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { res.Body.Close() })
	if kind := res.Header.Get("Content-Type"); res.StatusCode != 200 || kind != "text/event-stream" {
		t.Fatalf("%s answers %d, %s", address, res.StatusCode, kind)
	}
	scan := bufio.NewScanner(res.Body)
	scan.Buffer(nil, 8<<20)
	return &stream{t, scan, cancel}
}

// next is the next event; false at the end of the stream.
func (s *stream) next() (event, data string, ok bool) {
	for s.scan.Scan() {
		switch line := s.scan.Text(); {
		case line == "" && event != "":
			return event, data, true
		case strings.HasPrefix(line, "event: "):
			event = line[len("event: "):]
		case strings.HasPrefix(line, "data: "):
			data += line[len("data: "):] + "\n"
		}
	}
	return "", "", false
}

// A search begins with a form and goes on without its page; equal questions share it,
// streams tell of it, it is listed, and once stopped it has ended.
func TestWorkGoesOnAndStops(t *testing.T) {
	s := site(t, folder(t))
	bench := s.URL + "/bench/tier-2-middle"
	if _, _, page := once(t, bench+long); strings.Contains(page, "data-work") || !strings.Contains(page, "has not been searched") {
		t.Error("a look at the page began the search")
	}
	status, to := postForm(t, bench+long, nil)
	if status != http.StatusSeeOther || !strings.HasPrefix(to, "/bench/tier-2-middle/plan?") {
		t.Fatalf("%d to %s", status, to)
	}
	_, _, page := once(t, s.URL+to)
	m := workID.FindStringSubmatch(page)
	if m == nil || !strings.Contains(page, `<noscript><meta http-equiv="refresh"`) || !strings.Contains(page, `class="works-run" href="/work" data-running="1"`) {
		t.Fatalf("the page does not show the search: %s", page)
	}
	work := s.URL + "/work/" + m[1]
	first := tailEvents(t, work+"/events")
	if event, data, _ := first.next(); event != "show" || !strings.Contains(data, m[1]) || !strings.Contains(data, "Stop</button>") {
		t.Errorf("%s %s", event, data)
	}
	if event, data, _ := first.next(); event != "far" && event != "show" || event == "far" && !strings.Contains(data, `"percent":`) {
		t.Errorf("%s %s", event, data)
	}
	first.end() // the page is closed

	postForm(t, bench+long, nil)
	if _, _, again := once(t, bench+long); workID.FindStringSubmatch(again) == nil || workID.FindStringSubmatch(again)[1] != m[1] {
		t.Error("the same question began another search")
	}
	if _, _, list := once(t, s.URL+"/work"); !strings.Contains(list, "The most saleable mass per kWh on Cellar rack, middle tier") || !strings.Contains(list, m[1]) {
		t.Errorf("the list: %s", list)
	}
	if _, _, alone := once(t, work); !strings.Contains(alone, "data-alone") || !strings.Contains(alone, "<progress") {
		t.Errorf("its own page: %s", alone)
	}

	second := tailEvents(t, work+"/events")
	if status, to := postForm(t, work, url.Values{"do": {"stop"}, "to": {"page"}}); status != http.StatusSeeOther || !strings.HasPrefix(to, "/bench/tier-2-middle/plan?") {
		t.Errorf("the stop answers %d to %s", status, to)
	}
	last := ""
	for {
		_, data, ok := second.next()
		if !ok {
			break
		}
		last = data
	}
	if !strings.Contains(last, `data-state="stopped"`) || !strings.Contains(last, "Begin anew") {
		t.Errorf("the stream ends with %s", last)
	}
	if _, _, page := once(t, bench+long); !strings.Contains(page, "This was stopped.") || strings.Contains(page, "works-run") || strings.Contains(page, "http-equiv") {
		t.Errorf("after the stop: %s", page)
	}
	if status, _ := postForm(t, work, url.Values{"do": {"dance"}}); status != http.StatusBadRequest {
		t.Errorf("another word answers %d", status)
	}
	for _, path := range []string{"/work/nothing", "/work/nothing/events"} {
		if status, _, _ := once(t, s.URL+path); status != http.StatusNotFound {
			t.Errorf("%s answers %d", path, status)
		}
	}
}

// A learning is begun by its form, shown on the page of its bench, and stopped.
func TestLearningCanBeStopped(t *testing.T) {
	s := site(t, folder(t))
	bench := s.URL + "/bench/tier-2-middle"
	if status, to := postForm(t, bench+"/learn", url.Values{"do": {"start"}}); status != http.StatusSeeOther || to != "/bench/tier-2-middle#learn" {
		t.Errorf("the form answers %d to %s", status, to)
	}
	_, _, page := once(t, bench)
	m := workID.FindStringSubmatch(page)
	if m == nil {
		t.Fatal("the page does not show the learning")
	}
	began := time.Now()
	if status, _, _ := get(t, bench+"/light?hours=12"); status != http.StatusOK || time.Since(began) > 20*time.Second {
		t.Errorf("the light answers %d after %v", status, time.Since(began))
	}
	postForm(t, s.URL+"/work/"+m[1], url.Values{"do": {"stop"}})
	if _, _, page := get(t, s.URL+"/work/"+m[1]); !strings.Contains(page, "This was stopped.") {
		t.Errorf("after the stop: %s", page)
	}
	if status, _, _ := get(t, bench+"/profile"); status != http.StatusNotFound {
		t.Errorf("a profile of a stopped learning answers %d", status)
	}
}

// When the server ends, so does its work and every stream that tells of it.
func TestServerEndsItsWork(t *testing.T) {
	pages := web.New(web.Options{Folder: os.DirFS(folder(t)), Hosts: []string{"127.0.0.1"}})
	s := httptest.NewServer(pages.Handler())
	defer s.Close()
	_, to := postForm(t, s.URL+"/bench/tier-2-middle"+long, nil)
	_, _, page := once(t, s.URL+to)
	events := tailEvents(t, s.URL+"/work/"+workID.FindStringSubmatch(page)[1]+"/events")
	events.next()
	if err := pages.Close(); err != nil {
		t.Error(err)
	}
	for ok := true; ok; {
		_, _, ok = events.next()
	}
	if status, _ := postForm(t, s.URL+"/bench/tier-2-middle"+long, nil); status != http.StatusServiceUnavailable {
		t.Errorf("a search after the end answers %d", status)
	}
}

// Viewers see work, owners begin and stop it, helpers are not told of what they may not see.
func TestWorkFitsTheRole(t *testing.T) {
	n := newNetwork(t)
	t.Cleanup(func() { n.site.Close() })
	owner, helper, viewer := n.in(t, "Ida", access.Owner), n.in(t, "Jon", access.Helper), n.in(t, "Kim", access.Viewer)
	if status, _, _ := owner.ask("POST", "/bench/tier-2-middle"+long, nil, owner.at); status != http.StatusSeeOther {
		t.Fatal(status)
	}
	_, _, page := viewer.ask("GET", "/bench/tier-2-middle"+long, nil, "")
	m := workID.FindStringSubmatch(page)
	if m == nil || strings.Contains(page, "Stop</button>") || !strings.Contains(page, "An owner begins the search") || !strings.Contains(page, "works-run") {
		t.Fatalf("a viewer sees %s", page)
	}
	if status, _, _ := viewer.ask("POST", "/work/"+m[1], url.Values{"do": {"stop"}}, viewer.at); status != http.StatusForbidden {
		t.Errorf("a viewer stops: %d", status)
	}
	if _, _, list := viewer.ask("GET", "/work", nil, ""); !strings.Contains(list, m[1]) || strings.Contains(list, "<button") {
		t.Errorf("a viewer's list: %s", list)
	}
	if _, _, page := helper.ask("GET", "/", nil, ""); strings.Contains(page, "works-run") {
		t.Error("a helper is told of work")
	}
	if status := helper.get("/work/" + m[1]); status != http.StatusForbidden {
		t.Errorf("a helper: %d", status)
	}
	if status, _, _ := owner.ask("POST", "/work/"+m[1], url.Values{"do": {"stop"}}, owner.at); status != http.StatusSeeOther {
		t.Errorf("an owner stops: %d", status)
	}
}

// The settings map of a bench is drawn while its page is left, and is there when somebody
// comes back; a search is stopped by its button; the page of work shows both.
func TestWorkInABrowser(t *testing.T) {
	s := site(t, folder(t))
	ctx := browser(t, 8*time.Minute)
	act(t, ctx, "the bench", chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/bench/tier-1-top"))
	arrive(t, ctx, `document.querySelector('#best-part [data-work] svg') !== null`) // a first picture
	act(t, ctx, "leave", chromedp.Navigate(s.URL+"/work"))
	arrive(t, ctx, `document.querySelector('#past a')?.textContent.includes('Settings map and best setting of Cellar rack, top tier')`)
	act(t, ctx, "come back", chromedp.Navigate(s.URL+"/bench/tier-1-top"))
	arrive(t, ctx, `document.querySelectorAll('#best-part .take').length > 1`)

	act(t, ctx, "a plan", chromedp.Navigate(s.URL+"/bench/tier-1-top/plan"), chromedp.Click(`form.aim .go`))
	arrive(t, ctx, `document.querySelector('#answer [data-state="running"] progress')?.value > 0`)
	if n := ask[string](t, ctx, `document.querySelector('.works-run .number').textContent`); n != "1" {
		t.Errorf("the header counts %s", n)
	}
	axeCheck(t, ctx, "light")
	act(t, ctx, "stop", chromedp.Click(`#answer button[value="stop"]`))
	arrive(t, ctx, `document.querySelector('#answer [data-state="stopped"]') && document.querySelector('.works-run').hidden`)
	for _, look := range []struct {
		width int64
		theme string
	}{{1280, "light"}, {390, "dark"}} {
		act(t, ctx, "the list", chromedp.EmulateViewport(look.width, 900), chromedp.Navigate(s.URL+"/work"))
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("at %d px the page is %d px too wide", look.width, over)
		}
		axeCheck(t, ctx, look.theme)
	}
}
