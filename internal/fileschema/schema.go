package fileschema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// A Format is all that is known of a kind of file.
type Format struct {
	Kind
	Grammar handwritten.Grammar
	Fields  []Field // in the order of the grammar

	all map[string]*handwritten.Field // that were asked for, those of lists among them
}

// A Field is one field of a format.
type Field struct {
	handwritten.Field
	Key     string
	Meaning string // from the reference, as Markdown; empty if it has none
	Needed  bool
}

// Format traces the readers of a kind by texts that its reader takes and by probes, and takes
// what fields mean from the text of the reference.
func (k Kind) Format(reference string, accepted []string) Format {
	bare := k.Version + ": 1\n"
	g := k.trace(bare).Grammar
	probes := k.probes(g)
	all := k.trace(slices.Concat([]string{bare}, accepted, probes)...)
	// What is needed is missed where nothing is written beside it.
	empty := k.trace(probes[3], probes[4], bare, k.nothing(g))
	f := Format{Kind: k, Grammar: g, all: all.Fields}
	says := meanings(reference)
	var walk func(path string, seen int)
	walk = func(path string, seen int) {
		x := all.Fields[path]
		if x == nil || seen > 8 {
			return
		}
		for _, form := range x.Forms {
			switch form.Is {
			case handwritten.PartForm:
				for _, key := range keysOf(g, form.Section) {
					child := strings.TrimPrefix(path+"."+key, ".")
					y := all.Fields[child]
					if y == nil {
						y = &handwritten.Field{Path: child}
					}
					e := empty.Fields[child]
					needed := (e != nil && e.Lacks || key == k.Version && path == "") && !slices.ContainsFunc(accepted, func(text string) bool { return lacking(text, path, key) })
					if slices.ContainsFunc(f.Fields, func(z Field) bool { return z.Path == child }) {
						continue
					}
					f.Fields = append(f.Fields, Field{Field: *y, Key: key, Meaning: says.of(form.Section, path, key), Needed: needed})
					walk(child, seen+1)
				}
			case handwritten.ListForm:
				walk(path+"[]", seen+1)
			}
		}
	}
	walk("", 0)
	return f
}

// nothing is a text with every part that the grammar has, and nothing in them.
func (k Kind) nothing(g handwritten.Grammar) string {
	return fmt.Sprintf("%s: 1\n%s", k.Version, k.written(g, "", "", "", 0))
}

// sides are the signs that units may have between their letters.
const sides = "[ ·⋅*^]*"

// Number is what a number of an amount looks like, with fractions as tapes have them.
const number = `[-+−]?(\d+[.,]?\d*|[.,]\d+)([eE][-+]?\d+)?( \d{1,4}/\d{1,4}|/\d{1,4}| *[½¼¾])?`

// unitPattern is a regular expression of the units of a kind, however they are spelled.
func unitPattern(k quantity.Kind) string {
	var all []string
	for _, s := range k.Spellings() {
		var b strings.Builder
		for i, c := range s {
			if i > 0 {
				b.WriteString(sides)
			}
			switch {
			case c == 'u':
				b.WriteString("[uUµμΜ]")
			case c == '0':
				b.WriteString("[0⁰]")
			case c == '1':
				b.WriteString("[1¹]")
			case c == '2':
				b.WriteString("[2²]")
			case c == '3':
				b.WriteString("[3³]")
			case c == '-':
				b.WriteString("[⁻−-]")
			case c == '°':
				b.WriteString("[°º˚]")
			case c == '"':
				b.WriteString(`["″”]`)
			case c == '\'':
				b.WriteString("['′’]")
			case unicode.IsLetter(c) && unicode.ToUpper(c) != c:
				b.WriteString("[" + string(c) + string(unicode.ToUpper(c)) + "]")
			default:
				b.WriteString(regexp.QuoteMeta(string(c)))
			}
		}
		all = append(all, b.String())
	}
	return "(" + strings.Join(all, "|") + ")"
}

// word is a regular expression of a word of a choice, however it is written.
func word(s string) string {
	var b strings.Builder
	for _, c := range s {
		switch {
		case c == ' ':
			b.WriteString("[ _-]+")
		case unicode.IsLetter(c) && unicode.ToUpper(c) != unicode.ToLower(c):
			b.WriteString("[" + string(unicode.ToLower(c)) + string(unicode.ToUpper(c)) + "]")
		default:
			b.WriteString(regexp.QuoteMeta(string(c)))
		}
	}
	return b.String()
}

type object = map[string]any

// unnamed is what the name of a definition does without.
var unnamed = regexp.MustCompile(`[^A-Za-z0-9]+`)

