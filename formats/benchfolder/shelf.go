package benchfolder

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"sync"

	"underlamp"
	"underlamp/formats/benchfile"
)

// A Shelf reads the benches of a folder, each anew only when its file or one that it names
// has changed. Its methods may be called together.
type Shelf struct {
	folder fs.FS
	mu     sync.Mutex
	known  map[string]*shelved
}

// A Shelved is a bench with the name of its file, without the ending.
type Shelved struct {
	Key   string
	Bench *underlamp.Bench
}

type shelved struct {
	bench  *underlamp.Bench  // nil if the file has errors
	stamps map[string]string // of the file and of those that it names
}

// NewShelf is a shelf over a folder.
func NewShelf(folder fs.FS) *Shelf { return &Shelf{folder: folder, known: map[string]*shelved{}} }

// Benches are those of the folder that can be read, by the name of their file. Files with
// errors are left out: whoever looks at them is told.
func (s *Shelf) Benches() ([]Shelved, error) {
	entries, err := fs.ReadDir(s.folder, ".")
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be read: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []Shelved
	there := map[string]*shelved{}
	for _, e := range entries {
		if e.IsDir() || !IsYAML(e.Name()) {
			continue
		}
		was := s.known[e.Name()]
		if was == nil || !s.fresh(was) {
			if was, err = s.read(e.Name()); errors.Is(err, fs.ErrNotExist) {
				continue
			} else if err != nil {
				return nil, err
			}
		}
		there[e.Name()] = was
		if was.bench != nil {
			out = append(out, Shelved{strings.TrimSuffix(e.Name(), path.Ext(e.Name())), was.bench})
		}
	}
	s.known = there
	return out, nil
}

func (s *Shelf) fresh(was *shelved) bool {
	for name, stamp := range was.stamps {
		if Stamp(s.folder, name) != stamp {
			return false
		}
	}
	return was.bench != nil
}

func (s *Shelf) read(name string) (*shelved, error) {
	out := &shelved{stamps: map[string]string{name: Stamp(s.folder, name)}}
	if KindOf(s.folder, name) != BenchFile {
		return out, nil
	}
	source, err := fs.ReadFile(s.folder, name)
	if err != nil {
		return nil, err
	}
	if len(source) > maxInput {
		return out, nil
	}
	b, problems, err := benchfile.ReadWith(bytes.NewReader(source), Files(s.folder))
	if err != nil || problems.HasErrors() {
		return out, nil
	}
	out.bench = b
	for _, file := range Named(b) {
		out.stamps[file] = Stamp(s.folder, file)
	}
	return out, nil
}

// Named are the files that a bench names.
func Named(b *underlamp.Bench) []string {
	var out []string
	for _, l := range b.Lamps {
		if l.File != nil {
			out = append(out, l.File.Name)
		}
		if l.Colour != nil {
			out = append(out, l.Colour.Name)
		}
	}
	if p := b.Crop.Profile; p != nil {
		out = append(out, p.File)
	}
	if b.Feed.From != "" {
		out = append(out, b.Feed.From)
	}
	return out
}

// Stamp tells versions of a file apart; it is empty if the file is gone.
func Stamp(folder fs.FS, name string) string {
	info, err := fs.Stat(folder, name)
	if err != nil {
		return ""
	}
	return fmt.Sprint(info.ModTime().UnixNano(), " ", info.Size())
}
