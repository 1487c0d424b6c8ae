package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/wire/schema"
)

// A param is a parameter of a path or query.
type param struct {
	name, in string
	required bool
	field    reflect.StructField
	schema   schema.Node
}

// paramsOf are those of a struct, in its order; embedded structs hold some that several
// operations share.
func paramsOf(t reflect.Type, book *schema.Book) []param {
	var out []param
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			for _, p := range paramsOf(f.Type, book) {
				p.field.Index = append(slices.Clone(f.Index), p.field.Index...)
				out = append(out, p)
			}
			continue
		}
		p := param{field: f}
		if name := f.Tag.Get("path"); name != "" {
			p.name, p.in, p.required = name, "path", true
		} else if name := f.Tag.Get("query"); name != "" {
			p.name, p.in = name, "query"
			p.required = f.Tag.Get("need") != ""
		} else {
			panic(fmt.Sprintf("api: field %s of %s is neither of path nor of query", f.Name, t))
		}
		// The schema of a field stands by itself in a struct of one field.
		one := reflect.StructOf([]reflect.StructField{{Name: f.Name, Type: f.Type, Tag: f.Tag + ` json:"v,omitempty"`}})
		p.schema = book.Of(one, true)["properties"].(map[string]any)["v"].(schema.Node)
		out = append(out, p)
	}
	return out
}

// readParams fills a struct of parameters.
func (c *Call) readParams(into any) error {
	v := reflect.ValueOf(into).Elem()
	query, err := url.ParseQuery(c.Request.URL.RawQuery)
	if err != nil {
		return problem(http.StatusBadRequest, "query", "The query of the address cannot be read.", "Encode its parameters as URLs ask (RFC 3986).")
	}
	var faults []schema.Fault
	known := map[string]bool{}
	for _, p := range c.api.params[c.op.ID] {
		known[p.name] = true
		var words []string
		if p.in == "path" {
			words = []string{c.Request.PathValue(p.name)}
		} else if words = query[p.name]; len(words) == 0 {
			if p.required {
				faults = append(faults, schema.Fault{Pointer: "#" + p.name, Detail: "is missing"})
			}
			continue
		}
		faults = append(faults, fill(v.FieldByIndex(p.field.Index), p, words, c.api.book)...)
	}
	for name := range query {
		if !known[name] {
			faults = append(faults, schema.Fault{Pointer: "#" + name, Detail: "is no parameter of this address"})
		}
	}
	if len(faults) == 0 {
		return nil
	}
	slices.SortFunc(faults, func(a, b schema.Fault) int { return strings.Compare(a.Pointer, b.Pointer) })
	return problem(http.StatusBadRequest, "parameters", "The address has parameters that cannot be taken.", "See errors for each; the description at "+Prefix+"/openapi.json names what is expected.").at(faults...)
}

// fill puts the words of a parameter into its field.
func fill(v reflect.Value, p param, words []string, book *schema.Book) []schema.Fault {
	list := v.Kind() == reflect.Slice
	if len(words) > 1 && !list {
		return []schema.Fault{{Pointer: "#" + p.name, Detail: "is there more than once"}}
	}
	var raw any
	var all []any
	for _, w := range words {
		x, ok := fromWord(p, w, v.Type())
		if !ok {
			return []schema.Fault{{Pointer: "#" + p.name, Detail: fmt.Sprintf("is %.40q; %s is expected", w, expected(v.Type()))}}
		}
		all = append(all, x)
	}
	raw = all
	if !list {
		raw = all[0]
	}
	if faults := book.Check(p.schema, raw); len(faults) > 0 {
		for i := range faults {
			faults[i].Pointer = "#" + p.name + faults[i].Pointer
		}
		return faults
	}
	text, err := json.Marshal(raw)
	if err == nil {
		err = json.Unmarshal(text, v.Addr().Interface())
	}
	if err != nil {
		return []schema.Fault{{Pointer: "#" + p.name, Detail: "cannot be read"}}
	}
	return nil
}

