package datapackage

import (
	"fmt"
	"io/fs"
	"time"

	"underlamp/formats/tables"
)

// Descriptor is the name of the file that describes a package.
const Descriptor = "datapackage.json"

// A Package is tables and files with what is to be known of them.
type Package struct {
	Name        string // lower case, digits, ., _ and -
	Title       string
	Description string // plain words
	Version     string // of the content; empty: not said
	Created     time.Time
	Licence     *Licence // nil: none was given
	People      []Person // as they were given, none invented
	Sources     []Source
	Keywords    []string
	About       string    // README.md; written as it is
	Citation    string    // CITATION.cff; written as it is, empty: none
	Made        *Made     // by which program; nil: not known
	Missing     []Missing // what somebody who reads it would want and does not have

	Tables []*tables.Table
	Files  []File

	Dir fs.FS // of what was read: everything that lies in the package; nil for one to write
}

// A Licence says what others may do.
type Licence struct {
	Name  string `json:"name"` // by SPDX: "CC-BY-4.0"
	Path  string `json:"path,omitempty"`
	Title string `json:"title,omitempty"`
}

// A Person made the data, or helped.
type Person struct {
	Title        string `json:"title"` // the name
	Email        string `json:"email,omitempty"`
	Path         string `json:"path,omitempty"` // a page, or an ORCID
	Role         string `json:"role,omitempty"` // author, publisher, maintainer, wrangler, contributor
	Organization string `json:"organization,omitempty"`
}

// A Source is where data came from.
type Source struct {
	Title string `json:"title"`
	Path  string `json:"path,omitempty"`
	Email string `json:"email,omitempty"`
}

// Made says which program wrote a package.
type Made struct {
	Program string `json:"program"`
	Version string `json:"version"`
	Kind    string `json:"kind"`           // of what the package is: "trial", "bench"
	Begin   string `json:"file,omitempty"` // the file in the package to begin with
	Seed    string `json:"seed,omitempty"` // of the randomisation, in digits: JSON numbers lose some
}

// Missing is something that is not in a package, and how to give it.
type Missing struct {
	What string `json:"what"`
	How  string `json:"how"`
}

// A File is something of a package that is no table.
type File struct {
	Path  string // within the package, with /
	Title string
	About string
	Media string // "application/json"; empty: not said

	Data []byte // to write; of what was read see [File.Read]
	dir  fs.FS
}

// Read is the content.
func (f *File) Read() ([]byte, error) {
	if f.dir == nil {
		return f.Data, nil
	}
	return readFile(f.dir, f.Path, Limits.File)
}

// Table is the table of a name; nil if there is none.
func (p *Package) Table(name string) *tables.Table {
	for _, t := range p.Tables {
		if t.Name == name {
			return t
		}
	}
	return nil
}

// File is the file of a path; nil if there is none.
func (p *Package) File(path string) *File {
	for i := range p.Files {
		if p.Files[i].Path == path {
			return &p.Files[i]
		}
	}
	return nil
}

// A PlaceError says what is wrong where in a package.
type PlaceError struct {
	File   string
	Line   int    // from 1; 0: the file as a whole
	Column string // its heading, or the path of a property; may be empty
	Reason string
}

// Error is the fault with its place.
func (e *PlaceError) Error() string {
	s := e.File
	if e.Line > 0 {
		s += fmt.Sprintf(", line %d", e.Line)
	}
	if e.Column != "" {
		s += fmt.Sprintf(", column %q", e.Column)
	}
	return s + ": " + e.Reason
}
