package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"underlamp/access"
	"underlamp/wire"
	"underlamp/wire/schema"
)

// Document is the OpenAPI document (version 3.1) of the table. The same table gives the same
// bytes.
func (a *API) Document() []byte { return a.doc() }

// DocVersion is that of the API: the first number changes with what breaks programs, the second
// with what is added.
const DocVersion = "1.0"

// tags are the chapters, in the order of the docs.
var tags = [][2]string{
	{"Server", "The server itself, and this description."},
	{"Benches", "Benches as files and as data, their versions and settings."},
	{"Light", "Light at the plants: now, wanted, matched, raised."},
	{"Outlook", "The crop to harvest, and the settings that serve it best."},
	{"Lamps", "Light of a lamp by direction and by wavelength."},
	{"Crops", "Species and head types, and what no data support."},
	{"Live", "How benches stand now by their sensors, and messages."},
	{"Sensors", "What reads, and what it read."},
	{"Trials", "Questions, layouts, what was seen, findings."},
	{"Rounds", "What was seen of plants."},
	{"Photos", "Photos of plants and what they tell."},
	{"Feed", "What to weigh for a feed, and how to correct a tank."},
	{"Air", "Water, warmth and moving air."},
	{"Trouble", "Causes of what is seen, and what became of it."},
	{"Learning", "What the records of earlier crops teach."},
	{"Reports", "Reports to hand on."},
	{"Data", "Open data packages and workbooks of all that is known."},
	{"Notes", "Notes of another make and data packages, taken in and back."},
	{"Tasks", "Long work."},
	{"People", "Who may see the pages, and with which tokens programs come."},
	{"Settings", "What is set for all pages."},
}

type object = map[string]any

