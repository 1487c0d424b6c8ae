package web_test

import (
	"bytes"
	"cmp"
	"context"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/access"
	"underlamp/app/kept"
	"underlamp/app/live"
	"underlamp/app/round"
	"underlamp/app/settings"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/localca"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// pictures is the folder that pictures of every page go into:
//
//	go test ./web -run EveryPage -pictures pictures
var pictures = flag.String("pictures", "", "keep a picture of every page, desktop and phone, light and dark, in this folder (of the module, unless its path is whole)")

// onePage looks at fewer pages, when one is worked on.
var onePage = flag.String("page", "", "look at pages alone whose pictures have this in their names; follow: only measure how fast pictures follow controls")

// A photograph is what its page is about, and counts for nothing in the first load.
var photograph = regexp.MustCompile(`/photos/.*\.jpg$|/help/.*\.png$`)

// The budgets of a page.
const (
	mostFirstLoad = 100_000                // bytes, compressed, of all that the first load asks for
	mostWait      = 100 * time.Millisecond // from a control that is turned to the new picture, on a quiet machine
	besides       = 6                      // where other tests run beside it may take so many times that, times what [busy] finds
)

// everything is a site of the demo with all that a site can have: a store with rounds, three
// days of sensors, people, an authority, a folder that is written.
func everything(t testing.TB) (*httptest.Server, *web.Site) {
	t.Helper()
	ctx := context.Background()
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	since := time.Now().Add(-96 * time.Hour)
	if _, _, err := kept.Import(ctx, s, os.DirFS(dir), kept.Options{Now: since, Since: since, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	readSensors(t, s)
	_, entries, err := round.ReadJSON(demo.File(demo.RoundsFile))
	if err != nil {
		t.Fatal(err)
	}
	var seen []store.Observation
	for _, e := range entries {
		o, err := e.Observation()
		if err != nil {
			t.Fatal(err)
		}
		seen = append(seen, o)
	}
	if err := s.Observe(ctx, seen); err != nil {
		t.Fatal(err)
	}
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	ca, err := localca.Open(t.TempDir(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	shelf := benchfolder.NewShelf(os.DirFS(dir))
	engine := live.New(s, func(context.Context) ([]live.Bench, error) {
		all, err := shelf.Benches()
		var out []live.Bench
		for _, b := range all {
			out = append(out, live.Bench{Key: b.Key, Bench: b.Bench})
		}
		return out, err
	}, live.Options{Zone: time.UTC})
	if err := engine.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	people := access.New(s, nil)
	for _, p := range []struct {
		name string
		role access.Role
	}{{"Ida", access.Owner}, {"Jon", access.Helper}} {
		if _, err := people.Invite(ctx, p.name, p.role); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"2026-10-29-P8.jpg", "2026-11-02-P8.jpg"} {
		keepShot(t, s, name)
	}
	site := web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Live: engine, Rounds: s, Cases: s, Keep: s, Version: "0.0.0-test", Desk: kept.NewDesk(s, f, time.Now), Zone: time.UTC,
		Trials: f, People: people, Settings: settings.New(s), Here: web.Here{Where: "/home/ida/underlamp.db", Authority: ca,
			Plain: []string{"http://192.168.1.20:8282/"}, Secure: []string{"https://cellar.local:8283/"},
			Backup: func(ctx context.Context, to io.Writer) error {
				_, err := archive.Export(ctx, s, to, time.Now())
				return err
			}}})
	measuring, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() { defer close(done); site.MeasurePhotos(measuring) }()
	for {
		all, err := s.Measures(ctx, demo.SensorBench)
		if err != nil {
			t.Fatal(err)
		}
		if len(all) == 2 {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	cancel()
	<-done
	server := httptest.NewServer(site.Handler())
	t.Cleanup(func() { server.Close(); site.Close() })
	return server, site
}

// A state is one in which a page is looked at.
type state struct {
	path   string // after the address of the site
	name   string // of its pictures; empty: after the path
	ready  string // a script that is true once all is there; empty: at once
	broken bool   // of the site that has a bench with mistakes
	status int    // 0 is 200
}

// states are those of addresses that show more than one, or need more than a bench or a trial
// to show anything. Every other address is found by itself.
func states(t testing.TB, s *httptest.Server) map[string][]state {
	t.Helper()
	const bench, trial = "/bench/" + demo.SensorBench, "/trial/light-levels.trial"
	status, upload := send(t, s.URL+trial+"/import", "harvest.csv", demo.File("light-levels.harvest5.csv"))
	if status != http.StatusSeeOther {
		t.Fatalf("the table is not taken: %d", status)
	}
	status, diary := sendInto(t, s.URL+"/import", demo.SensorBench, "diary.csv", demo.File("tier-2-middle.diary.csv"))
	if status != http.StatusSeeOther {
		t.Fatalf("the diary is not taken: %d", status)
	}
	if strings.Contains("report-whole trial-report-whole", *onePage) || strings.Contains(*onePage, "report") {
		for _, page := range []string{bench, trial} { // a file that is not written yet is no page
			written(t, s.URL+page+"/report")
		}
	}
	if status, _ := post(t, s.URL+bench+"/plan?for=kwh", nil); status != http.StatusSeeOther {
		t.Fatalf("the plan is not begun: %d", status)
	}
	_, _, works := get(t, s.URL+"/work")
	work := regexp.MustCompile(`/work/[^"/]+`).FindString(works)
	answer, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).PostForm(s.URL+bench+"/trouble", url.Values{"s": {"inner-leaf-burn"}, "a": {"newest:brown-edge"}, "by": {"Ida"}})
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	trouble := answer.Header.Get("Location")
	_, _, shots := get(t, s.URL+bench+"/photos")
	shot := regexp.MustCompile(bench + `/photos/[0-9a-f]{32}`).FindString(shots)
	if work == "" || trouble == "" || shot == "" {
		t.Fatalf("work %q, case %q, photo %q", work, trouble, shot)
	}
	return map[string][]state{
		"GET /{$}": {{path: "/"}, {path: "/", name: "benches-with-mistakes", broken: true}},
		"GET /bench/{id}": {
			{path: "/bench/tier-1-top", ready: `document.querySelectorAll('#best-part .take').length > 1 && !document.querySelector('#doubt-part .ask-doubt')`},
			{path: "/bench/tier-1-top?height=30&hours=12", name: "bench-what-if"},
			{path: "/bench/tier-3-bottom", name: "bench-far-reading"},
			{path: "/bench/broken", broken: true, status: 422},
			{path: "/bench/nobody", broken: true, status: 404}},
		"GET /bench/{id}/aim":                   {{path: "/bench/tier-1-top/aim?level=180&goal=even"}},
		"GET /bench/{id}/match":                 {{path: "/bench/tier-1-top/match?with=tier-2-middle&by=dli"}},
		"GET /bench/{id}/raise":                 {{path: bench + "/raise?level=200"}},
		"GET /bench/{id}/plan":                  {{path: bench + "/plan?for=kwh", ready: `document.querySelector('#answer .d-table') !== null`}},
		"GET /bench/{id}/lamps":                 {{path: "/bench/tier-1-top/lamps"}},
		"GET /bench/{id}/edit":                  {{path: bench + "/edit", ready: `document.querySelector('main').dataset.shown > 0`}, {path: bench + "/edit?field=method.instruments", name: "edit-method", ready: `document.querySelector('main').dataset.shown > 0`}},
		"GET /bench/{id}/rounds":                {{path: bench + "/rounds", ready: `document.querySelector('main').dataset.ready === 'yes' && document.querySelector('main').dataset.level`}, {path: bench + "/rounds#P3", name: "rounds-plant", ready: `document.querySelector('main').dataset.ready === 'yes' && !document.querySelector('#plant').hidden`}},
		"GET /bench/{id}/live":                  {{path: bench + "/live", ready: `document.querySelector('#chart-part canvas') !== null`}},
		"GET /trials/new":                       {{path: "/trials/new"}, {path: "/trials/new?" + twoLevels().Encode(), name: "trials-new-layouts", ready: `document.querySelectorAll('.proposal').length > 1`}},
		"GET /trial/{id}":                       {{path: trial}, {path: "/trial/lamp-colours.trial"}},
		"GET /trial/{id}/package.zip":           nil, // a file, as the next three
		"GET /trial/{id}/tables.xlsx":           nil,
		"GET /bench/{id}/package.zip":           nil,
		"GET /bench/{id}/tables.xlsx":           nil,
		"GET /about":                            {{path: "/about?for=" + trial + "&field=site"}},
		"GET /trial/{id}/plan":                  {{path: trial + "/plan"}},
		"GET /trial/{id}/record":                {{path: trial + "/record"}, {path: trial + "/record?unit=C1-L1&plant=P3", name: "record-plant"}},
		"GET /trial/{id}/import/{token}":        {{path: upload, name: "import-preview", status: 422}},
		"GET /import/{token}":                   {{path: diary, name: "notes-look"}},
		"GET /import":                           {{path: "/import?into=" + demo.SensorBench}},
		"GET /static/{name}":                    nil,
		"GET /bench/{id}/best":                  nil, // a part, as the next three
		"GET /bench/{id}/doubt":                 nil,
		"GET /bench/{id}/outlook":               nil,
		"GET /bench/{id}/report":                {{path: bench + "/report", ready: `document.querySelector('.papers a') !== null`}},
		"GET /bench/{id}/report/{file}":         {{path: bench + "/report/bench.html", name: "report-whole"}, {path: bench + "/report/bench-short.html", name: "report-short"}},
		"GET /trial/{id}/report":                {{path: trial + "/report", ready: `document.querySelector('.papers a') !== null`}},
		"GET /trial/{id}/report/{file}":         {{path: trial + "/report/trial.html", name: "trial-report-whole"}, {path: trial + "/report/trial-short.html", name: "trial-report-short"}},
		"GET /bench/{id}/profile":               nil, // a file, once something was learned
		"GET /trial/{id}/sheet.pdf":             nil,
		"GET /bench/{id}/live/chart":            nil, // numbers
		"GET /bench/{id}/seen/cycle.yaml":       nil, // a file
		"GET /bench/{id}/photo/{photo}":         nil,
		"GET /bench/{id}/photos/{photo}":        {{path: shot, ready: `document.querySelector('.shot img').naturalWidth > 100`}},
		"GET /bench/{id}/photos/{photo}/{name}": nil,
		"GET /bench/{id}/photos/strip.jpg":      nil,
		"GET /bench/{id}/photos/strip.gif":      nil,
		"GET /bench/{id}/photos/strip.png":      nil,
		"GET /bench/{id}/rounds/code":           nil, // an answer to a scan
		"GET /bench/{id}/trouble":               {{path: bench + "/trouble"}, {path: bench + "/trouble?s=inner-leaf-burn&s=spots", name: "trouble-question"}},
		"GET /bench/{id}/trouble/{case}":        {{path: trouble, name: "trouble-case"}},
		"GET /bench/{id}/air":                   {{path: "/bench/tier-1-top/air?night-humidity=92&blades=12&flow=90&distance=50&readings=0.2,0.3+m/s", ready: `document.querySelector('#hearts-part .d-table') !== null`}},
		"GET /bench/{id}/feed":                  {{path: bench + "/feed?now-ec=1.9&now-ph=6.5&now-volume=80"}, {path: "/bench/unsaid/feed", name: "feed-first", broken: true}},
		"GET /work/{id}":                        {{path: work, name: "work-one"}},
		"GET /work/{id}/events":                 nil, // a stream
		"GET /trial/{id}/record/look":           nil, // a part
		"GET /secure/authority.crt":             nil,
		"GET /help":                             nil, // leads to the next
		"GET /help/{path...}":                   {{path: "/help/"}, {path: "/help/how-to/mix-a-feed"}, {path: "/help/formats/watch"}, {path: "/help/?q=inner+burn+fan", name: "help-search"}},
		"GET /":                                 nil, // no page; what it says is looked at above
	}
}

// pagesOf are all pages of a site: every address that answers with a whole document.
func pagesOf(t testing.TB, s *httptest.Server, site *web.Site) (out []state) {
	t.Helper()
	known := states(t, s)
	for _, route := range site.Routes() {
		path, isGet := strings.CutPrefix(route.Pattern, "GET ")
		if !isGet {
			continue
		}
		some, ok := known[route.Pattern]
		delete(known, route.Pattern)
		if ok {
			out = append(out, some...)
			continue
		}
		id := demo.SensorBench
		if strings.HasPrefix(path, "/trial/") {
			id = "light-levels.trial"
		}
		path = strings.NewReplacer("{$}", "", "{id}", id).Replace(path)
		if strings.Contains(path, "{") {
			t.Errorf("%s is not looked at: say in states what stands for its words, or that it is no page", route.Pattern)
			continue
		}
		status, h, body := get(t, s.URL+path)
		if status != http.StatusOK {
			t.Errorf("%s answers %d to %s: say in states with what it is asked", route.Pattern, status, path)
			continue
		}
		if strings.HasPrefix(h.Get("Content-Type"), "text/html") && strings.HasPrefix(strings.ToLower(strings.TrimSpace(body)), "<!doctype html") {
			out = append(out, state{path: path})
		}
	}
	for pattern := range known {
		t.Errorf("there is no address %s any more: take it out of states", pattern)
	}
	return out
}

var outOfNames = regexp.MustCompile(`[^a-z0-9]+`)

func (p state) picture() string {
	if p.name != "" {
		return p.name
	}
	path, _, _ := strings.Cut(p.path, "?")
	if path == "/" {
		return "benches"
	}
	return strings.Trim(outOfNames.ReplaceAllString(strings.ToLower(path), "-"), "-")
}

// A console collects what the browser complains of.
type console struct {
	mu    sync.Mutex
	lines []string
}

func listen(ctx context.Context) *console {
	c := &console{}
	go func() {
		for m, err := range chromedp.Console(ctx) {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleException {
				c.mu.Lock()
				c.lines = append(c.lines, m.Text)
				c.mu.Unlock()
			}
		}
	}()
	return c
}

func (c *console) take() (out []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	out, c.lines = c.lines, nil
	return out
}

// inTheme has the browser ask for a light or dark page, as a person's own does.
func inTheme(t testing.TB, ctx context.Context, theme string) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		return target.Call(ctx, "Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": theme}}}, nil)
	})); err != nil {
		t.Fatal(err)
	}
}

