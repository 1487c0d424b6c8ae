package web_test

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"underlamp/book"
	"underlamp/docs"
	"underlamp/web"
)

var (
	hrefs = regexp.MustCompile(`(?:href|src)="(/help[^"]*)"`)
	ids   = regexp.MustCompile(` id="([^"]+)"`)
)

// Every chapter is shown, and every link and picture in it leads somewhere in the book.
func TestHelp(t *testing.T) {
	s := shared(t)
	b, err := book.Open(docs.Files, "/help")
	if err != nil {
		t.Fatal(err)
	}
	bodies := map[string]string{}
	fetch := func(path string) string {
		body, ok := bodies[path]
		if !ok {
			var status int
			status, _, body = get(t, s.URL+path)
			if status != http.StatusOK {
				t.Errorf("%s: %d", path, status)
			}
			bodies[path] = body
		}
		return body
	}
	todo := []string{"/help/"}
	for _, at := range b.Pages() {
		todo = append(todo, "/help/"+at)
	}
	n := 0
	for _, path := range todo {
		body := fetch(path)
		if strings.Contains(body, "<script") && strings.Contains(body, "<script>") || strings.Contains(body, "style=") {
			t.Errorf("%s has a script or a style of its own, which the policy refuses", path)
		}
		for _, m := range hrefs.FindAllStringSubmatch(body, -1) {
			n++
			to, anchor, _ := strings.Cut(m[1], "#")
			there := fetch(to)
			if anchor != "" && !slices.ContainsFunc(ids.FindAllStringSubmatch(there, -1), func(id []string) bool { return id[1] == anchor }) {
				t.Errorf("%s: %s has no #%s", path, to, anchor)
			}
		}
	}
	if n < 1000 {
		t.Errorf("only %d links", n)
	}
	for path, want := range map[string]int{"/help/nothing": 404, "/help/README": 404, "/help/../web": 404, "/help/bench-page.png": 200, "/help/none.png": 404, "/help/docs.go": 404, "/help/schemas/files/bench.schema.json": 200} {
		if status, _, _ := get(t, s.URL+path); status != want {
			t.Errorf("%s: %d, want %d", path, status, want)
		}
	}
	if _, h, _ := get(t, s.URL+"/help/schemas/files/bench.schema.json"); h.Get("Content-Type") != "application/schema+json" {
		t.Errorf("a schema is %q", h.Get("Content-Type"))
	}
}

// Each page leads to a chapter that there is.
func TestHelpOfPages(t *testing.T) {
	s := shared(t)
	for pattern, chapter := range web.Chapters() {
		at, anchor, _ := strings.Cut(chapter, "#")
		status, _, body := get(t, s.URL+"/help/"+at)
		if status != http.StatusOK || anchor != "" && !strings.Contains(body, ` id="`+anchor+`"`) {
			t.Errorf("%s leads to %s: %d", pattern, chapter, status)
		}
	}
	for path, chapter := range map[string]string{"/bench/tier-1-top/lamps": "how-to/light-of-a-lamp", "/bench/nobody": "how-to/choose-a-setting", "/nothing": ""} {
		if _, _, body := get(t, s.URL+path); !strings.Contains(body, `href="/help/`+chapter+`">Help</a>`) {
			t.Errorf("%s does not lead to the chapter %q", path, chapter)
		}
	}
}

// What people ask is found, in time. The chapters are those that a reader of the contents
// would open.
func TestHelpSearch(t *testing.T) {
	s := shared(t)
	for question, want := range map[string]string{
		"hearts burn": "/help/how-to/why-hearts-burn", "token": "/help/how-to/connect-sensors", "photometric file": "/help/formats/photometric", "backup": "/help/how-to/back-up-and-move",
		"nitric acid": "/help/feed", "dehumidif": "/help/how-to/dry-a-room", "yaml-language-server": "/help/how-to/check-in-an-editor", "Latin square": "/help/trials", "dimming curve": "/help/formats/bench",
		"severity": "/help/", "µmol": "/help/", "systemd": "/help/operations",
	} {
		began := time.Now()
		_, _, body := get(t, s.URL+"/help/?q="+strings.ReplaceAll(question, " ", "+"))
		took := time.Since(began)
		_, hits, _ := strings.Cut(body, `<ol class="hits">`)
		at := strings.Index(hits, want)
		if first := strings.Count(hits[:max(at, 0)], "<li>"); at < 0 || first > 5 {
			t.Errorf("%q: %s is hit %d", question, want, first)
		}
		if !strings.Contains(hits, "<mark>") && !strings.Contains(hits, "("+question+")</a></h2>") {
			t.Errorf("%q: no excerpt shows the words", question)
		}
		t.Logf("%q: %.1f ms", question, took.Seconds()*1000)
	}
	if _, _, body := get(t, s.URL+"/help/?q=xyzzyx"); !strings.Contains(body, "Nothing is said of") {
		t.Error("what is not there is not told")
	}
	if _, _, body := get(t, s.URL+"/help/?q=%3Cscript%3Ealert"); strings.Contains(body, "<script>alert") {
		t.Error("a question is shown as it came")
	}
}
