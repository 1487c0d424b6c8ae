package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp/app/kept"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/trialtable"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// twoLevels is a question that the demo's middle tier can answer.
func twoLevels(change ...string) url.Values {
	f := url.Values{"name": {"Two levels"}, "question": {"Does more light pay?"}, "factor": {"light"}, "levels": {"12\n15 mol/m²/d"}, "control": {"12"}, "response": {"mass"}, "difference": {"15 g"}, "expect": {"150 g"},
		"bench": {"tier-2-middle.yaml"}, "cycles": {"4"}, "seed": {"7"}, "show": {"1"}}
	for i := 0; i+1 < len(change); i += 2 {
		f.Set(change[i], change[i+1])
	}
	return f
}

var drawnIn = regexp.MustCompile(`name="drawn" value="([0-9a-f]+)"`)

// planned takes the first layout of a question and returns the address of the trial.
func planned(t testing.TB, at string, f url.Values) string {
	t.Helper()
	status, _, page := get(t, at+"/trials/new?"+f.Encode())
	m := drawnIn.FindStringSubmatch(page)
	if status != 200 || m == nil {
		t.Fatalf("%d, no layout\n%s", status, page)
	}
	status, to := postForm(t, at+"/trials/new?"+f.Encode(), url.Values{"take": {"1"}, "drawn": {m[1]}})
	if status != http.StatusSeeOther {
		t.Fatalf("taking it answers %d: %s", status, to)
	}
	return at + strings.TrimSuffix(to, "/plan")
}

