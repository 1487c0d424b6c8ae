package handwritten_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/formats/handwritten"
)

// Whatever stands between them, unknown keys are reported in their own lines:
// each key is named after the line that it stands in.
func TestLinesStayTrue(t *testing.T) {
	fillers := []string{"# a comment\n", "\n", "note%d: |\n  two\n  lines\n", "note%d: >-\n  folded\n\n  text # no comment\n", "note%d: \"a\n  b\"\n",
		"note%d: 'it''s\n\n  so'\n", "note%d: plain\n  more\n", "note%d: [1,\n  2] # c\n", "note%d: {a: 1,\n  b: 2}\n", "note%d: \"µ\" # ü\n", "note%d:\n  - x\n  -\n    y: 1\n", "note%d: \"a\\\n  b\"\n", "   \n", "note%d: |2-\n   x\n"}
	rapid.Check(t, func(t *rapid.T) {
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "end of line")
		var b strings.Builder
		for range rapid.IntRange(1, 12).Draw(t, "parts") {
			f := rapid.SampledFrom(fillers).Draw(t, "filler")
			line := strings.Count(b.String(), "\n") + 1
			if strings.Contains(f, "%d") {
				f = fmt.Sprintf(f, line)
			}
			b.WriteString(f)
			fmt.Fprintf(&b, "line%d: 1\n", strings.Count(b.String(), "\n")+1)
		}
		text := strings.ReplaceAll(b.String(), "\n", end)
		r := &handwritten.Reader{Grammar: handwritten.Grammar{Sections: []handwritten.Section{{Keys: []string{"key"}}}}}
		_, problems, err := handwritten.Read(r, strings.NewReader(text), func(top handwritten.Value) *int {
			r.Mapping(top, "")
			return new(int)
		})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, p := range problems {
			if _, rest, found := strings.Cut(p.Message, `"line`); found {
				n++
				if !strings.HasPrefix(rest, fmt.Sprintf("%d\"", p.Line)) || p.Column != 1 {
					t.Fatalf("%v\n%s", p, text)
				}
			}
		}
		if n != strings.Count(text, "line")-strings.Count(text, "lines") {
			t.Fatalf("%d of the keys reported: %v\n%s", n, problems, text)
		}
	})
}
