package live

import (
	"context"
	"errors"

	"underlamp/store"
)

// Acknowledge notes that somebody knows of a message, and who. One that is not there
// gives [store.ErrNotFound].
func (e *Engine) Acknowledge(ctx context.Context, id int64, by string) error {
	if by == "" {
		return errors.New("somebody must know of it: a name is missing")
	}
	return e.keep.Acknowledge(ctx, id, by, store.At(e.opt.Now()))
}
