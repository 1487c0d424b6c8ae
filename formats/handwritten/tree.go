package handwritten

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// A tree is a text that a person wrote with the place of every value in it, so that one can
// be changed and every other byte stays.
type tree struct {
	g    Grammar
	raw  string // as it was written
	text string // without byte-order mark, lines ended by \n alone
	at   []int  // offset in raw of every offset in text, and of its end
	eol  string // that of most lines
	top  *node

	lines []int // where lines begin in text
}

type kind int

const (
	nothing kind = iota // a key with no value
	scalar
	mapping
	list
)

// A node is a value. Offsets are in the text of its tree.
type node struct {
	kind       kind
	text       string // of a scalar
	start, end int
	flow       bool // between brackets
	lines      bool // written over lines, as it is not changed here
	entries    []entry
}

// An entry is a key with its value, or an item of a list, which has no key.
type entry struct {
	key   string // in its normal spelling
	begin int    // of the key, the dash, or the value
	value *node
}

// errShape is for text that the places of values cannot be told of.
var errShape = errors.New("the file is written in a way that can be read but not changed here; change it as text")

// parseTree reads a text. Errors are those of a file that is no YAML, or that can be read and
// not changed.
func (g Grammar) parseTree(source []byte) (*tree, error) {
	if t := lately.find(g.Package, source); t != nil {
		return t, nil
	}
	t, err := g.newTree(source)
	if err == nil && len(source) <= mostKept {
		lately.keep(g.Package, t)
	}
	return t, err
}

// Who edits a text asks for many of its values, one after the other; the trees of the last
// texts are kept, so that each is read once. A tree does not change.
var lately recent

const (
	mostTrees = 8
	mostKept  = 1 << 16 // bytes
)

type recent struct {
	mu    sync.Mutex
	kind  []string
	trees []*tree
}

func (r *recent) find(kind string, source []byte) *tree {
	r.mu.Lock()
	defer r.mu.Unlock()
	for i, t := range r.trees {
		if r.kind[i] == kind && t.raw == string(source) {
			return t
		}
	}
	return nil
}

func (r *recent) keep(kind string, t *tree) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.trees) == mostTrees {
		r.kind, r.trees = slices.Delete(r.kind, 0, 1), slices.Delete(r.trees, 0, 1)
	}
	r.kind, r.trees = append(r.kind, kind), append(r.trees, t)
}

func (g Grammar) newTree(source []byte) (*tree, error) {
	r := &Reader{Grammar: g}
	top, ok, err := r.Top(strings.NewReader(string(source)))
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, r.Problems
	}
	t := &tree{g: g, raw: string(source)}
	t.index()
	if t.top, err = t.node(top.Node, 0, 0); err != nil {
		return nil, err
	}
	if t.top.kind != mapping {
		return nil, errShape
	}
	return t, nil
}

// index makes the text of the raw one, and the offsets between them.
func (t *tree) index() {
	var b strings.Builder
	from := 0
	if strings.HasPrefix(t.raw, bom) {
		from = len(bom)
	}
	crlf, lf := 0, 0
	for i := from; i < len(t.raw); i++ {
		c := t.raw[i]
		t.at = append(t.at, i)
		if c == '\r' {
			c = '\n'
			if i+1 < len(t.raw) && t.raw[i+1] == '\n' {
				i++
				crlf++
			}
		} else if c == '\n' {
			lf++
		}
		b.WriteByte(c)
	}
	t.at = append(t.at, len(t.raw))
	t.text = b.String()
	t.eol = "\n"
	if crlf > lf {
		t.eol = "\r\n"
	}
	t.lines = []int{0}
	for i := range len(t.text) {
		if t.text[i] == '\n' {
			t.lines = append(t.lines, i+1)
		}
	}
}

