package photometricfile

import (
	"fmt"
	"io"
	"math"
	"path"
	"strings"

	"underlamp/science/photometry"
)

// version is a year of LM-63. The rules changed with each.
type version int

const (
	v1986 version = 1986
	v1991 version = 1991
	v1995 version = 1995
	v2002 version = 2002
	v2019 version = 2019
)

// versionOf reads a tag; known is false if the line is a tag of no year that is
// known, and tag is false if it is none.
func versionOf(line string) (v version, known, tag bool) {
	s := strings.ToUpper(strings.Join(strings.Fields(line), ""))
	if !strings.HasPrefix(s, "IES") {
		return v1986, false, false
	}
	for _, k := range []struct {
		text string
		v    version
	}{
		{"IESNA86", v1986}, {"IESNA91", v1991}, {"IESNA95", v1995}, {"IESNA:LM-63-1986", v1986}, {"IESNA:LM-63-1991", v1991},
		{"IESNA:LM-63-1995", v1995}, {"IESNA:LM-63-95", v1995}, {"IESNA:LM-63-2002", v2002}, {"IESNA:LM-63-02", v2002},
		{"IES:LM-63-2019", v2019}, {"IESNA:LM-63-2019", v2019}, {"IES:LM-63-19", v2019}, {"IES:LM-63-2002", v2002}, {"IES:LM-63-1995", v1995},
	} {
		if s == k.text {
			return k.v, true, true
		}
	}
	// A sentence that begins with these letters is a label.
	return v2002, false, len(strings.Fields(line)) <= 2
}

// tiltLine returns what follows TILT= on a line that begins so.
func tiltLine(line string) (value string, ok bool) {
	s := strings.TrimSpace(line)
	if len(s) < 5 || !strings.EqualFold(s[:4], "TILT") {
		return "", false
	}
	s = strings.TrimSpace(s[4:])
	if !strings.HasPrefix(s, "=") {
		return "", false
	}
	return strings.TrimSpace(s[1:]), true
}

// lm63 reads an LM-63 file.
func (rd *reader) lm63() *Error {
	f := rd.file
	at := 0
	for at < len(rd.lines) && strings.TrimSpace(rd.lines[at]) == "" {
		at++
	}
	v, known, tag := versionOf(rd.lines[at])
	f.Format = fmt.Sprintf("LM-63-%d", v)
	switch {
	case tag && !known:
		f.Format = "LM-63, version not known"
		rd.note(at+1, "the version %q is not known; the rules of 2002 were taken", brief(rd.lines[at]))
	case !tag && v == v1986 && strings.Contains(rd.lines[at], "["):
		rd.note(at+1, "the version line is missing; the rules of 1986 were taken")
	}
	if tag {
		at++
	}
	tilt, found := "", false
	for ; at < len(rd.lines); at++ {
		if tilt, found = tiltLine(rd.lines[at]); found {
			break
		}
		rd.label(rd.lines[at], at+1)
	}
	if !found {
		return &Error{Line: len(rd.lines), Reason: "there is no line that begins with TILT=", Want: "TILT=NONE, TILT=INCLUDE or TILT= and a file name, before the numbers"}
	}
	tiltAt := at + 1
	at++
	at = rd.skipText(at)

	bad := rd.numbers(v, at, tilt, tiltAt, commaSeparates)
	if bad != nil && rd.decimalCommas(at) {
		// The same text with decimal commas: taken only if every count then fits.
		notes := len(f.Notes)
		if rd.numbers(v, at, tilt, tiltAt, commaIsPoint) == nil {
			rd.note(at+1, "the numbers have decimal commas; they were read as points")
			return nil
		}
		f.Notes = f.Notes[:notes]
	}
	return bad
}

