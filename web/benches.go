package web

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
	"sync"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/app/settings"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/working"
)

// benches reads the bench files of a folder and keeps what was computed of them
// until the file changes.
type benches struct {
	folder   fs.FS
	settings *settings.Keeper // nil: what bench files say
	mu       sync.Mutex
	known    map[string]*entry
}

// An entry is one bench file as it was last read.
type entry struct {
	id       string
	file     string // its name in the folder
	modified time.Time
	size     int64
	bench    *underlamp.Bench
	model    *light.Model
	problems string // as a person reads them; empty if there are none
	broken   bool
	fieldOff bool
	set      string // what is set for all pages and changes a bench

	asked, then, stamp string // of a bench as it was: the time as asked and in words, and its text

	offOnce sync.Once // with the map of lamps and walls alone
	off     *entry
	offErr  error

	nextOnce sync.Once
	next     *light.NextReading

	named map[string]string // files that the bench names, with their stamps

	heights heights

	refused *outlook.NotSupported // why fast and whole are nil; nil if they are not

	fast  *outlook.Outlook
	whole *outlook.Outlook // with all draws
	nowMu sync.Mutex
	now   *outlook.Forecast // with all draws, as the bench is set

	doubtMu sync.Mutex
	doubts  *outlook.Doubts

	air airNow // see air.go

}

// fastDraws is the number of draws while somebody turns a control.
const fastDraws = 300

// maxInput bounds what is read of a file; the reader of bench files refuses well below it.
const maxInput = 2 << 20

// set is what is set for all pages; nothing where it cannot be read, so that the pages
// still answer.
func (b *benches) set() settings.Settings {
	if b.settings == nil {
		return settings.Settings{}
	}
	set, _ := b.settings.Now(context.Background())
	return set
}

func newBenches(folder fs.FS) *benches { return &benches{folder: folder, known: map[string]*entry{}} }

// validID are names of bench files without their ending. A name with a slash or
// a leading dot never reaches the folder.
var validID = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._-]{0,99}$`)

var endings = []string{".yaml", ".yml"}

// list names the benches of the folder in order.
func (b *benches) list() ([]string, error) {
	entries, err := fs.ReadDir(b.folder, ".")
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be read: %w", err)
	}
	var ids []string
	for _, e := range entries {
		ext := path.Ext(e.Name())
		id := strings.TrimSuffix(e.Name(), ext)
		if !e.IsDir() && slices.Contains(endings, ext) && validID.MatchString(id) && benchfolder.KindOf(b.folder, e.Name()) == benchfolder.BenchFile {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids), nil
}

// get returns the bench of a file, read anew if the file changed. It is nil if
// there is no such file.
func (b *benches) get(id string) (*entry, error) {
	if !validID.MatchString(id) {
		return nil, nil
	}
	for _, ext := range endings {
		f, err := b.folder.Open(id + ext)
		if err != nil {
			continue
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil || info.IsDir() || benchfolder.KindOf(b.folder, id+ext) != benchfolder.BenchFile {
			continue
		}
		set := b.set()
		b.mu.Lock()
		defer b.mu.Unlock()
		if e, ok := b.known[id]; ok && e.modified.Equal(info.ModTime()) && e.size == info.Size() && e.set == set.Stamp() && e.fresh(b.folder) {
			return e, nil
		}
		source, err := io.ReadAll(io.LimitReader(f, maxInput))
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", id+ext, err)
		}
		e := &entry{id: id, file: id + ext, modified: info.ModTime(), size: info.Size(), set: set.Stamp()}
		e.read(b.folder, id+ext, source, set)
		b.known[id] = e
		return e, nil
	}
	return nil, nil
}

// fresh says that the files which the bench names are as they were. Of a bench
// that could not be read they are not known; it is read again each time.
func (e *entry) fresh(folder fs.FS) bool {
	if e.broken {
		return false
	}
	for name, was := range e.named {
		if benchfolder.Stamp(folder, name) != was {
			return false
		}
	}
	return true
}

func (e *entry) read(folder fs.FS, name string, source []byte, set settings.Settings) {
	bench, problems, err := benchfile.ReadWith(bytes.NewReader(source), benchfolder.Files(folder))
	if err != nil {
		e.problems, e.broken = err.Error(), true
		return
	}
	if len(problems) > 0 {
		e.problems = problems.Render(name, source, false)
	}
	if problems.HasErrors() {
		e.broken = true
		return
	}
	set.Bench(bench)
	e.bench = bench
	e.named = map[string]string{}
	for _, file := range benchfolder.Named(bench) {
		e.named[file] = benchfolder.Stamp(folder, file)
	}
	if e.model, err = light.NewModel(bench); err != nil {
		e.problems, e.broken = err.Error(), true
		return
	}
	if errors.As(outlook.Supported(bench), &e.refused) {
		return // its light is asked all the same
	}
	if e.fast, err = outlook.New(e.model, fastDraws); err != nil {
		e.problems, e.broken = err.Error(), true
		return
	}
	if e.whole, err = outlook.New(e.model, 0); err != nil {
		e.problems, e.broken = err.Error(), true
	}
}

// withoutField is the same bench with what lamps and walls leave of the readings
// switched off.
func (e *entry) withoutField() (*entry, error) {
	e.offOnce.Do(func() {
		off := &entry{id: e.id, file: e.file, set: e.set, stamp: e.stamp, modified: e.modified, size: e.size, bench: e.bench, problems: e.problems, named: e.named, refused: e.refused, fieldOff: true, asked: e.asked, then: e.then}
		if off.model, e.offErr = light.NewModelWith(e.bench, light.Options{Field: light.FieldOff}); e.offErr != nil {
			return
		}
		if off.refused != nil {
			e.off = off
			return
		}
		if off.fast, e.offErr = outlook.New(off.model, fastDraws); e.offErr != nil {
			return
		}
		off.whole, e.offErr = outlook.New(off.model, 0)
		e.off = off
	})
	return e.off, e.offErr
}

// forecast returns the outlook of a setting with its figures: with all draws as
// the bench is set, so that it agrees with the report and the search, and with
// few draws while somebody turns a control.
func (e *entry) forecast(change *underlamp.Setting) (*outlook.Forecast, []working.Figure, error) {
	if e.refused != nil {
		return nil, nil, e.refused
	}
	if change != nil {
		f, err := e.fast.Forecast(change)
		if err != nil {
			return nil, nil, err
		}
		return f, e.fast.Figures(f), nil
	}
	e.nowMu.Lock()
	defer e.nowMu.Unlock()
	if e.now == nil {
		f, err := e.whole.Forecast(nil)
		if err != nil {
			return nil, nil, err
		}
		e.now = f
	}
	return e.now, e.whole.Figures(e.now), nil
}

// version tells what a bench was computed from apart from every other.
func (e *entry) version() string {
	return fmt.Sprintf("%s %d %d %q %t %q %q %q", e.file, e.modified.UnixNano(), e.size, e.set, e.fieldOff, e.asked, e.stamp, e.named)
}

// nextReading is where one more reading would tell most, with the lamps as the
// bench has them: nobody reads a meter under a what-if. It is nil if it cannot be
// said.
func (e *entry) nextReading() *light.NextReading {
	e.nextOnce.Do(func() { e.next, _ = e.model.NextReading() })
	return e.next
}
