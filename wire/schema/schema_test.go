package schema_test

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"underlamp/wire/schema"
)

type inner struct {
	Word string   `json:"word" enum:"a|b" doc:"which"`
	List []string `json:"list,omitempty" maxlen:"2"`
}

type outer struct {
	Name  string             `json:"name" minlen:"1" maxlen:"3" pattern:"^[a-z]*$"`
	Share float64            `json:"share" min:"0" max:"1" unit:"m"`
	Above float64            `json:"above,omitempty" above:"0"`
	Count int                `json:"count"`
	At    *time.Time         `json:"at"`
	In    *inner             `json:"in"`
	Many  []inner            `json:"many,omitempty" maxlen:"3"`
	By    map[string]float64 `json:"by,omitempty"`
	Yes   bool               `json:"yes,omitempty"`
	Out   string             `json:"-"`
}

// The checker takes and refuses what a library of JSON Schema does that is none of ours
// (github.com/santhosh-tekuri/jsonschema), by the schema that is served.
func TestChecksAsALibraryDoes(t *testing.T) {
	b := &schema.Book{}
	node := b.Of(reflect.TypeFor[outer](), true)
	text, err := json.Marshal(map[string]any{"$ref": node["$ref"], "$defs": b.Defs()})
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("s.json", doc); err != nil {
		t.Fatal(err)
	}
	library, err := c.Compile("s.json")
	if err != nil {
		t.Fatal(err)
	}
	whole := false // every value is right: about one in two
	value := func(rt *rapid.T, right ...any) any {
		odd := []any{nil, true, 0.0, 1.0, -0.5, 1.5, 7.0, "", "a", "b", "abcd", "A", "2026-11-26T08:00:00Z", "yesterday", []any{}, []any{"a", "b", "c"}, []any{1.0}, map[string]any{}, map[string]any{"word": "a"}, map[string]any{"word": "c", "x": 1.0}, map[string]any{"k": 1.0}, map[string]any{"k": "v"}}
		if whole || rapid.IntRange(0, 5).Draw(rt, "right") > 0 {
			return rapid.SampledFrom(right).Draw(rt, "value")
		}
		return rapid.SampledFrom(odd).Draw(rt, "odd")
	}
	taken := 0
	rapid.Check(t, func(rt *rapid.T) {
		whole = rapid.Bool().Draw(rt, "whole")
		v := map[string]any{"name": value(rt, "a", "abc"), "share": value(rt, 0.0, 1.0, 0.5), "count": value(rt, 3.0, -1.0), "at": value(rt, nil, "2026-11-26T08:00:00Z"), "in": value(rt, nil, map[string]any{"word": "a", "list": []any{"x"}})}
		for name, right := range map[string][]any{"above": {0.1}, "many": {[]any{}, []any{map[string]any{"word": "b"}}}, "by": {map[string]any{"k": 2.0}}, "yes": {false}, "Out": {1.0}} {
			if rapid.Bool().Draw(rt, name) && (name != "Out" || !whole && rapid.IntRange(0, 9).Draw(rt, "unknown") == 0) {
				v[name] = value(rt, right...)
			}
		}
		if !whole && rapid.IntRange(0, 9).Draw(rt, "missing") == 0 {
			delete(v, rapid.SampledFrom([]string{"name", "at"}).Draw(rt, "which"))
		}
		text, err := json.Marshal(v)
		if err != nil {
			rt.Fatal(err)
		}
		read, err := schema.Read(text)
		if err != nil {
			rt.Fatal(err)
		}
		same, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			rt.Fatal(err)
		}
		faults, want := b.Check(node, read), library.Validate(same)
		if (len(faults) == 0) != (want == nil) {
			rt.Fatalf("%s: ours %v, theirs %v", text, faults, want)
		}
		if want == nil {
			taken++
		}
	})
	if taken == 0 {
		t.Error("none was right")
	}
}

// What comes from outside is refused where it is no one JSON value, whatever it is.
func TestReadRefuses(t *testing.T) {
	for text, says := range map[string]string{
		"": "too early", `{"a":1`: "too early", `{"a":1}{}`: "follows", `{"a":1,"a":2}`: "twice", "{\"a\":\xff}": "UTF-8", "{\n  \"a\": nope}": "line 2", strings.Repeat("[", 70): "deep", `{"a":1e}`: "line 1",
	} {
		if _, err := schema.Read([]byte(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{`{"name":"a"}`, `[1,2,{"a":null}]`, `"\ud800"`, "{", `{"a":{"b":[]}}`} {
		f.Add([]byte(s))
	}
	b := &schema.Book{}
	node := b.Of(reflect.TypeFor[outer](), true)
	f.Fuzz(func(t *testing.T, text []byte) {
		v, err := schema.Read(text)
		if err != nil {
			return
		}
		if !json.Valid(text) {
			t.Fatalf("%q is read and is no JSON", text)
		}
		if len(b.Check(node, v)) == 0 {
			var o outer
			if err := json.Unmarshal(text, &o); err != nil && !strings.Contains(err.Error(), "overflow") && !strings.Contains(err.Error(), "cannot unmarshal number") {
				t.Fatalf("%q fits and cannot be taken: %v", text, err)
			}
		}
	})
}
