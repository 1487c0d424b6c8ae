package kept

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"underlamp/store"
)

// A Place is the benches of a store as a folder whose other files can be changed.
type Place struct {
	fs.FS
	ctx context.Context
	s   Store
	now func() time.Time
}

// NewPlace is a store as [Folder] shows it, with Change. Its calls ask the store with ctx.
func NewPlace(ctx context.Context, s Store, now func() time.Time) *Place {
	return &Place{FS: Folder(ctx, s, now), ctx: ctx, s: s, now: now}
}

// swaps is how often a change is begun anew when somebody else was faster.
const swaps = 20

// Change hands the bytes of a file beside the benches to edit (nil if there is none) and
// keeps what it returns in their place, lasting before it returns. Nothing is written if
// edit returns nil or an error. If somebody else writes meanwhile, edit is asked again.
func (p *Place) Change(name string, edit func(was []byte) ([]byte, error)) error {
	if !fs.ValidPath(name) || name == "." {
		return fmt.Errorf("%q is no name of a file", name)
	}
	for range swaps {
		d, err := p.s.Document(p.ctx, KindFile, name)
		was := d.Text
		switch {
		case errors.Is(err, store.ErrNotFound):
			was = nil
		case err != nil:
			return fmt.Errorf("%s cannot be read: %w", name, err)
		case was == nil:
			was = []byte{}
		}
		text, err := edit(was)
		if err != nil || text == nil {
			return err
		}
		if len(text) > MostBytes {
			return fmt.Errorf("%s would be larger than %d MiB", name, MostBytes>>20)
		}
		err = p.s.SwapDocument(p.ctx, store.Document{Kind: KindFile, Name: name, Recorded: store.At(p.now()), Text: text}, was)
		if err == nil || !errors.Is(err, store.ErrDiffers) {
			return err
		}
	}
	return fmt.Errorf("%s: somebody else is writing to it all the time", name)
}

// Remove takes a file beside the benches away; one that is not there gives [fs.ErrNotExist].
func (p *Place) Remove(name string) error {
	err := p.s.DropDocument(p.ctx, KindFile, name)
	if errors.Is(err, store.ErrNotFound) {
		return fmt.Errorf("%s: %w", name, fs.ErrNotExist)
	}
	return err
}
