package photometricfile

import (
	"math"
	"strings"

	"underlamp/science/photometry"
)

// near allows for the three decimals that angles are printed with.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-3 }

// web turns angles and intensities into a web. line is that of the first value.
func (rd *reader) web(v version, kind number, vertical, horizontal []number, cd []float64, line int) *Error {
	if bad := ascending(vertical, "vertical angle"); bad != nil {
		return bad
	}
	if bad := ascending(horizontal, "horizontal angle"); bad != nil {
		return bad
	}
	f := rd.file
	below := vertical[0].v < 0
	switch kind.v {
	case 1:
		f.Coordinates = photometry.TypeC
		if below && v == v1986 {
			// In 1986 the code 1 stood for A as well as for C.
			f.Coordinates = photometry.TypeA
			rd.note(kind.line, "vertical angles below 0 in a file of 1986: the angles were taken as type A")
		}
	case 2:
		f.Coordinates = photometry.TypeB
	case 3:
		f.Coordinates = photometry.TypeA
	default:
		if below || horizontal[0].v < 0 {
			return &Error{Line: kind.line, Reason: "the photometric type is " + show(kind.v), Want: "1 (type C), 2 (type B) or 3 (type A)"}
		}
		rd.note(kind.line, "the photometric type is %s; the angles fit type C, which was taken", show(kind.v))
	}
	if f.Coordinates == photometry.TypeC {
		return rd.webC(vertical, horizontal, cd, line)
	}
	return rd.webAB(vertical, horizontal, cd, line)
}

// webC reads type C: half planes about the vertical axis.
func (rd *reader) webC(vertical, horizontal []number, cd []float64, line int) *Error {
	if bad := within(vertical, "vertical angle", 0, 180); bad != nil {
		return bad
	}
	if bad := within(horizontal, "horizontal angle", -360, 360); bad != nil {
		return bad
	}
	f := rd.file
	t := photometry.Table{PlanesDeg: values(horizontal), GammasDeg: values(vertical), Candela: cd}
	first, last := horizontal[0], horizontal[len(horizontal)-1]
	nv := len(vertical)
	switch {
	case len(horizontal) == 1:
		t.Symmetry = photometry.Axial
		if first.v != 0 {
			rd.note(first.line, "the one horizontal angle is %s°; the lamp was taken as the same all round", show(first.v))
		}
	case near(first.v, 0) && near(last.v, 90):
		t.Symmetry = photometry.Quadrant
	case near(first.v, 0) && near(last.v, 180):
		t.Symmetry = photometry.Bilateral0
	case near(first.v, 90) && near(last.v, 270):
		t.Symmetry = photometry.Bilateral90
	case near(last.v-first.v, 360):
		if off := ends(cd, nv); off > 0.01 {
			rd.note(last.line, "the first and the last plane are the same, but differ by up to %.0f %% of the peak; their mean was taken", 100*off)
		}
	case near(first.v, 0) && last.v > 180:
		// Before 2002, any last angle beyond 180 meant a lamp without symmetry.
		rd.note(last.line, "the horizontal angles end at %s°; from there the intensity was carried on to the first plane", show(last.v))
	default:
		return &Error{Line: first.line, Reason: "the horizontal angles run from " + show(first.v) + "° to " + show(last.v) + "°", Want: "0 alone, or 0 to 90, 0 to 180, 90 to 270 or 0 to 360 degrees"}
	}
	f.Symmetry = t.Symmetry
	rd.coverage(vertical)
	w, err := photometry.NewWeb(t)
	if err != nil {
		return fail(line, "%s", unprefixed(err))
	}
	f.Web = w
	return nil
}

// coverage notes vertical angles that leave out a part of a hemisphere.
func (rd *reader) coverage(vertical []number) {
	first, last := vertical[0], vertical[len(vertical)-1]
	if !near(first.v, 0) && !near(first.v, 90) {
		rd.note(first.line, "the vertical angles begin at %s°; no light was taken nearer to the axis", show(first.v))
	}
	if !near(last.v, 90) && !near(last.v, 180) {
		rd.note(last.line, "the vertical angles end at %s°; no light was taken beyond", show(last.v))
	}
}

// ends is the largest difference between the first and the last plane, as a
// share of the peak.
func ends(cd []float64, nv int) float64 {
	peak, off := 0.0, 0.0
	for _, v := range cd {
		peak = math.Max(peak, v)
	}
	for i := range nv {
		off = math.Max(off, math.Abs(cd[i]-cd[len(cd)-nv+i]))
	}
	return off / peak
}

// webAB reads types A and B.
func (rd *reader) webAB(vertical, horizontal []number, cd []float64, line int) *Error {
	f := rd.file
	g := photometry.Goniometer{Coordinates: f.Coordinates, HDeg: values(horizontal), VDeg: values(vertical), Candela: cd}
	maxH, maxV := 90.0, 180.0
	if f.Coordinates == photometry.TypeA {
		maxH, maxV = 180, 90
	}
	if bad := within(vertical, "vertical angle", -maxV, maxV); bad != nil {
		return bad
	}
	if bad := within(horizontal, "horizontal angle", -maxH, maxH); bad != nil {
		return bad
	}
	if len(horizontal) < 2 {
		return &Error{Line: horizontal[0].line, Reason: "there is one horizontal angle", Want: "at least two in type " + f.Coordinates.String()}
	}
	g.Mirrored = near(horizontal[0].v, 0)
	f.Symmetry = photometry.NoSymmetry
	if g.Mirrored {
		g.HDeg[0] = 0
		f.Symmetry = photometry.Bilateral0
	}
	if vertical[0].v >= 0 {
		rd.note(vertical[0].line, "the vertical angles begin at %s°; no light was taken below", show(vertical[0].v))
	}
	rd.note(horizontal[0].line, "type %s was turned into type C about the beam axis, the lamp facing down: up becomes C0, horizontal angles run toward C90", f.Coordinates)
	w, err := g.Web()
	if err != nil {
		return fail(line, "%s", unprefixed(err))
	}
	if own := g.Flux(); math.Abs(w.Flux()/own-1) > 0.02 {
		rd.note(line, "the steps of the angles are coarse for this beam: turning them into type C changed the light from %s to %s lm", show(own), show(w.Flux()))
	}
	f.Web = w
	return nil
}

// unprefixed drops the name of the package from an error of science.
func unprefixed(err error) string { return strings.TrimPrefix(err.Error(), "photometry: ") }
