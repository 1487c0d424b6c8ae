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
	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

// Version is that of the method, with all packages that it stands on: figures of different
// versions are not one series. It is raised when a figure may come out otherwise.
const Version = 1

// A Height is how far the top of a plant stands above the plane of its label, mm.
type Height struct{ Value, SD float64 }

// Options are what is known of the photo and its plants.
type Options struct {
	labelfind.Options

	View    plantfigure.View
	Heights map[plantlabel.Code]Height                // of plants seen from above; those that are missing are not known
	Burn    map[plantlabel.Code]plantfigure.BurnModel // what burnt spots look like, by plant; missing: usual
	One     bool                                      // a person has looked: what is taken for one plant is one

	// Reach is how far from its label the nearest leaf of a plant may lie, mm, and Extent how
	// far the farthest; 0: [UsualReach], [UsualExtent].
	Reach, Extent float64

	Keep bool // hand out the corrected picture of each plant
}

// How far from its label a plant may be, mm: common practice, no source.
const (
	UsualReach  = 120
	UsualExtent = 400
)

// A Refusal says why a plant was not measured, and how to take the photo.
type Refusal struct {
	Reason  string // a kind: one of the reasons of labelfind and plantfigure, or of those here
	Because string // a sentence
	Advice  string // a sentence
}

// Error says it in two sentences.
func (r *Refusal) Error() string { return r.Because + " " + r.Advice }

// Reasons beside those of labelfind and plantfigure.
const (
	Shared  = "shared"      // two labels claim one plant
	Unsure  = "which plant" // the label lies between plants
	TooNear = "too near"    // the camera is hardly above the plant
)

// A Plant is what the photo tells of the plant of one label.
type Plant struct {
	Label labelfind.Label

	Top  *plantfigure.Top  // seen from above; nil: from the side, or refused
	Side *plantfigure.Side // seen from the side; nil: from above, or refused

	Refused *Refusal // nil: it was measured
	Doubts  []string // sentences

	Level      float64 // height of the plane on which it was measured over that of the label, mm
	HeightUsed bool    // the height of the plant was known
	Camera     float64 // distance of the camera from the plane of the label, mm

	ToPhoto pinhole.Homography // pixels of the picture in which it was measured to those of the photo
	Picture *plantfigure.Picture

	outline []plantfigure.Ring // in the photo
	alone   bool               // no other plant is in reach of the label
}

// Outline is the outline of the plant in the photo, pixels; nil if it was refused.
func (p *Plant) Outline() []plantfigure.Ring { return p.outline }

// InPhoto takes a ring of the plant's picture, such as that of a spot, to the photo.
func (p *Plant) InPhoto(r plantfigure.Ring) plantfigure.Ring {
	out := make(plantfigure.Ring, len(r))
	for i, q := range r {
		out[i] = plantfigure.Point(p.ToPhoto.Apply(pinhole.Point(q)))
	}
	return out
}

// A Result is what a photo tells.
type Result struct {
	Plants    []Plant              // one a label, by code
	Sightings []labelfind.Sighting // codes that could not be read, or are no label's
	None      *Refusal             // why no label was found; nil: there is one
}

// coarse and fine are how many pixels the two looks have at most.
const (
	coarse = 300_000
	fine   = 1_200_000
)

// lensSD is the spread of the radial distortion that the camera leaves, see [pinhole.Lens].
const lensSD = 0.005

// Causes of spread, beside those of plantfigure.
const (
	CauseHeight = "height of the leaves"
	CauseLens   = "lens"
	CausePrint  = "size of the print"
)

// Measure finds the labels of a photo and measures their plants. It may be called from
// several goroutines; memory beside the photo's is about 60 MB.
func Measure(m image.Image, o Options) *Result {
	if o.Reach == 0 {
		o.Reach = UsualReach
	}
	if o.Extent == 0 {
		o.Extent = UsualExtent
	}
	found := labelfind.Find(m, o.Options)
	out := &Result{Sightings: found.Sightings}
	if found.None != nil {
		out.None = &Refusal{string(found.None.Reason), found.None.Because, found.None.Advice}
	}
	for _, l := range found.Labels {
		p := Plant{Label: l, Doubts: slices.Clone(l.Doubts)}
		if r := l.Refused; r != nil {
			p.Refused = &Refusal{string(r.Reason), r.Because, r.Advice}
		} else {
			p.measure(m, found.Labels, o)
		}
		out.Plants = append(out.Plants, p)
	}
	settle(out.Plants)
	return out
}

