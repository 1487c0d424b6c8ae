package schema

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// A Fault is what is wrong at a place of JSON.
type Fault struct {
	Pointer string `json:"pointer" doc:"where, as a JSON Pointer (RFC 6901) into the body; of a query or path parameter its name after #"`
	Detail  string `json:"detail" doc:"what is wrong there, and what is expected"`
}

// mostFaults are told at once.
const mostFaults = 20

// deepest is how many levels JSON may have.
const deepest = 64

// Read reads one JSON value, with numbers as they are written. Names that come twice, more than
// one value, and what is no UTF-8 are refused.
func Read(text []byte) (any, error) {
	if !utf8.Valid(text) {
		return nil, errors.New("the JSON is not in UTF-8")
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	v, err := read(d, 0)
	if err != nil {
		return nil, place(err, text, d)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows the JSON; one value is expected")
	}
	return v, nil
}

func place(err error, text []byte, d *json.Decoder) error {
	at := d.InputOffset()
	var bad *json.SyntaxError
	if errors.As(err, &bad) {
		at = bad.Offset
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("the JSON ends too early")
	}
	at = min(at, int64(len(text)))
	before := text[:at]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := int(at) - bytes.LastIndexByte(before, '\n')
	return fmt.Errorf("the JSON cannot be read at line %d, column %d: %s", line, column, strings.TrimPrefix(err.Error(), "json: "))
}

func read(d *json.Decoder, depth int) (any, error) {
	t, err := d.Token()
	if err != nil {
		return nil, err
	}
	delim, ok := t.(json.Delim)
	if !ok {
		return t, nil
	}
	if depth >= deepest {
		return nil, fmt.Errorf("it is nested more than %d deep", deepest)
	}
	if delim == '[' {
		out := []any{}
		for d.More() {
			v, err := read(d, depth+1)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
		_, err := d.Token()
		return out, err
	}
	out := map[string]any{}
	for d.More() {
		k, err := d.Token()
		if err != nil {
			return nil, err
		}
		name, _ := k.(string)
		if _, there := out[name]; there {
			return nil, fmt.Errorf("%q is said twice", name)
		}
		if out[name], err = read(d, depth+1); err != nil {
			return nil, err
		}
	}
	_, err = d.Token()
	return out, err
}

// Check says what of JSON that [Read] has read is not as a schema of the book asks.
func (b *Book) Check(n Node, v any) []Fault {
	c := checker{b: b}
	c.check(n, v, "")
	return c.faults
}

type checker struct {
	b      *Book
	faults []Fault
}

func (c *checker) fault(at, format string, args ...any) {
	if len(c.faults) < mostFaults {
		c.faults = append(c.faults, Fault{at, fmt.Sprintf(format, args...)})
	}
}

// patterns are compiled once.
var patterns sync.Map

func (c *checker) check(n Node, v any, at string) {
	if ref, ok := n["$ref"].(string); ok {
		c.check(c.b.defs[ref[strings.LastIndexByte(ref, '/')+1:]], v, at)
	}
	if any, ok := n["anyOf"].([]any); ok { // ours: something, or null
		if v == nil {
			return
		}
		c.check(any[0].(Node), v, at)
		return
	}
	if !c.isType(n, v, at) {
		return
	}
	switch v := v.(type) {
	case json.Number:
		c.number(n, v, at)
	case string:
		c.text(n, v, at)
	case []any:
		if most, ok := n["maxItems"].(int); ok && len(v) > most {
			c.fault(at, "has %d entries; at most %d are taken", len(v), most)
			return
		}
		if least, ok := n["minItems"].(int); ok && len(v) < least {
			c.fault(at, "has %d entries; at least %d are expected", len(v), least)
		}
		if items, ok := n["items"].(Node); ok {
			for i, x := range v {
				c.check(items, x, at+"/"+strconv.Itoa(i))
			}
		}
	case map[string]any:
		c.object(n, v, at)
	}
}

func (c *checker) isType(n Node, v any, at string) bool {
	var want []string
	switch t := n["type"].(type) {
	case string:
		want = []string{t}
	case []any:
		for _, x := range t {
			want = append(want, x.(string))
		}
	default:
		return true
	}
	is := map[bool]string{true: "null", false: "a value"}[v == nil]
	switch v := v.(type) {
	case bool:
		is = "boolean"
	case json.Number:
		is = "number"
		if f, err := v.Float64(); err == nil && slices.Contains(want, "integer") && f == math.Trunc(f) && math.Abs(f) < 1<<53 {
			is = "integer"
		}
	case string:
		is = "string"
	case []any:
		is = "array"
	case map[string]any:
		is = "object"
	}
	if slices.Contains(want, is) {
		return true
	}
	c.fault(at, "is %s; %s is expected", named(is), named(want[0]))
	return false
}

func named(kind string) string {
	switch kind {
	case "string":
		return "text"
	case "number":
		return "a number"
	case "integer":
		return "a whole number"
	case "boolean":
		return "true or false"
	case "array":
		return "a list"
	case "object":
		return "an object"
	}
	return kind
}

func (c *checker) number(n Node, v json.Number, at string) {
	f, err := v.Float64()
	if err != nil {
		c.fault(at, "%.20s is too large a number", v)
		return
	}
	unit := ""
	if u, ok := n["x-unit"].(string); ok {
		unit = " " + u
	}
	text := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) + unit }
	if least, ok := n["minimum"].(float64); ok && f < least {
		c.fault(at, "is %s; at least %s is expected", text(f), text(least))
	}
	if least, ok := n["exclusiveMinimum"].(float64); ok && f <= least {
		c.fault(at, "is %s; more than %s is expected", text(f), text(least))
	}
	if most, ok := n["maximum"].(float64); ok && f > most {
		c.fault(at, "is %s; at most %s is expected", text(f), text(most))
	}
}

