package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/app/environment"
	"underlamp/app/kept"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/web"
)

const middle = "tier-2-middle"

// editSite is a site over a folder that can be written, with a history.
func editSite(t testing.TB, full bool) (site *httptest.Server, dir string, s *sqlite.DB) {
	t.Helper()
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	dir = t.TempDir()
	if full {
		fill(t, dir)
		if _, _, err := kept.Import(context.Background(), s, os.DirFS(dir), kept.Options{Now: time.Now().Add(-72 * time.Hour), Since: time.Now().Add(-72 * time.Hour), By: "folder"}); err != nil {
			t.Fatal(err)
		}
	}
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	site = httptest.NewServer(web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Desk: kept.NewDesk(s, f, time.Now), Zone: time.UTC}).Handler())
	t.Cleanup(site.Close)
	return site, dir, s
}

func postTo(t testing.TB, to, kind string, body io.Reader, header ...string) (int, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, to, body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	a, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	if to := a.Header.Get("Location"); to != "" {
		return a.StatusCode, to
	}
	return a.StatusCode, string(text)
}

func postJSON(t testing.TB, to string, v any) (int, string) {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return postTo(t, to, "application/json", bytes.NewReader(b))
}

type tried struct {
	Text, Fault, Moved string
	Form               string
	Problems           []struct{ Path, Text string }
	Changed            []string
	Scene              *struct{ Lamps []struct{ X, Z float64 } }
	Light              *struct {
		Plants []int
		Mean   string
	}
}

func try(t testing.TB, at string, v map[string]any) tried {
	t.Helper()
	status, body := postJSON(t, at+"/edit/try", v)
	if status != 200 {
		t.Fatalf("status %d: %s", status, body)
	}
	var a tried
	if err := json.Unmarshal([]byte(body), &a); err != nil {
		t.Fatal(err)
	}
	return a
}

type m = map[string]any

// What is dragged or typed changes the text there and nowhere else, the light follows, and
// what is wrong is said beside its field.
func TestEditTry(t *testing.T) {
	site, _, _ := editSite(t, true)
	at := site.URL + "/bench/" + middle
	base := string(demo.File(middle + ".yaml"))
	as := try(t, at, m{"text": base, "base": base})
	if as.Text != base || as.Light == nil || len(as.Light.Plants) != 18 || len(as.Changed) != 0 {
		t.Fatalf("%+v", as)
	}
	lower := try(t, at, m{"text": base, "base": base, "changes": []m{{"do": "set", "path": "lamps[0].height", "text": "26 cm"}, {"do": "set", "path": `lamps["right panel"].height`, "text": "10 1/4 in"}}})
	if want := strings.Replace(strings.Replace(base, "height: 32 cm", "height: 26 cm", 1), "height: 32 cm", "height: 10 1/4 in", 1); lower.Text != want {
		t.Errorf("%s", lower.Text)
	}
	if lower.Light == nil {
		t.Fatalf("%+v", lower.Problems)
	}
	if lower.Light.Plants[7] <= as.Light.Plants[7] || lower.Moved == "" || lower.Scene.Lamps[0].Z != 0.26 {
		t.Errorf("light below the lower lamp %d after %d; %q", lower.Light.Plants[7], as.Light.Plants[7], lower.Moved)
	}
	settled := try(t, at, m{"text": lower.Text, "base": base, "settle": true})
	if strings.Contains(settled.Text, "readings:") || strings.Count(settled.Text, "from: measured") != 2 || settled.Moved != "" || settled.Light == nil {
		t.Errorf("%s\n%s", settled.Fault, settled.Text)
	}
	wrong := try(t, at, m{"text": base, "base": base, "changes": []m{{"do": "set", "path": "lamps[0].height", "text": "60 cm"}}})
	if wrong.Scene != nil || len(wrong.Problems) == 0 || wrong.Problems[0].Path != "lamps[0].height" || !strings.Contains(wrong.Form, `aria-invalid="true"`) || !strings.Contains(wrong.Problems[0].Text, "above the ceiling") {
		t.Errorf("%+v", wrong)
	}
	apart := try(t, at, m{"text": base, "base": base, "apart": true, "changes": []m{{"do": "set", "path": "plants.at[3][0]", "text": "75 cm"}}})
	if strings.Contains(apart.Text, "grid:") || !strings.Contains(apart.Text, "[75 cm, 10 cm]") || apart.Light == nil || apart.Fault != "" {
		t.Errorf("%s\n%s", apart.Fault, apart.Text)
	}
	bad := try(t, at, m{"text": base, "base": base, "changes": []m{{"do": "set", "path": "lamps[7].height", "text": "1 cm"}}})
	if bad.Fault == "" || bad.Text != base {
		t.Errorf("%+v", bad)
	}
	torn := try(t, at, m{"text": "a: [", "base": base})
	if len(torn.Problems) == 0 || !strings.Contains(torn.Form, "come back") {
		t.Errorf("%+v", torn)
	}
	// A text that is no UTF-8 or too long never harms.
	if status, _ := postTo(t, at+"/edit/try", "application/json", strings.NewReader(`{"text":"`+strings.Repeat("x", 5<<20)+`"}`)); status != 413 {
		t.Errorf("a long text: status %d", status)
	}
	if status, _ := postTo(t, at+"/edit/try", "application/json", strings.NewReader(`{`)); status != 400 {
		t.Errorf("half a request: status %d", status)
	}
}

