package evidencefile

import (
	"bytes"
	"io"
	"io/fs"
	"sync"

	"underlamp/science/diagnosis"
)

// mostFolder bounds what is read of a folder's file.
const mostFolder = 2 << 20

// A Folder is the table of evidence of a folder: the program's own, with what the folder's file
// amends. It is made anew when that file changes, and is safe for many goroutines.
type Folder struct {
	mu       sync.Mutex
	text     []byte
	model    *diagnosis.Model
	problems string
}

// Model is the model of the table. problems says why the file of the folder does not hold; empty
// if it does, or there is none.
func (f *Folder) Model(folder fs.FS) (model *diagnosis.Model, problems string, err error) {
	var text []byte
	if in, err := folder.Open(Name); err == nil {
		text, err = io.ReadAll(io.LimitReader(in, mostFolder))
		in.Close()
		if err != nil {
			return nil, "", err
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.model != nil && bytes.Equal(text, f.text) {
		return f.model, f.problems, nil
	}
	table, problem := Builtin(), ""
	if text != nil {
		own, found, err := Read(bytes.NewReader(text), table)
		if err != nil {
			problem = err.Error()
		} else if len(found) > 0 {
			problem = found.Render(Name, text, false)
		}
		if own != nil {
			table = own
		}
	}
	if model, err = diagnosis.New(table); err != nil {
		return nil, "", err
	}
	f.text, f.model, f.problems = text, model, problem
	return model, problem, nil
}
