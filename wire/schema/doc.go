// Package schema tells in JSON Schema (draft 2020-12) what the JSON of a Go type looks like, and
// checks JSON that came from outside against it, with the place of every fault as a JSON Pointer
// (RFC 6901). So a type is described once: by its fields and their tags.
//
// Tags beside json: doc (what the field means), unit (of a number, as people print it), min, max
// and above (bounds; above leaves its bound out), enum (words, parted by |), minlen and maxlen (of
// text, lists), pattern (RE2), format, example. A field without omitempty is required; a pointer
// without it may be null.
//
// Left out, since nothing here needs it: interfaces, recursive types, embedded pointers.
package schema
