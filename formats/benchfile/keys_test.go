package benchfile

import (
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Every key that the reader accepts, and every surface, is in the documentation.
func TestKeysAreDocumented(t *testing.T) {
	data, err := os.ReadFile("../../docs/formats/bench.md")
	if err != nil {
		t.Fatal(err)
	}
	md := string(data)
	for _, s := range sections {
		name, _, _ := strings.Cut(strings.ReplaceAll(s.name, "[]", ""), ".")
		heading := map[string]string{"": "### The file", "origin": "### `value`, `from`, `note`"}[name]
		if heading == "" {
			heading = "### `" + name + "`"
		}
		_, rest, found := strings.Cut(md, heading+"\n")
		if !found {
			t.Errorf("no heading %q", heading)
		}
		part, _, _ := strings.Cut(rest, "\n##")
		part = heading + part
		for _, k := range s.keys {
			if !strings.Contains(part, "`"+k+"`") {
				t.Errorf("%s: the key %q is not under %q", s.name, k, heading)
			}
		}
	}
	for _, s := range Surfaces() {
		row := "| `" + s.Name + "` | " + percent(float64(s.Usual)) + " | " + percent(float64(s.Low)) + " to " + percent(float64(s.High)) + " |"
		if !strings.Contains(md, row) {
			t.Errorf("no row %q", row)
		}
		if !(s.Low <= s.Usual && s.Usual <= s.High) {
			t.Errorf("%s: %v, %v, %v", s.Name, s.Low, s.Usual, s.High)
		}
	}
}

func percent(x float64) string { return amountText(100*x, 0) + " %" }

// Words of other people lead to keys, surfaces and types that exist.
func TestOtherWords(t *testing.T) {
	known := map[string]bool{}
	for _, s := range sections {
		for _, k := range s.keys {
			known[k] = true
		}
	}
	for word, key := range alsoCalled {
		if !known[key] || word != normal(word) {
			t.Errorf("%q stands for %q", word, key)
		}
	}
	names := strings.Join(surfaceNames(), "|")
	for word, surface := range surfacesAlso {
		if !strings.Contains(names, surface) {
			t.Errorf("%q stands for %q", word, surface)
		}
	}
}

// Distances by hand; "ca" to "abc" is 3 in optimal string alignment, where no
// part is edited twice (and 2 in the unrestricted distance).
func TestEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"height", "height", 0}, {"hieght", "height", 1}, {"wats", "watts", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}, {"", "abc", 3}, {"µ", "u", 1}} {
		if got := edits(c.a, c.b); got != c.want {
			t.Errorf("edits(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringMatching("[abc]{0,8}").Draw(t, "a"), rapid.StringMatching("[abc]{0,8}").Draw(t, "b")
		d := edits(a, b)
		if d != edits(b, a) || d > max(len(a), len(b)) || d < max(len(a), len(b))-min(len(a), len(b)) || (d == 0) != (a == b) {
			t.Fatalf("edits(%q, %q) = %d", a, b, d)
		}
	})
	for word, want := range map[string]string{"hieght": "height", "heigth": "height", "zzz": "", "hours2": "hours", "a": "at", "q": ""} {
		if got := nearest(word, keysOf("lamps[]")); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
}
