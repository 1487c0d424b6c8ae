package spectrumfile

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// sample is one line of data.
type sample struct {
	line  int
	nm, v float64
}

// text is a file taken apart.
type text struct {
	title   string
	heads   []string // the lines before the data, comments included
	second  string   // the heading of the second column; may be empty
	samples []sample
	notes   []string
}

// lineOf is the line on which a wavelength stands.
func (t *text) lineOf(nm float64) int {
	for _, s := range t.samples {
		if s.nm == nm {
			return s.line
		}
	}
	return 0
}

// A dress is how numbers are written in a file.
type dress struct {
	sep     rune // 0 for blanks
	decimal byte
}

func (d dress) String() string {
	s := map[rune]string{'\t': "tabs", ';': "semicolons", ',': "commas", 0: "blanks"}[d.sep]
	if d.decimal == ',' {
		s += ", decimal commas"
	}
	return s
}

// dresses are tried in this order; the one in which most lines are numbers wins.
var dresses = [...]dress{{'\t', '.'}, {';', '.'}, {',', '.'}, {0, '.'}, {'\t', ','}, {';', ','}, {0, ','}, {',', ','}}

// kind of a line.
type kind int

const (
	isBlank kind = iota
	isComment
	isWords
	isData    // two numbers
	isMissing // a wavelength without a value
	isMore    // more than two numbers
)

// split finds the dress of a file, its headings and its data.
func split(lines []string) (*text, error) {
	best, most := dresses[0], 0
	for _, d := range dresses {
		n := 0
		for _, l := range lines {
			if k, _, _ := d.read(l); k == isData {
				n++
			}
		}
		if n > most {
			best, most = d, n
		}
	}
	t := &text{}
	if most == 0 {
		for i, l := range lines {
			for _, d := range dresses {
				if k, _, _ := d.read(l); k == isMore {
					return nil, tooMany(i+1, l)
				}
			}
		}
		return nil, &Error{Reason: "no line holds a wavelength and a value", Do: "give lines such as 450, 0.83"}
	}
	missing, footer := 0, 0
	for i, l := range lines {
		k, nm, v := best.read(l)
		switch k {
		case isComment, isWords:
			if len(t.samples) == 0 {
				t.heads = append(t.heads, plain(l))
			} else if k == isWords && footer == 0 {
				footer = i + 1
			}
		case isMore:
			return nil, tooMany(i+1, l)
		case isData, isMissing:
			if footer > 0 {
				return nil, &Error{Line: footer, Reason: fmt.Sprintf("%q stands among the data (%s)", short(lines[footer-1]), best),
					Do: "give one wavelength and one value on each line, and one spectrum in a file"}
			}
			if k == isMissing {
				missing++
				continue
			}
			if len(t.samples) == MaxSamples {
				return nil, &Error{Line: i + 1, Reason: fmt.Sprintf("there are more than %d wavelengths", MaxSamples), Do: "steps of 0.1 nm are fine enough"}
			}
			t.samples = append(t.samples, sample{i + 1, nm, v})
		}
	}
	if best.decimal == ',' {
		t.notes = append(t.notes, "Decimal commas were read.")
	}
	if missing > 0 {
		t.notes = append(t.notes, fmt.Sprintf("%d wavelengths have no value and were left out.", missing))
	}
	if footer > 0 {
		t.notes = append(t.notes, fmt.Sprintf("The text from line %d on was left out.", footer))
	}
	t.headings(lines, best)
	return t, nil
}

func tooMany(line int, l string) error {
	return &Error{Line: line, Reason: fmt.Sprintf("%q has more than two numbers", short(l)),
		Do: "keep the wavelength and the one column that is meant; write decimal commas with semicolons or blanks between"}
}

// headings takes title and column heading from the lines before the data.
func (t *text) headings(lines []string, d dress) {
	for _, h := range t.heads {
		if h != "" && t.title == "" {
			t.title = short(h)
		}
	}
	for i := t.samples[0].line - 2; i >= 0; i-- {
		k, _, _ := d.read(lines[i])
		if k == isBlank {
			continue
		}
		cells := d.cells(plain(lines[i]))
		if len(cells) >= 2 && d.sep != 0 {
			t.second = cells[1]
		} else if w := strings.Fields(plain(lines[i])); len(w) >= 2 && d.sep == 0 {
			t.second = strings.Join(w[1:], " ")
		}
		return
	}
}

// plain takes the marks of a comment off a line.
func plain(l string) string {
	return strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(l), "#%!/*'\" "))
}

// short makes text of a file fit to be shown.
func short(s string) string {
	var b strings.Builder
	n := 0
	for _, r := range strings.TrimSpace(s) {
		if n++; n > 60 {
			b.WriteString("…")
			break
		}
		if !unicode.IsPrint(r) {
			r = ' '
		}
		b.WriteRune(r)
	}
	return b.String()
}

// read says what a line is in this dress.
func (d dress) read(l string) (k kind, nm, v float64) {
	l = strings.TrimFunc(l, func(r rune) bool { return r != '\t' && unicode.IsSpace(r) || r == '\ufeff' })
	if strings.TrimSpace(l) == "" {
		return isBlank, 0, 0
	}
	for _, mark := range [...]string{"#", "%", "!", "//", "*", "'"} {
		if strings.HasPrefix(strings.TrimSpace(l), mark) {
			return isComment, 0, 0
		}
	}
	if d.sep != 0 && !strings.ContainsRune(l, d.sep) {
		return isWords, 0, 0 // one cell
	}
	cells := d.cells(l)
	for len(cells) > 2 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	nm, ok := d.number(strings.TrimSuffix(strings.TrimSuffix(cells[0], "nm"), " "))
	if !ok {
		return isWords, 0, 0
	}
	if len(cells) == 1 {
		return isWords, 0, 0
	}
	switch strings.ToLower(cells[1]) {
	case "", "nan", "n/a", "na", "-", "--":
		if len(cells) == 2 {
			return isMissing, 0, 0
		}
	}
	v, ok = d.number(cells[1])
	if !ok {
		return isWords, 0, 0
	}
	if len(cells) > 2 {
		for _, c := range cells[2:] {
			if _, ok := d.number(c); !ok {
				return isWords, 0, 0
			}
		}
		return isMore, 0, 0
	}
	return isData, nm, v
}

// cells takes a line apart. Quotes about a cell are taken off, and a separator
// between them is none.
func (d dress) cells(l string) []string {
	var out []string
	var b strings.Builder
	quoted := false
	for _, r := range l {
		switch {
		case r == '"':
			quoted = !quoted
		case !quoted && (r == d.sep || d.sep == 0 && unicode.IsSpace(r)):
			if d.sep != 0 || b.Len() > 0 {
				out = append(out, strings.TrimSpace(b.String()))
			}
			b.Reset()
		default:
			b.WriteRune(r)
		}
	}
	if d.sep != 0 || b.Len() > 0 || len(out) == 0 {
		out = append(out, strings.TrimSpace(b.String()))
	}
	return out
}

// number reads a plain decimal number with an exponent, nothing else.
func (d dress) number(s string) (float64, bool) {
	if s == "" || len(s) > 40 {
		return 0, false
	}
	s = strings.ReplaceAll(s, "−", "-")
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9', c == '+', c == '-', c == 'e', c == 'E', c == d.decimal:
		default:
			return 0, false
		}
	}
	if d.decimal != '.' {
		s = strings.ReplaceAll(s, string(d.decimal), ".")
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}