// label reads one line above TILT.
func (rd *reader) label(line string, at int) {
	f := rd.file
	s := clean(line)
	if s == "" {
		return
	}
	name, value, bracket := "", s, false
	if strings.HasPrefix(s, "[") {
		if end := strings.IndexByte(s, ']'); end > 0 {
			name, value, bracket = strings.ToUpper(strings.TrimSpace(s[1:end])), strings.TrimSpace(s[end+1:]), true
		}
	}
	if bracket && name == "MORE" && len(f.Keywords) > 0 {
		last := &f.Keywords[len(f.Keywords)-1]
		last.Value = strings.TrimSpace(last.Value + " " + value)
		return
	}
	f.Keywords = append(f.Keywords, photometry.Keyword{Name: name, Value: value, Line: at})
}

// skipText passes lines of words between TILT and the first number.
func (rd *reader) skipText(at int) int {
	for from := at; at < len(rd.lines); at++ {
		words := strings.Fields(strings.ReplaceAll(rd.lines[at], ",", " "))
		if len(words) == 0 {
			continue
		}
		if _, ok := parseNumber(words[0]); ok {
			if at > from && strings.TrimSpace(strings.Join(rd.lines[from:at], "")) != "" {
				rd.note(from+1, "text between TILT and the numbers was left out")
			}
			return at
		}
	}
	return at
}

// decimalCommas tells whether there is a digit, a comma and a digit.
func (rd *reader) decimalCommas(from int) bool {
	digit := func(b byte) bool { return b >= '0' && b <= '9' }
	for _, l := range rd.lines[min(from, len(rd.lines)):] {
		for i := 1; i+1 < len(l); i++ {
			if l[i] == ',' && digit(l[i-1]) && digit(l[i+1]) {
				return true
			}
		}
	}
	return false
}

// numbers reads everything after the TILT line. On an error the notes are as
// they were.
func (rd *reader) numbers(v version, from int, tilt string, tiltAt int, c commas) (bad *Error) {
	notes := len(rd.file.Notes)
	defer func() {
		if bad != nil {
			rd.file.Notes = rd.file.Notes[:notes]
		}
	}()
	s := newStream(rd.lines, from, c)
	if bad := rd.tilt(s, tilt, tiltAt); bad != nil {
		return bad
	}
	head, bad := s.take(10, "number of lamps, lumens per lamp, multiplier, number of vertical and horizontal angles, type, unit, width, length, height")
	if bad != nil {
		return bad
	}
	nv, bad := count(head[3], "number of vertical angles", 2, maxValues)
	if bad != nil {
		return bad
	}
	nh, bad := count(head[4], "number of horizontal angles", 1, maxValues)
	if bad != nil {
		return bad
	}
	if nv > maxValues/nh {
		return fail(head[3].line, "%d times %d angles are more than any file has", nv, nh)
	}
	rest := nv + nh + nv*nh
	ballast := []number{{1, head[9].line}, {1, head[9].line}, {0, head[9].line}}
	if s.left() == rest && s.stop == 0 {
		rd.note(s.line(), "the line with ballast factor and watts is missing; factors of 1 were taken, the watts are not known")
	} else if ballast, bad = s.take(3, "ballast factor, ballast-lamp factor, input watts"); bad != nil {
		return bad
	}
	if s.left() < rest {
		return s.short(rest, fmt.Sprintf("%d vertical angles, %d horizontal angles and %d intensities", nv, nh, nv*nh))
	}
	vertical, _ := s.take(nv, "")
	horizontal, _ := s.take(nh, "")
	raw, _ := s.take(nv*nh, "")
	if s.left() > 0 {
		return &Error{Line: s.line(), Reason: fmt.Sprintf("%d numbers are left over after %d by %d intensities", s.left(), nv, nh), Want: "as many numbers as the counts of angles say; one of the counts may be wrong"}
	}
	if s.stop > 0 {
		rd.note(s.stop, "text after the last intensity was left out")
	}
	factor, bad := rd.factors(v, head, ballast)
	if bad != nil {
		return bad
	}
	rd.file.Opening = rd.opening(v, head[6], head[7:10])
	if t := rd.file.Tilt; t != nil {
		factor *= t.FactorAt0 // 1 if its file is not at hand
	}
	cd, bad := rd.intensities(raw, factor)
	if bad != nil {
		return bad
	}
	return rd.web(v, head[5], vertical, horizontal, cd, raw[0].line)
}

