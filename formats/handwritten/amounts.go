package handwritten

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"underlamp"
	"underlamp/science/quantity"
)

// A Span is the range that an amount must keep, ends included, in the unit of
// its kind.
type Span struct{ Min, Max float64 }

// Slack forgives the last digits that a conversion of units loses: 1e-9 of a
// metre or a degree is less than anyone can mean.
const Slack = 1e-9

// Holds says that an amount is within the span.
func (s Span) Holds(x float64) bool { return x >= s.Min-Slack && x <= s.Max+Slack }

// Clamp removes what Slack let through.
func (s Span) Clamp(x float64) float64 { return math.Min(math.Max(x, s.Min), s.Max) }

// Show prints an amount in the units of the file.
func (r *Reader) Show(k quantity.Kind, x float64) string { return k.Format(x, r.Units, 4) }

// Wanted says in words what a span allows.
func (r *Reader) Wanted(k quantity.Kind, s Span) string {
	return r.Show(k, s.Min) + " to " + r.Show(k, s.Max)
}

// Amount reads one amount within a span; false if it is not written or wrong.
func (r *Reader) Amount(v Value, k quantity.Kind, s Span) (float64, bool) {
	r.takes(v, Form{Is: AmountForm, Kind: k, Span: s})
	if !v.Written() {
		return 0, false
	}
	text, ok := r.scalar(v, "for example "+k.Example())
	if !ok {
		return 0, false
	}
	x, err := k.Parse(text)
	if err != nil {
		r.Unparsed(v, k, err)
		return 0, false
	}
	return r.bounded(v, k, s, x)
}

// bounded checks an amount against a span.
func (r *Reader) bounded(v Value, k quantity.Kind, s Span, x float64) (float64, bool) {
	if s.Holds(x) {
		return s.Clamp(x), true
	}
	want, hint := r.Wanted(k, s), ""
	switch {
	case k.Name() == quantity.Temperature.Name() && x > s.Max && s.Holds((x-32)/1.8):
		hint = "; that looks like °F: write " + quantity.Number(x, 4) + " °F"
	case k.Name() == quantity.Share.Name() && x > s.Max && s.Holds(x/100):
		hint = "; that looks like per cent: write " + quantity.Number(x, 4) + " %"
	}
	side := "less than the least"
	if x > s.Max {
		side = "more than the most"
	}
	r.Errorf(v, want, "%s is %s that is read here%s", r.Show(k, x), side, hint)
	return 0, false
}

// Unparsed reports that a text is no amount of a kind.
func (r *Reader) Unparsed(v Value, k quantity.Kind, err error) {
	var pe *quantity.ParseError
	if errors.As(err, &pe) {
		r.Errorf(v, "for example "+k.Example(), "%s", pe.Brief())
		return
	}
	r.Errorf(v, "for example "+k.Example(), "%s", err)
}

// Need reads an amount that must be written.
func (r *Reader) Need(v Value, k quantity.Kind, s Span, what string) (float64, bool) {
	r.takes(v, Form{Is: AmountForm, Kind: k, Span: s})
	if !v.Written() {
		r.Missing(v, "for example "+k.Example(), what)
		return 0, false
	}
	return r.Amount(v, k, s)
}

// Missing reports that something must be written.
func (r *Reader) Missing(v Value, want, what string) {
	r.lacks(v)
	r.Errorf(v, want, "%s is missing", what)
}

