package web_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/app/live"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// liveSite is a site of the demo whose middle tier has its sensors, with three days of
// readings; one of them has been silent for two hours.
func liveSite(t testing.TB) (*httptest.Server, *sqlite.DB) {
	t.Helper()
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	readSensors(t, s)
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
	if err := engine.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	site := httptest.NewServer(web.New(web.Options{Folder: dir, Hosts: []string{"127.0.0.1"}, Live: engine, Zone: time.UTC}).Handler())
	t.Cleanup(site.Close)
	return site, s
}

// readSensors registers the sensors of the middle tier and gives them three days of readings;
// one of them has been silent for two hours.
func readSensors(t testing.TB, s store.Store) {
	t.Helper()
	ctx := context.Background()
	now := time.Now().UTC().Truncate(demo.SensorEvery)
	for _, x := range demo.Sensors() {
		id, err := s.PutSensor(ctx, store.Sensor{Key: x.Key, Bench: demo.SensorBench, Quantity: x.Quantity, Unit: x.Unit, X: &x.X, Y: &x.Y, Height: &x.Z, Every: demo.SensorEvery})
		if err != nil {
			t.Fatal(err)
		}
		last := now
		if x.Key == "middle/co2" {
			last = now.Add(-2 * time.Hour)
		}
		var rs []store.Reading
		for at := now.Add(-72 * time.Hour); !at.After(last); at = at.Add(demo.SensorEvery) {
			rs = append(rs, store.Reading{Sensor: id, At: store.At(at), Value: x.Read(at)})
		}
		if err := s.Append(ctx, rs); err != nil {
			t.Fatal(err)
		}
	}
}

// The page tells what the sensors read, what follows, and what is wrong; somebody can say
// that they know.
func TestLive(t *testing.T) {
	site, s := liveSite(t)
	at := site.URL + "/bench/" + demo.SensorBench
	status, _, page := get(t, at+"/live")
	if status != 200 {
		t.Fatalf("status %d\n%s", status, page)
	}
	for _, want := range []string{"middle/ppfd", "air temperature", "Today beside the plan", "middle/co2", "silent", `class="spark"`, "I know of it", "Mean DLI"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if _, _, part := get(t, at+"/live/now"); strings.Contains(part, "<html") || !strings.Contains(part, "middle/ppfd") {
		t.Error("the part is no part")
	}
	if status, _, page := get(t, site.URL+"/"); status != 200 || !strings.Contains(page, at[len(site.URL):]+"/live") {
		t.Errorf("the card has no way to the page: %d", status)
	}

	now := time.Now()
	ask := func(sensor string, from, to time.Time, pieces int) (int, live.Chart) {
		status, _, body := get(t, fmt.Sprintf("%s/live/chart?sensor=%s&from=%d&to=%d&pieces=%d", at, url.QueryEscape(sensor), from.Unix(), to.Unix(), pieces))
		var c live.Chart
		if status == 200 {
			if err := json.Unmarshal([]byte(body), &c); err != nil {
				t.Fatal(err)
			}
		}
		return status, c
	}
	if status, c := ask("middle/air", now.AddDate(-10, 0, 0), now, 500); status != 200 || c.Readings < 430 || c.Unit != "°C" || len(c.At) == 0 {
		t.Errorf("ten years: %d, %+v", status, c)
	}
	for name, got := range map[string]int{
		"no sensor": first(ask("nobody", now.Add(-time.Hour), now, 10)),
		"backwards": first(ask("middle/air", now, now.Add(-time.Hour), 10)),
		"no pieces": first(ask("middle/air", now.Add(-time.Hour), now, 0)),
	} {
		if got != 404 && got != 400 {
			t.Errorf("%s answers %d", name, got)
		}
	}

	open, err := s.OpenMessages(context.Background(), demo.SensorBench)
	if err != nil || len(open) == 0 {
		t.Fatalf("%v, %v", open, err)
	}
	known := func(id int64, by string) int {
		status, _ := post(t, at+"/live/known", url.Values{"message": {fmt.Sprint(id)}, "by": {by}})
		return status
	}
	if known(open[0].ID, "") != 400 || known(-5, "Ida") != 404 || known(open[0].ID, "Ida") != 303 {
		t.Error("to know of a message does not answer as it should")
	}
	if _, _, page := get(t, at+"/live"); !strings.Contains(page, "Ida knows of it") {
		t.Error("nobody knows of it")
	}
	if status, _, _ := get(t, site.URL+"/bench/tier-1-top/live"); status != 200 {
		t.Errorf("a bench without sensors answers %d", status)
	}
	if status, _, _ := get(t, site.URL+"/bench/nobody/live"); status != 404 {
		t.Errorf("a bench that is not there answers %d", status)
	}
}

func first(status int, _ live.Chart) int { return status }

// Charts are drawn, move by button and key, and have tables; the page fits a phone.
func TestLiveInABrowser(t *testing.T) {
	site, _ := liveSite(t)
	ctx := browser(t, 5*time.Minute)
	for _, width := range []int64{1280, 390} {
		act(t, ctx, "open", chromedp.EmulateViewport(width, 900), chromedp.Navigate(site.URL+"/bench/"+demo.SensorBench+"/live"))
		wait(t, ctx, `document.querySelectorAll('.chart canvas').length === 6 && document.querySelector('#chart-part').dataset.took !== undefined`)
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("at %d px the page is %d px too wide", width, over)
		}
		if small := ask[string](t, ctx, `[...document.querySelectorAll('#chart-part button, .known button, .known input')].filter(e => e.offsetParent && e.type !== 'hidden' && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join('\n')`); small != "" {
			t.Errorf("smaller than 44 px:\n%s", small)
		}
	}
	state := func() string { return text(t, ctx, "#chart-part .chart-bar .state") }
	before := state()
	act(t, ctx, "year", chromedp.Click(`[aria-label="The last year"]`))
	wait(t, ctx, `document.querySelector('#chart-part .chart-bar .state').textContent !== `+"`"+before+"`")
	year := state()
	act(t, ctx, "back", chromedp.Click(`[aria-label="Back to the stretch before"]`))
	wait(t, ctx, `document.querySelector('#chart-part .chart-bar .state').textContent === `+"`"+before+"`")
	ask[bool](t, ctx, `document.querySelector('.chart').dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowLeft', bubbles: true}))`)
	wait(t, ctx, `document.querySelector('#chart-part .chart-bar .state').textContent !== `+"`"+before+"`")
	if year == before {
		t.Error("a year is a day")
	}
	ask[bool](t, ctx, `(() => { document.querySelector('.chart details').open = true; return true })()`)
	wait(t, ctx, `document.querySelectorAll('.chart table tbody tr').length > 20`)
}

// What comes from elsewhere is as it was published (uPlot 1.6.32, npm).
func TestThirdPartyFiles(t *testing.T) {
	for name, want := range map[string]string{
		"static/uplot.js":      "19c8d4c6ad88929a79f4ae49d6f7161566dfd0ba3d15cc495e974f787eb78f1f",
		"static/uplot.css":     "df630c6a8d6f8eeaff264b50f73ce5b114f646ffd9a0bb74f049b0a00135fa04",
		"static/uplot.LICENSE": "8f989229699b4fe2f1a0432d0e9edc338a8a911e250e2d1b01ecd770a5f5b1bd",
	} {
		body, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%x", sha256.Sum256(body)); got != want {
			t.Errorf("%s has the SHA-256 %s", name, got)
		}
	}
}
