package cli

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A fileKind is what people write a file for.
type fileKind struct {
	head    string // the key that its version stands behind
	article string // "a trial file"
	command string // what reads it
}

// kinds are all files that people write.
var kinds = []fileKind{
	{"underlamp", "a bench file", "underlamp light"},
	{"underlamp cycle", "a cycle file", "underlamp learn BENCH-FILE"},
	{"underlamp trial", "a trial file", "underlamp trial findings"},
	{"underlamp feed", "a feed file", "underlamp feed mix"},
	{"underlamp profile", "a profile", "crop: {profile: …} of a bench file names it"},
	{"underlamp watch", "a watch file", "underlamp watch BENCH --store STORE --rules"},
	{"underlamp notify", "a description of who is told", "underlamp notify"},
	{"underlamp act", "a description of acting", "underlamp act check"},
	{"underlamp evidence", "a table of evidence", "underlamp trouble BENCH-FILE --evidence"},
}

// kindOf tells what a file was written for, by the key of its version within its first
// lines.
func kindOf(text []byte) (fileKind, bool) {
	lines := bufio.NewScanner(strings.NewReader(string(text[:min(len(text), 4096)])))
	for lines.Scan() {
		key, _, found := strings.Cut(strings.TrimPrefix(lines.Text(), "\ufeff"), ":")
		if !found {
			continue
		}
		if i := slices.IndexFunc(kinds, func(k fileKind) bool { return k.head == strings.Trim(key, `"' `) }); i >= 0 {
			return kinds[i], true
		}
	}
	return fileKind{}, false
}

// otherKind says which command wants a file that is of another kind than asked; nil if
// it is of that kind, or of none that is known. Photometric files are known by their
// first bytes.
func otherKind(name string, text []byte, want string) error {
	k, ok := kindOf(text)
	switch {
	case ok && k.head != want && strings.HasPrefix(k.command, "underlamp"):
		return wrongf("%s is %s: %s %s", name, k.article, k.command, name)
	case ok && k.head != want:
		return wrongf("%s is %s: %s", name, k.article, k.command)
	case strings.HasPrefix(string(text[:min(len(text), 5)]), "IESNA"):
		return wrongf("%s is a photometric file: underlamp lamp %s", name, name)
	}
	return nil
}

// filesOf are the files of a kind in a folder.
func filesOf(folder, head string) []string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if e.IsDir() || !slices.Contains([]string{".yaml", ".yml"}, filepath.Ext(e.Name())) {
			continue
		}
		f, err := os.Open(filepath.Join(folder, e.Name()))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(io.LimitReader(f, 4096))
		f.Close()
		if k, ok := kindOf(text); err == nil && ok && k.head == head {
			out = append(out, e.Name())
		}
	}
	return out
}

// nameIn is the name that a file gives itself, for completion; empty if it gives none.
func nameIn(file string) string {
	f, err := os.Open(file)
	if err != nil {
		return ""
	}
	defer f.Close()
	lines := bufio.NewScanner(io.LimitReader(f, 4096))
	for lines.Scan() {
		if v, ok := strings.CutPrefix(lines.Text(), "name:"); ok {
			return strings.Trim(strings.TrimSpace(v), `"'`)
		}
	}
	return ""
}

// called is a name as completion shows it: with what it is behind a tab.
func called(name, about string) string {
	if about == "" {
		return name
	}
	return fmt.Sprintf("%s\t%s", name, about)
}