// offset is where a token begins.
func (t *tree) offset(tk *token.Token) (int, error) {
	if tk == nil || tk.Position == nil || tk.Position.Line < 1 || tk.Position.Line > len(t.lines) {
		return 0, errShape
	}
	at := t.lines[tk.Position.Line-1]
	for range tk.Position.Column - 1 {
		if at >= len(t.text) || t.text[at] == '\n' {
			return 0, errShape
		}
		_, n := utf8.DecodeRuneInString(t.text[at:])
		at += n
	}
	return at, nil
}

// node makes a node; after is where its key or dash ends.
func (t *tree) node(n ast.Node, after, depth int) (*node, error) {
	if depth > 2*maxDepth {
		return nil, errShape
	}
	switch v := n.(type) {
	case nil:
		return &node{start: after, end: after}, nil
	case *ast.NullNode:
		at, err := t.offset(v.GetToken())
		if text := v.GetToken().Value; err == nil && text != "" && at >= after && strings.HasPrefix(t.text[at:], text) {
			return &node{start: at, end: at + len(text)}, nil
		}
		return &node{start: after, end: after}, nil
	case *ast.MappingValueNode:
		return t.mapping([]*ast.MappingValueNode{v}, nil, nil, depth)
	case *ast.MappingNode:
		if v.IsFlowStyle {
			return t.mapping(v.Values, v.Start, v.End, depth)
		}
		return t.mapping(v.Values, nil, nil, depth)
	case *ast.SequenceNode:
		return t.list(v, depth)
	case *ast.LiteralNode:
		at, err := t.offset(v.Start)
		if err != nil || v.Value == nil {
			return nil, errShape
		}
		return &node{kind: scalar, text: v.Value.Value, start: at, end: t.before(v.Value.GetToken()), lines: true}, nil
	}
	return t.scalar(n)
}

// before is where what a token says ends, if it is written over lines.
func (t *tree) before(tk *token.Token) int {
	end := len(t.text)
	for next := tk.Next; next != nil; next = next.Next {
		if at, err := t.offset(next); err == nil && next.Position.Line > tk.Position.Line {
			end = at
			break
		}
	}
	return len(strings.TrimRight(t.text[:end], " \t\n"))
}

func (t *tree) scalar(n ast.Node) (*node, error) {
	tk := n.GetToken()
	at, err := t.offset(tk)
	if err != nil {
		return nil, err
	}
	out := &node{kind: scalar, text: tk.Value, start: at}
	if s, ok := n.(*ast.StringNode); ok {
		out.text = s.Value
	}
	rest := t.text[at:]
	switch tk.Type {
	case token.SingleQuoteType, token.DoubleQuoteType:
		quote := byte('\'')
		if tk.Type == token.DoubleQuoteType {
			quote = '"'
		}
		if rest == "" || rest[0] != quote {
			return nil, errShape
		}
		i := 1
		for ; i < len(rest); i++ {
			if rest[i] == '\\' && quote == '"' {
				i++
			} else if rest[i] == quote {
				if quote == '\'' && i+1 < len(rest) && rest[i+1] == quote {
					i++
					continue
				}
				break
			}
		}
		if i >= len(rest) {
			return nil, errShape
		}
		out.end = at + i + 1
	default:
		value := strings.TrimSpace(tk.Value)
		if value == "" || !strings.HasPrefix(rest, value) {
			out.end, out.lines = t.before(tk), true
			if out.end < at {
				return nil, errShape
			}
			return out, nil
		}
		out.end = at + len(value)
	}
	out.lines = strings.Contains(t.text[out.start:out.end], "\n")
	return out, nil
}

func (t *tree) mapping(values []*ast.MappingValueNode, open, end *token.Token, depth int) (*node, error) {
	out := &node{kind: mapping}
	for _, v := range values {
		if v.Key == nil {
			return nil, errShape
		}
		begin, err := t.offset(v.Key.GetToken())
		if err != nil {
			return nil, err
		}
		colon, err := t.offset(v.Start)
		if err != nil || colon >= len(t.text) || t.text[colon] != ':' || colon < begin {
			return nil, errShape
		}
		value, err := t.node(v.Value, colon+1, depth+1)
		if err != nil {
			return nil, err
		}
		key := Normal(keyText(v.Key))
		if slices.ContainsFunc(out.entries, func(e entry) bool { return e.key == key }) {
			return nil, fmt.Errorf("%q is written twice in one part; mend it as text first", key)
		}
		out.entries = append(out.entries, entry{key, begin, value})
	}
	return out, t.bounds(out, open, end)
}

