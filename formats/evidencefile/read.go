package evidencefile

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"underlamp/formats/handwritten"
	"underlamp/science/diagnosis"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads.
const Version = 1

const (
	mostCauses   = 200
	mostFindings = 300
	mostStates   = 8
	mostRows     = 200
	mostChanges  = 12
	mostSources  = 10
	maxText      = 400 // characters of a sentence
)

//go:embed evidence.yaml
var builtin []byte

// Text is the table that comes with the program, as people read it.
func Text() []byte { return bytes.Clone(builtin) }

// Builtin is the table that comes with the program. The caller may not change it.
func Builtin() *diagnosis.Table { return own() }

// own reads the table once. It is part of the program, and a test reads it: a mistake in
// it is a mistake of the program.
var own = sync.OnceValue(func() *diagnosis.Table {
	t, problems, err := Read(bytes.NewReader(builtin), nil)
	if err != nil || t == nil {
		panic("evidencefile: the table of the program: " + errors.Join(err, problems).Error())
	}
	return t
})

var grammar = handwritten.Grammar{
	Package: "evidencefile",
	File:    "the table of evidence",
	Begin:   "a table of evidence, beginning with underlamp evidence: 1",
	One:     "one table in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp evidence", "causes", "findings"}},
		{Name: "causes[]", Keys: []string{"key", "name", "met", "because", "hidden", "ask", "again", "changes", "sources"}},
		{Name: "causes[].changes[]", Keys: []string{"do", "try"}},
		{Name: "findings[]", Keys: []string{"key", "name", "from", "ask", "look", "unit", "blur", "states"}},
		{Name: "findings[].states[]", Keys: []string{"key", "name", "share", "up to", "tells"}},
		{Name: "findings[].states[].tells[]", Keys: []string{"cause", "is", "why", "sources"}},
	},
	Also: map[string]string{
		"underlamp": "underlamp evidence", "version": "underlamp evidence", "evidence": "findings", "symptoms": "findings", "prior": "met", "frequency": "met", "how often": "met", "text": "because",
		"source": "sources", "question": "ask", "probability": "share", "base": "share", "rows": "tells", "strength": "is", "says": "tells", "below": "up to", "bound": "up to", "days": "again", "kind": "from", "change": "changes", "first": "changes",
	},
}

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Amended is the table of the program as a file amends it; its first error is the error.
func Amended(text []byte) (*diagnosis.Table, error) {
	t, problems, err := Read(bytes.NewReader(text), Builtin())
	for _, p := range problems {
		if err == nil && p.Severity == handwritten.Error {
			err = errors.New(p.String())
		}
	}
	return t, err
}

type reader struct {
	*handwritten.Reader
	out *diagnosis.Table
}

// Read reads a table, or what is to be otherwise in another one, which stays as it is;
// nil: it begins with nothing. The table is nil exactly when the problems hold an error. The
// error is for what is no matter of the text: a failing reader, or [handwritten.ErrTooLarge].
func Read(in io.Reader, amends *diagnosis.Table) (*diagnosis.Table, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}, &diagnosis.Table{}}
	if amends != nil {
		r.out = copied(amends)
	}
	return handwritten.Read(r.Reader, in, r.all)
}

// copied is a table that shares nothing with another.
func copied(t *diagnosis.Table) *diagnosis.Table {
	out := &diagnosis.Table{Causes: slices.Clone(t.Causes), Findings: slices.Clone(t.Findings)}
	for i := range out.Findings {
		f := &out.Findings[i]
		f.States, f.Bounds = slices.Clone(f.States), slices.Clone(f.Bounds)
		for k := range f.States {
			f.States[k].Rows = slices.Clone(f.States[k].Rows)
		}
	}
	return out
}

func (r *reader) all(v handwritten.Value) *diagnosis.Table {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp evidence"), Version)
	causes, findings := f.Get("causes"), f.Get("findings")
	if causes.Written() {
		items, _ := r.List(causes, "a list of causes", mostCauses, "causes")
		seen := map[string]bool{}
		for _, v := range items {
			r.cause(v, seen)
		}
	}
	if findings.Written() {
		items, _ := r.List(findings, "a list of findings", mostFindings, "findings")
		seen := map[string]bool{}
		for _, v := range items {
			r.finding(v, seen)
		}
	}
	if !r.Problems.HasErrors() {
		if err := r.out.Check(); err != nil {
			r.Errorf(v, "a table that is whole", "%s", err)
		}
	}
	return r.out
}

