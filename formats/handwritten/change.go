package handwritten

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// A Change is one thing to change in a file. Paths are those of [Problem], and items with a
// name may be called by it: `lamps["left panel"].height`.
type Change struct {
	Do   Doing  `json:"do"`
	Path string `json:"path"`

	// Text is the amount, name or word for Set, without quotes. For Put and Add it is YAML in
	// one line, as between brackets: "{at: [30 cm, 20 cm], height: 34 cm}".
	Text string `json:"text,omitempty"`

	// Mark is a comment that goes when a value is set which stands alone in its line: "assumed,
	// please measure".
	Mark string `json:"-"`
}

// Doing is what a change does.
type Doing string

// What changes do.
const (
	Set    Doing = "set"    // writes a single value, also where none was written
	Put    Doing = "put"    // writes a whole part or list in place of what stands there
	Add    Doing = "add"    // adds an item at the end of a list
	Remove Doing = "remove" // takes a key or an item away
)

// A ChangeError says which change cannot be made.
type ChangeError struct {
	Change Change
	Err    error
}

// Error is the sentence for a person.
func (e *ChangeError) Error() string {
	return fmt.Sprintf("%s cannot be changed: %v", e.Change.Path, e.Err)
}

// Unwrap is why it cannot be made.
func (e *ChangeError) Unwrap() error { return e.Err }

const maxChanges = 5000

// Apply makes changes in a text, one after the other, all or none. Every byte that they do
// not concern stays: comments, order, blanks, amounts as they were typed. What comes out
// says what the changes say and nothing else, which is looked at before it is handed back;
// whether it is right, the reader of the file tells.
func (g Grammar) Apply(source []byte, changes ...Change) ([]byte, error) {
	if len(changes) > maxChanges {
		return nil, fmt.Errorf("%d changes are more than can be made at once", len(changes))
	}
	t, err := g.parseTree(source)
	if err != nil {
		return nil, err
	}
	for _, c := range changes {
		if t, err = t.change(c); err != nil {
			return nil, &ChangeError{c, err}
		}
	}
	return []byte(t.raw), nil
}

// An edit puts a text in the place of another.
type edit struct {
	from, to int // in text
	with     string
}

// change is the tree after a change.
func (t *tree) change(c Change) (*tree, error) {
	path, err := steps(c.Path)
	if err != nil {
		return nil, err
	}
	want := t.top.clone()
	if err := t.g.model(want, c, path); err != nil {
		return nil, err
	}
	edits, err := t.edits(c, path)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(edits, func(a, b edit) int { return a.from - b.from })
	var b strings.Builder
	done := 0
	for _, e := range edits {
		b.WriteString(t.raw[done:t.at[e.from]])
		b.WriteString(strings.ReplaceAll(e.with, "\n", t.eol))
		done = t.at[e.to]
	}
	b.WriteString(t.raw[done:])
	out, err := t.g.parseTree([]byte(b.String()))
	if err != nil {
		return nil, fmt.Errorf("the file could not be read any more after it: %w", err)
	}
	if !same(out.top, want) {
		return nil, errShape
	}
	return out, nil
}

// value reads the text of a change into a node.
func (g Grammar) value(c Change) (*node, error) {
	if c.Do == Set {
		if strings.TrimSpace(c.Text) == "" {
			return nil, errors.New("nothing is written")
		}
		return &node{kind: scalar, text: strings.TrimSpace(c.Text)}, nil
	}
	if strings.ContainsAny(c.Text, "\n\r#") {
		return nil, errors.New("a part is written in one line, without comments")
	}
	t, err := g.parseTree([]byte("x: " + c.Text + "\n"))
	if err != nil {
		return nil, err
	}
	if len(t.top.entries) != 1 || t.top.entries[0].key != "x" {
		return nil, errors.New("this is not one part")
	}
	return t.top.entries[0].value.clone(), nil
}

