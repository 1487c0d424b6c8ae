package kept

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"underlamp/store"
)

// Sentinels of a desk.
var (
	ErrThere = errors.New("a file of this name is there already")
	ErrName  = errors.New("a bench is called by letters, digits, - and _, and by no more than 100 of them")
)

// A ChangedError says that somebody else has changed a bench since it was read.
type ChangedError struct{ Text []byte } // as it is now; empty: it is gone

// Error says so to a person.
func (e *ChangedError) Error() string {
	return "the bench has been changed by somebody else since you opened it"
}

// A Desk writes benches: into a folder if it has one, where people find them as files, and
// their versions into a store if it has one. It may be used together.
type Desk struct {
	keep   Store    // nil: no history
	folder *os.Root // nil: the store alone
	now    func() time.Time
	mu     sync.Mutex // one writes at a time
}

// NewDesk is a desk over a store, a folder, or both.
func NewDesk(s Store, folder *os.Root, now func() time.Time) *Desk {
	if s == nil && folder == nil {
		panic("kept: a desk needs a store or a folder")
	}
	return &Desk{keep: s, folder: folder, now: now}
}

// HasHistory says that versions are kept.
func (d *Desk) HasHistory() bool { return d.keep != nil }

// A Save is what to write of a bench.
type Save struct {
	Bench string
	Text  []byte
	Base  []byte    // the text that was changed; it must still be the one that counts
	From  time.Time // since when it is so; zero is now. A time before now corrects the past.
	By    string
	Why   string
}

// file is the name of the file of a bench in the folder.
func (d *Desk) file(bench string) string {
	if _, err := fs.Stat(d.folder.FS(), bench+".yaml"); err != nil {
		if _, err := fs.Stat(d.folder.FS(), bench+".yml"); err == nil {
			return bench + ".yml"
		}
	}
	return bench + ".yaml"
}

// Read is a bench as it is now; nil if there is none.
func (d *Desk) Read(ctx context.Context, bench string) ([]byte, error) {
	if !Name.MatchString(bench) {
		return nil, ErrName
	}
	if d.folder != nil {
		text, err := d.readFile(d.file(bench))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		return text, err
	}
	v, err := d.keep.Bench(ctx, bench, store.At(d.now()))
	switch {
	case errors.Is(err, store.ErrNotFound) || err == nil && len(v.Text) == 0:
		return nil, nil
	case err != nil:
		return nil, err
	}
	return v.Text, nil
}

func (d *Desk) readFile(name string) ([]byte, error) {
	f, err := d.folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, MostBytes+1))
}

// Save writes a bench whose text the caller has read and found to be one. If somebody else
// has changed it since it was read it fails with a [*ChangedError], and nothing is written.
func (d *Desk) Save(ctx context.Context, s Save) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	is, err := d.Read(ctx, s.Bench)
	if err != nil {
		return err
	}
	if !bytes.Equal(is, s.Base) || is == nil {
		return &ChangedError{is}
	}
	var versions []store.Version
	if d.keep != nil {
		if versions, err = d.versions(ctx, s); err != nil {
			return err
		}
	}
	return d.write(ctx, s.Bench, s.Text, s.Base, versions)
}

// write puts the versions into the store and the text into the folder. The file counts where
// there is one: it is prepared first and put in place last, and a kill between leaves a
// version in the store that the next look at the folder puts right.
func (d *Desk) write(ctx context.Context, bench string, text, base []byte, versions []store.Version) error {
	if len(text) > MostBytes {
		return fmt.Errorf("the file would be larger than %d MB", MostBytes>>20)
	}
	place := func() error { return nil }
	if d.folder != nil && !bytes.Equal(text, base) {
		done, drop, err := d.prepare(d.file(bench), text, base)
		if err != nil {
			return err
		}
		defer drop()
		place = done
	}
	if len(versions) > 0 {
		if _, err := d.keep.PutBenches(ctx, versions); err != nil {
			return err
		}
	}
	return place()
}

// prepare writes a file beside its aim; place then puts it there, if what stands there is
// still base (nil: nothing).
func (d *Desk) prepare(name string, text, base []byte) (place func() error, drop func(), err error) {
	part := "." + name + "." + strings.ToLower(rand.Text()[:8]) + ".part"
	mode := fs.FileMode(0o644)
	if info, err := d.folder.Stat(name); err == nil {
		mode = info.Mode().Perm()
	}
	f, err := d.folder.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return nil, nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	drop = func() { d.folder.Remove(part) }
	_, err = f.Write(text)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		drop()
		return nil, nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	return func() error {
		is, err := d.readFile(name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			is = nil
		case err != nil:
			return err
		}
		if !bytes.Equal(is, base) || (is == nil) != (base == nil) {
			return &ChangedError{is}
		}
		if base == nil { // nothing may be written over: a link fails where a file has come
			if err := d.folder.Link(part, name); errors.Is(err, fs.ErrExist) {
				return ErrThere
			} else if err == nil {
				return d.sync()
			}
		}
		if err := d.folder.Rename(part, name); err != nil {
			return fmt.Errorf("%s cannot be written: %w", name, err)
		}
		return d.sync()
	}, drop, nil
}

// sync brings names of the folder to the disk, where the system can.
func (d *Desk) sync() error {
	f, err := d.folder.Open(".")
	if err != nil {
		return nil
	}
	defer f.Close()
	_ = f.Sync() // some systems cannot
	return nil
}