// tilt reads what TILT= says. Of the table only the factor at 0° is used.
func (rd *reader) tilt(s *stream, value string, line int) *Error {
	rd.file.Tilt = nil
	word, rest, _ := strings.Cut(value, " ")
	switch strings.ToUpper(word) {
	case "NONE":
		if strings.TrimSpace(rest) != "" {
			rd.note(line, "text after TILT=NONE was left out")
		}
		return nil
	case "":
		rd.note(line, "nothing follows TILT=; NONE was taken")
		return nil
	case "INCLUDE":
		t, bad := readTilt(s, line)
		if bad != nil {
			return bad
		}
		rd.setTilt(t, line)
		return nil
	}
	t := &photometry.Tilt{File: clean(value), FactorAt0: 1, NotAtHand: true}
	base := path.Base(strings.ReplaceAll(t.File, "\\", "/"))
	if rd.beside != nil && base != "." && base != "/" && base != ".." {
		if text, err := readBeside(rd, base); err == nil {
			other := newStream(text, 0, commaSeparates)
			inner, bad := readTilt(other, 0)
			if bad != nil {
				return &Error{Line: line, Reason: "the TILT file " + brief(base) + " cannot be read: " + bad.Error()}
			}
			inner.File = t.File
			rd.setTilt(inner, line)
			return nil
		}
	}
	rd.file.Tilt = t
	rd.note(line, "the TILT file %s is not at hand: how the light changes when the lamp is tilted is not known; for a lamp that faces down a factor of 1 was taken", brief(t.File))
	return nil
}

func (rd *reader) setTilt(t *photometry.Tilt, line int) {
	rd.file.Tilt = t
	if t.FactorAt0 != 1 {
		rd.note(line, "the TILT factor at 0° is %s and was multiplied in", show(t.FactorAt0))
	}
}

// readBeside reads a TILT file as lines.
func readBeside(rd *reader, name string) ([]string, error) {
	f, err := rd.beside.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, 1<<16))
	if err != nil {
		return nil, err
	}
	inner := &reader{file: &photometry.File{}}
	if err := inner.decode(data); err != nil {
		return nil, err
	}
	return inner.lines, nil
}

// readTilt reads geometry, count, angles and factors.
func readTilt(s *stream, line int) (*photometry.Tilt, *Error) {
	const what = "TILT data: geometry, count, angles, factors"
	head, bad := s.take(2, what)
	if bad != nil {
		return nil, bad
	}
	geometry, bad := count(head[0], "lamp-to-luminaire geometry of TILT", 1, 3)
	if bad != nil {
		return nil, bad
	}
	n, bad := count(head[1], "number of TILT angles", 1, 1000)
	if bad != nil {
		return nil, bad
	}
	angles, bad := s.take(n, what)
	if bad != nil {
		return nil, bad
	}
	factors, bad := s.take(n, what)
	if bad != nil {
		return nil, bad
	}
	if bad := ascending(angles, "TILT angle"); bad != nil {
		return nil, bad
	}
	for _, x := range factors {
		if x.v < 0 || x.v > 10 {
			return nil, &Error{Line: x.line, Reason: "a TILT factor is " + show(x.v), Want: "0 to 10"}
		}
	}
	t := &photometry.Tilt{Geometry: geometry, AnglesDeg: values(angles), Factors: values(factors)}
	t.FactorAt0 = interpolate(t.AnglesDeg, t.Factors, 0)
	if t.FactorAt0 == 0 {
		return nil, fail(max(line, head[0].line), "the TILT factor at 0° is 0, so a lamp that faces down would be dark")
	}
	return t, nil
}

// interpolate reads a table of ascending x, held at its ends.
func interpolate(x, y []float64, at float64) float64 {
	for i := range x {
		if at <= x[i] {
			if i == 0 {
				return y[0]
			}
			return y[i-1] + (at-x[i-1])/(x[i]-x[i-1])*(y[i]-y[i-1])
		}
	}
	return y[len(y)-1]
}

