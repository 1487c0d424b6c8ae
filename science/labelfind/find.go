package labelfind

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"underlamp/science/pinhole"
	"underlamp/science/plantlabel"
)

// Options are what is known of the photo besides its pixels.
type Options struct {
	// Focal is the focal length in 35 mm film of EXIF, mm; 0: not known.
	Focal float64

	// PrintScale is what lengths on the printed label are as a multiple of what they should
	// be, and PrintSD its relative standard deviation. 0: not measured, 1 with 0.5 %.
	PrintScale, PrintSD float64
}

// printSD is how far printers are off that nobody measured, and flat how flat labels lie and
// how exactly they are printed, mm (both common practice, no source).
const (
	printSD = 0.005
	flat    = 0.03
)

// Limits beyond which a label is refused.
const (
	MaxTilt      = 35 * math.Pi / 180 // radians
	minModule    = 2.2                // pixels a module
	maxBlur      = 0.55               // standard deviation in modules
	doubtfulBlur = 0.35
)

// A Label is one that was found.
type Label struct {
	Layout plantlabel.Layout
	Code   plantlabel.Code

	Fit       *pinhole.Fit // mm on the label as printed, its corner 0, 0
	Marks     int          // of four that were seen whole
	Tilt      float64      // radians, at the centre of the label
	PerMM     float64      // pixels a mm, at the centre of the label
	Blur      float64      // standard deviation, pixels
	ScaleSD   float64      // relative standard deviation of lengths at the label, with that of the print
	PrintSD   float64      // that of the print alone
	Light     Light
	Corners   [4]pinhole.Point // in the photo: upper left, upper right, lower right, lower left
	Doubts    []string         // sentences
	Refused   *Refusal         // why it cannot be used; nil: it can
	QRInPhoto [4]pinhole.Point // corners of its code
}

// A Refusal says why a label cannot be used, and how to take the photo.
type Refusal struct {
	Reason  Reason
	Because string // a sentence
	Advice  string // a sentence
}

// A Reason is a kind of refusal.
type Reason string

// The reasons.
const (
	NoLabel  Reason = "no label"  // none was seen
	Unread   Reason = "unread"    // a code was seen and could not be read
	Foreign  Reason = "foreign"   // a code that is no label's
	TooSmall Reason = "too small" // too few pixels
	Blurred  Reason = "blurred"
	Dark     Reason = "dark"
	Bright   Reason = "bright" // paper is brighter than the photo can hold
	Oblique  Reason = "oblique"
	Purple   Reason = "purple light"
	Covered  Reason = "covered" // marks are missing
	Bent     Reason = "bent"    // marks do not lie as on a flat label
	Twice    Reason = "twice"   // two labels of one code
)

// Error says it in two sentences.
func (r *Refusal) Error() string { return r.Because + " " + r.Advice }

// A Sighting is a code in the photo that is no label that could be read.
type Sighting struct {
	At      pinhole.Point // pixels
	Refused *Refusal
}

// Found is all that was found.
type Found struct {
	Labels    []Label    // by code
	Sightings []Sighting // codes that could not be read, or are no label's
	None      *Refusal   // why nothing was found; nil if a label was
}

