package marked_test

import (
	"slices"
	"testing"

	"underlamp/formats/handwritten"
	"underlamp/internal/marked"
)

// By hand; a mark takes no place, and a character of two bytes one column.
func TestUnmark(t *testing.T) {
	plain, places := marked.Unmark("«a: µ«\r\n  ««b")
	if want := []string{"1:1", "1:5", "2:3", "2:3"}; plain != "a: µ\r\n  b" || !slices.Equal(places, want) {
		t.Errorf("%q, %v, want %v", plain, places, want)
	}
}

// fails counts failures instead of failing.
type fails struct {
	testing.TB
	n int
}

func (f *fails) Helper()               {}
func (f *fails) Errorf(string, ...any) { f.n++ }

// A place, a part of what is said, and the number of problems each count.
func TestProblems(t *testing.T) {
	one := handwritten.Problems{{Line: 2, Column: 3, Message: "no unit", Want: "34 cm"}}
	for _, c := range []struct {
		places, want []string
		fails        int
	}{
		{[]string{"2:3"}, []string{"no unit|34 cm"}, 0}, {nil, []string{"no unit"}, 0}, {[]string{"2:4"}, []string{"no unit"}, 1},
		{[]string{"2:3"}, []string{"no unit|34 in"}, 1}, {nil, nil, 1}, {nil, []string{"no unit", "34 cm"}, 1},
	} {
		f := &fails{TB: t}
		marked.Problems(f, one, c.places, c.want)
		if f.n != c.fails {
			t.Errorf("%v: %d failures", c, f.n)
		}
	}
}
