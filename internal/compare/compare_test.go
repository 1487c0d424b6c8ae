package compare_test

import (
	"math"
	"testing"

	"underlamp/internal/compare"
)

// fails counts failures instead of failing.
type fails struct {
	testing.TB
	n int
}

func (f *fails) Helper()               {}
func (f *fails) Errorf(string, ...any) { f.n++ }

// At the tolerance it holds, beyond it and for NaN it fails.
func TestWithin(t *testing.T) {
	for _, c := range []struct {
		got, want, tolerance float64
		fails                int
	}{{1, 1, 0, 0}, {1.5, 1, 0.5, 0}, {1.5001, 1, 0.5, 1}, {0.4, 1, 0.5, 1}, {math.NaN(), 1, 9, 1}, {1, math.NaN(), 9, 1}} {
		f := &fails{TB: t}
		compare.Within(f, "figure", c.got, c.want, c.tolerance)
		if f.n != c.fails {
			t.Errorf("%v: %d failures", c, f.n)
		}
	}
}
