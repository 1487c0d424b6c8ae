package fileschema_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/actfile"
	"underlamp/formats/benchfile"
	"underlamp/formats/cyclefile"
	"underlamp/formats/evidencefile"
	"underlamp/formats/profilefile"
	"underlamp/formats/tablefile"
	"underlamp/formats/trialfile"
	"underlamp/formats/watchfile"
	"underlamp/internal/fileschema"
	"underlamp/science/quantity"
)

var update = flag.Bool("update", false, "write the schemas and the tables of fields into docs")

const docs = "../../docs"

var block = regexp.MustCompile("(?ms)^```yaml[^\n]*\n(.*?)^```")

// texts are all files of a kind that there are: in the demo, in the documents, in testdata and
// in the program.
func texts(t testing.TB, k fileschema.Kind) (out []string) {
	t.Helper()
	first := regexp.MustCompile(`(?m)\A(\s*(#[^\n]*)?\n)*` + regexp.QuoteMeta(k.Version) + `:`)
	add := func(raw []byte) {
		if first.Match(raw) {
			out = append(out, string(raw))
		}
	}
	for _, folder := range []fs.FS{demo.Folder(), os.DirFS("testdata")} {
		names, err := fs.Glob(folder, "*.yaml")
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			raw, err := fs.ReadFile(folder, name)
			if err != nil {
				t.Fatal(err)
			}
			add(raw)
		}
	}
	pages, err := filepath.Glob(docs + "/*/*.md")
	if err != nil || len(pages) < 10 {
		t.Fatal(err, len(pages))
	}
	for _, page := range pages {
		raw, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range block.FindAllSubmatch(raw, -1) {
			add(m[1])
		}
	}
	add(evidencefile.Text())
	return out
}

func accepted(t testing.TB, k fileschema.Kind) []string {
	t.Helper()
	return slices.DeleteFunc(texts(t, k), func(text string) bool { ok, _ := k.Read(text); return !ok })
}

