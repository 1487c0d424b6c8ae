package handwritten

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"underlamp/science/quantity"
)

// A Traced text notes what its reader asks of it, so that a schema and a reference of the
// format say what the reader does and cannot part from it. It is handed to the Read of a
// format in place of the text; what is read is the same.
type Traced struct {
	io.Reader
	Asked Asked
}

// Asked is what a reader of a format asks for, by path: "lamps[].height", the top being "".
// What is asked in more than one text adds up. The zero value is ready.
type Asked struct {
	Grammar Grammar
	Fields  map[string]*Field
}

// A Field is a value of a format.
type Field struct {
	Path  string
	Forms []Form // that are read; any of them
	Told  bool   // may say how it is known: {value: …, from: …, note: …}
	Usual string // what is taken where nothing is written, with the reason; empty: nothing, or it was not told
	Lacks bool   // a reader said that it must be there
}

// A Form is one way in which a value may be written.
type Form struct {
	Is      FormKind
	Kind    quantity.Kind // of amounts and ranges
	Span    Span          // of amounts, ranges, whole numbers and items
	Words   []string      // to choose from
	Also    []string      // words that stand for one of those
	Section string        // of the grammar, for parts
	Most    int           // characters of text, items of a list; 0: no bound of its own
	Want    string        // of free forms: what the reader says it wants
	Like    string        // of free forms: a regular expression that what is read fits; empty: any text
}

// FormKind is what kind of form a value has.
type FormKind int

// The kinds of forms.
const (
	AmountForm     FormKind = iota // a number with its unit
	DifferenceForm                 // the same, of a difference
	RangeForm                      // two amounts with "to" between them, or one
	TextForm                       // free text in one line, or more lines
	WordForm                       // one of some words
	YesForm                        // yes or no
	WholeForm                      // a whole number
	DateForm                       // a day
	ZoneForm                       // a time zone
	FreeForm                       // a single value that the reader takes apart itself
	PartForm                       // a part with keys
	ListForm                       // a list
	PairForm                       // a list of two
	NeverForm                      // nothing: the part has the key in its section, but not here
)

// index is the place in a list within a path.
var index = regexp.MustCompile(`\[\d+\]`)

// field is that of a path, made at the first time.
func (a *Asked) field(path string) *Field {
	if strings.IndexByte(path, '[') >= 0 {
		path = index.ReplaceAllString(path, "[]")
	}
	if a.Fields == nil {
		a.Fields = map[string]*Field{}
	}
	f := a.Fields[path]
	if f == nil {
		f = &Field{Path: path}
		a.Fields[path] = f
	}
	return f
}

// same says that two forms are one.
func (f Form) same(g Form) bool {
	return f.Is == g.Is && f.Kind.Name() == g.Kind.Name() && f.Span == g.Span && slices.Equal(f.Words, g.Words) && f.Section == g.Section && f.Most == g.Most && f.Like == g.Like && (f.Is != FreeForm || f.Want == g.Want)
}

// takes notes a form of a value.
func (r *Reader) takes(v Value, f Form) {
	if r.asked == nil {
		return
	}
	x := r.asked.field(v.Path)
	if !slices.ContainsFunc(x.Forms, f.same) {
		x.Forms = append(x.Forms, f)
	}
}

// Takes notes a form that a value may have besides those that methods of the reader note
// themselves: for readers that take a value apart in their own way.
func (r *Reader) Takes(v Value, f Form) { r.takes(v, f) }

// told notes that a value may say how it is known.
func (r *Reader) told(v Value) {
	if r.asked != nil {
		r.asked.field(v.Path).Told = true
	}
}

// lacks notes that a reader missed a value.
func (r *Reader) lacks(v Value) {
	if r.asked != nil {
		r.asked.field(v.Path).Lacks = true
	}
}

// usual notes what is taken where nothing is written. What was noted first stays.
func (r *Reader) usual(v Value, text string) {
	if r.asked != nil && text != "" {
		if f := r.asked.field(v.Path); f.Usual == "" {
			f.Usual = text
		}
	}
}

// Usually notes what is taken where a value is not written, in words.
func (r *Reader) Usually(v Value, format string, args ...any) {
	if r.asked != nil {
		r.usual(v, fmt.Sprintf(format, args...))
	}
}
