package lightfield

import (
	"strings"
	"testing"
)

// People know their lamps by name, not by the group or the place in a list.
func TestLampsAreCalledByTheirNames(t *testing.T) {
	f := &Fitted{Lamps: []Lamp{{Name: "left bar"}, {Name: "lamp 2"}, {}}}
	f.layout.of = []int{0, 0, 1}
	for g, want := range map[int]string{0: "lamps left bar and 2 give", 1: "lamp 3 gives"} {
		if got := f.givers(g); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := strings.Join([]string{f.lampName(0), f.lampName(1), f.lampName(2)}, ", "); got != "lamp left bar, lamp 2, lamp 3" {
		t.Error(got)
	}
}