func read(t testing.TB, name string) string {
	t.Helper()
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// Schemas and tables in docs are those that the readers of today make.
func TestDocumentsFollowReaders(t *testing.T) {
	tables := map[string]string{} // by document
	for _, k := range fileschema.Kinds() {
		name := filepath.Join(docs, "formats", k.Document)
		good := accepted(t, k)
		if len(good) == 0 {
			t.Errorf("no file %s: is read anywhere", k.Version)
		}
		f := k.Format(read(t, name), good)
		for _, x := range f.Fields {
			if len(x.Forms) == 0 {
				t.Errorf("%s: nothing is asked of %s: write it in a file of testdata", k.Name, x.Path)
			}
			if x.Meaning == "" {
				t.Errorf("%s does not say what %s is", name, x.Path)
			}
		}
		tables[name] += f.Reference()
		schema := f.Schema()
		at := filepath.Join(docs, "schemas", "files", k.Name+".schema.json")
		if *update {
			if err := os.WriteFile(at, schema, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if read(t, at) != string(schema) {
			t.Errorf("%s is not what the reader says: go test ./internal/fileschema -update", at)
		}
	}
	for name, table := range tables {
		was := read(t, name)
		begin, end := strings.Index(was, fileschema.Begin), strings.LastIndex(was, fileschema.End)
		now := strings.TrimRight(was, "\n") + "\n\n## All fields\n\nWhat the reader reads, field by field.\n\n" + table
		if begin >= 0 && end > begin {
			now = was[:begin] + table + strings.TrimPrefix(was[end+len(fileschema.End):], "\n")
		}
		if *update {
			if err := os.WriteFile(name, []byte(now), 0o644); err != nil {
				t.Fatal(err)
			}
		} else if now != was {
			t.Errorf("the fields of %s are not what the reader says: go test ./internal/fileschema -update", name)
		}
	}
}

// compiled is the schema of a kind as it stands in docs, by a validator of others:
// github.com/santhosh-tekuri/jsonschema, which passes the official suite of draft 2020-12.
func compiled(t testing.TB, k fileschema.Kind) *jsonschema.Schema {
	t.Helper()
	if s := schemas[k.Name]; s != nil {
		return s
	}
	name := filepath.Join(docs, "schemas", "files", k.Name+".schema.json")
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(read(t, name)))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource(name, doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(name)
	if err != nil {
		t.Fatal(err)
	}
	schemas[k.Name] = s
	return s
}

var schemas = map[string]*jsonschema.Schema{}

// holds validates a text as an editor does: YAML, then what it says.
func holds(s *jsonschema.Schema, text string) error {
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		return err
	}
	raw, err := json.Marshal(v)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

// Whatever a reader takes, its schema takes: the demo, the examples of the documents, testdata.
func TestWhatIsReadIsValid(t *testing.T) {
	n := 0
	for _, k := range fileschema.Kinds() {
		s := compiled(t, k)
		for _, text := range accepted(t, k) {
			n++
			if err := holds(s, text); err != nil {
				t.Errorf("%s refuses what the reader takes: %v\n%.300s", k.Name, err, text)
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d files were looked at", n)
	}
}

// Files of testdata are taken by their readers, so that none is there for nothing.
func TestSamplesAreRead(t *testing.T) {
	names, err := filepath.Glob("testdata/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatal(err, names)
	}
	for _, name := range names {
		text := read(t, name)
		kind, _, _ := strings.Cut(filepath.Base(name), "-")
		i := slices.IndexFunc(fileschema.Kinds(), func(k fileschema.Kind) bool { return k.Name == strings.TrimSuffix(kind, ".yaml") })
		if i < 0 {
			t.Fatalf("%s is of no kind", name)
		}
		if ok, problems := fileschema.Kinds()[i].Read(text); !ok {
			t.Errorf("%s is not read: %v", name, problems)
		}
	}
}

// What is wrong in the make of a file is refused by reader and schema alike. Each accepted
// file is changed in every place: a key that is not known; a part or a list where a single
// value belongs, a single value where a part or a list does.
func TestWhatIsWrongIsInvalid(t *testing.T) {
	for _, k := range fileschema.Kinds() {
		s := compiled(t, k)
		tried, seen := 0, map[string]bool{} // each place once, of items of a list one
		for _, text := range accepted(t, k) {
			if len(text) > 12_000 { // the table of the program has hundreds of rows alike
				continue
			}
			var top any
			if err := yaml.Unmarshal([]byte(text), &top); err != nil {
				t.Fatal(err)
			}
			for _, c := range changes(top) {
				if place := numbered.ReplaceAllString(c.what, "[]"); seen[place] {
					continue
				} else {
					seen[place] = true
				}
				raw, err := yaml.Marshal(c.top)
				if err != nil {
					t.Fatal(err)
				}
				tried++
				byReader, _ := k.Read(string(raw))
				bySchema := holds(s, string(raw)) == nil
				if byReader || bySchema {
					t.Errorf("%s with %s: the reader takes it %v, the schema %v\n%.200s", k.Name, c.what, byReader, bySchema, raw)
				}
			}
		}
		if tried == 0 {
			t.Errorf("%s: nothing was changed", k.Name)
		}
		t.Logf("%s: %d changes refused by both", k.Name, tried)
	}
}

var numbered = regexp.MustCompile(`\[\d+\]`)

type change struct {
	what string
	top  any
}

func changes(top any) (out []change) {
	var walk func(v any, path string, put func(any) any)
	walk = func(v any, path string, put func(any) any) {
		switch v := v.(type) {
		case map[string]any:
			with := clone(v).(map[string]any)
			with["nobody knows this"] = 1
			out = append(out, change{"an unknown key in " + path, put(with)})
			if path != "" {
				out = append(out, change{"a word for the part " + path, put("certainly no part")})
			}
			for key := range v {
				walk(v[key], strings.TrimPrefix(path+"."+key, "."), func(x any) any {
					m := clone(v).(map[string]any)
					m[key] = x
					return put(m)
				})
			}
		case []any:
			out = append(out, change{"a word for the list " + path, put("certainly no list")})
			for i := range v[:min(len(v), 3)] {
				walk(v[i], fmt.Sprintf("%s[%d]", path, i), func(x any) any {
					l := clone(v).([]any)
					l[i] = x
					return put(l)
				})
			}
		case nil:
		default:
			out = append(out, change{"a part for the value " + path, put(map[string]any{"nobody knows this": 1})})
		}
	}
	walk(top, "", func(v any) any { return v })
	return out
}

func clone(v any) any {
	switch v := v.(type) {
	case map[string]any:
		m := map[string]any{}
		for k, x := range v {
			m[k] = clone(x)
		}
		return m
	case []any:
		l := make([]any, len(v))
		for i, x := range v {
			l[i] = clone(x)
		}
		return l
	}
	return v
}

// Files that are wrong in their make, by hand: reader and schema refuse each.
func TestWrongFiles(t *testing.T) {
	const bench = "underlamp: 1\nspace: {width: 120 cm, depth: 60 cm, height: 45 cm}\nplants: {grid: {columns: 6, rows: 3}}\n"
	const lamp = bench + "lamps: [{at: [30 cm, 30 cm], height: 34 cm, watts: 42 W}]\n"
	for _, c := range []struct{ kind, what, text string }{
		{"bench", "no version", strings.Replace(lamp, "underlamp: 1\n", "", 1)},
		{"bench", "a later version", strings.Replace(lamp, "underlamp: 1", "underlamp: 2", 1)},
		{"bench", "no lamps", bench},
		{"bench", "no space", "underlamp: 1\nplants: {grid: {columns: 6, rows: 3}}\nlamps: [{at: [30 cm, 30 cm], height: 34 cm, watts: 42 W}]\n"},
		{"bench", "a length without unit", strings.Replace(lamp, "120 cm", "120", 1)},
		{"bench", "a temperature for a length", strings.Replace(lamp, "120 cm", "20 °C", 1)},
		{"bench", "a unit that nobody knows", strings.Replace(lamp, "120 cm", "120 ells", 1)},
		{"bench", "a place with one length", strings.Replace(lamp, "[30 cm, 30 cm]", "[30 cm]", 1)},
		{"bench", "a place with three", strings.Replace(lamp, "[30 cm, 30 cm]", "[30 cm, 30 cm, 30 cm]", 1)},
		{"bench", "a slip in a key", strings.Replace(lamp, "height: 34", "hieght: 34", 1)},
		{"bench", "a key of another part", lamp + "burn: 10 %\n"},
		{"bench", "a share beyond one", lamp + "air: {day: {humidity: 65}}\n"},
		{"bench", "a word that is none of them", lamp + "air: {fan: sideways}\n"},
		{"bench", "a surface that nobody knows", lamp + "walls: {left: velvet}\n"},
		{"bench", "a day that is none", lamp + "crop: {transplanted: 1.10.2026}\n"},
		{"bench", "half a column", strings.Replace(lamp, "columns: 6", "columns: 6.5", 1)},
		{"bench", "a list for the crop", lamp + "crop: [lettuce]\n"},
		{"bench", "an origin that is none", strings.Replace(lamp, "42 W", "{value: 42 W, from: hearsay}", 1)},
		{"bench", "an origin without a value", strings.Replace(lamp, "42 W", "{from: label}", 1)},
		{"cycle", "no bench", "underlamp cycle: 1\ntransplanted: 2026-10-01\n"},
		{"cycle", "burn by the eye", "underlamp cycle: 1\nbench: a.yaml\ntransplanted: 2026-10-01\nobservations: [{date: 2026-10-20, plant: P1, burn: a little}]\n"},
		{"cycle", "a count without its whole", "underlamp cycle: 1\nbench: a.yaml\ntransplanted: 2026-10-01\nobservations: [{date: 2026-10-20, burnt: 3}]\n"},
		{"trial", "no response", "underlamp trial: 1\nlayout: complete\ntreatments: [{name: a}, {name: b}]\nunits: [{name: u, treatment: a}]\n"},
		{"trial", "a layout that is none", "underlamp trial: 1\nresponse: mass\nlayout: as it comes\ntreatments: [{name: a}, {name: b}]\nunits: [{name: u, treatment: a}]\n"},
		{"feed", "no target", "underlamp feed: 1\ncupboard: [{product: potassium nitrate}]\n"},
		{"feed", "calcium without unit", "underlamp feed: 1\ntarget: {ca: 90}\ncupboard: [{product: potassium nitrate}]\n"},
		{"watch", "a side that there is not", "underlamp watch: 1\ndew: {high: 2 °C}\n"},
		{"watch", "hours that are no hours", "underlamp watch: 1\nlights: 16 h\n"},
		{"watch", "neither on nor off", "underlamp watch: 1\nlamp: perhaps\n"},
		{"notify", "a secret in the file", "underlamp notify: 1\nreceivers: [{name: phone, webhook: {url: \"https://example.org/hook\", secret: hush}}]\n"},
		{"notify", "nobody", "underlamp notify: 1\n"},
		{"act", "no zone", "underlamp act: 1\nbench: a.yaml\nlamps: [{lamp: A, topic: a/b, payload: 0 to 100, on at: \"06:00\", limits: {dimming: 20 % to 90 %, hours: 18 h, change: 10 %}, safe: off}]\n"},
		{"override", "no dimming", "underlamp override: 1\nlamps: [{lamp: A}]\n"},
		{"table", "no sensor", "underlamp table: 1\nplace: rack\ncolumns: [{column: Temperature}]\n"},
		{"evidence", "how often in words of one's own", "underlamp evidence: 1\ncauses: [{key: salt, met: now and then}]\n"},
		{"about", "a role that is none", "underlamp about: 1\npeople: [{name: A, role: boss}]\n"},
		{"profile", "no summary", "underlamp profile: 1\nname: x\n"},
	} {
		i := slices.IndexFunc(fileschema.Kinds(), func(k fileschema.Kind) bool { return k.Name == c.kind })
		k := fileschema.Kinds()[i]
		byReader, _ := k.Read(c.text)
		bySchema := holds(compiled(t, k), c.text) == nil
		if byReader || bySchema {
			t.Errorf("%s with %s: the reader takes it %v, the schema %v", c.kind, c.what, byReader, bySchema)
		}
	}
	// The files that were changed are right without the change.
	if ok, p := fileschema.Kinds()[0].Read(lamp); !ok || holds(compiled(t, fileschema.Kinds()[0]), lamp) != nil {
		t.Errorf("the bench that is changed is wrong itself: %v %v", p, holds(compiled(t, fileschema.Kinds()[0]), lamp))
	}
}

// What the program writes is valid: each file that is read is written again by its writer.
func TestWhatIsWrittenIsValid(t *testing.T) {
	writers := map[string]func(text string, out *bytes.Buffer) error{
		"cycle": func(text string, out *bytes.Buffer) error {
			c, _, err := cyclefile.Read(strings.NewReader(text), nil)
			return errors.Join(err, cyclefile.Write(out, c))
		},
		"trial": func(text string, out *bytes.Buffer) error {
			x, _, err := trialfile.Read(strings.NewReader(text))
			return errors.Join(err, trialfile.Write(out, x))
		},
		"profile": func(text string, out *bytes.Buffer) error {
			x, _, err := profilefile.Read(strings.NewReader(text))
			return errors.Join(err, profilefile.Write(out, x))
		},
		"watch": func(text string, out *bytes.Buffer) error {
			x, _, err := watchfile.Read(strings.NewReader(text), quantity.Metric)
			return errors.Join(err, watchfile.Write(out, x))
		},
		"override": func(text string, out *bytes.Buffer) error {
			x, _, err := actfile.ReadOverrides(strings.NewReader(text))
			return errors.Join(err, actfile.WriteOverrides(out, x))
		},
		"table": func(text string, out *bytes.Buffer) error {
			x, _, err := tablefile.Read(strings.NewReader(text))
			return errors.Join(err, tablefile.Write(out, x))
		},
		"bench": func(_ string, out *bytes.Buffer) error { return benchfile.Write(out, benchfile.Answers{}) },
	}
	for _, k := range fileschema.Kinds() {
		write := writers[k.Name]
		if write == nil {
			continue
		}
		s := compiled(t, k)
		for _, text := range accepted(t, k) {
			var out bytes.Buffer
			if err := write(text, &out); err != nil {
				t.Fatalf("%s: %v", k.Name, err)
			}
			if err := holds(s, out.String()); err != nil {
				t.Errorf("%s as it is written: %v\n%s", k.Name, err, out.String())
			}
		}
	}
	// A watch of any limits.
	watch := compiled(t, fileschema.Kinds()[slices.IndexFunc(fileschema.Kinds(), func(k fileschema.Kind) bool { return k.Name == "watch" })])
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-5, 49).Draw(t, "low")
		delay := time.Duration(rapid.IntRange(0, 24*3600).Draw(t, "delay")) * time.Second
		w := &underlamp.Watch{Units: rapid.SampledFrom([]quantity.System{quantity.Metric, quantity.US}).Draw(t, "units"), Rules: []underlamp.WatchRule{
			{Key: underlamp.WatchAir, Low: &underlamp.Given[float64]{Value: low, Origin: underlamp.Measured, Note: rapid.StringMatching("[a-z: #\"']{0,20}").Draw(t, "note")}, Delay: &delay, Urgent: rapid.Bool().Draw(t, "urgent")},
			{Key: underlamp.WatchHumidity, High: &underlamp.Given[float64]{Value: rapid.Float64Range(0.01, 1).Draw(t, "high"), Origin: underlamp.Stated}},
			{Key: underlamp.WatchCO2, Off: true}}}
		var out bytes.Buffer
		if err := watchfile.Write(&out, w); err != nil {
			t.Fatal(err)
		}
		if err := holds(watch, out.String()); err != nil {
			t.Fatalf("%v\n%s", err, out.String())
		}
	})
}
