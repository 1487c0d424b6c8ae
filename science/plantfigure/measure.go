package plantfigure

import (
	"fmt"
	"math"
)

// FromTop measures the wanted plant in a picture from above. The error is a [*Refusal],
// but for a [BurnModel] that is not one.
//
// The picture is not changed, and may be read by several calls at once.
func FromTop(p *Picture, w Wanted) (*Top, error) {
	model := w.Burn
	if model.Mean == nil {
		model = UsualBurn()
	}
	if _, err := model.check(); err != nil {
		return nil, err
	}
	w.View = FromAbove
	c, err := segment(p, w)
	if err != nil {
		return nil, err
	}
	s, err := c.shape()
	if err != nil {
		return nil, err
	}
	t := &Top{Plants: c.pieces, Outline: s.outline, Doubts: c.doubts}
	t.Area = c.area(s, w.ScaleSD)
	t.Width = c.length(s.most, w.ScaleSD)
	t.Narrow = c.length(s.least, w.ScaleSD)
	half := t.Area.SD / t.Area.Value / 2
	diameter := 20 * math.Sqrt(t.Area.Value/math.Pi) // mm of cm²
	t.Equivalent = Value{Value: diameter}
	for _, part := range t.Area.Parts {
		t.Equivalent.Parts = append(t.Equivalent.Parts, Part{part.Cause, part.SD / t.Area.Value / 2 * diameter})
	}
	t.Equivalent.SD = half * diameter
	// The scale drops out of shapes.
	area := c.area(s, 0)
	width := c.length(s.most, 0)
	round := 4 * 100 * area.Value / (math.Pi * width.Value * width.Value)
	t.Roundness = newValue(round, Part{CauseEdge, round * math.Hypot(area.SD/area.Value, 2*width.SD/width.Value)})
	solid := area.Value / (s.hullCells * c.mm * c.mm / 100)
	t.Solidity = newValue(min(1, solid), Part{CauseEdge, solid * area.SD / area.Value})

	t.Heart = Point{s.heart.X * float64(c.per), s.heart.Y * float64(c.per)}
	k := c.colourShares(p.Corrected)
	t.Yellow, t.Red = k.share(k.yellow), k.share(k.red)
	t.Greenness = Value{Value: math.NaN(), SD: math.NaN()}
	if p.Corrected && k.greenCells > 0 {
		g := k.green / k.greenCells
		t.Greenness = newValue(g, Part{CauseColour, k.greenDark/k.greenCells - g})
	}
	t.Spots, t.BrownInner, t.BrownOuter = c.spots(k, s.heart, model)
	if !p.Corrected {
		t.Doubts = append(t.Doubts, "The colours were not corrected, so yellow, red and brown are rough.")
	}
	if t.Red.Value > 0.15 && len(t.Spots) > 0 {
		t.Doubts = append(t.Doubts, "The leaves are partly red: where red passes into green they are bronze, which can look burnt.")
	}
	return t, nil
}

// Sideways measures the wanted plant in a picture from the side. The error is a
// [*Refusal].
func Sideways(p *Picture, w Wanted) (*Side, error) {
	w.View = FromSide
	c, err := segment(p, w)
	if err != nil {
		return nil, err
	}
	s, err := c.shape()
	if err != nil {
		return nil, err
	}
	o := &Side{Outline: s.outline, Doubts: c.doubts, Base: w.Base}
	base, baseSD := w.Base/float64(c.per), baseGivenSD/c.mm
	if math.IsNaN(base) {
		base, baseSD = s.down, baseGuessSD/c.mm
		o.Base = base * float64(c.per)
		o.Doubts = append(o.Doubts, "The planting surface was not known: the height is from the lowest leaf or stem that is seen.")
	}
	tall := base - s.top
	if tall <= 2 {
		return nil, &Refusal{NothingFound, "No leaf rises above the planting surface.", "Hold the camera level with the plant, the foot of the label on the planting surface."}
	}
	height := func(scale float64) Value {
		return newValue(tall*c.mm, Part{CauseScale, tall * c.mm * scale}, Part{CauseEdge, lengthSD * c.mm}, Part{CauseBase, baseSD * c.mm})
	}
	o.Height = height(w.ScaleSD)
	o.Width = c.length(s.right-s.left, w.ScaleSD)
	o.Area = c.area(s, w.ScaleSD)
	h, b := height(0), c.length(s.right-s.left, 0)
	o.Stretch = newValue(h.Value/b.Value, Part{CauseEdge, h.Value / b.Value * math.Hypot(h.SD/h.Value, b.SD/b.Value)})
	k := c.colourShares(p.Corrected)
	o.Yellow, o.Red = k.share(k.yellow), k.share(k.red)
	return o, nil
}

