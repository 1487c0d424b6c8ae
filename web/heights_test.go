package web

import (
	"os"
	"testing"
	"time"

	"underlamp/science/quantity"
)

// After the outlook of another lamp height the heights beside it are there, as the slider
// sends them, and no more; what was asked is kept up to a bound.
func TestLookAhead(t *testing.T) {
	b := newBenches(os.DirFS("../demo/rack"))
	e, err := b.get("tier-1-top")
	if err != nil || e == nil || e.broken {
		t.Fatal(err, e)
	}
	e.heights.longest = time.Hour // on a busy machine too
	s := e.bench.Setting()
	for _, c := range []struct {
		cm   float64
		want []float64
	}{
		{30, []float64{30.5, 29.5}},
		{25.3, []float64{25.8, 24.8}}, // typed
		{50, []float64{49.5}},
		{5, []float64{5.5}},
	} {
		s.Height = quantity.Metre(c.cm / 100)
		if _, err := e.at(s); err != nil {
			t.Fatal(err)
		}
		e.lookAhead(s)
		for began := time.Now(); e.heights.looking.Load() || e.heights.wanted.Load() != nil; time.Sleep(time.Millisecond) {
			if time.Since(began) > time.Minute {
				t.Fatal("it does not end")
			}
		}
		if n := len(e.neighbours(s)); n != len(c.want) {
			t.Errorf("%v cm has %d neighbours", c.cm, n)
		}
		for _, cm := range c.want {
			shown, ok := typedIn(quantity.Fixed(cm, 1), quantity.Length, 100)
			if !ok || !e.heights.has(quantity.Metre(shown)) {
				t.Errorf("from %v cm nobody looked ahead to %v cm", c.cm, cm)
			}
		}
	}
	for cm := range 20 {
		s.Height = quantity.Metre(float64(20+cm) / 100)
		if _, err := e.at(s); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(e.heights.kept); n != mostHeights {
		t.Errorf("%d heights are kept", n)
	}
	first, _ := e.at(s)
	if again, _ := e.at(s); first != again {
		t.Error("the same height is computed twice")
	}
}
