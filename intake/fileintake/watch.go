package fileintake

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"underlamp/intake"
	"underlamp/store"
)

// A Taker keeps readings; an [*intake.Intake] is one.
type Taker interface {
	Check(readings []intake.Reading) error
	Take(ctx context.Context, readings []intake.Reading) error
}

// A Keeper is what the watch needs of a store.
type Keeper interface {
	Samples
	store.Documents
}

// Options of a watch; zero values are the usual ones.
type Options struct {
	Zone     *time.Location // of clocks without an offset; nil: a table must say it
	DayFirst *bool          // 03/04 is the 3rd of April; nil: find out
	Every    time.Duration  // between looks; 0 means 10 s
	Settled  int            // looks for which a file must stay the same; 0 means 2
	Quiet    int            // looks after which a last line without its end is taken; 0 means 12
	Log      *slog.Logger   // nil logs nothing
	Now      func() time.Time
}

// A File is what became of a file.
type File struct {
	Path    string
	Read    bool      // it was, as it is now
	At      time.Time // when
	Place   string
	Rows    int      // of the table
	New     int      // readings that were not in the store
	Changed int      // that were there with another value
	Known   int      // that were there
	Problem string   // why it could not be read; empty if it could
	Notes   []string // what was assumed
}

// Bounds of a folder.
const (
	maxFiles = 10_000
	maxDepth = 4
)

// A Watch looks into a folder.
type Watch struct {
	folder fs.FS
	in     Taker
	keep   Keeper
	opt    Options
	known  map[string]*sight

	mu      sync.Mutex
	files   map[string]File
	trouble string // what is wrong with the folder itself
}

// A sight is what a file looked like.
type sight struct {
	size  int64
	mod   time.Time
	same  int  // looks for which it was so
	done  bool // nothing to do until it changes
	tail  bool // but for its last line
	saved *progress
}

// New makes a watch of a folder.
func New(folder fs.FS, in Taker, keep Keeper, opt Options) *Watch {
	if opt.Every == 0 {
		opt.Every = 10 * time.Second
	}
	if opt.Settled == 0 {
		opt.Settled = 2
	}
	if opt.Quiet == 0 {
		opt.Quiet = 12
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	return &Watch{folder: folder, in: in, keep: keep, opt: opt, known: map[string]*sight{}, files: map[string]File{}}
}

// Run looks until ctx is done.
func (w *Watch) Run(ctx context.Context) {
	tick := time.NewTicker(w.opt.Every)
	defer tick.Stop()
	for {
		if err := w.Look(ctx); err != nil && ctx.Err() == nil {
			w.opt.Log.Error("tables could not be kept; it is tried again", "err", err)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// Files tells what became of the files that were seen, by path.
func (w *Watch) Files() []File {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := slices.Collect(maps.Values(w.files))
	slices.SortFunc(out, func(a, b File) int { return strings.Compare(a.Path, b.Path) })
	return out
}

// isTable says that a file may be a table, by its name.
func isTable(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".csv", ".tsv", ".txt":
		return !strings.HasPrefix(path.Base(name), ".") && !strings.HasPrefix(path.Base(name), "~")
	}
	return false
}

// Look looks once. It returns an error of the store; what is wrong with a file is in
// [Watch.Files] and in the log.
func (w *Watch) Look(ctx context.Context) error {
	seen := map[string]bool{}
	var first error
	err := fs.WalkDir(w.folder, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil: // one that was taken away meanwhile, or that we may not read
			w.report(name, File{}, fmt.Sprintf("cannot be looked into: %v", err))
			return nil
		case d.IsDir():
			if name != "." && (strings.HasPrefix(d.Name(), ".") || strings.Count(name, "/") >= maxDepth) {
				return fs.SkipDir
			}
			return nil
		case !d.Type().IsRegular() || !isTable(name):
			return nil
		case len(seen) >= maxFiles:
			return fmt.Errorf("there are more than %d tables", maxFiles)
		}
		info, err := d.Info()
		if err != nil {
			return nil // taken away meanwhile
		}
		seen[name] = true
		if err := w.see(ctx, name, info); err != nil && first == nil {
			first = err
		}
		return nil
	})
	for name := range w.known {
		if err == nil && !seen[name] {
			delete(w.known, name)
			w.mu.Lock()
			delete(w.files, name)
			w.mu.Unlock()
		}
	}
	trouble := ""
	if err != nil && ctx.Err() == nil {
		trouble = err.Error()
	}
	if trouble != w.trouble {
		if w.trouble = trouble; trouble != "" {
			w.opt.Log.Warn("the folder of tables cannot be read; it is tried again", "why", err)
		} else {
			w.opt.Log.Info("the folder of tables can be read again")
		}
	}
	return first
}

// see compares a file with the last look, and reads it if it has come to rest.
func (w *Watch) see(ctx context.Context, name string, info fs.FileInfo) error {
	x := w.known[name]
	if x == nil {
		x = &sight{size: -1}
		saved, err := w.load(ctx, name)
		if err != nil {
			return err
		}
		x.saved = saved
		w.known[name] = x
		if saved != nil && saved.Size == info.Size() && saved.Mod == info.ModTime().UnixNano() {
			x.size, x.mod, x.done, x.tail = info.Size(), info.ModTime(), true, saved.Bytes < saved.Size
		}
	}
	if x.size != info.Size() || !x.mod.Equal(info.ModTime()) {
		x.size, x.mod, x.same, x.done, x.tail = info.Size(), info.ModTime(), 0, false, false
		return nil
	}
	if x.done && !x.tail {
		return nil
	}
	x.same++
	quiet := x.same >= w.opt.Quiet
	if x.done && !quiet || x.same < w.opt.Settled {
		return nil
	}
	err := w.read(ctx, name, x, quiet)
	if bad, ok := errors.AsType[*tableError](err); ok {
		// A half-written last line is no reason to complain before the file is quiet.
		x.done, x.tail = !bad.passing, bad.halfWritten
		w.report(name, File{Place: bad.place}, bad.reason)
		return nil
	} else if err != nil && !errors.Is(err, errMoved) {
		return err
	}
	return nil
}

// report notes that a file cannot be read, and logs it once for each reason.
func (w *Watch) report(name string, f File, reason string) {
	f.Path, f.At, f.Problem = name, w.opt.Now(), reason
	w.mu.Lock()
	was := w.files[name].Problem
	w.files[name] = f
	w.mu.Unlock()
	if was != reason {
		w.opt.Log.Warn("a table was left alone", "file", name, "why", reason)
	}
}