func (c *checker) text(n Node, v, at string) {
	length := utf8.RuneCountInString(v)
	if most, ok := n["maxLength"].(int); ok && length > most {
		c.fault(at, "has %d characters; at most %d are taken", length, most)
		return
	}
	if least, ok := n["minLength"].(int); ok && length < least {
		c.fault(at, "has %d characters; at least %d are expected", length, least)
	}
	if words, ok := n["enum"].([]any); ok && !slices.Contains(words, any(v)) {
		var all []string
		for _, w := range words {
			all = append(all, fmt.Sprintf("%q", w))
		}
		c.fault(at, "is %.40q; expected is %s", v, strings.Join(all, ", "))
	}
	if pattern, ok := n["pattern"].(string); ok {
		re, there := patterns.Load(pattern)
		if !there {
			re, _ = patterns.LoadOrStore(pattern, regexp.MustCompile(pattern))
		}
		if !re.(*regexp.Regexp).MatchString(v) {
			c.fault(at, "is %.40q, which is not of the form %s", v, pattern)
		}
	}
	switch n["format"] {
	case "date-time":
		if _, err := time.Parse(time.RFC3339Nano, v); err != nil {
			c.fault(at, "is %.40q; a time as in 2026-11-23T08:00:00Z (RFC 3339) is expected", v)
		}
	case "date":
		if _, err := time.Parse(time.DateOnly, v); err != nil {
			c.fault(at, "is %.40q; a date as in 2026-11-23 is expected", v)
		}
	}
}

func (c *checker) object(n Node, v map[string]any, at string) {
	properties, _ := n["properties"].(map[string]any)
	if required, ok := n["required"].([]string); ok {
		for _, name := range required {
			if _, there := v[name]; !there {
				c.fault(at+"/"+escape(name), "is missing")
			}
		}
	}
	names := make([]string, 0, len(v))
	for name := range v {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		below := at + "/" + escape(name)
		if p, ok := properties[name].(Node); ok {
			c.check(p, v[name], below)
			continue
		}
		switch more := n["additionalProperties"].(type) {
		case Node:
			c.check(more, v[name], below)
		case bool:
			if !more {
				c.fault(below, "is not known here")
			}
		}
	}
}

var pointerEscapes = strings.NewReplacer("~", "~0", "/", "~1")

func escape(name string) string {
	if len(name) > 80 {
		name = name[:80]
	}
	return pointerEscapes.Replace(name)
}
