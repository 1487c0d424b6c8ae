package marked

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"underlamp/formats/handwritten"
)

// Unmark takes the marks « out of a text and returns the place, as line:column,
// that each stood before.
func Unmark(text string) (plain string, places []string) {
	line, column := 1, 1
	for _, r := range strings.ReplaceAll(text, "\r\n", "\n") {
		switch r {
		case '«':
			places = append(places, fmt.Sprintf("%d:%d", line, column))
			continue
		case '\n':
			line, column = line+1, 0
		}
		column++
	}
	return strings.ReplaceAll(text, "«", ""), places
}

// Problems fails the test unless there is one problem for each that is wanted, in
// its place, and it says all parts of what is wanted, which | parts. Without a place
// for each only what is said counts.
func Problems(t testing.TB, problems handwritten.Problems, places, want []string) {
	t.Helper()
	if len(problems) != len(want) {
		t.Errorf("%d problems, want %d:\n%v", len(problems), len(want), problems)
		return
	}
	for i, p := range problems {
		if at := fmt.Sprintf("%d:%d", p.Line, p.Column); len(places) == len(want) && at != places[i] {
			t.Errorf("problem at %s, want %s: %v", at, places[i], p)
		}
		for _, part := range strings.Split(want[i], "|") {
			if !strings.Contains(p.String(), part) {
				t.Errorf("%v\ndoes not say %q", p, part)
			}
		}
	}
}

// Sane fails the test unless what was read of a text fits its problems: something
// was read exactly when none is an error, and each has words, and a place in the
// text, in the order of the text.
func Sane(t testing.TB, text []byte, read bool, problems handwritten.Problems) {
	t.Helper()
	if read == problems.HasErrors() {
		t.Fatalf("read: %v, beside %v", read, problems)
	}
	plain := strings.ReplaceAll(strings.ReplaceAll(string(text), "\r\n", "\n"), "\r", "\n")
	lines, before := strings.Count(plain, "\n")+1, 0
	for _, p := range problems {
		if p.Line < max(1, before) || p.Line > lines || p.Column < 1 || p.Message == "" {
			t.Fatalf("%+v in a text of %d lines, after line %d", p, lines, before)
		}
		before = p.Line
	}
	if shown := problems.Render("x", text, true); len(problems) > 0 && shown == "" || !utf8.ValidString(strings.ToValidUTF8(shown, "")) {
		t.Fatal("nothing is shown of the problems")
	}
}

// Example is the first example in YAML of a document.
func Example(t testing.TB, document string) string {
	t.Helper()
	_, rest, _ := strings.Cut(read(t, document), "```yaml\n")
	text, _, ok := strings.Cut(rest, "```")
	if !ok {
		t.Fatalf("%s has no example", document)
	}
	return text
}

// Documented fails the test unless a document names each key.
func Documented(t testing.TB, document string, keys []string) {
	t.Helper()
	text := read(t, document)
	for _, key := range keys {
		if !strings.Contains(text, "`"+key+"`") {
			t.Errorf("the key %q is not in %s", key, document)
		}
	}
}

func read(t testing.TB, document string) string {
	t.Helper()
	text, err := os.ReadFile(document)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
