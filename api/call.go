package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"

	"underlamp/access"
)

// A Call is one request while it is answered.
type Call struct {
	Request *http.Request
	Who     access.Visitor // on this machine, or by a session
	Token   *access.Token  // nil: none was shown
	Status  int            // that the answer goes out with; 0: that of the operation

	api    *API
	op     *Operation
	w      http.ResponseWriter
	sent   []byte
	strong bool // the tag that was set names the very bytes of a version
}

// Context is that of the request.
func (c *Call) Context() context.Context { return c.Request.Context() }

// By is who asks, as it is written beside a change: what was said in the request, else the name
// of the token, else of the person.
func (c *Call) By(said string) string {
	switch {
	case strings.TrimSpace(said) != "":
		return strings.TrimSpace(said)
	case c.Token != nil:
		return c.Token.Name
	case c.Who.Person != "":
		return c.Who.Person
	}
	return ""
}

// Header is that of the answer.
func (c *Call) Header() http.Header { return c.w.Header() }

// Created says that something new is at an address below [Prefix].
func (c *Call) Created(path string) {
	c.Status = http.StatusCreated
	c.Header().Set("Location", Prefix+path)
}

// errNotModified ends a call with 304.
var errNotModified = fmt.Errorf("not modified")

// tagOf is a tag of what makes an answer what it is.
func tagOf(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// Tag gives the answer a weak tag of what it is computed from, before it is. The error, if not
// nil, is to be returned: whoever asked has the answer already.
func (c *Call) Tag(parts ...string) error {
	tag := `W/"` + tagOf(append(parts, c.op.ID, c.Request.URL.RawQuery, c.Request.Header.Get("Accept"))...) + `"`
	c.Header().Set("ETag", tag)
	if matches(c.Request.Header.Values("If-None-Match"), tag, true) {
		return errNotModified
	}
	return nil
}

// Version gives the answer the strong tag of a version of what is there, which If-Match takes.
func (c *Call) Version(stamp string) error {
	tag := `"` + stamp + `"`
	c.strong = true
	c.Header().Set("ETag", tag)
	if c.op.reads() && matches(c.Request.Header.Values("If-None-Match"), tag, true) {
		return errNotModified
	}
	return nil
}

// Expects holds a change against the version that is there: the request must name it in If-Match
// (RFC 9110, section 13.1.1; without, RFC 6585, section 3).
func (c *Call) Expects(stamp string) error {
	sent := c.Request.Header.Values("If-Match")
	if len(sent) == 0 {
		return problem(http.StatusPreconditionRequired, "if-match", "This changes what is there, and the request does not say of which version.", "Read it first, and send its ETag in If-Match; * stands for whatever is there.")
	}
	if matches(sent, `"`+stamp+`"`, false) {
		return nil
	}
	c.Header().Set("ETag", `"`+stamp+`"`)
	return problem(http.StatusPreconditionFailed, "changed", "It has been changed since it was read. Nothing was written.", "Read it again, make the change in what is there now, and send it with the ETag that comes with it.")
}

// matches says that one of the tags of a header is the tag; weakly, what W/ stands before counts
// as the same (RFC 9110, section 8.8.3.2).
func matches(sent []string, tag string, weakly bool) bool {
	for _, line := range sent {
		for one := range strings.SplitSeq(line, ",") {
			one = strings.TrimSpace(one)
			if one == "*" {
				return true
			}
			if weakly {
				one = strings.TrimPrefix(one, "W/")
				if one == strings.TrimPrefix(tag, "W/") {
					return true
				}
			} else if one == tag {
				return true
			}
		}
	}
	return false
}