// key reads the key of a part, which must be there once.
func (r *reader) key(f handwritten.Fields, part handwritten.Value, seen map[string]bool) (string, bool) {
	v := f.Get("key")
	if !v.Written() {
		r.Missing(part, "key: a-short-name", "the key")
		return "", false
	}
	text, ok := r.Words(v, handwritten.MaxName)
	if !ok {
		return "", false
	}
	if text == "" || strings.ContainsFunc(text, func(c rune) bool {
		return !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-')
	}) {
		r.Errorf(v, "small letters, digits and -, such as inner-burn", "%q is no key", handwritten.Shortened(text))
		return "", false
	}
	if seen[text] {
		r.Errorf(v, "each key once in a list", "%s stands twice", text)
		return "", false
	}
	seen[text] = true
	return text, true
}

func (r *reader) text(to *string, v handwritten.Value) {
	if text, ok := r.Words(v, maxText); ok {
		*to = text
	}
}

func (r *reader) cause(v handwritten.Value, seen map[string]bool) {
	f, ok := r.Part(v, "causes[]", "{key: cold-roots, name: cold roots}", "a cause")
	if !ok {
		return
	}
	key, ok := r.key(f, v, seen)
	if !ok {
		return
	}
	c := r.out.Cause(key)
	if c == nil {
		if key == diagnosis.Else {
			r.Errorf(f.Get("key"), "another key", "%s is what is not in the table", key)
			return
		}
		r.out.Causes = append(r.out.Causes, diagnosis.Cause{Key: key, Name: key, Often: diagnosis.Usual, Again: 7})
		c = &r.out.Causes[len(r.out.Causes)-1]
	}
	r.text(&c.Name, f.Get("name"))
	r.text(&c.Because, f.Get("because"))
	r.text(&c.Ask, f.Get("ask"))
	if m := f.Get("met"); m.Written() {
		c.Often = choice(r, m, diagnosis.Frequencies(), c.Often)
	}
	if h := f.Get("hidden"); h.Written() {
		c.Hidden = r.Yes(h)
	}
	if a, ok := r.Amount(f.Get("again"), quantity.Days, handwritten.Span{Min: 1, Max: 60}); ok {
		c.Again = int(a + 0.5)
	}
	if list := f.Get("changes"); list.Written() {
		c.Changes = nil
		items, _ := r.List(list, "a list of changes, the cheapest first", mostChanges, "changes")
		for _, v := range items {
			g, ok := r.Part(v, "causes[].changes[]", "{do: warm the solution, try: warm-roots}", "a change")
			if !ok {
				continue
			}
			var x diagnosis.Change
			if d := g.Get("do"); !d.Written() {
				r.Missing(v, "do: what to do", "what to do")
			} else {
				r.text(&x.Text, d)
			}
			r.text(&x.Try, g.Get("try"))
			c.Changes = append(c.Changes, x)
		}
	}
	c.Sources = r.sources(f.Get("sources"), c.Sources)
}

// sources reads keys of works; none means "common practice, no source".
func (r *reader) sources(v handwritten.Value, was []string) []string {
	if !v.Written() {
		return was
	}
	items, _ := r.List(v, "a list of works, such as [Sago2016]", mostSources, "sources")
	out := []string{}
	for _, i := range items {
		if text, ok := r.Words(i, handwritten.MaxName); ok && text != "" {
			out = append(out, text)
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

func (r *reader) finding(v handwritten.Value, seen map[string]bool) {
	f, ok := r.Part(v, "findings[]", "{key: root-colour, name: colour of the roots, states: [...]}", "a finding")
	if !ok {
		return
	}
	key, ok := r.key(f, v, seen)
	if !ok {
		return
	}
	x := r.out.Finding(key)
	if x == nil {
		r.out.Findings = append(r.out.Findings, diagnosis.Finding{Key: key, Name: key, Kind: diagnosis.Answer})
		x = &r.out.Findings[len(r.out.Findings)-1]
	}
	r.text(&x.Name, f.Get("name"))
	r.text(&x.Ask, f.Get("ask"))
	r.text(&x.Look, f.Get("look"))
	r.text(&x.Unit, f.Get("unit"))
	if k := f.Get("from"); k.Written() {
		x.Kind = choice(r, k, diagnosis.Kinds(), x.Kind)
	}
	if b, ok := r.number(f.Get("blur"), x.Unit); ok && b >= 0 {
		x.Blur = b
	}
	states := f.Get("states")
	if !states.Written() {
		return
	}
	items, _ := r.List(states, "a list of states", mostStates, "states")
	names := map[string]bool{}
	var bounds []float64
	for _, v := range items {
		if b, ok := r.state(v, x, names); ok {
			bounds = append(bounds, b)
		}
	}
	if len(bounds) > 0 {
		x.Bounds = bounds
	}
}

// number reads a number in the unit of a finding, which may stand behind it.
func (r *reader) number(v handwritten.Value, unit string) (float64, bool) {
	if !v.Written() {
		return 0, false
	}
	want := strings.TrimSpace("a number such as 0.5 " + unit)
	text, ok := r.Scalar(v, want)
	if !ok {
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), unit)), 64)
	if err != nil || math.IsNaN(x) || math.Abs(x) > 1e6 {
		r.Errorf(v, want, "%q is no number", handwritten.Shortened(text))
		return 0, false
	}
	return x, true
}

