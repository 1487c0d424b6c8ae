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
	"underlamp/app/round"
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
	Entries     int      // of rounds, that would be kept
	SameEntries int
	Notes       []string

	files   []PackageFile
	folder  fs.FS
	entries []round.Entry
}

// Ready says that there is something to keep and nothing in the way.
func (d *PackageDraft) Ready() bool {
	return len(d.New)+d.Entries > 0 && len(d.Conflicts) == 0
}

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
func (o *Office) LookPackage(ctx context.Context, file string, raw []byte) (*PackageDraft, error) {
	return o.lookPackage(ctx, file, raw, "im0000000000")
}

func (o *Office) lookPackage(ctx context.Context, file string, raw []byte, id string) (*PackageDraft, error) {
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
	if d.Kind == dataset.KindBench {
		entries, err := dataset.RoundsOf(p, key(d.Begin))
		if err == nil {
			err = d.rounds(ctx, o, entries, id)
		}
		if err != nil {
			return nil, err
		}
	}
	return d, nil
}

// rounds says which entries of the rounds are new. They get ids of the import, so that it can be
// taken back and in again; those that are there, by their ids or word for word, stand for themselves.
// Pictures are not in packages, so that entries of photos stay out.
func (d *PackageDraft) rounds(ctx context.Context, o *Office, all []round.Entry, id string) error {
	if len(all) == 0 {
		return nil
	}
	if o.Seen == nil {
		d.Notes = append(d.Notes, fmt.Sprintf("What was seen on rounds (%d entries) is kept in a store, and there is none here (--store names one): it stays out.", len(all)))
		return nil
	}
	known, err := o.known(ctx, key(d.Begin))
	if err != nil {
		return err
	}
	words := func(e *round.Entry) string { // all but names, which may have been left out
		return fmt.Sprintf("%q %q %d %d %q %q %q %t", e.Plant, e.What, e.At.UnixMicro(), e.Recorded.UnixMicro(), e.Typed, e.Missing, e.Note, e.Struck)
	}
	ids, same := map[string]string{}, map[string]string{}
	for i := range known {
		ids[known[i].ID], same[words(&known[i])] = words(&known[i]), known[i].ID
	}
	is := map[string]string{} // what an entry of the package is called here
	photos := 0
	for i := range all {
		e := &all[i]
		switch there, w := same[words(e)], words(e); {
		case ids[e.ID] == w:
			is[e.ID] = e.ID
		case there != "":
			is[e.ID] = there
		case e.What == round.Photo:
			photos++
			continue
		default:
			is[e.ID] = fmt.Sprintf("%s-%d", id, len(d.entries)+1)
			d.entries = append(d.entries, *e)
			continue
		}
		d.SameEntries++
	}
	kept := d.entries[:0]
	for _, e := range d.entries {
		was := e.Corrects
		e.ID, e.Corrects, e.Photo = is[e.ID], is[was], ""
		if e.Struck && e.Corrects == "" {
			continue // what it struck is not here
		}
		var beside []string
		for _, x := range e.Beside {
			if is[x] != "" {
				beside = append(beside, is[x])
			}
		}
		e.Beside = beside
		if err := e.Check(); err != nil {
			return fmt.Errorf("the entry %q of the rounds: %w", e.ID, err)
		}
		kept = append(kept, e)
	}
	d.entries, d.Entries = kept, len(kept)
	if photos > 0 {
		d.Notes = append(d.Notes, fmt.Sprintf("Entries of photos stay out, for packages hold no pictures: %d.", photos))
	}
	return nil
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
	id := newImport(raw)
	d, err := o.lookPackage(ctx, file, raw, id)
	switch {
	case err != nil:
		return nil, nil, err
	case len(d.Conflicts) > 0:
		return d, nil, fmt.Errorf("%w: files of the package are there with another content: %s; take it into an empty folder", ErrNotReady, strings.Join(d.Conflicts, ", "))
	case !d.Ready():
		return d, nil, nil
	case o.Add == nil || o.Drop == nil:
		return d, nil, fmt.Errorf("%w: files cannot be written here", ErrNotReady)
	}
	past, err := o.Records()
	if err != nil {
		return d, nil, err
	}
	r := Record{ID: id, At: o.Now().UTC().Truncate(time.Second), By: strings.TrimSpace(by), File: file, Hash: d.Hash, Into: d.Begin, Said: Said{Kind: Package}, Rows: len(d.New) + len(d.Same), New: len(d.New), Entries: d.Entries}
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
	if err == nil && len(d.entries) > 0 {
		err = round.Put(ctx, o.Seen, d.entries)
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

// undoPackage strikes the entries of rounds that a package brought, and takes its files away that
// are as they came.
func (o *Office) undoPackage(ctx context.Context, r *Record, u *Undone) error {
	if o.Drop == nil {
		return errors.New("files cannot be taken away here")
	}
	if r.Entries > 0 {
		if err := o.undoSeen(ctx, r, key(r.Into), u); err != nil {
			return err
		}
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
