package trialbook

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/benchfolder"
	"underlamp/formats/handwritten"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
)

// A Place is where the files of trials lie: a folder of this machine
// (underlamp/safefolder) or a store (underlamp/app/kept).
type Place interface {
	fs.FS
	// Change hands the bytes of a file to edit (nil if there is none) and keeps what it
	// returns in their place, lasting before it returns. Nothing is written if edit
	// returns nil or an error. If somebody else writes meanwhile, edit is asked again
	// about what is there then.
	Change(name string, edit func(was []byte) ([]byte, error)) error
}

// MostBytes is the size of the largest file that is read here.
const MostBytes = 16 << 20

// A Page is a trial as it stands: its plan and what was seen.
type Page struct {
	File  string // of the plan
	Trial *underlamp.Trial
	All   []underlamp.TrialEntry // of the table, corrected ones too; nil if there is no table

	Source   []byte               // of the plan
	Problems handwritten.Problems // what the plan was read with; no errors

	guards map[plantOf]string     // that are known by [Page.Stand]
	Bench  func(*underlamp.Bench) // what is set for those who look, put upon the bench of the findings; may be nil
}

type plantOf struct{ unit, plant string }

// Standing are the entries that count.
func (p *Page) Standing() []underlamp.TrialEntry { return trialtable.Standing(p.All) }

// A BrokenError is a plan with mistakes.
type BrokenError struct {
	File     string
	Source   []byte
	Problems handwritten.Problems
}

// Error says what is wrong, with line and column.
func (e *BrokenError) Error() string { return e.Problems.Render(e.File, e.Source, false) }

// A TableError is a table that cannot be read.
type TableError struct {
	File string
	Err  error
}

// Error names the table and what is wrong with it.
func (e *TableError) Error() string { return e.File + ": " + e.Err.Error() }

// Unwrap is what is wrong with the table.
func (e *TableError) Unwrap() error { return e.Err }

// ErrNoTable says that a plan names no table beside it.
var ErrNoTable = errors.New("the plan names no table; write table: mine.trial.csv into it")

// Files are the names of the plans in a folder, in order.
func Files(folder fs.FS) ([]string, error) {
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be read: %w", err)
	}
	var out []string
	for _, e := range entries {
		if !e.IsDir() && benchfolder.IsYAML(e.Name()) && benchfolder.KindOf(folder, e.Name()) == benchfolder.TrialFile {
			out = append(out, e.Name())
		}
	}
	return out, nil
}

// Open reads a trial: its plan, and the table if there is one. Errors are a
// [*BrokenError], a [*TableError] (the page is there, without entries), or those of the
// folder.
func Open(folder fs.FS, file string) (*Page, error) {
	source, err := readFile(folder, file)
	if err != nil {
		return nil, err
	}
	t, problems, err := trialfile.Read(bytes.NewReader(source))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if t == nil {
		return nil, &BrokenError{file, source, problems}
	}
	p := &Page{File: file, Trial: t, Source: source, Problems: problems}
	table, err := p.table()
	if err != nil {
		return p, nil // a plan alone is a trial too
	}
	raw, err := readFile(folder, table)
	if errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	if err != nil {
		return p, &TableError{table, err}
	}
	if p.All, err = trialtable.Read(raw); err != nil {
		return p, &TableError{table, err}
	}
	return p, nil
}

// table is the name of the table in the folder.
func (p *Page) table() (string, error) {
	if p.Trial.Table == "" {
		return "", ErrNoTable
	}
	name := path.Join(path.Dir(p.File), p.Trial.Table)
	if !fs.ValidPath(name) {
		return "", ErrNoTable
	}
	return name, nil
}

func readFile(folder fs.FS, name string) ([]byte, error) {
	f, err := folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, MostBytes+1))
	if err == nil && len(text) > MostBytes {
		err = fmt.Errorf("%s is larger than %d MiB", name, MostBytes>>20)
	}
	return text, err
}

// extend sets entries at the end of the table of a trial. entries is asked with what the
// table holds at the moment of writing; if it returns none, nothing is written.
func (p *Page) extend(place Place, entries func(all []underlamp.TrialEntry) ([]underlamp.TrialEntry, error)) error {
	table, err := p.table()
	if err != nil {
		return err
	}
	return place.Change(table, func(was []byte) ([]byte, error) {
		p.All = nil
		if was != nil {
			var err error
			if p.All, err = trialtable.Read(was); err != nil {
				return nil, &TableError{table, err}
			}
		}
		added, err := entries(p.All)
		if err != nil || len(added) == 0 {
			return nil, err
		}
		text, err := trialtable.Extend(was, added)
		if err != nil {
			return nil, &TableError{table, err}
		}
		if p.All, err = trialtable.Read(text); err != nil {
			return nil, &TableError{table, err}
		}
		return text, nil
	})
}

// KnownUnit is nil if the trial has a unit of this name.
func KnownUnit(t *underlamp.Trial, unit string) error {
	if slices.ContainsFunc(t.Places, func(u underlamp.TrialUnit) bool { return u.Name == unit }) {
		return nil
	}
	var names []string
	for _, u := range t.Places[:min(8, len(t.Places))] {
		names = append(names, u.Name)
	}
	if more := len(t.Places) - len(names); more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	return fmt.Errorf("the trial has no unit %q; it has %s", unit, strings.Join(names, ", "))
}
