package benchfile_test

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"pgregory.net/rapid"

	"underlamp/demo"
	"underlamp/formats/benchfile"
)

// odd is a bench in a hand of its own: parts between brackets over lines, quotes, comments in
// every place, blanks where nobody expects them.
const odd = `# my cellar
underlamp: 1
name: "Cellar: the \"old\" one"   # quoted
space:   {width: 120 cm,depth: 24 in, height:  1/2 m }   # three sides
walls:
    left:   white paint     # two coats
    back: {diffuse: 70 %, from: measured}

lamps: # both from the attic
  # the first
  - name: left
    # how high
    height: 34 cm   # since May
    at: [30 cm, 30 cm]

    flux: {value: 120 µmol/s, from: label, note: "from the box, not measured"}
    watts: 52 W
  - {name: right, at: [90 cm,
       30 cm], height: 13.5 in, # crooked
     watts: 52 W, beam: 110°}
plants:
  at: [
    [10 cm, 10 cm],   # front
    {name: big one, at: [40 cm, 10 cm]},
    [70 cm, 40 cm]
  ]
air:
  day: {temperature: 22 °C}
readings:
- {at: [30 cm, 30 cm], height: 5 cm, ppfd: 220 µmol/m²/s}
- at: [60 cm, 30 cm]   # middle
  height: 5 cm
  ppfd: 180
# the end`

func texts(t testing.TB) map[string]string {
	out := map[string]string{"odd": odd}
	for _, name := range demo.Names() {
		out[name] = string(demo.File(name))
	}
	var b bytes.Buffer
	if err := benchfile.Write(&b, benchfile.Answers{}); err != nil {
		t.Fatal(err)
	}
	out["new"] = b.String()
	out["windows"] = "\ufeff" + strings.ReplaceAll(odd, "\n", "\r\n")
	return out
}

