package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"underlamp/science/quantity"
)

// An answer goes out compressed where the browser takes that, and pages with their numbers in
// the marks that are set. A page is kept whole until [answer.close]; what streams (progress
// of a search) is sent on as it is flushed.
type answer struct {
	http.ResponseWriter
	marks   quantity.Marks
	zips    bool // the browser takes gzip
	started bool
	html    bool
	status  int
	page    bytes.Buffer
	zip     *gzip.Writer
}

// leastZipped is what is not worth compressing, in bytes.
const leastZipped = 1024

var zippers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // the level is one that there is
	return z
}}

// answerTo is the answer to a request; its caller closes it.
func (s *Site) answerTo(w http.ResponseWriter, r *http.Request) *answer {
	return &answer{ResponseWriter: w, marks: s.benches.set().Marks(), zips: takesGzip(r), status: http.StatusOK}
}

// dressed is a piece of a page that goes out within something else, such as JSON.
func (s *Site) dressed(html string) string {
	return string(inMarks([]byte(html), s.benches.set().Marks()))
}

// takesGzip reads what a browser says of itself.
func takesGzip(r *http.Request) bool {
	if r.Method == http.MethodHead || r.Header.Get("Range") != "" {
		return false
	}
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if name == "gzip" && strings.ReplaceAll(q, " ", "") != "q=0" {
			return true
		}
	}
	return false
}

// worthZipping are kinds of text.
func worthZipping(kind string) bool {
	kind, _, _ = strings.Cut(kind, ";")
	return strings.HasPrefix(kind, "text/") || strings.HasSuffix(kind, "json") || kind == "image/svg+xml" || kind == "application/javascript" || kind == "application/yaml"
}

// WriteHeader decides how the answer goes out.
func (a *answer) WriteHeader(status int) {
	if a.started {
		return
	}
	a.started, a.status = true, status
	h := a.Header()
	kind := h.Get("Content-Type")
	bare := h.Get("Content-Encoding") == "" && status != http.StatusPartialContent && status != http.StatusNotModified && status != http.StatusNoContent
	if bare && strings.HasPrefix(kind, "text/html") {
		a.html = true
		return
	}
	if bare && worthZipping(kind) {
		h.Set("Vary", "Accept-Encoding")
		small, err := strconv.Atoi(h.Get("Content-Length"))
		if a.zips && (err != nil || small >= leastZipped) {
			a.startZip()
		}
	}
	a.ResponseWriter.WriteHeader(status)
}

func (a *answer) startZip() {
	h := a.Header()
	h.Del("Content-Length")
	h.Set("Content-Encoding", "gzip")
	a.zip = zippers.Get().(*gzip.Writer)
	a.zip.Reset(a.ResponseWriter)
}

// Write takes a piece of the body.
func (a *answer) Write(p []byte) (int, error) {
	if !a.started {
		if a.Header().Get("Content-Type") == "" {
			a.Header().Set("Content-Type", http.DetectContentType(p))
		}
		a.WriteHeader(http.StatusOK)
	}
	switch {
	case a.html:
		return a.page.Write(p)
	case a.zip != nil:
		return a.zip.Write(p)
	}
	return a.ResponseWriter.Write(p)
}

// Flush sends what was written; a page goes whole.
func (a *answer) Flush() {
	if !a.started {
		a.WriteHeader(http.StatusOK)
	}
	if a.html {
		return
	}
	if a.zip != nil {
		a.zip.Flush()
	}
	http.NewResponseController(a.ResponseWriter).Flush() // where it can
}

// Unwrap is for [http.ResponseController].
func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// close sends the rest.
func (a *answer) close() {
	if a.html {
		body := inMarks(a.page.Bytes(), a.marks)
		h := a.Header()
		h.Set("Vary", "Accept-Encoding")
		h.Del("Content-Length")
		if a.zips && len(body) >= leastZipped {
			a.startZip()
		}
		a.ResponseWriter.WriteHeader(a.status)
		if a.zip == nil {
			a.ResponseWriter.Write(body)
		} else {
			a.zip.Write(body)
		}
	}
	if a.zip != nil {
		a.zip.Close() // a browser that has left is no fault
		a.zip.Reset(io.Discard)
		zippers.Put(a.zip)
		a.zip = nil
	}
}

