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

// tries is how often a change is begun anew when the file is found changed.
const tries = 5

// A Folder is a folder of this machine. It is an [fs.FS] too.
type Folder struct {
	fs.FS
	dir string
	mu  sync.Mutex
}

// New is a folder by its path. It need not be there yet.
func New(dir string) *Folder { return &Folder{FS: os.DirFS(dir), dir: dir} }

// Change hands the bytes of a file to edit (nil if there is none) and keeps what it returns
// in their place, on the disk before it returns. Nothing is written if edit returns nil or
// an error. If somebody else writes meanwhile, edit is asked again about what is there
// then; [ErrBusy] if that does not end.
func (f *Folder) Change(name string, edit func(was []byte) ([]byte, error)) error {
	if !fs.ValidPath(name) || name == "." {
		return fmt.Errorf("%q is no name of a file in the folder", name)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	unlock, err := lockFolder(f.dir, 10*time.Second)
	if err != nil {
		return err
	}
	defer unlock()
	root, err := os.OpenRoot(f.dir)
	if err != nil {
		return fmt.Errorf("the folder cannot be opened: %w", err)
	}
	defer root.Close()
	for range tries {
		was, mode, err := readIn(root, name)
		if err != nil {
			return err
		}
		text, err := edit(was)
		if err != nil || text == nil {
			return err
		}
		if len(text) > MostBytes {
			return fmt.Errorf("%s would be larger than %d MiB", name, MostBytes>>20)
		}
		done, err := replaceIn(root, name, mode, was, text)
		if err != nil {
			return fmt.Errorf("%s cannot be written: %w", name, err)
		}
		if done {
			return syncFolder(root, path.Dir(name))
		}
	}
	return fmt.Errorf("%s: %w", name, ErrBusy)
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
	if !info.Mode().IsRegular() {
		return nil, 0, fmt.Errorf("%s is a link or no file; it is not written through", name)
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

// replaceIn puts text in place of the bytes was; false if other bytes are there by now.
func replaceIn(root *os.Root, name string, mode fs.FileMode, was, text []byte) (done bool, err error) {
	part := path.Join(path.Dir(name), "."+path.Base(name)+"."+rand.Text()[:8]+".part")
	out, err := root.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, mode)
	if err != nil {
		return false, err
	}
	defer func() {
		if !done {
			root.Remove(part)
		}
	}()
	if _, err = out.Write(text); err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		return false, err
	}
	now, _, err := readIn(root, name)
	if err != nil || (now == nil) != (was == nil) || !bytes.Equal(now, was) {
		return false, err
	}
	if err := root.Rename(part, name); err != nil {
		return false, err
	}
	return true, nil
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
