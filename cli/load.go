package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/handwritten"
)

// maxInput bounds what is read of a file; the reader of bench files refuses well below it, with a sentence.
const maxInput = 2 << 20

// load reads a bench file ("-" is standard input) and shows every problem in it
// on standard error. A file with errors gives a wrongError.
func load(w World, name string) (*underlamp.Bench, error) {
	b, _, err := loadWhole(w, name)
	return b, err
}

// loadWhole is load with the problems.
func loadWhole(w World, name string) (*underlamp.Bench, handwritten.Problems, error) {
	source, err := readInput(w, name)
	if err != nil {
		return nil, nil, err
	}
	var files benchfile.Files // a bench from standard input has no folder
	if name != "-" {
		files = benchfolder.Files(os.DirFS(filepath.Dir(name)))
	}
	if err := otherKind(name, source, "underlamp"); err != nil {
		return nil, nil, err
	}
	bench, problems, err := benchfile.ReadWith(bytes.NewReader(source), files)
	if err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	if len(problems) > 0 {
		fmt.Fprint(w.Err, problems.Render(name, source, w.colour()))
	}
	if problems.HasErrors() {
		return nil, problems, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	}
	return bench, problems, nil
}

func readInput(w World, name string) ([]byte, error) {
	if name == "-" {
		source, err := io.ReadAll(io.LimitReader(w.In, maxInput))
		if err != nil {
			return nil, fmt.Errorf("standard input cannot be read: %w", err)
		}
		return source, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the bench file cannot be opened: %w; underlamp new writes one", err)}
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, &wrongError{err: fmt.Errorf("%s is a folder; name one bench file in it (underlamp serve shows a whole folder)", name)}
	}
	source, err := io.ReadAll(io.LimitReader(f, maxInput))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	return source, nil
}

// loadModel reads a bench and prepares its light.
func loadModel(w World, name string) (*light.Model, error) {
	return loadModelWith(w, name, light.Options{})
}

// loadModelWith is loadModel with choices.
func loadModelWith(w World, name string, opt light.Options) (*light.Model, error) {
	bench, err := load(w, name)
	if err != nil {
		return nil, err
	}
	m, err := light.NewModelWith(bench, opt)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	return m, nil
}

// loadOutlook reads a bench and prepares its outlook.
func loadOutlook(w World, name string) (*outlook.Outlook, *light.Model, error) {
	m, err := loadModel(w, name)
	if err != nil {
		return nil, nil, err
	}
	o, err := outlook.New(m, 0)
	var refused *outlook.NotSupported
	if errors.As(err, &refused) {
		return nil, nil, err // nothing is wrong with the file
	}
	if err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	return o, m, nil
}