func (t *tree) list(v *ast.SequenceNode, depth int) (*node, error) {
	out := &node{kind: list}
	if !v.IsFlowStyle && len(v.Entries) != len(v.Values) {
		return nil, errShape
	}
	for i, x := range v.Values {
		begin, after := -1, 0
		if !v.IsFlowStyle {
			dash, err := t.offset(v.Entries[i].Start)
			if err != nil || dash >= len(t.text) || t.text[dash] != '-' {
				return nil, errShape
			}
			begin, after = dash, dash+1
		}
		value, err := t.node(x, after, depth+1)
		if err != nil {
			return nil, err
		}
		if begin < 0 {
			begin = value.start
		}
		out.entries = append(out.entries, entry{"", begin, value})
	}
	if v.IsFlowStyle {
		return out, t.bounds(out, v.Start, v.End)
	}
	return out, t.bounds(out, nil, nil)
}

// bounds sets where a part begins and ends: at its brackets, or at what is in it.
func (t *tree) bounds(n *node, open, end *token.Token) error {
	if open == nil {
		if len(n.entries) == 0 {
			return errShape
		}
		n.start, n.end = n.entries[0].begin, n.entries[len(n.entries)-1].value.end
	} else {
		n.flow = true
		from, err := t.offset(open)
		if err != nil {
			return err
		}
		to, err := t.offset(end)
		if err != nil {
			return err
		}
		n.start, n.end = from, to+1
		brackets := map[kind]string{mapping: "{}", list: "[]"}[n.kind]
		if from >= to || to >= len(t.text) || t.text[from] != brackets[0] || t.text[to] != brackets[1] {
			return errShape
		}
	}
	last := n.start
	for _, e := range n.entries { // an order that is not that of the text would tear it
		if e.begin < last || e.value.start < e.begin || e.value.end < e.value.start || e.value.end > n.end {
			return errShape
		}
		last = e.value.end
	}
	return nil
}

// clone is a copy without the places.
func (n *node) clone() *node {
	out := &node{kind: n.kind, text: n.text}
	for _, e := range n.entries {
		out.entries = append(out.entries, entry{key: e.key, value: e.value.clone()})
	}
	return out
}

// same says that two nodes say the same. A part in which nothing is left is nothing.
func same(a, b *node) bool {
	empty := func(n *node) bool { return n.kind == nothing || n.kind != scalar && len(n.entries) == 0 }
	if empty(a) || empty(b) {
		return empty(a) && empty(b)
	}
	return a.kind == b.kind && a.text == b.text && slices.EqualFunc(a.entries, b.entries, func(x, y entry) bool { return x.key == y.key && same(x.value, y.value) })
}

