package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/app/round"
	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// roundSite is a site of the demo with a store, over a line that can be cut.
type roundSite struct {
	*httptest.Server
	store *sqlite.DB
	down  atomic.Bool // the network is away
	deaf  atomic.Bool // the server does what it is asked, and its answer is lost
	at    string      // address of the bench
}

const roundBench = demo.SensorBench

func newRoundSite(t testing.TB, hosts ...string) *roundSite {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	r := &roundSite{store: s}
	h := web.New(web.Options{Folder: os.DirFS(folder(t)), Hosts: append([]string{"127.0.0.1", "localhost"}, hosts...), Rounds: s, Zone: time.UTC}).Handler()
	r.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		if r.down.Load() {
			panic(http.ErrAbortHandler)
		}
		if q.Method == http.MethodPost && r.deaf.Load() {
			h.ServeHTTP(httptest.NewRecorder(), q)
			panic(http.ErrAbortHandler)
		}
		h.ServeHTTP(w, q)
	}))
	r.Server.Config.ErrorLog = nil
	t.Cleanup(r.Close)
	r.at = r.URL + "/bench/" + roundBench
	return r
}

func (r *roundSite) observations(t testing.TB) []round.Entry {
	t.Helper()
	all, err := r.store.Observations(context.Background(), roundBench, 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	out, faults := round.ReadAll(all)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return out
}

func (r *roundSite) send(t testing.TB, body string) (int, map[string]any) {
	t.Helper()
	return postRaw(t, r.at+"/rounds/send", "application/json", []byte(body))
}

func postRaw(t testing.TB, url, kind string, body []byte) (int, map[string]any) {
	t.Helper()
	q, err := http.Post(url, kind, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	defer q.Body.Close()
	raw, err := io.ReadAll(q.Body)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]any{}
	if strings.HasPrefix(q.Header.Get("Content-Type"), "application/json") {
		if err := json.Unmarshal(raw, &out); err != nil {
			t.Fatal(err)
		}
	}
	return q.StatusCode, out
}

// packetOf is what a phone sends whose clock is off, typed a minute ago.
func packetOf(phone string, off time.Duration, entries ...string) string {
	now := time.Now().Add(off).UnixMilli()
	for i, e := range entries {
		entries[i] = fmt.Sprintf(`{"typed_ms":%d,%s}`, now-60_000, e)
	}
	return fmt.Sprintf(`{"underlamp rounds":1,"phone":%q,"now_ms":%d,"entries":[%s]}`, phone, now, strings.Join(entries, ","))
}

// What is sent twice enters once, also at another moment; one bad entry does not hold up
// the others; another content under an id is refused.
func TestRoundsSend(t *testing.T) {
	s := newRoundSite(t)
	good := `"id":"aaaa-0001","plant":"P3","what":"mass","typed":"141 g","by":"Ada"`
	status, a := s.send(t, packetOf("phone-aaaa", 0, good, `"id":"aaaa-0002","plant":"P3","what":"mass","typed":"heavy"`, `"id":"x","plant":"P3","what":"note","note":"n"`))
	if status != 200 || fmt.Sprint(a["kept"]) != "[aaaa-0001]" || len(a["refused"].([]any)) != 2 || !strings.Contains(fmt.Sprint(a["refused"]), "no mass") {
		t.Fatalf("%d %v", status, a)
	}
	first := packetOf("phone-aaaa", 0, good)
	time.Sleep(5 * time.Millisecond)
	typed := s.observations(t)[0].Clock.Typed
	again := regexp.MustCompile(`"typed_ms":\d+`).ReplaceAllString(first, fmt.Sprintf(`"typed_ms":%d`, typed))
	more := strings.Replace(again, `"entries":[`, fmt.Sprintf(`"entries":[{"id":"aaaa-0003","plant":"P4","what":"severity","typed":"2","typed_ms":%d},`, typed), 1)
	if status, a := s.send(t, more); status != 200 || len(a["kept"].([]any)) != 2 {
		t.Errorf("sent again with another: %d %v", status, a)
	}
	if status, a := s.send(t, strings.Replace(again, "141 g", "114 g", 1)); status != 200 || len(a["kept"].([]any)) != 0 || !strings.Contains(fmt.Sprint(a["refused"]), "something else") {
		t.Errorf("another content: %d %v", status, a)
	}
	if n := len(s.observations(t)); n != 2 {
		t.Errorf("%d entries are kept", n)
	}
	for body, want := range map[string]int{"": 400, "{}": 400, `{"underlamp rounds":2}`: 400, `{"underlamp rounds":1,"phone":"phone-aaaa","now_ms":1,"entries":[],"more":1}`: 400, strings.Repeat(" ", round.MaxPacket+2): 413} {
		if status, a := s.send(t, body); status != want || a["why"] == "" {
			t.Errorf("%.40q: %d %v", body, status, a)
		}
	}
	if status, a := postRaw(t, s.URL+"/bench/nobody/rounds/send", "application/json", []byte(again)); status != 404 || a["why"] == nil {
		t.Errorf("a bench that is not there: %d %v", status, a)
	}
	// A bench file with mistakes takes what was seen all the same.
	if status, a := postRaw(t, s.URL+"/bench/broken/rounds/send", "application/json", []byte(packetOf("phone-aaaa", 0, `"id":"aaaa-0009","plant":"P1","what":"mass","typed":"9"`))); status != 200 || len(a["kept"].([]any)) != 1 {
		t.Errorf("a broken bench: %d %v", status, a)
	}
	if status, _, body := get(t, s.at+"/rounds/last"); status != 200 || !strings.Contains(body, `"141 g"`) || !strings.Contains(body, `"phone-aaaa"`) {
		t.Errorf("%d %s", status, body)
	}
}

// A page elsewhere cannot enter anything.
func TestRoundsFromElsewhere(t *testing.T) {
	s := newRoundSite(t)
	for _, path := range []string{"/rounds/send", "/rounds/photo?id=aaaa-0001&phone=phone-aaaa", "/seen/enter", "/seen/decide"} {
		q, _ := http.NewRequest("POST", s.at+path, strings.NewReader(packetOf("phone-aaaa", 0, `"id":"aaaa-0001","plant":"P3","what":"mass","typed":"141 g"`)))
		q.Header.Set("Origin", "http://elsewhere.example")
		r, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if r.StatusCode != 403 {
			t.Errorf("%s answers %d", path, r.StatusCode)
		}
	}
	if len(s.observations(t)) != 0 {
		t.Error("something was entered")
	}
}

func photo(t testing.TB, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, w, h)), nil); err != nil {
		t.Fatal(err)
	}
	raw := b.Bytes()
	secret := append([]byte{0xFF, 0xFE, 0, 14}, "SECRETPLACE!"...) // a comment after the first marker
	return append(append(append([]byte{}, raw[:2]...), secret...), raw[2:]...)
}

