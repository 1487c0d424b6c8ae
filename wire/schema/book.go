package schema

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"
)

// A Node is a schema, as JSON objects are in Go.
type Node map[string]any

// Schemer says itself what its JSON looks like, for types that write their own.
type Schemer interface{ JSONSchema() Node }

// A Book collects the schemas of named types. Its zero value is empty.
type Book struct {
	Prefix string // of references; empty: "#/$defs/"

	defs  map[string]Node
	types map[string]reflect.Type
}

// Defs are the schemas of the types that were asked for and of those in them, by name.
func (b *Book) Defs() map[string]Node { return b.defs }

// Of is the schema of a type: a reference where the type has a name. Of what is asked (strict),
// unknown fields are refused; of what is answered they may come, in later versions.
func (b *Book) Of(t reflect.Type, strict bool) Node {
	return b.of(t, "", strict)
}

var (
	schemer    = reflect.TypeFor[Schemer]()
	marshaler  = reflect.TypeFor[json.Marshaler]()
	textWriter = reflect.TypeFor[encoding.TextMarshaler]()
	instant    = reflect.TypeFor[time.Time]()
	raw        = reflect.TypeFor[json.RawMessage]()
)

func (b *Book) of(t reflect.Type, tag reflect.StructTag, strict bool) Node {
	n := b.bare(t, strict)
	if ref, ok := n["$ref"]; ok { // what a field says stands beside the reference
		n = Node{"$ref": ref}
	}
	describe(n, tag, t)
	return n
}

// bare is the schema of a type without what its field says.
func (b *Book) bare(t reflect.Type, strict bool) Node {
	switch {
	case t == instant:
		return Node{"type": "string", "format": "date-time"}
	case t == raw || t.Kind() == reflect.Interface:
		return Node{}
	case t.Kind() == reflect.Pointer:
		return b.bare(t.Elem(), strict)
	case t.Implements(schemer):
		return reflect.Zero(t).Interface().(Schemer).JSONSchema()
	case t.Implements(textWriter):
		return Node{"type": "string"}
	case t.Implements(marshaler):
		panic(fmt.Sprintf("schema: %s writes its own JSON and does not say what it looks like", t))
	}
	switch t.Kind() {
	case reflect.String:
		return Node{"type": "string"}
	case reflect.Bool:
		return Node{"type": "boolean"}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return Node{"type": "integer"}
	case reflect.Float32, reflect.Float64:
		return Node{"type": "number"}
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Uint8 {
			return Node{"type": "string", "contentEncoding": "base64"}
		}
		return Node{"type": "array", "items": b.bare(t.Elem(), strict)}
	case reflect.Array:
		return Node{"type": "array", "items": b.bare(t.Elem(), strict), "minItems": t.Len(), "maxItems": t.Len()}
	case reflect.Map:
		return Node{"type": "object", "additionalProperties": b.bare(t.Elem(), strict)}
	case reflect.Struct:
		return b.object(t, strict)
	}
	panic(fmt.Sprintf("schema: %s has no JSON", t))
}

// object is the schema of a struct, put away under its name if it has one.
func (b *Book) object(t reflect.Type, strict bool) Node {
	name := Name(t, strict)
	prefix := b.Prefix
	if prefix == "" {
		prefix = "#/$defs/"
	}
	if name != "" {
		if other, ok := b.types[name]; ok {
			if other != t {
				panic(fmt.Sprintf("schema: %s and %s are both called %s", other, t, name))
			}
			return Node{"$ref": prefix + name}
		}
		if b.defs == nil {
			b.defs, b.types = map[string]Node{}, map[string]reflect.Type{}
		}
		b.types[name] = t
	}
	properties := map[string]any{}
	required := []string{}
	b.fields(t, strict, properties, &required)
	n := Node{"type": "object", "properties": properties}
	if len(required) > 0 {
		n["required"] = required
	}
	if strict {
		n["additionalProperties"] = false
	}
	if d, ok := reflect.Zero(t).Interface().(interface{ Doc() string }); ok {
		n["description"] = d.Doc()
	}
	if name == "" {
		return n
	}
	b.defs[name] = n
	return Node{"$ref": prefix + name}
}