// verbatim are elements whose text is what somebody typed or will type, or is no text: headings
// of pages have names in them.
var verbatim = []string{"script", "style", "textarea", "pre", "code", "title", "h1"}

// inMarks puts the numbers of a page into the marks of a person, and keeps them together with a
// percent sign: those of its text, of its
// pictures, of labels for people who listen, and of fields for numbers. Text in an element
// that says translate="no" (names, citations) stays, and so does what a file says ([verbatim]).
// The page must be well formed, as ours are: they come from templates.
func inMarks(page []byte, m quantity.Marks) []byte {
	var out bytes.Buffer
	out.Grow(len(page) + len(page)/50)
	rest := string(page)
	for rest != "" {
		open := strings.IndexByte(rest, '<')
		if open < 0 {
			open = len(rest)
		}
		out.WriteString(tied(m.Text(rest[:open])))
		rest = rest[open:]
		if rest == "" {
			break
		}
		end := endOfTag(rest)
		tag := rest[:end]
		rest = rest[end:]
		name := nameOf(tag)
		if name == "html" && m != quantity.PointMarks {
			tag = strings.TrimSuffix(tag, ">") + ` data-decimal="` + m.Decimal + `" data-group="` + m.Group + `">`
		}
		out.WriteString(tagInMarks(tag, name, m))
		if stays(tag, name) {
			n := skipElement(rest, name)
			out.WriteString(rest[:n])
			rest = rest[n:]
		}
	}
	return out.Bytes()
}

// tied keeps a percent sign on the line of its number.
func tied(s string) string {
	if !strings.Contains(s, " %") {
		return s
	}
	var b strings.Builder
	for {
		i := strings.Index(s, " %")
		if i < 0 {
			b.WriteString(s)
			return b.String()
		}
		if b.WriteString(s[:i]); i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
			b.WriteString("\u00a0%")
		} else {
			b.WriteString(" %")
		}
		s = s[i+2:]
	}
}

// endOfTag is where the tag that a text begins with ends; a ">" in quotes does not end it.
func endOfTag(s string) int {
	if strings.HasPrefix(s, "<!--") {
		if i := strings.Index(s, "-->"); i >= 0 {
			return i + 3
		}
		return len(s)
	}
	var quote byte
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>':
			return i + 1
		}
	}
	return len(s)
}

// nameOf is the name of the element that a tag opens; empty for others.
func nameOf(tag string) string {
	end := strings.IndexAny(tag, " \t\n/>")
	if end < 2 || tag[0] != '<' {
		return ""
	}
	return strings.ToLower(tag[1:end])
}

func stays(tag, name string) bool {
	if name == "" || strings.HasSuffix(tag, "/>") {
		return false
	}
	for _, v := range verbatim {
		if name == v {
			return true
		}
	}
	return strings.Contains(tag, ` translate="no"`) && name != "input"
}

// skipElement is where the element ends that was just opened, others of its name within it
// counted.
func skipElement(s, name string) int {
	depth, at := 1, 0
	for {
		i := strings.IndexByte(s[at:], '<')
		if i < 0 {
			return len(s)
		}
		at += i
		switch tail := s[at+1:]; {
		case strings.HasPrefix(tail, "/"+name+">"):
			if depth--; depth == 0 {
				return at
			}
		case nameOf(s[at:min(len(s), at+len(name)+2)]) == name && name != "script" && name != "style" && name != "textarea":
			depth++
		}
		at++
	}
}

// spoken are attributes that people read or hear.
var spoken = []string{` aria-label="`, ` title="`, ` alt="`, ` placeholder="`}

func tagInMarks(tag, name string, m quantity.Marks) string {
	inside := spoken
	if name == "input" && strings.Contains(tag, ` inputmode="decimal"`) && !strings.Contains(tag, ` type="number"`) {
		inside = []string{` aria-label="`, ` value="`, ` placeholder="`}
	}
	for _, a := range inside {
		i := strings.Index(tag, a)
		if i < 0 {
			continue
		}
		begin := i + len(a)
		n := strings.IndexByte(tag[begin:], '"')
		if n < 0 {
			continue
		}
		tag = tag[:begin] + m.Text(tag[begin:begin+n]) + tag[begin+n:]
	}
	return tag
}