// choice reads one of some words.
func choice[T fmt.Stringer](r *reader, v handwritten.Value, options []T, usual T) T {
	var words []string
	for _, o := range options {
		words = append(words, o.String())
	}
	if i, ok := r.OneOf(v, words, nil); ok {
		return options[i]
	}
	return usual
}

func (r *reader) state(v handwritten.Value, x *diagnosis.Finding, names map[string]bool) (bound float64, bounded bool) {
	f, ok := r.Part(v, "findings[].states[]", "{key: brown, share: 0.1, tells: [...]}", "a state")
	if !ok {
		return 0, false
	}
	key, ok := r.key(f, v, names)
	if !ok {
		return 0, false
	}
	if x.State(key) < 0 {
		x.States = append(x.States, diagnosis.State{Key: key, Name: strings.ReplaceAll(key, "-", " ")})
	}
	s := &x.States[x.State(key)]
	r.text(&s.Name, f.Get("name"))
	if p, ok := r.Amount(f.Get("share"), quantity.Share, handwritten.Span{Min: 0.001, Max: 0.999}); ok {
		s.Share = p
	} else if s.Share == 0 && !f.Get("share").Written() {
		r.Missing(v, "share: 10 %", "the share of troubled benches with this state")
	}
	if list := f.Get("tells"); list.Written() {
		items, _ := r.List(list, "a list of rows", mostRows, "rows")
		for _, v := range items {
			r.row(v, s)
		}
	}
	return r.number(f.Get("up to"), x.Unit)
}

func (r *reader) row(v handwritten.Value, s *diagnosis.State) {
	f, ok := r.Part(v, "findings[].states[].tells[]", "{cause: cold-roots, is: strong for}", "a row")
	if !ok {
		return
	}
	c, is := f.Get("cause"), f.Get("is")
	if !c.Written() || !is.Written() {
		r.Missing(v, "{cause: cold-roots, is: strong for}", "the cause or the strength")
		return
	}
	key, ok := r.Words(c, handwritten.MaxName)
	if !ok {
		return
	}
	if r.out.Cause(key) == nil {
		var known []string
		for _, x := range r.out.Causes {
			known = append(known, x.Key)
		}
		p := handwritten.Problem{Path: c.Path, Message: "there is no cause " + handwritten.Shortened(key), Want: "the key of a cause"}
		if near := handwritten.Nearest(handwritten.Normal(key), known); near != "" {
			p.Message += "; did you mean " + near + "?"
		}
		r.Add(c.At, p)
		return
	}
	row := diagnosis.Row{Cause: key}
	i := slices.IndexFunc(s.Rows, func(x diagnosis.Row) bool { return x.Cause == key })
	if i >= 0 {
		row = s.Rows[i]
	}
	row.Strength = choice(r, is, diagnosis.Strengths(), row.Strength)
	r.text(&row.Why, f.Get("why"))
	row.Sources = r.sources(f.Get("sources"), row.Sources)
	switch {
	case row.Strength == diagnosis.None && i >= 0:
		s.Rows = slices.Delete(s.Rows, i, i+1)
	case row.Strength == diagnosis.None:
	case i >= 0:
		s.Rows[i] = row
	default:
		s.Rows = append(s.Rows, row)
	}
}

// Name is the file of a folder of benches that amends the table for them.
const Name = "evidence.yaml"
