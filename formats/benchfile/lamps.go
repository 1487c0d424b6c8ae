package benchfile

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

const (
	maxLamps = 200

	// usualEfficacy is the least that a North American listing of efficient
	// lamps asks since March 2023 (2.30 µmol/J; trade literature, the document
	// itself was not read). It serves both ways, for watts without flux and for
	// flux without watts, so that the two agree.
	usualEfficacy = 2.3 // µmol/J

	usualBeam    = 120  // °, a flat diffuse emitter: intensity falls with the cosine
	usualHours   = 16   // h
	usualOpening = 0.10 // m

	// slightly is how far an opening may stick out with a warning only: the
	// error of a tape measure.
	slightly = 0.02 // m

	// disagree is how far flux, watts and efficacy may be apart: the rounding of
	// labels.
	disagree = 0.03
)

var (
	fluxSpan     = handwritten.Span{Min: 0.1, Max: 20_000}
	wattsSpan    = handwritten.Span{Min: 0.1, Max: 10_000}
	efficacySpan = handwritten.Span{Min: 0.05, Max: float64(energycost.ImpossibleEfficacy)}
	beamSpan     = handwritten.Span{Min: 5, Max: 170}
	openingSpan  = handwritten.Span{Min: 0.001, Max: 10}
	dimmingSpan  = handwritten.Span{Min: 0, Max: 1}
	hoursSpan    = handwritten.Span{Min: 1.0 / 60, Max: 24}
)

// lamps reads the lamps into the bench and returns where each was written.
func (r *reader) lamps(v handwritten.Value, b *underlamp.Bench) []handwritten.Fields {
	const want = "lamps: with a list, each with at, height, and flux or watts"
	items, ok := r.List(v, want, maxLamps, "lamps")
	if !ok {
		return nil
	}
	if len(items) == 0 {
		r.Missing(v, want, "at least one lamp")
		return nil
	}
	var where []handwritten.Fields
	first := map[string]int{}
	for i, item := range items {
		if !item.Written() {
			r.Errorf(item, want, "nothing is written for this lamp")
			continue
		}
		f, ok := r.Mapping(item, "lamps[]")
		if !ok {
			continue
		}
		l := r.lamp(f, b.Space)
		if l.Name == "" {
			l.Name = lampName(i)
		}
		if line, twice := first[l.Name]; twice {
			at := f.Get("name")
			r.Errorf(at, "a name of its own for every lamp", "the lamp in line %d is called %q too", line, l.Name)
		} else {
			first[l.Name] = f.At.Line
		}
		if l.Kind == "" {
			l.Kind = l.Name
		}
		for j, o := range b.Lamps { // two channels of one board may hang at one place, two alike are a copy that was not moved
			if l.X == o.X && l.Y == o.Y && l.Height == o.Height && l.Height > 0 && l.Flux.Value == o.Flux.Value && l.Power.Value == o.Power.Value && l.Colour == o.Colour {
				r.Warnf(f.Get("at"), "a place of its own, or one of the two", "lamp %s of line %d hangs at this very place and gives as much light; their light is added", o.Name, where[j].At.Line)
				break
			}
		}
		b.Lamps = append(b.Lamps, l)
		where = append(where, f)
	}
	return where
}

// lampName is the name of a lamp without one: A to Z, then A2 to Z2, and so on.
func lampName(i int) string {
	name := string(rune('A' + i%26))
	if i >= 26 {
		name += fmt.Sprint(i/26 + 1)
	}
	return name
}

func (r *reader) lamp(f handwritten.Fields, s underlamp.Space) underlamp.Lamp {
	var l underlamp.Lamp
	l.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	l.Kind, _ = r.Words(f.Get("kind"), handwritten.MaxName)
	x, y, placed := r.place(f.Get("at"), s, "lamp")
	l.X, l.Y = x, y
	l.Height = r.lampHeight(f.Get("height"), s)
	l.Pose = r.pose(f)
	l.File = r.photometry(f.Get("photometry"))
	if l.File != nil && r.Yes(f.Get("mirrored")) {
		l.File.File = mirrored(l.File.File)
	}
	if l.File != nil && l.File.Tilt != nil && l.Pose.Tilt > 0 {
		r.Warnf(f.Get("tilt"), "", "%s says that the light of this lamp changes when it is tilted; only its value at 0° is used", l.File.Name)
	}
	l.Colour = r.colour(f.Get("spectrum"))
	l.Opening = r.opening(f, l, s, placed)
	l.Beam = handwritten.Given(r.Reader, f.Get("beam"), quantity.Angle, beamSpan, underlamp.Assumed[quantity.Degree](usualBeam, "a flat diffuse emitter, as most boards without lenses are; common practice, no source"))
	r.fromFile(f, &l)
	r.output(f, &l)
	r.judgeColour(f, l)
	r.dimmingCurve(f.Get("dimming curve"), &l)
	l.Dimming = handwritten.Given(r.Reader, f.Get("dimming"), quantity.Share, dimmingSpan, underlamp.Assumed[quantity.Fraction](1, "full power, as nothing was said"))
	if l.Dimming.Value == 0 {
		r.Warnf(f.Get("dimming"), "more than 0 %", "a lamp dimmed to 0 %% gives no light")
	}
	l.Hours = handwritten.Given(r.Reader, f.Get("hours"), quantity.Duration, hoursSpan, underlamp.Assumed[quantity.Hours](usualHours, "a usual light day for lettuce; common practice, no source"))
	r.ageing(f.Get("ageing"), &l)
	return l
}

