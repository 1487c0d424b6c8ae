package handwritten

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"underlamp/science/quantity"
)

// A Grammar is what a kind of file may hold, and its words for messages.
type Grammar struct {
	Package  string            // the package that reads it, for errors: "benchfile"
	File     string            // "the description of a bench"
	Begin    string            // "a bench description that begins with underlamp: 1"
	One      string            // "one bench in a file"
	Sections []Section         // the first is the top of the file
	Also     map[string]string // words that people use for a key; suggested, never accepted
	Home     map[string]bool   // sections that unknown keys are not sent to; nil: none

	// AutoName is what an item of a list is called that has no name, by the list: "lamps".
	AutoName map[string]func(i int) string
}

// A Section is one part of a file and the keys that it may hold. The names of
// sections are paths, with [] for a list.
type Section struct {
	Name string
	Keys []string
}

// A Reader walks the YAML tree of one file and collects its problems. The zero
// value but for Grammar is ready.
type Reader struct {
	Grammar  Grammar
	Problems Problems
	Units    quantity.System // for the words of messages

	lines int    // of the file
	asked *Asked // where what is asked is noted; nil: nowhere
}

// A Place is a position in the file, from 1; columns count characters.
type Place struct{ Line, Column int }

func placeOfToken(tk *token.Token) Place {
	if tk == nil || tk.Position == nil {
		return Place{1, 1}
	}
	return Place{tk.Position.Line, tk.Position.Column}
}

// placeOf is where a node begins. The token of a block mapping is its first
// colon, so its first key is asked instead.
func placeOf(n ast.Node) Place {
	switch v := n.(type) {
	case nil:
		return Place{1, 1}
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 && v.Values[0].Key != nil {
			return placeOfToken(v.Values[0].Key.GetToken())
		}
	case *ast.MappingValueNode:
		return placeOfToken(v.Key.GetToken())
	}
	return placeOfToken(n.GetToken())
}

// within moves a place into the file.
func (r *Reader) within(at Place) Place {
	return Place{min(max(at.Line, 1), max(r.lines, 1)), max(at.Column, 1)}
}

// Add reports a problem at a place.
func (r *Reader) Add(at Place, p Problem) {
	at = r.within(at)
	p.Line, p.Column = at.Line, at.Column
	r.Problems = append(r.Problems, p)
}

// Errorf reports an error at a value.
func (r *Reader) Errorf(v Value, want, format string, args ...any) {
	r.Add(v.At, Problem{Path: v.Path, Message: fmt.Sprintf(format, args...), Want: want})
}

// Warnf reports a warning at a value.
func (r *Reader) Warnf(v Value, want, format string, args ...any) {
	r.Add(v.At, Problem{Path: v.Path, Severity: Warning, Message: fmt.Sprintf(format, args...), Want: want})
}

// A Value is a node with the path to it. A value that is not written has no
// node; its place is that of the part in which it is missing.
type Value struct {
	Node ast.Node
	Path string
	At   Place
	Key  Place // where its key stands, if it has one
}

// Written says that there is something to read.
func (v Value) Written() bool {
	if v.Node == nil {
		return false
	}
	_, null := v.Node.(*ast.NullNode)
	return !null
}

// IsMapping says that a part with keys stands there.
func (v Value) IsMapping() bool {
	switch v.Node.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return true
	}
	return false
}

// IsList says that a list stands there.
func (v Value) IsList() bool {
	_, ok := v.Node.(*ast.SequenceNode)
	return ok
}

// HasKey says that a part with keys stands there and has one of the keys, written
// in whatever way.
func (v Value) HasKey(keys ...string) bool {
	return slices.ContainsFunc(v.entries(), func(e *ast.MappingValueNode) bool {
		return slices.Contains(keys, Normal(keyText(e.Key)))
	})
}

// entries are the pairs of a part with keys; nil if something else stands there.
func (v Value) entries() []*ast.MappingValueNode {
	switch n := v.Node.(type) {
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	}
	return nil
}

// Fields are the values of a mapping by their normal keys.
type Fields struct {
	Value
	byKey map[string]Value
}