// model makes a change in what a file says.
func (g Grammar) model(top *node, c Change, path []step) error {
	parts, places, err := g.walk(top, path)
	if err != nil {
		return err
	}
	at := len(places) - 1
	if c.Do == Remove {
		if places[at] < 0 {
			return errors.New("nothing is written there")
		}
		n := parts[at]
		n.entries = slices.Delete(n.entries, places[at], places[at]+1)
		return nil
	}
	value, err := g.value(c)
	if err != nil {
		return err
	}
	// What is missing on the way is made, from the first that is not there.
	for i, place := range places {
		if place >= 0 {
			continue
		}
		n := parts[i]
		for k, s := range path[i:] {
			if s.item {
				return errors.New("there is no such item")
			}
			next := &node{kind: mapping}
			if i+k == len(path)-1 {
				if next = value; c.Do == Add {
					next = &node{kind: list, entries: []entry{{value: value}}}
				}
			}
			n.kind = mapping
			n.entries = append(n.entries, entry{key: s.key, value: next})
			n = next
		}
		return nil
	}
	n := parts[at].entries[places[at]].value
	switch {
	case c.Do == Add && (n.kind == list || n.kind == nothing):
		n.kind = list
		n.entries = append(n.entries, entry{value: value})
	case c.Do == Add:
		return errors.New("it is no list")
	case c.Do == Set && (n.kind == mapping || n.kind == list):
		inner := slices.IndexFunc(n.entries, func(e entry) bool { return e.key == "value" })
		if inner < 0 || n.entries[inner].value.kind == mapping || n.entries[inner].value.kind == list {
			return errors.New("a part stands there, and no single value")
		}
		n.entries[inner].value = value
	case c.Do == Set || c.Do == Put:
		*n = *value
	default:
		return fmt.Errorf("%q is nothing that can be done", Shortened(string(c.Do)))
	}
	return nil
}

// edits are what a change does to the text.
func (t *tree) edits(c Change, path []step) ([]edit, error) {
	parts, places, err := t.g.walk(t.top, path)
	if err != nil {
		return nil, err
	}
	at := len(places) - 1
	if c.Do == Remove {
		return t.removal(parts[at], places[at])
	}
	for i, place := range places {
		if place < 0 {
			return t.insertion(parts, i, c, path)
		}
	}
	n := parts[at].entries[places[at]].value
	inFlow := slices.ContainsFunc(parts, func(p *node) bool { return p.flow })
	if c.Do == Add {
		return t.addition(parts, places, n, inFlow, c.Text)
	}
	text := c.Text
	if c.Do == Set {
		if n.kind == mapping {
			inFlow = inFlow || n.flow
			n = n.entries[slices.IndexFunc(n.entries, func(e entry) bool { return e.key == "value" })].value
		}
		text = plainOrQuoted(strings.TrimSpace(c.Text), inFlow)
	}
	switch {
	case n.kind == nothing && n.start == n.end:
		return []edit{{n.start, n.end, " " + text}}, nil
	case n.kind != nothing && n.kind != scalar && !n.flow: // begins on a line of its own, below its key
		from := len(strings.TrimRight(t.text[:n.start], " \n"))
		if i := strings.LastIndexByte(t.text[:n.start], '\n'); strings.TrimSpace(t.text[i+1:n.start]) != "" {
			return []edit{{n.start, n.end, text}}, nil // behind a dash
		}
		if strings.Contains(t.text[n.start:n.end], "#") || strings.Contains(t.text[t.lineOf(from):from], "#") {
			return nil, errors.New("comments stand in that part and would be lost; change it as text")
		}
		return []edit{{from, n.end, " " + text}}, nil
	case strings.Contains(t.text[n.start:n.end], "#") && n.kind != scalar:
		return nil, errors.New("comments stand in that part and would be lost; change it as text")
	}
	if end := t.lineEnd(n.end); c.Do == Set && c.Mark != "" && strings.TrimSpace(t.text[n.end:end]) == "# "+c.Mark {
		return []edit{{n.start, end, text}}, nil
	}
	return []edit{{n.start, n.end, text}}, nil
}

func (t *tree) lineOf(at int) int { return strings.LastIndexByte(t.text[:at], '\n') + 1 }

// lineEnd is the end of the line of a place, before its \n.
func (t *tree) lineEnd(at int) int {
	if i := strings.IndexByte(t.text[at:], '\n'); i >= 0 {
		return at + i
	}
	return len(t.text)
}

