package httpintake_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/formats/senml"
	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/store"
	"underlamp/store/sqlite"
)

type broken struct{}

func (broken) Take(context.Context, []intake.Reading) error { return errors.New("no room on the disk") }

// A device sends over a real connection and is answered for what was done.
func TestSend(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	token, hash := store.NewToken()
	if err := s.AddDevice(ctx, store.Device{Name: "rack"}, hash); err != nil {
		t.Fatal(err)
	}
	in := intake.New(s, intake.Options{})
	defer in.Close()
	server := httptest.NewServer(httpintake.Handler(in, s, nil))
	defer server.Close()
	full := httptest.NewServer(httpintake.Handler(broken{}, s, nil))
	defer full.Close()

	const pack = `[{"bn":"rack/","bt":1.7641e9,"n":"air","u":"Cel","v":21.4},{"n":"air","t":10,"u":"Cel","v":21.5},{"n":"humidity","u":"%RH","v":62},{"n":"door","vs":"open"}]`
	for _, c := range []struct {
		name, url, method, auth, kind, body string
		status                              int
		says                                string
	}{
		{"a pack", server.URL, "POST", "Bearer " + token, "application/senml+json", pack, 204, ""},
		{"the same again", server.URL, "POST", "Bearer " + token, "application/json; charset=utf-8", pack, 204, ""},
		{"lines", server.URL, "POST", "Bearer " + token, "application/openmetrics-text; version=1.0.0; charset=utf-8", "air_celsius{sensor=\"rack/air\"} 21.6 1764100020\n# EOF\n", 204, ""},
		{"lines that are none", server.URL, "POST", "Bearer " + token, "application/openmetrics-text", "air_celsius\n", 400, "line 1"},
		{"no token", server.URL, "POST", "", "application/senml+json", pack, 401, "token"},
		{"another token", server.URL, "POST", "Bearer ul_other", "application/senml+json", pack, 401, "not known"},
		{"looking", server.URL, "GET", "Bearer " + token, "", "", 405, "POST"},
		{"a form", server.URL, "POST", "Bearer " + token, "application/x-www-form-urlencoded", "a=1", 415, "senml"},
		{"no list", server.URL, "POST", "Bearer " + token, "application/senml+json", `{"n":"a","v":1}`, 400, "list of records"},
		{"a clock of 1970", server.URL, "POST", "Bearer " + token, "application/senml+json", `[{"n":"a","bt":400000000,"v":1}]`, 400, "look at the clock"},
		{"too large", server.URL, "POST", "Bearer " + token, "application/senml+json", "[" + strings.Repeat(" ", senml.MaxBytes) + "]", 413, "4 MiB"},
		{"a full disk", full.URL, "POST", "Bearer " + token, "application/senml+json", pack, 503, "Send them again"},
	} {
		req, err := http.NewRequest(c.method, c.url, strings.NewReader(c.body))
		if err != nil {
			t.Fatal(err)
		}
		if c.auth != "" {
			req.Header.Set("Authorization", c.auth)
		}
		if c.kind != "" {
			req.Header.Set("Content-Type", c.kind)
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(c.name, err)
		}
		var b strings.Builder
		buf := make([]byte, 4096)
		for {
			n, err := res.Body.Read(buf)
			b.Write(buf[:n])
			if err != nil {
				break
			}
		}
		res.Body.Close()
		if res.StatusCode != c.status || !strings.Contains(b.String(), c.says) {
			t.Errorf("%s: %d %q, want %d, %q", c.name, res.StatusCode, b.String(), c.status, c.says)
		}
		if c.status == 503 && (res.Header.Get("Retry-After") == "" || strings.Contains(b.String(), "disk")) {
			t.Errorf("%s: %v %q", c.name, res.Header, b.String())
		}
	}
	air, err := s.Sensor(ctx, "rack/air")
	if err != nil || air.Unit != "Cel" {
		t.Fatal(air, err)
	}
	got, err := s.Samples(ctx, air.ID, 0, store.At(time.Now()))
	if err != nil || len(got) != 3 || got[0].Value != 21.4 || got[2].Value != 21.6 || got[1].At-got[0].At != 10*store.Second {
		t.Errorf("%v, %v", got, err)
	}
	if err := s.Revoke(ctx, "rack", 1); err != nil {
		t.Fatal(err)
	}
	req, _ := http.NewRequest("POST", server.URL, strings.NewReader(pack))
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Content-Type", "application/senml+json")
	if res, err := http.DefaultClient.Do(req); err != nil || res.StatusCode != 401 {
		t.Errorf("a revoked device: %v, %v", res, err)
	}
}