// measure looks at the plant of one label.
func (p *Plant) measure(m image.Image, labels []labelfind.Label, o Options) {
	l := &p.Label
	p.Camera, _ = l.Fit.Distance()
	mix := l.Light.Matrix
	h, known := o.Heights[l.Code]
	levelSD := 0.0
	if o.View == plantfigure.FromAbove && known {
		p.HeightUsed = true
		// Leaves stand anywhere between the label's plane and the top: the middle, with the
		// spread of an even distribution and half of that of the height.
		p.Level, levelSD = h.Value/2, math.Hypot(h.Value/math.Sqrt(12), h.SD/2)
	}
	if p.Level > 0.6*p.Camera {
		p.Refused = &Refusal{TooNear, fmt.Sprintf("The camera was %.0f mm above the label, and the plant is said to be %.0f mm high.", p.Camera, h.Value), "Take the photo from at least twice the height of the plant, or correct the height."}
		return
	}
	onto := l.Fit.Plane(p.Level)
	k := printed(o)
	centre := pinhole.Point{X: l.Layout.Width / 2 * k, Y: l.Layout.Height / 2 * k}
	size := math.Hypot(centre.X, centre.Y)
	all := visible(m.Bounds(), &onto, centre, o.Extent+size)
	target, rest, r := p.choose(m, onto, all.sized(l.PerMM, coarse), mix, labels, o)
	if r != nil {
		p.Refused = r
		return
	}
	room := 10 + 0.25*max(target.box.x1-target.box.x0, target.box.y1-target.box.y0) // ground around the plant, and leaves that the first look did not see
	near := window{max(all.x0, target.box.x0-room), max(all.y0, target.box.y0-room), min(all.x1, target.box.x1+room), min(all.y1, target.box.y1+room), 0}
	err := p.look(m, onto, near.sized(l.PerMM, fine), mix, labels, target, rest, o)
	if r := refusal(err); r != nil && r.Reason == plantfigure.CutOff && near != all {
		err = p.look(m, onto, all.sized(l.PerMM, fine), mix, labels, target, rest, o)
	}
	if err != nil {
		p.Top, p.Side, p.Picture = nil, nil, nil
		if r := refusal(err); r != nil {
			p.Refused = &Refusal{string(r.Reason), r.Because, r.Advice}
		} else {
			p.Refused = &Refusal{"not measured", "The plant was not measured: " + err.Error() + ".", "Look at what was learned of burnt spots."}
		}
		return
	}
	p.spread(m, levelSD)
	if !o.Keep {
		p.Picture = nil
	}
}

// printed is the scale of the print.
func printed(o Options) float64 {
	if o.PrintScale > 0 {
		return o.PrintScale
	}
	return 1
}

func refusal(err error) *plantfigure.Refusal {
	r, _ := err.(*plantfigure.Refusal)
	return r
}

// look measures the target in one window.
func (p *Plant) look(m image.Image, onto pinhole.Homography, w window, mix srgb.Matrix, labels []labelfind.Label, target plant, rest []plant, o Options) error {
	pic, toPhoto := bring(m, onto, w, mix)
	pic.Corrected = p.Label.Light.Coloured
	pic.NotPlant = covers(labels, toPhoto)
	// Blur of the photo in pixels of the picture, with that of averaging over one.
	pic.Blur = math.Hypot(p.Label.Blur*w.perMM/p.Label.PerMM, 0.29)
	back := w.toPlane().Inverse()
	want := plantfigure.Wanted{View: o.View, Seed: plantfigure.Point(back.Apply(target.inside)), Reach: seedReach, One: o.One, Base: math.NaN(), Burn: o.Burn[p.Label.Code]}
	for _, q := range rest {
		want.Others = append(want.Others, plantfigure.Point(back.Apply(q.inside)))
	}
	var outline []plantfigure.Ring
	if o.View == plantfigure.FromSide {
		k := printed(o)
		want.Base = back.Apply(pinhole.Point{X: k * p.Label.Layout.Width / 2, Y: k * p.Label.Layout.Height}).Y // the foot of the label
		s, err := plantfigure.Sideways(pic, want)
		if err != nil {
			return err
		}
		p.Side, outline = s, s.Outline
	} else {
		t, err := plantfigure.FromTop(pic, want)
		if err != nil {
			return err
		}
		p.Top, outline = t, t.Outline
	}
	p.ToPhoto, p.Picture = toPhoto, pic
	p.outline = nil
	for _, r := range outline {
		p.outline = append(p.outline, p.InPhoto(r))
	}
	return nil
}

