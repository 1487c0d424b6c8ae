package benchfile

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"underlamp/science/quantity"
)

// reader walks the YAML tree of one file and collects its problems.
type reader struct {
	problems Problems
	lines    int             // of the file
	units    quantity.System // for the words of messages
	files    Files
}

// place is a position in the file, from 1.
type place struct{ line, column int }

func placeOfToken(tk *token.Token) place {
	if tk == nil || tk.Position == nil {
		return place{1, 1}
	}
	return place{tk.Position.Line, tk.Position.Column}
}

// placeOf is where a node begins. The token of a block mapping is its first
// colon, so its first key is asked instead.
func placeOf(n ast.Node) place {
	switch v := n.(type) {
	case nil:
		return place{1, 1}
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
func (r *reader) within(at place) place {
	return place{min(max(at.line, 1), max(r.lines, 1)), max(at.column, 1)}
}

func (r *reader) add(at place, p Problem) {
	at = r.within(at)
	p.Line, p.Column = at.line, at.column
	r.problems = append(r.problems, p)
}

// errorf reports an error at a value.
func (r *reader) errorf(v value, want, format string, args ...any) {
	r.add(v.at, Problem{Path: v.path, Message: fmt.Sprintf(format, args...), Want: want})
}

// warnf reports a warning at a value.
func (r *reader) warnf(v value, want, format string, args ...any) {
	r.add(v.at, Problem{Path: v.path, Severity: Warning, Message: fmt.Sprintf(format, args...), Want: want})
}

// A value is a node with the path to it. A value that is not written has no
// node; its place is that of the part in which it is missing.
type value struct {
	node ast.Node
	path string
	at   place
	key  place // where its key stands, if it has one
}

// written says that there is something to read.
func (v value) written() bool {
	if v.node == nil {
		return false
	}
	_, null := v.node.(*ast.NullNode)
	return !null
}

// fields are the values of a mapping by their normal keys.
type fields struct {
	value
	byKey map[string]value
}

// get returns the value of a key, written or not.
func (f fields) get(key string) value {
	if v, ok := f.byKey[key]; ok {
		return v
	}
	return value{path: join(f.path, key), at: f.at}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// mapping reads the keys of a part and reports unknown keys and keys written
// twice. A value that is not written gives no fields and no problem. The result
// is false if the value is no mapping.
func (r *reader) mapping(v value, section string) (fields, bool) {
	f := fields{value: v, byKey: map[string]value{}}
	if !v.written() {
		return f, true
	}
	known := keysOf(section)
	var entries []*ast.MappingValueNode
	switch n := v.node.(type) {
	case *ast.MappingNode:
		entries = n.Values
	case *ast.MappingValueNode:
		entries = []*ast.MappingValueNode{n}
	default:
		r.errorf(v, "keys: "+strings.Join(known, ", "), "%s stands where a part with keys belongs", describe(v.node))
		return f, false
	}
	for _, e := range entries {
		written, at := keyText(e.Key), placeOf(e.Key)
		key := normal(written)
		child := value{node: e.Value, path: join(v.path, key), at: placeOf(e.Value), key: at}
		if !slices.Contains(known, key) {
			r.unknown(v.path, written, at, known)
			continue
		}
		if first, twice := f.byKey[key]; twice {
			r.add(at, Problem{Path: child.path, Message: fmt.Sprintf("%q is written twice; the first is in line %d", key, first.key.line), Want: "one of the two"})
			continue
		}
		if !child.written() {
			child.at = at // the place of what is missing, not of the end of the line
		}
		f.byKey[key] = child
	}
	return f, true
}

func (r *reader) unknown(path, key string, at place, known []string) {
	p := Problem{Path: path, Message: fmt.Sprintf("the key %q is not known here", shortened(key)), Suggest: suggest(key, known)}
	p.Want = "one of " + strings.Join(known, ", ")
	if other := elsewhere(key); p.Suggest == "" && other != "" {
		p.Message += fmt.Sprintf("; it belongs under %s", strings.ReplaceAll(other, "[]", ""))
	}
	r.add(at, p)
}

// items reads a list; false if the value is none. One value that is not
// written is an empty list.
func (r *reader) items(v value, want string) ([]value, bool) {
	if !v.written() {
		return nil, true
	}
	seq, ok := v.node.(*ast.SequenceNode)
	if !ok {
		r.errorf(v, want, "%s stands where a list belongs", describe(v.node))
		return nil, false
	}
	var out []value
	for i, n := range seq.Values {
		item := value{node: n, path: fmt.Sprintf("%s[%d]", v.path, i), at: placeOf(n)}
		if n == nil {
			item.at = v.at
		}
		out = append(out, item)
	}
	return out, true
}

// scalar gives the text of a single value; false, with a problem, if the value
// is a list or a part with keys.
func (r *reader) scalar(v value, want string) (string, bool) {
	switch n := v.node.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		if n.Value == nil {
			return "", true
		}
		return n.Value.Value, true
	case *ast.MappingNode, *ast.MappingValueNode, *ast.SequenceNode:
		r.errorf(v, want, "%s stands where a single value belongs", describe(v.node))
		return "", false
	case nil:
		return "", true
	}
	return v.node.GetToken().Value, true
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
		return fmt.Sprintf("the text %q", shortened(v.Value))
	case *ast.IntegerNode, *ast.FloatNode:
		return "the number " + shortened(n.GetToken().Value)
	}
	return "something else"
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