// document makes it.
func (a *API) document() []byte {
	problemRef := a.book.Of(typeFor[wire.Problem](), false)
	paths := object{}
	for i := range a.ops {
		o := &a.ops[i]
		at, ok := paths[o.Path].(object)
		if !ok {
			at = object{}
			paths[o.Path] = at
		}
		at[strings.ToLower(o.Method)] = a.describe(o, problemRef)
	}
	var used []any
	for _, t := range tags {
		if slices.ContainsFunc(a.ops, func(o Operation) bool { return o.Tag == t[0] }) {
			used = append(used, object{"name": t[0], "description": t[1]})
		}
	}
	schemas := object{}
	for name, n := range a.book.Defs() {
		schemas[name] = n
	}
	scopes := ""
	for _, s := range access.Scopes {
		scopes += fmt.Sprintf("\n- `%s`: %s", s, s.Says())
	}
	doc := object{
		"openapi": "3.1.0",
		"info": object{
			"title": "underlamp", "version": DocVersion,
			"summary":     "All that the pages of underlamp do, for programs.",
			"description": "Numbers are in the units that names end with. Where a number is not known it is null. Bands hold 90 %.\n\nScopes of tokens:" + scopes,
			"license":     object{"name": "MIT", "identifier": "MIT"},
		},
		"servers":           []any{object{"url": Prefix}},
		"jsonSchemaDialect": "https://spec.openapis.org/oas/3.1/dialect/base",
		"tags":              used,
		"paths":             paths,
		"components": object{
			"schemas": schemas,
			"securitySchemes": object{
				"token":   object{"type": "http", "scheme": "bearer", "description": "A token of a program, with scopes. On the machine of the server none is needed."},
				"session": object{"type": "apiKey", "in": "cookie", "name": "underlamp", "description": "A browser that was let in reads as its role reads on the pages, and changes nothing."},
			},
			"responses": object{"Problem": object{"description": "Why it was refused, and what to do (RFC 9457).", "content": object{"application/problem+json": object{"schema": problemRef}}}},
		},
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(doc); err != nil {
		panic("api: the description cannot be written: " + err.Error())
	}
	return b.Bytes()
}

// describe is one operation.
func (a *API) describe(o *Operation, problemRef schema.Node) object {
	out := object{"operationId": o.ID, "tags": []any{o.Tag}, "summary": o.Summary}
	doc := o.Doc
	if len(o.Scopes) > 0 {
		var need []any
		for _, s := range o.Scopes {
			need = append(need, object{"token": []any{string(s)}})
		}
		if o.reads() {
			need = append(need, object{"session": []any{}})
		}
		out["security"] = need
	} else {
		out["security"] = []any{}
	}
	if doc != "" {
		out["description"] = doc
	}
	var params []any
	for _, p := range a.params[o.ID] {
		s := schema.Node{}
		for k, v := range p.schema {
			s[k] = v
		}
		x := object{"name": p.name, "in": p.in, "schema": s}
		if p.required {
			x["required"] = true
		}
		if d, ok := s["description"]; ok {
			x["description"] = d
			delete(s, "description")
		}
		params = append(params, x)
	}
	header := func(name, doc string, required bool) {
		x := object{"name": name, "in": "header", "description": doc, "schema": object{"type": "string"}}
		if required {
			x["required"] = true
		}
		params = append(params, x)
	}
	if o.Once {
		header("Idempotency-Key", "A key of your own for this request, such as a random UUID. Sent again with the same key within 24 hours, it does nothing twice and is answered alike.", false)
	}
	if o.Match {
		header("If-Match", "The ETag of the version that is to be changed, or *.", true)
	}
	if o.Task != nil || o.ID == "getTask" {
		header("Prefer", "wait=10 waits up to ten seconds for the end of the work (RFC 7240).", false)
	}
	if o.reads() && o.Gives == nil {
		header("If-None-Match", "The ETag of what you have; the answer is 304 if it is still that.", false)
	}
	if params != nil {
		out["parameters"] = params
	}
	if o.Body > 0 {
		content := object{}
		for _, kind := range o.takes() {
			x := object{"schema": schema.Node{"type": "string"}}
			if kind == "application/json" && a.bodies[o.ID] != nil {
				x["schema"] = a.bodies[o.ID]
			} else if !strings.HasPrefix(kind, "text/") && !strings.HasSuffix(kind, "yaml") {
				x["schema"] = schema.Node{} // bytes
			}
			if o.example != nil {
				x["example"] = o.example
			}
			content[kind] = x
		}
		out["requestBody"] = object{"required": true, "content": content, "description": fmt.Sprintf("At most %d bytes.", o.Body)}
	}
	responses := object{}
	for _, status := range append([]int{a.success(o)}, o.Also...) {
		x := object{"description": http.StatusText(status)}
		content := object{}
		for _, kind := range o.gives() {
			media := object{}
			switch {
			case kind == "application/json" && o.answer != nil:
				media["schema"] = a.typeOf(o.answer)
			case strings.HasPrefix(kind, "text/"), strings.HasSuffix(kind, "yaml"), strings.HasSuffix(kind, "svg+xml"):
				media["schema"] = schema.Node{"type": "string"}
			}
			content[kind] = media
		}
		if len(content) > 0 {
			x["content"] = content
		}
		headers := object{}
		if o.reads() && o.Task == nil && !slices.Contains(o.Gives, "text/event-stream") || o.Match {
			headers["ETag"] = object{"description": "of this version", "schema": object{"type": "string"}}
		}
		if status == http.StatusCreated || status == http.StatusAccepted && o.Task != nil {
			headers["Location"] = object{"description": "where it is", "schema": object{"type": "string"}}
		}
		if len(headers) > 0 {
			x["headers"] = headers
		}
		responses[strconv.Itoa(status)] = x
	}
	if o.reads() && o.Gives == nil {
		responses["304"] = object{"description": "It is still what you have."}
	}
	for _, status := range a.refusals(o) {
		responses[strconv.Itoa(status)] = object{"$ref": "#/components/responses/Problem"}
	}
	out["responses"] = responses
	if o.Task != nil {
		out["x-result"] = a.book.Of(o.Task, false)
	}
	return out
}

// success is the status of success.
func (a *API) success(o *Operation) int {
	switch {
	case o.Status != 0:
		return o.Status
	case o.Task != nil:
		return http.StatusAccepted
	case len(o.gives()) == 0:
		return http.StatusNoContent
	}
	return http.StatusOK
}

// refusals are the statuses by which an operation may be refused.
func (a *API) refusals(o *Operation) []int {
	out := []int{http.StatusBadRequest, http.StatusInternalServerError, http.StatusServiceUnavailable, http.StatusTooManyRequests}
	if len(o.Scopes) > 0 {
		out = append(out, http.StatusUnauthorized, http.StatusForbidden)
	}
	if len(pathNames(o.Path)) > 0 { // what a path names may be missing, or have mistakes
		out = append(out, http.StatusNotFound, http.StatusUnprocessableEntity)
	}
	if len(o.gives()) > 0 {
		out = append(out, http.StatusNotAcceptable)
	}
	if o.Body > 0 {
		out = append(out, http.StatusUnsupportedMediaType, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity)
	}
	if o.Match {
		out = append(out, http.StatusPreconditionFailed, http.StatusPreconditionRequired)
	}
	if o.Once {
		out = append(out, http.StatusConflict, http.StatusUnprocessableEntity)
	}
	out = append(out, o.Errors...)
	slices.Sort(out)
	return slices.Compact(out)
}
