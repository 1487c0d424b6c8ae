package api_test

import (
	"bytes"
	"flag"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"underlamp/access"
	"underlamp/api"
)

var update = flag.Bool("update", false, "write docs/openapi.json anew")

// The description is one of OpenAPI 3.1 by the schema that its makers publish, and the one that
// is committed.
//
// Source: OpenAPI Initiative, “The description of OpenAPI v3.1.x Documents without Schema Object
// validation”, schema of 2026-08-03, as it is in the npm package
// @seriousme/openapi-schema-validator 2.11.0. Its schemas are compiled by
// github.com/santhosh-tekuri/jsonschema, so they are JSON Schema 2020-12.
func descriptionIsOpenAPI(t *testing.T, w *world) {
	text := w.site.API().Document()
	c := jsonschema.NewCompiler()
	f, err := os.Open("testdata/openapi-3.1.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	official, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.AddResource("openapi.json", official); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(v); err != nil {
		t.Error(err)
	}
	for name := range w.doc.whole["components"].(map[string]any)["schemas"].(map[string]any) {
		w.doc.schema(t, "/components/schemas/"+name)
	}
	const file = "../docs/openapi.json"
	if *update {
		if err := os.WriteFile(file, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	committed, err := os.ReadFile(file)
	if err != nil || !bytes.Equal(committed, text) {
		t.Errorf("docs/openapi.json is not what the server says (%v); go test ./api -run Reading/Description -update writes it", err)
	}
}

// steps are the exchanges that every operation is walked through with, in order.
func steps() []step { return slices.Concat(planningSteps(), growingSteps()) }

// Every operation does what it is for once and is refused whom it is not for: strangers, and
// tokens of every scope that is not enough. Each answer is as the description says.
func TestEveryOperation(t *testing.T) {
	w := newWorld(t)
	for _, s := range steps() {
		begin := time.Now()
		w.ask(t, s)
		if d := time.Since(begin); d > 300*time.Millisecond {
			t.Logf("%s %s took %v", s.op, s.path, d.Round(time.Millisecond))
		}
	}
	first := map[string]step{}
	for _, s := range steps() {
		if _, ok := first[s.op]; !ok && s.status < 400 {
			first[s.op] = s
		}
	}
	tokens := map[access.Scope]string{}
	for _, s := range access.Scopes {
		tokens[s] = w.token(s)
	}
	for _, o := range w.site.API().Operations() {
		if !succeeded(w.seen[o.ID]) {
			t.Errorf("%s was never done", o.ID)
		}
		if o.Task != nil && !w.seen[o.ID][-1] && !minutes[o.ID] {
			t.Errorf("what %s gives was never looked at", o.ID)
		}
		if len(o.Scopes) == 0 {
			continue
		}
		s := first[o.ID]
		s.want, s.keep, s.there = "", nil, true
		s.status, s.token = http.StatusUnauthorized, ""
		w.ask(t, s)
		for scope, text := range tokens {
			if slices.Contains(o.Scopes, scope) {
				continue
			}
			s.status, s.token = http.StatusForbidden, text
			if a := w.ask(t, s); !strings.Contains(a.head.Get("WWW-Authenticate"), "insufficient_scope") {
				t.Errorf("%s with %s: %q", o.ID, scope, a.head.Get("WWW-Authenticate"))
			}
		}
		s.status, s.token = http.StatusUnauthorized, "ult_"+strings.Repeat("x", 43)
		if o.ID == "listBenches" { // few, or the address has to wait
			w.ask(t, s)
		}
	}
}

// minutes are operations whose work takes so long that its result is looked at by others: best and
// plan are walked through by TestLongWork, the lesson by TestLessonIsAsDescribed.
var minutes = map[string]bool{"beginBest": true, "beginPlan": true, "beginLesson": true}

func succeeded(seen map[int]bool) bool {
	for s := range seen {
		if s > 0 && s < 300 {
			return true
		}
	}
	return false
}

// What is asked in a wrong way is refused with its place, and never breaks.
func refusals(t *testing.T, w *world) {
	for _, s := range []step{
		{op: "listBenches", path: "/benches?limit=0", status: 400, want: `"pointer":"#limit"`},
		{op: "listBenches", path: "/benches?limit=many", status: 400, want: "a whole number is expected"},
		{op: "listBenches", path: "/benches?limit=2&limit=3", status: 400, want: "more than once"},
		{op: "listBenches", path: "/benches?token=x", status: 400, want: "no parameter of this address"},
		{op: "listBenches", path: "/benches?cursor=xx", status: 400, want: "begin without"},
		{op: "listBenches", path: "/benches", head: map[string]string{"Accept": "image/png"}, status: 406, want: "application/json"},
		{op: "getTask", path: "/tasks/none", status: 404, want: "no such work"},
	} {
		w.ask(t, s)
	}
	for _, c := range []struct {
		method, path string
		status       int
	}{{"GET", "/nothing", 404}, {"DELETE", "/benches", 405}, {"POST", "/openapi.json", 405}} {
		r, err := http.NewRequest(c.method, w.here.URL+api.Prefix+c.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != c.status || res.Header.Get("Content-Type") != "application/problem+json" || c.status == 405 && !strings.Contains(res.Header.Get("Allow"), "GET") {
			t.Errorf("%s %s: %d %v", c.method, c.path, res.StatusCode, res.Header)
		}
	}
}

// Pieces of a list are the list, and what has not changed is not sent again.
func piecesAndTags(t *testing.T, w *world) {
	whole := w.ask(t, step{op: "listBenches", path: "/benches"})
	all := whole.get(t, "items").([]any)
	var pieces []any
	path := "/benches?limit=1"
	for path != "" {
		a := w.ask(t, step{op: "listBenches", path: path})
		pieces = append(pieces, a.get(t, "items").([]any)...)
		next, _ := a.get(t, "next").(string)
		if link := a.head.Get("Link"); next == "" != (link == "") || next != "" && link != fmt.Sprintf("<%s>; rel=\"next\"", next) {
			t.Fatalf("next %q, Link %q", next, link)
		}
		path = strings.TrimPrefix(next, api.Prefix)
	}
	if len(all) < 3 || fmt.Sprint(all) != fmt.Sprint(pieces) {
		t.Errorf("%d and %d", len(all), len(pieces))
	}
	tag := whole.head.Get("ETag")
	w.ask(t, step{op: "listBenches", path: "/benches", head: map[string]string{"If-None-Match": `"x", ` + tag}, status: 304})
}

// What only reads is looked at in one world.
func TestReading(t *testing.T) {
	w := newWorld(t)
	for name, look := range map[string]func(*testing.T, *world){"Description": descriptionIsOpenAPI, "Refusals": refusals, "Pieces": piecesAndTags, "Readings": readingsInPieces, "GuideTable": guideHasTheTable} {
		t.Run(name, func(t *testing.T) { look(t, w) })
	}
}