// The original of a picture is kept; what is shown tells nothing of where it was taken.
func TestRoundsPhoto(t *testing.T) {
	s := newRoundSite(t)
	data := photo(t, 1200, 900)
	at := s.at + "/rounds/photo?id=photo-0001&phone=phone-aaaa"
	for range 2 { // sent again it is the same
		if status, a := postRaw(t, at, "image/jpeg", data); status != 200 || a["kept"] != "photo-0001" {
			t.Fatalf("%d %v", status, a)
		}
	}
	if status, _ := postRaw(t, at, "image/jpeg", photo(t, 8, 8)); status != 409 {
		t.Errorf("another picture under the id: %d", status)
	}
	if _, kept, err := s.store.Photo(context.Background(), "photo-0001"); err != nil || !bytes.Equal(kept, data) {
		t.Errorf("the original is not kept: %v", err)
	}
	status, h, plain := get(t, s.at+"/photo/photo-0001")
	if status != 200 || h.Get("Content-Type") != "image/jpeg" || h.Get("X-Content-Type-Options") != "nosniff" || strings.Contains(plain, "SECRET") {
		t.Errorf("%d %v", status, h)
	}
	status, _, small := get(t, s.at+"/photo/photo-0001?small=1")
	if c, err := jpeg.DecodeConfig(strings.NewReader(small)); status != 200 || err != nil || c.Width > 480 || len(small) >= len(plain) {
		t.Errorf("small: %d, %v, %v", status, c, err)
	}
	if status, _, _ := get(t, s.URL+"/bench/tier-1-top/photo/photo-0001"); status != 404 {
		t.Errorf("under another bench: %d", status)
	}
	for name, c := range map[string]struct {
		id   string
		data []byte
		want int
	}{
		"text":      {"photo-0002", []byte("<html><script>alert(1)</script>"), 422},
		"nothing":   {"photo-0002", nil, 422},
		"no id":     {"../../x", data, 400},
		"too large": {"photo-0002", append(bytes.Clone(data), make([]byte, 20<<20)...), 413},
	} {
		if status, a := postRaw(t, s.at+"/rounds/photo?phone=phone-aaaa&id="+url.QueryEscape(c.id), "image/jpeg", c.data); status != c.want || a["why"] == nil {
			t.Errorf("%s: %d %v", name, status, a)
		}
	}
}

