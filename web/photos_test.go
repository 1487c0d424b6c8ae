package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	book "underlamp/app/photo"
	"underlamp/demo"
	"underlamp/formats/photofile"
	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// photoSite is a site of the demo with a store, which measures what comes.
func photoSite(t *testing.T) *roundSite {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	site := web.New(web.Options{Folder: os.DirFS(folder(t)), Hosts: []string{"127.0.0.1", "localhost"}, Rounds: s, Zone: time.UTC})
	r := &roundSite{Server: httptest.NewServer(site.Handler()), store: s}
	r.at = r.URL + "/bench/" + roundBench
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); site.MeasurePhotos(ctx) }()
	t.Cleanup(func() { cancel(); <-done; r.Close(); s.Close() })
	return r
}

func demoShot(t testing.TB, name string) []byte {
	t.Helper()
	data, err := fs.ReadFile(demo.Photos(), name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// keepShot puts a photo of the demo into a store, as a folder of photos does.
func keepShot(t testing.TB, s store.Store, name string) store.Photo {
	t.Helper()
	data := demoShot(t, name)
	info, err := photofile.Check(data)
	if err != nil {
		t.Fatal(err)
	}
	taken, _ := info.Shot.Taken(time.UTC)
	kept := book.Photo(roundBench, data, info, taken, time.Now(), name)
	if err := book.Put(t.Context(), s, kept, data); err != nil {
		t.Fatal(err)
	}
	return kept
}

// A photo that a round sends is measured, its result comes back to the phone, its figures and
// pictures stand on pages, and a person confirms a spot with one tap. What is shown and handed
// on does not say where it was taken; the original stays byte by byte.
func TestPhotosFromRoundToVerdict(t *testing.T) {
	s := photoSite(t)
	data := demoShot(t, "2026-11-02-P8.jpg")
	send := func(id string, data []byte) {
		t.Helper()
		if status, a := postRaw(t, s.at+"/rounds/photo?id="+id+"&phone=phone-aaaa", "image/jpeg", data); status != 200 {
			t.Fatalf("%d %v", status, a)
		}
		s.send(t, packetOf("phone-aaaa", 0, fmt.Sprintf(`"id":"entry-%s","plant":"P9","what":"photo","photo":%q,"by":"Ada"`, id, id)))
	}
	send("photo-0001", data)
	send("photo-0002", demoShot(t, "2026-11-02-P11.jpg"))
	state := func(id string) map[string]any {
		t.Helper()
		for begin := time.Now(); time.Since(begin) < browserWait; time.Sleep(100 * time.Millisecond) {
			_, _, body := get(t, s.at+"/rounds/photo?photo="+id)
			var a map[string]any
			if err := json.Unmarshal([]byte(body), &a); err != nil {
				t.Fatal(err)
			}
			if a["state"] != "waiting" {
				return a
			}
		}
		t.Fatal("it was never measured")
		return nil
	}
	if a := state("photo-0001"); a["state"] != "measured" || !strings.HasPrefix(a["text"].(string), "P8: 4") || !strings.Contains(a["text"].(string), "cm²") {
		t.Errorf("%v", a)
	}
	if a := state("photo-0002"); a["state"] != "refused" || !strings.Contains(a["text"].(string), "label") {
		t.Errorf("%v", a)
	}
	_, _, page := get(t, s.at+"/photos")
	for _, want := range []string{`photos?plant=P8`, "Not measured", "Lay the label flat", "strip.png", "Labels (PDF)"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of photos has no %q", want)
		}
	}
	_, _, page = get(t, s.at+"/photos/photo-0001")
	if !strings.Contains(page, "On the round it was named P9; its label says P8.") || !strings.Contains(page, "How each was reached") || strings.Count(page, `value="burnt"`) != 3 {
		t.Errorf("one photo:\n%.3000s", page)
	}
	for path, kind := range map[string]string{"/photos/photo-0001/overlay.jpg": "image/jpeg", "/photos/strip.png": "image/png", "/photos/strip.gif?plant=P8": "image/gif", "/photo/photo-0001": "image/jpeg", "/photos/table.csv": "text/csv; charset=utf-8", "/labels.pdf?size=large&sheet=a4": "application/pdf", "/labels.pdf?check=1": "application/pdf"} {
		status, h, body := get(t, s.at+path)
		if status != 200 || h.Get("Content-Type") != kind || len(body) < 200 {
			t.Errorf("%s: %d %v, %d bytes", path, status, h, len(body))
		}
		if kind == "image/jpeg" {
			if i, err := photofile.Check([]byte(body)); err != nil || i.Shot != (photofile.Shot{}) || strings.Contains(body, "Exif") {
				t.Errorf("%s tells %+v, %v", path, i.Shot, err)
			}
		}
	}
	if status, _, _ := get(t, s.at+"/labels.pdf?size=card&sheet=a4-70x37"); status != 422 {
		t.Errorf("a card on a small label: %d", status)
	}
	if p, kept, err := s.store.Photo(t.Context(), "photo-0001"); err != nil || !bytes.Equal(kept, data) || !strings.Contains(string(p.Doc), "sha256") {
		t.Errorf("the original: %v", err)
	}
	spot := regexp.MustCompile(`name="spot" value="([^"]+)"`).FindStringSubmatch(page)[1]
	if status, _, body := get(t, s.at+"/photos/photo-0001/spot.jpg?spot="+url.QueryEscape(spot)); status != 200 || len(body) < 500 {
		t.Errorf("the picture of a spot: %d", status)
	}
	v := url.Values{"spot": {spot}, "new": {"verdict-0001"}, "say": {"burnt"}, "by": {"Ada"}}
	for range 2 { // sent twice, entered once
		if status, page := s.form(t, "/photos/photo-0001/verdict", v); status != 200 || !strings.Contains(page, "Said to be burnt.") {
			t.Errorf("%d", status)
		}
	}
	if all, err := s.store.Verdicts(t.Context(), roundBench); err != nil || len(all) != 1 {
		t.Errorf("%d verdicts, %v", len(all), err)
	}
	if status, _ := s.form(t, "/photos/photo-0001/verdict", url.Values{"spot": {"nonsense"}, "new": {"verdict-0002"}, "say": {"burnt"}, "by": {"Ada"}}); status != 404 {
		t.Errorf("a spot that is not there: %d", status)
	}
}

// A label chooses its plant: by a photo of it, by what a browser's own reader read, and typed.
func TestLabelChoosesThePlant(t *testing.T) {
	s := newRoundSite(t)
	if status, a := postRaw(t, s.at+"/rounds/label", "image/jpeg", demoShot(t, "2026-10-22-P4.jpg")); status != 200 || a["plant"] != "P4" {
		t.Errorf("%d %v", status, a)
	}
	if status, a := postRaw(t, s.at+"/rounds/label", "image/jpeg", photo(t, 64, 64)); status != 422 || a["why"] == "" {
		t.Errorf("no label: %d %v", status, a)
	}
	for text, want := range map[string]int{
		"7ETB-RAVC": 200, "HTTPS://EXAMPLE.ORG": 422, "ZZZZ": 404,
		string(book.CodeOf(book.Subject{Bench: "tier-1-top", Plant: "P1"})): 404,
	} {
		if status, _, body := get(t, s.at+"/rounds/code?text="+url.QueryEscape(text)); status != want {
			t.Errorf("%q: %d %s", text, status, body)
		}
	}
}

// From a photo to a verdict with a finger, in both themes held against axe.
func TestPhotosInBrowser(t *testing.T) {
	ctx := browser(t, 5*time.Minute)
	s := photoSite(t)
	kept := keepShot(t, s.store, "2026-11-02-P8.jpg")
	s.send(t, packetOf("phone-aaaa", 0, `"id":"wakes-0001","plant":"P3","what":"note","note":"x"`))
	if status, _ := postRaw(t, s.at+"/rounds/photo?id=photo-0002&phone=phone-aaaa", "image/jpeg", demoShot(t, "2026-10-22-P4.jpg")); status != 200 { // wakes what measures
		t.Fatal(status)
	}
	for begin := time.Now(); time.Since(begin) < browserWait; time.Sleep(100 * time.Millisecond) {
		if all, err := s.store.Measures(t.Context(), roundBench); err != nil || len(all) > 0 {
			break
		}
	}
	act(t, ctx, "photos", chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.at+"/photos"))
	wait(t, ctx, `document.querySelector('img.strip').naturalWidth > 100`)
	axeCheck(t, ctx, "light")
	axeCheck(t, ctx, "dark")
	act(t, ctx, "one photo", chromedp.Navigate(s.at+"/photos/"+kept.ID))
	wait(t, ctx, `document.querySelector('.shot img').naturalWidth > 100 && document.querySelectorAll('.spots li').length === 3`)
	axeCheck(t, ctx, "light")
	axeCheck(t, ctx, "dark")
	if h := ask[float64](t, ctx, `Math.min(...[...document.querySelectorAll('.verdict button')].map((b) => b.getBoundingClientRect().height))`); h < 44 {
		t.Errorf("buttons of %v px", h)
	}
	ask[bool](t, ctx, `(() => { document.querySelector('.spots input[name=by]').value = 'Ada'; return true })()`)
	act(t, ctx, "burnt", chromedp.Click(".spots button"))
	// The answer leads back here. To go anywhere before it is there would break it off.
	arrive(t, ctx, `document.querySelector('.spots li')?.textContent.includes('Said to be burnt')`)
	act(t, ctx, "look again", chromedp.Navigate(s.at+"/photos/"+kept.ID))
	wait(t, ctx, `document.querySelector('.spots li')?.textContent.includes('Said to be burnt')`)
	if n := ask[float64](t, ctx, `document.documentElement.scrollWidth`); n > 390 {
		t.Errorf("the page is %v px wide on a phone", math.Round(n))
	}
	if by := ask[string](t, ctx, `document.querySelectorAll('.spots input[name=by]')[1].value`); by != "Ada" {
		t.Errorf("the name is asked again: %q", by)
	}
}
