package photometricfile

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/photometry"
	"underlamp/science/quantity"
)

// Lines of a EULUMDAT file, from 1 (Stockmar1990).
const (
	lineMaker      = 1
	lineSymmetry   = 3
	linePlanes     = 4
	lineGammas     = 6
	lineReport     = 8
	lineName       = 9
	lineNumber     = 10
	lineFile       = 11
	lineDate       = 12
	lineSize       = 13 // to 15: length, width, height of the fixture, mm
	lineOpening    = 16 // to 21: length, width, and heights toward C0, C90, C180, C270, mm
	lineDownward   = 22 // %
	lineRatio      = 23 // %
	lineFactor     = 24
	lineTilt       = 25 // °
	lineSets       = 26
	linesOfSet     = 6
	directRatios   = 10
	mostSets       = 20
	candelaPerKilo = 1000 // intensities are per 1000 lm
)

// A lampSet is one equipment of a fixture.
type lampSet struct {
	line                   int
	count, lumens, watts   float64
	kind, colour, rendered string
}

// text is a line as words.
func (rd *reader) text(line int) string {
	if line > len(rd.lines) {
		return ""
	}
	return clean(rd.lines[line-1])
}

// field is the number of a line; a blank line is 0 with ok false.
func (rd *reader) field(line int, what string) (n number, ok bool, bad *Error) {
	if line > len(rd.lines) {
		return number{}, false, &Error{Line: len(rd.lines), Reason: "the file ends too soon", Want: fmt.Sprintf("the %s in line %d", what, line)}
	}
	words := strings.Fields(rd.lines[line-1])
	if len(words) == 0 {
		return number{0, line}, false, nil
	}
	v, isNumber := parseNumber(strings.Replace(words[0], ",", ".", 1))
	if !isNumber {
		return number{}, false, &Error{Line: line, Reason: fmt.Sprintf("%q is no number", brief(words[0])), Want: "the " + what}
	}
	return number{v, line}, true, nil
}

// eulumdat reads a EULUMDAT file.
func (rd *reader) eulumdat() *Error {
	f := rd.file
	f.Format = "EULUMDAT"
	for _, k := range []struct {
		name string
		line int
	}{{"MANUFAC", lineMaker}, {"LUMINAIRE", lineName}, {"LUMCAT", lineNumber}, {"TEST", lineReport}, {"FILE", lineFile}, {"DATE", lineDate}} {
		if s := rd.text(k.line); s != "" {
			f.Keywords = append(f.Keywords, photometry.Keyword{Name: k.name, Value: s, Line: k.line})
		}
	}
	sym, _, bad := rd.field(lineSymmetry, "symmetry")
	if bad != nil {
		return bad
	}
	symmetry, bad := count(sym, "symmetry", 0, 4)
	if bad != nil {
		return bad
	}
	planes, _, bad := rd.field(linePlanes, "number of C planes")
	if bad != nil {
		return bad
	}
	mc, bad := count(planes, "number of C planes", 1, maxValues)
	if bad != nil {
		return bad
	}
	gammas, _, bad := rd.field(lineGammas, "number of gamma angles")
	if bad != nil {
		return bad
	}
	ng, bad := count(gammas, "number of gamma angles", 2, maxValues)
	if bad != nil {
		return bad
	}
	if ng > maxValues/mc {
		return fail(lineGammas, "%d planes of %d angles are more than any file has", mc, ng)
	}
	if bad := rd.eulumdatSize(); bad != nil {
		return bad
	}
	scale, after, bad := rd.eulumdatLight()
	if bad != nil {
		return bad
	}
	return rd.eulumdatWeb(symmetry, mc, ng, after+directRatios, scale)
}