// RangeOf reads "low to high", or one amount that is both.
func (r *Reader) RangeOf(v Value, k quantity.Kind, s Span) (low, high float64, ok bool) {
	r.takes(v, Form{Is: RangeForm, Kind: k, Span: s})
	if !v.Written() {
		return 0, 0, false
	}
	text, ok := r.scalar(v, r.Wanted(k, s))
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
		r.Unparsed(v, k, err)
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

// Origin reads how a person knows a value, [underlamp.Stated] if that is not
// written; false if it is no such word.
func (r *Reader) Origin(v Value) (underlamp.Origin, bool) {
	if !v.Written() {
		return underlamp.Stated, true
	}
	var words []string
	for _, o := range origins {
		words = append(words, o.String())
	}
	i, ok := r.OneOf(v, words, nil)
	if !ok {
		return underlamp.Stated, false
	}
	return origins[i], true
}

// Said looks through {value: ..., from: ..., note: ...} to the value in it.
func (r *Reader) Said(v Value) (inner Value, origin underlamp.Origin, note string, ok bool) {
	r.told(v)
	if !v.Written() || !v.IsMapping() {
		return v, underlamp.Stated, "", true
	}
	f, ok := r.mapping(v, "origin")
	if !ok {
		return v, underlamp.Stated, "", false
	}
	inner = f.Get("value")
	if !inner.Written() {
		r.Missing(inner, "the amount", "the value")
		return v, underlamp.Stated, "", false
	}
	origin, ok = r.Origin(f.Get("from"))
	note, _ = r.Words(f.Get("note"), MaxNote)
	return inner, origin, note, ok
}

// Given reads an amount that has a usual value.
func Given[T ~float64](r *Reader, v Value, k quantity.Kind, s Span, usual underlamp.Given[T]) underlamp.Given[T] {
	if r.asked != nil && usual.IsDefault() && usual.Note != "" {
		r.usual(v, r.Show(k, float64(usual.Value))+" ("+usual.Note+")")
	}
	inner, origin, note, ok := r.Said(v)
	r.takes(inner, Form{Is: AmountForm, Kind: k, Span: s})
	if !ok {
		return usual
	}
	x, ok := r.Amount(inner, k, s)
	if !ok {
		return usual
	}
	return underlamp.Given[T]{Value: T(x), Origin: origin, Note: note}
}

// OneOf reads one word of a list and returns its index. The words that also
// count are given with the word they stand for.
func (r *Reader) OneOf(v Value, words []string, also map[string]string) (int, bool) {
	r.takes(v, Form{Is: WordForm, Words: words, Also: slices.Sorted(maps.Keys(also))})
	return r.oneOf(v, words, also)
}

func (r *Reader) oneOf(v Value, words []string, also map[string]string) (int, bool) {
	want := "one of " + strings.Join(words, ", ")
	text, ok := r.scalar(v, want)
	if !ok {
		return 0, false
	}
	word := Normal(text)
	if w, found := also[word]; found {
		word = w
	}
	if i := slices.IndexFunc(words, func(w string) bool { return Normal(w) == word }); i >= 0 {
		return i, true
	}
	r.Add(v.At, Problem{Path: v.Path, Message: strconv.Quote(Shortened(text)) + " is not known here", Want: want, Suggest: Nearest(word, words)})
	return 0, false
}

// Yes reads yes or no; what is not written is no.
func (r *Reader) Yes(v Value) bool {
	r.takes(v, Form{Is: YesForm})
	r.usual(v, "no")
	if !v.Written() {
		return false
	}
	i, ok := r.oneOf(v, []string{"yes", "no"}, map[string]string{"true": "yes", "false": "no"})
	return ok && i == 0
}

// Choice reads one of the words of a type.
func Choice[T ~string](r *Reader, v Value, options []T, also map[string]string, usual T) T {
	var words []string
	for _, o := range options {
		words = append(words, string(o))
	}
	r.takes(v, Form{Is: WordForm, Words: words, Also: slices.Sorted(maps.Keys(also))})
	r.usual(v, string(usual))
	if !v.Written() {
		return usual
	}
	if i, ok := r.oneOf(v, words, also); ok {
		return options[i]
	}
	return usual
}

// Bounds of text.
const (
	MaxName = 80   // characters of a name
	MaxNote = 4000 // characters of free text
)

// Zone reads the name of a time zone; nil if it is not written or is none. That of the
// machine (Local) is refused: a file means the same everywhere.
func (r *Reader) Zone(v Value) *time.Location {
	r.takes(v, Form{Is: ZoneForm})
	if !v.Written() {
		return nil
	}
	name, _ := r.words(v, MaxName)
	zone, err := time.LoadLocation(name)
	if err != nil || name == "" || name == "Local" {
		r.Errorf(v, "a time zone such as Europe/Berlin, or UTC", "%q is no time zone", Shortened(name))
		return nil
	}
	return zone
}

// Words reads free text of at most n characters; false if it is not written.
func (r *Reader) Words(v Value, n int) (string, bool) {
	r.takes(v, Form{Is: TextForm, Most: n})
	return r.words(v, n)
}

func (r *Reader) words(v Value, n int) (string, bool) {
	if !v.Written() {
		return "", false
	}
	text, ok := r.scalar(v, "text")
	if !ok {
		return "", false
	}
	text = strings.TrimSpace(text)
	if utf8.RuneCountInString(text) > n {
		r.Errorf(v, "at most "+strconv.Itoa(n)+" characters", "the text is %d characters long", utf8.RuneCountInString(text))
		return "", false
	}
	// An escape in a quoted text can make characters that steer a terminal.
	if i := strings.IndexFunc(text, func(c rune) bool { return c < ' ' && c != '\n' && c != '\t' || c == 0x7f || c >= 0x80 && c < 0xa0 }); i >= 0 || n == MaxName && strings.ContainsAny(text, "\n\t") {
		r.Errorf(v, "visible characters in one line", "the text holds a control character")
		return "", false
	}
	return text, text != ""
}

// Whole reads a whole number within a span.
func (r *Reader) Whole(v Value, low, high int) (int, bool) {
	r.takes(v, Form{Is: WholeForm, Span: Span{float64(low), float64(high)}})
	return r.whole(v, low, high)
}

func (r *Reader) whole(v Value, low, high int) (int, bool) {
	want := "a whole number from " + strconv.Itoa(low) + " to " + strconv.Itoa(high)
	text, ok := r.scalar(v, want)
	if !ok {
		return 0, false
	}
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || n < low || n > high {
		r.Errorf(v, want, "%q does not fit", Shortened(text))
		return 0, false
	}
	return n, true
}

// Version reads the version of the format, which must be the one that the program
// reads. The key is the first of the file.
func (r *Reader) Version(v Value, reads int) {
	r.takes(v, Form{Is: WholeForm, Span: Span{float64(reads), float64(reads)}})
	want := fmt.Sprintf("%s: %d as the first line", v.Path, reads)
	if !v.Written() {
		r.Missing(v, want, "the version of the format")
		return
	}
	if n, ok := r.whole(v, 1, math.MaxInt32); ok && n != reads {
		r.Errorf(v, want, "the file is of version %d; this program reads version %d", n, reads)
	}
}

// System reads in which units people see the file, and says messages in them from
// here on.
func (r *Reader) System(v Value, usual quantity.System) quantity.System {
	r.Units = usual
	words, also := []string{"metric", "us"}, map[string]string{"si": "metric"}
	r.takes(v, Form{Is: WordForm, Words: words, Also: []string{"si"}})
	if v.Written() {
		r.Units = quantity.Metric
		if i, ok := r.oneOf(v, words, also); ok && i == 1 {
			r.Units = quantity.US
		}
	}
	return r.Units
}

// Date reads a day as YYYY-MM-DD (ISO 8601); empty if it is not written.
func (r *Reader) Date(v Value) string {
	r.takes(v, Form{Is: DateForm})
	if !v.Written() {
		return ""
	}
	const want = "a day such as 2026-10-01 (year-month-day)"
	text, ok := r.scalar(v, want)
	if !ok {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		r.Errorf(v, want, "%q is no day of the calendar", Shortened(text))
		return ""
	}
	return text
}

// Pair reads a place as [x, y].
func (r *Reader) Pair(v Value) (x, y Value, ok bool) {
	r.takes(v, Form{Is: PairForm})
	const want = "two lengths: [30 cm, 20 cm], from the left and from the front"
	items, ok := r.items(v, want)
	if !ok {
		return x, y, false
	}
	if len(items) != 2 {
		r.Errorf(v, want, "a place has two lengths, here are %d", len(items))
		return x, y, false
	}
	return items[0], items[1], true
}