// removal takes an entry of a part away.
func (t *tree) removal(n *node, place int) ([]edit, error) {
	e := n.entries[place]
	if n.flow {
		// The value and one comma; what stands between is kept if it is more than blanks.
		from, to := e.begin, e.value.end
		between := func(a, b int) int { // of the comma
			if i := strings.IndexByte(t.text[a:b], ','); i >= 0 && !strings.Contains(t.text[a:a+i], "#") {
				return a + i
			}
			return -1
		}
		if place+1 < len(n.entries) {
			next := n.entries[place+1].begin
			if gap := t.text[to:next]; strings.Trim(gap, " ,") == "" {
				return []edit{{from, next, ""}}, nil
			}
			if comma := between(to, next); comma >= 0 {
				return []edit{{from, to, ""}, {comma, comma + 1, ""}}, nil
			}
			return nil, errShape
		}
		if place > 0 {
			before := n.entries[place-1].value.end
			if gap := t.text[before:from]; strings.Trim(gap, " ,\n") == "" {
				return []edit{{before, to, ""}}, nil
			}
			if comma := between(before, from); comma >= 0 {
				return []edit{{comma, comma + 1, ""}, {from, to, ""}}, nil
			}
			return nil, errShape
		}
		if i := strings.IndexByte(t.text[to:n.end], ','); i >= 0 && strings.TrimSpace(t.text[to:to+i]) == "" {
			to += i + 1
		}
		return []edit{{from, to, ""}}, nil
	}
	from, to := t.lineOf(e.begin), t.lineEnd(e.value.end)
	if strings.TrimSpace(t.text[from:e.begin]) != "" { // the first key behind a dash
		if place+1 >= len(n.entries) {
			return nil, errors.New("it is all that is written there; take the whole away")
		}
		next := n.entries[place+1].begin
		if strings.Contains(t.text[e.value.end:next], "#") {
			return nil, errors.New("a comment stands beside it and would be lost; change it as text")
		}
		return []edit{{e.begin, next, ""}}, nil
	}
	switch {
	case to < len(t.text):
		to++
	case from > 0:
		from--
	}
	return []edit{{from, to, ""}}, nil
}

// insertion writes what is not there yet, from step i on.
func (t *tree) insertion(parts []*node, i int, c Change, path []step) ([]edit, error) {
	n := parts[i]
	inFlow := slices.ContainsFunc(parts[:i+1], func(p *node) bool { return p.flow })
	if path[i].item {
		return nil, errors.New("there is no such item")
	}
	text := c.Text
	if c.Do == Set {
		text = plainOrQuoted(strings.TrimSpace(c.Text), inFlow || i < len(path)-1)
	} else if c.Do == Add {
		text = "[" + text + "]"
	}
	for k := len(path) - 1; k > i; k-- {
		if path[k].item {
			return nil, errors.New("there is no such item")
		}
		text = "{" + path[k].key + ": " + text + "}"
	}
	line := path[i].key + ": " + text
	block := c.Do == Add && i == len(path)-1 && !inFlow
	switch {
	case n.kind == nothing: // a key with no value holds the part
		return []edit{{n.start, n.end, " {" + line + "}"}}, nil
	case n.flow && len(n.entries) == 0:
		return []edit{{n.start + 1, n.start + 1, line}}, nil
	case n.flow:
		end := n.entries[len(n.entries)-1].value.end
		return []edit{{end, end, ", " + line}}, nil
	}
	last := n.entries[len(n.entries)-1]
	indent := t.column(last.begin)
	if block {
		line = path[i].key + ":\n" + indent + "  - " + c.Text
	}
	end := t.lineEnd(last.value.end)
	return []edit{{end, end, "\n" + indent + line}}, nil
}

// column is as many blanks as stand, in width, before a place in its line.
func (t *tree) column(at int) string {
	return strings.Repeat(" ", len([]rune(t.text[t.lineOf(at):at])))
}

// addition adds an item to a list.
func (t *tree) addition(parts []*node, places []int, n *node, inFlow bool, item string) ([]edit, error) {
	if n.kind == nothing {
		holder := parts[len(parts)-1].entries[places[len(places)-1]]
		if inFlow || n.end > n.start {
			if n.end > n.start {
				return []edit{{n.start, n.end, "[" + item + "]"}}, nil
			}
			return []edit{{n.start, n.end, " [" + item + "]"}}, nil
		}
		end := t.lineEnd(n.end)
		return []edit{{end, end, "\n" + t.column(holder.begin) + "  - " + item}}, nil
	}
	if n.flow && len(n.entries) == 0 {
		return []edit{{n.start + 1, n.start + 1, item}}, nil
	}
	last := n.entries[len(n.entries)-1]
	if !n.flow {
		end := t.lineEnd(last.value.end)
		return []edit{{end, end, "\n" + t.column(last.begin) + "- " + item}}, nil
	}
	end := last.value.end
	if line := t.lineOf(last.begin); strings.TrimSpace(t.text[line:last.begin]) == "" && line > n.start {
		return []edit{{end, end, ",\n" + t.column(last.begin) + item}}, nil
	}
	return []edit{{end, end, ", " + item}}, nil
}
