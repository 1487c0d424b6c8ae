package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"underlamp/access"
	"underlamp/api"
	"underlamp/app/kept"
	"underlamp/app/live"
	"underlamp/app/round"
	"underlamp/app/settings"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/formats/watchfile"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/store/sqlite"
	"underlamp/web"
	"underlamp/web/door"

	"underlamp"
)

// A world is a site of the demo with a store, seen from this machine (here) and from another
// (there). Every exchange is held against the description that the server gives of itself.
type world struct {
	testing.TB
	site        *web.Site
	store       store.Store
	door        *access.Door
	dir         string // with the files
	tokens      *access.Tokens
	here, there *httptest.Server
	doc         *description

	mu    sync.Mutex
	seen  map[string]map[int]bool // statuses by operation
	names map[string]string       // what steps leave for later ones
}

func newWorld(t testing.TB) *world {
	t.Helper()
	ctx := context.Background()
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	since := time.Now().Add(-96 * time.Hour)
	if _, _, err := kept.Import(ctx, s, os.DirFS(dir), kept.Options{Now: since, Since: since, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	readSensors(t, s)
	_, entries, err := round.ReadJSON(demo.File(demo.RoundsFile))
	if err != nil {
		t.Fatal(err)
	}
	var seen []store.Observation
	for _, e := range entries {
		o, err := e.Observation()
		if err != nil {
			t.Fatal(err)
		}
		seen = append(seen, o)
	}
	if err := s.Observe(ctx, seen); err != nil {
		t.Fatal(err)
	}
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	shelf := benchfolder.NewShelf(os.DirFS(dir))
	engine := live.New(s, func(context.Context) ([]live.Bench, error) {
		all, err := shelf.Benches()
		var out []live.Bench
		for _, b := range all {
			out = append(out, live.Bench{Key: b.Key, Bench: b.Bench})
		}
		return out, err
	}, live.Options{Zone: time.UTC, ReadWatch: func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) { return watchfile.Parse(text, b.Units) }})
	if err := engine.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	w := &world{TB: t, store: s, dir: dir, door: access.New(s, nil), tokens: access.NewTokens(s, nil), seen: map[string]map[int]bool{}, names: map[string]string{"earlier": time.Now().Add(-time.Hour).UTC().Format(time.RFC3339)}}
	w.here, w.there = httptest.NewUnstartedServer(nil), httptest.NewUnstartedServer(nil)
	w.site = web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Live: engine, Rounds: s, Cases: s, Keep: s, Version: "test", Desk: kept.NewDesk(s, f, time.Now), Zone: time.UTC, Trials: f, People: w.door, Settings: settings.New(s),
		Here: web.Here{Authority: authority{}, Where: "/home/ida/underlamp.db", Plain: []string{"http://" + w.there.Listener.Addr().String() + "/"}, Backup: func(ctx context.Context, to io.Writer) error {
			_, err := archive.Export(ctx, s, to, time.Now())
			return err
		}}})
	w.here.Config.Handler = w.site.Handler()
	w.there.Config.Handler = w.site.Elsewhere(door.New(door.Options{Door: w.door}))
	w.here.Start()
	w.there.Start()
	t.Cleanup(func() { w.here.Close(); w.there.Close(); w.site.Close() })
	w.doc = describe(t, w.site.API().Document())
	return w
}

// readSensors keeps a day of the demo's sensors.
func readSensors(t testing.TB, s store.Store) {
	t.Helper()
	ctx := context.Background()
	now := time.Now().UTC().Truncate(demo.SensorEvery)
	for _, x := range demo.Sensors() {
		id, err := s.PutSensor(ctx, store.Sensor{Key: x.Key, Bench: demo.SensorBench, Quantity: x.Quantity, Unit: x.Unit, X: &x.X, Y: &x.Y, Height: &x.Z, Every: demo.SensorEvery})
		if err != nil {
			t.Fatal(err)
		}
		last := now
		if x.Key == "middle/co2" { // it fell silent, so that there is a message
			last = now.Add(-2 * time.Hour)
		}
		var rs []store.Reading
		for at := now.Add(-24 * time.Hour); !at.After(last); at = at.Add(demo.SensorEvery) {
			rs = append(rs, store.Reading{Sensor: id, At: store.At(at), Value: x.Read(at)})
		}
		if err := s.Append(ctx, rs); err != nil {
			t.Fatal(err)
		}
	}
}

