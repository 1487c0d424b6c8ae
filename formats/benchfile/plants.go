package benchfile

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

const (
	maxPlants = 2000

	// samePlace is how near two plants can't stand: a stem is wider.
	samePlace = 0.01 // m
)

const wantPlants = "plants: {grid: {columns: 6, rows: 3}} or {at: [[10 cm, 10 cm], [30 cm, 10 cm]]}"

// plants reads where the plants stand.
func (r *reader) plants(v handwritten.Value, b *underlamp.Bench) {
	f, ok := r.Part(v, "plants", wantPlants, "where the plants stand")
	if !ok {
		return
	}
	grid, list := f.Get("grid"), f.Get("at")
	switch {
	case grid.Written() && list.Written():
		r.Errorf(list, "one of the two", "plants are given by a grid and by a list of places")
	case grid.Written():
		r.grid(grid, b)
	case list.Written():
		r.list(list, b)
	default:
		r.Missing(v, wantPlants, "a grid or a list of places")
	}
	r.plantHeights(f, b)
}

// plantHeights reads how tall the plants stand now: all of them, then those that
// differ.
func (r *reader) plantHeights(f handwritten.Fields, b *underlamp.Bench) {
	span := handwritten.Span{Min: 0.005, Max: 2}
	if b.Space.Height > 0 {
		span.Max = float64(b.Space.Height)
	}
	if all := f.Get("height"); all.Written() {
		if h, ok := r.Amount(all, quantity.Length, span); ok {
			for i := range b.Plants {
				b.Plants[i].Height = quantity.Metre(h)
			}
		}
	}
	v := f.Get("heights")
	if !v.Written() {
		return
	}
	const want = "heights: [{plants: [P3, P4], height: 18 cm}]"
	items, _ := r.Items(v, want)
	for _, item := range items {
		f, ok := r.Mapping(item, "plants.heights[]")
		if !ok {
			continue
		}
		h, ok := r.Need(f.Get("height"), quantity.Length, span, "how tall they stand")
		if !f.Get("plants").Written() {
			r.Missing(f.Get("plants"), want, "which plants")
			continue
		}
		names, _ := r.Items(f.Get("plants"), want)
		for _, n := range names {
			name, named := r.Words(n, handwritten.MaxName)
			if !named {
				continue
			}
			i := slices.IndexFunc(b.Plants, func(p underlamp.Plant) bool { return handwritten.Normal(p.Name) == handwritten.Normal(name) })
			switch {
			case i < 0 && len(b.Plants) > 0: // without plants the fault is told elsewhere
				r.Errorf(n, "a plant of this bench: "+b.Plants[0].Name+" to "+b.Plants[len(b.Plants)-1].Name, "there is no plant %q", handwritten.Shortened(name))
			case i >= 0 && ok:
				b.Plants[i].Height = quantity.Metre(h)
			}
		}
	}
}