// factors reads lamps, lumens, multiplier, ballast and watts, and returns what a
// value is multiplied with to give cd.
func (rd *reader) factors(v version, head, ballast []number) (float64, *Error) {
	f := rd.file
	lamps, lumens, multiplier := head[0], head[1], head[2]
	f.Lamps = 1
	if lamps.v >= 1 && lamps.v <= 1e6 && lamps.v == math.Trunc(lamps.v) {
		f.Lamps = int(lamps.v)
	} else {
		rd.note(lamps.line, "the number of lamps is %s; 1 was taken", show(lamps.v))
	}
	f.StatedLumens = math.NaN()
	switch {
	case lumens.v < 0:
		f.Absolute = true
		if lumens.v != -1 {
			rd.note(lumens.line, "the lumens per lamp are %s; below 0 means that the intensities are of the lamp as it is, for which -1 is written", show(lumens.v))
		}
	case lumens.v == 0:
		rd.note(lumens.line, "the lumens per lamp are 0, so they are not known; the intensities were taken as they stand")
	default:
		f.StatedLumens = lumens.v * float64(f.Lamps)
	}
	f.Multiplier = multiplier.v
	switch {
	case multiplier.v < 0:
		return 0, &Error{Line: multiplier.line, Reason: "the candela multiplier is " + show(multiplier.v), Want: "more than 0"}
	case multiplier.v == 0:
		f.Multiplier = 1
		rd.note(multiplier.line, "the candela multiplier is 0, which would leave no light; 1 was taken")
	}
	f.Ballast = ballast[0].v
	switch {
	case ballast[0].v < 0:
		return 0, &Error{Line: ballast[0].line, Reason: "the ballast factor is " + show(ballast[0].v), Want: "more than 0"}
	case ballast[0].v == 0:
		f.Ballast = 1
		rd.note(ballast[0].line, "the ballast factor is 0, which would leave no light; 1 was taken")
	}
	second := ballast[1]
	switch {
	case v <= v1991:
		// Ballast-lamp photometric factor: it multiplies in 1986 and 1991 only.
		switch {
		case second.v < 0:
			return 0, &Error{Line: second.line, Reason: "the ballast-lamp factor is " + show(second.v), Want: "more than 0"}
		case second.v == 0:
			rd.note(second.line, "the ballast-lamp factor is 0, which would leave no light; 1 was taken")
		default:
			f.Ballast *= second.v
		}
	case v == v2019:
		if how, ok := madeHow(second.v); ok {
			rd.note(second.line, "how the file was made (code %s): %s", show(second.v), how)
		} else {
			rd.note(second.line, "the code %s for how the file was made is not known", show(second.v))
		}
	case second.v != 1:
		rd.note(second.line, "the second number of this line is %s; files of 1995 and later do not use it, so nothing was multiplied with it", show(second.v))
	}
	f.Watts = ballast[2].v
	if !(f.Watts > 0) {
		f.Watts = math.NaN()
		rd.note(ballast[2].line, "the input power is %s W, so it is not known", show(ballast[2].v))
	}
	f.OutputRatio, f.DownwardShare = math.NaN(), math.NaN()
	return f.Multiplier * f.Ballast, nil
}

// madeHow explains the file generation code of 2019.
func madeHow(code float64) (string, bool) {
	for _, k := range []struct {
		code float64
		how  string
	}{
		{1.00001, "not said"}, {1.0001, "simulated, not measured"}, {1, "measured in a laboratory without accreditation"},
		{1.001, "the same, scaled"}, {1.01, "the same, with angles filled in"}, {1.011, "the same, scaled and with angles filled in"},
		{1.1, "measured in an accredited laboratory"}, {1.101, "measured in an accredited laboratory, then scaled"},
		{1.11, "measured in an accredited laboratory, with angles filled in"}, {1.111, "measured in an accredited laboratory, then scaled and with angles filled in"},
	} {
		if math.Abs(code-k.code) < 2e-6 {
			return k.how, true
		}
	}
	return "", false
}
