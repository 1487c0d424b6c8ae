package api

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"underlamp/wire"
)

// Paging are the parameters of what comes in pieces.
type Paging struct {
	Limit  int    `query:"limit" min:"1" max:"1000" doc:"most entries of a piece; 100 if it is not said" example:"20"`
	Cursor string `query:"cursor" maxlen:"400" doc:"from next of the piece before; where the list goes on"`
}

// most is how many entries a piece has.
func (p Paging) most() int {
	if p.Limit == 0 {
		return 100
	}
	return p.Limit
}

// after is where the list goes on; empty: at its begin.
func (p Paging) after() (string, error) {
	if p.Cursor == "" {
		return "", nil
	}
	text, err := base64.RawURLEncoding.DecodeString(p.Cursor)
	if err != nil || !strings.HasPrefix(string(text), "1:") {
		return "", problem(http.StatusBadRequest, "cursor", "The cursor is none of this server.", "Take it from next of the piece before, or begin without.").at(fault("#cursor", "cannot be read"))
	}
	return string(text[2:]), nil
}

// page cuts the piece of a list that was asked for. Key names an entry; the list is in the order
// in which its keys ascend, so that entries that come or go meanwhile move nothing.
func page[T any](c *Call, p Paging, all []T, key func(T) string) (wire.Page[T], error) {
	out := wire.Page[T]{Items: []T{}}
	after, err := p.after()
	if err != nil {
		return out, err
	}
	last := ""
	for _, x := range all {
		if k := key(x); p.Cursor == "" || k > after {
			if len(out.Items) == p.most() {
				out.Next = c.nextOf(last)
				break
			}
			out.Items = append(out.Items, x)
			last = k
		}
	}
	return out, nil
}

// nextOf is the address of the piece after a key, which goes into the header too (RFC 8288).
func (c *Call) nextOf(key string) string {
	q, err := url.ParseQuery(c.Request.URL.RawQuery)
	if err != nil {
		q = url.Values{}
	}
	q.Set("cursor", base64.RawURLEncoding.EncodeToString([]byte("1:"+key)))
	next := c.Request.URL.EscapedPath() + "?" + q.Encode()
	c.Header().Set("Link", fmt.Sprintf("<%s>; rel=\"next\"", next))
	return next
}

// pageInOrder cuts a list whose keys stand in no order: it goes on after the entry that the
// cursor names.
func pageInOrder[T any](c *Call, p Paging, all []T, key func(T) string) (wire.Page[T], error) {
	out := wire.Page[T]{Items: []T{}}
	after, err := p.after()
	if err != nil {
		return out, err
	}
	from := 0
	if p.Cursor != "" {
		if from = slices.IndexFunc(all, func(x T) bool { return key(x) == after }) + 1; from == 0 {
			return out, problem(http.StatusBadRequest, "cursor", "What the cursor names is not in the list any more.", "Begin again without it.").at(fault("#cursor", "names nothing"))
		}
	}
	end := min(from+p.most(), len(all))
	out.Items = append(out.Items, all[from:end]...)
	if end < len(all) {
		out.Next = c.nextOf(key(all[end-1]))
	}
	return out, nil
}
