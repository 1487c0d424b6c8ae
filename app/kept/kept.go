package kept

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"

	"underlamp/formats/benchfolder"
	"underlamp/store"
)

// A Store is what benches need of a store.
type Store interface {
	store.Benches
	store.Documents
}

// KindFile is the kind of document that lies beside a bench.
const KindFile = "file"

// Bounds of what is kept of a folder.
const (
	MostBytes = 8 << 20 // of a file
	mostFiles = 2000
	mostDeep  = 4 // folders within folders
)

// taken are the endings of files that benches may name.
var taken = []string{".yaml", ".yml", ".ies", ".ldt", ".csv", ".txt", ".spdx"}

// Name are names that a bench may have: those of its file without the ending.
var Name = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._-]{0,99}$`)

// A Change is what an import has entered.
type Change struct {
	Name   string // of the file
	Bench  bool
	Number int // of the version of a bench
}

// Options of an import; the zero value is the usual one.
type Options struct {
	Now   time.Time // of recording; zero is refused
	By    string
	Since time.Time // from when benches are so; zero means when their files were changed
	Names []string  // these files alone; nil means all
}

// Import enters the benches of a folder that differ from the newest version, and the files
// beside them. Files that are no longer there stay in the store. Skipped are the names of
// files that are larger than [MostBytes], or more than can be kept.
func Import(ctx context.Context, s Store, folder fs.FS, opt Options) (changes []Change, skipped []string, err error) {
	if opt.Now.IsZero() {
		return nil, nil, errors.New("an import needs the time at which it is made")
	}
	files := 0
	err = fs.WalkDir(folder, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return fmt.Errorf("the folder cannot be read: %w", err)
		case err != nil:
			skipped = append(skipped, name)
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case name != "." && strings.HasPrefix(d.Name(), "."), d.IsDir() && strings.Count(name, "/") >= mostDeep:
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir() || !d.Type().IsRegular() || !slices.Contains(taken, strings.ToLower(path.Ext(name))):
			return nil
		case opt.Names != nil && !slices.Contains(opt.Names, name):
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return nil // it has just gone
		}
		if files++; files > mostFiles || info.Size() > MostBytes {
			skipped = append(skipped, name)
			return nil
		}
		text, err := fs.ReadFile(folder, name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		} else if err != nil {
			return fmt.Errorf("%s cannot be read: %w", name, err)
		}
		c, err := put(ctx, s, folder, name, text, info.ModTime(), opt)
		if err != nil {
			return err
		}
		if c != nil {
			changes = append(changes, *c)
		}
		return nil
	})
	return changes, skipped, err
}

// IsBench says that a file of a folder describes a bench that can be kept as one.
func IsBench(folder fs.FS, name string) bool {
	return !strings.Contains(name, "/") && benchfolder.IsYAML(name) && Name.MatchString(id(name)) && benchfolder.KindOf(folder, name) == benchfolder.BenchFile
}

func id(name string) string { return strings.TrimSuffix(name, path.Ext(name)) }

// put enters one file; nil if it is known as it is.
func put(ctx context.Context, s Store, folder fs.FS, name string, text []byte, changed time.Time, opt Options) (*Change, error) {
	if !IsBench(folder, name) {
		was, err := s.Document(ctx, KindFile, name)
		switch {
		case err == nil && bytes.Equal(was.Text, text):
			return nil, nil
		case err != nil && !errors.Is(err, store.ErrNotFound):
			return nil, err
		}
		return &Change{Name: name}, s.PutDocument(ctx, store.Document{Kind: KindFile, Name: name, Recorded: store.At(opt.Now), Text: text})
	}
	since := opt.Since
	if since.IsZero() {
		if since = changed; since.After(opt.Now) || since.IsZero() {
			since = opt.Now
		}
	}
	all, err := s.History(ctx, id(name))
	if err != nil {
		return nil, err
	}
	if len(all) > 0 {
		newest := latest(all)
		if opt.Since.IsZero() {
			if bytes.Equal(newest.Text, text) {
				return nil, nil
			}
			if store.At(since) <= newest.From { // an old copy was put back: it holds from now on
				since = opt.Now
			}
		}
	}
	n, err := s.PutBench(ctx, store.Version{Bench: id(name), From: store.At(since), Recorded: store.At(opt.Now), By: opt.By, Text: text})
	if err != nil || n <= len(all) {
		return nil, err
	}
	return &Change{Name: name, Bench: true, Number: n}, nil
}

// latest is the version that holds at the end of time.
func latest(all []store.Version) store.Version {
	out := all[0]
	for _, v := range all[1:] {
		if v.From >= out.From {
			out = v
		}
	}
	return out
}

// Remove says that a bench is there no more from an instant on. Its history stays.
func Remove(ctx context.Context, s Store, bench string, at time.Time, by string) error {
	if _, err := s.Bench(ctx, bench, store.At(at)); err != nil {
		return err
	}
	_, err := s.PutBench(ctx, store.Version{Bench: bench, From: store.At(at), Recorded: store.At(at), By: by, Text: []byte{}})
	return err
}

// Watch imports a folder again whenever something in it has changed, until ctx is done.
// What goes wrong is told, and tried again.
func Watch(ctx context.Context, s Store, folder fs.FS, every time.Duration, now func() time.Time, tell func([]Change, []string, error)) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	was := ""
	for {
		if is := stamp(folder); is != was {
			changes, skipped, err := Import(ctx, s, folder, Options{Now: now(), By: "folder"})
			if ctx.Err() != nil {
				return
			}
			if len(changes) > 0 || len(skipped) > 0 || err != nil {
				tell(changes, skipped, err)
			}
			if err == nil {
				was = is
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// stamp tells states of a folder apart by the names, times and sizes in it.
func stamp(folder fs.FS) string {
	var b strings.Builder
	files := 0
	fs.WalkDir(folder, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if d.IsDir() && (name != "." && strings.HasPrefix(d.Name(), ".") || strings.Count(name, "/") >= mostDeep) {
			return fs.SkipDir
		}
		if d.IsDir() || !slices.Contains(taken, strings.ToLower(path.Ext(name))) {
			return nil
		}
		if files++; files > 2*mostFiles {
			return fs.SkipAll
		}
		if info, err := d.Info(); err == nil {
			fmt.Fprintln(&b, name, info.ModTime().UnixNano(), info.Size())
		}
		return nil
	})
	return b.String()
}

// Export hands out every bench as it is now, and every file, by name.
func Export(ctx context.Context, s Store, at time.Time, write func(name string, text []byte, changed time.Time) error) error {
	f := &shown{ctx: ctx, s: s, now: func() time.Time { return at }}
	all, err := f.all()
	if err != nil {
		return err
	}
	for _, x := range all {
		if err := ctx.Err(); err != nil {
			return err
		}
		file, err := f.find(x.name)
		if err != nil {
			return err
		}
		text, err := io.ReadAll(file)
		if err != nil {
			return err
		}
		if err := write(x.name, text, file.entry.changed); err != nil {
			return err
		}
	}
	return nil
}
