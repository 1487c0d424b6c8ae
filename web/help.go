package web

import (
	"errors"
	"html/template"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"

	"underlamp/book"
	"underlamp/docs"
)

// helpRoot is the address of the book.
const helpRoot = "/help"

// theBook is opened once. Its contents are part of the program: a mistake in them is a
// mistake of the program.
var theBook = sync.OnceValue(func() *book.Book {
	b, err := book.Open(docs.Files, helpRoot)
	if err != nil {
		panic("web: " + err.Error())
	}
	return b
})

var readied sync.Once

// helpData is what the page of a chapter shows.
type helpData struct {
	Title    string
	At       string
	Contents []book.Part
	Page     *book.Page
	Body     template.HTML
	Question string
	Asked    bool
	Hits     []helpHit
	Front    bool // the contents themselves
}

type helpHit struct {
	book.Hit
	Excerpt template.HTML
}

// helpTop leads to the contents, so that what is beside them has one address.
func (s *Site) helpTop(w http.ResponseWriter, r *http.Request) {
	to := helpRoot + "/"
	if r.URL.RawQuery != "" {
		to += "?" + r.URL.RawQuery
	}
	http.Redirect(w, r, to, http.StatusMovedPermanently)
}

// help shows a chapter, a picture or a schema of the book, or looks for words in it.
func (s *Site) help(w http.ResponseWriter, r *http.Request) {
	at := r.PathValue("path")
	switch path.Ext(at) {
	case ".png", ".json":
		s.helpFile(w, at)
		return
	case ".md": // as links in the repository have it
		http.Redirect(w, r, helpRoot+"/"+strings.TrimSuffix(at, ".md"), http.StatusMovedPermanently)
		return
	}
	b := theBook()
	d := helpData{Title: "Help", At: at, Contents: b.Contents(), Front: at == ""}
	if d.Question = strings.TrimSpace(r.URL.Query().Get("q")); d.Question != "" && d.Front {
		if len(d.Question) > 200 {
			d.Question = d.Question[:200]
		}
		d.Question = strings.ToValidUTF8(d.Question, "")
		d.Asked, d.Front = true, false
		for _, h := range b.Search(d.Question) {
			d.Hits = append(d.Hits, helpHit{h, template.HTML(h.Excerpt)}) // package book escapes
		}
		s.page(w, http.StatusOK, "help.tmpl", d)
		return
	}
	p, err := b.Page(at)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		s.fail(w, http.StatusNotFound, "There is no chapter of this name.", "The contents are at /help.")
		return
	case err != nil:
		s.log.Error("help", "at", at, "err", err)
		s.fail(w, http.StatusInternalServerError, "This chapter could not be shown.", "The contents are at /help.")
		return
	}
	readied.Do(func() { go b.Search("") })                      // who reads will search; the index is made meanwhile
	d.Page, d.Title, d.Body = p, p.Title, template.HTML(p.Body) // of the program's own text
	s.page(w, http.StatusOK, "help.tmpl", d)
}

// helpFile answers with a picture or a schema.
func (s *Site) helpFile(w http.ResponseWriter, at string) {
	body, err := fs.ReadFile(docs.Files, at)
	if err != nil {
		s.fail(w, http.StatusNotFound, "There is no such file in the book.", "The contents are at /help.")
		return
	}
	kind := mime.TypeByExtension(path.Ext(at))
	if path.Ext(at) == ".json" {
		kind = "application/schema+json"
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, max-age=3600")
	w.Write(body)
}

// chapters are those that the link Help of a page leads to, by the address of the page; from
// others it leads to the contents.
var chapters = map[string]string{
	"GET /{$}":                       "tutorial",
	"GET /new":                       "how-to/describe-a-bench",
	"GET /bench/{id}":                "how-to/choose-a-setting",
	"GET /bench/{id}/edit":           "how-to/describe-a-bench",
	"GET /about":                     "data-package",
	"POST /about":                    "data-package",
	"POST /bench/{id}/edit":          "how-to/describe-a-bench",
	"GET /bench/{id}/history":        "operations#editing-history-and-corrections",
	"GET /bench/{id}/lamps":          "how-to/light-of-a-lamp",
	"GET /bench/{id}/aim":            "how-to/hit-a-target",
	"GET /bench/{id}/match":          "how-to/match-two-lamps",
	"GET /bench/{id}/raise":          "how-to/raise-lamps",
	"GET /bench/{id}/plan":           "how-to/choose-a-setting",
	"GET /bench/{id}/air":            "how-to/dry-a-room",
	"GET /bench/{id}/feed":           "how-to/mix-a-feed",
	"GET /bench/{id}/live":           "how-to/connect-sensors",
	"GET /bench/{id}/trouble":        "how-to/why-hearts-burn",
	"POST /bench/{id}/trouble":       "how-to/why-hearts-burn",
	"GET /bench/{id}/trouble/{case}": "how-to/why-hearts-burn",
	"GET /bench/{id}/rounds":         "how-to/record-on-the-phone",
	"GET /bench/{id}/seen":           "rounds",
	"GET /bench/{id}/photos":         "photos",
	"GET /bench/{id}/photos/{photo}": "photos",
	"GET /trials":                    "trials",
	"GET /trials/new":                "how-to/plan-a-trial",
	"POST /trials/new":               "how-to/plan-a-trial",
	"GET /trial/{id}":                "how-to/read-findings",
	"GET /trial/{id}/plan":           "how-to/plan-a-trial",
	"GET /trial/{id}/sheet":          "how-to/plan-a-trial",
	"GET /trial/{id}/record":         "how-to/record-on-the-phone",
	"GET /trial/{id}/rounds":         "how-to/record-on-the-phone",
	"GET /trial/{id}/import":         "formats/trial#tables-of-others",
	"GET /trial/{id}/import/{token}": "formats/trial#tables-of-others",
	"GET /bench/{id}/profile":        "how-to/learn-from-cycles",
	"GET /bench/{id}/report":         "reports",
	"GET /bench/{id}/package.zip":    "data-package",
	"GET /bench/{id}/tables.xlsx":    "data-package",
	"GET /trial/{id}/report":         "reports",
	"GET /trial/{id}/package.zip":    "data-package",
	"GET /trial/{id}/tables.xlsx":    "data-package",
	"GET /import":                    "import",
	"POST /import":                   "import",
	"GET /import/{token}":            "import",
	"POST /import/{token}":           "import",
	"GET /settings":                  "operations",
	"POST /settings/token":           "api#who-asks",
	"GET /work":                      "operations#work-in-the-background",
	"GET /work/{id}":                 "operations#work-in-the-background",
	"GET /pair":                      "how-to/let-others-in",
	"POST /pair":                     "how-to/let-others-in",
	"GET /secure":                    "how-to/let-others-in",
}

// Chapters are the chapters that pages lead to, by the pattern of their address.
func Chapters() map[string]string { return maps.Clone(chapters) }