// schemaOf is what a single form allows.
func (s *builder) schemaOf(f Field, form handwritten.Form) []any {
	switch form.Is {
	case handwritten.AmountForm, handwritten.DifferenceForm, handwritten.RangeForm:
		return s.amount(form)
	case handwritten.TextForm:
		t := object{"type": []string{"string", "number", "boolean"}}
		if form.Most > 0 {
			t["maxLength"] = form.Most
		}
		return []any{t}
	case handwritten.ZoneForm:
		return []any{object{"type": "string", "pattern": `^\s*[A-Za-z0-9_+/-]+\s*$`}}
	case handwritten.WordForm:
		var others []string
		for _, w := range slices.Concat(form.Words, form.Also) {
			others = append(others, word(w))
		}
		out := []any{object{"enum": form.Words}, object{"type": "string", "pattern": `^\s*(` + strings.Join(others, "|") + `)\s*$`}}
		for _, w := range form.Also {
			switch w {
			case "true":
				out = append(out, object{"const": true})
			case "false":
				out = append(out, object{"const": false})
			}
		}
		return out
	case handwritten.YesForm:
		return []any{object{"enum": []any{"yes", "no", true, false}}, object{"type": "string", "pattern": `^\s*(` + word("yes") + "|" + word("no") + "|" + word("true") + "|" + word("false") + `)\s*$`}}
	case handwritten.WholeForm:
		n := object{"type": "integer", "minimum": int64(form.Span.Min), "maximum": int64(form.Span.Max)}
		text := `^\s*[-+]?\d+\s*$`
		if form.Span.Min == form.Span.Max {
			n = object{"const": int64(form.Span.Min)}
			text = `^\s*\+?0*` + strconv.Itoa(int(form.Span.Min)) + `\s*$`
		}
		return []any{n, object{"type": "string", "pattern": text}}
	case handwritten.DateForm:
		return []any{object{"type": "string", "pattern": `^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$`}}
	case handwritten.FreeForm:
		t := object{"type": []string{"string", "number", "boolean"}}
		if form.Like == "" {
			return []any{t}
		}
		t = object{"type": "string", "pattern": form.Like}
		if re := regexp.MustCompile(form.Like); re.MatchString("0.5") {
			return []any{t, object{"type": "number"}}
		} else if re.MatchString("5") {
			return []any{t, object{"type": "integer"}}
		}
		return []any{t}
	case handwritten.NeverForm:
		return []any{object{"type": "null"}}
	case handwritten.PartForm:
		return []any{s.part(f.Path, form.Section)}
	case handwritten.ListForm:
		l := object{"type": "array"}
		if items := s.value(f.Path + "[]"); items != nil {
			l["items"] = items
		}
		if form.Most > 0 {
			l["maxItems"] = form.Most
		}
		return []any{l}
	case handwritten.PairForm:
		l := object{"type": "array", "minItems": 2, "maxItems": 2}
		if items := s.value(f.Path + "[]"); items != nil {
			l["items"] = items
		}
		return []any{l}
	}
	panic(fmt.Sprintf("fileschema: form %d", form.Is))
}

// amount refers to the definition of an amount of its kind; the range of a number without a
// unit is said here, that of one with a unit cannot be.
func (s *builder) amount(form handwritten.Form) []any {
	name := "amount of " + form.Kind.Name()
	unit, want := unitPattern(form.Kind), form.Kind.Example()
	pattern := `^\s*` + number + sides + unit + `\s*$`
	if form.Kind.Plain() {
		pattern = `^\s*` + number + sides + unit + `?\s*$`
	}
	if form.Is == handwritten.RangeForm {
		name = "range of " + form.Kind.Name()
		want = "two amounts with “to” between them, or one"
		one := number + sides + unit + "?"
		last := one
		if !form.Kind.Plain() {
			last = number + sides + unit
		}
		pattern = `^\s*(` + one + `( to |\.\.|–|—)\s*)?` + last + `\s*$`
	}
	s.defs[name] = object{"type": "string", "pattern": pattern, "description": "A " + form.Kind.Name() + ": " + want + "."}
	out := []any{object{"$ref": "#/$defs/" + strings.ReplaceAll(name, " ", "%20")}}
	if form.Kind.Plain() {
		out = append(out, object{"type": "number", "minimum": down(form.Span.Min), "maximum": up(form.Span.Max)})
	}
	return out
}

// The slack of readers holds for numbers without a unit too.
func down(x float64) float64 { return x - handwritten.Slack*math.Max(1, math.Abs(x)) }
func up(x float64) float64   { return x + handwritten.Slack*math.Max(1, math.Abs(x)) }

type builder struct {
	f    Format
	all  map[string]*handwritten.Field
	defs object
}