func (b *Book) fields(t reflect.Type, strict bool, properties map[string]any, required *[]string) {
	for f := range fieldsOf(t) {
		if f.Anonymous && f.Tag.Get("json") == "" {
			b.fields(f.Type, strict, properties, required)
			continue
		}
		name, optional := jsonName(f)
		if name == "" {
			continue
		}
		n := b.of(f.Type, f.Tag, strict)
		if f.Type.Kind() == reflect.Pointer && !optional {
			n = orNull(n)
		}
		properties[name] = n
		if !optional {
			*required = append(*required, name)
		}
	}
}

// fieldsOf are the exported and the embedded fields of a struct.
func fieldsOf(t reflect.Type) func(func(reflect.StructField) bool) {
	return func(yield func(reflect.StructField) bool) {
		for i := range t.NumField() {
			f := t.Field(i)
			if !f.IsExported() && !f.Anonymous {
				continue
			}
			if !yield(f) {
				return
			}
		}
	}
}

// jsonName is what a field is called in JSON, empty if it is left out, and whether it may miss.
func jsonName(f reflect.StructField) (string, bool) {
	name, rest, _ := strings.Cut(f.Tag.Get("json"), ",")
	if name == "-" && rest == "" {
		return "", false
	}
	if name == "" {
		name = f.Name
	}
	return name, strings.Contains(rest, "omitempty") || strings.Contains(rest, "omitzero")
}

// orNull lets null be beside what a schema says.
func orNull(n Node) Node {
	if ref, ok := n["$ref"]; ok {
		out := Node{"anyOf": []any{Node{"$ref": ref}, Node{"type": "null"}}}
		for k, v := range n {
			if k != "$ref" {
				out[k] = v
			}
		}
		return out
	}
	if k, ok := n["type"].(string); ok {
		n["type"] = []any{k, "null"}
	}
	return n
}

// Name is what a type is called among the schemas; empty if it has no name.
func Name(t reflect.Type, strict bool) string {
	name := t.Name()
	if i := strings.IndexByte(name, '['); i > 0 { // Page[pkg/path.Thing]: ThingPage
		arg := name[i+1 : len(name)-1]
		name = arg[strings.LastIndexAny(arg, "./")+1:] + name[:i]
	}
	if name == "" {
		return ""
	}
	name = strings.ToUpper(name[:1]) + name[1:]
	if strict && !strings.HasSuffix(name, "Request") {
		name += "Request"
	}
	return name
}

// describe puts what the tags of a field say into its schema.
func describe(n Node, tag reflect.StructTag, t reflect.Type) {
	doc := tag.Get("doc")
	if unit := tag.Get("unit"); unit != "" {
		n["x-unit"] = unit
		if doc != "" {
			doc += " (" + unit + ")"
		} else {
			doc = "in " + unit
		}
	}
	if doc != "" {
		n["description"] = doc
	}
	at := n
	for at["type"] == "array" && (tag.Get("enum") != "" || tag.Get("min") != "" || tag.Get("max") != "") { // bounds of its items
		items, ok := at["items"].(Node)
		if !ok {
			break
		}
		at = items
	}
	for key, word := range map[string]string{"min": "minimum", "max": "maximum", "above": "exclusiveMinimum"} {
		if text := tag.Get(key); text != "" {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				panic(fmt.Sprintf("schema: %s of a field of %s: %v", key, t, err))
			}
			at[word] = v
		}
	}
	if words := tag.Get("enum"); words != "" {
		var all []any
		for w := range strings.SplitSeq(words, "|") {
			all = append(all, w)
		}
		at["enum"] = all
	}
	least, most := "minLength", "maxLength"
	if n["type"] == "array" {
		least, most = "minItems", "maxItems"
	}
	for key, word := range map[string]string{"minlen": least, "maxlen": most} {
		if text := tag.Get(key); text != "" {
			v, err := strconv.Atoi(text)
			if err != nil {
				panic(fmt.Sprintf("schema: %s of a field of %s: %v", key, t, err))
			}
			n[word] = v
		}
	}
	for _, key := range []string{"pattern", "format"} {
		if text := tag.Get(key); text != "" {
			n[key] = text
		}
	}
	if text := tag.Get("example"); text != "" {
		var v any
		if json.Unmarshal([]byte(text), &v) != nil {
			v = text
		}
		n["examples"] = []any{v}
	}
}
