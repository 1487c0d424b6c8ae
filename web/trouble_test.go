package web_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"underlamp/formats/evidencefile"
	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// A trouble is picked, asked about, kept and concluded with forms alone.
func TestTroublePages(t *testing.T) {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	dir := folder(t)
	server := httptest.NewServer(web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Cases: s, Zone: time.UTC}).Handler())
	t.Cleanup(server.Close)
	at := server.URL + "/bench/tier-2-middle/trouble"

	code, header, body := get(t, at)
	if code != 200 || strings.Count(body, `type="checkbox"`) != 15 || strings.Count(body, "<svg class=\"ailment\"") != 15 || !strings.Contains(body, "No case of this bench is kept yet") {
		t.Fatalf("code %d, %d boxes", code, strings.Count(body, `type="checkbox"`))
	}
	_, _, css := get(t, server.URL+regexp.MustCompile(`/static/pages-[^"]+\.css`).FindString(body))
	_, _, own := get(t, server.URL+regexp.MustCompile(`/static/trouble-[^"]+\.css`).FindString(body))
	if n := len(body) + len(css) + len(own); n > 100_000 || header.Get("Cache-Control") != "no-store" {
		t.Errorf("the first load has %d bytes, want under 100 kB", n)
	}

	// Questions come one at a time; each answer is in the address.
	address := at + "?s=wilt"
	for n := range 4 {
		_, _, body = get(t, address)
		m := regexp.MustCompile(`<button name="a" value="([a-z-]+):"`).FindStringSubmatch(body)
		if m == nil || !strings.Contains(body, "by what is known so far") {
			t.Fatalf("question %d is missing", n+1)
		}
		address += "&a=" + m[1] + ":"
	}
	if _, _, body = get(t, address); strings.Contains(body, "<button name=\"a\"") || !strings.Contains(body, "Not known.") {
		t.Error("a fifth question is asked")
	}
	_, _, body = get(t, at+"?s=inner-leaf-burn&done=1")
	for _, want := range []string{"Too little calcium reaches the heart leaves", "<strong>7.8 times</strong> the odds", "Change first", "The outlook expects of", "Look again", "To tell the first two apart", "What no record of a bench shows", "default, nobody gave it", "Keep the case"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q", want)
		}
	}

	for _, wrong := range []string{"?s=hiccups", "?s=wilt&a=roots:green", "?s=wilt&a=roots", "?s=wilt&a=dli:dim"} {
		if code, _, body := get(t, at+wrong); code != http.StatusBadRequest || !strings.Contains(body, `role="alert"`) {
			t.Errorf("%s: %d", wrong, code)
		}
	}

	post := func(where string, form url.Values) (int, string, string) {
		r, err := http.NewRequest(http.MethodPost, where, strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		answer, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		text, _ := io.ReadAll(answer.Body)
		return answer.StatusCode, answer.Header.Get("Location"), string(text)
	}
	code, to, _ := post(at, url.Values{"s": {"inner-leaf-burn"}, "a": {"newest:brown-edge"}, "by": {"Ida"}, "note": {"three heads <of> six"}})
	if code != http.StatusSeeOther || !strings.HasPrefix(to, "/bench/tier-2-middle/trouble/") {
		t.Fatal(code, to)
	}
	if _, _, body = get(t, server.URL+to); !strings.Contains(body, "by Ida") || !strings.Contains(body, "three heads &lt;of&gt; six") || !strings.Contains(body, "Not known yet") {
		t.Error(body)
	}
	for _, cause := range []string{"iron", "inner-burn"} {
		if code, _, _ := post(server.URL+to, url.Values{"cause": {cause}, "helped": {"yes"}, "by": {"Ida"}}); code != http.StatusSeeOther {
			t.Fatal(code)
		}
	}
	if _, _, body = get(t, server.URL+to); !strings.Contains(body, "<strong>Too little calcium reaches the heart leaves; the change helped.</strong>") || strings.Count(body, "(Ida)") != 2 {
		t.Error("the outcome is not shown with what was recorded before")
	}
	if _, _, body = get(t, at); !strings.Contains(body, "Cases here with a known cause: 1. The cause ranked first was right in 1") {
		t.Error("the outcome is not counted")
	}
	if code, _, _ := post(server.URL+to, url.Values{"cause": {"magic"}}); code != http.StatusUnprocessableEntity {
		t.Error(code)
	}
	if code, _, _ := post(at, url.Values{"by": {"Ida"}}); code != http.StatusBadRequest {
		t.Error(code)
	}
	if code, _, _ := get(t, at+"/none"); code != http.StatusNotFound {
		t.Error(code)
	}
	if docs, err := s.Documents(context.Background(), "trouble"); err != nil || len(docs) != 1 {
		t.Error(err, len(docs))
	}

	// The folder's own table holds at once, and its mistakes are told.
	name := filepath.Join(dir, evidencefile.Name)
	for text, want := range map[string]string{
		"underlamp evidence: 1\ncauses:\n  - {key: iron, name: iron of our own, met: often}\n": "Iron of our own",
		"underlamp evidence: 1\ncauses:\n  - {key: iron, met: always}\n":                       "evidence.yaml has problems",
	} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, body := get(t, at+"?s=interveinal-young&done=1"); code != 200 || !strings.Contains(body, want) {
			t.Errorf("%d, no %q", code, want)
		}
	}
}

var _ web.Cases = store.Store(nil)
