package reference_test

import (
	"slices"
	"strings"
	"testing"

	"underlamp/formats/evidencefile"
	"underlamp/science/diagnosis"
	"underlamp/science/reference"
)

// caseTables are the sets of published cases that judge the table of evidence of troubles.
var caseTables = []string{"trouble_cases", "trouble_cases_blind"}

// column returns a column of a table, by its name.
func column(t *testing.T, table reference.Table, name string) []string {
	t.Helper()
	if !slices.Contains(table.Header, name) {
		t.Fatalf("%s has no column %s", table.Name, name)
	}
	var out []string
	for i := range table.Rows {
		out = append(out, table.Text(i, name))
	}
	return out
}

// Every case speaks the vocabulary of the table of evidence and names a work of
// the bibliography; no case stands twice. What the table makes of the cases is
// none of this test's business.
func TestTroubleCasesAreSound(t *testing.T) {
	evidence := evidencefile.Builtin()
	ids := map[string]bool{}
	for _, name := range caseTables {
		table := reference.MustLoad(name)
		if want := []string{"case", "cause", "source", "symptoms", "told", "words"}; !slices.Equal(table.Header, want) {
			t.Fatalf("%s: columns %v, want %v", name, table.Header, want)
		}
		for i := range table.Rows {
			id := table.Text(i, "case")
			if ids[id] {
				t.Errorf("%s stands twice", id)
			}
			ids[id] = true
			if evidence.Cause(table.Text(i, "cause")) == nil {
				t.Errorf("%s: there is no cause %q", id, table.Text(i, "cause"))
			}
			if work, ok := reference.Cite(table.Text(i, "source")); !ok || work.Read == "" {
				t.Errorf("%s: %s is not in the bibliography with how it was read", id, table.Text(i, "source"))
			}
			if len(table.Text(i, "words")) < 20 {
				t.Errorf("%s: no words of what the text says", id)
			}
			symptoms := strings.Fields(table.Text(i, "symptoms"))
			if len(symptoms) == 0 {
				t.Errorf("%s: no symptom", id)
			}
			seen := map[string]bool{}
			for _, key := range symptoms {
				if f := evidence.Finding(key); f == nil || f.Kind != diagnosis.Symptom {
					t.Errorf("%s: there is no symptom %q", id, key)
				}
				if seen[key] {
					t.Errorf("%s: %s stands twice", id, key)
				}
				seen[key] = true
			}
			for _, word := range strings.Fields(table.Text(i, "told")) {
				key, state, _ := strings.Cut(word, "=")
				f := evidence.Finding(key)
				if f == nil || f.Kind == diagnosis.Symptom || f.State(state) < 0 {
					t.Errorf("%s: nothing is told by %q", id, word)
				}
				if seen[key] {
					t.Errorf("%s: %s is told twice", id, key)
				}
				seen[key] = true
			}
		}
	}
}

// The blind set has a case of every cause, at least forty in all, and shares no
// work with the table of evidence or with the first set.
func TestBlindCasesAreBlind(t *testing.T) {
	evidence := evidencefile.Builtin()
	taken := map[string]string{}
	for _, c := range evidence.Causes {
		for _, key := range c.Sources {
			taken[key] = "the table of evidence"
		}
	}
	for _, f := range evidence.Findings {
		for _, s := range f.States {
			for _, r := range s.Rows {
				for _, key := range r.Sources {
					taken[key] = "the table of evidence"
				}
			}
		}
	}
	if len(taken) < 20 {
		t.Fatalf("the table of evidence cites %d works, want at least 20: are they read rightly?", len(taken))
	}
	for _, key := range column(t, reference.MustLoad("trouble_cases"), "source") {
		taken[key] = "the first set"
	}
	blind := reference.MustLoad("trouble_cases_blind")
	if len(blind.Rows) < 40 {
		t.Errorf("%d blind cases, want at least 40", len(blind.Rows))
	}
	// One text may stand under two keys: titles are compared too.
	titles := map[string]string{}
	for key := range taken {
		if work, ok := reference.Cite(key); ok && work.Title != "" {
			titles[work.Title+"|"+work.Where] = key
		}
	}
	for _, key := range column(t, blind, "source") {
		if where, ok := taken[key]; ok {
			t.Errorf("%s is used by %s", key, where)
		}
		work, _ := reference.Cite(key)
		if other, ok := titles[work.Title+"|"+work.Where]; ok {
			t.Errorf("%s is the same text as %s", key, other)
		}
	}
	causes := column(t, blind, "cause")
	for _, c := range evidence.Causes {
		if !slices.Contains(causes, c.Key) {
			t.Errorf("no blind case of %s", c.Key)
		}
	}
}