// token makes a token.
func (w *world) token(scopes ...access.Scope) string {
	w.Helper()
	text, _, err := w.tokens.Add(context.Background(), fmt.Sprintf("test %d", time.Now().UnixNano()), scopes, time.Hour)
	if err != nil {
		w.Fatal(err)
	}
	return text
}

// A step is a request and what it must give.
type step struct {
	op     string // operation
	path   string // below the prefix; {names} of earlier steps are put in
	body   any    // string and []byte as they are, else as JSON; a func makes it
	kind   string // of what is sent; empty: JSON
	head   map[string]string
	token  string // empty: here, where none is needed
	there  bool   // from another machine
	status int    // 0: that of success of the operation
	want   string // must be in the answer
	keep   func(w *world, a answer)
}

// An answer is what came back.
type answer struct {
	status int
	head   http.Header
	body   []byte
}

// get reads a field of a JSON answer, such as "items.0.id".
func (a answer) get(t testing.TB, path string) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(a.body, &v); err != nil {
		t.Fatalf("%v in %.200s", err, a.body)
	}
	for part := range strings.SplitSeq(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[part]
		case []any:
			var i int
			if _, err := fmt.Sscan(part, &i); err != nil || i >= len(x) {
				return nil
			}
			v = x[i]
		default:
			return nil
		}
	}
	return v
}

// ask sends a step, holds the exchange against the description, and what came against the step.
func (w *world) ask(t testing.TB, s step) answer {
	t.Helper()
	o := w.operation(s.op)
	if o == nil {
		t.Fatalf("there is no operation %q", s.op)
	}
	at := w.here.URL
	if s.there {
		at = w.there.URL
	}
	path := s.path
	w.mu.Lock()
	for k, v := range w.names {
		path = strings.ReplaceAll(path, "{"+k+"}", v)
	}
	w.mu.Unlock()
	var sent []byte
	if f, ok := s.body.(func(*world) any); ok {
		w.mu.Lock()
		s.body = f(w)
		w.mu.Unlock()
	}
	switch b := s.body.(type) {
	case nil:
	case string:
		w.mu.Lock()
		for k, v := range w.names {
			b = strings.ReplaceAll(b, "{"+k+"}", v)
		}
		w.mu.Unlock()
		sent = []byte(b)
	case []byte:
		sent = b
	default:
		var err error
		if sent, err = json.Marshal(b); err != nil {
			t.Fatal(err)
		}
	}
	r, err := http.NewRequest(o.Method, at+api.Prefix+path, bytes.NewReader(sent))
	if err != nil {
		t.Fatal(err)
	}
	if s.kind != "" {
		r.Header.Set("Content-Type", s.kind)
	} else if sent != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if s.token != "" {
		r.Header.Set("Authorization", "Bearer "+s.token)
	}
	for k, v := range s.head {
		w.mu.Lock()
		for name, is := range w.names {
			v = strings.ReplaceAll(v, "{"+name+"}", is)
		}
		w.mu.Unlock()
		r.Header.Set(k, v)
	}
	res, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	a := answer{res.StatusCode, res.Header, body}
	if s.there && a.status == http.StatusTooManyRequests && s.status != a.status { // the bound of the pages; the walk is faster
		time.Sleep(100 * time.Millisecond)
		return w.ask(t, s)
	}
	w.mu.Lock()
	if w.seen[s.op] == nil {
		w.seen[s.op] = map[int]bool{}
	}
	w.seen[s.op][a.status] = true
	w.mu.Unlock()
	w.doc.hold(t, o, a)
	w.holdResult(t, o, a)
	want := s.status
	if want == 0 {
		want = w.doc.success(o)
	}
	if a.status != want || !strings.Contains(string(body), s.want) {
		t.Fatalf("%s %s: %d, want %d and %q\n%.2000s", o.Method, path, a.status, want, s.want, body)
	}
	if s.keep != nil {
		s.keep(w, a)
	}
	return a
}

