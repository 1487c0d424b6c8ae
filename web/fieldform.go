package web

import (
	"bytes"
	"cmp"
	"html/template"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"underlamp/formats/handwritten"
)

type editGroup struct {
	Key, Title, Note string
	AsIs             bool // numbers in Note are parts of names
	Open             bool
	Items            []editItem
	Add, AddText     string // what a button adds to which list
	AddLabel         string
	Wrong            []string // what concerns no single field
}

// AddID is the id of the button that adds.
func (g *editGroup) AddID() string { return fieldID(g.Add) }

type editItem struct {
	Name   string
	Path   string // to take it away; empty if it cannot be
	Label  string // of the button that does
	Fields []editField
	Wrong  []string
}

type editField struct {
	ID, Path, Label, Value string
	Usual                  string // what is taken where nothing is written
	Wrong                  string
	Warning                bool
	Assumed                bool // nobody has said it yet
	Options                []string
	Hint                   string
	Long                   bool // room for sentences
	Wide                   bool // room for an address
}

// A column is a field of every item of a list, or of a part.
type column struct {
	key, label string
	options    []string
	hint       string
	example    string // shown where nothing is written and nothing is taken
	long, wide bool
}

// fieldID is the id of the field of a path, so that other pages can lead to it:
// "at-method-air-flow". The id of a group is that of its key.
func fieldID(path string) string {
	return "at-" + strings.Trim(outsideIDs.ReplaceAllString(path, "-"), "-")
}

var outsideIDs = regexp.MustCompile(`[^a-z0-9]+`)

// A former makes a form for a file that people write: it collects the paths of fields, reads
// them at once, and puts problems beside them.
type former struct {
	text     []byte
	written  func(source []byte, paths ...string) ([]string, error) // values at paths
	count    func(source []byte, list string) (int, error)          // items of a list
	assumed  func(source []byte, paths ...string) ([]bool, error)   // values that nobody said; nil: none
	problems handwritten.Problems
	field    string // that somebody came for: its group stands open
	groups   []*editGroup
}

func firstLine(s string) string { line, _, _ := strings.Cut(s, "\n"); return line }

// fieldForm is the form of groups.
func (s *Site) fieldForm(groups []*editGroup) template.HTML {
	var out bytes.Buffer
	if err := s.pages.ExecuteTemplate(&out, "editform.tmpl", groups); err != nil {
		s.log.Error("form", "err", err)
		return ""
	}
	return template.HTML(out.String())
}

func (f *former) group(key, title string, open bool) *editGroup {
	g := &editGroup{Key: key, Title: title, Open: open || key == f.field || strings.HasPrefix(f.field, key+".") || strings.HasPrefix(f.field, key+"[")}
	f.groups = append(f.groups, g)
	return g
}

func (f *former) items(list string) int {
	n, err := f.count(f.text, list)
	if err != nil {
		return 0
	}
	return n
}

func (f *former) item(g *editGroup, base, name, removes string, columns []column) {
	it := editItem{Name: name, Label: removes}
	if removes != "" {
		it.Path = base
	}
	for _, c := range columns {
		path := c.key
		if base != "" {
			path = base + "." + c.key
		}
		x := editField{ID: fieldID(path), Path: path, Label: c.label, Options: c.options, Hint: c.hint, Long: c.long, Wide: c.wide}
		if c.example != "" {
			x.Usual = "for example: " + c.example
		}
		it.Fields = append(it.Fields, x)
	}
	g.Items = append(g.Items, it)
}

// fill reads all fields at once, and puts problems beside them. usual are the values that are
// taken where nothing is written.
func (f *former) fill(usual map[string]string) {
	var fields []*editField
	var paths []string
	in := map[*editField]*editGroup{}
	for _, g := range f.groups {
		for i := range g.Items {
			for k := range g.Items[i].Fields {
				x := &g.Items[i].Fields[k]
				fields, paths, in[x] = append(fields, x), append(paths, x.Path), g
			}
		}
	}
	values, err := f.written(f.text, paths...)
	if err != nil {
		return
	}
	assumed := make([]bool, len(paths))
	if f.assumed != nil {
		if assumed, err = f.assumed(f.text, paths...); err != nil {
			return
		}
	}
	by := map[string]*editField{}
	for i, x := range fields {
		x.Value, x.Assumed = values[i], assumed[i]
		if x.Value == "" {
			x.Usual = cmp.Or(usual[x.Path], x.Usual)
			if i := strings.IndexByte(x.Path, ']'); usual[x.Path] == "" && i > 0 {
				x.Usual = cmp.Or(usual[x.Path[:strings.IndexByte(x.Path, '[')]+x.Path[i+1:]], x.Usual)
			}
		}
		by[x.Path] = x
	}
	for _, p := range f.problems {
		said := problemSentence(p)
		if x := by[strings.TrimSuffix(p.Path, ".value")]; x != nil && x.Wrong == "" {
			x.Wrong, x.Warning = said, p.Severity == handwritten.Warning
			in[x].Open = in[x].Open || !x.Warning
			continue
		}
		f.elsewhere(p, said)
	}
}

// elsewhere puts a problem of no single field beside its item or group.
func (f *former) elsewhere(p handwritten.Problem, said string) {
	head, _, _ := strings.Cut(p.Path, ".")
	head, _, _ = strings.Cut(head, "[")
	for _, g := range f.groups {
		if g.Key != head {
			continue
		}
		g.Open = g.Open || p.Severity == handwritten.Error
		for i := range g.Items {
			if it := &g.Items[i]; it.Path != "" && strings.HasPrefix(p.Path, it.Path) {
				it.Wrong = append(it.Wrong, said)
				return
			}
		}
		g.Wrong = append(g.Wrong, said)
		return
	}
}

// typedChanges are the fields of a form that was sent without script, where they differ from
// the text that was sent with them.
func typedChanges(form url.Values, text []byte, written func([]byte, ...string) ([]string, error)) []handwritten.Change {
	var changes []handwritten.Change
	for name, values := range form {
		path, ok := strings.CutPrefix(name, "set:")
		if !ok || len(changes) >= mostChanges {
			continue
		}
		was, err := written(text, path)
		if value := strings.TrimSpace(strings.ReplaceAll(values[0], "\r\n", "\n")); err == nil && value != strings.TrimSpace(was[0]) {
			c := handwritten.Change{Do: handwritten.Set, Path: path, Text: value}
			if value == "" {
				c.Do = handwritten.Remove
			}
			changes = append(changes, c)
		}
	}
	slices.SortFunc(changes, func(a, b handwritten.Change) int { return strings.Compare(a.Path, b.Path) })
	return changes
}

// pressed is the change of a button of a form that was sent without script: something is added
// to a list or taken away; false if it was another button.
func pressed(do string, groups []*editGroup) (handwritten.Change, bool) {
	what, path, _ := strings.Cut(do, ":")
	for _, g := range groups {
		if what == "add" && g.AddText != "" && g.Add == path {
			return handwritten.Change{Do: handwritten.Add, Path: path, Text: g.AddText}, true
		}
		for _, it := range g.Items {
			if what == "remove" && it.Path != "" && it.Path == path {
				return handwritten.Change{Do: handwritten.Remove, Path: path}, true
			}
		}
	}
	return handwritten.Change{}, false
}
