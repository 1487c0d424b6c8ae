package benchfile

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

const (
	maxShelves   = 20
	maxDimPoints = 50
)

var (
	turnSpan   = handwritten.Span{Min: -360, Max: 360}
	tiltSpan   = handwritten.Span{Min: 0, Max: 180}
	leftSpan   = handwritten.Span{Min: 0.2, Max: 1}
	reflection = handwritten.Span{Min: 0, Max: 1}
)

// pose reads how a lamp hangs.
func (r *reader) pose(f handwritten.Fields) underlamp.Pose {
	var p underlamp.Pose
	angle := func(key string, s handwritten.Span) (quantity.Degree, bool) {
		x, ok := r.Amount(f.Get(key), quantity.Angle, s)
		return quantity.Degree(x), ok
	}
	p.Turn, _ = angle("turn", turnSpan)
	tilted := false
	p.Tilt, tilted = angle("tilt", tiltSpan)
	var towards bool
	p.Towards, towards = angle("towards", turnSpan)
	switch {
	case tilted && p.Tilt > 0 && !f.Get("towards").Written():
		r.Missing(f.Get("tilt"), "towards: 0° (to the right), 90° (to the back), 180° or 270°", "the side towards which the lamp is tilted")
	case towards && p.Tilt == 0:
		r.Warnf(f.Get("towards"), "tilt: 20°, or nothing", "towards does nothing without a tilt")
	}
	if p.Tilt > 90 {
		r.Warnf(f.Get("tilt"), "0° to 90°, 0° being straight down", "tilted by %s the lamp faces upwards", r.Show(quantity.Angle, float64(p.Tilt)))
	}
	return p
}

// extent is how far the opening of a lamp reaches from its middle: left or
// right, front or back, and up or down.
func extent(o underlamp.Opening, p underlamp.Pose) (x, y, z float64) {
	rad := math.Pi / 180
	turn, tilt, to := float64(p.Turn)*rad, float64(p.Tilt)*rad, float64(p.Towards)*rad
	// The lamp's own axes after the turn, then swung about the level line at right
	// angles to the bearing.
	swing := func(ux, uy float64) (vx, vy, vz float64) {
		along := ux*math.Cos(to) + uy*math.Sin(to)
		across := -ux*math.Sin(to) + uy*math.Cos(to)
		a := along * math.Cos(tilt)
		return a*math.Cos(to) - across*math.Sin(to), a*math.Sin(to) + across*math.Cos(to), along * math.Sin(tilt)
	}
	ax, ay, az := swing(math.Cos(turn), math.Sin(turn))
	bx, by, bz := swing(-math.Sin(turn), math.Cos(turn))
	w, d := float64(o.Width.Value)/2, float64(o.Depth.Value)/2
	sum := func(a, b float64) float64 { return w*math.Abs(a) + d*math.Abs(b) }
	if o.Round {
		sum = func(a, b float64) float64 { return w * math.Hypot(a, b) }
	}
	return sum(ax, bx), sum(ay, by), sum(az, bz)
}

// ageing reads what time has left of a lamp's light.
func (r *reader) ageing(v handwritten.Value, l *underlamp.Lamp) {
	l.Left = underlamp.Assumed[quantity.Fraction](1, "as new; nothing was said of its age")
	if !v.Written() {
		return
	}
	if !v.IsMapping() {
		if x, ok := r.Amount(v, quantity.Share, leftSpan); ok {
			l.Left = underlamp.Said(quantity.Fraction(x))
		}
		return
	}
	f, ok := r.Mapping(v, "lamps[].ageing")
	if !ok {
		return
	}
	if !f.Get("light").Written() {
		r.Missing(f.Get("light"), "light: 93 %, of a new lamp's", "the light that is left")
		return
	}
	l.Left = handwritten.Given(r.Reader, f.Get("light"), quantity.Share, leftSpan, l.Left)
	l.LeftOn = r.Date(f.Get("date"))
	l.NewOn = r.Date(f.Get("new"))
	after := f.Get("after")
	switch {
	case after.Written() && f.Get("date").Written():
		r.Errorf(after, "one of the two", "the light that is left is said for a day and for a time of burning")
	case after.Written() && !f.Get("new").Written():
		r.Missing(f.Get("new"), "new: 2025-03-01, the day the lamp was first lit", "since when the lamp burns")
	case after.Written():
		if hours, ok := r.Amount(after, quantity.Duration, handwritten.Span{Min: 100, Max: 1e6}); ok && l.Left.Value < 1 {
			l.FadeBy(l.Left.Value, quantity.Hours(hours))
		}
	case l.NewOn != "" && l.LeftOn != "":
		if l.LeftOn <= l.NewOn {
			r.Errorf(f.Get("new"), "a day before "+l.LeftOn, "the lamp was new on the day that it had aged, or later")
			return
		}
		l.FadeTo(l.Left.Value, l.LeftOn)
	case l.NewOn != "":
		r.Missing(f.Get("date"), "date: 2026-10-01, or after: 36000 h", "when that light is left")
	}
}

