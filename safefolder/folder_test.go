package safefolder_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"underlamp/safefolder"
)

func add(line string) func([]byte) ([]byte, error) {
	return func(was []byte) ([]byte, error) { return append(bytes.Clone(was), line+"\n"...), nil }
}

// Many who each set a line at the end lose none, through one Folder and through several.
func TestNothingIsLost(t *testing.T) {
	dir := t.TempDir()
	shared := safefolder.New(dir)
	const each = 12
	var all sync.WaitGroup
	for k := range 6 {
		f := shared
		if k%2 == 1 {
			f = safefolder.New(dir)
		}
		all.Go(func() {
			for i := range each {
				if err := f.Change("a.csv", add(fmt.Sprintf("%d-%d", k, i))); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	text, err := os.ReadFile(filepath.Join(dir, "a.csv"))
	if err != nil || strings.Count(string(text), "\n") != 6*each {
		t.Errorf("%d lines of %d, %v", strings.Count(string(text), "\n"), 6*each, err)
	}
	left, err := filepath.Glob(filepath.Join(dir, ".*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// What an editor writes between reading and replacing stays, and the change is made on top
// of it.
func TestChangedByHand(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.csv")
	hand := func(text string) {
		if err := os.WriteFile(name, []byte(text), 0o640); err != nil {
			t.Fatal(err)
		}
	}
	hand("first\n")
	f := safefolder.New(dir)
	asked := 0
	err := f.Change("a.csv", func(was []byte) ([]byte, error) {
		if asked++; asked == 1 {
			hand("by hand\n")
		}
		return append(bytes.Clone(was), "ours\n"...), nil
	})
	text, _ := os.ReadFile(name)
	if err != nil || asked != 2 || string(text) != "by hand\nours\n" {
		t.Errorf("asked %d times, %q, %v", asked, text, err)
	}
	if info, err := os.Stat(name); err != nil || info.Mode().Perm() != 0o640 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	n := 0
	err = f.Change("a.csv", func([]byte) ([]byte, error) {
		n++
		hand(fmt.Sprint("again ", n))
		return []byte("ours"), nil
	})
	if text, _ := os.ReadFile(name); !errors.Is(err, safefolder.ErrBusy) || !strings.HasPrefix(string(text), "again") {
		t.Errorf("%q, %v", text, err)
	}
}

// Nothing outside of the folder is reached, and an error leaves all as it was.
func TestBounds(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in")
	if err := os.Mkdir(in, 0o755); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out.csv")
	if err := os.WriteFile(out, []byte("theirs"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(out, filepath.Join(in, "link.csv")); err != nil {
		t.Skip(err)
	}
	f := safefolder.New(in)
	for _, name := range []string{"../out.csv", "/etc/x", "link.csv", ".", "", "a/../../out.csv", "none/a.csv"} {
		if err := f.Change(name, add("ours")); err == nil {
			t.Errorf("%q was written", name)
		}
	}
	if text, _ := os.ReadFile(out); string(text) != "theirs" {
		t.Errorf("outside: %q", text)
	}
	if err := f.Change("a.csv", func([]byte) ([]byte, error) { return make([]byte, safefolder.MostBytes+1), nil }); err == nil {
		t.Error("a file beyond the bound was written")
	}
	if err := f.Change("a.csv", func([]byte) ([]byte, error) { return []byte("x"), errors.New("no") }); err == nil {
		t.Error("an error was lost")
	}
	if _, err := os.Stat(filepath.Join(in, "a.csv")); err == nil {
		t.Error("something was written")
	}
	if err := safefolder.New(filepath.Join(dir, "nowhere")).Change("a.csv", add("x")); err == nil {
		t.Error("a folder that is not there was written to")
	}
}

// Another program waits for its turn; one that is killed holds nobody up.
func TestTwoPrograms(t *testing.T) {
	dir := os.Getenv("SAFEFOLDER_TEST")
	if dir != "" {
		for i := range 20 {
			if err := safefolder.New(dir).Change("a.csv", add(fmt.Sprint("child ", i))); err != nil {
				t.Fatal(err)
			}
		}
		return
	}
	dir = t.TempDir()
	var children []*exec.Cmd
	for range 2 {
		c := exec.Command(os.Args[0], "-test.run=^TestTwoPrograms$")
		c.Env = append(os.Environ(), "SAFEFOLDER_TEST="+dir)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		children = append(children, c)
	}
	for i := range 20 {
		if err := safefolder.New(dir).Change("a.csv", add(fmt.Sprint("own ", i))); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range children {
		if err := c.Wait(); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "a.csv"))
	if n := strings.Count(string(text), "\n"); err != nil || n != 60 {
		t.Errorf("%d lines of 60, %v", n, err)
	}
}