func TestApply(t *testing.T) {
	for _, c := range []struct {
		name    string
		changes []benchfile.Change
		was, is string // one part of the text becomes another, all else stays
	}{
		{"a length", []benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].height", Text: "30 cm"}}, "height: 34 cm   # since", "height: 30 cm   # since"},
		{"by name", []benchfile.Change{{Do: benchfile.Set, Path: `lamps["right"].height`, Text: "12 1/2 in"}}, "13.5 in", "12 1/2 in"},
		{"a place", []benchfile.Change{{Do: benchfile.Set, Path: `lamps["right"].at[1]`, Text: "12 in"}}, "       30 cm]", "       12 in]"},
		{"within value, from, note", []benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].flux", Text: "130 µmol/s"}}, "value: 120", "value: 130"},
		{"a key that is not there, in lines", []benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].dimming", Text: "80 %"}}, "    watts: 52 W\n", "    watts: 52 W\n    dimming: 80 %\n"},
		{"a key that is not there, in brackets", []benchfile.Change{{Do: benchfile.Set, Path: "lamps[1].dimming", Text: "80 %"}}, "beam: 110°}", "beam: 110°, dimming: 80 %}"},
		{"two parts that are not there", []benchfile.Change{{Do: benchfile.Set, Path: "air.night.humidity", Text: "80 %"}}, "{temperature: 22 °C}\n", "{temperature: 22 °C}\n  night: {humidity: 80 %}\n"},
		{"at the top", []benchfile.Change{{Do: benchfile.Set, Path: "note", Text: "cold: in winter"}}, "  ppfd: 180\n", "  ppfd: 180\nnote: \"cold: in winter\"\n"},
		{"a lamp away", []benchfile.Change{{Do: benchfile.Remove, Path: `lamps["right"]`}}, "  - {name: right, at: [90 cm,\n       30 cm], height: 13.5 in, # crooked\n     watts: 52 W, beam: 110°}\n", ""},
		{"a key away", []benchfile.Change{{Do: benchfile.Remove, Path: "lamps[0].watts"}}, "    watts: 52 W\n", ""},
		{"a key behind a dash away", []benchfile.Change{{Do: benchfile.Remove, Path: "lamps[0].name"}}, "", ""},
		{"a plant away", []benchfile.Change{{Do: benchfile.Remove, Path: `plants.at["big one"]`}}, "    {name: big one, at: [40 cm, 10 cm]},\n", "    \n"},
		{"the last plant away", []benchfile.Change{{Do: benchfile.Remove, Path: "plants.at[2]"}}, "10 cm]},\n    [70 cm, 40 cm]\n", "10 cm]}\n"},
		{"a plant more", []benchfile.Change{{Do: benchfile.Add, Path: "plants.at", Text: "[80 cm, 50 cm]"}}, "    [70 cm, 40 cm]\n", "    [70 cm, 40 cm],\n    [80 cm, 50 cm]\n"},
		{"a reading more", []benchfile.Change{{Do: benchfile.Add, Path: "readings", Text: "{at: [1 cm, 2 cm], height: 3 cm, ppfd: 4}"}}, "  ppfd: 180\n", "  ppfd: 180\n- {at: [1 cm, 2 cm], height: 3 cm, ppfd: 4}\n"},
		{"the first shelf", []benchfile.Change{{Do: benchfile.Add, Path: "shelves", Text: "{from: [0 cm, 0 cm], to: [9 cm, 9 cm], height: 3 cm}"}}, "  ppfd: 180\n", "  ppfd: 180\nshelves:\n  - {from: [0 cm, 0 cm], to: [9 cm, 9 cm], height: 3 cm}\n"},
	} {
		for _, windows := range []bool{false, true} {
			source, was, is := odd, c.was, c.is
			if windows {
				source, was, is = texts(t)["windows"], strings.ReplaceAll(was, "\n", "\r\n"), strings.ReplaceAll(is, "\n", "\r\n")
			}
			got, err := benchfile.Apply([]byte(source), c.changes...)
			if was == "" {
				if err == nil {
					t.Errorf("%s: a comment was lost, or should have been: %s", c.name, got)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			if strings.Count(source, was) != 1 {
				t.Fatalf("%s: %q stands %d times in the text", c.name, was, strings.Count(source, was))
			}
			if want := strings.Replace(source, was, is, 1); string(got) != want {
				t.Errorf("%s:\n%s\nwant\n%s", c.name, got, want)
			}
		}
	}
}

// What cannot be changed is refused with the text untouched, and said.
func TestApplyRefuses(t *testing.T) {
	for _, c := range []benchfile.Change{
		{Do: benchfile.Set, Path: "lamps", Text: "x"},
		{Do: benchfile.Set, Path: "lamps[9].height", Text: "x"},
		{Do: benchfile.Set, Path: "lamps[0].height", Text: "  "},
		{Do: benchfile.Remove, Path: "lamps[0].beam"},
		{Do: benchfile.Add, Path: "name", Text: "x"},
		{Do: benchfile.Add, Path: "lamps", Text: "{a: 1}, {b: 2}"},
		{Do: benchfile.Add, Path: "lamps", Text: "{a: 1"},
		{Do: benchfile.Add, Path: "lamps", Text: "{a: 1}\nnote: x"},
		{Do: benchfile.Put, Path: "lamps", Text: "[]"},
		{Do: "burn", Path: "name", Text: "x"},
		{Do: benchfile.Set, Path: "", Text: "x"},
		{Do: benchfile.Set, Path: "lamps[", Text: "x"},
		{Do: benchfile.Set, Path: `lamps["x`, Text: "x"},
		{Do: benchfile.Set, Path: "lamps[-1].height", Text: "x"},
	} {
		if got, err := benchfile.Apply([]byte(odd), c); err == nil {
			t.Errorf("%+v was done:\n%s", c, got)
		} else if strings.ContainsAny(err.Error(), "\n") && len(err.Error()) > 400 {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// drawChange draws a change that fits a text. The paths are read with the YAML library alone.
func drawChange(t *rapid.T, source string) benchfile.Change {
	var doc map[string]any
	if err := yaml.Unmarshal(unix(source), &doc); err != nil {
		t.Fatal(err)
	}
	var scalars, keys, lists []string
	var collect func(path string, v any)
	collect = func(path string, v any) {
		switch x := v.(type) {
		case map[string]any:
			for k, y := range x {
				at := strings.TrimPrefix(path+"."+k, ".")
				if at != "underlamp" && at != "space" {
					keys = append(keys, at)
				}
				collect(at, y)
			}
		case []any:
			lists = append(lists, path)
			for i, y := range x {
				collect(fmt.Sprintf("%s[%d]", path, i), y)
			}
		default:
			scalars = append(scalars, path)
		}
	}
	collect("", doc)
	slices.Sort(scalars)
	slices.Sort(keys)
	slices.Sort(lists)
	word := rapid.OneOf(rapid.SampledFrom([]string{"34 cm", "13.5 in", "1/2", "-90°", "13,5 cm", "white paint", "80 %", "a: b", "# no", "null", "~", "it's", "\"", "[x", "{", "yes", "- x", "ä\\n", "1:2", "a #b"}), rapid.StringMatching(`[!-~äµ°²]{1,6}( [!-~äµ]{1,6})?`))
	what := rapid.IntRange(0, 3).Draw(t, "what")
	if len(lists) == 0 {
		what = 3
	}
	switch what {
	case 0:
		return benchfile.Change{Do: benchfile.Set, Path: rapid.SampledFrom(scalars).Draw(t, "path"), Text: word.Draw(t, "text")}
	case 1:
		return benchfile.Change{Do: benchfile.Remove, Path: rapid.SampledFrom(keys).Draw(t, "path")}
	case 2:
		return benchfile.Change{Do: benchfile.Add, Path: rapid.SampledFrom(lists).Draw(t, "path"), Text: rapid.SampledFrom([]string{"[1 cm, 2 cm]", "{name: new, at: [1 cm, 2 cm]}", "x", "{}"}).Draw(t, "item")}
	}
	path := rapid.SampledFrom([]string{"note", "air.co2", "crop.days", "feed.ec", "lamps[0].turn", "lamps[1].ageing", "limits.burn", "air.night.humidity", "walls.above"}).Draw(t, "path")
	return benchfile.Change{Do: benchfile.Set, Path: path, Text: word.Draw(t, "text")}
}

// unix is what the YAML library alone can read.
func unix(s string) []byte {
	return []byte(strings.ReplaceAll(strings.TrimPrefix(s, "\ufeff"), "\r\n", "\n"))
}

var comment = regexp.MustCompile(`(?m)(?:^|[ ])#.*$`)

// Whatever is changed: the text says what was asked and nothing else, every comment stays but
// those inside what was taken away, lines that are not concerned stay byte by byte, and
// writing the old value again gives the old bytes.
func TestApplyKeepsTheRest(t *testing.T) {
	all := texts(t)
	names := []string{}
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	refused, done := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		source := all[rapid.SampledFrom(names).Draw(t, "text")]
		notes := comment.FindAllString(source, -1)
		for range rapid.IntRange(1, 4).Draw(t, "times") {
			c := drawChange(t, source)
			got, err := benchfile.Apply([]byte(source), c)
			if err != nil {
				refused++
				if c.Do == benchfile.Set && !strings.Contains(err.Error(), "a part stands there") && !strings.Contains(err.Error(), "no such item") {
					t.Fatalf("%+v: %v\n%s", c, err, source)
				}
				continue
			}
			done++
			before, after := strings.Split(source, "\n"), strings.Split(string(got), "\n")
			for len(before) > 0 && len(after) > 0 && before[0] == after[0] {
				before, after = before[1:], after[1:]
			}
			for len(before) > 0 && len(after) > 0 && before[len(before)-1] == after[len(after)-1] {
				before, after = before[:len(before)-1], after[:len(after)-1]
			}
			// What lies between has changed: nothing, or a line or two, but for an item taken away.
			if c.Do == benchfile.Set && (len(before) > 1 || len(after) > 2) || c.Do == benchfile.Add && (len(before) > 1 || len(after) > 3) {
				t.Fatalf("%+v changes\n%s\nto\n%s", c, strings.Join(before, "\n"), strings.Join(after, "\n"))
			}
			if c.Do != benchfile.Remove {
				for _, line := range notes {
					if strings.Contains(source, line) && !strings.Contains(string(got), line) {
						t.Fatalf("%+v: the comment %q is lost", c, line)
					}
				}
			}
			hold(t, c, source, string(got))
			if c.Do == benchfile.Set {
				diff, err := benchfile.Differences([]byte(source), got)
				if err != nil || len(diff) > 1 {
					t.Fatalf("%+v makes the differences %v (%v)", c, diff, err)
				}
			}
			source = string(got)
		}
	})
	if done < refused {
		t.Errorf("%d changes were made and %d refused", done, refused)
	}
}

// hold compares what the YAML library reads before and after, but for the path changed.
func hold(t *rapid.T, c benchfile.Change, was, is string) {
	flat := func(s string) map[string]string {
		var doc any
		if err := yaml.Unmarshal(unix(s), &doc); err != nil {
			t.Fatalf("%+v: %v\n%s", c, err, s)
		}
		out := map[string]string{}
		var walk func(path string, v any)
		walk = func(path string, v any) {
			switch x := v.(type) {
			case map[string]any:
				for k, y := range x {
					walk(strings.TrimPrefix(path+"."+k, "."), y)
				}
			case []any:
				for i, y := range x {
					walk(fmt.Sprintf("%s[%d]", path, i), y)
				}
			case nil:
			default:
				out[path] = fmt.Sprint(x)
			}
		}
		walk("", doc)
		return out
	}
	a, b := flat(was), flat(is)
	switch c.Do {
	case benchfile.Set:
		at := c.Path
		if _, ok := a[at+".value"]; ok {
			at += ".value"
		}
		if strings.TrimSpace(b[at]) != strings.TrimSpace(c.Text) && !number.MatchString(c.Text) {
			t.Fatalf("%+v: it says %q", c, b[at])
		}
		delete(a, at)
		delete(b, at)
	case benchfile.Remove:
		for k := range a {
			if k == c.Path || strings.HasPrefix(k, c.Path+".") || strings.HasPrefix(k, c.Path+"[") {
				delete(a, k)
			}
		}
	case benchfile.Add:
		for k := range b {
			if _, was := a[k]; !was && strings.HasPrefix(k, c.Path+"[") {
				delete(b, k)
			}
		}
	}
	if !reflect.DeepEqual(a, b) {
		t.Fatalf("%+v: %v\nbecame %v", c, a, b)
	}
}

// number are texts that the YAML library takes for something else than text, which the reader
// of bench files does not.
var number = regexp.MustCompile(`^([-+.0-9_xobXOBeE]+|\.?(inf|nan|Inf|NaN|INF|NAN)|(?i:yes|no|true|false|on|off|y|n))$`)

// Undoing gives back the bytes.
func TestApplyBack(t *testing.T) {
	for name, source := range texts(t) {
		there, err := benchfile.Apply([]byte(source), benchfile.Change{Do: benchfile.Set, Path: "lamps[0].height", Text: "17 cm"})
		if err != nil {
			t.Fatal(name, err)
		}
		diff, err := benchfile.Differences(there, []byte(source))
		if err != nil || len(diff) != 1 {
			t.Fatal(name, diff, err)
		}
		back, err := benchfile.Apply(there, benchfile.Change{Do: benchfile.Set, Path: diff[0].Path, Text: diff[0].Is})
		if err != nil || string(back) != source {
			t.Errorf("%s: %v\n%s", name, err, back)
		}
	}
}

func TestWords(t *testing.T) {
	source := string(demo.File("tier-2-middle.yaml"))
	for _, c := range []struct {
		changes []benchfile.Change
		want    []string
	}{
		{[]benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].height", Text: "30 cm"}}, []string{"lamp left panel, height: 32 cm to 30 cm"}},
		{[]benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].height", Text: "30 cm"}, {Do: benchfile.Set, Path: "lamps[1].height", Text: "30 cm"}}, []string{"all lamps, height: 32 cm to 30 cm"}},
		{[]benchfile.Change{{Do: benchfile.Set, Path: "air.fan", Text: "down"}, {Do: benchfile.Set, Path: "air.speed", Text: "0.4 m/s"}}, []string{"air, speed: 0.3 m/s to 0.4 m/s", "air, fan: across to down"}},
		{[]benchfile.Change{{Do: benchfile.Remove, Path: "lamps[1]"}}, []string{"lamp right panel taken away"}},
		{[]benchfile.Change{{Do: benchfile.Set, Path: "lamps[0].at[0]", Text: "35 cm"}}, []string{"lamp left panel, place: [30 cm, 30 cm] to [35 cm, 30 cm]"}},
		{[]benchfile.Change{{Do: benchfile.Set, Path: "crop.days", Text: "30"}}, []string{"crop, days: 32 to 30"}},
		{[]benchfile.Change{{Do: benchfile.Remove, Path: "limits.ceiling"}}, []string{"limits, ceiling: 320 µmol/m²/s, now not said"}},
		{[]benchfile.Change{{Do: benchfile.Add, Path: "readings", Text: "{name: R6, at: [5 cm, 5 cm], height: 5 cm, ppfd: 90}"}}, []string{"reading R6 added"}},
	} {
		got, err := benchfile.Apply([]byte(source), c.changes...)
		if err != nil {
			t.Fatal(c.changes, err)
		}
		w, err := benchfile.Words([]byte(source), got)
		if err != nil || !slices.Equal(w, c.want) {
			t.Errorf("%+v: %q (%v), want %q", c.changes, w, err, c.want)
		}
	}
}

// A change of today is carried to how the bench was before.
func TestCarry(t *testing.T) {
	now := demo.File("tier-2-middle.yaml")
	then, err := benchfile.Apply(now, benchfile.Change{Do: benchfile.Set, Path: "lamps[0].dimming", Text: "60 %"}, benchfile.Change{Do: benchfile.Set, Path: "air.fan", Text: "none"})
	if err != nil {
		t.Fatal(err)
	}
	is, err := benchfile.Apply(now, benchfile.Change{Do: benchfile.Set, Path: "lamps[0].height", Text: "28 cm"}, benchfile.Change{Do: benchfile.Add, Path: "readings", Text: "{name: late, at: [5 cm, 5 cm], height: 5 cm, ppfd: 90}"},
		benchfile.Change{Do: benchfile.Put, Path: "plants.at", Text: "[[10 cm, 10 cm], [50 cm, 10 cm]]"}, benchfile.Change{Do: benchfile.Remove, Path: "plants.grid"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := benchfile.Carry(then, now, is)
	if err != nil {
		t.Fatal(err)
	}
	w, err := benchfile.Words(is, got)
	if want := []string{"lamp left panel, dimming: 70 % to 60 %", "air, fan: across to none"}; err != nil || !slices.Equal(w, want) {
		t.Errorf("%q, %v", w, err)
	}
	without, err := benchfile.Apply(now, benchfile.Change{Do: benchfile.Remove, Path: "lamps[0]"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := benchfile.Carry(without, now, is); err == nil {
		t.Error("the height of a lamp was carried to a bench without it")
	}
}

// Whatever text and change come: no crash, and what comes out can be read as YAML and says
// nothing else.
func FuzzApply(f *testing.F) {
	for _, s := range texts(f) {
		f.Add(s, "lamps[0].height", "30 cm", uint8(0))
		f.Add(s, "plants.grid", "", uint8(1))
		f.Add(s, "readings", "{a: 1}", uint8(2))
		f.Add(s, "air", "{day: {humidity: 1 %}}", uint8(3))
	}
	f.Add("a: |\n  x\n  y\nb: 'it''s\n  long'\nc: [a, , b]\n", "b", "x", uint8(0))
	f.Add("a: {b: {c: }, d: }\n- x\n", "a.b.c", "x", uint8(0))
	f.Fuzz(func(t *testing.T, source, path, text string, do uint8) {
		c := benchfile.Change{Do: []benchfile.Change{{Do: benchfile.Set}, {Do: benchfile.Remove}, {Do: benchfile.Add}, {Do: benchfile.Put}}[do%4].Do, Path: path, Text: text}
		got, err := benchfile.Apply([]byte(source), c)
		if err != nil {
			return
		}
		if _, err := benchfile.Differences([]byte(source), got); err != nil {
			t.Fatalf("%+v: %v", c, err)
		}
		if again, err := benchfile.Apply(got); err != nil || !bytes.Equal(again, got) {
			t.Fatalf("doing nothing changes the text: %v", err)
		}
	})
}
