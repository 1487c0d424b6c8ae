package benchfile

import (
	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// place reads a place in the space; what is the thing that stands there.
func (r *reader) place(v handwritten.Value, s underlamp.Space, what string) (x, y quantity.Metre, ok bool) {
	if !v.Written() {
		r.Missing(v, "two lengths: [30 cm, 20 cm], from the left and from the front", "the place of the "+what)
		return 0, 0, false
	}
	vx, vy, ok := r.Pair(v)
	if !ok {
		return 0, 0, false
	}
	x, okX := r.coordinate(vx, s.Width, what, "left", "right", "wide")
	y, okY := r.coordinate(vy, s.Depth, what, "front", "back", "deep")
	return x, y, okX && okY
}

// coordinate reads one length of a place. An extent of 0 means that the space
// itself is wrong; then only the text is checked.
func (r *reader) coordinate(v handwritten.Value, extent quantity.Metre, what, near, far, adjective string) (quantity.Metre, bool) {
	c, ok := r.Need(v, quantity.Length, handwritten.Span{Min: -1e6, Max: 1e6}, "a length")
	if !ok || extent == 0 {
		return quantity.Metre(c), ok
	}
	s := handwritten.Span{Min: 0, Max: float64(extent)}
	if s.Holds(c) {
		return quantity.Metre(s.Clamp(c)), true
	}
	side, by := near, -c
	if c > 0 {
		side, by = far, c-float64(extent)
	}
	r.Errorf(v, r.Wanted(quantity.Length, s), "the %s stands %s outside the space at the %s; the space is %s %s", what,
		r.Show(quantity.Length, by), side, r.Show(quantity.Length, float64(extent)), adjective)
	return 0, false
}
