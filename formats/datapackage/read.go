package datapackage

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/formats/tables"
)

// Read reads what a folder holds as a package: the descriptor, and how its tables and files
// are read. Rows are read when they are asked for; [Package.Verify] reads all of them.
// Faults are [*PlaceError], joined.
func Read(dir fs.FS) (*Package, error) {
	text, err := readFile(dir, Descriptor, 16<<20)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no %s, so this is no data package; the file lies in the folder itself or in the only folder of the zip file", Descriptor)
	}
	if err != nil {
		return nil, err
	}
	return read(text, dir)
}

// ReadJSON reads a package whose tables stand in the descriptor, as [WriteJSON] writes it.
func ReadJSON(text []byte) (*Package, error) {
	if int64(len(text)) > Limits.File {
		return nil, fmt.Errorf("the package is larger than %d MiB", Limits.File>>20)
	}
	return read(text, noFiles{})
}

// noFiles is the folder of a package that is one file.
type noFiles struct{}

func (noFiles) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

type faults []error

func (f *faults) add(where, format string, a ...any) {
	if len(*f) < 50 {
		*f = append(*f, &PlaceError{File: Descriptor, Column: where, Reason: fmt.Sprintf(format, a...)})
	}
}

func read(text []byte, dir fs.FS) (*Package, error) {
	text = bytes.TrimPrefix(text, []byte("\uFEFF"))
	var d descriptor
	if err := json.Unmarshal(text, &d); err != nil {
		return nil, placed(text, err)
	}
	var bad faults
	p := &Package{Name: d.Name, Title: d.Title, Description: d.Description, Version: d.Version, Keywords: d.Keywords, People: d.Contributors, Sources: d.Sources, Made: d.Made, Missing: d.Missing, Dir: dir}
	if len(d.Licences) > 0 {
		p.Licence = &d.Licences[0]
	}
	if d.Created != "" {
		at, err := time.Parse(time.RFC3339, d.Created)
		if err != nil {
			if at, err = time.Parse(time.DateOnly, d.Created); err != nil {
				bad.add("created", "%q is no time such as 2026-10-01T08:00:00Z", shortened(d.Created))
			}
		}
		p.Created = at.UTC()
	}
	if len(d.Resources) == 0 {
		bad.add("resources", "the package lists no tables and no files")
	}
	if len(d.Resources) > Limits.Resources {
		bad.add("resources", "there are more than %d", Limits.Resources)
		return nil, errors.Join(bad...)
	}
	names := map[string]bool{}
	for i := range d.Resources {
		p.resource(&d.Resources[i], fmt.Sprintf("resources[%d]", i), names, &bad)
	}
	for _, name := range []string{"README.md", "CITATION.cff"} {
		if raw, err := readFile(dir, name, 1<<20); err == nil {
			if name == "README.md" {
				p.About = string(raw)
			} else {
				p.Citation = string(raw)
			}
		}
	}
	if len(bad) > 0 {
		return nil, errors.Join(bad...)
	}
	return p, nil
}

// placed tells where in the descriptor JSON is wrong.
func placed(text []byte, err error) error {
	at := int64(0)
	where := ""
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		at = syntax.Offset
	case errors.As(err, &kind):
		at, where = kind.Offset, kind.Field
	}
	line := 1 + bytes.Count(text[:min(int(at), len(text))], []byte("\n"))
	return &PlaceError{File: Descriptor, Line: line, Column: where, Reason: "it cannot be read: " + strings.TrimPrefix(err.Error(), "json: ")}
}

func (p *Package) resource(r *resource, at string, names map[string]bool, bad *faults) {
	switch {
	case r.Name == "":
		bad.add(at+".name", "the resource has no name")
	case names[r.Name]:
		bad.add(at+".name", "another resource is called %q too", shortened(r.Name))
	}
	names[r.Name] = true
	if len(r.Path) > 0 && r.Data != nil {
		bad.add(at, "%q has both a path and data", shortened(r.Name))
		return
	}
	if len(r.Path) > 1 {
		bad.add(at+".path", "%q lies in %d files; one file for one table is read here", shortened(r.Name), len(r.Path))
		return
	}
	if len(r.Path) == 0 && r.Data == nil {
		bad.add(at, "%q has neither a path nor data", shortened(r.Name))
		return
	}
	if len(r.Path) == 1 {
		if name := r.Path[0]; strings.Contains(name, "://") {
			bad.add(at+".path", "%q lies in the network; nothing is fetched, put the file into the package", shortened(name))
			return
		} else if !plainPath(name) {
			bad.add(at+".path", "%q leads out of the package", shortened(name))
			return
		}
		info, err := fs.Stat(p.Dir, r.Path[0])
		if err != nil || info.IsDir() {
			bad.add(at+".path", "there is no file %q in the package", shortened(r.Path[0]))
			return
		}
	}
	tabular := r.Profile == "tabular-data-resource" || r.Schema != nil
	if !tabular {
		if len(r.Path) == 1 {
			p.Files = append(p.Files, File{Path: r.Path[0], Title: r.Title, About: r.Description, Media: r.Media, dir: p.Dir})
		}
		return
	}
	if t := p.readTable(r, at, bad); t != nil {
		p.Tables = append(p.Tables, t)
	}
}

