package api

import (
	"net/http"
	"reflect"
	"strings"

	"underlamp/access"
)

// Prefix is where the API is.
const Prefix = "/api/v1"

// An Operation is one thing that can be asked for.
type Operation struct {
	ID      string // of its own: "getBench"
	Method  string
	Path    string // below Prefix, as [http.ServeMux] takes it: "/benches/{bench}"
	Tag     string // what it is about, for the docs: "Benches"
	Summary string // one line, no full stop
	Doc     string // what else is to be known; may be empty

	Scopes []access.Scope // one of these is needed; none: anybody who can reach the server
	Body   int64          // most bytes of what is sent; 0: nothing is
	Takes  []string       // kinds of what is sent; empty: JSON
	Gives  []string       // kinds of the answer; empty: JSON
	Status int            // of success; 0: 200
	Also   []int          // other statuses of success, such as 202
	Errors []int          // statuses of refusal besides those that every operation may give
	Once   bool           // creates: takes an Idempotency-Key
	Match  bool           // changes what is there: needs If-Match
	Task   reflect.Type   // what the work that it begins gives; nil: it begins none

	params, body, answer reflect.Type // body and answer nil: none, or no JSON
	example              any          // of what is sent
	do                   func(c *Call) (any, error)
}

// None says that an operation has no parameters, takes no body, or gives none.
type None struct{}

// op makes an operation of a handler: P are parameters of path and query (tags path, query), B
// what is sent as JSON ([]byte: of any other kind), R what is answered as JSON ([Raw]: of any
// other kind).
func op[P, B, R any](o Operation, do func(c *Call, p P, b B) (R, error)) Operation {
	o.params = reflect.TypeFor[P]()
	if t := reflect.TypeFor[B](); t != reflect.TypeFor[None]() && t != reflect.TypeFor[[]byte]() {
		o.body = t
	}
	if t := reflect.TypeFor[R](); t != reflect.TypeFor[None]() && t != reflect.TypeFor[Raw]() && t != reflect.TypeFor[stream]() {
		o.answer = t
	}
	o.do = func(c *Call) (any, error) {
		var p P
		var b B
		if err := c.readParams(&p); err != nil {
			return nil, err
		}
		if err := c.readBody(&b); err != nil {
			return nil, err
		}
		r, err := do(c, p, b)
		if err != nil {
			return nil, err
		}
		return r, nil
	}
	return o
}

// Pattern is what [http.ServeMux] takes.
func (o *Operation) Pattern() string {
	if o.Path == "/" {
		return o.Method + " " + Prefix + "/{$}" // this address alone
	}
	return o.Method + " " + Prefix + o.Path
}

// reads says that an operation changes nothing.
func (o *Operation) reads() bool { return o.Method == http.MethodGet }

// status is that of success.
func (o *Operation) status() int {
	if o.Status != 0 {
		return o.Status
	}
	return http.StatusOK
}

// gives are the kinds of answer.
func (o *Operation) gives() []string {
	switch {
	case len(o.Gives) > 0:
		return o.Gives
	case o.answer == nil:
		return nil
	case tabled(o.answer):
		return []string{"application/json", "text/csv"}
	}
	return []string{"application/json"}
}

// takes are the kinds of what is sent.
func (o *Operation) takes() []string {
	switch {
	case len(o.Takes) > 0:
		return o.Takes
	case o.Body == 0:
		return nil
	}
	return []string{"application/json"}
}

// A Table is an answer that can be given as CSV too.
type Table interface {
	CSV() (head []string, rows [][]string)
}

func tabled(t reflect.Type) bool { return t.Implements(reflect.TypeFor[Table]()) }

// A Raw is an answer that is no JSON.
type Raw struct {
	Type string // media type
	Body []byte
	Name string // of a file to save it as; empty: none
}

// Operations is the table, in the order of the docs.
func (a *API) Operations() []Operation { return a.ops }

// pathNames are the names in a path.
func pathNames(path string) []string {
	var out []string
	for part := range strings.SplitSeq(path, "/") {
		if n := len(part); n > 2 && part[0] == '{' && part[n-1] == '}' {
			out = append(out, strings.TrimSuffix(part[1:n-1], "..."))
		}
	}
	return out
}
