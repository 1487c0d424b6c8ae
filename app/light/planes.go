package light

import (
	"math"
	"slices"
	"sync"

	"underlamp/science/lightfield"
)

// Planes are the same points at several heights, made ready for lamps at any height:
// a search or a slider asks for the light of many settings at the same places.
type planes struct {
	of []lightfield.Point

	mu   sync.Mutex
	kept map[float64]*lightfield.Places
}

// mostPlanes bounds what a model remembers.
const mostPlanes = 48

// at are the points at height z. Those at whole steps of 5 mm are kept: heights that
// follow the lamps, such as just below them, hardly come again.
func (p *planes) at(room *lightfield.Room, z float64) *lightfield.Places {
	place := func() *lightfield.Places {
		pts := slices.Clone(p.of)
		for i := range pts {
			pts[i].Z = z
		}
		return room.Places(pts)
	}
	const step = 5e-3
	if math.Abs(math.Remainder(z, step)) > 1e-9 {
		return place()
	}
	return p.keep(z, place)
}

// keep makes places once for a key.
func (p *planes) keep(key float64, place func() *lightfield.Places) *lightfield.Places {
	p.mu.Lock()
	defer p.mu.Unlock()
	at, ok := p.kept[key]
	if !ok {
		if p.kept == nil || len(p.kept) >= mostPlanes {
			p.kept = map[float64]*lightfield.Places{}
		}
		at = place()
		p.kept[key] = at
	}
	return at
}
