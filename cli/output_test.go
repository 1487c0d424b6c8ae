package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"underlamp/store"
	"underlamp/store/sqlite"
)

var updateSchemas = flag.Bool("update", false, "write docs/schemas/output and docs/man anew; read the difference")

// schemaFile is where the schema of an output lies.
func schemaFile(name string, version int) string {
	return filepath.Join("..", "docs", "schemas", "output", fmt.Sprintf("%s.%d.json", name, version))
}

// The schemas in docs are those of the types. What a program reads of an output must go on
// being there: a field that goes, or has another type, needs a new version.
func TestOutputSchemas(t *testing.T) {
	seen := map[string]bool{}
	for _, o := range outputs() {
		if seen[o.id()] {
			t.Errorf("%s is there twice", o.id())
		}
		seen[o.id()] = true
		got, err := o.document()
		if err != nil {
			t.Fatal(err)
		}
		file := schemaFile(o.name, o.version)
		if was, err := os.ReadFile(file); err == nil {
			for _, b := range breaks(was, got) {
				t.Errorf("%s: %s; raise its version in outputs", o.id(), b)
			}
		}
		if *updateSchemas && !t.Failed() {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is stale: go test ./cli -run OutputSchemas -update", file)
		}
	}
}

// breaks lists what of an older schema a program could miss in a newer one.
func breaks(was, now []byte) []string {
	var a, b map[string]any
	if json.Unmarshal(was, &a) != nil || json.Unmarshal(now, &b) != nil {
		return []string{"a schema is no JSON"}
	}
	var out []string
	var compare func(path string, x, y any)
	compare = func(path string, x, y any) {
		p, ok := x.(map[string]any)
		q, ok2 := y.(map[string]any)
		if !ok || !ok2 {
			return
		}
		follow := func(n map[string]any, in map[string]any) map[string]any {
			ref, _ := n["$ref"].(string)
			name, found := strings.CutPrefix(ref, "#/$defs/")
			if !found {
				return n
			}
			defs, _ := in["$defs"].(map[string]any)
			d, _ := defs[name].(map[string]any)
			return d
		}
		p, q = follow(p, a), follow(q, b)
		if strings.Count(path, ".") > 12 || p == nil {
			return
		}
		if t, u := fmt.Sprint(p["type"]), fmt.Sprint(q["type"]); t != u {
			out = append(out, fmt.Sprintf("%s was %s and is %s", path, t, u))
			return
		}
		before, _ := p["properties"].(map[string]any)
		after, _ := q["properties"].(map[string]any)
		for name, n := range before {
			m, there := after[name]
			if !there {
				out = append(out, path+"."+name+" is gone")
				continue
			}
			compare(path+"."+name, n, m)
		}
		must := func(n map[string]any) map[string]bool {
			names := map[string]bool{}
			all, _ := n["required"].([]any)
			for _, r := range all {
				names[fmt.Sprint(r)] = true
			}
			return names
		}
		for name := range must(p) {
			if _, there := after[name]; there && !must(q)[name] {
				out = append(out, path+"."+name+" can be missing now")
			}
		}
		compare(path+"[]", p["items"], q["items"])
		for _, word := range []string{"allOf", "anyOf"} {
			l, _ := p[word].([]any)
			m, _ := q[word].([]any)
			for i := range min(len(l), len(m)) {
				compare(path, l[i], m[i])
			}
		}
	}
	compare("$", a, b)
	return out
}