// Find finds every label in a photo, upright or not. It may be called from several
// goroutines.
func Find(m image.Image, o Options) *Found {
	g := luma(m)
	out := &Found{}
	if g.w < 64 || g.h < 64 {
		out.None = &Refusal{TooSmall, fmt.Sprintf("The picture has only %d × %d pixels.", g.w, g.h), "Send the photo as the camera took it."}
		return out
	}
	if o.PrintScale == 0 {
		o.PrintScale, o.PrintSD = 1, printSD
	}
	levels := []int{4, 2, 1}
	if g.w*g.h < 2_000_000 {
		levels = []int{2, 1}
	}
	type sighting struct {
		x, y, size float64
		r          *Refusal
	}
	var seen []sighting
	var taken [][4]pinhole.Point
	inside := func(x, y float64) bool {
		for _, q := range taken {
			if within(q, x, y) {
				return true
			}
		}
		return false
	}
	for _, k := range levels {
		// The full size is searched only where nothing was read: what would be read there and
		// not at half of it is hardly large enough.
		if k == 1 && len(out.Labels) > 0 {
			break
		}
		level := g
		if k > 1 {
			level = g.shrunk(k)
		}
		eyes, _ := level.eyes(k)
		eyes = slices.DeleteFunc(eyes, func(e eye) bool { return inside(e.x, e.y) })
		for _, t := range corners(eyes) {
			cx, cy := (t.topRight.x+t.bottomLeft.x)/2, (t.topRight.y+t.bottomLeft.y)/2
			if inside(cx, cy) || inside(t.topLeft.x, t.topLeft.y) {
				continue
			}
			h, l, c, state, like := g.attempts(t)
			size := math.Hypot(t.topRight.x-t.topLeft.x, t.topRight.y-t.topLeft.y) / 14
			if state == unread {
				if like > 0.82 {
					seen = append(seen, sighting{cx, cy, size, nil})
				}
				continue
			}
			if state == foreign {
				seen = append(seen, sighting{cx, cy, size, &Refusal{Foreign, "A code in the photo is not that of a plant label.", "Nothing to do, unless it was meant to be one: print the label again."}})
				taken = append(taken, quad(&h, 0, 0, plantlabel.Modules, plantlabel.Modules))
				continue
			}
			label, ok := g.place(m, h, t, l, c, o)
			if !ok {
				continue
			}
			taken = append(taken, label.Corners, label.QRInPhoto)
			out.Labels = append(out.Labels, label)
		}
	}
	for _, s := range seen {
		known := inside(s.x, s.y) && (s.r == nil)
		for _, q := range out.Sightings {
			known = known || math.Hypot(q.At.X-s.x, q.At.Y-s.y) < 10*s.size
		}
		if known {
			continue
		}
		if s.r == nil {
			s.r = unreadable(s.size)
		}
		out.Sightings = append(out.Sightings, Sighting{pinhole.Point{X: s.x, Y: s.y}, s.r})
	}
	slices.SortStableFunc(out.Labels, func(a, b Label) int { return cmp.Compare(a.Code, b.Code) })
	for i := range out.Labels {
		for j := range out.Labels {
			if a, b := &out.Labels[i], &out.Labels[j]; i != j && a.Code == b.Code {
				a.Refused = &Refusal{Twice, fmt.Sprintf("Two labels in the photo have the code %s.", a.Code.Readable()), "Give each plant its own label, and photograph each one by itself."}
			}
		}
	}
	if len(out.Labels) == 0 {
		out.None = g.nothing(out.Sightings)
	}
	return out
}

func unreadable(module float64) *Refusal {
	if module < 3 {
		return &Refusal{TooSmall, fmt.Sprintf("A label is in the photo, but its code is too small to be read: %.1f pixels a module, and 6 are good.", module), "Go nearer, or print a larger label."}
	}
	return &Refusal{Unread, "A label is in the photo, but its code could not be read: it is blurred, partly covered, bent or shines.", "Hold the phone still, tap on the label so that it is in focus, and keep leaves and light spots off it."}
}

// nothing says why no label was found.
func (g *grey) nothing(s []Sighting) *Refusal {
	for _, q := range s {
		if q.Refused.Reason != Foreign {
			return q.Refused
		}
	}
	var sum, n float64
	var widths []float64 // standard deviation of the blur of strong edges along rows, pixels
	const reach = 8
	for y := reach; y < g.h-reach; y += 4 {
		row := g.pix[y*g.w : (y+1)*g.w]
		for x := reach; x < g.w-reach; x += 4 {
			sum += float64(row[x])
			n++
			if d := math.Abs(float64(row[x+reach]) - float64(row[x-reach])); d > 60 {
				steep := 0.0
				for i := x - reach + 1; i < x+reach; i++ {
					steep = max(steep, math.Abs(float64(row[i+1])-float64(row[i-1]))/2)
				}
				widths = append(widths, d/steep/math.Sqrt(2*math.Pi)) // the slope of an error function at its middle
			}
		}
	}
	slices.Sort(widths)
	switch mean := sum / n; {
	case mean < 30:
		return &Refusal{Dark, "The photo is too dark: no label was found.", "Switch on white light, or let the phone expose for the label."}
	case mean > 240:
		return &Refusal{Bright, "The photo is too bright: no label was found.", "Tap on the label so that the phone exposes for it, and turn the lamps down."}
	}
	if len(s) > 0 {
		return s[0].Refused
	}
	if k := len(widths) / 5; len(widths) > 100 && widths[k] > 1.6 {
		return &Refusal{Blurred, fmt.Sprintf("No label was found, and the photo is blurred: even sharp edges are spread over %.1f pixels (one standard deviation).", widths[k]), "Hold the phone still and tap on the label so that it is in focus."}
	}
	return &Refusal{NoLabel, "No label was found in the photo.", "Lay the label flat beside the plant, wholly in the picture and sharp, with no leaf on it."}
}

