package dataset

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/datapackage"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
)

// A Unpacked is a package as a folder again.
type Unpacked struct {
	Folder fs.FS  // the files as they lay beside each other
	Begin  string // the plan of the trial, or the bench file
	Kind   string
	Notes  []string // what a person should know
}

// Folder makes a folder of a package that this program wrote: the files under files/, and
// in place of the table of a trial what data/observations.csv says. Hashes, cells, keys and
// references are looked at first; a package that was changed is used, and told.
func Folder(p *datapackage.Package) (*Unpacked, error) {
	if p.Made == nil || p.Made.Begin == "" || !strings.HasPrefix(p.Made.Begin, under) {
		return nil, errors.New("the package does not say with which file it begins (made_with: file in datapackage.json), so it is none of a trial or a bench of underlamp")
	}
	out := &Unpacked{Begin: strings.TrimPrefix(p.Made.Begin, under), Kind: p.Made.Kind}
	if err := p.Verify(); err != nil {
		out.Notes = append(out.Notes, "The package is not as it was written: "+err.Error())
	}
	beside, err := fs.Sub(p.Dir, strings.TrimSuffix(under, "/"))
	if err != nil {
		return nil, err
	}
	plan, err := fs.ReadFile(beside, out.Begin)
	if err != nil {
		return nil, fmt.Errorf("the package does not hold %s, with which it begins: %w", p.Made.Begin, err)
	}
	out.Folder = beside
	if out.Kind != KindTrial {
		return out, nil
	}
	t, problems, err := trialfile.Read(bytes.NewReader(plan))
	if err != nil || t == nil {
		if err == nil {
			err = problems
		}
		return nil, fmt.Errorf("%s: %w", p.Made.Begin, err)
	}
	if t.Table == "" {
		return out, nil
	}
	tab := p.Table(observations.name)
	if tab == nil {
		return out, nil // nothing was seen yet
	}
	entries, err := EntriesOf(tab)
	if err != nil {
		return nil, err
	}
	table := path.Join(path.Dir(out.Begin), t.Table)
	if was, err := fs.ReadFile(beside, table); err == nil {
		if old, err := trialtable.Read(was); err != nil || !sameEntries(old, entries) {
			out.Notes = append(out.Notes, fmt.Sprintf("data/%s.csv and %s%s do not say the same; what stands in data/ counts.", observations.name, under, table))
		}
	}
	var b bytes.Buffer
	if err := trialtable.Append(&b, entries, true); err != nil {
		return nil, err
	}
	out.Folder = &overlay{beside, table, b.Bytes(), p.Created}
	return out, nil
}

func sameEntries(a, b []underlamp.TrialEntry) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		x, y := a[i], b[i]
		x.Line, y.Line = 0, 0
		if x != y {
			return false
		}
	}
	return true
}

// overlay is a folder in which one file is another one.
type overlay struct {
	fs.FS
	name string
	data []byte
	when time.Time
}

// Open opens a file.
func (o *overlay) Open(name string) (fs.File, error) {
	if name == o.name {
		return &held{bytes.NewReader(o.data), o}, nil
	}
	return o.FS.Open(name)
}

// held is the file that is another one.
type held struct {
	*bytes.Reader
	of *overlay
}

func (h *held) Close() error               { return nil }
func (h *held) Stat() (fs.FileInfo, error) { return h, nil }
func (h *held) Name() string               { return path.Base(h.of.name) }
func (h *held) Mode() fs.FileMode          { return 0o444 }
func (h *held) ModTime() time.Time         { return h.of.when }
func (h *held) IsDir() bool                { return false }
func (h *held) Sys() any                   { return nil }
