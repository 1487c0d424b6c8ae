package safefolder_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"underlamp/safefolder"
)

func openFolder(t *testing.T) (*safefolder.Folder, string) {
	t.Helper()
	dir := t.TempDir()
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f, dir
}

// A file is never written over by one who has not seen it as it is, and nothing is left
// beside it.
func TestPlace(t *testing.T) {
	f, dir := openFolder(t)
	if err := f.Put("a/b.yaml", []byte("one")); err != nil {
		t.Fatal(err)
	}
	if err := f.Put("a/b.yaml", []byte("two")); !errors.Is(err, safefolder.ErrThere) {
		t.Errorf("over a file: %v", err)
	}
	p, err := f.Prepare("a/b.yaml", []byte("three"), []byte("one"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "a", "b.yaml"), []byte("by hand"), 0o644); err != nil {
		t.Fatal(err)
	}
	var changed *safefolder.ChangedError
	if err := p.Place(); !errors.As(err, &changed) || string(changed.Text) != "by hand" {
		t.Errorf("over a file that was changed by hand: %v", err)
	}
	p.Drop()
	if entries, err := os.ReadDir(filepath.Join(dir, "a")); err != nil || len(entries) != 1 {
		t.Errorf("left: %v, %v", entries, err)
	}
	for _, out := range []string{"../x", "/etc/x", "a/../../x"} {
		if err := f.Put(out, []byte("x")); err == nil {
			t.Errorf("%s was written", out)
		}
	}
	if err := os.Symlink("/etc", filepath.Join(dir, "away")); err == nil {
		if err := f.Put("away/x", []byte("x")); err == nil {
			t.Error("a link led out of the folder")
		}
	}
}

// Of many who make the same file one does, and the others are told.
func TestPutTogether(t *testing.T) {
	f, dir := openFolder(t)
	var made atomic.Int32
	var wg sync.WaitGroup
	for i := range 16 {
		wg.Go(func() {
			switch err := f.Put("x", []byte(strings.Repeat(string(rune('a'+i)), 1000))); {
			case err == nil:
				made.Add(1)
			case !errors.Is(err, safefolder.ErrThere):
				t.Error(err)
			}
		})
	}
	wg.Wait()
	text, err := os.ReadFile(filepath.Join(dir, "x"))
	if err != nil || made.Load() != 1 || len(text) != 1000 || strings.Trim(string(text), string(text[0])) != "" {
		t.Errorf("%d made it; %d bytes, %v", made.Load(), len(text), err)
	}
}