// form sends a form of the page and follows it.
func (r *roundSite) form(t testing.TB, path string, v url.Values) (int, string) {
	t.Helper()
	q, err := http.PostForm(r.at+path, v)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Body.Close()
	body, err := io.ReadAll(q.Body)
	if err != nil {
		t.Fatal(err)
	}
	return q.StatusCode, string(body)
}

// A value is corrected, the correction undone, and both stay; who is late is told so.
func TestSeenCorrections(t *testing.T) {
	s := newRoundSite(t)
	s.send(t, packetOf("phone-aaaa", 0, `"id":"aaaa-0001","plant":"P3","what":"mass","typed":"141 g","by":"Ada"`))
	fix := url.Values{"of": {"aaaa-0001"}, "new": {"fixfix-01"}, "do": {"correct"}, "value": {"4.02 oz"}, "by": {"Ida <b>"}, "note": {"digits"}}
	for range 2 { // the form twice is one correction
		if status, page := s.form(t, "/seen/enter", fix); status != 200 || !strings.Contains(page, "corrected to 114 g") || !strings.Contains(page, "141 g") || strings.Contains(page, "Ida <b>") {
			t.Fatalf("%d\n%s", status, page)
		}
	}
	late := url.Values{"of": {"aaaa-0001"}, "new": {"fixfix-02"}, "do": {"correct"}, "value": {"99 g"}, "by": {"Ada"}}
	if status, page := s.form(t, "/seen/enter", late); status != 422 || !strings.Contains(page, "in the meantime") {
		t.Errorf("late: %d", status)
	}
	if status, page := s.form(t, "/seen/enter", url.Values{"of": {"fixfix-01"}, "new": {"fixfix-03"}, "do": {"correct"}, "value": {"heavy"}, "by": {"Ada"}}); status != 422 || !strings.Contains(page, "no mass") {
		t.Errorf("nonsense: %d", status)
	}
	if status, page := s.form(t, "/seen/enter", url.Values{"of": {"fixfix-01"}, "new": {"undoundo-1"}, "do": {"back"}, "by": {"Ada"}}); status != 200 || !strings.Contains(page, "counts, a correction") {
		t.Errorf("undo: %d", status)
	}
	if _, _, last := get(t, s.at+"/rounds/last"); !strings.Contains(last, "141 g") || strings.Contains(last, "114 g") {
		t.Errorf("after undoing: %s", last)
	}
	s.form(t, "/seen/enter", url.Values{"of": {"undoundo-1"}, "new": {"strike-001"}, "do": {"strike"}, "by": {"Ada"}, "note": {"another plant"}})
	if _, _, last := get(t, s.at+"/rounds/last"); strings.Contains(last, "P3") {
		t.Errorf("taken out: %s", last)
	}
	s.form(t, "/seen/enter", url.Values{"of": {"strike-001"}, "new": {"undoundo-2"}, "do": {"back"}, "by": {"Ada"}})
	if _, _, last := get(t, s.at+"/rounds/last"); !strings.Contains(last, "141 g") {
		t.Errorf("brought back: %s", last)
	}
	if all := s.observations(t); len(all) != 5 {
		t.Errorf("%d entries stay", len(all))
	}
	if status, page := s.form(t, "/seen/enter", url.Values{"new": {"byhand-001"}, "plant": {"P7"}, "what": {"height"}, "value": {"12,5"}, "day": {"2026-11-01"}, "by": {"Ada"}}); status != 200 || !strings.Contains(page, "12.5 cm") {
		t.Errorf("by hand: %d", status)
	}
	status, h, csv := get(t, s.at+"/seen/table.csv")
	if status != 200 || !strings.Contains(h.Get("Content-Disposition"), "attachment") || strings.Count(csv, "\n") != 7 || !strings.Contains(csv, "4.02 oz") {
		t.Errorf("%d %v\n%s", status, h, csv)
	}
	if status, _, js := get(t, s.at+"/seen/entries.json"); status != 200 {
		t.Errorf("%d", status)
	} else if _, all, err := round.ReadJSON([]byte(js)); err != nil || len(all) != 6 {
		t.Errorf("%v, %d", err, len(all))
	}
}