// eulumdatSize reads the luminous opening. Its length runs along C90-C270: in
// EULUMDAT, C0 looks across a long lamp (from memory; the published tables do not
// say it).
func (rd *reader) eulumdatSize() *Error {
	var mm [9]float64
	for i := range mm {
		n, _, bad := rd.field(lineSize+i, "size in mm")
		if bad != nil {
			return bad
		}
		if n.v < 0 || n.v > 1e6 {
			return &Error{Line: n.line, Reason: "a size is " + show(n.v) + " mm", Want: "0 or more"}
		}
		mm[i] = n.v
	}
	length, width := mm[3], mm[4]
	height := max(mm[5], mm[6], mm[7], mm[8])
	from := lineOpening
	if length == 0 && width == 0 && mm[0] > 0 {
		length, width = mm[0], mm[1]
		from = lineSize
		rd.note(lineOpening, "the luminous area is not given; the size of the fixture was taken")
	}
	o := photometry.Opening{AlongC0: quantity.Metre(width / 1000), AlongC90: quantity.Metre(length / 1000), Height: quantity.Metre(height / 1000)}
	switch {
	case length == 0 && width == 0:
		o = photometry.Opening{}
	case width == 0: // round
		o.AlongC0, o.Shape = o.AlongC90, photometry.DiscShape
		if height > 0 {
			o.Shape = photometry.CylinderShape
		}
	case height > 0:
		o.Shape = photometry.BoxShape
	default:
		o.Shape = photometry.RectangleShape
	}
	rd.file.Opening = o
	if o.Outline() == photometry.RectangleOutline && o.AlongC0 != o.AlongC90 {
		rd.note(from, "the length was taken to run along C90-C270, as is usual in EULUMDAT; if the lamp lies otherwise, turn it by 90°")
	}
	return nil
}

// eulumdatLight reads shares, factor and lamp sets. It returns what a value is
// multiplied with to give cd, and the number of the last line of the sets.
func (rd *reader) eulumdatLight() (scale float64, after int, bad *Error) {
	f := rd.file
	share := func(line int, what string) (float64, *Error) {
		n, ok, bad := rd.field(line, what)
		if bad != nil || !ok || n.v <= 0 {
			return math.NaN(), bad
		}
		return n.v / 100, nil
	}
	if f.DownwardShare, bad = share(lineDownward, "downward flux in %"); bad != nil {
		return 0, 0, bad
	}
	if f.OutputRatio, bad = share(lineRatio, "light output ratio in %"); bad != nil {
		return 0, 0, bad
	}
	factor, _, bad := rd.field(lineFactor, "conversion factor")
	if bad != nil {
		return 0, 0, bad
	}
	f.Multiplier, f.Ballast = factor.v, 1
	switch {
	case factor.v < 0:
		return 0, 0, &Error{Line: factor.line, Reason: "the conversion factor is " + show(factor.v), Want: "more than 0"}
	case factor.v == 0:
		f.Multiplier = 1
		rd.note(factor.line, "the conversion factor is 0 or missing; 1 was taken")
	}
	if tilt, _, bad := rd.field(lineTilt, "tilt in degrees"); bad != nil {
		return 0, 0, bad
	} else if tilt.v != 0 {
		rd.note(tilt.line, "the lamp was measured tilted by %s°; the angles were taken as they stand", show(tilt.v))
	}
	n, _, bad := rd.field(lineSets, "number of lamp sets")
	if bad != nil {
		return 0, 0, bad
	}
	sets, bad := count(n, "number of lamp sets", 1, mostSets)
	if bad != nil {
		return 0, 0, bad
	}
	set, bad := rd.lampSet(lineSets + 1)
	if bad != nil {
		return 0, 0, bad
	}
	for i := 1; i < sets; i++ { // the others must at least be there
		if _, bad := rd.lampSet(lineSets + 1 + i*linesOfSet); bad != nil {
			return 0, 0, bad
		}
	}
	if sets > 1 {
		rd.note(lineSets, "there are %d lamp sets, which are alternatives; the first was taken", sets)
	}
	for _, k := range []struct{ name, value string }{{"LAMP", set.kind}, {"COLORTEMP", set.colour}, {"CRI", set.rendered}} {
		if k.value != "" {
			f.Keywords = append(f.Keywords, photometry.Keyword{Name: k.name, Value: k.value, Line: set.line})
		}
	}
	f.Absolute = set.count < 0
	f.Lamps = max(1, int(math.Min(math.Abs(set.count), 1e6)))
	f.StatedLumens = set.lumens
	lumens := set.lumens
	if lumens <= 0 {
		lumens, f.StatedLumens = candelaPerKilo, math.NaN()
		rd.note(set.line+2, "the lumens of the lamps are not given; the values are per 1000 lm and were taken for 1000 lm, so only the shape of the beam is known")
	}
	f.Watts = set.watts
	if !(f.Watts > 0) {
		f.Watts = math.NaN()
		rd.note(set.line+5, "the input power is not given")
	}
	return f.Multiplier * lumens / candelaPerKilo, lineSets + sets*linesOfSet, nil
}