// The comparison itself finds what it is for.
func TestBreaks(t *testing.T) {
	doc := func(properties, required string) []byte {
		return []byte(`{"allOf":[{"$ref":"#/$defs/A"}],"$defs":{"A":{"type":"object","properties":{` + properties + `},"required":[` + required + `]}}}`)
	}
	was := doc(`"x":{"type":"number"},"l":{"type":"array","items":{"$ref":"#/$defs/B"}}},"required":["x"]},"B":{"type":"object","properties":{"y":{"type":"string"}`, `"y"`)
	for _, c := range []struct {
		name string
		now  []byte
		want int
	}{
		{"the same", was, 0},
		{"more", bytes.Replace(was, []byte(`"x":`), []byte(`"z":{"type":"string"},"x":`), 1), 0},
		{"gone", bytes.Replace(was, []byte(`"x":{"type":"number"},`), nil, 1), 1},
		{"another type", bytes.Replace(was, []byte(`"number"`), []byte(`"string"`), 1), 1},
		{"gone in a list", bytes.Replace(was, []byte(`"y":{"type":"string"}`), nil, 1), 1},
		{"can be missing", bytes.Replace(was, []byte(`"required":["x"]`), []byte(`"required":[]`), 1), 1},
	} {
		if got := breaks(was, c.now); len(got) != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// compiled are the schemas of docs, compiled by a validator from outside of the project
// (github.com/santhosh-tekuri/jsonschema, JSON Schema 2020-12).
var compiled = sync.OnceValues(func() (map[string]*jsonschema.Schema, error) {
	out := map[string]*jsonschema.Schema{}
	for _, o := range outputs() {
		text, err := os.ReadFile(schemaFolder + fmt.Sprintf("%s.%d.json", o.name, o.version))
		if err != nil {
			return nil, err
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			return nil, err
		}
		c := jsonschema.NewCompiler()
		c.AssertFormat()
		if err := c.AddResource("urn:"+o.id(), doc); err != nil {
			return nil, err
		}
		if out[o.id()], err = c.Compile("urn:" + o.id()); err != nil {
			return nil, fmt.Errorf("%s: %w", o.id(), err)
		}
	}
	return out, nil
})

// schemaFolder is absolute, for tests that go elsewhere.
var schemaFolder = func() string {
	dir, err := filepath.Abs(filepath.Join("..", "docs", "schemas", "output"))
	if err != nil {
		panic(err)
	}
	return dir + string(filepath.Separator)
}()

// conforms fails the test unless what a command printed keeps the schema that it names.
func conforms(t *testing.T, printed []byte) {
	t.Helper()
	schemas, err := compiled()
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(printed))
	if err != nil {
		t.Fatalf("what was printed is no JSON: %v", err)
	}
	top, _ := v.(map[string]any)
	s := schemas[fmt.Sprint(top["schema"])]
	if s == nil {
		t.Fatalf("%v names no schema", top["schema"])
	}
	if err := s.Validate(v); err != nil {
		t.Errorf("%#v", err)
	}
}

// Outputs that no example prints.
func TestOutputsKeepTheirSchemas(t *testing.T) {
	dir := demoFolder(t)
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	bad := at("bad.yaml")
	text, err := os.ReadFile(at("tier-1-top.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(bad, bytes.Replace(text, []byte("space:"), []byte("spase:"), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	kept := at("r.db")
	do := func(code int, args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		w := World{In: strings.NewReader(""), Out: &out, Err: &errs, memory: shared, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if got := Run(t.Context(), w, args); got != code {
			t.Fatalf("%v: code %d, want %d: %s", args, got, code, errs.String())
		}
		return out.String()
	}
	do(0, "benches", "import", at("tier-1-top.yaml"), "--store", kept)
	do(0, "benches", "package", at("tier-1-top.yaml"), "-o", at("top.zip"))
	for _, c := range []struct {
		code int
		args []string
		says string
	}{
		{0, []string{"check", at("tier-1-top.yaml"), "--json"}, `"in_order": true`},
		{2, []string{"check", bad, "--json"}, `"suggest": "space"`},
		{0, []string{"benches", "list", "--json", "--store", kept}, `"bench": "tier-1-top"`},
		{0, []string{"benches", "history", "tier-1-top", "--json", "--store", kept}, `"version": 1`},
		{0, []string{"import", at("top.zip"), "--into", t.TempDir(), "--json"}, `"begin": "tier-1-top.yaml"`},
		{0, []string{"store", "size", "--json", "--store", kept}, `"bytes"`},
		{2, []string{"doctor", dir, "--json"}, `"level": "wrong"`},
		{0, []string{"lamp", at("lamps/hollin-bar-42.ies"), "--json"}, `"photons"`},
		{0, []string{"spectrum", at("lamps/hollin-bar-42.csv"), "--json"}, `"ppfd_umol_m2_s"`},
		{0, []string{"raise", at("tier-2-middle.yaml"), "--json"}, `"moves"`},
		{0, []string{"match", at("tier-1-top.yaml"), "--first", "P1", "--second", "P2", "--json"}, `"matched_by"`},
		{0, []string{"air", "--temperature", "24 °C", "--humidity", "65 %", "--json"}, `"figures"`},
		{0, []string{"air", at("tier-2-middle.yaml"), "--json"}, `"days"`},
		{0, []string{"feed", "mix", at("rack.feed.yaml"), "--json"}, `"lines"`},
		{0, []string{"feed", "check", at("rack.feed.yaml"), "--json"}, `"checks"`},
		{0, []string{"feed", "correct", at("rack.feed.yaml"), "--json", "--ec", "1.2 mS/cm", "--ph", "6.4", "--volume", "60 L"}, `"replace"`},
		{0, []string{"feed", "recipes", "--json"}, `"recipes"`},
		{0, []string{"feed", "substances", "--json"}, `"mass_percent"`},
		{0, []string{"trial", "findings", at("light-levels.trial.yaml"), "--json"}, `"variance"`},
		{0, []string{"trial", "design", "--level", "12", "--level", "18", "--lamps", "4", "--cycles", "2", "--difference", "20 g", "--json"}, `"proposals"`},
		{0, []string{"trouble", at("tier-2-middle.yaml"), "--cases", "--json"}, `"tally"`},
		{0, []string{"logged", at("tier-2-middle.yaml"), at("tier-2-middle.logger.csv"), "--zone", "Europe/Berlin", "--json"}, `"`},
		{0, []string{"outlook", at("tier-3-bottom.yaml"), "--json"}, `"course"`},
	} {
		out := do(c.code, c.args...)
		if !strings.Contains(out, c.says) {
			t.Errorf("%v does not say %s: %.300s", c.args, c.says, out)
		}
		conforms(t, []byte(out))
	}
}

// Every property of every output says what it is, and in which unit if it is a number with one.
func TestOutputsAreDescribed(t *testing.T) {
	bare := map[string]bool{}
	for _, o := range outputs() {
		raw, err := o.document()
		if err != nil {
			t.Fatal(err)
		}
		var doc any
		if err := json.Unmarshal(raw, &doc); err != nil {
			t.Fatal(err)
		}
		var walk func(at string, n any)
		walk = func(at string, n any) {
			switch n := n.(type) {
			case map[string]any:
				properties, _ := n["properties"].(map[string]any)
				for name, p := range properties {
					if said, _ := p.(map[string]any)["description"].(string); len(said) < 3 {
						bare[at+"."+name] = true
					}
				}
				for name, below := range n {
					switch name {
					case "$defs":
						for name, d := range below.(map[string]any) {
							walk(name, d)
						}
					case "properties":
						for name, p := range properties {
							walk(at+"."+name, p)
						}
					default:
						walk(at, below)
					}
				}
			case []any:
				for _, below := range n {
					walk(at, below)
				}
			}
		}
		walk(o.name, doc)
	}
	for _, name := range slices.Sorted(maps.Keys(bare)) {
		t.Errorf("%s has no description; its field wants a doc tag", name)
	}
}
