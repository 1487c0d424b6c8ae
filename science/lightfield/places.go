package lightfield

import (
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// Places are points at which light is asked for again and again, of lamps that move
// or are changed for others. What the points see of the sides does not depend on the
// lamps: it is worked out once, when it is first needed, and kept. The light is the
// same to the last bit as at the points alone.
//
// Places serve the room they were made of and those that differ from it in
// reflectances only, as those of [Room.WithReflectance] do; of a field in any other
// room they are plain points. They may be used in parallel.
type Places struct {
	pts []Point
	of  *mat.SymDense // exchange of light in the rooms they serve

	mu    sync.Mutex
	views map[part]*mat.Dense // by node or point, and patch
	kept  int                 // numbers in them
}

// A part of places is a run of points that share a lattice, or of such as do not.
type part struct {
	from int
	most class
}

// mostKept bounds the numbers that places keep; what is beyond is worked out again
// each time.
const mostKept = 1 << 19 // 4 MB

// Places makes points of the room ready to be asked again and again.
func (r *Room) Places(pts []Point) *Places {
	return &Places{pts: slices.Clone(pts), of: r.exchange, views: map[part]*mat.Dense{}}
}

// Points is a copy of the points.
func (p *Places) Points() []Point { return slices.Clone(p.pts) }

// ResponsesAt is [Field.Responses] at places.
func (f *Field) ResponsesAt(dst []float64, p *Places) []float64 {
	dst = sized(dst, len(f.lamps)*len(p.pts), "ResponsesAt")
	clear(dst)
	f.addDirect(dst, p.pts, nil)
	f.addReflected(dst, p.pts, nil, p)
	return dst
}

// PPFDAt is [Field.PPFD] at places.
func (f *Field) PPFDAt(dst, dimming []float64, p *Places) []float64 {
	return f.ppfd(dst, dimming, p.pts, p)
}

// ReflectedAt is [Field.Reflected] at places.
func (f *Field) ReflectedAt(dst []float64, p *Places) []float64 {
	dst = sized(dst, len(f.lamps)*len(p.pts), "ReflectedAt")
	clear(dst)
	f.addReflected(dst, p.pts, nil, p)
	return dst
}

// view is by how much the exitance of every patch lights each of n points, those of a
// part or the nodes of its lattice: a row a point. It is nil where nothing is to be
// kept, for which p may be nil.
func (p *Places) view(r *Room, at part, n int, point func(int) Point) *mat.Dense {
	if p == nil || r.exchange == nil || r.exchange != p.of {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if m, ok := p.views[at]; ok {
		return m
	}
	if p.kept+n*len(r.patches) > mostKept {
		return nil
	}
	m := mat.NewDense(n, len(r.patches), nil)
	inParallel(n, 16, func(from, to int) {
		var scratch []float64
		for i := from; i < to; i++ {
			r.gatherUpTo(at.most, m.RawRowView(i), point(i), &scratch)
		}
	})
	p.views[at] = m
	p.kept += n * len(r.patches)
	return m
}
