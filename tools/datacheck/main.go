// Command datacheck reads what underlamp writes with general readers that know nothing of
// it: workbooks with excelize, Parquet files with parquet-go, CSV with encoding/csv, and
// descriptors against the JSON schemas of the standard with jsonschema. The values must be
// those of the JSON file, to the last bit.
//
//	go run . FOLDER PROFILES
//
// FOLDER holds NAME/ (an unpacked package), NAME.json (the same tables in one file), NAME.xlsx
// and NAME.parquet/ (one file a table); PROFILES holds the schemas of the standard.
package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/xuri/excelize/v2"
)

type field struct {
	Name string `json:"name"`
	Type string `json:"type"`
}

type table struct {
	Name   string `json:"name"`
	Schema struct {
		Fields []field `json:"fields"`
	} `json:"schema"`
	Data []map[string]any `json:"data"`
}

type file struct {
	Resources []table `json:"resources"`
}

var faults int

func fault(format string, a ...any) {
	if faults++; faults <= 20 {
		fmt.Fprintf(os.Stderr, "FAULT "+format+"\n", a...)
	}
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "datacheck FOLDER PROFILES")
		os.Exit(2)
	}
	names, err := filepath.Glob(filepath.Join(os.Args[1], "*.json"))
	if err != nil || len(names) == 0 {
		fault("no package in %s", os.Args[1])
	}
	schemas := profiles(os.Args[2])
	for _, n := range names {
		at := strings.TrimSuffix(n, ".json")
		for _, err := range []error{check(at), descriptor(schemas, filepath.Join(at, "datapackage.json")), descriptor(schemas, n)} {
			if err != nil {
				fault("%s: %v", filepath.Base(at), err)
			}
		}
	}
	if faults > 0 {
		os.Exit(1)
	}
}

// profiles compiles the schemas of packages and of tables.
func profiles(folder string) map[string]*jsonschema.Schema {
	out := map[string]*jsonschema.Schema{}
	for _, name := range []string{"data-package", "tabular-data-resource", "data-resource"} {
		c := jsonschema.NewCompiler()
		f, err := os.Open(filepath.Join(folder, name+".json"))
		if err != nil {
			fault("%v", err)
			continue
		}
		doc, err := jsonschema.UnmarshalJSON(f)
		f.Close()
		if err == nil {
			err = c.AddResource(name+".json", doc)
		}
		if err == nil {
			out[name], err = c.Compile(name + ".json")
		}
		if err != nil {
			fault("the schema %s: %v", name, err)
		}
	}
	return out
}

// descriptor holds a descriptor against its profile, and each resource against its own.
func descriptor(schemas map[string]*jsonschema.Schema, name string) error {
	raw, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(raw)))
	if err != nil {
		return err
	}
	top := doc.(map[string]any)
	if err := schemas[top["profile"].(string)].Validate(doc); err != nil {
		return err
	}
	all := top["resources"].([]any)
	for _, r := range all {
		if err := schemas[r.(map[string]any)["profile"].(string)].Validate(r); err != nil {
			return err
		}
	}
	delete(top, "resources") // a schema that finds nothing wrong with anything is none
	if schemas["data-package"].Validate(doc) == nil {
		return errors.New("the schema lets a package without resources pass")
	}
	fmt.Printf("%s: fits its profile and %d of its resources theirs (jsonschema)\n", filepath.Base(name), len(all))
	return nil
}

func check(at string) error {
	raw, err := os.ReadFile(at + ".json")
	if err != nil {
		return err
	}
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.UseNumber() // no digit is lost
	var whole file
	if err := d.Decode(&whole); err != nil {
		return err
	}
	book, err := excelize.OpenFile(at + ".xlsx")
	if err != nil {
		return err
	}
	defer book.Close()
	cells := map[string]int{}
	for _, t := range whole.Resources {
		for how, read := range map[string]func() ([][]any, error){
			"XLSX by excelize":      func() ([][]any, error) { return sheet(book, t) },
			"Parquet by parquet-go": func() ([][]any, error) { return parquetRows(at+".parquet/"+t.Name+".parquet", t) },
			"CSV by encoding/csv":   func() ([][]any, error) { return csvRows(at+"/data/"+t.Name+".csv", t) },
		} {
			rows, err := read()
			if err != nil {
				return fmt.Errorf("%s: %s: %w", t.Name, how, err)
			}
			if len(rows) != len(t.Data) {
				fault("%s: %s: %d rows, want %d", t.Name, how, len(rows), len(t.Data))
				continue
			}
			for i, row := range rows {
				for k, f := range t.Schema.Fields {
					want := known(f, t.Data[i][f.Name])
					cells[how]++
					if !same(row[k], want) {
						fault("%s: %s: row %d, %s: %v (%T), want %v (%T)", t.Name, how, i+1, f.Name, row[k], row[k], want, want)
					}
				}
			}
		}
		top, err := book.GetPanes(t.Name)
		if err != nil || !top.Freeze || top.YSplit != 1 {
			fault("%s: the heading does not stay in sight", t.Name)
		}
	}
	for how, n := range cells {
		fmt.Printf("%s: %d cells of %s are those of JSON\n", filepath.Base(at), n, how)
	}
	return nil
}