// grid places plants in columns (left to right) and rows (front to back), named
// P1, P2, … row by row from the front left. With a margin they are spread from
// margin to margin; with a spacing they stand in the middle of the space; with
// both they begin at the margins left and front; with neither each stands in the
// middle of an equal share of the space.
func (r *reader) grid(v handwritten.Value, b *underlamp.Bench) {
	f, ok := r.Mapping(v, "plants.grid")
	if !ok {
		return
	}
	columns, okC := r.count(f.Get("columns"), "the number of columns, left to right,")
	rows, okR := r.count(f.Get("rows"), "the number of rows, front to back,")
	margin, hasMargin := f.Get("margin"), f.Get("margin").Written()
	spacing, hasSpacing := f.Get("spacing"), f.Get("spacing").Written()
	mx, my, okM := r.oneOrTwo(margin, handwritten.Span{Min: 0, Max: sideSpan.Max})
	sx, sy, okS := r.oneOrTwo(spacing, handwritten.Span{Min: samePlace, Max: sideSpan.Max})
	if !okC || !okR || !okM || !okS {
		return
	}
	if columns*rows > maxPlants {
		r.Errorf(v, fmt.Sprintf("at most %d plants", maxPlants), "the grid has %d plants", columns*rows)
		return
	}
	if b.Space.Width == 0 || b.Space.Depth == 0 {
		return
	}
	line := func(n int, extent, margin, spacing float64) (first, step float64) {
		switch {
		case hasMargin && hasSpacing:
			return margin, spacing
		case hasSpacing:
			return (extent - float64(n-1)*spacing) / 2, spacing
		case hasMargin && n > 1:
			return margin, (extent - 2*margin) / float64(n-1)
		}
		return extent / float64(n) / 2, extent / float64(n)
	}
	w, d := float64(b.Space.Width), float64(b.Space.Depth)
	x0, dx := line(columns, w, mx, sx)
	y0, dy := line(rows, d, my, sy)
	fits := func(n int, first, step, extent float64, side string) bool {
		s := handwritten.Span{Min: 0, Max: extent}
		if s.Holds(first) && s.Holds(first+float64(n-1)*step) && step >= 0 {
			return true
		}
		r.Errorf(v, "a smaller spacing or margin, or fewer plants", "the grid does not fit the space, which is %s %s", r.Show(quantity.Length, extent), side)
		return false
	}
	okX, okY := fits(columns, x0, dx, w, "wide"), fits(rows, y0, dy, d, "deep")
	if !okX || !okY {
		return
	}
	if columns > 1 && dx < samePlace || rows > 1 && dy < samePlace {
		r.Errorf(v, "plants at least "+r.Show(quantity.Length, samePlace)+" apart", "the plants of the grid stand at one place")
		return
	}
	for j := range rows {
		for i := range columns {
			b.Plants = append(b.Plants, underlamp.Plant{
				Name: fmt.Sprintf("P%d", len(b.Plants)+1),
				X:    quantity.Metre(handwritten.Span{Min: 0, Max: w}.Clamp(x0 + float64(i)*dx)),
				Y:    quantity.Metre(handwritten.Span{Min: 0, Max: d}.Clamp(y0 + float64(j)*dy)),
			})
		}
	}
}

func (r *reader) count(v handwritten.Value, what string) (int, bool) {
	if !v.Written() {
		r.Missing(v, "a whole number", what)
		return 0, false
	}
	return r.Whole(v, 1, maxPlants)
}

// oneOrTwo reads one length for both directions, or [across, deep].
func (r *reader) oneOrTwo(v handwritten.Value, s handwritten.Span) (x, y float64, ok bool) {
	if !v.Written() {
		return 0, 0, true
	}
	if !v.IsList() {
		x, ok = r.Amount(v, quantity.Length, s)
		return x, x, ok
	}
	vx, vy, ok := r.Pair(v)
	if !ok {
		return 0, 0, false
	}
	x, okX := r.Need(vx, quantity.Length, s, "a length")
	y, okY := r.Need(vy, quantity.Length, s, "a length")
	return x, y, okX && okY
}

// list reads plants one by one: [x, y], or {name: ..., at: [x, y]}.
func (r *reader) list(v handwritten.Value, b *underlamp.Bench) {
	items, ok := r.List(v, wantPlants, maxPlants, "plants")
	if !ok {
		return
	}
	if len(items) == 0 {
		r.Missing(v, wantPlants, "at least one plant")
		return
	}
	var lines []int
	names := map[string]int{}
	for i, item := range items {
		p := underlamp.Plant{Name: fmt.Sprintf("P%d", i+1)}
		at, name := item, item
		if item.IsMapping() {
			f, ok := r.Mapping(item, "plants.at[]")
			if !ok {
				continue
			}
			at, name = f.Get("at"), f.Get("name")
			if own, ok := r.Words(name, handwritten.MaxName); ok {
				p.Name = own
			}
		}
		if line, twice := names[p.Name]; twice {
			r.Errorf(name, "a name of its own for every plant", "the plant in line %d is called %q too", line, p.Name)
		} else {
			names[p.Name] = item.At.Line
		}
		x, y, ok := r.place(at, b.Space, "plant")
		if !ok {
			continue
		}
		p.X, p.Y = x, y
		for j, q := range b.Plants {
			if math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y)) < samePlace-handwritten.Slack {
				r.Errorf(at, "plants at least "+r.Show(quantity.Length, samePlace)+" apart", "plant %q of line %d stands at this place", q.Name, lines[j])
				break
			}
		}
		b.Plants = append(b.Plants, p)
		lines = append(lines, item.At.Line)
	}
}
