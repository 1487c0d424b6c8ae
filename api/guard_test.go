package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"pgregory.net/rapid"

	"underlamp/access"
	"underlamp/api"
	"underlamp/wire"
)

// bare sends a request as it is.
func bare(t testing.TB, r *http.Request) (int, http.Header, string) {
	t.Helper()
	res, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, res.Header, string(body)
}

func request(t testing.TB, method, address, body string, head map[string]string) *http.Request {
	t.Helper()
	r, err := http.NewRequest(method, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	for k, v := range head {
		r.Header.Set(k, v)
	}
	return r
}

// A page of another site reaches nothing: not by a form or a script, not under a name of its own
// that it has made to point here, and it may read no answer. A browser that was let in reads as
// its role does, and changes nothing. Tokens do not go into addresses, and wrong ones have to wait.
func TestWhoAsks(t *testing.T) {
	w := newWorld(t)
	at := w.here.URL + api.Prefix
	for _, head := range []map[string]string{{"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}} {
		if status, _, _ := bare(t, request(t, "POST", at+"/demo", "", head)); status != http.StatusForbidden {
			t.Errorf("from %v: %d", head, status)
		}
	}
	r := request(t, "GET", at+"/benches", "", nil)
	r.Host = "evil.example"
	if status, _, body := bare(t, r); status != http.StatusMisdirectedRequest || strings.Contains(body, "tier") {
		t.Errorf("under another name: %d", status)
	}
	r = request(t, "OPTIONS", at+"/benches", "", map[string]string{"Origin": "http://evil.example", "Access-Control-Request-Method": "GET"})
	if status, h, _ := bare(t, r); status != http.StatusMethodNotAllowed || h.Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("a script elsewhere asks whether it may: %d %v", status, h)
	}
	if status, h, _ := bare(t, request(t, "GET", at+"/benches", "", nil)); status != 200 || h.Get("Access-Control-Allow-Origin") != "" || h.Get("Cross-Origin-Resource-Policy") != "same-origin" || h.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%d %v", status, h)
	}

	there := w.there.URL + api.Prefix
	for role, may := range map[access.Role][2]int{access.Owner: {200, 200}, access.Viewer: {200, 200}, access.Helper: {200, 403}} {
		i, err := w.door.Invite(context.Background(), "Ida "+string(role), role)
		if err != nil {
			t.Fatal(err)
		}
		token, _, err := w.door.Redeem(context.Background(), i.Code, netip.MustParseAddr("192.168.1.7"), "phone")
		if err != nil {
			t.Fatal(err)
		}
		cookie := map[string]string{"Cookie": "underlamp=" + token}
		if status, _, _ := bare(t, request(t, "GET", there+"/benches", "", cookie)); status != may[0] {
			t.Errorf("%s lists benches: %d", role, status)
		}
		if status, _, _ := bare(t, request(t, "GET", there+"/benches/tier-1-top/light?columns=2", "", cookie)); status != may[1] {
			t.Errorf("%s looks at light: %d", role, status)
		}
		for _, path := range []string{"/demo", "/benches/tier-1-top/doubts", "/messages/1/acknowledgement"} {
			if status, _, body := bare(t, request(t, "POST", there+path, "{}", cookie)); status != http.StatusForbidden || !strings.Contains(body, "problem:session") {
				t.Errorf("%s changes something: %d %s", role, status, body)
			}
		}
		// A token beside the cookie counts alone.
		cookie["Authorization"] = "Bearer " + w.token(access.ScopeRounds)
		if status, _, _ := bare(t, request(t, "GET", there+"/sensors", "", cookie)); status != http.StatusForbidden {
			t.Errorf("a token of few scopes beside a session: %d", status)
		}
	}
	text := w.token(access.ScopeRead)
	if status, _, _ := bare(t, request(t, "GET", there+"/benches?access_token="+url.QueryEscape(text), "", nil)); status != http.StatusUnauthorized {
		t.Errorf("a token in the address: %d", status)
	}
	for _, shown := range []string{"Basic " + text, text, "Bearer", "Bearer " + text[:20]} {
		if status, h, _ := bare(t, request(t, "GET", there+"/benches", "", map[string]string{"Authorization": shown})); status != http.StatusUnauthorized || !strings.HasPrefix(h.Get("WWW-Authenticate"), "Bearer") {
			t.Errorf("%.9s…: %d", shown, status)
		}
	}
	good := map[string]string{"Authorization": "Bearer " + text}
	if status, _, _ := bare(t, request(t, "GET", there+"/benches", "", good)); status != 200 {
		t.Fatalf("a good token: %d", status)
	}
	all, err := w.tokens.Live(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if i := slices.IndexFunc(all, func(x access.Token) bool { return !x.Used.IsZero() }); i < 0 {
		t.Error("that a token was used is not noted")
	}
	for _, x := range all {
		if _, err := w.tokens.Revoke(context.Background(), x.ID); err != nil {
			t.Fatal(err)
		}
	}
	status := 0
	for range 20 { // revoked at once; and whoever goes on with it has to wait
		if status, _, _ = bare(t, request(t, "GET", there+"/benches", "", good)); status == http.StatusTooManyRequests {
			break
		}
		if status != http.StatusUnauthorized {
			t.Fatalf("a revoked token: %d", status)
		}
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("wrong tokens without end: %d", status)
	}
}

// Of many that create with one key one creates, whichever of two servers of a store they reach; all
// who are answered are answered alike. Run with -race.
func TestOnceForAKey(t *testing.T) {
	w := newWorld(t)
	tokens := w.token(access.ScopeWrite)
	body, err := json.Marshal(wire.NewBench{Name: "Shelf", Lamps: "2, 40 W, 30 cm"})
	if err != nil {
		t.Fatal(err)
	}
	var made, waits atomic.Int64
	var mu sync.Mutex
	answers := map[string]int{}
	var all sync.WaitGroup
	for range 12 {
		all.Go(func() {
			for {
				status, h, text := bare(t, request(t, "POST", w.here.URL+api.Prefix+"/benches", string(body), map[string]string{"Authorization": "Bearer " + tokens, "Idempotency-Key": "k"}))
				if status == http.StatusConflict {
					if h.Get("Retry-After") == "" || !strings.Contains(text, "in-progress") {
						t.Errorf("%s", text)
						return
					}
					waits.Add(1)
					continue
				}
				if status != http.StatusCreated {
					t.Errorf("%d %s", status, text)
					return
				}
				if h.Get("Idempotent-Replayed") == "" {
					made.Add(1)
				}
				mu.Lock()
				answers[h.Get("Location")+h.Get("ETag")+text]++
				mu.Unlock()
				return
			}
		})
	}
	all.Wait()
	if made.Load() != 1 || len(answers) != 1 {
		t.Errorf("made %d times, %d answers", made.Load(), len(answers))
	}
	// Another token has keys of its own; without a key each request is its own.
	other := w.token(access.ScopeWrite)
	for want, head := range map[string]map[string]string{"shelf-2": {"Authorization": "Bearer " + other, "Idempotency-Key": "k"}, "shelf-3": nil} {
		_ = want
		status, h, _ := bare(t, request(t, "POST", w.here.URL+api.Prefix+"/benches", string(body), head))
		if status != http.StatusCreated || h.Get("Idempotent-Replayed") != "" || h.Get("Location") == api.Prefix+"/benches/shelf" {
			t.Errorf("%d %v", status, h)
		}
	}
	// What was refused can be mended and sent again under its key.
	bad := request(t, "POST", w.here.URL+api.Prefix+"/benches", `{"name":"x","space":"wide"}`, map[string]string{"Idempotency-Key": "again"})
	if status, _, _ := bare(t, bad); status != http.StatusUnprocessableEntity {
		t.Errorf("%d", status)
	}
	good := request(t, "POST", w.here.URL+api.Prefix+"/benches", `{"name":"x","space":"100 x 50 x 40 cm"}`, map[string]string{"Idempotency-Key": "again"})
	if status, _, text := bare(t, good); status != http.StatusCreated {
		t.Errorf("%d %s", status, text)
	}
}

// Whatever is sent, nothing breaks: random JSON, random parameters, and pieces of what is right.
func TestNothingBreaks(t *testing.T) {
	w := newWorld(t)
	ops := w.site.API().Operations()
	right := map[string]step{}
	for _, s := range steps() {
		if _, ok := right[s.op]; !ok && s.status < 400 {
			right[s.op] = s
		}
	}
	// What takes seconds, or gives all away, is walked through elsewhere.
	slow := map[string]bool{"raise": true, "aim": true, "match": true, "addDemo": true, "removeDemo": true, "watchTask": true}
	ops = slices.DeleteFunc(slices.Clone(ops), func(o api.Operation) bool { return slow[o.ID] || o.Task != nil })
	rapid.Check(t, func(rt *rapid.T) {
		o := rapid.SampledFrom(ops).Draw(rt, "operation")
		path := o.Path
		for name := range strings.SplitSeq("bench sensor task message crop trial case photo plant person entry token plate", " ") {
			path = strings.ReplaceAll(path, "{"+name+"}", url.PathEscape(rapid.SampledFrom([]string{"tier-1-top", "middle/air", "1", "light-levels.trial", "x", "..", "%00", "-"}).Draw(rt, name)))
		}
		for strings.Contains(path, "{") {
			i, j := strings.IndexByte(path, '{'), strings.IndexByte(path, '}')
			path = path[:i] + "x" + path[j+1:]
		}
		q := url.Values{}
		for range rapid.IntRange(0, 2).Draw(rt, "parameters") {
			q.Set(rapid.SampledFrom([]string{"limit", "cursor", "from", "at", "height_m", "hours", "columns", "x"}).Draw(rt, "name"), rapid.SampledFrom([]string{"1", "0", "-1", "1e400", "NaN", "2026-01-01", "9999-12-31T23:59:59Z", "MTox", "é", ""}).Draw(rt, "value"))
		}
		body := ""
		if o.Body > 0 {
			base := map[string]any{}
			if s, ok := right[o.ID]; ok {
				if text, err := json.Marshal(s.body); err == nil {
					json.Unmarshal(text, &base) // of another kind: nothing
				}
			}
			body = mangled(rt, base)
		}
		r := request(t, o.Method, w.here.URL+api.Prefix+path+"?"+q.Encode(), body, map[string]string{"If-Match": "*"})
		status, head, text := bare(t, r)
		if status == http.StatusTemporaryRedirect { // to the address without its dots
			return
		}
		if status >= 500 && status != http.StatusServiceUnavailable {
			rt.Fatalf("%s %s?%s with %.300s: %d %.500s", o.Method, path, q.Encode(), body, status, text)
		}
		w.doc.hold(rt, &o, answer{status, head, []byte(text)})
	})
}

// mangled is JSON with something in it made otherwise.
func mangled(rt *rapid.T, base map[string]any) string {
	odd := rapid.Custom(func(rt *rapid.T) any {
		return rapid.SampledFrom([]any{nil, true, -1.0, 0.0, 1e308, 1e-320, "", "x", "\u0000", strings.Repeat("9", 400), []any{}, []any{nil, 1.0}, map[string]any{}, map[string]any{"a": nil}}).Draw(rt, "odd")
	})
	for range rapid.IntRange(0, 3).Draw(rt, "changes") {
		keys := slices.Sorted(maps.Keys(base))
		if len(keys) == 0 || rapid.Bool().Draw(rt, "new") {
			base[rapid.SampledFrom([]string{"x", "from", "by", "name", "text"}).Draw(rt, "key")] = odd.Draw(rt, "value")
			continue
		}
		k := rapid.SampledFrom(keys).Draw(rt, "key")
		if rapid.Bool().Draw(rt, "drop") {
			delete(base, k)
		} else {
			base[k] = odd.Draw(rt, "value")
		}
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	if err := e.Encode(base); err != nil {
		return "{}"
	}
	text := b.String()
	switch rapid.IntRange(0, 9).Draw(rt, "spoil") {
	case 0:
		text = text[:len(text)/2]
	case 1:
		text += "{}"
	case 2:
		text = fmt.Sprintf("[%s]", text)
	case 3:
		text = strings.Repeat("[", 100) + text
	}
	return text
}
