package photometricfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"math"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"underlamp/science/photometry"
)

// Limits of size.
const (
	maxBytes  = 4 << 20
	maxValues = 1_000_000
)

// An Error says why a file cannot be read.
type Error struct {
	Line   int    // from 1; 0 if it concerns the file as a whole
	Reason string // what is wrong, a clause without full stop
	Want   string // what would be right; may be empty
}

// Error gives the place, what is wrong and what would be right, in one sentence.
func (e *Error) Error() string {
	s := e.Reason
	if e.Line > 0 {
		s = fmt.Sprintf("line %d: %s", e.Line, s)
	}
	if e.Want != "" {
		s += "; wanted: " + e.Want
	}
	return s
}

// fail makes an [Error] without a Want.
func fail(line int, format string, args ...any) *Error {
	return &Error{Line: line, Reason: fmt.Sprintf(format, args...)}
}

// Read reads a photometric file in any of the formats, told by its content. A
// TILT file that an LM-63 file names is not looked for. Text that describes no
// lamp gives an [*Error]; a failing r gives its own error.
func Read(r io.Reader) (*photometry.File, error) { return ReadBeside(r, nil) }

// ReadBeside is [Read] with a place to look for the TILT file that an LM-63 file
// may name: by its last name only, so that a file cannot reach out of the place.
// nil is no place.
func ReadBeside(r io.Reader, beside fs.FS) (*photometry.File, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("the photometric file cannot be read: %w", err)
	}
	if len(data) > maxBytes {
		return nil, fail(0, "the file is larger than %d MiB, so it is no photometric file", maxBytes>>20)
	}
	rd := &reader{beside: beside, file: &photometry.File{}}
	if err := rd.decode(data); err != nil {
		return nil, err
	}
	var bad *Error
	switch rd.format() {
	case isLM63:
		bad = rd.lm63()
	case isEulumdat:
		bad = rd.eulumdat()
	default:
		bad = &Error{Reason: "this is no photometric file that can be read here",
			Want: "LM-63 (.ies), which has a line beginning TILT=, or EULUMDAT (.ldt), which has numbers in lines 3 to 7"}
	}
	if bad != nil {
		return nil, bad
	}
	rd.doubts()
	return rd.file, nil
}

// A reader holds the text of a file while it is read.
type reader struct {
	lines  []string // without line ends
	beside fs.FS
	file   *photometry.File
}

// note records what was assumed or looks wrong.
func (rd *reader) note(line int, format string, args ...any) {
	rd.file.Notes = append(rd.file.Notes, photometry.Note{Line: line, Text: fmt.Sprintf(format, args...)})
}

// decode turns bytes into lines.
func (rd *reader) decode(data []byte) error {
	var text string
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		order := binary.ByteOrder(binary.LittleEndian)
		if data[0] == 0xfe {
			order = binary.BigEndian
		}
		data = data[2:]
		units := make([]uint16, len(data)/2)
		for i := range units {
			units[i] = order.Uint16(data[2*i:])
		}
		text = string(utf16.Decode(units))
		rd.note(0, "the text is in UTF-16, which the standards do not know; it was read")
	default:
		data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
		if utf8.Valid(data) {
			text = string(data)
			break
		}
		runes := make([]rune, len(data))
		for i, b := range data {
			runes[i] = rune(b)
		}
		text = string(runes)
		rd.note(0, "the text is not UTF-8; its letters were read as Latin-1")
	}
	if strings.ContainsRune(text, 0) {
		return fail(1+strings.Count(text[:strings.IndexByte(text, 0)], "\n"), "there is a zero byte, so this is no text file")
	}
	// Ends of lines of all three kinds; the end-of-file mark of old systems.
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\x1a", " ").Replace(text)
	if strings.TrimSpace(text) == "" {
		return fail(0, "the file is empty")
	}
	rd.lines = strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	return nil
}

// clean makes text fit to print: no control characters, no blanks at its ends.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
			return ' '
		}
		return r
	}, s))
}

// brief is a text cut for a message.
func brief(s string) string {
	s = clean(s)
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

type format int

const (
	isUnknown format = iota
	isLM63
	isEulumdat
)

// format tells the formats apart by what each must have.
func (rd *reader) format() format {
	first := ""
	for _, l := range rd.lines {
		if first = strings.TrimSpace(l); first != "" {
			break
		}
	}
	if strings.HasPrefix(strings.ToUpper(first), "IES") && len(rd.lines) > 0 && !rd.looksEulumdat() {
		return isLM63
	}
	for _, l := range rd.lines {
		if _, ok := tiltLine(l); ok {
			return isLM63
		}
	}
	if rd.looksEulumdat() {
		return isEulumdat
	}
	return isUnknown
}

// looksEulumdat checks the lines that hold small numbers in every EULUMDAT file:
// symmetry, planes, step, gammas, step.
func (rd *reader) looksEulumdat() bool {
	if len(rd.lines) < 27 {
		return false
	}
	for i := 2; i <= 6; i++ {
		v, ok := parseNumber(strings.Replace(strings.TrimSpace(rd.lines[i]), ",", ".", 1))
		if !ok || v < 0 || v > 1e5 {
			return false
		}
	}
	return true
}

// doubts adds what the finished file makes a person wonder about.
func (rd *reader) doubts() {
	f := rd.file
	if _, disagree := f.Web.OnAxis(); disagree > 0.02 {
		rd.note(0, "the planes disagree by %.0f %% straight below, where they all meet", 100*disagree)
	}
	if up, down := f.Web.Up(), f.Web.Down(); up > down {
		rd.note(0, "%.0f %% of the light goes up; if this lamp hangs over plants, it was measured upside down", 100*up/(up+down))
	}
	switch d := f.Difference(); {
	case math.IsNaN(d): // not stated
	case f.Absolute && (d > 0.05 || d < -0.05):
		rd.note(0, "the intensities add up to %.0f lm, but %.0f lm are stated", f.Web.Flux(), f.StatedLumens)
	case !f.Absolute && d > 0.05:
		rd.note(0, "the intensities add up to %.0f lm, more than the %.0f lm stated for the bare lamps in it; one of the two is wrong", f.Web.Flux(), f.StatedLumens)
	case !f.Absolute && d < -0.8:
		rd.note(0, "the intensities add up to %.0f lm, less than a fifth of the %.0f lm stated for the bare lamps in it", f.Web.Flux(), f.StatedLumens)
	}
	// 250 lm/W: no white lamp on sale gives more; the limit of white light itself
	// is about 350 (common practice, no source).
	if e := f.Efficacy(); e > 250 {
		rd.note(0, "%.0f lm/W is more than any lamp gives: the watts or the lumens are wrong", e)
	}
	if big := float64(f.Opening.Largest()); big > 10 {
		rd.note(0, "the luminous opening would be %.0f m long: its unit may be wrong", big)
	}
}
