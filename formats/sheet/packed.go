package sheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// A pack is the parts of a workbook, of which no more is unpacked than the bound.
type pack struct {
	files map[string]*zip.File
	left  int64
}

// errTooLarge is kept apart: what a decoder makes of it does not matter.
var errTooLarge = errors.New("too large")

func readPacked(raw []byte, opt Options) (*Book, error) {
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, &Error{Reason: fmt.Sprintf("the workbook cannot be unpacked (%v)", err), Do: "open it with a spreadsheet program and save it anew"}
	}
	p := &pack{files: map[string]*zip.File{}, left: opt.MaxUnpacked}
	for _, f := range z.File {
		if len(p.files) < 10_000 {
			p.files[strings.TrimPrefix(f.Name, "/")] = f
		}
	}
	var b *Book
	switch {
	case p.files["xl/workbook.xml"] != nil || p.files["_rels/.rels"] != nil:
		b, err = p.xlsx()
	case p.files["content.xml"] != nil:
		b, err = p.ods()
	default:
		return nil, &Error{Reason: "this is an archive, and no workbook", Do: "give the table itself: CSV, XLSX or ODS"}
	}
	var ours *Error
	switch {
	case errors.Is(err, errTooLarge):
		return nil, &Error{Reason: fmt.Sprintf("the workbook is larger than %d MiB when unpacked", opt.MaxUnpacked>>20), Do: "save the sheet alone, without pictures"}
	case err == nil || errors.As(err, &ours):
		return b, err
	}
	return nil, &Error{Reason: fmt.Sprintf("the workbook is damaged (%v)", err), Do: "open it with a spreadsheet program and save it anew"}
}

// A part is read no further than the bound of its pack.
type part struct {
	io.ReadCloser
	p *pack
}

// Read reads, and fails once too much was read.
func (r part) Read(to []byte) (int, error) {
	n, err := r.ReadCloser.Read(to)
	if r.p.left -= int64(n); r.p.left < 0 {
		return 0, errTooLarge
	}
	return n, err
}

var errNoPart = errors.New("a part is missing")

func (p *pack) open(name string) (io.ReadCloser, error) {
	f := p.files[name]
	if f == nil {
		return nil, fmt.Errorf("%w: %s", errNoPart, name)
	}
	in, err := f.Open()
	if err != nil {
		return nil, err
	}
	return part{in, p}, nil
}

// whole reads a small part into a struct.
func (p *pack) whole(name string, into any) error {
	in, err := p.open(name)
	if err != nil {
		return err
	}
	defer in.Close()
	return decoder(in).Decode(into)
}

// decoder reads XML in UTF-8 (also in UTF-16, which the standards allow, not: no program
// writes it).
func decoder(in io.Reader) *xml.Decoder { return xml.NewDecoder(in) }

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func yes(s string) bool { return s == "1" || s == "true" || s == "on" }