// loads is what the page has asked for: bytes as they came over the line, and the address. What
// came from the browser's own store counts as if it had not been there; what a phone keeps for
// rounds without network does not come over the line, and tells its size unpacked.
const loads = `performance.getEntriesByType('navigation').concat(performance.getEntriesByType('resource')).filter((e) => !e.name.startsWith('blob:') && !e.workerStart)
	.map((e) => Math.max(e.transferSize, e.encodedBodySize + 300) + ' ' + e.name).join('\n')`

// fewAlike takes out of tables, lists and pictures what is like a dozen others before it. Rules
// that hold for those hold for the rest, and a report has thousands.
const fewAlike = `for (const parent of document.querySelectorAll('tbody, tr, ul, ol, svg, svg g')) {
	const seen = new Map();
	for (const c of [...parent.children]) {
		const kind = c.tagName + ' ' + c.getAttribute('class') + ' ' + c.getAttribute('fill') + ' ' + c.getAttribute('role');
		seen.set(kind, (seen.get(kind) ?? 0) + 1);
		if (seen.get(kind) > 12) c.remove();
	}
}; true`

// Every page, on a desktop and on a phone, in light and dark: it is light, complains of
// nothing, asks for nothing elsewhere, keeps WCAG 2.2 AA as far as a program can tell, and is
// no wider than a phone. Addresses come from [web.Site.Routes]; one that is not looked at
// fails by name.
func TestEveryPage(t *testing.T) {
	limit := 12 * time.Minute
	if *pictures != "" {
		limit = 40 * time.Minute
	}
	ctx := browser(t, limit)
	s, site := everything(t)
	pages := pagesOf(t, s, site)
	if len(pages) < 30 {
		t.Errorf("%d pages", len(pages))
	}
	pages = slices.DeleteFunc(pages, func(p state) bool { return !strings.Contains(p.picture(), *onePage) })
	act(t, ctx, "start", chromedp.Navigate("about:blank"))
	complaints := listen(ctx)
	heaviest, heavy := 0, ""
	looks := []struct {
		name          string
		width, height int64
		theme         string
	}{{"desktop", 1280, 900, "light"}, {"phone", 390, 844, "dark"}} // colours do not depend on the width, nor room on the colours
	for _, look := range looks {
		act(t, ctx, look.name, chromedp.EmulateViewport(look.width, look.height))
		inTheme(t, ctx, look.theme)
		complaints.take()
		for _, p := range pages {
			where := fmt.Sprintf("%s on a %s, %s", p.path, look.name, look.theme)
			at := s.URL
			if p.broken {
				at = shared(t).URL
			}
			began := time.Now()
			act(t, ctx, where, chromedp.Navigate("about:blank"), chromedp.Navigate(at+p.path)) // the first: a word behind # alone would load nothing
			if p.ready != "" {
				until(t, ctx, "!!("+p.ready+")")
			}
			there := time.Since(began)
			if look.name == "desktop" {
				total, parts := 0, ask[string](t, ctx, loads)
				for line := range strings.Lines(parts) {
					size, from, _ := strings.Cut(strings.TrimSpace(line), " ")
					if !strings.HasPrefix(from, at+"/") {
						t.Errorf("%s asks elsewhere: %s", where, from)
					}
					n, err := strconv.Atoi(size)
					if err != nil {
						t.Fatal(err)
					}
					if !photograph.MatchString(from) {
						total += n
					}
				}
				if total > mostFirstLoad {
					t.Errorf("%s takes %d bytes at first:\n%s", where, total, parts)
				}
				if total > heaviest {
					heaviest, heavy = total, p.path
				}
			}
			if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
				t.Errorf("%s is %d px too wide", where, over)
			}
			if *pictures != "" {
				// What sticks to an edge of the screen would lie across a picture of the whole page.
				ask[bool](t, ctx, `for (const e of document.querySelectorAll('.bar,.controls,.keepbar,.keep-bar')) if (getComputedStyle(e).position === 'sticky') e.style.position = 'static'; true`)
				for _, theme := range []string{"light", "dark"} {
					inTheme(t, ctx, theme)
					keepPicture(t, ctx, p.picture()+"-"+look.name+"-"+theme+".png")
				}
				inTheme(t, ctx, look.theme)
			}
			ask[bool](t, ctx, fewAlike)
			axeAt(t, ctx, where)
			t.Logf("%s: there after %.1f s, looked at after %.1f s", where, there.Seconds(), time.Since(began).Seconds())
			for _, c := range complaints.take() {
				if p.status == 0 || !strings.Contains(c, fmt.Sprint(p.status)) { // the browser notes refusals, which the page tells
					t.Errorf("%s: the browser complains: %s", where, c)
				}
			}
		}
	}
	if *onePage == "" || *onePage == "follow" {
		follow(t, ctx, s.URL)
	}
	t.Logf("%d pages; the heaviest first load is %s with %.1f kB compressed", len(pages), heavy, float64(heaviest)/1000)
}

