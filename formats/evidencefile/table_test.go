package evidencefile_test

import (
	"testing"

	"underlamp/formats/evidencefile"
	"underlamp/science/diagnosis"
	"underlamp/science/reference"
)

// The table of the program is whole, cites works of the bibliography alone, and every
// cause can be found by something that speaks for it.
func TestTheTableIsWhole(t *testing.T) {
	table := evidencefile.Builtin()
	cite := func(where string, keys []string) {
		for _, key := range keys {
			if _, ok := reference.Cite(key); !ok {
				t.Errorf("%s cites %s, which is not in the bibliography", where, key)
			}
		}
	}
	speaks := map[string]int{}
	for _, f := range table.Findings {
		if f.Kind == diagnosis.Symptom && f.State("seen") != 0 {
			t.Errorf("%s has no state seen", f.Key)
		}
		for _, s := range f.States {
			for _, r := range s.Rows {
				cite(f.Key+", "+s.Key, r.Sources)
				if r.Why == "" {
					t.Errorf("%s, %s, %s: it does not say why", f.Key, s.Key, r.Cause)
				}
				if r.Strength > 0 {
					speaks[r.Cause]++
				}
			}
		}
	}
	for _, c := range table.Causes {
		cite(c.Key, c.Sources)
		if speaks[c.Key] == 0 || c.Because == "" || len(c.Changes) == 0 || c.Hidden && c.Ask == "" {
			t.Errorf("%s: %d rows for it, because %q, %d changes, ask %q", c.Key, speaks[c.Key], c.Because, len(c.Changes), c.Ask)
		}
	}
}