// Create writes a new bench. A name that is taken gives [ErrThere].
func (d *Desk) Create(ctx context.Context, bench string, text []byte, by, why string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if is, err := d.Read(ctx, bench); err != nil {
		return err
	} else if is != nil {
		return ErrThere
	}
	if d.folder != nil {
		if _, err := d.folder.Stat(bench + ".yaml"); err == nil {
			return ErrThere
		}
	}
	var versions []store.Version
	if d.keep != nil {
		now := store.At(d.now())
		versions = []store.Version{{Bench: bench, From: now, Recorded: now, By: by, Why: why, Text: text}}
	}
	return d.write(ctx, bench, text, nil, versions)
}

// Free is a name for a bench that is not taken: the one wished, or one that ends with a
// number.
func (d *Desk) Free(ctx context.Context, wish string) (string, error) {
	name := Slug(wish)
	for i := 2; ; i++ {
		if is, err := d.Read(ctx, name); err != nil {
			return "", err
		} else if is == nil && (d.folder == nil || missing(d.folder, name+".yaml")) {
			return name, nil
		}
		name = fmt.Sprintf("%s-%d", Slug(wish), i)
	}
}

func missing(r *os.Root, name string) bool {
	_, err := r.Lstat(name)
	return errors.Is(err, fs.ErrNotExist)
}

// Slug makes a name for a file of what a person calls a bench.
func Slug(s string) string {
	var b strings.Builder
	plain := strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "é", "e", "è", "e", "ø", "o", "å", "a", "ñ", "n", "ç", "c")
	for _, c := range plain.Replace(strings.ToLower(s)) {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9':
			b.WriteRune(c)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 60 {
			break
		}
	}
	if name := strings.Trim(b.String(), "-"); name != "" {
		return name
	}
	return "bench"
}

// AddFiles puts files of a folder in, all that are not there; those that are there stay as
// they are. It returns the names of those put in.
func (d *Desk) AddFiles(ctx context.Context, from fs.FS, by string) ([]string, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var names []string
	err := fs.WalkDir(from, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		added, err := d.addFile(ctx, from, name, text, by)
		if added {
			names = append(names, name)
		}
		return err
	})
	return names, err
}

func (d *Desk) addFile(ctx context.Context, from fs.FS, name string, text []byte, by string) (bool, error) {
	if d.folder != nil {
		if !missing(d.folder, name) {
			return false, nil
		}
		if i := strings.LastIndexByte(name, '/'); i >= 0 {
			if err := d.folder.MkdirAll(name[:i], 0o755); err != nil {
				return false, err
			}
		}
		if IsBench(from, name) {
			now := store.At(d.now())
			var versions []store.Version
			if d.keep != nil {
				versions = []store.Version{{Bench: id(name), From: now, Recorded: now, By: by, Text: text}}
			}
			return true, d.write(ctx, id(name), text, nil, versions)
		}
		return true, d.folder.WriteFile(name, text, 0o644)
	}
	if IsBench(from, name) {
		if is, err := d.Read(ctx, id(name)); err != nil || is != nil {
			return false, err
		}
	} else if _, err := d.keep.Document(ctx, KindFile, name); err == nil {
		return false, nil
	} else if !errors.Is(err, store.ErrNotFound) {
		return false, err
	}
	_, err := put(ctx, d.keep, from, name, text, d.now(), Options{Now: d.now(), By: by, Since: d.now()})
	return err == nil, err
}

// RemoveFiles takes files of a folder away again that still are as they came. It returns the
// names of those that stay since somebody has changed them. What the store keeps of benches
// as they were stays too.
func (d *Desk) RemoveFiles(ctx context.Context, from fs.FS, by string) (stay []string, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var folders []string
	same := map[string]bool{}
	var names []string
	if err := fs.WalkDir(from, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if e.IsDir() {
			folders = append(folders, name)
			return nil
		}
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		is, err := d.fileNow(ctx, from, name)
		if err != nil || is == nil {
			return err
		}
		names = append(names, name)
		same[name] = bytes.Equal(is, text)
		return nil
	}); err != nil {
		return nil, err
	}
	changed := slices.ContainsFunc(names, func(n string) bool { return !same[n] })
	for _, name := range names {
		// What a changed bench may name stays with it.
		if !same[name] || changed && !IsBench(from, name) {
			if !same[name] {
				stay = append(stay, name)
			}
			continue
		}
		if err := d.removeFile(ctx, from, name, by); err != nil {
			return stay, err
		}
	}
	if d.folder != nil {
		slices.Reverse(folders)
		for _, f := range folders {
			if f != "." {
				_ = d.folder.Remove(f) // one that is not empty stays
			}
		}
	}
	return stay, nil
}

func (d *Desk) fileNow(ctx context.Context, from fs.FS, name string) ([]byte, error) {
	if d.folder != nil {
		is, err := d.readFile(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		return is, err
	}
	if IsBench(from, name) {
		return d.Read(ctx, id(name))
	}
	doc, err := d.keep.Document(ctx, KindFile, name)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	return doc.Text, err
}

func (d *Desk) removeFile(ctx context.Context, from fs.FS, name, by string) error {
	if d.keep != nil {
		if IsBench(from, name) {
			if err := Remove(ctx, d.keep, id(name), d.now(), by); err != nil && !errors.Is(err, store.ErrNotFound) {
				return err
			}
		} else if err := d.keep.DropDocument(ctx, KindFile, name); err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
	}
	if d.folder != nil {
		return d.folder.Remove(name)
	}
	return nil
}