// follow measures in the browser, on a desktop, how long pictures take to follow a control: from
// the event to the frame in which the new picture stands. Of several the median counts.
func follow(t *testing.T, ctx context.Context, at string) {
	t.Helper()
	act(t, ctx, "desktop", chromedp.EmulateViewport(1280, 900))
	for _, c := range []struct{ what, path, ready, turn, picture string }{
		{"a slider of the bench to its light", "/bench/tier-1-top", `document.querySelectorAll('#best-part .take').length > 1 && !document.querySelector('#doubt-part .ask-doubt')`,
			`(i) => { const s = document.querySelector('[data-for="c-dimming"]'); s.value = 60 + i; s.dispatchEvent(new Event('input', {bubbles: true})); }`, `#light-part`},
		{"a step of the lamp height to its light", "/bench/tier-1-top", `document.querySelectorAll('#best-part .take').length > 1 && !document.querySelector('#doubt-part .ask-doubt')`,
			`(i) => { const s = document.querySelector('[data-for="c-height"]'); s.value = 25 + i / 2; s.dispatchEvent(new Event('input', {bubbles: true})); }`, `#light-part`},
		{"a jump of the lamp height to its light", "/bench/tier-1-top", `document.querySelectorAll('#best-part .take').length > 1 && !document.querySelector('#doubt-part .ask-doubt')`,
			`(i) => { const s = document.querySelector('[data-for="c-height"]'); s.value = 22 + (5 * i) % 7 * 3; s.dispatchEvent(new Event('input', {bubbles: true})); }`, `#light-part`},
		{"an arrow key in the editor to the plan", "/bench/tier-2-middle/edit", `document.querySelector('main').dataset.shown > 0`,
			`(i) => { const g = document.querySelector('#side [data-key="lamp0"]'); g.focus(); g.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowDown', bubbles: true, cancelable: true})); }`, `#key`},
		{"a tap on a plant to its form", "/bench/tier-2-middle/rounds", `document.querySelector('main').dataset.ready === 'yes'`,
			`(i) => { location.hash = '#P' + (i + 1); }`, `.plant-name`},
	} {
		act(t, ctx, c.what, chromedp.Navigate("about:blank"), chromedp.Navigate(at+c.path))
		until(t, ctx, "!!("+c.ready+")")
		took, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](fmt.Sprintf(`(async () => {
			const turn = %s, box = document.querySelector(%q), all = [];
			for (let i = 0; i < 7; i++) {
				const began = performance.now();
				await new Promise((done) => {
					new MutationObserver((_, o) => { o.disconnect(); requestAnimationFrame(() => setTimeout(done)); }).observe(box, {childList: true, characterData: true, subtree: true});
					turn(i);
				});
				all.push(performance.now() - began);
				do await new Promise((r) => setTimeout(r, 400)); while (document.querySelector('.busy'));
			}
			return all.sort((a, b) => a - b);
		})()`, c.turn, c.picture), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		median := time.Duration(took[len(took)/2] * float64(time.Millisecond))
		others := busy()
		t.Logf("%s: %.0f ms, the median of %d from %.0f to %.0f, on a machine that gives this test 1/%.1f of a processor", c.what, median.Seconds()*1000, len(took), took[0], took[len(took)-1], others)
		if most := time.Duration(besides * others * float64(mostWait)); median > most {
			t.Errorf("%s: %v, more than %v, which is %v times %d for other tests and %.1f for what else the machine does", c.what, median, most, mostWait, besides, others)
		}
	}
}

