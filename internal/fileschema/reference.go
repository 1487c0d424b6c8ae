package fileschema

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"

	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// said are the rows of the tables of a reference.
type said []row

type row struct {
	heading, key, meaning string

	inner bool   // the key stands within what is said of another, or of nothing in the grammar
	of    string // that other key
}

var ticked = regexp.MustCompile("`([^`]+)`")

// meanings reads the tables of a reference: in the first column keys, in the second what they
// mean; the heading above with a key in it says which part they are of.
func meanings(reference string) (out said) {
	heading, titled := "", false
	for line := range strings.Lines(reference) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, Begin) {
			break
		}
		if strings.HasPrefix(line, "#") {
			heading = ""
			if m := ticked.FindAllStringSubmatch(line, -1); m != nil {
				heading = m[len(m)-1][1]
				titled = true
			}
			continue
		}
		if !strings.HasPrefix(line, "|") {
			if titled && line != "" { // what is said first of a part
				first, _, _ := strings.Cut(line, ". ")
				out = append(out, row{key: heading, meaning: first, inner: true})
				titled = false
			}
			continue
		}
		titled = false
		cells := strings.Split(strings.Trim(line, "|"), " | ")
		if len(cells) < 2 {
			continue
		}
		of := ""
		meaning := strings.TrimSpace(cells[1])
		for _, m := range ticked.FindAllStringSubmatch(cells[0], -1) {
			out = append(out, row{heading: heading, key: m[1], meaning: meaning})
			of = m[1]
		}
		if of == "" {
			meaning = strings.TrimSpace(cells[0]) + ": " + meaning
		}
		for _, m := range ticked.FindAllStringSubmatch(cells[1], -1) { // `levels`, `control: yes`, `{width, depth}`
			for word := range strings.SplitSeq(strings.Trim(m[1], "{}[]"), ",") {
				word, _, _ = strings.Cut(word, ":")
				out = append(out, row{heading: heading, key: strings.TrimSpace(word), meaning: meaning, inner: true, of: of})
			}
		}
	}
	return out
}

// of is the meaning of a key in a section: that of a table below a heading with its name, with
// that of a part around it, else the first anywhere.
func (s said) of(section, path, key string) string {
	parts := strings.Split(strings.ReplaceAll(path, "[]", ""), ".")
	for i := len(parts) - 1; i >= 0; i-- {
		for _, row := range s {
			if row.key == key && !row.inner && row.heading == parts[i] && parts[i] != "" {
				return row.meaning
			}
		}
	}
	if section == "" || path == "" {
		for _, row := range s {
			if row.key == key && !row.inner && row.heading == "" {
				return row.meaning
			}
		}
	}
	for _, row := range s {
		if row.key == key && !row.inner {
			return row.meaning
		}
	}
	for _, row := range s { // named beside the meaning of the part that it is in
		if row.key == key && (slices.Contains(parts, row.of) || row.of == "") {
			return row.meaning
		}
	}
	return ""
}

