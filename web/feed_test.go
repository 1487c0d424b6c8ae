package web_test

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/formats/feedfile"
)

// The way of a grower: the tank of the demo, a look at it into the log, the cupboard changed as text,
// and a first feed for a bench that has none. Mistakes change nothing and say what is wrong.
func TestFeedPages(t *testing.T) {
	dir := folder(t)
	s := site(t, dir)
	get := func(path string, code int, parts ...string) string {
		t.Helper()
		q, err := http.Get(s.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer q.Body.Close()
		b, err := io.ReadAll(q.Body)
		if err != nil {
			t.Fatal(err)
		}
		if q.StatusCode != code {
			t.Errorf("%s: code %d, want %d", path, q.StatusCode, code)
		}
		for _, p := range parts {
			if !strings.Contains(string(b), p) {
				t.Errorf("%s: %q is missing", path, p)
			}
		}
		return string(b)
	}
	post := func(path string, v url.Values, code int, parts ...string) {
		t.Helper()
		q, err := http.PostForm(s.URL+path, v)
		if err != nil {
			t.Fatal(err)
		}
		defer q.Body.Close()
		b, err := io.ReadAll(q.Body)
		if err != nil {
			t.Fatal(err)
		}
		if q.StatusCode != code {
			t.Errorf("%s: code %d, want %d", path, q.StatusCode, code)
		}
		for _, p := range parts {
			if !strings.Contains(string(b), p) {
				t.Errorf("%s: %q is missing", path, p)
			}
		}
	}
	file := func(name string) string {
		t.Helper()
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	page := get("/bench/tier-1-top/feed", 200, "Tank A", "Tank B", "calcium nitrate 15.5-0-0", "Acid into water, never water into acid", "Days until sodium")
	if len(page) > 100<<10 {
		t.Errorf("the page has %d bytes", len(page))
	}
	get("/bench/tier-1-top/feed?recipe=Hoagland+%26+Arnon+solution+2&strength=50&tank=80+L&stock=no&mix=cheapest", 200, "what if", "For 80 L of feed")
	get("/bench/tier-1-top/feed?strength=many", 422, "a share of the recipe")
	get("/bench/tier-1-top/feed?now-ec=2.4&now-ph=6.5&now-volume=100&now-ions=na+276+mg/L", 200, "Make the tank up anew")
	get("/bench/tier-1-top/feed?now-ph=14", 422, "cannot be")

	was := file("rack.feed.yaml")
	post("/bench/tier-1-top/feed/log", url.Values{"file": {"rack.feed.yaml"}, "date": {"2026-11-22"}, "volume": {"90"}, "ec": {"900 ppm"}}, 422, "ppm")
	post("/bench/tier-1-top/feed/log", url.Values{"file": {"rack.feed.yaml"}, "date": {"2026-11-22"}, "volume": {"90"}, "added": {"gunpowder 3 g"}}, 422, "gunpowder")
	if file("rack.feed.yaml") != was {
		t.Fatal("a look with a mistake was written")
	}
	post("/bench/tier-1-top/feed/log", url.Values{"file": {"rack.feed.yaml"}, "date": {"2026-11-22"}, "volume": {"90,5"}, "ec": {"1,6"}, "ph": {"6.3"}, "water": {"29"}, "added": {"potassium nitrate 20 g, nitric acid 9 mL"}, "ions": {"ca 100 mg/L"}, "note": {"it's: {odd}"}}, 200, "Kept.", "2026-11-22", "20 g potassium nitrate")
	if now := file("rack.feed.yaml"); !strings.HasPrefix(now, was[:len(was)-1]) {
		t.Error("the log was written elsewhere than at its end")
	}
	p, problems, err := feedfile.Read(strings.NewReader(file("rack.feed.yaml")))
	if err != nil || p == nil || len(p.Log) != 6 || p.Log[5].Litres != 90.5 || p.Log[5].Note != "it's: {odd}" {
		t.Fatalf("%v, %v", problems, err)
	}

	// The file as text: only over what was read.
	page = get("/bench/tier-1-top/feed", 200)
	_, rest, _ := strings.Cut(page, `name="was" value="`)
	stamp, _, _ := strings.Cut(rest, `"`)
	text := strings.Replace(file("rack.feed.yaml"), "ph: 5.8", "ph: 6.0", 1)
	post("/bench/tier-1-top/feed/file", url.Values{"file": {"rack.feed.yaml"}, "was": {"0"}, "text": {text}}, 422, "changed by somebody else")
	post("/bench/tier-1-top/feed/file", url.Values{"file": {"rack.feed.yaml"}, "was": {stamp}, "text": {strings.Replace(text, "calcium nitrate 15.5-0-0", "calcium nitrate", 1)}}, 422, "several calcium nitrates")
	post("/bench/tier-1-top/feed/file", url.Values{"file": {"rack.feed.yaml"}, "was": {stamp}, "text": {text}}, 200)
	if !strings.Contains(file("rack.feed.yaml"), "ph: 6.0") {
		t.Error("the text was not written")
	}

	// A first feed.
	get("/bench/unsaid/feed", 200, "No feed is described", "Two calcium nitrates")
	first := url.Values{"recipe": {"Hoagland & Arnon solution 2"}, "tank": {"80"}, "metal": {"11 %"}, "acid": {"38 %"}, "product": {"potassium nitrate", "iron DTPA"}}
	first.Set("water", "ca: 40 mg/L")
	post("/bench/unsaid/feed", first, 422, "alkalinity")
	first.Set("water", "ca: 40 mg/L\r\nalkalinity: 2 meq/L\r\n")
	post("/bench/unsaid/feed", first, 200, "nothing in the cupboard holds it", "The cupboard has no acid")
	if !strings.Contains(file("unsaid.feed.yaml"), "Hoagland") {
		t.Error("no file was written")
	}
}