// Two phones saw one plant; a person decides, or lets both be right.
func TestSeenDecide(t *testing.T) {
	for _, keep := range []string{"bbbb-0001", "all"} {
		s := newRoundSite(t)
		s.send(t, packetOf("phone-aaaa", 0, `"id":"aaaa-0001","plant":"P3","what":"mass","typed":"141 g","by":"Ada"`))
		s.send(t, packetOf("phone-bbbb", 0, `"id":"bbbb-0001","plant":"P3","what":"mass","typed":"114 g","by":"Ida"`))
		if status, _, page := get(t, s.at+"/seen"); status != 200 || !strings.Contains(page, "To be decided") || !strings.Contains(page, "not yet") {
			t.Fatalf("%d", status)
		}
		if status, _, _ := get(t, s.at+"/seen/cycle.yaml"); status != 422 {
			t.Errorf("a cycle in spite of a conflict: %d", status)
		}
		v := url.Values{"of": {"aaaa-0001", "bbbb-0001"}, "new": {"decide-0001"}, "keep": {keep}, "by": {"Ada"}}
		for range 2 {
			if status, page := s.form(t, "/seen/decide", v); status != 200 || strings.Contains(page, "To be decided") {
				t.Fatalf("%s: %d", keep, status)
			}
		}
		if n := len(s.observations(t)); n != 3 {
			t.Errorf("%s: %d entries", keep, n)
		}
		status, _, cycle := get(t, s.at+"/seen/cycle.yaml")
		want := map[string]string{"bbbb-0001": "mass: 114 g", "all": "mass: 127.5 g"}[keep]
		if status != 200 || !strings.Contains(cycle, want) || strings.Count(cycle, "{name:") != 1 {
			t.Errorf("%s: %d\n%s", keep, status, cycle)
		}
	}
}

// The page can be used by hand on any bench, and its worker and manifest are as browsers
// want them.
func TestRoundsPage(t *testing.T) {
	s := newRoundSite(t)
	status, h, page := get(t, s.at+"/rounds")
	if status != 200 || strings.Count(page, "data-plant=") != 18 || strings.Count(page, `class="head"`) != 6 || !strings.Contains(page, "15 to 30 % of the leaves") {
		t.Errorf("%d", status)
	}
	if csp := h.Get("Content-Security-Policy"); !strings.Contains(csp, "img-src 'self' blob:;") || !strings.Contains(csp, "worker-src 'self'") || !strings.Contains(csp, "script-src 'self';") {
		t.Errorf("policy %q", csp)
	}
	if status, h, js := get(t, s.URL+"/rounds-worker.js"); status != 200 || !strings.HasPrefix(h.Get("Content-Type"), "text/javascript") || !strings.HasPrefix(js, `const assets = ["/static/pages-`) {
		t.Errorf("%d %v", status, h)
	}
	status, h, body := get(t, s.at+"/rounds/manifest.webmanifest")
	var m struct {
		Start string `json:"start_url"`
		Icons []struct{ Src, Sizes, Type string }
	}
	if err := json.Unmarshal([]byte(body), &m); err != nil || status != 200 || h.Get("Content-Type") != "application/manifest+json" || m.Start != "/bench/"+roundBench+"/rounds" || len(m.Icons) != 3 {
		t.Errorf("%d %v %s", status, err, body)
	}
	for _, icon := range m.Icons[1:] {
		status, _, png := get(t, s.URL+icon.Src)
		if c, _, err := image.DecodeConfig(strings.NewReader(png)); status != 200 || err != nil || fmt.Sprintf("%dx%d", c.Width, c.Height) != icon.Sizes {
			t.Errorf("%s: %d %v", icon.Src, status, err)
		}
	}
	if status, _, _ := get(t, shared(t).URL+"/bench/tier-1-top/rounds"); status != 404 {
		t.Errorf("without a store the page answers %d", status)
	}
}

var _ store.Observations = (*sqlite.DB)(nil)