func (r *reader) lampHeight(v handwritten.Value, s underlamp.Space) quantity.Metre {
	h, ok := r.Need(v, quantity.Length, handwritten.Span{Min: -1e6, Max: 1e6}, "the height of the lamp above the planting surface")
	want := "a length above 0, measured from the planting surface up to where the light comes out"
	switch {
	case !ok:
	case h <= 0:
		r.Errorf(v, want, "the lamp hangs at or below the planting surface")
	case s.Height > 0 && h > float64(s.Height)+handwritten.Slack:
		r.Errorf(v, "at most "+r.Show(quantity.Length, float64(s.Height)), "the lamp hangs above the ceiling of the space, which is %s high", r.Show(quantity.Length, float64(s.Height)))
	case s.Height > 0:
		return quantity.Metre(math.Min(h, float64(s.Height)))
	}
	return quantity.Metre(h)
}

// opening reads the part of the lamp that gives light.
func (r *reader) opening(lamp handwritten.Fields, l underlamp.Lamp, s underlamp.Space, placed bool) underlamp.Opening {
	v := lamp.Get("opening")
	room := func(centre, extent quantity.Metre) float64 {
		if !placed || extent == 0 {
			return math.Inf(1)
		}
		return 2 * math.Min(float64(centre), float64(extent-centre))
	}
	roomX, roomY := room(l.X, s.Width), room(l.Y, s.Depth)
	usual := func() underlamp.Opening {
		const reason = "the opening was not described; a square of 10 cm was taken"
		side := func(room float64) underlamp.Given[quantity.Metre] {
			return underlamp.Assumed(quantity.Metre(openingSpan.Clamp(math.Min(usualOpening, room))), reason)
		}
		return underlamp.Opening{Width: side(roomX), Depth: side(roomY), Origin: underlamp.Default}
	}
	const want = "opening: {width: 60 cm, depth: 4 cm} or {diameter: 12 cm}"
	if o, ok := fileOpening(l.File); ok && !v.Written() {
		r.sticksOut(lamp, l, o, s, placed)
		return o
	}
	if !v.Written() && lamp.Get("photometry").Written() && l.File == nil {
		return usual() // the file that would tell is wrong, which was said
	}
	if !v.Written() {
		r.Warnf(v, want, "the opening of the lamp is not described; a square of 10 cm is taken, which is badly wrong for a long lamp that hangs low")
		return usual()
	}
	f, ok := r.Mapping(v, "lamps[].opening")
	if !ok {
		return usual()
	}
	width, depth, diameter, inner := f.Get("width"), f.Get("depth"), f.Get("diameter"), f.Get("inner diameter")
	o := underlamp.Opening{Origin: underlamp.Stated}
	switch {
	case diameter.Written() && (width.Written() || depth.Written()):
		r.Errorf(diameter, want, "an opening has a diameter, or a width and a depth, not both")
		return usual()
	case diameter.Written():
		o.Round = true
		o.Width = handwritten.Given(r.Reader, diameter, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
		o.Depth = o.Width
		if x, ok := r.Amount(inner, quantity.Length, openingSpan); ok {
			if x >= float64(o.Width.Value) {
				r.Errorf(inner, "less than the diameter", "the dark middle of the ring is as wide as the ring")
				return usual()
			}
			o.Inner = quantity.Metre(x)
		}
	case !width.Written():
		r.Missing(width, want, "the width of the opening, left to right,")
		return usual()
	case !depth.Written():
		r.Missing(depth, want, "the depth of the opening, front to back,")
		return usual()
	default:
		o.Width = handwritten.Given(r.Reader, width, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
		o.Depth = handwritten.Given(r.Reader, depth, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
	}
	if inner.Written() && !o.Round {
		r.Errorf(inner, want, "an inner diameter belongs to a round opening, which has a diameter")
		return usual()
	}
	o.Origin = min(o.Width.Origin, o.Depth.Origin)
	r.sticksOut(f, l, o, s, placed)
	return o
}

// sticksOut reports an opening that leaves the space, turned and tilted as it is.
func (r *reader) sticksOut(f handwritten.Fields, l underlamp.Lamp, o underlamp.Opening, s underlamp.Space, placed bool) {
	half, halfDeep, halfHigh := extent(o, l.Pose)
	beyond := func(centre, extent quantity.Metre, half float64) float64 {
		if extent == 0 {
			return 0 // the space itself is wrong
		}
		return half - math.Min(float64(centre), float64(extent-centre))
	}
	report := func(out float64, where string) {
		switch {
		case out <= handwritten.Slack:
		case out <= slightly && where != "top or bottom":
			r.Warnf(f.Value, "", "the opening sticks %s out of the space at the %s", r.Show(quantity.Length, out), where)
		default:
			r.Errorf(f.Value, "an opening inside the space; at is its middle", "the opening sticks %s out of the space at the %s", r.Show(quantity.Length, out), where)
		}
	}
	if placed {
		report(beyond(l.X, s.Width, half), "left or right")
		report(beyond(l.Y, s.Depth, halfDeep), "front or back")
	}
	if halfHigh > handwritten.Slack && l.Height > 0 {
		report(beyond(l.Height, s.Height, halfHigh), "top or bottom")
	}
}

// output reads flux, watts and efficacy and works out what can be worked out:
//
//	flux [µmol/s] = watts [J/s] · efficacy [µmol/J]
func (r *reader) output(f handwritten.Fields, l *underlamp.Lamp) {
	flux, watts, efficacy := f.Get("flux"), f.Get("watts"), f.Get("efficacy")
	before := len(r.Problems)
	l.Flux = handwritten.Given(r.Reader, flux, quantity.PhotonFlux, fluxSpan, l.Flux)
	l.Power = handwritten.Given(r.Reader, watts, quantity.Power, wattsSpan, l.Power)
	l.Rated = handwritten.Given(r.Reader, efficacy, quantity.PhotonEfficacy, efficacySpan, l.Rated)
	if len(r.Problems) > before {
		return
	}
	phi, p, eta := float64(l.Flux.Value), float64(l.Power.Value), float64(l.Rated.Value)
	okFlux, okWatts, okEff := phi > 0, p > 0, eta > 0

	const same = "the least that a listing of efficient lamps has asked since 2023 (2.3 µmol/J)"
	blame := efficacy // where an efficacy that can't be is reported
	switch {
	case okFlux && okWatts:
		got := phi / p
		blame = flux
		if okEff && math.Abs(got-eta) > disagree*eta {
			r.Warnf(efficacy, r.Show(quantity.PhotonEfficacy, got)+", or nothing", "flux and watts make %s, not %s; flux and watts are used",
				r.Show(quantity.PhotonEfficacy, got), r.Show(quantity.PhotonEfficacy, eta))
			okEff = false
		}
		if !okEff {
			l.Rated = underlamp.Given[quantity.Efficacy]{Value: quantity.Efficacy(got), Origin: underlamp.Computed, Note: "flux divided by watts"}
		}
	case okFlux && okEff:
		l.Power = underlamp.Given[quantity.Watt]{Value: quantity.Watt(phi / eta), Origin: underlamp.Computed, Note: "flux divided by efficacy"}
	case okWatts && okEff:
		l.Flux = underlamp.Given[quantity.PPF]{Value: quantity.PPF(p * eta), Origin: underlamp.Computed, Note: "watts times efficacy"}
	case okFlux:
		l.Power = underlamp.Assumed(quantity.Watt(phi/usualEfficacy), "flux divided by "+same)
		l.Rated = underlamp.Assumed[quantity.Efficacy](usualEfficacy, same)
	case okWatts:
		l.Flux = underlamp.Assumed(quantity.PPF(p*usualEfficacy), "watts times "+same)
		l.Rated = underlamp.Assumed[quantity.Efficacy](usualEfficacy, same)
	default:
		r.Missing(f.Get("flux"), "flux: 110 µmol/s from the label, or watts: 42 W", "the output of the lamp, flux or watts,")
		return
	}
	switch eta, most, doubtful := float64(l.Rated.Value), float64(energycost.ImpossibleEfficacy), float64(energycost.DoubtfulEfficacy); {
	case eta > most+handwritten.Slack:
		r.Errorf(blame, "at most "+r.Show(quantity.PhotonEfficacy, most), "%s is more light than the electricity holds; a photon of 660 nm costs at least 1/5.52 J", r.Show(quantity.PhotonEfficacy, eta))
	case eta > doubtful:
		r.Warnf(blame, "the figure of the whole lamp, driver included", "%s is more than lamps reach (about %s)", r.Show(quantity.PhotonEfficacy, eta), r.Show(quantity.PhotonEfficacy, doubtful))
	}
}
