package wire

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"

	"underlamp/wire/schema"
)

// A Number may be unknown: NaN and infinities are null in JSON, which cannot hold them.
type Number float64

// MarshalJSON writes null for what is no finite number.
func (n Number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

// UnmarshalJSON reads null as NaN.
func (n *Number) UnmarshalJSON(text []byte) error {
	if bytes.Equal(text, []byte("null")) {
		*n = Number(math.NaN())
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}

// JSONSchema is a number or null.
func (Number) JSONSchema() schema.Node { return schema.Node{"type": []any{"number", "null"}} }

// Numbers are a list of them.
func Numbers(values []float64) []Number {
	out := make([]Number, len(values))
	for i, v := range values {
		out[i] = Number(v)
	}
	return out
}

// A Band is where 90 % of the draws of what is uncertain lie.
type Band struct {
	Low  Number `json:"low" doc:"below it lie 5 % of the draws"`
	Mid  Number `json:"mid" doc:"the median"`
	High Number `json:"high" doc:"above it lie 5 %"`
}

// A Fault is what is wrong at a place of what was sent.
type Fault struct {
	Pointer string `json:"pointer" doc:"where: a JSON Pointer (RFC 6901) into the body; # and the name of a parameter"`
	Detail  string `json:"detail" doc:"what is wrong there"`
}

// A Problem says why something was refused (RFC 9457).
type Problem struct {
	Type   string  `json:"type" doc:"which problem it is, to tell it apart in programs: urn:underlamp:problem:not-found"`
	Title  string  `json:"title" doc:"the status in words"`
	Status int     `json:"status" doc:"the HTTP status"`
	Detail string  `json:"detail" doc:"what is wrong, in a sentence"`
	Do     string  `json:"do,omitempty" doc:"what to do about it"`
	Errors []Fault `json:"errors,omitempty" doc:"each place that is wrong"`
}

// A Page is a piece of a list.
type Page[T any] struct {
	Items []T    `json:"items"`
	Next  string `json:"next,omitempty" doc:"address of the next piece; missing on the last"`
}

// cell is a number in a table; empty where it is not known.
func (n Number) cell() string { return cell(float64(n)) }

func cell(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
