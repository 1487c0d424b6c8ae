package photo

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"underlamp/formats/photofile"
	"underlamp/store"
)

// A Mark is what is kept of a file that was gone through, so that it is not gone through again.
type Mark struct {
	File     string `json:"file"` // path within the folder
	Size     int64  `json:"size"`
	Modified int64  `json:"modified_ns"`
	Method   string `json:"method"`
}

// A Result is what became of a file.
type Result struct {
	Mark
	Finding *Finding             // nil: it is no photo
	Problem string               // why it is none
	Again   bool                 // the same bytes are known from another file
	Made    []store.NamedPicture // pictures made of it
	Data    []byte               // its bytes; nil with Problem
}

// A FolderJob goes through the photos of a folder, one at a time, so that memory does not
// grow with their number.
type FolderJob struct {
	Folder fs.FS
	Done   func(m Mark) bool                                                           // it was gone through already
	Look   func(data []byte, info fs.FileInfo) (*Finding, []store.NamedPicture, error) // reads one photo
	Keep   func(ctx context.Context, r Result) error                                   // keeps what became of it; it is asked again if it was stopped before
	Tell   func(p Progress)                                                            // after every file; nil: nobody asks
	Every  time.Duration                                                               // between two looks of a watch; 0: 5 s
}

// Progress is how far a folder is.
type Progress struct {
	Done, Of int // files gone through in this run, and to be gone through
	Skipped  int // that were gone through before
	Last     Result
	Took     time.Duration // since the run began
}

// Left is how long the rest will take at the pace so far.
func (p Progress) Left() time.Duration {
	if p.Done == 0 {
		return 0
	}
	return time.Duration(float64(p.Took) / float64(p.Done) * float64(p.Of-p.Done))
}

// Bounds of a folder.
const (
	mostFiles = 200_000
	mostDepth = 8
)

// isPhoto says that a file may be a photo, by its name. HEIC is one, to be told of.
func isPhoto(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".avif":
		return !strings.HasPrefix(path.Base(name), ".")
	}
	return false
}

// list finds the photos of the folder, by name.
func (j *FolderJob) list(ctx context.Context) ([]Mark, error) {
	var out []Mark
	err := fs.WalkDir(j.Folder, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && name == ".":
			return err
		case err != nil:
			return nil // a folder that cannot be read is left out
		case d.IsDir() && (strings.HasPrefix(d.Name(), ".") && name != "." || strings.Count(name, "/") >= mostDepth):
			return fs.SkipDir
		case d.IsDir() || !isPhoto(name):
			return nil
		}
		info, err := d.Info()
		if err != nil || !info.Mode().IsRegular() {
			return nil
		}
		if len(out) == mostFiles {
			return fmt.Errorf("the folder has more than %d photos; go through its folders one by one", mostFiles)
		}
		out = append(out, Mark{File: name, Size: info.Size(), Modified: info.ModTime().UnixNano(), Method: Method})
		return nil
	})
	return out, err
}

// Run goes through the folder once. It can be stopped at any time and takes up again.
func (j *FolderJob) Run(ctx context.Context) error {
	all, err := j.list(ctx)
	if err != nil {
		return err
	}
	n := len(all)
	all = slices.DeleteFunc(all, j.Done)
	p := Progress{Of: len(all), Skipped: n - len(all)}
	return j.through(ctx, all, &p)
}

func (j *FolderJob) through(ctx context.Context, all []Mark, p *Progress) error {
	begin := time.Now()
	for _, m := range all {
		if err := ctx.Err(); err != nil {
			return err
		}
		r, err := j.one(m)
		if err != nil {
			return err
		}
		if err := j.Keep(ctx, r); err != nil {
			return err
		}
		r.Data, r.Made = nil, nil
		p.Done, p.Last, p.Took = p.Done+1, r, time.Since(begin)
		if j.Tell != nil {
			j.Tell(*p)
		}
	}
	return nil
}

func (j *FolderJob) one(m Mark) (Result, error) {
	r := Result{Mark: m}
	if m.Size > photofile.MaxBytes {
		r.Problem = fmt.Sprintf("the picture has %d MB; at most %d MB are taken", m.Size>>20, photofile.MaxBytes>>20)
		return r, nil
	}
	info, err := fs.Stat(j.Folder, m.File)
	if err != nil {
		r.Problem = fmt.Sprintf("the file cannot be read: %v", err)
		return r, nil
	}
	data, err := fs.ReadFile(j.Folder, m.File)
	if err != nil {
		r.Problem = fmt.Sprintf("the file cannot be read: %v", err)
		return r, nil
	}
	r.Finding, r.Made, err = j.Look(data, info)
	if err != nil {
		r.Problem = err.Error()
		return r, nil
	}
	r.Data = data
	return r, nil
}

// Watch goes through what is new in the folder again and again until ctx is done. A file is
// taken when it has stayed the same from one look to the next: a camera may still be writing it.
func (j *FolderJob) Watch(ctx context.Context) error {
	every := j.Every
	if every == 0 {
		every = 5 * time.Second
	}
	before := map[string]Mark{}
	var p Progress
	for {
		all, err := j.list(ctx)
		if err != nil && ctx.Err() == nil {
			return err
		}
		now := map[string]Mark{}
		var settled []Mark
		for _, m := range all {
			if j.Done(m) {
				continue
			}
			now[m.File] = m
			if before[m.File] == m {
				settled = append(settled, m)
			}
		}
		before = now
		p.Of = p.Done + len(settled)
		if err := j.through(ctx, settled, &p); err != nil {
			if errors.Is(err, context.Canceled) {
				return nil
			}
			return err
		}
		select {
		case <-time.After(every):
		case <-ctx.Done():
			return nil
		}
	}
}

// A line of the list that a run without a store keeps: a file and what became of it.
type line struct {
	Mark
	Problem string   `json:"problem,omitempty"`
	Finding *Finding `json:"finding,omitempty"`
}

// LineOf is the line of a result in the list of a folder.
func LineOf(r Result) ([]byte, error) {
	b, err := json.Marshal(line{r.Mark, r.Problem, r.Finding})
	return append(b, '\n'), err
}

// mostLine bounds a line of the list.
const mostLine = mostDoc

// ReadLines goes through a list, calling each with one result. The last line may be broken
// off, by a run that was killed; it is left out. It returns how many bytes are whole lines.
func ReadLines(r interface{ Read([]byte) (int, error) }, each func(r Result)) (whole int64, err error) {
	in := bufio.NewReaderSize(r, 1<<16)
	for n := 1; ; n++ {
		var text []byte
		for {
			part, err := in.ReadSlice('\n')
			text = append(text, part...)
			if len(text) > mostLine {
				return whole, fmt.Errorf("line %d of the list is longer than %d MB", n, mostLine>>20)
			}
			if err == bufio.ErrBufferFull {
				continue
			}
			if err != nil { // the end, or a line without its own
				return whole, nil
			}
			break
		}
		var l line
		if err := json.Unmarshal(text, &l); err != nil || l.File == "" {
			return whole, fmt.Errorf("line %d of the list is none that underlamp photos writes; name another folder with -o", n)
		}
		if l.Finding != nil { // through the reader that checks it
			doc, err := l.Finding.JSON()
			if err == nil {
				l.Finding, err = ReadFinding(doc)
			}
			if err != nil {
				return whole, fmt.Errorf("line %d of the list: %w", n, err)
			}
		}
		whole += int64(len(text))
		each(Result{Mark: l.Mark, Problem: l.Problem, Finding: l.Finding})
	}
}
