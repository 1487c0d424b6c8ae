package lightfield

import (
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A Field is the light of lamps in a space, solved. It does not change once
// made; calls may run in parallel.
type Field struct {
	room    *Room
	lamps   []Lamp
	sources []source
	onSides *mat.Dense // A E₀ by patch and lamp, µmol s⁻¹, lamps at full power; nil without patches or lamps
	byPatch *mat.Dense // exitance B by patch and lamp, PPFD
}

// Solve prepares the space, places the lamps and solves the exchange of light
// between the sides. All that is wrong with space, lamps and options is joined
// into one error. To place lamps again in one space, use [NewRoom] once.
func Solve(space Space, lamps []Lamp, opt Options) (*Field, error) {
	room, err := NewRoom(space, opt)
	if err != nil {
		return nil, err
	}
	return room.Solve(lamps)
}

// Solve places lamps in the room and solves the exchange of light. All that is
// wrong with the lamps is joined into one error.
func (r *Room) Solve(lamps []Lamp) (*Field, error) {
	fields, err := solveAlike([]*Room{r}, lamps)
	if err != nil {
		return nil, err
	}
	return fields[0], nil
}

// solveAlike places lamps in rooms that differ in what their sides scatter and
// mirror alone, as those of [Room.withMirrors] do: what a lamp sends to the patches by
// way of each copy is worked out once for all.
func solveAlike(rooms []*Room, lamps []Lamp) ([]*Field, error) {
	r := rooms[0]
	if err := r.check(lamps); err != nil {
		return nil, err
	}
	sources := make([]source, len(lamps))
	for i, l := range lamps {
		sources[i] = r.source(l, r.opt.MaxError)
	}
	fields := make([]*Field, len(rooms))
	n := len(r.patches)
	for i, room := range rooms {
		fields[i] = &Field{room: room, lamps: slices.Clone(lamps), sources: sources}
		if n > 0 && len(lamps) > 0 {
			fields[i].onSides, fields[i].byPatch = mat.NewDense(n, len(lamps), nil), new(mat.Dense)
		}
	}
	if n == 0 || len(lamps) == 0 {
		return fields, nil
	}
	inParallel(n, 8, func(from, to int) {
		var v view
		sums := make([]float64, len(rooms))
		for i := from; i < to; i++ {
			v = r.viewOf(r.patches[i], v)
			for k := range sources {
				onPatchIn(rooms, sums, &sources[k], &v)
				for j, f := range fields {
					f.onSides.Set(i, k, r.areas[i]*sums[j])
				}
			}
		}
	})
	for _, f := range fields {
		if err := f.room.system.solve(f.byPatch, f.onSides); err != nil {
			return nil, err
		}
	}
	return fields, nil
}

// solve finds the exitance of all patches from what falls on them.
func (s *system) solve(b, onSides *mat.Dense) error {
	err := s.chol.SolveTo(b, onSides)
	if _, near := err.(mat.Condition); near {
		return nil // ill-conditioned only: reflectances a hair below 1; the answer is usable
	}
	return err
}

// Replace is the field with lamp i (from 0) changed for another, or for the same
// at another place or angle. Only what this lamp does is computed. All that is
// wrong with the lamp is joined into one error.
func (f *Field) Replace(i int, l Lamp) (*Field, error) {
	if i < 0 || i >= len(f.lamps) {
		panic("lightfield: Field.Replace: no such lamp")
	}
	r := f.room
	if errs := r.checkLamp(l); errs != nil {
		return nil, fmt.Errorf("lamp %d: %w", i+1, errors.Join(errs...))
	}
	g := &Field{room: r, lamps: slices.Clone(f.lamps), sources: slices.Clone(f.sources)}
	g.lamps[i], g.sources[i] = l, r.source(l, r.opt.MaxError)
	if f.onSides == nil {
		return g, nil
	}
	n := len(r.patches)
	column := mat.NewDense(n, 1, nil)
	on := column.RawMatrix().Data
	inParallel(n, 8, func(from, to int) {
		var v view
		for j := from; j < to; j++ {
			v = r.viewOf(r.patches[j], v)
			on[j] = r.areas[j] * r.onPatch(&g.sources[i], &v)
		}
	})
	var b mat.Dense
	if err := r.system.solve(&b, column); err != nil {
		return nil, err
	}
	g.onSides, g.byPatch = mat.DenseCopyOf(f.onSides), mat.DenseCopyOf(f.byPatch)
	g.onSides.SetCol(i, on)
	g.byPatch.SetCol(i, b.RawMatrix().Data)
	return g, nil
}

// In is the field with the same lamps in another room. Where the rooms differ in
// reflectances only, as those of [Room.WithReflectance] do, what the lamps send on
// the sides is kept and the balance alone is solved again.
func (f *Field) In(r *Room) (*Field, error) {
	if r.exchange != f.room.exchange || r.exchange == nil || f.onSides == nil {
		return r.Solve(f.lamps)
	}
	g := *f
	g.room, g.byPatch = r, new(mat.Dense)
	return &g, r.system.solve(g.byPatch, g.onSides)
}

// Space is the space that the field was solved for.
func (f *Field) Space() Space { return f.room.space }

// Room is the room that the lamps hang in.
func (f *Field) Room() *Room { return f.room }

// Lamps is a copy of the lamps.
func (f *Field) Lamps() []Lamp { return append([]Lamp(nil), f.lamps...) }

// Responses returns the PPFD that each lamp at full power gives on a horizontal
// surface facing up at each point, direct and reflected: element k·len(pts)+i is
// lamp k at point i. It writes to dst, which must have len(lamps)·len(pts)
// elements, or allocates if dst is nil. At a point in or above the plane of a
// level lamp's opening that lamp gives reflected light only. A point with NaN
// gives NaN. Points outside the space get the reflected light of the nearest point
// inside.
//
// Reflected light is smooth: where many points share a height it is computed on
// a lattice of that plane and interpolated; the difference stays below 0.5 % of the
// light. Close under panels, where it is not smooth, every point is computed.
func (f *Field) Responses(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Responses")
	clear(dst)
	f.addDirect(dst, pts, nil)
	f.addReflected(dst, pts, nil, nil)
	return dst
}

// Direct is [Field.Responses] without the reflected light, that from mirrors
// included.
func (f *Field) Direct(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Direct")
	clear(dst)
	f.addDirect(dst, pts, nil)
	return dst
}

// Reflected is [Field.Responses] without the direct light.
func (f *Field) Reflected(dst []float64, pts []Point) []float64 {
	dst = sized(dst, len(f.lamps)*len(pts), "Reflected")
	clear(dst)
	f.addReflected(dst, pts, nil, nil)
	return dst
}

// ResponseOf is the part of [Field.Responses] that belongs to lamp k (from 0): one
// element a point.
func (f *Field) ResponseOf(dst []float64, k int, pts []Point) []float64 {
	one := &Field{room: f.room, lamps: f.lamps[k : k+1], sources: f.sources[k : k+1]}
	if f.byPatch != nil {
		n, _ := f.byPatch.Dims()
		one.byPatch = mat.NewDense(n, 1, mat.Col(nil, k, f.byPatch))
	}
	return one.Responses(sized(dst, len(pts), "ResponseOf"), pts)
}

// PPFD returns the PPFD on a horizontal surface facing up at each point with
// every lamp dimmed by its factor (1 is full power; the light is linear in it,
// no bounds are set). It writes to dst, which must have len(pts) elements, or
// allocates if dst is nil. It needs little memory besides, whatever the number of
// lamps and points, and adds the light up on the sides before it gathers it at the
// points. To try many dimmings at the same points, call [Field.Responses] once and
// then [Combine].
func (f *Field) PPFD(dst []float64, dimming []float64, pts []Point) []float64 {
	return f.ppfd(dst, dimming, pts, nil)
}

func (f *Field) ppfd(dst, dimming []float64, pts []Point, kept *Places) []float64 {
	if len(dimming) != len(f.lamps) {
		panic("lightfield: Field.PPFD: one dimming for each lamp is needed")
	}
	dst = sized(dst, len(pts), "PPFD")
	clear(dst)
	if len(f.lamps) == 0 {
		return dst
	}
	f.addDirect(dst, pts, dimming)
	f.addReflected(dst, pts, dimming, kept)
	return dst
}

// Combine adds the responses of lamps, as [Field.Responses] returns them, each
// times its dimming. The result has len(responses)/len(dimming) elements; it
// goes to dst or, if dst is nil, to new memory.
func Combine(dst, responses, dimming []float64) []float64 {
	n := 0
	if len(dimming) > 0 {
		n = len(responses) / len(dimming)
	} else {
		n = len(dst)
	}
	if n*len(dimming) != len(responses) {
		panic("lightfield: Combine: responses are not a whole number of points for each lamp")
	}
	dst = sized(dst, n, "Combine")
	clear(dst)
	for k, d := range dimming {
		if d == 0 {
			continue
		}
		for i, v := range responses[k*n : (k+1)*n] {
			dst[i] += d * v
		}
	}
	return dst
}

func sized(dst []float64, n int, name string) []float64 {
	if dst == nil {
		return make([]float64, n)
	}
	if len(dst) != n {
		panic("lightfield: " + name + ": dst has the wrong length")
	}
	return dst
}