// part is an object with the keys of a section.
func (s *builder) part(path, section string) object {
	properties, variants := object{}, object{}
	var required []string
	for _, key := range keysOf(s.f.Grammar, section) {
		child := strings.TrimPrefix(path+"."+key, ".")
		v := s.value(child)
		if v == nil {
			v = object{}
		}
		if strings.Contains(key, " ") { // said once for all spellings
			name := strings.Trim(unnamed.ReplaceAllString(child, "-"), "-")
			s.defs[name] = v
			v = object{"$ref": "#/$defs/" + name}
		}
		properties[key] = v
		if strings.Contains(key, " ") {
			variants["^"+strings.ReplaceAll(key, " ", "[_-]")+"$"] = v
		}
		if i := slices.IndexFunc(s.f.Fields, func(x Field) bool { return x.Path == child }); i >= 0 && s.f.Fields[i].Needed {
			required = append(required, key)
		}
	}
	o := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(variants) > 0 {
		o["patternProperties"] = variants
	}
	var one []any
	for _, key := range required {
		if !strings.Contains(key, " ") {
			one = append(one, key)
		} else { // spelled in another way it is there too
			o["allOf"] = append(anys(o["allOf"]), object{"anyOf": []any{object{"required": []string{key}}, object{"required": []string{strings.ReplaceAll(key, " ", "_")}}, object{"required": []string{strings.ReplaceAll(key, " ", "-")}}}})
		}
	}
	if len(one) > 0 {
		o["required"] = one
	}
	return o
}

func anys(v any) []any { l, _ := v.([]any); return l }

// value is what may stand at a path; nil if nothing was asked of it.
func (s *builder) value(path string) object {
	x := s.all[path]
	if x == nil || len(x.Forms) == 0 && !x.Told {
		return nil
	}
	f := Field{Field: *x}
	if i := slices.IndexFunc(s.f.Fields, func(y Field) bool { return y.Path == path }); i >= 0 {
		f = s.f.Fields[i]
	}
	var any_ []any
	forms := x.Forms
	if inner := s.all[path+".value"]; x.Told && inner != nil {
		for _, g := range inner.Forms {
			if !slices.ContainsFunc(forms, func(h handwritten.Form) bool { return sameForm(g, h) }) {
				forms = append(slices.Clone(forms), g)
			}
		}
	}
	for _, form := range forms {
		any_ = append(any_, s.schemaOf(f, form)...)
	}
	if x.Told {
		s.defs["origin"] = object{"enum": []string{"label", "stated", "measured"}, "description": "How it is known."}
		any_ = append(any_, object{"type": "object", "additionalProperties": false, "required": []string{"value"}, "properties": object{
			"value": object{"anyOf": slices.Clone(any_)}, "from": object{"$ref": "#/$defs/origin"}, "note": object{"type": []string{"string", "number", "boolean"}, "maxLength": handwritten.MaxNote}}})
	}
	any_ = unique(any_)
	out := object{}
	if !f.Needed { // a key with nothing behind it counts as not written
		any_ = append(any_, object{"type": "null"})
	}
	if len(any_) == 1 {
		out = any_[0].(object)
	} else {
		out["anyOf"] = any_
	}
	if text := f.Description(); text != "" {
		out["description"] = text
	}
	return out
}

func sameForm(a, b handwritten.Form) bool {
	return a.Is == b.Is && a.Kind.Name() == b.Kind.Name() && a.Span == b.Span && slices.Equal(a.Words, b.Words) && a.Want == b.Want
}

// unique leaves out what says the same again.
func unique(all []any) (out []any) {
	seen := map[string]bool{}
	for _, x := range all {
		raw, err := json.Marshal(x)
		if err != nil {
			panic("fileschema: " + err.Error())
		}
		if !seen[string(raw)] {
			seen[string(raw)] = true
			out = append(out, x)
		}
	}
	return out
}

// Description says in words what a field means, its range, and its default as a default.
func (f Field) Description() string {
	var parts []string
	if f.Meaning != "" {
		parts = append(parts, sentence(markless(f.Meaning)))
	}
	if r := f.Reads(); r != "" {
		parts = append(parts, sentence(markless(r)))
	}
	if f.Usual != "" && !f.Needed {
		parts = append(parts, "Default, not a measurement: "+sentence(f.Usual))
	}
	return strings.Join(parts, " ")
}

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

var link = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)

// markless takes the marks of Markdown out of a text.
func markless(s string) string {
	return strings.NewReplacer("`", "", "**", "", "\\|", "|").Replace(link.ReplaceAllString(s, "$1"))
}

// Schema is the JSON Schema of the format, with its address within the book.
func (f Format) Schema() []byte {
	b := &builder{f: f, all: f.all, defs: object{}}
	top := b.part("", "")
	top["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	top["$id"] = "urn:underlamp:file:" + f.Name + ":1"
	top["title"] = f.Title
	top["description"] = "A file that begins with " + f.Version + ": 1. Made from its reader; the reference is " + "docs/formats/" + f.Document + "."
	top["$defs"] = b.defs
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(top); err != nil {
		panic("fileschema: " + err.Error())
	}
	return out.Bytes()
}
