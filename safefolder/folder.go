package safefolder

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"sync"
	"time"
)

// MostBytes is the size of the largest file that is read or written here.
const MostBytes = 16 << 20

// ErrBusy says that others went on writing to a file.
var ErrBusy = errors.New("somebody else is writing to it all the time")

// ErrLink is wrapped where a name is a link: what it points to may lie anywhere, and a file
// put in its place would part the two without anybody noticing.
var ErrLink = errors.New("is a link to another file, and nothing is written through links: put the file itself into the folder, or change it where it lies")

// ErrThere is wrapped where a file is there that must not be.
var ErrThere = errors.New("a file of this name is there already")

// A ChangedError says that a file is not as it was read.
type ChangedError struct{ Text []byte } // as it is now; nil: it is gone

// Error says so to a person.
func (e *ChangedError) Error() string {
	return "the file has been changed by somebody else since it was read"
}

// tries is how often a change is begun anew when the file is found changed.
const tries = 5

// patience is how long another program of ours is waited for.
const patience = 10 * time.Second

// A Folder is a folder of this machine. It is an [fs.FS] too.
type Folder struct {
	fs.FS
	dir string
	mu  sync.Mutex
}

// New is a folder by its path. It need not be there yet.
func New(dir string) *Folder { return &Folder{FS: os.DirFS(dir), dir: dir} }

// Open is a folder that is there.
func Open(dir string) (*Folder, error) {
	f := New(dir)
	root, err := f.root()
	if err != nil {
		return nil, err
	}
	return f, root.Close()
}

func (f *Folder) root() (*os.Root, error) {
	root, err := os.OpenRoot(f.dir)
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be opened: %w", err)
	}
	return root, nil
}

// lock keeps others of ours out until unlock is called.
func (f *Folder) lock() (root *os.Root, unlock func(), err error) {
	f.mu.Lock()
	free, err := lockFolder(f.dir, patience)
	if err != nil {
		f.mu.Unlock()
		return nil, nil, err
	}
	if root, err = f.root(); err != nil {
		free()
		f.mu.Unlock()
		return nil, nil, err
	}
	return root, func() {
		root.Close()
		free()
		f.mu.Unlock()
	}, nil
}

// Change hands the bytes of a file to edit (nil if there is none) and keeps what it returns
// in their place, on the disk before it returns. Nothing is written if edit returns nil or
// an error. If somebody else writes meanwhile, edit is asked again about what is there
// then; [ErrBusy] if that does not end.
func (f *Folder) Change(name string, edit func(was []byte) ([]byte, error)) error {
	root, unlock, err := f.lock()
	if err != nil {
		return err
	}
	defer unlock()
	for range tries {
		was, _, err := readIn(root, name)
		if err != nil {
			return err
		}
		text, err := edit(was)
		if err != nil || text == nil {
			return err
		}
		p, err := prepareIn(root, name, text, was)
		if err != nil {
			return err
		}
		var changed *ChangedError
		if err := p.place(root); !errors.As(err, &changed) && !errors.Is(err, ErrThere) {
			return err
		}
	}
	return fmt.Errorf("%s: %w", name, ErrBusy)
}

// Missing says that nothing has this name.
func (f *Folder) Missing(name string) bool {
	_, err := fs.Lstat(f.FS, name)
	return errors.Is(err, fs.ErrNotExist)
}

// Read is what a file holds; nil where there is none.
func (f *Folder) Read(name string) ([]byte, error) {
	root, err := f.root()
	if err != nil {
		return nil, err
	}
	defer root.Close()
	text, _, err := readIn(root, name)
	return text, err
}

// Put writes a file that is not there yet; else it fails with [ErrThere].
func (f *Folder) Put(name string, text []byte) error {
	p, err := f.Prepare(name, text, nil)
	if err != nil {
		return err
	}
	defer p.Drop()
	return p.Place()
}

// Remove takes a file, or a folder with nothing in it, away.
func (f *Folder) Remove(name string) error {
	root, unlock, err := f.lock()
	if err != nil {
		return err
	}
	defer unlock()
	return root.Remove(name)
}

// A Part is a file that is written whole and not in its place yet.
type Part struct {
	folder     *Folder
	part, name string
	base       []byte
}

