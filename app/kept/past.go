package kept

import (
	"bytes"
	"context"
	"io/fs"
	"sync"
	"time"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/store"
)

// A Was is a bench as it was until an instant.
type Was struct {
	Until time.Time
	Bench *underlamp.Bench
}

// A Past tells how benches were lately. It reads each description once.
type Past struct {
	s     store.Benches
	files fs.FS // with what descriptions name
	mu    sync.Mutex
	read  map[string]*underlamp.Bench // by text; nil: with mistakes
}

// NewPast is the past of the benches of a store.
func NewPast(s store.Benches, files fs.FS) *Past {
	return &Past{s: s, files: files, read: map[string]*underlamp.Bench{}}
}

// mostRead bounds how many descriptions are held.
const mostRead = 200

// Since are the descriptions that held at any time from an instant on, in order, without the
// one that holds now. Those with mistakes are left out: the one before stands for them.
func (p *Past) Since(ctx context.Context, bench string, from time.Time) ([]Was, error) {
	all, err := p.s.History(ctx, bench)
	if err != nil {
		return nil, err
	}
	steps, _ := Timeline(all)
	p.mu.Lock()
	defer p.mu.Unlock()
	var out []Was
	for _, x := range steps {
		if x.To == 0 || x.To <= store.At(from) || len(x.Text) == 0 {
			continue
		}
		b, known := p.read[string(x.Text)]
		if !known {
			b, _, err = benchfile.ReadWith(bytes.NewReader(x.Text), benchfolder.Files(p.files))
			if err != nil {
				b = nil
			}
			if len(p.read) >= mostRead {
				clear(p.read)
			}
			p.read[string(x.Text)] = b
		}
		switch {
		case b != nil:
			out = append(out, Was{store.Time(x.To), b})
		case len(out) > 0:
			out[len(out)-1].Until = store.Time(x.To)
		}
	}
	return out, nil
}
