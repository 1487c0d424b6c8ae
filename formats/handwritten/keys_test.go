package handwritten

import (
	"testing"

	"pgregory.net/rapid"
)

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
		if got := Nearest(word, []string{"name", "kind", "at", "height", "turn", "tilt", "towards", "opening", "flux", "watts", "efficacy", "beam", "dimming", "hours"}); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}