func base(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	return t
}

func expected(t reflect.Type) string {
	switch b := base(t); {
	case b == reflect.TypeFor[time.Time]():
		return "a date or a time, as in 2026-11-23 or 2026-11-23T08:00:00Z (RFC 3339),"
	case b.Kind() == reflect.Bool:
		return "true or false"
	case b.Kind() >= reflect.Int && b.Kind() <= reflect.Uint64:
		return "a whole number"
	}
	return "a number"
}

// fromWord is the word of a parameter as JSON has it.
func fromWord(_ param, w string, t reflect.Type) (any, bool) {
	switch b := base(t); {
	case b == reflect.TypeFor[time.Time]():
		if d, err := time.Parse(time.DateOnly, w); err == nil {
			return d.Format(time.RFC3339), true
		}
		at, err := time.Parse(time.RFC3339Nano, w)
		return w, err == nil && at.Year() >= 1970 && at.Year() < 10000
	case b.Kind() == reflect.Bool:
		v, err := strconv.ParseBool(w)
		return v, err == nil
	case b.Kind() == reflect.String:
		return w, true
	}
	var n json.Number
	if err := json.Unmarshal([]byte(w), &n); err != nil || len(w) > 30 || w[0] == '"' {
		return nil, false
	}
	if k := base(t).Kind(); k >= reflect.Int && k <= reflect.Uint64 {
		if _, err := n.Int64(); err != nil {
			return nil, false
		}
	}
	return n, true
}

// readBody reads what was sent, up to the most that the operation takes.
func (c *Call) readBody(into any) error {
	if c.op.Body == 0 {
		return nil
	}
	text, err := c.bytes()
	if err != nil {
		return err
	}
	kind, _, err := mime.ParseMediaType(c.Request.Header.Get("Content-Type"))
	if err != nil || !slices.Contains(c.op.takes(), kind) {
		return problem(http.StatusUnsupportedMediaType, "media-type", fmt.Sprintf("What was sent is of the kind %.60q; %s is taken.", c.Request.Header.Get("Content-Type"), strings.Join(c.op.takes(), " or ")), "Say the kind in Content-Type.")
	}
	if raw, ok := into.(*[]byte); ok {
		*raw = text
		return nil
	}
	v, err := schema.Read(text)
	if err != nil {
		return problem(http.StatusBadRequest, "json", sentence(err), "Send one JSON value (RFC 8259).")
	}
	if faults := c.api.book.Check(c.api.bodies[c.op.ID], v); len(faults) > 0 {
		return problem(http.StatusUnprocessableEntity, "unfit", "What was sent does not fit.", "See errors for each place; the description at "+Prefix+"/openapi.json names what is expected.").at(faults...)
	}
	if err := json.Unmarshal(text, into); err != nil { // numbers too large for their type
		var bad *json.UnmarshalTypeError
		if errors.As(err, &bad) {
			return wrongField("/"+strings.ReplaceAll(bad.Field, ".", "/"), "is out of range")
		}
		return problem(http.StatusBadRequest, "json", "The JSON cannot be taken as it is.", "See the description at "+Prefix+"/openapi.json.")
	}
	return nil
}

// bytes is what was sent; it can be asked for twice.
func (c *Call) bytes() ([]byte, error) {
	if c.sent != nil {
		return c.sent, nil
	}
	text, err := io.ReadAll(http.MaxBytesReader(c.w, c.Request.Body, c.op.Body))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return nil, problem(http.StatusRequestEntityTooLarge, "too-large", fmt.Sprintf("More than %d bytes were sent.", c.op.Body), "Send less at once.")
	case err != nil:
		return nil, problem(http.StatusBadRequest, "broken-off", "What was sent broke off.", "Send it again.")
	}
	c.sent = bytes.Clone(text)
	if c.sent == nil {
		c.sent = []byte{}
	}
	return c.sent, nil
}