// readTable makes a table of a resource; nil if it has faults.
func (p *Package) readTable(r *resource, at string, bad *faults) *tables.Table {
	was := len(*bad)
	raw := r.Schema
	var elsewhere string
	if json.Unmarshal(raw, &elsewhere) == nil && elsewhere != "" {
		if !plainPath(elsewhere) {
			bad.add(at+".schema", "%q is no file of the package", shortened(elsewhere))
			return nil
		}
		var err error
		if raw, err = readFile(p.Dir, elsewhere, 4<<20); err != nil {
			bad.add(at+".schema", "the schema cannot be read: %v", err)
			return nil
		}
	}
	if raw == nil {
		bad.add(at+".schema", "the table %q has no schema that says what its columns are", shortened(r.Name))
		return nil
	}
	var s schema
	if err := json.Unmarshal(raw, &s); err != nil {
		bad.add(at+".schema", "it cannot be read: %v", err)
		return nil
	}
	if len(s.Fields) == 0 || len(s.Fields) > Limits.Columns {
		bad.add(at+".schema.fields", "there are %d columns; from 1 to %d are read", len(s.Fields), Limits.Columns)
		return nil
	}
	t := &tables.Table{Name: r.Name, Title: r.Title, About: r.Description, Key: s.PrimaryKey}
	src := &source{table: t, missing: s.Missing, encoding: r.Encoding, dir: p.Dir, data: r.Data, comma: ',', quote: '"', header: true}
	if src.missing == nil {
		src.missing = []string{""}
	}
	src.file = r.Name
	if len(r.Path) == 1 {
		src.file = r.Path[0]
	}
	if e := strings.ToLower(r.Encoding); e != "" && e != "utf-8" && e != "utf8" && e != "ascii" {
		bad.add(at+".encoding", "%q is not read here; save the table in UTF-8", shortened(r.Encoding))
	}
	if r.Format != "" && r.Format != "csv" && r.Format != "tsv" && r.Data == nil {
		bad.add(at+".format", "tables in %q are not read here; save the table as CSV", shortened(r.Format))
	}
	if r.Format == "tsv" {
		src.comma = '\t'
	}
	src.dialect(r.Dialect, at, bad)
	seen := map[string]bool{}
	for i, f := range s.Fields {
		where := fmt.Sprintf("%s.schema.fields[%d]", at, i)
		if f.Name == "" || seen[f.Name] || len(f.Name) > 200 {
			bad.add(where+".name", "%q is no name of its own for a column", shortened(f.Name))
		}
		seen[f.Name] = true
		c, how := columnOf(f, where, bad)
		t.Columns, src.how = append(t.Columns, c), append(src.how, how)
	}
	for _, k := range t.Key {
		if !seen[k] {
			bad.add(at+".schema.primaryKey", "there is no column %q", shortened(k))
		}
	}
	for i, k := range s.ForeignKeys {
		where := fmt.Sprintf("%s.schema.foreignKeys[%d]", at, i)
		if len(k.Fields) == 0 || len(k.Fields) != len(k.Reference.Fields) {
			bad.add(where, "it names %d columns here and %d there", len(k.Fields), len(k.Reference.Fields))
			continue
		}
		if j := slices.IndexFunc(k.Fields, func(f string) bool { return !seen[f] }); j >= 0 {
			bad.add(where, "there is no column %q", shortened(k.Fields[j]))
			continue
		}
		t.Refs = append(t.Refs, tables.Reference{Columns: k.Fields, Table: k.Reference.Resource, Their: k.Reference.Fields})
	}
	if len(*bad) > was {
		return nil
	}
	t.Rows = src.rows
	return t
}

func columnOf(f field, where string, bad *faults) (tables.Column, reading) {
	c := tables.Column{Name: f.Name, Title: f.Title, Unit: f.Unit, About: f.Description}
	how := reading{decimal: f.Decimal, group: f.Group, bare: f.Bare == nil || *f.Bare, yes: f.True, no: f.False, format: f.Format}
	switch f.Type {
	case "number", "integer", "boolean", "date", "datetime":
		c.Kind = tables.Kind(f.Type)
	case "year":
		c.Kind = tables.Whole
	default: // string, any, time, duration, list, object, geopoint …: as it stands
		c.Kind = tables.Text
	}
	if (c.Kind == tables.Date || c.Kind == tables.Time) && how.format != "" && how.format != "default" && how.format != "any" {
		bad.add(where+".format", "dates written %q are not read here; write 2026-10-01 or 2026-10-01T08:00:00Z", shortened(f.Format))
	}
	if len(how.decimal) > 1 || len(how.group) > 1 {
		bad.add(where, "decimalChar and groupChar are one character each")
	}
	k := f.Constraints
	if k == nil {
		return c, how
	}
	c.Required, c.Unique = k.Required, k.Unique
	if c.Kind == tables.Number || c.Kind == tables.Whole {
		c.Min, c.Max = limit(k.Min, where+".constraints.minimum", bad), limit(k.Max, where+".constraints.maximum", bad)
	}
	if c.Kind == tables.Text {
		for _, e := range k.Enum {
			s, ok := e.(string)
			if !ok {
				bad.add(where+".constraints.enum", "%v is no text", e)
				continue
			}
			c.Enum = append(c.Enum, s)
		}
	}
	return c, how
}

// limit reads a number, or a text of one.
func limit(raw json.RawMessage, where string, bad *faults) *float64 {
	if raw == nil || string(raw) == "null" {
		return nil
	}
	x, err := strconv.ParseFloat(strings.Trim(string(raw), `"`), 64)
	if err != nil {
		bad.add(where, "%s is no number", shortened(string(raw)))
		return nil
	}
	return &x
}