// Uncertainty of lengths; assumed, and held by the tests on rendered plants.
const (
	lengthSD    = 0.7 // cells: both ends of a length
	baseGivenSD = 1.0 // mm of a planting surface that was marked
	baseGuessSD = 4.0 // mm of one that was guessed
)

// A shape is what the outline of a plant tells, in cells.
type shape struct {
	outline                []Ring // in pixels
	perimeter              float64
	most, least            float64
	hullCells              float64
	left, right, top, down float64
	heart                  Point
}

// shape follows the outline.
func (c *cut) shape() (*shape, error) {
	const margin = 6
	x0, y0 := max(0, c.box.left-margin), max(0, c.box.top-margin)
	x1, y1 := min(c.w, c.box.right+margin), min(c.h, c.box.down+margin)
	bw, bh := x1-x0, y1-y0
	m := make([]float32, bw*bh)
	s := &shape{}
	for y := range bh {
		row := c.share[(y+y0)*c.w+x0:][:bw]
		copy(m[y*bw:], row)
		for x, v := range row {
			s.heart.X += float64(v) * (float64(x+x0) + 0.5)
			s.heart.Y += float64(v) * (float64(y+y0) + 0.5)
		}
	}
	if c.cells < leastPlant {
		return nil, &Refusal{TooSmall, fmt.Sprintf("The plant is seen by only %.0f cells of %.2f mm.", c.cells, c.mm), "Take the photo from nearer."}
	}
	s.heart.X /= c.cells
	s.heart.Y /= c.cells
	var points []Point
	least := leastPiece / (c.mm * c.mm) / 2
	for _, r := range contours(m, bw, bh) {
		if math.Abs(r.area()) < least {
			continue
		}
		for i := range r {
			r[i].X += float64(x0)
			r[i].Y += float64(y0)
		}
		s.perimeter += r.length()
		if r.area() > 0 {
			points = append(points, r...)
		}
		s.outline = append(s.outline, r.simplified(0.25).scaled(float64(c.per)))
	}
	h := hull(points)
	if len(h) < 3 {
		return nil, &Refusal{TooSmall, "The plant is too small in the photo to have an outline.", "Take the photo from nearer."}
	}
	s.most, s.least = feret(h)
	s.hullCells = h.area()
	s.left, s.top = math.Inf(1), math.Inf(1)
	for _, p := range h {
		s.left, s.right = min(s.left, p.X), max(s.right, p.X)
		s.top, s.down = min(s.top, p.Y), max(s.down, p.Y)
	}
	return s, nil
}

// area is the projected area, cm².
func (c *cut) area(s *shape, scaleSD float64) Value {
	cell := c.mm * c.mm / 100
	a := c.cells * cell
	return newValue(a,
		Part{CauseScale, 2 * scaleSD * a},
		Part{CauseEdge, edgeSD * s.perimeter * cell},
		Part{CauseThreshold, (c.closeCells[0] + c.closeCells[1]) / 2 * cell},
		Part{CauseGaps, c.gapCells / 2 * cell},
	)
}

// length is one of n cells, mm.
func (c *cut) length(n, scaleSD float64) Value {
	return newValue(n*c.mm, Part{CauseScale, n * c.mm * scaleSD}, Part{CauseEdge, lengthSD * c.mm})
}
