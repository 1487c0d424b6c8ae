package datapackage

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"path"
	"regexp"
	"strings"
	"time"

	"underlamp/formats/tables"
)

var packageName = regexp.MustCompile(`^[a-z0-9._-]+$`)

// Name makes a name for a package of what a person calls a thing.
func Name(s string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(s) {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '.' || c == '_':
			b.WriteRune(c)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	if s := strings.Trim(b.String(), "-."); s != "" {
		return s
	}
	return "package"
}

// counted hears how many bytes went by, and their hash.
type counted struct {
	w io.Writer
	n int64
	h hash.Hash
}

func (c *counted) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	c.h.Write(p[:n])
	return n, err
}

// Write writes a package: tables first, row by row, then files, words, and the descriptor
// last. Names of tables and paths of files must be their own; that they are not is an error.
func Write(to Folder, p *Package) error {
	d, err := p.descriptor()
	if err != nil {
		return err
	}
	put := func(name string, r *resource, fill func(w io.Writer) error) error {
		w, err := to.Create(name)
		if err != nil {
			return err
		}
		c := &counted{w, 0, sha256.New()}
		b := bufio.NewWriterSize(c, 1<<16)
		if err := fill(b); err != nil {
			return err
		}
		if err := b.Flush(); err != nil {
			return err
		}
		if r != nil {
			r.Bytes, r.Hash = &c.n, "sha256:"+hex.EncodeToString(c.h.Sum(nil))
			d.Resources = append(d.Resources, *r)
		}
		return nil
	}
	for _, t := range p.Tables {
		r, err := tableResource(t)
		if err != nil {
			return err
		}
		r.Path = oneOrMore{"data/" + t.Name + ".csv"}
		r.Format, r.Media, r.Encoding = "csv", "text/csv", "utf-8"
		if err := put(r.Path[0], r, t.WriteCSV); err != nil {
			return err
		}
	}
	taken := map[string]bool{}
	for i := range p.Files {
		f := &p.Files[i]
		r, err := fileResource(f, taken)
		if err != nil {
			return err
		}
		data, err := f.Read()
		if err != nil {
			return err
		}
		if err := put(f.Path, r, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
			return err
		}
	}
	for _, x := range []struct{ name, text string }{{"README.md", p.About}, {"CITATION.cff", p.Citation}} {
		if x.text != "" {
			if err := put(x.name, nil, func(w io.Writer) error { _, err := io.WriteString(w, x.text); return err }); err != nil {
				return err
			}
		}
	}
	text, err := indented(d)
	if err != nil {
		return err
	}
	return put(Descriptor, nil, func(w io.Writer) error { _, err := w.Write(text); return err })
}

func indented(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(v)
	return b.Bytes(), err
}

// WriteJSON writes the tables as one JSON file: the descriptor with the rows of each table
// under "data". It is a package too, and [Read] reads it. Files are left out.
func WriteJSON(w io.Writer, p *Package) error {
	d, err := p.descriptor()
	if err != nil {
		return err
	}
	d.Resources = []resource{}
	head, err := indented(d)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<16)
	at := bytes.LastIndex(head, []byte("[]"))
	b.Write(head[:at])
	b.WriteString("[")
	for i, t := range p.Tables {
		r, err := tableResource(t)
		if err != nil {
			return err
		}
		raw, err := indented(r)
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		b.Write(bytes.TrimSuffix(raw, []byte("\n}\n"))) // the rows come last in the object
		b.WriteString(",\n  \"data\": ")
		if err := t.WriteRows(b); err != nil {
			return err
		}
		b.WriteString("}")
	}
	b.WriteString("\n  ]")
	b.Write(head[at+2:])
	return b.Flush()
}

func (p *Package) descriptor() (*descriptor, error) {
	if !packageName.MatchString(p.Name) {
		return nil, fmt.Errorf("datapackage: %q is no name of a package", p.Name)
	}
	d := &descriptor{Profile: "data-package", Name: p.Name, Title: p.Title, Description: p.Description, Version: p.Version, Keywords: p.Keywords, Contributors: p.People, Sources: p.Sources, Made: p.Made, Missing: p.Missing}
	if !p.Created.IsZero() {
		d.Created = p.Created.UTC().Format(time.RFC3339)
	}
	if p.Licence != nil {
		d.Licences = []Licence{*p.Licence}
	}
	seen := map[string]bool{}
	for _, t := range p.Tables {
		if seen[t.Name] {
			return nil, fmt.Errorf("datapackage: there are two tables %q", t.Name)
		}
		seen[t.Name] = true
	}
	for _, t := range p.Tables {
		for _, r := range t.Refs {
			if r.Table != "" && !seen[r.Table] {
				return nil, fmt.Errorf("datapackage: the table %q refers to %q, which is not in the package", t.Name, r.Table)
			}
		}
	}
	return d, nil
}

func tableResource(t *tables.Table) (*resource, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	s, err := json.Marshal(schemaOf(t))
	if err != nil {
		return nil, err
	}
	return &resource{Profile: "tabular-data-resource", Name: t.Name, Title: t.Title, Description: t.About, Schema: s}, nil
}

func fileResource(f *File, taken map[string]bool) (*resource, error) {
	if !plainPath(f.Path) || f.Path == Descriptor || f.Path == "README.md" || f.Path == "CITATION.cff" || strings.HasPrefix(f.Path, "data/") {
		return nil, fmt.Errorf("datapackage: %q is no path for a file of a package", f.Path)
	}
	if taken[strings.ToLower(f.Path)] {
		return nil, fmt.Errorf("datapackage: there are two files %q", f.Path)
	}
	taken[strings.ToLower(f.Path)] = true
	name := Name(strings.ReplaceAll(f.Path, "/", "_"))
	for i := 2; taken["name "+name]; i++ {
		name = fmt.Sprintf("%s-%d", name, i)
	}
	taken["name "+name] = true
	return &resource{Profile: "data-resource", Name: "file-" + name, Path: oneOrMore{f.Path}, Title: f.Title, Description: f.About, Format: strings.TrimPrefix(path.Ext(f.Path), "."), Media: f.Media}, nil
}