// holdResult holds what work gave against the schema that the operation which began it names.
func (w *world) holdResult(t testing.TB, o *api.Operation, a answer) {
	t.Helper()
	if o.Task == nil && o.ID != "getTask" || a.status >= 300 {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	id, _ := a.get(t, "id").(string)
	if o.Task != nil {
		w.names["begun by "+id] = o.ID
	}
	begun := w.operation(w.names["begun by "+id])
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(a.body))
	if err != nil || begun == nil {
		t.Errorf("%s: %v, begun by nobody", o.ID, err)
		return
	}
	if given, ok := v.(map[string]any)["result"]; ok {
		pointer := "/paths/" + pointerEscapes.Replace(begun.Path) + "/" + strings.ToLower(begun.Method) + "/x-result"
		if err := w.doc.schema(t, pointer).Validate(given); err != nil {
			t.Errorf("%s: the result is not as described: %v", begun.ID, err)
		}
		w.seen[begun.ID][-1] = true
	}
}

func (w *world) operation(id string) *api.Operation {
	for _, o := range w.site.API().Operations() {
		if o.ID == id {
			return &o
		}
	}
	return nil
}

// A description is an OpenAPI document, read by a JSON Schema library that is none of ours.
type description struct {
	whole    map[string]any
	compiler *jsonschema.Compiler
	mu       sync.Mutex
	compiled map[string]*jsonschema.Schema
}

func describe(t testing.TB, text []byte) *description {
	t.Helper()
	whole, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	d := &description{whole: whole.(map[string]any), compiler: jsonschema.NewCompiler(), compiled: map[string]*jsonschema.Schema{}}
	d.compiler.AssertFormat()
	if err := d.compiler.AddResource("http://underlamp.test/doc.json", whole); err != nil {
		t.Fatal(err)
	}
	return d
}

func (d *description) node(o *api.Operation) map[string]any {
	return d.whole["paths"].(map[string]any)[o.Path].(map[string]any)[strings.ToLower(o.Method)].(map[string]any)
}

// success is the first status of success.
func (d *description) success(o *api.Operation) int {
	for _, s := range []int{200, 201, 202, 204} {
		if _, ok := d.node(o)["responses"].(map[string]any)[fmt.Sprint(s)]; ok && (o.Status == 0 || o.Status == s) {
			return s
		}
	}
	return 0
}

func (d *description) schema(t tester, pointer string) *jsonschema.Schema {
	t.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	if s := d.compiled[pointer]; s != nil {
		return s
	}
	s, err := d.compiler.Compile("http://underlamp.test/doc.json#" + pointer)
	if err != nil {
		t.Fatalf("%s: %v", pointer, err)
	}
	d.compiled[pointer] = s
	return s
}

var pointerEscapes = strings.NewReplacer("~", "~0", "/", "~1")

// A tester is a test, or a trial of one.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// hold holds an answer against the description: its status, kind, and JSON.
func (d *description) hold(t tester, o *api.Operation, a answer) {
	t.Helper()
	responses := d.node(o)["responses"].(map[string]any)
	said, ok := responses[fmt.Sprint(a.status)].(map[string]any)
	if !ok {
		t.Errorf("%s: the status %d is not described\n%.500s", o.ID, a.status, a.body)
		return
	}
	kind, _, _ := strings.Cut(a.head.Get("Content-Type"), ";")
	pointer := "/paths/" + pointerEscapes.Replace(o.Path) + "/" + strings.ToLower(o.Method) + "/responses/" + fmt.Sprint(a.status)
	if a.status >= 400 {
		if kind != "application/problem+json" {
			t.Errorf("%s: a refusal of kind %q\n%.500s", o.ID, kind, a.body)
			return
		}
		pointer = "/components/responses/Problem"
		said = d.whole["components"].(map[string]any)["responses"].(map[string]any)["Problem"].(map[string]any)
	}
	content, _ := said["content"].(map[string]any)
	if len(a.body) == 0 && content == nil {
		return
	}
	media, ok := content[kind].(map[string]any)
	if !ok && a.status != http.StatusNotModified {
		t.Errorf("%s: the kind %q is not described for %d\n%.500s", o.ID, kind, a.status, a.body)
		return
	}
	if media["schema"] == nil || !strings.HasSuffix(kind, "json") {
		return
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(a.body))
	if err != nil {
		t.Errorf("%s: %v\n%.500s", o.ID, err, a.body)
		return
	}
	if err := d.schema(t, pointer+"/content/"+pointerEscapes.Replace(kind)+"/schema").Validate(v); err != nil {
		t.Errorf("%s: the answer is not as described: %v\n%.3000s", o.ID, err, a.body)
	}
}
