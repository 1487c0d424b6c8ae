package benchfile

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"underlamp"
	"underlamp/science/quantity"
)

// A span is the range that an amount must keep, ends included, in the unit of
// its kind.
type span struct{ min, max float64 }

// slack forgives the last digits that a conversion of units loses: 1e-9 of a
// metre or a degree is less than anyone can mean.
const slack = 1e-9

func (s span) holds(x float64) bool { return x >= s.min-slack && x <= s.max+slack }

// clamp removes what slack let through.
func (s span) clamp(x float64) float64 { return math.Min(math.Max(x, s.min), s.max) }

// show prints an amount in the units of the file.
func (r *reader) show(k quantity.Kind, x float64) string { return k.Format(x, r.units, 4) }

// wanted says in words what a span allows.
func (r *reader) wanted(k quantity.Kind, s span) string {
	return r.show(k, s.min) + " to " + r.show(k, s.max)
}

// amount reads one amount within a span; false if it is not written or wrong.
func (r *reader) amount(v value, k quantity.Kind, s span) (float64, bool) {
	if !v.written() {
		return 0, false
	}
	text, ok := r.scalar(v, "for example "+k.Example())
	if !ok {
		return 0, false
	}
	x, err := k.Parse(text)
	if err != nil {
		r.unparsed(v, k, err)
		return 0, false
	}
	return r.bounded(v, k, s, x)
}

// bounded checks an amount against a span.
func (r *reader) bounded(v value, k quantity.Kind, s span, x float64) (float64, bool) {
	if s.holds(x) {
		return s.clamp(x), true
	}
	want, hint := r.wanted(k, s), ""
	switch {
	case k.Name() == quantity.Temperature.Name() && x > s.max && s.holds((x-32)/1.8):
		hint = "; that looks like °F: write " + quantity.Number(x, 4) + " °F"
	case k.Name() == quantity.Share.Name() && x > s.max && s.holds(x/100):
		hint = "; that looks like per cent: write " + quantity.Number(x, 4) + " %"
	}
	side := "less than the least"
	if x > s.max {
		side = "more than the most"
	}
	r.errorf(v, want, "%s is %s that is read here%s", r.show(k, x), side, hint)
	return 0, false
}

func (r *reader) unparsed(v value, k quantity.Kind, err error) {
	var pe *quantity.ParseError
	if errors.As(err, &pe) {
		r.errorf(v, "for example "+k.Example(), "%s", pe.Brief())
		return
	}
	r.errorf(v, "for example "+k.Example(), "%s", err)
}

// need reads an amount that must be written.
func (r *reader) need(v value, k quantity.Kind, s span, what string) (float64, bool) {
	if !v.written() {
		r.missing(v, "for example "+k.Example(), what)
		return 0, false
	}
	return r.amount(v, k, s)
}

func (r *reader) missing(v value, want, what string) {
	r.errorf(v, want, "%s is missing", what)
}

// rangeOf reads "low to high", or one amount that is both.
func (r *reader) rangeOf(v value, k quantity.Kind, s span) (low, high float64, ok bool) {
	if !v.written() {
		return 0, 0, false
	}
	text, ok := r.scalar(v, r.wanted(k, s))
	if !ok {
		return 0, 0, false
	}
	if x, err := k.Parse(text); err == nil {
		x, ok = r.bounded(v, k, s, x)
		return x, x, ok
	}
	low, high, err := k.ParseRange(text)
	if err != nil {
		if !strings.Contains(text, " to ") && !strings.Contains(text, "..") && !strings.ContainsAny(text, "–—") {
			_, err = k.Parse(text) // the person wrote one amount: say what is wrong with it
		}
		r.unparsed(v, k, err)
		return 0, 0, false
	}
	low, okLow := r.bounded(v, k, s, low)
	if !okLow {
		return 0, 0, false
	}
	high, okHigh := r.bounded(v, k, s, high)
	return low, high, okHigh
}

// origins are the words by which a person may say how they know a value.
var origins = []underlamp.Origin{underlamp.Label, underlamp.Stated, underlamp.Measured}

func originWords() []string {
	var words []string
	for _, o := range origins {
		words = append(words, o.String())
	}
	return words
}

// said looks through {value: ..., from: ..., note: ...} to the value in it.
func (r *reader) said(v value) (inner value, origin underlamp.Origin, note string, ok bool) {
	if !v.written() || !isMapping(v) {
		return v, underlamp.Stated, "", true
	}
	f, ok := r.mapping(v, "origin")
	if !ok {
		return v, underlamp.Stated, "", false
	}
	inner, origin = f.get("value"), underlamp.Stated
	if !inner.written() {
		r.missing(inner, "the amount", "the value")
		return v, underlamp.Stated, "", false
	}
	if from := f.get("from"); from.written() {
		if i, found := r.oneOf(from, originWords(), nil); found {
			origin = origins[i]
		} else {
			ok = false
		}
	}
	note, _ = r.words(f.get("note"), maxNote)
	return inner, origin, note, ok
}