// What only the text of the file had is in fields: the method that reports ask for, the room and
// the altitude. All of it is filled in without script, lists too, and the checklist of the report
// leads to each field and counts it once it is saved.
func TestMethodAndRoomAreFields(t *testing.T) {
	site, dir, _ := editSite(t, true)
	at := site.URL + "/bench/" + middle
	file := filepath.Join(dir, middle+".yaml")
	text := string(demo.File(middle + ".yaml"))
	if i := strings.Index(text, "\nmethod:"); i >= 0 { // the last part of the demo's file
		text = text[:i+1]
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	told := func() int {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		b, err := benchfolder.Bench(os.DirFS(dir), filepath.Base(file))
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		n, _ := environment.Of(environment.Known{Bench: b}).Told()
		return n
	}
	was := told()
	_, _, checklist := get(t, at+"/report")
	if m := workID.FindStringSubmatch(checklist); m != nil { // the report itself takes long, and is not asked for here
		postForm(t, site.URL+"/work/"+m[1], url.Values{"do": {"stop"}})
	}
	for _, field := range []string{"method.seedlings#at-method-seedlings", "method.watering#at-method-watering", "method.instruments#at-method-instruments"} {
		if !strings.Contains(checklist, "/bench/"+middle+"/edit?field="+field+`"`) {
			t.Errorf("the checklist does not lead to %s", field)
		}
	}
	_, _, page := get(t, at+"/edit?field=method.seedlings")
	for _, want := range []string{`id="group-method" data-group="method" open`, `<textarea id="at-method-seedlings"`, `aria-describedby="at-method-seedlings-h"`, "Asked for: cultivar, how they were raised", `name="set:room.volume"`, `name="set:air.altitude"`, `placeholder="0 m, default"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the editor lacks %s", want)
		}
	}
	// Without script: what is typed goes with the button that adds, and nothing is saved by it.
	form := url.Values{"text": {text}, "base": {text}, "set:method.seedlings": {"sown 2026-09-28: 14 d at 150 µmol/m²/s\r\nin a tray"}, "set:method.watering": {"deep water, topped up"}, "set:room.volume": {"22 m³"}, "set:air.altitude": {"1640 ft"}, "do": {"add:method.instruments"}}
	status, added := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
	if status != 200 || !strings.Contains(added, `name="set:method.instruments[0].reads"`) || !strings.Contains(added, "22 m³") {
		t.Fatalf("%d\n%s", status, added)
	}
	if now, err := os.ReadFile(file); err != nil || string(now) != text {
		t.Errorf("a button that adds has saved: %v", err)
	}
	shown := func(page, id string) string {
		_, rest, _ := strings.Cut(page, `<textarea id="`+id+`"`)
		_, rest, _ = strings.Cut(rest, ">")
		rest, _, _ = strings.Cut(rest, "</textarea>")
		return html.UnescapeString(rest)
	}
	text2 := shown(added, "text")
	// A button that takes away.
	status, gone := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"text": {text2}, "base": {text}, "do": {"remove:method.instruments[0]"}}.Encode()))
	if status != 200 || strings.Contains(gone, `name="set:method.instruments[0].reads"`) {
		t.Errorf("%d: the instrument is still there", status)
	}
	for do, want := range map[string]int{"add:limits": 422, "remove:space": 422, "burn": 422} {
		if status, _ := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"text": {text2}, "base": {text}, "do": {do}}.Encode())); status != want {
			t.Errorf("%s: %d", do, status)
		}
	}
	// Wrong first: the sentence stands beside the field, and its group is open.
	form = url.Values{"text": {text2}, "base": {text}, "set:method.instruments[0].calibrated": {"last spring"}, "set:room.leak": {"a draught"}}
	status, wrong := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
	for _, want := range []string{`id="at-method-instruments-0-calibrated-w"`, `id="at-room-leak-w"`, `id="group-room" data-group="room" open`} {
		if status != 422 || !strings.Contains(wrong, want) {
			t.Errorf("%d: %s is not said", status, want)
		}
	}
	form = url.Values{"text": {text2}, "base": {text}, "set:method.instruments[0].reads": {"ph"}, "set:method.instruments[0].make": {"pH meter"}, "set:method.instruments[0].calibrated": {"2026-05-04"}}
	if status, to := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(form.Encode())); status != 303 {
		t.Fatalf("%d %s", status, to)
	}
	now, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	b, problems, err := benchfile.Read(bytes.NewReader(now))
	if err != nil || b == nil {
		t.Fatal(err, problems)
	}
	if b.Method.Seedlings != "sown 2026-09-28: 14 d at 150 µmol/m²/s\nin a tray" || b.Method.Watering != "deep water, topped up" || len(b.Method.Instruments) != 1 || b.Method.Instruments[0].Make != "pH meter" || b.Room.Volume.Value != 22 || math.Abs(float64(b.Air.Altitude.Value)-499.872) > 1e-6 {
		t.Errorf("%+v, %+v, %v", b.Method, b.Room.Volume, b.Air.Altitude)
	}
	if is := told(); is != was+2 {
		t.Errorf("%d are told after %d, and two were filled in", is, was)
	}
	if _, _, air := get(t, at+"/air"); !strings.Contains(air, "/edit?field=room#group-room") {
		t.Error("the page Air does not lead to the room")
	}
}

// Saving writes the file, keeps versions, refuses what others have changed, and tells both.
func TestEditSave(t *testing.T) {
	site, dir, s := editSite(t, true)
	at := site.URL + "/bench/" + middle
	base := string(demo.File(middle + ".yaml"))
	file := filepath.Join(dir, middle+".yaml")
	mine := strings.Replace(base, "height: 32 cm", "height: 30 cm", 1)
	status, body := postJSON(t, at+"/edit", m{"text": mine, "base": base, "by": "Ida", "why": "pale heads", "from": time.Now().Add(-24 * time.Hour).UTC().Format("2006-01-02T15:04")})
	if status != 200 {
		t.Fatalf("%d %s", status, body)
	}
	if got, err := os.ReadFile(file); err != nil || string(got) != mine {
		t.Fatalf("%v\n%s", err, got)
	}
	for back, want := range map[time.Duration]string{30 * time.Hour: base, 12 * time.Hour: mine} {
		if v, err := s.Bench(context.Background(), middle, store.At(time.Now().Add(-back))); err != nil || string(v.Text) != want {
			t.Errorf("%v ago: %v", back, err)
		}
	}
	// By hand meanwhile.
	hand := strings.Replace(mine, "fan: across", "fan: down", 1)
	if err := os.WriteFile(file, []byte(hand), 0o644); err != nil {
		t.Fatal(err)
	}
	next := strings.Replace(mine, "days: 32", "days: 30", 1)
	status, body = postJSON(t, at+"/edit", m{"text": next, "base": mine})
	var a struct{ Fault, Theirs string }
	if err := json.Unmarshal([]byte(body), &a); err != nil || status != 409 || a.Theirs != hand {
		t.Fatalf("%d %v %s", status, err, body)
	}
	if got, err := os.ReadFile(file); err != nil || string(got) != hand {
		t.Errorf("the file was written over: %v", err)
	}
	status, body = postJSON(t, at+"/edit/merge", m{"Mine": next, "Base": mine, "Theirs": hand})
	var both struct {
		Text         string
		Mine, Theirs []string
	}
	if err := json.Unmarshal([]byte(body), &both); err != nil || both.Text != strings.Replace(hand, "days: 32", "days: 30", 1) || len(both.Mine) != 1 || len(both.Theirs) != 1 {
		t.Errorf("%d %v %s", status, err, body)
	}
	// A text with mistakes is refused with its place.
	status, body = postJSON(t, at+"/edit", m{"text": strings.Replace(hand, "width: 120 cm", "width: 120 apples", 1), "base": hand})
	if status != 422 || !strings.Contains(body, "Line 7") {
		t.Errorf("%d %s", status, body)
	}
	// Without script a form does the same.
	status, to := postTo(t, at+"/edit", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"text": {strings.ReplaceAll(hand, "\n", "\r\n")}, "base": {strings.ReplaceAll(hand, "\n", "\r\n")}, "set:crop.days": {"28"}, "set:name": {"Cellar rack, middle tier"}, "by": {"Max"}}.Encode()))
	if got, err := os.ReadFile(file); status != 303 || err != nil || string(got) != strings.Replace(hand, "days: 32", "days: 28", 1) {
		t.Errorf("%d %s %v\n%s", status, to, err, got)
	}
}

// Nobody elsewhere can write, and no name leaves the folder.
func TestEditIsGuarded(t *testing.T) {
	site, dir, _ := editSite(t, true)
	for _, path := range []string{"/bench/" + middle + "/edit", "/bench/" + middle + "/edit/try", "/bench/" + middle + "/edit/merge", "/bench/" + middle + "/history", "/new", "/demo", "/demo/remove"} {
		if status, _ := postTo(t, site.URL+path, "application/x-www-form-urlencoded", strings.NewReader("name=x"), "Origin", "http://elsewhere.example"); status != 403 {
			t.Errorf("%s from elsewhere: status %d", path, status)
		}
		if status, _ := postTo(t, site.URL+path, "text/plain", strings.NewReader("name=x"), "Sec-Fetch-Site", "cross-site"); status != 403 {
			t.Errorf("%s across sites: status %d", path, status)
		}
	}
	for _, id := range []string{"..%2fx", ".hidden", "a%2fb", "%00", strings.Repeat("x", 101)} {
		for _, part := range []string{"/edit", "/history"} {
			if status, _, _ := get(t, site.URL+"/bench/"+id+part); status != 404 {
				t.Errorf("%s%s: status %d", id, part, status)
			}
		}
	}
	if _, h, _ := get(t, site.URL+"/bench/"+middle+"/edit"); !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Error("no policy")
	}
	// Where nothing may be written there are no such pages.
	plain := shared(t)
	if status, _, _ := get(t, plain.URL+"/bench/"+middle+"/edit"); status != 404 {
		t.Errorf("status %d", status)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) < 9 {
		t.Errorf("%v %v", entries, err)
	}
}

// What was set when, put right with both kept, and the light as it was.
func TestHistory(t *testing.T) {
	site, _, s := editSite(t, true)
	at := site.URL + "/bench/" + middle
	base := string(demo.File(middle + ".yaml"))
	mine := strings.ReplaceAll(base, "height: 32 cm", "height: 25 cm")
	if status, body := postJSON(t, at+"/edit", m{"text": mine, "base": base, "by": "Ida", "why": "they are pale"}); status != 200 {
		t.Fatal(body)
	}
	_, _, page := get(t, at+"/history")
	for _, want := range []string{"all lamps, height: 32 cm to 25 cm", "Ida: they are pale", "The first that is known of it"} {
		if !strings.Contains(page, want) {
			t.Errorf("the history does not say %q\n%s", want, page)
		}
	}
	past := time.Now().Add(-48 * time.Hour).UTC().Format("2006-01-02T15:04")
	for path, want := range map[string]string{"": "Lamps at 25 cm", "?at=" + past: "Lamps at 32 cm"} {
		if _, _, page := get(t, at+path); !strings.Contains(page, want) {
			t.Errorf("%s does not say %q", path, want)
		}
	}
	if _, _, part := get(t, at+"/light?at="+past); !strings.Contains(part, "Lamps at 32 cm") {
		t.Error("the light of then is that of now")
	}
	if _, _, page := get(t, at+"?at="+past); !strings.Contains(page, "as it was on") {
		t.Error("the page does not say that it is of then")
	}
	if status, _, _ := get(t, at+"?at=1999-01-01"); status != 404 {
		t.Errorf("before it was known: %d", status)
	}
	all, err := s.History(context.Background(), middle)
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	status, to := postTo(t, at+"/history", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"begin": {fmt.Sprint(all[1].From)}, "from": {past}, "by": {"Ida"}, "why": {"it was on Monday already"}}.Encode()))
	if status != 303 {
		t.Fatal(status, to)
	}
	if _, _, page := get(t, at+"?at="+past+":30"); !strings.Contains(page, "Lamps at 25 cm") {
		t.Error("the correction does not hold")
	}
	if all, err = s.History(context.Background(), middle); err != nil || len(all) != 3 || all[2].Why != "it was on Monday already" {
		t.Errorf("%+v %v", all, err)
	}
	if status, body := postTo(t, at+"/history", "application/x-www-form-urlencoded", strings.NewReader("begin=5&from="+past)); status != 404 {
		t.Error(status, body)
	}
}

// From an empty folder a bench is described, and the demo comes and goes.
func TestFirstRun(t *testing.T) {
	site, dir, _ := editSite(t, false)
	if _, _, page := get(t, site.URL+"/"); !strings.Contains(page, "Describe a bench") || !strings.Contains(page, "Open the demo bench") {
		t.Errorf("%s", page)
	}
	status, page := postTo(t, site.URL+"/new", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"space": {"80 x 60 x 1 apple"}, "lamps": {"2, 48 W, 32 cm"}, "plants": {"18 roses"}}.Encode()))
	if status != 422 || strings.Count(page, `aria-invalid="true"`) != 2 || !strings.Contains(page, `value="2, 48 W, 32 cm"`) {
		t.Errorf("%d %s", status, page)
	}
	status, to := postTo(t, site.URL+"/new", "application/x-www-form-urlencoded", strings.NewReader(url.Values{"name": {`My "first": shelf`}, "lamps": {"1, 100 W, 30 cm"}}.Encode()))
	if status != 303 || to != "/bench/my-first-shelf/edit?new=1" {
		t.Fatal(status, to)
	}
	text, err := os.ReadFile(filepath.Join(dir, "my-first-shelf.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	b, problems, err := benchfile.Read(bytes.NewReader(text))
	if err != nil || b == nil || b.Name != `My "first": shelf` {
		t.Fatal(problems, err)
	}
	if _, _, page := get(t, site.URL+to); !strings.Contains(page, "assumed</em>") || !strings.Contains(page, "default") {
		t.Error("what was assumed is not marked")
	}
	if status, _, page := get(t, site.URL+"/bench/my-first-shelf"); status != 200 || !strings.Contains(page, "Mean PPFD") {
		t.Errorf("%d %s", status, page)
	}
	if status, to := postTo(t, site.URL+"/demo", "text/plain", nil); status != 303 || to != "/" {
		t.Fatal(status, to)
	}
	if _, _, page := get(t, site.URL+"/"); !strings.Contains(page, "Cellar rack, top tier") || !strings.Contains(page, "Take the demo away") {
		t.Errorf("%s", page)
	}
	if status, to := postTo(t, site.URL+"/demo/remove", "text/plain", nil); status != 303 || to != "/" {
		t.Fatal(status, to)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("left: %v %v", entries, err)
	}
	// What was changed stays, and the page says so; it says nothing else that an address says.
	postTo(t, site.URL+"/demo", "text/plain", nil)
	if err := os.WriteFile(filepath.Join(dir, "tier-1-top.yaml"), append(demo.File("tier-1-top.yaml"), "# mine\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	status, to = postTo(t, site.URL+"/demo/remove", "text/plain", nil)
	if status != 303 || to != "/?stay=tier-1-top.yaml" {
		t.Fatal(status, to)
	}
	if _, _, page := get(t, site.URL+to+"%2Celsewhere.yaml"); !strings.Contains(page, "so they stayed: tier-1-top.yaml.") {
		t.Errorf("%s", page)
	}
}

// A person drags, types, undoes, reloads, saves, and meets somebody else's change; on a wide
// screen and on a phone.
func TestEditInABrowser(t *testing.T) {
	ctx := browser(t, 12*time.Minute)
	for _, width := range []int64{1280, 390} {
		site, dir, _ := editSite(t, true)
		file := filepath.Join(dir, middle+".yaml")
		base := string(demo.File(middle + ".yaml"))
		at := site.URL + "/bench/" + middle + "/edit"
		shown := `Number(document.querySelector('main').dataset.shown ?? 0)`
		// As the checklist of a report leads here: the field has the keyboard, its group is open. An
		// instrument comes and goes.
		act(t, ctx, "open", chromedp.EmulateViewport(width, 900), chromedp.Navigate(at+"?field=method.seedlings#at-method-seedlings"))
		wait(t, ctx, shown+` > 0 && document.querySelectorAll('#plan .thing').length === 25 && document.activeElement.id === 'at-method-seedlings'`)
		act(t, ctx, "add an instrument", chromedp.Click("#at-method-instruments"))
		wait(t, ctx, `document.getElementById('text').value.includes('instruments:') && document.querySelector('[data-path="method.instruments[0].make"]').checkVisibility()`)
		act(t, ctx, "take it back", chromedp.Click("#undo"))
		wait(t, ctx, `document.getElementById('undo').disabled && document.querySelector('[data-path="method.instruments[0].make"]') === null`)
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("%d px: the page is %d px too wide", width, over)
		}
		// Drag the left panel to the right by a quarter of the bench.
		ask[bool](t, ctx, `(() => { const g = document.querySelector('#plan [data-key="lamp0"]'), svg = document.getElementById('plan');
			g.scrollIntoView({block: 'center'});
			const m = svg.getScreenCTM(), p = (x, y) => new DOMPoint(x, y).matrixTransform(m), a = p(0.30, 0.36), b = p(0.40, 0.36);
			const fire = (type, q, on) => on.dispatchEvent(new PointerEvent(type, {bubbles: true, cancelable: true, pointerId: 1, isPrimary: true, clientX: q.x, clientY: q.y, button: 0}));
			svg.setPointerCapture = () => {};
			fire('pointerdown', a, g.querySelector('.halo')); for (let i = 1; i <= 5; i++) fire('pointermove', {x: a.x + (b.x - a.x) * i / 5, y: a.y}, svg); fire('pointerup', b, svg); return true; })()`)
		wait(t, ctx, `document.getElementById('text').value.includes('at: [40 cm, 30 cm]') && document.querySelector('[data-path="lamps[0].at[0]"]').value === '40 cm'`)
		wait(t, ctx, `document.getElementById('state').textContent === 'Not saved yet' && document.getElementById('moved').hidden === false`)
		// With keys, and how long it takes until the picture has followed.
		took := 1 << 30
		for range 5 {
			n := ask[int](t, ctx, shown)
			ask[bool](t, ctx, `(() => { const g = document.querySelector('#side [data-key="lamp0"]'); g.focus(); g.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowDown', bubbles: true, cancelable: true})); return true; })()`)
			wait(t, ctx, fmt.Sprintf(`%s > %d`, shown, n))
			wait(t, ctx, `Number(document.querySelector('main').dataset.took) > 0`)
			took = min(took, ask[int](t, ctx, `Number(document.querySelector('main').dataset.took)`))
		}
		t.Logf("%d px: from a key to the new picture %d ms, the best of 5", width, took)
		if h := ask[string](t, ctx, `document.querySelector('[data-path="lamps[0].height"]').value`); h != "27 cm" {
			t.Errorf("after five steps down the lamp hangs at %q", h)
		}
		if f := ask[bool](t, ctx, `document.activeElement.closest('.thing')?.dataset.key === 'lamp0'`); !f {
			t.Error("the keyboard has lost the lamp")
		}
		// Typed, wrong and then right.
		typeInto := func(path, v string) {
			ask[bool](t, ctx, fmt.Sprintf(`(() => { const i = document.querySelector('[data-path=%q]'); i.focus(); i.value = %q; i.dispatchEvent(new Event('input', {bubbles: true})); return true; })()`, path, v))
		}
		typeInto("lamps[1].height", "34 apples")
		wait(t, ctx, `document.querySelector('[data-path="lamps[1].height"]').getAttribute('aria-invalid') === 'true' && document.querySelector('[data-path="lamps[1].height"]').parentNode.querySelector('.wrong') !== null`)
		typeInto("lamps[1].height", "13.5 in")
		wait(t, ctx, `!document.querySelector('[data-path="lamps[1].height"]').hasAttribute('aria-invalid') && document.getElementById('state').textContent === 'Not saved yet' && document.getElementById('changed').textContent.includes('13.5 in')`)
		// Nothing is lost on reload.
		act(t, ctx, "reload", chromedp.Reload())
		wait(t, ctx, shown+` > 0 && !document.getElementById('restored').hidden && document.querySelector('[data-path="lamps[1].height"]').value === '13.5 in'`)
		// Undo takes the typing back, then the keys, then the drag: the bytes are those of the file.
		undone := 0
		for ; undone < 8 && !ask[bool](t, ctx, `document.getElementById('undo').disabled`); undone++ {
			n := ask[int](t, ctx, shown)
			act(t, ctx, "undo", chromedp.Click("#undo"))
			wait(t, ctx, fmt.Sprintf(`%s > %d`, shown, n))
		}
		if back := ask[string](t, ctx, `document.getElementById('text').value`); back != base {
			t.Errorf("%d px: undone it is not as it was:\n%s", width, back)
		}
		if undone > 4 { // the drag, the keys, and what was typed with a pause or without
			t.Errorf("%d px: %d steps to undo", width, undone)
		}
		n := ask[int](t, ctx, shown)
		act(t, ctx, "redo", chromedp.Click("#redo"))
		wait(t, ctx, fmt.Sprintf(`%s > %d`, shown, n))
		// Somebody else saves; then we do, and keep both.
		if err := os.WriteFile(file, []byte(strings.Replace(base, "fan: across", "fan: down", 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		act(t, ctx, "save", chromedp.Click("#save"))
		wait(t, ctx, `!document.getElementById('conflict').hidden && document.getElementById('conflict').textContent.includes('across to down') && document.querySelectorAll('#conflict button').length === 3`)
		axeCheck(t, ctx, map[int64]string{1280: "light", 390: "dark"}[width])
		act(t, ctx, "both", chromedp.Click("#conflict button"))
		wait(t, ctx, `document.getElementById('conflict').hidden && document.getElementById('state').textContent === 'Not saved yet'`)
		act(t, ctx, "save again", chromedp.Click("#save"))
		until(t, ctx, `location.pathname === '/bench/`+middle+`'`) // the page goes away while it is asked
		got, err := os.ReadFile(file)
		if want := strings.Replace(strings.Replace(base, "fan: across", "fan: down", 1), "at: [30 cm, 30 cm], height: 32", "at: [40 cm, 30 cm], height: 32", 1); err != nil || string(got) != want {
			t.Errorf("%d px: %v\n%s", width, err, got)
		}
	}
}

// A bench file that is a link is shown and not edited: what it points to stays, and so does
// the link.
func TestLinkedBenchIsNotEdited(t *testing.T) {
	s, dir, _ := editSite(t, true)
	target := filepath.Join(t.TempDir(), "elsewhere.yaml")
	text := demo.File("tier-1-top.yaml")
	if err := os.WriteFile(target, text, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, filepath.Join(dir, "linked.yaml")); err != nil {
		t.Skip("no links here: ", err)
	}
	if status, _, _ := get(t, s.URL+"/bench/linked/light"); status != http.StatusOK {
		t.Errorf("its light answers %d", status)
	}
	for _, ask := range []func() (int, string){
		func() (int, string) { status, _, page := get(t, s.URL+"/bench/linked/edit"); return status, page },
		func() (int, string) {
			return postForm(t, s.URL+"/bench/linked/edit", url.Values{"text": {strings.Replace(string(text), "16 h", "12 h", 1)}, "base": {string(text)}})
		},
	} {
		if status, page := ask(); status != http.StatusConflict || !strings.Contains(page, "linked.yaml is a link to another file") && !strings.Contains(page, "Linked.yaml is a link to another file") {
			t.Errorf("%d %s", status, page)
		}
	}
	now, err := os.ReadFile(target)
	if info, e := os.Lstat(filepath.Join(dir, "linked.yaml")); err != nil || e != nil || string(now) != string(text) || info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link or its aim was changed")
	}
}
