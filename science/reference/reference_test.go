package reference

import (
	"testing"
)

func TestEveryTableReads(t *testing.T) {
	entries, err := files.ReadDir("data")
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) < 15 {
		t.Fatalf("%d tables embedded, want at least 15", len(entries))
	}
	for _, e := range entries {
		name := e.Name()[:len(e.Name())-len(".csv")]
		table, err := Load(name)
		if err != nil {
			t.Error(err)
			continue
		}
		if len(table.Source) < 20 {
			t.Errorf("table %s names no source in its first lines", name)
		}
		for i, r := range table.Rows {
			if len(r) != len(table.Header) {
				t.Errorf("table %s, row %d: %d cells, want %d", name, i, len(r), len(table.Header))
			}
		}
	}
	if _, err := Load("no such table"); err == nil {
		t.Error("an unknown table gave no error")
	}
}

func TestBibliography(t *testing.T) {
	seen := map[string]bool{}
	for _, w := range Works() {
		if seen[w.Key] {
			t.Errorf("key %s stands twice", w.Key)
		}
		seen[w.Key] = true
		if w.Key == "" || w.Authors == "" || w.Read == "" || (w.Title == "" && w.Where == "") {
			t.Errorf("entry %q lacks authors, title and place, or how it was read", w.Key)
		}
	}
	if _, ok := Cite("VanHenten1994"); !ok {
		t.Error("VanHenten1994 is missing")
	}
}
