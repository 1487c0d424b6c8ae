// Package rset reads the reference results of science/stat: what R and certified
// sources give on public data. Only tests import it.
//
// A case is a file testdata/results/NAME.json with the exact calls, the source and
// licence of the data, the versions of the software and the results; its data,
// if any, lie in testdata/data.
package rset

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// A Case is one reference case.
type Case struct {
	Data   string         `json:"data"`
	Source string         `json:"source"`
	Result map[string]any `json:"results"`
	t      testing.TB
	id     string
}

const root = "../testdata"

// Load reads a case for a package right below science/stat.
func Load(t testing.TB, id string) *Case {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, "results", id+".json"))
	if err != nil {
		t.Fatal(err)
	}
	c := &Case{t: t, id: id}
	if err := json.Unmarshal(text, c); err != nil {
		t.Fatal(err)
	}
	return c
}

// Table reads the data of the case.
func (c *Case) Table() Table {
	c.t.Helper()
	return ReadTable(c.t, filepath.Base(c.Data))
}

// A Table is a CSV file by columns.
type Table struct {
	Columns map[string][]string
	Rows    int
	t       testing.TB
}

// ReadTable reads a file of testdata/data.
func ReadTable(t testing.TB, name string) Table {
	t.Helper()
	f, err := os.Open(filepath.Join(root, "data", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := Table{map[string][]string{}, len(rows) - 1, t}
	for j, name := range rows[0] {
		for _, r := range rows[1:] {
			out.Columns[name] = append(out.Columns[name], r[j])
		}
	}
	return out
}

// Text returns a column as it stands.
func (t Table) Text(column string) []string {
	t.t.Helper()
	c, ok := t.Columns[column]
	if !ok {
		t.t.Fatalf("no column %q", column)
	}
	return c
}

// Numbers returns a column of numbers; empty fields and Inf are allowed.
func (t Table) Numbers(column string) []float64 {
	t.t.Helper()
	out := make([]float64, t.Rows)
	for i, s := range t.Text(column) {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if s == "" || s == "NA" {
			v, err = math.NaN(), nil
		}
		if err != nil {
			t.t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// at walks to a value by keys; a number in the path is an index.
func (c *Case) at(path string) any {
	c.t.Helper()
	var v any = c.Result
	for k := range strings.SplitSeq(path, "/") {
		switch x := v.(type) {
		case map[string]any:
			y, ok := x[k]
			if !ok {
				c.t.Fatalf("%s: no %q in %s", c.id, k, path)
			}
			v = y
		case []any:
			i, err := strconv.Atoi(k)
			if err != nil || i >= len(x) {
				c.t.Fatalf("%s: no element %q in %s", c.id, k, path)
			}
			v = x[i]
		default:
			c.t.Fatalf("%s: nothing below %q in %s", c.id, k, path)
		}
	}
	return v
}

// Number returns the number at a path such as "anova/F value/0".
func (c *Case) Number(path string) float64 {
	c.t.Helper()
	v, err := number(c.at(path))
	if err != nil {
		c.t.Fatalf("%s: %s: %v", c.id, path, err)
	}
	return v
}

// Numbers returns the list of numbers at a path.
func (c *Case) Numbers(path string) []float64 {
	c.t.Helper()
	list, ok := c.at(path).([]any)
	if !ok {
		return []float64{c.Number(path)}
	}
	out := make([]float64, len(list))
	for i, x := range list {
		v, err := number(x)
		if err != nil {
			c.t.Fatalf("%s: %s/%d: %v", c.id, path, i, err)
		}
		out[i] = v
	}
	return out
}

// Words returns the list of words at a path.
func (c *Case) Words(path string) []string {
	c.t.Helper()
	list, ok := c.at(path).([]any)
	if !ok {
		c.t.Fatalf("%s: %s is no list", c.id, path)
	}
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = fmt.Sprint(x)
	}
	return out
}

// Matrix returns rows of numbers at a path.
func (c *Case) Matrix(path string) [][]float64 {
	c.t.Helper()
	list, ok := c.at(path).([]any)
	if !ok {
		c.t.Fatalf("%s: %s is no list", c.id, path)
	}
	out := make([][]float64, len(list))
	for i := range list {
		out[i] = c.Numbers(fmt.Sprintf("%s/%d", path, i))
	}
	return out
}

func number(x any) (float64, error) {
	switch v := x.(type) {
	case float64:
		return v, nil
	case string:
		return strconv.ParseFloat(v, 64)
	case nil:
		return math.NaN(), nil
	}
	return 0, fmt.Errorf("%v is no number", x)
}

// Near fails the test unless got is within rel of want, relative to want, or within
// abs.
func Near(t testing.TB, what string, got, want, rel, abs float64) {
	t.Helper()
	if got == want {
		return
	}
	if !(math.Abs(got-want) <= math.Max(rel*math.Abs(want), abs)) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.2g, relative %.2g)", what, got, want, got-want, (got-want)/want)
	}
}