// Prepare writes a file beside its aim, in folders that are made where they lack, and brings
// it to the disk. base is what stands there
// now, as it was read; nil means nothing.
func (f *Folder) Prepare(name string, text, base []byte) (*Part, error) {
	root, err := f.root()
	if err != nil {
		return nil, err
	}
	defer root.Close()
	if fs.ValidPath(name) {
		if err := root.MkdirAll(path.Dir(name), 0o755); err != nil {
			return nil, fmt.Errorf("%s cannot be written: %w", name, err)
		}
	}
	p, err := prepareIn(root, name, text, base)
	if err != nil {
		return nil, err
	}
	p.folder = f
	return p, nil
}

// Place puts the file into its place, if what stands there is still base; else it fails with
// a [*ChangedError] or [ErrThere]. Between the look and the move lies a moment that nobody
// can close for a file that others may write at any time.
func (p *Part) Place() error {
	root, unlock, err := p.folder.lock()
	if err != nil {
		return err
	}
	defer unlock()
	return p.place(root)
}

// Drop takes away what is not in its place.
func (p *Part) Drop() {
	if root, err := p.folder.root(); err == nil {
		_ = root.Remove(p.part)
		root.Close()
	}
}

func prepareIn(root *os.Root, name string, text, base []byte) (*Part, error) {
	switch {
	case !fs.ValidPath(name) || name == ".":
		return nil, fmt.Errorf("%q is no name of a file in the folder", name)
	case len(text) > MostBytes:
		return nil, fmt.Errorf("%s would be larger than %d MiB", name, MostBytes>>20)
	}
	dir := path.Dir(name)
	mode := fs.FileMode(0o644)
	if info, err := root.Lstat(name); err == nil {
		mode = info.Mode().Perm()
	}
	p := &Part{part: path.Join(dir, "."+path.Base(name)+"."+rand.Text()[:8]+".part"), name: name, base: base}
	out, err := root.OpenFile(p.part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, mode)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	if _, err = out.Write(text); err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		_ = root.Remove(p.part)
		return nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	return p, nil
}

// place moves the part, or takes it away.
func (p *Part) place(root *os.Root) error {
	err := p.move(root)
	if err != nil {
		_ = root.Remove(p.part)
		return err
	}
	return syncFolder(root, path.Dir(p.name))
}

func (p *Part) move(root *os.Root) error {
	if p.base == nil {
		switch err := root.Link(p.part, p.name); {
		case err == nil:
			_ = root.Remove(p.part)
			return nil
		case errors.Is(err, fs.ErrExist):
			return fmt.Errorf("%s: %w", p.name, ErrThere)
		}
		// This file system has no links: there is only the look.
		if _, err := root.Lstat(p.name); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", p.name, ErrThere)
		}
	} else if is, _, err := readIn(root, p.name); err != nil {
		return err
	} else if is == nil || !bytes.Equal(is, p.base) {
		return &ChangedError{is}
	}
	if err := root.Rename(p.part, p.name); err != nil {
		return fmt.Errorf("%s cannot be written: %w", p.name, err)
	}
	return nil
}

// readIn reads a file of a folder; nil if there is none.
func readIn(root *os.Root, name string) ([]byte, fs.FileMode, error) {
	info, err := root.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0o644, nil
	}
	if err != nil {
		return nil, 0, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	switch {
	case info.Mode()&fs.ModeSymlink != 0:
		return nil, 0, fmt.Errorf("%s %w", name, ErrLink)
	case !info.Mode().IsRegular():
		return nil, 0, fmt.Errorf("%s is no file", name)
	}
	f, err := root.Open(name)
	if err != nil {
		return nil, 0, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	defer f.Close()
	was, err := readAll(f, name)
	return was, info.Mode().Perm(), err
}

// readAll reads a file of at most [MostBytes]; it is never nil.
func readAll(f io.Reader, name string) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(f, MostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	if len(text) > MostBytes {
		return nil, fmt.Errorf("%s is larger than %d MiB", name, MostBytes>>20)
	}
	return text, nil
}

// syncFolder makes a new name last through a loss of power, where the system can.
func syncFolder(root *os.Root, dir string) error {
	d, err := root.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !isInvalid(err) {
		return err
	}
	return nil
}
