package benchfile

import (
	"fmt"
	"math"

	"underlamp"
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
	fluxSpan     = span{0.1, 20_000}
	wattsSpan    = span{0.1, 10_000}
	efficacySpan = span{0.05, float64(energycost.ImpossibleEfficacy)}
	beamSpan     = span{5, 170}
	openingSpan  = span{0.001, 10}
	dimmingSpan  = span{0, 1}
	hoursSpan    = span{1.0 / 60, 24}
)

// lamps reads the lamps into the bench and returns where each was written.
func (r *reader) lamps(v value, b *underlamp.Bench) []fields {
	const want = "lamps: with a list, each with at, height, and flux or watts"
	items, ok := r.items(v, want)
	if !ok {
		return nil
	}
	if len(items) == 0 {
		r.missing(v, want, "at least one lamp")
		return nil
	}
	if len(items) > maxLamps {
		r.errorf(items[maxLamps], fmt.Sprintf("at most %d lamps", maxLamps), "there are %d lamps", len(items))
		items = items[:maxLamps]
	}
	var where []fields
	first := map[string]int{}
	for i, item := range items {
		if !item.written() {
			r.errorf(item, want, "nothing is written for this lamp")
			continue
		}
		f, ok := r.mapping(item, "lamps[]")
		if !ok {
			continue
		}
		l := r.lamp(f, b.Space)
		if l.Name == "" {
			l.Name = lampName(i)
		}
		if line, twice := first[l.Name]; twice {
			at := f.get("name")
			r.errorf(at, "a name of its own for every lamp", "the lamp in line %d is called %q too", line, l.Name)
		} else {
			first[l.Name] = f.at.line
		}
		if l.Kind == "" {
			l.Kind = l.Name
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

func (r *reader) lamp(f fields, s underlamp.Space) underlamp.Lamp {
	var l underlamp.Lamp
	l.Name, _ = r.words(f.get("name"), maxName)
	l.Kind, _ = r.words(f.get("kind"), maxName)
	x, y, placed := r.place(f.get("at"), s, "lamp")
	l.X, l.Y = x, y
	l.Height = r.lampHeight(f.get("height"), s)
	l.Pose = r.pose(f)
	l.File = r.photometry(f.get("photometry"))
	if l.File != nil && r.yes(f.get("mirrored")) {
		l.File.File = mirrored(l.File.File)
	}
	if l.File != nil && l.File.Tilt != nil && l.Pose.Tilt > 0 {
		r.warnf(f.get("tilt"), "", "%s says that the light of this lamp changes when it is tilted; only its value at 0° is used", l.File.Name)
	}
	l.Colour = r.colour(f.get("spectrum"))
	l.Opening = r.opening(f, l, s, placed)
	l.Beam = given(r, f.get("beam"), quantity.Angle, beamSpan, underlamp.Assumed[quantity.Degree](usualBeam, "a flat diffuse emitter, as most boards without lenses are; common practice, no source"))
	r.fromFile(f, &l)
	r.output(f, &l)
	r.judgeColour(f, l)
	r.ageing(f.get("ageing"), &l)
	r.dimmingCurve(f.get("dimming curve"), &l)
	l.Dimming = given(r, f.get("dimming"), quantity.Share, dimmingSpan, underlamp.Assumed[quantity.Fraction](1, "full power, as nothing was said"))
	if l.Dimming.Value == 0 {
		r.warnf(f.get("dimming"), "more than 0 %", "a lamp dimmed to 0 %% gives no light")
	}
	l.Hours = given(r, f.get("hours"), quantity.Duration, hoursSpan, underlamp.Assumed[quantity.Hours](usualHours, "a usual light day for lettuce; common practice, no source"))
	return l
}

func (r *reader) lampHeight(v value, s underlamp.Space) quantity.Metre {
	h, ok := r.need(v, quantity.Length, span{-1e6, 1e6}, "the height of the lamp above the planting surface")
	want := "a length above 0, measured from the planting surface up to where the light comes out"
	switch {
	case !ok:
	case h <= 0:
		r.errorf(v, want, "the lamp hangs at or below the planting surface")
	case s.Height > 0 && h > float64(s.Height)+slack:
		r.errorf(v, "at most "+r.show(quantity.Length, float64(s.Height)), "the lamp hangs above the ceiling of the space, which is %s high", r.show(quantity.Length, float64(s.Height)))
	case s.Height > 0:
		return quantity.Metre(math.Min(h, float64(s.Height)))
	}
	return quantity.Metre(h)
}

// opening reads the part of the lamp that gives light.
func (r *reader) opening(lamp fields, l underlamp.Lamp, s underlamp.Space, placed bool) underlamp.Opening {
	v := lamp.get("opening")
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
			return underlamp.Assumed(quantity.Metre(openingSpan.clamp(math.Min(usualOpening, room))), reason)
		}
		return underlamp.Opening{Width: side(roomX), Depth: side(roomY), Origin: underlamp.Default}
	}
	const want = "opening: {width: 60 cm, depth: 4 cm} or {diameter: 12 cm}"
	if o, ok := fileOpening(l.File); ok && !v.written() {
		r.sticksOut(lamp, l, o, s, placed)
		return o
	}
	if !v.written() && lamp.get("photometry").written() && l.File == nil {
		return usual() // the file that would tell is wrong, which was said
	}
	if !v.written() {
		r.warnf(v, want, "the opening of the lamp is not described; a square of 10 cm is taken, which is badly wrong for a long lamp that hangs low")
		return usual()
	}
	f, ok := r.mapping(v, "lamps[].opening")
	if !ok {
		return usual()
	}
	width, depth, diameter, inner := f.get("width"), f.get("depth"), f.get("diameter"), f.get("inner diameter")
	o := underlamp.Opening{Origin: underlamp.Stated}
	switch {
	case diameter.written() && (width.written() || depth.written()):
		r.errorf(diameter, want, "an opening has a diameter, or a width and a depth, not both")
		return usual()
	case diameter.written():
		o.Round = true
		o.Width = given(r, diameter, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
		o.Depth = o.Width
		if x, ok := r.amount(inner, quantity.Length, openingSpan); ok {
			if x >= float64(o.Width.Value) {
				r.errorf(inner, "less than the diameter", "the dark middle of the ring is as wide as the ring")
				return usual()
			}
			o.Inner = quantity.Metre(x)
		}
	case !width.written():
		r.missing(width, want, "the width of the opening, left to right,")
		return usual()
	case !depth.written():
		r.missing(depth, want, "the depth of the opening, front to back,")
		return usual()
	default:
		o.Width = given(r, width, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
		o.Depth = given(r, depth, quantity.Length, openingSpan, underlamp.Given[quantity.Metre]{})
	}
	if inner.written() && !o.Round {
		r.errorf(inner, want, "an inner diameter belongs to a round opening, which has a diameter")
		return usual()
	}
	o.Origin = min(o.Width.Origin, o.Depth.Origin)
	r.sticksOut(f, l, o, s, placed)
	return o
}

// sticksOut reports an opening that leaves the space, turned and tilted as it is.
func (r *reader) sticksOut(f fields, l underlamp.Lamp, o underlamp.Opening, s underlamp.Space, placed bool) {
	half, halfDeep, halfHigh := extent(o, l.Pose)
	beyond := func(centre, extent quantity.Metre, half float64) float64 {
		if extent == 0 {
			return 0 // the space itself is wrong
		}
		return half - math.Min(float64(centre), float64(extent-centre))
	}
	report := func(out float64, where string) {
		switch {
		case out <= slack:
		case out <= slightly && where != "top or bottom":
			r.warnf(f.value, "", "the opening sticks %s out of the space at the %s", r.show(quantity.Length, out), where)
		default:
			r.errorf(f.value, "an opening inside the space; at is its middle", "the opening sticks %s out of the space at the %s", r.show(quantity.Length, out), where)
		}
	}
	if placed {
		report(beyond(l.X, s.Width, half), "left or right")
		report(beyond(l.Y, s.Depth, halfDeep), "front or back")
	}
	if halfHigh > slack && l.Height > 0 {
		report(beyond(l.Height, s.Height, halfHigh), "top or bottom")
	}
}

// output reads flux, watts and efficacy and works out what can be worked out:
//
//	flux [µmol/s] = watts [J/s] · efficacy [µmol/J]
func (r *reader) output(f fields, l *underlamp.Lamp) {
	flux, watts, efficacy := f.get("flux"), f.get("watts"), f.get("efficacy")
	before := len(r.problems)
	l.Flux = given(r, flux, quantity.PhotonFlux, fluxSpan, l.Flux)
	l.Power = given(r, watts, quantity.Power, wattsSpan, l.Power)
	l.Rated = given(r, efficacy, quantity.PhotonEfficacy, efficacySpan, l.Rated)
	if len(r.problems) > before {
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
			r.warnf(efficacy, r.show(quantity.PhotonEfficacy, got)+", or nothing", "flux and watts make %s, not %s; flux and watts are used",
				r.show(quantity.PhotonEfficacy, got), r.show(quantity.PhotonEfficacy, eta))
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
		r.missing(f.get("flux"), "flux: 110 µmol/s from the label, or watts: 42 W", "the output of the lamp, flux or watts,")
		return
	}
	switch eta, most, doubtful := float64(l.Rated.Value), float64(energycost.ImpossibleEfficacy), float64(energycost.DoubtfulEfficacy); {
	case eta > most+slack:
		r.errorf(blame, "at most "+r.show(quantity.PhotonEfficacy, most), "%s is more light than the electricity holds; a photon of 660 nm costs at least 1/5.52 J", r.show(quantity.PhotonEfficacy, eta))
	case eta > doubtful:
		r.warnf(blame, "the figure of the whole lamp, driver included", "%s is more than lamps reach (about %s)", r.show(quantity.PhotonEfficacy, eta), r.show(quantity.PhotonEfficacy, doubtful))
	}
}
