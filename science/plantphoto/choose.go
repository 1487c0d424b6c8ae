package plantphoto

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"underlamp/science/labelfind"
	"underlamp/science/pinhole"
	"underlamp/science/plantfigure"
	"underlamp/science/srgb"
)

// A plant is one that a label could belong to, on the plane of the label, mm.
type plant struct {
	inside, centre pinhole.Point
	box            window
	away           float64 // of its nearest leaf from the label's edge
	ahead          float64 // angle from where the label's arrow points, radians
	area           float64 // mm²
}

// Limits of which plant is a label's (common practice, no source).
const (
	aheadWide = 75 * math.Pi / 180 // beyond, the arrow points elsewhere
	aheadNear = 50 * math.Pi / 180 // within, the arrow points at it
	seedling  = 1500.0             // mm²; smaller ones that stand together are one sowing
	together  = 30.0               // mm
)

// choose finds the plant of the label among all that are around it. It is the nearest one if
// no other is nearly as near, else the one at which the arrow points; where the two do not
// say the same, none.
func (p *Plant) choose(m image.Image, onto pinhole.Homography, w window, mix srgb.Matrix, labels []labelfind.Label, o Options) (target plant, rest []plant, refused *Refusal) {
	pic, toPhoto := bring(m, onto, w, mix)
	pic.Corrected = p.Label.Light.Coloured
	pic.NotPlant = covers(labels, toPhoto)
	found, err := plantfigure.Candidates(pic)
	if err != nil {
		r := refusal(err)
		return target, nil, &Refusal{string(r.Reason), r.Because, r.Advice}
	}
	toPlane := w.toPlane()
	inverse := toPhoto.Inverse()
	var own plantfigure.Ring
	for _, c := range p.Label.Corners {
		own = append(own, plantfigure.Point(inverse.Apply(c)))
	}
	k := printed(o)
	middle := pinhole.Point{X: k * p.Label.Layout.Width / 2, Y: k * p.Label.Layout.Height / 2}
	var all []plant
	for _, c := range found {
		q := plant{inside: toPlane.Apply(pinhole.Point(c.Inside)), centre: toPlane.Apply(pinhole.Point(c.Centre)), away: c.Distance(own, pic.PerPixel), area: c.Area}
		a, b := toPlane.Apply(pinhole.Point{X: c.Box[0], Y: c.Box[1]}), toPlane.Apply(pinhole.Point{X: c.Box[2], Y: c.Box[3]})
		q.box = window{a.X, a.Y, b.X, b.Y, 0}
		q.ahead = math.Abs(math.Atan2(q.centre.X-middle.X, middle.Y-q.centre.Y))
		all = append(all, q)
	}
	slices.SortStableFunc(all, func(a, b plant) int { return cmp.Compare(a.away, b.away) })
	reach := all[:0:0]
	for _, q := range all {
		if q.away <= o.Reach {
			reach = append(reach, q)
		}
	}
	if len(reach) == 0 {
		return target, nil, &Refusal{string(plantfigure.NothingFound), fmt.Sprintf("No plant was found within %.0f cm of the label %s.", o.Reach/10, p.Label.Code.Readable()), "Lay the label close to its plant, its arrow towards it."}
	}
	p.alone = len(reach) == 1
	first := reach[0]
	var rivals, pointed []plant
	for _, q := range reach {
		near := q.away < 2*first.away+15
		if near {
			rivals = append(rivals, q)
		}
		if q.ahead < aheadNear && (near || first.ahead > aheadWide && q.away < 4*first.away+40) {
			pointed = append(pointed, q)
		}
	}
	unsure := &Refusal{Unsure, fmt.Sprintf("Which plant the label %s belongs to is not clear: %d are about as near.", p.Label.Code.Readable(), max(2, len(rivals))), "Lay the label close to its plant, its arrow towards it."}
	company := map[int]bool{} // seedlings of one sowing
	switch {
	case o.View == plantfigure.FromSide && len(rivals) > 1:
		return target, nil, unsure
	case o.View == plantfigure.FromSide:
		target = first
	case len(rivals) == 1 && (len(pointed) == 0 || pointed[0] == first):
		target = first
	case len(rivals) == 1:
		unsure.Because = fmt.Sprintf("Which plant the label %s belongs to is not clear: one is nearest, its arrow points to another.", p.Label.Code.Readable())
		return target, nil, unsure
	case len(pointed) == 0:
		return target, nil, unsure
	default:
		target = pointed[0]
		for _, q := range pointed[1:] {
			if q.area > seedling || target.area > seedling || gap(q.box, target.box) > together {
				return target, nil, unsure
			}
			company[slices.Index(all, q)] = true
		}
	}
	for i, q := range all {
		if q != target && !company[i] {
			rest = append(rest, q)
		}
	}
	return target, rest, nil
}

// gap is the distance between two boxes.
func gap(a, b window) float64 {
	return math.Hypot(max(0, a.x0-b.x1, b.x0-a.x1), max(0, a.y0-b.y1, b.y0-a.y1))
}

// settle refuses plants that two labels claim: two that have grown together, or one whose
// neighbour is gone. Where that happens, labels of the photo do not lie each beside its own
// plant, and none counts that has another plant in reach.
func settle(plants []Plant) {
	shared := map[int]int{}
	for i := range plants {
		for j := range i {
			a, b := &plants[i], &plants[j]
			if a.Refused == nil && b.Refused == nil && overlap(a.outline, b.outline) {
				shared[i], shared[j] = j, i
			}
		}
	}
	if len(shared) == 0 {
		return
	}
	for i := range plants {
		p := &plants[i]
		if p.Refused != nil {
			continue
		}
		other, claimed := shared[i]
		switch {
		case claimed:
			p.Refused = &Refusal{Shared, fmt.Sprintf("The labels %s and %s lie beside what looks like one plant.", p.Label.Code.Readable(), plants[other].Label.Code.Readable()),
				"If two plants have grown together, hold a sheet of paper between them; if one is gone, take its label away; else lay each label close to its own plant, its arrow towards it."}
		case !p.alone:
			p.Refused = &Refusal{Shared, fmt.Sprintf("Other labels of the photo lie beside one plant together, and the label %s has more than one in reach.", p.Label.Code.Readable()),
				"Lay each label close to its own plant, its arrow towards it."}
		default:
			continue
		}
		p.Top, p.Side, p.outline, p.Picture = nil, nil, nil, nil
	}
}
