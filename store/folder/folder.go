package folder

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
)

// ErrThere is wrapped where a file is there that must not be.
var ErrThere = errors.New("a file of this name is there already")

// A ChangedError says that a file is not as it was read.
type ChangedError struct{ Text []byte } // as it is now; nil: it is gone

// Error says so to a person.
func (e *ChangedError) Error() string {
	return "the file has been changed by somebody else since it was read"
}

// Most is the most that is read of a file, in bytes.
const Most = 8 << 20

// A Folder is one that can be written. As a file system it shows what is in it.
type Folder struct {
	fs.FS
	root *os.Root
}

// Open opens a folder that is there.
func Open(name string) (*Folder, error) {
	r, err := os.OpenRoot(name)
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be opened: %w", err)
	}
	return &Folder{r.FS(), r}, nil
}

// Close ends the use of the folder.
func (f *Folder) Close() error { return f.root.Close() }

// Missing says that nothing has this name.
func (f *Folder) Missing(name string) bool {
	_, err := f.root.Lstat(name)
	return errors.Is(err, fs.ErrNotExist)
}

// Read is what a file holds; nil where there is none.
func (f *Folder) Read(name string) ([]byte, error) {
	file, err := f.root.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, Most+1))
	if text == nil {
		text = []byte{}
	}
	return text, err
}

// A Part is a file that is written whole and not in its place yet.
type Part struct {
	f          *Folder
	part, name string
	base       []byte
}

// Prepare writes a file beside its aim and brings it to the disk.
func (f *Folder) Prepare(name string, text, base []byte) (*Part, error) {
	dir, last := path.Split(name)
	if dir != "" {
		if err := f.root.MkdirAll(path.Clean(dir), 0o755); err != nil {
			return nil, fmt.Errorf("%s cannot be written: %w", name, err)
		}
	}
	p := &Part{f, dir + "." + last + "." + strings.ToLower(rand.Text()[:8]) + ".part", name, base}
	mode := fs.FileMode(0o644)
	if info, err := f.root.Stat(name); err == nil {
		mode = info.Mode().Perm()
	}
	file, err := f.root.OpenFile(p.part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	_, err = file.Write(text)
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		p.Drop()
		return nil, fmt.Errorf("%s cannot be written: %w", name, err)
	}
	return p, nil
}

// Place puts the file into its place, if what stands there is still base; where base is nil,
// nothing may stand there. Between the look and the move lies a moment that nobody can close
// for a file that others may write at any time.
func (p *Part) Place() error {
	if p.base == nil {
		switch err := p.f.root.Link(p.part, p.name); {
		case err == nil:
			return p.f.sync()
		case errors.Is(err, fs.ErrExist) || !p.f.Missing(p.name):
			return fmt.Errorf("%s: %w", p.name, ErrThere)
		}
	} else if is, err := p.f.Read(p.name); err != nil {
		return err
	} else if is == nil || !bytes.Equal(is, p.base) {
		return &ChangedError{is}
	}
	if err := p.f.root.Rename(p.part, p.name); err != nil {
		return fmt.Errorf("%s cannot be written: %w", p.name, err)
	}
	return p.f.sync()
}

// Drop takes away what is not in its place.
func (p *Part) Drop() { _ = p.f.root.Remove(p.part) }

// sync brings names to the disk, where the system can.
func (f *Folder) sync() error {
	if dir, err := f.root.Open("."); err == nil {
		_ = dir.Sync() // some systems cannot
		return dir.Close()
	}
	return nil
}

// Put writes a file that is not there yet.
func (f *Folder) Put(name string, text []byte) error {
	p, err := f.Prepare(name, text, nil)
	if err != nil {
		return err
	}
	defer p.Drop()
	return p.Place()
}

// Remove takes a file, or a folder with nothing in it, away.
func (f *Folder) Remove(name string) error { return f.root.Remove(name) }