// busy is how much longer work takes here now than it would alone: 1 on a quiet machine.
func busy() float64 {
	var all []float64
	for range 5 {
		runtime.LockOSThread()
		var before, after syscall.Rusage
		syscall.Getrusage(syscall.RUSAGE_THREAD, &before) // of this thread, which there is
		began := time.Now()
		for sum, i := 0.0, 0; i < 20_000_000; i++ {
			sum += float64(i)
			spent = sum
		}
		wall := time.Since(began)
		syscall.Getrusage(syscall.RUSAGE_THREAD, &after)
		runtime.UnlockOSThread()
		if own := time.Duration(after.Utime.Nano() - before.Utime.Nano() + after.Stime.Nano() - before.Stime.Nano()); own > 0 {
			all = append(all, max(1, wall.Seconds()/own.Seconds()))
		}
	}
	slices.Sort(all)
	if len(all) == 0 {
		return 1
	}
	return all[len(all)/2]
}

var spent float64 // keeps the work of [busy] from being left out

// keepPicture writes a picture of the whole page.
func keepPicture(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	dir := *pictures
	if !filepath.IsAbs(dir) {
		dir = filepath.Join("..", dir)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name), picture, 0o644); err != nil {
		t.Fatal(err)
	}
}

// readme is whether the pictures of README and docs are made anew:
//
//	go test ./web -run ReadmePictures -readme
var readme = flag.Bool("readme", false, "make the pictures of README.md and docs anew")

