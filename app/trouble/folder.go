package trouble

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"underlamp/safefolder"
	"underlamp/store"
)

// A Beside keeps cases in a file beside the bench file, for who has no store.
type Beside struct {
	Folder *safefolder.Folder
	File   string // its name in the folder
}

// BesideName is the name of the file of a bench file.
func BesideName(bench string) string {
	return strings.TrimSuffix(strings.TrimSuffix(bench, ".yaml"), ".yml") + ".trouble.json"
}

// besideFile is what stands in the file.
type besideFile struct {
	Version int               `json:"underlamp troubles"`
	Cases   []json.RawMessage `json:"cases"`
}

func (b *Beside) read(text []byte) (besideFile, error) {
	f := besideFile{Version: caseVersion}
	if text == nil {
		return f, nil
	}
	if err := json.Unmarshal(text, &f); err != nil || f.Version != caseVersion {
		return f, errors.Join(fmt.Errorf("%s holds no cases of trouble that this program can read; move it away", b.File), err)
	}
	return f, nil
}

// Documents are the cases of the file.
func (b *Beside) Documents(_ context.Context, kind string) ([]store.Document, error) {
	text, err := fs.ReadFile(b.Folder, b.File)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	f, err := b.read(text)
	if err != nil {
		return nil, err
	}
	var out []store.Document
	for _, raw := range f.Cases {
		var c bytes.Buffer
		if err := json.Compact(&c, raw); err != nil {
			return nil, err
		}
		x, err := ReadCase(raw)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", b.File, err)
		}
		out = append(out, store.Document{Kind: kind, Name: x.Bench + "/" + x.ID, Text: c.Bytes()})
	}
	return out, nil
}

// Document finds a case.
func (b *Beside) Document(ctx context.Context, kind, name string) (store.Document, error) {
	all, err := b.Documents(ctx, kind)
	if err != nil {
		return store.Document{}, err
	}
	if i := slices.IndexFunc(all, func(d store.Document) bool { return d.Name == name }); i >= 0 {
		return all[i], nil
	}
	return store.Document{}, fmt.Errorf("%s %q: %w", kind, name, store.ErrNotFound)
}

// SwapDocument enters a case in place of one whose text is known; nil: of none.
func (b *Beside) SwapDocument(_ context.Context, d store.Document, was []byte) error {
	return b.Folder.Change(b.File, func(text []byte) ([]byte, error) {
		f, err := b.read(text)
		if err != nil {
			return nil, err
		}
		at := -1
		for i, raw := range f.Cases {
			if x, err := ReadCase(raw); err == nil && x.Bench+"/"+x.ID == d.Name {
				at = i
			}
		}
		switch {
		case at < 0 && was != nil, at >= 0 && was == nil:
			return nil, store.ErrDiffers
		case at < 0:
			f.Cases = append(f.Cases, d.Text)
		default:
			var now bytes.Buffer
			if err := json.Compact(&now, f.Cases[at]); err != nil || !bytes.Equal(now.Bytes(), was) {
				return nil, errors.Join(store.ErrDiffers, err)
			}
			f.Cases[at] = d.Text
		}
		out, err := json.MarshalIndent(f, "", "  ")
		return append(out, '\n'), err
	})
}
