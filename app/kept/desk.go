package kept

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"time"

	"underlamp/safefolder"
	"underlamp/store"
)

// ErrName is for names that no bench can have.
var ErrName = errors.New("a bench is called by letters, digits, - and _, and by no more than 100 of them")

// A Desk writes benches: into a folder if it has one, where people find them as files, and
// their versions into a store if it has one. It may be used together.
type Desk struct {
	keep   Store              // nil: no history
	folder *safefolder.Folder // nil: the store alone
	now    func() time.Time
	mu     sync.Mutex // one writes at a time
}

// NewDesk is a desk over a store, a folder, or both.
func NewDesk(s Store, f *safefolder.Folder, now func() time.Time) *Desk {
	if s == nil && f == nil {
		panic("kept: a desk needs a store or a folder")
	}
	return &Desk{keep: s, folder: f, now: now}
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
	if d.folder.Missing(bench+".yaml") && !d.folder.Missing(bench+".yml") {
		return bench + ".yml"
	}
	return bench + ".yaml"
}

// Read is a bench as it is now; nil if there is none.
func (d *Desk) Read(ctx context.Context, bench string) ([]byte, error) {
	if !Name.MatchString(bench) {
		return nil, ErrName
	}
	if d.folder != nil {
		return d.folder.Read(d.file(bench))
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

// Save writes a bench whose text the caller has read and found to be one. If somebody else
// has changed it since it was read it fails with a [*safefolder.ChangedError], and nothing is written.
func (d *Desk) Save(ctx context.Context, s Save) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	is, err := d.Read(ctx, s.Bench)
	if err != nil {
		return err
	}
	if !bytes.Equal(is, s.Base) || is == nil {
		return &safefolder.ChangedError{Text: is}
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
	var part *safefolder.Part
	if d.folder != nil && !bytes.Equal(text, base) {
		var err error
		if part, err = d.folder.Prepare(d.file(bench), text, base); err != nil {
			return err
		}
		defer part.Drop()
	}
	if len(versions) > 0 {
		if _, err := d.keep.PutBenches(ctx, versions); err != nil {
			return err
		}
	}
	if part == nil {
		return nil
	}
	return part.Place()
}

// Create writes a new bench. A name that is taken gives [safefolder.ErrThere].
func (d *Desk) Create(ctx context.Context, bench string, text []byte, by, why string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if is, err := d.Read(ctx, bench); err != nil {
		return err
	} else if is != nil {
		return safefolder.ErrThere
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
		} else if is == nil && (d.folder == nil || d.folder.Missing(name+".yaml")) {
			return name, nil
		}
		name = fmt.Sprintf("%s-%d", Slug(wish), i)
	}
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
		if !d.folder.Missing(name) {
			return false, nil
		}
		if IsBench(from, name) {
			now := store.At(d.now())
			var versions []store.Version
			if d.keep != nil {
				versions = []store.Version{{Bench: id(name), From: now, Recorded: now, By: by, Text: text}}
			}
			return true, d.write(ctx, id(name), text, nil, versions)
		}
		return true, d.folder.Put(name, text)
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
		return d.folder.Read(name)
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
