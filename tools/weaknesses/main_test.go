package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A finding in a module is an error, one of Go's own library is told, and findings that name
// no function of the binary are neither.
func TestReport(t *testing.T) {
	finding := func(id, module, function string) string {
		return fmt.Sprintf(`{"finding":{"osv":%q,"fixed_version":"v1.1.0","trace":[{"module":%q,"version":"v1.0.0","function":%q}]}}`, id, module, function)
	}
	for _, c := range []struct {
		name, said string
		all        int
		fails      bool
	}{
		{"nothing", `{"config":{}}`, 0, false},
		{"of Go", finding("GO-1", "stdlib", "Read") + finding("GO-1", "stdlib", "Write"), 1, false},
		{"module alone", finding("GO-2", "example.org/m", ""), 0, false},
		{"of a module", `{"osv":{"id":"GO-2","summary":"reads too far"}}` + finding("GO-2", "example.org/m", "") + finding("GO-2", "example.org/m", "F"), 1, true},
	} {
		all, err := found(strings.NewReader(c.said))
		if err != nil || len(all) != c.all {
			t.Errorf("%s: %v, %v", c.name, all, err)
		}
		var out bytes.Buffer
		if err := report(&out, all); (err != nil) != c.fails {
			t.Errorf("%s: %v", c.name, err)
		}
		if c.fails && !strings.Contains(out.String(), "reads too far") {
			t.Error(out.String())
		}
	}
	if _, err := found(strings.NewReader("{")); err == nil {
		t.Error("half an answer is taken")
	}
}

// A folder that has too few entries is not taken for a database without weaknesses.
func TestIndex(t *testing.T) {
	from, to := t.TempDir(), t.TempDir()
	if err := index(from, to); err == nil {
		t.Error("an empty database is taken")
	}
	for i := range 1001 {
		more := ""
		if i == 7 {
			more = `,"withdrawn":"2026-01-02T00:00:00Z"`
		}
		text := fmt.Sprintf(`{"id":"GO-2026-%04d","modified":"2026-01-01T00:00:00Z"%s,"affected":[{"package":{"name":"example.org/m"},"ranges":[{"events":[{"introduced":"0"},{"fixed":"1.0.%d"}]}]}]}`, i, more, i)
		if err := os.WriteFile(filepath.Join(from, fmt.Sprintf("GO-2026-%04d.json", i)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := index(from, to); err != nil {
		t.Fatal(err)
	}
	body, err := os.ReadFile(filepath.Join(to, "index", "modules.json"))
	if err != nil || strings.Count(string(body), `"id"`) != 1000 || !strings.Contains(string(body), `"fixed":"1.0.3"`) || strings.Contains(string(body), "GO-2026-0007") {
		t.Errorf("%v %.200s", err, body)
	}
}
