package notes

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/dataset"
	"underlamp/formats/datapackage"
	"underlamp/formats/trialtable"
)

// Package is the kind of a data package, a zip file of what a trial or a bench is.
const Package Kind = "package"

// A PackageFile is a file that a package holds.
type PackageFile struct {
	Name string
	Size int
	hash string
}

// A PackageDraft is what taking a package in would do.
type PackageDraft struct {
	File, Hash  string
	Title, Kind string
	Begin       string   // the file to begin with
	New         []string // names of files
	Same        []string
	Conflicts   []string // files that are there with another content
	Notes       []string

	files  []PackageFile
	folder fs.FS
}

// Ready says that there is something to keep and nothing in the way.
func (d *PackageDraft) Ready() bool { return len(d.New) > 0 && len(d.Conflicts) == 0 }

// IsPackage says that a file is a zip file with a data package in it.
func IsPackage(raw []byte) bool {
	if !bytes.HasPrefix(raw, []byte("PK\x03\x04")) {
		return false
	}
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	return err == nil && slices.ContainsFunc(z.File, func(f *zip.File) bool {
		return f.Name == datapackage.Descriptor || strings.HasSuffix(f.Name, "/"+datapackage.Descriptor) && strings.Count(f.Name, "/") == 1
	})
}

// LookPackage says what taking a package in would do; nothing is written. A package that is
// not as its own description says is refused, with the place of each fault.
func (o *Office) LookPackage(file string, raw []byte) (*PackageDraft, error) {
	dir, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, err
	}
	p, err := datapackage.Read(dir)
	if err != nil {
		return nil, err
	}
	if err := p.Verify(); err != nil {
		return nil, fmt.Errorf("the package is not as it describes itself: %w", err)
	}
	u, err := dataset.Folder(p)
	if err != nil {
		return nil, err
	}
	d := &PackageDraft{File: file, Hash: hashOf(raw), Title: p.Title, Kind: u.Kind, Begin: u.Begin, Notes: u.Notes, folder: u.Folder}
	err = fs.WalkDir(u.Folder, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if name == File || strings.HasPrefix(name, ".") || strings.Contains(name, "/.") {
			return nil
		}
		text, err := readFile(u.Folder, name)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		is, err := readFile(o.Place, name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			d.New = append(d.New, name)
			d.files = append(d.files, PackageFile{name, len(text), hashOf(text)})
		case err != nil:
			return err
		case bytes.Equal(is, text) || sameTable(is, text):
			d.Same = append(d.Same, name)
		default:
			d.Conflicts = append(d.Conflicts, name)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// sameTable says that two texts are tables of a trial with the same entries, however each is
// written: that of a package is written anew from its observations.
func sameTable(a, b []byte) bool {
	x, err1 := trialtable.Read(a)
	y, err2 := trialtable.Read(b)
	return err1 == nil && err2 == nil && slices.EqualFunc(x, y, func(p, q underlamp.TrialEntry) bool {
		p.Line, q.Line = 0, 0
		return p == q
	})
}

// packed are some files of a folder, as a folder.
func packed(from fs.FS, names []string) (fs.FS, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range names {
		text, err := readFile(from, name)
		if err != nil {
			return nil, err
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err == nil {
			_, err = w.Write(text)
		}
		if err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
}

// TakePackage takes in what [Office.LookPackage] shows, all or nothing, and records it. The
// record is nil if everything is there already.
func (o *Office) TakePackage(ctx context.Context, file string, raw []byte, by string) (*PackageDraft, *Record, error) {
	d, err := o.LookPackage(file, raw)
	switch {
	case err != nil:
		return nil, nil, err
	case len(d.Conflicts) > 0:
		return d, nil, fmt.Errorf("%w: files of the package are there with another content: %s; take it into an empty folder", ErrNotReady, strings.Join(d.Conflicts, ", "))
	case len(d.New) == 0:
		return d, nil, nil
	case o.Add == nil || o.Drop == nil:
		return d, nil, fmt.Errorf("%w: files cannot be written here", ErrNotReady)
	}
	past, err := o.Records()
	if err != nil {
		return d, nil, err
	}
	r := Record{ID: newImport(raw), At: o.Now().UTC().Truncate(time.Second), By: strings.TrimSpace(by), File: file, Hash: d.Hash, Into: d.Begin, Said: Said{Kind: Package}, Rows: len(d.New) + len(d.Same), New: len(d.New)}
	for _, f := range d.files {
		r.Cycles = append(r.Cycles, CycleFile{Name: f.Name, Hash: f.hash})
	}
	from, err := packed(d.folder, d.New)
	if err == nil {
		err = o.begin(r, len(past))
	}
	if err != nil {
		return d, nil, err
	}
	names, err := o.Add(ctx, from, by)
	if err == nil && len(names) < len(d.New) {
		err = errors.New("somebody has written files of these names meanwhile; look again")
	}
	if err != nil {
		if part, perr := packed(d.folder, names); perr == nil && len(names) > 0 {
			_, perr = o.Drop(ctx, part, by)
			err = errors.Join(err, perr)
		}
		return d, nil, errors.Join(fmt.Errorf("%w: %w", ErrNotReady, err), o.forget(r.ID))
	}
	r.Done = true
	return d, &r, o.finish(r.ID)
}

// undoPackage takes the files of a package away that are as they came.
func (o *Office) undoPackage(ctx context.Context, r *Record, u *Undone) error {
	if o.Drop == nil {
		return errors.New("files cannot be taken away here")
	}
	var names []string
	for _, f := range r.Cycles {
		switch is, err := readFile(o.Place, f.Name); {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		case hashOf(is) != f.Hash:
			u.Told = append(u.Told, f.Name+" was changed since, and stays")
		default:
			names = append(names, f.Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	from, err := packed(o.Place, names)
	if err != nil {
		return err
	}
	stay, err := o.Drop(ctx, from, u.By)
	for _, name := range stay {
		u.Told = append(u.Told, name+" was changed since, and stays")
	}
	return err
}