// quad is where a rectangle of the plane lies in the photo.
func quad(h *pinhole.Homography, x, y, w, ht float64) [4]pinhole.Point {
	return [4]pinhole.Point{h.Apply(pinhole.Point{X: x, Y: y}), h.Apply(pinhole.Point{X: x + w, Y: y}), h.Apply(pinhole.Point{X: x + w, Y: y + ht}), h.Apply(pinhole.Point{X: x, Y: y + ht})}
}

// within says that a place lies in a convex quadrangle.
func within(q [4]pinhole.Point, x, y float64) bool {
	sign := 0.0
	for i, a := range q {
		b := q[(i+1)%4]
		s := (b.X-a.X)*(y-a.Y) - (b.Y-a.Y)*(x-a.X)
		if s*sign < 0 {
			return false
		}
		if s != 0 {
			sign = s
		}
	}
	return true
}

// place finds the marks of a label whose code was read, its plane, its light. code takes
// modules to pixels. ok is false if what was read does not stand where the marks say.
func (g *grey) place(m image.Image, code pinhole.Homography, t corner, l plantlabel.Layout, c plantlabel.Code, o Options) (Label, bool) {
	module := l.QR.Width / plantlabel.Modules
	toModules := pinhole.Homography{{1 / module, 0, -l.QR.X / module}, {0, 1 / module, -l.QR.Y / module}, {0, 0, 1}}
	h := code.Times(toModules)
	prior := pinhole.Usual(g.w, g.h, o.Focal)
	px := math.Hypot(t.topRight.x-t.topLeft.x, t.topRight.y-t.topLeft.y) / (14 * module) // a mm

	eyeSD := max(0.6, 0.12*px*module)
	var matches []pinhole.Match
	for _, e := range []struct {
		eye
		mx, my float64
	}{{t.topLeft, 3.5, 3.5}, {t.topRight, plantlabel.Modules - 3.5, 3.5}, {t.bottomLeft, 3.5, plantlabel.Modules - 3.5}} {
		matches = append(matches, pinhole.Match{Plane: pinhole.Point{X: l.QR.X + e.mx*module, Y: l.QR.Y + e.my*module}, Photo: pinhole.Point{X: e.x, Y: e.y}, SD: eyeSD})
	}
	// The nearest marks first: each narrows where the next one is.
	order := []int{0, 1, 2, 3}
	far := func(i int) float64 {
		q := l.QR.Centre()
		return math.Hypot(l.Marks[i].X-q.X, l.Marks[i].Y-q.Y)
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(far(a), far(b)) })
	label := Label{Layout: l, Code: c, PrintSD: o.PrintSD}
	found := [4]*mark{}
	markSD := max(0.08, flat*px)
	var fit *pinhole.Fit
	for pass := range 2 { // the second time with the plane of those that were found
		for _, i := range order {
			if found[i] != nil {
				continue
			}
			reach := 0.4 + 0.09*far(i)
			if fit != nil {
				reach = 0.4 + 0.04*far(i)
			}
			k, ok := g.findMark(&h, l.Marks[i], l.MarkRadius, reach)
			if !ok {
				continue
			}
			found[i] = &k
			matches = append(matches, pinhole.Match{Plane: pinhole.Point(l.Marks[i]), Photo: k.at, SD: markSD})
			if f, err := pinhole.FitPlane(matches, prior); err == nil {
				fit, h = f, f.Plane(0)
			}
		}
		if pass == 0 && label.count(found) == 4 {
			break
		}
	}
	label.Marks = label.count(found)
	if fit == nil {
		// Not even one mark: the code alone gives a rough place, to be told where it is.
		label.Corners = quad(&h, 0, 0, l.Width, l.Height)
		label.QRInPhoto = quad(&code, 0, 0, plantlabel.Modules, plantlabel.Modules)
		label.Refused = covered(label.Marks)
		return label, true
	}
	// The code must be read again where the marks say it is.
	final := h.Times(pinhole.Homography{{module, 0, l.QR.X}, {0, module, l.QR.Y}, {0, 0, 1}})
	again, _, ok := g.sample(&final)
	if !ok || again.agrees(l, c) < 0.9 {
		if label.Marks < 3 {
			label.Corners, label.QRInPhoto = quad(&h, 0, 0, l.Width, l.Height), quad(&code, 0, 0, plantlabel.Modules, plantlabel.Modules)
			label.Fit = fit
			label.Refused = covered(label.Marks)
			return label, true
		}
		return Label{}, false
	}
	label.Corners = quad(&h, 0, 0, l.Width, l.Height)
	label.QRInPhoto = quad(&final, 0, 0, plantlabel.Modules, plantlabel.Modules)

	var blurs []float64
	for i, k := range found {
		if k != nil {
			j := h.Jacobian(pinhole.Point(l.Marks[i]))
			blurs = append(blurs, g.blurs(k.at, &j, l.MarkRadius)...)
		}
	}
	slices.Sort(blurs)
	label.Blur = blurs[len(blurs)/2]
	label.Light, ok = readLight(m, &h, l)
	// Lengths on the label are as printed: so are those that are measured with it.
	label.Fit = fit.Stretched(o.PrintScale)
	centre := pinhole.Point{X: l.Width / 2 * o.PrintScale, Y: l.Height / 2 * o.PrintScale}
	label.Tilt = label.Fit.Tilt(centre)
	var sd float64
	label.PerMM, sd = label.Fit.Scale(centre, 0)
	label.ScaleSD = math.Hypot(sd, o.PrintSD)
	label.judge(ok, fit, px*module)
	return label, true
}

