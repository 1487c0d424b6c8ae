package web

import (
	"cmp"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/quantity"
)

// heights keeps the light of a bench at the lamp heights that were asked last: turning
// dimming and hours alone, or going back, then costs next to nothing.
type heights struct {
	mu   sync.Mutex
	kept []*hung // asked last first

	wanted  atomic.Pointer[underlamp.Setting] // about which to look ahead
	looking atomic.Bool
	longest time.Duration // for one height ahead; 0 means longestAhead
}

// hung are the lamps of a bench at one height.
type hung struct {
	height quantity.Metre
	once   sync.Once
	lit    *light.Lit
	err    error
}

// What heights keep and look ahead for.
const (
	mostHeights  = 12
	mostNumbers  = 2 << 20                // of all heights together: 16 MB
	heightStep   = 0.5                    // of the slider, in the unit that is shown
	longestAhead = 500 * time.Millisecond // for one height; where it takes longer the machine is left alone
)

// mostKept is how many heights of a bench are kept.
func mostKept(b *underlamp.Bench) int {
	const samples = 7 // of a plant
	each := len(b.Lamps) * (samples*len(b.Plants) + mapColumns*mapColumns)
	return min(max(1, mostNumbers/max(each, 1)), mostHeights)
}

// at returns the light of a model with the lamps at a height.
func (h *heights) at(m *light.Model, height quantity.Metre, most int) (*light.Lit, error) {
	h.mu.Lock()
	i := h.find(height)
	if i < 0 {
		h.kept, i = append(h.kept, &hung{height: height}), len(h.kept)
	}
	x := h.kept[i]
	h.kept = slices.Insert(slices.Delete(h.kept, i, i+1), 0, x)
	if len(h.kept) > most {
		h.kept = slices.Delete(h.kept, most, len(h.kept))
	}
	h.mu.Unlock()
	x.once.Do(func() { x.lit, x.err = m.At(height) })
	return x.lit, x.err
}

// find is the place of a height, or -1. The caller holds the lock.
func (h *heights) find(height quantity.Metre) int {
	return slices.IndexFunc(h.kept, func(x *hung) bool { return x.height == height })
}

// has says whether the light at a height is kept.
func (h *heights) has(height quantity.Metre) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.find(height) >= 0
}

// at returns the light with the lamps at the height of a setting.
func (e *entry) at(s underlamp.Setting) (*light.Lit, error) {
	return e.heights.at(e.model, s.Height, mostKept(e.bench))
}

// lookAhead computes in the background the light one step of the slider above and below a
// setting, where a person who moves the lamps step by step asks next. A newer setting takes
// the place of an older.
func (e *entry) lookAhead(s underlamp.Setting) {
	if mostKept(e.bench) < 4 {
		return // its neighbours would drive out what is asked
	}
	e.heights.wanted.Store(&s)
	if !e.heights.looking.CompareAndSwap(false, true) {
		return
	}
	go func() {
		defer func() {
			_ = recover() // what fails here fails again, and is told, when somebody asks for it
			e.heights.looking.Store(false)
		}()
		for s := e.heights.wanted.Swap(nil); s != nil; s = e.heights.wanted.Swap(nil) {
			for _, next := range e.neighbours(*s) {
				if e.heights.wanted.Load() != nil {
					break
				}
				if e.heights.has(next.Height) {
					continue
				}
				began := time.Now()
				if _, err := e.lightHTML(&next); err != nil || time.Since(began) > cmp.Or(e.heights.longest, longestAhead) {
					return
				}
			}
		}
	}()
}

// neighbours are a setting with the lamps one step of the slider higher and lower, as far
// as the slider goes.
func (e *entry) neighbours(s underlamp.Setting) []underlamp.Setting {
	_, per := quantity.Length.Shown(e.bench.Units)
	low, high := heightRange(e.bench)
	var out []underlamp.Setting
	for _, step := range []float64{heightStep, -heightStep} {
		shown := math.Round((float64(s.Height)*per+step)*100) / 100 // as the slider sends it
		if v := quantity.Metre(shown / per); v >= low && v <= high {
			next := s
			next.Height = v
			out = append(out, next)
		}
	}
	return out
}

// heightRange is how far the slider of the lamp height goes.
func heightRange(b *underlamp.Bench) (low, high quantity.Metre) {
	return min(0.05, b.Setting().Height), b.Space.Height
}