func same(a, b any) bool {
	x, ok := a.(float64)
	y, is := b.(float64)
	if ok && is {
		return math.Float64bits(x) == math.Float64bits(y)
	}
	return a == b
}

// known is a value of JSON as the type of its field has it: text, float64, bool, or an
// instant in ms since 1970.
func known(f field, v any) any {
	switch x := v.(type) {
	case json.Number:
		n, err := strconv.ParseFloat(x.String(), 64)
		if err != nil {
			fault("%v", err)
		}
		return n
	case string:
		return worded(f, x)
	}
	return v
}

// worded reads a text as the type of its field.
func worded(f field, s string) any {
	if s == "" {
		return nil
	}
	switch f.Type {
	case "number", "integer":
		n, err := strconv.ParseFloat(s, 64)
		if err != nil {
			fault("%v", err)
		}
		return n
	case "boolean":
		return s == "true" || s == "1"
	case "date", "datetime":
		for _, l := range []string{time.DateOnly, time.RFC3339Nano} {
			if at, err := time.Parse(l, s); err == nil {
				return at.UnixMilli()
			}
		}
		fault("%q is no time", s)
	}
	return s
}

func csvRows(name string, t table) (out [][]any, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	for _, line := range all[1:] {
		row := make([]any, len(line))
		for i, s := range line {
			row[i] = worded(t.Schema.Fields[i], s)
		}
		out = append(out, row)
	}
	return out, nil
}

func sheet(book *excelize.File, t table) (out [][]any, err error) {
	rows, err := book.Rows(t.Name)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for n := 0; rows.Next(); n++ {
		line, err := rows.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return nil, err
		}
		if n == 0 {
			for i, f := range t.Schema.Fields {
				if line[i] != f.Name {
					fault("%s: the heading is %q, want %q", t.Name, line[i], f.Name)
				}
			}
			continue
		}
		row := make([]any, len(t.Schema.Fields))
		for i, f := range t.Schema.Fields {
			if i >= len(line) || line[i] == "" {
				continue
			}
			if f.Type == "date" || f.Type == "datetime" {
				serial, err := strconv.ParseFloat(line[i], 64)
				if err != nil {
					return nil, fmt.Errorf("row %d, %s: %q is no serial number of a day", n, f.Name, line[i])
				}
				at, err := excelize.ExcelDateToTime(serial, false)
				if err != nil {
					return nil, err
				}
				row[i] = at.Round(time.Millisecond).UnixMilli()
				continue
			}
			row[i] = worded(f, line[i])
		}
		out = append(out, row)
	}
	return out, rows.Error()
}

func parquetRows(name string, t table) (out [][]any, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		return nil, err
	}
	for i, x := range p.Schema().Columns() {
		if x[0] != t.Schema.Fields[i].Name {
			fault("%s: the column is %q, want %q", t.Name, x[0], t.Schema.Fields[i].Name)
		}
	}
	for _, g := range p.RowGroups() {
		rows := g.Rows()
		buffer := make([]parquet.Row, 100)
		for {
			n, err := rows.ReadRows(buffer)
			for _, r := range buffer[:n] {
				row := make([]any, len(t.Schema.Fields))
				for _, v := range r {
					f := t.Schema.Fields[v.Column()]
					if v.IsNull() {
						continue
					}
					switch f.Type {
					case "number":
						row[v.Column()] = v.Double()
					case "integer":
						row[v.Column()] = float64(v.Int64())
					case "boolean":
						row[v.Column()] = v.Boolean()
					case "date":
						row[v.Column()] = int64(v.Int32()) * 86_400_000
					case "datetime":
						row[v.Column()] = v.Int64()
					default:
						row[v.Column()] = string(v.ByteArray())
					}
				}
				out = append(out, row)
			}
			if err == io.EOF {
				break
			}
			if err != nil {
				rows.Close()
				return nil, err
			}
		}
		rows.Close()
	}
	return out, nil
}
