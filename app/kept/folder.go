package kept

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"underlamp/store"
)

// Folder shows the benches of a store, as they are now, and the files beside them, as a
// folder: a bench is NAME.yaml. Its calls ask the store with ctx.
func Folder(ctx context.Context, s Store, now func() time.Time) fs.FS {
	return &shown{ctx: ctx, s: s, now: now}
}

type shown struct {
	ctx context.Context
	s   Store
	now func() time.Time
}

// An entry is a file or folder; it is its own [fs.DirEntry] and [fs.FileInfo].
type entry struct {
	name    string // path in the folder
	size    int64
	changed time.Time
	dir     bool
}

func (e entry) Name() string               { return path.Base(e.name) }
func (e entry) IsDir() bool                { return e.dir }
func (e entry) Type() fs.FileMode          { return e.Mode().Type() }
func (e entry) Info() (fs.FileInfo, error) { return e, nil }
func (e entry) Size() int64                { return e.size }
func (e entry) ModTime() time.Time         { return e.changed }
func (e entry) Sys() any                   { return nil }

func (e entry) Mode() fs.FileMode {
	if e.dir {
		return fs.ModeDir | 0o555
	}
	return 0o444
}

type file struct {
	entry
	*bytes.Reader
}

func (f *file) Stat() (fs.FileInfo, error) { return f.entry, nil }
func (f *file) Close() error               { return nil }
func (f *file) Size() int64                { return f.entry.size }

type opened struct {
	entry
	list []fs.DirEntry
}

func (o *opened) Stat() (fs.FileInfo, error) { return o.entry, nil }
func (o *opened) Close() error               { return nil }
func (o *opened) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: o.name, Err: errors.New("is a folder")}
}

func (o *opened) ReadDir(n int) ([]fs.DirEntry, error) {
	if n <= 0 {
		out := o.list
		o.list = nil
		return out, nil
	}
	if len(o.list) == 0 {
		return nil, io.EOF
	}
	n = min(n, len(o.list))
	out := o.list[:n]
	o.list = o.list[n:]
	return out, nil
}

// all are all files, by name.
func (f *shown) all() ([]entry, error) {
	names, err := f.s.Benches(f.ctx)
	if err != nil {
		return nil, err
	}
	var out []entry
	for _, name := range names {
		v, err := f.s.Bench(f.ctx, name, store.At(f.now()))
		if errors.Is(err, store.ErrNotFound) || err == nil && len(v.Text) == 0 {
			continue // not yet, or removed
		} else if err != nil {
			return nil, err
		}
		out = append(out, benchEntry(v))
	}
	docs, err := f.s.Documents(f.ctx, KindFile)
	if err != nil {
		return nil, err
	}
	for _, d := range docs {
		out = append(out, docEntry(d))
	}
	slices.SortFunc(out, func(a, b entry) int { return strings.Compare(a.name, b.name) })
	return slices.CompactFunc(out, func(a, b entry) bool { return a.name == b.name }), nil
}

func benchEntry(v store.Version) entry {
	return entry{name: v.Bench + ".yaml", size: int64(len(v.Text)), changed: store.Time(v.Recorded)}
}

func docEntry(d store.Document) entry {
	return entry{name: d.Name, size: int64(len(d.Text)), changed: store.Time(d.Recorded)}
}

// find is one file.
func (f *shown) find(name string) (*file, error) {
	if bench, ok := strings.CutSuffix(name, ".yaml"); ok && Name.MatchString(bench) {
		v, err := f.s.Bench(f.ctx, bench, store.At(f.now()))
		if err == nil && len(v.Text) > 0 {
			return &file{benchEntry(v), bytes.NewReader(v.Text)}, nil
		} else if err != nil && !errors.Is(err, store.ErrNotFound) {
			return nil, err
		}
	}
	d, err := f.s.Document(f.ctx, KindFile, name)
	if errors.Is(err, store.ErrNotFound) {
		return nil, fs.ErrNotExist
	} else if err != nil {
		return nil, err
	}
	return &file{docEntry(d), bytes.NewReader(d.Text)}, nil
}

// Open opens a file or a folder.
func (f *shown) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	if name != "." {
		got, err := f.find(name)
		if err == nil {
			return got, nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return nil, &fs.PathError{Op: "open", Path: name, Err: err}
		}
	}
	list, err := f.ReadDir(name)
	if err != nil {
		return nil, err
	}
	return &opened{entry{name: name, dir: true}, list}, nil
}

// ReadDir lists a folder.
func (f *shown) ReadDir(name string) ([]fs.DirEntry, error) {
	all, err := f.all()
	if err != nil {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: err}
	}
	prefix := name + "/"
	if name == "." {
		prefix = ""
	}
	out, last := []fs.DirEntry{}, ""
	for _, e := range all {
		rest, ok := strings.CutPrefix(e.name, prefix)
		if !ok {
			continue
		}
		if sub, _, deeper := strings.Cut(rest, "/"); !deeper {
			out = append(out, e)
		} else if sub != last {
			out = append(out, entry{name: prefix + sub, dir: true})
			last = sub
		}
	}
	if len(out) == 0 && name != "." {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	slices.SortFunc(out, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return out, nil
}
