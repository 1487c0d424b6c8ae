package benchfolder

import (
	"bufio"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/cyclefile"
	"underlamp/formats/handwritten"
)

// A Kind is what a YAML file in a folder of benches describes.
type Kind int

// The kinds. A file that says nothing else counts as a bench, so that a person hears
// what is wrong with it.
const (
	BenchFile Kind = iota
	CycleFile
	ProfileFile
	TrialFile
	FeedFile
	OtherFile // of another of the program's formats
)

// sniffed is how much of a file is looked at for its kind.
const sniffed = 8 << 10

// KindOf looks at the beginning of a file for the key that gives the version of its
// format.
func KindOf(folder fs.FS, name string) Kind {
	f, err := folder.Open(name)
	if err != nil {
		return BenchFile
	}
	defer f.Close()
	lines := bufio.NewScanner(io.LimitReader(f, sniffed))
	for lines.Scan() {
		key, _, ok := strings.Cut(strings.TrimPrefix(lines.Text(), "\ufeff"), ":")
		if !ok {
			continue
		}
		switch word := handwritten.Normal(key); {
		case word == "underlamp":
			return BenchFile
		case word == "underlamp cycle":
			return CycleFile
		case word == "underlamp profile":
			return ProfileFile
		case word == "underlamp trial":
			return TrialFile
		case word == "underlamp feed":
			return FeedFile
		case strings.HasPrefix(word, "underlamp "):
			return OtherFile
		}
	}
	return BenchFile
}

// IsYAML says by its ending that a file may be one of the kinds.
func IsYAML(name string) bool { return slices.Contains([]string{".yaml", ".yml"}, path.Ext(name)) }

// A Found is a cycle file beside a bench file.
type Found struct {
	Name     string
	Cycle    *underlamp.Cycle // nil if the file has mistakes
	Problems string           // as a person reads them; empty if there are none
}

// maxInput bounds what is read of a file; the readers refuse well below it.
const maxInput = 2 << 20

// Cycles reads the cycle files of a folder that name a bench file, in the order of
// transplanting; those with mistakes come last.
func Cycles(folder fs.FS, benchName string, bench *underlamp.Bench) ([]Found, error) {
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, fmt.Errorf("the folder cannot be read: %w", err)
	}
	var out []Found
	for _, e := range entries {
		if e.IsDir() || !IsYAML(e.Name()) || KindOf(folder, e.Name()) != CycleFile {
			continue
		}
		found, names, err := readCycle(folder, e.Name(), bench)
		if err != nil {
			return nil, err
		}
		if names == benchName {
			out = append(out, found)
		}
	}
	slices.SortStableFunc(out, func(a, b Found) int {
		day := func(f Found) string {
			if f.Cycle == nil {
				return "~"
			}
			return f.Cycle.Transplanted
		}
		return strings.Compare(day(a), day(b))
	})
	return out, nil
}

// readCycle reads a cycle file and says which bench file it names.
func readCycle(folder fs.FS, name string, bench *underlamp.Bench) (Found, string, error) {
	f, err := folder.Open(name)
	if err != nil {
		return Found{}, "", fmt.Errorf("%s cannot be opened: %w", name, err)
	}
	defer f.Close()
	source, err := io.ReadAll(io.LimitReader(f, maxInput))
	if err != nil {
		return Found{}, "", fmt.Errorf("%s cannot be read: %w", name, err)
	}
	// Which bench it names is asked first: another bench has other plants.
	names := cyclefile.BenchOf(strings.NewReader(string(source)))
	found := Found{Name: name}
	c, problems, err := cyclefile.Read(strings.NewReader(string(source)), bench)
	if err != nil {
		found.Problems = err.Error()
		return found, names, nil
	}
	if len(problems) > 0 {
		found.Problems = problems.Render(name, source, false)
	}
	found.Cycle = c
	return found, names, nil
}