func (*Label) count(found [4]*mark) (n int) {
	for _, k := range found {
		if k != nil {
			n++
		}
	}
	return n
}

func covered(marks int) *Refusal {
	return &Refusal{Covered, fmt.Sprintf("Of the label's four round marks only %d can be seen, and three are needed.", marks), "Move leaves off the label, keep all of it in the picture, and take care that no light spot lies on a mark."}
}

// judge sets why a label is refused, worst first, and what is doubtful.
func (l *Label) judge(lit bool, fit *pinhole.Fit, module float64) {
	blur := l.Blur / module // modules
	degrees := l.Tilt * 180 / math.Pi
	refuse := func(r Reason, because, advice string) {
		if l.Refused == nil {
			l.Refused = &Refusal{r, because, advice}
		}
	}
	if l.Marks < 3 {
		l.Refused = covered(l.Marks)
	}
	if module < minModule {
		refuse(TooSmall, fmt.Sprintf("The label is too small in the photo: %.1f pixels a module, at least %.1f are needed and 6 are good.", module, minModule), "Go nearer, or print a larger label.")
	}
	if blur > maxBlur {
		refuse(Blurred, fmt.Sprintf("The photo is blurred: edges on the label are spread over %.1f pixels (one standard deviation), %.1f are borne.", l.Blur, maxBlur*module), "Hold the phone still and tap on the label so that it is in focus.")
	}
	if l.Tilt > MaxTilt {
		refuse(Oblique, fmt.Sprintf("The camera looks at the label from %.0f° off the vertical: at most %.0f° can be measured.", degrees, MaxTilt*180/math.Pi), "Hold the phone above the plant, level with the label.")
	}
	// Seven points, fourteen distances and three priors against nine numbers: eight degrees of
	// freedom, of which chance leaves more than 26 once in a thousand times.
	if fit.Chi > 26+8*float64(l.Marks-4) && fit.RMS > 0.3*module {
		refuse(Bent, fmt.Sprintf("The marks do not lie as on a flat label (%.1f pixels off).", fit.RMS), "Lay the label flat, or stick it onto something stiff.")
	}
	switch {
	case !lit:
		refuse(Covered, "The label is not wholly in the picture.", "Take all of the label into the picture.")
	case l.Light.Dark:
		refuse(Dark, "The photo is too dark: white paper is nearly black.", "Switch on more light, or let the phone expose for the label.")
	case l.Light.Purple:
		refuse(Purple, "The light has no green in it (purple lamps): leaf and ground cannot be told apart by colour.", "Switch the lamps to white, or turn them off and take the photo by daylight or with the flash.")
	case l.Light.Clipped:
		refuse(Bright, "The photo is too bright: white paper is beyond what it can hold.", "Tap on the label so that the phone exposes for it, or turn the lamps down.")
	}
	if l.Marks == 3 {
		l.Doubts = append(l.Doubts, "One of the label's marks is covered: the scale away from the label is less sure.")
	}
	if blur > doubtfulBlur && l.Refused == nil {
		l.Doubts = append(l.Doubts, fmt.Sprintf("The photo is slightly blurred (%.1f pixels).", l.Blur))
	}
	if l.Light.Uneven > 0.5 {
		l.Doubts = append(l.Doubts, fmt.Sprintf("Light changes by %.0f %% over the label: a shadow lies there, or a lamp is near.", 100*l.Light.Uneven))
	}
}