// postTo posts a form and returns the status, and where it leads or what it says.
func postForm(t testing.TB, to string, form url.Values) (int, string) {
	t.Helper()
	return postTo(t, to, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// storeSite is a site of the demo kept in a store alone.
func storeSite(t testing.TB) *httptest.Server {
	t.Helper()
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if _, _, err := kept.Import(ctx, s, demo.Folder(), kept.Options{Now: time.Now(), Since: time.Now().Add(-time.Hour)}); err != nil {
		t.Fatal(err)
	}
	place := kept.NewPlace(ctx, s, time.Now)
	server := httptest.NewServer(web.New(web.Options{Folder: place, Trials: place, Hosts: []string{"127.0.0.1"}}).Handler())
	t.Cleanup(server.Close)
	return server
}

// A trial is planned, recorded and read on pages alone, in a folder and in a store.
func TestFromPlanToFindings(t *testing.T) {
	for name, s := range map[string]*httptest.Server{"folder": site(t, folder(t)), "store": storeSite(t)} {
		t.Run(name, func(t *testing.T) {
			_, _, page := get(t, s.URL+"/trials/new?"+twoLevels().Encode())
			for _, want := range []string{"randomised blocks", "Chance of finding it", "What it cannot tell apart", "The light of every unit", "dim to", "completely randomised", "What does not fit"} {
				if !strings.Contains(page, want) {
					t.Errorf("no %q among the layouts", want)
				}
			}
			at := planned(t, s.URL, twoLevels())
			if again := planned(t, s.URL, twoLevels()); again != at {
				t.Errorf("a second tap leads to %s", again)
			}
			status, _, page := get(t, at+"/plan?start=2026-10-01&days=30")
			for _, want := range []string{"Does more light pay?", "12 mol/m²/d (the present setting)", "2026-10-01", "2026-10-31", "C1-L1-P1", "planned", "The lamps and the light of their units"} {
				if status != 200 || !strings.Contains(page, want) {
					t.Errorf("plan: %d, no %q", status, want)
				}
			}
			if status, h, page := get(t, at+"/sheet?start=2026-10-01&days=30"); status != 200 || !strings.Contains(page, "C1-L1-P1") || !strings.Contains(h.Get("Content-Security-Policy"), "sha256-") {
				t.Errorf("sheet: %d", status)
			}
			if status, _, page := get(t, at); status != 422 || !strings.Contains(page, "tells nothing yet") {
				t.Errorf("findings of nothing: %d", status)
			}
			n := 0
			for cycle := range 4 {
				for lamp := range 2 {
					unit := fmt.Sprintf("C%d-L%d", cycle+1, lamp+1)
					for plant := range 9 {
						n++
						f := url.Values{"key": {fmt.Sprintf("key%05d", n)}, "unit": {unit}, "plant": {fmt.Sprintf("P%d", plant+1)}, "date": {"2026-01-05"}, "by": {"AB"}, "mass": {fmt.Sprintf("%d,5", 140+7*cycle+11*lamp+plant*3%7)}, "burn": {"no"}}
						status, to := postForm(t, at+"/record", f)
						if status != 303 || !strings.Contains(to, "kept=") {
							t.Fatalf("%s: %d %s", unit, status, to)
						}
						if n == 3 {
							if _, _, page := get(t, s.URL+to); !strings.Contains(page, "Kept.") || !strings.Contains(page, "Fresh mass 146.5 g") || !strings.Contains(page, "C1-L1, P4") {
								t.Errorf("what was kept is not said:\n%s", page)
							}
							guards := 0 // that nobody has recorded are not due
							for _, unit := range []string{"C1-L1", "C1-L2"} {
								_, _, page := get(t, at+"/record?unit="+unit)
								guards += strings.Count(page, ">guard<")
							}
							if guards == 0 || guards > 9 {
								t.Errorf("%d guards", guards)
							}
							if _, _, list := get(t, s.URL+"/trials"); !strings.Contains(list, "running") || !strings.Contains(list, fmt.Sprintf("cycle 01: mass is missing of %d plants (C1-L1, C1-L2)", 15-guards)) {
								t.Errorf("what is due is not said:\n%s", list)
							}
						}
					}
				}
			}
			if status, _, page := get(t, at); status != 200 || !strings.Contains(page, "The units are the repeats") || strings.Contains(page, "NaN") {
				t.Errorf("findings: %d", status)
			}
			if _, _, list := get(t, s.URL+"/trials"); !strings.Contains(list, "stage-done") {
				t.Error("the trial is not done")
			}
		})
	}
}

// What is wrong with a question stands beside its field, and nothing typed is lost.
func TestQuestionWithFaults(t *testing.T) {
	s := site(t, folder(t))
	for field, c := range map[string]struct{ typed, says string }{
		"name":       {"", "Give the trial a name"},
		"levels":     {"12\n<b>dark</b>", "is no light per day"},
		"difference": {"12 <script>", "is no mass"},
		"cycles":     {"-3", "a whole number from 1"},
		"seed":       {"1e99", "whole number from 0"},
		"bench":      {"../../etc/passwd", "no such bench"},
		"control":    {"nobody", "reatment is called"},
		"response":   {"taste", "hoose mass, height, burn"},
	} {
		status, _, page := get(t, s.URL+"/trials/new?"+twoLevels(field, c.typed).Encode())
		if status != 422 || !strings.Contains(page, c.says) || !strings.Contains(page, `id="w-`+field+`"`) || !strings.Contains(page, html.EscapeString(c.typed)) && !strings.Contains(page, template(c.typed)) {
			t.Errorf("%s: %d\n%s", field, status, page)
		}
		if strings.Contains(page, "<b>dark") || strings.Contains(page, "<script>\"") {
			t.Errorf("%s is not escaped", field)
		}
		if field != "name" && !strings.Contains(page, `value="Two levels"`) {
			t.Errorf("%s: the name is lost", field)
		}
	}
	if status, _, page := get(t, s.URL+"/trials/new?"+twoLevels("cycles", "1").Encode()); status != 422 || !strings.Contains(page, "no layout repeats every treatment") {
		t.Errorf("too few units: %d", status)
	}
	if status, _, page := get(t, s.URL+"/trials/new"); status != 200 || strings.Contains(page, "wrong") || !regexp.MustCompile(`name="seed"[^>]* value="\d{6}"`).MatchString(page) {
		t.Errorf("the empty form: %d", status)
	}
	// A layout that nobody saw is not taken, and another trial is not written over.
	if status, page := postForm(t, s.URL+"/trials/new?"+twoLevels().Encode(), url.Values{"take": {"1"}, "drawn": {"00"}}); status != 409 || !strings.Contains(page, "Look at them again") {
		t.Errorf("a layout that was not drawn: %d", status)
	}
	planned(t, s.URL, twoLevels())
	_, _, page := get(t, s.URL+"/trials/new?"+twoLevels("seed", "8").Encode())
	status, page := postForm(t, s.URL+"/trials/new?"+twoLevels("seed", "8").Encode(), url.Values{"take": {"1"}, "drawn": {drawnIn.FindStringSubmatch(page)[1]}})
	if status != 409 || !strings.Contains(page, "another trial of this name") {
		t.Errorf("the name is taken: %d", status)
	}
	if status, _ := postForm(t, s.URL+"/trials/new?"+twoLevels("question", strings.Repeat("x", 20000)).Encode(), nil); status != 413 {
		t.Errorf("a long question: %d", status)
	}
}

// template is text as html/template writes it into an attribute.
func template(s string) string {
	return strings.NewReplacer("<", "&lt;", ">", "&gt;", "+", "&#43;", `"`, "&#34;").Replace(s)
}

// recordSite is a site with a planned trial, its address and its table.
func recordSite(t testing.TB) (at string, table func() string) {
	dir := folder(t)
	s := site(t, dir)
	at = planned(t, s.URL, twoLevels())
	return at, func() string {
		raw, err := os.ReadFile(filepath.Join(dir, "two-levels.trial.csv"))
		if err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		return string(raw)
	}
}

func seen(change ...string) url.Values {
	f := url.Values{"key": {"abc123"}, "unit": {"C1-L1"}, "plant": {"P1"}, "date": {"2026-01-05"}, "by": {"AB"}, "mass": {"5.0"}, "mass-measure": {"oz"}}
	for i := 0; i+1 < len(change); i += 2 {
		f.Set(change[i], change[i+1])
	}
	return f
}

// What is sent twice is kept once; what was typed in ounces is kept as both; a correction
// and a struck line leave what stood there.
func TestRecordOnThePage(t *testing.T) {
	at, table := recordSite(t)
	var all sync.WaitGroup
	for range 4 { // a double tap, twice
		all.Go(func() {
			if status, to := postForm(t, at+"/record", seen()); status != 303 {
				t.Errorf("%d %s", status, to)
			}
		})
	}
	all.Wait()
	if n := strings.Count(table(), "abc123-mass"); n != 1 || !strings.Contains(table(), "141.7") || !strings.Contains(table(), "read as 5.0 oz") {
		t.Errorf("kept %d times:\n%s", n, table())
	}
	if status, page := postForm(t, at+"/record", seen("mass", "6.0")); status != 409 || !strings.Contains(page, "this was kept already") && !strings.Contains(page, "This was kept already") || !strings.Contains(page, `value="6.0"`) {
		t.Errorf("another value under the same key: %d\n%s", status, page)
	}
	if status, to := postForm(t, at+"/record", seen("key", "abc124", "mass", "150", "mass-measure", "g", "correct", "abc123-mass")); status != 303 {
		t.Errorf("a correction: %d %s", status, to)
	}
	if status, page := postForm(t, at+"/record", seen("key", "abc125", "mass", "160", "mass-measure", "g", "correct", "abc123-mass")); status != 409 || !strings.Contains(page, "was changed by abc124-mass already") {
		t.Errorf("two corrections of one line: %d", status)
	}
	_, _, page := get(t, at+"/record?unit=C1-L1&plant=P1")
	for _, want := range []string{"Fresh mass 150 g", "before: <s>141.7 g", "abc123-mass", "Correct", "Strike out"} {
		if !strings.Contains(page, want) {
			t.Errorf("the history has no %q", want)
		}
	}
	if status, to := postForm(t, at+"/record", url.Values{"key": {"abc126"}, "strike": {"abc124-mass"}, "why": {"weighed with the pot"}}); status != 303 {
		t.Errorf("struck out: %d %s", status, to)
	}
	if _, _, page := get(t, at+"/record?unit=C1-L1&plant=P1"); !strings.Contains(page, "struck out") || !strings.Contains(page, "weighed with the pot") {
		t.Error("the struck line is not shown")
	}
	if entries, err := trialtable.Read([]byte(table())); err != nil || len(entries) != 3 || len(trialtable.Standing(entries)) != 0 {
		t.Errorf("%v\n%s", err, table())
	}
	// A doubt does not hold anything up.
	for i := range 6 {
		postForm(t, at+"/record", seen("key", fmt.Sprintf("doubt%d", i), "plant", fmt.Sprintf("P%d", i+2), "mass", "150", "mass-measure", "g"))
	}
	status, to := postForm(t, at+"/record", seen("key", "doubt9", "plant", "P8", "mass", "5.2", "mass-measure", "g"))
	if status != 303 {
		t.Fatalf("%d %s", status, to)
	}
	if _, _, page := get(t, at[:strings.Index(at, "/trial/")]+to); !strings.Contains(page, "in ounces it would be 147.4 g") {
		t.Errorf("no doubt is shown:\n%s", page)
	}
	var look struct {
		Means, Wrong string
		Doubts       []string
	}
	_, _, body := get(t, at+"/record/look?unit=C1-L1&plant=P9&what=mass&mass=5.2&date=2026-01-05")
	if err := json.Unmarshal([]byte(body), &look); err != nil || len(look.Doubts) != 1 {
		t.Errorf("%s, %v", body, err)
	}
	_, _, body = get(t, at+"/record/look?unit=C1-L1&plant=P9&what=mass&mass=5,3&mass-measure=oz&date=2026-01-05")
	if err := json.Unmarshal([]byte(body), &look); err != nil || !strings.Contains(look.Means, "150.3 g") {
		t.Errorf("%s, %v", body, err)
	}
}

// What cannot be is refused beside its field, with everything typed still there.
func TestRecordWithFaults(t *testing.T) {
	at, table := recordSite(t)
	tomorrow := time.Now().AddDate(0, 0, 2).Format(time.DateOnly)
	for name, c := range map[string]struct {
		f      url.Values
		status int
		says   string
	}{
		"nothing":           {seen("mass", ""), 422, "Write what was seen"},
		"words":             {seen("mass", "heavy"), 422, "is no mass"},
		"negative":          {seen("mass", "-4"), 422, "outside 0 to 5000"},
		"not a number":      {seen("mass", "NaN"), 422, ""},
		"both":              {seen("mass-missing", "dead"), 422, "empty one of the two"},
		"to come":           {seen("date", tomorrow), 422, "has not come yet"},
		"no day":            {seen("date", "5.1.2026"), 422, "is no day"},
		"no unit":           {seen("unit", "../x"), 409, ""},
		"no key":            {seen("key", ""), 409, ""},
		"odd key":           {seen("key", "<b>x</b>"), 409, ""},
		"grade":             {seen("mass", "", "severity", "9"), 422, "outside 0 to 5"},
		"half a leaf":       {seen("mass", "", "leaves", "7.5"), 422, "whole number"},
		"corrects nothing":  {seen("correct", "e9"), 409, "no line"},
		"long note":         {seen("note", strings.Repeat("n", 1001)), 422, "at most 1000"},
		"strikes nothing":   {url.Values{"key": {"abc126"}, "strike": {"e9"}}, 409, "has no line"},
		"more than a plant": {seen("note", strings.Repeat("n", 40000)), 413, ""},
	} {
		status, page := postForm(t, at+"/record", c.f)
		if status != c.status && !(name == "no unit" && status == 422) || !strings.Contains(page, c.says) {
			t.Errorf("%s: %d, want %d and %q\n%s", name, status, c.status, c.says, page)
		}
		if typed := c.f.Get("by"); status != 413 && name != "no unit" && typed != "" && !strings.Contains(page, `value="AB"`) {
			t.Errorf("%s: what was typed is lost", name)
		}
		if strings.Contains(page, "<b>x") {
			t.Errorf("%s is not escaped", name)
		}
	}
	if table() != "" {
		t.Errorf("something was kept:\n%s", table())
	}
	for _, path := range []string{"/record?unit=nobody&plant=P1", "/record?unit=C1-L1&plant=%3Cb%3E&kept=x,,y&correct=zz", "/record/look?what=mass&mass=%FF&unit=C1-L1", "/import?kept=x&undone=y", "/plan?start=never", "/plan?days=-4", "/sheet?start=x", "/import/none", "/record?unit=%00"} {
		if status, _, page := get(t, at+path); status >= 500 || strings.Contains(page, "<b>") {
			t.Errorf("%s answers %d", path, status)
		}
	}
	if status, page := postForm(t, at+"/record", seen("mass", "141,5", "mass-measure", "g")); status != 303 || !strings.Contains(table(), ",141.5,") {
		t.Errorf("a decimal comma: %d %s", status, page)
	}
}

// send uploads a table.
func send(t testing.TB, address, name string, raw []byte) (int, string) {
	t.Helper()
	return sendInto(t, address, "", name, raw)
}

// sendInto sends a file, and before it what it is for.
func sendInto(t testing.TB, address, into, name string, raw []byte) (int, string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	if into != "" {
		if err := m.WriteField("into", into); err != nil {
			t.Fatal(err)
		}
	}
	part, err := m.CreateFormFile("table", name)
	if err != nil {
		t.Fatal(err)
	}
	part.Write(raw)
	m.Close()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := client.Post(address, m.FormDataContentType(), &b)
	if err != nil {
		return 0, err.Error() // the server may hang up on what is too large
	}
	defer r.Body.Close()
	body, _ := io.ReadAll(r.Body)
	if to := r.Header.Get("Location"); to != "" {
		return r.StatusCode, to
	}
	return r.StatusCode, string(body)
}

// A table is looked at, kept once, its columns remembered, and taken back.
func TestImportOnThePage(t *testing.T) {
	at, table := recordSite(t)
	root := at[:strings.Index(at, "/trial/")]
	raw := []byte("Lamp;Head <i>;Weight;Day\nC1-L1;P1;120,5;2026-01-05\nC1-L2;P1;4.9 oz;2026-01-05\n")
	status, to := send(t, at+"/import", "../../../harvest.csv", raw)
	if status != 303 {
		t.Fatalf("%d %s", status, to)
	}
	if status, _, page := get(t, root+to); status != 422 || !strings.Contains(page, "No column is the unit") || !strings.Contains(page, "Head &lt;i&gt;") || strings.Contains(page, "../harvest") {
		t.Errorf("unknown headings: %d\n%s", status, page)
	}
	columns := url.Values{"c0": {"unit"}, "c1": {"plant"}, "c2": {"mass"}, "c3": {"time"}}
	status, _, page := get(t, root+to+"?"+columns.Encode())
	if status != 200 || !strings.Contains(page, "2 new values, 0 there already") || !strings.Contains(page, "138.9 g") || !strings.Contains(page, "Keep 2 values") || table() != "" {
		t.Errorf("preview: %d\n%s", status, page)
	}
	for range 2 {
		if status, went := postForm(t, root+to, columns); status != 303 {
			t.Errorf("%d %s", status, went)
		}
	}
	if n := strings.Count(table(), "i1-"); n != 2 || strings.Contains(table(), "i2-") {
		t.Errorf("kept %d:\n%s", n, table())
	}
	// The next table of this kind needs no telling; what is there is known again.
	_, to = send(t, at+"/import", "harvest2.csv", append(raw, "C1-L1;P2;99;2026-01-05\n"...))
	if status, _, page := get(t, root+to); status != 200 || !strings.Contains(page, "1 new values, 2 there already") {
		t.Errorf("remembered: %d\n%s", status, page)
	}
	if status, went := postForm(t, at+"/undo", url.Values{"number": {"1"}, "by": {"AB"}}); status != 303 || !strings.Contains(went, "values=2") {
		t.Errorf("undone: %d %s", status, went)
	}
	if status, _ := postForm(t, at+"/undo", url.Values{"number": {"17"}}); status != 422 {
		t.Errorf("an import that never was: %d", status)
	}
	if all, err := trialtable.Read([]byte(table())); err != nil || len(trialtable.Standing(all)) != 0 {
		t.Errorf("%v", err)
	}
	for name, c := range map[string]struct {
		raw    []byte
		status int
	}{
		"empty.csv":   {nil, 422},
		"photo.png":   {[]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), 422},
		"old.xls":     {[]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00\x00\x00"), 422},
		"broken.xlsx": {[]byte("PK\x03\x04nonsense"), 422},
		"head.csv":    {[]byte("unit,plant,mass\n"), 422},
		"large.csv":   {bytes.Repeat([]byte("unit,plant,mass\n"), 600_000), 413},
		"run.exe":     {[]byte("unit,plant,mass\nC1-L1,P1,120\n"), 303}, // the content counts
	} {
		status, page := send(t, at+"/import", name, c.raw)
		if status != c.status && !(c.status == 413 && status == 0) {
			t.Errorf("%s: %d, want %d\n%s", name, status, c.status, page)
		}
	}
	if status, page := postForm(t, at+"/import", url.Values{"table": {"x"}}); status != 422 || !strings.Contains(page, "No file was sent") {
		t.Errorf("no file: %d", status)
	}
}

// A post from another site is refused, and a server without a place to write says so.
func TestGuardOfTrials(t *testing.T) {
	at, table := recordSite(t)
	r, err := http.NewRequest(http.MethodPost, at+"/record", strings.NewReader(seen().Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "https://elsewhere.example")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusForbidden || table() != "" {
		t.Errorf("a post from elsewhere answers %d", answer.StatusCode)
	}
	s := httptest.NewServer(web.New(web.Options{Folder: os.DirFS(folder(t)), Hosts: []string{"127.0.0.1"}}).Handler())
	t.Cleanup(s.Close)
	for _, path := range []string{"/trials", "/trials/new", "/trial/light-levels.trial/record", "/trial/light-levels.trial/import"} {
		if status, _, page := get(t, s.URL+path); status != 200 || !strings.Contains(page, "no folder") {
			t.Errorf("%s: %d", path, status)
		}
	}
	for _, path := range []string{"record", "undo"} {
		if status, _ := postForm(t, s.URL+"/trial/light-levels.trial/"+path, seen("unit", "C1-L1")); status != 403 {
			t.Errorf("%s answers %d where nothing can be written", path, status)
		}
	}
}

// Whatever a form or an upload holds, the answer is no failure of the server, and the
// table stays readable.
func FuzzTrialForms(f *testing.F) {
	dir := f.TempDir()
	for _, name := range []string{"light-levels.trial.yaml", "light-levels.trial.csv"} {
		if err := os.WriteFile(filepath.Join(dir, name), demo.File(name), 0o644); err != nil {
			f.Fatal(err)
		}
	}
	s := web.New(web.Options{Folder: os.DirFS(dir), Trials: safefolder.New(dir), Hosts: []string{"127.0.0.1"}}).Handler()
	f.Add("record", seen().Encode(), []byte(""))
	f.Add("import", "", []byte("unit,plant,mass\nC1-L1,P1,120\n"))
	f.Add("new", twoLevels("bench", "", "lamps", "2", "plants", "6").Encode(), []byte(""))
	f.Add("look", "unit=C1-L1&plant=P1&what=mass&mass=5", []byte(""))
	f.Fuzz(func(t *testing.T, which, form string, raw []byte) {
		ask := func(r *http.Request) int {
			r.Host = "127.0.0.1"
			w := httptest.NewRecorder()
			s.ServeHTTP(w, r)
			return w.Code
		}
		const at = "/trial/light-levels.trial/"
		q, _ := url.ParseQuery(form) // what of it can be read
		form = q.Encode()
		var r *http.Request
		switch which {
		case "record":
			r = httptest.NewRequest(http.MethodPost, at+"record", strings.NewReader(form))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		case "import":
			var b bytes.Buffer
			m := multipart.NewWriter(&b)
			part, err := m.CreateFormFile("table", "x.csv")
			if err != nil {
				t.Fatal(err)
			}
			part.Write(raw)
			m.Close()
			r = httptest.NewRequest(http.MethodPost, at+"import", &b)
			r.Header.Set("Content-Type", m.FormDataContentType())
		case "raw":
			r = httptest.NewRequest(http.MethodPost, at+"import", bytes.NewReader(raw))
			r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		case "new":
			r = httptest.NewRequest(http.MethodGet, "/trials/new?"+form, nil)
		default:
			r = httptest.NewRequest(http.MethodGet, at+"record/look?"+form, nil)
		}
		if code := ask(r); code >= 500 {
			t.Errorf("%s answers %d", which, code)
		}
		if _, err := trialbook.Open(os.DirFS(dir), "light-levels.trial.yaml"); err != nil {
			t.Fatal(err)
		}
	})
}