// seedReach is how far from the pixel where a plant was seen at first it must be seen again, mm.
const seedReach = 5

// spread adds to the figures what the place of the camera, the print, the lens and the height
// of the leaves leave unsure.
func (p *Plant) spread(m image.Image, levelSD float64) {
	l := &p.Label
	var heart pinhole.Point // in the photo
	n := 0.0
	for _, r := range p.outline {
		for _, q := range r {
			heart.X += q.X
			heart.Y += q.Y
			n++
		}
	}
	heart.X /= n
	heart.Y /= n
	_, scale := l.Fit.PlaceScale(heart, p.Level)
	middle := pinhole.Point{X: (l.Corners[0].X + l.Corners[2].X) / 2, Y: (l.Corners[0].Y + l.Corners[2].Y) / 2}
	b := m.Bounds()
	lens := pinhole.Lens(b.Dx(), b.Dy(), heart, middle, lensSD)
	above := 0.0
	width := 0.0
	if p.Top != nil {
		width = p.Top.Width.Value
	}
	switch {
	case p.Top == nil:
	case p.HeightUsed:
		above = levelSD / (p.Camera - p.Level)
	default:
		// Leaves at a quarter of the plant's width over the label, as of a plant half as
		// high as wide: common practice, no source.
		above = width / 4 / p.Camera
		p.Doubts = append(p.Doubts, fmt.Sprintf("The height of the plant is not known. The camera was about %.0f cm above the label: if leaves stand %.0f cm above it, the area is %.0f %% too large and the width %.0f %%.",
			p.Camera/10, width/40, 100*(1/math.Pow(1-width/4/p.Camera, 2)-1), 100*(1/(1-width/4/p.Camera)-1)))
	}
	length := func(v *plantfigure.Value, power float64) {
		*v = v.Times(1, power*scale, plantfigure.CauseScale).Times(1, power*l.PrintSD, CausePrint).Times(1, power*lens, CauseLens).Times(1, power*above, CauseHeight)
	}
	if t := p.Top; t != nil {
		length(&t.Area, 2)
		length(&t.Width, 1)
		length(&t.Narrow, 1)
		length(&t.Equivalent, 1)
		p.Doubts = append(p.Doubts, t.Doubts...)
	}
	if s := p.Side; s != nil {
		length(&s.Height, 1)
		length(&s.Width, 1)
		length(&s.Area, 2)
		p.Doubts = append(p.Doubts, s.Doubts...)
	}
}

// overlap says that two outlines share more than a tenth of the smaller one.
func overlap(a, b []plantfigure.Ring) bool {
	if len(a) == 0 || len(b) == 0 {
		return false
	}
	outer := func(rings []plantfigure.Ring) (box [4]float64) {
		box = [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, r := range rings {
			for _, q := range r {
				box = [4]float64{min(box[0], q.X), min(box[1], q.Y), max(box[2], q.X), max(box[3], q.Y)}
			}
		}
		return box
	}
	p, q := outer(a), outer(b)
	if min(p[2], q[2]) <= max(p[0], q[0]) || min(p[3], q[3]) <= max(p[1], q[1]) {
		return false
	}
	x0, y0, x1, y1 := min(p[0], q[0]), min(p[1], q[1]), max(p[2], q[2]), max(p[3], q[3])
	const steps = 120
	both, inA, inB := 0, 0, 0
	for j := range steps {
		y := y0 + (y1-y0)*(float64(j)+0.5)/steps
		ca, cb := crossings(a, y), crossings(b, y)
		for i := range steps {
			x := x0 + (x1-x0)*(float64(i)+0.5)/steps
			u, v := odd(ca, x), odd(cb, x)
			if u {
				inA++
			}
			if v {
				inB++
			}
			if u && v {
				both++
			}
		}
	}
	return 10*both > min(inA, inB)
}

// crossings are where a row crosses the outlines.
func crossings(rings []plantfigure.Ring, y float64) (out []float64) {
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.Y <= y) != (b.Y <= y) {
				out = append(out, a.X+(b.X-a.X)*(y-a.Y)/(b.Y-a.Y))
			}
		}
	}
	slices.SortFunc(out, cmp.Compare[float64])
	return out
}

func odd(crossings []float64, x float64) bool {
	i, _ := slices.BinarySearch(crossings, x)
	return i%2 == 1
}