// A documentPicture is one that documents show: of which page, when it is ready, from what
// down, and how large.
type documentPicture struct {
	name, path, ready, to string
	width, height         int64
}

func documentPictures() []documentPicture {
	return []documentPicture{
		{"bench-page", "/bench/tier-1-top", `document.querySelector('#light-part svg') !== null`, "main .crumb", 1240, 1420},
		{"findings-page", "/trial/light-levels.trial", `document.querySelector('#findings svg') !== null`, "main .crumb", 1240, 1300},
		{"rounds-page", "/bench/tier-2-middle/rounds#P3", `!document.querySelector('#plant').hidden`, ".which", 390, 844},
		{"live-page", "/bench/tier-2-middle/live", `document.querySelectorAll('#chart-part canvas').length === 6`, "main .crumb", 1240, 1180},
		{"aim-page", "/bench/tier-1-top/aim?level=180", `document.querySelector('main svg') !== null`, "main .crumb", 1240, 1100},
		{"plan-page", "/trials/new?" + twoLevels().Encode(), `document.querySelectorAll('.proposal').length > 1`, "main h1", 1240, 1300},
		{"trouble-page", "/bench/tier-1-top/trouble?s=inner-leaf-burn", `document.querySelector('main svg') !== null`, "main .crumb", 1240, 1200},
		{"edit-page", "/bench/tier-2-middle/edit", `document.querySelector('main').dataset.shown > 0`, "main .crumb", 1240, 1000},
		{"feed-page", "/bench/tier-1-top/feed?now-ec=1.9&now-ph=6.5&now-volume=80", `document.querySelector('main') !== null`, "main .crumb", 1240, 1000},
	}
}

