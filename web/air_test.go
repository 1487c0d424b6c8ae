package web_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/chromedp/chromedp"

	"underlamp/demo"
	"underlamp/web"
)

// airSite is a site with the demo, and a bench of a species that is not forecast.
func airSite(t *testing.T) http.Handler {
	t.Helper()
	return web.New(web.Options{Folder: demo.Folder(), Hosts: []string{"example.com"}}).Handler()
}

func airGet(t *testing.T, h http.Handler, path string) (int, string) {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://example.com"+path, nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	body, err := io.ReadAll(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	return w.Code, string(body)
}

// The page stands without script: what was turned, what is asked of a fan and of an
// anemometer are in its address.
func TestAirPage(t *testing.T) {
	h := airSite(t)
	code, now := airGet(t, h, "/bench/tier-2-middle/air")
	for _, want := range []string{"Air and room", "Water to remove", "Ways to hold this air", "As it is set now", "dew point", "Machines in a wet room", "5\u202f000 ppm", "The numbers as a table"} {
		if code != http.StatusOK || !strings.Contains(now, want) {
			t.Errorf("code %d, without %q", code, want)
		}
	}
	if strings.Contains(now, "What would change") {
		t.Error("nothing was turned, yet two airs are compared")
	}
	code, then := airGet(t, h, "/bench/tier-2-middle/air?night-humidity=93&day=10")
	if code != http.StatusOK || !strings.Contains(then, "What would change") || !strings.Contains(then, "On day 10") || !strings.Contains(then, `value="93"`) {
		t.Errorf("code %d, a turned humidity does not show", code)
	}
	code, part := airGet(t, h, "/bench/tier-2-middle/air/part?night-humidity=93&day=10")
	if code != http.StatusOK || !strings.Contains(then, part) {
		t.Errorf("code %d, the part is not that of the page", code)
	}
	for _, c := range []struct {
		query, want string
		code        int
	}{
		{"readings=" + url.QueryEscape("0.2; 0.35; 0.1 m/s"), "Of 3 readings", http.StatusOK},
		{"readings=fast", "This cannot be asked", http.StatusUnprocessableEntity},
		{"blades=12&flow=90", "the distance to the heads must be a number above 0", http.StatusUnprocessableEntity},
		{"blades=900&flow=90&distance=40", "2 cm to 1.5 m", http.StatusUnprocessableEntity},
		{"night-humidity=1e999&day-temperature=NaN&day=-4&fan=sideways", "As it is set now", http.StatusOK},
		{"night-humidity=900", "What if", http.StatusOK},
	} {
		if code, page := airGet(t, h, "/bench/tier-2-middle/air?"+c.query); code != c.code || !strings.Contains(page, c.want) {
			t.Errorf("%s: code %d, want %d with %q", c.query, code, c.code, c.want)
		}
	}
	if code, _ := airGet(t, h, "/bench/nobody/air"); code != http.StatusNotFound {
		t.Errorf("a bench that is not there: %d", code)
	}
}

// Of a crop that is not forecast the air stands, and its water is refused with the reason.
func TestAirOfAnotherSpecies(t *testing.T) {
	src := "underlamp: 1\nspace: {width: 60 cm, depth: 40 cm, height: 40 cm}\nlamps: [{at: [30 cm, 20 cm], height: 30 cm, watts: 40 W}]\nplants: {grid: {columns: 3, rows: 2}}\ncrop: {species: basil}\n"
	h := web.New(web.Options{Folder: fstest.MapFS{"herbs.yaml": {Data: []byte(src)}}, Hosts: []string{"example.com"}}).Handler()
	code, page := airGet(t, h, "/bench/herbs/air")
	if code != http.StatusOK || !strings.Contains(page, "No water is forecast") || !strings.Contains(page, "VPD of the air") || strings.Contains(page, "Ways to hold") {
		t.Errorf("code %d", code)
	}
}

// walkAir turns a control of the page Air on a phone: what it shows follows, and its address.
func walkAir(t *testing.T, ctx context.Context, site string) {
	t.Helper()
	act(t, ctx, "air", chromedp.Navigate(site+"/bench/tier-2-middle/air"))
	wait(t, ctx, `document.querySelector('#hearts-part .d-table') !== null`)
	if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
		t.Errorf("the page Air is %d px wider than a phone", over)
	}
	if small := ask[string](t, ctx, `[...document.querySelectorAll('button, select, .exact, nav a, .home')].filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join('\n')`); small != "" {
		t.Errorf("smaller than 44 px:\n%s", small)
	}
	ask[bool](t, ctx, `(() => { const s = document.querySelector('.slide[data-for="c-night-humidity"]'); s.value = 93; s.dispatchEvent(new Event('input', {bubbles: true})); return true; })()`)
	wait(t, ctx, `document.querySelector('#air-part').textContent.includes('What would change') && location.search.includes('night-humidity=93')`)
	if state := text(t, ctx, ".controls .state"); state != "What if" {
		t.Errorf("state %q", state)
	}
}
