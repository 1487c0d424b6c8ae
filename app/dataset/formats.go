package dataset

import (
	"archive/zip"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"underlamp/formats/datapackage"
	"underlamp/formats/parquetfile"
	"underlamp/formats/tables"
	"underlamp/formats/workbook"
)

// A Format is how tables leave.
type Format string

// The formats. All are written from the same tables.
const (
	FormatPackage Format = "package" // zip of tables, files and their description
	FormatXLSX    Format = "xlsx"    // a workbook
	FormatParquet Format = "parquet" // a zip of one file a table, or one of them
	FormatJSON    Format = "json"    // description with rows inside
	FormatCSV     Format = "csv"     // a zip of one file a table, or one of them
)

// Formats lists them.
func Formats() []Format {
	return []Format{FormatPackage, FormatXLSX, FormatParquet, FormatJSON, FormatCSV}
}

// Ending is the ending of a file of a format; of one table alone, or of all.
func (f Format) Ending(one bool) string {
	switch {
	case f == FormatXLSX:
		return ".xlsx"
	case f == FormatJSON:
		return ".json"
	case one && f == FormatParquet:
		return ".parquet"
	case one && f == FormatCSV:
		return ".csv"
	}
	return ".zip"
}

// Media is the type of such a file.
func (f Format) Media(one bool) string {
	switch f.Ending(one) {
	case ".xlsx":
		return "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	case ".json":
		return "application/json"
	case ".parquet":
		return "application/vnd.apache.parquet"
	case ".csv":
		return "text/csv; charset=utf-8"
	}
	return "application/zip"
}

// Write writes a package in a format. only names one table; empty: all. Files are in the
// package alone.
func Write(w io.Writer, p *datapackage.Package, f Format, only string) error {
	chosen := p.Tables
	if only != "" {
		t := p.Table(only)
		if t == nil {
			var names []string
			for _, t := range p.Tables {
				names = append(names, t.Name)
			}
			return &NoTableError{only, names}
		}
		chosen = []*tables.Table{t}
	}
	switch f {
	case FormatPackage:
		if only != "" {
			return fmt.Errorf("a package holds all tables; --table goes with csv, parquet, xlsx and json")
		}
		z := datapackage.NewZip(w, p.Created)
		if err := datapackage.Write(z, p); err != nil {
			return err
		}
		return z.Close()
	case FormatXLSX:
		return workbook.Write(w, workbook.Book{Title: p.Title, Created: p.Created, About: aboutRows(p), Tables: chosen, Fields: true})
	case FormatJSON:
		part := *p
		part.Tables = slices.Clone(chosen)
		if only != "" { // what it refers to is not there
			t := *chosen[0]
			t.Refs = nil
			part.Tables = []*tables.Table{&t}
		}
		return datapackage.WriteJSON(w, &part)
	case FormatCSV:
		return each(w, p, chosen, only, ".csv", func(w io.Writer, t *tables.Table) error { return t.WriteCSV(w) })
	case FormatParquet:
		by := p.Made.Program + " version " + p.Made.Version
		return each(w, p, chosen, only, ".parquet", func(w io.Writer, t *tables.Table) error {
			s, err := datapackage.SchemaJSON(t)
			if err != nil {
				return err
			}
			return parquetfile.Write(w, t, by, parquetfile.Pair{Key: "datapackage.schema", Value: string(s)})
		})
	}
	return fmt.Errorf("%q is no format; there are package, xlsx, parquet, json and csv", f)
}

// A NoTableError says that a package has no table of a name.
type NoTableError struct {
	Name string
	Has  []string
}

// Error names the tables that there are.
func (e *NoTableError) Error() string {
	return fmt.Sprintf("there is no table %q; there are %s", e.Name, strings.Join(e.Has, ", "))
}

// each writes one table, or a zip file of all.
func each(w io.Writer, p *datapackage.Package, chosen []*tables.Table, only, ending string, write func(w io.Writer, t *tables.Table) error) error {
	if only != "" {
		return write(w, chosen[0])
	}
	z := zip.NewWriter(w)
	for _, t := range chosen {
		part, err := z.CreateHeader(&zip.FileHeader{Name: t.Name + ending, Method: zip.Deflate, Modified: p.Created.UTC().Truncate(2 * time.Second)})
		if err != nil {
			return err
		}
		if err := write(part, t); err != nil {
			return err
		}
	}
	return z.Close()
}

func aboutRows(p *datapackage.Package) (rows [][2]string) {
	add := func(what, text string) {
		if text != "" {
			rows = append(rows, [2]string{what, text})
		}
	}
	add("description", p.Description)
	add("created", p.Created.UTC().Format(time.RFC3339))
	add("version of the data", p.Version)
	if p.Licence != nil {
		add("licence", strings.TrimSpace(p.Licence.Name+" "+p.Licence.Path))
	}
	for _, x := range p.People {
		add(x.Role, strings.Join(filled(x.Title, x.Organization, x.Path), ", "))
	}
	for _, x := range p.Sources {
		add("source", strings.Join(filled(x.Title, x.Path), ", "))
	}
	add("made with", p.Made.Program+" "+p.Made.Version)
	add("seed of the randomisation", p.Made.Seed)
	for _, t := range p.Tables {
		add("sheet "+t.Name, t.About)
	}
	for _, m := range p.Missing {
		add("not given", m.What+" "+m.How)
	}
	return rows
}