// short is the node in one line, as it would be written between brackets.
func (n *node) short() string {
	var parts []string
	switch n.kind {
	case nothing:
		return ""
	case scalar:
		return plainOrQuoted(n.text, true)
	case mapping:
		for _, e := range n.entries {
			parts = append(parts, strings.TrimRight(e.key+": "+e.value.short(), " "))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	}
	for _, e := range n.entries {
		parts = append(parts, e.value.short())
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

// Quoted is a text as a value in a line of its own, between quotes where it needs them.
func Quoted(s string) string { return plainOrQuoted(s, false) }

// QuotedItem is a text as an item of a list between brackets, between quotes where it needs them.
func QuotedItem(s string) string { return plainOrQuoted(s, true) }

// plainOrQuoted writes a text so that it is read again as it is.
func plainOrQuoted(s string, flow bool) string {
	plain := s != "" && strings.TrimSpace(s) == s && !strings.Contains(s, ": ") && !strings.Contains(s, " #") && !strings.HasSuffix(s, ":") &&
		!strings.ContainsAny(s[:1], ",[]{}#&*!|>'\"%@`?:~=<") && !slices.Contains([]string{"null", "Null", "NULL", "-", "---", "..."}, s) && !strings.HasPrefix(s, "- ")
	if flow && strings.ContainsAny(s, ",[]{}:") {
		plain = false
	}
	for _, c := range s {
		if c < ' ' || c == 0x7f {
			plain = false
		}
	}
	if plain {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range s {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case c == '\t':
			b.WriteString(`\t`)
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// A step is a key, an item by its place, or an item by its name.
type step struct {
	key   string
	item  bool
	index int
	name  string // of an item; empty: by index
}

// steps reads a path: "lamps[0].at[1]", `lamps["left panel"].height`.
func steps(path string) ([]step, error) {
	wrong := fmt.Errorf("%q is no path to a value", Shortened(path))
	var out []step
	for rest := path; rest != ""; {
		if rest[0] != '[' {
			end := strings.IndexAny(rest, ".[")
			if end < 0 {
				end = len(rest)
			}
			if end == 0 {
				return nil, wrong
			}
			out = append(out, step{key: Normal(rest[:end])})
			rest = rest[end:]
		} else if strings.HasPrefix(rest, `["`) {
			d := json.NewDecoder(strings.NewReader(rest[1:]))
			var name string
			if d.Decode(&name) != nil || name == "" {
				return nil, wrong
			}
			end := 1 + int(d.InputOffset())
			if end >= len(rest) || rest[end] != ']' {
				return nil, wrong
			}
			out = append(out, step{item: true, name: name})
			rest = rest[end+1:]
		} else {
			end := strings.IndexByte(rest, ']')
			if end < 0 {
				return nil, wrong
			}
			i, err := strconv.Atoi(rest[1:end])
			if err != nil || i < 0 {
				return nil, wrong
			}
			out = append(out, step{item: true, index: i})
			rest = rest[end+1:]
		}
		if strings.HasPrefix(rest, ".") {
			if rest = rest[1:]; rest == "" || rest[0] == '[' {
				return nil, wrong
			}
		} else if rest != "" && rest[0] != '[' {
			return nil, wrong
		}
	}
	if len(out) == 0 || len(out) > maxDepth || out[0].item {
		return nil, wrong
	}
	return out, nil
}

// walk follows steps. It returns the parts passed, the top first, and the place of the next
// one in each; the last place is -1 where nothing is written there.
func (g Grammar) walk(top *node, path []step) (parts []*node, places []int, err error) {
	n, section := top, ""
	for i, s := range path {
		place := -1
		switch {
		case s.item && n.kind != list && n.kind != nothing, !s.item && n.kind != mapping && n.kind != nothing:
			return nil, nil, fmt.Errorf("there is no %q in this file", Shortened(section))
		case !s.item:
			place = slices.IndexFunc(n.entries, func(e entry) bool { return e.key == s.key })
			section = join(section, s.key)
		case s.name != "":
			place = slices.IndexFunc(n.entries, func(e entry) bool { return e.value.named() == s.name })
			if auto := g.AutoName[section]; place < 0 && auto != nil {
				for k, e := range n.entries {
					if e.value.named() == "" && auto(k) == s.name {
						place = k
					}
				}
			}
		case s.index < len(n.entries):
			place = s.index
		}
		parts, places = append(parts, n), append(places, place)
		if place < 0 {
			if i < len(path)-1 {
				n = &node{} // what is not there holds nothing
				continue
			}
			return parts, places, nil
		}
		n = n.entries[place].value
	}
	return parts, places, nil
}

// named is the name that an item gives itself.
func (n *node) named() string {
	if n.kind == mapping {
		for _, e := range n.entries {
			if e.key == "name" && e.value.kind == scalar {
				return strings.TrimSpace(e.value.text)
			}
		}
	}
	return ""
}
