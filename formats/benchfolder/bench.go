package benchfolder

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"underlamp"
	"underlamp/formats/benchfile"
)

// Bench reads the bench of a name, with or without the ending of its file, and opens what
// it names.
func Bench(folder fs.FS, name string) (*underlamp.Bench, error) {
	if !fs.ValidPath(name) || strings.Contains(name, "/") {
		return nil, fmt.Errorf("%q is no name of a bench", name)
	}
	for _, file := range []string{name, name + ".yaml", name + ".yml"} {
		if !IsYAML(file) {
			continue
		}
		f, err := folder.Open(file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		} else if err != nil {
			return nil, fmt.Errorf("the bench cannot be read: %w", err)
		}
		bench, problems, err := benchfile.ReadWith(f, Files(folder))
		f.Close()
		if err == nil && bench == nil {
			err = problems
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		return bench, nil
	}
	return nil, fmt.Errorf("there is no bench called %q: %w", name, fs.ErrNotExist)
}
