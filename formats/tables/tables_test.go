package tables_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"underlamp/formats/tables"
)

func sample() *tables.Table {
	return &tables.Table{Name: "t", About: "x", Columns: []tables.Column{
		{Name: "id", Kind: tables.Text, About: "x", Required: true}, {Name: "n", Kind: tables.Number, About: "x"}, {Name: "on", Kind: tables.Yes, About: "x"},
		{Name: "day", Kind: tables.Date, About: "x"}, {Name: "at", Kind: tables.Time, About: "x"},
	}, Rows: tables.Of([][]any{
		{"a,\"b\"\nc", 1e-7, true, tables.Day{Year: 2026, Month: 2, Day: 3}, time.Date(2026, 2, 3, 4, 5, 6, 7e6, time.FixedZone("", 3600))},
		{"=2", nil, nil, nil, nil},
	})}
}

// Outside: encoding/csv and encoding/json read back what was written.
func TestWrittenByOthersRead(t *testing.T) {
	var b bytes.Buffer
	if err := sample().WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	got, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{{"id", "n", "on", "day", "at"}, {"a,\"b\"\nc", "1e-07", "true", "2026-02-03", "2026-02-03T03:05:06.007Z"}, {"=2", "", "", "", ""}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	b.Reset()
	if err := sample().WriteRows(&b); err != nil {
		t.Fatal(err)
	}
	var rows []map[string]any
	if err := json.Unmarshal(b.Bytes(), &rows); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(map[string]any{"id": "a,\"b\"\nc", "n": 1e-7, "on": true, "day": "2026-02-03", "at": "2026-02-03T03:05:06.007Z"}, rows[0]); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(map[string]any{"id": "=2", "n": nil, "on": nil, "day": nil, "at": nil}, rows[1]); d != "" {
		t.Error(d)
	}
}

// A cell that does not fit its column never leaves.
func TestMistakesAreTold(t *testing.T) {
	one, two := 1.0, 2.0
	for _, c := range []struct {
		col  tables.Column
		cell any
		want string
	}{
		{tables.Column{Kind: tables.Number}, math.NaN(), "not finite"},
		{tables.Column{Kind: tables.Number}, int64(1), "a int64 is no number"},
		{tables.Column{Kind: tables.Text}, "", "use nil"},
		{tables.Column{Kind: tables.Text, Required: true}, nil, "missing"},
		{tables.Column{Kind: tables.Text, Enum: []string{"a"}}, "b", "none of"},
		{tables.Column{Kind: tables.Number, Min: &one, Max: &two}, 2.5, "outside"},
		{tables.Column{Kind: tables.Date}, time.Now(), "no date"},
	} {
		c.col.Name, c.col.About = "x", "x"
		tab := &tables.Table{Name: "t", Columns: []tables.Column{c.col}, Rows: tables.Of([][]any{{c.cell}})}
		if err := tab.WriteCSV(&bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "row 1, column x") {
			t.Errorf("%v: %v, want %q", c.cell, err, c.want)
		}
	}
	for _, bad := range []*tables.Table{{Name: "T"}, {Name: "t", Columns: []tables.Column{{Name: "a b", About: "x", Kind: tables.Text}}}, {Name: "t", Columns: []tables.Column{{Name: "a", Kind: tables.Text}}}, {Name: "t", Key: []string{"k"}}} {
		if bad.Check() == nil {
			t.Errorf("%+v is taken", bad)
		}
	}
}

func BenchmarkWriteCSV(b *testing.B) {
	rows := make([][]any, 10_000)
	for i := range rows {
		rows[i] = []any{"L1", float64(i) * 0.1, int64(i), time.Unix(int64(i), 0), nil}
	}
	t := &tables.Table{Name: "t", Columns: []tables.Column{{Name: "a", Kind: tables.Text, About: "x"}, {Name: "b", Kind: tables.Number, About: "x"}, {Name: "c", Kind: tables.Whole, About: "x"}, {Name: "d", Kind: tables.Time, About: "x"}, {Name: "e", Kind: tables.Text, About: "x"}}, Rows: tables.Of(rows)}
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := t.WriteCSV(&out); err != nil {
			b.Fatal(err)
		}
	}
}