// Reads says in words what is read at a field, with its range.
func (f Field) Reads() string {
	if f.never() {
		return ""
	}
	var out []string
	add := func(format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		for _, o := range out {
			if o == text {
				return
			}
		}
		out = append(out, text)
	}
	for _, form := range f.Forms {
		switch form.Is {
		case handwritten.AmountForm:
			add("%s%s, such as %s", form.Kind.Name(), span(form.Kind, form.Span), form.Kind.Example())
		case handwritten.DifferenceForm:
			add("difference of %s, %s to %s", form.Kind.Name(), form.Kind.Difference(form.Span.Min, quantity.Metric, 3), form.Kind.Difference(form.Span.Max, quantity.Metric, 3))
		case handwritten.RangeForm:
			add("one %s or two with “to” between them%s", form.Kind.Name(), span(form.Kind, form.Span))
		case handwritten.TextForm:
			add("text, up to %d characters", form.Most)
		case handwritten.WordForm:
			words := make([]string, len(form.Words))
			for i, w := range form.Words {
				words[i] = "`" + w + "`"
			}
			add("%s", strings.Join(words, ", "))
		case handwritten.YesForm:
			add("`yes` or `no`")
		case handwritten.WholeForm:
			if form.Span.Min == form.Span.Max {
				add("%.0f", form.Span.Min)
			} else {
				add("whole number, %.0f to %.0f", form.Span.Min, form.Span.Max)
			}
		case handwritten.DateForm:
			add("day, such as 2026-10-01")
		case handwritten.ZoneForm:
			add("time zone, such as Europe/Berlin")
		case handwritten.FreeForm:
			add("%s", strings.ReplaceAll(form.Want, "|", "\\|"))
		case handwritten.PartForm:
			add("part with keys")
		case handwritten.ListForm:
			if form.Most > 0 {
				add("list, up to %d", form.Most)
			} else {
				add("list")
			}
		case handwritten.PairForm:
			add("pair: `[30 cm, 20 cm]`")
		}
	}
	if f.Told {
		out = append(out, "or `{value: …, from: …, note: …}`")
	}
	return strings.Join(out, "; ")
}

// boundless is beyond what readers bound by itself; what lies within is held against the space.
const boundless = 1e6

func span(k quantity.Kind, s handwritten.Span) string {
	if s.Max >= boundless && s.Min <= -boundless {
		return ""
	}
	return ", " + k.Format(s.Min, quantity.Metric, 4) + " to " + k.Format(s.Max, quantity.Metric, 4)
}

// parsed are texts that were looked at before.
var parsed sync.Map

// Marks around the table of fields in a reference.
const (
	Begin = "<!-- fields:"
	End   = "<!-- end of fields -->"
)

// Reference is the table of all fields, with the marks around it.
func (f Format) Reference() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s; made by go test ./internal/fileschema -update -->\n", Begin, f.Name)
	fmt.Fprintf(&b, "The schema says the same to [editors](../how-to/check-in-an-editor.md): [%s.schema.json](../schemas/files/%s.schema.json).\n\n", f.Name, f.Name)
	fmt.Fprintf(&b, "| field of `%s` | what is read | default |\n|---|---|---|\n", f.Version)
	for _, x := range f.Fields {
		if x.never() {
			continue
		}
		usual := strings.ReplaceAll(x.Usual, "|", "\\|")
		if x.Needed {
			usual = "needed"
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", x.Path, x.Reads(), usual)
	}
	b.WriteString(End + "\n")
	return b.String()
}

// never says that a part has the key of its section, but may not hold it.
func (f Field) never() bool {
	return len(f.Forms) == 1 && f.Forms[0].Is == handwritten.NeverForm
}

// lacking says that a text has a part at a path without one of its keys.
func lacking(text, path, key string) bool {
	top, ok := parsed.Load(text)
	if !ok {
		var v any
		if yaml.Unmarshal([]byte(text), &v) != nil {
			return false
		}
		top = v
		parsed.Store(text, top)
	}
	found := false
	var walk func(v any, steps []string)
	walk = func(v any, steps []string) {
		if len(steps) == 0 {
			m, ok := v.(map[string]any)
			if !ok {
				return
			}
			for k, x := range m {
				if handwritten.Normal(k) == key && x != nil {
					return
				}
			}
			found = true
			return
		}
		name, list := strings.CutSuffix(steps[0], "[]")
		m, ok := v.(map[string]any)
		if !ok {
			return
		}
		for k, x := range m {
			if handwritten.Normal(k) != name {
				continue
			}
			if !list {
				walk(x, steps[1:])
				continue
			}
			items, _ := x.([]any)
			for _, i := range items {
				walk(i, steps[1:])
			}
		}
	}
	if path == "" {
		walk(top, nil)
	} else {
		walk(top, strings.Split(path, "."))
	}
	return found
}