// Get returns the value of a key, written or not.
func (f Fields) Get(key string) Value {
	if v, ok := f.byKey[key]; ok {
		return v
	}
	return Value{Path: join(f.Path, key), At: f.At}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// Mapping reads the keys of a part and reports unknown keys and keys written
// twice. A value that is not written gives no fields and no problem. The result
// is false if the value is no mapping.
func (r *Reader) Mapping(v Value, section string) (Fields, bool) {
	r.takes(v, Form{Is: PartForm, Section: section})
	return r.mapping(v, section)
}

func (r *Reader) mapping(v Value, section string) (Fields, bool) {
	f := Fields{Value: v, byKey: map[string]Value{}}
	if !v.Written() {
		return f, true
	}
	known := r.keysOf(section)
	if !v.IsMapping() {
		r.Errorf(v, "keys: "+strings.Join(known, ", "), "%s stands where a part with keys belongs", describe(v.Node))
		return f, false
	}
	for _, e := range v.entries() {
		written, at := keyText(e.Key), placeOf(e.Key)
		key := Normal(written)
		child := Value{Node: e.Value, Path: join(v.Path, key), At: placeOf(e.Value), Key: at}
		if !slices.Contains(known, key) {
			r.unknown(v.Path, written, at, known)
			continue
		}
		if first, twice := f.byKey[key]; twice {
			r.Add(at, Problem{Path: child.Path, Message: fmt.Sprintf("%q is written twice; the first is in line %d", key, first.Key.Line), Want: "one of the two"})
			continue
		}
		if !child.Written() {
			child.At = at // the place of what is missing, not of the end of the line
		}
		f.byKey[key] = child
	}
	return f, true
}

func (r *Reader) unknown(path, key string, at Place, known []string) {
	p := Problem{Path: path, Message: fmt.Sprintf("the key %q is not known here", Shortened(key)), Suggest: r.suggest(key, known)}
	p.Want = "one of " + strings.Join(known, ", ")
	if other := r.elsewhere(key); p.Suggest == "" && other != "" {
		p.Message += fmt.Sprintf("; it belongs under %s", strings.ReplaceAll(other, "[]", ""))
	}
	r.Add(at, p)
}

// Part is [Reader.Mapping] for a part that must be written; what names it.
func (r *Reader) Part(v Value, section, want, what string) (Fields, bool) {
	r.takes(v, Form{Is: PartForm, Section: section})
	if !v.Written() {
		r.Missing(v, want, what)
		return Fields{}, false
	}
	return r.mapping(v, section)
}

// Items reads a list; false if the value is none. A value that is not
// written is an empty list.
func (r *Reader) Items(v Value, want string) ([]Value, bool) {
	r.takes(v, Form{Is: ListForm})
	return r.items(v, want)
}

func (r *Reader) items(v Value, want string) ([]Value, bool) {
	if !v.Written() {
		return nil, true
	}
	seq, ok := v.Node.(*ast.SequenceNode)
	if !ok {
		r.Errorf(v, want, "%s stands where a list belongs", describe(v.Node))
		return nil, false
	}
	var out []Value
	for i, n := range seq.Values {
		item := Value{Node: n, Path: fmt.Sprintf("%s[%d]", v.Path, i), At: placeOf(n)}
		if n == nil {
			item.At = v.At
		}
		out = append(out, item)
	}
	return out, true
}

// List is [Reader.Items] for at most so many things, named in the plural. More
// are an error at the first that is too many, and are left out, so that the others
// are still read.
func (r *Reader) List(v Value, want string, most int, things string) ([]Value, bool) {
	r.takes(v, Form{Is: ListForm, Most: most})
	items, ok := r.items(v, want)
	if len(items) > most {
		r.Errorf(items[most], fmt.Sprintf("at most %d %s", most, things), "there are %d %s", len(items), things)
		items = items[:most]
	}
	return items, ok
}

// Scalar gives the text of a single value; false, with a problem, if the value
// is a list or a part with keys.
func (r *Reader) Scalar(v Value, want string) (string, bool) {
	r.takes(v, Form{Is: FreeForm, Want: want})
	return r.scalar(v, want)
}

// Raw is [Reader.Scalar] for a caller that says by [Reader.Takes] what it reads.
func (r *Reader) Raw(v Value, want string) (string, bool) { return r.scalar(v, want) }

func (r *Reader) scalar(v Value, want string) (string, bool) {
	switch n := v.Node.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		if n.Value == nil {
			return "", true
		}
		return n.Value.Value, true
	case *ast.MappingNode, *ast.MappingValueNode, *ast.SequenceNode:
		r.Errorf(v, want, "%s stands where a single value belongs", describe(v.Node))
		return "", false
	case nil:
		return "", true
	}
	return v.Node.GetToken().Value, true
}

func keyText(n ast.MapKeyNode) string {
	switch k := n.(type) {
	case *ast.StringNode:
		return k.Value
	case nil:
		return ""
	}
	return n.GetToken().Value
}

// describe says what stands in the file, for messages.
func describe(n ast.Node) string {
	switch v := n.(type) {
	case *ast.SequenceNode:
		return "a list"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a part with keys"
	case *ast.StringNode:
		return fmt.Sprintf("the text %q", Shortened(v.Value))
	case *ast.IntegerNode, *ast.FloatNode:
		return "the number " + Shortened(n.GetToken().Value)
	}
	return "something else"
}

// Shortened cuts a long text for a message.
func Shortened(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
