package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp/demo"
	"underlamp/safefolder"
	"underlamp/web"
)

// folder is a folder with the demo, a bench that leaves dimming and hours
// unsaid, and one broken file.
func folder(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	fill(t, dir)
	return dir
}

func fill(t testing.TB, dir string) {
	t.Helper()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	unsaid := strings.ReplaceAll(string(demo.File("tier-1-top.yaml")), ", dimming: 100 %, hours: 16 h", "")
	if err := os.WriteFile(filepath.Join(dir, "unsaid.yaml"), []byte(unsaid), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "broken.yaml"), []byte("underlamp: 1\nname: Broken <b>\nspce: {width: 1 m}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

func site(t testing.TB, dir string) *httptest.Server {
	t.Helper()
	pages := web.New(web.Options{Folder: os.DirFS(dir), Trials: safefolder.New(dir), Hosts: []string{"127.0.0.1"}})
	s := httptest.NewServer(pages.Handler())
	t.Cleanup(s.Close)
	t.Cleanup(func() {
		if err := pages.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// shared is a site of [folder] for the tests that leave it as it is, so that what two of
// them ask for is computed once.
func shared(t testing.TB) *httptest.Server {
	t.Helper()
	sharedOnce.Do(func() {
		dir, err := os.MkdirTemp("", "underlamp-web-*")
		if err != nil {
			t.Fatal(err)
		}
		fill(t, dir)
		sharedDir = dir
		sharedSite = httptest.NewServer(web.New(web.Options{Folder: os.DirFS(dir), Trials: safefolder.New(dir), Hosts: []string{"127.0.0.1"}, Zone: time.UTC, Version: "1.2.3"}).Handler())
	})
	return sharedSite
}

var (
	sharedOnce sync.Once
	sharedDir  string
	sharedSite *httptest.Server
)

func TestMain(m *testing.M) {
	code := m.Run()
	if sharedSite != nil {
		sharedSite.Close()
		os.RemoveAll(sharedDir)
	}
	os.Exit(code)
}

// get asks as a browser without script does: while work of the page runs, it looks again.
func get(t testing.TB, url string) (int, http.Header, string) {
	t.Helper()
	for begin := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		status, h, body := once(t, url)
		if !works(body) {
			return status, h, body
		}
		if time.Since(begin) > browserWait {
			t.Fatalf("%s still works: %s", url, body)
		}
	}
}

// works says that a page does not show its answer yet: what it asks for is still computed.
func works(page string) bool {
	return strings.Contains(page, `data-state="running"`) || strings.Contains(page, `data-state="waiting"`)
}

func once(t testing.TB, url string) (int, http.Header, string) {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, r.Header, strings.ReplaceAll(string(body), "\u00a0%", " %") // pages keep a percent sign with its number
}

func TestPages(t *testing.T) {
	s := shared(t)
	for _, c := range []struct {
		path   string
		status int
		want   []string
	}{
		{"/", 200, []string{"Cellar rack, top tier", "Cellar rack, bottom tier", "The bench file has mistakes", "Chance of burn"}},
		{"/bench/tier-1-top", 200, []string{`id="c-height"`, "Mean PPFD at the plants", "Fresh mass of a head", "Search the best setting", "Mains and water"}},
		{"/bench/tier-1-top?height=30&dimming=50&hours=14", 200, []string{"Lamps at 30 cm, dimming 50 %, 14 h", "What if"}},
		{"/bench/tier-1-top/light?height=25", 200, []string{"Lamps at 25 cm", "<svg"}},
		{"/bench/tier-1-top/outlook?dimming=60", 200, []string{"By day 35", "<svg"}},
		{"/bench/tier-3-bottom/light", 200, []string{"Reading R5 is far off the model"}},
		{"/bench/unsaid", 200, []string{"Lamps at 34 cm, dimming 100 % (default), 16 h (default)", `Dimming <em class="default">default</em>`}},
		{"/bench/unsaid?hours=12", 200, []string{"dimming 100 % (default), 12 h"}},
		{"/bench/tier-1-top/lamps", 200, []string{"Hollin bar 42", "lamps/hollin-bar-42.ies", "R:FR", "<svg", "Mains and water"}},
		{"/bench/tier-3-bottom/lamps", 200, []string{"old round lamp", "The colour of this lamp is not known"}},
		{"/bench/tier-1-top/aim", 200, []string{`name="level"`, "A target of light"}},
		{"/bench/tier-1-top/aim?level=180&unit=ppfd&goal=least", 200, []string{"180 µmol/m²/s for every plant", "Before and after", "What limits"}},
		{"/bench/tier-1-top/aim?level=11&unit=dli&goal=least&mean=1&one=1&keep=1", 200, []string{"for the mean", "Look at the outlook with this setting"}},
		{"/bench/tier-1-top/aim?level=much", 422, []string{"must be a number above 0", `value="much"`}},
		{"/bench/tier-1-top/aim?level=4000", 200, []string{"it cannot be had within the limits"}},
		{"/bench/broken", 422, []string{"broken.yaml:3:1", "space"}},
		{"/bench/nobody", 404, []string{"no bench of this name"}},
		{"/bench/..%2f..%2fetc%2fpasswd", 404, nil},
		{"/bench/.hidden", 404, nil},
		{"/nothing", 404, []string{"no page at this address"}},
	} {
		status, h, body := get(t, s.URL+c.path)
		if status != c.status {
			t.Errorf("%s: status %d, want %d", c.path, status, c.status)
		}
		for _, w := range c.want {
			if !strings.Contains(body, w) {
				t.Errorf("%s: %q is missing", c.path, w)
			}
		}
		if !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s: no strict policy: %q", c.path, h.Get("Content-Security-Policy"))
		}
		if strings.Contains(body, "<b>") && strings.Contains(c.path, "broken") {
			t.Errorf("%s: text of the file is not escaped", c.path)
		}
		for _, bad := range []string{" style=", "<script>", "onclick=", "//cdn", "http://www", "https://"} {
			if strings.Contains(strings.ReplaceAll(body, "http://www.w3.org/2000/svg", ""), bad) {
				t.Errorf("%s: holds %q", c.path, bad)
			}
		}
	}
}

// What nobody can set is brought back into the space and the day; nonsense is
// ignored.
func TestSettingsFromOutside(t *testing.T) {
	s := shared(t)
	for query, want := range map[string]string{
		"height=9999":            "Lamps at 50 cm",
		"height=-4":              "Lamps at 5 cm",
		"hours=99":               "24 h",
		"dimming=NaN&height=abc": "Lamps at 34 cm, dimming 100 %, 16 h",
		"height=1e309":           "Lamps at 34 cm",
		"height=27,5":            "Lamps at 27.5 cm",
		"height=12.5+in":         "Lamps at 31.8 cm",
		"height=0,3+m&hours=840+min&dimming=75+%25": "Lamps at 30 cm, dimming 75 %, 14 h",
	} {
		status, _, body := get(t, s.URL+"/bench/tier-1-top/light?"+query)
		if status != 200 || !strings.Contains(body, want) {
			t.Errorf("%s: status %d, want 200 and %q", query, status, want)
		}
	}
}

func TestStaticFilesCarryTheirHash(t *testing.T) {
	s := shared(t)
	_, _, body := get(t, s.URL+"/")
	urls := regexp.MustCompile(`"(/static/[^"]+)"`).FindAllStringSubmatch(body, -1)
	if len(urls) < 3 {
		t.Fatalf("%d static files named, want at least 3", len(urls))
	}
	for _, u := range urls {
		status, h, _ := get(t, s.URL+u[1])
		if status != 200 || !strings.Contains(h.Get("Cache-Control"), "immutable") {
			t.Errorf("%s: status %d, cache %q", u[1], status, h.Get("Cache-Control"))
		}
	}
	if status, _, _ := get(t, s.URL+"/static/../web.go"); status == 200 {
		t.Error("a file beside the static ones was served")
	}
}

// A foreign name for this address is refused, and so is a post from elsewhere.
func TestGuard(t *testing.T) {
	s := shared(t)
	r, err := http.NewRequest(http.MethodGet, s.URL+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Host = "evil.example"
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusMisdirectedRequest {
		t.Errorf("a foreign host got status %d, want 421", res.StatusCode)
	}
}

// A changed file is read anew.
func TestFileIsReadAnew(t *testing.T) {
	dir := folder(t)
	s := site(t, dir)
	get(t, s.URL+"/bench/tier-1-top/light")
	changed := strings.Replace(string(demo.File("tier-1-top.yaml")), "name: Cellar rack, top tier", "name: Renamed tier with a longer name", 1)
	if err := os.WriteFile(filepath.Join(dir, "tier-1-top.yaml"), []byte(changed), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, body := get(t, s.URL+"/bench/tier-1-top"); !strings.Contains(body, "Renamed tier") {
		t.Error("the old file is still shown")
	}
}

func TestEmptyFolder(t *testing.T) {
	s := site(t, t.TempDir())
	if _, _, body := get(t, s.URL+"/"); !strings.Contains(body, "underlamp new") {
		t.Error("an empty folder does not say how to begin")
	}
}

// A species without an outlook keeps its page: light as ever, and why there is no
// figure of growth and burn.
func TestOtherSpecies(t *testing.T) {
	dir := folder(t)
	text := strings.NewReplacer("species: lettuce", "species: kale", "  type: butterhead\n", "").Replace(string(demo.File("tier-3-bottom.yaml")))
	if err := os.WriteFile(filepath.Join(dir, "kale.yaml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	s := site(t, dir)
	const refusal, unasked = "Growth and burn of kale are not forecast", "the outlook of kale is not supported by data"
	for _, c := range []struct {
		path   string
		status int
		want   []string
	}{
		{"/", 200, []string{"12 × kale", "no data support one for this species"}},
		{"/bench/kale", 200, []string{refusal, unasked, "mean PPFD", "Baumbauer2019"}},
		{"/bench/kale?height=30&field=off", 200, []string{refusal}},
		{"/bench/kale/outlook?hours=12", 200, []string{refusal}},
		{"/bench/kale/best", 200, []string{unasked}},
		{"/bench/kale/doubt", 200, []string{unasked}},
		{"/bench/kale/plan?for=kwh", 200, []string{"growth and burn of kale cannot be forecast"}},
		{"/bench/kale/raise?level=150&within=5&step=2&clearance=10", 422, []string{"growth and burn of kale cannot be forecast"}},
	} {
		status, _, body := get(t, s.URL+c.path)
		if status != c.status {
			t.Errorf("%s: status %d, want %d:\n%.300s", c.path, status, c.status, body)
		}
		for _, want := range c.want {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not say %q", c.path, want)
			}
		}
		if strings.Contains(body, "chance of inner tipburn") && c.path != "/" {
			t.Errorf("%s shows a chance of burn", c.path)
		}
	}
}

func TestReportOfTheSite(t *testing.T) {
	s := shared(t)
	// A report that is not written yet (no other test asks for this one) leads to where one waits for it.
	const page = "/bench/tier-1-top/report"
	answer, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Get(s.URL + page + "/bench.html")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != 303 || answer.Header.Get("Location") != page {
		t.Errorf("status %d, location %q", answer.StatusCode, answer.Header.Get("Location"))
	}
	for _, c := range []struct{ page, file, short string }{
		{"/bench/tier-2-middle/report", "bench.html", "bench-short.html"},
		{"/trial/light-levels.trial/report", "trial.html", "trial-short.html"},
	} {
		body := written(t, s.URL+c.page)
		for _, want := range []string{c.page + "/" + c.file, c.page + "/" + c.short, "What others would miss"} {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not say %q", c.page, want)
			}
		}
		status, h, body := get(t, s.URL+c.page+"/"+c.file+"?save=1")
		if status != 200 || !strings.Contains(h.Get("Content-Security-Policy"), "sha256-") || !strings.Contains(h.Get("Content-Disposition"), c.file) {
			t.Errorf("%s: status %d, policy %q, %q", c.file, status, h.Get("Content-Security-Policy"), h.Get("Content-Disposition"))
		}
		for _, want := range []string{"What was asked", "To repeat and to cite", "by underlamp 1.2.3", time.Now().UTC().Format(time.DateOnly), "SHA-256"} {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not say %q", c.file, want)
			}
		}
		if strings.Contains(body, `src="http`) || strings.Contains(body, `href="http`) || strings.Contains(body, "@import") || strings.Contains(body, "<script") || strings.Contains(body, " style=") {
			t.Errorf("%s asks for something, or has a script or a style of an element", c.file)
		}
		if status, _, _ := get(t, s.URL+c.page+"/"+c.short); status != 200 {
			t.Errorf("%s: status %d", c.short, status)
		}
		if status, _, _ := get(t, s.URL+c.page+"/other.html"); status != 404 {
			t.Errorf("a report that there is not: status %d", status)
		}
	}
}

// written waits for the page of reports to list what was written.
func written(t testing.TB, page string) string {
	t.Helper()
	for end := time.Now().Add(browserWait); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		status, _, body := get(t, page)
		if status != 200 {
			t.Fatalf("%s: status %d:\n%.500s", page, status, body)
		}
		if strings.Contains(body, `class="papers"`) {
			return body
		}
	}
	t.Fatalf("no report in %v", browserWait)
	return ""
}

// The light must follow a control within a blink: 100 ms.
func BenchmarkLightPart(b *testing.B) {
	s := site(b, folder(b))
	get(b, s.URL+"/bench/tier-1-top/light")
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		get(b, s.URL+"/bench/tier-1-top/light?height="+[]string{"30", "31", "32", "33"}[i%4])
	}
}

func BenchmarkOutlookPart(b *testing.B) {
	s := site(b, folder(b))
	get(b, s.URL+"/bench/tier-1-top/light")
	b.ReportAllocs()
	for b.Loop() {
		get(b, s.URL+"/bench/tier-1-top/outlook?dimming=80")
	}
}