// lampSet reads six lines from one on.
func (rd *reader) lampSet(line int) (lampSet, *Error) {
	s := lampSet{line: line, kind: rd.text(line + 1), colour: rd.text(line + 3), rendered: rd.text(line + 4)}
	for _, k := range []struct {
		offset int
		what   string
		to     *float64
	}{{0, "number of lamps", &s.count}, {2, "lumens of all lamps of the set", &s.lumens}, {5, "watts with ballast", &s.watts}} {
		n, _, bad := rd.field(line+k.offset, k.what)
		if bad != nil {
			return s, bad
		}
		*k.to = n.v
	}
	if s.lumens > 1e9 || s.lumens < 0 {
		return s, &Error{Line: line + 2, Reason: "the lumens of the lamps are " + show(s.lumens), Want: "0 to 1e9"}
	}
	return s, nil
}

// eulumdatWeb reads angles and intensities from the line after the direct ratios.
func (rd *reader) eulumdatWeb(symmetry, mc, ng, after int, scale float64) *Error {
	kind := [...]photometry.Symmetry{photometry.NoSymmetry, photometry.Axial, photometry.Bilateral0, photometry.Bilateral90, photometry.Quadrant}[symmetry]
	from, stored := 0, mc
	switch kind {
	case photometry.Axial:
		stored = 1
	case photometry.Bilateral0:
		stored = mc/2 + 1
	case photometry.Bilateral90:
		from, stored = mc/4, mc/2+1
	case photometry.Quadrant:
		stored = mc/4 + 1
	}
	if step := map[photometry.Symmetry]int{photometry.Bilateral0: 2, photometry.Bilateral90: 4, photometry.Quadrant: 4}[kind]; step > 0 && mc%step != 0 {
		return &Error{Line: linePlanes, Reason: fmt.Sprintf("%d C planes do not fit symmetry %d", mc, symmetry), Want: fmt.Sprintf("a multiple of %d", step)}
	}
	s := newStream(rd.lines, min(after, len(rd.lines)), commaIsPoint)
	listed := mc
	switch need := mc + ng + stored*ng; {
	case s.left() == need:
	case s.left() == mc+ng+mc*ng:
		rd.note(lineSymmetry, "every plane is given although the symmetry is %d; all of them were taken", symmetry)
		kind, from, stored = photometry.NoSymmetry, 0, mc
	case s.left() == stored+ng+stored*ng:
		rd.note(linePlanes, "only the %d planes that are stored are listed, not all %d", stored, mc)
		listed, from = stored, 0
	case s.left() < need:
		return s.short(need, fmt.Sprintf("%d C angles, %d gamma angles and %d intensities", mc, ng, stored*ng))
	default:
		return &Error{Line: s.all[need].line, Reason: fmt.Sprintf("%d numbers are left over after %d planes of %d intensities", s.left()-need, stored, ng), Want: "as many numbers as lines 3, 4 and 6 say"}
	}
	if s.stop > 0 {
		rd.note(s.stop, "text after the last intensity was left out")
	}
	c, _ := s.take(listed, "")
	gamma, _ := s.take(ng, "")
	raw, _ := s.take(stored*ng, "")
	c = c[from : from+stored]
	if bad := ascending(gamma, "gamma angle"); bad != nil {
		return bad
	}
	if bad := within(gamma, "gamma angle", 0, 180); bad != nil {
		return bad
	}
	if bad := within(c, "C angle", 0, 360); bad != nil {
		return bad
	}
	if bad := ascending(c, "C angle"); bad != nil {
		return bad
	}
	cd, bad := rd.intensities(raw, scale)
	if bad != nil {
		return bad
	}
	rd.coverage(gamma)
	t := photometry.Table{PlanesDeg: values(c), GammasDeg: values(gamma), Candela: cd, Symmetry: kind}
	w, err := photometry.NewWeb(t)
	if err != nil {
		return fail(c[0].line, "%s", unprefixed(err))
	}
	rd.file.Symmetry, rd.file.Web = kind, w
	rd.eulumdatShares()
	return nil
}

// eulumdatShares compares the stated shares with the intensities. Three points:
// makers round the shares to one, and take them from other runs.
func (rd *reader) eulumdatShares() {
	f := rd.file
	const points = 0.03
	if own := f.Web.Down() / f.Web.Flux(); math.Abs(own-f.DownwardShare) > points {
		rd.note(lineDownward, "%.1f %% downward is stated, the intensities give %.1f %%", 100*f.DownwardShare, 100*own)
	}
	if own := f.Web.Flux() / f.StatedLumens; math.Abs(own-f.OutputRatio) > points {
		rd.note(lineRatio, "a light output ratio of %.1f %% is stated, the intensities give %.1f %%", 100*f.OutputRatio, 100*own)
	}
}