// dimmingCurve reads what the dimmer does, as measured.
func (r *reader) dimmingCurve(v handwritten.Value, l *underlamp.Lamp) {
	const want = "dimming curve: [{dimming: 50 %, light: 54 %, watts: 22 W}, ...]"
	items, ok := r.List(v, want, maxDimPoints, "points")
	if !ok || len(items) == 0 {
		return
	}
	before := len(r.Problems)
	var last underlamp.DimPoint
	for _, item := range items {
		f, ok := r.Mapping(item, "lamps[].dimming curve[]")
		if !ok {
			continue
		}
		d, okD := r.Need(f.Get("dimming"), quantity.Share, handwritten.Span{Min: 0.001, Max: 1}, "the position of the dimmer")
		light, okL := r.Need(f.Get("light"), quantity.Share, handwritten.Span{Min: 0, Max: 1}, "the share of the full light")
		p := underlamp.DimPoint{Dimming: quantity.Fraction(d), Light: quantity.Fraction(light), Power: quantity.Fraction(d)}
		if w := f.Get("watts"); w.Written() {
			x, ok := r.Amount(w, quantity.Power, handwritten.Span{Min: 0, Max: wattsSpan.Max})
			switch full := float64(l.Power.Value); {
			case !ok:
			case full <= 0:
				r.Errorf(w, "watts: of the lamp at full power too", "the power of a dimmed lamp says nothing without that at full power")
			case x > 1.02*full:
				r.Errorf(w, "at most "+r.Show(quantity.Power, full), "dimmed, the lamp draws more than at full power")
			default:
				p.Power = quantity.Fraction(math.Min(x/full, 1))
			}
		}
		if !okD || !okL {
			continue
		}
		if p.Dimming <= last.Dimming || p.Light < last.Light {
			r.Errorf(item, "points from dim to bright, each brighter than the one before", "at %s the light is not more than at the point before", r.Show(quantity.Share, d))
			continue
		}
		last = p
		l.Curve = append(l.Curve, p)
	}
	if len(r.Problems) > before {
		return
	}
	if last.Dimming < 1 {
		l.Curve = append(l.Curve, underlamp.DimPoint{Dimming: 1, Light: 1, Power: 1})
	}
}

// shelves reads the boards inside the space.
func (r *reader) shelves(v handwritten.Value, s underlamp.Space) []underlamp.Shelf {
	const want = "shelves: [{from: [0 cm, 0 cm], to: [60 cm, 60 cm], height: 40 cm, top: 30 %, bottom: 50 %}]"
	items, ok := r.List(v, want, maxShelves, "shelves")
	if !ok {
		return nil
	}
	var out []underlamp.Shelf
	for i, item := range items {
		f, ok := r.Mapping(item, "shelves[]")
		if !ok {
			continue
		}
		sh := underlamp.Shelf{Name: fmt.Sprintf("shelf %d", i+1)}
		if name, ok := r.Words(f.Get("name"), handwritten.MaxName); ok {
			sh.Name = name
		}
		x1, y1, ok1 := r.place(f.Get("from"), s, "corner of the shelf")
		x2, y2, ok2 := r.place(f.Get("to"), s, "corner of the shelf")
		h, ok3 := r.Need(f.Get("height"), quantity.Length, handwritten.Span{Min: 0.001, Max: heightSpan.Max}, "the height of the shelf above the planting surface")
		const why = "a painted or metal board; common practice, no source"
		sh.Top = r.face(f.Get("top"), underlamp.Assumed[quantity.Fraction](usualBelow, why))
		sh.Bottom = r.face(f.Get("bottom"), underlamp.Assumed[quantity.Fraction](usualAbove, why))
		if !ok1 || !ok2 || !ok3 {
			continue
		}
		sh.X1, sh.X2, sh.Y1, sh.Y2 = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
		sh.Height = quantity.Metre(h)
		if sh.X2-sh.X1 < 0.01 || sh.Y2-sh.Y1 < 0.01 {
			r.Errorf(item, want, "the shelf is less than 1 cm wide or deep")
			continue
		}
		if s.Height > 0 && sh.Height >= s.Height {
			r.Errorf(f.Get("height"), "below "+r.Show(quantity.Length, float64(s.Height)), "the shelf lies at or above the top of the space; above: under walls describes that")
			continue
		}
		out = append(out, sh)
	}
	return out
}

// face reads the reflectance of a face: a share, or a surface.
func (r *reader) face(v handwritten.Value, usual underlamp.Given[quantity.Fraction]) underlamp.Given[quantity.Fraction] {
	if !v.Written() {
		return usual
	}
	w := r.wall(v, underlamp.Wall{Reflectance: usual})
	if w.Open {
		r.Errorf(v, "a share such as 50 %, or a surface", "a shelf has no open face")
		return usual
	}
	return w.Reflectance
}
