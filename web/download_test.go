package web_test

import (
	"archive/zip"
	"bytes"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"underlamp/app/dataset"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// The downloads of a trial and of a bench are what the commands write: the package is read
// again, and its findings are those of the folder.
func TestDownloads(t *testing.T) {
	dir := folder(t)
	st, err := sqlite.Open(t.Context(), t.TempDir()+"/s.db")
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := httptest.NewServer(web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Rounds: st, Keep: st, Version: "test", Zone: time.UTC}).Handler())
	defer s.Close()
	fetch := func(path string, want int) ([]byte, http.Header) {
		t.Helper()
		status, header, body := get(t, s.URL+path)
		if status != want {
			t.Fatalf("%s answers %d, want %d: %s", path, status, want, body)
		}
		return []byte(body), header
	}
	read := func(path string) *datapackage.Package {
		raw, header := fetch(path, http.StatusOK)
		if got := header.Get("Content-Disposition"); !strings.HasPrefix(got, "attachment; filename=") || header.Get("Content-Type") != "application/zip" {
			t.Errorf("%s: %v", path, header)
		}
		files, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			t.Fatal(err)
		}
		p, err := datapackage.Read(files)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Verify(); err != nil {
			t.Error(err)
		}
		return p
	}
	p := read("/trial/light-levels.trial/package.zip")
	u, err := dataset.Folder(p)
	if err != nil || len(u.Notes) > 0 {
		t.Fatal(err, u)
	}
	page, err := trialbook.Open(u.Folder, u.Begin)
	if err != nil {
		t.Fatal(err)
	}
	f, err := page.Findings(t.Context(), u.Folder, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, shown := get(t, s.URL+"/trial/light-levels.trial"); !strings.Contains(shown, f.Summary[0]) || !strings.Contains(shown, `action="/trial/light-levels.trial/package.zip"`) {
		t.Errorf("the page does not say %q, or does not lead to its data", f.Summary[0])
	}
	if p := read("/bench/" + demo.SensorBench + "/package.zip"); p.Table("plants") == nil || p.Table("cycles") == nil {
		t.Error("the package of the bench lacks tables")
	}
	for _, path := range []string{"/trial/light-levels.trial/tables.xlsx", "/bench/" + demo.SensorBench + "/tables.xlsx"} {
		raw, _ := fetch(path, http.StatusOK)
		if _, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw))); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
	fetch("/trial/nothing/package.zip", http.StatusNotFound)
	fetch("/trial/light-levels.trial/tables.xlsx?names=some", http.StatusBadRequest)
	if err := os.WriteFile(dir+"/about.yaml", []byte("underlamp about: 1\nlicence: all mine\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if body, _ := fetch("/trial/light-levels.trial/package.zip", http.StatusUnprocessableEntity); !strings.Contains(string(body), "no name of a licence") {
		t.Errorf("%s", body)
	}
}

// Title, licence and people are said in a form without script, with the mistakes that the reader of
// the file tells, held against what others save, and go with the next package; names stay out of it
// if that is asked.
func TestAboutIsAForm(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	site := web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Trials: f, Version: "test", Zone: time.UTC})
	s := httptest.NewServer(site.Handler())
	defer func() { s.Close(); site.Close() }()
	const trial = "/trial/light-levels.trial"
	read := func() string {
		text, _ := os.ReadFile(dir + "/about.yaml")
		return string(text)
	}
	if _, _, page := get(t, s.URL+"/about?for="+trial); !strings.Contains(page, `name="set:licence"`) || !strings.Contains(page, `name="for" value="`+trial+`"`) || strings.Contains(page, "people[0]") {
		t.Errorf("%s", page)
	}
	if _, _, page := get(t, s.URL+"/about?for=https://example.org/"); strings.Contains(page, "example.org/\"") && strings.Contains(page, `name="for"`) {
		t.Error("the form leads out of the site")
	}
	const begin = "underlamp about: 1\n"
	send := func(v url.Values) (int, string) { return postForm(t, s.URL+"/about", v) }
	status, page := send(url.Values{"text": {begin}, "base": {""}, "set:licence": {"CC-BY-4.0"}, "do": {"add:people"}})
	if status != 200 || !strings.Contains(page, `name="set:people[0].name"`) || !strings.Contains(page, "Not saved yet") || strings.Contains(page, `class="wrong"`) || read() != "" {
		t.Fatalf("%d %q\n%s", status, read(), page)
	}
	text := begin + "licence: CC-BY-4.0\npeople:\n  - {role: author}\n"
	if !strings.Contains(page, text) {
		t.Errorf("the text is not as it should be:\n%s", page)
	}
	if status, page = send(url.Values{"text": {text}, "base": {""}, "set:licence": {"all mine"}, "set:site.latitude": {"52"}}); status != 422 || read() != "" {
		t.Errorf("%d %s", status, read())
	}
	for _, want := range []string{`id="at-licence-w"`, "no name of a licence", `id="at-people-0-name-w"`, "One of latitude and longitude is missing", `data-group="site" open`} {
		if !strings.Contains(page, want) {
			t.Errorf("%s is not said", want)
		}
	}
	if status, to := send(url.Values{"for": {trial}, "text": {text}, "base": {""}, "set:people[0].name": {"Ida: Example, jr."}, "set:people[0].id": {"https://orcid.org/0000-0000-0000-0000"}, "set:keywords": {"lettuce, \"light\" , "}, "set:title": {"Four levels # of light"}, "set:description": {"One line.\r\nAnother."}}); status != 303 || to != trial+"#data" {
		t.Fatalf("%d %s", status, to)
	}
	about, problems, err := aboutfile.Read(strings.NewReader(read()))
	want := &aboutfile.About{Title: "Four levels # of light", Description: "One line.\nAnother.", Licence: "CC-BY-4.0", Keywords: []string{"lettuce", `"light"`}, People: []aboutfile.Person{{Name: "Ida: Example, jr.", ID: "https://orcid.org/0000-0000-0000-0000", Role: "author"}}}
	if err != nil || about == nil || cmp.Diff(want, about) != "" {
		t.Errorf("%v %v %s\n%s", err, problems, cmp.Diff(want, about), read())
	}
	// Somebody else was faster: both are shown, and nothing is written over.
	saved := read()
	if status, page = send(url.Values{"text": {begin}, "base": {""}}); status != 409 || !strings.Contains(page, "What is there now") || read() != saved {
		t.Errorf("%d %s", status, page)
	}
	// As it stands, sent back: nothing changes, keywords neither.
	if status, _ = send(url.Values{"text": {saved}, "base": {saved}, "set:keywords": {`lettuce, "light"`}, "set:title": {"Four levels # of light"}, "set:licence": {"CC-BY-4.0"}}); status != 303 || read() != saved {
		t.Errorf("%d %s", status, read())
	}
	for do, want := range map[string]int{"add:site": 422, "remove:people[0]": 200, "remove:people[7]": 422} {
		if status, _ := send(url.Values{"text": {saved}, "base": {saved}, "do": {do}}); status != want {
			t.Errorf("%s: %d", do, status)
		}
	}
	if status, _ := send(url.Values{"text": {begin + strings.Repeat("#", dataset.MostAbout)}, "base": {saved}}); status == 303 || read() != saved {
		t.Errorf("a long text: %d", status)
	}
}
