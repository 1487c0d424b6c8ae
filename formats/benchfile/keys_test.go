package benchfile

import (
	"os"
	"strings"
	"testing"

	"underlamp/formats/handwritten"
)

// Every key that the reader accepts, and every surface, is in the documentation.
func TestKeysAreDocumented(t *testing.T) {
	data, err := os.ReadFile("../../docs/formats/bench.md")
	if err != nil {
		t.Fatal(err)
	}
	md := string(data)
	for _, s := range grammar.Sections {
		name, _, _ := strings.Cut(strings.ReplaceAll(s.Name, "[]", ""), ".")
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
		for _, k := range s.Keys {
			if !strings.Contains(part, "`"+k+"`") {
				t.Errorf("%s: the key %q is not under %q", s.Name, k, heading)
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
	for _, s := range grammar.Sections {
		for _, k := range s.Keys {
			known[k] = true
		}
	}
	for word, key := range grammar.Also {
		if !known[key] || word != handwritten.Normal(word) {
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