// given reads an amount that has a usual value.
func given[T ~float64](r *reader, v value, k quantity.Kind, s span, usual underlamp.Given[T]) underlamp.Given[T] {
	inner, origin, note, ok := r.said(v)
	if !ok {
		return usual
	}
	x, ok := r.amount(inner, k, s)
	if !ok {
		return usual
	}
	return underlamp.Given[T]{Value: T(x), Origin: origin, Note: note}
}

// oneOf reads one word of a list and returns its index. The words that also
// count are given with the word they stand for.
func (r *reader) oneOf(v value, words []string, also map[string]string) (int, bool) {
	want := "one of " + strings.Join(words, ", ")
	text, ok := r.scalar(v, want)
	if !ok {
		return 0, false
	}
	word := normal(text)
	if w, found := also[word]; found {
		word = w
	}
	if i := slices.IndexFunc(words, func(w string) bool { return normal(w) == word }); i >= 0 {
		return i, true
	}
	r.add(v.at, Problem{Path: v.path, Message: strconv.Quote(shortened(text)) + " is not known here", Want: want, Suggest: nearest(word, words)})
	return 0, false
}

// choice reads one of the words of a type.
func choice[T ~string](r *reader, v value, options []T, also map[string]string, usual T) T {
	if !v.written() {
		return usual
	}
	var words []string
	for _, o := range options {
		words = append(words, string(o))
	}
	if i, ok := r.oneOf(v, words, also); ok {
		return options[i]
	}
	return usual
}

const (
	maxName = 80
	maxNote = 4000
)

// words reads free text of at most n characters; false if it is not written.
func (r *reader) words(v value, n int) (string, bool) {
	if !v.written() {
		return "", false
	}
	text, ok := r.scalar(v, "text")
	if !ok {
		return "", false
	}
	text = strings.TrimSpace(text)
	if utf8.RuneCountInString(text) > n {
		r.errorf(v, "at most "+strconv.Itoa(n)+" characters", "the text is %d characters long", utf8.RuneCountInString(text))
		return "", false
	}
	// An escape in a quoted text can make characters that steer a terminal.
	if i := strings.IndexFunc(text, func(c rune) bool { return c < ' ' && c != '\n' && c != '\t' || c == 0x7f || c >= 0x80 && c < 0xa0 }); i >= 0 || n == maxName && strings.ContainsAny(text, "\n\t") {
		r.errorf(v, "visible characters in one line", "the text holds a control character")
		return "", false
	}
	return text, text != ""
}

// whole reads a whole number within a span.
func (r *reader) whole(v value, low, high int) (int, bool) {
	want := "a whole number from " + strconv.Itoa(low) + " to " + strconv.Itoa(high)
	text, ok := r.scalar(v, want)
	if !ok {
		return 0, false
	}
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || n < low || n > high {
		r.errorf(v, want, "%q does not fit", shortened(text))
		return 0, false
	}
	return n, true
}

// date reads a day as YYYY-MM-DD (ISO 8601); empty if it is not written.
func (r *reader) date(v value) string {
	if !v.written() {
		return ""
	}
	const want = "a day such as 2026-10-01 (year-month-day)"
	text, ok := r.scalar(v, want)
	if !ok {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		r.errorf(v, want, "%q is no day of the calendar", shortened(text))
		return ""
	}
	return text
}

// pair reads a place as [x, y].
func (r *reader) pair(v value) (x, y value, ok bool) {
	const want = "two lengths: [30 cm, 20 cm], from the left and from the front"
	items, ok := r.items(v, want)
	if !ok {
		return x, y, false
	}
	if len(items) != 2 {
		r.errorf(v, want, "a place has two lengths, here are %d", len(items))
		return x, y, false
	}
	return items[0], items[1], true
}

// place reads a place in the space; what is the thing that stands there.
func (r *reader) place(v value, s underlamp.Space, what string) (x, y quantity.Metre, ok bool) {
	if !v.written() {
		r.missing(v, "two lengths: [30 cm, 20 cm], from the left and from the front", "the place of the "+what)
		return 0, 0, false
	}
	vx, vy, ok := r.pair(v)
	if !ok {
		return 0, 0, false
	}
	x, okX := r.coordinate(vx, s.Width, what, "left", "right", "wide")
	y, okY := r.coordinate(vy, s.Depth, what, "front", "back", "deep")
	return x, y, okX && okY
}

// coordinate reads one length of a place. An extent of 0 means that the space
// itself is wrong; then only the text is checked.
func (r *reader) coordinate(v value, extent quantity.Metre, what, near, far, adjective string) (quantity.Metre, bool) {
	c, ok := r.need(v, quantity.Length, span{-1e6, 1e6}, "a length")
	if !ok || extent == 0 {
		return quantity.Metre(c), ok
	}
	s := span{0, float64(extent)}
	if s.holds(c) {
		return quantity.Metre(s.clamp(c)), true
	}
	side, by := near, -c
	if c > 0 {
		side, by = far, c-float64(extent)
	}
	r.errorf(v, r.wanted(quantity.Length, s), "the %s stands %s outside the space at the %s; the space is %s %s", what,
		r.show(quantity.Length, by), side, r.show(quantity.Length, float64(extent)), adjective)
	return 0, false
}

func isMapping(v value) bool {
	return v.node != nil && describe(v.node) == "a part with keys"
}
