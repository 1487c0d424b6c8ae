package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"underlamp/wire"
	"underlamp/wire/schema"
)

// A Problem is why something was refused, as it goes out (RFC 9457).
type Problem struct {
	wire.Problem
	wait int // seconds until it may be asked again; 0: not said
}

// Error is what is wrong.
func (p *Problem) Error() string { return p.Detail }

// problem makes one: what is wrong and what to do are sentences.
func problem(status int, kind, what, do string) *Problem {
	return &Problem{Problem: wire.Problem{Type: "urn:underlamp:problem:" + kind, Title: http.StatusText(status), Status: status, Detail: what, Do: do}}
}

// at puts the places of faults to it.
func (p *Problem) at(faults ...schema.Fault) *Problem {
	for _, f := range faults {
		p.Errors = append(p.Errors, wire.Fault(f))
	}
	return p
}

// after says when to ask again, in seconds.
func (p *Problem) after(seconds int) *Problem {
	p.wait = seconds
	return p
}

func missing(what, do string) *Problem {
	return problem(http.StatusNotFound, "not-found", what, do)
}

// unfit is for what was asked and cannot be: it is well written and makes no sense.
func unfit(err error, do string) *Problem {
	return problem(http.StatusUnprocessableEntity, "unfit", sentence(err), do)
}

// wrongField names a field or parameter that makes no sense.
func wrongField(pointer, what string) *Problem {
	return problem(http.StatusUnprocessableEntity, "unfit", "What was sent does not fit.", "See errors for each place.").at(schema.Fault{Pointer: pointer, Detail: what})
}

func noStore() *Problem {
	return problem(http.StatusServiceUnavailable, "no-store", "This server keeps nothing, so this cannot be answered.", "Start underlamp serve with --store.")
}

// sentence makes one of an error.
func sentence(err error) string {
	text := []rune(err.Error())
	if len(text) == 0 {
		return ""
	}
	if c := text[0]; c >= 'a' && c <= 'z' {
		text[0] += 'A' - 'a'
	}
	if c := text[len(text)-1]; c != '.' && c != '?' {
		text = append(text, '.')
	}
	return string(text)
}

// refuse sends a problem.
func (c *Call) refuse(err error) {
	var p *Problem
	if !errors.As(err, &p) {
		if errors.Is(err, context.Canceled) && c.Request.Context().Err() != nil {
			return // whoever asked has left
		}
		c.api.o.Log.Error("api", "operation", c.op.ID, "err", err)
		p = problem(http.StatusInternalServerError, "fault", "This could not be done, by a mistake of the program or of what it stands on.", "Try again in a while. If it stays so, underlamp doctor and the log of the server say more.")
	}
	writeProblem(c.w, p)
}

func writeProblem(w http.ResponseWriter, p *Problem) {
	text, err := json.Marshal(p.Problem)
	if err != nil {
		http.Error(w, p.Detail, p.Status)
		return
	}
	h := w.Header()
	for _, name := range []string{"ETag", "Link", "Location"} {
		if p.Status != http.StatusPreconditionFailed || name != "ETag" { // there the tag of now helps
			h.Del(name)
		}
	}
	if p.wait > 0 {
		h.Set("Retry-After", fmt.Sprint(p.wait))
	}
	h.Set("Content-Type", "application/problem+json")
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(p.Status)
	w.Write(append(text, '\n'))
}