// Every picture that a document shows is made by [TestReadmePictures], and is there.
func TestDocumentPictures(t *testing.T) {
	made := map[string]bool{}
	for _, p := range documentPictures() {
		made[p.name+".png"] = true
		if _, err := os.Stat(filepath.Join("..", "docs", p.name+".png")); err != nil {
			t.Error(err)
		}
	}
	n := 0
	pages, err := filepath.Glob("../docs/*/*.md")
	if err != nil {
		t.Fatal(err)
	}
	top, err := filepath.Glob("../docs/*.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, page := range append(append(pages, top...), "../README.md") {
		raw, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(?:\]\(|src=")([^)"\s]+\.(?:png|jpg|svg|gif))`).FindAllStringSubmatch(string(raw), -1) {
			if n++; !made[filepath.Base(m[1])] {
				t.Errorf("%s shows %s, which documentPictures does not make", page, m[1])
			}
		}
	}
	if n < 10 {
		t.Errorf("only %d pictures are shown", n)
	}
}

// The pictures of the documents are made by this, and by nothing else; look at them before they
// are kept.
func TestReadmePictures(t *testing.T) {
	if !*readme {
		t.Skip("pictures of the documents are made with -readme")
	}
	ctx := browser(t, 10*time.Minute)
	s, _ := everything(t)
	for _, p := range documentPictures() {
		act(t, ctx, p.name, chromedp.EmulateViewport(p.width, p.height), chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
		inTheme(t, ctx, "light")
		until(t, ctx, p.ready)
		ask[bool](t, ctx, fmt.Sprintf(`document.documentElement.style.scrollBehavior = 'auto'; window.scrollTo(0, document.querySelector(%q).getBoundingClientRect().top + scrollY - 12); true`, p.to))
		time.Sleep(300 * time.Millisecond) // what was scrolled is painted
		raw, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		small, err := fewColours(raw)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join("..", "docs", p.name+".png"), small, 0o644); err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d kB of %d", p.name, len(small)/1000, len(raw)/1000)
	}
}

// fewColours is a picture in 256 colours: those that are there most, others as the nearest of
// them. Pages have flat colours and their soft edges, so that nothing is seen of it.
func fewColours(raw []byte) ([]byte, error) {
	m, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil, err
	}
	b := m.Bounds()
	count := map[color.RGBA]int{}
	at := func(x, y int) color.RGBA {
		r, g, bl, _ := m.At(x, y).RGBA()
		return color.RGBA{uint8(r >> 8), uint8(g >> 8), uint8(bl >> 8), 255}
	}
	coarse := func(c color.RGBA) color.RGBA { return color.RGBA{c.R &^ 7, c.G &^ 7, c.B &^ 7, 255} }
	most := map[color.RGBA]color.RGBA{} // of each coarse colour the one that is there most
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			count[at(x, y)]++
		}
	}
	sum := map[color.RGBA]int{}
	for c, n := range count {
		k := coarse(c)
		sum[k] += n
		if was, ok := most[k]; !ok || n > count[was] || n == count[was] && (c.R < was.R || c.R == was.R && (c.G < was.G || c.G == was.G && c.B < was.B)) {
			most[k] = c
		}
	}
	keys := slices.Collect(maps.Keys(sum))
	slices.SortFunc(keys, func(a, b color.RGBA) int {
		return cmp.Or(cmp.Compare(sum[b], sum[a]), cmp.Compare(a.R, b.R), cmp.Compare(a.G, b.G), cmp.Compare(a.B, b.B))
	})
	var few color.Palette
	for _, k := range keys[:min(len(keys), 256)] {
		few = append(few, most[k])
	}
	out := image.NewPaletted(b, few)
	known := map[color.RGBA]uint8{}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := at(x, y)
			i, ok := known[c]
			if !ok {
				i = uint8(few.Index(c))
				known[c] = i
			}
			out.SetColorIndex(x, y, i)
		}
	}
	var w bytes.Buffer
	err = (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&w, out)
	return w.Bytes(), err
}
