package handwritten

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// A Difference is one value that two files say differently.
type Difference struct {
	Path    string // of the value, items by their name where they have one: `lamps["A"].height`
	Was, Is string // in one line; empty where nothing is written
	Whole   bool   // a whole item of a list came or went
}

// Differences are what two files say differently, in the order of the newer. Comments,
// blanks and the order of keys make none.
func (g Grammar) Differences(was, is []byte) ([]Difference, error) {
	a, err := g.parseTree(was)
	if err != nil {
		return nil, err
	}
	b, err := g.parseTree(is)
	if err != nil {
		return nil, err
	}
	var out []Difference
	g.differences(a.top, b.top, "", "", &out)
	return out, nil
}

func (g Grammar) differences(a, b *node, path, section string, out *[]Difference) {
	if same(a, b) {
		return
	}
	add := func(path string, a, b *node, whole bool) {
		*out = append(*out, Difference{Path: path, Was: a.short(), Is: b.short(), Whole: whole})
	}
	none := &node{}
	switch {
	case (a.kind == mapping || a.kind == nothing) && (b.kind == mapping || b.kind == nothing) && (path == "" || a.kind == b.kind):
		for _, y := range b.entries {
			x := none
			if i := slices.IndexFunc(a.entries, func(e entry) bool { return e.key == y.key }); i >= 0 {
				x = a.entries[i].value
			}
			g.differences(x, y.value, join(path, y.key), join(section, y.key), out)
		}
		for _, x := range a.entries {
			if !slices.ContainsFunc(b.entries, func(e entry) bool { return e.key == x.key }) {
				g.differences(x.value, none, join(path, x.key), join(section, x.key), out)
			}
		}
	case a.kind == list && b.kind == list && g.AutoName[section] != nil:
		names := func(n *node) (all []string) {
			for i, e := range n.entries {
				name := e.value.named()
				if name == "" {
					name = g.AutoName[section](i)
				}
				all = append(all, name)
			}
			return all
		}
		before, after := names(a), names(b)
		if len(before) == len(after) {
			for i := range after { // one in the place of another that is gone has got another name
				if was := before[i]; !slices.Contains(after, was) && !slices.Contains(before, after[i]) {
					after[i] = was
				}
			}
		}
		for i, y := range b.entries {
			at := path + itemStep(after[i])
			if k := slices.Index(before, after[i]); k >= 0 {
				g.differences(a.entries[k].value, y.value, at, section+"[]", out)
			} else {
				add(at, none, y.value, true)
			}
		}
		for i, x := range a.entries {
			if !slices.Contains(after, before[i]) {
				add(path+itemStep(before[i]), x.value, none, true)
			}
		}
	default:
		add(path, a, b, false)
	}
}

// itemStep is the step of a path to an item of a name.
func itemStep(name string) string {
	b, err := json.Marshal(name)
	if err != nil {
		panic(err) // a string always can be
	}
	return "[" + string(b) + "]"
}

// Carry makes the differences between two files in a third: what became otherwise from one to
// the other becomes so there too. It fails where the third has nothing that it could be done
// to, such as a lamp that was not there.
func (g Grammar) Carry(to, was, is []byte) ([]byte, error) {
	all, err := g.Differences(was, is)
	if err != nil {
		return nil, err
	}
	return g.Apply(to, changesOf(all)...)
}

// changesOf are the changes that make differences. A value that a third file says otherwise
// is written all the same.
func changesOf(all []Difference) []Change {
	var out []Change
	for _, d := range all {
		c := Change{Do: Put, Path: d.Path, Text: d.Is}
		if d.Is == "" {
			c.Do, c.Text = Remove, ""
		} else if d.Whole {
			c.Do, c.Path = Add, d.Path[:lastItem(d.Path)]
		}
		out = append(out, c)
	}
	return out
}

// lastItem is where the last item of a path begins.
func lastItem(path string) int {
	at, quoted := 0, false
	for i := 0; i < len(path); i++ {
		switch {
		case quoted && path[i] == '\\':
			i++
		case path[i] == '"':
			quoted = !quoted
		case path[i] == '[' && !quoted:
			at = i
		}
	}
	return at
}

// String is the difference as it stands in the file.
func (d Difference) String() string { return fmt.Sprintf("%s: %s to %s", d.Path, d.Was, d.Is) }

// Items is how many items a list of a file has.
func (g Grammar) Items(source []byte, path string) (int, error) {
	t, err := g.parseTree(source)
	if err != nil {
		return 0, err
	}
	s, err := steps(path)
	if err != nil {
		return 0, err
	}
	parts, places, err := g.walk(t.top, s)
	if err != nil || places[len(places)-1] < 0 {
		return 0, err
	}
	return len(parts[len(parts)-1].entries[places[len(places)-1]].value.entries), nil
}

// Written are the values at paths as they stand in a file, each in one line; empty where
// nothing is written. Of a value with its origin it is the value.
func (g Grammar) Written(source []byte, paths ...string) ([]string, error) {
	out, _, err := g.WrittenBeside(source, paths...)
	return out, err
}

// WrittenBeside is [Grammar.Written] with the comments at the end of the lines of the values.
func (g Grammar) WrittenBeside(source []byte, paths ...string) (out, comments []string, err error) {
	t, err := g.parseTree(source)
	if err != nil {
		return nil, nil, err
	}
	out, comments = make([]string, len(paths)), make([]string, len(paths))
	for i, path := range paths {
		s, err := steps(path)
		if err != nil {
			return nil, nil, err
		}
		parts, places, err := g.walk(t.top, s)
		if err != nil || places[len(places)-1] < 0 {
			continue
		}
		end := parts[len(parts)-1].entries[places[len(places)-1]].value.end
		if _, said, ok := strings.Cut(t.text[end:t.lineEnd(end)], " #"); ok {
			comments[i] = strings.TrimSpace(said)
		}
		n := parts[len(parts)-1].entries[places[len(places)-1]].value
		if n.kind == mapping {
			if k := slices.IndexFunc(n.entries, func(e entry) bool { return e.key == "value" }); k >= 0 {
				n = n.entries[k].value
			}
		}
		if n.kind == scalar {
			out[i] = n.text
		} else {
			out[i] = n.short()
		}
	}
	return out, comments, nil
}
