package benchfolder_test

import (
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
)

// A bench that takes its feed from a plan has what the plan's log tells, measured where it was
// measured; what its own file says stands first; a plan that is gone is told.
func TestFeedFromAPlan(t *testing.T) {
	text := string(demo.File("tier-1-top.yaml"))
	const own = "feed: {calcium: 110 mg/L, ec: 1.5 mS/cm, root temperature: 20 °C}"
	if !strings.Contains(text, own) {
		t.Fatal("the demo has another feed now")
	}
	read := func(feed string) (*underlamp.Bench, error) {
		folder := fstest.MapFS{"b.yaml": {Data: []byte(strings.Replace(text, own, feed, 1))}, "rack.feed.yaml": {Data: demo.File("rack.feed.yaml")}}
		lamps, err := fs.Glob(demo.Folder(), "lamps/*")
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range lamps {
			folder[name] = &fstest.MapFile{Data: demo.File(name)}
		}
		return benchfolder.Bench(folder, "b")
	}
	b, err := read("feed: {from: rack.feed.yaml, magnesium: 30 mg/L}")
	if err != nil {
		t.Fatal(err)
	}
	f := b.Feed
	if f.Calcium.Origin != underlamp.Measured || math.Abs(float64(f.Calcium.Value)-112) > 0.01 || f.EC.Origin != underlamp.Measured || f.EC.Value != 1.52 {
		t.Errorf("calcium %+v, EC %+v", f.Calcium, f.EC)
	}
	if f.Ammonium.Origin != underlamp.Computed || !(f.Ammonium.Value > 5 && f.Ammonium.Value < 20) {
		t.Errorf("ammonium %+v", f.Ammonium)
	}
	if f.Magnesium.Origin != underlamp.Stated || f.Magnesium.Value != 30 || f.From != "rack.feed.yaml" {
		t.Errorf("magnesium %+v from %q", f.Magnesium, f.From)
	}
	if got := benchfolder.Named(b); len(got) == 0 || got[len(got)-1] != "rack.feed.yaml" {
		t.Errorf("names %v", got)
	}
	if _, err := read("feed: {from: gone.feed.yaml}"); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("a plan that is gone: %v", err)
	}
}
